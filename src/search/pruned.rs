//! The fast search: every candidate is either evaluated by the definition or discarded by proof.
//!
//! A space is taken apart into planes of two parts (`form`), one plane for each choice of all other parts. A plane is cut into
//! rectangles, each asked whole (`screen`); what stays open goes through the vector lanes, which also tell a margin that is
//! right to a millionth of a dB. The threshold is the smallest margin that can still be among the first; it rises between waves of tasks and
//! inside a task, never across tasks of one wave, so that neither result nor count depends on the number of threads. Only what is
//! above it in the end is evaluated by the definition, which alone decides ranks and figures.

use rayon::prelude::*;

use crate::circuit::ports::MOST_SLOTS;
use crate::guitar::Slot;
use crate::kernel::evaluate::{SlotAdmittances, laplace};
use crate::kernel::lanes::{Block, Isa, LANES, Rectangle};
use crate::kernel::plan::Plan;
use crate::parts::network::{Admittance, Network};
use crate::parts::stock::Stock;
use crate::progress::Progress;
use crate::search::exhaustive::{Evaluator, Found, entry, fits_stock};
use crate::search::form::{Form, Moebius};
use crate::search::ranking::{Floor, GROUP_WIDTH, Kept};
use crate::search::screen::{Around, Prepared, ReferenceRatios, SLACK, Scratch, Site, Terms, sites};
use crate::search::space::Space;

/// Tasks that run before the threshold is shared.
const TASKS_IN_A_WAVE: usize = 32;
/// Tasks that a space is cut into at most, so that they can be listed whatever the space's size.
const MOST_TASKS: u64 = 1 << 14;
/// Choices of the outer parts in a task at least.
const SMALLEST_TASK: u64 = 8;
/// How many combinations a rectangle is asked about, those that bind most often first: asking costs about as much as a block of lanes.
const COMBINATIONS_ASKED: usize = 2;
/// How many of the planes that a sample found best are searched first.
const PROMISING_PLANES: usize = 6;
/// By how much, in dB, the threshold must have risen for the points of a plane to be prepared anew.
const WORTH_PREPARING_ANEW: f64 = 0.05;
/// How many hopeful candidates a task holds before it looks again at which of them are still hopeful.
const MOST_HOPEFULS: usize = 8192;
/// How many hopeful candidates are evaluated in one go.
const HOPEFULS_IN_A_TASK: usize = 32;
/// A rectangle of so few candidates goes to the lanes without being asked.
const LEAF: usize = 32;
/// How many choices of the outer parts, and of each axis, are sampled for the first threshold.
const OUTER_SAMPLES: u64 = 8;
const AXIS_SAMPLES: usize = 8;

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

/// Searches the spaces together; see [`exhaustive::search`](super::exhaustive::search).
pub(crate) fn search(plan: &Plan, spaces: &[Space], stock: Option<&Stock>, top: usize, method: Method, progress: &dyn Progress) -> Found {
    let job = Job {
        plan,
        stock,
        top,
        method,
        forms: spaces.iter().map(Form::new).collect(),
        spaces,
    };
    progress.expect(spaces.iter().map(Space::index_count).fold(0, u64::saturating_add));
    let sample = job.sample();
    let mut gathered = Gathered::new(top, sample.threshold);
    let mut spent = vec![Spent::default(); spaces.len()];
    let tasks = job.tasks(&sample);
    for wave in tasks.chunks(TASKS_IN_A_WAVE) {
        let threshold = gathered.threshold();
        let done: Vec<_> = wave.par_iter().map(|task| job.run(task, threshold, &sample, progress)).collect();
        for (task, (found, cost)) in wave.iter().zip(done) {
            gathered.merge(found);
            spent[task.number].add(cost);
        }
    }
    Found {
        entries: job.settle(gathered).ranked(),
        evaluated: spent.iter().map(|spent| spent.candidates(plan)).collect(),
    }
}

/// A candidate that may be among the first.
#[derive(Debug, Clone, Copy)]
struct Hopeful {
    number: usize,
    outer: u64,
    cell: [usize; 2],
    /// As the lanes have it; infinite where they cannot be trusted.
    margin: f64,
}

/// Candidates found so far that may be among the first.
struct Gathered {
    /// What the sample or earlier waves are sure of.
    least: f64,
    floor: Floor,
    hopefuls: Vec<Hopeful>,
    /// What was evaluated because there were too many to hold.
    settled: Kept,
}

