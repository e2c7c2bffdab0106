//! Build sheets of known networks, and what stands on a page.
#![allow(dead_code, reason = "each test program uses a part of it")]

use std::path::Path;

use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::parts::network::Network;
use knobwright::recommend::sheet::{Sheet, sheet};
use knobwright::recommend::{Recommendation, Request, recommend};
use knobwright::source::Source;
use knobwright::target::Target;
use roxmltree::{Document, Node, ParsingOptions};

use crate::program::{run, text, with};

pub fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("test", text).passage()).expect("a network")
}

pub fn target(phrase: &str) -> Target {
    Target::from_phrase(&Source::inline("test", phrase).passage()).expect("a phrase")
}

pub fn sample(name: &str) -> Guitar {
    inputs::guitar(Some(name)).expect("a sample")
}

/// A request for known networks only, and its result with the builds that hold all of them.
pub fn known(guitar: Guitar, fitted: &[(Slot, Option<Network>)]) -> (Request, Recommendation) {
    let mut request = Request::new(guitar, target("keep level within 60 dB of present from full to half volume"));
    request.searches = fitted.to_vec();
    request.explain = false;
    request.at_any_price = true;
    let mut result = recommend(&request, &()).unwrap_or_else(|error| panic!("{}", error.picture()));
    let written = |network: &Option<Network>| network.as_ref().map_or("none".to_owned(), Network::to_string);
    result
        .builds
        .retain(|build| fitted.iter().all(|(slot, network)| build.slots[slot] == written(network)));
    assert_eq!(result.builds.len(), 1, "{fitted:?}");
    result.answer.build = result.builds.first().cloned();
    (request, result)
}

pub fn sheet_of(guitar: Guitar, fitted: &[(Slot, Option<Network>)]) -> (Sheet, Recommendation) {
    let (request, result) = known(guitar, fitted);
    let sheet = sheet(&request, &result).expect("a sheet").expect("a build");
    (sheet, result)
}

pub fn parsed(html: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(html, options).unwrap_or_else(|error| panic!("{error} in\n{html}"))
}

/// The cells of the tables of a page, row by row, titles first.
pub fn tables(page: &Document<'_>) -> Vec<Vec<Vec<String>>> {
    let cells = |row: Node<'_, '_>| {
        let cells = row.children().filter(|node| ["th", "td"].contains(&node.tag_name().name()));
        cells.map(|cell| cell.text().unwrap_or_default().to_owned()).collect()
    };
    let rows = |table: Node<'_, '_>| {
        table
            .descendants()
            .filter(|node| node.tag_name().name() == "tr")
            .map(cells)
            .collect()
    };
    page.descendants()
        .filter(|node| node.tag_name().name() == "table")
        .map(rows)
        .collect()
}

pub const BLEEDS: [&str; 6] = [
    "1n",
    "150k || 680p",
    "130k + 1n2",
    "82k + (150k || 1n)",
    "(20k + 220p) || 680p || 220k",
    "10k || (1k + (100n || (2k2 + 47k + 1n)))",
];

pub fn written(folder: &Path, name: &str, arguments: &[&str]) -> String {
    let path = folder.join(name);
    let output = run(&with(&with(arguments, &["--quiet", "--sheet"]), &[path.to_str().unwrap()]));
    assert!(
        [Some(0), Some(1)].contains(&output.status.code()),
        "{arguments:?}: {}",
        text(&output.stderr)
    );
    assert!(output.stderr.is_empty() && !output.stdout.is_empty());
    std::fs::read_to_string(path).unwrap()
}
