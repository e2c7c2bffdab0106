//! Power → level, shape, clause difference, margin, worst point, root mean square. This is the definition every faster path must equal.

use crate::circuit::Setting;
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::guards::Guard;
use crate::kernel::plan::{Measured, Plan, PlannedClause, Reference};
use crate::target::{self, Against, Band, Clause, Over};

/// 10·log₁₀ of a power.
#[must_use]
pub fn decibels(power: f64) -> f64 {
    10.0 * power.log10()
}

/// The power of a level in dB.
#[must_use]
pub fn power(decibels: f64) -> f64 {
    10.0_f64.powf(decibels / 10.0)
}

/// The smaller of two; no number where one of them is none, which `f64::min` would pass over.
pub(crate) fn smaller(one: f64, other: f64) -> f64 {
    if one.is_nan() || one < other { one } else { other }
}

/// As [`smaller`].
pub(crate) fn larger(one: f64, other: f64) -> f64 {
    if one.is_nan() || one > other { one } else { other }
}

/// Mean of powers over a grid.
#[must_use]
pub fn mean(powers: impl IntoIterator<IntoIter: ExactSizeIterator<Item = f64>>) -> f64 {
    let powers = powers.into_iter();
    let count = powers.len() as f64;
    powers.sum::<f64>() / count
}

/// One point at which a clause bounds a difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundedPoint {
    /// Index of the clause.
    pub clause: usize,
    /// Index of the guitar's case; 0 where it has none.
    pub case: usize,
    /// Where the knobs stand.
    pub setting: Setting,
    /// Frequency in Hz; `None` where the clause bounds a whole band.
    pub frequency: Option<f64>,
    /// d in dB.
    pub difference: f64,
    /// How many dB are left before a bound breaks.
    pub margin: f64,
}

/// Calls `visit` for each bounded point in the order clause, case, volume, tone, frequency. `powers` holds |V/E|² for each of the plan's points.
///
/// Returns `false`, having visited only some of them, if a needed power is zero: a silent build has no margin.
pub fn visit_points(plan: &Plan, powers: &[f64], mut visit: impl FnMut(BoundedPoint)) -> bool {
    let mut scratch = Scratch::default();
    for (index, clause) in plan.clauses.iter().enumerate() {
        for combination in &clause.combinations {
            if !scratch.differences(clause.over, powers, &combination.measured, &combination.reference) {
                return false;
            }
            for (position, difference) in scratch.differences.iter().enumerate() {
                let point = combination.measured.band[position];
                visit(BoundedPoint {
                    clause: index,
                    case: combination.case,
                    setting: combination.setting,
                    frequency: (clause.over == Over::Every).then(|| plan.frequencies[plan.points[point].frequency]),
                    difference: *difference,
                    margin: clause.margin(*difference),
                });
            }
        }
    }
    true
}

/// The point with the smallest margin, the first among equals; its margin is the build's. `None` if the build is silent at a point.
#[must_use]
pub fn worst_point(plan: &Plan, powers: &[f64]) -> Option<BoundedPoint> {
    let mut worst: Option<BoundedPoint> = None;
    let audible = visit_points(plan, powers, |point| {
        if worst.is_none_or(|worst| point.margin < worst.margin) {
            worst = Some(point);
        }
    });
    worst.filter(|worst| audible && worst.margin.is_finite())
}

/// Root mean square of d over every bounded point, in dB.
#[must_use]
pub fn root_mean_square(plan: &Plan, powers: &[f64]) -> Option<f64> {
    let (mut sum, mut count) = (0.0, 0.0);
    let audible = visit_points(plan, powers, |point| {
        sum += point.difference * point.difference;
        count += 1.0;
    });
    (audible && count > 0.0).then(|| (sum / count).sqrt())
}

/// The smallest margin of the guards, in dB: how much is left before a build spoils what nobody asked to change. Infinite where the plan has
/// none, −∞ for a build that is silent where the present guitar is not.
#[must_use]
pub fn rest(plan: &Plan, powers: &[f64]) -> f64 {
    let margins = plan
        .guards
        .iter()
        .map(|guard| guard_difference(guard, powers).map_or(f64::NEG_INFINITY, |difference| guard.clause.margin(difference)));
    margins.fold(f64::INFINITY, smaller)
}

/// By how much a build differs from the present guitar in what a guard watches, in dB; `None` where it is silent.
#[must_use]
pub fn guard_difference(guard: &Guard, powers: &[f64]) -> Option<f64> {
    let mut scratch = Scratch::default();
    let combination = guard.clause.combinations.first()?;
    let audible = scratch.differences(guard.clause.over, powers, &combination.measured, &combination.reference);
    scratch.differences.first().copied().filter(|_| audible)
}

impl PlannedClause {
    /// min(at_most − d, d − at_least) in dB; no number where d is none.
    #[must_use]
    pub fn margin(&self, difference: f64) -> f64 {
        let above = self.at_most.map_or(f64::INFINITY, |at_most| at_most - difference);
        let below = self.at_least.map_or(f64::INFINITY, |at_least| difference - at_least);
        smaller(above, below)
    }
}

#[derive(Default)]
struct Scratch {
    differences: Vec<f64>,
    reference: Vec<f64>,
}

