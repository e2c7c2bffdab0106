//! Numbers a reader can check by hand: handbook formulas, worked figures of papers and of the trade. Sources beside each check.

mod support;

use std::f64::consts::TAU;

use knobwright::circuit::graph::GROUND;
use knobwright::circuit::ports::Reduction;
use knobwright::circuit::{self, Setting};
use knobwright::guitar::{Joint, Slot};
use knobwright::kernel::grid;
use knobwright::parts::network::Admittance;
use num_complex::Complex64;
use support::*;

/// Twelve points an octave are the semitones of equal temperament: from the low E string (A4 = 440 Hz) the grid meets every open string,
/// the 22nd and the 24th fret. Frequencies of any table of equal temperament, as printed to three or two decimals.
#[test]
fn the_grid_meets_every_open_string() {
    let low_e = 440.0 * 2.0_f64.powf(-29.0 / 12.0);
    let semitones = grid::frequencies(low_e, 16.0 * low_e, 12);
    assert_eq!(semitones.len(), 49);
    let strings = [(0, 82.407), (5, 110.0), (10, 146.832), (15, 195.998), (19, 246.942), (24, 329.628)];
    for (semitone, frequency) in strings {
        assert_close(semitones[semitone], frequency, close::THREE_DECIMALS, "open string");
    }
    for (semitone, frequency) in [(46, 1174.66), (48, 1318.51)] {
        assert_close(
            semitones[semitone],
            frequency,
            close::TWO_DECIMALS,
            "fretted note on the first string",
        );
    }
}

/// Where the reactance of a coil and its capacitor, side by side, changes from inductive to capacitive.
fn resonance(inductance: f64, capacitance: f64) -> f64 {
    crossing(100.0, 1e6, |f| {
        let tank = [(1, GROUND, l(inductance)), (1, GROUND, c(capacitance))];
        // Exactly at resonance there is no finite impedance.
        impedance(&tank, 1, f).map_or(0.0, |impedance| impedance.im)
    })
}

#[test]
fn a_coil_and_its_cable_resonate_where_the_trade_says() {
    // A pickup winder's page on cables: 2.4 H with 300 pF "around 6000 Hz", with a 2400 pF coil cord "a little above 2000 Hz";
    // 5931.4 and 2097.1 Hz by 1/(2π·√(LC)).
    assert_close(resonance(2.4, 300e-12), 5931.4, close::ONE_DECIMAL, "straight cable");
    assert_close(resonance(2.4, 2400e-12), 2097.1, close::ONE_DECIMAL, "coil cord");
    // H. Lemme, "Beschaltung": coils in parallel have a quarter of the inductance and resonate at twice the frequency with the same
    // cable; one coil of two has half and resonates at √2 times.
    let whole = resonance(4.8, 700e-12);
    assert_relatively_close(resonance(1.2, 700e-12), 2.0 * whole, close::CLOSED_FORM, "coils in parallel");
    assert_relatively_close(resonance(2.4, 700e-12), 2.0_f64.sqrt() * whole, close::CLOSED_FORM, "one coil");
    // f ∝ C^−½: 10 % more capacitance, 4.65 % lower; 20 % more, 8.71 % lower.
    for (more, change) in [(1.1, -4.65), (1.2, -8.71)] {
        let percent = 100.0 * (resonance(4.8, more * 700e-12) / whole - 1.0);
        assert_close(percent, change, close::TWO_DECIMALS, "change of resonance in %");
    }
}

