//! The fast search: every candidate is either evaluated by the definition or discarded by proof.
//!
//! A space is taken apart into planes of two parts ([`form`](super::form)), one plane for each choice of all other parts. A plane is cut into
//! rectangles, each asked whole ([`screen`](super::screen)); what stays open goes through the vector lanes, and what is alive after that is
//! evaluated. The threshold is the smallest margin that can still be among the first; it rises between waves of tasks and inside
//! a task, never across tasks of one wave, so that neither result nor count depends on the number of threads.

use rayon::prelude::*;

use crate::circuit::ports::MOST_SLOTS;
use crate::guitar::Slot;
use crate::kernel::evaluate::{SlotAdmittances, laplace};
use crate::kernel::lanes::{Block, Isa, LANES};
use crate::kernel::plan::Plan;
use crate::parts::network::{Admittance, Network};
use crate::parts::stock::Stock;
use crate::progress::Progress;
use crate::search::exhaustive::{Evaluator, Found, entry, fits_stock};
use crate::search::form::{Form, Moebius};
use crate::search::ranking::{GROUP_WIDTH, Kept};
use crate::search::screen::{Around, Prepared, Rectangle, SLACK, Scratch, Site, Terms, Verdict, sites};
use crate::search::space::Space;

/// Tasks that run before the threshold is shared.
const TASKS_IN_A_WAVE: usize = 32;
/// Tasks that a space is cut into at most, so that they can be listed whatever the space's size.
const MOST_TASKS: u64 = 1 << 14;
/// Choices of the outer parts in a task at least.
const SMALLEST_TASK: u64 = 8;
/// A rectangle of so few candidates goes to the lanes without being asked.
const LEAF: usize = 64;
/// How many choices of the outer parts, and of each axis, are sampled for the first threshold.
const OUTER_SAMPLES: u64 = 24;
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
    let mut kept = Kept::new(top);
    let mut spent = vec![Spent::default(); spaces.len()];
    let tasks = job.tasks();
    for wave in tasks.chunks(TASKS_IN_A_WAVE) {
        let threshold = sample.threshold.max(kept.floor());
        let done: Vec<_> = wave
            .par_iter()
            .map(|task| job.run(task, threshold, &sample.order, progress))
            .collect();
        for (task, (found, cost)) in wave.iter().zip(done) {
            kept.merge(found);
            spent[task.number].add(cost);
        }
    }
    Found {
        entries: kept.ranked(),
        evaluated: spent.iter().map(|spent| spent.candidates(plan)).collect(),
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
}

impl<'j> Job<'j> {
    fn tasks(&self) -> Vec<Task> {
        let mut tasks = Vec::new();
        for (number, form) in self.forms.iter().enumerate() {
            let count = form.as_ref().map_or(1, Form::outer_count);
            let size = SMALLEST_TASK.max(count.div_ceil(MOST_TASKS));
            tasks.extend((0..count.div_ceil(size)).map(|task| Task {
                number,
                outer: task * size..(task + 1).saturating_mul(size).min(count),
            }));
        }
        tasks
    }

