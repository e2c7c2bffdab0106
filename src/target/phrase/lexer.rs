//! A text → the words of the language with their places: what is passed over dropped, what has a synonym replaced.

use std::ops::Range;

use super::NamedBand;
use super::fillers::{ASKING, ASKING_STEMS, GUITAR, JOINING, PASSED_OVER, STATES, TASTE};
use super::qualities::QUALITIES;
use super::speech;

/// One word, number or sign of a phrase.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Token {
    /// The word of the language, or what was written where it is none; in lower case.
    pub(super) word: String,
    /// What was written, in lower case.
    pub(super) written: String,
    /// Where.
    pub(super) range: Range<usize>,
    /// Whether something like "it sounds" stands before it.
    pub(super) is_stated: bool,
    /// Whether "knob" or the like was written after it: "tone knob".
    pub(super) is_knob: bool,
}

impl Token {
    /// Whether it compares without a judgement: "less", "not so", "duller", but not "too" or "lacks".
    pub(super) fn compares(&self) -> bool {
        let is_comparative = self.word == "more" && self.written.ends_with("er");
        is_comparative
            || matches!(
                self.written.as_str(),
                "less" | "fewer" | "more" | "not so" | "not as" | "not too" | "not so much"
            )
    }
}

/// The words of a text. The names of `own` bands are left as they are.
pub(super) fn tokens(text: &str, own: &[NamedBand]) -> Vec<Token> {
    let pieces = split(cut(text), own);
    let mut kept = without_asking(without_knobless_tone(translate(&take_out_first(pass_over(&pieces, own)), own)));
    kept.dedup_by(|next, before| next.word == before.word && QUALITIES.iter().any(|quality| quality.word == next.word));
    let is_end = |token: &Token| matches!(token.word.as_str(), "?" | "!" | "." | ",");
    if kept.iter().all(is_end) {
        return kept;
    }
    // "…, what can I change?"
    let is_question = |tokens: &[Token]| match tokens {
        [.., comma, which] if which.word == "which" => comma.word == ",",
        [.., comma, which, last] if which.word == "which" => comma.word == "," && is_asking(&last.word),
        _ => false,
    };
    while kept.last().is_some_and(is_end) || is_question(&kept) {
        kept.pop();
    }
    let begin = kept.iter().position(|token| !is_end(token)).unwrap_or(0);
    kept.split_off(begin)
}

/// What was written, without what is passed over: the same for two texts that say the same in the same words.
pub(super) fn content(text: &str) -> Vec<String> {
    let is_filler = |token: &Token| matches!(token.written.as_str(), "," | ";" | "?" | "!" | "." | "and");
    let kept = pass_over(&split(cut(text), &[]), &[]).into_iter().filter(|token| !is_filler(token));
    kept.map(|token| plain_number(token.written)).collect()
}

/// `2.0` and `2` are one number.
fn plain_number(written: String) -> String {
    written.parse::<f64>().map_or(written, |number| number.to_string())
}

fn token(written: &str, range: Range<usize>) -> Token {
    let written = written.to_lowercase().replace('’', "'");
    Token {
        word: written.clone(),
        written,
        range,
        is_stated: false,
        is_knob: false,
    }
}

fn is_quote(sign: char) -> bool {
    matches!(sign, '"' | '“' | '”' | '„' | '«' | '»' | '`')
}

fn is_mark(sign: char) -> bool {
    matches!(sign, ',' | ';' | '?' | '!' | '%')
}

fn is_dash(sign: char) -> bool {
    matches!(sign, '-' | '−' | '–')
}

fn is_number_part(sign: char) -> bool {
    sign.is_ascii_digit() || sign == '.' || sign == '/'
}

/// Whether a sign stands before a number.
pub(super) fn is_sign(sign: char) -> bool {
    matches!(sign, '+' | '±') || is_dash(sign)
}

/// Cuts a text into words, numbers and marks; a unit may follow its number without a space.
fn cut(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut start = 0;
    while let Some(rest) = text.get(start..).filter(|rest| !rest.is_empty()) {
        let length = token_length(rest);
        let written = rest.get(..length).unwrap_or(rest);
        if !written.chars().all(|sign| sign.is_whitespace() || is_quote(sign)) {
            tokens.push(token(written, start..start + length));
        }
        start += length.max(1);
    }
    tokens
}

