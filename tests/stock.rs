//! Searches from the drawer, against slow twins written here: every pair of a stock list enumerated as text and ranked by the naive
//! recommender (tests/support/naive.rs), and every purchase against a run of its own with that part added. Stock lists are drawn from a
//! fixed seed.

mod program;
mod support;

use std::fs;

use knobwright::guitar::Slot;
use knobwright::inputs;
use knobwright::kernel::plan::Plan;
use knobwright::parts::choice::Rules;
use knobwright::parts::network::{Component, Kind, Network};
use knobwright::parts::series::Series;
use knobwright::parts::stock::{Stock, StockedPart};
use knobwright::recommend::{Recommendation, Request, recommend};
use knobwright::search::exhaustive;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::source::Source;
use program::{refused, run_in, text, with};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::Value;
use support::*;

/// A row of a drawer: how its value is written, what that is, the price of one and how many there are.
#[derive(Debug, Clone, PartialEq)]
struct Row {
    kind: Kind,
    text: &'static str,
    value: f64,
    price: Option<f64>,
    quantity: Option<u32>,
}

/// Values as text and in Ω or F.
type Pool = &'static [(&'static str, f64)];

/// Standard values, values of no series, and some that are the sum or half of others.
const RESISTORS: [(&str, f64); 9] = [
    ("22k", 22e3),
    ("47k", 47e3),
    ("50k", 50e3),
    ("75k", 75e3),
    ("97k", 97e3),
    ("100k", 100e3),
    ("143k", 143e3),
    ("150k", 150e3),
    ("300k", 300e3),
];
const CAPACITORS: [(&str, f64); 8] = [
    ("220p", 220e-12),
    ("470p", 470e-12),
    ("500p", 500e-12),
    ("1n", 1e-9),
    ("1n18", 1.18e-9),
    ("1n22", 1.22e-9),
    ("2n", 2e-9),
    ("3n3", 3.3e-9),
];

fn draw<T>(runner: &mut TestRunner, strategy: &impl Strategy<Value = T>) -> T {
    strategy.new_tree(runner).unwrap().current()
}

fn rows(runner: &mut TestRunner, resistors: usize, capacitors: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    let pools: [(Kind, Pool, usize); 2] = [(Kind::Resistor, &RESISTORS, resistors), (Kind::Capacitor, &CAPACITORS, capacitors)];
    for (kind, pool, count) in pools {
        for (text, value) in draw(runner, &proptest::sample::subsequence(pool, count)) {
            let price = draw(
                runner,
                &prop_oneof![Just(None), Just(Some(0.05)), Just(Some(0.1)), Just(Some(0.15))],
            );
            let quantity = draw(
                runner,
                &prop_oneof![Just(None), Just(Some(1)), Just(Some(2)), Just(Some(3)), Just(Some(0))],
            );
            rows.push(Row {
                kind,
                text,
                value,
                price,
                quantity,
            });
        }
    }
    rows
}

fn csv(rows: &[Row]) -> String {
    let cell = |number: Option<String>| number.unwrap_or_default();
    let row = |row: &Row| {
        let (price, quantity) = (
            cell(row.price.map(|price| price.to_string())),
            cell(row.quantity.map(|count| count.to_string())),
        );
        format!("{},{},,{price},{quantity},\n", row.kind.word(), row.text)
    };
    let rows: String = rows.iter().map(row).collect();
    format!("kind,value,tolerance,price,quantity,note\n{rows}")
}

fn stock(rows: &[Row]) -> Stock {
    Stock::read(&Source::inline("drawer", csv(rows))).unwrap()
}

fn network(text: &str) -> Network {
    Network::read(&Source::inline("network", text).passage()).unwrap().unwrap()
}

