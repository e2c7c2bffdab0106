//! A second recommender, written as the definitions read and as slowly: every candidate is fitted, and the circuit solved anew, for every
//! point of every clause and of every reference; then all are sorted.

use knobwright::circuit::{self, Setting};
use knobwright::guitar::{Guitar, Slot};
use knobwright::parts::network::Network;
use knobwright::target::{Against, Band, Clause, Measure, Over, Target};
use num_complex::Complex64;

use super::twin::straight;

/// V_W/E at a setting and a frequency in Hz.
pub type Solver = fn(&Guitar, Setting, f64) -> Complex64;

/// Points per octave of every band and anchor.
const POINTS_PER_OCTAVE: i32 = 12;
/// Builds this much below a group's best, in dB, still belong to it.
const GROUP_DB: f64 = 0.01;
/// Where the volume shift is measured, in Hz.
const SHIFT_BAND: (f64, f64) = (100.0, 1500.0);

/// What to fit, slot by slot, every part with its value; `None` takes out what is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    pub slots: Vec<(Slot, Option<Network>)>,
    /// The price of all its parts, if every one is known.
    pub cost: Option<f64>,
}

impl Candidate {
    pub fn new(slots: impl Into<Vec<(Slot, Option<Network>)>>) -> Self {
        let slots = slots.into();
        Self { slots, cost: None }
    }
}

/// The point with the smallest margin, the first of equals in clause, volume, tone, frequency order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    pub clause: usize,
    pub volume: f64,
    pub tone: f64,
    /// `None` where a band's mean is bounded.
    pub frequency_hz: Option<f64>,
    pub difference_db: f64,
}

/// A candidate and how it does.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    pub candidate: Candidate,
    pub margin_db: f64,
    pub rms_db: f64,
    pub volume_shift_db: f64,
    pub worst: Worst,
}

/// All candidates that are silent at no point, best first; by the library's plain solve.
pub fn rank(present: &Guitar, build: &Guitar, target: &Target, candidates: Vec<Candidate>) -> Vec<Ranked> {
    rank_with(circuit::transfer, present, build, target, candidates)
}

/// As [`rank`], by any solver.
pub fn rank_with(solve: Solver, present: &Guitar, build: &Guitar, target: &Target, candidates: Vec<Candidate>) -> Vec<Ranked> {
    let judged = candidates
        .into_iter()
        .filter_map(|candidate| judge(solve, present, build, target, candidate))
        .collect();
    in_groups(judged)
}

/// f_k = low·2^(k/12) below `high`, and `high`.
pub fn grid(low: f64, high: f64) -> Vec<f64> {
    let mut frequencies = Vec::new();
    let mut k = 0;
    loop {
        let frequency = low * 2.0_f64.powf(f64::from(k) / f64::from(POINTS_PER_OCTAVE));
        if frequency >= high {
            break;
        }
        frequencies.push(frequency);
        k += 1;
    }
    frequencies.push(high);
    frequencies
}

fn band_grid(band: Band) -> Vec<f64> {
    grid(band.low(), band.high())
}

/// 10·log₁₀ of the mean power of some levels in dB.
pub fn mean_level(levels: &[f64]) -> f64 {
    let power: f64 = levels.iter().map(|level| 10.0_f64.powf(level / 10.0)).sum();
    10.0 * (power / levels.len() as f64).log10()
}

/// What a clause measures of anything that has a level at every frequency: one figure a frequency, or one for the band.
fn figures(clause: &Clause, level: impl Fn(f64) -> f64) -> Vec<f64> {
    let levels: Vec<f64> = band_grid(clause.band).into_iter().map(&level).collect();
    let over = match clause.over {
        Over::Every => levels,
        Over::Mean => vec![mean_level(&levels)],
        Over::Average => vec![levels.iter().sum::<f64>() / levels.len() as f64],
    };
    let anchor = match (clause.measure, clause.anchor) {
        (Measure::Level, _) => 0.0,
        (Measure::Shape, Some(anchor)) => mean_level(&band_grid(anchor).into_iter().map(&level).collect::<Vec<_>>()),
        (Measure::Shape, None) => panic!("a shape without an anchor"),
    };
    over.into_iter().map(|figure| figure - anchor).collect()
}

/// The level of a guitar in dB; −∞ where silent.
fn level_of(solve: Solver, guitar: &Guitar, setting: Setting) -> impl Fn(f64) -> f64 {
    move |frequency| 20.0 * solve(guitar, setting, frequency).norm().log10()
}

/// Straight in dB over log f.
fn level_of_curve(points: &[[f64; 2]], frequency: f64) -> f64 {
    let logarithmic: Vec<[f64; 2]> = points.iter().map(|[f, level]| [f.ln(), *level]).collect();
    // The logarithm of an end may round to just outside.
    let inside = frequency.ln().clamp(logarithmic[0][0], logarithmic[logarithmic.len() - 1][0]);
    straight(&logarithmic, inside).expect("a wanted curve spans its band")
}

fn reference(solve: Solver, clause: &Clause, setting: Setting, build: &Guitar, present: &Guitar) -> Vec<f64> {
    match &clause.against {
        Against::Full => figures(clause, level_of(solve, build, Setting { volume: 1.0, tone: 1.0 })),
        Against::Present => figures(clause, level_of(solve, present, setting)),
        Against::Flat => match clause.over {
            Over::Every => vec![0.0; band_grid(clause.band).len()],
            Over::Mean | Over::Average => vec![0.0],
        },
        Against::Curve(wanted) => figures(clause, |frequency| level_of_curve(wanted.curve.points(), frequency)),
    }
}

