//! Resonance, its height and Q, the upper −3 dB point, highs kept and the bump, against closed forms of the second-order low-pass.
//!
//! tests/published/README.md, "loaded-resonance.csv": |V/E|² = H(0)²/((1 − u²)² + u²/Q²), u = f/f₀ (textbook; with a shunt
//! resistance: M. Zollner, Physik der Elektrogitarre, section 5.5.4).

mod support;

use knobwright::circuit::Setting;
use knobwright::guitar::Guitar;
use knobwright::kernel::features::Features;
use knobwright::kernel::grid::frequencies;
use serde::Deserialize;
use support::*;

#[derive(Deserialize)]
struct Loaded {
    inductance: f64,
    resistance: f64,
    capacitance: f64,
    shunt: f64,
    f0_hz: f64,
    q: f64,
    peak_hz: f64,
    peak_db: f64,
    cutoff_hz: f64,
}

fn rows() -> Vec<Loaded> {
    let mut reader = csv::Reader::from_reader(include_str!("published/loaded-resonance.csv").as_bytes());
    let rows: Vec<Loaded> = reader.deserialize().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), 7);
    rows
}

impl Loaded {
    /// A guitar that is this circuit: a volume control of 10 MΩ, the rest of the shunt in the input.
    fn guitar(&self) -> Guitar {
        let input = (self.shunt.recip() - 1e-7).recip();
        bare(self.inductance, self.resistance, 80e-12, 10e6, self.capacitance - 80e-12, input)
    }

    fn features(&self) -> Features {
        Features::of(&self.guitar(), Setting::FULL).expect("it sounds")
    }

    /// f₀ and Q to full precision, by the formulas of the table's source.
    fn exact(&self) -> (f64, f64) {
        let loaded = 1.0 + self.resistance / self.shunt;
        let lc = self.inductance * self.capacitance;
        let q = (lc * loaded).sqrt() / (self.resistance * self.capacitance + self.inductance / self.shunt);
        ((loaded / lc).sqrt() / std::f64::consts::TAU, q)
    }

    /// |V/E|²/H(0)² at f.
    fn power(&self, frequency: f64) -> f64 {
        let (f0, q) = self.exact();
        let u = frequency / f0;
        ((1.0 - u * u).powi(2) + (u / q).powi(2)).recip()
    }

    /// The mean level over a band, above that of H(0), in dB.
    fn mean(&self, low: f64, high: f64) -> f64 {
        let grid = frequencies(low, high, 12);
        10.0 * (grid.iter().map(|f| self.power(*f)).sum::<f64>() / grid.len() as f64).log10()
    }
}

#[test]
fn resonance_and_height_are_those_of_the_table() {
    for row in rows() {
        let resonance = row.features().resonance.expect("every row has a peak");
        assert_close(resonance.frequency_hz, row.peak_hz, close::TWO_DECIMALS, "peak in Hz");
        // The table counts from H(0), a player's height from the mean of 100–400 Hz, which lies a little higher.
        let anchor = row.mean(100.0, 400.0);
        assert!((0.0..0.15).contains(&anchor));
        assert_close(resonance.height_db + anchor, row.peak_db, close::THREE_DECIMALS, "height over H(0)");
    }
}

/// The Q of the table is that of the poles, a player's Q that of the bandwidth 3.01 dB below the peak. With x = u² and x_p = 1 − 1/(2Q²),
/// (1 − x)² + x/Q² = (x − x_p)² + D, D = 1 − x_p², so the level is 3.01 dB below the peak at x = x_p ± √(D·(10^0.301 − 1)). Both Q
/// agree where the peak is sharp; where it is so low that x would be negative the lower side never falls that far.
#[test]
fn the_bandwidth_gives_q() {
    let mut without = 0;
    for row in rows() {
        let (f0, q) = row.exact();
        assert_close(f0, row.f0_hz, close::TWO_DECIMALS, "f0");
        assert_close(q, row.q, close::FOUR_DECIMALS, "Q of the poles");
        let measured = row.features().resonance.expect("a peak").q;
        let peak = 1.0 - 0.5 / (q * q);
        let half = ((1.0 - peak * peak) * (10.0_f64.powf(0.301) - 1.0)).sqrt();
        if peak < half {
            assert_eq!(measured, None);
            without += 1;
            continue;
        }
        let bandwidth = (peak + half).sqrt() - (peak - half).sqrt();
        let measured = measured.expect("both sides fall");
        assert_relatively_close(measured, peak.sqrt() / bandwidth, close::FOUND, "Q of the bandwidth");
        if row.q > 6.0 {
            assert_relatively_close(measured, row.q, close::SHARP_PEAK, "a sharp peak has one Q");
        }
    }
    assert_eq!(without, 1, "the row with Q 1.2");
}

#[test]
fn the_upper_point_is_three_decibels_below_the_anchor() {
    for row in rows() {
        let upper = row.features().upper_minus_3_db_hz.expect("it falls");
        let level = 10.0 * row.power(upper).log10() - row.mean(100.0, 400.0);
        assert_close(level, -3.01, close::FOUND, "level at the upper point");
        // Counted from H(0) it would be the table's cut-off, a little higher.
        assert!(
            upper < row.cutoff_hz && upper > 0.995 * row.cutoff_hz,
            "{upper} and {}",
            row.cutoff_hz
        );
    }
}

#[test]
fn at_full_all_highs_are_kept_and_the_bump_is_the_foot_of_the_resonance() {
    for row in rows() {
        let features = row.features();
        assert_eq!(features.highs_kept_db, 0.0);
        // All seven rise from 80 to 1500 Hz, so the largest shape is at the end.
        let bump = 10.0 * row.power(1500.0).log10() - row.mean(80.0, 120.0);
        assert_close(features.bump_db, bump, close::LEVEL_DB, "bump");
    }
}

/// Turned down, a bare volume control is a resistance in the signal's way; what is kept of the highs is what the ladder says.
#[test]
fn highs_kept_are_the_shape_of_the_highs_against_full() {
    let guitar = circuit_s(knobwright::guitar::Joint::Pickup);
    let half = setting(0.5, 1.0);
    let mean = |setting, low, high| {
        let grid = frequencies(low, high, 12);
        let powers = grid.iter().map(|f| knobwright::circuit::transfer(&guitar, setting, *f).norm_sqr());
        10.0 * (powers.sum::<f64>() / grid.len() as f64).log10()
    };
    let shape = |setting| mean(setting, 1500.0, 6000.0) - mean(setting, 100.0, 400.0);
    let features = Features::of(&guitar, half).expect("it sounds");
    assert_close(
        features.highs_kept_db,
        shape(half) - shape(Setting::FULL),
        close::LEVEL_DB,
        "highs kept",
    );
    assert!(features.highs_kept_db < -3.0);
    assert_eq!(Features::of(&guitar, setting(0.0, 1.0)), None);
}

/// A resistor that damps the resonance of a second-order low-pass to Q ≤ 1/√2 leaves no peak (textbook).
#[test]
fn a_damped_pickup_has_no_resonance() {
    let guitar = bare(4.4, 8e3, 100e-12, 10e6, 500e-12, 50e3);
    let features = Features::of(&guitar, Setting::FULL).expect("it sounds");
    assert_eq!(features.resonance, None);
    assert!(features.upper_minus_3_db_hz.is_some_and(|hertz| hertz > 1e3));
}