/// Bytes of the token, or of what stands between two, at the start of a text that is not empty.
fn token_length(rest: &str) -> usize {
    let until = |ends: &dyn Fn(char) -> bool| rest.find(ends).unwrap_or(rest.len());
    let mut signs = rest.chars();
    let (first, second) = (signs.next().unwrap_or_default(), signs.next().unwrap_or_default());
    let whole = if first.is_whitespace() {
        return until(&|sign| !sign.is_whitespace());
    } else if is_mark(first) || is_quote(first) {
        return first.len_utf8();
    } else if first.is_ascii_digit() {
        until(&|sign| !is_number_part(sign))
    } else if (is_sign(first) || first == '.') && is_number_part(second) {
        let number = rest.get(first.len_utf8()..).unwrap_or_default();
        first.len_utf8() + number.find(|sign| !is_number_part(sign)).unwrap_or(number.len())
    } else {
        until(&|sign| sign.is_whitespace() || is_mark(sign) || is_quote(sign))
    };
    // A full stop is no part of the word or number before it.
    let token = rest.get(..whole).unwrap_or(rest).trim_end_matches('.');
    if token.is_empty() { whole } else { token.len() }
}

/// Whether a word can begin a position.
pub(super) fn is_position(word: &str) -> bool {
    matches!(
        word,
        "full" | "three-quarter" | "three-quarters" | "three" | "half" | "quarter" | "zero"
    ) || word.starts_with(|first: char| first.is_ascii_digit())
}

/// `6-12` and `6 - 12` become `6 to 12`; words with hyphens come apart, except a file's own bands.
fn split(tokens: Vec<Token>, own: &[NamedBand]) -> Vec<Token> {
    let mut split: Vec<Token> = Vec::new();
    let mut tokens = tokens.into_iter().peekable();
    while let Some(next) = tokens.next() {
        let before = split
            .last()
            .filter(|before| before.word.starts_with(|sign: char| sign.is_ascii_digit()));
        let touches = before.is_some_and(|before| before.range.end == next.range.start);
        let is_lone_dash = next.word.chars().all(is_dash) && tokens.peek().is_some_and(|after| after.word.starts_with(is_number_part));
        let number = next.word.trim_start_matches(is_dash);
        if before.is_some() && is_lone_dash {
            split.push(Token {
                word: "to".to_owned(),
                ..next
            });
        } else if touches && number.len() < next.word.len() && number.starts_with(is_number_part) {
            let middle = next.range.end - number.len();
            split.push(Token {
                word: "to".to_owned(),
                range: next.range.start..middle,
                ..next.clone()
            });
            split.push(token(number, middle..next.range.end));
        } else if next.word.contains('-') && next.word.starts_with(char::is_alphabetic) && !is_own(&next.word, own) {
            let mut start = next.range.start;
            for part in next.written.split('-') {
                if !part.is_empty() {
                    split.push(token(part, start..start + part.len()));
                }
                start += part.len() + 1;
            }
        } else {
            split.push(next);
        }
    }
    split
}

fn is_own(word: &str, own: &[NamedBand]) -> bool {
    own.iter().any(|band| band.name.to_lowercase() == word)
}

fn pass_over(tokens: &[Token], own: &[NamedBand]) -> Vec<Token> {
    let mut kept: Vec<Token> = Vec::new();
    let mut is_stated = false;
    let mut rest = tokens;
    while let Some((next, after)) = rest.split_first() {
        let word = next.word.as_str();
        let joining = if is_own(word, own) { 0 } else { joins_guitar(rest, own) };
        rest = rest.get(joining.max(1)..).unwrap_or(after);
        let follows = |index: usize| after.get(index).map_or("", |token| token.word.as_str());
        if is_own(word, own) {
            kept.push(next.clone());
        } else if word == "a" && follows(0) == "db" && kept.last().is_none_or(|before| before.word != "half") {
            // "a dB" is one.
            kept.push(Token {
                word: "1".to_owned(),
                written: "1".to_owned(),
                ..next.clone()
            });
        } else if word == "everything" && !is_everywhere(follows(0), follows(1)) {
            // All that sounds is the guitar.
        } else if STATES.contains(&word) {
            is_stated = true;
        } else if is_knob_word(word) {
            if let Some(before) = kept.last_mut() {
                before.is_knob = true;
            }
        } else if joining == 0 && !PASSED_OVER.contains(&word) {
            kept.push(Token {
                is_stated: std::mem::take(&mut is_stated),
                ..next.clone()
            });
        }
    }
    kept
}

