//! The best margin of a space with *any* value inside its ranges: what finer parts could gain.
//!
//! The margin is the smallest over many points, so it has kinks and several local optima: the search is a simplex descent in the
//! logarithms of the values, from several starts. Its result is the best found and no proved bound; it is never below its start. The
//! solver and its settings were chosen by `benches/ideal.rs`.

use std::cell::RefCell;

use argmin::core::{CostFunction, Error, Executor};
use argmin::solver::neldermead::NelderMead;

use crate::guitar::Slot;
use crate::kernel::plan::Plan;
use crate::parts::network::Network;
use crate::search::exhaustive::Evaluator;
use crate::search::space::{PartSpace, Space};

/// How often a candidate of one space is evaluated at most, for each of its free parts.
pub const EVALUATIONS_PER_PART: usize = 100;
/// How often a candidate of one space is evaluated at most, however many free parts it has.
pub const MOST_EVALUATIONS: usize = 600;
/// How often candidates of all the spaces of one search are evaluated at most.
pub const MOST_TOGETHER: usize = 20_000;
/// How much of the evaluations goes into spreading points over the whole space.
const SPREAD_SHARE: f64 = 0.25;
/// From how many of the spread points a descent begins.
const DESCENTS: usize = 2;
/// Starts of descents are at least this far apart, as a share of the ranges.
const APART: f64 = 0.15;
/// Edge of the first simplex of a descent, as a share of the ranges.
const WIDE: f64 = 0.2;
/// Edge of the simplex when the best found is tried again.
const NARROW: f64 = 0.02;
/// A descent ends when the margins at its corners differ by less, in dB.
const SETTLED: f64 = 1e-3;
/// Trying the best found again goes on while it gains this much, in dB.
const WORTH_ANOTHER: f64 = 1e-3;
/// What a candidate costs that is silent or breaks a guard, in dB: more than any other.
const SILENT: f64 = 1e9;
/// How many free parts are moved to either buildable value next to them; those behind move to the one below.
const MOST_ROUNDED: usize = 6;

/// The best found of one space.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The values of the free parts in Ω and F, slot by slot.
    pub values: Vec<Vec<f64>>,
    /// The margin in dB, finite.
    pub margin: f64,
}

/// The best found with any values from the smallest to the largest that each free part may take, in [`evaluations`] of one space alone.
///
/// It is never below `start`, which ought to be the best buildable known, nor below the buildable values next to it. `None` for a space
/// without free parts, or if every candidate tried is silent.
#[must_use]
pub fn best(plan: &Plan, space: &Space, start: Option<&[Vec<f64>]>) -> Option<Found> {
    best_within(plan, space, start, evaluations(space, 1))
}

/// How often a candidate of a space that is one of so many may be evaluated; the buildable values next to the best found come on top.
#[must_use]
pub fn evaluations(space: &Space, spaces: usize) -> usize {
    let own = EVALUATIONS_PER_PART.saturating_mul(space.parts().count()).min(MOST_EVALUATIONS);
    own.min(MOST_TOGETHER / spaces.max(1)).max(1)
}

/// As [`best`], with a number of evaluations of one's own.
#[must_use]
pub fn best_within(plan: &Plan, space: &Space, start: Option<&[Vec<f64>]>, evaluations: usize) -> Option<Found> {
    space.parts().next()?;
    let problem = Problem::new(plan, space, evaluations);
    if let Some(start) = start {
        problem.margin_of(start.to_vec());
    }
    problem.solve();
    problem.found()
}

/// A space as a function of coordinates: each free part whose range is more than one value runs from 0 to 1 in the logarithm of its value.
#[derive(Debug)]
pub struct Problem<'p> {
    space: &'p Space,
    fitted: Vec<(Slot, Option<&'p Network>)>,
    ranges: Vec<Range>,
    state: RefCell<State<'p>>,
}

/// The range of one free part, in logarithms.
#[derive(Debug)]
struct Range {
    /// Smallest.
    low: f64,
    /// Largest less smallest; 0 where there is no choice.
    width: f64,
}

#[derive(Debug)]
struct State<'p> {
    evaluator: Evaluator<'p>,
    left: usize,
    best: Option<(Vec<f64>, Found)>,
}

impl<'p> Problem<'p> {
    /// A space on a plan that may be evaluated so many times.
    #[must_use]
    pub fn new(plan: &'p Plan, space: &'p Space, evaluations: usize) -> Self {
        let ends = |part: &PartSpace| Some((part.values.first()?.ln(), part.values.last()?.ln()));
        let range = |part| ends(part).map_or(Range { low: 0.0, width: 0.0 }, |(low, high)| Range { low, width: high - low });
        Self {
            space,
            fitted: space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect(),
            ranges: space.parts().map(range).collect(),
            state: RefCell::new(State {
                evaluator: Evaluator::new(plan),
                left: evaluations,
                best: None,
            }),
        }
    }

