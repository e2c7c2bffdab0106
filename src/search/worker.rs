//! Goes through the planes of a space, several at once: boxes of candidates are asked whole, and cut where they stay open.

use std::ops::Range;
use std::sync::Arc;

use crate::circuit::ports::MOST_SLOTS;
use crate::kernel::evaluate::{SlotAdmittances, slot_admittance};
use crate::kernel::lanes::LANES;
use crate::parts::network::Admittance;
use crate::search::bar::{Bar, SLACK};
use crate::search::exhaustive::Evaluator;
use crate::search::folded::{Folded, Terms};
use crate::search::form::Form;
use crate::search::gathered::{Gathered, Hopeful};
use crate::search::plane::{Nearest, Plane, block, rectangle};
use crate::search::pruned::{Job, Shared, Spent};
use crate::search::ranking::Kept;
use crate::search::sample::Sampled;
use crate::search::screen::{MOST_TOGETHER, Prepared, Scratch, Site, UNKNOWN};
use crate::target::Over;

/// How many combinations a box is asked about, those that bind most often first.
const COMBINATIONS_ASKED: usize = 2;
/// By how much, in dB, the threshold must have risen for the points of a plane to be prepared anew.
const WORTH_PREPARING_ANEW: f64 = 0.05;
/// A rectangle of so few candidates goes to the lanes without being asked.
const LEAF: usize = 24;
/// A step from plane to plane counts as so many from cell to cell when it is decided across what a box is cut.
const PLANE_STEP: usize = 2;
/// After so many groups of planes they are cut from the whole again: what was cut for one group soon is too fine for another.
const GROUPS_CUT_ALIKE: usize = 4;
/// How many choices of each axis are sampled for the first threshold.
const AXIS_SAMPLES: u64 = 8;

/// Goes through planes of one space.
pub(super) struct Worker<'w> {
    job: &'w Job<'w>,
    form: &'w Form<'w>,
    number: usize,
    order: &'w [Site],
    shared: &'w Shared,
    /// What the other slots fix, and for which choice of theirs.
    folded: Option<(u64, Arc<Folded>)>,
    admittances: Vec<SlotAdmittances>,
    terms: Vec<Terms>,
    /// The planes at hand.
    planes: Vec<Plane<'w>>,
    scratch: Scratch,
    pub(super) spent: Spent,
    /// The best cell of the last planes, or of the sample, and the best margin of the planes at hand.
    hint: [usize; 2],
    best_here: f64,
    /// The boxes that the last group of planes came down to, and how many groups were cut alike since one was cut from the whole.
    boxes: Vec<Cut>,
    cut_alike: usize,
    /// The combinations that boxes of the group at hand are asked about.
    asked: Vec<usize>,
    /// The margin by the definition that no candidate exceeds which has this choice of the other slots.
    capped_at: Option<(u64, f64)>,
}

/// A box of choices, upper ends excluded: some of the planes at hand, and the same cells of each.
#[derive(Clone, Copy)]
struct Cut {
    planes: [usize; 2],
    rows: [usize; 2],
    columns: [usize; 2],
    /// What is known about the anchor's mean power of the combinations asked about.
    anchors: [[f64; 2]; COMBINATIONS_ASKED],
}

impl<'w> Worker<'w> {
    /// For a space by its number and form, the combinations in the order to try them with what is shared of them, and a cell to begin around.
    pub(super) fn new(
        job: &'w Job<'w>,
        form: &'w Form<'w>,
        number: usize,
        (order, shared): (&'w [Site], &'w Shared),
        hint: [usize; 2],
    ) -> Self {
        Self {
            job,
            form,
            number,
            order,
            shared,
            folded: None,
            admittances: vec![[Admittance::OPEN; MOST_SLOTS]; job.plan.frequencies.len()],
            terms: Vec::new(),
            planes: Vec::new(),
            scratch: Scratch::default(),
            spent: Spent::default(),
            hint,
            best_here: f64::NEG_INFINITY,
            boxes: Vec::new(),
            cut_alike: 0,
            asked: Vec::with_capacity(COMBINATIONS_ASKED),
            capped_at: None,
        }
    }

    /// Searches a stretch of planes.
    pub(super) fn planes(&mut self, outers: Range<u64>, gathered: &mut Gathered) {
        let mut start = outers.start;
        while start < outers.end {
            let end = outers.end.min(start + MOST_TOGETHER as u64);
            self.together(start..end, gathered);
            start = end;
        }
    }

