//! What stands in for a guitar whose owner knows the kind of pickup and nothing else, and over which inductances of that kind the answer
//! stays what it is.

use serde::Serialize;

use super::choice::{Answer, AnswerKind, NOBODY_HEARS, WORTH_SAYING, decibels};
use super::{Prepared, Request};
use crate::error::Result;
use crate::guitar::Guitar;
use crate::guitar::kind::Kind;
use crate::kernel::features::at_own_ends;
use crate::kernel::measure::{rest, worst_point};
use crate::search::exhaustive::{self, Evaluator};
use crate::units::{Henries, with_prefix, with_prefix_rounded};

/// Steps between the inductances that are tried, in H: fine for a narrow range, coarse for one that is wider than so many H.
const FINE: f64 = 0.1;
const COARSE: f64 = 0.25;
const WIDE: f64 = 3.0;

/// What was assumed about the guitar.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Assumed {
    /// What stands in, and how far that matters.
    #[serde(flatten)]
    pub stand_in: StandIn,
    /// The inductances of these over which the answer does what it does at the sample's, to within what nobody hears; none where it does not
    /// do what was wished in the first place.
    pub holds_h: Option<[f64; 2]>,
    /// The answer's margin at each end of the usual inductances, in dB; none where it is silent there.
    pub ends_margin_db: [Option<f64>; 2],
}

/// What stands in for a guitar of which only the kind of pickup was named, where no answer depends on it yet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StandIn {
    /// The kind of pickup that was named.
    pub kind: &'static str,
    /// The shipped sample that stands for it.
    pub sample: &'static str,
    /// The sample's inductance in H.
    pub inductance_h: f64,
    /// The inductances that pickups of the kind have, in H.
    pub usual_h: [f64; 2],
    /// What was assumed, a sentence each.
    pub says: Vec<String>,
}

impl StandIn {
    /// A guitar in place of its kind.
    #[must_use]
    pub fn new(kind: &Kind, guitar: &Guitar) -> Self {
        Self {
            kind: kind.name,
            sample: kind.sample,
            inductance_h: guitar.pickup.inductance.value(),
            usual_h: kind.inductance,
            says: vec![assumption(kind, guitar)],
        }
    }
}

/// How the answer does at one inductance.
struct At {
    inductance: f64,
    margin: f64,
    rest: f64,
}

/// What was assumed, with how far it matters for an answer, whose guitar `built` is; none where a guitar was given.
pub(super) fn assumed(request: &Request, prepared: &Prepared, answer: &Answer, built: Option<&Guitar>) -> Result<Option<Assumed>> {
    let Some(kind) = request.kind else { return Ok(None) };
    let built = built.unwrap_or(&prepared.present);
    let tried = exhaustive::each(&inductances(kind), |inductance| at(request, prepared, built, *inductance));
    let tried: Vec<At> = tried.into_iter().collect::<Result<_>>()?;
    let own = request.guitar.pickup.inductance.value();
    let holds = range(&tried, own, answer);
    let margins = [tried.first(), tried.last()].map(|at| at.map(|at| at.margin).filter(|margin| margin.is_finite()));
    let worst = |[low, high]: [f64; 2]| {
        let inside = tried.iter().filter(|at| (low..=high).contains(&at.inductance));
        inside.map(|at| at.margin).fold(f64::INFINITY, f64::min)
    };
    let how_far = match holds {
        Some(holds) => holding(kind, holds, worst(holds), answer.kind),
        None => missing(kind, margins, answer.kind),
    };
    let mut stand_in = StandIn::new(kind, &request.guitar);
    stand_in.says.push(how_far);
    Ok(Some(Assumed {
        stand_in,
        holds_h: holds,
        ends_margin_db: margins,
    }))
}

/// What stands in for a guitar of a kind of pickup, as a sentence.
#[must_use]
pub fn assumption(kind: &Kind, guitar: &Guitar) -> String {
    let pickup = &guitar.pickup;
    let mut around = vec![format!("volume pot {}", with_prefix(guitar.volume.pot.resistance.value(), "Ω"))];
    around.push(match &guitar.tone {
        Some(tone) => format!("tone pot {}", with_prefix(tone.pot.resistance.value(), "Ω")),
        None => "no tone control".to_owned(),
    });
    if guitar.cases.iter().all(|case| case.cable.is_none()) {
        around.push(format!("cable {}", with_prefix_rounded(guitar.cable.capacitance.value(), "F", 3)));
    }
    format!(
        "Assumed: a {} as the sample {} has it, {} and {}; {}.",
        kind.name,
        kind.sample,
        with_prefix(pickup.inductance.value(), "H"),
        with_prefix(pickup.resistance.value(), "Ω"),
        around.join(", ")
    )
}

