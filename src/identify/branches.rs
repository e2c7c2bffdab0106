//! One response of unknown gain has two exact answers, however well the winding's resistance is known.
//!
//! With R known and R_q across the pickup, V/E up to its gain is 1/(1 + a₁s + a₂s²), a₁ = (RC′ + L/R_q)/k, a₂ = LC′/k, k = 1 + R/R_q,
//! C′ = C with all that lies beside it. The same a₁ and a₂ come from R·R_q·C′ for L and L/(R·R_q) for C′. Losses and loads that change with
//! frequency bend that, so that the second answer is looked for by a descent of its own from the mirrored point.

use serde::Serialize;

use super::coil::{Coil, Layout, MOST_CELLS};
use super::fit::Fit;
use super::measured::Point;
use super::{AS_GOOD, Measured, Request, fit_layout, layout, not_to_be_told_apart, nothing, of_a_cell};
use crate::error::Result;

/// Models whose criterion is this much above the least are not excluded by the readings: some 1 to 150 against them.
pub(super) const NOT_EXCLUDED: f64 = 10.0;
/// Pickups whose values differ by less than this ratio are one.
const ONE: f64 = 1.1;
/// A root mean square in nepers that no measurement reaches.
const EXACT: f64 = 1e-6;
/// Low-frequency inductances of pickups, in H, and capacitances of windings with their leads, in F (common practice, no source).
const USUAL: [[f64; 2]; 2] = [[0.5, 15.0], [20e-12, 400e-12]];

/// A pickup that the readings do not exclude beside the one chosen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rival {
    /// In H.
    pub inductance: f64,
    /// In Ω.
    pub resistance: f64,
    /// In F.
    pub capacitance: f64,
}

impl Rival {
    fn of(coil: &Coil) -> Self {
        Self {
            inductance: coil.inductance,
            resistance: coil.resistance,
            capacitance: coil.capacitance,
        }
    }
}

/// Which of a pickup's inductance and capacitance lie outside what pickups have: `inductance`, its value and the usual range. A value that
/// was given is as it is.
pub(super) fn unusual(request: &Request, coil: &Coil) -> Vec<(&'static str, &'static str, f64, [f64; 2])> {
    let [inductances, capacitances] = USUAL;
    let checks = [
        ("inductance", "H", coil.inductance, inductances, request.known.inductance),
        ("capacitance", "F", coil.capacitance, capacitances, request.known.capacitance),
    ];
    let outside = |[low, high]: [f64; 2], value: f64| !(low..=high).contains(&value);
    checks
        .into_iter()
        .filter(|(_, _, value, usual, known)| known.is_none() && outside(*usual, *value))
        .map(|(name, unit, value, usual, _)| (name, unit, value, usual))
        .collect()
}

/// Models of rising numbers of cells, and the next one, which the readings could not tell.
pub(super) struct Branch {
    pub(super) kept: Vec<(Layout, Fit)>,
    pub(super) passed_over: Option<(Layout, Fit)>,
}

impl Branch {
    /// The least criterion of the models kept.
    pub(super) fn least(&self) -> f64 {
        self.kept.iter().filter_map(|(_, fit)| fit.criterion).fold(f64::INFINITY, f64::min)
    }

    /// The simplest model that is as good as any.
    pub(super) fn chosen(&self) -> usize {
        let least = self.least();
        let as_good = |(_, fit): &(Layout, Fit)| fit.criterion.is_some_and(|criterion| criterion <= least + AS_GOOD);
        self.kept.iter().position(as_good).unwrap_or(0)
    }

    fn coil(&self) -> Option<Coil> {
        self.kept.get(self.chosen()).map(|(layout, fit)| layout.coil(&fit.values))
    }

    /// Whether nothing is left over but what rounding and the end of a descent leave.
    fn is_exact(&self) -> bool {
        let rms = self.kept.get(self.chosen()).and_then(|(_, fit)| fit.rms.first());
        rms.is_some_and(|rms| *rms < EXACT)
    }

    fn criterion(&self) -> f64 {
        self.kept
            .get(self.chosen())
            .and_then(|(_, fit)| fit.criterion)
            .unwrap_or(f64::INFINITY)
    }
}

