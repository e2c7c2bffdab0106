//! Searches whose tightest clause nothing that is searched can move, so that very many builds tie, over the default job: the same guitar with the
//! shipped default target and the networks it is searched with. Whole recommendations without yields and explanations, on one thread.

mod common;

use std::time::Duration;

use common::{best_of, target};
use knobwright::guitar::{Slot, read_cases};
use knobwright::inputs;
use knobwright::parts::network::Network;
use knobwright::recommend::{Recommendation, Request, recommend};
use knobwright::source::Source;

/// What takes longer than so many default jobs is a cliff.
const MOST: f64 = 5.0;

/// Two clauses over bands and two over means.
const ORDINARY: &str = "darker and keep highs and keep lows within 3 dB from full to half volume and keep highs within 12 dB at tone 5";

fn main() {
    let (usual, _) = timed(&request("wren-bridge", "keep highs", &[], &[]));
    println!("the default job: {:.1} ms", usual.as_secs_f64() * 1e3);
    let cases = [
        (
            "a clause at tone 0, searching the bleed",
            "wren-bridge",
            "cut highs by 6 to 12 dB at tone 0",
            &["R1 + (R2 || C)"][..],
            &[][..],
        ),
        (
            "both knobs at full, searching the bleed",
            "wren-bridge",
            "keep highs within 1 dB at volume full",
            &["R1 + (R2 || C)"],
            &[],
        ),
    ];
    for (what, guitar, phrase, searches, what_ifs) in cases {
        let (time, found) = timed(&request(guitar, phrase, searches, what_ifs));
        let ratio = time.as_secs_f64() / usual.as_secs_f64();
        println!(
            "{what}: {:.1} ms, {ratio:.1} x the default job, {} builds{}",
            time.as_secs_f64() * 1e3,
            found.builds.len(),
            if ratio > MOST { ": A CLIFF" } else { "" }
        );
    }
    let (time, found) = timed(&request("avocet-middle", ORDINARY, &[], &["cable=300p", "cable=900p,input=220k"]));
    let candidates: u64 = found.search.iter().map(|search| search.candidates).sum();
    println!(
        "a shelf guitar, two cases, four clauses: {:.2} s, {candidates} candidates, {:.1} ns each",
        time.as_secs_f64(),
        time.as_secs_f64() * 1e9 / candidates as f64
    );
}

fn timed(request: &Request) -> (Duration, Recommendation) {
    best_of(3, || recommend(request, &()).expect("the request is sound"))
}

fn request(guitar: &str, phrase: &str, searches: &[&str], what_ifs: &[&str]) -> Request {
    let mut guitar = inputs::guitar(Some(guitar)).expect("a sample");
    let what_ifs: Vec<Source> = what_ifs.iter().map(|text| Source::inline("case", *text)).collect();
    guitar.cases = read_cases(&what_ifs, &guitar).expect("the cases read");
    let mut request = Request::new(guitar, target(phrase));
    let network = |text: &&str| Network::read(&Source::inline("bench", *text).passage()).expect("the network reads");
    request.searches = searches.iter().map(|text| (Slot::Bleed, network(text))).collect();
    (request.explain, request.threads, request.large) = (false, Some(1), true);
    request
}
