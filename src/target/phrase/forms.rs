//! The forms a phrase can take, shown when one was not understood.

use crate::error::{Error, nearest};

/// The words a clause can begin with.
pub(super) const FIRST_WORDS: [&str; 7] = ["keep", "cut", "no", "less", "more", "darker", "brighter"];

/// Every form; the word it begins with is its first.
const FORMS: [&str; 13] = [
    "keep BAND within X dB from POS to POS volume",
    "keep BAND within X dB at tone N, N",
    "keep BAND within X dB at volume N, N",
    "keep level within X dB of present from POS to POS volume",
    "keep highs",
    "cut BAND by X to Y dB at tone N",
    "cut BAND by at least X dB at tone N",
    "no bump at tone N",
    "no bump over X dB in BAND at tone N",
    "less BAND by X dB at tone N at POS volume",
    "more BAND by X dB at tone N at POS volume",
    "darker by X dB at tone N at POS volume",
    "brighter by X dB at tone N at POS volume",
];

/// Most forms shown with one error.
const MOST_SHOWN: usize = 4;

/// Adds the forms that begin with `first`, nearest first; without `first` the nearest of all.
pub(super) fn add<'w>(error: Error, first: Option<&str>, written: impl Iterator<Item = &'w str>) -> Error {
    let written: Vec<&str> = written.collect();
    let mut forms: Vec<&str> = FORMS
        .into_iter()
        .filter(|form| first.is_none_or(|first| form.starts_with(first)))
        .collect();
    forms.sort_by_key(|form| std::cmp::Reverse(likeness(form, &written)));
    let mut error = error;
    for (index, form) in forms.into_iter().take(MOST_SHOWN).enumerate() {
        let lead = if index == 0 { "the nearest form: " } else { "or: " };
        error = error.help(format!("{lead}{form}"));
    }
    error.help("POS and N: full, three-quarter, half, quarter, zero (tone only) or 0 to 10 as on the knob")
}

/// How many words of a form were written, or nearly so; its first word counts most.
fn likeness(form: &str, written: &[&str]) -> usize {
    let is_written = |word: &str| nearest(&word.to_lowercase(), written.iter().copied()).is_some();
    form.split_whitespace()
        .enumerate()
        .filter(|(_, word)| is_written(word))
        .map(|(index, _)| if index == 0 { 3 } else { 1 })
        .sum()
}
