//! Which single value, were it off, would explain a measurement.

use super::session::{Session, mean, root_mean_square, turned};
use super::{Cause, FLOOR};
use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::tolerance::{Spread, with_factors};

/// Factors between which one value is sought.
const FACTORS: [f64; 2] = [0.1, 10.0];
/// Causes whose ranking differs by less are as likely.
const AS_LIKELY: f64 = 4.0;
/// How far a knob stands from where it was meant to, or its taper from what was said, as a share.
const TURN: f64 = 0.1;
/// Independent readings of a smooth curve.
const INDEPENDENT: f64 = 20.0;

/// What may be off.
enum Suspect<'s> {
    Value(&'s Spread),
    Knob(usize, &'static str, f64),
}

pub(super) fn causes(session: &Session, guitar: &Guitar, spreads: &[Spread]) -> Vec<Cause> {
    let mut suspects: Vec<Suspect<'_>> = spreads.iter().map(Suspect::Value).collect();
    let between = |rotation: &f64| *rotation > 0.0 && *rotation < 1.0;
    let turns = |of: fn(&Setting) -> f64| session.sweeps.iter().map(move |(setting, _)| of(setting)).find(between);
    if let Some(volume) = turns(|setting| setting.volume) {
        suspects.push(Suspect::Knob(0, "volume knob's position or taper", volume));
    }
    if let Some(tone) = turns(|setting| setting.tone).filter(|_| guitar.tone.is_some()) {
        suspects.push(Suspect::Knob(1, "tone knob's position or taper", tone));
    }
    let left = |suspect: &Suspect<'_>, factor: f64| {
        let predicted = match suspect {
            Suspect::Value(spread) => session.predict(&with_factors(guitar, std::slice::from_ref(spread), &[factor]), [1.0; 2]),
            Suspect::Knob(0, ..) => session.predict(guitar, [factor, 1.0]),
            Suspect::Knob(..) => session.predict(guitar, [1.0, factor]),
        };
        predicted.map_or(f64::INFINITY, |predicted| {
            let differences: Vec<f64> = session
                .levels
                .iter()
                .zip(predicted)
                .map(|(level, predicted)| level - predicted)
                .collect();
            let offset = mean(differences.iter().copied());
            root_mean_square(&differences.iter().map(|difference| difference - offset).collect::<Vec<_>>())
        })
    };
    let mut found: Vec<(f64, Cause)> = Vec::new();
    for suspect in &suspects {
        let factor = least(|factor| left(suspect, factor));
        let (name, nominal, unit, tolerance) = match suspect {
            Suspect::Value(spread) => (spread.name.clone(), spread.value, spread.unit, spread.tolerance),
            Suspect::Knob(_, name, rotation) => ((*name).to_owned(), *rotation, "", TURN),
        };
        let rms_db = left(suspect, factor);
        if !rms_db.is_finite() {
            continue;
        }
        let deviation = factor.ln() / (tolerance / 3.0_f64.sqrt());
        let score = INDEPENDENT * (rms_db * rms_db + FLOOR * FLOOR).ln() + deviation * deviation;
        found.push((
            score,
            Cause {
                value: name,
                nominal,
                found: if unit.is_empty() {
                    turned(nominal, factor)
                } else {
                    nominal * factor
                },
                unit,
                tolerance,
                within_tolerance: (factor - 1.0).abs() <= tolerance,
                rms_db,
                as_likely: false,
            },
        ));
    }
    found.sort_by(|(one, _), (other, _)| one.total_cmp(other));
    let best = found.first().map_or(0.0, |(score, _)| *score);
    let mark = |(score, cause): (f64, Cause)| Cause {
        as_likely: score - best < AS_LIKELY,
        ..cause
    };
    found.into_iter().map(mark).collect()
}

/// The factor with the least cost: a scan over its logarithm, then golden sections.
fn least(cost: impl Fn(f64) -> f64) -> f64 {
    const STEPS: usize = 40;
    let [low, high] = FACTORS.map(f64::ln);
    let step = (high - low) / STEPS as f64;
    let best = (0..=STEPS).map(|index| low + step * index as f64);
    let best = best.map(|at| (cost(at.exp()), at)).min_by(|one, other| one.0.total_cmp(&other.0));
    let middle = best.map_or(0.0, |(_, at)| at);
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = ((middle - step).max(low), (middle + step).min(high));
    for _ in 0..30 {
        let (left, right) = (high - golden * (high - low), low + golden * (high - low));
        if cost(left.exp()) < cost(right.exp()) {
            high = right;
        } else {
            low = left;
        }
    }
    f64::midpoint(low, high).exp()
}