fn settings(clause: &Clause) -> Vec<Setting> {
    let at = |volume: f64| clause.tone.iter().map(move |&tone| Setting { volume, tone });
    clause.volume.iter().flat_map(|&volume| at(volume)).collect()
}

/// Every difference of every clause, with its margin, in clause, volume, tone, frequency order.
fn differences(solve: Solver, present: &Guitar, build: &Guitar, target: &Target) -> Vec<(f64, Worst)> {
    let mut all = Vec::new();
    for (index, clause) in target.clauses.iter().enumerate() {
        let frequencies: Vec<Option<f64>> = match clause.over {
            Over::Every => band_grid(clause.band).into_iter().map(Some).collect(),
            Over::Mean | Over::Average => vec![None],
        };
        for setting in settings(clause) {
            let measured = figures(clause, level_of(solve, build, setting));
            let wanted = reference(solve, clause, setting, build, present);
            for ((x, reference), frequency_hz) in measured.iter().zip(&wanted).zip(&frequencies) {
                let difference = x - reference;
                let above = clause.at_most.map_or(f64::INFINITY, |most| most - difference);
                let below = clause.at_least.map_or(f64::INFINITY, |least| difference - least);
                let point = Worst {
                    clause: index,
                    volume: setting.volume,
                    tone: setting.tone,
                    frequency_hz: *frequency_hz,
                    difference_db: difference,
                };
                all.push((above.min(below), point));
            }
        }
    }
    all
}

/// Of all knob combinations, the change of mean power level that is largest in size, with its sign.
fn volume_shift(solve: Solver, present: &Guitar, build: &Guitar, target: &Target) -> f64 {
    let (low, high) = SHIFT_BAND;
    let mean = |guitar: &Guitar, setting| {
        mean_level(
            &grid(low, high)
                .into_iter()
                .map(level_of(solve, guitar, setting))
                .collect::<Vec<_>>(),
        )
    };
    let mut largest = 0.0_f64;
    for setting in target.clauses.iter().flat_map(settings) {
        let shift = mean(build, setting) - mean(present, setting);
        if shift.abs() > largest.abs() {
            largest = shift;
        }
    }
    largest
}

/// A candidate fitted and measured; `None` when it is silent somewhere.
fn judge(solve: Solver, present: &Guitar, build: &Guitar, target: &Target, candidate: Candidate) -> Option<Ranked> {
    let mut build = build.clone();
    for (slot, network) in &candidate.slots {
        build.fit(*slot, network.clone());
    }
    let differences = differences(solve, present, &build, target);
    if differences
        .iter()
        .any(|(margin, point)| !margin.is_finite() || !point.difference_db.is_finite())
    {
        return None;
    }
    let (margin_db, worst) = differences.iter().fold(None::<(f64, Worst)>, |best, next| match best {
        Some(best) if best.0 <= next.0 => Some(best),
        _ => Some(*next),
    })?;
    let squares: f64 = differences.iter().map(|(_, point)| point.difference_db.powi(2)).sum();
    Some(Ranked {
        candidate,
        margin_db,
        rms_db: (squares / differences.len() as f64).sqrt(),
        volume_shift_db: volume_shift(solve, present, &build, target),
        worst,
    })
}

/// Largest margin first; inside each group fewer parts, then known cost, then values, then the written network.
fn in_groups(mut ranked: Vec<Ranked>) -> Vec<Ranked> {
    ranked.sort_by(|one, other| other.margin_db.total_cmp(&one.margin_db));
    let mut ordered = Vec::with_capacity(ranked.len());
    while let Some(best) = ranked.first().map(|best| best.margin_db) {
        let size = ranked.iter().take_while(|build| build.margin_db >= best - GROUP_DB).count();
        let mut group: Vec<Ranked> = ranked.drain(..size).collect();
        group.sort_by(|one, other| compare(&one.candidate, &other.candidate));
        ordered.extend(group);
    }
    ordered
}

fn compare(one: &Candidate, other: &Candidate) -> std::cmp::Ordering {
    let cost = |candidate: &Candidate| candidate.cost.unwrap_or(f64::INFINITY);
    let by_values = |one: &[f64], other: &[f64]| one.partial_cmp(other).expect("values are numbers");
    part_count(one)
        .cmp(&part_count(other))
        .then(cost(one).total_cmp(&cost(other)))
        .then_with(|| {
            let slots = Slot::ALL.into_iter();
            slots.fold(std::cmp::Ordering::Equal, |so_far, slot| {
                so_far.then_with(|| by_values(&values(one, slot), &values(other, slot)))
            })
        })
        .then_with(|| written(one).cmp(&written(other)))
}

fn networks(candidate: &Candidate, slot: Slot) -> impl Iterator<Item = &Network> {
    candidate
        .slots
        .iter()
        .filter(move |(here, _)| *here == slot)
        .filter_map(|(_, network)| network.as_ref())
}

fn part_count(candidate: &Candidate) -> usize {
    Slot::ALL
        .iter()
        .flat_map(|slot| networks(candidate, *slot))
        .map(Network::part_count)
        .sum()
}

/// In written order.
fn values(candidate: &Candidate, slot: Slot) -> Vec<f64> {
    networks(candidate, slot)
        .flat_map(Network::components)
        .map(|part| part.value())
        .collect()
}

fn written(candidate: &Candidate) -> Vec<String> {
    let in_slot = |slot: &Slot| candidate.slots.iter().find(|(here, _)| here == slot);
    let word = |network: &Option<Network>| network.as_ref().map_or("none".to_owned(), ToString::to_string);
    Slot::ALL.iter().filter_map(in_slot).map(|(_, network)| word(network)).collect()
}
