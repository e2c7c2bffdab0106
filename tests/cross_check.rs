//! The library's solver and its reduction to the slots against an independent dense solver (tests/support/twin.rs) and against each
//! other, on random guitars, networks, knob settings and frequencies over everything a guitar file allows.

mod support;

use knobwright::circuit::ports::{MOST_SLOTS, Polynomials, Reduction};
use knobwright::circuit::recipe::Recipe;
use knobwright::circuit::{self, Setting};
use knobwright::guitar::{Guitar, Slot};
use knobwright::parts::network::{Admittance, Network};
use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;
use support::*;

/// Two transfers are one to the promised accuracy, silence exactly.
fn agree(got: Complex64, expected: Complex64) -> Result<(), TestCaseError> {
    if expected == Complex64::ZERO {
        prop_assert_eq!(got, Complex64::ZERO, "silent for one, not for the other");
        return Ok(());
    }
    prop_assert!(got.is_finite() && got != Complex64::ZERO, "{got}");
    let level = decibels(got) - decibels(expected);
    prop_assert!(
        level.abs() <= close::LEVEL_DB,
        "levels differ by {level:e} dB: {got} and {expected}"
    );
    let angle = angle_between(got, expected);
    prop_assert!(angle <= close::PHASE_RAD, "phases differ by {angle:e} rad: {got} and {expected}");
    Ok(())
}

#[test]
fn the_library_agrees_with_the_independent_solver() {
    let cases = (random::guitar(), random::setting(), random::frequency());
    random::runner(4000)
        .run(&cases, |(guitar, knobs, frequency)| {
            agree(
                circuit::transfer(&guitar, knobs, frequency),
                twin::transfer(&guitar, knobs, frequency),
            )
        })
        .unwrap();
}

/// N(s)/D(s) from the coefficients of both in SI units.
fn ratio(guitar: &Guitar, knobs: Setting, frequency: f64) -> Complex64 {
    let s = s(frequency);
    let horner = |coefficients: &Vec<f64>| coefficients.iter().rev().fold(Complex64::ZERO, |sum, next| sum * s + next);
    let made = Recipe::new(guitar, knobs, &[]).made_of(|leaf| leaf.value);
    let [numerator, denominator] = &made[0];
    horner(numerator) / horner(denominator)
}

#[test]
fn the_polynomials_of_a_wiring_agree_with_the_independent_solver() {
    let cases = (random::guitar(), random::setting(), random::frequency());
    random::runner(4000)
        .run(&cases, |(guitar, knobs, frequency)| {
            let expected = twin::transfer(&guitar, knobs, frequency);
            agree(ratio(&guitar, knobs, frequency), expected)?;
            let power = Polynomials::new(&guitar, knobs, &[]).power(frequency);
            if expected == Complex64::ZERO {
                prop_assert_eq!(power, 0.0);
            } else {
                let difference = 10.0 * (power / expected.norm_sqr()).log10();
                prop_assert!(difference.abs() <= close::LEVEL_DB, "{} dB", difference);
            }
            Ok(())
        })
        .unwrap();
}

/// What is put into a slot whose coefficients are known.
#[derive(Debug, Clone)]
enum Filling {
    Nothing,
    Wire,
    Parts(Network),
}

impl Filling {
    fn admittance(&self, frequency: f64) -> Admittance {
        match self {
            Self::Nothing => Admittance::OPEN,
            Self::Wire => Admittance::Short,
            Self::Parts(network) => network.admittance(s(frequency), &[]),
        }
    }
}

fn filling() -> impl Strategy<Value = Filling> {
    prop_oneof![1 => Just(Filling::Nothing), 1 => Just(Filling::Wire), 3 => random::network().prop_map(Filling::Parts)]
}

/// The guitar with a slot filled for the independent solver, to which a wire is a resistor of exactly zero ohms. A series slot with
/// nothing in it is broken in the reduction and a wire in a guitar, so that the open one has no guitar to compare with.
fn filled(mut guitar: Guitar, slots: &[Slot], fillings: &[Filling]) -> Option<Guitar> {
    for (slot, filling) in slots.iter().zip(fillings) {
        let network = match (slot, filling) {
            (Slot::Series, Filling::Nothing) => return None,
            (_, Filling::Nothing) => None,
            (_, Filling::Wire) => Some(r(0.0)),
            (_, Filling::Parts(network)) => Some(network.clone()),
        };
        guitar.fit(*slot, network);
    }
    Some(guitar)
}

fn check_reduction(guitar: &Guitar, knobs: Setting, frequency: f64, slots: &[Slot], fillings: &[Filling]) -> Result<(), TestCaseError> {
    let admittances: Vec<_> = fillings
        .iter()
        .take(slots.len())
        .map(|filling| filling.admittance(frequency))
        .collect();
    let reduced = Reduction::of(guitar, knobs, frequency, slots).transfer(&admittances);
    prop_assert!(reduced.is_finite());
    if let Some(filled) = filled(guitar.clone(), slots, fillings) {
        agree(reduced, twin::transfer(&filled, knobs, frequency))?;
        // The library's own plain solve takes no zero-ohm part as a network; everything else it solves the same way.
        if !fillings.iter().take(slots.len()).any(|filling| matches!(filling, Filling::Wire)) {
            agree(reduced, circuit::transfer(&filled, knobs, frequency))?;
        }
    }
    Ok(())
}

