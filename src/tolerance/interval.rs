//! How well a share is known from a count.

/// The 97.5 % point of the standard normal distribution (Abramowitz and Stegun, *Handbook of Mathematical Functions*, table 26.1 and on).
const Z95: f64 = 1.959_963_984_540_054;

/// The 95 % interval of a share of which `count` out of `total` were seen (E. B. Wilson, "Probable inference, the law of succession, and
/// statistical inference", J. Am. Stat. Assoc. 22, 1927, 209–212). `None` of nothing, or of more than all.
#[must_use]
pub fn interval95(count: u64, total: u64) -> Option<[f64; 2]> {
    wilson(count, total, Z95)
}

/// The same for any point z of the standard normal distribution.
#[must_use]
pub fn wilson(count: u64, total: u64, z: f64) -> Option<[f64; 2]> {
    if total == 0 || count > total {
        return None;
    }
    let (k, n, square) = (count as f64, total as f64, z * z);
    let spread = z * (k * (n - k) / n + square / 4.0).sqrt();
    let end = |signed: f64| (k + square / 2.0 + signed) / (n + square);
    // At the ends the formula is exact but for rounding.
    let low = if count == 0 { 0.0 } else { end(-spread) };
    let high = if count == total { 1.0 } else { end(spread) };
    Some([low.clamp(0.0, 1.0), high.clamp(0.0, 1.0)])
}
