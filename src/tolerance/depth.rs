//! One build in depth: its yield, how its margin is spread, which value costs most, what to measure or buy tighter, the worst corner.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Built, Draws, Lot, Spread, Yield, margins, with_factors};
use crate::circuit::Setting;
use crate::error::Result;
use crate::guitar::{Case, Guitar, Slot};
use crate::kernel::measure::{BoundedPoint, worst_point};
use crate::kernel::placed::counting;
use crate::kernel::plan::{Plan, Silent};
use crate::kernel::response::{ResponsePoint, response};
use crate::target::Target;

/// The shares of built guitars whose margin is told.
const PERCENTILES: [f64; 7] = [1.0, 5.0, 25.0, 50.0, 75.0, 95.0, 99.0];
/// Bars of the histogram.
const BARS: usize = 16;
/// With more values than this, not every corner is gone through.
const MOST_VALUES: usize = 12;
/// A gain below this share is within the noise of the draws.
const LEAST_GAIN: f64 = 0.005;
/// Windows that are tried to either side of the mark, and the fewest builds that say something of one.
const WINDOWS: i32 = 20;
const FEWEST_IN_A_WINDOW: usize = 100;
/// How many pieces of advice are given.
const MOST_ADVICE: usize = 3;
/// Frequencies at which the worst corner is shown, in Hz.
const SHOWN: [f64; 8] = [100.0, 200.0, 500.0, 1000.0, 2000.0, 3000.0, 4000.0, 6000.0];

/// One build in depth; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Depth {
    /// The guitar's name.
    pub guitar: String,
    /// The what-if cases over which each margin is the smallest; none is the guitar as it is.
    pub cases: Vec<Case>,
    /// The target.
    pub target: Target,
    /// What is fitted, slot by slot.
    pub fitted: BTreeMap<Slot, String>,
    /// The margin in dB with every value on its mark.
    pub margin_db: f64,
    /// Whether it is not below 0.
    pub meets_target: bool,
    /// How many built guitars meet the target.
    #[serde(rename = "yield")]
    pub built: Yield,
    /// How the margin is spread.
    pub margins: Distribution,
    /// Every value that varies, the costliest first.
    pub values: Vec<Culprit>,
    /// What to measure or buy tighter, the most helpful first.
    pub advice: Vec<Advice>,
    /// The worst that was found inside the tolerances.
    pub worst: Corner,
}

impl Depth {
    /// What its cases are called: positions of the selector, or cases.
    #[must_use]
    pub fn case_word(&self) -> &'static str {
        Case::word(&self.cases)
    }
}

/// How margins are spread.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Distribution {
    /// The mean in dB.
    pub mean_db: f64,
    /// The margin in dB that so many percent of the built guitars stay below.
    pub percentiles: Vec<(f64, f64)>,
    /// Where the first bar begins, in dB.
    pub from_db: f64,
    /// How wide each bar is, in dB.
    pub bar_db: f64,
    /// How many built guitars each bar holds.
    pub counts: Vec<u64>,
}

/// A value and what its spread costs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Culprit {
    /// `volume pot`, `bleed.C` …
    pub value: String,
    /// The nominal value, in the SI unit.
    pub nominal: f64,
    /// Ω, F or H.
    pub unit: &'static str,
    /// By how much it can be off, as a share of one.
    pub tolerance: f64,
    /// The yield's share if this one value were exact.
    pub share_if_exact: f64,
    /// The share of all misses that this removes; below zero where it adds some; none without misses.
    pub misses_removed: Option<f64>,
}

/// A value to measure or to buy tighter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Advice {
    /// `volume pot`, `bleed.C` …
    pub value: String,
    /// Ω, F or H.
    pub unit: &'static str,
    /// The tighter tolerance, as a share of the nominal value, about the middle of the values to accept.
    pub tolerance: f64,
    /// The smallest value to accept.
    pub low: f64,
    /// The largest value to accept; the mark need not lie between them.
    pub high: f64,
    /// The yield's share then.
    pub share: f64,
}