    /// Looks for the best; what it finds is in [`Problem::found`].
    pub fn solve(&self) {
        for start in self.starts(SPREAD_SHARE, DESCENTS) {
            self.descend(&start, WIDE);
        }
        self.try_again();
        while self.round() {
            self.try_again();
        }
    }

    /// How many coordinates there are.
    #[must_use]
    pub fn dimensions(&self) -> usize {
        self.ranges.iter().filter(|range| range.width > 0.0).count()
    }

    /// What is fitted in each slot.
    #[must_use]
    pub fn fitted(&self) -> &[(Slot, Option<&'p Network>)] {
        &self.fitted
    }

    /// The values at some coordinates, those outside moved to the nearest end, and interchangeable parts in ascending order.
    #[must_use]
    pub fn values(&self, coordinates: &[f64]) -> Vec<Vec<f64>> {
        let mut coordinates = coordinates.iter();
        self.slot_by_slot(self.ranges.iter().zip(self.space.parts()).map(|(range, part)| {
            let ends = part.values.first().zip(part.values.last());
            let share = if range.width > 0.0 { coordinates.next().copied() } else { None };
            // The ends themselves, not what is left of them after a logarithm and back.
            match (share, ends) {
                (Some(share), Some((low, high))) if share < 1.0 => (range.low + share.max(0.0) * range.width).exp().clamp(*low, *high),
                (Some(_), Some((_, high))) => *high,
                (None, Some((low, _))) => *low,
                (_, None) => 0.0,
            }
        }))
    }

    fn coordinates(&self, values: &[Vec<f64>]) -> Vec<f64> {
        let both = self.ranges.iter().zip(values.iter().flatten());
        let varied = both.filter(|(range, _)| range.width > 0.0);
        varied
            .map(|(range, value)| ((value.ln() - range.low) / range.width).clamp(0.0, 1.0))
            .collect()
    }

    /// The margin of a candidate in dB; `None` if it is silent, breaks a guard or no evaluation is left.
    pub fn margin_of(&self, values: Vec<Vec<f64>>) -> Option<f64> {
        let mut state = self.state.borrow_mut();
        state.left = state.left.checked_sub(1)?;
        let margin = state.evaluator.kept(&self.fitted, &values)?.margin;
        if state.best.as_ref().is_none_or(|(_, best)| margin > best.margin) {
            state.best = Some((self.coordinates(&values), Found { values, margin }));
        }
        Some(margin)
    }

    /// How many evaluations are left.
    #[must_use]
    pub fn left(&self) -> usize {
        self.state.borrow().left
    }

    /// The best of all candidates evaluated so far.
    #[must_use]
    pub fn found(&self) -> Option<Found> {
        self.state.borrow().best.as_ref().map(|(_, found)| found.clone())
    }

    /// The coordinates of the best found, and its margin in dB.
    #[must_use]
    pub fn best_place(&self) -> Option<(Vec<f64>, f64)> {
        self.state
            .borrow()
            .best
            .as_ref()
            .map(|(place, found)| (place.clone(), found.margin))
    }

    /// Spends a share of the evaluations on points spread over the space; the best `count` places known that lie apart, best first.
    #[must_use]
    pub fn starts(&self, share: f64, count: usize) -> Vec<Vec<f64>> {
        let mut places: Vec<(f64, Vec<f64>)> = self.best_place().map(|(place, margin)| (margin, place)).into_iter().collect();
        let spread = (share * self.left() as f64) as usize;
        for place in spread_points(self.dimensions()).take(spread) {
            if let Some(margin) = self.margin_of(self.values(&place)) {
                places.push((margin, place));
            }
        }
        places.sort_by(|one, other| other.0.total_cmp(&one.0));
        let mut starts: Vec<Vec<f64>> = Vec::new();
        for (_, place) in places {
            if starts.len() < count && starts.iter().all(|start| distance(start, &place) > APART) {
                starts.push(place);
            }
        }
        starts
    }

    /// Descends from a place with a simplex of the given edge; what it finds is in [`Problem::found`].
    pub fn descend(&self, start: &[f64], edge: f64) {
        let dimensions = self.dimensions();
        if dimensions == 0 || self.left() <= dimensions {
            return;
        }
        let mut simplex = vec![start.to_vec()];
        for axis in 0..dimensions {
            let mut corner = start.to_vec();
            if let Some(share) = corner.get_mut(axis) {
                *share += if *share > 0.5 { -edge } else { edge };
            }
            simplex.push(corner);
        }
        let Ok(solver) = NelderMead::new(simplex).with_sd_tolerance(SETTLED) else {
            return;
        };
        // The end of the evaluations ends the run with an error; the best found is already known.
        let _ended = Executor::new(Cost(self), solver).timer(false).run();
    }

    /// Descends from the best found, with a small simplex, for as long as that gains.
    fn try_again(&self) {
        while let Some((place, margin)) = self.best_place() {
            self.descend(&place, NARROW);
            let gained = self.best_place().is_some_and(|(_, better)| better > margin + WORTH_ANOTHER);
            if !gained || self.left() == 0 {
                return;
            }
        }
    }

    /// Tries the buildable values next to the best found, each part's below and above, whatever is left; whether one of them is better.
    fn round(&self) -> bool {
        let Some(found) = self.found() else { return false };
        let around: Vec<[f64; 2]> = self.space.parts().zip(found.values.iter().flatten()).map(neighbours).collect();
        for corner in 0..1_usize << around.len().min(MOST_ROUNDED) {
            let pick = |(part, [below, above]): (usize, &[f64; 2])| if corner >> part & 1 == 0 { *below } else { *above };
            self.grant();
            self.margin_of(self.slot_by_slot(around.iter().enumerate().map(pick)));
        }
        self.found().is_some_and(|better| better.margin > found.margin)
    }

    fn grant(&self) {
        self.state.borrow_mut().left += 1;
    }

    /// Values in slot and written order, slot by slot, interchangeable parts in ascending order.
    fn slot_by_slot(&self, mut flat: impl Iterator<Item = f64>) -> Vec<Vec<f64>> {
        let slots = self.space.slots.iter();
        slots
            .map(|slot| ordered(&slot.parts, flat.by_ref().take(slot.parts.len()).collect()))
            .collect()
    }
}

/// The margin with its sign turned, for a solver that seeks the smallest.
struct Cost<'a, 'p>(&'a Problem<'p>);

impl CostFunction for Cost<'_, '_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, place: &Vec<f64>) -> Result<f64, Error> {
        if self.0.left() == 0 {
            return Err(Error::msg("no evaluation is left"));
        }
        // Outside the ranges the margin is that of the nearest end; the way back must lead downhill.
        let outside: f64 = place.iter().map(|share| (share - share.clamp(0.0, 1.0)).abs()).sum();
        Ok(outside - self.0.margin_of(self.0.values(place)).unwrap_or(-SILENT))
    }
}

