//! The circuit and its forest sums against the closed forms of any textbook on networks (dividers, RC corner, RLC resonance), and
//! against what holds for every network of resistors, capacitors and inductors: reciprocity and passivity
//! (H. W. Bode, *Network Analysis and Feedback Amplifier Design*, 1945).

mod support;

use knobwright::circuit::graph::{GROUND, Node};
use knobwright::circuit::{self, Setting};
use knobwright::guitar::{Guitar, Joint};
use knobwright::parts::network::{Admittance, Network};
use num_complex::Complex64;
use proptest::prelude::*;
use support::*;

const WIRE: Network = Network::Series(Vec::new());

#[track_caller]
fn assert_complex(got: Option<Complex64>, expected: Complex64) {
    let got = got.expect("the circuit has a solution");
    let miss = (got - expected).norm();
    assert!(
        miss <= close::CLOSED_FORM * expected.norm(),
        "got {got}, expected {expected}, off by {miss:e}"
    );
}

#[test]
fn a_divider_divides() {
    let divider = [(1, 2, r(30e3)), (2, GROUND, r(10e3))];
    assert_complex(voltage(&divider, 1, 2, 1e3), 0.25.into());
    // A bridge in balance: what joins its middle makes no difference.
    let bridge = [
        (1, 2, r(30e3)),
        (2, GROUND, r(10e3)),
        (1, 3, r(3e3)),
        (3, GROUND, r(1e3)),
        (2, 3, c(1e-9)),
    ];
    assert_complex(voltage(&bridge, 1, 2, 1e3), 0.25.into());
    assert_complex(voltage(&bridge, 1, 3, 1e3), 0.25.into());
}

#[test]
fn an_rc_low_pass_has_its_corner_at_one_over_two_pi_rc() {
    let (resistance, capacitance) = (100e3, 1e-9);
    let corner = 1.0 / (std::f64::consts::TAU * resistance * capacitance);
    for octave in -4..=4 {
        let ratio = 2.0_f64.powi(octave);
        let frequency = corner * ratio;
        let low_pass = [(1, 2, r(resistance)), (2, GROUND, c(capacitance))];
        let high_pass = [(1, 2, c(capacitance)), (2, GROUND, r(resistance))];
        let expected = Complex64::new(1.0, ratio).inv();
        assert_complex(voltage(&low_pass, 1, 2, frequency), expected);
        assert_complex(voltage(&high_pass, 1, 2, frequency), expected * Complex64::new(0.0, ratio));
    }
}

#[test]
fn a_series_rlc_resonates_with_its_q() {
    let (resistance, inductance, capacitance) = (5e3_f64, 3.0_f64, 400e-12_f64);
    let resonance = 1.0 / (std::f64::consts::TAU * (inductance * capacitance).sqrt());
    let q = (inductance / capacitance).sqrt() / resistance;
    for ratio in [0.1, 0.5, 0.9, 1.1, 2.0, 10.0] {
        let frequency = resonance * ratio;
        let circuit = [(1, 2, series([r(resistance), l(inductance)])), (2, GROUND, c(capacitance))];
        let expected = Complex64::new(1.0 - ratio * ratio, ratio / q).inv();
        assert_complex(voltage(&circuit, 1, 2, frequency), expected);
        // The same, as a guitar whose controls and input load it as little as a file allows.
        let guitar = bare(inductance, resistance, capacitance, 10e6, 0.0, 1e9);
        let load = 1.0 / 10e6 + 1.0 / 1e9;
        let winding = s(frequency) * inductance + resistance;
        let expected = (winding * (s(frequency) * capacitance + load) + 1.0).inv();
        assert_complex(Some(circuit::transfer(&guitar, Setting::FULL, frequency)), expected);
    }
}

#[test]
fn a_tank_is_open_at_resonance_and_a_trap_is_a_short() {
    // s²LC = −1 exactly: L = 4 H, C = 1/4 F, s = j.
    let s = Complex64::new(0.0, 1.0);
    assert_eq!(parallel([l(4.0), c(0.25)]).admittance(s, &[]), Admittance::OPEN);
    assert_eq!(series([l(4.0), c(0.25)]).admittance(s, &[]), Admittance::Short);
}

