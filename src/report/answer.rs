//! The answer in the words that every form shows: screen, page and sheet.

use super::explanation::helpful_change;
use super::words::works_in;
use crate::recommend::{AnswerKind, Recommendation};

/// What was assumed, and how far it matters, where only the kind of pickup was named.
pub(super) fn assumed(result: &Recommendation) -> &[String] {
    result.assumed.as_ref().map_or(&[], |assumed| &assumed.stand_in.says)
}

/// The answer in one sentence.
pub(super) fn answer(result: &Recommendation) -> String {
    let says = result.answer.says.clone();
    match result.answer.kind {
        AnswerKind::Leave => match result.explanation.what_if.first().and_then(helpful_change) {
            Some(change) => format!("{says} What would: {change}."),
            None => says,
        },
        _ => says,
    }
}

/// What else the answer changes, harm first, at most so many lines.
pub(super) fn also_changes(result: &Recommendation, most: usize) -> Vec<String> {
    let answer = &result.answer;
    if answer.build.is_none() {
        return Vec::new();
    }
    let harm = answer.harm.iter().skip(1).map(|told| told.says.clone());
    let mut lines: Vec<String> = Vec::new();
    for line in harm.chain(answer.also_changes.iter().map(|told| told.says.clone())) {
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    if lines.is_empty() && answer.harm.is_empty() {
        return vec![format!("Nothing else changes by more than {:.1} dB.", answer.largest_change_db)];
    }
    lines.truncate(most);
    lines
}

/// How many of the guitars that are really built meet the target.
pub(super) fn built(result: &Recommendation) -> Option<String> {
    let best = result.answer.build.as_ref().filter(|best| best.meets_target)?;
    let found = best.built?;
    Some(format!("With parts as they come it works in {}.", works_in(&found)))
}
