//! Where descents begin.

use num_complex::Complex64;

use super::Request;
use super::coil::{Coil, Layout, Parameter};
use super::measured::Point;

/// Inductances that are tried, in H.
const INDUCTANCES: [f64; 5] = [0.3, 1.0, 2.5, 5.0, 10.0];
/// A winding's resistance unless known, in Ω (common practice, no source).
const RESISTANCE: f64 = 7e3;
/// A winding's capacitance, in F (common practice, no source).
const CAPACITANCE: f64 = 120e-12;
/// The least capacitance a start has, in F.
const LEAST_CAPACITANCE: f64 = 20e-12;
/// A cable, in F (common practice, no source).
const CABLE: f64 = 500e-12;
/// A load, in Ω.
const LOAD: f64 = 500e3;

/// Vectors of parameters to begin from; `simpler` is the pickup of the model with one cell less, and `given` are further pickups, instead of
/// the usual ones where there is no simpler.
pub(super) fn starts(request: &Request, points: &[Point], layout: &Layout, simpler: Option<&Coil>, given: &[Coil]) -> Vec<Vec<f64>> {
    let peak = points.iter().max_by(|one, other| one.nepers.total_cmp(&other.nepers));
    let Some(peak) = peak else { return Vec::new() };
    let omega = std::f64::consts::TAU * peak.frequency;
    let coils: Vec<Coil> = match simpler {
        Some(simpler) if layout.cells > simpler.cells.len() => split(simpler, omega),
        _ if given.is_empty() => plain(request, peak, omega),
        _ => Vec::new(),
    };
    coils
        .iter()
        .chain(given)
        .map(|coil| vector(request, points, layout, coil))
        .collect()
}

fn plain(request: &Request, peak: &Point, omega: f64) -> Vec<Coil> {
    let known = request.known;
    let beside = peak.known_capacitance() + known.cable.unwrap_or(0.0);
    let inductances = known.inductance.map_or(INDUCTANCES.to_vec(), |known| vec![known]);
    let coil = |inductance: f64, capacitance: f64| Coil {
        resistance: known.resistance.unwrap_or(RESISTANCE),
        inductance,
        capacitance: known.capacitance.unwrap_or(capacitance),
        cells: Vec::new(),
    };
    // The peak may be that of the sweep's end, or of noise: the usual capacitance is tried as well.
    let of_peak = |inductance: f64| (1.0 / (omega * omega * inductance) - beside).max(LEAST_CAPACITANCE);
    let both = |inductance: f64| [coil(inductance, of_peak(inductance)), coil(inductance, CAPACITANCE)];
    inductances.into_iter().flat_map(both).collect()
}

/// A part of the inductance moved into a further cell, in several ways.
fn split(simpler: &Coil, omega: f64) -> Vec<Coil> {
    let mut coils = Vec::new();
    for share in [0.2, 0.5] {
        for ratio in [0.2, 1.0, 5.0] {
            let mut coil = simpler.clone();
            let lossless = coil.inductance - coil.cells.iter().map(|cell| cell[0]).sum::<f64>();
            let moved = share * lossless.max(0.1 * coil.inductance);
            coil.cells.push([moved, ratio * omega * coil.inductance]);
            coils.push(coil);
        }
    }
    coils
}

fn vector(request: &Request, points: &[Point], layout: &Layout, coil: &Coil) -> Vec<f64> {
    let lossless = (coil.inductance - coil.cells.iter().map(|cell| cell[0]).sum::<f64>()).max(0.01 * coil.inductance);
    let offsets = |sweep: usize| {
        let own = points.iter().filter(move |point| point.sweep == sweep);
        let (mut gain, mut turn, mut count) = (0.0, Complex64::ZERO, 0.0);
        for point in own {
            let predicted = point.predict(coil, Some(LOAD), request.known.cable.or(Some(CABLE)));
            gain += point.nepers - predicted.norm().ln();
            turn += Complex64::from_polar(1.0, point.phase.unwrap_or(0.0) - predicted.arg());
            count += 1.0;
        }
        (if count > 0.0 { gain / count } else { 0.0 }, turn.arg())
    };
    let of = |parameter: &Parameter| {
        let value = match *parameter {
            Parameter::Resistance => coil.resistance.ln(),
            Parameter::Inductance => coil.inductance.ln(),
            Parameter::Capacitance => coil.capacitance.ln(),
            Parameter::Share(cell) => coil.cells.get(cell).map_or(0.0, |cell| (cell[0] / lossless).ln()),
            Parameter::LossResistance(cell) => coil.cells.get(cell).map_or(10.0, |cell| cell[1].ln()),
            Parameter::Load => LOAD.ln(),
            Parameter::Cable => CABLE.ln(),
            Parameter::Gain(sweep) => offsets(sweep).0,
            Parameter::Phase(sweep) => offsets(sweep).1,
            Parameter::Slope => 0.0,
        };
        let [low, high] = parameter.bounds();
        if value.is_finite() { value.clamp(low, high) } else { low }
    };
    layout.parameters.iter().map(of).collect()
}
