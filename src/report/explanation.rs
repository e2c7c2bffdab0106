//! What would help, what each part buys, how tight a target could be: one short paragraph, the most useful first.

use super::words::{capitalised, list};
use crate::guitar::Hookup;
use crate::guitar::Joint;
use crate::guitar::Slot;
use crate::recommend::Recommendation;
use crate::recommend::explain::{ByPartCount, Change, Control, Tightest, WhatIf};
use crate::units::with_prefix;

/// A part that buys less than this, in dB, buys nothing.
const NOTHING: f64 = 0.005;

/// The paragraph, if there is anything to say.
pub(super) fn explanation(result: &Recommendation) -> Option<String> {
    let explanation = &result.explanation;
    let sentences: Vec<String> = what_would_help(&explanation.what_if)
        .into_iter()
        .chain(tightest(&explanation.tightest))
        .chain(parts(&explanation.by_part_count))
        .collect();
    (!sentences.is_empty()).then(|| sentences.join(" "))
}

fn what_would_help(what_ifs: &[WhatIf]) -> Vec<String> {
    let of = |meets: bool| -> Vec<String> {
        let fitting = what_ifs.iter().filter(|what_if| what_if.meets_target == meets);
        fitting.map(in_words).collect()
    };
    let mut sentences = Vec::new();
    match of(true).as_slice() {
        [] => {}
        [only] => sentences.push(format!("What would do: {only}.")),
        several => sentences.push(format!("Any one of these would do: {}.", several.join("; "))),
    }
    match of(false).as_slice() {
        [] => {}
        [only] => sentences.push(format!("What comes closer: {only}.")),
        several => sentences.push(format!("Any one of these comes closer: {}.", several.join("; "))),
    }
    sentences
}

/// A change as something one can have, with the margin it gives.
fn in_words(what_if: &WhatIf) -> String {
    let margin = what_if.margin_db;
    let thing = match &what_if.change {
        Change::Bounds {
            clause, at_least, at_most, ..
        } => return format!("clause {} loosened to {}", clause + 1, bounds(*at_least, *at_most)),
        Change::Network { slot, network } => {
            let built = what_if.slots.get(slot).map_or("", String::as_str);
            format!("a {} of the form {network}, such as {built}", network_name(*slot))
        }
        Change::Potentiometer { control, resistance } => {
            let control = match control {
                Control::Volume => "volume",
                Control::Tone => "tone",
            };
            format!("a {} {control} pot", with_prefix(*resistance, "Ω"))
        }
        Change::Cable { capacitance } => format!("a shorter cable of {}", with_prefix(*capacitance, "F")),
        Change::JoinedAt { joined_at } => match joined_at {
            Joint::Pickup => "the tone control joined at the volume control's input lug".to_owned(),
            Joint::Wiper => "the tone control joined at the volume control's wiper".to_owned(),
        },
        Change::Hookup { hookup } => match hookup {
            Hookup::Rheostat => "the tone control wired the common way, as a rheostat".to_owned(),
            Hookup::Shelf => "the tone control wired as a shelf".to_owned(),
        },
    };
    format!("{thing} ({margin:+.2} dB)")
}

fn network_name(slot: Slot) -> &'static str {
    match slot {
        Slot::Bleed => "bleed network",
        Slot::Tone => "tone network",
        Slot::Bypass => "bypass network",
        Slot::Series => "series network",
    }
}

/// Bounds in words, rounded outwards so that what is said can be held.
fn bounds(at_least: Option<f64>, at_most: Option<f64>) -> String {
    let low = at_least.map(|bound| (bound * 100.0).floor() / 100.0);
    let high = at_most.map(|bound| (bound * 100.0).ceil() / 100.0);
    match (low, high) {
        (Some(low), Some(high)) if low == -high => format!("within {high:.2} dB"),
        (Some(low), Some(high)) => format!("between {low:+.2} and {high:+.2} dB"),
        (None, Some(high)) => format!("at most {high:+.2} dB"),
        (Some(low), None) => format!("at least {low:+.2} dB"),
        (None, None) => "anything".to_owned(),
    }
}

fn tightest(clauses: &[Tightest]) -> Option<String> {
    match clauses {
        [] => None,
        [only] => {
            let bounds = bounds(only.at_least, only.at_most);
            Some(format!(
                "{} is the tightest that any of these parts can hold.",
                capitalised(&bounds)
            ))
        }
        several => {
            let of = |clause: &Tightest| format!("clause {} {}", clause.clause + 1, bounds(clause.at_least, clause.at_most));
            let others = if several.len() == 2 {
                "the other as it is"
            } else {
                "the others as they are"
            };
            let clauses = several.iter().map(of).collect::<Vec<_>>().join(", or ");
            Some(format!("There is room: these parts could hold {clauses}, leaving {others}."))
        }
    }
}

/// "Best margin with no part −1.20 dB, with one no better, with two +0.70 and with three +1.10."
fn parts(rows: &[ByPartCount]) -> Option<String> {
    let mut said: Vec<String> = Vec::new();
    let mut best = f64::NEG_INFINITY;
    for row in rows {
        let unit = if said.is_empty() { " dB" } else { "" };
        said.push(if row.margin_db < best + NOTHING {
            format!("with {} no better", count(row.parts))
        } else {
            format!("with {} {:+.2}{unit}", count(row.parts), row.margin_db)
        });
        best = best.max(row.margin_db);
    }
    (said.len() > 1).then(|| format!("Best margin {}.", list(&said)))
}

fn count(parts: usize) -> String {
    const WORDS: [&str; 9] = ["no part", "one", "two", "three", "four", "five", "six", "seven", "eight"];
    WORDS.get(parts).map_or_else(|| parts.to_string(), |word| (*word).to_owned())
}