/// Whether "everything" is every knob: "with everything on 10".
fn is_everywhere(next: &str, second: &str) -> bool {
    let is_place = |word: &str| matches!(word, "full" | "up" | "10" | "max" | "maximum");
    is_place(next) || is_place(second)
}

fn is_knob_word(word: &str) -> bool {
    matches!(word, "knob" | "knobs" | "control" | "controls" | "pot" | "pots")
}

/// "humbucker", "for a humbucker", "in the neck position", "for my taste": how many words it is.
fn joins_guitar(rest: &[Token], own: &[NamedBand]) -> usize {
    let word = |index: usize| rest.get(index).map_or("", |token| token.word.as_str());
    let joints = (0..).take_while(|index| JOINING.contains(&word(*index))).count();
    let is_filler = |index: &usize| PASSED_OVER.contains(&word(*index)) && !is_knob_word(word(*index));
    let noun = joints + (joints..).take_while(|index| joints > 0 && is_filler(index)).count();
    if [word(0), word(1)] == ["for", "me"] {
        return 2;
    }
    let is_compared = joints > 0 && word(joints - 1) == "than";
    let is_guitar = (GUITAR.contains(&word(noun)) && !is_compared) || (joints > 0 && TASTE.contains(&word(noun)));
    if is_guitar && !is_own(word(noun), own) { noun + 1 } else { 0 }
}

/// Replaces every synonym, the longest first.
fn translate(tokens: &[Token], own: &[NamedBand]) -> Vec<Token> {
    let mut translated = Vec::with_capacity(tokens.len());
    let mut rest = tokens;
    while let Some((first, after)) = rest.split_first() {
        let found = if is_own(&first.word, own) { None } else { replacement(rest) };
        let Some((words, length)) = found else {
            translated.push(first.clone());
            rest = after;
            continue;
        };
        let (taken, left) = rest.split_at(length.min(rest.len()));
        let end = taken.last().map_or(first.range.end, |last| last.range.end);
        let written: Vec<&str> = taken.iter().map(|token| token.written.as_str()).collect();
        for word in words.split(' ') {
            translated.push(Token {
                word: word.to_owned(),
                written: written.join(" "),
                range: first.range.start..end,
                is_stated: taken.iter().any(|token| token.is_stated),
                is_knob: taken.iter().any(|token| token.is_knob),
            });
        }
        rest = left;
    }
    translated
}

/// The words of the language that the next words stand for, and how many words they are.
fn replacement(rest: &[Token]) -> Option<(&'static str, usize)> {
    if let Some(turned_down) = turning_down(rest) {
        return Some(turned_down);
    }
    let mut best = None;
    for (word, written) in speech::synonyms() {
        for phrase in *written {
            let length = phrase.split(' ').count();
            let is_said = |(words, token): (&str, &Token)| words.split('/').any(|word| word == token.written);
            let fits = length <= rest.len() && phrase.split(' ').zip(rest).all(is_said);
            if fits && best.is_none_or(|(_, longest)| length > longest) {
                best = Some((*word, length));
            }
        }
    }
    best
}

