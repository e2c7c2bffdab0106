//! Every value of a guitar that can be off its mark, and the guitar with them off by given factors.

use super::rules::{CABLE, CAPACITOR, LOAD, PICKUP, POTENTIOMETER, RESISTOR, Tolerances};
use crate::circuit::{Origin, Place};
use crate::guitar::{Guitar, Slot};
use crate::parts::network::{Component, FreePart, Kind, Network};
use crate::parts::stock::Stock;
use crate::units::{Farads, Fraction, Henries, Ohms};

/// A value that can be off its mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// `pickup inductance`, `volume pot`, `bleed.C` …
    pub name: String,
    /// Which value it is.
    pub origin: Origin,
    /// The nominal value.
    pub value: f64,
    /// Its unit: Ω, F or H.
    pub unit: &'static str,
    /// By how much it can be off, as a share of one.
    pub tolerance: f64,
}

/// Every value of a guitar with its tolerance; what is exact or zero is left out. A part whose value stands in the stock list has the
/// tolerance stated there.
#[must_use]
pub fn spreads(guitar: &Guitar, said: &Tolerances, stock: Option<&Stock>) -> Vec<Spread> {
    let mut found = controls(guitar, said);
    for slot in Slot::ALL {
        if let Some(network) = guitar.fitted(slot) {
            found.extend(parts(network, Place::Slot(slot), slot.word(), said, stock));
        }
    }
    for (index, load) in guitar.loads.iter().enumerate() {
        found.extend(parts(&load.network, Place::Load(index), LOAD, said, stock));
    }
    found.retain(|spread| spread.value > 0.0 && spread.tolerance > 0.0);
    found
}

fn controls(guitar: &Guitar, said: &Tolerances) -> Vec<Spread> {
    let of = |said: Option<f64>, file: Option<Fraction>, usual: f64| said.or(file.map(Fraction::value)).unwrap_or(usual);
    let spread = |name: &str, origin, value, unit, tolerance| Spread {
        name: name.to_owned(),
        origin,
        value,
        unit,
        tolerance,
    };
    let pickup = &guitar.pickup;
    let winding = of(said.pickup, pickup.tolerance, PICKUP);
    let track = |pot: &crate::guitar::Potentiometer, said| (pot.resistance.value(), "Ω", of(said, pot.tolerance, POTENTIOMETER));
    let (volume, unit, off) = track(&guitar.volume.pot, said.volume);
    let mut found = vec![
        spread("pickup inductance", Origin::Inductance, pickup.inductance.value(), "H", winding),
        spread(
            "pickup resistance",
            Origin::WindingResistance,
            pickup.resistance.value(),
            "Ω",
            winding,
        ),
        spread(
            "pickup capacitance",
            Origin::WindingCapacitance,
            pickup.capacitance.value(),
            "F",
            winding,
        ),
        spread("volume pot", Origin::VolumeTrack, volume, unit, off),
    ];
    if let Some(tone) = &guitar.tone {
        let (track, unit, off) = track(&tone.pot, said.tone);
        found.push(spread("tone pot", Origin::ToneTrack, track, unit, off));
    }
    let cable = of(said.cable, guitar.cable.tolerance, CABLE);
    found.push(spread("cable", Origin::Cable, guitar.cable.capacitance.value(), "F", cable));
    found
}

/// The resistors and capacitors of a network; several of a kind are numbered in written order.
fn parts(network: &Network, place: Place, word: &str, said: &Tolerances, stock: Option<&Stock>) -> Vec<Spread> {
    let components = network.components();
    let count = |kind: Kind| components.iter().filter(|component| component.kind() == Some(kind)).count();
    let mut numbers = [0, 0];
    let mut found = Vec::with_capacity(components.len());
    for (index, component) in components.iter().enumerate() {
        let Some(kind) = component.kind() else { continue };
        let number = &mut numbers[usize::from(kind == Kind::Capacitor)];
        *number += 1;
        let name = match count(kind) {
            1 => kind.letter().to_owned(),
            _ => format!("{}{number}", kind.letter()),
        };
        let (usual, unit) = match kind {
            Kind::Resistor => (RESISTOR, "Ω"),
            Kind::Capacitor => (CAPACITOR, "F"),
        };
        let listed = stock
            .and_then(|stock| stock.tolerance(kind, component.value()))
            .map(Fraction::value);
        let full_name = format!("{word}.{name}");
        let part = FreePart { kind, name };
        found.push(Spread {
            name: full_name,
            origin: Origin::Part(place, index),
            value: component.value(),
            unit,
            tolerance: said.of_part(word, &part).or(listed).unwrap_or(usual),
        });
    }
    found
}

/// The guitar with each value off its mark by its factor, for one built guitar out of many.
#[must_use]
pub fn with_factors(guitar: &Guitar, spreads: &[Spread], factors: &[f64]) -> Guitar {
    let factor = |origin: Origin| {
        let place = spreads.iter().position(|spread| spread.origin == origin);
        place.and_then(|place| factors.get(place)).copied().unwrap_or(1.0)
    };
    let ohms = |value: Ohms, origin| Ohms::new(value.value() * factor(origin)).unwrap_or(value);
    let farads = |value: Farads, origin| Farads::new(value.value() * factor(origin)).unwrap_or(value);
    let mut built = guitar.clone();
    let coil = factor(Origin::Inductance);
    let henries = |value: Henries| Henries::new(value.value() * coil).unwrap_or(value);
    built.pickup.inductance = henries(guitar.pickup.inductance);
    for cell in &mut built.pickup.loss {
        cell.inductance = henries(cell.inductance);
    }
    built.pickup.resistance = ohms(guitar.pickup.resistance, Origin::WindingResistance);
    built.pickup.capacitance = farads(guitar.pickup.capacitance, Origin::WindingCapacitance);
    built.volume.pot.resistance = ohms(guitar.volume.pot.resistance, Origin::VolumeTrack);
    if let Some(tone) = &mut built.tone {
        tone.pot.resistance = ohms(tone.pot.resistance, Origin::ToneTrack);
    }
    built.cable.capacitance = farads(guitar.cable.capacitance, Origin::Cable);
    let varied = |network: &Network, place| {
        let mut next = 0;
        varied(network, &mut |component| {
            let origin = Origin::Part(place, next);
            next += 1;
            match component {
                Component::Resistor(value) => Component::Resistor(ohms(value, origin)),
                Component::Capacitor(value) => Component::Capacitor(farads(value, origin)),
                Component::Inductor(_) => component,
            }
        })
    };
    for slot in Slot::ALL {
        let network = guitar.fitted(slot).map(|network| varied(network, Place::Slot(slot)));
        built.fit(slot, network);
    }
    for (index, load) in built.loads.iter_mut().enumerate() {
        load.network = varied(&load.network, Place::Load(index));
    }
    built
}

/// The network with each part of known value replaced, in written order.
fn varied(network: &Network, replace: &mut impl FnMut(Component) -> Component) -> Network {
    match network {
        Network::Fixed(component) => Network::Fixed(replace(*component)),
        Network::Free(part) => Network::Free(part.clone()),
        Network::Series(members) => Network::Series(members.iter().map(|member| varied(member, replace)).collect()),
        Network::Parallel(members) => Network::Parallel(members.iter().map(|member| varied(member, replace)).collect()),
    }
}
