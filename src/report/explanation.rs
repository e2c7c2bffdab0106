//! What would help, what each part buys, how tight a target could be: one short paragraph, the most useful first.

use super::words::{capitalised, joined, list, slot_part, spare, wired, written_network};
use crate::recommend::Recommendation;
use crate::recommend::explain::{ByPartCount, Change, Control, Skipped, Tightest, WhatIf};
use crate::recommend::instructions::network_in_words;
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
    for (introduction, changes) in [("What would do", of(true)), ("What comes closer", of(false))] {
        if !changes.is_empty() {
            sentences.push(format!("{introduction}: {}.", changes.join(". Or: ")));
        }
    }
    if !what_ifs.is_empty() {
        sentences.push("All that is not named there stays as it is in the guitar now.".to_owned());
    }
    sentences
}

/// A change with all that is to be done for it and what it gives.
fn in_words(what_if: &WhatIf) -> String {
    let does = what_to_do(&what_if.does);
    let does = if does.is_empty() {
        "leave the guitar as it is".to_owned()
    } else {
        does
    };
    if let Change::Bounds {
        clause, at_least, at_most, ..
    } = &what_if.change
    {
        return format!("ask wish {} for {} only, and {does}", clause + 1, bounds(*at_least, *at_most));
    }
    let margin = what_if.margin_db;
    if margin >= 0.0 {
        format!("{does}, with {margin:.2} dB to spare")
    } else {
        format!("{does}, which misses by {:.2} dB", -margin)
    }
}

/// Instructions one after the other.
pub(super) fn what_to_do(all: &[String]) -> String {
    all.join("; also ")
}

/// A change that helps, with all that goes with it; none where it is the wish that would change.
pub(super) fn helpful_change(what_if: &WhatIf) -> Option<String> {
    (!matches!(what_if.change, Change::Bounds { .. })).then(|| in_words(what_if))
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
        Change::Network { slot, network } => (
            format!("for {}", slot_part(*slot)),
            written_network(network).as_ref().map_or_else(|| network.clone(), network_in_words),
        ),
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

/// "The best by number of parts: with no part it misses by 1.20 dB, with one it does no better and with two it has 0.70 dB to spare."
fn parts(rows: &[ByPartCount]) -> Option<String> {
    let mut said: Vec<String> = Vec::new();
    let mut best = f64::NEG_INFINITY;
    for row in rows {
        said.push(if row.margin_db < best + NOTHING {
            format!("with {} it does no better", count(row.parts))
        } else {
            format!("with {} it {}", count(row.parts), spare(row.margin_db))
        });
        best = best.max(row.margin_db);
    }
    (said.len() > 1).then(|| format!("The best by number of parts: {}.", list(&said)))
}

fn count(parts: usize) -> String {
    const WORDS: [&str; 9] = ["no part", "one", "two", "three", "four", "five", "six", "seven", "eight"];
    WORDS.get(parts).map_or_else(|| parts.to_string(), |word| (*word).to_owned())
}