impl Gathered {
    fn new(top: usize, least: f64) -> Self {
        Self {
            least,
            floor: Floor::new(top),
            hopefuls: Vec::new(),
            settled: Kept::new(top),
        }
    }

    /// The lanes' margins are right to [`SLACK`], so the floor they make may lie too high by as much.
    fn threshold(&self) -> f64 {
        self.least.max(self.floor.margin() - SLACK).max(self.settled.floor())
    }

    fn add(&mut self, hopeful: Hopeful) {
        if hopeful.margin.is_finite() {
            self.floor.count(hopeful.margin);
        }
        self.hopefuls.push(hopeful);
    }

    /// Drops what has fallen below the threshold.
    fn clear_out(&mut self) {
        let threshold = self.threshold() - SLACK;
        self.hopefuls.retain(|hopeful| hopeful.margin >= threshold);
    }

    fn merge(&mut self, other: Self) {
        self.floor.merge(&other.floor);
        self.settled.merge(other.settled);
        self.hopefuls.extend(other.hopefuls);
        self.clear_out();
    }
}

/// Work done, in whole candidates and in points of abandoned ones.
#[derive(Debug, Clone, Copy, Default)]
struct Spent {
    complete: u64,
    points: u64,
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

struct Job<'j> {
    plan: &'j Plan,
    spaces: &'j [Space],
    forms: Vec<Option<Form<'j>>>,
    stock: Option<&'j Stock>,
    top: usize,
    method: Method,
}

/// A stretch of the outer choices of a space.
struct Task {
    number: usize,
    outer: std::ops::Range<u64>,
}

/// What a sample of candidates tells before the search.
struct Sample {
    /// A margin that the `top` first are sure not to fall below, in dB.
    threshold: f64,
    /// The combinations, those that bind most often first.
    order: Vec<Site>,
    /// Space and outer choices of the planes that hold the best of the sample.
    promising: Vec<(usize, u64)>,
    /// For each space, the cell of the best of its sample.
    hints: Vec<[usize; 2]>,
}

/// A candidate of the sample.
struct Sampled {
    margin: f64,
    number: usize,
    outer: u64,
    cell: [usize; 2],
}

impl<'j> Job<'j> {
    /// The planes that the sample found best come first, each a task of its own: they raise the threshold for all others.
    fn tasks(&self, sample: &Sample) -> Vec<Task> {
        let promising = |number: usize, outer: u64| Task {
            number,
            outer: outer..outer + 1,
        };
        let mut tasks: Vec<Task> = sample.promising.iter().map(|(number, outer)| promising(*number, *outer)).collect();
        // A wave of their own, so that the threshold is up before the rest begins.
        tasks.truncate(TASKS_IN_A_WAVE);
        let first: Vec<(usize, u64)> = tasks.iter().map(|task| (task.number, task.outer.start)).collect();
        for (number, form) in self.forms.iter().enumerate() {
            let count = form.as_ref().map_or(1, Form::outer_count);
            let size = SMALLEST_TASK.max(count.div_ceil(MOST_TASKS));
            let mut done: Vec<u64> = first.iter().filter(|task| task.0 == number).map(|task| task.1).collect();
            done.sort_unstable();
            let mut start = 0;
            for end in done.into_iter().chain([count]) {
                let cut = (start..end).step_by(usize::try_from(size).unwrap_or(usize::MAX));
                tasks.extend(cut.map(|from| Task {
                    number,
                    outer: from..from.saturating_add(size).min(end),
                }));
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
                let mut worker = Worker::new(self, form, task.number, &sample.order);
                worker.hint = sample.hints[task.number];
                for outer in task.outer.clone() {
                    worker.plane(outer, &mut gathered);
                    progress.advance(worker.plane_size());
                }
                gathered.clear_out();
                spent = worker.spent;
            }
        }
        (gathered, spent)
    }

