//! The recommender against a second one written as the definitions read (tests/support/naive.rs), over candidates enumerated here from the
//! lists of IEC 60063, on random guitars and targets; then the laws of the ranking that hold whatever the circuit is.

mod support;

use std::collections::{BTreeMap, BTreeSet};

use knobwright::curve::Curve;
use knobwright::guitar::{Guitar, Hookup, Joint, Slot};
use knobwright::parts::network::{Component, Kind, Network};
use knobwright::parts::stock::Stock;
use knobwright::recommend::{Build, Recommendation, Request, recommend};
use knobwright::source::Source;
use knobwright::target::{Against, Band, Clause, Measure, Over, Target, WantedCurve};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use support::*;

/// IEC 60063, two-digit values.
const E3: &[&str] = &["1.0", "2.2", "4.7"];
const E6: &[&str] = &["1.0", "1.5", "2.2", "3.3", "4.7", "6.8"];
const E12: &[&str] = &["1.0", "1.2", "1.5", "1.8", "2.2", "2.7", "3.3", "3.9", "4.7", "5.6", "6.8", "8.2"];

/// A key of `--values` or `--range` with what it says, once as text and once as numbers.
type SeriesKey = (&'static str, &'static str, &'static [&'static str]);
type RangeKey = (&'static str, &'static str, [f64; 2]);

/// What is asked of both recommenders.
#[derive(Clone, Copy, Default)]
struct Case {
    searches: &'static [(Slot, &'static str)],
    series: &'static [SeriesKey],
    ranges: &'static [RangeKey],
    /// kind, value as text and as a number, price, quantity
    stock: &'static [StockRow],
    with: &'static [(Slot, &'static str)],
    hookup: Option<Hookup>,
    joined_at: Option<Joint>,
    top: usize,
}

type StockRow = (Kind, &'static str, f64, Option<f64>, Option<usize>);

use Slot::{Bleed, Bypass, Series as InSeries, Tone};

const R: Kind = Kind::Resistor;
const C: Kind = Kind::Capacitor;

const BLEED_R: RangeKey = ("bleed.R", "22k..470k", [22e3, 470e3]);
const BLEED_C: RangeKey = ("bleed.C", "330p..4n7", [330e-12, 4.7e-9]);
const TONE_R: RangeKey = ("tone.R", "1k..47k", [1e3, 47e3]);
const TONE_C: RangeKey = ("tone.C", "1n..47n", [1e-9, 47e-9]);
const E3_E6: &[SeriesKey] = &[("R", "E3", E3), ("C", "E6", E6)];
const E6_E3: &[SeriesKey] = &[("R", "E6", E6), ("C", "E3", E3)];

/// Equal prices, unknown prices and single pieces among them.
const DRAWERS: &[StockRow] = &[
    (R, "47k", 47e3, Some(0.10), Some(1)),
    (R, "100k", 100e3, Some(0.10), Some(2)),
    (R, "120k", 120e3, None, None),
    (R, "220k", 220e3, Some(0.05), Some(1)),
    (R, "330k", 330e3, Some(0.05), Some(0)),
    (R, "2k2", 2.2e3, Some(0.10), None),
    (C, "470p", 470e-12, Some(0.30), Some(1)),
    (C, "1n", 1e-9, Some(0.30), Some(2)),
    (C, "1n5", 1.5e-9, None, Some(1)),
    (C, "2n2", 2.2e-9, Some(0.20), Some(1)),
    (C, "22n", 22e-9, Some(0.20), Some(0)),
    (C, "10n", 10e-9, Some(0.25), Some(1)),
];

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
            &[("C", "100p..15n", [100e-12, 15e-9])],
            30,
        ),
        stocked(
            &[(Bleed, "R1 + (R2 || C)"), (Bleed, "C")],
            &[("R", "40k..1M", [40e3, 1e6]), ("C", "400p..5n", [400e-12, 5e-9])],
            12,
        ),
    ]
}

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("case", text).passage()).unwrap()
}

fn fittings(texts: &[(Slot, &str)]) -> Vec<(Slot, Option<Network>)> {
    texts.iter().map(|(slot, text)| (*slot, network(text))).collect()
}

fn stock_csv(rows: &[StockRow]) -> String {
    let mut csv = "kind,value,tolerance,price,quantity,note\n".to_owned();
    for (kind, text, _, price, quantity) in rows {
        let word = if *kind == R { "resistor" } else { "capacitor" };
        let price = price.map_or(String::new(), |price| price.to_string());
        let quantity = quantity.map_or(String::new(), |quantity| quantity.to_string());
        csv.push_str(&format!("{word},{text},,{price},{quantity},\n"));
    }
    csv
}

