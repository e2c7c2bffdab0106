//! Marks in figures and letters: 223J, 2A223J, 104, 4K7J, 470KK, n22 (IEC 60062; three-digit code as in EIA RS-198).

use super::{MarkedPart, Reading, Tolerance};
use crate::units::{Decimal, Farads, Ohms, rkm};

/// Voltage codes in front of the code of film capacitors, as in public charts of what is called the EIA code.
const VOLTAGE_CODES: &[(&str, u32)] = &[
    ("1A", 10),
    ("1C", 16),
    ("1E", 25),
    ("1V", 35),
    ("1H", 50),
    ("1J", 63),
    ("2A", 100),
    ("2B", 125),
    ("2C", 160),
    ("2D", 200),
    ("2E", 250),
    ("2F", 315),
    ("2V", 350),
    ("2G", 400),
    ("2W", 450),
    ("2H", 500),
    ("2J", 630),
    ("2K", 800),
    ("3A", 1000),
    ("3B", 1250),
    ("3C", 1600),
    ("3D", 2000),
];

/// Figures in one mark; more are no mark.
const MOST_FIGURES: usize = 7;

/// Every way to read a mark made of figures and letters, the likeliest first; none when it is no such mark.
pub(super) fn read_code(text: &str) -> Vec<Reading> {
    if let Some((voltage, rest)) = take_voltage_code(text) {
        return figures_and_tolerance(rest)
            .and_then(|(digits, letter)| capacitor_by_code(digits, letter))
            .map(|reading| Reading {
                note: format!("{}, {voltage} V", reading.note),
                volts: Some(voltage),
                ..reading
            })
            .into_iter()
            .collect();
    }
    let by_letter = by_point_letter(text);
    let by_figures = figures_and_tolerance(text)
        .map(|(digits, letter)| by_figures(digits, letter))
        .unwrap_or_default();
    // 470K is 470 kΩ before it is 47 pF ±10 %, but 104K is 100 nF ±10 % before it is 104 kΩ: round figures are values, not codes.
    let is_code = figures_and_tolerance(text).is_some_and(|(digits, _)| digits.len() == 3 && !digits.ends_with('0'));
    let (first, second) = if is_code {
        (by_figures, by_letter)
    } else {
        (by_letter, by_figures)
    };
    [first, second, decimal(text)].concat()
}

/// `223J` → `223`, `J`; the letter is one of a tolerance.
fn figures_and_tolerance(text: &str) -> Option<(&str, Option<char>)> {
    let digits = text.trim_end_matches(|sign: char| sign.is_ascii_uppercase());
    let is_figures = !digits.is_empty() && digits.len() <= 4 && digits.chars().all(|sign| sign.is_ascii_digit());
    (is_figures && !digits.starts_with('0')).then_some(())?;
    Some((digits, tolerance_letter(text.strip_prefix(digits)?)?))
}

/// Nothing, or one tolerance letter; `None` for anything else.
pub(super) fn tolerance_letter(text: &str) -> Option<Option<char>> {
    let mut letters = text.chars();
    match (letters.next(), letters.next()) {
        (None, _) => Some(None),
        (Some(letter), None) if Tolerance::of_letter(letter).is_some() => Some(Some(letter)),
        _ => None,
    }
}

fn by_figures(digits: &str, letter: Option<char>) -> Vec<Reading> {
    let round = digits.ends_with('0');
    let coded = digits.len() >= 3;
    let picofarads = Decimal::new(false, digits, "", -12);
    let ohms = Decimal::new(false, digits, "", 0);
    let mut readings = Vec::new();
    if digits.len() == 3 {
        readings.extend(capacitor_by_code(digits, letter));
    }
    if !coded || round || digits.len() == 4 {
        readings.extend(capacitor(&picofarads, letter, "plain picofarads"));
    }
    if letter.is_none() {
        if !coded || round {
            readings.extend(resistor(&ohms, None, "plain ohms"));
        }
        if coded {
            readings.extend(resistor_by_code(digits));
        }
    }
    readings
}

/// Two figures and a power of ten in pF; 8 and 9 stand for ×0.01 and ×0.1.
fn capacitor_by_code(digits: &str, letter: Option<char>) -> Option<Reading> {
    let (figures, last) = digits.split_at_checked(2)?;
    let power = match last {
        "8" => -2,
        "9" => -1,
        power => power.parse().ok()?,
    };
    capacitor(&Decimal::new(false, figures, "", power - 12), letter, "three-digit code in pF")
}