    /// Evaluates what is left by the definition.
    fn settle(&self, mut gathered: Gathered) -> Kept {
        gathered.clear_out();
        let mut settled = std::mem::replace(&mut gathered.settled, Kept::new(self.top));
        let parts: Vec<Kept> = gathered
            .hopefuls
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

    fn settle_some(&self, hopefuls: &[Hopeful], kept: &mut Kept) {
        let mut evaluator = Evaluator::new(self.plan);
        for hopeful in hopefuls {
            if let Some(form) = &self.forms[hopeful.number] {
                let choices = form.choices(hopeful.outer, hopeful.cell);
                self.evaluate(&mut evaluator, form.space, hopeful.number, &choices, kept);
            }
        }
    }

    /// Evaluates one candidate by the definition; whether there was one to evaluate.
    fn evaluate(&self, evaluator: &mut Evaluator<'_>, space: &Space, number: usize, choices: &[usize], kept: &mut Kept) -> bool {
        let values = space.values(choices);
        if !space.in_order(choices) || !fits_stock(self.stock, space, &values) {
            return false;
        }
        let fitted: Vec<(Slot, Option<&Network>)> = space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect();
        if let Some(worst) = evaluator.worst(&fitted, &values) {
            kept.offer(worst.margin, || entry(worst.margin, space, number, &values, self.stock));
        }
        true
    }

    /// A coarse sample of every space: the first threshold, and which combinations bind.
    fn sample(&self) -> Sample {
        let (order, most) = sites(self.plan);
        let mut binding = vec![0_u64; order.len()];
        let mut margins: Vec<Sampled> = Vec::new();
        for (number, form) in self.forms.iter().enumerate() {
            if let Some(form) = form {
                Worker::new(self, form, number, &order).sample(&mut margins, &mut binding);
            }
        }
        let place = |sampled: &Sampled| (sampled.number, sampled.outer, sampled.cell);
        margins.sort_by(|one, other| other.margin.total_cmp(&one.margin).then_with(|| place(one).cmp(&place(other))));
        let mut promising: Vec<(usize, u64)> = Vec::new();
        let mut hints = vec![[0; 2]; self.forms.len()];
        for sampled in margins.iter().rev() {
            hints[sampled.number] = sampled.cell;
        }
        for sampled in &margins {
            let plane = (sampled.number, sampled.outer);
            if promising.len() < PROMISING_PLANES && !promising.contains(&plane) {
                promising.push(plane);
            }
        }
        let mut ranked: Vec<usize> = (0..order.len()).collect();
        ranked.sort_by_key(|site| (std::cmp::Reverse(binding[*site]), *site));
        let nth = margins
            .get(self.top - 1)
            .map(|sampled| sampled.margin.min(most) - GROUP_WIDTH - SLACK);
        Sample {
            threshold: nth.unwrap_or(f64::NEG_INFINITY),
            order: ranked.into_iter().map(|site| order[site]).collect(),
            promising,
            hints,
        }
    }
}

/// Goes through planes of one space.
struct Worker<'w> {
    job: &'w Job<'w>,
    form: &'w Form<'w>,
    number: usize,
    order: &'w [Site],
    evaluator: Evaluator<'w>,
    /// Choice of every part; those of the axes are set per candidate.
    choices: Vec<usize>,
    /// Value of every part.
    values: Vec<f64>,
    /// For which choices of the other slots the terms are folded.
    folded_for: Option<u64>,
    admittances: Vec<SlotAdmittances>,
    terms: Vec<Terms>,
    references: Vec<ReferenceRatios>,
    maps: Vec<Moebius>,
    prepared: Vec<Prepared>,
    is_prepared: Vec<bool>,
    scratch: Scratch,
    spent: Spent,
    /// The plane at hand.
    outer: u64,
    /// The margin that no candidate exceeds.
    most: f64,
    /// The best cell of the last plane, or of the sample, and the best margin of the plane at hand.
    hint: [usize; 2],
    best_here: f64,
}

/// A rectangle of choices, upper ends excluded.
#[derive(Clone, Copy)]
struct Cut {
    rows: [usize; 2],
    columns: [usize; 2],
}

impl<'w> Worker<'w> {
    fn new(job: &'w Job<'w>, form: &'w Form<'w>, number: usize, order: &'w [Site]) -> Self {
        let parts = form.space.parts().count();
        Self {
            job,
            form,
            number,
            order,
            evaluator: Evaluator::new(job.plan),
            choices: vec![0; parts],
            values: form.space.parts().map(|part| part.values[0]).collect(),
            folded_for: None,
            admittances: vec![[Admittance::OPEN; MOST_SLOTS]; job.plan.frequencies.len()],
            terms: Vec::with_capacity(job.plan.points.len()),
            references: Vec::with_capacity(order.len()),
            maps: Vec::with_capacity(job.plan.frequencies.len()),
            prepared: vec![Prepared::default(); order.len()],
            is_prepared: vec![false; order.len()],
            scratch: Scratch::default(),
            spent: Spent::default(),
            outer: 0,
            most: sites(job.plan).1,
            hint: [0; 2],
            best_here: f64::NEG_INFINITY,
        }
    }