/// Slot and name of every free part that is searched.
fn searched_parts(case: &Case) -> Vec<(Slot, String)> {
    let named = |(slot, text): &(Slot, &str)| {
        let network = network(text);
        let parts = network.iter().flat_map(Network::free_parts).map(|part| (*slot, part.name.clone()));
        parts.collect::<Vec<_>>()
    };
    case.searches.iter().flat_map(named).collect()
}

/// Whether a key says something about any of the parts: what is said about none is refused.
fn answers(parts: &[(Slot, String)], key: &str) -> bool {
    let keys = |(slot, name): &(Slot, String)| {
        [
            format!("{slot}.{name}"),
            name.clone(),
            format!("{slot}.{}", &name[..1]),
            name[..1].to_owned(),
        ]
    };
    parts.iter().any(|part| keys(part).iter().any(|fitting| fitting == key))
}

fn request(case: &Case, guitar: &Guitar, target: &Target) -> Request {
    let slots = Slot::ALL.map(Slot::word);
    let mut request = Request::new(guitar.clone(), target.clone());
    request.searches = fittings(case.searches);
    request.with = fittings(case.with);
    (request.hookup, request.joined_at, request.top) = (case.hookup, case.joined_at, case.top);
    let parts = searched_parts(case);
    for (key, name, _) in case.series.iter().filter(|said| answers(&parts, said.0)) {
        let text = Source::inline("--values", format!("{key}={name}"));
        request.rules.add_series(&text.passage(), &slots).unwrap();
    }
    for (key, range, _) in case.ranges.iter().filter(|said| answers(&parts, said.0)) {
        let text = Source::inline("--range", format!("{key}={range}"));
        request.rules.add_ranges(&text.passage(), &slots).unwrap();
    }
    if !case.stock.is_empty() {
        request.rules.stock = Some(Stock::read(&Source::inline("stock", stock_csv(case.stock))).unwrap());
    }
    request
}

/// What is said about a part by the first of SLOT.PART, PART, SLOT.KIND, KIND that is there.
fn said<T: Copy>(said: &[(&str, &str, T)], slot: Slot, name: &str) -> T {
    let kind = &name[..1];
    let keys = [format!("{slot}.{name}"), name.to_owned(), format!("{slot}.{kind}"), kind.to_owned()];
    let found = keys.iter().find_map(|key| said.iter().find(|(here, ..)| here == key));
    found.unwrap_or_else(|| panic!("nothing said about {slot}.{name}")).2
}

/// Every value a part may take, ascending.
fn values(case: &Case, slot: Slot, name: &str) -> Vec<f64> {
    let [low, high] = said(case.ranges, slot, name);
    let inside = |value: &f64| low * (1.0 - 1e-9) <= *value && *value <= high * (1.0 + 1e-9);
    if !case.stock.is_empty() {
        let kind = if name.starts_with('R') { R } else { C };
        let drawers = case.stock.iter().filter(|row| row.0 == kind && row.4 != Some(0));
        let mut values: Vec<f64> = drawers.map(|row| row.2).filter(inside).collect();
        values.sort_by(f64::total_cmp);
        return values;
    }
    let mantissas = said(case.series, slot, name);
    let decades = -12..7;
    let every = decades.flat_map(|decade| {
        mantissas
            .iter()
            .map(move |digits| format!("{digits}e{decade}").parse::<f64>().unwrap())
    });
    every.filter(inside).collect()
}

/// Groups of free parts, by their place in written order, of one kind and directly joined.
fn joined(network: &Network, next: &mut usize, groups: &mut Vec<Vec<usize>>) {
    match network {
        Network::Fixed(_) => {}
        Network::Free(_) => *next += 1,
        Network::Series(members) | Network::Parallel(members) => {
            let mut own: BTreeMap<Kind, Vec<usize>> = BTreeMap::new();
            for member in members {
                if let Network::Free(part) = member {
                    own.entry(part.kind).or_default().push(*next);
                }
                joined(member, next, groups);
            }
            groups.extend(own.into_values());
        }
    }
}

