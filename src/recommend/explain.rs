//! Why the answer is the answer, as data: what stops the best build, what would have to give, what each extra part buys, and how
//! tight a target could be made that is met with room.
//!
//! Each figure comes from a search of its own in which exactly one thing is changed. All are searched as the request says, and "meets" is
//! what it is for a recommendation: the first build's margin is not below 0.

mod room;
mod what_if;

use std::collections::BTreeMap;

use serde::Serialize;

use super::instructions::instructions;
use super::{Differences, Prepared, RankBy, Request, Rewired, Suggestion, Worst, defaults};
use crate::error::Result;
use crate::guitar::{Hookup, Joint, Slot};
use crate::kernel::plan::Plan;
use crate::parts::choice::Rules;
use crate::search::exhaustive::{self, Evaluator};
use crate::search::ranking::{Entry, GROUP_WIDTH};
use crate::search::space::{SlotSpace, Space};

/// Requests with more candidates than this are explained without further searches, and so many are tried in all for what-ifs.
pub(super) const MOST_SEARCHED_AGAIN: u64 = 2_000_000;
/// A target met with more room than this, in dB, is asked how tight it could be made.
const ROOM: f64 = 0.1;

/// What further searches tell about an answer.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Explanation {
    /// Where the target is missed: what would help, one change each, largest margin first. Only what gains 0.1 dB or more is listed, or
    /// what loosens a bound just enough; at most five.
    pub what_if: Vec<WhatIf>,
    /// Changes that were not tried, because they have too many candidates.
    pub what_if_skipped: Vec<Skipped>,
    /// How many candidates the request has, where they are too many to search them again: then nothing here is known.
    pub too_many_to_explain: Option<u64>,
    /// The best margin with at most so many parts, fewest first.
    pub by_part_count: Vec<ByPartCount>,
    /// Where the target is met with room: the tightest bounds of each clause that any of these parts can hold, to 0.01 dB, with the
    /// other clauses as they are.
    pub tightest: Vec<Tightest>,
}

/// What one change would do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhatIf {
    /// The change.
    pub change: Change,
    /// The best margin then, in dB.
    pub margin_db: f64,
    /// Whether the target is met then.
    pub meets_target: bool,
    /// Everything to be done to the guitar as it is, each as an instruction in lower case; nothing where it stays so.
    pub does: Vec<String>,
    /// What goes into each searched slot then.
    pub slots: BTreeMap<Slot, String>,
    /// All that differs then from the guitar as it is, potentiometers and cable apart.
    pub differs: Differences,
    /// The pots and the cable that are others then.
    pub changed: Rewired,
}

/// A change that was not tried.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Skipped {
    /// The change.
    pub change: Change,
    /// How many candidates it would have.
    pub candidates: u64,
}

/// One thing done otherwise. A change to the guitar is one to the builds: the present guitar, against which a clause may compare,
/// stays as its file describes it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Change {
    /// The bounds of a clause moved outwards, all others left.
    Bounds {
        /// Index of the clause.
        clause: usize,
        /// By how much, in dB.
        by_db: f64,
        /// The smallest difference then allowed, in dB.
        at_least: Option<f64>,
        /// The largest difference then allowed, in dB.
        at_most: Option<f64>,
    },
    /// Another network searched in a slot, instead of those searched there.
    Network {
        /// The slot.
        slot: Slot,
        /// The network with its free parts.
        network: String,
    },
    /// Another potentiometer.
    Potentiometer {
        /// Which control.
        control: Control,
        /// Its resistance in Ω.
        resistance: f64,
    },
    /// Another cable.
    Cable {
        /// Its capacitance in F.
        capacitance: f64,
    },
    /// The tone control joined elsewhere.
    JoinedAt {
        /// Where.
        joined_at: Joint,
    },
    /// The tone control wired otherwise.
    Hookup {
        /// How.
        hookup: Hookup,
    },
}

/// A potentiometer by what it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Control {
    /// The volume control.
    Volume,
    /// The tone control.
    Tone,
}

/// The best of the builds with no more than so many parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByPartCount {
    /// How many parts at most.
    pub parts: usize,
    /// The margin in dB.
    pub margin_db: f64,
    /// What goes into each searched slot.
    pub slots: BTreeMap<Slot, String>,
}

/// How tight a clause could be made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tightest {
    /// Index of the clause.
    pub clause: usize,
    /// The largest smallest difference, in dB; none where the clause has none.
    pub at_least: Option<f64>,
    /// The smallest largest difference, in dB; none where the clause has none.
    pub at_most: Option<f64>,
}

