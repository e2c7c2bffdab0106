//! Lines printed on capacitors: a value with its unit, its tolerance and its rated voltage: `22nF 63V`, `102K100`, `0.022/400`, `2A104J`.

use super::code::{capacitor, read_code, tolerance_letter};
use super::{MarkedPart, Reading, Tolerance};
use crate::units::Decimal;

/// Voltages that capacitors are rated for (common practice, no source); a number without its V must be one of them.
const RATINGS: &[u32] = &[
    16, 25, 35, 50, 63, 100, 125, 150, 160, 200, 250, 275, 300, 310, 315, 350, 400, 450, 500, 600, 630, 800, 1000, 1250, 1600, 2000,
];

/// Units of capacitors in any case, with their powers of ten; the longest first, as each may begin another.
const UNITS: &[(&str, i32)] = &[
    ("MMFD", -12),
    ("UUFD", -12),
    ("MMF", -12),
    ("UUF", -12),
    ("MFD", -6),
    ("UFD", -6),
    ("PF", -12),
    ("NF", -9),
    ("UF", -6),
];

/// Every way to read a capacitor's value with its rated voltage behind it; none when it is no such line.
pub(super) fn read_rated(text: &str) -> Vec<Reading> {
    let Some((value, volts)) = take_volts(text) else {
        return Vec::new();
    };
    let readings = read_value(value)
        .into_iter()
        .filter(|reading| reading.what == MarkedPart::Capacitor);
    let rated = readings.map(|reading| Reading {
        note: format!("{}, {volts} V", reading.note),
        volts: Some(volts),
        ..reading
    });
    rated.collect()
}

/// A code, or else a value with its unit.
pub(super) fn read_value(text: &str) -> Vec<Reading> {
    let readings = read_code(text);
    if readings.is_empty() {
        value_with_unit(text).into_iter().collect()
    } else {
        readings
    }
}

/// `104K250V` → `104K`, 250; `0.022/400` → `0.022`, 400; `473J100` → `473J`, 100.
fn take_volts(text: &str) -> Option<(&str, u32)> {
    let upper = text.to_ascii_uppercase();
    let current = ["VDC", "VAC", "WV", "V~", "V-", "V="].iter().find(|unit| upper.ends_with(**unit));
    let unit = current.copied().or_else(|| upper.ends_with('V').then_some("V"));
    let before_unit = text.get(..text.len() - unit.map_or(0, str::len))?.trim_end();
    let value = before_unit.trim_end_matches(|sign: char| sign.is_ascii_digit());
    let volts: u32 = before_unit
        .strip_prefix(value)?
        .parse()
        .ok()
        .filter(|volts| (1..100_000).contains(volts))?;
    let value = value.trim_end();
    let (value, is_parted) = match value.strip_suffix('/') {
        Some(value) => (value.trim_end(), true),
        None => (value, false),
    };
    let is_rating = RATINGS.contains(&volts);
    let is_told = unit.is_some() || is_rating && (is_parted || ends_with_tolerance(value));
    (is_told && !value.is_empty() && !value.ends_with('.')).then_some((value, volts))
}

/// Whether a mark ends with a tolerance letter behind a capacitor's code: `473J`, `2n2K`, `.1K`, but not the `4K` of 4.75 kΩ.
fn ends_with_tolerance(mark: &str) -> bool {
    let figures = mark.trim_end_matches(|sign: char| sign.is_ascii_uppercase());
    let has_letter = mark.strip_prefix(figures).and_then(tolerance_letter).flatten().is_some();
    let is_code = figures.len() == 3 && figures.chars().all(|sign| sign.is_ascii_digit());
    has_letter && (is_code || figures.contains(['p', 'n', 'u', 'µ', 'μ', '.']))
}

/// `22nF`, `0.1UF K`, `.047 MFD ±10 %`.
fn value_with_unit(text: &str) -> Option<Reading> {
    let after_number = text.trim_start_matches(|sign: char| sign.is_ascii_digit() || sign == '.');
    let figures = text.strip_suffix(after_number)?;
    let (integer, fraction) = figures.split_once('.').unwrap_or((figures, ""));
    if integer.len() + fraction.len() == 0 || fraction.contains('.') {
        return None;
    }
    let rest = after_number.trim_start().replace(['µ', 'μ'], "u");
    // A lower-case m alone is no microfarad: `mF` has meant both.
    let (unit, power) = UNITS
        .iter()
        .find(|(unit, _)| rest.get(..unit.len()).is_some_and(|word| word.eq_ignore_ascii_case(unit)))?;
    let behind = rest.get(unit.len()..)?.trim();
    let number = Decimal::new(false, integer, fraction, *power);
    if let Some(letter) = tolerance_letter(behind) {
        return capacitor(&number, letter, "printed in plain");
    }
    let percent = behind.strip_suffix('%')?.trim_end();
    let percent = ["±", "+/-", "+-"]
        .iter()
        .find_map(|sign| percent.strip_prefix(sign))
        .unwrap_or(percent);
    let share = percent
        .trim_start()
        .parse::<f64>()
        .ok()
        .filter(|percent| (0.0..=100.0).contains(percent))?
        / 100.0;
    let reading = capacitor(&number, None, "printed in plain")?;
    Some(Reading {
        tolerance: Some(Tolerance::Share(share)),
        ..reading
    })
}
