//! The sweeps of one sitting, levelled together, and guitars drawn within tolerance beside them.

use super::{Compared, Stretch, Swept, silent};
use crate::circuit::Setting;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::identify::sweep::{NEPER_DB, Sweep};
use crate::kernel::measure::decibels;
use crate::kernel::response::powers;
use crate::tolerance::{Draws, Law, Spread, with_factors};

/// Points of a sweep that are compared; more rows are averaged, neighbours with neighbours.
const COMPARED: usize = 120;
/// The band that levels a sweep, in Hz, and how many points it must hold.
const LEVELLED: [f64; 2] = [100.0, 400.0];
const FEWEST: usize = 3;
/// Guitars drawn within tolerance.
const DRAWN: usize = 400;
/// Shares of drawn guitars between which a level is ordinary.
const ORDINARY: [f64; 2] = [0.025, 0.975];
/// A difference that is looked at, in dB.
const PARTING: f64 = 0.5;

pub(super) fn root_mean_square(values: &[f64]) -> f64 {
    (values.iter().map(|value| value * value).sum::<f64>() / values.len().max(1) as f64).sqrt()
}

pub(super) fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    if count > 0.0 { sum / count } else { 0.0 }
}

pub(super) fn quantile(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    sorted.get((share * last as f64).round() as usize).copied().unwrap_or(0.0)
}

/// Frequency in Hz and level in dB by rising frequency, each frequency once, no more than so many.
pub(super) fn levels(sweep: &Sweep, most: usize) -> Vec<[f64; 2]> {
    let group = sweep.rows.len().div_ceil(most).max(1);
    let mut found: Vec<[f64; 2]> = Vec::new();
    for same in sweep.rows.chunk_by(|one, next| one.frequency == next.frequency) {
        let level = NEPER_DB * mean(same.iter().map(|row| row.nepers));
        found.extend(same.first().map(|row| [row.frequency, level]));
    }
    let averaged = |rows: &[[f64; 2]]| [mean(rows.iter().map(|row| row[0].ln())).exp(), mean(rows.iter().map(|row| row[1]))];
    found.chunks(group).map(averaged).collect()
}

/// All sweeps of one guitar, thinned.
pub(super) struct Session {
    pub(super) sweeps: Vec<(Setting, Vec<f64>)>,
    /// Measured levels in dB, sweep after sweep.
    pub(super) levels: Vec<f64>,
    /// Which of them level the session.
    levelling: Vec<bool>,
    /// The levels predicted for the guitar on its mark.
    predicted: Vec<f64>,
}

impl Session {
    pub(super) fn new(guitar: &Guitar, measured: &[(Setting, Sweep)]) -> Result<Self> {
        let mut session = Self {
            sweeps: Vec::new(),
            levels: Vec::new(),
            levelling: Vec::new(),
            predicted: Vec::new(),
        };
        for (setting, sweep) in measured {
            let points = levels(sweep, COMPARED);
            session.levels.extend(points.iter().map(|point| point[1]));
            session.sweeps.push((*setting, points.iter().map(|point| point[0]).collect()));
        }
        if session.levels.is_empty() {
            return Err(Error::new(ErrorKind::Missing, "no sweep was given").help("give one: --measured sweep.csv"));
        }
        let inside = |frequency: &f64| (LEVELLED[0]..=LEVELLED[1]).contains(frequency);
        session.levelling = session
            .sweeps
            .iter()
            .flat_map(|(_, frequencies)| frequencies.iter().map(inside))
            .collect();
        if session.levelling.iter().filter(|inside| **inside).count() < FEWEST {
            session.levelling.fill(true);
        }
        session.predicted = session.predict(guitar, [1.0; 2]).ok_or_else(silent)?;
        Ok(session)
    }

    /// Levels in dB with the knobs' rotations times factors; `None` where the guitar is silent.
    pub(super) fn predict(&self, guitar: &Guitar, turns: [f64; 2]) -> Option<Vec<f64>> {
        let mut found = Vec::with_capacity(self.levels.len());
        for (setting, frequencies) in &self.sweeps {
            let setting = Setting {
                volume: turned(setting.volume, turns[0]),
                tone: turned(setting.tone, turns[1]),
            };
            found.extend(powers(guitar, setting, frequencies).into_iter().map(decibels));
        }
        found.iter().all(|level| level.is_finite()).then_some(found)
    }

