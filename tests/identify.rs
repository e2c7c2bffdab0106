//! Pickups from measurements: synthetic sweeps of every model with seeded noise, written out here without the library's circuit; published
//! peaks of a measured coil; scipy's `least_squares` on the same sweeps (`tests/published/identify-*.csv`, `make_sweeps.py`).

mod support;

use knobwright::guitar::Guitar;
use knobwright::identify::peaks::{Peak, from_peaks};
use knobwright::identify::sweep::{Columns, NEPER_DB, Reading, Row, Sweep};
use knobwright::identify::{Coil, Known, Measured, Model, Request, Shunt, Way, identify, identify_as};
use knobwright::source::Source;
use num_complex::Complex64;
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{RngCore, SeedableRng};
use support::*;

/// The sum of twelve uniform values less six: a normal deviate for our purpose, with variance 1 exactly.
fn deviate(random: &mut Xoshiro256PlusPlus) -> f64 {
    (0..12).map(|_| (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64).sum::<f64>() - 6.0
}

/// A pickup written out on its own: R + s·L₀ + Σ (s·Lᵢ ∥ Rᵢ) in Ω.
fn winding(coil: &Coil, frequency: f64) -> Complex64 {
    let s = s(frequency);
    let cells: f64 = coil.cells.iter().map(|cell| cell[0]).sum();
    coil.cells
        .iter()
        .fold(s * (coil.inductance - cells) + coil.resistance, |sum, [l, r]| sum + 1.0 / (1.0 / (s * *l) + 1.0 / *r))
}

/// |Z| of the whole pickup beside a jig.
fn impedance(coil: &Coil, jig: Complex64, frequency: f64) -> Complex64 {
    1.0 / (1.0 / winding(coil, frequency) + s(frequency) * coil.capacitance + jig)
}

fn grid(low: f64, high: f64, count: usize) -> Vec<f64> {
    (0..count).map(|index| low * (high / low).powf(index as f64 / (count - 1) as f64)).collect()
}

struct Noise {
    db: f64,
    degrees: Option<f64>,
    seed: u64,
}

fn sweep_of(frequencies: &[f64], noise: &Noise, of: impl Fn(f64) -> Complex64) -> Sweep {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(noise.seed);
    let row = |frequency: &f64| {
        let value = of(*frequency);
        Row {
            frequency: *frequency,
            nepers: value.norm().ln() + noise.db / NEPER_DB * deviate(&mut random),
            phase: noise.degrees.map(|degrees| value.arg() + degrees.to_radians() * deviate(&mut random)),
        }
    };
    Sweep {
        name: "sweep.csv".to_owned(),
        rows: frequencies.iter().map(row).collect(),
        notes: Vec::new(),
    }
}

fn request(measured: Vec<Measured>, known: Known) -> Request {
    Request {
        measured,
        known,
        slope: false,
        robust: false,
    }
}

fn bare(sweep: Sweep, jig: Shunt) -> Measured {
    Measured {
        sweep,
        way: Way::Impedance(jig),
        added: 0.0,
    }
}

fn value(model: &Model, name: &str) -> f64 {
    model.values.iter().find(|value| value.name == name).unwrap_or_else(|| panic!("no {name}")).value
}

fn interval(model: &Model, name: &str) -> [f64; 2] {
    model.values.iter().find(|value| value.name == name).unwrap().interval95.unwrap()
}

/// The circuits S and H of tests/published/README.md and a coil of two cells.
fn coils() -> Vec<Coil> {
    let coil = |inductance, resistance, capacitance, cells: &[[f64; 2]]| Coil {
        inductance,
        resistance,
        capacitance,
        cells: cells.to_vec(),
    };
    vec![
        coil(2.2, 5.7e3, 110e-12, &[]),
        coil(4.4, 8.0e3, 130e-12, &[[1.0, 20e3]]),
        coil(4.4, 8.0e3, 130e-12, &[[2.2, 40e3]]),
        coil(5.0, 8.2e3, 120e-12, &[[1.2, 4e3], [1.6, 120e3]]),
    ]
}

/// 1 MΩ and 30 pF.
const JIG: Shunt = Shunt {
    resistance: Some(1e6),
    capacitance: Some(30e-12),
};

fn jig(frequency: f64) -> Complex64 {
    s(frequency) * 30e-12 + 1e-6
}

#[test]
fn exact_sweeps_give_back_every_model() {
    for (index, coil) in coils().iter().enumerate() {
        let noise = Noise { db: 0.0, degrees: None, seed: 1 };
        let sweep = sweep_of(&grid(50.0, 30e3, 120), &noise, |frequency| impedance(coil, jig(frequency), frequency));
        let found = identify(&request(vec![bare(sweep, JIG)], Known::default())).unwrap();
        let best = found.best().unwrap();
        assert_eq!(best.cells, coil.cells.len(), "{index}: {:?}", found.models);
        assert_relatively_close(value(best, "inductance"), coil.inductance, 1e-6, "L");
        assert_relatively_close(value(best, "capacitance"), coil.capacitance, 1e-6, "C");
        assert_relatively_close(value(best, "resistance"), coil.resistance, 1e-6, "R");
    }
}

#[test]
fn noisy_sweeps_give_l_within_one_and_c_within_five_per_cent() {
    for coil in coils() {
        for degrees in [None, Some(1.5)] {
            let noise = Noise { db: 0.2, degrees, seed: 7 };
            let sweep = sweep_of(&grid(50.0, 30e3, 200), &noise, |frequency| impedance(&coil, jig(frequency), frequency));
            let found = identify(&request(vec![bare(sweep, JIG)], Known::default())).unwrap();
            let best = found.best().unwrap();
            assert!(best.cells <= coil.cells.len(), "{coil:?}: {:?}", found.models);
            assert_relatively_close(value(best, "inductance"), coil.inductance, 0.01, "L");
            assert_relatively_close(value(best, "capacitance"), coil.capacitance, 0.05, "C");
            assert!((best.rms_db - 0.2).abs() < 0.05, "{}", best.rms_db);
        }
    }
}