#[test]
fn zero_ohms_make_two_nodes_one() {
    let frequency = 2e3;
    let [first, second, third] = [r(47e3), c(1e-9), r(220e3)];
    let plain = [(1, 2, first.clone()), (2, GROUND, second.clone()), (2, GROUND, third.clone())];
    let expected = voltage(&plain, 1, 2, frequency).unwrap();
    // The same with wires between, a loop of wires, and a part bridged by a wire.
    let wired = [
        (1, 3, first),
        (3, 2, WIRE),
        (2, 4, WIRE),
        (4, 3, WIRE),
        (3, 4, c(22e-9)),
        (4, GROUND, second),
        (2, 5, third),
        (5, GROUND, WIRE),
    ];
    for output in [2, 3, 4] {
        assert_complex(voltage(&wired, 1, output, frequency), expected);
    }
    assert_eq!(voltage(&wired, 1, 5, frequency), Some(Complex64::ZERO));
    assert_eq!(impedance(&wired, 5, frequency), Some(Complex64::ZERO));
    assert_complex(voltage(&[(1, 2, WIRE), (2, GROUND, r(1e3))], 1, 2, frequency), Complex64::ONE);
}

/// However many nodes there are: a chain of 199 equal resistors, tapped above the last one.
#[test]
fn a_long_chain_divides_evenly() {
    let chain: Vec<_> = (1..200).map(|node| (node, node - 1, r(1e3))).collect();
    assert_complex(voltage(&chain, 199, 1, 1e3), Complex64::from(1.0 / 199.0));
}

#[test]
fn what_has_no_answer_is_none() {
    let frequency = 1e3;
    let resistor = |from, to| (from, to, r(1e3));
    assert_eq!(
        voltage(&[resistor(1, GROUND), resistor(2, 3)], 1, 2, frequency),
        None,
        "a floating output"
    );
    assert_eq!(
        voltage(&[(1, GROUND, WIRE), resistor(1, 2)], 1, 2, frequency),
        None,
        "a source shorted by a wire"
    );
    assert_eq!(impedance(&[resistor(1, 2)], 1, frequency), None, "no way to ground");
    assert_eq!(
        voltage(&[resistor(1, GROUND)], 1, 5_000, frequency),
        None,
        "an output that is no node"
    );
    assert_eq!(
        voltage(&[resistor(1, GROUND)], 5_000, 1, frequency),
        Some(Complex64::ZERO),
        "a source tied to nothing drives nothing"
    );
    assert_eq!(impedance(&[resistor(1, GROUND)], 5_000, frequency), None, "a node that is none");
}

/// A guitar with the volume at zero is silent, whatever is fitted, exactly.
#[test]
fn zero_volume_is_silence() {
    let cases = (random::guitar(), random::rotation(), random::frequency());
    random::runner(300)
        .run(&cases, |(guitar, tone, frequency)| {
            prop_assert_eq!(circuit::transfer(&guitar, setting(0.0, tone), frequency), Complex64::ZERO);
            Ok(())
        })
        .unwrap();
}

/// At full volume the bleed is shorted: it changes nothing, to the last bit that matters.
#[test]
fn a_bleed_is_out_of_circuit_at_full_volume() {
    let cases = (random::guitar(), random::rotation(), random::frequency(), random::network());
    random::runner(300)
        .run(&cases, |(guitar, tone, frequency, network)| {
            let with = |bleed| {
                let mut guitar = guitar.clone();
                guitar.volume.bleed = bleed;
                circuit::transfer(&guitar, setting(1.0, tone), frequency)
            };
            prop_assert_eq!(with(None), with(Some(network)));
            Ok(())
        })
        .unwrap();
}

