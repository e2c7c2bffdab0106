//! Which pickup and which positions of the selector a phrase is about: "in the neck position", "with both pickups", "my bridge pickup".

use std::ops::Range;

use crate::target::Place;

/// What pickups are called by everybody.
const PICKUPS: [&str; 3] = ["neck", "middle", "bridge"];
/// How many words the name of a position may have.
const MOST_WORDS: usize = 4;
/// Words beside "position" that speak of a knob.
const OF_A_KNOB: [&str; 12] = [
    "volume", "tone", "knob", "pot", "full", "half", "quarter", "any", "every", "each", "same", "knobs",
];

/// Where the phrase is about, and the text without what only says so: as long as it was, so that places in it stay.
pub(super) fn take_out(text: &str) -> (Place, String) {
    let words = words(text);
    let mut place = Place::default();
    let mut cut: Vec<Range<usize>> = Vec::new();
    for index in 0..words.len() {
        if let Some((name, range)) = position(&words, index) {
            place.selector.push(name);
            cut.push(range);
        }
        if let Some((name, range)) = together(&words, index) {
            place.selector.push(name);
            cut.push(range);
        }
    }
    let is_cut = |word: &Word| cut.iter().any(|range| range.contains(&word.range.start));
    let named: Vec<&str> = words.iter().filter(|word| !is_cut(word)).map(|word| word.text.as_str()).collect();
    let mut pickups = PICKUPS.into_iter().filter(|name| named.contains(name));
    if let (Some(only), None) = (pickups.next(), pickups.next()) {
        place.pickup = Some(only.to_owned());
    }
    place.is_spoken = !place.is_anywhere();
    let mut rest = text.to_owned();
    for range in cut {
        rest.replace_range(range.clone(), &" ".repeat(range.len()));
    }
    (place, rest)
}

/// The same in the language's own words, as the end of a sentence.
pub(super) fn in_words(place: &Place) -> String {
    let position = |name: &String| match name.as_str() {
        "both" | "all" => format!(", with {name} pickups"),
        name => format!(", in the {name} position"),
    };
    let positions = place.selector.iter().map(position);
    let pickup = place.pickup.iter().map(|name| format!(", on the {name} pickup"));
    positions.chain(pickup).collect()
}

struct Word {
    /// In lower case.
    text: String,
    range: Range<usize>,
}

fn words(text: &str) -> Vec<Word> {
    let mut found: Vec<Word> = Vec::new();
    let mut begin = None;
    for (at, sign) in text.char_indices().chain([(text.len(), ' ')]) {
        let is_inside = sign.is_alphanumeric() || matches!(sign, '_' | '-' | '\'' | '’');
        match (begin, is_inside) {
            (None, true) => begin = Some(at),
            (Some(start), false) => {
                let text = text.get(start..at).unwrap_or_default().to_lowercase();
                found.push(Word { text, range: start..at });
                begin = None;
            }
            _ => {}
        }
    }
    found
}

/// "in the neck and middle position", "in position both", where "position" is the word at an index.
fn position(words: &[Word], index: usize) -> Option<(String, Range<usize>)> {
    let here = words.get(index).filter(|word| word.text == "position")?;
    let before = words.get(..index)?;
    let is_plain = |word: &Word| word.text.parse::<f64>().is_err() && !OF_A_KNOB.contains(&word.text.as_str());
    let within = |word: &Word| matches!(word.text.as_str(), "in" | "on");
    if before.last().is_some_and(within) {
        let after = words.get(index + 1).filter(|word| is_plain(word))?;
        let from = before.last()?.range.start;
        return Some((after.text.clone(), from..after.range.end));
    }
    let from = before.iter().rposition(within)?;
    let name: Vec<&Word> = before
        .get(from + 1..)?
        .iter()
        .skip_while(|word| matches!(word.text.as_str(), "the" | "my" | "its"))
        .collect();
    if name.is_empty() || name.len() > MOST_WORDS || !name.iter().all(|word| is_plain(word)) {
        return None;
    }
    let words: Vec<&str> = name.iter().map(|word| word.text.as_str()).collect();
    Some((words.join(" "), before.get(from)?.range.start..here.range.end))
}

/// "with both pickups on", "with all pickups", where the count is the word at an index.
fn together(words: &[Word], index: usize) -> Option<(String, Range<usize>)> {
    let text = |index: usize| words.get(index).map_or("", |word| word.text.as_str());
    let name = match text(index) {
        "both" => "both",
        "all" => "all",
        _ => return None,
    };
    let the = usize::from(matches!(text(index + 1), "the" | "my"));
    if !matches!(text(index + 1 + the), "pickups" | "humbuckers" | "coils") {
        return None;
    }
    let mut last = index + 1 + the;
    while matches!(text(last + 1), "on" | "together" | "sounding" | "connected") {
        last += 1;
    }
    let first = if index > 0 && matches!(text(index - 1), "with" | "of" | "in" | "on") {
        index - 1
    } else {
        index
    };
    Some((name.to_owned(), words.get(first)?.range.start..words.get(last)?.range.end))
}
