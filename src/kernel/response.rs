//! The plain response of one guitar at given knob settings and frequencies.

use num_complex::Complex64;
use serde::{Serialize, Serializer};

use crate::circuit::Setting;
use crate::circuit::ports::Polynomials;
use crate::guitar::knob::{Knob, Names};
use crate::guitar::{Case, Guitar, Position};
use crate::kernel::measure::mean;
use crate::units::knob;

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
    /// The position of the selector, in a guitar of several pickups; such a point has no case beside it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position: Option<&'g str>,
    /// Where every knob of a guitar of several pickups stands, in the order of its names; `None`, and no key, for one of one pickup.
    #[serde(skip_serializing_if = "Option::is_none", serialize_with = "by_name")]
    pub knobs: Option<Vec<(&'g str, f64)>>,
    /// The point.
    #[serde(flatten)]
    pub point: ResponsePoint,
}

fn by_name<S: Serializer>(knobs: &Option<Vec<(&str, f64)>>, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(knobs.iter().flatten().map(|(name, rotation)| (name, knob::number(*rotation))))
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
        let own = self.guitar.cases.iter().map(Some).chain(std::iter::repeat(None));
        let cases = self.guitar.in_cases().into_iter().zip(own);
        cases.flat_map(move |(circumstance, case)| {
            let points = self
                .settings()
                .flat_map(move |setting| at_setting(&circumstance, setting, self.frequencies));
            let (of_position, of_case) = (
                case.filter(|case| case.position.is_some()),
                case.filter(|case| case.position.is_none()),
            );
            points.map(move |point| CasePoint {
                case: of_case.map(|case| case.name.as_str()),
                position: of_position.map(name_of),
                knobs: self.names().map(|names| knobs(names, case, point.at)),
                point,
            })
        })
    }

    /// What the knobs and positions of a guitar of several pickups are called.
    #[must_use]
    pub fn names(&self) -> Option<&Names> {
        self.guitar.names()
    }
}

/// The name of a position without the knobs that are turned in it, which have columns of their own.
fn name_of(case: &Case) -> &str {
    let turned = case.position.as_deref().map(Position::turned_in_words).unwrap_or_default();
    case.name.strip_suffix(turned.as_str()).unwrap_or(&case.name)
}

/// Where every knob stands.
fn knobs<'n>(names: &'n Names, case: Option<&Case>, at: Setting) -> Vec<(&'n str, f64)> {
    let turned = case
        .and_then(|case| case.position.as_deref())
        .map(|position| position.turned.as_slice());
    let rotation = |knob: &Knob| match &knob.name {
        name if Some(name) == names.volume.as_ref() => at.volume,
        name if Some(name) == names.tone.as_ref() => at.tone,
        name => {
            let turned = turned.iter().flat_map(|turned| turned.iter()).find(|(other, _)| other == name);
            turned.map_or(knob.rest(), |(_, rotation)| *rotation)
        }
    };
    names.knobs.iter().map(|knob| (knob.name.as_str(), rotation(knob))).collect()
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