/// At full volume input lug and wiper are one: where tone control and loads are joined makes no difference.
#[test]
fn the_joint_does_not_matter_at_full_volume() {
    let cases = (random::guitar(), random::rotation(), random::frequency());
    random::runner(300)
        .run(&cases, |(guitar, tone, frequency)| {
            let joined = |joint| {
                let mut guitar = guitar.clone();
                guitar.loads.iter_mut().for_each(|load| load.at = joint);
                if let Some(tone) = &mut guitar.tone {
                    tone.joined_at = joint;
                }
                circuit::transfer(&guitar, setting(1.0, tone), frequency)
            };
            let (one, other) = (joined(Joint::Pickup), joined(Joint::Wiper));
            prop_assert!((one - other).norm() <= close::CLOSED_FORM * one.norm(), "{} and {}", one, other);
            Ok(())
        })
        .unwrap();
}

/// Five nodes and ground, some pairs joined by random networks; a resistor from each node to ground ties it down.
fn circuits() -> impl Strategy<Value = Vec<(Node, Node, Network)>> {
    let tie = random::logarithmic(1e3, 10e6).prop_map(r);
    let ties = proptest::collection::vec(tie, 5);
    let joins = proptest::collection::vec((0_usize..6, 0_usize..6, random::network()), 1..10);
    (ties, joins).prop_map(|(ties, mut joins)| {
        joins.retain(|(from, to, _)| from != to);
        joins.extend(ties.into_iter().enumerate().map(|(index, tie)| (index + 1, GROUND, tie)));
        joins
    })
}

/// Z₁₂ = Z₂₁: a transfer times the impedance at its source is the same both ways.
#[test]
fn networks_are_reciprocal() {
    random::runner(1000)
        .run(&(circuits(), random::frequency()), |(circuit, frequency)| {
            let mutual = |from, to| voltage(&circuit, from, to, frequency).unwrap() * impedance(&circuit, from, frequency).unwrap();
            let (forth, back) = (mutual(1, 2), mutual(2, 1));
            // Where nothing joins the two, both are exactly zero.
            prop_assert!(
                (forth - back).norm() <= 1e3 * close::CLOSED_FORM * forth.norm(),
                "{} and {}",
                forth,
                back
            );
            Ok(())
        })
        .unwrap();
}

/// No network gives out power: the resistance seen anywhere is never negative.
#[test]
fn networks_are_passive() {
    random::runner(1000)
        .run(&(circuits(), random::frequency()), |(circuit, frequency)| {
            for node in 1..=5 {
                let impedance = impedance(&circuit, node, frequency).unwrap();
                prop_assert!(impedance.is_finite());
                prop_assert!(impedance.re >= -close::CLOSED_FORM * impedance.norm(), "{}", impedance);
            }
            Ok(())
        })
        .unwrap();
}

/// Resistors alone (of values up to three decades apart) give real voltages between those of ground and source.
#[test]
fn resistors_stay_between_the_rails() {
    let joins = proptest::collection::vec((0_usize..6, 0_usize..6, random::logarithmic(1e3, 1e6).prop_map(r)), 5..12);
    random::runner(500)
        .run(&joins, |joins| {
            for output in 2..6 {
                if let Some(voltage) = voltage(&joins, 1, output, 1e3) {
                    prop_assert_eq!(voltage.im, 0.0);
                    prop_assert!(
                        (-close::CLOSED_FORM..=1.0 + close::CLOSED_FORM).contains(&voltage.re),
                        "{}",
                        voltage
                    );
                }
            }
            Ok(())
        })
        .unwrap();
}

/// The input cannot take more than the winding's available power: |V_W|²/R_in ≤ |E|²/(4·R).
#[test]
fn no_guitar_gives_more_than_its_available_power() {
    fn available(guitar: &Guitar) -> f64 {
        guitar.input.resistance.value() / (4.0 * guitar.pickup.resistance.value())
    }
    let cases = (random::guitar(), random::setting(), random::frequency());
    random::runner(1000)
        .run(&cases, |(guitar, knobs, frequency)| {
            let power = circuit::transfer(&guitar, knobs, frequency).norm_sqr();
            prop_assert!(power.is_finite());
            prop_assert!(
                power <= available(&guitar) * (1.0 + close::CLOSED_FORM),
                "{} of {}",
                power,
                available(&guitar)
            );
            Ok(())
        })
        .unwrap();
}