#[test]
fn a_measured_bass_coil_has_its_capacitance_and_q() {
    // C. E. LaForest, "Characterizing Magnetic Guitar Pickups": 100 mH, 210 Ω, self-resonance at 100 kHz: 25.33 pF, Q 299.20.
    let (inductance, resistance, capacitance) = (0.1, 210.0, 25.3303e-12);
    let response = |f: f64| {
        let coil = [(1, 2, series([r(resistance), l(inductance)])), (2, GROUND, c(capacitance))];
        voltage(&coil, 1, 2, f).unwrap()
    };
    // The voltage lags a quarter turn at resonance and is Q times the EMF.
    let quarter = crossing(50e3, 200e3, |f| response(f).re);
    assert_close(quarter, 100e3, 0.5, "self-resonance, from a capacitance given to six digits");
    assert_close(response(quarter).norm(), 299.20, close::TWO_DECIMALS, "Q");
    // The same source: into a known resistor the coil is a low-pass with L = R/(2π·f₋₃), R being coil and resistor together.
    let shunt = 10e3;
    let half_power = crossing(100.0, 100e3, |f| {
        let pair = [(1, 2, series([r(resistance), l(inductance)])), (2, GROUND, r(shunt))];
        voltage(&pair, 1, 2, f).unwrap().norm_sqr() - 0.5 * (shunt / (shunt + resistance)).powi(2)
    });
    assert_relatively_close(
        (resistance + shunt) / (TAU * half_power),
        inductance,
        close::CLOSED_FORM,
        "L from the corner",
    );
}

#[test]
fn an_eddy_loss_lowers_inductance_and_raises_resistance() {
    // Source: tests/published/README.md, "Reference circuits": 8 kΩ + 2.2 H + (2.2 H ∥ 40 kΩ) at 0.1, 1, 3 and 5 kHz; the formulas are
    // L = L₁ + L₂·R₂²/(R₂² + ω²L₂²) and R = R₁ + R₂·ω²L₂²/(R₂² + ω²L₂²).
    let rows = [
        (100.0, 4.397, 8.05e3),
        (1e3, 4.165, 12.27e3),
        (3e3, 3.260, 28.72e3),
        (5e3, 2.752, 37.96e3),
    ];
    for (frequency, inductance, resistance) in rows {
        let coil = [(1, 2, series([r(8e3), l(2.2)])), (2, GROUND, l(2.2)), (2, GROUND, r(40e3))];
        let impedance = impedance(&coil, 1, frequency).unwrap();
        assert_close(
            impedance.im / (TAU * frequency),
            inductance,
            close::THREE_DECIMALS,
            "effective inductance in H",
        );
        assert_close(
            impedance.re,
            resistance,
            10.0 * close::WHOLE,
            "effective resistance, printed to 10 Ω",
        );
    }
}

#[test]
fn a_compensated_divider_is_flat() {
    // Handbook: upper R ∥ C and lower R ∥ C divide alike at all frequencies when their time constants are equal, so that a bleed of
    // C_load·a/(1 − a) makes a volume control flat. Printed for 600 pF to 0.1 pF, or to the pF.
    let (track, load) = (250e3, 600e-12);
    for (fraction, printed, half_digit) in [
        (0.1, 66.7, 0.05),
        (0.15, 105.9, 0.05),
        (0.3, 257.0, 0.5),
        (0.5, 600.0, 0.5),
        (0.7, 1400.0, 0.5),
    ] {
        let bleed = load * fraction / (1.0 - fraction);
        assert_close(bleed * 1e12, printed, half_digit, "bleed in pF");
        for frequency in [20.0, 500.0, 3e3, 20e3] {
            let divide = |bleed: f64| {
                let upper = parallel([r(track * (1.0 - fraction)), c(bleed)]);
                let lower = parallel([r(track * fraction), c(load)]);
                voltage(&[(1, 2, upper), (2, GROUND, lower)], 1, 2, frequency).unwrap()
            };
            assert_close((divide(bleed) - fraction).norm(), 0.0, close::CLOSED_FORM, "flat");
            // Twice the capacitor passes too much of the highs, half of it too little.
            assert!(divide(2.0 * bleed).norm() > fraction && divide(0.5 * bleed).norm() < fraction);
        }
    }
}

