//! Which single value, were it off, or which single fault would explain a measurement.

use super::faults::{Fault, faults};
use super::session::{Session, mean, root_mean_square, turned};
use super::weights::Weights;
use super::{CLEARLY, Cause, FLOOR};
use crate::circuit::{Origin, Setting};
use crate::guitar::Guitar;
use crate::tolerance::{Spread, with_factors};
use crate::units::{Ohms, knob};

/// Factors between which one value is sought.
const FACTORS: [f64; 2] = [0.1, 10.0];
/// Causes whose ranking differs by less are as likely.
const AS_LIKELY: f64 = 4.0;
/// How far a knob stands from where it was meant to, as a share; a taper off by a third is as if it were half as much again.
const TURN: f64 = 0.1;
const TURN_OR_TAPER: f64 = 0.15;
/// How far an input's resistance is from what was said, unless it is another input.
const INPUT: f64 = 0.05;
/// A value is sought on every so manieth point.
const SOUGHT_ON: usize = 3;
/// Independent readings of a smooth curve.
const INDEPENDENT: usize = 20;
/// The share of values off by more than their tolerance because they are other parts altogether.
const WRONG_PARTS: f64 = 0.03;
/// The price of a guitar built wrong: a share of 0.25 % of those that do not measure right.
const BUILT_WRONG: f64 = 12.0;

/// A knob measured between its ends.
struct Turned {
    is_volume: bool,
    rotation: f64,
    off: f64,
}

/// What may be off.
enum Suspect<'s> {
    Value(&'s Spread),
    Knob(Turned),
    Input(f64),
    Built(Box<Fault>),
    /// Nothing is wrong.
    None,
}

impl Suspect<'_> {
    /// The levels of the guitar with this off by a factor; `None` where that guitar is silent.
    fn predict(&self, session: &Session, guitar: &Guitar, factor: f64) -> Option<Vec<f64>> {
        match self {
            Self::Knob(knob) if knob.is_volume => session.predict(guitar, [factor, 1.0]),
            Self::Knob(_) => session.predict(guitar, [1.0, factor]),
            _ => session.predict(&self.guitar(guitar, factor), [1.0; 2]),
        }
    }

    /// The guitar with this off by a factor; a knob stands where it stood.
    fn guitar(&self, guitar: &Guitar, factor: f64) -> Guitar {
        match self {
            Self::Value(spread) => with_factors(guitar, std::slice::from_ref(*spread), &[factor]),
            Self::Input(nominal) => {
                let mut other = guitar.clone();
                other.input.resistance = Ohms::new(nominal * factor).unwrap_or(other.input.resistance);
                other
            }
            Self::Built(fault) => fault.guitar.clone(),
            Self::Knob(_) | Self::None => guitar.clone(),
        }
    }

    /// Which value it is among those with a tolerance.
    fn origin(&self) -> Option<Origin> {
        match self {
            Self::Value(spread) => Some(spread.origin),
            Self::Knob(knob) if knob.is_volume => Some(Origin::VolumeTaper),
            Self::Knob(_) => Some(Origin::ToneTaper),
            Self::Input(_) | Self::Built(_) | Self::None => None,
        }
    }

    /// As a cause, off by a factor and leaving so many dB.
    fn cause(self, factor: f64, rms_db: f64) -> Cause {
        let (value, nominal, unit, tolerance) = match self {
            Self::Built(fault) => {
                return Cause {
                    value: fault.place,
                    built: Some(fault.built),
                    nominal: 0.0,
                    found: 0.0,
                    unit: "",
                    tolerance: 0.0,
                    within_tolerance: false,
                    rms_db,
                    as_likely: false,
                };
            }
            Self::Value(spread) => (spread.name.clone(), spread.value, spread.unit, spread.tolerance),
            Self::Knob(knob) => {
                let name = if knob.is_volume { "volume" } else { "tone" };
                (format!("{name} knob's position or taper"), knob.rotation, "", knob.off)
            }
            Self::Input(nominal) => ("input".to_owned(), nominal, "Ω", INPUT),
            Self::None => ("nothing".to_owned(), 0.0, "", 0.0),
        };
        // Only a knob's position has no unit.
        let (nominal, found) = if unit.is_empty() {
            (knob::number(nominal), knob::number(turned(nominal, factor)))
        } else {
            (nominal, nominal * factor)
        };
        Cause {
            value,
            built: None,
            nominal,
            found,
            unit,
            tolerance,
            within_tolerance: (factor - 1.0).abs() <= tolerance,
            rms_db,
            as_likely: false,
        }
    }

    /// What it takes to believe it: −2·ln of its density over that of a value on its mark.
    fn price(&self, factor: f64) -> f64 {
        let tolerance = match self {
            Self::Value(spread) => spread.tolerance,
            Self::Knob(knob) => knob.off,
            Self::Input(_) => INPUT,
            Self::Built(_) => return BUILT_WRONG,
            Self::None => return 0.0,
        };
        let deviation = tolerance / 3.0_f64.sqrt();
        let normal = (-0.5 * (factor.ln() / deviation).powi(2)).exp();
        // Any value within the two decades, by its logarithm, against the normal density at its greatest.
        let any = deviation * std::f64::consts::TAU.sqrt() / (FACTORS[1] / FACTORS[0]).ln();
        -2.0 * ((1.0 - WRONG_PARTS) * normal + WRONG_PARTS * any).ln()
    }
}

