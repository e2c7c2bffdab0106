//! Many built guitars: their margins, and how many meet the target.

use rayon::prelude::*;

use super::{Draws, Lot, Spread, Yield, wilson};
use crate::circuit::Origin;
use crate::guitar::Guitar;
use crate::kernel::built::{BuiltPlan, Scratch};
use crate::kernel::lanes::{Isa, LANES, Lane};
use crate::kernel::plan::Silent;
use crate::limits::MOST_DRAWN;
use crate::target::Target;

/// Built guitars that one task draws; a multiple of the lanes.
const TASK: u64 = 512;
/// Built guitars that are drawn before the interval is looked at.
const ROUND: u64 = 1024;
/// Built guitars that are drawn before the best are looked for.
const FIRST_ROUND: u64 = 256;
/// Standard deviations beyond which a yield is surely elsewhere.
const SURELY: f64 = 4.5;
/// Built guitars whose margins are held at once.
const AT_ONCE: u64 = 1 << 17;

/// One build, ready to be built many times.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    /// Its target's points.
    pub plan: BuiltPlan,
    /// What is off its mark.
    pub spreads: Vec<Spread>,
}

impl Built {
    /// Plans a build; the present guitar is what the target compares with.
    ///
    /// # Errors
    /// The first knob combination of the target at which `present` is silent.
    pub fn new(build: &Guitar, present: &Guitar, target: &Target, spreads: Vec<Spread>) -> Result<Self, Silent> {
        let origins: Vec<Origin> = spreads.iter().map(|spread| spread.origin).collect();
        Ok(Self {
            plan: BuiltPlan::new(build, present, target, &origins)?,
            spreads,
        })
    }

    /// How many of a lot meet the target; `None` of an empty lot.
    #[must_use]
    pub fn rate(&self, lot: &Lot) -> Option<Yield> {
        rate_all(std::slice::from_ref(self), lot).pop().flatten()
    }

    /// The margins in dB with each value at given factors, one row of factors a guitar; a value that a row has no factor for is on its
    /// mark.
    #[must_use]
    pub fn margins_at(&self, rows: &[Vec<f64>]) -> Vec<f64> {
        let tasks = rows.par_chunks(TASK as usize).map(|rows| {
            let (isa, mut scratch) = (Isa::detect(), Scratch::default());
            let mut margins = Vec::with_capacity(rows.len());
            for block in rows.chunks(LANES) {
                let factor = |lane: usize, spread: usize| block.get(lane).and_then(|row: &Vec<f64>| row.get(spread)).copied();
                let lane = |spread: usize| std::array::from_fn(|lane| factor(lane, spread).unwrap_or(1.0));
                let factors: Vec<Lane> = (0..self.spreads.len()).map(lane).collect();
                let found = self.plan.margins(isa, &factors, &mut scratch);
                margins.extend(found.into_iter().take(block.len()));
            }
            margins
        });
        tasks.collect::<Vec<_>>().concat()
    }
}

/// How many of a lot of each build meet the target; `None` of an empty lot. With a precision, drawing goes on in rounds for the builds that
/// are not known well enough. At most [`MOST_DRAWN`] are drawn. (To look again and again makes an interval a little too narrow; with rounds
/// of a thousand that is small.)
#[must_use]
pub fn rate_all(built: &[Built], lot: &Lot) -> Vec<Option<Yield>> {
    let round = if lot.precision.is_some() { ROUND } else { AT_ONCE };
    rated(built, lot, |drawn| drawn + round, |_| 0.0)
}

/// The same where only the best `top` are asked for: a build is drawn no further once its interval lies below those of so many others, at a
/// level that hardly any of thousands passes by chance. Those that may be among them are known as [`rate_all`] knows them.
#[must_use]
pub fn rate_best(built: &[Built], lot: &Lot, top: usize) -> Vec<Option<Yield>> {
    let bar = |yields: &[Option<Yield>]| {
        let mut least: Vec<f64> = yields.iter().filter_map(|found| surely(*found)).map(|[low, _]| low).collect();
        least.sort_by(|one, other| other.total_cmp(one));
        top.checked_sub(1).and_then(|last| least.get(last)).copied().unwrap_or(0.0)
    };
    rated(built, lot, |drawn| (2 * drawn).max(FIRST_ROUND), bar)
}

/// Between which shares a yield surely lies.
fn surely(found: Option<Yield>) -> Option<[f64; 2]> {
    found.and_then(|found| wilson(found.meeting, found.builds, SURELY))
}

/// Draws until `next` of the number drawn, round by round, as long as a build may reach the share that `bar` sets from all yields so far.
fn rated(built: &[Built], lot: &Lot, next: impl Fn(u64) -> u64 + Sync, bar: impl Fn(&[Option<Yield>]) -> f64) -> Vec<Option<Yield>> {
    let builds = lot.builds.min(MOST_DRAWN);
    let mut counts = vec![(0_u64, 0_u64); built.len()];
    let mut open: Vec<usize> = (0..built.len()).collect();
    while !open.is_empty() {
        let draw = |index: &usize| {
            let (_, drawn) = counts[*index];
            let count = (next(drawn).min(builds) - drawn).min(AT_ONCE);
            let margins = margins(&built[*index], lot.draws, drawn, count);
            (*index, margins.iter().filter(|margin| **margin >= 0.0).count() as u64, count)
        };
        for (index, meeting, drawn) in open.par_iter().map(draw).collect::<Vec<_>>() {
            counts[index] = (counts[index].0 + meeting, counts[index].1 + drawn);
        }
        let yields: Vec<Option<Yield>> = counts.iter().map(|(meeting, drawn)| Yield::of(*meeting, *drawn)).collect();
        let bar = bar(&yields);
        open.retain(|index| {
            let found = yields[*index];
            let wide = |precision| found.is_some_and(|found| found.reach() > precision);
            let may_reach = bar <= 0.0 || surely(found).is_none_or(|[_, high]| high >= bar);
            counts[*index].1 < builds && lot.precision.is_none_or(wide) && may_reach
        });
    }
    counts.into_iter().map(|(meeting, drawn)| Yield::of(meeting, drawn)).collect()
}

/// The margins in dB of built guitars number `first` and on, at most [`MOST_DRAWN`] of them.
#[must_use]
pub fn margins(built: &Built, draws: Draws, first: u64, count: u64) -> Vec<f64> {
    let count = count.min(MOST_DRAWN);
    let first = first.min(u64::MAX - count);
    let tasks: Vec<u64> = (0..count.div_ceil(TASK)).collect();
    let task = |task: &u64| {
        let start = task * TASK;
        drawn(built, draws, first + start, TASK.min(count - start) as usize)
    };
    tasks.par_iter().map(task).collect::<Vec<_>>().concat()
}

fn drawn(built: &Built, draws: Draws, first: u64, count: usize) -> Vec<f64> {
    let (isa, mut scratch) = (Isa::detect(), Scratch::default());
    let padded = count.next_multiple_of(LANES);
    let mut factors = vec![vec![1.0; padded]; built.spreads.len()];
    for (spread, factors) in built.spreads.iter().zip(&mut factors) {
        draws.fill(spread, first, factors);
    }
    let mut block: Vec<Lane> = vec![[1.0; LANES]; built.spreads.len()];
    let mut margins = Vec::with_capacity(padded);
    for start in (0..padded).step_by(LANES) {
        for (lane, factors) in block.iter_mut().zip(&factors) {
            lane.copy_from_slice(&factors[start..start + LANES]);
        }
        margins.extend(built.plan.margins(isa, &block, &mut scratch));
    }
    margins.truncate(count);
    margins
}