/// What stops the best build from meeting the target.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stops {
    /// Where the best build breaks its bound most.
    pub worst: Worst,
    /// The bound that breaks, in dB.
    pub bound_db: f64,
    /// Whether the difference is above the bound (else below).
    pub above: bool,
    /// The best margin of each clause with all others left out, in dB; none where every candidate is silent. Empty where the request
    /// asks for no explanation, and where there are too many candidates to search them again.
    pub clause_alone_db: Vec<Option<f64>>,
}

/// A request, what was made of it, and its best build.
pub(super) struct Asked<'r> {
    pub(super) request: &'r Request,
    pub(super) prepared: &'r Prepared,
    pub(super) plan: &'r Plan,
    /// The first of the ranked.
    pub(super) best: &'r Entry,
    /// All that are listed, it among them.
    pub(super) listed: &'r [Entry],
}

impl Asked<'_> {
    /// The first of all candidates of a plan for these spaces, exact if some candidate has a margin of `least` dB.
    fn first_above(&self, plan: &Plan, spaces: &[Space], least: f64) -> Option<Entry> {
        exhaustive::first_above(plan, spaces, self.request.rules.stock.as_ref(), least)
    }

    /// The first of all candidates of a plan. No candidate below the best of those that are known, and tried first, can be it.
    fn first(&self, plan: &Plan, known: &[&Entry]) -> Option<Entry> {
        let margins = known.iter().chain([&self.best]).filter_map(|entry| self.margin(plan, entry));
        self.first_above(plan, &self.prepared.spaces, margins.fold(f64::NEG_INFINITY, f64::max))
    }

    /// The margin of a candidate of the request on another plan, in dB; `None` if it is silent.
    fn margin(&self, plan: &Plan, entry: &Entry) -> Option<f64> {
        let space = self.prepared.spaces.get(entry.space)?;
        Some(Evaluator::new(plan).kept(&space.fitted(), &entry.chosen)?.margin)
    }

    /// The first of all candidates with some of the clauses left out.
    fn first_of_only(&self, keeps: impl Fn(usize) -> bool) -> Option<Entry> {
        self.first(&self.plan.only(keeps), &[])
    }

    /// The first of all candidates with a clause alone, all others left out.
    fn first_alone(&self, clause: usize) -> Option<Entry> {
        self.first_of_only(|index| index == clause)
    }

    fn candidates(&self) -> u64 {
        self.prepared.candidates()
    }

    /// Whether the best is known to be the first of those with as many parts as it has: where the first group is listed to its end and its
    /// largest margin has as many, that margin opens a group among these as well, and it is the same but for builds with other numbers of
    /// parts.
    fn is_first_of_its_part_count(&self) -> bool {
        let most = self.listed.iter().map(|entry| entry.margin).fold(f64::NEG_INFINITY, f64::max);
        let by_margin = self.request.rank_by == RankBy::Margin;
        let is_whole = by_margin && self.listed.last().is_some_and(|last| most - last.margin > GROUP_WIDTH);
        is_whole
            && self
                .listed
                .iter()
                .any(|entry| entry.margin >= most && entry.parts == self.best.parts)
    }

    /// Whether any candidate of these spaces makes a sound: nearly always the very first does.
    fn sounds(&self, spaces: &[Space]) -> bool {
        let mut evaluator = Evaluator::new(self.plan);
        let mut first = |space: &Space| {
            let choices: Vec<usize> = space.parts().map(|_| 0).collect();
            evaluator.kept(&space.fitted(), &space.values(&choices)).is_some()
        };
        self.request.rules.stock.is_none() && spaces.iter().any(&mut first)
            || self.first_above(self.plan, spaces, f64::NEG_INFINITY).is_some()
    }
}

impl Prepared {
    pub(super) fn candidates(&self) -> u64 {
        self.spaces.iter().map(Space::count).fold(0, u64::saturating_add)
    }

    /// All that differs from the present guitar in the guitar with an entry's parts.
    pub(super) fn differences_of(&self, entry: &Entry) -> Differences {
        Differences::between(&self.present, &self.built(entry))
    }

    /// Everything that makes the guitar with an entry's parts of the present one.
    pub(super) fn instructions_of(&self, entry: &Entry) -> Vec<String> {
        instructions(&self.present, &self.built(entry))
    }

    /// What an entry puts into each searched slot.
    pub(super) fn slots_of(&self, entry: &Entry) -> BTreeMap<Slot, String> {
        self.slots.iter().copied().zip(entry.written.iter().cloned()).collect()
    }
}

