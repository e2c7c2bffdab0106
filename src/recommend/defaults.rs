//! What is searched and tried where the user does not say: decided by the wish.

use super::prepare::Alternatives;
use crate::error::Result;
use crate::guitar::alteration::Alteration;
use crate::guitar::{Guitar, Hookup, Slot};
use crate::parts::network::Network;
use crate::source::Source;
use crate::target::{Against, Clause, Target};
use crate::units::Ohms;

/// A band that ends here or below is one that a capacitor in series works on (common practice, no source).
const SERIES_BANDS_END: f64 = 600.0;

/// A band that begins here or above is one that a part across the pickup works on (common practice, no source).
const HIGH_BANDS_BEGIN: f64 = 1500.0;

/// A band that begins here or above is presence, which a part across the pickup can lift by moving the resonance (common practice, no source).
const PRESENCE_BEGINS: f64 = 2500.0;

/// The resistances that controls are commonly sold in, in Ω (common practice, no source).
pub(super) const POTENTIOMETERS: [f64; 4] = [250e3, 300e3, 500e3, 1e6];

/// What is tried beside the guitar where more of the highs is wished for at full: a tone pot that lets go, and a volume pot of about twice
/// the value.
pub(super) fn default_tries(target: &Target, build: &Guitar) -> Vec<Alteration> {
    if !asks_for_more_highs_at_full(target) {
        return Vec::new();
    }
    let mut tries = Vec::new();
    if build.tone.as_ref().is_some_and(|tone| !tone.no_load) {
        tries.push(Alteration::NoLoad(true));
    }
    let now = build.volume.pot.resistance.value();
    let off_by = |resistance: &f64| (resistance / (2.0 * now)).ln().abs();
    let twice = POTENTIOMETERS
        .into_iter()
        .min_by(|one, other| off_by(one).total_cmp(&off_by(other)))
        .filter(|resistance| build.volume.is_fitted && *resistance > now);
    tries.extend(twice.and_then(Ohms::new).map(Alteration::VolumeTrack));
    tries
}

/// What to search when the user does not say, decided by the target.
pub(super) fn default_searches(target: &Target, build: &Guitar) -> Result<Vec<Alternatives>> {
    let (volume_moves, tone_moves) = moved_knobs(target);
    let low = asks_for_lows(target);
    if asks_for_less_highs_at_full(target) {
        return Ok(vec![(Slot::Across, networks(&["C", "R", "R + C"])?)]);
    }
    if asks_for_more_highs_at_full(target) {
        // Nothing in the places of a guitar does it, but what is tried beside; only a narrow band is lifted by a resonance moved into it.
        let is_presence = changed(target).all(|clause| clause.band.low() >= PRESENCE_BEGINS);
        return Ok(if is_presence {
            vec![(Slot::Across, networks(&["C"])?)]
        } else {
            Vec::new()
        });
    }
    let mut searched = Vec::new();
    if volume_moves {
        let alone: &[&str] = if tone_moves { &[] } else { &["R1 + (R2 || C)"] };
        searched.push((Slot::Bleed, networks(&[&["C", "R || C", "R + C"], alone].concat())?));
    }
    match build.hookup() {
        Some(Hookup::Rheostat) if tone_moves => searched.push((Slot::Tone, networks(&["C", "R + C"])?)),
        Some(Hookup::Shelf) if tone_moves => {
            searched.push((Slot::Tone, networks(&["R", "C"])?));
            searched.push((Slot::Bypass, networks(&["C"])?));
        }
        // The resistor of a shelf is what its tone control is made of; a wish about the bass leaves it there.
        Some(Hookup::Shelf) if asks_for_lows_at_full(target) => {}
        Some(_) if !volume_moves => searched.push((Slot::Tone, networks(if low { &["C"] } else { &["C", "R"] })?)),
        _ => {}
    }
    if asks_for_lows_at_full(target) {
        searched.push((Slot::Series, networks(&["C", "R || C"])?));
    }
    if searched.is_empty() {
        // Without a tone control and with no knob turned there is one place left where a part can sit.
        searched.push((Slot::Across, networks(&["C"])?));
    }
    Ok(searched)
}

/// Whether any clause turns the volume, and the tone.
pub(super) fn moved_knobs(target: &Target) -> (bool, bool) {
    let moves = |rotations: &[f64]| rotations.iter().any(|rotation| *rotation != 1.0);
    let volume = target.clauses.iter().any(|clause| moves(&clause.volume));
    (volume, target.clauses.iter().any(|clause| moves(&clause.tone)))
}

/// Whether what is to change lies low.
fn asks_for_lows(target: &Target) -> bool {
    let low = |clause: &Clause| clause.band.high() <= SERIES_BANDS_END;
    let mut changed = changed(target).peekable();
    match changed.peek() {
        Some(_) => changed.any(low),
        None => target.clauses.iter().any(low),
    }
}

/// Whether less of the highs is wished for, and nothing else changed, with no knob turned down: what a part across the pickup does.
fn asks_for_less_highs_at_full(target: &Target) -> bool {
    asks_for_highs_at_full(target, |clause| clause.at_most.is_some_and(|most| most < 0.0))
}

/// Whether more of the highs is wished for, and nothing else changed, with no knob turned down: what only a lighter load does.
fn asks_for_more_highs_at_full(target: &Target) -> bool {
    asks_for_highs_at_full(target, |clause| {
        clause.at_least.is_some_and(|least| least > 0.0) && clause.against == Against::Present
    })
}

fn asks_for_highs_at_full(target: &Target, is_that_way: impl Fn(&Clause) -> bool) -> bool {
    let is_wish = |clause: &Clause| clause.band.low() >= HIGH_BANDS_BEGIN && is_that_way(clause);
    moved_knobs(target) == (false, false) && changed(target).next().is_some() && changed(target).all(is_wish)
}

/// The clauses that wish for something else than now; those that keep a band as it is only tell what goes with it.
pub(super) fn changed(target: &Target) -> impl Iterator<Item = &Clause> {
    let changes = |clause: &&Clause| clause.at_least.is_some_and(|least| least > 0.0) || clause.at_most.is_some_and(|most| most < 0.0);
    target.clauses.iter().filter(changes)
}

/// Whether the wish is about low bands with no knob turned down.
pub(super) fn asks_for_lows_at_full(target: &Target) -> bool {
    moved_knobs(target) == (false, false) && asks_for_lows(target)
}

pub(super) fn networks(texts: &[&str]) -> Result<Vec<Option<Network>>> {
    texts
        .iter()
        .map(|text| Network::read(&Source::inline("default search", *text).passage()))
        .collect()
}
