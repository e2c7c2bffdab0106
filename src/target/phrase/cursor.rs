//! The words of a phrase with their places, taken one after the other.

use super::lexer::{Token, is_sign, tokens};
use super::qualities::{AMOUNTS, Alone, IMPOSSIBLE, QUALITIES, Quality};
use super::{NamedBand, forms};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;

/// Largest number of dB a phrase may name: far above anything a guitar's controls do.
const LARGEST_DECIBELS: f64 = 100.0;

/// Reads a phrase from left to right.
pub(super) struct Cursor<'p> {
    passage: Passage<'p>,
    tokens: Vec<Token>,
    next: usize,
    bands: Vec<NamedBand>,
}

impl<'p> Cursor<'p> {
    /// At the first word of `text`, which is what the passage says in the same places; a file's own bands win over the common ones.
    pub(super) fn new(passage: Passage<'p>, text: &str, own: &[NamedBand], common: Vec<NamedBand>) -> Self {
        Self {
            tokens: tokens(text, own),
            passage,
            next: 0,
            bands: own.iter().cloned().chain(common).collect(),
        }
    }

    /// The next word in lower case; empty at the end.
    pub(super) fn peek(&self) -> &str {
        self.peek_at(0)
    }

    /// The word `ahead` places after the next one.
    pub(super) fn peek_at(&self, ahead: usize) -> &str {
        self.tokens.get(self.next + ahead).map_or("", |token| token.word.as_str())
    }

    /// Whether nothing is left.
    pub(super) fn is_done(&self) -> bool {
        self.next >= self.tokens.len()
    }

    /// Passes over the next word.
    pub(super) fn skip(&mut self) {
        self.next += 1;
    }

    /// Whether "it sounds" or the like stands before the next word, or before one of those from `index` on.
    pub(super) fn is_stated_since(&self, index: usize) -> bool {
        self.tokens
            .get(index..=self.next)
            .is_some_and(|tokens| tokens.iter().any(|token| token.is_stated))
    }

    /// Whether the next word compares without a judgement: "less", "more", "duller", but not "too" or "lacks".
    pub(super) fn compares(&self) -> bool {
        self.tokens.get(self.next).is_some_and(Token::compares)
    }

    /// Whether what the next word stands for was written so.
    pub(super) fn is_written(&self, words: &[&str]) -> bool {
        self.is_written_at(0, words)
    }

    /// Whether what the word `ahead` places after the next one stands for was written so.
    pub(super) fn is_written_at(&self, ahead: usize, words: &[&str]) -> bool {
        self.tokens
            .get(self.next + ahead)
            .is_some_and(|token| words.contains(&token.written.as_str()))
    }

    /// Whether one of these was written before the next word.
    pub(super) fn comes_after(&self, words: &[&str]) -> bool {
        let before = self.next.checked_sub(1).and_then(|index| self.tokens.get(index));
        before.is_some_and(|token| words.contains(&token.written.as_str()))
    }

    /// Whether "knob" or the like was written after the word `ahead` places after the next one.
    pub(super) fn is_knob_at(&self, ahead: usize) -> bool {
        self.tokens.get(self.next + ahead).is_some_and(|token| token.is_knob)
    }