/// Every network that can be made of one with free parts; of interchangeable parts only the order that does not fall.
fn fillings(case: &Case, slot: Slot, free: Option<&Network>) -> Vec<Option<Network>> {
    let Some(free) = free else { return vec![None] };
    let choices: Vec<Vec<f64>> = free.free_parts().iter().map(|part| values(case, slot, &part.name)).collect();
    let mut groups = Vec::new();
    joined(free, &mut 0, &mut groups);
    let mut combinations = vec![Vec::new()];
    for choice in &choices {
        combinations = combinations
            .iter()
            .flat_map(|so_far: &Vec<f64>| choice.iter().map(|value| [so_far.as_slice(), &[*value]].concat()))
            .collect();
    }
    let falls = |values: &[f64]| {
        let pairs = groups
            .iter()
            .flat_map(|group| group.iter().flat_map(|a| group.iter().map(move |b| (*a, *b))));
        pairs
            .into_iter()
            .any(|(a, b)| a < b && choices[a] == choices[b] && values[a] > values[b])
    };
    combinations.retain(|values| !falls(values));
    combinations.into_iter().map(|values| Some(free.with_values(&values))).collect()
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * one.abs()
}

/// The row of the drawers that holds a part.
fn drawer(case: &Case, part: &Component) -> Option<&'static StockRow> {
    case.stock
        .iter()
        .find(|row| Some(row.0) == part.kind() && near(row.2, part.value()))
}

fn in_stock(case: &Case, parts: &[Component]) -> bool {
    parts.iter().all(|part| {
        let needed = parts
            .iter()
            .filter(|other| other.kind() == part.kind() && near(other.value(), part.value()))
            .count();
        drawer(case, part).and_then(|row| row.4).is_none_or(|quantity| needed <= quantity)
    })
}

/// The searches of a case with their candidates: every choice of one alternative (or none) a slot.
fn enumerated(case: &Case) -> Vec<(BTreeMap<Slot, String>, Vec<naive::Candidate>)> {
    let mut searches = vec![(BTreeMap::new(), vec![Vec::new()])];
    for slot in Slot::ALL {
        let mut texts: Vec<&str> = case
            .searches
            .iter()
            .filter(|search| search.0 == slot)
            .map(|search| search.1)
            .collect();
        if texts.is_empty() {
            continue;
        }
        texts.push("none");
        let mut longer = Vec::new();
        for (names, candidates) in &searches {
            for text in &texts {
                let fillings = fillings(case, slot, network(text).as_ref());
                let both = |so_far: &Vec<(Slot, Option<Network>)>| {
                    let so_far = so_far.clone();
                    fillings
                        .iter()
                        .map(move |filling| [so_far.as_slice(), &[(slot, filling.clone())]].concat())
                        .collect::<Vec<_>>()
                };
                let mut names: BTreeMap<Slot, String> = names.clone();
                names.insert(slot, (*text).to_owned());
                longer.push((names, candidates.iter().flat_map(both).collect()));
            }
        }
        searches = longer;
    }
    let candidate = |slots: Vec<(Slot, Option<Network>)>| {
        let parts: Vec<Component> = slots
            .iter()
            .filter_map(|slot| slot.1.as_ref())
            .flat_map(Network::components)
            .collect();
        let price = |part: &Component| drawer(case, part).and_then(|row| row.3);
        let cost = (!case.stock.is_empty()).then(|| parts.iter().map(price).sum()).flatten();
        naive::Candidate { slots, cost }
    };
    searches
        .into_iter()
        .map(|(names, all)| (names, all.into_iter().map(candidate).collect()))
        .collect()
}

