//! A finished guitar against its prediction: where measurement and prediction part, how much of it tolerance explains, which single
//! value would explain it, and whether the target is met as measured.
//!
//! Levels are measured against any reference: one offset for all sweeps of a session, the mean difference over 100–400 Hz (over
//! everything where that was not swept), is taken off. Guitars drawn within tolerance are levelled the same way. A single cause is sought
//! by fitting one value at a time with the offset free; causes are ranked by n·ln(s² + s₀²) + (ln q/σ)² with n = 20 independent readings of a smooth
//! curve, s what is left in dB, s₀ = 0.1 dB, q the factor by which the value is off and σ its tolerance over √3 (all our own rules).

use serde::Serialize;

use crate::circuit::Setting;
use crate::curve::Curve;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::identify::sweep::{NEPER_DB, Sweep};
use crate::kernel::measure::{decibels, worst_point};
use crate::kernel::plan::Plan;
use crate::kernel::response::powers;
use crate::target::Target;
use crate::tolerance::{Draws, Law, Spread, Tolerances, spreads, with_factors};

/// Points of a sweep that are compared; more rows are averaged, neighbours with neighbours.
const COMPARED: usize = 120;
/// Points of a sweep that stand for the response in a target.
const JUDGED: usize = 5000;
/// The band that levels a sweep, in Hz, and how many points it must hold.
const LEVELLED: [f64; 2] = [100.0, 400.0];
const FEWEST: usize = 3;
/// Guitars drawn within tolerance.
const DRAWN: usize = 400;
/// Shares of drawn guitars between which a level is ordinary.
const ORDINARY: [f64; 2] = [0.025, 0.975];
/// A difference that is looked at, in dB.
const PARTING: f64 = 0.5;
/// Factors between which one value is sought.
const FACTORS: [f64; 2] = [0.1, 10.0];
/// Independent readings of a smooth curve, and what cannot be told from nothing, in dB.
const INDEPENDENT: f64 = 20.0;
const FLOOR: f64 = 0.1;
/// Causes whose ranking differs by less are as likely.
const AS_LIKELY: f64 = 4.0;
/// A cause explains something when it leaves less than this share.
const EXPLAINS: f64 = 0.6;
/// How far a knob stands from where it was meant to, or its taper from what was said, as a share.
const TURN: f64 = 0.1;

/// What is to be verified.
#[derive(Debug, Clone)]
pub struct Request {
    /// The guitar as it should be now.
    pub guitar: Guitar,
    /// The guitar before.
    pub present: Guitar,
    /// Every sweep and where the knobs stood.
    pub measured: Vec<(Setting, Sweep)>,
    /// What the user said about tolerances.
    pub tolerances: Tolerances,
    /// What was wanted.
    pub target: Option<Target>,
    /// Seed of the guitars drawn.
    pub seed: u64,
}

/// One point of a sweep.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// In Hz.
    pub frequency_hz: f64,
    /// As measured, levelled, in dB.
    pub measured_db: f64,
    /// As predicted, in dB.
    pub predicted_db: f64,
    /// Measured less predicted.
    pub difference_db: f64,
    /// Between which differences 95 % of the guitars drawn lie.
    pub ordinary_db: [f64; 2],
}

/// A stretch where measurement and prediction part by more than tolerance does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stretch {
    /// In Hz.
    pub from_hz: f64,
    /// In Hz.
    pub to_hz: f64,
    /// The largest difference there, in dB.
    pub difference_db: f64,
}

/// One sweep against the prediction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Swept {
    /// The file.
    pub name: String,
    /// Volume rotation.
    pub volume: f64,
    /// Tone rotation.
    pub tone: f64,
    /// Root mean square difference in dB.
    pub rms_db: f64,
    /// Share of the points that 95 % of the guitars drawn cover.
    pub ordinary_share: f64,
    /// Where it parts.
    pub parts: Vec<Stretch>,
    /// Its points.
    pub points: Vec<Compared>,
    /// What there is to say about the file.
    pub notes: Vec<String>,
}

