//! The way into the search, and the evaluation of one candidate by the definition.

use rayon::prelude::*;

use crate::circuit::ports::MOST_SLOTS;
use crate::guitar::Slot;
use crate::kernel::evaluate::{self, SlotAdmittances, slot_admittance};
use crate::kernel::measure::{BoundedPoint, rest, worst_point};
use crate::kernel::plan::Plan;
use crate::parts::network::{Admittance, Network};
use crate::parts::stock::Stock;
use crate::progress::Progress;
use crate::search::pruned::{self, Method};
use crate::search::ranking::{Entry, Kept};
use crate::search::space::{Space, components};

/// What a search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The first of all candidates, ranked.
    pub entries: Vec<Entry>,
    /// For each space, how many candidates were evaluated to the end, plus the share of points spent on abandoned ones.
    pub evaluated: Vec<f64>,
}

/// Searches the spaces together; the first `top` of all their candidates. With a stock list, candidates that need more pieces
/// than there are are passed over.
#[must_use]
pub fn search(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, top: usize, progress: &dyn Progress) -> Found {
    search_with(plan, spaces, stock, top, Method::best(), progress)
}

/// As [`search`], for the first candidate alone, whose margin is known to be at least so much or is of no interest otherwise: exact if some
/// candidate has a margin of `least` dB, else none or one below it.
#[must_use]
pub fn first_above(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, least: f64) -> Option<Entry> {
    pruned::search_above(plan, spaces, stock, 1, least, Method::best(), &())
        .entries
        .into_iter()
        .next()
}

/// Every candidate with a margin of at least `least` dB, ranked; `None` where there are more than `most`.
#[must_use]
pub fn all_above(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, least: f64, most: usize) -> Option<Vec<Entry>> {
    pruned::all_above(plan, spaces, stock, least, most)
}

/// Does two jobs, side by side where there is a thread to spare.
pub fn both<A: Send, B: Send>(one: impl FnOnce() -> A + Send, other: impl FnOnce() -> B + Send) -> (A, B) {
    rayon::join(one, other)
}

/// Does a job for each item, on the threads there are; results in the items' order, however many threads there are.
pub fn each<T: Sync, R: Send>(items: &[T], job: impl Fn(&T) -> R + Send + Sync) -> Vec<R> {
    items.par_iter().map(job).collect()
}

/// As [`search`], by a method of one's own: the benches and tests compare them.
#[must_use]
pub fn search_with(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, top: usize, method: Method, progress: &dyn Progress) -> Found {
    let mut found = pruned::search_above(plan, spaces, stock, top.max(1), f64::NEG_INFINITY, method, progress);
    found.entries.truncate(top.max(1));
    found
}

/// As [`search`], with every entry that can be among the first `top` of a list that holds the candidates of other searches as well.
#[must_use]
pub fn search_kept(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, top: usize, progress: &dyn Progress) -> Found {
    pruned::search_above(plan, spaces, stock, top.max(1), f64::NEG_INFINITY, Method::best(), progress)
}

/// The slow twin of [`search`]: every candidate evaluated by the definition, one after the other.
#[must_use]
pub fn search_by_definition(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, top: usize) -> Vec<Entry> {
    let mut kept = Kept::new(top);
    let mut evaluator = Evaluator::new(plan);
    let mut choices = Vec::new();
    for (number, space) in spaces.iter().enumerate() {
        let fitted: Vec<_> = space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect();
        for index in 0..space.index_count() {
            if !space.choices(index, &mut choices) {
                continue;
            }
            if !fits_stock(stock, space, &choices) {
                continue;
            }
            if let Some(worst) = evaluator.kept(&fitted, &space.values(&choices)) {
                kept.offer(worst.margin, || entry(worst.margin, space, number, &choices, stock));
            }
        }
    }
    kept.ranked()
}

