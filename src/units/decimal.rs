//! Decimal numbers as digits and the place of the point, so that a prefix moves the point and never rounds.

/// A decimal number: ±0.digits × 10^point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Decimal {
    negative: bool,
    /// Neither a leading nor a trailing zero; empty for zero.
    digits: String,
    point: i32,
}

impl Decimal {
    /// The number `integer.fraction` × 10^exponent. Both parts are ASCII digits, either may be empty.
    pub(crate) fn new(negative: bool, integer: &str, fraction: &str, exponent: i32) -> Self {
        let all = format!("{integer}{fraction}");
        let significant = all.trim_start_matches('0');
        let length = |text: &str| i32::try_from(text.len()).unwrap_or(i32::MAX);
        let leading = length(&all).saturating_sub(length(significant));
        let digits = significant.trim_end_matches('0').to_owned();
        let point = if digits.is_empty() {
            0
        } else {
            length(integer).saturating_sub(leading).saturating_add(exponent)
        };
        Self {
            negative: negative && !digits.is_empty(),
            digits,
            point,
        }
    }

    /// The shortest decimal number that reads back to the same double; `None` unless it is finite.
    pub(crate) fn of(value: f64) -> Option<Self> {
        Self::scientific(&format!("{value:e}"))
    }

    /// The double rounded to so many significant digits (1 to 17); `None` unless it is finite.
    pub(crate) fn rounded(value: f64, significant: usize) -> Option<Self> {
        let decimals = significant.clamp(1, 17) - 1;
        Self::scientific(&format!("{value:.decimals$e}"))
    }

    fn scientific(text: &str) -> Option<Self> {
        let (mantissa, exponent) = text.split_once('e')?;
        let (integer, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let magnitude = integer.trim_start_matches('-');
        Some(Self::new(magnitude != integer, magnitude, fraction, exponent.parse().ok()?))
    }

    /// The nearest double; `None` when it would be infinite, or zero though the number is not.
    pub(crate) fn value(&self) -> Option<f64> {
        if self.is_zero() {
            return Some(0.0);
        }
        let sign = if self.negative { "-" } else { "" };
        let value: f64 = format!("{sign}0.{}e{}", self.digits, self.point).parse().ok()?;
        (value.is_finite() && value != 0.0).then_some(value)
    }

    /// Times 10^power.
    pub(crate) fn times_ten_to(mut self, power: i32) -> Self {
        if !self.is_zero() {
            self.point = self.point.saturating_add(power);
        }
        self
    }

    /// Whether it is zero.
    pub(crate) fn is_zero(&self) -> bool {
        self.digits.is_empty()
    }

    /// Whether its magnitude is at least 10^power.
    pub(crate) fn reaches(&self, power: i32) -> bool {
        !self.is_zero() && self.point > power
    }

    /// The power of ten of the leading digit.
    pub(crate) fn leading_power(&self) -> i32 {
        self.point.saturating_sub(1)
    }

    /// The number as so many figures and a power of ten: 4.7 to three is `470` × 10^−2; `None` if it has more figures, or a sign, or is zero.
    pub(crate) fn figures(&self, count: usize) -> Option<(String, i32)> {
        if self.negative || self.is_zero() || self.digits.len() > count {
            return None;
        }
        let power = self.point.saturating_sub(i32::try_from(count).ok()?);
        Some((format!("{:0<count$}", self.digits), power))
    }

    /// Whether it can be written without an exponent in a readable number of zeros.
    pub(crate) fn is_ordinary(&self) -> bool {
        self.point.abs() <= 24
    }

    /// `-` or nothing.
    pub(crate) fn sign(&self) -> &'static str {
        if self.negative { "-" } else { "" }
    }

    /// The digits before and after the point; either may be empty. Only for numbers that are ordinary.
    pub(crate) fn around_point(&self) -> (String, String) {
        let before = usize::try_from(self.point).unwrap_or(0);
        let zeros_after = usize::try_from(self.point.saturating_neg()).unwrap_or(0);
        let integer: String = self.digits.chars().take(before).collect();
        let fraction: String = self.digits.chars().skip(before).collect();
        (
            format!("{integer:0<before$}"),
            if fraction.is_empty() {
                fraction
            } else {
                format!("{}{fraction}", "0".repeat(zeros_after))
            },
        )
    }

    /// The number in digits, `0.047` or `470`; with an exponent where it would be all zeros.
    pub(crate) fn plain(&self) -> String {
        if !self.is_ordinary() {
            return format!("{}0.{}e{}", self.sign(), self.digits, self.point);
        }
        let (integer, fraction) = self.around_point();
        let integer = if integer.is_empty() { "0" } else { integer.as_str() };
        let point = if fraction.is_empty() { "" } else { "." };
        format!("{}{integer}{point}{fraction}", self.sign())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_prefix_moves_the_point_and_never_rounds() {
        let number = Decimal::new(false, "4", "7", 0);
        assert_eq!(number.clone().times_ten_to(-9).value(), Some(4.7e-9));
        assert_eq!(number.clone().times_ten_to(-9).plain(), "0.0000000047");
        assert_eq!(number.times_ten_to(3).plain(), "4700");
        assert_eq!(Decimal::of(0.047).map(|n| n.plain()), Some("0.047".to_owned()));
        assert_eq!(Decimal::new(true, "000", "", 3), Decimal::new(false, "", "", 0));
    }

    #[test]
    fn what_no_double_can_hold_has_no_value() {
        assert_eq!(Decimal::new(false, "1", "", 400).value(), None);
        assert_eq!(Decimal::new(false, "1", "", -400).value(), None);
        assert_eq!(Decimal::new(false, "1", "", i32::MAX).value(), None);
        assert_eq!(Decimal::of(f64::NAN), None);
        assert_eq!(Decimal::of(f64::INFINITY), None);
    }
}
