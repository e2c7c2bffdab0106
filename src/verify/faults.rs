//! What can be wrong besides a value: places open or shorted, parts missing, networks and controls wired another way.

use crate::circuit::{Origin, Place};
use crate::guitar::taper::Taper;
use crate::guitar::{Guitar, Joint, Slot};
use crate::parts::network::{Component, Network};
use crate::tolerance::Spread;
use crate::units::{Fraction, Ohms};

/// The taper that is in the bag beside a linear one (common practice, no source).
const USUAL_AUDIO: f64 = 0.15;

/// A guitar that was built wrong in one way.
pub(super) struct Fault {
    /// `bleed`, `bleed.C`, `volume pot` …
    pub(super) place: String,
    /// `missing`, `shorted` …
    pub(super) built: String,
    /// The guitar it makes.
    pub(super) guitar: Guitar,
}

/// Every way of building a guitar wrong that could show; `turned` says whether volume and tone were measured between their ends.
pub(super) fn faults(guitar: &Guitar, spreads: &[Spread], turned: [bool; 2]) -> Vec<Fault> {
    let mut found = Vec::new();
    for slot in Slot::ALL {
        if let Some(network) = guitar.fitted(slot) {
            found.extend(of_network(guitar, spreads, slot, network));
        }
    }
    for index in 0..guitar.loads.len() {
        let mut without = guitar.clone();
        without.loads.remove(index);
        found.push(Fault {
            place: format!("load {}", index + 1),
            built: "not connected".to_owned(),
            guitar: without,
        });
    }
    found.extend(of_tone(guitar));
    found.extend(of_tapers(guitar, turned));
    found
}

fn of_network(guitar: &Guitar, spreads: &[Spread], slot: Slot, network: &Network) -> Vec<Fault> {
    let fault = |place: String, built: &str, fitted: Option<Network>| {
        let mut guitar = guitar.clone();
        guitar.fit(slot, fitted);
        Fault {
            place,
            built: built.to_owned(),
            guitar,
        }
    };
    let word = || slot.word().to_owned();
    let mut found = vec![fault(word(), "not connected", None)];
    let wire = Ohms::new(0.0).map(|none| Network::Fixed(Component::Resistor(none)));
    found.extend(wire.map(|wire| fault(word(), "shorted", Some(wire))));
    let other_way = match network {
        Network::Series(members) => Some(("in parallel instead of series", Network::Parallel(flat(members, false)))),
        Network::Parallel(members) => Some(("in series instead of parallel", Network::Series(flat(members, true)))),
        _ => None,
    };
    found.extend(other_way.map(|(built, network)| fault(word(), built, Some(network))));
    let name = |index: usize| {
        let origin = Origin::Part(Place::Slot(slot), index);
        let spread = spreads.iter().find(|spread| spread.origin == origin);
        spread.map_or_else(|| format!("{}, part {}", slot.word(), index + 1), |spread| spread.name.clone())
    };
    for index in 0..network.components().len() {
        // The whole place open or shorted is among them already.
        if let Some(rest) = left(network, index, Loss::Open) {
            found.push(fault(name(index), "missing", Some(rest)));
        }
        if let Some(rest) = left(network, index, Loss::Short) {
            found.push(fault(name(index), "shorted", Some(rest)));
        }
    }
    found
}

/// How a part is lost.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Loss {
    Open,
    Short,
}

/// The network without one of its parts, counted in written order; `None` where nothing of it is left but that loss.
fn left(network: &Network, lost: usize, how: Loss) -> Option<Network> {
    let (members, passes) = match network {
        Network::Fixed(_) | Network::Free(_) => return None,
        // A wire among parts in series, or an open part beside others, is as if it were not there.
        Network::Series(members) => (members, Loss::Short),
        Network::Parallel(members) => (members, Loss::Open),
    };
    let mut next = 0;
    let mut kept = Vec::with_capacity(members.len());
    for member in members {
        let own = next..next + member.components().len();
        next = own.end;
        if !own.contains(&lost) {
            kept.push(member.clone());
        } else if let Some(rest) = left(member, lost - own.start, how) {
            kept.push(rest);
        } else if how != passes {
            return None;
        }
    }
    match (kept.len(), network) {
        (0 | 1, _) => kept.pop(),
        (_, Network::Series(_)) => Some(Network::Series(flat(&kept, true))),
        _ => Some(Network::Parallel(flat(&kept, false))),
    }
}