    fn together(&mut self, outers: Range<u64>, gathered: &mut Gathered) {
        let sides = self.form.sides();
        let whole = |planes| Cut {
            planes,
            rows: [0, sides[0]],
            columns: [0, sides[1]],
            anchors: [UNKNOWN; COMBINATIONS_ASKED],
        };
        let mut count = 0;
        let bar = if self.job.method.prune {
            Bar::at(gathered.threshold() - SLACK)
        } else {
            Bar::NONE
        };
        for outer in outers {
            if self.enter(count, outer, bar) {
                count += usize::from(!self.planes[count].is_out());
            } else {
                self.evaluate_all(count, whole([0, 1]), &mut gathered.settled);
            }
        }
        self.best_here = f64::NEG_INFINITY;
        let size = if self.can_be_asked_together(count) { count.max(1) } else { 1 };
        for start in (0..count).step_by(size) {
            self.group(whole([start, start + size]), gathered);
        }
    }

    /// Searches planes that are asked about together: cut as those before them were, since neighbours mostly are discarded by the same boxes.
    fn group(&mut self, whole: Cut, gathered: &mut Gathered) {
        // What lies around the best of the planes before comes first: it raises the threshold for the rest.
        let hint = self.hint;
        let mut open = if self.boxes.is_empty() || self.cut_alike >= GROUPS_CUT_ALIKE {
            self.cut_alike = 0;
            vec![whole]
        } else {
            // The box taken up first before is taken up first again.
            self.boxes.iter().rev().map(|cut| cut.of(whole.planes)).collect()
        };
        self.cut_alike += 1;
        self.boxes.clear();
        self.asked.clear();
        self.asked.extend(asked_of(&self.planes[whole.planes[0]]));
        let mut bar = Bar::at(gathered.threshold() - SLACK);
        while let Some(mut cut) = open.pop() {
            let threshold = gathered.threshold() - SLACK;
            if self.job.method.prune && (threshold > bar.decibels() + WORTH_PREPARING_ANEW) {
                bar = Bar::at(threshold);
                self.planes.iter_mut().for_each(Plane::forget);
            }
            let halves = if self.is_behind(&cut, gathered) {
                None
            } else if !self.is_asked(&cut) {
                self.leaf(cut, bar, gathered);
                None
            } else if self.discards(&mut cut, bar) {
                None
            } else {
                Some(cut.halves(hint))
            };
            let is_smaller = |halves: [Cut; 2]| halves[0].planes == cut.planes;
            if cut.planes == whole.planes && !halves.is_some_and(is_smaller) {
                self.boxes.push(cut);
            }
            open.extend(halves.into_iter().flatten());
        }
    }

    /// Makes a plane the one at a position; `false` where it has no form as a ratio of first degree.
    fn enter(&mut self, position: usize, outer: u64, bar: Bar) -> bool {
        if self.planes.len() == position {
            self.planes.push(Plane::new(self.job, self.form, self.order));
        }
        let others = self.planes[position].set_outer(outer);
        let folded = match &self.folded {
            Some((same, folded)) if *same == others => Arc::clone(folded),
            _ => self.fold(position, bar),
        };
        self.folded = Some((others, Arc::clone(&folded)));
        self.planes[position].enter(&folded)
    }

    /// Where the other slots have one choice, that is made once for all workers.
    fn fold(&mut self, plane: usize, bar: Bar) -> Arc<Folded> {
        let shared = self.shared;
        if self.form.is_alone() {
            // No task's own threshold gets into what other tasks use.
            return Arc::clone(shared.get_or_init(|| Arc::new(self.fold_other_slots(plane, Bar::NONE))));
        }
        Arc::new(self.fold_other_slots(plane, bar))
    }

    fn fold_other_slots(&mut self, plane: usize, bar: Bar) -> Folded {
        let plan = self.job.plan;
        let values = &self.planes[plane].values;
        let mut first = 0;
        for (position, slot) in self.form.space.slots.iter().enumerate() {
            let values = &values[first..first + slot.parts.len()];
            first += slot.parts.len();
            if position == self.form.slot {
                continue;
            }
            for (row, frequency) in self.admittances.iter_mut().zip(&plan.frequencies) {
                row[position] = slot_admittance(slot.slot, slot.network.as_ref(), values, *frequency);
            }
        }
        Folded::new(plan, self.form, self.order, &self.admittances, bar, &mut self.terms)
    }

    /// Whether the planes at hand can be asked at once: not about a reference that moves with the candidate, nor about a whole band, whose bounds are
    /// too loose over several planes to be worth what they cost, nor about different combinations.
    fn can_be_asked_together(&self, count: usize) -> bool {
        let is_every = |site: usize| self.job.plan.bounded(self.order[site].clause).over == Over::Every;
        let is_fit = |plane: &Plane<'w>| asked_of(plane).all(|site| is_every(site) && !plane.has_moving_reference(site));
        let Some((first, rest)) = self.planes[..count].split_first() else {
            return false;
        };
        self.job.method.prune && is_fit(first) && rest.iter().all(|plane| is_fit(plane) && asked_of(plane).eq(asked_of(first)))
    }

