//! Quantities as text: with SI prefix for people, in RKM code (IEC 60062) for networks and marks.

use super::decimal::Decimal;

/// A prefix as it is written, and its power of ten.
type Scale = (&'static str, i32);

/// The prefixes of a unit, largest first; the last serves everything smaller.
fn scales(unit: &str) -> &'static [Scale] {
    match unit {
        // No millifarad: `mF` has meant the microfarad for too long to be read safely.
        "F" => &[("µ", -6), ("n", -9), ("p", -12)],
        "H" => &[("", 0), ("m", -3), ("µ", -6), ("n", -9)],
        "Ω" | "R" => &[("G", 9), ("M", 6), ("k", 3), ("", 0)],
        "Hz" => &[("M", 6), ("k", 3), ("", 0)],
        _ => &[("G", 9), ("M", 6), ("k", 3), ("", 0), ("m", -3), ("µ", -6), ("n", -9), ("p", -12)],
    }
}

fn scale_of(number: &Decimal, unit: &str) -> Scale {
    let scales = scales(unit);
    let fitting = scales.iter().find(|(_, power)| number.reaches(*power));
    fitting.or(scales.last()).copied().unwrap_or(("", 0))
}

/// A value with SI prefix and unit: `22 nF`, `4.7 kΩ`, `3.4 H`; shortest digits that read back to the same number.
#[must_use]
pub fn with_prefix(value: f64, unit: &str) -> String {
    prefixed(Decimal::of(value), value, unit)
}

/// A value with SI prefix and unit, rounded to so many significant digits: 76123 Ω to three is `76.1 kΩ`.
#[must_use]
pub fn with_prefix_rounded(value: f64, unit: &str, significant: usize) -> String {
    prefixed(Decimal::rounded(value, significant), value, unit)
}

fn prefixed(number: Option<Decimal>, value: f64, unit: &str) -> String {
    match number {
        None => format!("{value} {unit}"),
        Some(zero) if zero.is_zero() => format!("0 {unit}"),
        Some(number) => {
            let (prefix, power) = scale_of(&number, unit);
            format!("{} {prefix}{unit}", number.times_ten_to(-power).plain())
        }
    }
}

/// A value in the code of IEC 60062, shortest digits that read back to the same number: `4k7`, `470R`, `2n2`, `22n`, `1M`, `p33`, `1u5`.
///
/// `unit` is `R`, `F` or `H`. Below 1 Ω it is written `0.47R`, since `R47` is a free part in a network; inductances, which the code
/// does not cover, as `3.4H`, `100mH`. Where three figures and a letter would read as the code on a capacitor, the unit is written: `123 MΩ`.
#[must_use]
pub fn rkm(value: f64, unit: &str) -> String {
    let code = code_of(value, unit);
    let is_taken_for_a_code = code
        .strip_suffix(['M', 'G', 'H'])
        .is_some_and(|figures| figures.len() == 3 && !figures.ends_with('0') && figures.chars().all(|figure| figure.is_ascii_digit()));
    if is_taken_for_a_code {
        with_prefix(value, if unit == "R" { "Ω" } else { unit })
    } else {
        code
    }
}

fn code_of(value: f64, unit: &str) -> String {
    let Some(number) = Decimal::of(value) else {
        return format!("{value}{unit}");
    };
    if number.is_zero() {
        return if unit == "F" { "0p".to_owned() } else { format!("0{unit}") };
    }
    let (prefix, power) = scale_of(&number, unit);
    let prefix = if prefix == "µ" { "u" } else { prefix };
    let scaled = number.clone().times_ten_to(-power);
    if !number.is_ordinary() || !scaled.is_ordinary() {
        return format!("{}{unit}", number.plain());
    }
    match (unit, prefix) {
        ("F", letter) | ("R", letter @ ("k" | "M" | "G")) => {
            let (integer, fraction) = scaled.around_point();
            format!("{}{integer}{letter}{fraction}", scaled.sign())
        }
        ("R", _) if number.reaches(0) => {
            let (integer, fraction) = scaled.around_point();
            format!("{}{integer}R{fraction}", scaled.sign())
        }
        _ => format!("{}{prefix}{unit}", scaled.plain()),
    }
}

/// A count with a comma at every third digit.
#[must_use]
pub fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (position, digit) in digits.chars().enumerate() {
        if position > 0 && (digits.len() - position).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_read_prefixes() {
        assert_eq!(with_prefix(22e-9, "F"), "22 nF");
        assert_eq!(with_prefix(4700.0, "Ω"), "4.7 kΩ");
        assert_eq!(with_prefix(3.4, "H"), "3.4 H");
        assert_eq!(with_prefix(1e-3, "F"), "1000 µF");
        assert_eq!(with_prefix(0.0, "F"), "0 F");
        assert_eq!(with_prefix(0.47, "Ω"), "0.47 Ω");
        assert_eq!(with_prefix(-4140.0, "Hz"), "-4.14 kHz");
        assert_eq!(with_prefix(76123.0, "Ω"), "76.123 kΩ");
    }

    #[test]
    fn rounding_may_change_the_prefix() {
        assert_eq!(with_prefix_rounded(76123.0, "Ω", 3), "76.1 kΩ");
        assert_eq!(with_prefix_rounded(999.96, "Ω", 3), "1 kΩ");
        assert_eq!(with_prefix_rounded(1.3149e-9, "F", 3), "1.31 nF");
        assert_eq!(with_prefix_rounded(123_456.0, "Ω", 1), "100 kΩ");
    }

    // The forms of IEC 60062.
    #[test]
    fn marks_put_the_letter_at_the_point() {
        let resistors = [
            (75e3, "75k"),
            (1020.0, "1k02"),
            (470.0, "470R"),
            (1e6, "1M"),
            (2.2e6, "2M2"),
            (4.7, "4R7"),
            (0.47, "0.47R"),
        ];
        for (value, mark) in resistors {
            assert_eq!(rkm(value, "R"), mark);
        }
        let capacitors = [
            (1.2e-9, "1n2"),
            (100e-12, "100p"),
            (22e-9, "22n"),
            (220e-9, "220n"),
            (1.5e-6, "1u5"),
            (0.33e-12, "p33"),
        ];
        for (value, mark) in capacitors {
            assert_eq!(rkm(value, "F"), mark);
        }
        assert_eq!((rkm(3.4, "H"), rkm(0.1, "H")), ("3.4H".to_owned(), "100mH".to_owned()));
    }
}
