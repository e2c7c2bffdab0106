//! Whether the target is met as measured: by what the measurement differs from the prediction, smoothed.

use super::session::{levels, mean, untilted};
use super::{Judged, Request, silent};
use crate::circuit::Setting;
use crate::curve::Curve;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::identify::sweep::Sweep;
use crate::kernel::measure::{decibels, power, worst_point};
use crate::kernel::plan::{Plan, Point};
use crate::kernel::response::powers;
use crate::target::Target;

/// The octaves over which a difference is smoothed before a target is judged.
const THIRD: f64 = 1.0 / 3.0;
/// Standard deviations of such a mean that the worst of some dozens may be off.
const NOISE_REACH: f64 = 2.5;
/// Points of a sweep that stand for the response in a target.
const JUDGED: usize = 5000;

/// What is measured against the prediction at one knob position: means over a third of an octave, which noise hardly moves, and how many
/// readings most of these have.
struct Smoothed {
    at: Setting,
    differences: Option<Curve>,
    readings: usize,
}

impl Smoothed {
    fn new(request: &Request, guitar: &Guitar, at: Setting, sweep: &Sweep) -> Self {
        let points = levels(sweep, JUDGED);
        let frequencies: Vec<f64> = points.iter().map(|point| point[0]).collect();
        let predicted = powers(guitar, at, &frequencies).into_iter().map(decibels);
        let off: Vec<f64> = points
            .iter()
            .zip(predicted)
            .map(|(point, predicted)| untilted(*point, request.slope) - predicted)
            .collect();
        let near = |frequency: f64| {
            let [from, to] = [-THIRD / 2.0, THIRD / 2.0].map(|octaves| frequency * octaves.exp2());
            frequencies.partition_point(|other| *other < from)..frequencies.partition_point(|other| *other <= to)
        };
        let smooth = |frequency: &f64| [*frequency, mean(off.get(near(*frequency)).unwrap_or_default().iter().copied())];
        Self {
            at,
            differences: Curve::new(frequencies.iter().map(smooth).collect()),
            readings: median(frequencies.iter().map(|frequency| near(*frequency).len()).collect()),
        }
    }
}

fn median(mut counts: Vec<usize>) -> usize {
    counts.sort_unstable();
    counts.get(counts.len() / 2).copied().unwrap_or(1)
}

/// Judges the guitar as measured; `offset` is the level taken off all sweeps, `noise` the standard deviation of a reading, both in dB.
pub(super) fn judge(request: &Request, guitar: &Guitar, target: &Target, offset: f64, noise: f64) -> Result<Judged> {
    let mut present = request.present.clone();
    present.cases.clear();
    let plan = Plan::new(guitar, &present, target, &[]).map_err(|_| {
        Error::new(
            ErrorKind::Conflict,
            "at a knob position of the target the guitar makes no sound, so it cannot be judged there",
        )
    })?;
    let predicted: Vec<f64> = plan.points.iter().map(|point| point.reduction.transfer(&[]).norm_sqr()).collect();
    let smoothed: Vec<Smoothed> = request
        .measured
        .iter()
        .map(|(at, sweep)| Smoothed::new(request, guitar, *at, sweep))
        .collect();
    let near = |one: f64, other: f64| (one - other).abs() < 1e-9;
    let measured = |(point, predicted): (&Point, &f64)| {
        let frequency = plan.frequencies.get(point.frequency)?;
        let same = |at: &Setting| near(at.volume, point.setting.volume) && (guitar.tone.is_none() || near(at.tone, point.setting.tone));
        let found = smoothed.iter().find(|found| same(&found.at))?;
        let difference = found.differences.as_ref()?.at_logarithmic(*frequency)?;
        Some(predicted * power(difference - offset)).filter(|power| power.is_finite())
    };
    let found: Vec<Option<f64>> = plan.points.iter().zip(&predicted).map(measured).collect();
    let measured_points = found.iter().flatten().count();
    if measured_points == 0 {
        let message = "none of the target's knob positions and frequencies was measured";
        return Err(Error::new(ErrorKind::Conflict, message)
            .help("sweep at the positions the target names: one --measured a position, with --volume and --tone listing them"));
    }
    let powers: Vec<f64> = found
        .iter()
        .zip(&predicted)
        .map(|(found, predicted)| found.unwrap_or(*predicted))
        .collect();
    let (worst, as_predicted) = worst_point(&plan, &powers).zip(worst_point(&plan, &predicted)).ok_or_else(silent)?;
    let fewest = smoothed.iter().map(|found| found.readings).min().unwrap_or(1).max(1);
    let noise_db = NOISE_REACH * noise / (fewest as f64).sqrt();
    Ok(Judged {
        target: target.clone(),
        margin_db: worst.margin,
        noise_db,
        meets_target: worst.margin >= -noise_db,
        predicted_margin_db: as_predicted.margin,
        points: plan.points.len(),
        measured_points,
        worst_clause: worst.clause,
        worst_hz: worst.frequency,
    })
}
