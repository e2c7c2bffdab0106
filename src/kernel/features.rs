//! The words a player uses, as numbers: resonance, upper −3 dB point, highs kept, bump. They tell what a build sounds like; no
//! target is measured by them.

use crate::circuit::Setting;
use crate::circuit::ports::Polynomials;
use crate::guitar::Guitar;
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::measure::{decibels, mean};
use crate::target::Target;

/// The band whose mean level the others are told against, in Hz.
const ANCHOR: [f64; 2] = [100.0, 400.0];
/// Where a resonance is looked for, in Hz.
const RESONANCE_BAND: [f64; 2] = [200.0, 20e3];
/// How finely, before the peak is refined.
const RESONANCE_POINTS_PER_OCTAVE: u32 = 48;
/// How far a resonance stands at least above the anchor and above both neighbouring minima, in dB.
const LEAST_HEIGHT: f64 = 0.5;
/// Half the power, as the level falls, in dB.
const HALF_POWER: f64 = 3.01;
/// How far out a side that falls is followed, in Hz.
const SIDES_END: [f64; 2] = [20.0, 50e3];
/// Without a resonance the upper −3 dB point is looked for from here, in Hz.
const UPPER_START: f64 = 200.0;
/// The highs, in Hz.
const HIGHS: [f64; 2] = [1500.0, 6000.0];
/// Where a bump may be, in Hz, and the band whose mean it stands above.
const BUMP_BAND: [f64; 2] = [80.0, 1500.0];
const BUMP_ANCHOR: [f64; 2] = [80.0, 120.0];

/// A peak of the response.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resonance {
    /// Where it is, in Hz.
    pub frequency_hz: f64,
    /// How far above the mean level of 100–400 Hz, in dB.
    pub height_db: f64,
    /// f₀/(f₂ − f₁) where the level is 3.01 dB below the peak; none if a side never falls that far between 20 Hz and 50 kHz.
    pub q: Option<f64>,
}

/// What a guitar sounds like at one knob setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Features {
    /// The resonance, if there is one that counts.
    pub resonance: Option<Resonance>,
    /// The first frequency above the resonance (or above 200 Hz) that is 3.01 dB below the mean level of 100–400 Hz, in Hz; none up
    /// to 50 kHz.
    pub upper_minus_3_db_hz: Option<f64>,
    /// The mean level over 1500–6000 Hz above that over 100–400 Hz, less the same with both knobs at full, in dB.
    pub highs_kept_db: f64,
    /// The highest level over 80–1500 Hz above the mean level of 80–120 Hz, in dB.
    pub bump_db: f64,
}

impl Features {
    /// The features at one knob setting; `None` where the guitar is silent there or at full.
    #[must_use]
    pub fn of(guitar: &Guitar, setting: Setting) -> Option<Self> {
        let response = Response::new(guitar, setting)?;
        let full = Response::new(guitar, Setting::FULL)?;
        let highs = |response: &Response| response.mean_level(HIGHS) - response.anchor;
        let resonance = response.resonance();
        let bump_anchor = response.mean_level(BUMP_ANCHOR);
        let bump = grid(BUMP_BAND).into_iter().map(|frequency| response.level(frequency));
        Some(Self {
            upper_minus_3_db_hz: response.upper_minus_3_db(resonance.as_ref()),
            resonance,
            highs_kept_db: highs(&response) - highs(&full),
            bump_db: bump.fold(f64::NEG_INFINITY, f64::max) - bump_anchor,
        })
    }
}

/// Where a guitar's own sound ends: its upper −3 dB point with everything at full, in Hz; `None` where the level never falls so far up to
/// 50 kHz, or the guitar is silent.
#[must_use]
pub fn own_end(guitar: &Guitar) -> Option<f64> {
    let response = Response::new(guitar, Setting::FULL)?;
    response.upper_minus_3_db(response.resonance().as_ref())
}

/// A target for a guitar: bands known by their words end where its own sound ends, in each of its cases where it ends there.
#[must_use]
pub fn at_own_ends(target: Target, guitar: &Guitar) -> Target {
    let names = guitar.cases.iter().map(|case| case.name.clone());
    let cases: Vec<(String, Option<f64>)> = names.zip(guitar.in_cases().iter().map(own_end)).collect();
    target.at_own_ends(own_end(guitar), &cases)
}

/// A guitar at one knob setting where it sounds, levelled by the mean over 100–400 Hz.
pub(crate) struct Response {
    circuit: Polynomials,
    /// A in dB.
    anchor: f64,
}

impl Response {
    /// `None` where the guitar is silent.
    pub(crate) fn new(guitar: &Guitar, setting: Setting) -> Option<Self> {
        let mut response = Self {
            circuit: Polynomials::new(guitar, setting, &[]),
            anchor: 0.0,
        };
        // Silence is a property of the knobs: one band tells.
        response.anchor = response.mean_level(ANCHOR);
        response.anchor.is_finite().then_some(response)
    }

    fn power(&self, frequency: f64) -> f64 {
        self.circuit.power(frequency)
    }