    /// Measured less predicted.
    pub(super) fn differences(&self, guitar: &Guitar) -> Option<Vec<f64>> {
        let predicted = self.predict(guitar, [1.0; 2])?;
        Some(
            self.levels
                .iter()
                .zip(predicted)
                .map(|(level, predicted)| level - predicted)
                .collect(),
        )
    }

    pub(super) fn offset(&self, differences: &[f64]) -> f64 {
        mean(
            differences
                .iter()
                .zip(&self.levelling)
                .filter(|(_, levels)| **levels)
                .map(|(difference, _)| *difference),
        )
    }

    /// How far guitars drawn within tolerance are from the one on its mark, levelled alike.
    pub(super) fn drawn(&self, guitar: &Guitar, spreads: &[Spread], nominal: &[f64], seed: u64) -> Vec<Vec<f64>> {
        let draws = Draws { law: Law::Uniform, seed };
        let columns: Vec<Vec<f64>> = spreads
            .iter()
            .map(|spread| {
                let mut factors = vec![1.0; DRAWN];
                draws.fill(spread, 0, &mut factors);
                factors
            })
            .collect();
        let one = |build: usize| {
            let factors: Vec<f64> = columns.iter().filter_map(|column| column.get(build).copied()).collect();
            let own = self.differences(&with_factors(guitar, spreads, &factors))?;
            let off: Vec<f64> = nominal.iter().zip(&own).map(|(nominal, own)| nominal - own).collect();
            let offset = self.offset(&off);
            Some(off.iter().map(|off| off - offset).collect())
        };
        (0..DRAWN).filter_map(one).collect()
    }

    pub(super) fn swept(&self, measured: &[(Setting, Sweep)], differences: &[f64], offset: f64, drawn: &[Vec<f64>]) -> Vec<Swept> {
        let ordinary = |index: usize| {
            let mut own: Vec<f64> = drawn.iter().filter_map(|one| one.get(index).copied()).collect();
            own.sort_by(f64::total_cmp);
            ORDINARY.map(|share| quantile(&own, share))
        };
        let mut start = 0;
        let mut found = Vec::new();
        for ((setting, frequencies), (_, sweep)) in self.sweeps.iter().zip(measured) {
            let point = |(index, frequency): (usize, &f64)| {
                let at = start + index;
                let of = |values: &[f64]| values.get(at).copied().unwrap_or(0.0);
                Compared {
                    frequency_hz: *frequency,
                    measured_db: of(&self.levels) - offset,
                    predicted_db: of(&self.predicted),
                    difference_db: of(differences),
                    ordinary_db: ordinary(at),
                }
            };
            let points: Vec<Compared> = frequencies.iter().enumerate().map(point).collect();
            start += frequencies.len();
            let inside = points.iter().filter(|point| is_ordinary(point)).count();
            let own: Vec<f64> = points.iter().map(|point| point.difference_db).collect();
            found.push(Swept {
                name: sweep.name.clone(),
                volume: setting.volume,
                tone: setting.tone,
                rms_db: root_mean_square(&own),
                ordinary_share: inside as f64 / points.len().max(1) as f64,
                parts: stretches(&points),
                points,
                notes: sweep.notes.clone(),
            });
        }
        found
    }
}

/// Within what tolerance does, or too little to look at.
fn is_ordinary(point: &Compared) -> bool {
    let [low, high] = point.ordinary_db;
    point.difference_db.abs() < PARTING || (low..=high).contains(&point.difference_db)
}

fn stretches(points: &[Compared]) -> Vec<Stretch> {
    let runs = points.chunk_by(|one, next| is_ordinary(one) == is_ordinary(next) && one.difference_db * next.difference_db > 0.0);
    let stretch = |run: &[Compared]| {
        let (first, last) = (run.first()?, run.last()?);
        let worst = run
            .iter()
            .max_by(|one, other| one.difference_db.abs().total_cmp(&other.difference_db.abs()))?;
        (!is_ordinary(first)).then_some(Stretch {
            from_hz: first.frequency_hz,
            to_hz: last.frequency_hz,
            difference_db: worst.difference_db,
        })
    };
    runs.filter_map(stretch).collect()
}

/// A rotation times a factor; the ends are stops.
pub(super) fn turned(rotation: f64, factor: f64) -> f64 {
    if rotation > 0.0 && rotation < 1.0 {
        (rotation * factor).clamp(0.0, 1.0)
    } else {
        rotation
    }
}