const TARGET: &str = "keep highs within 3 dB at volume 5, 2.5 and keep level within 6 dB of present at volume 10, 7.5, 5";
/// What free parts may be here, in Ω and F.
const RANGES: (&str, [f64; 2], [f64; 2]) = ("R=40k..320k,C=400p..4n", [40e3, 320e3], [400e-12, 4e-9]);

fn request(rows: &[Row], searches: &[&str]) -> Request {
    let guitar = inputs::guitar(Some("wren-bridge")).unwrap();
    let mut request = Request::new(guitar, inputs::target(Some(TARGET)).unwrap());
    request.searches = searches.iter().map(|search| (Slot::Bleed, Some(network(search)))).collect();
    let slots = Slot::ALL.map(Slot::word);
    let uses = |letter: char| searches.iter().any(|search| search.contains(letter));
    for range in RANGES.0.split(',').filter(|range| range.chars().next().is_some_and(uses)) {
        request
            .rules
            .add_ranges(&Source::inline("--range", range).passage(), &slots)
            .unwrap();
    }
    request.rules.stock = Some(stock(rows));
    request.top = 1000;
    request.explain = false;
    request.at_any_price = true;
    request
}

/// One thing that a free part may be: its text, its value, and whether it is two parts.
#[derive(Debug, Clone, PartialEq)]
struct Filling {
    text: String,
    value: f64,
    is_pair: bool,
}

/// Everything a free part may be, by value and a single part first; `without` is the operator that no pair has.
fn fillings(rows: &[Row], kind: Kind, without: Option<&str>) -> Vec<Filling> {
    let mut rows: Vec<&Row> = rows.iter().filter(|row| row.kind == kind && row.quantity != Some(0)).collect();
    rows.sort_by(|one, other| one.value.total_cmp(&other.value));
    let mut fillings: Vec<Filling> = rows
        .iter()
        .map(|row| Filling {
            text: row.text.to_owned(),
            value: row.value,
            is_pair: false,
        })
        .collect();
    for operator in ["+", "||"].into_iter().filter(|operator| Some(*operator) != without) {
        for (index, larger) in rows.iter().enumerate() {
            for smaller in &rows[..=index] {
                let (a, b) = (smaller.value, larger.value);
                let adds = (kind == Kind::Resistor) == (operator == "+");
                fillings.push(Filling {
                    text: format!("({} {operator} {})", smaller.text, larger.text),
                    value: if adds { a + b } else { 1.0 / (1.0 / a + 1.0 / b) },
                    is_pair: true,
                });
            }
        }
    }
    let [low, high] = if kind == Kind::Resistor { RANGES.1 } else { RANGES.2 };
    fillings.retain(|filling| low * (1.0 - 1e-12) <= filling.value && filling.value <= high * (1.0 + 1e-12));
    fillings.sort_by(|one, other| one.value.total_cmp(&other.value));
    fillings
}

/// A pair of a value that a drawer full of single parts holds is not tried: `most` pieces are enough for any build.
fn is_idle(filling: &Filling, fillings: &[Filling], rows: &[Row], most: usize) -> bool {
    let is_plenty = |single: &Filling| {
        let row = rows.iter().find(|row| row.text == single.text).unwrap();
        row.quantity.is_none_or(|quantity| quantity as usize >= most)
    };
    let same = |single: &&Filling| (single.value / filling.value - 1.0).abs() < 1e-12;
    filling.is_pair
        && fillings
            .iter()
            .filter(|other| !other.is_pair)
            .any(|single| same(&single) && is_plenty(single))
}

/// A network with free parts as a text, the names of its free parts, the operator that joins each with another of its kind, and whether
/// the two are interchangeable.
struct Form {
    text: &'static str,
    parts: &'static [(&'static str, Option<&'static str>)],
}

