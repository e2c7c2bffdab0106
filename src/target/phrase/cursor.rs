//! The words of a phrase with their places, taken one after the other.

use std::ops::Range;

use super::{NamedBand, forms};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::target::Band;

/// Largest number of dB a phrase may name: far above anything a guitar's controls do.
const LARGEST_DECIBELS: f64 = 100.0;

/// Most words that are compared with the forms.
const MOST_COMPARED: usize = 200;

/// One word, number or sign of a phrase.
struct Token {
    lower: String,
    range: Range<usize>,
}

/// Reads a phrase from left to right.
pub(super) struct Cursor<'p> {
    passage: Passage<'p>,
    tokens: Vec<Token>,
    next: usize,
    bands: Vec<NamedBand>,
}

impl<'p> Cursor<'p> {
    /// At the first word; `bands` are searched in order.
    pub(super) fn new(passage: Passage<'p>, bands: Vec<NamedBand>) -> Self {
        Self {
            tokens: tokens(passage.text()),
            passage,
            next: 0,
            bands,
        }
    }

    /// The next word in lower case; empty at the end.
    pub(super) fn peek(&self) -> &str {
        self.peek_at(0)
    }

    /// The word `ahead` places after the next one.
    pub(super) fn peek_at(&self, ahead: usize) -> &str {
        self.tokens.get(self.next + ahead).map_or("", |token| token.lower.as_str())
    }

    /// The words, for finding the nearest form: no form has near so many.
    pub(super) fn words(&self) -> impl Iterator<Item = &str> {
        self.tokens.iter().take(MOST_COMPARED).map(|token| token.lower.as_str())
    }

    /// Whether nothing is left.
    pub(super) fn is_done(&self) -> bool {
        self.next >= self.tokens.len()
    }

    /// Passes over the next word.
    pub(super) fn skip(&mut self) {
        self.next += 1;
    }

    /// Drops the last word of the phrase if it is this one.
    pub(super) fn drop_last(&mut self, word: &str) {
        if self.tokens.last().is_some_and(|token| token.lower == word) {
            self.tokens.pop();
        }
    }

    /// Takes the next word if it is this one.
    pub(super) fn take(&mut self, word: &str) -> bool {
        let found = self.peek() == word && !word.is_empty();
        self.next += usize::from(found);
        found
    }

    /// Takes a word that must come next.
    pub(super) fn expect(&mut self, word: &str) -> Result<()> {
        if self.take(word) { Ok(()) } else { Err(self.refuse(&[word])) }
    }