    fn run(&self, task: &Task, threshold: f64, order: &[Site], progress: &dyn Progress) -> (Kept, Spent) {
        let mut kept = Kept::new(self.top);
        let mut spent = Spent::default();
        match &self.forms[task.number] {
            None => {
                let space = &self.spaces[task.number];
                let mut evaluator = Evaluator::new(self.plan);
                spent.complete += u64::from(self.evaluate(&mut evaluator, space, task.number, &[], &mut kept));
                progress.advance(1);
            }
            Some(form) => {
                let mut worker = Worker::new(self, form, task.number, order);
                for outer in task.outer.clone() {
                    worker.plane(outer, threshold, &mut kept);
                    progress.advance(worker.plane_size());
                }
                spent = worker.spent;
            }
        }
        (kept, spent)
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
        let mut margins: Vec<f64> = Vec::new();
        for (number, form) in self.forms.iter().enumerate() {
            if let Some(form) = form {
                Worker::new(self, form, number, &order).sample(&mut margins, &mut binding);
            }
        }
        margins.sort_by(|one, other| other.total_cmp(one));
        let mut ranked: Vec<usize> = (0..order.len()).collect();
        ranked.sort_by_key(|site| (std::cmp::Reverse(binding[*site]), *site));
        Sample {
            threshold: margins
                .get(self.top - 1)
                .map_or(f64::NEG_INFINITY, |margin| margin.min(most) - GROUP_WIDTH - SLACK),
            order: ranked.into_iter().map(|site| order[site]).collect(),
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
    maps: Vec<Moebius>,
    prepared: Vec<Prepared>,
    is_prepared: Vec<bool>,
    scratch: Scratch,
    spent: Spent,
}

/// A rectangle of choices: ends excluded, and which combinations hold all over it.
#[derive(Clone, Copy)]
struct Cut {
    rows: [usize; 2],
    columns: [usize; 2],
    inside: u64,
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
            maps: Vec::with_capacity(job.plan.frequencies.len()),
            prepared: vec![Prepared::default(); order.len()],
            is_prepared: vec![false; order.len()],
            scratch: Scratch::default(),
            spent: Spent::default(),
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
    fn plane(&mut self, outer: u64, threshold: f64, kept: &mut Kept) {
        let sides = self.sides();
        let whole = Cut {
            rows: [0, sides[0]],
            columns: [0, sides[1]],
            inside: 0,
        };
        if !self.set_outer(outer) {
            self.evaluate_all(whole, kept);
            return;
        }
        self.is_prepared.fill(false);
        let threshold = threshold.max(kept.floor()) - SLACK;
        let mut open = vec![whole];
        while let Some(mut cut) = open.pop() {
            if self.job.method.prune && cut.count() > LEAF {
                if self.discards(&mut cut, threshold) {
                    continue;
                }
                open.extend(cut.halves());
            } else {
                self.leaf(cut, threshold, kept);
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
    }

    fn prepare(&mut self, site: usize, threshold: f64) {
        if !self.is_prepared[site] {
            let around = Around {
                plan: self.job.plan,
                form: self.form,
                terms: &self.terms,
                maps: &self.maps,
            };
            around.prepare(self.order[site], threshold, &mut self.prepared[site]);
            self.is_prepared[site] = true;
        }
    }

    /// Whether no candidate of a rectangle can reach the threshold.
    fn discards(&mut self, cut: &mut Cut, threshold: f64) -> bool {
        let rectangle = self.rectangle(cut);
        for site in 0..self.order.len() {
            if cut.holds(site) {
                continue;
            }
            self.prepare(site, threshold);
            match self.prepared[site].verdict(&rectangle) {
                Verdict::Outside => return true,
                Verdict::Inside => cut.hold(site),
                Verdict::Open => {}
            }
        }
        false
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

    /// Sends every candidate of a rectangle through the lanes, and those that stay alive to the definition.
    fn leaf(&mut self, cut: Cut, threshold: f64, kept: &mut Kept) {
        let cells: Vec<[usize; 2]> = cut.cells().collect();
        for some in cells.chunks(LANES) {
            let block = self.block(some);
            let mut alive: [bool; LANES] = std::array::from_fn(|lane| lane < some.len());
            let mut points = 0;
            for site in 0..self.order.len() {
                if cut.holds(site) {
                    continue;
                }
                self.prepare(site, threshold);
                let (passes, done) = self.prepared[site].alive(self.job.method.isa, &block, &mut self.scratch);
                points += done as u64;
                for (alive, passes) in alive.iter_mut().zip(passes) {
                    *alive &= passes;
                }
                if self.job.method.prune && !alive.contains(&true) {
                    break;
                }
            }
            for (cell, alive) in some.iter().zip(alive) {
                if alive {
                    self.spent.complete += u64::from(self.evaluate(*cell, kept));
                } else {
                    self.spent.points += points;
                }
            }
        }
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
    fn sample(&mut self, margins: &mut Vec<f64>, binding: &mut [u64]) {
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
                        margins.push(margin);
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

    /// Cut across its longer side.
    fn halves(self) -> [Self; 2] {
        let (mut one, mut other) = (self, self);
        let (rows, columns) = (self.rows[1] - self.rows[0], self.columns[1] - self.columns[0]);
        if rows >= columns {
            let middle = self.rows[0] + rows / 2;
            (one.rows[1], other.rows[0]) = (middle, middle);
        } else {
            let middle = self.columns[0] + columns / 2;
            (one.columns[1], other.columns[0]) = (middle, middle);
        }
        [one, other]
    }

    fn holds(&self, site: usize) -> bool {
        site < 64 && self.inside & (1 << site) != 0
    }

    fn hold(&mut self, site: usize) {
        if site < 64 {
            self.inside |= 1 << site;
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
