//! How far the bounds of one clause can move, inwards or outwards, with every other clause as it is.
//!
//! The best margin never rises as bounds move inwards, so that the last step at which the target is met lies between one at which
//! it is met and one at which it is not.

use super::{Asked, Change, Tightest, WhatIf};
use crate::error::Result;
use crate::kernel::plan::{Plan, PlannedClause};
use crate::search::exhaustive;
use crate::search::ranking::{Entry, GROUP_WIDTH};
use crate::target::Clause;

/// How closely the last step is found, in dB.
const CLOSENESS: f64 = 0.01;
/// Steps are multiples of this, in dB.
const UNIT: f64 = 0.001;
/// Bounds loosened by more than this, in dB, are another wish.
const MOST_LOOSENED: f64 = 12.0;

/// The tightest bounds of each clause.
pub(super) fn tightest(asked: &Asked<'_>) -> Result<Vec<Tightest>> {
    let clauses = &asked.request.target.clauses;
    let row = |(index, clause): (usize, &Clause)| {
        let inwards = if clauses.len() == 1 {
            floor(asked.best.margin)
        } else {
            inwards(asked, index)?
        };
        let [at_least, at_most] = moved([clause.at_least, clause.at_most], inwards);
        Ok(Tightest {
            clause: index,
            at_least,
            at_most,
        })
    };
    let numbered: Vec<(usize, &Clause)> = clauses.iter().enumerate().collect();
    exhaustive::each(&numbered, |clause| row(*clause)).into_iter().collect()
}

/// By how much, in dB, the bounds of a clause can move inwards while the target is still met.
fn inwards(asked: &Asked<'_>, clause: usize) -> Result<f64> {
    let met = Probe {
        step: 0.0,
        first: Some(asked.best.clone()),
    };
    let Some(alone) = asked.first_alone(clause)? else { return Ok(0.0) };
    let probes = Probes::new(asked, clause);
    // No candidate holds the clause by more than its best margin alone.
    let end = probes.at(floor(alone.margin), &[&alone]);
    if end.is_met() {
        return Ok(end.step);
    }
    Ok(probes.between(met, end).step)
}

/// The bounds of a clause loosened by as little as lets the target be met, if that can be.
pub(super) fn loosened(asked: &Asked<'_>, clause: usize) -> Result<Option<WhatIf>> {
    let probes = Probes::new(asked, clause);
    // What the best build misses by is the least that can be enough.
    let least = probes.at(floor(asked.best.margin), &[]);
    let probe = if least.is_met() {
        least
    } else {
        let far = loosened_far(asked, clause)?.map(|(step, without)| probes.at(step, &[&without]));
        let Some(far) = far.filter(Probe::is_met) else {
            return Ok(None);
        };
        probes.between(far, least)
    };
    let Some(bounds) = asked.request.target.clauses.get(clause) else {
        return Ok(None);
    };
    let [at_least, at_most] = moved([bounds.at_least, bounds.at_most], probe.step);
    let step = probe.step;
    Ok(probe.first.map(|entry| WhatIf {
        change: Change::Bounds {
            clause,
            by_db: -step,
            at_least,
            at_most,
        },
        margin_db: entry.margin,
        meets_target: entry.margin >= 0.0,
        slots: asked.prepared.slots_of(&entry),
    }))
}

/// A step at which the build that is best without the clause meets the target, and that build; `None` where the others cannot be met.
fn loosened_far(asked: &Asked<'_>, clause: usize) -> Result<Option<(f64, Entry)>> {
    if asked.request.target.clauses.len() == 1 {
        return Ok(None);
    }
    let without = asked.first_for(&asked.only(|index| index != clause))?;
    let Some(without) = without.filter(|entry| entry.margin >= 0.0) else {
        return Ok(None);
    };
    let guitar = asked.prepared.built(&without);
    let worst = asked.prepared.worst_of(&guitar, &asked.only(|index| index == clause))?;
    // The first of a group may be that much below the best.
    Ok(worst.map(|worst| (floor(worst.margin - GROUP_WIDTH).max(-MOST_LOOSENED), without)))
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
        let mut plan: Plan = self.asked.plan.clone();
        if let Some(PlannedClause { at_least, at_most, .. }) = plan.clauses.get_mut(self.clause) {
            [*at_least, *at_most] = moved([*at_least, *at_most], step);
        }
        let first = self.asked.first(&plan, known);
        Probe { step, first }
    }

    /// The last step that is met, between one that is and one that is not: guesses along the chord, on either side of it in turn, and
    /// every third in the middle, so that the interval shrinks whatever the margins do.
    fn between(&self, mut met: Probe, mut missed: Probe) -> Probe {
        for turn in 0.. {
            let width = missed.step - met.step;
            if width <= CLOSENESS + 0.5 * UNIT {
                break;
            }
            let share = met.margin() / (met.margin() - missed.margin()).max(f64::MIN_POSITIVE);
            let chord = met.step + width * share;
            let guess = match turn % 3 {
                0 => chord - 0.4 * CLOSENESS,
                1 => chord + 0.4 * CLOSENESS,
                _ => met.step + 0.5 * width,
            };
            let guess = floor(guess.clamp(met.step + 2.0 * UNIT, missed.step - UNIT));
            let known: Vec<&Entry> = met.first.iter().chain(&missed.first).collect();
            let probe = self.at(guess, &known);
            if probe.is_met() {
                met = probe;
            } else {
                missed = probe;
            }
        }
        met
    }
}