/// What three figures and a tolerance letter say on a capacitor: the value in F, and the tolerance as ` ±5 %`; `None` where they say nothing.
pub(in crate::units) fn code_on_capacitor(digits: &str, letter: Option<char>) -> Option<(f64, String)> {
    if digits.starts_with('0') || letter.is_some_and(|letter| Tolerance::of_letter(letter).is_none()) {
        return None;
    }
    let reading = capacitor_by_code(digits, letter)?;
    let tolerance = reading.tolerance.map(|tolerance| format!(" {tolerance}"));
    Some((reading.value, tolerance.unwrap_or_default()))
}

/// Figures and a power of ten in Ω, as on chip resistors and potentiometers (from memory).
pub(super) fn resistor_by_code(digits: &str) -> Option<Reading> {
    let (figures, last) = digits.split_at_checked(digits.len().checked_sub(1)?)?;
    let power: i32 = last.parse().ok().filter(|power| *power <= 7)?;
    let note = format!(
        "{}-digit code in Ω, as on chip resistors and pots",
        if digits.len() == 3 { "three" } else { "four" }
    );
    resistor(&Decimal::new(false, figures, "", power), None, &note)
}

pub(super) fn capacitor(number: &Decimal, letter: Option<char>, note: &str) -> Option<Reading> {
    let value = number.value().filter(|value| *value > 0.0)?;
    let note = match letter {
        Some('P') => format!("{note}; P on older sheets is −0 +100 %"),
        _ => note.to_owned(),
    };
    Some(Reading {
        what: MarkedPart::Capacitor,
        value,
        tolerance: letter.and_then(|letter| Tolerance::of_capacitor_letter(letter, value)),
        volts: None,
        note,
    })
}

pub(super) fn resistor(number: &Decimal, letter: Option<char>, note: &str) -> Option<Reading> {
    Some(Reading {
        what: MarkedPart::Resistor,
        value: number.value()?,
        tolerance: letter.and_then(Tolerance::of_letter),
        volts: None,
        note: if number.is_zero() {
            "a zero-ohm link".to_owned()
        } else {
            note.to_owned()
        },
    })
}

/// `4K7J`, `470KK`, `n22`: a letter at the decimal point, and perhaps one of a tolerance behind.
fn by_point_letter(text: &str) -> Vec<Reading> {
    let after_integer = text.trim_start_matches(|sign: char| sign.is_ascii_digit());
    let integer = text.strip_suffix(after_integer).unwrap_or("");
    let Some(letter) = after_integer.chars().next() else {
        return Vec::new();
    };
    let rest = after_integer.strip_prefix(letter).unwrap_or("");
    let after_fraction = rest.trim_start_matches(|sign: char| sign.is_ascii_digit());
    let fraction = rest.strip_suffix(after_fraction).unwrap_or("");
    let figures = integer.len() + fraction.len();
    let (1..=MOST_FIGURES, Some(tolerance)) = (figures, tolerance_letter(after_fraction)) else {
        return Vec::new();
    };
    let number = |power| Decimal::new(false, integer, fraction, power);
    let note = "letter at the decimal point";
    // `22nF` is a value with its unit, not 22 nF ±1 %.
    if fraction.is_empty() && matches!(letter, 'p' | 'n' | 'u' | 'µ' | 'μ') && after_fraction.starts_with('F') {
        return Vec::new();
    }
    let reading = match letter {
        'R' => resistor(&number(0), tolerance, note),
        'K' | 'k' => resistor(&number(3), tolerance, note),
        'M' => resistor(&number(6), tolerance, note),
        // Behind the figures alone a capital G, P, N is a tolerance.
        'G' if !fraction.is_empty() => resistor(&number(9), tolerance, note),
        'p' => capacitor(&number(-12), tolerance, note),
        'n' => capacitor(&number(-9), tolerance, note),
        'u' | 'µ' | 'μ' => capacitor(&number(-6), tolerance, note),
        'P' if !fraction.is_empty() => capacitor(&number(-12), tolerance, note),
        'N' if !fraction.is_empty() => capacitor(&number(-9), tolerance, note),
        'U' if !fraction.is_empty() => capacitor(&number(-6), tolerance, note),
        _ => None,
    };
    reading.into_iter().collect()
}

