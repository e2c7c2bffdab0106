//! The plain response of one guitar at given knob settings and frequencies.

use num_complex::Complex64;
use serde::Serialize;

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
pub struct CasePoint {
    /// The case's name; `None`, and no key, for a guitar without cases.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub case: Option<String>,
    /// The point.
    #[serde(flatten)]
    pub point: ResponsePoint,
}

/// The response in every case (outermost), at every setting and frequency in Hz (innermost).
#[must_use]
pub fn response_in_cases(guitar: &Guitar, settings: &[Setting], frequencies: &[f64]) -> Vec<CasePoint> {
    let mut points = Vec::new();
    for (index, circumstance) in guitar.in_cases().iter().enumerate() {
        let case = guitar.cases.get(index).map(|case| case.name.clone());
        points.extend(
            response(circumstance, settings, frequencies)
                .into_iter()
                .map(|point| CasePoint { case: case.clone(), point }),
        );
    }
    points
}

/// The response at every setting (outer) and frequency in Hz (inner).
#[must_use]
pub fn response(guitar: &Guitar, settings: &[Setting], frequencies: &[f64]) -> Vec<ResponsePoint> {
    settings
        .iter()
        .flat_map(|setting| {
            let circuit = Polynomials::new(guitar, *setting, &[]);
            frequencies.iter().map(move |&frequency_hz| {
                let transfer = circuit.transfer(frequency_hz).unwrap_or_default();
                let audible = transfer != Complex64::ZERO;
                ResponsePoint {
                    at: *setting,
                    frequency_hz,
                    level_db: audible.then(|| 20.0 * transfer.norm().log10()),
                    phase_deg: audible.then(|| transfer.arg().to_degrees()),
                }
            })
        })
        .collect()
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
