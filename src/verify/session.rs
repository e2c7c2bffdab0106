//! The sweeps of one sitting, levelled together, and guitars drawn within tolerance beside them.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

use super::{Compared, Stretch, Swept, silent};
use crate::circuit::Setting;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::identify::sweep::{NEPER_DB, Sweep, scatter};
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
/// Neighbouring points whose mean is looked at: a third of an octave of a full sweep.
const SMOOTHED: usize = 6;
/// Means that stand for a sweep where it is weighed, and for all of them together, more or less: their covariance is decomposed.
const BANDS: usize = 20;
const MOST_BANDS: usize = 240;
/// Stretches that are listed of a sweep.
const STRETCHES: usize = 3;
/// The constant current of an exciter coil without integrator induces in proportion to the frequency: 20·lg 2 dB an octave.
pub(super) const TILT: f64 = 6.020_599_913;

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
    /// Standard deviation in dB of what jumps from point to point.
    pub(super) noise: f64,
}

impl Session {
    /// With `slope`, the tilt of a coil without integrator is taken off the levels.
    pub(super) fn new(guitar: &Guitar, measured: &[(Setting, Sweep)], slope: bool) -> Result<Self> {
        let mut session = Self {
            sweeps: Vec::new(),
            levels: Vec::new(),
            levelling: Vec::new(),
            predicted: Vec::new(),
            noise: 0.0,
        };
        for (setting, sweep) in measured {
            let points = levels(sweep, COMPARED);
            session.levels.extend(points.iter().map(|point| untilted(*point, slope)));
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
        let left = session
            .levels
            .iter()
            .zip(&session.predicted)
            .map(|(level, predicted)| level - predicted);
        session.noise = scatter(session.by_sweep(&left.collect::<Vec<_>>()));
        Ok(session)
    }

    /// Every so manieth point alone, for a descent that asks often.
    pub(super) fn thinned(&self, step: usize) -> Self {
        fn some<T: Copy>(values: &[T], step: usize) -> impl Iterator<Item = T> {
            values.iter().step_by(step).copied()
        }
        let levels = self.by_sweep(&self.levels);
        let predicted = self.by_sweep(&self.predicted);
        let each = |series: Vec<&[f64]>| series.into_iter().flat_map(|own| some(own, step)).collect::<Vec<f64>>();
        let sweeps = self.sweeps.iter();
        let levels = each(levels);
        Self {
            sweeps: sweeps.map(|(setting, own)| (*setting, some(own, step).collect())).collect(),
            levelling: vec![true; levels.len()],
            predicted: each(predicted),
            levels,
            noise: self.noise,
        }
    }

    /// Values of all sweeps, sweep by sweep.
    pub(super) fn by_sweep<'v>(&self, mut values: &'v [f64]) -> Vec<&'v [f64]> {
        let mut found = Vec::with_capacity(self.sweeps.len());
        for (_, frequencies) in &self.sweeps {
            let (own, rest) = values.split_at(frequencies.len().min(values.len()));
            found.push(own);
            values = rest;
        }
        found
    }

    /// Means over a twentieth of each sweep, or more of each where there are many, which noise hardly moves.
    pub(super) fn banded(&self, values: &[f64]) -> Vec<f64> {
        self.bands(values).map(|band| mean(band.iter().copied())).collect()
    }

    /// How many readings each of these means has.
    pub(super) fn readings(&self) -> Vec<usize> {
        self.bands(&self.levels).map(<[f64]>::len).collect()
    }

    fn bands<'v>(&self, values: &'v [f64]) -> impl Iterator<Item = &'v [f64]> {
        let sweeps = self.by_sweep(values).into_iter();
        let most = (MOST_BANDS / self.sweeps.len().max(1)).clamp(FEWEST, BANDS);
        sweeps.flat_map(move |own| own.chunks(own.len().div_ceil(most).max(1)))
    }

    /// Root mean square less what noise has in it.
    pub(super) fn beyond_noise(&self, rms: f64) -> f64 {
        (rms * rms - self.noise * self.noise).max(0.0).sqrt()
    }

    /// The dB per octave by which measurement rises against prediction, and what is left of the differences without them, root mean square.
    pub(super) fn tilt(&self, differences: &[f64]) -> [f64; 2] {
        let octaves: Vec<f64> = self
            .sweeps
            .iter()
            .flat_map(|(_, frequencies)| frequencies.iter().map(|hertz| hertz.log2()))
            .collect();
        let (middle, level) = (mean(octaves.iter().copied()), mean(differences.iter().copied()));
        let both = octaves
            .iter()
            .zip(differences)
            .map(|(octave, difference)| (octave - middle) * (difference - level));
        let squares: f64 = octaves.iter().map(|octave| (octave - middle).powi(2)).sum();
        let slope = if squares > 0.0 { both.sum::<f64>() / squares } else { 0.0 };
        let left = octaves
            .iter()
            .zip(differences)
            .map(|(octave, difference)| difference - level - slope * (octave - middle));
        [slope, root_mean_square(&left.collect::<Vec<_>>())]
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

    /// What noise does to the means of so many sessions, drawn.
    pub(super) fn noises(&self, count: usize, seed: u64) -> Vec<Vec<f64>> {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        let readings = self.readings();
        let mut one = |readings: &usize| -> f64 {
            let deviate: f64 = StandardNormal.sample(&mut generator);
            deviate * self.noise / (*readings as f64).sqrt()
        };
        (0..count).map(|_| readings.iter().map(&mut one).collect()).collect()
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
                at: *setting,
                rms_db: root_mean_square(&own),
                ordinary_share: inside as f64 / points.len().max(1) as f64,
                parts: stretches(&points, self.noise),
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

/// The widest of the stretches where means over a third of an octave part by more than tolerance and noise do, by frequency.
fn stretches(points: &[Compared], noise: f64) -> Vec<Stretch> {
    let smoothed = |index: usize| {
        let near = points.get(index.saturating_sub(SMOOTHED / 2)..(index + SMOOTHED / 2 + 1).min(points.len()));
        let near = near.unwrap_or_default();
        (mean(near.iter().map(|point| point.difference_db)), near.len() as f64)
    };
    let judged: Vec<(Compared, bool)> = points
        .iter()
        .enumerate()
        .map(|(index, point)| {
            let (difference_db, count) = smoothed(index);
            // Four deviations: among some hundred points of good guitars hardly one is further out.
            let reach = 4.0 * noise / count.max(1.0).sqrt();
            let near = Compared {
                difference_db,
                ordinary_db: [point.ordinary_db[0] - reach, point.ordinary_db[1] + reach],
                ..*point
            };
            let parts = difference_db.abs() >= PARTING + reach && !is_ordinary(&near);
            (near, parts)
        })
        .collect();
    let runs = judged.chunk_by(|one, next| one.1 == next.1 && one.0.difference_db * next.0.difference_db > 0.0);
    let stretch = |run: &[(Compared, bool)]| {
        let (first, last) = (run.first()?, run.last()?);
        let worst = run
            .iter()
            .max_by(|one, other| one.0.difference_db.abs().total_cmp(&other.0.difference_db.abs()))?;
        first.1.then_some(Stretch {
            from_hz: first.0.frequency_hz,
            to_hz: last.0.frequency_hz,
            difference_db: worst.0.difference_db,
        })
    };
    let mut found: Vec<Stretch> = runs.filter_map(stretch).collect();
    let octaves = |stretch: &Stretch| (stretch.to_hz / stretch.from_hz).log2();
    found.sort_by(|one, other| octaves(other).total_cmp(&octaves(one)));
    found.truncate(STRETCHES);
    found.sort_by(|one, other| one.from_hz.total_cmp(&other.from_hz));
    found
}

/// The level in dB of a point of a sweep, without the tilt of a coil that had no integrator.
pub(super) fn untilted([frequency, level]: [f64; 2], slope: bool) -> f64 {
    if slope {
        level - TILT * (frequency / LEVELLED[1]).log2()
    } else {
        level
    }
}

/// A rotation times a factor; the ends are stops.
pub(super) fn turned(rotation: f64, factor: f64) -> f64 {
    if rotation > 0.0 && rotation < 1.0 {
        (rotation * factor).clamp(0.0, 1.0)
    } else {
        rotation
    }
}
