//! One plane of a space: two parts vary, everything else stands still.

use std::sync::Arc;

use crate::kernel::evaluate::laplace;
use crate::kernel::lanes::{Block, Isa, LANES, Moebius, Rectangle};
use crate::search::folded::Folded;
use crate::search::form::Form;
use crate::search::pruned::Job;
use crate::search::screen::{Around, Prepared, Scratch, Site};

/// One choice of everything outside the plane, with the combinations prepared for it so far.
pub(super) struct Plane<'w> {
    job: &'w Job<'w>,
    form: &'w Form<'w>,
    order: &'w [Site],
    /// Which plane of the space it is.
    pub(super) outer: u64,
    /// Choice of every part; those of the axes are set per candidate.
    pub(super) choices: Vec<usize>,
    /// Value of every part; those of the axes are not looked at.
    pub(super) values: Vec<f64>,
    folded: Option<Arc<Folded>>,
    maps: Vec<Moebius>,
    prepared: Vec<Prepared>,
    is_prepared: Vec<bool>,
}

impl<'w> Plane<'w> {
    pub(super) fn new(job: &'w Job<'w>, form: &'w Form<'w>, order: &'w [Site]) -> Self {
        let parts = form.space.parts().count();
        Self {
            job,
            form,
            order,
            outer: 0,
            choices: vec![0; parts],
            values: form.space.parts().map(|part| part.values[0]).collect(),
            folded: None,
            maps: Vec::with_capacity(job.plan.frequencies.len()),
            prepared: vec![Prepared::default(); order.len()],
            is_prepared: vec![false; order.len()],
        }
    }

    /// Puts in the choices outside the plane; which choice of the other slots that is.
    pub(super) fn set_outer(&mut self, outer: u64) -> u64 {
        self.outer = outer;
        let others = self.form.set_outer(outer, &mut self.choices);
        for (number, part) in self.form.space.parts().enumerate() {
            self.values[number] = part.values[self.choices[number]];
        }
        others
    }

    /// Takes what the other slots fix; `false` where the plane has no form as a ratio of first degree.
    pub(super) fn enter(&mut self, folded: &Arc<Folded>) -> bool {
        self.folded = Some(Arc::clone(folded));
        self.forget();
        let own = self.form.slot_values(&self.values);
        self.maps.clear();
        let frequencies = self.job.plan.frequencies.iter();
        self.maps
            .extend(frequencies.map_while(|frequency| self.form.moebius(laplace(*frequency), own)));
        self.maps.len() == self.job.plan.frequencies.len()
    }

    /// Forgets what was prepared, as for another threshold.
    pub(super) fn forget(&mut self) {
        self.is_prepared.fill(false);
    }

    /// Prepares a combination for whole rectangles.
    pub(super) fn prepare(&mut self, site: usize, threshold: f64) -> &mut Prepared {
        self.ready(site, threshold, None)
    }

    /// Prepares a combination for whole rectangles and, with a scratch, for single candidates.
    fn ready(&mut self, site: usize, threshold: f64, scratch: Option<&mut Scratch>) -> &mut Prepared {
        let prepared = &mut self.prepared[site];
        if let Some(folded) = &self.folded {
            let around = Around {
                plan: self.job.plan,
                form: self.form,
                folded,
                isa: self.job.method.isa,
                maps: &self.maps,
            };
            if !std::mem::replace(&mut self.is_prepared[site], true) {
                around.prepare(site, self.order[site], threshold, prepared);
            }
            if let Some(scratch) = scratch {
                around.complete(site, self.order[site], prepared, scratch);
            }
        }
        prepared
    }

    /// What was prepared for a combination.
    pub(super) fn prepared(&self, site: usize) -> &Prepared {
        &self.prepared[site]
    }

    /// Which lanes of a block may reach the threshold, and how many points it took to know.
    pub(super) fn alive(&mut self, block: &Block, lanes: usize, threshold: f64, scratch: &mut Scratch) -> ([bool; LANES], u64) {
        let method = self.job.method;
        let mut alive: [bool; LANES] = std::array::from_fn(|lane| lane < lanes);
        let mut points = 0;
        for site in 0..self.order.len() {
            let (passes, done) = self
                .ready(site, threshold, Some(scratch))
                .alive(method.isa, method.prune, block, scratch);
            points += done as u64;
            for (alive, passes) in alive.iter_mut().zip(passes) {
                *alive &= passes;
            }
            if method.prune && !alive.contains(&true) {
                break;
            }
        }
        (alive, points)
    }

    /// The margin of each candidate of a block, in dB, and the combination that binds; `None` where they cannot be trusted.
    pub(super) fn nearest(&mut self, block: &Block, threshold: f64, scratch: &mut Scratch) -> Option<[(f64, usize); LANES]> {
        let isa: Isa = self.job.method.isa;
        let mut least = [(f64::INFINITY, 0); LANES];
        for site in 0..self.order.len() {
            let room = self.ready(site, threshold, Some(scratch)).room(isa, block, scratch)?;
            for (least, room) in least.iter_mut().zip(room) {
                if room < least.0 {
                    *least = (room, site);
                }
            }
        }
        Some(least.map(|(room, site)| ((10.0 * room.log10() + threshold).min(self.job.most), site)))
    }

    /// Whether a candidate may be built.
    pub(super) fn is_admissible(&mut self, cell: [usize; 2]) -> bool {
        self.form.set_cell(cell, &mut self.choices);
        self.job.is_admissible(self.form.space, &self.choices)
    }
}

/// The ends of a stretch of cells, upper ends excluded.
pub(super) fn rectangle(form: &Form<'_>, rows: [usize; 2], columns: [usize; 2]) -> Rectangle {
    let mut rectangle = Rectangle { u: [0.0; 2], w: [0.0; 2] };
    for (axis, ends) in form.axes.iter().zip([rows, columns]) {
        let (one, other) = (axis.weights[ends[0]], axis.weights[ends[1] - 1]);
        let side = if axis.reactive { &mut rectangle.w } else { &mut rectangle.u };
        *side = [side[0] + one.min(other), side[1] + one.max(other)];
    }
    rectangle
}

/// Cells side by side.
pub(super) fn block(form: &Form<'_>, cells: &[[usize; 2]]) -> Block {
    let mut block = Block {
        u: [0.0; LANES],
        w: [0.0; LANES],
    };
    for lane in 0..LANES {
        // Lanes beyond the last candidate repeat it; nobody looks at them.
        let cell = cells[lane.min(cells.len() - 1)];
        for (axis, choice) in form.axes.iter().zip(cell) {
            let side = if axis.reactive { &mut block.w } else { &mut block.u };
            side[lane] += axis.weights[choice];
        }
    }
    block
}
