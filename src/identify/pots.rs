//! A few readings of an ohmmeter along a potentiometer's travel → its resistance and its taper.

use serde::Serialize;

use crate::curve::Curve;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::taper::Taper;
use crate::units::Fraction;

/// A law that misses a reading by less than this is near enough, in dB of the level it gives.
const NEAR: f64 = 1.0;
/// A pot whose readings are all this near a straight line, as a share of the track, is linear: an ohmmeter and a knob tell no more.
const STRAIGHT: f64 = 0.01;
/// What a wiper fraction is held to before its logarithm is taken.
const LEAST: f64 = 1e-4;

/// A law held against the readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Law {
    /// As it is written in a guitar file: `audio 15 %`.
    pub taper: String,
    /// The largest miss in dB of the unloaded level, over the readings between the ends.
    pub worst_db: f64,
    /// Where that is, 0 to 10 as on the knob.
    pub worst_at: f64,
}

/// A potentiometer; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pot {
    /// Resistance of the whole track in Ω.
    pub resistance: f64,
    /// Knob position 0 to 10, resistance in Ω and share of the track at each reading.
    pub readings: Vec<[f64; 3]>,
    /// What is left at position 0, in Ω; none when it was not read.
    pub residual: Option<f64>,
    /// The nearest laws, nearest first.
    pub laws: Vec<Law>,
    /// Whether the nearest misses by less than 1 dB everywhere.
    pub law_will_do: bool,
    /// Share of the track at half rotation, straight between readings.
    pub mid: f64,
    /// Rotation and fraction for a table, from 0,0 to 1,1.
    pub table: Vec<[f64; 2]>,
}

/// Finds resistance and taper from positions (0 to 10, rising) and resistances in Ω (never falling).
///
/// # Errors
/// Without a reading at 10, with none between the ends, or with nothing but zeros.
pub fn pot(points: &[[f64; 2]]) -> Result<Pot> {
    let total = points.last().filter(|point| point[0] == 10.0).map(|point| point[1]);
    let Some(resistance) = total.filter(|total| *total > 0.0) else {
        return Err(
            Error::new(ErrorKind::Missing, "the reading at 10 is missing: it is the whole track").help("for example 0=0,5=31k,10=243k"),
        );
    };
    if !(1e3..=10e6).contains(&resistance) {
        return Err(
            Error::new(ErrorKind::Range, format!("a track of {resistance} Ω is outside 1 kΩ to 10 MΩ")).help("is a prefix missing?"),
        );
    }
    let inner: Vec<[f64; 2]> = points
        .iter()
        .filter(|point| point[0] > 0.0 && point[0] < 10.0)
        .map(|point| [point[0] / 10.0, point[1] / resistance])
        .collect();
    if inner.is_empty() {
        return Err(Error::new(ErrorKind::Missing, "a taper needs a reading between 0 and 10").help("the one at 5 tells most"));
    }
    let mut table = vec![[0.0, 0.0]];
    table.extend(&inner);
    table.push([1.0, 1.0]);
    let curve = Curve::new(table.clone());
    let laws = laws(&inner);
    Ok(Pot {
        resistance,
        readings: points.iter().map(|point| [point[0], point[1], point[1] / resistance]).collect(),
        residual: points.first().filter(|point| point[0] == 0.0).map(|point| point[1]),
        law_will_do: laws
            .first()
            .is_some_and(|law| law.worst_db < NEAR || law.is_linear() && is_straight(&inner)),
        laws,
        mid: curve.and_then(|curve| curve.at(0.5)).unwrap_or(0.5),
        table,
    })
}

impl Law {
    fn is_linear(&self) -> bool {
        self.taper == Taper::Linear.to_string()
    }
}

fn is_straight(inner: &[[f64; 2]]) -> bool {
    inner.iter().all(|[rotation, fraction]| (rotation - fraction).abs() <= STRAIGHT)
}

fn laws(inner: &[[f64; 2]]) -> Vec<Law> {
    // Fractions at half rotation in tenths of a per cent, as far as a guitar file takes them.
    type Family = fn(Fraction) -> Taper;
    let families: [(Family, u16); 3] = [(Taper::Audio, 490), (Taper::ReverseAudio, 490), (Taper::TwoSlope, 990)];
    let mut laws = vec![law(&Taper::Linear, inner)];
    for (family, highest) in families {
        let tapers = (10..=highest).filter_map(|tenths| Fraction::new(f64::from(tenths) / 1e3).map(family));
        let found = tapers.map(|taper| law(&taper, inner));
        laws.extend(found.min_by(|one, other| one.worst_db.total_cmp(&other.worst_db)));
    }
    laws.sort_by(|one, other| one.worst_db.total_cmp(&other.worst_db));
    if let Some(linear) = laws.iter().position(Law::is_linear).filter(|_| is_straight(inner)) {
        laws.get_mut(..=linear).unwrap_or_default().rotate_right(1);
    }
    laws
}

fn law(taper: &Taper, inner: &[[f64; 2]]) -> Law {
    let decibels = |fraction: f64| 20.0 * fraction.max(LEAST).log10();
    let miss = |point: &[f64; 2]| (decibels(taper.wiper(point[0])) - decibels(point[1])).abs();
    let worst = inner
        .iter()
        .map(|point| (miss(point), point[0]))
        .max_by(|one, other| one.0.total_cmp(&other.0));
    let (worst_db, worst_at) = worst.unwrap_or((0.0, 0.0));
    Law {
        taper: taper.to_string(),
        worst_db,
        worst_at: 10.0 * worst_at,
    }
}
