//! "4k7", "22 nF", "3.4 H", "20 %" → a quantity, or an error that says where and what was expected.

use super::decimal::Decimal;
use super::spelling::{Spelling, take_apart};
use super::suffix::{Dimension, Suffix, power, understand};
use super::{Decibels, Farads, Fraction, Henries, Hertz, Ohms};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;

mod bare;

use bare::{bare, bare_help, bare_quantity, bare_share, refuse_code};

/// Metres in a foot, exact by the international agreement of 1959 (from memory).
const METRES_PER_FOOT: f64 = 0.3048;

/// A value whose spelling tells its kind, as networks are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Quantity {
    /// Resistance.
    Ohms(Ohms),
    /// Capacitance.
    Farads(Farads),
    /// Inductance.
    Henries(Henries),
}

/// Reads a resistance with prefix or unit: `250 k`, `4k7`, `470R`, `1 MΩ`.
///
/// # Errors
/// Where the text is no resistance, or carries neither unit nor prefix.
pub fn read_ohms(passage: &Passage<'_>) -> Result<Ohms> {
    read_dimension(passage, Dimension::Resistance, Ohms::new)
}

/// Reads a capacitance with prefix or unit: `22 n`, `4n7`, `500 pF`, `.022 MFD`.
///
/// # Errors
/// Where the text is no capacitance, or carries neither unit nor prefix.
pub fn read_farads(passage: &Passage<'_>) -> Result<Farads> {
    read_dimension(passage, Dimension::Capacitance, Farads::new)
}

/// Reads a capacitance per metre: `110 p`, `110 pF/m`, `33 pF/ft`; the value is in F/m.
///
/// # Errors
/// Where the text is none.
pub fn read_farads_per_metre(passage: &Passage<'_>) -> Result<Farads> {
    let whole = passage.trimmed();
    let Some((capacitance, length)) = whole.text().split_once('/') else {
        return read_farads(&whole);
    };
    let farads = read_farads(&whole.part(0..capacitance.len()))?;
    let unit = whole.part(capacitance.len() + 1..whole.text().len()).trimmed();
    match length.trim() {
        "m" | "metre" | "meter" => Ok(farads),
        "ft" | "foot" => finite(&whole, farads.value() / METRES_PER_FOOT, Farads::new),
        _ => Err(wrong_unit(&unit, "expected a capacitance per metre", "expected m or ft").help("write it as `110 pF/m`")),
    }
}

/// Reads an inductance with its unit: `3.4 H`, `100 mH`.
///
/// # Errors
/// Where the text is none.
pub fn read_henries(passage: &Passage<'_>) -> Result<Henries> {
    read_dimension(passage, Dimension::Inductance, Henries::new)
}

/// Reads a length in metres: `4.5 m`, `450 cm`, `15 ft`.
///
/// # Errors
/// Where the text is none.
pub fn read_metres(passage: &Passage<'_>) -> Result<f64> {
    let (spelling, unit) = with_word(passage, "a length such as `4.5 m`")?;
    let number = spelling.number.clone();
    let metres = match unit.as_str() {
        "m" | "metre" | "metres" | "meter" | "meters" => exact(&spelling.whole, &number)?,
        "cm" => exact(&spelling.whole, &number.times_ten_to(-2))?,
        "mm" => exact(&spelling.whole, &number.times_ten_to(-3))?,
        "ft" | "foot" | "feet" => exact(&spelling.whole, &number)? * METRES_PER_FOOT,
        "" if number.is_zero() => 0.0,
        "" => return Err(bare(&spelling.whole, "write metres as `4.5 m`, feet as `15 ft`")),
        _ => return Err(wrong_unit(&spelling.suffix, "expected a length", "expected m, cm or ft")),
    };
    Ok(metres)
}

/// Reads a frequency in Hz; a bare number is Hz: `1000`, `1k`, `4.14 kHz`.
///
/// # Errors
/// Where the text is none.
pub fn read_hertz(passage: &Passage<'_>) -> Result<Hertz> {
    read_dimension(passage, Dimension::Frequency, Hertz::new)
}

/// Reads a level: `2 dB`, `-3dB`, `2`.
///
/// # Errors
/// Where the text is none.
pub fn read_decibels(passage: &Passage<'_>) -> Result<Decibels> {
    let (spelling, unit) = with_word(passage, "a level such as `2 dB`")?;
    if !matches!(unit.as_str(), "" | "db") {
        return Err(wrong_unit(&spelling.suffix, "expected a level", "expected dB"));
    }
    finite(&spelling.whole, exact(&spelling.whole, &spelling.number)?, Decibels::new)
}