impl Scratch {
    /// d at each frequency of the band, or one d for the whole band; `false` if the build is silent.
    fn differences(&mut self, over: Over, powers: &[f64], measured: &Measured, reference: &Reference) -> bool {
        let mut audible = measure(over, powers, measured, &mut self.differences);
        let reference: &[f64] = match reference {
            Reference::Known(figures) => figures,
            Reference::Build(elsewhere) => {
                audible &= measure(over, powers, elsewhere, &mut self.reference);
                &self.reference
            }
        };
        for (difference, reference) in self.differences.iter_mut().zip(reference) {
            *difference -= reference;
        }
        audible
    }
}

/// The level or shape at each frequency of a band, or of the whole band, in dB; `false` if a power is zero.
pub fn measure(over: Over, powers: &[f64], measured: &Measured, figures: &mut Vec<f64>) -> bool {
    let [band, anchor] = [&measured.band, &measured.anchor].map(|indices| indices.iter().map(|index| powers[*index]));
    levelled(over, band, anchor, figures).is_finite()
        && measured.band.iter().chain(&measured.anchor).all(|index| powers[*index] > 0.0)
        && figures.iter().all(|figure| figure.is_finite())
}

/// Fills `figures` with the measure of some powers in dB, and gives the level of the anchor's mean: 0 without an anchor.
fn levelled(
    over: Over,
    band: impl ExactSizeIterator<Item = f64>,
    anchor: impl ExactSizeIterator<Item = f64>,
    figures: &mut Vec<f64>,
) -> f64 {
    let level = if anchor.len() == 0 { 0.0 } else { decibels(mean(anchor)) };
    figures.clear();
    match over {
        Over::Every => figures.extend(band.map(|power| decibels(power) - level)),
        Over::Mean => figures.push(decibels(mean(band)) - level),
        Over::Average => figures.push(mean(band.map(decibels)) - level),
    }
    level
}

/// What a clause measures, and at which frequencies.
#[derive(Debug, Clone, PartialEq)]
pub struct Measure<'c> {
    against: &'c Against,
    over: Over,
    /// The frequencies of the band in Hz.
    pub band: Vec<f64>,
    /// Those of the anchor; none for a level.
    pub anchor: Vec<f64>,
}

/// The measure of something, in dB.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Figures {
    /// A; 0 for a clause that measures level.
    pub anchor: f64,
    /// One figure a frequency of the band, or one for the whole band.
    pub levels: Vec<f64>,
}

impl<'c> Measure<'c> {
    /// A clause on the target's grid, in a case of the guitar.
    #[must_use]
    pub fn new(clause: &'c Clause, case: usize) -> Self {
        let (band, anchor) = clause.bands_in(case);
        let grid = |band: Band| frequencies(band.low(), band.high(), POINTS_PER_OCTAVE);
        Self {
            against: &clause.against,
            over: clause.over,
            band: grid(band),
            anchor: match clause.measure {
                target::Measure::Shape => anchor.map(grid).unwrap_or_default(),
                target::Measure::Level => Vec::new(),
            },
        }
    }

    /// A clause at other frequencies of its band, in Hz. The anchor stays, and so does a band bounded as a whole.
    #[must_use]
    pub fn at(clause: &'c Clause, frequencies: &[f64]) -> Self {
        let mut measure = Self::new(clause, 0);
        if clause.over == Over::Every {
            measure.band = frequencies.to_vec();
        }
        measure
    }

    /// The measure of what has such powers at frequencies in Hz.
    pub fn of(&self, powers: impl Fn(&[f64]) -> Vec<f64>) -> Figures {
        let mut figures = Figures::default();
        let [band, anchor] = [&self.band, &self.anchor].map(|grid| powers(grid).into_iter());
        figures.anchor = levelled(self.over, band, anchor, &mut figures.levels);
        figures
    }

    /// The measure of what the clause compares with, given the powers of the present guitar; `None` if that is the build itself, at full.
    pub fn of_reference(&self, present: impl Fn(&[f64]) -> Vec<f64>) -> Option<Figures> {
        match self.against {
            Against::Full => None,
            Against::Present => Some(self.of(present)),
            Against::Flat => Some(self.of(|at| vec![1.0; at.len()])),
            Against::Curve(wanted) => {
                let level = |frequency: &f64| wanted.curve.at_logarithmic(*frequency).unwrap_or(0.0);
                Some(self.of(|at| at.iter().map(|frequency| power(level(frequency))).collect()))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_stays_so() {
        let both = [f64::NAN, 1.0, f64::INFINITY].map(|other| [[f64::NAN, other], [other, f64::NAN]]);
        for [one, other] in both.into_iter().flatten() {
            assert!(smaller(one, other).is_nan() && larger(one, other).is_nan(), "{one}, {other}");
        }
        assert_eq!((smaller(1.0, 2.0), larger(1.0, f64::INFINITY)), (1.0, f64::INFINITY));
        let clause = PlannedClause {
            at_least: None,
            at_most: Some(3.0),
            over: Over::Every,
            combinations: Vec::new(),
        };
        assert!(clause.margin(f64::NAN).is_nan());
    }
}
