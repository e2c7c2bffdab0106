//! What an ohmmeter reads at the jack: the circuit at direct current.

use num_complex::Complex64;

use crate::circuit::Setting;
use crate::guitar::{Guitar, Hookup, Joint};
use crate::parts::network::{Admittance, Kind, Network};

/// The resistance from the output to ground at direct current, in Ω, with neither cable nor input; `None` where no current flows. It is
/// the lower track beside the upper track and all that lies behind it, and exact: there a capacitor is open and a coil is a wire.
#[must_use]
pub fn resistance_at_the_jack(guitar: &Guitar, position: Setting) -> Option<f64> {
    let track = guitar.volume.pot.resistance.value();
    let wiper = guitar.volume.pot.taper.wiper(position.volume);
    let winding = resistor(guitar.pickup.resistance.value())?;
    let pickup = in_series([Some(winding), guitar.series.clone()]);
    let at_pickup = std::iter::once(pickup).chain(branches(guitar, position, Joint::Pickup));
    let upper = beside(
        [Some(resistor(track * (1.0 - wiper))?), guitar.volume.bleed.clone()]
            .into_iter()
            .flatten(),
    );
    let behind = in_series([Some(upper), Some(beside(at_pickup))]);
    let lower = resistor(track * wiper)?;
    let all = [behind, lower].into_iter().chain(branches(guitar, position, Joint::Wiper));
    match beside(all).admittance(Complex64::ZERO, &[]) {
        Admittance::Short => Some(0.0),
        Admittance::Value(siemens) => (siemens.re > 0.0).then(|| siemens.re.recip()),
    }
}

/// What lies from a joint to ground: the tone control's branch and the loads.
fn branches(guitar: &Guitar, position: Setting, joint: Joint) -> Vec<Network> {
    let loads = guitar.loads.iter().filter(|load| load.at == joint);
    let mut branches: Vec<Network> = loads.map(|load| load.network.clone()).collect();
    branches.extend(guitar.tone.as_ref().filter(|tone| tone.joined_at == joint).and_then(|tone| {
        let (track, wiper) = (tone.pot.resistance.value(), tone.pot.taper.wiper(position.tone));
        if tone.no_load && position.tone >= 1.0 {
            return None;
        }
        let upper = match tone.hookup {
            Hookup::Rheostat => None,
            Hookup::Shelf => {
                let upper = resistor(track * (1.0 - wiper))?;
                Some(beside([Some(upper), tone.bypass.clone()].into_iter().flatten()))
            }
        };
        let lower = resistor(track * wiper);
        let network = tone.network.clone()?;
        Some(in_series([upper, lower, Some(network)]))
    }));
    branches
}

fn resistor(ohms: f64) -> Option<Network> {
    Kind::Resistor.component(ohms).map(Network::Fixed)
}

fn in_series<const N: usize>(members: [Option<Network>; N]) -> Network {
    Network::Series(members.into_iter().flatten().collect())
}

fn beside(members: impl IntoIterator<Item = Network>) -> Network {
    Network::Parallel(members.into_iter().collect())
}
