//! What a pickup is, from what the bench says: sweeps of impedance or response ([`identify`]), resonance peaks with known capacitors
//! ([`peaks`]), a few readings of a potentiometer ([`pots`]).
//!
//! Models are tried in order: plain L–R–C, one loss cell, two. All are fitted in log magnitude (and phase where there is one) over the
//! logarithms of their values. The simplest whose corrected Akaike criterion is within 2 of the least is chosen (K. P. Burnham, D. R.
//! Anderson, *Model Selection and Multimodel Inference*, 2002, for the 2; from memory). Its intervals span those of every model that the
//! readings do not exclude, a richer one that they cannot tell among them.
// The indices are residuals, parameters and singular values of one fit, made here; no input reaches one.
#![allow(clippy::indexing_slicing)]

mod branches;
pub mod coil;
pub mod file;
pub mod fit;
mod hum;
mod measured;
pub mod peaks;
pub mod pots;
mod profile;
pub mod read;
mod starts;
pub mod sweep;
mod values;
mod verdict;

use serde::Serialize;

pub use self::branches::Rival;
use self::branches::{Answer, Branch, NOT_EXCLUDED, answer};
pub use self::coil::{Coil, Known, MOST_CELLS};
use self::coil::{Layout, Parameter};
use self::fit::{Fit, Problem, fit};
use self::measured::{MOST_POINTS, Point, points, residuals};
pub use self::measured::{Measured, Shunt, Way};
use self::starts::starts;
use self::sweep::NEPER_DB;
use self::values::{notes, values, widened};
use crate::error::{Error, ErrorKind, Result};
use crate::units::with_prefix_rounded;

/// Models within this of the least criterion are as good.
const AS_GOOD: f64 = 2.0;

/// What is to be fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The sweeps.
    pub measured: Vec<Measured>,
    /// What is known.
    pub known: Known,
    /// Whether responses tilt by an unknown slope.
    pub slope: bool,
    /// Whether outliers count less.
    pub robust: bool,
}

/// One value of a model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Value {
    /// `inductance`, `loss resistance 1` …
    pub name: String,
    /// In the SI unit.
    pub value: f64,
    /// `H`, `Ω`, `F` or `dB/octave`.
    pub unit: &'static str,
    /// Whether it was given and not fitted.
    pub known: bool,
    /// The 95 % interval; none where the readings leave the value open.
    pub interval95: Option<[f64; 2]>,
    /// Whether the interval is so wide that the value says little.
    pub poor: bool,
}

/// A model fitted to the sweeps.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Model {
    /// Loss cells.
    pub cells: usize,
    /// Its values.
    pub values: Vec<Value>,
    /// Root mean square of the level's residuals in dB.
    pub rms_db: f64,
    /// The same as a share of one.
    pub rms_share: f64,
    /// The largest residual of the level in dB.
    pub worst_db: f64,
    /// Where it is, in Hz.
    pub worst_hz: f64,
    /// Root mean square of the phase's residuals in degrees.
    pub rms_deg: Option<f64>,
    /// Corrected Akaike criterion less that of the best model; none with too few readings.
    pub criterion: Option<f64>,
    /// What there is to say about it.
    pub notes: Vec<String>,
    /// The pickup.
    #[serde(skip)]
    pub coil: Coil,
}

/// A sweep in short.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// The file.
    pub name: String,
    /// Rows in it.
    pub rows: usize,
    /// Lowest and highest frequency in Hz.
    pub band: [f64; 2],
    /// What there is to say about it.
    pub notes: Vec<String>,
}

/// A pickup found from sweeps; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Identified {
    /// The sweeps.
    pub sweeps: Vec<Summary>,
    /// The models that the readings can tell, simplest first.
    pub models: Vec<Model>,
    /// Which of them is chosen, from 0.
    pub chosen: usize,
    /// Each sweep beside what the chosen model makes of it.
    pub fits: Vec<Fitted>,
    /// Another pickup that gives the same curve, left out because no usual pickup has its values.
    pub rival: Option<Rival>,
    /// Why the fit is not to be built upon, most important first; none where it is.
    pub complaints: Vec<String>,
}