/// The models from wherever the usual starts lead.
pub(super) fn first(request: &Request, points: &[Point]) -> Result<Branch> {
    let mut branch = Branch {
        kept: Vec::new(),
        passed_over: None,
    };
    let mut coil: Option<Coil> = None;
    for cells in 0..=MOST_CELLS {
        let layout = layout(request, cells);
        let Some(fit) = fit_layout(request, points, &layout, coil.as_ref(), &[]) else {
            if cells == 0 {
                return Err(nothing(request, points.len(), layout.parameters.len()));
            }
            break;
        };
        if cells == 0 && !fit.free.is_empty() {
            return Err(not_to_be_told_apart(request, &layout, &fit));
        }
        if cells > 0 && is_none(&layout, &fit) {
            branch.passed_over = Some((layout, fit));
            break;
        }
        coil = Some(layout.coil(&fit.values));
        branch.kept.push((layout, fit));
    }
    Ok(branch)
}

/// A cell that ends at a bound, or that only others can move, is none.
fn is_none(layout: &Layout, fit: &Fit) -> bool {
    let of_a_cell = |index: &usize| layout.parameters.get(*index).is_some_and(|parameter| of_a_cell(*parameter));
    !fit.free.is_empty() || fit.bounded.iter().any(of_a_cell)
}

/// The same numbers of cells from the mirrored points; `None` where there is no other answer.
fn second(request: &Request, points: &[Point], first: &Branch) -> Option<Branch> {
    let mut branch = Branch {
        kept: Vec::new(),
        passed_over: None,
    };
    let mut simpler: Option<Coil> = None;
    for (layout, fit) in &first.kept {
        let mirrored = mirrored(points, &layout.coil(&fit.values))?;
        // The plain model begins at its mirrored point alone, lest it finds the first answer again.
        let Some(fit) = fit_layout(request, points, layout, simpler.as_ref(), &[mirrored]) else {
            break;
        };
        if layout.cells > 0 && is_none(layout, &fit) {
            branch.passed_over = Some((layout.clone(), fit));
            break;
        }
        simpler = Some(layout.coil(&fit.values));
        branch.kept.push((layout.clone(), fit));
    }
    (!branch.kept.is_empty()).then_some(branch)
}

/// The pickup that gives the same response; `None` without a load across it.
fn mirrored(points: &[Point], coil: &Coil) -> Option<Coil> {
    let peak = points
        .iter()
        .filter(|point| point.response_load().is_some())
        .max_by(|one, other| one.nepers.total_cmp(&other.nepers))?;
    let load = peak.response_load()?;
    let beside = peak.known_capacitance();
    let factor = coil.resistance * load;
    let inductance = factor * (coil.capacitance + beside);
    let capacitance = (coil.inductance / factor - beside).max(1e-12);
    let scale = inductance / coil.inductance;
    Some(Coil {
        resistance: coil.resistance,
        inductance,
        capacitance,
        cells: coil.cells.iter().map(|[l, r]| [l * scale, r * scale]).collect(),
    })
    .filter(|coil| coil.inductance.is_finite() && coil.inductance > 0.0)
}

/// The branch to go on with, and a pickup that fits as well but is none that is usual; both where neither can be left out.
pub(super) enum Answer {
    /// The one to print, and the one left out.
    One(Box<Branch>, Option<Rival>),
    /// Two that the readings cannot tell apart.
    Two([Rival; 2]),
}

/// Fits both branches and decides between them.
pub(super) fn answer(request: &Request, points: &[Point]) -> Result<Answer> {
    let one = first(request, points)?;
    let gain_unknown = request.measured.iter().any(Measured::is_response);
    let Some(other) = gain_unknown.then(|| second(request, points, &one)).flatten() else {
        return Ok(Answer::One(Box::new(one), None));
    };
    let (Some(coil), Some(mirror)) = (one.coil(), other.coil()) else {
        return Ok(Answer::One(Box::new(one), None));
    };
    let apart = |one: f64, other: f64| (one / other).max(other / one) > ONE;
    let same = !apart(coil.inductance, mirror.inductance) && !apart(coil.capacitance, mirror.capacitance);
    let difference = if one.is_exact() && other.is_exact() {
        0.0
    } else {
        other.criterion() - one.criterion()
    };
    if same || difference > NOT_EXCLUDED {
        return Ok(Answer::One(Box::new(one), None));
    }
    if difference < -NOT_EXCLUDED {
        return Ok(Answer::One(Box::new(other), None));
    }
    let usual = |coil: &Coil| unusual(request, coil).is_empty();
    Ok(match (usual(&coil), usual(&mirror)) {
        (true, false) => Answer::One(Box::new(one), Some(Rival::of(&mirror))),
        (false, true) => Answer::One(Box::new(other), Some(Rival::of(&coil))),
        _ => Answer::Two([Rival::of(&coil), Rival::of(&mirror)]),
    })
}
