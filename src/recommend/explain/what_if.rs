//! What would have to give where a target is missed: each change tried by a search of its own.

use super::super::{Prepared, Request, Rewired, defaults, prepare};
use super::{Asked, Change, Control, MOST_SEARCHED_AGAIN, Skipped, WhatIf, room};
use crate::error::Result;
use crate::guitar::{Guitar, Hookup, Joint, Slot};
use crate::parts::network::Network;
use crate::search::exhaustive;
use crate::units::{Farads, Ohms};

/// A change that gains less than this, in dB, is not worth a line.
const LEAST_GAIN: f64 = 0.1;
/// How many changes are listed at most.
const MOST_LISTED: usize = 5;
/// A short cable, in F (common practice, no source).
const SHORT_CABLE: f64 = 300e-12;
/// Values whose ratio is closer to 1 than this are the same part.
const SAME_PART: f64 = 0.05;

/// The changes that help, and those that were not tried.
pub(super) fn what_ifs(asked: &Asked<'_>) -> Result<(Vec<WhatIf>, Vec<Skipped>)> {
    let mut runs = runs(asked)?;
    // The small searches first, so that as many as possible are tried.
    runs.sort_by_key(|(_, prepared)| prepared.candidates());
    let (mut within_reason, mut skipped) = (Vec::new(), Vec::new());
    let mut searched: u64 = 0;
    for (change, prepared) in runs {
        let candidates = prepared.candidates();
        searched = searched.saturating_add(candidates);
        if searched > MOST_SEARCHED_AGAIN {
            skipped.push(Skipped { change, candidates });
            continue;
        }
        within_reason.push((change, prepared));
    }
    let tried = exhaustive::each(&within_reason, |(change, prepared)| tried(asked, change, prepared));
    let mut helpful = Vec::new();
    for what_if in tried {
        helpful.extend(what_if?);
    }
    let clauses: Vec<usize> = (0..asked.request.target.clauses.len()).collect();
    let mut listed = Vec::new();
    for loosened in exhaustive::each(&clauses, |clause| room::loosened(asked, *clause)) {
        listed.extend(loosened);
    }
    largest_first(&mut helpful);
    helpful.truncate(MOST_LISTED.saturating_sub(listed.len()));
    listed.extend(helpful);
    largest_first(&mut listed);
    listed.truncate(MOST_LISTED);
    Ok((listed, skipped))
}

fn largest_first(what_ifs: &mut [WhatIf]) {
    what_ifs.sort_by(|one, other| other.margin_db.total_cmp(&one.margin_db));
}

/// A change, if it gains enough.
fn tried(asked: &Asked<'_>, change: &Change, prepared: &Prepared) -> Result<Option<WhatIf>> {
    let plan = prepared.plan(&asked.request.target)?;
    let stock = asked.request.rules.stock.as_ref();
    let least = asked.best.margin + LEAST_GAIN;
    let first = exhaustive::first_above(&plan, &prepared.spaces, stock, least);
    Ok(first.filter(|entry| entry.margin >= least).map(|entry| WhatIf {
        change: change.clone(),
        margin_db: entry.margin,
        meets_target: entry.margin >= 0.0,
        does: prepared.instructions_of(&entry),
        slots: prepared.slots_of(&entry),
        differs: prepared.differences_of(&entry),
        changed: Rewired::between(&prepared.present, &prepared.build),
    }))
}

/// Every change with the search it stands for.
fn runs(asked: &Asked<'_>) -> Result<Vec<(Change, Prepared)>> {
    let mut runs = networks(asked)?;
    runs.extend(rewired(asked));
    runs.extend(rebuilt(asked));
    Ok(runs)
}

/// The networks that are usual in a slot and were not searched there.
fn networks(asked: &Asked<'_>) -> Result<Vec<(Change, Prepared)>> {
    let prepared = asked.prepared;
    let mut runs = Vec::new();
    for slot in Slot::ALL.into_iter().filter(|slot| matters(asked, *slot)) {
        let searched = alternatives(prepared, slot);
        let known: Vec<String> = searched.iter().flatten().map(form).collect();
        for network in defaults::networks(usual(slot))?.into_iter().flatten() {
            if known.contains(&form(&network)) {
                continue;
            }
            let mut request = changed(asked);
            request.searches = prepared
                .slots
                .iter()
                .filter(|other| **other != slot)
                .flat_map(|other| alternatives(prepared, *other).into_iter().map(|network| (*other, network)))
                .chain([(slot, Some(network.clone()))])
                .collect();
            prepare::forget_unused_keys(&mut request);
            let change = Change::Network {
                slot,
                network: network.to_string(),
            };
            // What a request of its own would refuse is no way out: nothing to choose from in stock, for example.
            runs.extend(prepare::altered(&request, &prepared.tried).ok().map(|prepared| (change, prepared)));
        }
    }
    Ok(runs)
}

/// Networks in use (common practice, no source).
const fn usual(slot: Slot) -> &'static [&'static str] {
    match slot {
        Slot::Bleed => &["C", "R || C", "R + C", "R1 + (R2 || C)"],
        Slot::Tone => &["C", "R", "R + C", "R || C"],
        Slot::Bypass | Slot::Series => &["C", "R || C"],
        Slot::Across => &["C", "R", "R + C"],
    }
}

