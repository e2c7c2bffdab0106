//! When two builds sound the same: our own working rule for the shape of the response, published for its resonance.
//!
//! At every knob setting their shapes are less than 0.5 dB apart at every third-octave frequency (IEC 61260-1, base ten) from 80 Hz
//! to 6.3 kHz (our own rule, not published), and their resonances, where both have one, are less than 0.079/√Q of the peak frequency
//! apart (J. P. Gagné and P. M. Zurek, "Resonance-frequency discrimination", J. Acoust. Soc. Am. 83(6), 1988, authors and volume from memory; measured for
//! 300–2000 Hz and Q from 1 to 36, so that its use higher up is extrapolation).

use std::sync::OnceLock;

use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::kernel::features::{Resonance, Response};

/// Shapes this far apart, in dB, sound different: our own working rule.
pub const SHAPE_STEP: f64 = 0.5;
/// The share of the peak frequency, times √Q, by which two resonances must differ to be told apart.
const RESONANCE_STEP: f64 = 0.079;
/// Stands in for a Q that cannot be measured because a side falls too little: the lowest that listeners were tested with, which
/// gives less room than the lower Q such a peak has.
const LEAST_Q: f64 = 1.0;

/// The third-octave frequencies from 80 Hz to 6.3 kHz, in Hz: 1000·10^(k/10) (IEC 61260-1, base ten).
pub fn third_octaves() -> impl Iterator<Item = f64> {
    (-11..=8).map(|k| 1000.0 * 10_f64.powf(f64::from(k) / 10.0))
}

/// Whether two builds sound the same at every one of the settings, in each of their cases. The peak frequency and the Q that the resonances are held against
/// are those of `first`.
#[must_use]
pub fn sounds_same(first: &Guitar, second: &Guitar, settings: &[Setting]) -> bool {
    Sound::new(&first.in_cases(), settings).is_like(&Sound::new(&second.in_cases(), settings))
}

/// What a build sounds like at some settings; resonances are looked for only when they are asked about.
pub(crate) struct Sound {
    settings: Vec<SettingSound>,
}

struct SettingSound {
    /// `None` where the guitar is silent.
    response: Option<Response>,
    /// The shape at each third-octave frequency, in dB; empty where the guitar is silent.
    shape: Vec<f64>,
    resonance: OnceLock<Option<Resonance>>,
}

impl Sound {
    /// A build in each of its cases.
    pub(crate) fn new(cases: &[Guitar], settings: &[Setting]) -> Self {
        let in_case = |guitar| settings.iter().map(move |setting| SettingSound::new(guitar, *setting));
        Self {
            settings: cases.iter().flat_map(in_case).collect(),
        }
    }

    /// Whether the other sounds like this one, heard at the same settings.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        let pairs = || self.settings.iter().zip(&other.settings);
        pairs().all(|(own, other)| own.has_shape_of(other)) && pairs().all(|(own, other)| own.resonates_like(other))
    }
}

impl SettingSound {
    fn new(guitar: &Guitar, setting: Setting) -> Self {
        let response = Response::new(guitar, setting);
        Self {
            shape: response
                .iter()
                .flat_map(|response| third_octaves().map(|frequency| response.shape(frequency)))
                .collect(),
            response,
            resonance: OnceLock::new(),
        }
    }

    fn has_shape_of(&self, other: &Self) -> bool {
        let mut pairs = self.shape.iter().zip(&other.shape);
        self.shape.len() == other.shape.len() && pairs.all(|(own, other)| (own - other).abs() < SHAPE_STEP)
    }

    fn resonates_like(&self, other: &Self) -> bool {
        // |V/E|² is a ratio of polynomials of low degree: equal at twenty frequencies, equal everywhere.
        if self.shape == other.shape {
            return true;
        }
        match (self.resonance(), other.resonance()) {
            (Some(own), Some(other)) => {
                let step = RESONANCE_STEP / own.q.unwrap_or(LEAST_Q).sqrt();
                (own.frequency_hz - other.frequency_hz).abs() < step * own.frequency_hz
            }
            _ => true,
        }
    }

    fn resonance(&self) -> Option<Resonance> {
        *self.resonance.get_or_init(|| self.response.as_ref().and_then(Response::resonance))
    }
}
