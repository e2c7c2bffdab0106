//! Quantities as text: with SI prefix for people, in RKM code for networks and marks.

/// A value with SI prefix and unit: `22 nF`, `4.7 kΩ`, `3.4 H`; shortest digits that read back to the same number.
#[must_use]
pub fn with_prefix(value: f64, unit: &str) -> String {
    todo!()
}

/// A value in the code of IEC 60062, shortest digits that read back to the same number: `4k7`, `470R`, `2n2`, `22n`, `1M`.
/// `unit` is `R`, `F` or `H`. Below 1 Ω it is written `0.47R`, since `R47` is a free part in a network; inductances as `3.4H`, `100mH`.
#[must_use]
pub fn rkm(value: f64, unit: &str) -> String {
    todo!()
}
