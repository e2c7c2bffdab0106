//! The recommender against a second one written as the definitions read (tests/support/naive.rs), over candidates enumerated here from the
//! lists of IEC 60063, on random guitars and targets.

mod requests;
mod support;

use std::collections::BTreeMap;

use knobwright::curve::Curve;
use knobwright::guitar::Slot::{Bleed, Bypass, Series as InSeries, Tone};
use knobwright::guitar::{Guitar, Hookup, Joint, Slot};
use knobwright::parts::network::Network;
use knobwright::recommend::{Build, recommend};
use knobwright::target::{Against, Band, Clause, Measure, Over, Target, WantedCurve};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use requests::enumerated::{buildable, enumerated};
use requests::*;
use support::*;

fn cases() -> Vec<Case> {
    let case = |searches, series, ranges| Case {
        searches,
        series,
        ranges,
        top: 1000,
        ..Case::default()
    };
    let stocked = |searches, ranges, top| Case {
        searches,
        ranges,
        stock: DRAWERS,
        top,
        ..Case::default()
    };
    vec![
        case(&[(Bleed, "C")], E3_E6, &[BLEED_C]),
        case(&[(Bleed, "R || C")], E3_E6, &[BLEED_R, BLEED_C]),
        case(&[(Bleed, "R + C")], E6_E3, &[BLEED_R, BLEED_C]),
        case(
            &[(Bleed, "R1 + (R2 || C)")],
            &[("R", "E3", E3), ("C", "E3", E3)],
            &[BLEED_R, BLEED_C],
        ),
        case(&[(Bleed, "120k || C"), (Bleed, "C + R"), (Bleed, "C")], E3_E6, &[BLEED_R, BLEED_C]),
        case(&[(Tone, "C"), (Tone, "R + C")], E3_E6, &[TONE_R, TONE_C]),
        case(&[(Bleed, "C"), (Tone, "C")], E6_E3, &[BLEED_C, TONE_C]),
        case(
            &[(Bleed, "R || C"), (Tone, "C"), (Bleed, "C")],
            &[("R", "E3", E3), ("C", "E3", E3)],
            &[BLEED_R, BLEED_C, TONE_C],
        ),
        case(
            &[(InSeries, "C"), (InSeries, "R || C")],
            E3_E6,
            &[("series.R", "100k..1M", [100e3, 1e6]), ("series.C", "1n..47n", [1e-9, 47e-9])],
        ),
        case(&[(InSeries, "C"), (Tone, "C")], E3_E6, &[("C", "2n2..22n", [2.2e-9, 22e-9])]),
        // Interchangeable parts; a third one that has its own choices and a third one that has the same.
        case(&[(Bleed, "C1 || C2")], E3_E6, &[BLEED_C]),
        case(&[(Bleed, "R1 + R2")], E6_E3, &[BLEED_R]),
        case(&[(Bleed, "C1 || C2 || C3")], E6_E3, &[BLEED_C]),
        case(&[(Bleed, "C1 || C2 || C3")], &[("C", "E3", E3), ("C2", "E6", E6)], &[BLEED_C]),
        case(
            &[(Bleed, "C1 || R || C2")],
            &[("C", "E3", E3), ("bleed.R", "E3", E3)],
            &[BLEED_R, BLEED_C],
        ),
        case(
            &[(Bleed, "(R1 + C1) || (R2 + C2)")],
            &[("R", "E3", E3), ("C", "E3", E3)],
            &[("R", "47k..220k", [47e3, 220e3]), ("C", "470p..2n2", [470e-12, 2.2e-9])],
        ),
        // The first of SLOT.PART, PART, SLOT.KIND, KIND wins, in whatever order they are given.
        case(
            &[(Bleed, "R1 + (R2 || C)"), (Tone, "R1 + C")],
            &[("R", "E6", E6), ("bleed.R", "E3", E3), ("C", "E3", E3)],
            &[
                ("R", "10k..22k", [10e3, 22e3]),
                ("bleed.R", "47k..100k", [47e3, 100e3]),
                ("R1", "220k..330k", [220e3, 330e3]),
                ("tone.R1", "1k..2k2", [1e3, 2.2e3]),
                ("C", "1n..2n2", [1e-9, 2.2e-9]),
                ("tone.C", "10n..22n", [10e-9, 22e-9]),
            ],
        ),
        // Rewired, with something fitted before, listed only in part.
        Case {
            hookup: Some(Hookup::Shelf),
            top: 25,
            ..case(
                &[(Tone, "R"), (Tone, "C"), (Bypass, "C")],
                E3_E6,
                &[TONE_R, TONE_C, ("bypass.C", "10n..220n", [10e-9, 220e-9])],
            )
        },
        Case {
            hookup: Some(Hookup::Rheostat),
            with: &[(Bleed, "150k || 1n")],
            ..case(&[(Tone, "R + C")], E3_E6, &[TONE_R, TONE_C])
        },
        Case {
            joined_at: Some(Joint::Wiper),
            top: 5,
            ..case(&[(Bleed, "R || C")], E3_E6, &[BLEED_R, BLEED_C])
        },
        Case {
            joined_at: Some(Joint::Pickup),
            with: &[(Tone, "10k + 22n"), (InSeries, "none")],
            top: 7,
            ..case(&[(Bleed, "R + C")], E3_E6, &[BLEED_R, BLEED_C])
        },
        Case {
            hookup: Some(Hookup::Shelf),
            joined_at: Some(Joint::Wiper),
            with: &[(Bypass, "100n"), (Tone, "4k7")],
            ..case(&[(Bleed, "C")], E3_E6, &[BLEED_C])
        },
        Case {
            with: &[(Bleed, "none"), (Tone, "none")],
            top: 1,
            ..case(&[(Bleed, "R || C")], E6_E3, &[BLEED_R, BLEED_C])
        },
        // Stock lists.
        stocked(
            &[(Bleed, "R || C")],
            &[("R", "10k..1M", [10e3, 1e6]), ("C", "100p..5n", [100e-12, 5e-9])],
            1000,
        ),
        stocked(&[(Bleed, "C1 || C2")], &[("C", "100p..5n", [100e-12, 5e-9])], 1000),
        stocked(&[(Bleed, "R1 + R2"), (Bleed, "R1 || R2")], &[("R", "10k..1M", [10e3, 1e6])], 1000),
        stocked(
            &[(Bleed, "100k || C"), (Tone, "R + C")],
            &[("R", "1k..250k", [1e3, 250e3]), ("C", "100p..15n", [100e-12, 15e-9])],
            30,
        ),
        stocked(
            &[(Bleed, "R1 + (R2 || C)"), (Bleed, "C")],
            &[("R", "40k..1M", [40e3, 1e6]), ("C", "400p..5n", [400e-12, 5e-9])],
            12,
        ),
    ]
}