fn buildable(case: &Case) -> Vec<naive::Candidate> {
    let parts = |candidate: &naive::Candidate| {
        candidate
            .slots
            .iter()
            .filter_map(|slot| slot.1.as_ref())
            .flat_map(Network::components)
            .collect::<Vec<_>>()
    };
    enumerated(case)
        .into_iter()
        .flat_map(|search| search.1)
        .filter(|candidate| in_stock(case, &parts(candidate)))
        .collect()
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
    for over in [Over::Every, Over::Mean] {
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
    if place(got.clause, got.volume, got.tone, got.frequency_hz) == place(wanted.clause, wanted.volume, wanted.tone, wanted.frequency_hz) {
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
        assert_close(build.volume_shift_db.abs(), expected.volume_shift_db.abs(), close::LEVEL_DB, &what);
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
        let target = Target {
            name: format!("pair {number}"),
            clauses: clauses.to_vec(),
        };
        let (compared, same) = compare(case, &guitar, &target);
        assert!(compared > 0);
        (pairs, builds, same_place) = (pairs + 1, builds + compared, same_place + same);
    }
    assert!(pairs >= 20, "{pairs}");
    assert!(builds > 1000, "{builds}");
    // Rounding decides between equals seldom.
    assert!(same_place * 10 >= builds * 9, "{same_place} of {builds}");
}

/// A target that the whole volume knob has a say in.
fn half_volume() -> Target {
    let phrase = "keep highs within 4 dB from full to half volume and keep level within 6 dB of present from full to half volume";
    Target::from_phrase(&Source::inline("target", phrase).passage()).unwrap()
}

fn answer(case: &Case, target: &Target) -> Recommendation {
    recommend(&request(case, &worked_guitar(), target), &()).unwrap()
}

fn largest_margin(result: &Recommendation) -> f64 {
    result.builds.iter().map(|build| build.margin_db).fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn the_answer_does_not_depend_on_the_number_of_threads() {
    let case = Case {
        searches: &[(Bleed, "R1 + (R2 || C)"), (Bleed, "R || C"), (Bleed, "C1 || C2")],
        series: &[("R", "E6", E6), ("C", "E6", E6)],
        ranges: &[("R", "1k..1M", [1e3, 1e6]), ("C", "100p..22n", [100e-12, 22e-9])],
        top: 10,
        ..Case::default()
    };
    for top in [1, 10, 100] {
        let texts = [1, 2, 7].map(|threads| {
            let mut request = request(&Case { top, ..case }, &worked_guitar(), &half_volume());
            request.threads = Some(threads);
            knobwright::report::json(&recommend(&request, &()).unwrap()).unwrap()
        });
        assert_eq!(texts[0].matches("\"rank\"").count(), top);
        assert!(texts.iter().all(|text| *text == texts[0]));
    }
}

#[test]
fn a_longer_list_begins_with_the_shorter_one() {
    let case = Case {
        searches: &[(Bleed, "R1 + (R2 || C)")],
        series: E3_E6,
        ranges: &[BLEED_R, BLEED_C],
        top: 200,
        ..Case::default()
    };
    let long = answer(&case, &half_volume());
    for top in [1, 2, 3, 10, 50] {
        assert_eq!(answer(&Case { top, ..case }, &half_volume()).builds, long.builds[..top]);
    }
}

#[test]
fn more_values_never_lower_the_best_margin() {
    let all: [SeriesKey; 3] = [("R", "E3", E3), ("R", "E6", E6), ("R", "E12", E12)];
    let mut before = f64::NEG_INFINITY;
    for (_, name, _) in all {
        let mut request = request(
            &Case {
                searches: &[(Bleed, "R + C")],
                top: 1000,
                ..Case::default()
            },
            &worked_guitar(),
            &half_volume(),
        );
        let text = Source::inline("--values", format!("R={name},C={name}"));
        request.rules.add_series(&text.passage(), &Slot::ALL.map(Slot::word)).unwrap();
        let best = largest_margin(&recommend(&request, &()).unwrap());
        assert!(best >= before, "{name}: {best} after {before}");
        before = best;
    }
    // A further alternative, and a wider range, are more values too.
    let narrow = Case {
        searches: &[(Bleed, "R || C")],
        series: E3_E6,
        ranges: &[BLEED_R, BLEED_C],
        top: 1000,
        ..Case::default()
    };
    let more = Case {
        searches: &[(Bleed, "R || C"), (Bleed, "R + C")],
        ..narrow
    };
    let wide = Case {
        ranges: &[("R", "1k..1M", [1e3, 1e6]), ("C", "100p..22n", [100e-12, 22e-9])],
        ..narrow
    };
    let [narrow, more, wide] = [narrow, more, wide].map(|case| largest_margin(&answer(&case, &half_volume())));
    assert!(more >= narrow && wide >= narrow, "{narrow} {more} {wide}");
}

#[test]
fn taking_away_a_value_that_was_not_chosen_changes_nothing() {
    const TOP: usize = 6;
    let all = Case {
        searches: &[(Bleed, "R || C"), (Bleed, "R + C")],
        ranges: &[("R", "10k..1M", [10e3, 1e6]), ("C", "100p..5n", [100e-12, 5e-9])],
        stock: DRAWERS,
        top: 1000,
        ..Case::default()
    };
    let whole = answer(&all, &half_volume());
    // A value that opens a group has a say in its order without standing among the first.
    let last = whole.builds[TOP - 1].margin_db - 0.01;
    let said: BTreeSet<u64> = whole
        .builds
        .iter()
        .filter(|build| build.margin_db >= last)
        .flat_map(|build| &build.parts.0)
        .map(|part| part.1.to_bits())
        .collect();
    let mut removed = 0;
    for row in DRAWERS.iter().filter(|row| !said.contains(&row.2.to_bits())) {
        let left: Vec<StockRow> = DRAWERS.iter().copied().filter(|other| other.1 != row.1).collect();
        let mut request = request(&all, &worked_guitar(), &half_volume());
        request.rules.stock = Some(Stock::read(&Source::inline("stock", stock_csv(&left))).unwrap());
        let without = recommend(&request, &()).unwrap();
        let listed = |builds: &[Build]| {
            builds[..TOP]
                .iter()
                .map(|build| (build.slots.clone(), build.margin_db, build.cost))
                .collect::<Vec<_>>()
        };
        assert_eq!(listed(&without.builds), listed(&whole.builds), "without {}", row.1);
        removed += 1;
    }
    assert!(removed >= 2, "{removed}");
}

#[test]
fn dropping_a_clause_never_lowers_a_margin() {
    let case = Case {
        searches: &[(Bleed, "R + C"), (Bleed, "R || C")],
        series: E3_E6,
        ranges: &[BLEED_R, BLEED_C],
        top: 1000,
        ..Case::default()
    };
    let target = half_volume();
    let margins = |target: &Target| -> BTreeMap<String, f64> {
        answer(&case, target)
            .builds
            .into_iter()
            .map(|build| (build.slots[&Bleed].clone(), build.margin_db))
            .collect()
    };
    let both = margins(&target);
    let alone: Vec<_> = target
        .clauses
        .iter()
        .map(|clause| {
            margins(&Target {
                name: target.name.clone(),
                clauses: vec![clause.clone()],
            })
        })
        .collect();
    assert_eq!(both.len(), alone[0].len());
    for (bleed, margin) in &both {
        assert!(alone.iter().all(|alone| alone[bleed] >= *margin), "{bleed}");
        // The margin of a build is the smallest over its clauses.
        assert_eq!(
            alone.iter().map(|alone| alone[bleed]).fold(f64::INFINITY, f64::min),
            *margin,
            "{bleed}"
        );
    }
}

/// At full volume a bleed network is shorted out, so that every build has the same margin and the rest of the order decides.
#[test]
fn equals_stand_in_the_order_of_parts_cost_values_and_writing() {
    let phrase = "cut highs by 1 to 2 dB at tone 0";
    let target = Target::from_phrase(&Source::inline("target", phrase).passage()).unwrap();
    let order = |case: Case| -> Vec<String> {
        let result = answer(&case, &target);
        result.builds.iter().map(|build| build.slots[&Bleed].clone()).collect()
    };
    let case = Case {
        searches: &[(Bleed, "R || C"), (Bleed, "C + R"), (Bleed, "R + C"), (Bleed, "C")],
        series: &[("R", "E3", E3), ("C", "E3", E3)],
        ranges: &[("R", "47k..100k", [47e3, 100e3]), ("C", "1n..2n2", [1e-9, 2.2e-9])],
        top: 100,
        ..Case::default()
    };
    let expected = [
        "none",
        "1n",
        "2n2",
        "1n + 47k",
        "1n + 100k",
        "2n2 + 47k",
        "2n2 + 100k",
        "47k + 1n",
        "47k || 1n",
        "47k + 2n2",
        "47k || 2n2",
        "100k + 1n",
        "100k || 1n",
        "100k + 2n2",
        "100k || 2n2",
    ];
    assert_eq!(order(case), expected);
    // Nothing costs nothing; then by cost, then those with a part of unknown price.
    let stocked = Case {
        searches: &[(Bleed, "C")],
        series: &[],
        ranges: &[("C", "100p..15n", [100e-12, 15e-9])],
        stock: DRAWERS,
        ..case
    };
    assert_eq!(order(stocked), ["none", "2n2", "10n", "470p", "1n", "1n5"]);
    // Two pieces of 1 nF are in stock, one of everything else, and none of 22 nF.
    let twice = Case {
        searches: &[(Bleed, "C1 || C2")],
        ..stocked
    };
    let expected = [
        "none",
        "2n2 || 10n",
        "470p || 2n2",
        "1n || 2n2",
        "470p || 10n",
        "1n || 10n",
        "470p || 1n",
        "1n || 1n",
        "470p || 1n5",
        "1n || 1n5",
        "1n5 || 2n2",
        "1n5 || 10n",
    ];
    assert_eq!(order(twice), expected);
}
