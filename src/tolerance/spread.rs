//! Every value of a guitar that can be off its mark, and the guitar with them off by given factors.

use super::rules::{CABLE, CAPACITOR, LINEAR_TAPER, LOAD, PICKUP, POTENTIOMETER, RESISTOR, TAPER, Tolerances};
use crate::circuit::{Origin, Place};
use crate::guitar::ensemble::Ensemble;
use crate::guitar::taper::Taper;
use crate::guitar::{Guitar, Pickup, Potentiometer, Slot};
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
    /// Its unit: Ω, F or H; none of a taper, whose value is its fraction at half rotation.
    pub unit: &'static str,
    /// By how much it can be off, as a share of one.
    pub tolerance: f64,
    /// About which factor it lies: 1, unless parts are picked by measuring.
    pub middle: f64,
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
    for (pickup, ensemble) in ensembles(guitar) {
        beside(pickup, ensemble, said, stock, &mut found);
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
        middle: 1.0,
    };
    let named = guitar.ensemble.as_ref().map(|ensemble| &ensemble.own);
    let what = named.map_or("pickup", |own| own.name.as_str());
    let mut found = winding(&guitar.pickup, named.map_or(0, |own| own.number), what, said);
    let origins = [Origin::VolumeTrack, Origin::VolumeTaper];
    found.extend(potentiometer("volume", &guitar.volume.pot, origins, said.volume, said.taper));
    if let Some(tone) = &guitar.tone {
        let origins = [Origin::ToneTrack, Origin::ToneTaper];
        found.extend(potentiometer("tone", &tone.pot, origins, said.tone, said.taper));
    }
    let cable = of(said.cable, guitar.cable.tolerance, CABLE);
    found.push(spread("cable", Origin::Cable, guitar.cable.capacitance.value(), "F", cable));
    found
}

/// A pot's track and its taper.
fn potentiometer(what: &str, pot: &Potentiometer, [track, taper]: [Origin; 2], said: Option<f64>, said_taper: Option<f64>) -> [Spread; 2] {
    let share = |said: Option<f64>, file: Option<Fraction>, usual| said.or(file.map(Fraction::value)).unwrap_or(usual);
    let usual = if pot.taper == Taper::Linear { LINEAR_TAPER } else { TAPER };
    // Of measured points nothing is off.
    let (mid, taper_off) = match pot.taper.law() {
        Some((_, mid)) => (mid, share(said_taper, pot.taper_tolerance, usual)),
        None => (0.0, 0.0),
    };
    [
        Spread {
            name: format!("{what} pot"),
            origin: track,
            value: pot.resistance.value(),
            unit: "Ω",
            tolerance: share(said, pot.tolerance, POTENTIOMETER),
            middle: 1.0,
        },
        Spread {
            name: format!("{what} taper"),
            origin: taper,
            value: mid,
            unit: "",
            tolerance: taper_off,
            middle: 1.0,
        },
    ]
}

/// A pickup's three values, by its number and name.
fn winding(pickup: &Pickup, number: usize, what: &str, said: &Tolerances) -> Vec<Spread> {
    let tolerance = said.pickup.or(pickup.tolerance.map(Fraction::value)).unwrap_or(PICKUP);
    let spread = |name: &str, origin, value, unit| Spread {
        name: format!("{what} {name}"),
        origin,
        value,
        unit,
        tolerance,
        middle: 1.0,
    };
    vec![
        spread("inductance", Origin::Inductance(number), pickup.inductance.value(), "H"),
        spread("resistance", Origin::WindingResistance(number), pickup.resistance.value(), "Ω"),
        spread("capacitance", Origin::WindingCapacitance(number), pickup.capacitance.value(), "F"),
    ]
}

/// What is connected besides in the guitar as it is and in each of its positions.
fn ensembles(guitar: &Guitar) -> impl Iterator<Item = (&Pickup, &Ensemble)> {
    let positions = guitar.cases.iter().filter_map(|case| case.position.as_deref());
    let as_it_is = guitar.ensemble.as_deref().map(|ensemble| (&guitar.pickup, ensemble));
    as_it_is
        .into_iter()
        .chain(positions.map(|position| (&position.pickup, &position.ensemble)))
}

/// The values that are connected besides; what is known from another position already is not taken twice.
fn beside(pickup: &Pickup, ensemble: &Ensemble, said: &Tolerances, stock: Option<&Stock>, found: &mut Vec<Spread>) {
    let mut seen = winding(pickup, ensemble.own.number, &ensemble.own.name, said);
    for (pickup, channel) in &ensemble.others {
        seen.extend(winding(pickup, channel.number, &channel.name, said));
    }
    for knob in ensemble.clone().held_knobs_mut() {
        let of_track = if knob.is_volume { said.volume } else { said.tone };
        let origins = [Origin::HeldTrack(knob.number), Origin::HeldTaper(knob.number)];
        seen.extend(potentiometer(knob.name, knob.pot, origins, of_track, said.taper));
    }
    for (place, networks) in ensemble.networks() {
        let all = Network::Series(networks);
        seen.extend(parts(&all, Place::Beside(place), "other", said, stock));
    }
    seen.retain(|spread| found.iter().all(|known| known.origin != spread.origin));
    found.extend(seen);
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
            middle: 1.0,
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
    let wind = |pickup: &mut Pickup, number: usize| {
        let coil = factor(Origin::Inductance(number));
        let henries = |value: Henries| Henries::new(value.value() * coil).unwrap_or(value);
        pickup.inductance = henries(pickup.inductance);
        for cell in &mut pickup.loss {
            cell.inductance = henries(cell.inductance);
        }
        pickup.resistance = ohms(pickup.resistance, Origin::WindingResistance(number));
        pickup.capacitance = farads(pickup.capacitance, Origin::WindingCapacitance(number));
    };
    let turn = |pot: &mut Potentiometer, [track, taper]: [Origin; 2]| {
        pot.resistance = ohms(pot.resistance, track);
        pot.taper = pot.taper.off_by(factor(taper));
    };
    turn(&mut built.volume.pot, [Origin::VolumeTrack, Origin::VolumeTaper]);
    if let Some(tone) = &mut built.tone {
        turn(&mut tone.pot, [Origin::ToneTrack, Origin::ToneTaper]);
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
    let beside = |ensemble: &mut Ensemble| {
        for (pickup, channel) in &mut ensemble.others {
            wind(pickup, channel.number);
        }
        for knob in ensemble.held_knobs_mut() {
            turn(knob.pot, [Origin::HeldTrack(knob.number), Origin::HeldTaper(knob.number)]);
        }
        for (place, networks) in ensemble.networks_mut() {
            let all: Vec<Network> = networks.iter().map(|network| (**network).clone()).collect();
            if let Network::Series(varied) = varied(&Network::Series(all), Place::Beside(place)) {
                networks.into_iter().zip(varied).for_each(|(network, varied)| *network = varied);
            }
        }
    };
    let own = guitar.ensemble.as_ref().map_or(0, |ensemble| ensemble.own.number);
    wind(&mut built.pickup, own);
    built.ensemble.as_deref_mut().into_iter().for_each(beside);
    for position in built.cases.iter_mut().filter_map(|case| case.position.as_deref_mut()) {
        let own = position.ensemble.own.number;
        wind(&mut position.pickup, own);
        beside(&mut position.ensemble);
    }
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