    /// The quality the next word names, unless it is a file's own band.
    pub(super) fn peek_quality(&self) -> Option<&'static Quality> {
        let is_band = self.peek_band().is_some();
        QUALITIES.iter().find(|quality| !is_band && quality.word == self.peek())
    }

    /// The band the next word names.
    pub(super) fn peek_band(&self) -> Option<&NamedBand> {
        self.bands.iter().find(|known| known.name.to_lowercase() == self.peek())
    }

    /// Whether a complaint such as "muddy" was read already.
    pub(super) fn has_complained(&self) -> bool {
        let is_complaint = |token: &Token| {
            QUALITIES
                .iter()
                .any(|quality| quality.word == token.word && quality.alone == Alone::Complaint)
        };
        self.tokens.iter().take(self.next).any(is_complaint)
    }

    /// The quality named by the word `ahead` places after the next one.
    pub(super) fn quality_at(&self, ahead: usize) -> Option<&'static Quality> {
        QUALITIES.iter().find(|quality| quality.word == self.peek_at(ahead))
    }

    /// Whether a word in lower case is a band's name.
    pub(super) fn band_named(&self, word: &str) -> bool {
        self.bands.iter().any(|known| known.name.to_lowercase() == word)
    }

    /// Takes "a bit", "much" and their like: how many times the usual amount.
    pub(super) fn take_amount(&mut self) -> Option<f64> {
        let (_, times) = AMOUNTS.iter().find(|(word, _)| *word == self.peek())?;
        self.skip();
        Some(*times)
    }

    /// Refuses a wish that no part can grant, at the word that asks for it.
    pub(super) fn refuse_impossible(&self) -> Result<()> {
        for (index, token) in self.tokens.iter().enumerate() {
            let is_band = self.bands.iter().any(|band| band.name.to_lowercase() == token.word);
            let next = self.tokens.get(index + 1).map_or("", |next| next.written.as_str());
            let pair = format!("{} {next}", token.written);
            let asks = |word: &&str| *word == token.written || *word == pair;
            let found = IMPOSSIBLE.iter().find(|(words, _)| words.iter().any(&asks));
            if let Some((_, why)) = found.filter(|_| !is_band) {
                let place = self.place(index);
                return Err(Error::at(
                    &place,
                    ErrorKind::Conflict,
                    format!("`{}` is out of reach of a part at the knobs", place.text()),
                )
                .label("no part here can do this")
                .help(*why));
            }
        }
        Ok(())
    }

    /// Refuses a part's value: a wish says how the guitar shall sound, and a comparison what a part does to it.
    pub(super) fn refuse_part(&self) -> Result<()> {
        for (index, pair) in self.tokens.windows(2).enumerate() {
            let [before, unit] = pair else { continue };
            let key = match unit.written.as_str() {
                "nf" | "pf" | "uf" | "µf" | "μf" | "n" | "p" | "u" => "tone",
                "k" | "kohm" | "kohms" | "meg" | "megs" | "megohm" => "volume",
                _ => continue,
            };
            if before.written.starts_with(|sign: char| sign.is_ascii_digit()) {
                let place = self.stretch(index, index + 1);
                let part = place.text().replace(' ', "");
                return Err(Error::at(
                    &place,
                    ErrorKind::Conflict,
                    format!("`{}` is a part, and a wish is how the guitar shall sound", place.text()),
                )
                .label("no part is named in a wish")
                .help(format!(
                    "what a part does is shown by: knobwright compare --guitar GUITAR --build {key}={part}"
                )));
            }
        }
        Ok(())
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
        let error = self.refuse_plain(&alternatives(expected));
        if self.is_done() {
            error
        } else {
            forms::nearest_word(error, self.here().text(), expected)
        }
    }

    /// A band's name.
    pub(super) fn band(&mut self, also: &[&str]) -> Result<NamedBand> {
        if let Some(known) = self.peek_band().cloned() {
            self.skip();
            return Ok(known);
        }
        let mut names: Vec<&str> = Vec::new();
        for name in self.bands.iter().map(|known| known.name.as_str()).chain(also.iter().copied()) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
        Err(self.refuse(&names))
    }

    /// A band by its name, or by a sound that has much of it: "highs", "sparkle".
    pub(super) fn band_or_sound(&mut self, also: &[&str]) -> Result<NamedBand> {
        match self.peek_quality().filter(|quality| quality.sign > 0.0) {
            Some(quality) => {
                self.skip();
                self.known_band(quality.band)
            }
            None => self.band(also),
        }
    }

    /// A band by its name in lower case, without a word of the phrase.
    pub(super) fn known_band(&self, name: &str) -> Result<NamedBand> {
        let found = self.bands.iter().find(|known| known.name.to_lowercase() == name);
        found.cloned().ok_or_else(|| self.refuse(&[name]))
    }

    /// Whether a number of dB, or the first of a range of dB, stands `ahead` places after the next word.
    pub(super) fn is_amount_at(&self, ahead: usize) -> bool {
        let is_digit = self.peek_at(ahead).starts_with(|sign: char| sign.is_ascii_digit());
        match self.peek_at(ahead + 1) {
            "db" => is_digit || number_word(self.peek_at(ahead)).is_some(),
            "to" => is_digit && !matches!(self.peek_at(ahead + 3), "volume" | "tone" | "%"),
            _ => false,
        }
    }

    /// A number of dB, without its unit.
    pub(super) fn decibel_number(&mut self) -> Result<f64> {
        let here = self.here();
        let written = self.peek();
        let number = written.parse::<f64>().ok().filter(|_| written.starts_with(is_number_part));
        let number = number.or_else(|| number_word(written).filter(|_| self.peek_at(1) == "db"));
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
        if self.take("db") {
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

    /// Adds sentences that fit to an error that needs them; `first` is the word its wish begins with.
    pub(super) fn with_examples(&self, error: Error, first: Option<&str>) -> Error {
        match error.kind() {
            ErrorKind::Unknown | ErrorKind::Missing => forms::add(error, first, &self.tokens, &self.bands),
            _ => error,
        }
    }

    /// What was written from the word at `index` on.
    pub(super) fn written_from(&self, index: usize) -> String {
        let start = self.tokens.get(index).map_or(0, |token| token.range.start);
        self.passage.text().get(start..).unwrap_or_default().to_owned()
    }

    /// How many words were taken.
    pub(super) fn taken(&self) -> usize {
        self.next
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

/// "half a dB", "two dB".
fn number_word(word: &str) -> Option<f64> {
    let words = [
        ("half", 0.5),
        ("one", 1.0),
        ("two", 2.0),
        ("three", 3.0),
        ("four", 4.0),
        ("five", 5.0),
        ("six", 6.0),
    ];
    words.into_iter().find(|(known, _)| *known == word).map(|(_, number)| number)
}

fn is_number_part(sign: char) -> bool {
    sign.is_ascii_digit() || sign == '.' || sign == '/'
}
