//! What would help, what each part buys, how tight a target could be: one short paragraph, the most useful first.

use super::words::{capitalised, joined, list, network_name, slot_with_network, wired};
use crate::recommend::explain::{ByPartCount, Change, Control, Skipped, Tightest, WhatIf};
use crate::recommend::{Differences, Recommendation};
use crate::units::{grouped, with_prefix};

/// A part that buys less than this, in dB, buys nothing.
const NOTHING: f64 = 0.005;

/// The paragraph, if there is anything to say.
pub(super) fn explanation(result: &Recommendation) -> Option<String> {
    let explanation = &result.explanation;
    let sentences: Vec<String> = what_would_help(&explanation.what_if)
        .into_iter()
        .chain(not_tried(&explanation.what_if_skipped))
        .chain(explanation.too_many_to_explain.map(too_many))
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
    if !what_ifs.is_empty() {
        sentences.push("All that is not named there stays as it is in the guitar now.".to_owned());
    }
    sentences
}

/// A change as something one can have, with all that goes with it and the margin it gives.
fn in_words(what_if: &WhatIf) -> String {
    let margin = what_if.margin_db;
    let others = others(what_if);
    let with = match others.as_slice() {
        [] => " and nothing else".to_owned(),
        others => format!(", with {}", list(others)),
    };
    let change = match &what_if.change {
        Change::Bounds {
            clause, at_least, at_most, ..
        } => {
            let held = match others.as_slice() {
                [] => ", with the guitar as it is".to_owned(),
                _ => with,
            };
            return format!("wish {} loosened to {}{held}", clause + 1, bounds(*at_least, *at_most));
        }
        Change::Network { slot, network } => {
            return format!(
                "a {} of the form {network}: {} ({margin:+.2} dB)",
                network_name(*slot),
                list(&others)
            );
        }
        Change::Potentiometer { control, resistance } => format!("a {} {} pot", with_prefix(*resistance, "Ω"), control_name(*control)),
        Change::Cable { capacitance } => format!("a shorter cable of {}", with_prefix(*capacitance, "F")),
        Change::JoinedAt { joined_at } => format!("the tone control joined {}", joined(*joined_at)),
        Change::Hookup { hookup } => format!("the tone control wired {}", wired(*hookup)),
    };
    format!("{change}{with} ({margin:+.2} dB)")
}

/// A change that helps, with all that goes with it; none where it is the wish that would change.
pub(super) fn helpful_change(what_if: &WhatIf) -> Option<String> {
    (!matches!(what_if.change, Change::Bounds { .. })).then(|| in_words(what_if))
}

/// All that differs from the guitar as it is besides the change itself; of a network, that network too.
fn others(what_if: &WhatIf) -> Vec<String> {
    let mut differs = what_if.differs.clone();
    let mut changed = what_if.changed.clone();
    // The wiring is told in the words of the differences.
    (changed.hookup, changed.joined_at) = (None, None);
    match &what_if.change {
        Change::Network { slot, .. } => {
            // Even where the guitar has it already: it is what the sentence is about.
            let written = what_if.slots.get(slot).map_or("none", String::as_str);
            differs.slots.insert(*slot, written.to_owned());
        }
        Change::JoinedAt { .. } => differs.joined_at = None,
        Change::Hookup { .. } => differs.hookup = None,
        Change::Cable { .. } => changed.cable = None,
        Change::Potentiometer {
            control: Control::Volume, ..
        } => changed.volume = None,
        Change::Potentiometer {
            control: Control::Tone, ..
        } => changed.tone = None,
        Change::Bounds { .. } => {}
    }
    let slots = differs.slots.iter().map(|(slot, written)| slot_with_network(*slot, written));
    slots.chain(rewired(&differs)).chain(changed.in_words()).collect()
}

/// What is wired anew, as something one can have.
pub(super) fn rewired(differs: &Differences) -> impl Iterator<Item = String> {
    let hookup = differs.hookup.map(|hookup| format!("the tone control wired {}", wired(hookup)));
    let joint = differs.joined_at.map(|joint| format!("the tone control joined {}", joined(joint)));
    hookup.into_iter().chain(joint)
}

fn control_name(control: Control) -> &'static str {
    match control {
        Control::Volume => "volume",
        Control::Tone => "tone",
    }
}

/// What was left out for its size, each kind of change once.
fn not_tried(skipped: &[Skipped]) -> Option<String> {
    let mut kinds: Vec<(String, Vec<String>)> = Vec::new();
    for skipped in skipped {
        let (kind, which) = kind_and_which(&skipped.change);
        match kinds.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, known)) => known.push(which),
            None => kinds.push((kind, vec![which])),
        }
    }
    let kinds: Vec<String> = kinds.iter().map(|(kind, which)| format!("{kind} {}", either(which))).collect();
    (!kinds.is_empty()).then(|| {
        format!(
            "Not tried, since the combinations are too many to search once more: {}.",
            kinds.join("; ")
        )
    })
}

/// "a 250 kΩ volume pot" as "a volume pot of" and "250 kΩ", so that changes of one kind can stand together.
fn kind_and_which(change: &Change) -> (String, String) {
    match change {
        Change::Bounds { clause, .. } => ("looser bounds of".to_owned(), format!("wish {}", clause + 1)),
        Change::Network { slot, network } => (format!("a {} of the form", network_name(*slot)), network.clone()),
        Change::Potentiometer { control, resistance } => (format!("a {} pot of", control_name(*control)), with_prefix(*resistance, "Ω")),
        Change::Cable { capacitance } => ("a shorter cable of".to_owned(), with_prefix(*capacitance, "F")),
        Change::JoinedAt { joined_at } => ("the tone control joined".to_owned(), joined(*joined_at).to_owned()),
        Change::Hookup { hookup } => ("the tone control wired".to_owned(), wired(*hookup).to_owned()),
    }
}

/// "a", "a or b", "a, b or c".
fn either(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

fn too_many(candidates: u64) -> String {
    format!(
        "What else would help, how tight the target could be and what each part buys was not looked for: {} combinations are too many to \
         search again. A narrower search tells.",
        grouped(candidates)
    )
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

pub(super) fn tightest(clauses: &[Tightest]) -> Option<String> {
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
            let of = |clause: &Tightest| format!("wish {} {}", clause.clause + 1, bounds(clause.at_least, clause.at_most));
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

/// "Most to spare: with no part −1.20 dB, with one no better, with two +0.70 and with three +1.10."
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
    (said.len() > 1).then(|| format!("Most to spare: {}.", list(&said)))
}

fn count(parts: usize) -> String {
    const WORDS: [&str; 9] = ["no part", "one", "two", "three", "four", "five", "six", "seven", "eight"];
    WORDS.get(parts).map_or_else(|| parts.to_string(), |word| (*word).to_owned())
}
