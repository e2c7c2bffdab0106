//! How far the bounds of one clause can move, inwards or outwards, with every other clause as it is.
//!
//! The best margin never rises as bounds move inwards, so that the last step at which the target is met lies between one at which
//! it is met and one at which it is not.

use super::super::Rewired;
use super::{Asked, Change, Tightest, WhatIf};
use crate::kernel::measure::visit_points;
use crate::kernel::plan::{Plan, PlannedClause};
use crate::search::exhaustive::{self, Evaluator};
use crate::search::ranking::{Entry, GROUP_WIDTH};
use crate::target::{Clause, Over};

/// How closely the last step is found, in dB.
const CLOSENESS: f64 = 0.01;
/// Steps are multiples of this, in dB.
const UNIT: f64 = 0.001;
/// Up to so many builds are compared one by one.
const MOST_COMPARED: usize = 200;
/// How often in a run it is tried whether so few are left.
const MOST_TRIALS: usize = 3;
/// What rounding a bound to a millionth may do to a margin, in dB.
const ROUNDING: f64 = 1e-6;
/// Bounds loosened by more than this, in dB, are another wish.
const MOST_LOOSENED: f64 = 12.0;

/// The tightest bounds of each clause.
pub(super) fn tightest(asked: &Asked<'_>) -> Vec<Tightest> {
    let clauses = &asked.request.target.clauses;
    let row = |(index, clause): (usize, &Clause)| {
        let inwards = if clauses.len() == 1 {
            floor(asked.best.margin)
        } else {
            inwards(asked, index)
        };
        let [at_least, at_most] = moved([clause.at_least, clause.at_most], inwards);
        Tightest {
            clause: index,
            at_least,
            at_most,
        }
    };
    let numbered: Vec<(usize, &Clause)> = clauses.iter().enumerate().collect();
    exhaustive::each(&numbered, |clause| row(*clause))
}

/// By how much, in dB, the bounds of a clause can move inwards while the target is still met.
fn inwards(asked: &Asked<'_>, clause: usize) -> f64 {
    let probes = Probes::new(asked, clause);
    let met = Probe {
        step: 0.0,
        first: Some(asked.best.clone()),
    };
    let reached = probes.reach(asked.best).map_or(0.0, floor);
    // A whole band is held nearly as well by very many.
    let is_mean = asked.plan.clauses.get(clause).is_some_and(|clause| clause.over != Over::Every);
    if let Some(last) = Some(reached).filter(|_| !is_mean).and_then(|step| probes.last_of_few(step)) {
        return last.step;
    }
    let Some(alone) = asked.first_alone(clause) else { return 0.0 };
    // No candidate holds the clause by more than its best margin alone.
    let end = probes.at(floor(alone.margin), &[&alone]);
    if end.is_met() {
        return end.step;
    }
    probes.between(met, end, reached).step
}

/// The bounds of a clause loosened by as little as lets the target be met, if that can be.
pub(super) fn loosened(asked: &Asked<'_>, clause: usize) -> Option<WhatIf> {
    let probes = Probes::new(asked, clause);
    // What the best build misses by is the least that can be enough.
    let least = probes.at(floor(asked.best.margin), &[]);
    let probe = if least.is_met() {
        least
    } else {
        let (step, without) = probes.far()?;
        let far = probes.at(step, &[&without]);
        probes.between(Some(far).filter(Probe::is_met)?, least, step)
    };
    let bounds = asked.request.target.clauses.get(clause)?;
    let [at_least, at_most] = moved([bounds.at_least, bounds.at_most], probe.step);
    let step = probe.step;
    probe.first.map(|entry| WhatIf {
        change: Change::Bounds {
            clause,
            by_db: -step,
            at_least,
            at_most,
        },
        margin_db: entry.margin,
        meets_target: entry.margin >= 0.0,
        does: asked.prepared.instructions_of(&entry),
        slots: asked.prepared.slots_of(&entry),
        differs: asked.prepared.differences_of(&entry),
        changed: Rewired::between(&asked.prepared.present, &asked.prepared.build),
    })
}

/// Bounds moved inwards by `step` dB, outwards if it is negative, to a millionth.
fn moved([at_least, at_most]: [Option<f64>; 2], step: f64) -> [Option<f64>; 2] {
    let rounded = |bound: f64| (bound * 1e6).round() / 1e6;
    [
        at_least.map(|bound| rounded(bound + step)),
        at_most.map(|bound| rounded(bound - step)),
    ]
}

fn floor(step: f64) -> f64 {
    (step / UNIT).floor() * UNIT
}

/// Searches with the bounds of one clause moved.
struct Probes<'a> {
    asked: &'a Asked<'a>,
    clause: usize,
}

/// The first build after bounds were moved inwards by a step, in dB.
struct Probe {
    step: f64,
    first: Option<Entry>,
}

impl Probe {
    fn margin(&self) -> f64 {
        self.first.as_ref().map_or(f64::NEG_INFINITY, |entry| entry.margin)
    }

    fn is_met(&self) -> bool {
        self.margin() >= 0.0
    }
}

impl<'a> Probes<'a> {
    fn new(asked: &'a Asked<'a>, clause: usize) -> Self {
        Self { asked, clause }
    }

    /// The first build at a step, with builds that are known to be near it.
    fn at(&self, step: f64, known: &[&Entry]) -> Probe {
        let first = self.asked.first(&self.plan(step), known);
        Probe { step, first }
    }

    fn plan(&self, step: f64) -> Plan {
        let mut plan: Plan = self.asked.plan.clone();
        if let Some(PlannedClause { at_least, at_most, .. }) = plan.clauses.get_mut(self.clause) {
            [*at_least, *at_most] = moved([*at_least, *at_most], step);
        }
        plan
    }

