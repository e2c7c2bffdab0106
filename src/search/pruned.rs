//! The fast search: every candidate is either evaluated by the definition or discarded by proof.
//!
//! A space is taken apart into planes of two parts (`form`), one plane for each choice of all other parts. A plane is cut into
//! rectangles, each asked whole (`screen`); what stays open goes through the vector lanes, which also tell a margin that is
//! right to a millionth of a dB. The threshold is the smallest margin that can still be among the first; it rises between waves of tasks and
//! inside a task, never across tasks of one wave, so that neither result nor count depends on the number of threads. Only what is
//! above it in the end is evaluated by the definition, which alone decides ranks and figures.

use std::ops::Range;
use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use crate::guitar::Slot;
use crate::kernel::lanes::Isa;
use crate::kernel::plan::Plan;
use crate::parts::network::Network;
use crate::parts::stock::Stock;
use crate::progress::Progress;
use crate::search::bar::SLACK;
use crate::search::exhaustive::{Evaluator, Found, entry, fits_stock};
use crate::search::folded::Folded;
use crate::search::form::Form;
use crate::search::gathered::{Gathered, Hopeful};
use crate::search::ranking::{Entry, GROUP_WIDTH, Kept};
use crate::search::sample::Sample;
use crate::search::screen::{Site, sites};
use crate::search::space::Space;
use crate::search::worker::Worker;

/// Tasks that run before the threshold is shared, and where a search may end early.
const TASKS_IN_A_WAVE: usize = 128;
const TASKS_BEFORE_A_LOOK: usize = 4;
/// Points of a plan that are prepared at the same time, over all threads: each costs about a kilobyte.
const MOST_PREPARED: usize = 150_000;
/// Tasks that a space is cut into at most, so that they can be listed whatever the space's size.
const MOST_TASKS: u64 = 1 << 14;
/// Choices of the outer parts in a task at least.
const SMALLEST_TASK: u64 = 8;
/// How many choices of the outer parts are sampled for the first threshold, and how many where one is known and the sample has only to tell
/// which combinations bind.
const OUTER_SAMPLES: u64 = 8;
const OUTER_SAMPLES_ABOVE: u64 = 2;
/// How many hopeful candidates are evaluated in one go.
const HOPEFULS_IN_A_TASK: usize = 32;

/// How the search goes about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Method {
    /// Whether rectangles are asked whole and points are abandoned early.
    pub prune: bool,
    /// The instruction set.
    pub isa: Isa,
}

impl Method {
    /// Pruned, with the best instruction set there is.
    #[must_use]
    pub fn best() -> Self {
        Self {
            prune: true,
            isa: Isa::detect(),
        }
    }
}

/// Searches the spaces together; see [`exhaustive::search`](super::exhaustive::search). What is found is exact if the best margin is not
/// below `least`: everything down to a group's width under it is kept, and all that is kept is given, ranked.
pub(crate) fn search_above(
    plan: &Plan,
    spaces: &[Space],
    stock: Option<&Stock>,
    top: usize,
    least: f64,
    method: Method,
    progress: &dyn Progress,
) -> Found {
    let (job, sites) = Job::new(plan, spaces, stock, top, method);
    progress.expect(spaces.iter().map(Space::index_count).fold(0, u64::saturating_add));
    let (gathered, spent) = job.gather(sites, least, TASKS_IN_A_WAVE, |_| false, progress);
    Found {
        entries: job.settle(gathered).all(),
        evaluated: spent.iter().map(|spent| spent.candidates(plan)).collect(),
    }
}

/// See [`exhaustive::all_above`](super::exhaustive::all_above). Stops as soon as it is certain that there are too many.
pub(crate) fn all_above(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, least: f64, most: usize) -> Option<Vec<Entry>> {
    let (job, sites) = Job::new(plan, spaces, stock, most.saturating_add(1), Method::best());
    let too_many = |gathered: &Gathered| gathered.certain(least) > most;
    let (gathered, _) = job.gather(sites, least, TASKS_BEFORE_A_LOOK, too_many, &());
    if too_many(&gathered) {
        return None;
    }
    let above: Vec<Entry> = job
        .settle(gathered)
        .all()
        .into_iter()
        .filter(|entry| entry.margin >= least)
        .collect();
    (above.len() <= most).then_some(above)
}