const FORMS: [Form; 6] = [
    Form {
        text: "C",
        parts: &[("C", None)],
    },
    Form {
        text: "R || C",
        parts: &[("R", None), ("C", None)],
    },
    Form {
        text: "R + C",
        parts: &[("R", None), ("C", None)],
    },
    Form {
        text: "100k || C",
        parts: &[("C", None)],
    },
    Form {
        text: "C1 || C2",
        parts: &[("C1", Some("||")), ("C2", Some("||"))],
    },
    Form {
        text: "100k + (R || C)",
        parts: &[("R", None), ("C", None)],
    },
];

struct Enumerated {
    candidate: naive::Candidate,
    is_idle: bool,
}

fn enumerated(form: &Form, rows: &[Row]) -> Vec<Enumerated> {
    let most = network(form.text).part_count() + form.parts.len();
    let kind = |name: &str| if name.starts_with('R') { Kind::Resistor } else { Kind::Capacitor };
    let choices: Vec<Vec<Filling>> = form
        .parts
        .iter()
        .map(|(name, without)| fillings(rows, kind(name), *without))
        .collect();
    let mut combinations: Vec<Vec<usize>> = vec![Vec::new()];
    for fillings in &choices {
        let longer = combinations
            .iter()
            .flat_map(|so_far| (0..fillings.len()).map(move |next| [so_far.as_slice(), &[next]].concat()));
        combinations = longer.collect();
    }
    if form.parts.len() == 2 && form.parts[0].1.is_some() {
        combinations.retain(|combination| combination[0] <= combination[1]);
    }
    let candidate = |combination: Vec<usize>| {
        let mut text = form.text.to_owned();
        let chosen: Vec<&Filling> = combination
            .iter()
            .zip(&choices)
            .map(|(index, fillings)| &fillings[*index])
            .collect();
        for ((name, _), filling) in form.parts.iter().zip(&chosen) {
            text = text.replace(name, &filling.text);
        }
        let network = network(&text);
        Enumerated {
            candidate: naive::Candidate {
                cost: cost(&network.components(), rows),
                slots: vec![(Slot::Bleed, Some(network))],
            },
            is_idle: chosen
                .iter()
                .zip(&choices)
                .any(|(filling, fillings)| is_idle(filling, fillings, rows, most)),
        }
    };
    combinations.into_iter().map(candidate).collect()
}

fn row<'r>(part: &Component, rows: &'r [Row]) -> Option<&'r Row> {
    rows.iter()
        .find(|row| Some(row.kind) == part.kind() && (row.value / part.value() - 1.0).abs() < 1e-12)
}

/// To the cent, so that equal sums are equal.
fn cost(parts: &[Component], rows: &[Row]) -> Option<f64> {
    let prices: Option<Vec<f64>> = parts.iter().map(|part| row(part, rows)?.price).collect();
    prices.map(|prices| (prices.iter().sum::<f64>() * 100.0).round() / 100.0)
}

fn suffices(parts: &[Component], rows: &[Row]) -> bool {
    parts.iter().all(|part| {
        let needed = parts.iter().filter(|other| *other == part).count();
        row(part, rows)
            .and_then(|row| row.quantity)
            .is_none_or(|quantity| needed <= quantity as usize)
    })
}

fn parts_of(candidate: &naive::Candidate) -> Vec<Component> {
    candidate
        .slots
        .iter()
        .filter_map(|slot| slot.1.as_ref())
        .flat_map(Network::components)
        .collect()
}

fn written(candidate: &naive::Candidate) -> String {
    candidate.slots[0].1.as_ref().map_or("none".to_owned(), ToString::to_string)
}

