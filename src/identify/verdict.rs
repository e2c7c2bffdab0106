//! Whether a fit may be built upon, and if not, why it is likely to have gone wrong.

use super::branches::unusual;
use super::measured::Point;
use super::sweep::{NEPER_DB, Reading, scatter};
use super::{Identified, Model, Request, Way, fit_layout, layout};
use crate::units::with_prefix_rounded;

/// A fit that misses by more than this on average, its noise apart, describes another thing, in dB (our own rule).
const MISSES_DB: f64 = 1.0;
/// Noise above this drowns a pickup, in dB (our own rule).
const NOISY_DB: f64 = 3.0;
/// The tilt in dB per octave that a coil without integrator brings, and how near is near.
const TILT: [f64; 2] = [6.02, 1.5];
/// No sweep of a pickup ends below this frequency, in Hz, and no pickup's median impedance lies below that, in Ω (common practice).
const LEAST_HIGHEST_HZ: f64 = 200.0;
const LEAST_MEDIAN_OHM: f64 = 100.0;

/// What is wrong with the fit and the likeliest reasons, most important first; nothing where it is good.
pub(super) fn complaints(request: &Request, points: &[Point], found: &Identified) -> Vec<String> {
    let Some(best) = found.best() else { return Vec::new() };
    let noise = noise(found);
    let beyond = (best.rms_db * best.rms_db - noise * noise).max(0.0).sqrt();
    // What a fit that misses says of the values is worth nothing.
    let mut complaints = if beyond > MISSES_DB || best.rms_db > NOISY_DB {
        let digits = usize::from(best.rms_db < 9.95);
        let missed = format!(
            "This fit is no good: it misses the levels by {:.digits$} dB on average",
            best.rms_db
        );
        [missed].into_iter().chain(tilted(request, points)).collect()
    } else {
        not_to_be_pasted(request, best)
    };
    if !complaints.is_empty() {
        complaints.extend(other_units(request));
    }
    complaints
}

/// Values that no pickup has, and values that the data leave open.
fn not_to_be_pasted(request: &Request, best: &Model) -> Vec<String> {
    let mut complaints: Vec<String> = impossible(request, best)
        .map(|(name, unit, value, [low, high])| {
            let [value, low, high] = [value, low, high].map(|value| with_prefix_rounded(value, unit, 3));
            format!(
                "The {name}, {value}, is none that pickups have ({low} to {high}); if it is right all the same, say so: --known {name}={}",
                value.replace(' ', "")
            )
        })
        .collect();
    let open = |name: &&str| {
        best.values
            .iter()
            .any(|value| value.name == *name && !value.known && value.interval95.is_none())
    };
    let open: Vec<&str> = ["inductance", "resistance", "capacitance"].into_iter().filter(open).collect();
    if !open.is_empty() {
        complaints.push(format!(
            "These data leave the {} open, so there is no pickup to paste: give what you can measure otherwise (--known resistance=7.9k), or \
             add a sweep with a known capacitor across the pickup",
            open.join(" and the ")
        ));
    }
    complaints
}

/// Values that no pickup has, in all of their intervals: the name, unit, value and usual range of each.
fn impossible(request: &Request, best: &Model) -> impl Iterator<Item = (&'static str, &'static str, f64, [f64; 2])> {
    let outside = unusual(request, &best.coil).into_iter();
    outside.filter(move |(name, _, _, usual)| !reaches(best, name, *usual))
}

/// Whether a model is none of any pickup.
pub(super) fn is_no_pickup(request: &Request, best: &Model) -> bool {
    impossible(request, best).next().is_some()
}

fn reaches(model: &Model, name: &str, [low, high]: [f64; 2]) -> bool {
    let interval = model
        .values
        .iter()
        .find(|value| value.name == name)
        .and_then(|value| value.interval95);
    interval.is_some_and(|[from, to]| from <= high && to >= low)
}

/// What jumps from point to point in what the fit leaves, in dB.
fn noise(found: &Identified) -> f64 {
    let left: Vec<Vec<f64>> = found
        .fits
        .iter()
        .map(|fit| fit.points.iter().map(|[_, read, fitted]| read - fitted).collect())
        .collect();
    scatter(left.iter().map(Vec::as_slice))
}

/// Sweeps whose numbers are likely in other units than they are taken for.
fn other_units(request: &Request) -> Vec<String> {
    let mut reasons = Vec::new();
    for measured in &request.measured {
        let rows = &measured.sweep.rows;
        let highest = rows.last().map_or(0.0, |row| row.frequency);
        if highest < LEAST_HIGHEST_HZ {
            reasons.push(format!(
                "`{}` ends at {highest} Hz: if its frequencies are in kHz, say so in the header (f [kHz])",
                measured.sweep.name
            ));
        }
        let mut levels: Vec<f64> = rows.iter().map(|row| row.nepers).collect();
        levels.sort_by(f64::total_cmp);
        let median = levels.get(levels.len() / 2).map_or(f64::INFINITY, |nepers| nepers.exp());
        if reading(&measured.way) == Reading::Impedance && median < LEAST_MEDIAN_OHM {
            reasons.push(format!(
                "`{}` reads {} in its middle: if it is in kΩ, say so in the header (Z [kOhm])",
                measured.sweep.name,
                with_prefix_rounded(median, "Ω", 3)
            ));
        }
    }
    reasons
}

const fn reading(way: &Way) -> Reading {
    match way {
        Way::Impedance(_) | Way::Jack(..) => Reading::Impedance,
        Way::Response { .. } | Way::Through(..) => Reading::Level,
    }
}

/// Whether a slope fitted along mends the fit.
fn tilted(request: &Request, points: &[Point]) -> Option<String> {
    if request.slope || !request.measured.iter().any(super::Measured::is_response) {
        return None;
    }
    let tilted = Request {
        slope: true,
        ..request.clone()
    };
    let layout = layout(&tilted, 0);
    let fit = fit_layout(&tilted, points, &layout, None, &[])?;
    let octave = NEPER_DB * std::f64::consts::LN_2;
    let slope = layout.get(&fit.values, super::coil::Parameter::Slope)? * octave;
    let rms = fit.rms.first().copied().unwrap_or(f64::INFINITY) * NEPER_DB;
    ((slope.abs() - TILT[0]).abs() < TILT[1]).then(|| {
        format!(
            "The levels tilt by {slope:+.1} dB an octave against any pickup's, as those of a coil without integrator do: with --slope, which \
             fits the tilt along, it misses by {rms:.2} dB"
        )
    })
}