/// The margin of every candidate in dB, right to a millionth: calls `visit` with the number of its space, its index there and its margin,
/// `None` where it is silent or breaks a guard. What lies within `near` of zero, and what the lanes cannot tell, is by the definition, so
/// that its sign is certain. Ends early, and with `false`, once `is_over` says so.
pub fn every_margin(
    plan: &Plan,
    spaces: &[Space],
    stock: Option<&Stock>,
    near: f64,
    is_over: &dyn Fn() -> bool,
    visit: &mut dyn FnMut(usize, u64, Option<f64>),
) -> bool {
    let method = Method {
        prune: false,
        ..Method::best()
    };
    let (job, sites) = Job::new(plan, spaces, stock, 1, method);
    let mut evaluator = Evaluator::new(plan);
    for (number, form) in job.forms.iter().enumerate() {
        let Some(form) = form else {
            if job.is_admissible(&spaces[number], &[]) {
                visit(number, 0, job.margin(&mut evaluator, &spaces[number], &[]));
            }
            continue;
        };
        let folded = Shared::new();
        let mut worker = Worker::new(&job, form, number, (&sites, &folded), [0; 2]);
        for outer in 0..form.outer_count() {
            if is_over() {
                return false;
            }
            worker.every_margin(outer, &mut |choices, margin| {
                let told = margin.is_finite() && margin.abs() > near;
                let margin = if margin == f64::NEG_INFINITY {
                    None
                } else if told {
                    Some(margin)
                } else {
                    job.margin(&mut evaluator, &spaces[number], choices)
                };
                visit(number, spaces[number].index(choices), margin);
            });
        }
    }
    true
}

/// Work done, in whole candidates and in points of abandoned ones.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Spent {
    pub(super) complete: u64,
    pub(super) points: u64,
}

impl Spent {
    fn add(&mut self, other: Self) {
        self.complete += other.complete;
        self.points += other.points;
    }

    fn candidates(self, plan: &Plan) -> f64 {
        self.complete as f64 + self.points as f64 / plan.points.len().max(1) as f64
    }
}

/// What is fixed where the other slots of a space have one choice: made once, by the worker that needs it first.
pub(super) type Shared = OnceLock<Arc<Folded>>;

/// What every task of a search needs.
pub(super) struct Job<'j> {
    pub(super) plan: &'j Plan,
    spaces: &'j [Space],
    pub(super) forms: Vec<Option<Form<'j>>>,
    pub(super) stock: Option<&'j Stock>,
    pub(super) top: usize,
    pub(super) method: Method,
    /// The margin that no candidate exceeds.
    pub(super) most: f64,
    /// For each space, whether candidates of one margin rank by their numbers.
    pub(super) is_in_order: Vec<bool>,
}

/// A stretch of the outer choices of a space.
struct Task {
    number: usize,
    outer: Range<u64>,
}

impl Task {
    fn new(number: usize, outer: Range<u64>) -> Self {
        Self { number, outer }
    }
}

impl<'j> Job<'j> {
    /// With the combinations that can discard candidates.
    fn new(plan: &'j Plan, spaces: &'j [Space], stock: Option<&'j Stock>, top: usize, method: Method) -> (Self, Vec<Site>) {
        let (sites, most) = sites(plan);
        let job = Self {
            plan,
            stock,
            top,
            method,
            most,
            is_in_order: spaces.iter().map(|space| ranks_by_number(space, stock)).collect(),
            forms: spaces.iter().map(Form::new).collect(),
            spaces,
        };
        (job, sites)
    }

    /// Everything that may be among the first, and what was spent on each space; stops early where it is enough.
    fn gather(
        &self,
        sites: Vec<Site>,
        least: f64,
        tasks_in_a_wave: usize,
        is_enough: impl Fn(&Gathered) -> bool,
        progress: &dyn Progress,
    ) -> (Gathered, Vec<Spent>) {
        let planes = if least == f64::NEG_INFINITY {
            OUTER_SAMPLES
        } else {
            OUTER_SAMPLES_ABOVE
        };
        let sample = self.sample(sites, planes);
        let mut gathered = Gathered::new(self.top, sample.threshold.max(least - GROUP_WIDTH - SLACK));
        let mut spent = vec![Spent::default(); self.spaces.len()];
        // The planes that the sample found best are a wave of their own, so that the threshold is up before the rest begins.
        let promising: Vec<Task> = sample
            .promising
            .iter()
            .map(|(number, outer)| Task::new(*number, *outer..*outer + 1))
            .collect();
        let tasks = self.tasks(&sample.promising);
        for wave in std::iter::once(&promising[..]).chain(tasks.chunks(tasks_in_a_wave)) {
            let threshold = gathered.threshold();
            let run = |task| self.run(task, threshold, &sample, progress);
            let at_once = (MOST_PREPARED / self.plan.points.len().max(1)).max(1);
            let done = wave.chunks(at_once).flat_map(|tasks| tasks.par_iter().map(run).collect::<Vec<_>>());
            for (task, (found, cost)) in wave.iter().zip(done) {
                gathered.merge(found);
                spent[task.number].add(cost);
            }
            if is_enough(&gathered) {
                break;
            }
        }
        (gathered, spent)
    }

