//! What a search has gathered so far: candidates that may be among the first, and the margin below which none can be.

use std::collections::BinaryHeap;

use crate::search::bar::SLACK;
use crate::search::pruned::Job;
use crate::search::ranking::{Entry, Floor, Kept};

/// How many hopeful candidates a task holds before it looks again at which of them are still hopeful.
const MOST_HOPEFULS: usize = 8192;
/// More hopeful candidates than this are compared with each other before they are evaluated.
const HOPEFULS_WORTH_THINNING: usize = 256;

/// A candidate that may be among the first.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hopeful {
    pub(super) number: usize,
    pub(super) outer: u64,
    pub(super) cell: [usize; 2],
    /// As the lanes have it; infinite where they cannot be trusted.
    pub(super) margin: f64,
}

/// Candidates found so far that may be among the first.
pub(super) struct Gathered {
    /// What the sample or earlier waves are sure of.
    least: f64,
    floor: Floor,
    hopefuls: Vec<Hopeful>,
    /// What was evaluated by the definition already.
    pub(super) settled: Kept,
    /// The first of those that nothing exceeds in the planes at hand.
    pub(super) leaders: Leaders,
}

impl Gathered {
    pub(super) fn new(top: usize, least: f64) -> Self {
        Self {
            least,
            floor: Floor::new(top),
            hopefuls: Vec::new(),
            settled: Kept::new(top),
            leaders: Leaders::new(top),
        }
    }

    /// The lanes' margins are right to [`SLACK`], so the floor they make may lie too high by as much.
    pub(super) fn threshold(&self) -> f64 {
        self.least.max(self.floor.margin() - SLACK).max(self.settled.floor())
    }

    pub(super) fn add(&mut self, hopeful: Hopeful) {
        if hopeful.margin.is_finite() {
            self.floor.count(hopeful.margin);
        }
        self.hopefuls.push(hopeful);
    }

    /// Takes in a candidate whose margin by the definition is known.
    pub(super) fn settle(&mut self, margin: f64, hopeful: Hopeful, entry: impl FnOnce() -> Entry) {
        self.floor.count(hopeful.margin);
        self.settled.offer(margin, entry);
    }

    /// Drops what has fallen below the threshold.
    pub(super) fn clear_out(&mut self) {
        let threshold = self.threshold() - SLACK;
        self.hopefuls.retain(|hopeful| hopeful.margin >= threshold);
    }

    /// Evaluates what cannot be told apart, as when nothing matters, once there is too much of it to hold.
    pub(super) fn relieve(&mut self, job: &Job<'_>) {
        if self.hopefuls.len() > MOST_HOPEFULS {
            self.clear_out();
            if self.hopefuls.len() > MOST_HOPEFULS / 2 {
                self.thin_out(job);
            }
            if self.hopefuls.len() > MOST_HOPEFULS / 2 {
                job.settle_some(&self.hopefuls, &mut self.settled);
                self.hopefuls.clear();
            }
        }
    }

    /// Drops every candidate that enough others precede whatever their margins are exactly: others that have no smaller margin for certain and come
    /// first inside a group, as [`Kept`] does by exact margins.
    fn thin_out(&mut self, job: &Job<'_>) {
        let mut entries: Vec<(Entry, Hopeful)> = self
            .hopefuls
            .drain(..)
            .filter_map(|hopeful| Some((job.entry(hopeful.margin, hopeful.number, &job.choices(&hopeful)?), hopeful)))
            .collect();
        entries.sort_by(|(one, _), (other, _)| one.compare_in_group(other));
        let mut before = Floor::new(job.top);
        for (_, hopeful) in entries {
            // Where the lanes cannot tell, the margin is infinite.
            if before.least().is_none_or(|least| hopeful.margin + SLACK > least) {
                self.hopefuls.push(hopeful);
            }
            if hopeful.margin.is_finite() {
                before.count(hopeful.margin - SLACK);
            }
        }
    }

    /// The hopeful candidates that have to be evaluated by the definition.
    pub(super) fn take(&mut self, job: &Job<'_>) -> Vec<Hopeful> {
        self.clear_out();
        if self.hopefuls.len() > HOPEFULS_WORTH_THINNING.max(2 * job.top) {
            self.thin_out(job);
        }
        std::mem::take(&mut self.hopefuls)
    }

    /// How many candidates have that margin for certain, as far as is known.
    pub(super) fn certain(&self, least: f64) -> usize {
        let is_above = |hopeful: &&Hopeful| hopeful.margin.is_finite() && hopeful.margin >= least + SLACK;
        self.hopefuls.iter().filter(is_above).count() + self.settled.count_above(least)
    }

    pub(super) fn merge(&mut self, other: Self) {
        self.floor.merge(&other.floor);
        self.settled.merge(other.settled);
        self.hopefuls.extend(other.hopefuls);
        self.clear_out();
    }
}

/// The first, by their numbers, of those that have the margin which nothing in their planes exceeds: what comes behind enough of them is not
/// among the first. Kept for one choice of the other slots at a time.
pub(super) struct Leaders {
    top: usize,
    planes: (usize, u64),
    /// The last on top.
    first: BinaryHeap<u64>,
}

impl Leaders {
    fn new(top: usize) -> Self {
        Self {
            top,
            planes: (0, 0),
            first: BinaryHeap::new(),
        }
    }

    /// Adds a candidate of some planes.
    pub(super) fn add(&mut self, planes: (usize, u64), index: u64) {
        if self.planes != planes {
            self.planes = planes;
            self.first.clear();
        }
        self.first.push(index);
        if self.first.len() > self.top {
            self.first.pop();
        }
    }

    /// Whether there are enough to discard anything.
    pub(super) fn are_enough(&self) -> bool {
        self.first.len() == self.top
    }

    /// Whether enough candidates precede one of the same planes.
    pub(super) fn precede(&self, planes: (usize, u64), index: u64) -> bool {
        self.planes == planes && self.are_enough() && self.first.peek().is_some_and(|last| *last < index)
    }
}
