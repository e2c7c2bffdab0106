//! Marks on potentiometers: `A500K`, `B250K`, `500KA`, `B504`. The value is read; the letter of the taper is not believed, and the note says
//! why (the letters' meanings as in DEVELOPERS.md, tapers).

use super::Reading;
use super::code::{resistor, resistor_by_code};
use crate::units::Decimal;

/// The reading of a potentiometer's mark, a taper's letter before or behind its value; `None` when it is no such mark.
pub(super) fn read_pot(text: &str) -> Option<Reading> {
    let upper = text.to_uppercase();
    let parting = [' ', '-'];
    let leading = upper
        .strip_prefix(['A', 'B', 'C', 'W'])
        .map(|rest| rest.trim_start_matches(parting));
    if let Some(reading) = leading.and_then(|value| track(value).or_else(|| coded(value))) {
        return upper.chars().next().map(|letter| unbelieved(reading, letter));
    }
    let trailing = upper.strip_suffix(['A', 'B', 'C', 'W']).map(|rest| rest.trim_end_matches(parting));
    let reading = trailing.and_then(track)?;
    upper.chars().next_back().map(|letter| unbelieved(reading, letter))
}

/// `500K`, `1M`, `2.5M`: a track's resistance in kilohms or megohms.
fn track(value: &str) -> Option<Reading> {
    let value = value.trim_end_matches(['Ω', '\u{2126}']);
    let (figures, power) = match value.strip_suffix('K') {
        Some(figures) => (figures, 3),
        None => (value.strip_suffix('M')?, 6),
    };
    let (integer, fraction) = figures.split_once('.').unwrap_or((figures, ""));
    let is_figures = |part: &str| part.chars().all(|sign| sign.is_ascii_digit());
    let is_number = !integer.is_empty() && figures.len() <= 5 && is_figures(integer) && is_figures(fraction);
    let number = Decimal::new(false, integer, fraction, power);
    if is_number && !number.is_zero() {
        resistor(&number, None, "pot")
    } else {
        None
    }
}

/// `504`: three figures in Ω, as on small pots.
fn coded(value: &str) -> Option<Reading> {
    let is_code = value.len() == 3 && !value.starts_with('0') && value.chars().all(|sign| sign.is_ascii_digit());
    let reading = resistor_by_code(value).filter(|_| is_code)?;
    Some(Reading {
        note: "pot".to_owned(),
        ..reading
    })
}

fn unbelieved(reading: Reading, letter: char) -> Reading {
    // Short: a table with it fits 80 columns.
    let why = match letter {
        'A' => "audio (trade) or linear (IEC)",
        'B' => "linear (trade) or log (IEC)",
        'C' => "reverse audio (old: log)",
        _ => "no two makers agree",
    };
    Reading {
        note: format!("{}; {letter} not believed: {why}", reading.note),
        ..reading
    }
}
