//! The circuit against published numbers and textbook closed forms. The tables stand in tests/published, their sources in its README;
//! every table is also held against the independent solver, so that a disagreement shows whose it is.

mod support;

use knobwright::circuit::graph::GROUND;
use knobwright::circuit::{self, Setting};
use knobwright::guitar::{Guitar, Joint};
use knobwright::parts::network::Network;
use num_complex::Complex64;
use serde::Deserialize;
use support::*;

/// The rows of a table in tests/published.
fn table<Row: for<'d> Deserialize<'d>>(text: &str) -> Vec<Row> {
    let rows: Vec<Row> = csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap();
    assert!(!rows.is_empty());
    rows
}

/// A row's labels, and its levels in dB with their frequencies in Hz before them.
type LevelRow = (Vec<String>, Vec<(f64, f64)>);

/// The rows of a table whose first columns are labels and whose other column heads are frequencies in Hz.
fn levels(text: &str, labels: usize) -> Vec<LevelRow> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let frequencies: Vec<f64> = reader
        .headers()
        .unwrap()
        .iter()
        .skip(labels)
        .map(|head| head.parse().unwrap())
        .collect();
    assert!(!frequencies.is_empty());
    let row = |record: csv::StringRecord| {
        let names = record.iter().take(labels).map(str::to_owned).collect();
        let levels = record.iter().skip(labels).map(|level| level.parse().unwrap());
        (names, frequencies.iter().copied().zip(levels).collect())
    };
    reader.records().map(|record| row(record.unwrap())).collect()
}

/// The networks named in the tables.
fn bleed(name: &str) -> Option<Network> {
    Some(match name {
        "none" => return None,
        "1n" => c(1e-9),
        "680p" => c(680e-12),
        "150k || 1n" => parallel([r(150e3), c(1e-9)]),
        "120k || 1n" => parallel([r(120e3), c(1e-9)]),
        "130k + 1.2n" => series([r(130e3), c(1.2e-9)]),
        "110k + 1.5n" => series([r(110e3), c(1.5e-9)]),
        "20k + (220k || 680p)" => series([r(20e3), parallel([r(220e3), c(680e-12)])]),
        other => panic!("no network `{other}`"),
    })
}

/// The level of the library, after making sure that the independent solver gives the same to `tolerance`.
#[track_caller]
fn assert_level(guitar: &Guitar, setting: Setting, frequency: f64, expected: f64, tolerance: f64, what: &str) {
    assert_close(
        decibels(twin::transfer(guitar, setting, frequency)),
        expected,
        tolerance,
        &format!("{what}, independent solver"),
    );
    assert_close(decibels(circuit::transfer(guitar, setting, frequency)), expected, tolerance, what);
}

fn circuit_named(name: &str, joined_at: &str) -> Guitar {
    let joint = match joined_at {
        "pickup" => Joint::Pickup,
        "wiper" => Joint::Wiper,
        other => panic!("no joint `{other}`"),
    };
    match name {
        "S" => circuit_s(joint),
        "H" => circuit_h(joint),
        other => panic!("no circuit `{other}`"),
    }
}

fn check_reference_circuit(name: &str, text: &str) {
    let rows = levels(text, 3);
    // Two joints at full, then two fractions, two joints, six bleed networks.
    assert_eq!(rows.len(), 26);
    for (labels, points) in rows {
        let mut guitar = circuit_named(name, &labels[1]);
        guitar.volume.bleed = bleed(&labels[2]);
        let knobs = setting(labels[0].parse().unwrap(), 1.0);
        for (frequency, level) in points {
            let what = format!("circuit {name} {labels:?} at {frequency} Hz");
            assert_level(&guitar, knobs, frequency, level, close::THREE_DECIMALS, &what);
        }
    }
}

#[test]
fn circuit_s_has_its_published_levels() {
    check_reference_circuit("S", include_str!("published/circuit-s.csv"));
}

#[test]
fn circuit_h_has_its_published_levels() {
    check_reference_circuit("H", include_str!("published/circuit-h.csv"));
}

#[test]
fn the_worked_guitar_has_its_published_levels() {
    let rows = levels(include_str!("published/worked-levels.csv"), 2);
    assert_eq!(rows.len(), 9);
    for (labels, points) in rows {
        let mut guitar = worked_guitar();
        guitar.volume.bleed = bleed(&labels[1]);
        let knobs = setting(labels[0].parse().unwrap(), 1.0);
        for (frequency, level) in points {
            let what = format!("worked guitar {labels:?} at {frequency} Hz");
            assert_level(&guitar, knobs, frequency, level, close::FOUR_DECIMALS, &what);
        }
    }
}

