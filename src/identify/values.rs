//! The values of a fitted model with their intervals, and what must be said about them.

use super::coil::{Layout, Parameter};
use super::fit::{Fit, student95};
use super::sweep::NEPER_DB;
use super::{Request, Value};

/// An interval whose ends are further apart than this ratio leaves its value poorly determined: some 30 % either way.
const POOR: f64 = 1.69;
/// A wider interval, as a ratio, is no interval.
const WIDEST: f64 = 1e6;
/// Residuals follow each other rather than chance above this correlation of neighbours.
const SYSTEMATIC: f64 = 0.5;
/// Two values whose estimates correlate like this act as one.
const AS_ONE: f64 = 0.97;

/// The values of a model: those of the pickup, then what was fitted along.
pub(super) fn values(request: &Request, layout: &Layout, fit: &Fit) -> Vec<Value> {
    let known = request.known;
    let logarithm = |value: f64| value.max(f64::MIN_POSITIVE).ln();
    type Of<'f> = Box<dyn Fn(&[f64]) -> f64 + 'f>;
    let mut wanted: Vec<(String, &'static str, bool, Of<'_>)> = vec![
        (
            "inductance".to_owned(),
            "H",
            known.inductance.is_some(),
            Box::new(|at| logarithm(layout.coil(at).inductance)),
        ),
        (
            "resistance".to_owned(),
            "Ω",
            known.resistance.is_some(),
            Box::new(|at| logarithm(layout.coil(at).resistance)),
        ),
        (
            "capacitance".to_owned(),
            "F",
            known.capacitance.is_some(),
            Box::new(|at| logarithm(layout.coil(at).capacitance)),
        ),
    ];
    for cell in 0..layout.cells {
        wanted.push((
            Parameter::Share(cell).name(),
            "H",
            false,
            Box::new(move |at| logarithm(layout.coil(at).cells[cell][0])),
        ));
        wanted.push((
            Parameter::LossResistance(cell).name(),
            "Ω",
            false,
            Box::new(move |at| logarithm(layout.coil(at).cells[cell][1])),
        ));
    }
    for (parameter, unit) in [(Parameter::Load, "Ω"), (Parameter::Cable, "F")] {
        if layout.parameters.contains(&parameter) {
            wanted.push((
                parameter.name(),
                unit,
                false,
                Box::new(move |at| layout.get(at, parameter).unwrap_or(0.0)),
            ));
        }
    }
    let mut values: Vec<Value> = wanted
        .into_iter()
        .map(|(name, unit, known, of)| value(name, unit, known, &of, fit))
        .collect();
    if let Some(slope) = layout.get(&fit.values, Parameter::Slope) {
        values.push(tilt(slope, layout, fit));
    }
    values
}

/// A value by its logarithm as a function of the parameters.
fn value(name: String, unit: &'static str, known: bool, logarithm: &dyn Fn(&[f64]) -> f64, fit: &Fit) -> Value {
    const STEP: f64 = 1e-5;
    let at = logarithm(&fit.values);
    let slope = |index: usize| {
        let moved = |step: f64| {
            let mut moved = fit.values.clone();
            moved[index] += step;
            logarithm(&moved)
        };
        (moved(STEP) - moved(-STEP)) / (2.0 * STEP)
    };
    let gradient: Vec<f64> = (0..fit.values.len()).map(slope).collect();
    let reach = fit.error(&gradient).map(|error| error * student95(fit.freedom));
    let interval95 = reach
        .filter(|reach| !known && (2.0 * reach).exp() < WIDEST)
        .map(|reach| [(at - reach).exp(), (at + reach).exp()]);
    Value {
        name,
        value: at.exp(),
        unit,
        known,
        poor: !known && interval95.is_none_or(|[low, high]| high / low > POOR),
        interval95,
    }
}

/// Widens intervals to hold those of the same values of another model; a value that the other leaves open is open. The cells of models of
/// different numbers of them are not the same.
pub(super) fn widened(own: &mut [Value], other: &[Value]) {
    for value in own.iter_mut().filter(|value| !value.known && !value.name.starts_with("loss")) {
        if let Some(theirs) = other.iter().find(|other| other.name == value.name) {
            reaching(value, theirs.interval95);
        }
    }
}

/// Widens an interval to hold another; with none, it is open.
pub(super) fn reaching(value: &mut Value, other: Option<[f64; 2]>) {
    let both = value.interval95.zip(other);
    value.interval95 = both.map(|([low, high], [from, to])| [low.min(from), high.max(to)]);
    let wide = |[low, high]: [f64; 2]| match value.unit {
        "dB/octave" => high - low > 2.0,
        _ => high / low > POOR,
    };
    value.poor = value.interval95.is_none_or(wide);
}

/// The slope in dB per octave.
fn tilt(slope: f64, layout: &Layout, fit: &Fit) -> Value {
    let octave = NEPER_DB * std::f64::consts::LN_2;
    let gradient: Vec<f64> = layout
        .parameters
        .iter()
        .map(|parameter| f64::from(*parameter == Parameter::Slope))
        .collect();
    let reach = fit.error(&gradient).map(|error| error * student95(fit.freedom));
    Value {
        name: Parameter::Slope.name(),
        value: slope * octave,
        unit: "dB/octave",
        known: false,
        interval95: reach.map(|reach| [(slope - reach) * octave, (slope + reach) * octave]),
        poor: reach.is_none_or(|reach| reach * octave > 1.0),
    }
}

pub(super) fn notes(layout: &Layout, fit: &Fit, levels: &[f64], values: &[Value]) -> Vec<String> {
    let mut notes = Vec::new();
    for value in values.iter().filter(|value| value.poor) {
        let why = match value.interval95 {
            Some(_) => "is poorly determined by these data",
            None => "cannot be told from these data",
        };
        notes.push(format!("the {} {why}", value.name));
    }
    let as_one = acting_as_one(layout, fit, values);
    if !as_one.is_empty() {
        notes.push(format!(
            "these data hardly separate {}: give one of them (--known resistance=7.9k), or a second sweep with a known capacitor added",
            as_one.join(", ")
        ));
    }
    let mean_square = levels.iter().map(|level| level * level).sum::<f64>();
    let neighbours: f64 = levels.windows(2).map(|pair| pair[0] * pair[1]).sum();
    if levels.len() >= 20 && mean_square > 0.0 && neighbours / mean_square > SYSTEMATIC {
        notes.push("what is left over follows the frequency and is no mere noise: the true intervals are wider than printed".to_owned());
    }
    notes
}

/// The poorly determined values whose estimates are tied to another's.
fn acting_as_one(layout: &Layout, fit: &Fit, values: &[Value]) -> Vec<String> {
    let tied = |one: usize| {
        (0..layout.parameters.len())
            .any(|other| other != one && fit.correlation(one, other).is_some_and(|correlation| correlation.abs() > AS_ONE))
    };
    let names = layout.parameters.iter().map(|parameter| parameter.name()).enumerate();
    let tied = names.filter(|(index, name)| values.iter().any(|value| value.poor && value.name == *name) && tied(*index));
    tied.map(|(_, name)| name).collect()
}