/// Members without a series among those of a series, or a parallel among those of a parallel.
fn flat(members: &[Network], series: bool) -> Vec<Network> {
    let inner = |member: &Network| match member {
        Network::Series(inner) if series => inner.clone(),
        Network::Parallel(inner) if !series => inner.clone(),
        other => vec![other.clone()],
    };
    members.iter().flat_map(inner).collect()
}

fn of_tone(guitar: &Guitar) -> Option<Fault> {
    let joined = guitar.tone.as_ref()?.joined_at;
    let (built, at) = match joined {
        Joint::Pickup => ("joined at the volume control's wiper", Joint::Wiper),
        Joint::Wiper => ("joined at the volume control's input lug", Joint::Pickup),
    };
    let mut other = guitar.clone();
    other.tone.as_mut()?.joined_at = at;
    Some(Fault {
        place: Slot::Tone.word().to_owned(),
        built: built.to_owned(),
        guitar: other,
    })
}

fn of_tapers(guitar: &Guitar, turned: [bool; 2]) -> Vec<Fault> {
    let other = |taper: &Taper| match taper {
        Taper::Linear => Fraction::new(USUAL_AUDIO).map(Taper::Audio),
        _ => Some(Taper::Linear),
    };
    let fault = |place: &str, taper: &Taper, guitar: Guitar, meant: &Taper| Fault {
        place: place.to_owned(),
        built: format!("{taper} instead of {meant}"),
        guitar,
    };
    let mut found = Vec::new();
    let meant = &guitar.volume.pot.taper;
    if let Some(taper) = other(meant).filter(|_| turned[0]) {
        let mut built = guitar.clone();
        built.volume.pot.taper = taper.clone();
        found.push(fault("volume pot", &taper, built, meant));
    }
    let tone = guitar.tone.as_ref().filter(|_| turned[1]);
    if let Some((meant, taper)) = tone.and_then(|tone| Some((&tone.pot.taper, other(&tone.pot.taper)?))) {
        let mut built = guitar.clone();
        if let Some(tone) = &mut built.tone {
            tone.pot.taper = taper.clone();
        }
        found.push(fault("tone pot", &taper, built, meant));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Source;

    fn network(text: &str) -> Network {
        Network::read(&Source::inline("a network", text).passage()).unwrap().unwrap()
    }

    #[test]
    fn a_part_is_lost_as_it_would_be_on_the_bench() {
        for (text, index, how, rest) in [
            ("120k || 1n", 0, Loss::Open, Some("1n")),
            ("120k || 1n", 1, Loss::Open, Some("120k")),
            ("120k || 1n", 1, Loss::Short, None),
            ("120k + 1n", 0, Loss::Short, Some("1n")),
            ("120k + 1n", 0, Loss::Open, None),
            ("10k + (120k || 1n)", 0, Loss::Open, None),
            ("10k + (120k || 1n)", 2, Loss::Open, Some("10k + 120k")),
            ("10k + (120k || 1n)", 2, Loss::Short, Some("10k")),
            ("120k || (10k + 1n)", 0, Loss::Open, Some("10k + 1n")),
            ("4k7 + (120k || (10k + 1n))", 1, Loss::Open, Some("4k7 + 10k + 1n")),
            ("22n", 0, Loss::Open, None),
        ] {
            assert_eq!(left(&network(text), index, how), rest.map(network), "{text}, part {index}");
        }
    }
}