    fn plane_size(&self) -> u64 {
        self.form.axes.iter().map(|axis| axis.weights.len() as u64).product()
    }

    fn sides(&self) -> [usize; 2] {
        [
            self.form.axes[0].weights.len(),
            self.form.axes.get(1).map_or(1, |axis| axis.weights.len()),
        ]
    }

    /// Searches one plane.
    fn plane(&mut self, outer: u64, gathered: &mut Gathered) {
        let sides = self.sides();
        let whole = Cut {
            rows: [0, sides[0]],
            columns: [0, sides[1]],
        };
        if !self.set_outer(outer) {
            self.evaluate_all(whole, &mut gathered.settled);
            return;
        }
        self.is_prepared.fill(false);
        let mut threshold = gathered.threshold() - SLACK;
        self.outer = outer;
        self.best_here = f64::NEG_INFINITY;
        // What lies around the best of the plane before comes first: it raises the threshold for the rest.
        let hint = self.hint;
        let mut open = vec![whole];
        while let Some(cut) = open.pop() {
            if self.job.method.prune && gathered.threshold() - SLACK > threshold + WORTH_PREPARING_ANEW {
                threshold = gathered.threshold() - SLACK;
                self.is_prepared.fill(false);
            }
            if self.job.method.prune && cut.count() > LEAF {
                if !self.discards(&cut, threshold) {
                    open.extend(cut.halves(hint));
                }
            } else {
                self.leaf(cut, threshold, gathered);
            }
        }
    }

    /// Puts in the choices outside the plane; `false` where the plane has no form as a ratio of first degree.
    fn set_outer(&mut self, outer: u64) -> bool {
        let mut rest = outer;
        let mut others = 0;
        let sizes = self.form.outer_sizes();
        for (position, (part, size)) in self.form.outer.iter().zip(sizes).enumerate().rev() {
            if position + 1 == self.form.in_other_slots {
                others = rest;
            }
            self.choices[*part] = (rest % size) as usize;
            rest /= size;
        }
        for (number, part) in self.form.space.parts().enumerate() {
            self.values[number] = part.values[self.choices[number]];
        }
        if self.folded_for != Some(others) {
            self.fold_other_slots();
            self.folded_for = Some(others);
        }
        let own = self.form.slot_values(&self.values);
        self.maps.clear();
        let frequencies = self.job.plan.frequencies.iter();
        self.maps
            .extend(frequencies.map_while(|frequency| self.form.moebius(laplace(*frequency), own)));
        self.maps.len() == self.job.plan.frequencies.len()
    }

    fn fold_other_slots(&mut self) {
        let plan = self.job.plan;
        let mut first = 0;
        for (position, slot) in self.form.space.slots.iter().enumerate() {
            let values = &self.values[first..first + slot.parts.len()];
            first += slot.parts.len();
            if position == self.form.slot {
                continue;
            }
            for (row, frequency) in self.admittances.iter_mut().zip(&plan.frequencies) {
                row[position] = match &slot.network {
                    Some(network) => network.admittance(laplace(*frequency), values),
                    None if slot.slot == Slot::Series => Admittance::Short,
                    None => Admittance::OPEN,
                };
            }
        }
        let fold = |point: &crate::kernel::plan::Point| {
            crate::search::screen::terms(&point.reduction, self.form.slot, &self.admittances[point.frequency])
        };
        self.terms.clear();
        self.terms.extend(plan.points.iter().map(fold));
        self.references.clear();
        self.references
            .extend(self.order.iter().map(|site| ReferenceRatios::new(plan, *site, &self.terms)));
    }

    fn prepare(&mut self, site: usize, threshold: f64) {
        if !self.is_prepared[site] {
            let around = Around {
                plan: self.job.plan,
                form: self.form,
                terms: &self.terms,
                maps: &self.maps,
            };
            around.prepare(self.order[site], &self.references[site], threshold, &mut self.prepared[site]);
            self.is_prepared[site] = true;
        }
    }