    /// The next word's place, or the last word's at the end.
    pub(super) fn here(&self) -> Passage<'p> {
        self.place(self.next)
    }

    /// The place of the word before the next one.
    pub(super) fn before(&self) -> Passage<'p> {
        self.place(self.next.saturating_sub(1))
    }

    /// How many words lie behind.
    pub(super) fn position(&self) -> usize {
        self.next
    }

    /// The place from the word at one position to the word at another, both included.
    pub(super) fn stretch(&self, first: usize, last: usize) -> Passage<'p> {
        match (self.tokens.get(first), self.tokens.get(last)) {
            (Some(first), Some(last)) => self.passage.part(first.range.start..last.range.end),
            _ => self.passage.clone(),
        }
    }

    /// The place of the next word and of its neighbours on either side.
    pub(super) fn around(&self) -> Passage<'p> {
        self.stretch(self.next.saturating_sub(1), self.next + 1)
    }

    fn place(&self, index: usize) -> Passage<'p> {
        match self.tokens.get(index).or(self.tokens.last()) {
            Some(token) => self.passage.part(token.range.clone()),
            None => self.passage.clone(),
        }
    }

    /// Whether the next word stands between its neighbours without white space on either side.
    pub(super) fn is_tight(&self) -> bool {
        let range = |index: usize| self.tokens.get(index).map(|token| token.range.clone());
        let before = self.next.checked_sub(1).and_then(range);
        match (before, range(self.next), range(self.next + 1)) {
            (Some(before), Some(here), Some(after)) => before.end == here.start && here.end == after.start,
            _ => false,
        }
    }

    /// The error for a next word that is none of those expected, or for an end that comes too early.
    pub(super) fn refuse(&self, expected: &[&str]) -> Error {
        let list = alternatives(expected);
        if self.is_done() {
            return Error::at(&self.here(), ErrorKind::Missing, format!("the phrase ends where {list} is missing"))
                .label(format!("{list} must follow"));
        }
        let here = self.here();
        Error::at(&here, ErrorKind::Unknown, format!("`{}` is not understood here", here.text()))
            .label(format!("expected {list}"))
            .nearest(here.text(), expected.iter().copied())
    }

    /// A band's name.
    pub(super) fn band(&mut self, also: &[&str]) -> Result<Band> {
        let found = self.bands.iter().find(|known| known.name.to_lowercase() == self.peek());
        if let Some(known) = found {
            let band = known.band;
            self.skip();
            return Ok(band);
        }
        let mut names: Vec<&str> = Vec::new();
        for name in self.bands.iter().map(|known| known.name.as_str()).chain(also.iter().copied()) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
        Err(self.refuse(&names))
    }

    /// A band by its name in lower case, without a word of the phrase.
    pub(super) fn known_band(&self, name: &str) -> Result<Band> {
        let found = self.bands.iter().find(|known| known.name.to_lowercase() == name);
        found.map(|known| known.band).ok_or_else(|| self.refuse(&[name]))
    }

    /// A number of dB, without its unit.
    pub(super) fn decibel_number(&mut self) -> Result<f64> {
        let here = self.here();
        let written = self.peek();
        let number = written.parse::<f64>().ok().filter(|_| written.starts_with(is_number_part));
        match number {
            Some(number) if number <= LARGEST_DECIBELS => {
                self.skip();
                Ok(number)
            }
            Some(_) => Err(Error::at(
                &here,
                ErrorKind::Range,
                format!("{written} dB is more than the {LARGEST_DECIBELS} dB a phrase may name"),
            )
            .label("0 to 100 dB")),
            None if written.starts_with(is_sign) => {
                Err(
                    Error::at(&here, ErrorKind::Syntax, format!("`{written}` has a sign, and a phrase takes none"))
                        .label("write the number alone")
                        .help("`within 2 dB` bounds both ways, `cut` and `less` go down, `more` goes up"),
                )
            }
            None => Err(self.refuse_plain("a number of dB")),
        }
    }

    /// The unit after a number of dB.
    pub(super) fn decibel_unit(&mut self) -> Result<()> {
        if ["db", "decibel", "decibels"].iter().any(|unit| self.take(unit)) {
            return Ok(());
        }
        if self.peek() == "," && self.peek_at(1).starts_with(|first: char| first.is_ascii_digit()) {
            return Err(
                Error::at(&self.around(), ErrorKind::Syntax, "a comma inside a number is not understood")
                    .label("a point is wanted")
                    .help(format!("write `{}.{}`", self.before().text(), self.peek_at(1))),
            );
        }
        Err(self.refuse(&["dB"]))
    }

    /// A number of dB with its unit.
    pub(super) fn decibels(&mut self) -> Result<f64> {
        let number = self.decibel_number()?;
        self.decibel_unit()?;
        Ok(number)
    }

    /// As [`Cursor::refuse`], for something that is no fixed word.
    pub(super) fn refuse_plain(&self, expected: &str) -> Error {
        let here = self.here();
        if self.is_done() {
            return Error::at(&here, ErrorKind::Missing, format!("the phrase ends where {expected} is missing"))
                .label(format!("{expected} must follow"));
        }
        Error::at(&here, ErrorKind::Unknown, format!("`{}` is not understood here", here.text())).label(format!("expected {expected}"))
    }

    /// Adds the forms that begin with `first`, or the nearest forms of all, to an error that needs them.
    pub(super) fn with_forms(&self, error: Error, first: Option<&str>) -> Error {
        match error.kind() {
            ErrorKind::Unknown | ErrorKind::Missing => forms::add(error, first, self.words()),
            _ => error,
        }
    }
}

/// "`a`", "`a` or `b`", "`a`, `b` or `c`".
fn alternatives(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => quoted.concat(),
    }
}

fn is_number_part(sign: char) -> bool {
    sign.is_ascii_digit() || sign == '.' || sign == '/'
}

fn is_sign(sign: char) -> bool {
    matches!(sign, '+' | '-' | '−' | '±')
}

/// Cuts a text into words, numbers and the signs `,` `;` `?`; a unit may follow its number without a space.
fn tokens(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut start = 0;
    while let Some(rest) = text.get(start..).filter(|rest| !rest.is_empty()) {
        let length = token_length(rest);
        let range = start..start + length;
        let lower = rest.get(..length).unwrap_or(rest).to_lowercase();
        if !lower.trim().is_empty() {
            tokens.push(Token { lower, range });
        }
        start += length.max(1);
    }
    tokens
}

/// Bytes of the token, or of the white space, at the start of a text that is not empty.
fn token_length(rest: &str) -> usize {
    let until = |ends: &dyn Fn(char) -> bool| rest.find(ends).unwrap_or(rest.len());
    let is_mark = |sign: char| matches!(sign, ',' | ';' | '?');
    let mut signs = rest.chars();
    let (first, second) = (signs.next().unwrap_or_default(), signs.next().unwrap_or_default());
    let whole = if first.is_whitespace() {
        return until(&|sign| !sign.is_whitespace());
    } else if is_mark(first) {
        return first.len_utf8();
    } else if first.is_ascii_digit() {
        until(&|sign| !is_number_part(sign))
    } else if (is_sign(first) || first == '.') && is_number_part(second) {
        let number = rest.get(first.len_utf8()..).unwrap_or_default();
        first.len_utf8() + number.find(|sign| !is_number_part(sign)).unwrap_or(number.len())
    } else {
        until(&|sign| sign.is_whitespace() || is_mark(sign))
    };
    // A full stop is no part of the word or number before it.
    let token = rest.get(..whole).unwrap_or(rest).trim_end_matches('.');
    if token.is_empty() { whole } else { token.len() }
}
