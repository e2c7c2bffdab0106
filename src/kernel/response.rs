//! The plain response of one guitar at given knob settings and frequencies.

use num_complex::Complex64;
use serde::{Serialize, Serializer};

use crate::circuit::Setting;
use crate::circuit::ports::Polynomials;
use crate::guitar::Guitar;
use crate::kernel::measure::mean;

/// One point of a response.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ResponsePoint {
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// L = 20·log₁₀|V/E| in dB; `None` where the output is silent.
    pub level_db: Option<f64>,
    /// arg(V/E) in degrees, above −180 up to 180; `None` where the output is silent.
    pub phase_deg: Option<f64>,
}

/// One point of a response in one of the guitar's cases.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CasePoint<'g> {
    /// The case's name; `None`, and no key, for a guitar without cases.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub case: Option<&'g str>,
    /// The point.
    #[serde(flatten)]
    pub point: ResponsePoint,
}

/// A guitar's response in every case (outermost), at every position of the volume, then of the tone, and at every frequency (innermost). It
/// is what is asked for, not what comes out: each point is computed when it is its turn, and none is kept. As a sequence of those points it
/// serializes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response<'r> {
    /// The guitar.
    pub guitar: &'r Guitar,
    /// Rotations of the volume.
    pub volumes: &'r [f64],
    /// Rotations of the tone.
    pub tones: &'r [f64],
    /// Frequencies in Hz.
    pub frequencies: &'r [f64],
}

impl Response<'_> {
    /// How many points there are.
    #[must_use]
    pub fn count(&self) -> u64 {
        [
            self.volumes.len(),
            self.tones.len(),
            self.frequencies.len(),
            self.guitar.cases.len().max(1),
        ]
        .into_iter()
        .fold(1, |product, length| product.saturating_mul(length as u64))
    }

    /// Every knob setting.
    pub fn settings(&self) -> impl Iterator<Item = Setting> {
        let at = |volume: f64| self.tones.iter().map(move |tone| Setting { volume, tone: *tone });
        self.volumes.iter().flat_map(move |volume| at(*volume))
    }

    /// The points one after the other.
    pub fn points(&self) -> impl Iterator<Item = CasePoint<'_>> {
        let names = self.guitar.cases.iter().map(|case| Some(case.name.as_str()));
        let cases = self.guitar.in_cases().into_iter().zip(names.chain(std::iter::repeat(None)));
        cases.flat_map(move |(circumstance, case)| {
            self.settings()
                .flat_map(move |setting| at_setting(&circumstance, setting, self.frequencies))
                .map(move |point| CasePoint { case, point })
        })
    }
}

impl Serialize for Response<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.points())
    }
}

/// The response at every setting (outer) and frequency in Hz (inner).
#[must_use]
pub fn response(guitar: &Guitar, settings: &[Setting], frequencies: &[f64]) -> Vec<ResponsePoint> {
    settings
        .iter()
        .flat_map(|setting| at_setting(guitar, *setting, frequencies))
        .collect()
}

fn at_setting<'f>(guitar: &Guitar, setting: Setting, frequencies: &'f [f64]) -> impl Iterator<Item = ResponsePoint> + use<'f> {
    let circuit = Polynomials::new(guitar, setting, &[]);
    frequencies.iter().map(move |&frequency_hz| {
        let transfer = circuit.transfer(frequency_hz).unwrap_or_default();
        let audible = transfer != Complex64::ZERO;
        ResponsePoint {
            at: setting,
            frequency_hz,
            level_db: audible.then(|| 20.0 * transfer.norm().log10()),
            phase_deg: audible.then(|| transfer.arg().to_degrees()),
        }
    })
}

/// |V/E|² at each frequency in Hz.
#[must_use]
pub fn powers(guitar: &Guitar, setting: Setting, frequencies: &[f64]) -> Vec<f64> {
    let circuit = Polynomials::new(guitar, setting, &[]);
    frequencies.iter().map(|frequency| circuit.power(*frequency)).collect()
}

/// The mean of |V/E|² over frequencies in Hz.
#[must_use]
pub fn mean_power(guitar: &Guitar, setting: Setting, frequencies: &[f64]) -> f64 {
    mean(powers(guitar, setting, frequencies))
}