/// The worst that was found inside the tolerances.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corner {
    /// The margin in dB; none where the build makes no sound there.
    pub margin_db: Option<f64>,
    /// Every value there, as a multiple of its nominal one.
    pub factors: Vec<(String, f64)>,
    /// Where the knobs stand at the worst point.
    #[serde(flatten)]
    pub at: Setting,
    /// Frequency of the worst point in Hz; none where a band's mean is bounded.
    pub frequency_hz: Option<f64>,
    /// Index of the clause that is worst.
    pub clause: usize,
    /// The difference there, in dB.
    pub difference_db: f64,
    /// The response there and on the mark, at the knob positions of the target.
    pub response: Vec<Compared>,
}

/// One point of the response, on the mark and at the worst corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// In Hz.
    pub frequency_hz: f64,
    /// Level in dB on the mark; none when silent.
    pub nominal_db: Option<f64>,
    /// Level in dB at the worst corner; none when silent.
    pub worst_db: Option<f64>,
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The guitar as it is to be built.
    pub build: &'a Guitar,
    /// The guitar that the target calls present.
    pub present: &'a Guitar,
    /// The target.
    pub target: &'a Target,
    /// What is drawn.
    pub lot: &'a Lot,
}

/// Looks into one build; `None` where it makes no sound at a knob position of the target, or where nothing is drawn.
///
/// # Errors
/// The first knob combination of the target at which the present guitar is silent.
pub fn depth(asked: &Asked<'_>, spreads: Vec<Spread>) -> Result<Option<Depth>, Silent> {
    let Some(nominal) = worst_of(asked, asked.build, asked.present)? else {
        return Ok(None);
    };
    let built = Built::new(asked.build, asked.present, asked.target, spreads)?;
    let drawn = margins(&built, asked.lot.draws, 0, asked.lot.builds);
    let Some(rate) = rate(&drawn) else { return Ok(None) };
    let worst = worst_corner(asked, &built, &drawn)?;
    Ok(Some(Depth {
        guitar: asked.build.name.clone(),
        cases: counting(asked.target, &asked.build.cases),
        target: asked.target.clone(),
        fitted: Slot::ALL
            .into_iter()
            .filter_map(|slot| Some((slot, asked.build.fitted(slot)?.to_string())))
            .collect(),
        margin_db: nominal.margin,
        meets_target: nominal.margin >= 0.0,
        built: rate,
        margins: distribution(&drawn),
        values: culprits(&built, asked.lot, rate),
        advice: advice(&built, asked.lot, &drawn, rate),
        worst,
    }))
}

fn rate(margins: &[f64]) -> Option<Yield> {
    let meeting = margins.iter().filter(|margin| **margin >= 0.0).count();
    Yield::of(meeting as u64, margins.len() as u64)
}

fn worst_of(asked: &Asked<'_>, build: &Guitar, present: &Guitar) -> Result<Option<BoundedPoint>, Silent> {
    let plan = Plan::new(build, present, asked.target, &[])?;
    let powers: Vec<f64> = plan.points.iter().map(|point| point.reduction.transfer(&[]).norm_sqr()).collect();
    Ok(worst_point(&plan, &powers))
}

fn distribution(margins: &[f64]) -> Distribution {
    let mut sorted = margins.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len() - 1;
    let at = |percent: f64| sorted[((percent / 100.0 * last as f64).round() as usize).min(last)];
    let (from_db, to) = (sorted[0], sorted[last]);
    let bar_db = ((to - from_db) / BARS as f64).max(f64::MIN_POSITIVE);
    let mut counts = vec![0; BARS];
    for margin in margins {
        counts[(((margin - from_db) / bar_db) as usize).min(BARS - 1)] += 1;
    }
    Distribution {
        mean_db: margins.iter().sum::<f64>() / margins.len() as f64,
        percentiles: PERCENTILES.map(|percent| (percent, at(percent))).to_vec(),
        from_db,
        bar_db,
        counts,
    }
}

/// The yield's share with one value's tolerance changed; every other value is drawn as before.
fn share_with(built: &Built, lot: &Lot, index: usize, tolerance: f64) -> f64 {
    share_within(built, lot, index, 1.0, tolerance)
}

/// The same with one value inside a tolerance about another factor than 1.
fn share_within(built: &Built, lot: &Lot, index: usize, middle: f64, tolerance: f64) -> f64 {
    let mut changed = built.clone();
    (changed.spreads[index].middle, changed.spreads[index].tolerance) = (middle, tolerance);
    rate(&margins(&changed, lot.draws, 0, lot.builds)).map_or(0.0, |rate| rate.share)
}

