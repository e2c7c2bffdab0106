//! Colour bands on resistors (IEC 60062; the table is from memory, its digits, gold and silver agree with a public chart).

use serde::Serialize;

use super::{MarkedPart, Reading, Tolerance};
use crate::error::{Error, ErrorKind, Result, nearest};
use crate::source::Passage;
use crate::units::{Decimal, Fraction, Ohms};

/// A colour of a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "the names are the colours")]
pub enum Colour {
    Black,
    Brown,
    Red,
    Orange,
    Yellow,
    Green,
    Blue,
    Violet,
    Grey,
    White,
    Gold,
    Silver,
    Pink,
}

impl Colour {
    /// The ten digits in order, then gold, silver, pink.
    pub const ALL: [Self; 13] = [
        Self::Black,
        Self::Brown,
        Self::Red,
        Self::Orange,
        Self::Yellow,
        Self::Green,
        Self::Blue,
        Self::Violet,
        Self::Grey,
        Self::White,
        Self::Gold,
        Self::Silver,
        Self::Pink,
    ];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Black => "black",
            Self::Brown => "brown",
            Self::Red => "red",
            Self::Orange => "orange",
            Self::Yellow => "yellow",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::Violet => "violet",
            Self::Grey => "grey",
            Self::White => "white",
            Self::Gold => "gold",
            Self::Silver => "silver",
            Self::Pink => "pink",
        }
    }

    /// The colour of a name; `gray` and `purple` read as well, and case does not matter.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        match word.to_lowercase().as_str() {
            "gray" => Some(Self::Grey),
            "purple" => Some(Self::Violet),
            word => Self::ALL.into_iter().find(|colour| colour.name() == word),
        }
    }

    /// The digit it stands for, as text.
    fn digit(self) -> Option<&'static str> {
        const DIGITS: [&str; 10] = ["0", "1", "2", "3", "4", "5", "6", "7", "8", "9"];
        Self::ALL
            .into_iter()
            .zip(DIGITS)
            .find(|(colour, _)| *colour == self)
            .map(|(_, digit)| digit)
    }

    fn of_digit(digit: char) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|colour| colour.digit().is_some_and(|text| text.starts_with(digit)))
    }

    /// The power of ten it stands for as a multiplier.
    const fn multiplier(self) -> i32 {
        match self {
            Self::Black => 0,
            Self::Brown => 1,
            Self::Red => 2,
            Self::Orange => 3,
            Self::Yellow => 4,
            Self::Green => 5,
            Self::Blue => 6,
            Self::Violet => 7,
            Self::Grey => 8,
            Self::White => 9,
            Self::Gold => -1,
            Self::Silver => -2,
            Self::Pink => -3,
        }
    }

    /// The tolerance it stands for, as a share.
    const fn tolerance(self) -> Option<f64> {
        match self {
            Self::Brown => Some(0.01),
            Self::Red => Some(0.02),
            Self::Orange => Some(0.000_5),
            Self::Yellow => Some(0.000_2),
            Self::Green => Some(0.005),
            Self::Blue => Some(0.002_5),
            Self::Violet => Some(0.001),
            Self::Grey => Some(0.000_1),
            Self::Gold => Some(0.05),
            Self::Silver => Some(0.1),
            Self::Black | Self::White | Self::Pink => None,
        }
    }

    /// The temperature coefficient it stands for as a sixth band, in millionths per kelvin (from memory).
    const fn temperature_coefficient(self) -> Option<u32> {
        match self {
            Self::Black => Some(250),
            Self::Brown => Some(100),
            Self::Red => Some(50),
            Self::Orange => Some(15),
            Self::Yellow => Some(25),
            Self::Green => Some(20),
            Self::Blue => Some(10),
            Self::Violet => Some(5),
            Self::Grey => Some(1),
            Self::White | Self::Gold | Self::Silver | Self::Pink => None,
        }
    }
}

/// A band as it was written.
struct Band<'a> {
    colour: Colour,
    passage: Passage<'a>,
}

