//! The number in a written value: sign, digits, exponent, or the code of IEC 60062 with a letter at the decimal point.

use super::decimal::Decimal;
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;

/// Letters that may stand at the decimal point.
const POINT_LETTERS: &str = "RΩ\u{2126}pnuµμmkKMGFH";

/// Longer than any value anybody writes.
const LONGEST: usize = 64;

/// A value taken apart; what the letters mean depends on what is expected.
pub(super) struct Spelling<'a> {
    /// All of it, without white space at its ends.
    pub(super) whole: Passage<'a>,
    /// The number, before any prefix.
    pub(super) number: Decimal,
    /// The letter that stands at the decimal point: the `k` of `4k7`.
    pub(super) point_letter: Option<char>,
    /// What follows the number: ` kΩ`, without white space at its ends.
    pub(super) suffix: Passage<'a>,
}

/// Takes digits off the front.
fn take_digits<'t>(rest: &mut &'t str) -> &'t str {
    let all = *rest;
    let left = all.trim_start_matches(|c: char| c.is_ascii_digit());
    *rest = left;
    all.strip_suffix(left).unwrap_or("")
}

/// Takes an exponent (`e-9`, `E3`) off the front; 0 if there is none.
fn take_exponent(rest: &mut &str) -> i32 {
    let Some(after) = rest.strip_prefix(['e', 'E']) else {
        return 0;
    };
    let negative = after.starts_with(['-', '−']);
    let mut digits_on = after.strip_prefix(['+', '-', '−']).unwrap_or(after);
    let digits = take_digits(&mut digits_on);
    if digits.is_empty() {
        return 0;
    }
    *rest = digits_on;
    // An exponent too long to be a number is out of any range, which the value's own check then says.
    let size = digits.parse().unwrap_or(i32::MAX);
    if negative { -size } else { size }
}

/// Takes a letter and the digits behind it off the front: the `k7` of `4k7`.
fn take_point_letter<'t>(rest: &mut &'t str) -> Option<(char, &'t str)> {
    let letter = rest.chars().next().filter(|letter| POINT_LETTERS.contains(*letter))?;
    let mut after = rest.strip_prefix(letter)?;
    let digits = take_digits(&mut after);
    if digits.is_empty() {
        return None;
    }
    *rest = after;
    Some((letter, digits))
}

/// Takes a value apart. `expected` is what an error says was expected: `a resistance such as 250 k`.
///
/// # Errors
/// Where the text does not begin with a number, or has a comma or a blank in it.
pub(super) fn take_apart<'a>(passage: &Passage<'a>, expected: &str) -> Result<Spelling<'a>> {
    let whole = passage.trimmed();
    let text = whole.text();
    if text.is_empty() {
        let error = Error::at(passage, ErrorKind::Missing, format!("expected {expected}, found nothing"));
        return Err(error.label("nothing here"));
    }
    if text.len() > LONGEST {
        let error = Error::at(
            &whole,
            ErrorKind::Syntax,
            format!("expected {expected}, found {} bytes of text", text.len()),
        );
        return Err(error.label("too long for a value"));
    }
    let negative = text.starts_with(['-', '−']);
    let mut rest = text.strip_prefix(['-', '−', '+']).unwrap_or(text);
    let integer = take_digits(&mut rest);
    let mut fraction = "";
    let mut exponent = 0;
    let mut point_letter = None;
    if let Some((letter, digits)) = take_point_letter(&mut rest) {
        (point_letter, fraction) = (Some(letter), digits);
    } else {
        if let Some(mut after) = rest.strip_prefix('.') {
            fraction = take_digits(&mut after);
            rest = after;
        }
        if !(integer.is_empty() && fraction.is_empty()) {
            exponent = take_exponent(&mut rest);
        }
    }
    let suffix = whole.part(text.len() - rest.len()..text.len()).trimmed();
    refuse_commas_and_blanks(&whole, &suffix, integer)?;
    if integer.is_empty() && fraction.is_empty() {
        let error = Error::at(&whole, ErrorKind::Syntax, format!("expected {expected}, found `{text}`"));
        return Err(error.label("no number"));
    }
    Ok(Spelling {
        number: Decimal::new(negative, integer, fraction, exponent),
        whole,
        point_letter,
        suffix,
    })
}

/// `4,7` and `1 000`: the number goes on after what a number is made of.
fn refuse_commas_and_blanks(whole: &Passage<'_>, suffix: &Passage<'_>, integer: &str) -> Result<()> {
    let text = whole.text();
    if let Some(after) = suffix
        .text()
        .strip_prefix(',')
        .filter(|after| after.starts_with(|c: char| c.is_ascii_digit()))
    {
        let with_point = text.replacen(',', ".", 1);
        let mut tail = after;
        let thousands = take_digits(&mut tail).len() == 3 && !integer.is_empty() && !integer.starts_with('0');
        let error = Error::at(
            whole,
            ErrorKind::Syntax,
            format!("`{text}` has a comma: a decimal point is expected"),
        )
        .label("comma in a number");
        return Err(if thousands {
            let without = text.replacen(',', "", 1);
            error.help(format!(
                "write `{with_point}` if it is a decimal comma, `{without}` if it parts the thousands"
            ))
        } else {
            error.help(format!("write `{with_point}`"))
        });
    }
    if suffix.text().starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',') {
        let error = Error::at(suffix, ErrorKind::Syntax, format!("`{text}` is not one number"));
        return Err(error
            .label("expected a prefix or a unit here")
            .help("write a number without blanks and with one point, such as `1000` or `4.7`"));
    }
    Ok(())
}