    /// Whether no candidate of a rectangle can reach the threshold.
    fn discards(&mut self, cut: &Cut, threshold: f64) -> bool {
        let rectangle = self.rectangle(cut);
        (0..self.order.len()).take(COMBINATIONS_ASKED).any(|site| {
            self.prepare(site, threshold);
            self.prepared[site].breaks_all_over(self.job.method.isa, &rectangle, &mut self.scratch)
        })
    }

    fn rectangle(&self, cut: &Cut) -> Rectangle {
        let mut rectangle = Rectangle { u: [0.0; 2], w: [0.0; 2] };
        for (axis, ends) in self.form.axes.iter().zip([cut.rows, cut.columns]) {
            let (one, other) = (axis.weights[ends[0]], axis.weights[ends[1] - 1]);
            let side = if axis.reactive { &mut rectangle.w } else { &mut rectangle.u };
            *side = [side[0] + one.min(other), side[1] + one.max(other)];
        }
        rectangle
    }

    /// Sends every candidate of a rectangle through the lanes, and gathers those that stay alive.
    fn leaf(&mut self, cut: Cut, threshold: f64, gathered: &mut Gathered) {
        let cells: Vec<[usize; 2]> = cut.cells().collect();
        for some in cells.chunks(LANES) {
            let block = self.block(some);
            let mut alive: [bool; LANES] = std::array::from_fn(|lane| lane < some.len());
            let mut points = 0;
            for site in 0..self.order.len() {
                self.prepare(site, threshold);
                let method = self.job.method;
                let (passes, done) = self.prepared[site].alive(method.isa, method.prune, &block, &mut self.scratch);
                points += done as u64;
                for (alive, passes) in alive.iter_mut().zip(passes) {
                    *alive &= passes;
                }
                if self.job.method.prune && !alive.contains(&true) {
                    break;
                }
            }
            let margins = if alive.contains(&true) {
                self.margins(&block, threshold)
            } else {
                [0.0; LANES]
            };
            for ((cell, alive), margin) in some.iter().zip(alive).zip(margins) {
                if !alive {
                    self.spent.points += points;
                } else if self.admissible(*cell) {
                    self.spent.complete += 1;
                    if margin.is_finite() && margin > self.best_here {
                        (self.best_here, self.hint) = (margin, *cell);
                    }
                    gathered.add(Hopeful {
                        number: self.number,
                        outer: self.outer,
                        cell: *cell,
                        margin,
                    });
                }
            }
        }
        if gathered.hopefuls.len() > MOST_HOPEFULS {
            gathered.clear_out();
            if gathered.hopefuls.len() > MOST_HOPEFULS / 2 {
                // Too many that cannot be told apart, as when nothing matters: they are ranked here and now.
                self.job.settle_some(&gathered.hopefuls, &mut gathered.settled);
                gathered.hopefuls.clear();
            }
        }
    }

    /// Margins of a block as the lanes have them, in dB; infinite where they cannot be trusted.
    fn margins(&mut self, block: &Block, threshold: f64) -> [f64; LANES] {
        let mut least = [f64::INFINITY; LANES];
        for site in 0..self.order.len() {
            self.prepare(site, threshold);
            let Some(room) = self.prepared[site].room(self.job.method.isa, block, &mut self.scratch) else {
                return [f64::INFINITY; LANES];
            };
            for (least, room) in least.iter_mut().zip(room) {
                *least = least.min(room);
            }
        }
        least.map(|room| (10.0 * room.log10() + threshold).min(self.most))
    }

    fn block(&self, cells: &[[usize; 2]]) -> Block {
        let mut block = Block {
            u: [0.0; LANES],
            w: [0.0; LANES],
        };
        for lane in 0..LANES {
            // Lanes beyond the last candidate repeat it; nobody looks at them.
            let cell = cells[lane.min(cells.len() - 1)];
            for (axis, choice) in self.form.axes.iter().zip(cell) {
                let side = if axis.reactive { &mut block.w } else { &mut block.u };
                side[lane] += axis.weights[choice];
            }
        }
        block
    }

    fn evaluate(&mut self, cell: [usize; 2], kept: &mut Kept) -> bool {
        for (axis, choice) in self.form.axes.iter().zip(cell) {
            self.choices[axis.part] = choice;
        }
        self.job
            .evaluate(&mut self.evaluator, self.form.space, self.number, &self.choices, kept)
    }