/// Whether a text is colours rather than a code: a colour first, or several words of which one is a colour or nearly.
pub(super) fn looks_like_bands(text: &str) -> bool {
    let mut words = words(text).map(|(_, word)| word);
    let first_is_colour = words.clone().next().is_some_and(|word| Colour::named(word).is_some());
    let is_near = |word: &str| nearest(word, Colour::ALL.map(Colour::name)).is_some();
    let all_letters = words.clone().all(|word| word.chars().all(char::is_alphabetic));
    first_is_colour || all_letters && words.clone().count() > 1 && words.any(|word| word.len() >= 3 && is_near(word))
}

fn words(text: &str) -> impl Iterator<Item = (usize, &str)> + Clone {
    let parting = |sign: char| sign.is_whitespace() || matches!(sign, ',' | '-' | '/');
    text.split(parting)
        .scan(0, move |next, word| {
            let start = *next;
            let parted_by = text.get(start + word.len()..).and_then(|rest| rest.chars().next());
            *next = start + word.len() + parted_by.map_or(0, char::len_utf8);
            Some((start, word))
        })
        .filter(|(_, word)| !word.is_empty())
}

/// Reads three to six bands. Where the bands read from the other end as well, that is the second reading.
pub(super) fn read_bands(whole: &Passage<'_>) -> Result<Vec<Reading>> {
    let bands = bands(whole)?;
    let forward = read_in_order(whole, &bands);
    let backward = || {
        let reversed: Vec<Band<'_>> = bands
            .iter()
            .rev()
            .map(|band| Band {
                colour: band.colour,
                passage: band.passage.clone(),
            })
            .collect();
        let is_other = reversed.iter().zip(&bands).any(|(one, other)| one.colour != other.colour);
        let begins_with_zero = reversed.first().is_none_or(|band| band.colour == Colour::Black);
        let reading = read_in_order(whole, &reversed).ok()?;
        (matches!(bands.len(), 4 | 5) && is_other && !begins_with_zero).then_some(reading)
    };
    let capacitor = old_capacitor(&bands);
    match (forward, capacitor) {
        // A multiplier of 10⁹ is on no resistor.
        (Ok(reading), Some(capacitor)) if reading.value >= 1e9 => Ok(vec![capacitor, reading]),
        (Err(_), Some(capacitor)) => Ok(vec![capacitor]),
        (Ok(reading), capacitor) => {
            let other_end = backward().map(|reading| Reading {
                note: format!("{}, read from the other end", reading.note),
                ..reading
            });
            Ok([Some(reading), capacitor, other_end].into_iter().flatten().collect())
        }
        (Err(error), None) if backward().is_some() => Err(error.help("read the bands from the other end")),
        (Err(error), None) => Err(error),
    }
}

/// The five bands of old polyester capacitors: two figures and a power of ten in pF, tolerance, voltage (common practice, no source; 250 V
/// and 400 V as in public charts).
fn old_capacitor(bands: &[Band<'_>]) -> Option<Reading> {
    let [first, second, multiplier, tolerance, voltage] = bands else {
        return None;
    };
    let share = match tolerance.colour {
        Colour::Black => 0.2,
        Colour::White => 0.1,
        Colour::Green => 0.05,
        _ => return None,
    };
    let volts = match voltage.colour {
        Colour::Brown => 100,
        Colour::Red => 250,
        Colour::Yellow => 400,
        _ => return None,
    };
    let figures = format!("{}{}", first.colour.digit()?, second.colour.digit()?);
    let value = Decimal::new(false, &figures, "", multiplier.colour.multiplier() - 12).value()?;
    (value > 0.0 && value < 1e-5).then(|| Reading {
        what: MarkedPart::Capacitor,
        value,
        tolerance: Some(Tolerance::Share(share)),
        volts: Some(volts),
        note: format!("bands of an old capacitor, in pF, {volts} V"),
    })
}

fn bands<'a>(whole: &Passage<'a>) -> Result<Vec<Band<'a>>> {
    let mut bands = Vec::new();
    for (start, word) in words(whole.text()) {
        let passage = whole.part(start..start + word.len());
        // "none" is how charts call the missing fourth band.
        if word.eq_ignore_ascii_case("none") && bands.len() == 3 {
            continue;
        }
        let colour = Colour::named(word).ok_or_else(|| {
            let error =
                Error::at(&passage, ErrorKind::Unknown, format!("`{word}` is no colour of a band")).label("not a colour known here");
            error.nearest(word, Colour::ALL.map(Colour::name))
        })?;
        bands.push(Band { colour, passage });
    }
    Ok(bands)
}