fn culprits(built: &Built, lot: &Lot, rate: Yield) -> Vec<Culprit> {
    let misses = 1.0 - rate.share;
    let culprit = |(index, spread): (usize, &Spread)| {
        let share_if_exact = share_with(built, lot, index, 0.0);
        Culprit {
            value: spread.name.clone(),
            nominal: spread.value,
            unit: spread.unit,
            tolerance: spread.tolerance,
            share_if_exact,
            misses_removed: (misses > 0.0).then(|| (share_if_exact - rate.share) / misses),
        }
    };
    let mut culprits: Vec<Culprit> = built.spreads.iter().enumerate().map(culprit).collect();
    culprits.sort_by(|one, other| other.share_if_exact.total_cmp(&one.share_if_exact));
    culprits
}

/// How tight a value can be had (common practice, no source): resistors 1 %, capacitors 2 % when measured, pots and cables 5 %, tapers a tenth
/// and pickup values 1 % when measured and picked.
fn tighter(spread: &Spread) -> f64 {
    use crate::circuit::Origin;
    match (spread.origin, spread.unit) {
        (Origin::VolumeTrack | Origin::ToneTrack | Origin::HeldTrack(_) | Origin::Cable, _) => 0.05,
        (Origin::VolumeTaper | Origin::ToneTaper | Origin::HeldTaper(_), _) => 0.1,
        (Origin::Part(..), "F") => 0.02,
        _ => 0.01,
    }
}

fn advice(built: &Built, lot: &Lot, drawn: &[f64], rate: Yield) -> Vec<Advice> {
    let one = |(index, spread): (usize, &Spread)| {
        let tolerance = tighter(spread);
        if tolerance >= spread.tolerance {
            return None;
        }
        let on_the_mark = (share_with(built, lot, index, tolerance), 1.0);
        let elsewhere = best_middle(lot.draws, spread, drawn, tolerance);
        let elsewhere = elsewhere.map(|middle| (share_within(built, lot, index, middle, tolerance), middle));
        // Another window than the one about the mark only where it is of use.
        let (share, middle) = elsewhere
            .filter(|(share, _)| *share >= on_the_mark.0 + LEAST_GAIN)
            .unwrap_or(on_the_mark);
        Some(Advice {
            value: spread.name.clone(),
            unit: spread.unit,
            tolerance,
            low: spread.value * (middle - tolerance),
            high: spread.value * (middle + tolerance),
            share,
        })
    };
    let mut advice: Vec<Advice> = built.spreads.iter().enumerate().filter_map(one).collect();
    advice.retain(|advice| advice.share >= rate.share + LEAST_GAIN);
    advice.sort_by(|one, other| other.share.total_cmp(&one.share));
    advice.truncate(MOST_ADVICE);
    advice
}

/// About which factor a window of so much to either side holds the largest share of builds that meet the target, by those drawn already.
fn best_middle(draws: Draws, spread: &Spread, drawn: &[f64], tolerance: f64) -> Option<f64> {
    let mut factors = vec![1.0; drawn.len()];
    draws.fill(spread, 0, &mut factors);
    let mut builds: Vec<(f64, bool)> = factors.into_iter().zip(drawn.iter().map(|margin| *margin >= 0.0)).collect();
    builds.sort_by(|one, other| one.0.total_cmp(&other.0));
    // How many of the first so many meet it.
    let mut meeting = vec![0_usize];
    meeting.extend(builds.iter().scan(0, |count, (_, meets)| {
        *count += usize::from(*meets);
        Some(*count)
    }));
    let reach = spread.tolerance - tolerance;
    let share = |step: i32| {
        let middle = 1.0 + reach * f64::from(step) / f64::from(WINDOWS);
        let [from, to] = [-tolerance, tolerance].map(|end| builds.partition_point(|(factor, _)| *factor < middle + end));
        let count = to - from;
        (count >= FEWEST_IN_A_WINDOW).then(|| ((meeting[to] - meeting[from]) as f64 / count as f64, middle))
    };
    let windows = (-WINDOWS..=WINDOWS).filter_map(share);
    windows.max_by(|one, other| one.0.total_cmp(&other.0)).map(|(_, middle)| middle)
}

