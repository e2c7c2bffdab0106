//! Frequency grids.

/// Points per octave of every band and anchor.
pub const POINTS_PER_OCTAVE: u32 = 12;

/// f_k = low·2^(k/n), k = 0, 1, …, while f_k < high, and then high itself; `low` and `high` in Hz, both above 0 and
/// finite: else `high` alone.
#[must_use]
pub fn frequencies(low: f64, high: f64, points_per_octave: u32) -> Vec<f64> {
    if !(low > 0.0 && high.is_finite() && points_per_octave > 0) {
        return vec![high];
    }
    let mut grid: Vec<f64> = (0_u32..)
        .map(|k| low * (f64::from(k) / f64::from(points_per_octave)).exp2())
        .take_while(|frequency| *frequency < high)
        .collect();
    grid.push(high);
    grid
}

#[cfg(test)]
mod tests {
    use super::frequencies;

    #[test]
    fn ends_are_exact_and_octaves_fall_on_the_grid() {
        let grid = frequencies(100.0, 400.0, 12);
        assert_eq!(grid.len(), 25);
        assert_eq!((grid[0], grid[12], grid[24]), (100.0, 200.0, 400.0));
    }

    #[test]
    fn a_band_narrower_than_a_step_has_both_ends() {
        assert_eq!(frequencies(100.0, 101.0, 12), [100.0, 101.0]);
    }
}
