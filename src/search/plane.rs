//! One plane of a space: two parts vary, everything else stands still.

use crate::circuit::ports::MOST_SLOTS;
use crate::kernel::evaluate::{SlotAdmittances, laplace, slot_admittance};
use crate::kernel::lanes::{Block, LANES, Rectangle};
use crate::kernel::plan::Point;
use crate::parts::network::Admittance;
use crate::search::exhaustive::Evaluator;
use crate::search::form::{Form, Moebius};
use crate::search::pruned::{Gathered, Hopeful, Job, Sampled, Spent};
use crate::search::ranking::Kept;
use crate::search::screen::{Around, Prepared, ReferenceRatios, SLACK, Scratch, Site, Terms, terms};

/// How many combinations a rectangle is asked about, those that bind most often first: asking costs about as much as a block of lanes.
const COMBINATIONS_ASKED: usize = 2;
/// By how much, in dB, the threshold must have risen for the points of a plane to be prepared anew.
const WORTH_PREPARING_ANEW: f64 = 0.05;
/// A rectangle of so few candidates goes to the lanes without being asked.
const LEAF: usize = 32;
/// How many choices of the outer parts, and of each axis, are sampled for the first threshold.
const OUTER_SAMPLES: u64 = 8;
const AXIS_SAMPLES: u64 = 8;

/// Goes through planes of one space.
pub(super) struct Worker<'w> {
    job: &'w Job<'w>,
    form: &'w Form<'w>,
    number: usize,
    order: &'w [Site],
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
    pub(super) spent: Spent,
    /// The plane at hand.
    outer: u64,
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
    /// For a space by its number and form, the combinations in the order to try them, and a cell to begin around.
    pub(super) fn new(job: &'w Job<'w>, form: &'w Form<'w>, number: usize, order: &'w [Site], hint: [usize; 2]) -> Self {
        let parts = form.space.parts().count();
        Self {
            job,
            form,
            number,
            order,
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
            hint,
            best_here: f64::NEG_INFINITY,
        }
    }

    /// Searches one plane.
    pub(super) fn plane(&mut self, outer: u64, gathered: &mut Gathered) {
        let sides = self.form.sides();
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
        let others = self.form.set_outer(outer, &mut self.choices);
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
                row[position] = slot_admittance(slot.slot, slot.network.as_ref(), values, *frequency);
            }
        }
        let fold = |point: &Point| terms(&point.reduction, self.form.slot, &self.admittances[point.frequency]);
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
                } else if self.is_admissible(*cell) {
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
        gathered.relieve(self.job);
    }

    /// Margins of a block as the lanes have them, in dB; infinite where they cannot be trusted.
    fn margins(&mut self, block: &Block, threshold: f64) -> [f64; LANES] {
        match self.nearest(block, threshold) {
            Some(nearest) => nearest.map(|(margin, _)| margin),
            None => [f64::INFINITY; LANES],
        }
    }

    /// The margin of each candidate of a block, in dB, and the combination that binds; `None` where they cannot be trusted.
    fn nearest(&mut self, block: &Block, threshold: f64) -> Option<[(f64, usize); LANES]> {
        let mut least = [(f64::INFINITY, 0); LANES];
        for site in 0..self.order.len() {
            self.prepare(site, threshold);
            let room = self.prepared[site].room(self.job.method.isa, block, &mut self.scratch)?;
            for (least, room) in least.iter_mut().zip(room) {
                if room < least.0 {
                    *least = (room, site);
                }
            }
        }
        Some(least.map(|(room, site)| ((10.0 * room.log10() + threshold).min(self.job.most), site)))
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

    fn evaluate_all(&mut self, cut: Cut, kept: &mut Kept) {
        let mut evaluator = Evaluator::new(self.job.plan);
        for cell in cut.cells() {
            self.form.set_cell(cell, &mut self.choices);
            let evaluated = self.job.evaluate(&mut evaluator, self.form.space, self.number, &self.choices, kept);
            self.spent.complete += u64::from(evaluated);
        }
    }

    /// Margins of a coarse sample, and how often each combination binds in it.
    pub(super) fn sample(&mut self, margins: &mut Vec<Sampled>, binding: &mut [u64]) {
        let [rows, columns] = self.form.sides().map(|side| spread(side as u64, AXIS_SAMPLES));
        let cells: Vec<[usize; 2]> = rows
            .iter()
            .flat_map(|row| columns.iter().map(|column| [*row as usize, *column as usize]))
            .collect();
        for outer in spread(self.form.outer_count(), OUTER_SAMPLES) {
            if self.set_outer(outer) {
                self.is_prepared.fill(false);
                for some in cells.chunks(LANES) {
                    self.sample_block(outer, some, margins, binding);
                }
            }
        }
    }

    fn sample_block(&mut self, outer: u64, cells: &[[usize; 2]], margins: &mut Vec<Sampled>, binding: &mut [u64]) {
        let Some(nearest) = self.nearest(&self.block(cells), 0.0) else {
            return;
        };
        for (cell, (margin, site)) in cells.iter().zip(nearest) {
            // With nothing that can discard, nothing binds.
            if let Some(count) = binding.get_mut(site) {
                *count += 1;
            }
            if margin.is_finite() && self.is_admissible(*cell) {
                margins.push(Sampled {
                    margin,
                    number: self.number,
                    outer,
                    cell: *cell,
                });
            }
        }
    }

    /// Calls `visit` with the choices and the margin of every admissible cell of a plane, not finite where the lanes cannot tell it.
    pub(super) fn every_margin(&mut self, outer: u64, visit: &mut dyn FnMut(&[usize], f64)) {
        let [rows, columns] = self.form.sides();
        let cells: Vec<[usize; 2]> = (0..rows).flat_map(|row| (0..columns).map(move |column| [row, column])).collect();
        let has_form = self.set_outer(outer);
        self.is_prepared.fill(false);
        for some in cells.chunks(LANES) {
            let margins = if has_form {
                self.margins(&self.block(some), 0.0)
            } else {
                [f64::INFINITY; LANES]
            };
            for (cell, margin) in some.iter().zip(margins) {
                if self.is_admissible(*cell) {
                    visit(&self.choices, margin);
                }
            }
        }
    }

    fn is_admissible(&mut self, cell: [usize; 2]) -> bool {
        self.form.set_cell(cell, &mut self.choices);
        self.job.is_admissible(self.form.space, &self.choices)
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