/// The listed values at or next to a value: the largest not above it and the smallest not below it.
fn neighbours((part, value): (&PartSpace, &f64)) -> [f64; 2] {
    let above = part.values.partition_point(|listed| listed < value);
    let below = part.values.partition_point(|listed| listed <= value).saturating_sub(1);
    [below, above].map(|index| part.values.get(index).or(part.values.last()).copied().unwrap_or(*value))
}

/// Values of a slot's parts with interchangeable ones in ascending order.
fn ordered(parts: &[PartSpace], mut values: Vec<f64>) -> Vec<f64> {
    for start in 0..values.len() {
        let mut own = start;
        while let Some(before) = parts.get(own).and_then(|part| part.not_below).filter(|before| *before < own) {
            if values.get(before) <= values.get(own) {
                break;
            }
            values.swap(before, own);
            own = before;
        }
    }
    values
}

fn distance(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(one, other)| (one - other).abs()).fold(0.0, f64::max)
}

/// Points that fill the unit cube evenly, however many are taken: multiples of the powers of 1/φ modulo 1, where φ is the positive
/// root of φ^(n + 1) = φ + 1, n being the number of dimensions (a generalised golden ratio).
fn spread_points(dimensions: usize) -> impl Iterator<Item = Vec<f64>> {
    let mut ratio = 1.5_f64;
    for _ in 0..60 {
        ratio = (1.0 + ratio).powf(1.0 / (dimensions as f64 + 1.0));
    }
    (1_u32..).map(move |step| {
        (1..=dimensions)
            .map(|axis| (0.5 + f64::from(step) * ratio.powf(-(axis as f64))).fract())
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_points_leave_no_large_gap() {
        // In one dimension the ratio is the golden one: N points leave no gap above φ²/N (V. T. Sós's three-gap theorem).
        let mut places: Vec<f64> = spread_points(1).take(100).flatten().collect();
        places.sort_by(f64::total_cmp);
        let largest = places.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
        assert!(largest < 0.0262, "{largest}");
        let quarters = |point: &[f64]| point.iter().fold(0, |cell, share| cell * 4 + (share * 4.0) as usize);
        let cells: std::collections::BTreeSet<usize> = spread_points(3).take(256).map(|point| quarters(&point)).collect();
        assert_eq!(cells.len(), 64, "every cell of 4 × 4 × 4 is visited");
    }
}