/// Reads a share written in percent: `5 %`, `5%`; the value is 0.05. The sign is required.
///
/// # Errors
/// Where the text is none.
pub fn read_fraction(passage: &Passage<'_>) -> Result<Fraction> {
    let (spelling, unit) = with_word(passage, "a share in percent such as `20 %`")?;
    match unit.as_str() {
        "%" => {}
        "" => return Err(bare(&spelling.whole, &bare_share(&spelling.number))),
        _ => return Err(wrong_unit(&spelling.suffix, "expected a share in percent", "expected %")),
    }
    let share = exact(&spelling.whole, &spelling.number.times_ten_to(-2))?;
    finite(&spelling.whole, share, Fraction::new)
}

/// Reads a value whose prefix or unit tells its kind, as networks are written: p n u µ F are capacitors, k M R Ω resistors, H inductors.
/// A bare number other than 0 tells no kind, and `223` or `223K` may be the code on a capacitor.
///
/// # Errors
/// Where the text is no value, or one that reads in two ways.
pub fn read_quantity(passage: &Passage<'_>) -> Result<Quantity> {
    let expected = "a value such as `120k`, `22n` or `3.4 H`";
    let spelling = take_apart(passage, expected)?;
    refuse_code(&spelling, None)?;
    let Some(suffix) = understand(&spelling) else {
        return Err(unknown_quantity_unit(&spelling));
    };
    let dimension = match (suffix.unit, suffix.prefix) {
        (Some(unit), _) => unit,
        (None, Some('p' | 'n' | 'u')) => Dimension::Capacitance,
        (None, Some('m')) => {
            let number = spelling.number.plain();
            let error = wrong_unit(&spelling.whole, "`m` alone tells no kind", "milli or mega, of what?");
            return Err(error.help(format!(
                "write `{number} M` for megohms, `{number} u` for microfarads, `{number} mH` for millihenries"
            )));
        }
        (None, Some(_)) => Dimension::Resistance,
        (None, None) => return bare_quantity(&spelling),
    };
    match dimension {
        Dimension::Resistance => value_of(&spelling, suffix, dimension, Ohms::new).map(Quantity::Ohms),
        Dimension::Capacitance => value_of(&spelling, suffix, dimension, Farads::new).map(Quantity::Farads),
        Dimension::Inductance => value_of(&spelling, suffix, dimension, Henries::new).map(Quantity::Henries),
        Dimension::Frequency => {
            let error = wrong_unit(
                &spelling.suffix_or_whole(),
                "expected a part's value, found a frequency",
                "no unit of a part",
            );
            Err(error.help(format!("write {expected}")))
        }
    }
}

fn unknown_quantity_unit(spelling: &Spelling<'_>) -> Error {
    let suffix = spelling.suffix_or_whole();
    let known = [Dimension::Resistance, Dimension::Capacitance, Dimension::Inductance];
    let message = format!("`{}` is no prefix or unit of a part", suffix.text());
    let error =
        Error::at(&suffix, ErrorKind::Unit, message).label("expected p n u for capacitors, k M R for resistors, H mH for inductors");
    nearest_suffix(error, spelling, known.iter().flat_map(|dimension| dimension.suffixes()).copied())
}

/// Adds the nearest unit; one letter is near to everything, and behind a mark it is a tolerance.
fn nearest_suffix(error: Error, spelling: &Spelling<'_>, known: impl Iterator<Item = &'static str>) -> Error {
    let suffix = spelling.suffix.text();
    let one_letter = suffix.chars().count() == 1;
    if one_letter && spelling.point_letter.is_some() && suffix.chars().all(|letter| letter.is_ascii_uppercase()) {
        error.help(format!(
            "leave the tolerance letter {suffix} of a mark off: a tolerance is stated by itself"
        ))
    } else if one_letter {
        error
    } else {
        error.nearest(suffix, known)
    }
}

impl<'a> Spelling<'a> {
    /// The place of what is wrong with the unit.
    fn suffix_or_whole(&self) -> Passage<'a> {
        if self.suffix.text().is_empty() {
            self.whole.clone()
        } else {
            self.suffix.clone()
        }
    }
}