#[test]
fn complex_check_points() {
    // Source: tests/published/README.md, "Reference circuits".
    let points = [
        ("S", 0.5, "pickup", "none", 3e3, (0.208965723, -0.338918320)),
        ("S", 0.5, "pickup", "150k || 1n", 3e3, (0.641567887, -0.424149155)),
        ("S", 0.15, "wiper", "130k + 1.2n", 5e3, (0.124542421, -0.238341472)),
        ("H", 0.5, "wiper", "20k + (220k || 680p)", 2e3, (0.617112921, -0.282325839)),
        ("H", 1.0, "pickup", "none", 2.5e3, (0.978217755, -1.734583509)),
    ];
    for (name, fraction, joint, network, frequency, (real, imaginary)) in points {
        let mut guitar = circuit_named(name, joint);
        guitar.volume.bleed = bleed(network);
        let got = circuit::transfer(&guitar, setting(fraction, 1.0), frequency);
        let what = format!("circuit {name}, {fraction}, {joint}, {network}, {frequency} Hz");
        assert_close(got.re, real, close::COMPLEX_CHECK_POINT, &what);
        assert_close(got.im, imaginary, close::COMPLEX_CHECK_POINT, &what);
    }
}

#[test]
fn peaks_of_the_reference_circuits_with_and_without_eddy_loss() {
    // Source: tests/published/README.md, "Reference circuits": a loss lowers the peak and hardly moves it.
    let peaks = [
        (circuit_s(Joint::Pickup), 3751.0, 4.57, close::TWO_DECIMALS),
        (circuit_h(Joint::Pickup), 2691.0, 6.27, close::TWO_DECIMALS),
        (circuit_h_with_loss(2.2, 40e3), 2676.0, 2.528, close::THREE_DECIMALS),
        (circuit_h_with_loss(1.0, 20e3), 2741.0, 4.540, close::THREE_DECIMALS),
    ];
    for (guitar, frequency, level, tolerance) in peaks {
        let (place, height) = maximum(1e3, 8e3, |f| decibels(circuit::transfer(&guitar, Setting::FULL, f)));
        assert_close(place, frequency, close::WHOLE, "frequency of the peak");
        assert_close(height, level, tolerance, "height of the peak");
    }
}

#[test]
fn a_tone_knob_at_zero_tunes_the_pickup_anew() {
    // Source: tests/published/README.md, "Tone control at zero": circuit S, tone track at zero.
    for (capacitor, frequency, level) in [(10e-9, 993.6, 6.687), (22e-9, 649.1, 4.352), (47e-9, 395.2, 1.945)] {
        let mut guitar = circuit_s(Joint::Pickup);
        guitar.tone = Some(rheostat(250e3, c(capacitor), Joint::Pickup));
        let (place, height) = maximum(100.0, 3e3, |f| decibels(circuit::transfer(&guitar, setting(1.0, 0.0), f)));
        assert_close(place, frequency, close::ONE_DECIMAL, "frequency of the low resonance");
        assert_close(height, level, close::THREE_DECIMALS, "height of the low resonance");
    }
}

#[test]
fn a_fixed_resistor_limits_the_cut() {
    let rows = levels(include_str!("published/shelf-tone.csv"), 1);
    assert_eq!(rows.len(), 5);
    for (labels, points) in rows {
        let resistance: f64 = labels[0].parse().unwrap();
        let network = if resistance > 0.0 {
            series([r(resistance), c(22e-9)])
        } else {
            c(22e-9)
        };
        let mut guitar = circuit_s(Joint::Pickup);
        guitar.tone = Some(rheostat(250e3, network, Joint::Pickup));
        for (frequency, level) in points {
            let what = format!("{resistance} Ω in series at {frequency} Hz");
            assert_level(&guitar, setting(1.0, 0.0), frequency, level, close::THREE_DECIMALS, &what);
        }
    }
}

#[derive(Deserialize)]
struct Loaded {
    inductance: f64,
    resistance: f64,
    capacitance: f64,
    shunt: f64,
    f0_hz: f64,
    q: f64,
    dc_db: f64,
    peak_hz: f64,
    peak_db: f64,
    cutoff_hz: f64,
}