    /// Everything but the planes already taken.
    fn tasks(&self, taken: &[(usize, u64)]) -> Vec<Task> {
        let mut tasks = Vec::new();
        for (number, form) in self.forms.iter().enumerate() {
            let count = form.as_ref().map_or(1, Form::outer_count);
            let size = SMALLEST_TASK.max(count.div_ceil(MOST_TASKS));
            let mut ends: Vec<u64> = taken.iter().filter(|plane| plane.0 == number).map(|plane| plane.1).collect();
            ends.sort_unstable();
            let mut start = 0;
            for end in ends.into_iter().chain([count]) {
                let cut = (start..end).step_by(usize::try_from(size).unwrap_or(usize::MAX));
                tasks.extend(cut.map(|from| Task::new(number, from..from.saturating_add(size).min(end))));
                start = end + 1;
            }
        }
        tasks
    }

    fn run(&self, task: &Task, threshold: f64, sample: &Sample, progress: &dyn Progress) -> (Gathered, Spent) {
        let mut gathered = Gathered::new(self.top, threshold);
        let mut spent = Spent::default();
        match &self.forms[task.number] {
            None => {
                let mut evaluator = Evaluator::new(self.plan);
                let space = &self.spaces[task.number];
                spent.complete += u64::from(self.evaluate(&mut evaluator, space, task.number, &[], &mut gathered.settled));
                progress.advance(1);
            }
            Some(form) => {
                let mut worker = Worker::new(
                    self,
                    form,
                    task.number,
                    (&sample.order, &sample.folded[task.number]),
                    sample.hints[task.number],
                );
                worker.planes(task.outer.clone(), &mut gathered);
                let plane: u64 = form.sides().iter().map(|side| *side as u64).product();
                progress.advance(plane.saturating_mul(task.outer.end - task.outer.start));
                gathered.clear_out();
                spent = worker.spent;
            }
        }
        (gathered, spent)
    }

    /// Evaluates what is left by the definition.
    fn settle(&self, mut gathered: Gathered) -> Kept {
        let hopefuls = gathered.take(self);
        let mut settled = std::mem::replace(&mut gathered.settled, Kept::new(self.top));
        let parts: Vec<Kept> = hopefuls
            .par_chunks(HOPEFULS_IN_A_TASK)
            .map(|hopefuls| {
                let mut kept = Kept::new(self.top);
                self.settle_some(hopefuls, &mut kept);
                kept
            })
            .collect();
        for part in parts {
            settled.merge(part);
        }
        settled
    }

    pub(super) fn settle_some(&self, hopefuls: &[Hopeful], kept: &mut Kept) {
        let mut evaluator = Evaluator::new(self.plan);
        for hopeful in hopefuls {
            if let Some(choices) = self.choices(hopeful) {
                self.evaluate(&mut evaluator, &self.spaces[hopeful.number], hopeful.number, &choices, kept);
            }
        }
    }

    /// The choices of a candidate; `None` of a space without a free part, which has none that is only hopeful.
    pub(super) fn choices(&self, hopeful: &Hopeful) -> Option<Vec<usize>> {
        let form = self.forms[hopeful.number].as_ref()?;
        let mut choices = vec![0; form.space.parts().count()];
        form.set_outer(hopeful.outer, &mut choices);
        form.set_cell(hopeful.cell, &mut choices);
        Some(choices)
    }

    /// A candidate with everything its rank depends on.
    pub(super) fn entry(&self, margin: f64, number: usize, choices: &[usize]) -> Entry {
        entry(margin, &self.spaces[number], number, choices, self.stock)
    }

    /// Evaluates one candidate by the definition; whether there was one to evaluate.
    pub(super) fn evaluate(&self, evaluator: &mut Evaluator<'_>, space: &Space, number: usize, choices: &[usize], kept: &mut Kept) -> bool {
        if !self.is_admissible(space, choices) {
            return false;
        }
        if let Some(margin) = self.margin(evaluator, space, choices) {
            kept.offer(margin, || self.entry(margin, number, choices));
        }
        true
    }

    /// The margin of one candidate by the definition; `None` if it is silent or does not keep the guards.
    pub(super) fn margin(&self, evaluator: &mut Evaluator<'_>, space: &Space, choices: &[usize]) -> Option<f64> {
        let fitted: Vec<(Slot, Option<&Network>)> = space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect();
        evaluator.kept(&fitted, &space.values(choices)).map(|worst| worst.margin)
    }

    /// Whether interchangeable parts are in order and there are enough pieces.
    pub(super) fn is_admissible(&self, space: &Space, choices: &[usize]) -> bool {
        space.in_order(choices) && fits_stock(self.stock, space, choices)
    }
}

/// Whether candidates of a space that have the same margin rank by their numbers: as many parts each and no prices, and then values in written
/// order, smaller first.
fn ranks_by_number(space: &Space, stock: Option<&Stock>) -> bool {
    stock.is_none_or(|stock| !stock.has_prices()) && space.parts().all(|part| part.pairs.is_empty())
}