/// Whether there are enough pieces in stock for a candidate.
pub(crate) fn fits_stock(stock: Option<&Stock>, space: &Space, choices: &[usize]) -> bool {
    stock.is_none_or(|stock| stock.suffices(&components(&space.networks(choices))))
}

pub(crate) fn entry(margin: f64, space: &Space, number: usize, choices: &[usize], stock: Option<&Stock>) -> Entry {
    let networks = space.networks(choices);
    let parts_of = |network: &Option<Network>| network.as_ref().map(Network::components).unwrap_or_default();
    let parts = components(&networks);
    Entry {
        margin,
        parts: parts.len(),
        cost: stock.and_then(|stock| stock.cost(&parts)),
        values: networks
            .iter()
            .map(|(_, network)| parts_of(network).iter().map(|part| part.value()).collect())
            .collect(),
        written: networks.iter().map(|(_, network)| written(network.as_ref())).collect(),
        space: number,
        choices: choices.to_vec(),
        chosen: space.values(choices),
    }
}

/// The written form of what is fitted in a slot.
#[must_use]
pub fn written(network: Option<&Network>) -> String {
    network.map_or_else(|| "none".to_owned(), Network::to_string)
}

/// Evaluates candidates one at a time on a plan, by the definition.
#[derive(Debug)]
pub struct Evaluator<'p> {
    plan: &'p Plan,
    admittances: Vec<SlotAdmittances>,
    powers: Vec<f64>,
}

impl<'p> Evaluator<'p> {
    /// For one plan.
    #[must_use]
    pub fn new(plan: &'p Plan) -> Self {
        Self {
            plan,
            admittances: vec![[Admittance::OPEN; MOST_SLOTS]; plan.frequencies.len()],
            powers: Vec::with_capacity(plan.points.len()),
        }
    }

    /// |V/E|² at every point of the plan, with a network and the values of its free parts in each of the plan's slots; a slot
    /// that is not named holds nothing.
    pub fn powers(&mut self, fitted: &[(Slot, Option<&Network>)], values: &[Vec<f64>]) -> &[f64] {
        for (position, slot) in self.plan.slots.iter().enumerate() {
            let found = fitted.iter().zip(values).find(|((named, _), _)| named == slot);
            let (network, values) = found.map_or((None, &[][..]), |((_, network), values)| (*network, values));
            for (row, frequency) in self.admittances.iter_mut().zip(&self.plan.frequencies) {
                row[position] = slot_admittance(*slot, network, values, *frequency);
            }
        }
        evaluate::powers(self.plan, &self.admittances, &mut self.powers);
        &self.powers
    }

    /// As [`Evaluator::worst`]; `None` as well for a build that does not keep the guards of the plan.
    pub fn kept(&mut self, fitted: &[(Slot, Option<&Network>)], values: &[Vec<f64>]) -> Option<BoundedPoint> {
        self.powers(fitted, values);
        worst_point(self.plan, &self.powers).filter(|_| rest(self.plan, &self.powers) >= 0.0)
    }

    /// The point with the smallest margin; `None` if the build is silent at a point of the target.
    pub fn worst(&mut self, fitted: &[(Slot, Option<&Network>)], values: &[Vec<f64>]) -> Option<BoundedPoint> {
        self.powers(fitted, values);
        worst_point(self.plan, &self.powers)
    }
}

/// More worker threads than this are of no use, and could not be had.
const MOST_THREADS: usize = 1024;

/// Runs a job with a number of worker threads; `None` is one a core, and more than 1,024 count as that many: no result depends on the
/// number. When the threads cannot be had, the job runs with those there are.
pub fn with_threads<T: Send>(threads: Option<usize>, job: impl FnOnce() -> T + Send) -> T {
    match threads.and_then(|threads| rayon::ThreadPoolBuilder::new().num_threads(threads.min(MOST_THREADS)).build().ok()) {
        Some(pool) => pool.install(job),
        None => job(),
    }
}