#[test]
fn loaded_pickups_resonate_as_second_order_theory_says() {
    let rows: Vec<Loaded> = table(include_str!("published/loaded-resonance.csv"));
    assert_eq!(rows.len(), 7);
    for row in rows {
        // Volume control and input share the shunt; winding and cable share the capacitance.
        let guitar = bare(
            row.inductance,
            row.resistance,
            0.2 * row.capacitance,
            2.0 * row.shunt,
            0.8 * row.capacitance,
            2.0 * row.shunt,
        );
        let level = |f: f64| decibels(circuit::transfer(&guitar, Setting::FULL, f));
        let dc = level(1e-3);
        assert_close(dc, row.dc_db, close::THREE_DECIMALS, "level at low frequencies");
        // At f0 the voltage lags a quarter turn and stands at Q times the low-frequency level.
        let quarter = crossing(0.5 * row.f0_hz, 2.0 * row.f0_hz, |f| {
            circuit::transfer(&guitar, Setting::FULL, f).re
        });
        assert_close(quarter, row.f0_hz, close::TWO_DECIMALS, "f0");
        assert_close(10_f64.powf((level(quarter) - dc) / 20.0), row.q, close::FOUR_DECIMALS, "Q");
        // M. Zollner, Physik der Elektrogitarre, section 5.5.4.
        let (loading, lc) = (1.0 + row.resistance / row.shunt, row.inductance * row.capacitance);
        let q = (lc * loading).sqrt() / (row.resistance * row.capacitance + row.inductance / row.shunt);
        assert_relatively_close(10_f64.powf((level(quarter) - dc) / 20.0), q, 1e-6, "Q by its formula");
        let (peak, height) = maximum(0.3 * row.f0_hz, 2.0 * row.f0_hz, level);
        assert_close(peak, row.peak_hz, close::TWO_DECIMALS, "frequency of the peak");
        assert_close(height - dc, row.peak_db, close::THREE_DECIMALS, "peak over the low-frequency level");
        let half_power = 10.0 * 2.0_f64.log10();
        let cutoff = crossing(peak, 3.0 * row.f0_hz, |f| level(f) - dc + half_power);
        assert_close(cutoff, row.cutoff_hz, close::ONE_DECIMAL, "cut-off");
    }
}

#[derive(Deserialize)]
struct AddedCapacitor {
    added_farads: f64,
    printed_hz: f64,
    computed_hz: f64,
    computed_ohms: f64,
}

#[test]
fn the_measured_coil_has_its_impedance_peaks() {
    // M. Zollner, Physik der Elektrogitarre, p. 5-111, Fig. 5.9.26: 4420 Ω, 1125 mH, 43 pF.
    let winding = series([r(4420.0), l(1.125)]);
    let rows: Vec<AddedCapacitor> = table(include_str!("published/measured-coil.csv"));
    assert_eq!(rows.len(), 3);
    for row in rows {
        let impedance = |f: f64| {
            let coil = [
                (1, GROUND, winding.clone()),
                (1, GROUND, c(43e-12)),
                (1, GROUND, c(row.added_farads)),
            ];
            impedance(&coil, 1, f).unwrap().norm()
        };
        let (peak, height) = maximum(1e3, 20e3, impedance);
        assert_relatively_close(peak, row.printed_hz, close::MEASURED, "peak read from the printed curve");
        assert_close(peak, row.computed_hz, close::ONE_DECIMAL, "peak computed from the printed values");
        assert_close(height, row.computed_ohms, 5.0, "impedance at the peak, printed to 10 Ω");
    }
    // Without added capacitance: 22 882.8 Hz, 5.9214 MΩ, computed from the same values. (The printed 21 kHz includes the probe.)
    let unloaded = |f: f64| {
        impedance(&[(1, GROUND, winding.clone()), (1, GROUND, c(43e-12))], 1, f)
            .unwrap()
            .norm()
    };
    let (peak, height) = maximum(10e3, 40e3, unloaded);
    assert_close(peak, 22_882.8, close::ONE_DECIMAL, "unloaded peak");
    assert_close(height, 5.9214e6, 50.0, "impedance at the unloaded peak");
    // ωL = R: printed 625 Hz, computed 625.30 Hz; there reactance and resistance of the winding are equal.
    let corner = crossing(100.0, 2e3, |f| {
        let z = impedance(&[(1, 2, r(4420.0)), (2, GROUND, l(1.125))], 1, f).unwrap();
        z.im - z.re
    });
    assert_close(corner, 625.30, close::TWO_DECIMALS, "corner");
}