/// Every selection of slots, of as many as may be free at once, in the order of the slots.
fn selections() -> Vec<Vec<Slot>> {
    let chosen = |bits: usize| Slot::ALL.into_iter().enumerate().filter(move |(index, _)| bits & (1 << index) != 0);
    (1..1 << Slot::ALL.len())
        .map(|bits| chosen(bits).map(|(_, slot)| slot).collect())
        .filter(|slots: &Vec<Slot>| slots.len() <= MOST_SLOTS)
        .collect()
}

#[test]
fn the_reduction_agrees_with_the_plain_solve_for_every_selection_of_slots() {
    let selections = selections();
    assert_eq!(selections.len(), 30);
    let fillings = proptest::collection::vec(filling(), 4);
    let cases = (
        random::guitar(),
        random::setting(),
        random::frequency(),
        fillings,
        0..selections.len(),
    );
    random::runner(4000)
        .run(&cases, |(guitar, knobs, frequency, fillings, selection)| {
            check_reduction(&guitar, knobs, frequency, &selections[selection], &fillings)
        })
        .unwrap();
}

/// Knob ends, fillings and pairs of slots in every combination, on both reference circuits and a shelf control.
#[test]
fn the_reduction_holds_at_every_end() {
    use knobwright::guitar::{Hookup, Joint};
    let mut shelf = circuit_s(Joint::Wiper);
    shelf.tone.as_mut().unwrap().hookup = Hookup::Shelf;
    let fillings = [Filling::Nothing, Filling::Wire, Filling::Parts(parallel([r(150e3), c(1e-9)]))];
    let ends = [0.0, 0.5, 1.0];
    for guitar in [circuit_s(Joint::Pickup), circuit_h(Joint::Wiper), shelf] {
        for (volume, tone) in ends.iter().flat_map(|volume| ends.map(|tone| (*volume, tone))) {
            for slots in selections().iter().filter(|slots| slots.len() <= 2) {
                for first in &fillings {
                    for second in &fillings {
                        let both = [first.clone(), second.clone()];
                        check_reduction(&guitar, setting(volume, tone), 3e3, slots, &both)
                            .unwrap_or_else(|error| panic!("{slots:?} {both:?} at {volume}, {tone}: {error}"));
                    }
                }
            }
        }
    }
}

#[test]
fn the_slots_may_be_asked_for_in_any_order() {
    let cases = (random::guitar(), random::setting(), random::frequency(), filling(), filling());
    random::runner(500)
        .run(&cases, |(guitar, knobs, frequency, bleed, tone)| {
            let (bleed, tone) = (bleed.admittance(frequency), tone.admittance(frequency));
            let one = Reduction::of(&guitar, knobs, frequency, &[Slot::Bleed, Slot::Tone]).transfer(&[bleed, tone]);
            let other = Reduction::of(&guitar, knobs, frequency, &[Slot::Tone, Slot::Bleed]).transfer(&[tone, bleed]);
            agree(one, other)
        })
        .unwrap();
}

/// The naive recommender of the ranking tests stands on the plain solve; by the independent solver it finds the same margins and order.
#[test]
fn the_naive_recommender_finds_the_same_by_either_solver() {
    use knobwright::target::{Against, Band, Clause, Measure, Over, Target};
    let clause = |measure, against, over| Clause {
        measure,
        against,
        band: Band::new(1500.0, 6000.0).unwrap(),
        anchor: (measure == Measure::Shape).then(|| Band::new(100.0, 400.0).unwrap()),
        over,
        volume: vec![1.0, 0.5, 0.25],
        tone: vec![1.0],
        at_least: Some(-4.0),
        at_most: Some(4.0),
        bands: Vec::new(),
        place: knobwright::target::Place::default(),
    };
    let target = Target::new(
        "check",
        vec![
            clause(Measure::Shape, Against::Full, Over::Every),
            clause(Measure::Level, Against::Present, Over::Mean),
            clause(Measure::Shape, Against::Flat, Over::Mean),
        ],
    );
    let bleeds = [680e-12, 1e-9, 1.2e-9].map(|farads| [c(farads), parallel([r(150e3), c(farads)]), series([r(130e3), c(farads)])]);
    let mut candidates: Vec<_> = bleeds
        .into_iter()
        .flatten()
        .map(|bleed| naive::Candidate::new([(Slot::Bleed, Some(bleed))]))
        .collect();
    candidates.push(naive::Candidate::new([(Slot::Bleed, None)]));
    let guitar = worked_guitar();
    let one = naive::rank(&guitar, &guitar, &target, candidates.clone());
    let other = naive::rank_with(twin::transfer, &guitar, &guitar, &target, candidates);
    assert_eq!(one.len(), 10);
    for (one, other) in one.iter().zip(&other) {
        assert_eq!(one.candidate, other.candidate);
        assert_eq!(
            (one.worst.clause, one.worst.frequency_hz),
            (other.worst.clause, other.worst.frequency_hz)
        );
        assert_close(one.margin_db, other.margin_db, 10.0 * close::LEVEL_DB, "margin");
        assert_close(one.rms_db, other.rms_db, 10.0 * close::LEVEL_DB, "root mean square");
        assert_close(one.volume_shift_db, other.volume_shift_db, 10.0 * close::LEVEL_DB, "volume shift");
    }
}