    /// Whether every candidate of a box stands behind enough others that nothing in these planes exceeds.
    fn is_behind(&mut self, cut: &Cut, gathered: &Gathered) -> bool {
        if !self.job.method.prune || !gathered.leaders.are_enough() {
            return false;
        }
        let cell = [cut.rows[0], cut.columns[0]];
        (cut.planes[0]..cut.planes[1]).all(|plane| {
            let first = self.planes[plane].index(cell);
            gathered.leaders.precede((self.number, self.planes[plane].others), first)
        })
    }

    fn is_asked(&self, cut: &Cut) -> bool {
        self.job.method.prune && (cut.planes() > 1 || cut.cell_count() > LEAF)
    }

    /// Whether no candidate of a box can reach the threshold.
    fn discards(&mut self, cut: &mut Cut, bar: Bar) -> bool {
        if !bar.discards() {
            return false;
        }
        let rectangle = rectangle(self.form, cut.rows, cut.columns);
        let isa = self.job.method.isa;
        let planes = &mut self.planes[cut.planes[0]..cut.planes[1]];
        if planes.iter().all(|plane| bar.is_above(plane.cap())) {
            return true;
        }
        self.asked.iter().zip(&mut cut.anchors).any(|(site, anchor)| {
            let site = *site;
            for plane in planes.iter_mut() {
                plane.prepare(site, bar);
            }
            if let [plane] = planes {
                return plane.prepare(site, bar).breaks_all_over(isa, &rectangle, anchor, &mut self.scratch);
            }
            let first = planes[0].prepared(site);
            let mut together = [first; MOST_TOGETHER];
            for (slot, plane) in together.iter_mut().zip(planes.iter()) {
                *slot = plane.prepared(site);
            }
            Prepared::breaks_in_all(&together[..planes.len()], isa, &rectangle, anchor)
        })
    }

    /// Sends every candidate of a box through the lanes, and gathers those that stay alive.
    fn leaf(&mut self, cut: Cut, bar: Bar, gathered: &mut Gathered) {
        let cells: Vec<[usize; 2]> = cut.cells().collect();
        for plane in cut.planes[0]..cut.planes[1] {
            if bar.is_above(self.planes[plane].cap()) {
                continue;
            }
            for some in cells.chunks(LANES) {
                self.leaf_block(plane, some, bar, gathered);
            }
        }
        gathered.relieve(self.job);
    }

    fn leaf_block(&mut self, position: usize, cells: &[[usize; 2]], bar: Bar, gathered: &mut Gathered) {
        let plane = &mut self.planes[position];
        let block = block(self.form, cells);
        let (alive, points) = plane.alive(&block, cells.len(), bar, &mut self.scratch);
        let nearest = alive
            .contains(&true)
            .then(|| plane.nearest(&block, bar, &mut self.scratch))
            .flatten();
        let nearest = nearest.unwrap_or([Nearest::UNKNOWN; LANES]);
        for ((cell, alive), nearest) in cells.iter().zip(alive).zip(nearest) {
            if !alive || nearest.is_broken() {
                self.spent.points += points;
            } else if self.planes[position].is_admissible(*cell) {
                self.spent.complete += 1;
                if nearest.margin.is_finite() && nearest.margin > self.best_here {
                    (self.best_here, self.hint) = (nearest.margin, *cell);
                }
                self.gather(position, *cell, nearest, gathered);
            }
        }
    }

    /// Takes in a candidate that may be among the first.
    fn gather(&mut self, position: usize, cell: [usize; 2], nearest: Nearest, gathered: &mut Gathered) {
        let plane = &mut self.planes[position];
        let (planes, index) = ((self.number, plane.others), plane.index(cell));
        if self.job.method.prune && gathered.leaders.precede(planes, index) {
            return;
        }
        let hopeful = Hopeful {
            number: self.number,
            outer: plane.outer,
            cell,
            margin: nearest.margin,
        };
        let capped_at = if nearest.is_capped {
            self.cap_by_definition(position)
        } else {
            None
        };
        match capped_at {
            Some(margin) => {
                if self.job.is_in_order[self.number] {
                    gathered.leaders.add(planes, index);
                }
                let choices = &self.planes[position].choices;
                gathered.settle(margin, hopeful, || self.job.entry(margin, self.number, choices));
            }
            None => gathered.add(hopeful),
        }
    }