fn suspects<'s>(session: &Session, guitar: &Guitar, spreads: &'s [Spread]) -> Vec<Suspect<'s>> {
    // A taper that is off shows as its knob standing elsewhere, and is sought as that.
    let is_value = |spread: &&Spread| !spread.unit.is_empty();
    let mut suspects: Vec<Suspect<'_>> = spreads.iter().filter(is_value).map(Suspect::Value).collect();
    let between = |rotation: &f64| *rotation > 0.0 && *rotation < 1.0;
    let turns = |of: fn(&Setting) -> f64| session.sweeps.iter().map(move |(setting, _)| of(setting)).find(between);
    let (volume, tone) = (turns(|setting| setting.volume), turns(|setting| setting.tone));
    let tone = tone.filter(|_| guitar.tone.is_some());
    let knob = |is_volume: bool, rotation: f64| {
        let taper = if is_volume { Origin::VolumeTaper } else { Origin::ToneTaper };
        let varies = spreads.iter().any(|spread| spread.origin == taper);
        Suspect::Knob(Turned {
            is_volume,
            rotation,
            off: if varies { TURN_OR_TAPER } else { TURN },
        })
    };
    suspects.extend(volume.map(|volume| knob(true, volume)));
    suspects.extend(tone.map(|tone| knob(false, tone)));
    suspects.push(Suspect::Input(guitar.input.resistance.value()));
    suspects.extend(
        faults(guitar, spreads, [volume.is_some(), tone.is_some()])
            .into_iter()
            .map(|fault| Suspect::Built(Box::new(fault))),
    );
    suspects
}

/// What a cause leaves of the differences, with the offset free.
fn left(session: &Session, guitar: &Guitar, suspect: &Suspect<'_>, factor: f64) -> Option<Vec<f64>> {
    let predicted = suspect.predict(session, guitar, factor)?;
    let differences: Vec<f64> = session
        .levels
        .iter()
        .zip(predicted)
        .map(|(level, predicted)| level - predicted)
        .collect();
    let offset = mean(differences.iter().copied());
    Some(differences.iter().map(|difference| difference - offset).collect())
}

/// Every cause, the likeliest first, and by how much the first is likelier than that nothing is wrong.
pub(super) fn causes(session: &Session, guitar: &Guitar, spreads: &[Spread]) -> (Vec<Cause>, f64) {
    let some = session.thinned(SOUGHT_ON);
    let weights = Weights::of(&some, guitar, spreads, None, FLOOR);
    let mut found: Vec<(f64, Cause)> = Vec::new();
    for suspect in suspects(session, guitar, spreads) {
        let alone = |factor: f64| left(&some, guitar, &suspect, factor).map_or(f64::INFINITY, |left| root_mean_square(&left));
        let among = |factor: f64| {
            let weighed = left(&some, guitar, &suspect, factor).zip(weights.as_ref());
            weighed.map_or(f64::INFINITY, |(left, weights)| {
                weights.distance(&some.banded(&left)) + suspect.price(factor)
            })
        };
        let (factor, likeliest) = match suspect {
            Suspect::Built(_) => (1.0, 1.0),
            _ => (least(alone), least(among)),
        };
        let (Some(left), Some(score)) = (
            left(session, guitar, &suspect, factor),
            score(session, guitar, spreads, &suspect, likeliest),
        ) else {
            continue;
        };
        found.push((score, suspect.cause(factor, root_mean_square(&left))));
    }
    found.sort_by(|(one, _), (other, _)| one.total_cmp(other));
    let best = found.first().map_or(0.0, |(score, _)| *score);
    let mut marked: Vec<Cause> = found
        .into_iter()
        .map(|(score, cause)| Cause {
            as_likely: score - best < AS_LIKELY,
            ..cause
        })
        .collect();
    let none = score(session, guitar, spreads, &Suspect::None, 1.0).unwrap_or(f64::INFINITY);
    let evidence = none - best;
    // Where nothing need be wrong at all, the one of those as likely that alone leaves least by more than nothing.
    let likely = marked.iter().take_while(|cause| cause.as_likely && evidence <= CLEARLY).count();
    if let Some(likely) = marked.get_mut(..likely) {
        likely.sort_by(|one, other| (one.rms_db / FLOOR).floor().total_cmp(&(other.rms_db / FLOOR).floor()));
    }
    (marked, evidence)
}

/// How unlikely a cause is, all other values being off within their tolerances.
fn score(session: &Session, guitar: &Guitar, spreads: &[Spread], suspect: &Suspect<'_>, factor: f64) -> Option<f64> {
    let left = left(session, guitar, suspect, factor)?;
    let off = suspect.guitar(guitar, factor);
    let weights = Weights::of(session, &off, spreads, suspect.origin(), FLOOR)?;
    let independent = INDEPENDENT as f64;
    let distance = independent * (weights.distance(&session.banded(&left)) / independent).ln_1p();
    Some(distance + weights.spread + suspect.price(factor))
}

/// The factor with the least cost: a scan over its logarithm, then golden sections.
fn least(cost: impl Fn(f64) -> f64) -> f64 {
    const STEPS: usize = 24;
    let [low, high] = FACTORS.map(f64::ln);
    let step = (high - low) / STEPS as f64;
    let best = (0..=STEPS).map(|index| low + step * index as f64);
    let best = best.map(|at| (cost(at.exp()), at)).min_by(|one, other| one.0.total_cmp(&other.0));
    let middle = best.map_or(0.0, |(_, at)| at);
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = ((middle - step).max(low), (middle + step).min(high));
    let (mut left, mut right) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_left, mut at_right) = (cost(left.exp()), cost(right.exp()));
    for _ in 0..18 {
        if at_left < at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - golden * (high - low);
            at_left = cost(left.exp());
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + golden * (high - low);
            at_right = cost(right.exp());
        }
    }
    f64::midpoint(low, high).exp()
}