/// The naive list, without what the search may pass over; each of those must stand behind an equal build of fewer parts.
fn naive_list(request: &Request, all: Vec<Enumerated>) -> Vec<naive::Ranked> {
    let idle: Vec<String> = all.iter().filter(|one| one.is_idle).map(|one| written(&one.candidate)).collect();
    let candidates = all.into_iter().map(|one| one.candidate).collect();
    let ranked = naive::rank(&request.guitar, &request.guitar, &request.target, candidates);
    for (place, build) in ranked
        .iter()
        .enumerate()
        .filter(|(_, build)| idle.contains(&written(&build.candidate)))
    {
        let simpler = |other: &&naive::Ranked| {
            (other.margin_db - build.margin_db).abs() < 1e-9 && parts_of(&other.candidate).len() < parts_of(&build.candidate).len()
        };
        assert!(ranked[..place].iter().any(|other| simpler(&other)), "{}", written(&build.candidate));
    }
    ranked
        .into_iter()
        .filter(|build| !idle.contains(&written(&build.candidate)))
        .collect()
}

fn assert_same_list(result: &Recommendation, expected: &[naive::Ranked], what: &str) {
    assert_eq!(result.builds.len(), expected.len().min(1000), "{what}");
    for (build, expected) in result.builds.iter().zip(expected) {
        let what = format!("{what}: row {}", build.rank);
        assert_eq!(build.slots[&Slot::Bleed], written(&expected.candidate), "{what}");
        assert_close(build.margin_db, expected.margin_db, close::LEVEL_DB, &what);
        assert_close(build.rms_db, expected.rms_db, close::LEVEL_DB, &what);
        assert_eq!(build.part_count, parts_of(&expected.candidate).len(), "{what}");
        assert_eq!(build.cost.is_some(), expected.candidate.cost.is_some(), "{what}");
        assert_close(
            build.cost.unwrap_or(0.0),
            expected.candidate.cost.unwrap_or(0.0),
            close::LEVEL_DB,
            &what,
        );
        let pieces: usize = build.items.iter().map(|item| item.quantity).sum();
        assert_eq!(pieces, build.part_count, "{what}");
    }
}

#[test]
fn pairs_are_what_a_naive_enumeration_finds() {
    let mut runner = random::runner(11);
    let (mut lists, mut builds, mut in_pairs, mut scarce) = (0, 0, 0, 0);
    while lists < 18 {
        let form = &FORMS[lists % FORMS.len()];
        let rows = rows(&mut runner, 4, 4);
        let all = enumerated(form, &rows);
        if all.is_empty() {
            continue;
        }
        let mut request = request(&rows, &[form.text]);
        request.rules.pairs = true;
        let result = recommend(&request, &()).unwrap();
        let counted = all.iter().filter(|one| !one.is_idle).count();
        assert_eq!(result.search[0].candidates, counted as u64, "{}: {rows:?}", form.text);
        let none = naive::Candidate {
            slots: vec![(Slot::Bleed, None)],
            cost: Some(0.0),
        };
        let before = all.len();
        let mut all: Vec<Enumerated> = all.into_iter().filter(|one| suffices(&parts_of(&one.candidate), &rows)).collect();
        scarce += before - all.len();
        all.push(Enumerated {
            candidate: none,
            is_idle: false,
        });
        let expected = naive_list(&request, all);
        assert_same_list(&result, &expected, &format!("{} from {rows:?}", form.text));
        builds += result.builds.len();
        in_pairs += result.builds.iter().filter(|build| !build.pairs.is_empty()).count();
        lists += 1;
    }
    assert!(builds > 1000 && in_pairs > 500 && scarce > 200, "{builds} {in_pairs} {scarce}");
}

#[test]
fn a_few_of_many_are_the_first_of_all() {
    let mut runner = random::runner(12);
    for _ in 0..6 {
        let rows = rows(&mut runner, 5, 5);
        let mut request = request(&rows, &["R || C", "R + C"]);
        request.rules.pairs = true;
        let Ok(all) = recommend(&request, &()) else { continue };
        request.top = 4;
        let few = recommend(&request, &()).unwrap();
        assert_eq!(few.builds.len(), 4);
        let slots = |result: &Recommendation| result.builds.iter().take(4).map(|build| build.slots.clone()).collect::<Vec<_>>();
        assert_eq!(slots(&few), slots(&all), "{rows:?}");
    }
}