/// The guitar as it is and the guitar to build.
fn present_and_build(case: &Case, guitar: &Guitar) -> (Guitar, Guitar) {
    let (mut present, mut build) = (guitar.clone(), guitar.clone());
    if let Some(tone) = &mut build.tone {
        tone.hookup = case.hookup.unwrap_or(tone.hookup);
        tone.joined_at = case.joined_at.unwrap_or(tone.joined_at);
        if tone.hookup == Hookup::Rheostat {
            tone.bypass = None;
        }
    }
    for (slot, text) in case.with {
        build.fit(*slot, network(text));
        let shelf = present.tone.as_ref().is_some_and(|tone| tone.hookup == Hookup::Shelf);
        if *slot != Bypass || shelf {
            present.fit(*slot, network(text));
        }
    }
    (present, build)
}

/// Draws from a strategy.
fn draw<T>(runner: &mut TestRunner, strategy: &impl Strategy<Value = T>) -> T {
    strategy.new_tree(runner).unwrap().current()
}

/// A guitar that a workshop could meet, with a tone control, and never silent except at a closed volume.
fn guitar(runner: &mut TestRunner, bypassed: bool) -> Guitar {
    loop {
        let mut guitar = draw(runner, &random::guitar());
        // A coil and a cable of ordinary size, so that the knobs and networks decide the result.
        guitar.pickup.inductance = henries(draw(runner, &random::logarithmic(1.6, 10.0)));
        guitar.pickup.loss.retain(|_| false);
        guitar.pickup.resistance = ohms(draw(runner, &random::logarithmic(5e3, 17e3)));
        guitar.pickup.capacitance = farads(draw(runner, &random::logarithmic(60e-12, 200e-12)));
        guitar.cable.capacitance = farads(draw(runner, &random::logarithmic(200e-12, 1.3e-9)));
        guitar.volume.pot.resistance = ohms(draw(runner, &random::logarithmic(200e3, 1e6)));
        guitar.input.resistance = ohms(1e6);
        guitar.loads.clear();
        let Some(tone) = &mut guitar.tone else { continue };
        tone.pot.resistance = ohms(draw(runner, &random::logarithmic(200e3, 1e6)));
        tone.network = Some(c(draw(runner, &random::logarithmic(5e-9, 50e-9))));
        if !bypassed || tone.hookup == Hookup::Shelf {
            return guitar;
        }
    }
}

