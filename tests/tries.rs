//! Other pots, cables and wirings tried beside the parts: the list is that of all of them together, by the slow twin, and what is said to
//! meet a wish does so in the tests' own second solver.

mod support;

use knobwright::circuit::Setting;
use knobwright::guitar::alteration::Alteration;
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::kernel::measure::worst_point;
use knobwright::kernel::plan::Plan;
use knobwright::parts::network::Network;
use knobwright::recommend::{AnswerKind, Recommendation, Request, recommend};
use knobwright::search::exhaustive::{Evaluator, search_by_definition};
use knobwright::search::ranking::{Entry, Kept, rank};
use knobwright::search::space::{SlotSpace, Space};
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use knobwright::tolerance::{Built, Spread, Tolerances, spreads, with_factors};
use support::*;

fn tries(text: &str) -> Vec<Alteration> {
    Alteration::read_all(&Source::inline("--try", text)).unwrap()
}

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("network", text).passage()).unwrap()
}

/// A request with few values, so that the slow twin can try them all.
fn request(guitar: &str, phrase: &str, tried: &[&str]) -> Request {
    let mut request = Request::new(inputs::guitar(Some(guitar)).unwrap(), wish(phrase));
    request.explain = false;
    request.tries = tried.iter().flat_map(|text| tries(text)).collect();
    request.searches = vec![(Slot::Bleed, network("R + C"))];
    let slots = Slot::ALL.map(Slot::word);
    let series = Source::inline("series", "R=E3,C=E3");
    request.rules.add_series(&series.passage(), &slots).unwrap();
    request
}

/// Every guitar that the alternatives make, those with fewer changes first, as a person would write the list down.
fn variants(guitar: &Guitar, tried: &[&str]) -> Vec<Guitar> {
    let mut all = vec![(0, guitar.clone())];
    for text in tried {
        let mut next = all.clone();
        for alteration in tries(text) {
            next.extend(all.iter().map(|(changes, guitar)| {
                let mut guitar = guitar.clone();
                alteration.apply(&mut guitar, "--try").unwrap();
                (changes + 1, guitar)
            }));
        }
        all = next;
    }
    all.sort_by_key(|(changes, _)| *changes);
    let mut unique: Vec<Guitar> = Vec::new();
    for (_, guitar) in all {
        if !unique.contains(&guitar) {
            unique.push(guitar);
        }
    }
    unique
}

/// The list is the head of all builds of all guitars ranked together, each evaluated by the definition; also where the list is short, and
/// where it is longer than all there are.
#[test]
fn the_list_is_that_of_all_guitars_together() {
    let tried = ["volume=500k,1M", "cable=300p", "no_load=true"];
    for (guitar, phrase) in [
        ("wren-bridge", "treble bleed"),
        ("plover-bridge", "keep highs"),
        ("heron-bridge", "treble bleed"),
    ] {
        let base = request(guitar, phrase, &tried);
        let (present, build) = knobwright::recommend::guitars(&base).unwrap();
        let space = |network: Option<Network>| Space {
            slots: vec![SlotSpace::new(Slot::Bleed, network, &base.rules).unwrap()],
        };
        let spaces = [space(network("R + C")), space(None)];
        let mut all: Vec<Entry> = Vec::new();
        for (number, variant) in variants(&build, &tried).into_iter().enumerate() {
            let plan = Plan::guarded(&variant, &present, &base.target, &[Slot::Bleed]).unwrap();
            let entries = search_by_definition(&plan, &spaces, None, usize::MAX);
            // Of equals, the guitar with fewer changes comes first.
            all.extend(entries.into_iter().map(|entry| Entry {
                space: entry.space + spaces.len() * number,
                ..entry
            }));
        }
        for top in [1, 2, 3, 10, 65, 1000, 100_000] {
            let mut request = base.clone();
            request.top = top;
            let found = recommend(&request, &()).unwrap();
            let slow = rank(all.clone(), top);
            assert_eq!(found.builds.len(), slow.len(), "{guitar}, {phrase}, {top}");
            for (build, entry) in found.builds.iter().zip(&slow) {
                assert_eq!(build.margin_db, entry.margin, "{guitar}, {phrase}, rank {} of {top}", build.rank);
                assert_eq!(
                    build.slots[&Slot::Bleed],
                    entry.written[0],
                    "{guitar}, {phrase}, rank {} of {top}",
                    build.rank
                );
            }
        }
    }
}

/// A build's margin is that of its whole guitar: the wish "brighter" by the second solver, an average over the band in dB.
#[test]
fn what_is_tried_for_more_highs_is_brighter_by_the_second_solver() {
    let mut met = 0;
    for file in GUITARS {
        let guitar = inputs::guitar(Some(file.name)).unwrap();
        let found = brighter(&guitar);
        for build in &found.builds {
            let clause = &found.target.clauses[0];
            let gain = |guitar: &Guitar| {
                let level = |frequency: f64| 20.0 * twin::transfer(guitar, Setting::FULL, frequency).norm().log10();
                let band: Vec<f64> = naive::grid(clause.band.low(), clause.band.high()).into_iter().map(level).collect();
                let anchor: Vec<f64> = naive::grid(100.0, 400.0).into_iter().map(level).collect();
                band.iter().sum::<f64>() / band.len() as f64 - naive::mean_level(&anchor)
            };
            let gain = gain(&build.guitar) - gain(&guitar);
            let margin = (gain - clause.at_least.unwrap()).min(clause.at_most.unwrap() - gain);
            // Another clause may bind before this one.
            assert!(build.margin_db <= margin + 1e-6, "{}: {build:?}", guitar.name);
            if build.worst.clause == 0 {
                assert_close(build.margin_db, margin, 1e-6, &guitar.name);
            }
        }
        if found.answer.kind == AnswerKind::Fit {
            met += 1;
            let changed = &found.answer.changed;
            assert!(changed.volume.is_some() || changed.no_load == Some(true), "{}", found.answer.says);
            assert!(found.answer.slots.contains_key(&Slot::Tone) == guitar.fitted(Slot::Tone).is_some());
        }
    }
    assert!(met >= 8, "brighter is met on {met} guitars");
}

