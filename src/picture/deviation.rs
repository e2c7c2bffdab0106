//! What a clause measures and compares with, at frequencies of one's own instead of the target's grid (`kernel::plan` and
//! `kernel::measure` are the definition; a test holds both equal).

use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::measure::{decibels, mean};
use crate::kernel::response::powers;
use crate::target::{Against, Clause, Measure, Over};

/// A clause at one knob position of one build: in dB, at each frequency asked about, or one figure for the band's mean.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Figures {
    /// A of the build there; 0 for a clause that measures level.
    pub anchor: f64,
    /// The measure.
    pub measured: Vec<f64>,
    /// What it is compared with.
    pub reference: Vec<f64>,
}

impl Figures {
    /// d in dB.
    pub(super) fn differences(&self) -> impl Iterator<Item = f64> {
        self.measured
            .iter()
            .zip(&self.reference)
            .map(|(measured, reference)| measured - reference)
    }
}

/// `None` where something is silent.
pub(super) fn figures(clause: &Clause, build: &Guitar, present: &Guitar, setting: Setting, at: &[f64]) -> Option<Figures> {
    let own = levelled(clause, at, |frequencies| powers(build, setting, frequencies))?;
    let reference = match &clause.against {
        Against::Full => levelled(clause, at, |frequencies| powers(build, Setting::FULL, frequencies)),
        Against::Present => levelled(clause, at, |frequencies| powers(present, setting, frequencies)),
        Against::Flat => levelled(clause, at, |frequencies| vec![1.0; frequencies.len()]),
        Against::Curve(wanted) => levelled(clause, at, |frequencies| {
            let power = |frequency: &f64| 10_f64.powf(wanted.curve.at_logarithmic(*frequency).unwrap_or(0.0) / 10.0);
            frequencies.iter().map(power).collect()
        }),
    };
    Some(Figures {
        anchor: own.0,
        measured: own.1,
        reference: reference?.1,
    })
}

/// A and the measure.
fn levelled(clause: &Clause, at: &[f64], powers: impl Fn(&[f64]) -> Vec<f64>) -> Option<(f64, Vec<f64>)> {
    let anchor = match (clause.measure, clause.anchor) {
        (Measure::Shape, Some(anchor)) => decibels(mean(&powers(&frequencies(anchor.low(), anchor.high(), POINTS_PER_OCTAVE)))),
        _ => 0.0,
    };
    let band = || powers(&frequencies(clause.band.low(), clause.band.high(), POINTS_PER_OCTAVE));
    let figures: Vec<f64> = match clause.over {
        Over::Every => powers(at).into_iter().map(|power| decibels(power) - anchor).collect(),
        Over::Mean => vec![decibels(mean(&band())) - anchor],
    };
    let finite = anchor.is_finite() && figures.iter().all(|figure| figure.is_finite());
    finite.then_some((anchor, figures))
}
