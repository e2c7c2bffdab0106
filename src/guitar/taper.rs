//! Rotation → wiper fraction.
//!
//! The percentage of a taper is the resistance at half rotation from the counter-clockwise lug to the wiper, over the whole track's
//! (common practice). Formulas: DEVELOPERS.md.

use std::fmt;

use crate::curve::Curve;
use crate::document::Value;
use crate::error::{Error, ErrorKind, Result};
use crate::limits::SMALLEST_ROTATION;
use crate::source::{Passage, Source};
use crate::units::{Fraction, read_fraction};

/// How the wiper moves along the track as the knob turns.
#[derive(Debug, Clone, PartialEq)]
pub enum Taper {
    /// w = x.
    Linear,
    /// w = (bˣ − 1)/(b − 1), b = ((1 − m)/m)²; m is the fraction at half rotation.
    Audio(Fraction),
    /// w = 1 − w_audio(1 − x).
    ReverseAudio(Fraction),
    /// w = 2m·x up to half way, then m + 2(1 − m)(x − ½).
    TwoSlope(Fraction),
    /// Measured points, straight lines between them; from (0, 0) to (1, 1), never falling.
    Table(Curve),
}

/// A taper that a fraction at half rotation says all of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Law {
    /// See [`Taper::Audio`]; linear at one half.
    Audio,
    /// See [`Taper::ReverseAudio`].
    ReverseAudio,
    /// See [`Taper::TwoSlope`].
    TwoSlope,
}

impl Law {
    /// The law with a fraction at half rotation, which is held to 1 to 99 %, where every law is defined; the readers allow nothing else.
    #[must_use]
    pub fn bent(self, mid: f64) -> Bent {
        let mid = mid.clamp(0.01, 0.99);
        let log_base = match self {
            Self::Audio | Self::ReverseAudio => 2.0 * ((1.0 - mid) / mid).ln(),
            Self::TwoSlope => 0.0,
        };
        Bent {
            law: self,
            mid,
            log_base,
            whole: log_base.exp_m1(),
        }
    }
}

/// A law with its fraction at half rotation, ready to be asked often.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bent {
    law: Law,
    mid: f64,
    /// ln b and b − 1 of an audio law.
    log_base: f64,
    whole: f64,
}

impl Bent {
    /// w(x): exactly 0 at 0 (and below [`SMALLEST_ROTATION`]) and 1 at 1; a rotation outside is taken as the nearer end.
    #[must_use]
    pub fn wiper(&self, rotation: f64) -> f64 {
        if rotation.is_nan() || rotation < SMALLEST_ROTATION {
            return 0.0;
        }
        if rotation >= 1.0 {
            return 1.0;
        }
        let wiper = match self.law {
            Law::Audio => self.audio(rotation),
            Law::ReverseAudio => 1.0 - self.audio(1.0 - rotation),
            Law::TwoSlope => two_slope(rotation, self.mid),
        };
        wiper.clamp(0.0, 1.0)
    }

    fn audio(&self, rotation: f64) -> f64 {
        // b near 1 is the linear law; the quotient loses its meaning there, not its limit.
        if self.log_base.abs() < 1e-9 {
            return rotation;
        }
        (rotation * self.log_base).exp_m1() / self.whole
    }
}

/// How the forms of a taper are written, for help.
const FORMS: &str = "a taper is `linear`, `audio 15 %`, `reverse audio 15 %`, `two-slope 10 %` or { table = \"pot.csv\" }";

/// The header of a measured taper.
const HEADER: [&str; 2] = ["rotation", "fraction"];

impl Taper {
    /// w(x): the fraction of the track between counter-clockwise lug and wiper at rotation x, 0 to 1. Exactly 0 at 0 (and below
    /// [`SMALLEST_ROTATION`]) and 1 at 1; a rotation outside is taken as the nearer end.
    #[must_use]
    pub fn wiper(&self, rotation: f64) -> f64 {
        match (self, self.law()) {
            (_, Some((law, mid))) => law.bent(mid).wiper(rotation),
            _ if rotation.is_nan() || rotation < SMALLEST_ROTATION => 0.0,
            (Self::Table(curve), None) => curve.at(rotation).unwrap_or(rotation.min(1.0)).clamp(0.0, 1.0),
            (_, None) => rotation.min(1.0),
        }
    }

    /// The law and its fraction at half rotation; `None` of measured points.
    #[must_use]
    pub fn law(&self) -> Option<(Law, f64)> {
        match self {
            Self::Linear => Some((Law::Audio, 0.5)),
            Self::Audio(mid) => Some((Law::Audio, mid.value())),
            Self::ReverseAudio(mid) => Some((Law::ReverseAudio, mid.value())),
            Self::TwoSlope(mid) => Some((Law::TwoSlope, mid.value())),
            Self::Table(_) => None,
        }
    }

