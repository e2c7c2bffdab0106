//! Small requests, said twice: as a user's text for the recommender, and as numbers for what checks it.
#![allow(dead_code, reason = "each test program uses a part of it")]

pub mod enumerated;

use knobwright::guitar::{Guitar, Hookup, Joint, Slot};
use knobwright::parts::network::{Kind, Network};
use knobwright::parts::stock::Stock;
use knobwright::recommend::Request;
use knobwright::source::Source;
use knobwright::target::Target;

/// IEC 60063, two-digit values.
pub const E3: &[&str] = &["1.0", "2.2", "4.7"];
pub const E6: &[&str] = &["1.0", "1.5", "2.2", "3.3", "4.7", "6.8"];
pub const E12: &[&str] = &["1.0", "1.2", "1.5", "1.8", "2.2", "2.7", "3.3", "3.9", "4.7", "5.6", "6.8", "8.2"];

/// A key of `--values` or `--range` with what it says, once as text and once as numbers.
pub type SeriesKey = (&'static str, &'static str, &'static [&'static str]);
pub type RangeKey = (&'static str, &'static str, [f64; 2]);

/// What is asked of both recommenders.
#[derive(Clone, Copy, Default)]
pub struct Case {
    pub searches: &'static [(Slot, &'static str)],
    pub series: &'static [SeriesKey],
    pub ranges: &'static [RangeKey],
    /// kind, value as text and as a number, price, quantity
    pub stock: &'static [StockRow],
    pub with: &'static [(Slot, &'static str)],
    pub hookup: Option<Hookup>,
    pub joined_at: Option<Joint>,
    pub top: usize,
}

pub type StockRow = (Kind, &'static str, f64, Option<f64>, Option<usize>);

pub const R: Kind = Kind::Resistor;
pub const C: Kind = Kind::Capacitor;

pub const BLEED_R: RangeKey = ("bleed.R", "22k..470k", [22e3, 470e3]);
pub const BLEED_C: RangeKey = ("bleed.C", "330p..4n7", [330e-12, 4.7e-9]);
pub const TONE_R: RangeKey = ("tone.R", "1k..47k", [1e3, 47e3]);
pub const TONE_C: RangeKey = ("tone.C", "1n..47n", [1e-9, 47e-9]);
pub const E3_E6: &[SeriesKey] = &[("R", "E3", E3), ("C", "E6", E6)];
pub const E6_E3: &[SeriesKey] = &[("R", "E6", E6), ("C", "E3", E3)];

/// Equal prices, unknown prices and single pieces among them.
pub const DRAWERS: &[StockRow] = &[
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

pub fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("case", text).passage()).unwrap()
}

pub fn fittings(texts: &[(Slot, &str)]) -> Vec<(Slot, Option<Network>)> {
    texts.iter().map(|(slot, text)| (*slot, network(text))).collect()
}

pub fn stock_csv(rows: &[StockRow]) -> String {
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
pub fn searched_parts(case: &Case) -> Vec<(Slot, String)> {
    let named = |(slot, text): &(Slot, &str)| {
        let network = network(text);
        let parts = network.iter().flat_map(Network::free_parts).map(|part| (*slot, part.name.clone()));
        parts.collect::<Vec<_>>()
    };
    case.searches.iter().flat_map(named).collect()
}

/// Whether a key says something about any of the parts: what is said about none is refused.
pub fn answers(parts: &[(Slot, String)], key: &str) -> bool {
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

pub fn request(case: &Case, guitar: &Guitar, target: &Target) -> Request {
    let slots = Slot::ALL.map(Slot::word);
    let mut request = Request::new(guitar.clone(), target.clone());
    request.searches = fittings(case.searches);
    request.with = fittings(case.with);
    (request.hookup, request.joined_at, request.top) = (case.hookup, case.joined_at, case.top);
    // What is explained is checked in tests/explain.rs; it would search many times over.
    request.explain = false;
    // What the rest forbids is checked in tests/signed.rs.
    request.at_any_price = true;
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
