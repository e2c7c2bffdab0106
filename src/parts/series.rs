//! The preferred values of IEC 60063, from the lists in `stock-values/series/`.

use std::fmt;
use std::sync::LazyLock;

use serde::{Serialize, Serializer};

use crate::shipped;
use crate::units::{Decimal, Fraction};

/// One of the E series.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Series {
    /// 3 values a decade.
    E3,
    /// 6 values a decade.
    E6,
    /// 12 values a decade.
    E12,
    /// 24 values a decade.
    E24,
    /// 48 values a decade.
    E48,
    /// 96 values a decade.
    E96,
    /// 192 values a decade.
    E192,
}

/// A list, as decimal numbers and as doubles.
#[derive(Default)]
struct Decade {
    decimals: Vec<Decimal>,
    values: Vec<f64>,
}

static DECADES: LazyLock<Vec<(&'static str, Decade)>> =
    LazyLock::new(|| shipped::SERIES.iter().map(|file| (file.name, decade(file.text))).collect());

fn decade(text: &str) -> Decade {
    let decimals: Vec<Decimal> = text
        .lines()
        .skip(1)
        .filter_map(|line| line.trim().split_once('.'))
        .map(|(integer, fraction)| Decimal::new(false, integer, fraction, 0))
        .collect();
    let values = decimals.iter().filter_map(Decimal::value).collect();
    Decade { decimals, values }
}

impl Series {
    /// Every series, coarsest first.
    pub const ALL: [Self; 7] = [Self::E3, Self::E6, Self::E12, Self::E24, Self::E48, Self::E96, Self::E192];

    /// The series of a name such as `E24` (case does not matter).
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|series| series.name().eq_ignore_ascii_case(name))
    }

    /// Its name, such as `E24`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::E3 => "E3",
            Self::E6 => "E6",
            Self::E12 => "E12",
            Self::E24 => "E24",
            Self::E48 => "E48",
            Self::E96 => "E96",
            Self::E192 => "E192",
        }
    }

    /// The tolerance the series is made for, if it is made for one (E3: looser than 20 %).
    #[must_use]
    pub fn usual_tolerance(self) -> Option<Fraction> {
        match self {
            Self::E3 => None,
            Self::E6 => Fraction::new(0.2),
            Self::E12 => Fraction::new(0.1),
            Self::E24 => Fraction::new(0.05),
            Self::E48 => Fraction::new(0.02),
            Self::E96 => Fraction::new(0.01),
            Self::E192 => Fraction::new(0.005),
        }
    }

    /// The values from 1 to below 10, ascending.
    #[must_use]
    pub fn mantissas(self) -> &'static [f64] {
        self.decade().map_or(&[], |decade| &decade.values)
    }

    fn decade(self) -> Option<&'static Decade> {
        DECADES.iter().find(|(name, _)| *name == self.name()).map(|(_, decade)| decade)
    }

    /// Every value of the series from `low` to `high`, ends included, ascending, in SI units. Each is the double nearest to the decimal value
    /// (4.7e-9 exactly as the literal), and an end that is a value of the series is included. None when an end is not finite and above zero.
    #[must_use]
    pub fn values(self, low: f64, high: f64) -> Vec<f64> {
        let (Some(first), Some(last)) = (decade_of(low), decade_of(high)) else {
            return Vec::new();
        };
        let mut values = self.decades(first, last);
        values.retain(|value| (low..=high).contains(value));
        values
    }

    /// All values of whole decades, 10^first to below 10^(last + 1). A double spans 632 decades, so this ends.
    fn decades(self, first: i32, last: i32) -> Vec<f64> {
        let decimals = self.decade().map_or(&[][..], |decade| &decade.decimals);
        (first..=last)
            .flat_map(|power| {
                decimals
                    .iter()
                    .filter_map(move |decimal| decimal.clone().times_ten_to(power).value())
            })
            .collect()
    }

    /// The largest value of the series not above a value and the smallest not below it; both are the value itself when it is in the series.
    /// `None` unless the value is finite and above zero, and has neighbours a double can hold.
    #[must_use]
    pub fn neighbours(self, value: f64) -> Option<(f64, f64)> {
        let power = decade_of(value)?;
        let near = self.decades(power - 1, power + 1);
        let below = near.iter().copied().rfind(|near| *near <= value)?;
        let above = near.iter().copied().find(|near| *near >= value)?;
        Some((below, above))
    }

    /// The value of the series nearest in ratio, the smaller of two equally near; `None` as for [`Series::neighbours`].
    #[must_use]
    pub fn nearest(self, value: f64) -> Option<f64> {
        let (below, above) = self.neighbours(value)?;
        Some(if value / below <= above / value { below } else { above })
    }
}

/// The power of ten of the leading digit; `None` unless the value is finite and above zero.
fn decade_of(value: f64) -> Option<i32> {
    if value > 0.0 {
        Decimal::of(value).map(|decimal| decimal.leading_power())
    } else {
        None
    }
}

impl fmt::Display for Series {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.name())
    }
}

impl Serialize for Series {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}