fn read_dimension<T>(passage: &Passage<'_>, dimension: Dimension, make: fn(f64) -> Option<T>) -> Result<T> {
    let spelling = take_apart(passage, dimension.expected())?;
    if dimension == Dimension::Capacitance {
        refuse_code(&spelling, Some(dimension))?;
    }
    match understand(&spelling) {
        Some(suffix) => value_of(&spelling, suffix, dimension, make),
        None => {
            let suffix = spelling.suffix_or_whole();
            let message = format!("expected {}, found the unit `{}`", dimension.noun(), suffix.text());
            let error = Error::at(&suffix, ErrorKind::Unit, message).label("not a unit or prefix known here");
            let error = nearest_suffix(error, &spelling, dimension.suffixes().iter().copied());
            Err(error.help(format!("write {}", dimension.expected())))
        }
    }
}

fn value_of<T>(spelling: &Spelling<'_>, suffix: Suffix, dimension: Dimension, make: fn(f64) -> Option<T>) -> Result<T> {
    if suffix.prefix.is_none() && suffix.unit.is_none() {
        if !spelling.number.is_zero() && dimension != Dimension::Frequency {
            return Err(bare(&spelling.whole, &bare_help(spelling, dimension)));
        }
    } else {
        check_suffix(spelling, suffix, dimension)?;
    }
    let number = spelling.number.clone().times_ten_to(power(suffix.prefix));
    finite(&spelling.whole, exact(&spelling.whole, &number)?, make)
}

/// Whether a suffix belongs to what is expected and reads in one way only.
fn check_suffix(spelling: &Spelling<'_>, suffix: Suffix, dimension: Dimension) -> Result<()> {
    use Dimension::{Capacitance, Frequency, Inductance, Resistance};
    let place = spelling.suffix_or_whole();
    let found = match suffix {
        Suffix { unit: Some(unit), .. } if unit != dimension => unit.noun().to_owned(),
        Suffix {
            unit: None,
            prefix: Some('p' | 'n' | 'u'),
        } if dimension != Capacitance => "a capacitance prefix".to_owned(),
        Suffix {
            unit: None,
            prefix: Some('k' | 'M' | 'G'),
        } if matches!(dimension, Capacitance | Inductance) => "a resistance prefix".to_owned(),
        _ => String::new(),
    };
    if !found.is_empty() {
        let message = format!("expected {}, found {found}", dimension.noun());
        let error = wrong_unit(&place, &message, &format!("not {}", dimension.noun()));
        return Err(error.help(format!("write {}", dimension.expected())));
    }
    let number = spelling.number.plain();
    let readings = match (dimension, suffix.prefix, suffix.unit) {
        (Capacitance, Some('m' | 'M'), _) => format!(
            "it may be the millifarad, or the microfarad of old drawings (MFD): write `{number} u` for microfarads, `{number}e-3 F` for millifarads"
        ),
        (Resistance, Some('m'), None) => format!("it may be milliohm or megohm: write `{number} mΩ` or `{number} M`"),
        (Inductance, Some('M'), _) => format!("it may be megahenry or millihenry: write `{number} mH` for millihenries"),
        (Frequency, Some('m'), _) => format!("it may be millihertz or megahertz: write hertz, such as `{number} kHz`"),
        _ => return Ok(()),
    };
    let message = format!("`{}` reads in two ways", spelling.whole.text());
    let error = wrong_unit(&spelling.whole, &message, "m or M?");
    Err(error.help(readings))
}

/// The number and, in lower case, the word behind it.
fn with_word<'a>(passage: &Passage<'a>, expected: &str) -> Result<(Spelling<'a>, String)> {
    let spelling = take_apart(passage, expected)?;
    if spelling.point_letter.is_some() {
        let message = format!("expected {expected}, found `{}`", spelling.whole.text());
        return Err(Error::at(&spelling.whole, ErrorKind::Unit, message).label("a letter inside the number"));
    }
    let word = spelling.suffix.text().to_lowercase();
    Ok((spelling, word))
}

fn wrong_unit(place: &Passage<'_>, message: &str, label: &str) -> Error {
    Error::at(place, ErrorKind::Unit, message).label(label)
}

fn exact(whole: &Passage<'_>, number: &Decimal) -> Result<f64> {
    number.value().ok_or_else(|| out_of_range(whole))
}

fn finite<T>(whole: &Passage<'_>, value: f64, make: fn(f64) -> Option<T>) -> Result<T> {
    make(value).ok_or_else(|| out_of_range(whole))
}

fn out_of_range(whole: &Passage<'_>) -> Error {
    let message = format!("`{}` is beyond any number that can be held", whole.text());
    Error::at(whole, ErrorKind::Range, message).label("too large or too small")
}

#[cfg(test)]
mod tests;
