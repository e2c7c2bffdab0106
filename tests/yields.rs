//! Yields as a user meets them: keys, order, the same bytes however often and on however many threads, and every refusal. The figures
//! themselves are held against independent ones in `tolerance.rs`; these are the promises of the README.

mod program;
mod support;

use program::*;
use serde_json::Value;
use support::{assert_close, close};

const SEARCH: [&str; 4] = ["recommend", "--quiet", "--search", "bleed=R || C"];
/// Tight enough for yields between none and all.
const TIGHT: [&str; 2] = [
    "--target",
    "keep highs within 3.4 dB from full to half volume and keep level within 6 dB of present from full to half volume",
];

fn builds(answer: &Value) -> &Vec<Value> {
    answer["builds"].as_array().unwrap()
}

fn share(build: &Value) -> f64 {
    build["yield"]["share"].as_f64().unwrap()
}

#[test]
fn every_listed_build_has_its_yield() {
    let answer: Value = serde_json::from_slice(&run(&with(&with(&SEARCH, &TIGHT), &["--format", "json"])).stdout).unwrap();
    for build in builds(&answer) {
        let found = &build["yield"];
        assert_eq!(found["builds"], 10_000);
        let (meeting, share) = (found["meeting"].as_u64().unwrap() as f64, share(build));
        assert_eq!(meeting / 10_000.0, share);
        let ends: Vec<f64> = found["interval95"]
            .as_array()
            .unwrap()
            .iter()
            .map(|end| end.as_f64().unwrap())
            .collect();
        assert!(ends[0] <= share && share <= ends[1] && ends[1] - ends[0] < 0.02, "{found}");
    }
    assert!(builds(&answer).iter().any(|build| (0.02..0.98).contains(&share(build))));
    let values: Vec<&str> = answer["tolerances"]
        .as_array()
        .unwrap()
        .iter()
        .map(|drawn| drawn["value"].as_str().unwrap())
        .collect();
    assert!(values.contains(&"volume pot") && values.contains(&"bleed.C"), "{values:?}");
}

#[test]
fn without_built_guitars_there_is_no_yield() {
    let arguments = with(&SEARCH, &["--builds", "0", "--random-seed", "7"]);
    let answer: Value = serde_json::from_slice(&run(&with(&arguments, &["--format", "json"])).stdout).unwrap();
    assert!(builds(&answer).iter().all(|build| build["yield"].is_null()));
    let table = text(&run(&arguments).stdout);
    assert!(!table.contains("works in") && !table.contains("In how many builds"), "{table}");
}

#[test]
fn the_same_bytes_come_out_for_any_number_of_threads() {
    let arguments = with(&with(&SEARCH, &TIGHT), &["--builds", "3000", "--format", "json"]);
    let of = |more: &[&str]| text(&run(&with(&arguments, more)).stdout);
    let one = of(&["--threads", "1"]);
    assert_eq!(one, of(&["--threads", "2"]));
    assert_eq!(one, of(&["--threads", "7"]));
    assert_ne!(one, of(&["--random-seed", "8"]));
    assert_ne!(one, of(&["--law", "normal"]));
}

#[test]
fn builds_rank_by_yield_on_request() {
    let arguments = with(&with(&SEARCH, &TIGHT), &["--builds", "1500", "--top", "20", "--format", "json"]);
    let of = |more: &[&str]| -> Value { serde_json::from_slice(&run(&with(&arguments, more)).stdout).unwrap() };
    let (by_margin, by_yield) = (of(&[]), of(&["--rank-by", "yield"]));
    let shares: Vec<f64> = builds(&by_yield).iter().map(share).collect();
    assert!(shares.windows(2).all(|pair| pair[0] >= pair[1]), "{shares:?}");
    assert_eq!(shares.len(), 20);
    let best = builds(&by_margin).iter().map(share).fold(0.0, f64::max);
    assert!(shares[0] >= best, "{} and {best}", shares[0]);
    assert_eq!(by_yield["ranked_by"], "yield");
    let table = text(
        &run(&with(
            &with(&SEARCH, &TIGHT),
            &["--builds", "300", "--rank-by", "yield", "--explain"],
        ))
        .stdout,
    );
    assert!(table.replace("\n  ", " ").contains("That ranks the list"), "{table}");
}