/// Tens of thousands of candidates, most of them discarded by proof, against every one evaluated by the definition.
#[test]
fn the_fast_search_over_pairs_equals_its_slow_twin() {
    let guitar = inputs::guitar(Some("wren-bridge")).unwrap();
    let target = inputs::target(Some(TARGET)).unwrap();
    let plan = Plan::new(&guitar, &guitar, &target, &[Slot::Bleed]).unwrap();
    for range in ["R=70k..160k,C=1n..2n", "R=500k..1M,C=100p..250p"] {
        let mut rules = Rules {
            stock: Some(inputs::stock("small-workshop").unwrap()),
            pairs: true,
            ..Rules::default()
        };
        rules.add_ranges(&Source::inline("--range", range).passage(), &["bleed"]).unwrap();
        let space = |text| SlotSpace::new(Slot::Bleed, Some(network(text)), &rules).unwrap();
        let spaces = ["R || C", "R + C"].map(|text| Space { slots: vec![space(text)] });
        let stock = rules.stock.as_ref();
        let found = exhaustive::search(&plan, &spaces, stock, 12, &());
        assert_eq!(found.entries, exhaustive::search_by_definition(&plan, &spaces, stock, 12));
        let count: u64 = spaces.iter().map(Space::count).sum();
        let evaluated: f64 = found.evaluated.iter().sum();
        assert!(count > 10_000 && evaluated < 0.5 * count as f64, "{evaluated} of {count}");
    }
}

#[test]
fn two_of_one_row_need_two_pieces_wherever_they_go() {
    let one_piece = |quantity| {
        vec![Row {
            kind: Kind::Capacitor,
            text: "1n",
            value: 1e-9,
            price: None,
            quantity,
        }]
    };
    let builds = |quantity, search: &'static str| -> Vec<String> {
        let mut request = request(&one_piece(quantity), &[search]);
        request.rules.pairs = true;
        let result = recommend(&request, &()).unwrap();
        let mut builds: Vec<String> = result.builds.iter().map(|build| build.slots[&Slot::Bleed].clone()).collect();
        builds.sort();
        builds
    };
    assert_eq!(builds(Some(1), "C"), ["1n", "none"]);
    assert_eq!(builds(Some(2), "C"), ["1n", "1n + 1n", "1n || 1n", "none"]);
    // In parallel with 1 n, both ways of a pair; written out flat where it is a parallel in a parallel.
    assert_eq!(builds(Some(2), "1n || C"), ["1n || 1n", "none"]);
    assert_eq!(builds(None, "1n || C"), ["1n || (1n + 1n)", "1n || 1n", "1n || 1n || 1n", "none"]);
}

#[test]
fn a_pair_is_written_out_and_has_its_value() {
    let rows: Vec<Row> = [
        ("120k", Kind::Resistor, 120e3),
        ("1n", Kind::Capacitor, 1e-9),
        ("220p", Kind::Capacitor, 220e-12),
    ]
    .map(|(text, kind, value)| Row {
        kind,
        text,
        value,
        price: Some(0.1),
        quantity: Some(5),
    })
    .to_vec();
    let mut request = request(&rows, &["R || C"]);
    request.rules.pairs = true;
    let result = recommend(&request, &()).unwrap();
    let build = result
        .builds
        .iter()
        .find(|build| build.slots[&Slot::Bleed] == "120k || 220p || 1n")
        .unwrap_or_else(|| panic!("{:?}", result.builds.iter().map(|build| &build.slots).collect::<Vec<_>>()));
    assert_eq!(build.parts.0, [("bleed.R".to_owned(), 120e3), ("bleed.C".to_owned(), 1.22e-9)]);
    assert_eq!(build.pairs["bleed.C"], "220p || 1n");
    assert_eq!((build.part_count, build.cost), (3, Some(0.3)));
}

fn best_margin(result: &Recommendation) -> f64 {
    result.builds.iter().map(|build| build.margin_db).fold(f64::NEG_INFINITY, f64::max)
}