/// A sweep and its fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitted {
    /// The file.
    pub sweep: String,
    /// Frequency in Hz, reading and fit in dB (of Ω for an impedance), as they were fitted: phases left out, many rows averaged.
    pub points: Vec<[f64; 3]>,
}

impl Identified {
    /// The model chosen.
    #[must_use]
    pub fn best(&self) -> Option<&Model> {
        self.models.get(self.chosen)
    }
}

/// Fits every model and chooses.
///
/// # Errors
/// When there is no sweep, the readings cannot tell the plain model's values apart, or nothing finite comes out.
pub fn identify(request: &Request) -> Result<Identified> {
    let points = points(&request.measured)?;
    let (branch, rival) = match answer(request, &points)? {
        Answer::One(branch, rival) => (branch, rival),
        Answer::Two(rivals) => return Err(two_pickups(&rivals)),
    };
    let least = branch.least();
    let mut models: Vec<Model> = branch
        .kept
        .iter()
        .map(|(layout, fit)| model(request, &points, layout, fit, least))
        .collect();
    let chosen = branch.chosen();
    if let Some(model) = models.get_mut(chosen) {
        model.values = spanning(request, &branch, std::mem::take(&mut model.values));
        profile::profiled(request, &points, &branch, &mut model.values);
        if let Some((layout, fit)) = branch.kept.get(chosen) {
            model.notes = notes(layout, fit, &fit.residuals[..points.len()], &model.values);
        }
    }
    let mut found = Identified {
        sweeps: request.measured.iter().map(summary).collect(),
        fits: branch
            .kept
            .get(chosen)
            .map(|(_, fit)| fits(request, &points, fit))
            .unwrap_or_default(),
        chosen,
        models,
        rival,
        complaints: Vec::new(),
    };
    found.complaints = verdict::complaints(request, &points, &found);
    if let Some(model) = found
        .models
        .get_mut(found.chosen)
        .filter(|model| verdict::is_no_pickup(request, model))
    {
        // Some other answer is the true one; how well this one is known says nothing.
        let open = ["inductance", "capacitance"];
        let found = model
            .values
            .iter_mut()
            .filter(|value| open.contains(&value.name.as_str()) && !value.known);
        found.for_each(|value| value.interval95 = None);
    }
    Ok(found)
}

/// Values with intervals that span those of every model the readings do not exclude.
fn spanning(request: &Request, branch: &Branch, mut own: Vec<Value>) -> Vec<Value> {
    let tried = branch.kept.iter().chain(&branch.passed_over);
    let least = tried.clone().filter_map(|(_, fit)| fit.criterion).fold(f64::INFINITY, f64::min);
    for (layout, fit) in tried {
        if fit.criterion.is_some_and(|criterion| criterion <= least + NOT_EXCLUDED) {
            widened(&mut own, &values(request, layout, fit));
        }
    }
    own
}

fn fits(request: &Request, points: &[Point], fit: &Fit) -> Vec<Fitted> {
    let of_sweep = |(index, measured): (usize, &Measured)| {
        let own = points.iter().zip(&fit.residuals).filter(|(point, _)| point.sweep == index);
        let decibels = |(point, residual): (&Point, &f64)| [point.nepers, point.nepers + residual].map(|nepers| nepers * NEPER_DB);
        Fitted {
            sweep: measured.sweep.name.clone(),
            points: own
                .map(|(point, residual)| {
                    let [read, fitted] = decibels((point, residual));
                    [point.frequency, read, fitted]
                })
                .collect(),
        }
    };
    request.measured.iter().enumerate().map(of_sweep).collect()
}