/// The worst of all corners (with many values: of those around the worst guitar drawn), and of what is found by moving the worst guitar
/// drawn, value by value, to an end as long as that makes it worse. A margin need not be worst at a corner, so that both are needed; what
/// is found is never better than the worst guitar drawn.
fn worst_corner(asked: &Asked<'_>, built: &Built, drawn: &[f64]) -> Result<Corner, Silent> {
    let ends = |spread: &Spread| [1.0 - spread.tolerance, 1.0, 1.0 + spread.tolerance];
    let (number, mut margin) = drawn
        .iter()
        .copied()
        .enumerate()
        .min_by(|one, other| one.1.total_cmp(&other.1))
        .unwrap_or((0, f64::INFINITY));
    let mut factors = drawn_factors(built, asked.lot.draws, number as u64);
    if built.spreads.len() <= MOST_VALUES {
        let corner = |bits: usize| -> Vec<f64> {
            let end = |(index, spread): (usize, &Spread)| ends(spread)[2 * (bits >> index & 1)];
            built.spreads.iter().enumerate().map(end).collect()
        };
        let corners: Vec<Vec<f64>> = (0..1_usize << built.spreads.len()).map(corner).collect();
        let margins = built.margins_at(&corners);
        let worst = margins.iter().copied().zip(&corners).min_by(|one, other| one.0.total_cmp(&other.0));
        if let Some((found, corner)) = worst.filter(|(found, _)| *found < margin) {
            (margin, factors) = (found, corner.clone());
        }
    }
    loop {
        let mut rows: Vec<Vec<f64>> = Vec::new();
        for (index, spread) in built.spreads.iter().enumerate() {
            for end in ends(spread).into_iter().filter(|end| *end != factors[index]) {
                let mut row = factors.clone();
                row[index] = end;
                rows.push(row);
            }
        }
        let margins = built.margins_at(&rows);
        let worst = margins.into_iter().zip(rows).min_by(|one, other| one.0.total_cmp(&other.0));
        match worst.filter(|(found, _)| *found < margin) {
            Some((found, row)) => (margin, factors) = (found, row),
            None => break,
        }
    }
    corner(asked, built, &factors)
}

fn drawn_factors(built: &Built, draws: Draws, number: u64) -> Vec<f64> {
    let factor = |spread: &Spread| {
        let mut factor = [1.0];
        draws.fill(spread, number, &mut factor);
        factor[0]
    };
    built.spreads.iter().map(factor).collect()
}

fn corner(asked: &Asked<'_>, built: &Built, factors: &[f64]) -> Result<Corner, Silent> {
    let build = with_factors(asked.build, &built.spreads, factors);
    // What only the present guitar has is not among the spreads of the build.
    let (shared, own): (Vec<Spread>, Vec<f64>) = built
        .spreads
        .iter()
        .zip(factors)
        .filter(|(spread, _)| spread.origin.is_shared(asked.build, asked.present))
        .map(|(spread, factor)| (spread.clone(), *factor))
        .unzip();
    let present = with_factors(asked.present, &shared, &own);
    let worst = worst_of(asked, &build, &present)?;
    let settings = asked.target.shown_settings(worst.map(|worst| worst.setting));
    let (nominal, off) = (response(asked.build, &settings, &SHOWN), response(&build, &settings, &SHOWN));
    let compared = |(nominal, worst): (&ResponsePoint, &ResponsePoint)| Compared {
        at: nominal.at,
        frequency_hz: nominal.frequency_hz,
        nominal_db: nominal.level_db,
        worst_db: worst.level_db,
    };
    Ok(Corner {
        margin_db: worst.map(|worst| worst.margin),
        factors: built
            .spreads
            .iter()
            .zip(factors)
            .map(|(spread, factor)| (spread.name.clone(), *factor))
            .collect(),
        at: worst.map_or(Setting::FULL, |worst| worst.setting),
        frequency_hz: worst.and_then(|worst| worst.frequency),
        clause: worst.map_or(0, |worst| worst.clause),
        difference_db: worst.map_or(0.0, |worst| worst.difference),
        response: nominal.iter().zip(&off).map(compared).collect(),
    })
}