/// What is advised to buy is what a run of its own finds with one piece of that part in the drawer, and nothing else would gain more.
#[test]
fn purchases_are_what_runs_with_the_part_added_find() {
    let mut runner = random::runner(13);
    let (mut listed, mut missing) = (0, 0);
    for round in 0..10 {
        let rows = rows(&mut runner, 4, 3);
        let searches: &[&str] = [&["R || C"][..], &["100k + (R || C)", "C"], &["C1 || C2"]][round % 3];
        let mut request = request(&rows, searches);
        request.top = 3;
        let Ok(best) = recommend(&request, &()).map(|result| best_margin(&result)) else {
            continue;
        };
        let mut gains: Vec<(Kind, f64, Recommendation)> = Vec::new();
        for (kind, series, [low, high]) in [(Kind::Resistor, Series::E24, RANGES.1), (Kind::Capacitor, Series::E12, RANGES.2)] {
            let own: Vec<f64> = rows
                .iter()
                .filter(|row| row.kind == kind && row.quantity != Some(0))
                .map(|row| row.value)
                .collect();
            for value in series.values(low, high).into_iter().filter(|value| !own.contains(value)) {
                let mut with_part = request.clone();
                let piece = StockedPart {
                    kind,
                    value,
                    tolerance: None,
                    price: None,
                    quantity: Some(1),
                    note: String::new(),
                };
                with_part.rules.stock.as_mut().unwrap().rows.push(piece);
                gains.push((kind, value, recommend(&with_part, &()).unwrap()));
            }
        }
        request.explain = true;
        let purchases = recommend(&request, &()).unwrap().purchases;
        for purchase in &purchases {
            let own = |(kind, value, _): &&(Kind, f64, Recommendation)| (*kind, *value) == (purchase.buy.kind, purchase.buy.value);
            let (_, _, run) = gains.iter().find(own).unwrap();
            assert_eq!((&purchase.slots, &purchase.parts), (&run.builds[0].slots, &run.builds[0].parts));
            assert_close(purchase.margin_db, run.builds[0].margin_db, close::LEVEL_DB, "purchase");
            assert_close(purchase.gain_db, run.builds[0].margin_db - best, close::LEVEL_DB, "gain");
            assert!(purchase.gain_db >= 0.1 && purchase.meets_target == (purchase.margin_db >= 0.0));
        }
        assert!(purchases.is_sorted_by(|one, other| one.margin_db >= other.margin_db));
        // Margins within a group's width count as equal.
        let least = match purchases.as_slice() {
            [_, _, last] => last.margin_db,
            _ => best + 0.1,
        };
        let bought = |kind, value| {
            purchases
                .iter()
                .any(|purchase| (purchase.buy.kind, purchase.buy.value) == (kind, value))
        };
        // What a network fixes is no free part to be bought.
        let is_fixed = |kind, value| kind == Kind::Resistor && value == 100e3 && searches.iter().any(|search| search.contains("100k"));
        for (kind, value, run) in gains.iter().filter(|gain| !bought(gain.0, gain.1) && !is_fixed(gain.0, gain.1)) {
            assert!(run.builds[0].margin_db <= least + 0.01, "{kind:?} {value} in {rows:?}");
        }
        listed += purchases.len();
        missing += usize::from(purchases.len() < 3);
    }
    assert!(listed >= 10 && missing < 10, "{listed} {missing}");
}

const ONE: &str = "kind,value,tolerance,price,quantity,note\nresistor,143k,1 %,0.06,1,own value\ncapacitor,1n,5 %,0.18,1,\n";
const OTHER: &str = "kind,value,tolerance,price,quantity,note\nresistor,143k,5 %,0.02,1,\ncapacitor,2n2,10 %,0.30,4,=film\n";