#[derive(Deserialize)]
struct ToneNetwork {
    frequencies_hz: Vec<f64>,
    parts: Parts,
    setting: Vec<ToneSetting>,
}

#[derive(Deserialize)]
struct Parts {
    c1: f64,
    c2: f64,
    c3: f64,
    r1: f64,
    r2: f64,
    r3: f64,
    r4: f64,
}

#[derive(Deserialize)]
struct ToneSetting {
    treble: f64,
    middle: f64,
    bass: f64,
    a: [f64; 3],
    b: [f64; 3],
    level_db: Vec<f64>,
    phase_deg: Vec<[f64; 2]>,
}

impl ToneSetting {
    /// The network itself: 1 source, 2 P, 3 Q, 4 N, 5 M, 6 middle wiper, 7 output.
    fn transfer(&self, parts: &Parts, frequency: f64) -> Complex64 {
        let resistor = |from, to, ohms: f64| (from, to, r(ohms));
        let capacitor = |from, to, farads: f64| (from, to, c(farads));
        let branches = [
            capacitor(1, 2, parts.c1),
            resistor(1, 3, parts.r4),
            resistor(2, 7, (1.0 - self.treble) * parts.r1),
            resistor(7, 4, self.treble * parts.r1),
            capacitor(3, 4, parts.c2),
            resistor(4, 5, self.bass * parts.r2),
            resistor(5, 6, (1.0 - self.middle) * parts.r3),
            resistor(6, GROUND, self.middle * parts.r3),
            capacitor(3, 6, parts.c3),
        ];
        voltage(&branches, 1, 7, frequency).unwrap()
    }

    fn closed_form(&self, frequency: f64) -> Complex64 {
        let s = s(frequency);
        let powers = |coefficients: [f64; 3]| s * (coefficients[0] + s * (coefficients[1] + s * coefficients[2]));
        powers(self.b) / (powers(self.a) + 1.0)
    }
}

#[test]
fn the_third_order_tone_network_has_its_published_transfer() {
    let network: ToneNetwork = toml::from_str(include_str!("published/third-order-tone-network.toml")).unwrap();
    assert_eq!(network.setting.len(), 4);
    for setting in &network.setting {
        assert_eq!(setting.level_db.len(), network.frequencies_hz.len());
        for (&frequency, &level) in network.frequencies_hz.iter().zip(&setting.level_db) {
            let got = setting.transfer(&network.parts, frequency);
            let expected = setting.closed_form(frequency);
            let what = format!("t {} m {} l {} at {frequency} Hz", setting.treble, setting.middle, setting.bass);
            assert_close(decibels(got), level, close::FOUR_DECIMALS, &what);
            assert_close(decibels(got), decibels(expected), close::LEVEL_DB, &what);
            assert_close(angle_between(got, expected), 0.0, close::PHASE_RAD, &what);
        }
        for &[frequency, degrees] in &setting.phase_deg {
            let phase = setting.transfer(&network.parts, frequency).arg().to_degrees();
            assert_close(phase, degrees, close::THREE_DECIMALS, "phase");
        }
    }
}

#[derive(Deserialize)]
struct Point {
    frequency_hz: f64,
    real: f64,
    imaginary: f64,
}

fn check_response(guitar: &Guitar, knobs: Setting, text: &str) {
    let points: Vec<Point> = table(text);
    assert_eq!(points.len(), 25);
    for point in points {
        let expected = Complex64::new(point.real, point.imaginary);
        let got = circuit::transfer(guitar, knobs, point.frequency_hz);
        let what = format!("{} Hz", point.frequency_hz);
        assert_close(decibels(got), decibels(expected), close::LEVEL_DB, &what);
        assert_close(angle_between(got, expected), 0.0, close::PHASE_RAD, &what);
    }
}

#[test]
fn a_humbucker_with_loss_agrees_with_its_state_space() {
    let mut guitar = circuit_h_with_loss(2.2, 40e3);
    guitar.tone = circuit_h(Joint::Wiper).tone;
    guitar.volume.bleed = bleed("20k + (220k || 680p)");
    check_response(&guitar, setting(0.15, 1.0), include_str!("published/state-space.csv"));
}

#[test]
fn a_single_coil_turned_down_agrees_with_its_polynomials() {
    let mut guitar = worked_guitar();
    guitar.volume.bleed = bleed("110k + 1.5n");
    check_response(&guitar, setting(0.25, 1.0), include_str!("published/polynomial.csv"));
}
