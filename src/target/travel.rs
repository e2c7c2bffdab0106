//! A knob's travel: "from A to B" is every half mark between, and is looked at and shown in other steps.

use super::{Clause, Target};

/// Steps of a whole knob: where a travel is judged, where it is shown, and where an answer is looked at closely.
const HALF_MARKS: u32 = 20;
const QUARTERS: u32 = 4;
const TENTHS_OF_MARKS: u32 = 100;

/// The whole travel between two rotations: both ends and every half mark strictly between, highest first.
pub(super) fn between(one: f64, other: f64) -> Vec<f64> {
    in_steps(one, other, HALF_MARKS)
}

/// Both ends and every step strictly between, highest first, of so many on the whole knob.
fn in_steps(one: f64, other: f64, steps: u32) -> Vec<f64> {
    let (high, low) = (one.max(other), one.min(other));
    let rotations = (0..=steps).rev().map(|step| f64::from(step) / f64::from(steps));
    let inside = rotations.filter(|rotation| low < *rotation && *rotation < high);
    let last = Some(low).filter(|low| *low < high);
    std::iter::once(high).chain(inside).chain(last).collect()
}

/// The ends of rotations that are a whole travel, the first and the last of them; `None` for a list of their own.
pub(super) fn ends(rotations: &[f64]) -> Option<[f64; 2]> {
    match rotations {
        [first, _, .., last] if between(*first, *last) == rotations => Some([*first, *last]),
        _ => None,
    }
}

impl Target {
    /// The same target with the quarters of a knob's whole travel, and its ends; lists of positions stay.
    #[must_use]
    pub fn in_quarters(&self) -> Self {
        self.with_travels(QUARTERS)
    }

    /// The same target with a knob's whole travel in steps of a tenth of a mark; lists of positions stay.
    #[must_use]
    pub fn looked_at_closely(&self) -> Self {
        self.with_travels(TENTHS_OF_MARKS)
    }

    fn with_travels(&self, steps: u32) -> Self {
        let stepped = |rotations: &[f64]| match ends(rotations) {
            Some([from, to]) => in_steps(from, to, steps),
            None => rotations.to_vec(),
        };
        let clause = |clause: &Clause| Clause {
            volume: stepped(&clause.volume),
            tone: stepped(&clause.tone),
            ..clause.clone()
        };
        Self {
            clauses: self.clauses.iter().map(clause).collect(),
            ..self.clone()
        }
    }
}
