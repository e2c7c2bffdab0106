//! The circuit and its nodal equations against the closed forms of any textbook on networks (dividers, RC corner, RLC resonance), and
//! against what holds for every network of resistors, capacitors and inductors: reciprocity and passivity
//! (H. W. Bode, *Network Analysis and Feedback Amplifier Design*, 1945).

mod support;

use knobwright::circuit::nodal::{self, Branch, GROUND, Node};
use knobwright::circuit::{self, Setting};
use knobwright::guitar::{Guitar, Joint};
use knobwright::parts::network::{Admittance, Network};
use num_complex::Complex64;
use proptest::prelude::*;
use support::*;

fn branch(from: Node, to: Node, network: &Network, frequency: f64) -> Branch {
    Branch {
        from,
        to,
        admittance: network.admittance(s(frequency), &[]),
    }
}

fn short(from: Node, to: Node) -> Branch {
    Branch {
        from,
        to,
        admittance: Admittance::Short,
    }
}

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
    let divider = [branch(1, 2, &r(30e3), 1e3), branch(2, GROUND, &r(10e3), 1e3)];
    assert_complex(nodal::transfer(&divider, 1, 2), 0.25.into());
    // A bridge in balance: what joins its middle makes no difference.
    let bridge = [
        branch(1, 2, &r(30e3), 1e3),
        branch(2, GROUND, &r(10e3), 1e3),
        branch(1, 3, &r(3e3), 1e3),
        branch(3, GROUND, &r(1e3), 1e3),
        branch(2, 3, &c(1e-9), 1e3),
    ];
    assert_complex(nodal::transfer(&bridge, 1, 2), 0.25.into());
    assert_complex(nodal::transfer(&bridge, 1, 3), 0.25.into());
}

#[test]
fn an_rc_low_pass_has_its_corner_at_one_over_two_pi_rc() {
    let (resistance, capacitance) = (100e3, 1e-9);
    let corner = 1.0 / (std::f64::consts::TAU * resistance * capacitance);
    for octave in -4..=4 {
        let ratio = 2.0_f64.powi(octave);
        let frequency = corner * ratio;
        let low_pass = [
            branch(1, 2, &r(resistance), frequency),
            branch(2, GROUND, &c(capacitance), frequency),
        ];
        let high_pass = [
            branch(1, 2, &c(capacitance), frequency),
            branch(2, GROUND, &r(resistance), frequency),
        ];
        let expected = Complex64::new(1.0, ratio).inv();
        assert_complex(nodal::transfer(&low_pass, 1, 2), expected);
        assert_complex(nodal::transfer(&high_pass, 1, 2), expected * Complex64::new(0.0, ratio));
    }
}

#[test]
fn a_series_rlc_resonates_with_its_q() {
    let (resistance, inductance, capacitance) = (5e3_f64, 3.0_f64, 400e-12_f64);
    let resonance = 1.0 / (std::f64::consts::TAU * (inductance * capacitance).sqrt());
    let q = (inductance / capacitance).sqrt() / resistance;
    for ratio in [0.1, 0.5, 0.9, 1.1, 2.0, 10.0] {
        let frequency = resonance * ratio;
        let circuit = [
            branch(1, 2, &series([r(resistance), l(inductance)]), frequency),
            branch(2, GROUND, &c(capacitance), frequency),
        ];
        let expected = Complex64::new(1.0 - ratio * ratio, ratio / q).inv();
        assert_complex(nodal::transfer(&circuit, 1, 2), expected);
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
    let parts = [r(47e3), c(1e-9), r(220e3)];
    let plain = [
        branch(1, 2, &parts[0], frequency),
        branch(2, GROUND, &parts[1], frequency),
        branch(2, GROUND, &parts[2], frequency),
    ];
    let expected = nodal::transfer(&plain, 1, 2).unwrap();
    // The same with wires between, a loop of wires, and a part bridged by a wire.
    let wired = [
        branch(1, 3, &parts[0], frequency),
        short(3, 2),
        short(2, 4),
        short(4, 3),
        branch(3, 4, &c(22e-9), frequency),
        branch(4, GROUND, &parts[1], frequency),
        branch(2, 5, &parts[2], frequency),
        short(5, GROUND),
    ];
    for output in [2, 3, 4] {
        assert_complex(nodal::transfer(&wired, 1, output), expected);
    }
    assert_eq!(nodal::transfer(&wired, 1, 5), Some(Complex64::ZERO));
    assert_eq!(nodal::driving_point_impedance(&wired, 5), Some(Complex64::ZERO));
    assert_complex(
        nodal::transfer(&[short(1, 2), branch(2, GROUND, &r(1e3), frequency)], 1, 2),
        Complex64::ONE,
    );
}

#[test]
fn what_has_no_answer_is_none() {
    let frequency = 1e3;
    let resistor = |from, to| branch(from, to, &r(1e3), frequency);
    assert_eq!(
        nodal::transfer(&[resistor(1, GROUND), resistor(2, 3)], 1, 2),
        None,
        "a floating output"
    );
    assert_eq!(
        nodal::transfer(&[short(1, GROUND), resistor(1, 2)], 1, 2),
        None,
        "a source shorted by a wire"
    );
    assert_eq!(nodal::driving_point_impedance(&[resistor(1, 2)], 1), None, "no way to ground");
    let too_many: Vec<_> = (1..200).map(|node| resistor(node, node - 1)).collect();
    assert_eq!(nodal::transfer(&too_many, 199, 1), None, "too many nodes");
    assert_eq!(nodal::transfer(&[resistor(1, GROUND)], 1, 5_000), None, "an output that is no node");
    assert_eq!(nodal::transfer(&[resistor(1, GROUND)], 5_000, 1), None, "a source that is no node");
    assert_eq!(
        nodal::driving_point_impedance(&[resistor(1, GROUND)], 5_000),
        None,
        "a node that is none"
    );
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

fn at(circuit: &[(Node, Node, Network)], frequency: f64) -> Vec<Branch> {
    circuit
        .iter()
        .map(|(from, to, network)| branch(*from, *to, network, frequency))
        .collect()
}

/// Z₁₂ = Z₂₁: a transfer times the impedance at its source is the same both ways.
#[test]
fn networks_are_reciprocal() {
    random::runner(1000)
        .run(&(circuits(), random::frequency()), |(circuit, frequency)| {
            let branches = at(&circuit, frequency);
            let mutual =
                |from, to| nodal::transfer(&branches, from, to).unwrap() * nodal::driving_point_impedance(&branches, from).unwrap();
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
                let impedance = nodal::driving_point_impedance(&at(&circuit, frequency), node).unwrap();
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
                if let Some(voltage) = nodal::transfer(&at(&joins, 1e3), 1, output) {
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