fn read_in_order(whole: &Passage<'_>, bands: &[Band<'_>]) -> Result<Reading> {
    let figures = match bands.len() {
        1 if bands.iter().all(|band| band.colour == Colour::Black) => return Ok(wire()),
        3 | 4 => 2,
        5 | 6 => 3,
        count => {
            let error = Error::at(
                whole,
                ErrorKind::Syntax,
                format!("expected three to six colour bands, found {count}"),
            );
            return Err(error.label("three to six bands").help("such as `yellow violet yellow gold`"));
        }
    };
    let mut digits = String::new();
    for band in bands.iter().take(figures) {
        digits.push_str(band.colour.digit().ok_or_else(|| no_such(band, "digit"))?);
    }
    let mut rest = bands.iter().skip(figures);
    let power = rest.next().map_or(0, |band| band.colour.multiplier());
    let share = match rest.next() {
        None => 0.2,
        Some(band) => band.colour.tolerance().ok_or_else(|| no_such(band, "tolerance"))?,
    };
    let coefficient = match rest.next() {
        None => None,
        Some(band) => Some(
            band.colour
                .temperature_coefficient()
                .ok_or_else(|| no_such(band, "temperature coefficient"))?,
        ),
    };
    let value = Decimal::new(false, &digits, "", power).value().unwrap_or(0.0);
    if value == 0.0 {
        let error = Error::at(whole, ErrorKind::Range, "these bands say a resistance of zero").label("all digits black");
        return Err(error.help("a zero-ohm link has a single black band"));
    }
    let bands_read = format!("{} colour bands", bands.len());
    Ok(Reading {
        what: MarkedPart::Resistor,
        value,
        tolerance: Some(Tolerance::Share(share)),
        volts: None,
        note: coefficient.map_or(bands_read.clone(), |millionths| format!("{bands_read}, {millionths} ppm/K")),
    })
}

fn wire() -> Reading {
    Reading {
        what: MarkedPart::Resistor,
        value: 0.0,
        tolerance: None,
        volts: None,
        note: "one black band, a zero-ohm link".to_owned(),
    }
}

fn no_such(band: &Band<'_>, meaning: &str) -> Error {
    let message = format!("{} stands for no {meaning}", band.colour.name());
    Error::at(&band.passage, ErrorKind::Syntax, message).label(format!("expected the colour of a {meaning}"))
}

/// The bands of a resistor: four (three at 20 %) for values of two figures at 5 % and looser, else five. `None` where no bands say it.
#[must_use]
pub fn resistor_bands(value: Ohms, tolerance: Fraction) -> Option<Vec<Colour>> {
    let (digits, power) = Decimal::of(value.value()).filter(|_| value.value() > 0.0)?.figures(3)?;
    let loose = tolerance.value() >= 0.05;
    let (figures, power) = match digits.strip_suffix('0') {
        Some(two) if loose => (two.to_owned(), power + 1),
        _ => (digits, power),
    };
    let mut bands: Vec<Colour> = figures.chars().map(Colour::of_digit).collect::<Option<_>>()?;
    bands.push(Colour::ALL.into_iter().find(|colour| colour.multiplier() == power)?);
    if tolerance.value() == 0.2 && figures.len() == 2 {
        return Some(bands);
    }
    bands.push(
        Colour::ALL
            .into_iter()
            .find(|colour| colour.tolerance() == Some(tolerance.value()))?,
    );
    Some(bands)
}
