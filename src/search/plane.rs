//! One plane of a space: two parts vary, everything else stands still.

use std::sync::Arc;

use crate::kernel::evaluate::laplace;
use crate::kernel::lanes::{Block, Isa, LANES, Moebius, Rectangle};
use crate::search::bar::{Bar, SLACK};
use crate::search::folded::{Folded, ReferenceRatios};
use crate::search::form::Form;
use crate::search::pruned::Job;
use crate::search::screen::{Around, Prepared, Scratch, Site};

/// One choice of everything outside the plane, with the combinations prepared for it so far.
pub(super) struct Plane<'w> {
    job: &'w Job<'w>,
    form: &'w Form<'w>,
    order: &'w [Site],
    /// Which plane of the space it is, and which choice of the other slots it has.
    pub(super) outer: u64,
    pub(super) others: u64,
    /// Choice of every part; those of the axes are set per candidate.
    pub(super) choices: Vec<usize>,
    /// Value of every part; those of the axes are not looked at.
    pub(super) values: Vec<f64>,
    folded: Option<Arc<Folded>>,
    /// The combinations that a candidate can move, in the order to ask about them.
    moving: Vec<usize>,
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
            others: 0,
            choices: vec![0; parts],
            values: form.space.parts().map(|part| part.values[0]).collect(),
            folded: None,
            moving: Vec::with_capacity(order.len()),
            maps: Vec::with_capacity(job.plan.frequencies.len()),
            prepared: vec![Prepared::default(); order.len()],
            is_prepared: vec![false; order.len()],
        }
    }

    /// Puts in the choices outside the plane; which choice of the other slots that is.
    pub(super) fn set_outer(&mut self, outer: u64) -> u64 {
        self.outer = outer;
        self.others = self.form.set_outer(outer, &mut self.choices);
        for (number, part) in self.form.space.parts().enumerate() {
            self.values[number] = part.values[self.choices[number]];
        }
        self.others
    }

    /// Takes what the other slots fix; `false` where the plane has no form as a ratio of first degree.
    pub(super) fn enter(&mut self, folded: &Arc<Folded>) -> bool {
        self.folded = Some(Arc::clone(folded));
        self.moving.clone_from(&folded.moving);
        self.forget();
        if folded.is_out {
            return true;
        }
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

    /// The margin that no candidate of the plane exceeds, in dB; infinite where there is no such margin.
    pub(super) fn cap(&self) -> f64 {
        self.folded.as_ref().map_or(self.job.most, |folded| folded.cap.min(self.job.most))
    }

    /// Whether no candidate of the plane is wanted, whatever moves in it.
    pub(super) fn is_out(&self) -> bool {
        self.folded.as_ref().is_some_and(|folded| folded.is_out)
    }

    /// The combinations that a candidate can move, in the order to ask about them.
    pub(super) fn moving(&self) -> &[usize] {
        &self.moving
    }

    /// Whether the reference of a combination moves with the candidate.
    pub(super) fn has_moving_reference(&self, site: usize) -> bool {
        self.folded
            .as_ref()
            .is_none_or(|folded| folded.references[site] == ReferenceRatios::Moving)
    }

    /// Prepares a combination for whole rectangles.
    pub(super) fn prepare(&mut self, site: usize, bar: Bar) -> &mut Prepared {
        self.ready(site, bar, None)
    }

    /// Prepares a combination for whole rectangles and, with a scratch, for single candidates.
    fn ready(&mut self, site: usize, bar: Bar, scratch: Option<&mut Scratch>) -> &mut Prepared {
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
                around.prepare(site, self.order[site], bar, prepared);
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

    /// Which lanes of a block may reach the bar, and how many points it took to know.
    pub(super) fn alive(&mut self, block: &Block, lanes: usize, bar: Bar, scratch: &mut Scratch) -> ([bool; LANES], u64) {
        let method = self.job.method;
        let mut alive: [bool; LANES] = std::array::from_fn(|lane| lane < lanes);
        let mut points = 0;
        if !bar.discards() {
            return (alive, points);
        }
        for position in 0..self.moving.len() {
            let (passes, done) = self
                .ready(self.moving[position], bar, Some(scratch))
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

    /// How each candidate of a block does; `None` where the lanes cannot be trusted.
    pub(super) fn nearest(&mut self, block: &Block, bar: Bar, scratch: &mut Scratch) -> Option<[Nearest; LANES]> {
        let isa: Isa = self.job.method.isa;
        let (mut least, mut guards) = ([(f64::INFINITY, None); LANES], [(f64::INFINITY, None); LANES]);
        for position in 0..self.moving.len() {
            let site = self.moving[position];
            let is_guard = self.job.plan.is_guard(self.order[site].clause);
            let room = self.ready(site, bar, Some(scratch)).room(isa, block, scratch)?;
            let least = if is_guard { &mut guards } else { &mut least };
            for (least, room) in least.iter_mut().zip(room) {
                // What is no number stays so.
                if room.is_nan() || room < least.0 {
                    *least = (room, Some(site));
                }
            }
        }
        let cap = self.cap();
        let margin = |room: f64, bar: Bar| 10.0 * room.log10() + bar.decibels();
        let nearest = |lane: usize| {
            let ((room, site), (rest, guard)) = (least[lane], guards[lane]);
            Nearest::new(margin(room, bar), cap, site).keeping(margin(rest, Bar::at(-SLACK)), guard)
        };
        Some(std::array::from_fn(nearest))
    }

    /// The number of a candidate in its space; its choices are those at hand from now on.
    pub(super) fn index(&mut self, cell: [usize; 2]) -> u64 {
        self.form.set_cell(cell, &mut self.choices);
        self.form.space.index(&self.choices)
    }

    /// Whether a candidate may be built.
    pub(super) fn is_admissible(&mut self, cell: [usize; 2]) -> bool {
        self.form.set_cell(cell, &mut self.choices);
        self.job.is_admissible(self.form.space, &self.choices)
    }
}

/// What the lanes tell about a candidate.
#[derive(Debug, Clone, Copy)]
pub(super) struct Nearest {
    /// Its margin in dB, right to [`SLACK`]; infinite where the lanes cannot tell, −∞ where it breaks a guard for certain.
    pub(super) margin: f64,
    /// Whether the margin is for certain the one that no candidate of the plane exceeds.
    pub(super) is_capped: bool,
    /// Which of the combinations that it can move comes nearest to its bounds.
    pub(super) site: Option<usize>,
}

impl Nearest {
    /// Nothing is known.
    pub(super) const UNKNOWN: Self = Self {
        margin: f64::INFINITY,
        is_capped: false,
        site: None,
    };

    /// From the margin that the combinations leave that a candidate can move, infinite where there are none.
    fn new(moving: f64, cap: f64, site: Option<usize>) -> Self {
        if moving.is_nan() || moving == f64::NEG_INFINITY {
            return Self::UNKNOWN;
        }
        Self {
            margin: moving.min(cap),
            is_capped: cap.is_finite() && moving >= cap + 2.0 * SLACK,
            site,
        }
    }

    /// With the smallest margin of the guards, infinite where there are none.
    fn keeping(self, rest: f64, guard: Option<usize>) -> Self {
        if rest > SLACK {
            return self;
        }
        let is_broken = rest < -SLACK && rest.is_finite();
        Self {
            margin: if is_broken { f64::NEG_INFINITY } else { f64::INFINITY },
            is_capped: false,
            site: guard,
        }
    }

    /// Whether the candidate breaks a guard for certain.
    pub(super) fn is_broken(&self) -> bool {
        self.margin == f64::NEG_INFINITY
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
    debug_assert!(rectangle.u.iter().chain(&rectangle.w).all(|end| end.is_finite()), "{rectangle:?}");
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
    debug_assert!(block.u.iter().chain(&block.w).all(|part| part.is_finite()), "{block:?}");
    block
}