/// Fits the model of so many loss cells; no choice is made, and values that the readings leave open have no interval.
///
/// # Errors
/// When nothing finite comes out.
pub fn identify_as(request: &Request, cells: usize) -> Result<Model> {
    let points = points(&request.measured)?;
    let mut simpler = None;
    for fewer in 0..cells.min(MOST_CELLS) {
        let layout = layout(request, fewer);
        simpler = fit_layout(request, &points, &layout, simpler.as_ref(), &[])
            .map(|fit| layout.coil(&fit.values))
            .or(simpler);
    }
    let layout = layout(request, cells.min(MOST_CELLS));
    let fit = fit_layout(request, &points, &layout, simpler.as_ref(), &[]);
    let fit = fit.ok_or_else(|| nothing(request, points.len(), layout.parameters.len()))?;
    Ok(model(request, &points, &layout, &fit, fit.criterion.unwrap_or(0.0)))
}

fn of_a_cell(parameter: Parameter) -> bool {
    matches!(parameter, Parameter::Share(_) | Parameter::LossResistance(_))
}

fn layout(request: &Request, cells: usize) -> Layout {
    let mut further = Vec::new();
    let ways = || request.measured.iter().map(|measured| &measured.way);
    if ways().any(|way| matches!(way, Way::Response { unknown: true, .. })) {
        further.push(Parameter::Load);
    }
    if request.known.cable.is_none() && ways().any(|way| matches!(way, Way::Jack(..))) {
        further.push(Parameter::Cable);
    }
    for (index, measured) in request.measured.iter().enumerate().filter(|(_, measured)| measured.is_response()) {
        further.push(Parameter::Gain(index));
        if measured.sweep.rows.iter().all(|row| row.phase.is_some()) {
            further.push(Parameter::Phase(index));
        }
    }
    if request.slope {
        further.push(Parameter::Slope);
    }
    Layout::new(cells, request.known, &further)
}

fn problem<'p>(request: &'p Request, points: &'p [Point], layout: &'p Layout) -> Problem<'p> {
    let phases = points.iter().filter(|point| point.phase.is_some()).count();
    let blocks = if phases > 0 {
        vec![points.len(), phases]
    } else {
        vec![points.len()]
    };
    Problem {
        residuals: Box::new(move |values| residuals(points, layout, request.known.cable, values)),
        blocks,
        bounds: layout.parameters.iter().map(|parameter| parameter.bounds()).collect(),
        robust: request.robust,
    }
}

/// How many points the starts are tried on.
const ROUGH: usize = 150;

/// First from every start on some of the points, then from the best on all. The starts are the pickups given and those made of the simpler
/// one; with neither, the usual ones.
fn fit_layout(request: &Request, points: &[Point], layout: &Layout, simpler: Option<&Coil>, given: &[Coil]) -> Option<Fit> {
    let some: Vec<Point> = points.iter().step_by(points.len().div_ceil(ROUGH).max(1)).copied().collect();
    let starts = starts(request, &some, layout, simpler, given);
    let rough = fit(&problem(request, &some, layout), &starts).map(|fit| fit.values);
    let starts = rough.map_or(starts, |rough| vec![rough]);
    fit(&problem(request, points, layout), &starts)
}

fn summary(measured: &Measured) -> Summary {
    let sweep = &measured.sweep;
    let ends = [sweep.rows.first(), sweep.rows.last()].map(|row| row.map_or(0.0, |row| row.frequency));
    let mut notes = sweep.notes.clone();
    if sweep.rows.len() > MOST_POINTS {
        let group = sweep.rows.len().div_ceil(MOST_POINTS);
        notes.push(format!(
            "{} rows are more than a fit needs: every {group} neighbours are averaged",
            sweep.rows.len()
        ));
    }
    let top = sweep
        .rows
        .iter()
        .enumerate()
        .max_by(|(_, one), (_, other)| one.nepers.total_cmp(&other.nepers));
    let side = match top {
        Some((0, _)) => Some("above"),
        Some((index, _)) if index + 1 == sweep.rows.len() => Some("below"),
        _ => None,
    };
    if let Some(side) = side {
        notes.push(format!(
            "the peak is not inside the sweep, which lies {side} it: sweep both sides of it, or the values stay vague"
        ));
    }
    if matches!(measured.way, Way::Impedance(Shunt { capacitance: None, .. })) {
        notes.push(
            "no capacitance of the jig was given: what the probe and its leads have counts as the winding's (--jig 1M,30p)".to_owned(),
        );
    }
    Summary {
        name: sweep.name.clone(),
        rows: sweep.rows.len(),
        band: ends,
        notes,
    }
}