/// Inside a group of margins the higher yield goes first, also in one that the list's end cuts through: a list is the head of a longer one.
#[test]
fn yields_order_a_group_of_margins() {
    let arguments = with(&with(&SEARCH, &TIGHT), &["--builds", "500"]);
    let of = |top: &str| json(&with(&arguments, &["--top", top]), 0)["builds"].as_array().unwrap().clone();
    let (short, long) = (of("9"), of("40"));
    let figures = |builds: &[Value]| -> Vec<(f64, f64)> {
        builds
            .iter()
            .map(|build| (build["margin_db"].as_f64().unwrap(), share(build)))
            .collect()
    };
    assert_eq!(figures(&short)[..], figures(&long)[..9]);
    let mut rest = &figures(&long)[..];
    let mut together = 0;
    while let Some(best) = rest.iter().map(|one| one.0).reduce(f64::max) {
        let count = rest.iter().take_while(|one| best - one.0 <= 0.01).count();
        let (group, others) = rest.split_at(count);
        assert!(group.windows(2).all(|pair| pair[0].1 >= pair[1].1), "{group:?}");
        together += group.len() - 1;
        rest = others;
    }
    assert!(together >= 3, "{together} pairs in a group");
}

#[test]
fn what_makes_no_sense_is_refused() {
    for (more, expected) in [
        (&["--tolerance", "bleed.X=5%"][..], "bleed.X"),
        (&["--tolerance", "pickups=5%"], "did you mean `pickup`"),
        (&["--tolerance", "R=100%"], "0 up to below 100 %"),
        (&["--tolerance", "R=5"], "write percent as `5 %`"),
        (&["--tolerance", "R=5%,R=1%"], "given twice"),
        (&["--tolerance", "volume=5%", "--tolerance", "volume=1%"], "given twice"),
        (&["--tolerance", "R"], "no `=` here"),
        (&["--precision", "0%"], "between 0 and 100 %"),
        (&["--precision", "1"], "write percent as `1 %`"),
        (&["--rank-by", "yield", "--builds", "0"], "draws none"),
    ] {
        let told = refused(&with(&["recommend"], more));
        assert!(told.contains(expected), "{more:?}: {told}");
    }
    let told = refused(&["tolerance", "--builds", "0"]);
    assert!(told.contains("needs built guitars"), "{told}");
    let told = refused(&["tolerance", "--build", "bleed=R || 1n"]);
    assert!(told.contains("`R` has no value"), "{told}");
}

const DEPTH: [&str; 4] = ["tolerance", "--quiet", "--build", "bleed=150k || 820p"];

#[test]
fn one_build_is_looked_into() {
    let table = ends(&DEPTH, 0);
    assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
    for words in [
        "it works in ",
        "How many builds have how much to spare",
        "volume pot",
        "The worst found",
        "worst",
    ] {
        assert!(table.contains(words), "{words}: {table}");
    }
    let answer = json(&DEPTH, 0);
    assert_eq!(answer["fitted"]["bleed"], "150k || 820p");
    let values = answer["values"].as_array().unwrap();
    assert!(values.len() >= 8, "{values:?}");
    let shares: Vec<f64> = values.iter().map(|value| value["share_if_exact"].as_f64().unwrap()).collect();
    assert!(shares.windows(2).all(|pair| pair[0] >= pair[1]), "{shares:?}");
    let csv = ends(&with(&DEPTH, &["--format", "csv"]), 0);
    assert!(csv.starts_with("value,nominal,tolerance,share_if_exact,misses_removed\n"), "{csv}");
    assert_eq!(csv.lines().count(), values.len() + 1);
    // Without a build of one's own, the first of the recommendation is looked into.
    let first = json(&["recommend", "--quiet", "--builds", "0"], 0);
    let looked = json(&["tolerance", "--quiet", "--builds", "500"], 0);
    assert_eq!(looked["fitted"]["bleed"], first["builds"][0]["slots"]["bleed"]);
    let [looked, first] = [&looked["margin_db"], &first["builds"][0]["margin_db"]].map(|margin| margin.as_f64().unwrap());
    // Solved whole here and down to the bleed's port there.
    assert_close(looked, first, close::LEVEL_DB, "the same build");
}