    /// The taper with its fraction at half rotation off by a factor; of measured points as it is.
    #[must_use]
    pub fn off_by(&self, factor: f64) -> Self {
        let off = |mid: &Fraction| Fraction::new((mid.value() * factor).clamp(0.01, 0.99)).unwrap_or(*mid);
        match self {
            Self::Linear if factor == 1.0 => Self::Linear,
            Self::Linear => Fraction::new((0.5 * factor).clamp(0.01, 0.99)).map_or(Self::Linear, Self::Audio),
            Self::Audio(mid) => Self::Audio(off(mid)),
            Self::ReverseAudio(mid) => Self::ReverseAudio(off(mid)),
            Self::TwoSlope(mid) => Self::TwoSlope(off(mid)),
            Self::Table(curve) => Self::Table(curve.clone()),
        }
    }

    /// The same pot as a function of another taper's fraction, where both knobs stand alike: what stands at that fraction when the other does,
    /// in so many steps of the rotation with straight lines between them.
    #[must_use]
    pub fn over(&self, other: &Self, steps: usize) -> Self {
        if self == other {
            return Self::Linear;
        }
        let mut points: Vec<[f64; 2]> = Vec::with_capacity(steps + 1);
        for step in 0..=steps {
            let rotation = step as f64 / steps.max(1) as f64;
            let [at, own] = [other, self].map(|taper| taper.wiper(rotation));
            match points.last_mut().filter(|last| at <= last[0]) {
                // Where the other stands still, the last of its rotations counts.
                Some(last) => last[1] = own,
                None => points.push([at, own]),
            }
        }
        Curve::new(points).map_or(Self::Linear, Self::Table)
    }

    /// Reads a taper in words: `linear`, `audio 15 %`, `reverse audio 15 %`, `two-slope 10 %`.
    ///
    /// # Errors
    /// Where the words name no taper, lack their percentage, or are a letter code, which the trade and the standard read differently.
    pub fn read(passage: &Passage<'_>) -> Result<Self> {
        let whole = passage.trimmed();
        let text = whole.text();
        let split = number_start(text);
        let words = text.get(..split).unwrap_or_default();
        let words = words.to_lowercase().replace('-', " ");
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        if is_trade_code(text, &words) {
            return Err(trade_code(&whole));
        }
        let number = whole.part(split..text.len());
        let (law, highest): (fn(Fraction) -> Self, f64) = match words.as_str() {
            "linear" if number.text().is_empty() => return Ok(Self::Linear),
            "linear" => {
                return Err(Error::at(&number, ErrorKind::Syntax, "a linear taper has no percentage")
                    .label("not wanted here")
                    .help("half rotation of a linear taper is half the track"));
            }
            "audio" => (Self::Audio, 0.49),
            "reverse audio" => (Self::ReverseAudio, 0.49),
            "two slope" => (Self::TwoSlope, 0.99),
            _ => {
                let written = whole.part(0..split).trimmed();
                let place = if written.text().is_empty() { &whole } else { &written };
                return Err(Error::at(place, ErrorKind::Unknown, format!("`{text}` is no taper"))
                    .label("expected a taper")
                    .nearest(&words, ["linear", "audio", "reverse audio", "two-slope"])
                    .help(FORMS));
            }
        };
        mid_fraction(&whole, &number, &words, highest).map(law)
    }

    /// Reads a measured taper, a CSV of `rotation,fraction` from 0,0 to 1,1 that never falls.
    ///
    /// # Errors
    /// Where a row is malformed, or the points are no taper.
    pub fn read_table(source: &Source) -> Result<Self> {
        let (curve, places) = Curve::read_placed(source, HEADER)?;
        Self::measured(curve, |index| source.passage_at(places.get(index).cloned().unwrap_or(0..0)))
    }

    /// Reads measured points as a guitar file holds them, `[[0, 0], [0.5, 0.15], [1, 1]]`: rotation and fraction, both from 0 to 1.
    pub(super) fn read_points(value: &Value<'_>) -> Result<Self> {
        let items = value.items()?;
        let place = |index: usize| items.get(index).unwrap_or(value).passage();
        let mut points: Vec<[f64; 2]> = Vec::with_capacity(items.len());
        for (index, item) in items.iter().enumerate() {
            let numbers = item.items()?.iter().map(Value::number).collect::<Result<Vec<f64>>>()?;
            let [rotation, fraction] = *numbers.as_slice() else {
                let message = "a point of a taper is its rotation and its fraction";
                return Err(Error::at(&place(index), ErrorKind::Syntax, message).label("expected two numbers such as [0.5, 0.15]"));
            };
            if let Some(before) = points.last().filter(|before| rotation <= before[0]) {
                let message = format!("rotation must rise from point to point: {rotation} follows {}", before[0]);
                return Err(Error::at(&place(index), ErrorKind::Range, message).label(format!("must be above {}", before[0])));
            }
            points.push([rotation, fraction]);
        }
        let curve = Curve::new(points).ok_or_else(|| {
            let message = "a taper's points start at 0,0 and end at 1,1: that is two of them at least";
            Error::at(&value.passage(), ErrorKind::Missing, message).label("expected points such as [[0, 0], [0.5, 0.15], [1, 1]]")
        })?;
        Self::measured(curve, place)
    }