    /// The last step that is met, if it is not before `step` and so few builds hold the target there that they can be compared one by one: as
    /// bounds move inwards no other can be the first that meets it.
    fn last_of_few(&self, step: f64) -> Option<Probe> {
        let asked = self.asked;
        let stock = asked.request.rules.stock.as_ref();
        // The first of a group may be that much below the best.
        let least = -GROUP_WIDTH - ROUNDING;
        let mut few = exhaustive::all_above(&self.plan(step), &asked.prepared.spaces, stock, least, MOST_COMPARED)?;
        few.sort_by(Entry::compare_in_group);
        let mut evaluator = Evaluator::new(asked.plan);
        let rows: Vec<([f64; 2], Entry)> = few
            .into_iter()
            .filter_map(|entry| Some((self.margins(&mut evaluator, &entry)?, entry)))
            .collect();
        let holds_others = rows.iter().filter(|([_, others], _)| *others >= 0.0);
        let furthest = holds_others.map(|([own, _], _)| *own).fold(f64::NEG_INFINITY, f64::max);
        let steps = ((furthest - step) / UNIT).floor();
        // Of a clause without a bound there is no end.
        let steps = Some(steps.max(0.0)).filter(|steps| steps.is_finite())?;
        let (step, mut first) = (0..=steps as u32).rev().find_map(|units| {
            let step = floor(step + (f64::from(units) + 0.5) * UNIT);
            let margin = |[own, others]: [f64; 2]| (own - step).min(others);
            let best = rows.iter().map(|(row, _)| margin(*row)).fold(f64::NEG_INFINITY, f64::max);
            let (row, first) = rows.iter().find(|(row, _)| margin(*row) >= best - GROUP_WIDTH)?;
            let is_met = margin(*row) >= ROUNDING;
            is_met.then(|| (step, first.clone()))
        })?;
        first.margin = asked.margin(&self.plan(step), &first)?;
        Some(Probe { step, first: Some(first) })
    }

    /// A step at which the build that is best without the clause meets the target, and that build; `None` where the others cannot be met.
    fn far(&self) -> Option<(f64, Entry)> {
        if self.asked.request.target.clauses.len() == 1 {
            return None;
        }
        let without = self.asked.first_of_only(|index| index != self.clause);
        let without = without.filter(|entry| entry.margin >= 0.0)?;
        // The first of a group may be that much below the best.
        let step = self.reach(&without)? - GROUP_WIDTH;
        Some((floor(step).max(-MOST_LOOSENED), without))
    }

    /// How far the bounds can move inwards before a build breaks this clause, whatever becomes of the others.
    fn reach(&self, entry: &Entry) -> Option<f64> {
        let [own, _] = self.margins(&mut Evaluator::new(self.asked.plan), entry)?;
        own.is_finite().then_some(own)
    }

    /// A build's margin in this clause, and in all others together, with the bounds where they were.
    fn margins(&self, evaluator: &mut Evaluator<'_>, entry: &Entry) -> Option<[f64; 2]> {
        let space = self.asked.prepared.spaces.get(entry.space)?;
        let powers = evaluator.powers(&space.fitted(), &entry.chosen);
        let [mut own, mut others] = [f64::INFINITY; 2];
        let is_audible = visit_points(self.asked.plan, powers, |point| {
            let margin = if point.clause == self.clause { &mut own } else { &mut others };
            *margin = margin.min(point.margin);
        });
        is_audible.then_some([own, others])
    }

    /// The last step that is met, between one that is and one that is not. Beside each probe two things are known: the build that was found
    /// still holds this clause as far as it reaches, and where the best misses by some dB nothing is met before the bounds have moved out
    /// by as much. The guesses are along the chord, at what is reached or just beyond it, and every third in the middle, so that the interval
    /// shrinks whatever the margins do. Where a step later than `tried` is met it is tried whether few builds are left there.
    fn between(&self, mut met: Probe, mut missed: Probe, mut tried: f64) -> Probe {
        let mut end = missed.step;
        let mut trials = 0..MOST_TRIALS;
        for turn in 0.. {
            if missed.first.is_some() {
                // The first of a group may be that much below the best.
                end = end
                    .min(floor(missed.step + missed.margin() + GROUP_WIDTH) + UNIT)
                    .max(met.step + UNIT);
            }
            if end - met.step <= CLOSENESS + 0.5 * UNIT {
                break;
            }
            if met.step > tried && trials.next().is_some() {
                tried = met.step;
                if let Some(last) = self.last_of_few(met.step) {
                    return last;
                }
            }
            let reached = met.first.as_ref().and_then(|first| self.reach(first)).unwrap_or(met.step);
            let reached = floor(reached).clamp(met.step, end - UNIT);
            let is_near = end - reached <= CLOSENESS + 0.5 * UNIT;
            let guess = match turn % 3 {
                0 if !is_near => {
                    let share = met.margin() / (met.margin() - missed.margin()).max(f64::MIN_POSITIVE);
                    met.step + (missed.step - met.step) * share
                }
                0 | 1 if is_near => reached,
                0 | 1 => reached + CLOSENESS,
                _ => f64::midpoint(met.step, end),
            };
            let guess = floor(guess.clamp(met.step + UNIT, end - UNIT));
            let known: Vec<&Entry> = met.first.iter().chain(&missed.first).collect();
            let probe = self.at(guess, &known);
            if probe.is_met() {
                met = probe;
            } else {
                end = end.min(probe.step);
                missed = probe;
            }
        }
        met
    }
}
