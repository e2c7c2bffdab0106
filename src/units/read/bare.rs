//! Numbers that carry no unit, and figures that may as well be the code printed on a capacitor: refused with every reading, each written as
//! it can be typed.

use super::super::decimal::Decimal;
use super::super::marking::code_on_capacitor;
use super::super::spelling::Spelling;
use super::super::suffix::Dimension;
use super::super::write::{rkm, with_prefix};
use super::{Quantity, exact};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::units::Ohms;

/// A number alone: zero is zero in any unit, anything else is refused.
pub(super) fn bare_quantity(spelling: &Spelling<'_>) -> Result<Quantity> {
    let value = exact(&spelling.whole, &spelling.number)?;
    match Ohms::new(value).filter(|_| value == 0.0) {
        Some(zero) => Ok(Quantity::Ohms(zero)),
        None => Err(bare(&spelling.whole, &bare_readings(spelling, value))),
    }
}

/// What a number alone can mean where both resistors and capacitors may stand, the likeliest first.
fn bare_readings(spelling: &Spelling<'_>, value: f64) -> String {
    if value.abs() < 1e-6 {
        return format!("write `{}` for a capacitor", rkm(value, "F"));
    }
    let number = spelling.number.plain();
    let capacitor = |power| spelling.number.clone().times_ten_to(power).value();
    if value.abs() < 1.0 {
        let microfarads = capacitor(-6).map_or(number.clone(), |farads| rkm(farads, "F"));
        return format!("write `{microfarads}` or `{number}u` for a capacitor, `{number} Ω` for a resistor");
    }
    let ohms = reading(value, "Ω", "R");
    let coded = figures(spelling).and_then(|figures| code_on_capacitor(figures, None));
    let coded = coded.map(|(farads, _)| on_capacitor(farads, ""));
    let picofarads = capacitor(-12).map(|farads| reading(farads, "F", "F"));
    let kilohms = spelling.number.clone().times_ten_to(3).value().filter(|_| value.abs() < 1e3);
    let kilohms = kilohms.map(|ohms| reading(ohms, "Ω", "R"));
    // Figures that end in nought are more often a value than a code; 223 is nothing but a code.
    let readings = match coded {
        Some(coded) if !number.ends_with('0') => vec![Some(coded), Some(ohms)],
        coded => vec![Some(ohms), kilohms, picofarads, coded],
    };
    readings.into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// The help for a number alone where the quantity is known.
pub(super) fn bare_help(spelling: &Spelling<'_>, dimension: Dimension) -> String {
    let number = spelling.number.plain();
    let plain = match dimension {
        Dimension::Resistance => format!("write `{number} k` for kilohms, `{number} Ω` for ohms"),
        Dimension::Capacitance if spelling.number.reaches(0) => format!("write `{number} p` for picofarads, `{number} n` for nanofarads"),
        Dimension::Capacitance => format!("write `{number} u` for microfarads, as on old drawings"),
        Dimension::Inductance => format!("write `{number} H` for henries, `{number} mH` for millihenries"),
        Dimension::Frequency => format!("write `{number} Hz`"),
    };
    let coded = figures(spelling).filter(|_| dimension == Dimension::Capacitance);
    match coded.and_then(|figures| code_on_capacitor(figures, None)) {
        Some((farads, _)) if number.ends_with('0') => format!("{plain}; {}", on_capacitor(farads, "")),
        Some((farads, _)) => format!("{}; {plain}", on_capacitor(farads, "")),
        None => plain,
    }
}

/// The help for a share without its sign: 0.05 is how a program writes 5 %.
pub(super) fn bare_share(number: &Decimal) -> String {
    let percent = number.plain();
    if number.is_zero() || number.reaches(0) {
        return format!("write percent as `{percent} %`");
    }
    let share = number.clone().times_ten_to(2).plain();
    format!("write percent as `{share} %`, or as `{percent} %` if it is percent already")
}

/// Refuses `223K` and `473J`: three figures with a tolerance letter behind them, as on capacitors. Where the letter is a prefix or a unit as
/// well, round figures (470K) are a value, and a blank (`223 K`) tells a value from a mark.
pub(super) fn refuse_code(spelling: &Spelling<'_>, dimension: Option<Dimension>) -> Result<()> {
    let (text, letter) = (spelling.whole.text(), spelling.suffix.text());
    let Some(digits) = text.strip_suffix(letter).filter(|digits| figures(spelling) == Some(*digits)) else {
        return Ok(());
    };
    let mut letters = letter.chars();
    let (Some(sign), None) = (letters.next(), letters.next()) else {
        return Ok(());
    };
    let Some((farads, tolerance)) = code_on_capacitor(digits, Some(sign)) else {
        return Ok(());
    };
    let power = |power: i32| spelling.number.clone().times_ten_to(power).value();
    let (plain, unit) = match (sign, dimension) {
        ('K', None) => (power(3), "Ω"),
        ('M', None) => (power(6), "Ω"),
        ('G', None) => (power(9), "Ω"),
        ('H', None) => (power(0), "H"),
        _ => (None, ""),
    };
    if plain.is_some() && digits.ends_with('0') || matches!(sign, 'F') {
        return Ok(());
    }
    let code = on_capacitor(farads, &tolerance);
    Err(match plain {
        Some(plain) => Error::at(&spelling.whole, ErrorKind::Unit, format!("`{text}` reads in two ways"))
            .label("a capacitor's code, or a value?")
            .help(format!("{code}; {0}: write `{0}`", with_prefix(plain, unit))),
        None => Error::at(
            &spelling.whole,
            ErrorKind::Unit,
            format!("`{text}` is written as a code on a capacitor, not as a value"),
        )
        .label("a code?")
        .help(code),
    })
}

/// The three figures of a code as they are written, where nothing but them stands before the suffix.
fn figures<'t>(spelling: &Spelling<'t>) -> Option<&'t str> {
    let digits = spelling.whole.text().strip_suffix(spelling.suffix.text())?;
    (digits.len() == 3 && digits.chars().all(|sign| sign.is_ascii_digit())).then_some(digits)
}

fn reading(value: f64, unit: &str, code_unit: &str) -> String {
    format!("{}: write `{}`", with_prefix(value, unit), rkm(value, code_unit))
}

fn on_capacitor(farads: f64, tolerance: &str) -> String {
    let value = with_prefix(farads, "F");
    format!("{value}{tolerance} if it stands on a capacitor: write `{}`", rkm(farads, "F"))
}

pub(super) fn bare(whole: &Passage<'_>, help: &str) -> Error {
    let message = format!("`{}` carries neither unit nor prefix", whole.text());
    Error::at(whole, ErrorKind::Unit, message).label("which unit?").help(help)
}