    /// The margin of a plane's candidate at hand that nothing in the plane exceeds. It comes from points that no candidate of these planes moves, so
    /// that it is the same for all who have it, to the last bit.
    fn cap_by_definition(&mut self, position: usize) -> Option<f64> {
        let plane = &self.planes[position];
        if self.capped_at.is_none_or(|(others, _)| others != plane.others) {
            let mut evaluator = Evaluator::new(self.job.plan);
            let margin = self.job.margin(&mut evaluator, self.form.space, &plane.choices)?;
            self.capped_at = Some((plane.others, margin));
        }
        self.capped_at.map(|(_, margin)| margin)
    }

    fn evaluate_all(&mut self, plane: usize, cut: Cut, kept: &mut Kept) {
        let mut evaluator = Evaluator::new(self.job.plan);
        let choices = &mut self.planes[plane].choices;
        for cell in cut.cells() {
            self.form.set_cell(cell, choices);
            let evaluated = self.job.evaluate(&mut evaluator, self.form.space, self.number, choices, kept);
            self.spent.complete += u64::from(evaluated);
        }
    }

    /// Margins of a coarse sample of a plane, and how often each combination binds in it.
    pub(super) fn sample(&mut self, outer: u64) -> (Vec<Sampled>, Vec<u64>) {
        let (mut margins, mut binding) = (Vec::new(), vec![0; self.order.len()]);
        let [rows, columns] = self.form.sides().map(|side| spread(side as u64, AXIS_SAMPLES));
        let cells: Vec<[usize; 2]> = rows
            .iter()
            .flat_map(|row| columns.iter().map(|column| [*row as usize, *column as usize]))
            .collect();
        if self.enter(0, outer, Bar::NONE) && !self.planes[0].is_out() {
            for some in cells.chunks(LANES) {
                self.sample_block(outer, some, &mut margins, &mut binding);
            }
        }
        (margins, binding)
    }

    /// Calls `visit` with the choices and the margin of every admissible cell of a plane: −∞ where it breaks a guard for certain, +∞ where
    /// the lanes cannot tell.
    pub(super) fn every_margin(&mut self, outer: u64, visit: &mut dyn FnMut(&[usize], f64)) {
        let [rows, columns] = self.form.sides();
        let cells: Vec<[usize; 2]> = (0..rows).flat_map(|row| (0..columns).map(move |column| [row, column])).collect();
        let has_form = self.enter(0, outer, Bar::NONE) && !self.planes[0].is_out();
        let plane = &mut self.planes[0];
        for some in cells.chunks(LANES) {
            let nearest = has_form
                .then(|| plane.nearest(&block(self.form, some), Bar::at(0.0), &mut self.scratch))
                .flatten();
            for (cell, nearest) in some.iter().zip(nearest.unwrap_or([Nearest::UNKNOWN; LANES])) {
                if plane.is_admissible(*cell) {
                    let margin = if plane.is_out() { f64::NEG_INFINITY } else { nearest.margin };
                    visit(&plane.choices, margin);
                }
            }
        }
    }

    fn sample_block(&mut self, outer: u64, cells: &[[usize; 2]], margins: &mut Vec<Sampled>, binding: &mut [u64]) {
        let plane = &mut self.planes[0];
        let Some(nearest) = plane.nearest(&block(self.form, cells), Bar::at(0.0), &mut self.scratch) else {
            return;
        };
        for (cell, Nearest { margin, site, .. }) in cells.iter().zip(nearest) {
            // With nothing that can discard, nothing binds.
            if let Some(count) = site.and_then(|site| binding.get_mut(site)) {
                *count += 1;
            }
            if margin.is_finite() && plane.is_admissible(*cell) {
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

impl Cut {
    /// The same cells of other planes.
    fn of(mut self, planes: [usize; 2]) -> Self {
        (self.planes, self.anchors) = (planes, [UNKNOWN; COMBINATIONS_ASKED]);
        self
    }

    fn planes(&self) -> usize {
        self.planes[1] - self.planes[0]
    }

    /// How many cells there are in each plane.
    fn cell_count(&self) -> usize {
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
        let planes = self.planes();
        if planes > 1 && (planes * PLANE_STEP >= rows.max(columns) || self.cell_count() <= LEAF) {
            let middle = self.planes[0] + planes / 2;
            (one.planes[1], other.planes[0]) = (middle, middle);
            return [one, other];
        }
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

/// The combinations that a plane's boxes are asked about.
fn asked_of(plane: &Plane<'_>) -> impl Iterator<Item = usize> {
    plane.moving().iter().copied().take(COMBINATIONS_ASKED)
}

/// At most `most` numbers below `count`, evenly spread, both ends among them.
pub(super) fn spread(count: u64, most: u64) -> Vec<u64> {
    if count <= most {
        return (0..count).collect();
    }
    (0..most).map(|step| step * (count - 1) / (most - 1)).collect()
}