/// Every combination of measure, reference and over.
fn kinds() -> Vec<(Measure, Against, Over)> {
    let points = [[1.0, -3.0], [150.0, 0.5], [900.0, 2.0], [4000.0, 6.0], [50e3, -30.0]];
    let curve = Against::Curve(WantedCurve {
        name: "random".to_owned(),
        curve: Curve::new(points.to_vec()).unwrap(),
    });
    let mut kinds = Vec::new();
    for over in [Over::Every, Over::Mean, Over::Average] {
        for measure in [Measure::Shape, Measure::Level] {
            for against in [Against::Full, Against::Present, Against::Flat, curve.clone()] {
                kinds.push((measure, against, over));
            }
        }
    }
    kinds
}

fn clause(runner: &mut TestRunner, (measure, against, over): (Measure, Against, Over)) -> Clause {
    let band = |low: f64, width: f64| Band::new(low, low * width).unwrap();
    let bands = (random::logarithmic(100.0, 4000.0), 1.05..2.5);
    let (low, width) = draw(runner, &bands);
    let rotations = |runner: &mut TestRunner, lowest: f64| {
        let some = prop_oneof![Just(1.0), Just(0.5), Just(0.25), lowest..0.95];
        let mut rotations: Vec<f64> = (0..draw(runner, &(1..3_usize))).map(|_| draw(runner, &some)).collect();
        rotations.dedup();
        rotations
    };
    let bounds = prop_oneof![
        3 => (0.5..8.0).prop_map(|width: f64| (Some(-width), Some(width / 2.0))),
        1 => (-6.0..0.0).prop_map(|least: f64| (Some(least), None)),
        1 => (0.0..6.0).prop_map(|most: f64| (None, Some(most))),
    ];
    let (at_least, at_most) = draw(runner, &bounds);
    Clause {
        measure,
        against,
        band: band(low, width),
        anchor: (measure == Measure::Shape).then(|| band(draw(runner, &random::logarithmic(80.0, 1000.0)), 1.8)),
        over,
        volume: rotations(runner, 0.1),
        tone: rotations(runner, 0.0),
        at_least,
        at_most,
        bands: Vec::new(),
        place: knobwright::target::Place::default(),
    }
}

fn slots_of(candidate: &naive::Candidate) -> BTreeMap<Slot, String> {
    let written = |network: &Option<Network>| network.as_ref().map_or("none".to_owned(), ToString::to_string);
    candidate.slots.iter().map(|(slot, network)| (*slot, written(network))).collect()
}

/// The same place, or one whose margin is the same to rounding: of points that are equal but for rounding either may be named.
fn same_worst(target: &Target, build: &Build, expected: &naive::Ranked) -> bool {
    let (got, wanted) = (&build.worst, &expected.worst);
    let place =
        |clause, volume: f64, tone: f64, frequency: Option<f64>| (clause, volume.to_bits(), tone.to_bits(), frequency.map(f64::to_bits));
    if place(got.clause, got.at.volume, got.at.tone, got.frequency_hz)
        == place(wanted.clause, wanted.volume, wanted.tone, wanted.frequency_hz)
    {
        assert_close(got.difference_db, wanted.difference_db, close::LEVEL_DB, "difference");
        return true;
    }
    let clause = &target.clauses[got.clause];
    let above = clause.at_most.map_or(f64::INFINITY, |most| most - got.difference_db);
    let below = clause.at_least.map_or(f64::INFINITY, |least| got.difference_db - least);
    assert_close(above.min(below), expected.margin_db, close::LEVEL_DB, "another point as bad");
    false
}