/// The inductances that are tried, in H, both ends of the kind's among them.
fn inductances(kind: &Kind) -> Vec<f64> {
    let [low, high] = kind.inductance;
    let step = if high - low > WIDE { COARSE } else { FINE };
    let count = ((high - low) / step).round() as usize;
    // Figures that a player reads have no rounding of doubles in them.
    let inner = (0..count).map(|index| ((low + step * index as f64) * 100.0).round() / 100.0);
    inner.chain([high]).collect()
}

/// An answer's guitar beside the present one, both with their pickup wound to another inductance, held against the same wish.
fn at(request: &Request, prepared: &Prepared, built: &Guitar, inductance: f64) -> Result<At> {
    let scaled = |guitar: &Guitar| {
        let mut guitar = guitar.clone();
        if let Some(inductance) = Henries::new(inductance) {
            guitar.pickup.scale_to(inductance);
        }
        guitar
    };
    let there = Prepared::new(request, scaled(&prepared.present), scaled(built));
    let target = at_own_ends(request.target.clone(), &scaled(&request.guitar));
    let plan = there.plan(&target)?;
    let mut evaluator = Evaluator::new(&plan);
    let powers = evaluator.powers(&[], &[]);
    Ok(At {
        inductance,
        margin: worst_point(&plan, powers).map_or(f64::NEG_INFINITY, |worst| worst.margin),
        rest: rest(&plan, powers),
    })
}

/// From the sample's own inductance up and down to where the answer no longer does; none where it does not at the sample's own.
fn range(tried: &[At], own: f64, answer: &Answer) -> Option<[f64; 2]> {
    // What the answer spoils already is no reason against it.
    let is_dear = answer.kind == AnswerKind::Price;
    let does = |at: &&At| at.margin >= -NOBODY_HEARS && (is_dear || at.rest >= 0.0);
    if answer.margin_db < -NOBODY_HEARS {
        return None;
    }
    let below = tried.iter().rev().filter(|at| at.inductance <= own).take_while(does);
    let above = tried.iter().filter(|at| at.inductance >= own).take_while(does);
    let (low, high) = (
        below.last().map_or(own, |at| at.inductance),
        above.last().map_or(own, |at| at.inductance),
    );
    Some([low, high])
}

fn holding(kind: &Kind, [low, high]: [f64; 2], worst: f64, answer: AnswerKind) -> String {
    let does = match answer {
        AnswerKind::Already => "it does it as it is",
        AnswerKind::Price => "the same parts do, at their price",
        _ => "the same parts do",
    };
    let short = if worst < -WORTH_SAYING {
        format!(", short by at most {}, which nobody hears", decibels(-worst))
    } else {
        String::new()
    };
    let [lowest, highest] = kind.inductance;
    let beyond = match (low > lowest, high < highest) {
        (false, false) => return format!("From {low} to {high} H, which is what such pickups have, {does}{short}."),
        (true, false) => "with less they",
        (false, true) => "with more they",
        (true, true) => "with less or more they",
    };
    let beyond = if answer == AnswerKind::Already {
        beyond.replace("they", "it")
    } else {
        beyond.to_owned()
    };
    let not = if answer == AnswerKind::Already { "does" } else { "do" };
    format!("From {low} to {high} H {does}{short}; {beyond} may {not} not, and such pickups have {lowest} to {highest} H: measure yours.")
}

fn missing(kind: &Kind, margins: [Option<f64>; 2], answer: AnswerKind) -> String {
    let what = if answer == AnswerKind::Leave { "it" } else { "the same" };
    let [low, high] = kind.inductance;
    let says = |margin: Option<f64>| match margin {
        None => "is silent".to_owned(),
        Some(margin) if margin >= 0.0 => "does it".to_owned(),
        Some(margin) => format!("misses by {}", decibels(-margin)),
    };
    let [at_low, at_high] = margins.map(says);
    format!("Such pickups have {low} to {high} H: at {low} H {what} {at_low}, at {high} H {what} {at_high}.")
}
