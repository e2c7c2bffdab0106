//! How far a capacitance can lie from the one found when a loss nobody knows makes up for it.
//!
//! One response is nearly of second order, and so is every model: a cell more damps as another inductance would, and the descent sees no
//! reason to begin with one. So the capacitance is held at other values while a model with a cell more is fitted (profile likelihood); what
//! fits so is not excluded.

use super::branches::{Branch, NOT_EXCLUDED};
use super::coil::{Coil, MOST_CELLS};
use super::measured::Point;
use super::values::{reaching, values};
use super::{Measured, Request, Value, fit_layout, layout};

/// Ratios to the capacitance found that are tried, either way, until one does not fit. Beyond the last the value is open.
const RATIOS: [f64; 4] = [1.05, 1.15, 1.4, 2.0];

/// Widens the intervals of a response's inductance and capacitance to what a further loss allows.
pub(super) fn profiled(request: &Request, points: &[Point], branch: &Branch, own: &mut [Value]) {
    if request.known.capacitance.is_some() || !request.measured.iter().any(Measured::is_response) {
        return;
    }
    let Some((layout, fit)) = branch.kept.get(branch.chosen()) else {
        return;
    };
    let coil = layout.coil(&fit.values);
    let limit = branch.least() + NOT_EXCLUDED;
    for upwards in [true, false] {
        for (index, ratio) in RATIOS.into_iter().enumerate() {
            let capacitance = coil.capacitance * if upwards { ratio } else { ratio.recip() };
            let Some(theirs) = held_at(request, points, &coil, capacitance, limit) else {
                break;
            };
            let last = index + 1 == RATIOS.len();
            for value in own.iter_mut().filter(|value| !value.known) {
                let theirs = theirs.iter().find(|other| other.name == value.name);
                match (value.name.as_str(), theirs) {
                    ("inductance" | "capacitance", _) if last => reaching(value, None),
                    ("capacitance", _) => reaching(value, Some([capacitance; 2])),
                    ("inductance" | "resistance" | "load resistance", Some(other)) => reaching(value, other.interval95),
                    _ => {}
                }
            }
        }
    }
}

/// The values of the best model with this capacitance, if the readings do not exclude it.
fn held_at(request: &Request, points: &[Point], coil: &Coil, capacitance: f64, limit: f64) -> Option<Vec<Value>> {
    let mut held = request.clone();
    held.known.capacitance = Some(capacitance);
    let layout = layout(&held, (coil.cells.len() + 1).min(MOST_CELLS));
    let fit = if layout.cells > coil.cells.len() {
        fit_layout(&held, points, &layout, Some(coil), &[])
    } else {
        fit_layout(&held, points, &layout, None, std::slice::from_ref(coil))
    }?;
    fit.criterion
        .is_some_and(|criterion| criterion <= limit)
        .then(|| values(&held, &layout, &fit))
}
