//! Several wishes at once: what is wished for with every knob at full is found by itself, since a treble bleed does nothing there, and the
//! first of what was found is then searched together with the bleed.
//!
//! The places of both wishes have too many combinations to try them all; what is listed is the best of the likely ones, and says so.

use super::defaults::{changed, default_searches, moved_knobs};
use super::prepare::{check_keys, forget_unused_keys, spaces};
use super::{Request, prepare, recommend};
use crate::error::Result;
use crate::guitar::alteration::Alteration;
use crate::guitar::{Guitar, Slot};
use crate::parts::network::Network;
use crate::search::space::{SlotSpace, Space};
use crate::target::{Clause, Target};

/// How many ways of meeting the wishes at full are searched together with the bleed.
const MOST_WAYS: usize = 6;

/// The places of all wishes, and the likely combinations.
pub(super) struct Joint {
    pub(super) slots: Vec<Slot>,
    pub(super) spaces: Vec<Space>,
}

/// The joint search of a request that leaves its places to the target, where something is wished for at full and something else for the
/// volume knob alone; none for any other.
pub(super) fn joint(request: &Request, tried: &[Alteration], build: &Guitar) -> Result<Option<Joint>> {
    let Some([at_full, turned]) = parted(&request.target).filter(|_| request.searches.is_empty()) else {
        return Ok(None);
    };
    let places = default_searches(&at_full, build)?;
    if places.is_empty() {
        return Ok(None);
    }
    let mut first = Request {
        target: at_full,
        searches: all_networks(&places),
        top: MOST_WAYS,
        explain: false,
        lot: None,
        tries: Vec::new(),
        ..request.clone()
    };
    forget_unused_keys(&mut first);
    for alteration in tried {
        alteration.apply(&mut first.guitar, "--try")?;
    }
    let ways = ways(&first, build, &places.iter().map(|(slot, _)| *slot).collect::<Vec<_>>())?;
    let bleeds = spaces(&default_searches(&turned, build)?, &request.rules)?;
    let mut joined = Vec::new();
    for way in &ways {
        for bleed in &bleeds {
            let mut space = bleed.clone();
            for (slot, network) in way {
                space.slots.push(SlotSpace::new(*slot, network.clone(), &request.rules)?);
            }
            space.slots.sort_by_key(|slot| slot.slot);
            joined.push(space);
        }
    }
    check_keys(&request.rules, &[prepare::prepare(&first)?.spaces, bleeds].concat())?;
    let slots = joined.first().map(|space| space.slots.iter().map(|slot| slot.slot).collect());
    Ok(slots.map(|slots| Joint { slots, spaces: joined }))
}

/// The clauses with every knob at full, if they wish for a change, and those that turn the volume, if none turns the tone.
fn parted(target: &Target) -> Option<[Target; 2]> {
    let is_at_full = |clause: &&Clause| clause.volume.iter().chain(&clause.tone).all(|rotation| *rotation == 1.0);
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

/// Networks by place.
type Way = Vec<(Slot, Option<Network>)>;

/// What is fitted in these places to meet the wishes at full: what there is, the answer, and the first of the list, each once.
fn ways(first: &Request, build: &Guitar, places: &[Slot]) -> Result<Vec<Way>> {
    let way = |guitar: &Guitar| -> Way { places.iter().map(|slot| (*slot, guitar.fitted(*slot).cloned())).collect() };
    let found = recommend(first, &())?;
    let mut ways = vec![way(build)];
    for listed in found.listed() {
        let next = way(&listed.guitar);
        if !ways.contains(&next) {
            ways.push(next);
        }
    }
    Ok(ways)
}

fn all_networks(places: &[(Slot, Vec<Option<Network>>)]) -> Vec<(Slot, Option<Network>)> {
    let of_place =
        |(slot, networks): &(Slot, Vec<Option<Network>>)| networks.iter().map(|network| (*slot, network.clone())).collect::<Vec<_>>();
    places.iter().flat_map(of_place).collect()
}