/// `.022`, `0.1K`, `4.7`: figures with a point and no unit (common practice on old drawings and parts, no source).
fn decimal(text: &str) -> Vec<Reading> {
    let figures = text.trim_end_matches(|sign: char| sign.is_ascii_uppercase());
    let letter = text.strip_prefix(figures).and_then(tolerance_letter);
    let (Some((integer, fraction)), Some(letter)) = (figures.split_once('.'), letter) else {
        return Vec::new();
    };
    let is_figures = |part: &str| part.chars().all(|sign| sign.is_ascii_digit());
    if fraction.is_empty() || figures.len() > MOST_FIGURES || !is_figures(integer) || !is_figures(fraction) {
        return Vec::new();
    }
    let number = |power| Decimal::new(false, integer, fraction, power);
    let microfarads = capacitor(&number(-6), letter, "microfarads, as on old drawings");
    let unit = (letter == Some('M')).then(|| capacitor(&number(-6), None, "M for microfarads (MFD), no tolerance"));
    let ohms = match letter {
        Some('K') => resistor(&number(3), None, "kilohms"),
        Some('M') => resistor(&number(6), None, "megohms"),
        _ => resistor(&number(0), letter, "plain ohms"),
    };
    let small = !number(0).reaches(0);
    let picofarads = if small {
        None
    } else {
        capacitor(&number(-12), letter, "plain picofarads")
    };
    let ohms = if small && letter.is_none() || number(0).is_zero() {
        None
    } else {
        ohms
    };
    [microfarads, unit.flatten(), ohms, picofarads].into_iter().flatten().collect()
}

/// The three-digit code of a capacitor with its tolerance letter: 22 nF ±5 % is `223J`. `None` for values of three figures or out of its
/// reach (0.1 pF to 990 µF), and for tolerances without a letter.
#[must_use]
pub fn capacitor_code(value: Farads, tolerance: Option<Tolerance>) -> Option<String> {
    let (figures, power) = Decimal::of(value.value())?.times_ten_to(12).figures(2)?;
    let last = match power {
        -2 => 8,
        -1 => 9,
        0..=7 => power,
        _ => return None,
    };
    let letter = match tolerance {
        None => String::new(),
        Some(tolerance) => tolerance.capacitor_letter(value.value())?.to_string(),
    };
    Some(format!("{figures}{last}{letter}"))
}

/// The code with the letter at the decimal point and a tolerance letter behind: 4.7 kΩ ±5 % is `4K7J`. `None` for an inductor, a value not
/// above zero, and a tolerance without a letter.
#[must_use]
pub fn letter_code(what: MarkedPart, value: f64, tolerance: Option<Tolerance>) -> Option<String> {
    if value <= 0.0 {
        return None;
    }
    let (mark, letter) = match what {
        MarkedPart::Resistor => {
            let written = rkm(Ohms::new(value)?.value(), "R");
            let below_one = written.strip_prefix("0.").and_then(|rest| rest.strip_suffix('R'));
            // Among resistors nothing is taken for a capacitor's code.
            let plain = written.replace([' ', 'Ω'], "").to_uppercase();
            let mark = below_one.map_or(plain, |digits| format!("R{digits}"));
            (mark, tolerance.map(Tolerance::letter))
        }
        MarkedPart::Capacitor => {
            let mark = rkm(Farads::new(value)?.value(), "F");
            (mark, tolerance.map(|tolerance| tolerance.capacitor_letter(value)))
        }
        MarkedPart::Inductor => return None,
    };
    match letter {
        None => Some(mark),
        Some(letter) => Some(format!("{mark}{}", letter?)),
    }
}

/// Takes a voltage code off the front of a three-digit code: `2A104J`.
fn take_voltage_code(text: &str) -> Option<(u32, &str)> {
    let (code, volts) = VOLTAGE_CODES.iter().find(|(code, _)| text.starts_with(code))?;
    let rest = text.strip_prefix(code)?;
    let digits = rest.trim_end_matches(|sign: char| sign.is_ascii_uppercase());
    (digits.len() == 3).then_some((*volts, rest))
}