fn brighter(guitar: &Guitar) -> Recommendation {
    let mut request = Request::new(guitar.clone(), wish("brighter"));
    request.explain = false;
    recommend(&request, &()).unwrap()
}

/// Each change counts: with nothing else to choose between, the answer is the guitar with the fewest.
#[test]
fn the_fewest_changes_are_the_answer() {
    let guitar = inputs::guitar(Some("wren-bridge")).unwrap();
    let found = brighter(&guitar);
    assert_eq!(found.answer.changed.no_load, Some(true), "{}", found.answer.says);
    assert_eq!(found.answer.changed.volume, None, "{}", found.answer.says);
    assert!(
        found.answer.says.starts_with("Fit a no-load tone pot, one that lets go at 10."),
        "{}",
        found.answer.says
    );
}

#[test]
fn what_cannot_be_tried_is_refused() {
    let mut request = request("wren-bridge", "treble bleed", &[]);
    request.tries = tries("volume=100k,150k,200k,220k,250k,300k,330k,390k,470k,500k");
    request.tries.extend(tries("cable=100p,200p,300p,400p,500p,600p,700p"));
    assert!(
        recommend(&request, &())
            .unwrap_err()
            .picture()
            .contains("more than 64 combinations")
    );
    let mut without_tone = request.clone();
    without_tone.guitar.tone = None;
    without_tone.tries = tries("no_load=true");
    let refused = recommend(&without_tone, &()).unwrap_err().picture();
    assert!(refused.contains("no_load=true") && refused.contains("[tone]"), "{refused}");
}

/// What the guitar has already is no other guitar, and the same alternative twice is one.
#[test]
fn the_guitars_own_pot_is_not_tried_again() {
    let mut base = request("wren-bridge", "treble bleed", &[]);
    let alone = recommend(&base, &()).unwrap();
    base.tries = tries("volume=250k,250k");
    assert_eq!(recommend(&base, &()).unwrap().builds, alone.builds);
}

/// Of two searches, the first of both together can be one that is not among the first of its own: a group hangs on its best, and another
/// search may have a better. What each keeps is enough all the same, and the first of each would not be.
#[test]
fn what_each_search_keeps_is_enough_for_the_list_of_both() {
    let mut seed: u64 = 1;
    let mut next = |most: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % most
    };
    let mut lost = 0;
    for _ in 0..300 {
        let mut entry = |space: usize, index: usize| Entry {
            margin: 0.002 * next(30) as f64,
            parts: 1 + next(4) as usize,
            cost: None,
            values: vec![vec![index as f64]],
            written: Vec::new(),
            space,
            choices: Vec::new(),
            chosen: Vec::new(),
        };
        let searches: [Vec<Entry>; 2] = [0, 1].map(|space| (0..30).map(|index| entry(space, index)).collect());
        for top in 1..10 {
            let all = rank(searches.concat(), top);
            let keep = |entries: &Vec<Entry>| {
                let mut kept = Kept::new(top);
                entries.iter().for_each(|entry| kept.offer(entry.margin, || entry.clone()));
                kept.all()
            };
            let kept: Vec<Entry> = searches.iter().flat_map(keep).collect();
            assert_eq!(rank(kept, top), all);
            let firsts: Vec<Entry> = searches.iter().flat_map(|entries| rank(entries.clone(), top)).collect();
            lost += usize::from(rank(firsts, top) != all);
        }
    }
    assert!(lost > 10, "{lost}");
}

/// A pot that is exchanged is another pot: what it is off its mark says nothing of the one that is there now. Every margin of a built guitar is
/// that of a plain plan of the two guitars with their values changed by hand.
#[test]
fn an_exchanged_pot_is_off_its_mark_by_itself() {
    let present = inputs::guitar(Some("plover-bridge")).unwrap();
    let target = brighter(&present).target;
    for (change, own) in [
        ("volume=1M", "volume pot"),
        ("tone=1M", "tone pot"),
        ("no_load=true", "tone pot"),
        ("cable=500p", "cable"),
    ] {
        let mut build = present.clone();
        for alteration in tries(change) {
            alteration.apply(&mut build, "--try").unwrap();
        }
        let spreads = spreads(&build, &Tolerances::default(), None);
        let built = Built::new(&build, &present, &target, spreads.clone()).unwrap();
        let shared: Vec<Spread> = spreads.iter().filter(|spread| spread.name != own).cloned().collect();
        for number in 0..5 {
            let factor = |place: usize| 1.0 + 0.04 * f64::from((number * 7 + place as i32 * 3) % 5 - 2);
            let factors: Vec<f64> = (0..spreads.len()).map(factor).collect();
            let of_shared = spreads.iter().zip(&factors).filter(|(spread, _)| spread.name != own);
            let of_shared: Vec<f64> = of_shared.map(|(_, factor)| *factor).collect();
            let [off, now] = [
                with_factors(&build, &spreads, &factors),
                with_factors(&present, &shared, &of_shared),
            ];
            let plan = Plan::new(&off, &now, &target, &[]).unwrap();
            let expected = worst_point(&plan, Evaluator::new(&plan).powers(&[], &[])).unwrap().margin;
            assert_close(built.margins_at(&[factors])[0], expected, 1e-9, change);
        }
    }
}