#[test]
fn a_volume_control_and_its_cable_have_their_corner() {
    // Handbook: the wiper's source resistance is a·(1 − a)·R; with 600 pF its corner lies at 1/(2π·a·(1 − a)·R·C).
    for (track, fraction, corner) in [
        (250e3, 0.5, 4244.0),
        (500e3, 0.5, 2122.0),
        (250e3, 0.15, 8322.0),
        (500e3, 0.15, 4161.0),
    ] {
        let half_power = crossing(100.0, 50e3, |f| {
            let divider = [
                (1, 2, r(track * (1.0 - fraction))),
                (2, GROUND, r(track * fraction)),
                (2, GROUND, c(600e-12)),
            ];
            voltage(&divider, 1, 2, f).unwrap().norm_sqr() - 0.5 * fraction * fraction
        });
        assert_close(half_power, corner, close::WHOLE, "corner");
    }
    // And without load: −6.02 dB at one half, −16.48 at 0.15, −20.00 at 0.10.
    for (fraction, level) in [(0.5, -6.02), (0.15, -16.48), (0.1, -20.0)] {
        let divider = [(1, 2, r(1.0 - fraction)), (2, GROUND, r(fraction))];
        assert_close(
            decibels(voltage(&divider, 1, 2, 1e3).unwrap()),
            level,
            close::TWO_DECIMALS,
            "unloaded level",
        );
    }
}

/// Source: tests/published/README.md, "One slot": circuit S at half track, 4 kHz, the bleed as the one free slot.
#[test]
fn one_free_slot_has_its_worked_coefficients() {
    let frequency = 4e3;
    let mut guitar = circuit_s(Joint::Pickup);
    let knobs = setting(0.5, 1.0);
    let reduction = Reduction::of(&guitar, knobs, frequency, &[Slot::Bleed]);
    let (open, shorted) = (reduction.transfer(&[Admittance::OPEN]), reduction.transfer(&[Admittance::Short]));
    let printed = 1e-10;
    assert_close((open - Complex64::new(0.0789521533, -0.3492374399)).norm(), 0.0, printed, "H₀");
    assert_close((shorted - Complex64::new(0.1260973686, -1.2053367244)).norm(), 0.0, printed, "H∞");
    // H(Y) = (H₀ + H∞·z·Y)/(1 + z·Y) solved for z, the impedance the bleed sees.
    let admittance = Complex64::new(1e-5, 2e-5);
    let between = reduction.transfer(&[Admittance::Value(admittance)]);
    let by_reduction = (open - between) / (admittance * (between - shorted));
    let expected = Complex64::new(36673.0329, 4351.1876);
    assert_close((by_reduction - expected).norm(), 0.0, 1e-4, "z by the reduction");
    // The same as the impedance of a circuit of its own, the wiper taken as the node voltages are measured against; the EMF is a wire.
    let (input, ground) = (1, 2);
    let around = [
        (input, ground, series([r(5.7e3), l(2.2)])),
        (input, ground, c(110e-12)),
        (input, GROUND, r(125e3)),
        (GROUND, ground, r(125e3)),
        (input, ground, series([r(250e3), c(22e-9)])),
        (GROUND, ground, parallel([c(600e-12), r(1e6)])),
    ];
    let seen = impedance(&around, input, frequency).unwrap();
    assert_close((seen - expected).norm(), 0.0, 1e-4, "z as an impedance");
    let bleeds = [
        (c(680e-12), -2.435257),
        (parallel([r(150e3), c(1e-9)]), -1.114384),
        (series([r(130e3), c(1.2e-9)]), -5.282626),
        (series([r(20e3), parallel([r(220e3), c(680e-12)])]), -3.190433),
    ];
    for (bleed, level) in bleeds {
        let reduced = reduction.transfer(&[bleed.admittance(s(frequency), &[])]);
        assert_close(decibels(reduced), level, close::SIX_DECIMALS, "level by the reduction");
        guitar.volume.bleed = Some(bleed);
        assert_close(
            decibels(circuit::transfer(&guitar, knobs, frequency)),
            level,
            close::SIX_DECIMALS,
            "level by the plain solve",
        );
    }
}

/// A wire across the whole volume control (bleed shorted) is the same as the knob at full, save for the track across the output.
#[test]
fn a_shorted_bleed_leaves_the_lower_track_as_load() {
    let guitar = circuit_s(Joint::Pickup);
    let shorted = Reduction::of(&guitar, setting(0.5, 1.0), 2e3, &[Slot::Bleed]).transfer(&[Admittance::Short]);
    let mut halved = guitar.clone();
    halved.volume.pot.resistance = ohms(125e3);
    let full = circuit::transfer(&halved, Setting::FULL, 2e3);
    assert_close((shorted - full).norm(), 0.0, close::CLOSED_FORM, "half the track at full");
}