fn two_pickups(rivals: &[Rival; 2]) -> Error {
    let [one, other] = rivals.map(|rival| {
        format!(
            "{} with {}",
            with_prefix_rounded(rival.inductance, "H", 3),
            with_prefix_rounded(rival.capacitance, "F", 3)
        )
    });
    let message = format!("two pickups give this curve to within its noise, {one} and {other}, and nothing here says which it is");
    Error::new(ErrorKind::Missing, message)
        .help("add a second sweep with a known capacitor across the pickup: --response 470p=loaded.csv")
        .help("or sweep the impedance, which has one answer: --impedance sweep.csv")
}

fn nothing(request: &Request, points: usize, parameters: usize) -> Error {
    if points <= parameters {
        let message = format!("{points} readings cannot tell {parameters} values");
        return Error::new(ErrorKind::Missing, message).help("sweep with more points");
    }
    let names: Vec<&str> = request.measured.iter().map(|measured| measured.sweep.name.as_str()).collect();
    Error::new(ErrorKind::Search, format!("no pickup at all fits {}", names.join(" and ")))
        .help("is it the column of the magnitude, in ohms or in dB?")
}

fn not_to_be_told_apart(request: &Request, layout: &Layout, fit: &Fit) -> Error {
    let open: Vec<String> = fit.open().iter().map(|index| layout.parameters[*index].name()).collect();
    let message = format!(
        "these data cannot tell {} apart: they can all change together and leave the sweep as it is",
        open.join(", ")
    );
    let error = Error::new(ErrorKind::Missing, message);
    let has = |name: &str| open.iter().any(|open| open == name);
    let error = if has("resistance") {
        error.help("measure the pickup's DC resistance with a multimeter and give it: --known resistance=7.9k")
    } else if has("cable") {
        error.help("give the cable's capacitance (--known cable=500p; 0p when none is plugged in), or add a sweep at half volume")
    } else {
        error.help("give one of them: --known resistance=7.9k, inductance=4.2H or capacitance=120p")
    };
    if request.measured.iter().any(Measured::is_response) {
        error.help("or add a second sweep with a known capacitor across the pickup: --response 470p=loaded.csv")
    } else {
        error
    }
}

fn model(request: &Request, points: &[Point], layout: &Layout, fit: &Fit, least: f64) -> Model {
    let levels = &fit.residuals[..points.len()];
    let worst = levels
        .iter()
        .zip(points)
        .max_by(|(one, _), (other, _)| one.abs().total_cmp(&other.abs()));
    let rms = fit.rms.first().copied().unwrap_or(0.0);
    let values = values(request, layout, fit);
    Model {
        cells: layout.cells,
        notes: notes(layout, fit, levels, &values),
        values,
        rms_db: rms * NEPER_DB,
        rms_share: rms.exp_m1(),
        worst_db: worst.map_or(0.0, |(residual, _)| -residual * NEPER_DB),
        worst_hz: worst.map_or(0.0, |(_, point)| point.frequency),
        rms_deg: fit.rms.get(1).map(|rms| rms.to_degrees()),
        criterion: fit.criterion.map(|criterion| criterion - least),
        coil: layout.coil(&fit.values),
    }
}
