//! The figures of a comparison: each build at each position, and every two of them.

use serde::Serialize;

use super::{Compared, Lineup};
use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::kernel::features::{Features, Resonance, Response};
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::measure::{decibels, mean};
use crate::kernel::response::powers;
use crate::kernel::same::{Sound, third_octaves};

/// The band whose mean level is told, in Hz: that of a plain response unless told.
pub const WHOLE_BAND: [f64; 2] = [80.0, 8000.0];

/// What a build sounds like at one knob position. Every figure but the positions is none where the guitar is silent.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AtPosition {
    /// The case's name; none for a guitar without cases.
    pub case: Option<String>,
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// Mean power level over 80 Hz–8 kHz, in dB.
    pub level_db: Option<f64>,
    /// The resonance, where there is one.
    pub resonance: Option<Peak>,
    /// The upper −3 dB point in Hz; none up to 50 kHz.
    pub upper_minus_3_db_hz: Option<f64>,
    /// Highs kept against full, in dB.
    pub highs_kept_db: Option<f64>,
    /// Bump in the lows, in dB.
    pub bump_db: Option<f64>,
}

/// A resonance (see [`crate::kernel::features::Resonance`]).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Where it is, in Hz.
    pub frequency_hz: f64,
    /// How far above the mean level of 100–400 Hz, in dB.
    pub height_db: f64,
    /// Q; none where a side falls too little.
    pub q: Option<f64>,
}

impl From<Resonance> for Peak {
    fn from(resonance: Resonance) -> Self {
        Self {
            frequency_hz: resonance.frequency_hz,
            height_db: resonance.height_db,
            q: resonance.q,
        }
    }
}

/// Two builds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// Name of the one.
    pub first: String,
    /// Name of the other.
    pub second: String,
    /// Whether nobody could tell them apart at these positions (see [`crate::kernel::same`]).
    pub sounds_same: bool,
    /// Where their levels over the whole band differ most; none where one is silent at every position.
    pub level: Option<Apart>,
    /// Where their shapes differ most, at third-octave frequencies; none likewise.
    pub shape: Option<Apart>,
}

/// A difference between two builds, the second's figure less the first's.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Apart {
    /// The case's name; none for a guitar without cases.
    pub case: Option<String>,
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// Frequency in Hz; none for a level over the whole band.
    pub frequency_hz: Option<f64>,
    /// The difference in dB.
    pub difference_db: f64,
}

/// A guitar in each of its cases (outer) at each setting (inner).
pub(super) fn at_positions(guitar: &Guitar, settings: &[Setting]) -> Vec<AtPosition> {
    let cases = guitar.in_cases();
    let names = (0..cases.len()).map(|index| guitar.cases.get(index).map(|case| case.name.clone()));
    let in_case = |(circumstance, case): (&Guitar, Option<String>)| -> Vec<AtPosition> {
        settings.iter().map(|setting| at(circumstance, case.clone(), *setting)).collect()
    };
    cases.iter().zip(names).flat_map(in_case).collect()
}

fn at(guitar: &Guitar, case: Option<String>, setting: Setting) -> AtPosition {
    let features = Features::of(guitar, setting);
    let [low, high] = WHOLE_BAND;
    let level = decibels(mean(powers(guitar, setting, &frequencies(low, high, POINTS_PER_OCTAVE))));
    AtPosition {
        case,
        at: setting,
        level_db: level.is_finite().then_some(level),
        resonance: features.and_then(|features| features.resonance).map(Peak::from),
        upper_minus_3_db_hz: features.and_then(|features| features.upper_minus_3_db_hz),
        highs_kept_db: features.map(|features| features.highs_kept_db),
        bump_db: features.map(|features| features.bump_db),
    }
}

pub(super) fn pairs(lineup: &Lineup, compared: &[Compared]) -> Vec<Pair> {
    let cases: Vec<Vec<Guitar>> = lineup.builds.iter().map(|(_, guitar)| guitar.in_cases()).collect();
    let sounds: Vec<Sound> = cases.iter().map(|cases| Sound::new(cases, &lineup.heard_at)).collect();
    let shapes: Vec<Vec<Vec<f64>>> = cases.iter().map(|cases| shapes(cases, &lineup.settings)).collect();
    let all: Vec<_> = compared.iter().zip(&sounds).zip(&shapes).collect();
    let mut pairs = Vec::new();
    for (index, ((first, sound), shape)) in all.iter().enumerate() {
        for ((second, other_sound), other_shape) in all.iter().skip(index + 1) {
            pairs.push(Pair {
                first: first.name.clone(),
                second: second.name.clone(),
                sounds_same: sound.is_like(other_sound),
                level: furthest(
                    first
                        .positions
                        .iter()
                        .zip(&second.positions)
                        .filter_map(|(one, other)| Some(apart(one, None, other.level_db? - one.level_db?))),
                ),
                shape: furthest(shape_differences(first, shape, other_shape)),
            });
        }
    }
    pairs
}

/// The shape at each third-octave frequency in each case (outer) at each setting (inner), in dB; empty where the guitar is silent.
fn shapes(cases: &[Guitar], settings: &[Setting]) -> Vec<Vec<f64>> {
    let shape = |guitar: &Guitar, setting: &Setting| {
        let response = Response::new(guitar, *setting);
        let of = |response: &Response| third_octaves().map(|frequency| response.shape(frequency)).collect();
        response.as_ref().map(of).unwrap_or_default()
    };
    cases
        .iter()
        .flat_map(|guitar| settings.iter().map(move |setting| shape(guitar, setting)))
        .collect()
}

fn shape_differences<'c>(first: &'c Compared, one: &'c [Vec<f64>], other: &'c [Vec<f64>]) -> impl Iterator<Item = Apart> + 'c {
    let positions = first.positions.iter().zip(one.iter().zip(other));
    positions.flat_map(|(position, (one, other))| {
        let points = third_octaves().zip(one.iter().zip(other));
        points.map(move |(frequency, (one, other))| apart(position, Some(frequency), other - one))
    })
}

fn apart(position: &AtPosition, frequency_hz: Option<f64>, difference_db: f64) -> Apart {
    Apart {
        case: position.case.clone(),
        at: position.at,
        frequency_hz,
        difference_db,
    }
}

/// The largest in size, the first among equals.
fn furthest(differences: impl Iterator<Item = Apart>) -> Option<Apart> {
    differences.reduce(|far, next| {
        if next.difference_db.abs() > far.difference_db.abs() {
            next
        } else {
            far
        }
    })
}