    fn evaluate_all(&mut self, cut: Cut, kept: &mut Kept) {
        for cell in cut.cells() {
            self.spent.complete += u64::from(self.evaluate(cell, kept));
        }
    }

    /// Margins of a coarse sample, and how often each combination binds in it.
    fn sample(&mut self, margins: &mut Vec<Sampled>, binding: &mut [u64]) {
        let count = self.form.outer_count();
        let sides = self.sides();
        let picks = sides.map(|side| spread(side as u64, AXIS_SAMPLES as u64));
        let cells: Vec<[usize; 2]> = picks[0]
            .iter()
            .flat_map(|row| picks[1].iter().map(|column| [*row as usize, *column as usize]))
            .collect();
        for outer in spread(count, OUTER_SAMPLES) {
            if !self.set_outer(outer) {
                continue;
            }
            self.is_prepared.fill(false);
            for some in cells.chunks(LANES) {
                let block = self.block(some);
                let mut least = [(f64::INFINITY, 0); LANES];
                let mut trusted = true;
                for site in 0..self.order.len() {
                    self.prepare(site, 0.0);
                    match self.prepared[site].room(self.job.method.isa, &block, &mut self.scratch) {
                        None => trusted = false,
                        Some(room) => {
                            for (least, room) in least.iter_mut().zip(room) {
                                if room < least.0 {
                                    *least = (room, site);
                                }
                            }
                        }
                    }
                }
                for (cell, (room, site)) in some.iter().zip(least) {
                    // With nothing that can discard, nothing binds.
                    if let Some(count) = binding.get_mut(site) {
                        *count += 1;
                    }
                    let margin = 10.0 * room.log10();
                    if trusted && margin.is_finite() && self.admissible(*cell) {
                        margins.push(Sampled {
                            margin,
                            number: self.number,
                            outer,
                            cell: *cell,
                        });
                    }
                }
            }
        }
    }

    fn admissible(&mut self, cell: [usize; 2]) -> bool {
        for (axis, choice) in self.form.axes.iter().zip(cell) {
            self.choices[axis.part] = choice;
        }
        let space = self.form.space;
        space.in_order(&self.choices) && fits_stock(self.job.stock, space, &space.values(&self.choices))
    }
}

impl Form<'_> {
    /// The choice of every part in a cell of a plane.
    fn choices(&self, outer: u64, cell: [usize; 2]) -> Vec<usize> {
        let mut choices = vec![0; self.space.parts().count()];
        let mut rest = outer;
        for (part, size) in self.outer.iter().zip(self.outer_sizes()).rev() {
            choices[*part] = (rest % size) as usize;
            rest /= size;
        }
        for (axis, choice) in self.axes.iter().zip(cell) {
            choices[axis.part] = choice;
        }
        choices
    }

    /// How many planes there are.
    fn outer_count(&self) -> u64 {
        self.outer_sizes().into_iter().fold(1, u64::saturating_mul)
    }
}

impl Cut {
    fn count(&self) -> usize {
        (self.rows[1] - self.rows[0]) * (self.columns[1] - self.columns[0])
    }

    fn cells(self) -> impl Iterator<Item = [usize; 2]> {
        let columns = self.columns;
        (self.rows[0]..self.rows[1]).flat_map(move |row| (columns[0]..columns[1]).map(move |column| [row, column]))
    }

    /// Cut across its longer side; the half that holds the hint comes last, which is taken up first.
    fn halves(self, hint: [usize; 2]) -> [Self; 2] {
        let (mut one, mut other) = (self, self);
        let (rows, columns) = (self.rows[1] - self.rows[0], self.columns[1] - self.columns[0]);
        if rows >= columns {
            let middle = self.rows[0] + rows / 2;
            (one.rows[1], other.rows[0]) = (middle, middle);
        } else {
            let middle = self.columns[0] + columns / 2;
            (one.columns[1], other.columns[0]) = (middle, middle);
        }
        if one.rows[1] > hint[0] && one.columns[1] > hint[1] {
            [other, one]
        } else {
            [one, other]
        }
    }
}

/// At most `most` numbers below `count`, evenly spread, both ends among them.
fn spread(count: u64, most: u64) -> Vec<u64> {
    if count <= most {
        return (0..count).collect();
    }
    (0..most).map(|step| step * (count - 1) / (most - 1)).collect()
}