/// One value that may be off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// `volume pot`, `cable` …
    pub value: String,
    /// As it should be.
    pub nominal: f64,
    /// As the measurement has it.
    pub found: f64,
    /// `Ω`, `F`, `H`; empty for a knob's position from 0 to 1.
    pub unit: &'static str,
    /// Its tolerance as a share of one.
    pub tolerance: f64,
    /// Whether it would be within it.
    pub within_tolerance: bool,
    /// What would be left, root mean square in dB.
    pub rms_db: f64,
    /// Whether it is as likely as the first.
    pub as_likely: bool,
}

/// The target as measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// The target.
    pub target: Target,
    /// The margin in dB with measured levels where there are any.
    pub margin_db: f64,
    /// Whether it is not below 0.
    pub meets_target: bool,
    /// The margin in dB as predicted.
    pub predicted_margin_db: f64,
    /// Points of the target.
    pub points: usize,
    /// Those of them that were measured.
    pub measured_points: usize,
    /// Clause, from 0, of the smallest margin.
    pub worst_clause: usize,
    /// Where it is in Hz; none for a mean.
    pub worst_hz: Option<f64>,
}

/// A finished guitar against its prediction; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verified {
    /// The guitar's name.
    pub guitar: String,
    /// Every sweep.
    pub sweeps: Vec<Swept>,
    /// The level taken off, in dB.
    pub offset_db: f64,
    /// Root mean square difference of all, in dB.
    pub rms_db: f64,
    /// The same for half of the guitars drawn within tolerance, and for 95 % of them.
    pub ordinary_rms_db: [f64; 2],
    /// Share of the guitars drawn that are further from the prediction than this one.
    pub further_share: f64,
    /// Whether it is no further than 95 % of them.
    pub tolerance_explains: bool,
    /// Single causes, the likeliest first.
    pub causes: Vec<Cause>,
    /// Whether the first leaves far less than there was.
    pub one_cause_explains: bool,
    /// The target as measured.
    pub target: Option<Judged>,
}

/// Compares.
///
/// # Errors
/// Without a sweep, where the guitar is silent at the knob positions measured or at those of the target.
pub fn verify(request: &Request) -> Result<Verified> {
    let mut guitar = request.guitar.clone();
    guitar.cases.clear();
    let session = Session::new(&guitar, &request.measured)?;
    let spreads = spreads(&guitar, &request.tolerances, None);
    let nominal = session.differences(&guitar).ok_or_else(silent)?;
    let offset = session.offset(&nominal);
    let differences: Vec<f64> = nominal.iter().map(|difference| difference - offset).collect();
    let drawn = session.drawn(&guitar, &spreads, &nominal, request.seed);
    let rms = root_mean_square(&differences);
    let mut sizes: Vec<f64> = drawn.iter().map(|one| root_mean_square(one)).collect();
    sizes.sort_by(f64::total_cmp);
    let further = sizes.len() - sizes.partition_point(|size| *size <= rms);
    let causes = causes(&session, &guitar, &spreads);
    let target = request
        .target
        .as_ref()
        .map(|target| judge(request, &guitar, target, offset))
        .transpose()?;
    Ok(Verified {
        guitar: guitar.name.clone(),
        sweeps: session.swept(&request.measured, &differences, offset, &drawn),
        offset_db: offset,
        rms_db: rms,
        ordinary_rms_db: [quantile(&sizes, 0.5), quantile(&sizes, 0.95)],
        further_share: further as f64 / sizes.len().max(1) as f64,
        tolerance_explains: rms <= quantile(&sizes, 0.95),
        one_cause_explains: rms > FLOOR && causes.first().is_some_and(|cause| cause.rms_db < EXPLAINS * rms),
        causes,
        target,
    })
}

fn silent() -> Error {
    Error::new(
        ErrorKind::Conflict,
        "at these knob positions the guitar makes no sound, so nothing can be compared",
    )
    .help("measure with the volume knob up")
}

fn root_mean_square(values: &[f64]) -> f64 {
    (values.iter().map(|value| value * value).sum::<f64>() / values.len().max(1) as f64).sqrt()
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    if count > 0.0 { sum / count } else { 0.0 }
}

fn quantile(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    sorted.get((share * last as f64).round() as usize).copied().unwrap_or(0.0)
}