/// Whether a slot does anything at the knob positions of the target, in this guitar.
fn matters(asked: &Asked<'_>, slot: Slot) -> bool {
    let (volume_moves, tone_moves) = defaults::moved_knobs(&asked.request.target);
    let searched = asked.prepared.slots.contains(&slot);
    asked.prepared.build.need_slot(slot, "").is_ok()
        && match slot {
            Slot::Bleed => volume_moves,
            Slot::Tone | Slot::Bypass => tone_moves || searched,
            Slot::Series => true,
            // Whoever turns a knob does not ask for another sound with everything at full.
            Slot::Across => searched || !volume_moves && !tone_moves,
        }
}

/// What is searched in a slot, each once; `none` only where it is all there is.
fn alternatives(prepared: &Prepared, slot: Slot) -> Vec<Option<Network>> {
    let mut found: Vec<Option<Network>> = Vec::new();
    for space in prepared.spaces.iter().flat_map(|space| &space.slots) {
        if space.slot == slot && space.network.is_some() && !found.contains(&space.network) {
            found.push(space.network.clone());
        }
    }
    if found.is_empty() {
        found.push(None);
    }
    found
}

/// A network's structure without the names of its free parts and without an order among joined members.
fn form(network: &Network) -> String {
    let joined = |members: &[Network], between: &str| {
        let mut members: Vec<String> = members.iter().map(form).collect();
        members.sort();
        format!("({})", members.join(between))
    };
    match network {
        Network::Fixed(component) => component.to_string(),
        Network::Free(part) => part.kind.letter().to_string(),
        Network::Series(members) => joined(members, "+"),
        Network::Parallel(members) => joined(members, "|"),
    }
}

/// The request itself, with leave to count more candidates than are searched.
fn changed(asked: &Asked<'_>) -> Request {
    Request {
        large: true,
        ..asked.request.clone()
    }
}

/// The tone control joined at the other place, and wired the other way.
fn rewired(asked: &Asked<'_>) -> Vec<(Change, Prepared)> {
    let Some(tone) = &asked.prepared.build.tone else {
        return Vec::new();
    };
    let joined_at = match tone.joined_at {
        Joint::Pickup => Joint::Wiper,
        Joint::Wiper => Joint::Pickup,
    };
    let hookup = match tone.hookup {
        Hookup::Rheostat => Hookup::Shelf,
        Hookup::Shelf => Hookup::Rheostat,
    };
    let (mut joined, mut wired) = (changed(asked), changed(asked));
    (joined.joined_at, wired.hookup) = (Some(joined_at), Some(hookup));
    let runs = [(Change::JoinedAt { joined_at }, joined), (Change::Hookup { hookup }, wired)];
    // A bypass that is fitted or searched has no place in a rheostat.
    runs.into_iter()
        .filter_map(|(change, request)| Some((change, prepare::altered(&request, &asked.prepared.tried).ok()?)))
        .collect()
}

/// Other controls and shorter cables; what is searched stays the same.
fn rebuilt(asked: &Asked<'_>) -> Vec<(Change, Prepared)> {
    let build = &asked.prepared.build;
    let cable = build.cable.capacitance.value();
    let mut runs = Vec::new();
    let mut add = |change, guitar: Option<Guitar>| runs.extend(guitar.map(|guitar| (change, asked.prepared.with_build(guitar))));
    for resistance in defaults::POTENTIOMETERS {
        let (_, tone_moves) = defaults::moved_knobs(&asked.request.target);
        for control in [Control::Volume, Control::Tone] {
            let change = Change::Potentiometer { control, resistance };
            if control == Control::Volume || tone_moves {
                add(change, with_potentiometer(build, control, resistance));
            }
        }
    }
    // To the picofarad: what is halved is a figure people read.
    let half = (cable * 0.5e12).round() / 1e12;
    let mut shorter = vec![half];
    if cable > SHORT_CABLE && !is_same(half, SHORT_CABLE) {
        shorter.push(SHORT_CABLE);
    }
    for capacitance in shorter {
        add(Change::Cable { capacitance }, with_cable(build, capacitance));
    }
    runs
}

fn is_same(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() < SAME_PART
}

/// `None` where the guitar has it already, or has no such control.
fn with_potentiometer(build: &Guitar, control: Control, resistance: f64) -> Option<Guitar> {
    let mut guitar = build.clone();
    let potentiometer = match control {
        Control::Volume if !guitar.volume.is_fitted => return None,
        Control::Volume => &mut guitar.volume.pot,
        Control::Tone => &mut guitar.tone.as_mut()?.pot,
    };
    if is_same(potentiometer.resistance.value(), resistance) {
        return None;
    }
    potentiometer.resistance = Ohms::new(resistance)?;
    Some(guitar)
}

/// `None` where the guitar has such a cable already.
fn with_cable(build: &Guitar, capacitance: f64) -> Option<Guitar> {
    let mut guitar = build.clone();
    if capacitance <= 0.0 || is_same(guitar.cable.capacitance.value(), capacitance) {
        return None;
    }
    guitar.cable.capacitance = Farads::new(capacitance)?;
    Some(guitar)
}

impl Prepared {
    /// The same search with another guitar to be built.
    fn with_build(&self, build: Guitar) -> Self {
        Self { build, ..self.clone() }
    }
}
