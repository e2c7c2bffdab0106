//! The preferred values of IEC 60063.

/// One of the E series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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

impl Series {
    /// Every value of the series from `low` to `high`, ends included, ascending, in SI units. Each is the double nearest to the decimal value
    /// (4.7e-9 exactly as the literal), and an end that is a value of the series is included.
    #[must_use]
    pub fn values(self, low: f64, high: f64) -> Vec<f64> {
        todo!()
    }

    /// The series of a name such as `E24` (case does not matter).
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        todo!()
    }
}