/// Frequency in Hz and level in dB by rising frequency, each frequency once, no more than so many.
fn levels(sweep: &Sweep, most: usize) -> Vec<[f64; 2]> {
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
struct Session {
    sweeps: Vec<(Setting, Vec<f64>)>,
    /// Measured levels in dB, sweep after sweep.
    levels: Vec<f64>,
    /// Which of them level the session.
    levelling: Vec<bool>,
    /// The levels predicted for the guitar on its mark.
    predicted: Vec<f64>,
}

impl Session {
    fn new(guitar: &Guitar, measured: &[(Setting, Sweep)]) -> Result<Self> {
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
    fn predict(&self, guitar: &Guitar, turns: [f64; 2]) -> Option<Vec<f64>> {
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
    fn differences(&self, guitar: &Guitar) -> Option<Vec<f64>> {
        let predicted = self.predict(guitar, [1.0; 2])?;
        Some(
            self.levels
                .iter()
                .zip(predicted)
                .map(|(level, predicted)| level - predicted)
                .collect(),
        )
    }

    fn offset(&self, differences: &[f64]) -> f64 {
        mean(
            differences
                .iter()
                .zip(&self.levelling)
                .filter(|(_, levels)| **levels)
                .map(|(difference, _)| *difference),
        )
    }

    /// How far guitars drawn within tolerance are from the one on its mark, levelled alike.
    fn drawn(&self, guitar: &Guitar, spreads: &[Spread], nominal: &[f64], seed: u64) -> Vec<Vec<f64>> {
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

    fn swept(&self, measured: &[(Setting, Sweep)], differences: &[f64], offset: f64, drawn: &[Vec<f64>]) -> Vec<Swept> {
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
fn turned(rotation: f64, factor: f64) -> f64 {
    if rotation > 0.0 && rotation < 1.0 {
        (rotation * factor).clamp(0.0, 1.0)
    } else {
        rotation
    }
}

/// What may be off.
enum Suspect<'s> {
    Value(&'s Spread),
    Knob(usize, &'static str, f64),
}

fn causes(session: &Session, guitar: &Guitar, spreads: &[Spread]) -> Vec<Cause> {
    let mut suspects: Vec<Suspect<'_>> = spreads.iter().map(Suspect::Value).collect();
    let between = |rotation: &f64| *rotation > 0.0 && *rotation < 1.0;
    let turns = |of: fn(&Setting) -> f64| session.sweeps.iter().map(move |(setting, _)| of(setting)).find(between);
    if let Some(volume) = turns(|setting| setting.volume) {
        suspects.push(Suspect::Knob(0, "volume knob's position or taper", volume));
    }
    if let Some(tone) = turns(|setting| setting.tone).filter(|_| guitar.tone.is_some()) {
        suspects.push(Suspect::Knob(1, "tone knob's position or taper", tone));
    }
    let left = |suspect: &Suspect<'_>, factor: f64| {
        let predicted = match suspect {
            Suspect::Value(spread) => session.predict(&with_factors(guitar, std::slice::from_ref(spread), &[factor]), [1.0; 2]),
            Suspect::Knob(0, ..) => session.predict(guitar, [factor, 1.0]),
            Suspect::Knob(..) => session.predict(guitar, [1.0, factor]),
        };
        predicted.map_or(f64::INFINITY, |predicted| {
            let differences: Vec<f64> = session
                .levels
                .iter()
                .zip(predicted)
                .map(|(level, predicted)| level - predicted)
                .collect();
            let offset = mean(differences.iter().copied());
            root_mean_square(&differences.iter().map(|difference| difference - offset).collect::<Vec<_>>())
        })
    };
    let mut found: Vec<(f64, Cause)> = Vec::new();
    for suspect in &suspects {
        let factor = least(|factor| left(suspect, factor));
        let (name, nominal, unit, tolerance) = match suspect {
            Suspect::Value(spread) => (spread.name.clone(), spread.value, spread.unit, spread.tolerance),
            Suspect::Knob(_, name, rotation) => ((*name).to_owned(), *rotation, "", TURN),
        };
        let rms_db = left(suspect, factor);
        if !rms_db.is_finite() {
            continue;
        }
        let deviation = factor.ln() / (tolerance / 3.0_f64.sqrt());
        let score = INDEPENDENT * (rms_db * rms_db + FLOOR * FLOOR).ln() + deviation * deviation;
        found.push((
            score,
            Cause {
                value: name,
                nominal,
                found: if unit.is_empty() {
                    turned(nominal, factor)
                } else {
                    nominal * factor
                },
                unit,
                tolerance,
                within_tolerance: (factor - 1.0).abs() <= tolerance,
                rms_db,
                as_likely: false,
            },
        ));
    }
    found.sort_by(|(one, _), (other, _)| one.total_cmp(other));
    let best = found.first().map_or(0.0, |(score, _)| *score);
    let mark = |(score, cause): (f64, Cause)| Cause {
        as_likely: score - best < AS_LIKELY,
        ..cause
    };
    found.into_iter().map(mark).collect()
}

/// The factor with the least cost: a scan over its logarithm, then golden sections.
fn least(cost: impl Fn(f64) -> f64) -> f64 {
    const STEPS: usize = 40;
    let [low, high] = FACTORS.map(f64::ln);
    let step = (high - low) / STEPS as f64;
    let best = (0..=STEPS).map(|index| low + step * index as f64);
    let best = best.map(|at| (cost(at.exp()), at)).min_by(|one, other| one.0.total_cmp(&other.0));
    let middle = best.map_or(0.0, |(_, at)| at);
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = ((middle - step).max(low), (middle + step).min(high));
    for _ in 0..30 {
        let (left, right) = (high - golden * (high - low), low + golden * (high - low));
        if cost(left.exp()) < cost(right.exp()) {
            high = right;
        } else {
            low = left;
        }
    }
    f64::midpoint(low, high).exp()
}

fn judge(request: &Request, guitar: &Guitar, target: &Target, offset: f64) -> Result<Judged> {
    let mut present = request.present.clone();
    present.cases.clear();
    let plan = Plan::new(guitar, &present, target, &[]).map_err(|_| {
        Error::new(
            ErrorKind::Conflict,
            "at a knob position of the target the guitar makes no sound, so it cannot be judged there",
        )
    })?;
    let predicted: Vec<f64> = plan.points.iter().map(|point| point.reduction.transfer(&[]).norm_sqr()).collect();
    let curves: Vec<(Setting, Option<Curve>)> = request
        .measured
        .iter()
        .map(|(at, sweep)| (*at, Curve::new(levels(sweep, JUDGED))))
        .collect();
    let near = |one: f64, other: f64| (one - other).abs() < 1e-9;
    let measured = |point: &crate::kernel::plan::Point| {
        let frequency = plan.frequencies.get(point.frequency)?;
        let same = |at: &Setting| near(at.volume, point.setting.volume) && (guitar.tone.is_none() || near(at.tone, point.setting.tone));
        let (_, curve) = curves.iter().find(|(at, _)| same(at))?;
        let level = curve.as_ref()?.at_logarithmic(*frequency)?;
        Some(10_f64.powf((level - offset) / 10.0)).filter(|power| power.is_finite())
    };
    let found: Vec<Option<f64>> = plan.points.iter().map(measured).collect();
    let measured_points = found.iter().flatten().count();
    if measured_points == 0 {
        let message = "none of the target's knob positions and frequencies was measured";
        return Err(Error::new(ErrorKind::Conflict, message)
            .help("sweep at the positions the target names: one --measured a position, with --volume and --tone listing them"));
    }
    let powers: Vec<f64> = found
        .iter()
        .zip(&predicted)
        .map(|(found, predicted)| found.unwrap_or(*predicted))
        .collect();
    let (worst, as_predicted) = worst_point(&plan, &powers).zip(worst_point(&plan, &predicted)).ok_or_else(silent)?;
    Ok(Judged {
        target: target.clone(),
        margin_db: worst.margin,
        meets_target: worst.margin >= 0.0,
        predicted_margin_db: as_predicted.margin,
        points: plan.points.len(),
        measured_points,
        worst_clause: worst.clause,
        worst_hz: worst.frequency,
    })
}