    /// A taper of points, each with its place.
    fn measured<'p>(curve: Curve, place: impl Fn(usize) -> Passage<'p>) -> Result<Self> {
        let points = curve.points();
        let refuse = |index: usize, message: String, label: &str| Err(Error::at(&place(index), ErrorKind::Range, message).label(label));
        let last = points.len().saturating_sub(1);
        if points.first() != Some(&[0.0, 0.0]) {
            return refuse(0, "a taper's table starts at 0,0".to_owned(), "expected 0,0");
        }
        for (index, (before, after)) in points.iter().zip(points.iter().skip(1)).enumerate() {
            if after[1] < before[1] {
                let message = format!("a taper never falls: fraction {} follows {}", after[1], before[1]);
                return refuse(index + 1, message, "falls here");
            }
        }
        if points.last() != Some(&[1.0, 1.0]) {
            return refuse(last, "a taper's table ends at 1,1".to_owned(), "expected 1,1");
        }
        Ok(Self::Table(curve))
    }
}

impl fmt::Display for Taper {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |mid: &Fraction| format!("{} %", (mid.value() * 1e8).round() / 1e6);
        match self {
            Self::Linear => formatter.write_str("linear"),
            Self::Audio(mid) => write!(formatter, "audio {}", percent(mid)),
            Self::ReverseAudio(mid) => write!(formatter, "reverse audio {}", percent(mid)),
            Self::TwoSlope(mid) => write!(formatter, "two-slope {}", percent(mid)),
            Self::Table(curve) => write!(formatter, "measured at {} points", curve.points().len()),
        }
    }
}

fn two_slope(rotation: f64, mid: f64) -> f64 {
    if rotation <= 0.5 {
        2.0 * mid * rotation
    } else {
        mid + 2.0 * (1.0 - mid) * (rotation - 0.5)
    }
}

/// Where the number of a taper begins: at a digit, or at a sign or point after a space.
fn number_start(text: &str) -> usize {
    let mut after_space = false;
    for (at, character) in text.char_indices() {
        if character.is_ascii_digit() || (after_space && matches!(character, '-' | '+' | '.' | '−')) {
            return at;
        }
        after_space = character.is_whitespace();
    }
    text.len()
}

/// Letters (`A`, `B250K`, `500KA`, `A taper`) and the bare word for a logarithmic law, none of which says which law is meant.
fn is_trade_code(text: &str, words: &str) -> bool {
    const UNCLEAR: [&str; 6] = ["log", "logarithmic", "antilog", "anti log", "reverse log", "inverse log"];
    const FILLERS: [&str; 4] = ["taper", "pot", "law", "type"];
    let lower = text.to_lowercase();
    let rest: Vec<_> = lower.split_whitespace().filter(|word| !FILLERS.contains(word)).collect();
    let code = rest.concat();
    let letter = |letter: char| ('a'..='g').contains(&letter) || letter == 'w';
    let value = |value: &str| {
        value
            .trim_end_matches(['k', 'm', 'Ω', 'ω'])
            .chars()
            .all(|digit| digit.is_ascii_digit())
    };
    let mut characters = code.chars();
    let leading = characters.next().is_some_and(letter) && value(characters.as_str());
    let mut characters = code.chars();
    let trailing = characters.next_back().is_some_and(letter) && value(characters.as_str());
    leading || trailing || UNCLEAR.contains(&words) || words.split(' ').next() == Some("log")
}

fn trade_code(whole: &Passage<'_>) -> Error {
    // IEC letters from memory (A linear, B logarithmic, C inverse logarithmic), as European makers' catalogues print them.
    let message = format!("`{}` does not say which taper is meant", whole.text());
    Error::at(whole, ErrorKind::Unknown, message)
        .label("a taper is written in words here")
        .help("the letters disagree, so none is guessed:")
        .help("in today's guitar trade A is audio, B linear, C reverse audio")
        .help("in the IEC's lettering A is linear, B logarithmic, C reverse logarithmic")
        .help("write `linear`, `audio 15 %` or `reverse audio 15 %`")
        .help("common percentages are 10, 15, 20 and 30 %: the resistance at half rotation")
}

fn mid_fraction(whole: &Passage<'_>, number: &Passage<'_>, words: &str, highest: f64) -> Result<Fraction> {
    if number.text().is_empty() {
        let name = if words == "two slope" { "two-slope" } else { words };
        return Err(Error::at(
            whole,
            ErrorKind::Missing,
            format!("`{}` lacks its percentage at half rotation", whole.text()),
        )
        .label("expected a percentage after it")
        .help(format!("write `{name} 15 %`; common percentages are 10, 15, 20 and 30 %")));
    }
    let mid = read_fraction(number)?;
    if mid.value() >= 0.01 && mid.value() <= highest {
        return Ok(mid);
    }
    let limits = format!("1 to {:.0} %", highest * 100.0);
    Err(Error::at(
        number,
        ErrorKind::Range,
        format!("a taper's percentage at half rotation is {limits}"),
    )
    .label(format!("expected {limits}")))
}
