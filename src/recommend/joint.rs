//! Several wishes at once: what is wished for with every knob at full is found by itself, since a treble bleed does nothing there, and the
//! first of what was found is then searched together with the bleed.
//!
//! The places of both wishes have too many combinations to try them all; what is listed is the best of the likely ones, and says so.

use super::choice::{NOBODY_HEARS, uncapitalised};
use super::defaults::{changed, default_searches, moved_knobs};
use super::prepare::{Alternatives, check_count, check_keys, chosen_spaces, limited};
use super::{Answer, AnswerKind, Prepared, RankBy, Request, recommend};
use crate::error::Result;
use crate::guitar::{Guitar, Slot};
use crate::parts::network::Network;
use crate::search::exhaustive;
use crate::search::space::{SlotSpace, Space};
use crate::target::{Clause, Target};

/// How many ways of meeting the wishes at full are searched together with the bleed.
const MOST_WAYS: usize = 6;
/// How many of each form of network beside.
const MOST_OF_A_FORM: usize = 2;

/// The likely combinations of a request that leaves its places to the target, where something is wished for at full and something else for
/// the volume knob alone; none for any other. `guitars` is the request's present guitar and the one to be built.
pub(super) fn joint(request: &Request, guitars: &Prepared) -> Result<Option<Vec<Space>>> {
    let Some([at_full, turned]) = parted(&request.target).filter(|_| request.searches.is_empty()) else {
        return Ok(None);
    };
    let places = with_present(default_searches(&at_full, &guitars.build)?, &guitars.build);
    if places.is_empty() {
        return Ok(None);
    }
    let [first, bleeds] = [places, default_searches(&turned, &guitars.build)?].map(|places| chosen_spaces(&places, request));
    let (first, bleeds) = (guitars.clone().searching(first?), bleeds?);
    check_count(&first.spaces, request)?;
    let mut joined = Vec::new();
    for way in &ways(request, &first)? {
        for bleed in &bleeds {
            let mut space = bleed.clone();
            for (slot, network) in way {
                space.slots.push(SlotSpace::new(*slot, network.clone(), &request.rules)?);
            }
            space.slots.sort_by_key(|slot| slot.slot);
            joined.push(space);
        }
    }
    check_keys(&request.rules, &[first.spaces, bleeds].concat())?;
    Ok((!joined.is_empty()).then(|| limited(joined, request)))
}

/// Of a joint wish that nothing grants, what can be had of it by itself; a sentence for each part that can.
pub(super) fn met_alone(request: &Request, answer: &Answer) -> Result<Vec<String>> {
    let is_missed = matches!(answer.kind, AnswerKind::Closest | AnswerKind::Leave) && answer.margin_db < -NOBODY_HEARS;
    let Some(parts) = parted(&request.target).filter(|_| is_missed && request.searches.is_empty()) else {
        return Ok(Vec::new());
    };
    let mut said = Vec::new();
    for (target, what) in parts.into_iter().zip(["with both knobs full up", "of the volume knob"]) {
        let alone = Request {
            target,
            explain: false,
            lot: None,
            rank_by: RankBy::Margin,
            threads: None,
            ..request.clone()
        };
        let Answer { kind, says, .. } = recommend(&alone, &())?.answer;
        if kind == AnswerKind::Fit {
            said.push(format!("What you wish {what} can be had by itself: {}", uncapitalised(&says)));
        }
    }
    Ok(said)
}

/// The clauses with every knob at full, if they wish for a change, and those that turn the volume, if none turns the tone.
fn parted(target: &Target) -> Option<[Target; 2]> {
    let only = |wanted: bool| Target {
        clauses: target
            .clauses
            .iter()
            .filter(|clause| is_at_full(clause) == wanted)
            .cloned()
            .collect(),
        ..target.clone()
    };
    let (at_full, turned) = (only(true), only(false));
    let wishes = changed(&at_full).next().is_some() && moved_knobs(&turned) == (true, false);
    wishes.then_some([at_full, turned])
}

fn is_at_full(clause: &Clause) -> bool {
    clause.volume.iter().chain(&clause.tone).all(|rotation| *rotation == 1.0)
}

/// Networks by place.
type Way = Vec<(Slot, Option<Network>)>;

/// What can be fitted to meet the wishes at full: the best of all, and of each form, each once. What is guarded with the volume turned down
/// depends on the bleed and waits for it.
fn ways(request: &Request, first: &Prepared) -> Result<Vec<Way>> {
    let clauses = &request.target.clauses;
    let plan = first.plan(&request.target)?;
    let plan = plan
        .only(|index| clauses.get(index).is_some_and(is_at_full))
        .guarded_at_full_volume();
    let stock = request.rules.stock.as_ref();
    let mut ways: Vec<Way> = Vec::new();
    let mut add = |spaces: &[Space], most: usize| {
        for entry in exhaustive::search(&plan, spaces, stock, most, &()).entries {
            let way = spaces
                .get(entry.space)
                .map(|space| space.networks(&entry.choices))
                .unwrap_or_default();
            let kills_tone = way.iter().any(|(slot, network)| *slot == Slot::Tone && network.is_none());
            if !kills_tone && !ways.contains(&way) {
                ways.push(way);
            }
        }
    };
    add(&first.spaces, MOST_WAYS);
    for space in &first.spaces {
        add(std::slice::from_ref(space), MOST_OF_A_FORM);
    }
    Ok(ways)
}

/// The places with what they hold now as one more choice.
fn with_present(mut places: Vec<Alternatives>, build: &Guitar) -> Vec<Alternatives> {
    for (slot, networks) in &mut places {
        let present = build.fitted(*slot).cloned();
        if present.is_some() && !networks.contains(&present) {
            networks.push(present);
        }
    }
    places
}