/// Compares the whole answer; gives how many builds were compared and how many had their worst point at the very same place.
fn compare(case: &Case, guitar: &Guitar, target: &Target) -> (usize, usize) {
    let got = recommend(&request(case, guitar, target), &()).unwrap_or_else(|error| panic!("{}", error.picture()));
    let (present, build) = present_and_build(case, guitar);
    let today = naive::rank(&present, &present, target, vec![naive::Candidate::new([])]);
    assert_close(got.present.margin_db, today[0].margin_db, close::LEVEL_DB, "present");
    assert_eq!(got.present.meets_target, today[0].margin_db >= 0.0);

    let counts: Vec<_> = enumerated(case).into_iter().map(|(names, all)| (names, all.len() as u64)).collect();
    let summaries: Vec<_> = got.search.iter().map(|search| (search.slots.clone(), search.candidates)).collect();
    assert_eq!(summaries, counts);

    let expected = naive::rank(&present, &build, target, buildable(case));
    assert_eq!(got.builds.len(), expected.len().min(case.top));
    let mut same_place = 0;
    for (rank, (build, expected)) in got.builds.iter().zip(&expected).enumerate() {
        let what = format!("rank {}: {:?}", rank + 1, build.slots);
        assert_eq!(build.rank, rank + 1);
        assert_eq!(build.slots, slots_of(&expected.candidate), "{what}");
        assert_close(build.margin_db, expected.margin_db, close::LEVEL_DB, &what);
        assert_close(build.rms_db, expected.rms_db, close::LEVEL_DB, &what);
        assert_close(build.volume_shift_db, expected.volume_shift_db, close::LEVEL_DB, &what);
        assert_eq!(build.meets_target, build.margin_db >= 0.0);
        assert_eq!(build.cost.is_some(), expected.candidate.cost.is_some(), "{what}");
        assert_close(
            build.cost.unwrap_or(0.0),
            expected.candidate.cost.unwrap_or(0.0),
            close::LEVEL_DB,
            &what,
        );
        same_place += usize::from(same_worst(target, build, expected));
    }
    let _wired = got.builds.iter().map(|build| wiring(case, guitar, build)).collect::<Vec<_>>();
    (got.builds.len(), same_place)
}

/// What is not searched stays, and the wiring is the one asked for.
fn wiring(case: &Case, guitar: &Guitar, build: &Build) {
    let (_, expected) = present_and_build(case, guitar);
    let tone = expected.tone.as_ref();
    assert_eq!(build.hookup, tone.map(|tone| tone.hookup));
    assert_eq!(build.joined_at, tone.map(|tone| tone.joined_at));
    let searched = |slot: &Slot| case.searches.iter().any(|search| search.0 == *slot);
    let others = Slot::ALL.into_iter().filter(|slot| !searched(slot));
    let fitted: BTreeMap<Slot, String> = others.filter_map(|slot| Some((slot, expected.fitted(slot)?.to_string()))).collect();
    assert_eq!(build.fitted, fitted);
}

#[test]
fn the_recommender_equals_the_naive_one() {
    let kinds = kinds();
    let mut runner = random::runner(1);
    let (mut pairs, mut builds, mut same_place) = (0, 0, 0);
    for (number, case) in cases().iter().enumerate() {
        let bypassed = case.searches.iter().any(|search| search.0 == Bypass) && case.hookup.is_none();
        let guitar = guitar(&mut runner, bypassed);
        // Two clauses a pair, so that every kind comes up with every second neighbour.
        let clauses = [2 * number, 2 * number + 1 + number / 8].map(|kind| clause(&mut runner, kinds[kind % kinds.len()].clone()));
        let target = Target::new(format!("pair {number}"), clauses.to_vec());
        let (compared, same) = compare(case, &guitar, &target);
        assert!(compared > 0);
        (pairs, builds, same_place) = (pairs + 1, builds + compared, same_place + same);
    }
    assert!(pairs >= 20, "{pairs}");
    assert!(builds > 1000, "{builds}");
    // Rounding decides between equals seldom.
    assert!(same_place * 10 >= builds * 9, "{same_place} of {builds}");
}