fn in_folder(arguments: &[&str]) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("one.csv"), ONE).unwrap();
    fs::write(folder.path().join("other.csv"), OTHER).unwrap();
    let output = run_in(folder.path(), arguments);
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

fn answer(arguments: &[&str]) -> Value {
    let (status, printed, told) = in_folder(&with(arguments, &["--format", "json", "--top", "100", "--at-any-price"]));
    assert!(matches!(status, Some(0 | 1)), "{told}");
    serde_json::from_str(&printed).unwrap()
}

#[test]
fn several_lists_are_one_drawer() {
    let search = ["recommend", "--search", "bleed=R1 + R2", "--stock", "one.csv"];
    let slots = |answer: &Value| -> Vec<String> {
        let builds = answer["builds"].as_array().unwrap().iter();
        builds.map(|build| build["slots"]["bleed"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(slots(&answer(&search)), ["none"], "one piece is no two");
    let both = answer(&with(&search, &["--stock", "other.csv"]));
    let joined = both["builds"]
        .as_array()
        .unwrap()
        .iter()
        .find(|build| build["slots"]["bleed"] == "143k + 143k")
        .unwrap();
    assert_eq!(joined["cost"], 0.08);
    let items = joined["items"].as_array().unwrap();
    assert_eq!(items.len(), 1);
    assert_eq!((&items[0]["quantity"], &items[0]["tolerance"]), (&2.into(), &0.05.into()));
    assert_eq!((&items[0]["unit_price"], &items[0]["in_stock"]), (&0.04.into(), &true.into()));
    let capacitors = answer(&["recommend", "--search", "bleed=C", "--stock", "one.csv", "--stock", "other.csv"]);
    assert_eq!(slots(&capacitors).len(), 3);
}

#[test]
fn a_pair_in_the_answer_and_in_the_shopping_list() {
    let asked = [
        "recommend",
        "--search",
        "bleed=R || C",
        "--stock",
        "one.csv",
        "--stock",
        "other.csv",
        "--pairs",
    ];
    let json = answer(&asked);
    assert_eq!(json["search"][0]["values"]["bleed.C"], "stock, pairs");
    let build = json["builds"]
        .as_array()
        .unwrap()
        .iter()
        .find(|build| build["slots"]["bleed"] == "143k || 1n || 2n2")
        .unwrap();
    assert_eq!(
        (&build["parts"]["bleed.C"], &build["pairs"]["bleed.C"]),
        (&3.2e-9.into(), &"1n || 2n2".into())
    );
    let (_, csv, _) = in_folder(&with(&asked, &["--format", "csv", "--top", "100", "--at-any-price"]));
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let cell = |row: &csv::StringRecord, name: &str| {
        row.get(header.iter().position(|column| column == name).unwrap())
            .unwrap()
            .to_owned()
    };
    let own: Vec<Vec<String>> = rows
        .iter()
        .filter(|row| cell(row, "network") == "143k || 1n || 2n2")
        .map(|row| {
            [
                "part",
                "kind",
                "value_si",
                "iec_60062",
                "capacitor_code",
                "quantity",
                "tolerance",
                "unit_price",
                "in_stock",
            ]
            .map(|name| cell(row, name))
            .to_vec()
        })
        .collect();
    assert_eq!(
        own,
        [
            ["bleed.R", "resistor", "143000", "143K", "", "1", "0.05", "0.02", "true"],
            ["bleed.C", "capacitor", "0.000000001", "1n", "102", "1", "0.05", "0.18", "true"],
            ["bleed.C", "capacitor", "0.0000000022", "2n2", "222", "1", "0.1", "0.3", "true"],
        ]
    );
    let none: Vec<&csv::StringRecord> = rows.iter().filter(|row| cell(row, "network") == "none").collect();
    assert_eq!(none.len(), 1);
    assert_eq!((cell(none[0], "quantity"), cell(none[0], "part")), ("0".to_owned(), String::new()));
    let rank = |row: &csv::StringRecord| cell(row, "rank").parse::<u64>().unwrap();
    // The pieces of a build times their prices are its cost.
    for build in json["builds"].as_array().unwrap().iter().filter(|build| build["cost"].is_f64()) {
        let own = rows.iter().filter(|row| rank(row) == build["rank"] && cell(row, "quantity") != "0");
        let number = |row, name| cell(row, name).parse::<f64>().unwrap();
        let sum: f64 = own.map(|row| number(row, "quantity") * number(row, "unit_price")).sum();
        assert!((sum - build["cost"].as_f64().unwrap()).abs() < 1e-9, "{build}");
    }
}

#[test]
fn what_would_help_is_said_in_words_and_as_data() {
    let asked = ["recommend", "--search", "bleed=R || C", "--stock", "one.csv"];
    let purchases = answer(&asked)["purchases"].as_array().unwrap().clone();
    assert!(!purchases.is_empty() && purchases.len() <= 3);
    let (_, printed, _) = in_folder(&with(&asked, &["--explain"]));
    let words = printed.split_whitespace().collect::<Vec<_>>().join(" ");
    let gain = purchases[0]["gain_db"].as_f64().unwrap();
    assert!(
        words.contains("Buying a") && words.contains(&format!("would gain {gain:.1} dB")),
        "{printed}"
    );
    for purchase in &purchases {
        assert!(
            words.contains(&format!("(bleed {}, margin", purchase["slots"]["bleed"].as_str().unwrap())),
            "{printed}"
        );
    }
    assert_eq!(
        answer(&["recommend", "--search", "bleed=C"])["purchases"],
        serde_json::json!([]),
        "no stock list"
    );
}

#[test]
fn options_that_do_not_go_together_are_refused() {
    assert!(refused(&["recommend", "--pairs"]).contains("--stock"));
    assert!(refused(&["recommend", "--pairs", "--stock", "small-workshop", "--values", "R=E12"]).contains("cannot be used with"));
    let twice = refused(&["recommend", "--stock", "small-workshop", "--stock", "small-workshop"]);
    assert!(twice.contains("`small-workshop` is given twice"), "{twice}");
    let huge = refused(&[
        "recommend",
        "--stock",
        "small-workshop",
        "--pairs",
        "--search",
        "bleed=R1 + (R2 || C)",
    ]);
    assert!(
        huge.contains("candidates are more than 20,000,000") && huge.contains("no --pairs"),
        "{huge}"
    );
    let long = "bleed=1n || 1n || 1n || 1n || 1n || 1n || 1n || 1n || 1n || 1n || 1n || 1n || 1n || C1 || C2";
    let long = refused(&["recommend", "--stock", "small-workshop", "--pairs", "--search", long]);
    assert!(long.contains("could have 17 parts; 16 is the most"), "{long}");
}

#[test]
fn where_the_target_decides_pairs_keep_within_what_is_searched() {
    for target in ["highs-and-feel", "cut highs by 6 to 12 dB at tone 0 and keep highs"] {
        let asked = [
            "recommend",
            "--target",
            target,
            "--stock",
            "small-workshop",
            "--top",
            "1",
            "--format",
            "json",
        ];
        let margin = |more: &[&str]| -> (f64, u64) {
            let output = program::run(&with(&asked, more));
            let answer: Value = serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", text(&output.stderr)));
            let counts = answer["search"]
                .as_array()
                .unwrap()
                .iter()
                .map(|space| space["candidates"].as_u64().unwrap());
            (answer["builds"][0]["margin_db"].as_f64().unwrap(), counts.sum())
        };
        let ((single, few), (pairs, many)) = (margin(&[]), margin(&["--pairs"]));
        assert!(few < many && many <= 20_000_000, "{few} {many}");
        // Pairs add builds and take none away.
        assert!(pairs >= single - 0.01, "{pairs} {single}");
    }
}
