//! What a clause measures and compares with at one knob position, at frequencies of one's own instead of the target's grid.

use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::kernel::grid::frequencies;
use crate::kernel::measure::{Figures, Measure};
use crate::kernel::response::powers;
use crate::target::{Against, Clause, Over};

/// A clause, as the case shown has it, at one knob position of one build.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Deviation {
    /// The build there.
    pub build: Figures,
    /// What it is compared with.
    pub reference: Figures,
}

impl Deviation {
    /// `None` where something is silent.
    pub(super) fn of(clause: &Clause, build: &Guitar, present: &Guitar, setting: Setting, at: &[f64]) -> Option<Self> {
        let measure = Measure::at(clause, at);
        let of = |guitar: &Guitar, setting| measure.of(|frequencies| powers(guitar, setting, frequencies));
        let reference = measure.of_reference(|frequencies| powers(present, setting, frequencies));
        let deviation = Self {
            build: of(build, setting),
            reference: reference.unwrap_or_else(|| of(build, Setting::FULL)),
        };
        let sounds = |figures: &Figures| figures.levels.iter().all(|level| level.is_finite());
        (sounds(&deviation.build) && sounds(&deviation.reference)).then_some(deviation)
    }

    /// d in dB.
    pub(super) fn differences(&self) -> impl Iterator<Item = f64> {
        let pairs = self.build.levels.iter().zip(&self.reference.levels);
        pairs.map(|(build, reference)| build - reference)
    }
}

/// Whether a clause bounds anything at a knob position that it does not bound by what it compares with.
pub(super) fn concerns(clause: &Clause, setting: Setting) -> bool {
    let trivial = clause.against == Against::Full && setting == Setting::FULL;
    !trivial && clause.settings().any(|own| own == setting)
}

/// Where a clause is drawn, in Hz: so many points an octave over its band, or its ends for a mean.
pub(super) fn grid(clause: &Clause, fineness: u32) -> Vec<f64> {
    match clause.over {
        Over::Every => frequencies(clause.band.low(), clause.band.high(), fineness),
        Over::Mean | Over::Average => vec![clause.band.low(), clause.band.high()],
    }
}