    fn level(&self, frequency: f64) -> f64 {
        decibels(self.power(frequency))
    }

    fn mean_level(&self, band: [f64; 2]) -> f64 {
        let powers: Vec<f64> = grid(band).into_iter().map(|frequency| self.power(frequency)).collect();
        decibels(mean(powers))
    }

    /// L − A in dB.
    pub(crate) fn shape(&self, frequency: f64) -> f64 {
        self.level(frequency) - self.anchor
    }

    /// The highest interior local maximum of the level between 200 Hz and 20 kHz, if it stands out. The minimum below it may lie further down:
    /// a closed tone control has its hump at 400 to 900 Hz.
    pub(crate) fn resonance(&self) -> Option<Resonance> {
        let grid = frequencies(SIDES_END[0], RESONANCE_BAND[1], RESONANCE_POINTS_PER_OCTAVE);
        let levels: Vec<f64> = grid.iter().map(|frequency| self.level(*frequency)).collect();
        let first = grid.partition_point(|frequency| *frequency < RESONANCE_BAND[0]);
        let (top, minima) = highest_maximum(&levels, first)?;
        let (frequency_hz, peak) = self.refined(*grid.get(top - 1)?, *grid.get(top + 1)?);
        let height_db = peak - self.anchor;
        let stands_out = height_db >= LEAST_HEIGHT && minima.iter().all(|minimum| peak - minimum >= LEAST_HEIGHT);
        stands_out.then(|| Resonance {
            frequency_hz,
            height_db,
            q: self.quality(frequency_hz, peak),
        })
    }

    fn upper_minus_3_db(&self, resonance: Option<&Resonance>) -> Option<f64> {
        let start = resonance.map_or(UPPER_START, |resonance| resonance.frequency_hz);
        self.falls_to(self.anchor - HALF_POWER, start, SIDES_END[1])
    }

    fn quality(&self, frequency: f64, peak: f64) -> Option<f64> {
        let [low, high] = SIDES_END.map(|end| self.falls_to(peak - HALF_POWER, frequency, end));
        Some(frequency / (high? - low?))
    }

    /// Frequency and level of the maximum between two frequencies: golden-section search over log f.
    fn refined(&self, low: f64, high: f64) -> (f64, f64) {
        let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
        let (mut low, mut high) = (low.ln(), high.ln());
        let of = |logarithm: f64| self.level(logarithm.exp());
        let (mut left, mut right) = (high - golden * (high - low), low + golden * (high - low));
        let (mut at_left, mut at_right) = (of(left), of(right));
        while high - low > 1e-8 {
            if at_left < at_right {
                (low, left, at_left) = (left, right, at_right);
                right = low + golden * (high - low);
                at_right = of(right);
            } else {
                (high, right, at_right) = (right, left, at_left);
                left = high - golden * (high - low);
                at_left = of(left);
            }
        }
        let middle = f64::midpoint(low, high);
        (middle.exp(), of(middle))
    }

    /// The first frequency from `start` towards `end` where the level is `wanted` or less.
    fn falls_to(&self, wanted: f64, start: f64, end: f64) -> Option<f64> {
        let step = f64::from(RESONANCE_POINTS_PER_OCTAVE).recip() * if end > start { 1.0 } else { -1.0 };
        let (mut above, mut octaves) = (start, 0.0);
        if self.level(start) <= wanted {
            return Some(start);
        }
        loop {
            octaves += step;
            let next = start * f64::exp2(octaves);
            if (next - end) * step > 0.0 {
                return None;
            }
            if self.level(next) <= wanted {
                return Some(self.crossing(wanted, above, next));
            }
            above = next;
        }
    }

    /// Where the level crosses `wanted`, being above it at one frequency and not at the other: bisection over log f.
    fn crossing(&self, wanted: f64, mut above: f64, mut below: f64) -> f64 {
        for _ in 0..40 {
            let middle = (above * below).sqrt();
            if self.level(middle) > wanted {
                above = middle;
            } else {
                below = middle;
            }
        }
        below
    }
}

fn grid([low, high]: [f64; 2]) -> Vec<f64> {
    frequencies(low, high, POINTS_PER_OCTAVE)
}

/// The index of the highest interior local maximum from a first one on, and the levels of the minima on both sides of it.
fn highest_maximum(levels: &[f64], first: usize) -> Option<(usize, [f64; 2])> {
    let is_maximum = |window: &[f64]| matches!(window, [before, own, after] if own > before && own >= after);
    let maxima = levels.windows(3).enumerate();
    let maxima = maxima.filter(|(before, window)| *before + 1 >= first && is_maximum(window));
    let (before, _) = maxima.max_by(|(_, one), (_, other)| one[1].total_cmp(&other[1]))?;
    let top = before + 1;
    let descent = |side: &mut dyn Iterator<Item = &f64>| {
        let mut lowest = f64::INFINITY;
        for level in side {
            if *level > lowest {
                break;
            }
            lowest = *level;
        }
        lowest
    };
    let (left, right) = levels.split_at(top);
    Some((top, [descent(&mut left.iter().rev()), descent(&mut right.iter().skip(1))]))
}