/// "when I turn down", "when I roll off the volume", "turned down", "with the tone rolled back": what it stands for, and how many
/// words it is.
fn turning_down(rest: &[Token]) -> Option<(&'static str, usize)> {
    const VERBS: [&str; 20] = [
        "touch", "move", "turn", "turned", "turning", "turns", "roll", "rolled", "rolling", "back", "backed", "backing", "wind", "dial",
        "dialled", "bring", "lower", "lowering", "lowered", "reduce",
    ];
    let word = |index: usize| rest.get(index).map_or("", |token| token.written.as_str());
    let is_at_once = [word(0), word(1), word(2)] == ["as", "soon", "as"];
    let mut at = match word(0) {
        _ if is_at_once => 3,
        "when" | "as" | "if" | "while" | "whenever" | "once" | "after" => 1,
        _ => 0,
    };
    let begins = at > 0;
    let (mut knob, mut verb, mut down) = ("", "", false);
    loop {
        match word(at) {
            next @ ("volume" | "tone") if knob.is_empty() => knob = next,
            next if verb.is_empty() && !down && VERBS.contains(&next) => verb = next,
            "down" | "off" | "back" | "lower" if !down => down = true,
            _ => break,
        }
        at += 1;
    }
    let says_down = down
        || (begins && word(at) == "to")
        || verb.starts_with("lower")
        || verb == "reduce"
        || (is_at_once && !knob.is_empty() && !verb.is_empty());
    let is_done = !verb.is_empty() && (begins || verb.ends_with("ed") || verb.ends_with("ing"));
    match knob {
        "tone" if says_down && is_done => Some((if word(at) == "to" { "from full tone" } else { "tone zero" }, at)),
        "" if says_down && !verb.is_empty() && (begins || verb.ends_with("ed")) => Some(("turned-down", at)),
        "volume" if says_down => Some(("turned-down", at)),
        _ => None,
    }
}

/// "take the harshness out" → "take out harshness".
fn take_out_first(mut tokens: Vec<Token>) -> Vec<Token> {
    let is_away = |token: &Token| matches!(token.written.as_str(), "out" | "off" | "away");
    let Some(take) = tokens.iter().position(|token| token.written == "take") else {
        return tokens;
    };
    // What is taken out is one or two words.
    let away = [take + 2, take + 3]
        .into_iter()
        .find(|index| tokens.get(*index).is_some_and(is_away));
    if let Some(stretch) = away.and_then(|away| tokens.get_mut(take + 1..=away)) {
        stretch.rotate_right(1);
    }
    tokens
}

fn is_asking(word: &str) -> bool {
    ASKING.contains(&word) || ASKING_STEMS.iter().any(|stem| word.starts_with(stem))
}

/// Drops "choose", "change" and their like where a part is asked for, and "best" behind it.
fn without_asking(mut tokens: Vec<Token>) -> Vec<Token> {
    let is_part = |token: &Token| matches!(token.word.as_str(), "treble-bleed" | "tone-cap" | "cap");
    if !tokens.iter().any(is_part) {
        return tokens;
    }
    tokens.retain(|token| !is_asking(&token.word));
    while tokens.len() > 1 && tokens.last().is_some_and(|token| matches!(token.word.as_str(), "which" | "?")) {
        tokens.pop();
    }
    tokens
}

/// "tone" is a knob beside a position or where the knob is to be usable, and else the sound itself, which is passed over.
fn without_knobless_tone(tokens: Vec<Token>) -> Vec<Token> {
    let word = |index: usize| tokens.get(index).map_or("", |token| token.word.as_str());
    let is_knob = |index: usize| {
        let before = index.checked_sub(1).map_or("", word);
        let (next, second) = (word(index + 1), word(index + 2));
        let is_before = is_position(before) || matches!(before, "at" | "from" | "to" | "usable" | "%" | "quarter" | "quarters" | ",");
        is_before
            || is_position(next)
            || matches!(next, "usable" | "sweep")
            || (next == "at" && is_position(second) && word(index + 3) != "volume")
    };
    let is_said = |index: usize| tokens.get(index).is_some_and(|token| token.is_knob);
    let keep: Vec<bool> = (0..tokens.len())
        .map(|index| word(index) != "tone" || is_said(index) || is_knob(index))
        .collect();
    tokens
        .into_iter()
        .zip(keep)
        .filter_map(|(token, keep)| keep.then_some(token))
        .collect()
}