/// All explanations, as far as further searches are within reason.
pub(super) fn explanation(asked: &Asked<'_>) -> Result<Explanation> {
    let mut explanation = Explanation::default();
    if !asked.request.explain {
        return Ok(explanation);
    }
    if asked.candidates() > MOST_SEARCHED_AGAIN {
        explanation.too_many_to_explain = Some(asked.candidates());
        return Ok(explanation);
    }
    explanation.by_part_count = by_part_count(asked);
    if asked.best.margin < 0.0 {
        (explanation.what_if, explanation.what_if_skipped) = what_if::what_ifs(asked)?;
    } else if asked.best.margin >= ROOM {
        explanation.tightest = room::tightest(asked);
    }
    Ok(explanation)
}

/// The best margin with at most so many parts, for every number of parts that a candidate has.
fn by_part_count(asked: &Asked<'_>) -> Vec<ByPartCount> {
    let mut groups: BTreeMap<usize, Vec<Space>> = BTreeMap::new();
    for space in asked.prepared.spaces.iter().flat_map(Space::by_part_count) {
        groups.entry(space.part_count()).or_default().push(space);
    }
    let mut rows: Vec<ByPartCount> = Vec::new();
    for (parts, spaces) in groups {
        // What is no better than fewer parts needs not be known.
        let least = rows.last().map_or(f64::NEG_INFINITY, |fewer| fewer.margin_db);
        let has_best = parts == asked.best.parts;
        let entry = if has_best && asked.is_first_of_its_part_count() {
            Some(asked.best.clone())
        } else {
            let least = if has_best { least.max(asked.best.margin) } else { least };
            asked.first_above(asked.plan, &spaces, least)
        };
        let row = match (entry, rows.last()) {
            (Some(entry), Some(fewer)) if fewer.margin_db >= entry.margin => Some(ByPartCount { parts, ..fewer.clone() }),
            (Some(entry), _) => Some(ByPartCount {
                parts,
                margin_db: entry.margin,
                slots: asked.prepared.slots_of(&entry),
            }),
            (None, Some(fewer)) if asked.sounds(&spaces) => Some(ByPartCount { parts, ..fewer.clone() }),
            (None, _) => None,
        };
        rows.extend(row);
    }
    rows
}

/// What stops the best build, if it misses the target; `worst` is where it is worst.
pub(super) fn stops(asked: &Asked<'_>, worst: &Worst) -> Option<Stops> {
    let clause = asked.plan.clauses.get(worst.clause).filter(|_| asked.best.margin < 0.0)?;
    let above = clause.at_most.is_some_and(|at_most| worst.difference_db > at_most);
    let bound = if above { clause.at_most } else { clause.at_least };
    Some(Stops {
        worst: worst.clone(),
        bound_db: bound.unwrap_or_default(),
        above,
        clause_alone_db: clauses_alone(asked),
    })
}

/// The best margin of each clause with all others left out, where further searches are within reason.
fn clauses_alone(asked: &Asked<'_>) -> Vec<Option<f64>> {
    if !asked.request.explain || asked.candidates() > MOST_SEARCHED_AGAIN {
        return Vec::new();
    }
    let count = asked.request.target.clauses.len();
    if count == 1 {
        return vec![Some(asked.best.margin)];
    }
    let clauses: Vec<usize> = (0..count).collect();
    exhaustive::each(&clauses, |clause| asked.first_alone(*clause).map(|entry| entry.margin))
}

/// Where nothing that was searched matters and the wish is about low bands at full, a capacitor in series is what can help.
pub(super) fn suggestion(request: &Request, prepared: &Prepared, matters: bool) -> Result<Option<Suggestion>> {
    let target = &request.target;
    if !request.explain || matters || prepared.slots.contains(&Slot::Series) || !defaults::asks_for_lows_at_full(target) {
        return Ok(None);
    }
    let options = defaults::networks(&["C", "R || C"])?;
    let spaces = options
        .into_iter()
        .map(|network| SlotSpace::new(Slot::Series, network, &Rules::default()).map(|slot| Space { slots: vec![slot] }))
        .collect::<Result<Vec<_>>>()?;
    let plan = prepared.plan_of(&prepared.build, target, &[Slot::Series])?;
    let best = exhaustive::search(&plan, &spaces, None, 1, &()).entries;
    let in_series = Prepared {
        slots: vec![Slot::Series],
        spaces,
        ..prepared.clone()
    };
    Ok(best.first().map(|entry| Suggestion {
        slot: Slot::Series,
        network: entry.written.join(", "),
        does: in_series.instructions_of(entry),
        margin_db: entry.margin,
    }))
}
