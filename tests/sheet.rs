//! Build sheets. Outside sources: IEC 60617 for the symbols, IEC 60062 for the marks (tested by themselves in `markings.rs`), the XML
//! rules as an independent parser has them, SHA-256 and base 64 as general-purpose libraries have them. Levels are held against the
//! `response` command, resistances at the jack against the ratio of two loads in the circuit.

mod program;
mod support;

use std::path::Path;

use base64::Engine;
use knobwright::circuit::{Setting, transfer};
use knobwright::guitar::{Guitar, Hookup, Joint, Slot};
use knobwright::inputs;
use knobwright::kernel::direct::resistance_at_the_jack;
use knobwright::kernel::same::sounds_same;
use knobwright::parts::network::{Component, Kind, Network};
use knobwright::recommend::sheet::{How, Lug, Sheet, sheet};
use knobwright::recommend::{Recommendation, Request, recommend};
use knobwright::report::{sheet_html, sheet_markdown};
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::units::marking::{Tolerance, capacitor_code, letter_code, resistor_bands};
use knobwright::units::{Farads, with_prefix};
use program::*;
use proptest::strategy::{Strategy, ValueTree};
use roxmltree::{Document, Node, ParsingOptions};
use sha2::{Digest, Sha256};
use support::*;

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("test", text).passage()).expect("a network")
}

fn target(phrase: &str) -> Target {
    Target::from_phrase(&Source::inline("test", phrase).passage()).expect("a phrase")
}

fn sample(name: &str) -> Guitar {
    inputs::guitar(Some(name)).expect("a sample")
}

/// A request for known networks only, and its result with the builds that hold all of them.
fn known(guitar: Guitar, fitted: &[(Slot, Option<Network>)]) -> (Request, Recommendation) {
    let mut request = Request::new(guitar, target("keep level within 60 dB of present from full to half volume"));
    request.searches = fitted.to_vec();
    request.explain = false;
    let mut result = recommend(&request, &()).unwrap_or_else(|error| panic!("{}", error.picture()));
    let written = |network: &Option<Network>| network.as_ref().map_or("none".to_owned(), Network::to_string);
    result
        .builds
        .retain(|build| fitted.iter().all(|(slot, network)| build.slots[slot] == written(network)));
    result.left_alone = None;
    assert_eq!(result.builds.len(), 1, "{fitted:?}");
    (request, result)
}

fn sheet_of(guitar: Guitar, fitted: &[(Slot, Option<Network>)]) -> (Sheet, Recommendation) {
    let (request, result) = known(guitar, fitted);
    let sheet = sheet(&request, &result).expect("a sheet").expect("a build");
    (sheet, result)
}

fn parsed(html: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(html, options).unwrap_or_else(|error| panic!("{error} in\n{html}"))
}

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    let written = node.attribute(name).unwrap_or_else(|| panic!("no {name} in {node:?}"));
    written.parse().unwrap_or_else(|_| panic!("{name} is {written}"))
}

fn drawings<'d>(page: &'d Document<'d>) -> Vec<Node<'d, 'd>> {
    page.descendants().filter(|node| node.has_tag_name(SVG)).collect()
}

const SVG: (&str, &str) = ("http://www.w3.org/2000/svg", "svg");

/// Left, top, right, bottom.
type Area = [f64; 4];

fn overlap(one: Area, other: Area) -> bool {
    one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3]
}

/// The area of each text: monospaced letters are six tenths of their size wide; ascenders and descenders reach 0.8 and 0.25 of it.
fn text_areas(drawing: Node<'_, '_>) -> Vec<(String, Area)> {
    let size = number(drawing, "font-size");
    let texts = drawing.descendants().filter(|node| node.tag_name().name() == "text");
    let area = |node: Node<'_, '_>| {
        let text = node.text().unwrap().to_owned();
        let width = text.chars().count() as f64 * 0.6 * size;
        let (x, y) = (number(node, "x"), number(node, "y"));
        let left = match node.attribute("text-anchor") {
            Some("start") => x,
            Some("middle") => x - width / 2.0,
            Some("end") => x - width,
            other => panic!("{other:?}"),
        };
        (text, [left, y - 0.8 * size, left + width, y + 0.25 * size])
    };
    texts.map(area).collect()
}

/// The area of each wire, plate and rectangle.
fn line_areas(drawing: Node<'_, '_>) -> Vec<Area> {
    let mut areas = Vec::new();
    for node in drawing.descendants() {
        match (node.tag_name().name(), node.attribute("d")) {
            ("rect", _) => {
                let [x, y, width, height] = ["x", "y", "width", "height"].map(|name| number(node, name));
                areas.push([x, y, x + width, y + height]);
            }
            ("path", Some(path)) if path.contains('L') => {
                let ends: Vec<f64> = path[1..].split([' ', 'L']).map(|number| number.parse().unwrap()).collect();
                let [x1, y1, x2, y2] = ends[..] else { panic!("{path}") };
                assert!(x1 == x2 || y1 == y2, "a wire that is neither level nor upright: {path}");
                areas.push([x1.min(x2), y1.min(y2), x1.max(x2), y1.max(y2)]);
            }
            ("path", Some(path)) if path.contains("v24") => {
                let (x, y) = path[1..path.find('v').unwrap()].split_once(' ').unwrap();
                let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
                areas.push([x, y, x, y + 24.0]);
            }
            _ => {}
        }
    }
    // A line has no area of its own: half the stroke on every side gives it one.
    areas
        .iter()
        .map(|area| [area[0] - 0.8, area[1] - 0.8, area[2] + 0.8, area[3] + 0.8])
        .collect()
}

/// As many symbols as parts, every text inside the picture and clear of all other texts, wires and symbols.
fn check_drawing(drawing: Node<'_, '_>, network: &Network) {
    for (class, kind) in [
        ("resistor", Some(Kind::Resistor)),
        ("capacitor", Some(Kind::Capacitor)),
        ("inductor", None),
    ] {
        let drawn = drawing.descendants().filter(|node| node.attribute("class") == Some(class)).count();
        let wanted = network.components().iter().filter(|part| part.kind() == kind).count();
        assert_eq!(drawn, wanted, "{class} symbols of {network}");
    }
    for named in ["title", "desc"] {
        let said = drawing.children().find(|node| node.tag_name().name() == named);
        assert!(said.and_then(|node| node.text()).is_some_and(|text| text.len() > 10), "{named}");
    }
    let view: Vec<f64> = drawing
        .attribute("viewBox")
        .unwrap()
        .split(' ')
        .map(|number| number.parse().unwrap())
        .collect();
    let texts = text_areas(drawing);
    let lines = line_areas(drawing);
    assert!(lines.len() > 1, "{network}");
    for (index, (text, area)) in texts.iter().enumerate() {
        let inside = area[0] >= 0.0 && area[1] >= 0.0 && area[2] <= view[2] && area[3] <= view[3];
        assert!(inside, "{text} leaves the picture of {network}: {area:?} in {view:?}");
        for (other, other_area) in &texts[..index] {
            assert!(!overlap(*area, *other_area), "{text} and {other} of {network}");
        }
        let hit = lines.iter().find(|line| overlap(*area, **line));
        assert!(hit.is_none(), "{text} of {network} at {area:?} meets {hit:?}");
    }
}

/// Joins as they are done at the bench, followed by somebody who knows nothing of the network.
fn soldered(sheet: &Sheet, index: usize) -> Network {
    let fitting = &sheet.fit[index];
    let parts = sheet.parts.iter().filter(|part| part.slot == fitting.slot);
    let mut made: Vec<(String, Network)> = parts.map(|part| (part.label.clone(), Network::Fixed(part.component))).collect();
    for join in &fitting.assembly.joins {
        let members = join.members.iter().map(|member| {
            let place = made.iter().position(|(name, _)| name == member);
            made.remove(place.unwrap_or_else(|| panic!("{member} is not there, or used twice")))
                .1
        });
        let members: Vec<Network> = members.collect();
        let joined = match join.how {
            How::InARow => Network::Series(members),
            How::SideBySide => Network::Parallel(members),
        };
        made.push((join.name.clone(), joined));
    }
    assert_eq!(made.len(), 1, "all parts are in one piece");
    made.remove(0).1
}

const BLEEDS: [&str; 6] = [
    "1n",
    "150k || 680p",
    "130k + 1n2",
    "82k + (150k || 1n)",
    "(20k + 220p) || 680p || 220k",
    "10k || (1k + (100n || (2k2 + 47k + 1n)))",
];

#[test]
fn a_bleed_of_any_shape_is_drawn_joined_and_named() {
    for text in BLEEDS {
        let wanted = network(text).unwrap();
        let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, Some(wanted.clone()))]);
        assert_eq!(soldered(&sheet, 0), wanted);
        assert_eq!(
            sheet.fit[0].assembly.leads.each_ref().map(|lead| lead.to),
            [Lug::VolumeInput, Lug::VolumeWiper]
        );
        let html = sheet_html(&sheet, &result);
        let page = parsed(&html);
        let [drawing] = drawings(&page)[..] else { panic!("one drawing") };
        check_drawing(drawing, &wanted);
        let texts = text_areas(drawing);
        let values = wanted.components().into_iter().map(|part| match part {
            Component::Resistor(value) => with_prefix(value.value(), "Ω"),
            Component::Capacitor(value) => with_prefix(value.value(), "F"),
            Component::Inductor(value) => with_prefix(value.value(), "H"),
        });
        for (label, value) in sheet.fit[0].labels.iter().zip(values) {
            let written = format!("{label} {value}");
            assert!(texts.iter().any(|(text, _)| *text == written), "{written}");
            assert!(sheet_markdown(&sheet, &result).contains(&written), "{written}");
        }
    }
}

#[test]
fn no_random_network_makes_a_drawing_overlap_or_a_join_go_wrong() {
    let mut runner = random::runner(1);
    for _ in 0..120 {
        let wanted = random::network().new_tree(&mut runner).unwrap().current();
        let (sheet, result) = sheet_of(sample("avocet-middle"), &[(Slot::Bypass, Some(wanted.clone()))]);
        assert_eq!(soldered(&sheet, 0), wanted);
        let html = sheet_html(&sheet, &result);
        check_drawing(drawings(&parsed(&html))[0], &wanted);
        for line in sheet_markdown(&sheet, &result)
            .lines()
            .filter(|line| line.contains('o') && line.contains('┤'))
        {
            assert!(!line.contains("  ├─"), "{line}");
        }
    }
}

#[test]
fn the_drawing_in_letters_joins_what_the_network_joins() {
    let (sheet, result) = sheet_of(
        sample("wren-bridge"),
        &[(Slot::Bleed, network("82k + (150k || (2k + 1n) || 470p)"))],
    );
    let wanted = "
```text
volume input lug o───[ R1 82 kΩ ]──┬──────[ R2 150 kΩ ]───────┬───o volume wiper
                                   ├─[ R3 2 kΩ ]──┤ C1 1 nF ├─┤
                                   └──────┤ C2 470 pF ├───────┘
```
";
    let markdown = sheet_markdown(&sheet, &result);
    assert!(markdown.contains(wanted), "{markdown}");
}

/// What each slot's leads are called, for either hookup and either joint.
#[test]
fn every_lead_of_every_slot_is_named() {
    let shelf = || sample("avocet-middle");
    let wiper = || {
        let mut guitar = sample("wren-bridge");
        guitar.tone.as_mut().unwrap().joined_at = Joint::Wiper;
        guitar
    };
    let ground = "to ground (a pot's case or the ground point).";
    for (guitar, slot, written, said) in [
        (
            sample("wren-bridge"),
            Slot::Bleed,
            "130k + 1n",
            vec![
                "Twist one end of R1 and one end of C1 together.",
                "Free end of R1: to the volume control's input lug.",
                "Free end of C1: to the volume control's wiper.",
            ],
        ),
        (
            sample("wren-bridge"),
            Slot::Tone,
            "4k7 + 15n",
            vec![
                "a wire from the volume control's input lug to the tone control's wiper",
                "Free end of R1: to the tone control's zero-end lug.",
                ground,
            ],
        ),
        (
            wiper(),
            Slot::Tone,
            "15n",
            vec![
                "a wire from the volume control's wiper to the tone control's wiper",
                "One end of C1: to the tone control's zero-end lug.",
                ground,
            ],
        ),
        (
            shelf(),
            Slot::Tone,
            "4k7 + 220n",
            vec![
                "a wire from the volume control's input lug to the tone control's full-end lug, which is its hot lug",
                "Free end of R1: to the tone control's zero-end lug.",
                ground,
            ],
        ),
        (
            shelf(),
            Slot::Bypass,
            "10k || 47n",
            vec![
                "Lay R1 and C1 side by side and twist their leads together at both ends. Together they are group A.",
                "One end of group A: to the tone control's full-end lug (its hot lug).",
                "The other end of group A: to the tone control's wiper.",
            ],
        ),
        (
            sample("wren-bridge"),
            Slot::Series,
            "3n9",
            vec![
                "Unsolder the pickup's hot lead from the volume control's input lug",
                "One end of C1: to the pickup's hot lead.",
                "The other end of C1: to the volume control's input lug.",
            ],
        ),
    ] {
        let (sheet, result) = sheet_of(guitar, &[(slot, network(written))]);
        let markdown = sheet_markdown(&sheet, &result);
        let html = sheet_html(&sheet, &result).replace("&#39;", "'");
        for words in said {
            assert!(markdown.contains(words), "{slot} {written}: `{words}` in\n{markdown}");
            assert!(html.contains(words), "{slot} {written}: `{words}`");
        }
    }
}

#[test]
fn a_shelf_with_tone_and_bypass_numbers_its_parts_through() {
    let fitted = [(Slot::Tone, network("3k3 + 100n")), (Slot::Bypass, network("22k || 47n"))];
    let (sheet, result) = sheet_of(sample("avocet-middle"), &fitted);
    let labels: Vec<&str> = sheet.parts.iter().map(|part| part.label.as_str()).collect();
    assert_eq!(labels, ["R1", "C1", "R2", "C2"]);
    let html = sheet_html(&sheet, &result);
    let page = parsed(&html);
    let drawings = drawings(&page);
    assert_eq!(drawings.len(), 2);
    for (drawing, (_, network)) in drawings.iter().zip(&fitted) {
        check_drawing(*drawing, network.as_ref().unwrap());
    }
    // The old parts were a resistor and a capacitor.
    let markdown = sheet_markdown(&sheet, &result);
    assert!(markdown.contains("Take out the tone network: a 6.8 kΩ resistor; the new parts go in the same place."));
    assert!(markdown.contains("Take out the bypass network: a 100 nF capacitor; the new parts go in the same place."));
    assert_eq!(sheet.used_again, network("100n").unwrap().components());
}

#[test]
fn what_comes_out_is_told_when_nothing_goes_in() {
    let (sheet, result) = sheet_of(sample("curlew-middle"), &[(Slot::Bleed, None)]);
    assert!(sheet.fit.is_empty() && sheet.parts.is_empty());
    let markdown = sheet_markdown(&sheet, &result);
    for words in [
        "Take out the treble bleed: a 150 kΩ resistor and a 680 pF capacitor side by side; nothing goes in its place",
        "None: this answer needs no new part.",
        "No new lead: leave every wire as it is.",
        "The tone network stays as it is: a 22 nF capacitor.",
    ] {
        assert!(markdown.contains(words), "{words} in\n{markdown}");
    }
    // A network that is there already is neither bought nor taken out.
    let (sheet, _) = sheet_of(sample("curlew-middle"), &[(Slot::Bleed, network("150k || 680p"))]);
    assert!(sheet.fit.is_empty() && sheet.take_out.is_empty());
    assert_eq!(sheet.stays.len(), 2);
}

#[test]
fn rewiring_is_told() {
    let mut request = Request::new(sample("avocet-middle"), target("cut highs by 1 to 60 dB at tone 0"));
    request.hookup = Some(Hookup::Rheostat);
    request.joined_at = Some(Joint::Wiper);
    request.searches = vec![(Slot::Tone, network("22n"))];
    let result = recommend(&request, &()).unwrap();
    let sheet = sheet(&request, &result).unwrap().unwrap();
    let markdown = sheet_markdown(&sheet, &result);
    assert!(
        markdown.contains("Change them to this: a wire from the volume control's wiper to the tone control's wiper."),
        "{markdown}"
    );
    assert!(
        markdown.contains("Take out the bypass network: a 100 nF capacitor; nothing goes in its place"),
        "{markdown}"
    );
}

#[test]
fn bands_and_codes_are_those_of_the_marks() {
    for text in BLEEDS {
        let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network(text))]);
        let markdown = sheet_markdown(&sheet, &result);
        for part in &sheet.parts {
            let value = part.component.value();
            let (low, high) = part.reading.unwrap();
            match part.component {
                Component::Resistor(ohms) => {
                    let bands = |share: f64| {
                        let bands = resistor_bands(ohms, fraction(share)).unwrap();
                        bands.iter().map(|band| band.name()).collect::<Vec<_>>().join(" ")
                    };
                    let said = format!("four bands {}; five bands (a 1 % part or closer) {}", bands(0.05), bands(0.01));
                    assert!(markdown.contains(&said), "{said} in\n{markdown}");
                    assert_relatively_close(low, 0.95 * value, close::CLOSED_FORM, "lowest reading");
                }
                Component::Capacitor(farads) => {
                    let tolerance = Some(Tolerance::Share(0.1));
                    let code = capacitor_code(Farads::new(farads.value()).unwrap(), tolerance).unwrap();
                    assert!(markdown.contains(&format!("three-digit code {code}; letter code ")), "{code}");
                    assert_relatively_close(high, 1.1 * value, close::CLOSED_FORM, "highest reading");
                    let what = knobwright::units::marking::MarkedPart::Capacitor;
                    assert!(markdown.contains(&letter_code(what, value, tolerance).unwrap()));
                }
                Component::Inductor(_) => panic!("no inductor"),
            }
        }
    }
    // IEC 60062 itself, worked by hand: 150 kΩ is brown green yellow; 680 pF is 68 and one nought.
    let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network("150k || 680p"))]);
    let markdown = sheet_markdown(&sheet, &result);
    assert!(
        markdown
            .contains("R1, 150 kΩ: four bands brown green yellow gold; five bands (a 1 % part or closer) brown green black orange brown;")
    );
    assert!(markdown.contains("C1, 680 pF: three-digit code 681K;"));
}

/// The cells of the tables of a page, row by row, titles first.
fn tables(page: &Document<'_>) -> Vec<Vec<Vec<String>>> {
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

#[test]
fn levels_are_those_of_the_response_command() {
    let (sheet, result) = sheet_of(sample("heron-bridge"), &[(Slot::Bleed, network("82k + (150k || 1n)"))]);
    let html = sheet_html(&sheet, &result);
    let printed = tables(&parsed(&html)).pop().unwrap();
    let asked = |volume: &str, tone: &str| {
        let points = json(
            &[
                "response",
                "--guitar",
                "heron-bridge",
                "--with",
                "bleed=82k + (150k || 1n)",
                "--volume",
                volume,
                "--tone",
                tone,
                "--frequencies",
                "100,400,1k,3k,6k",
            ],
            0,
        );
        let levels = points.as_array().unwrap().iter().map(|point| point["level_db"].as_f64().unwrap());
        levels.collect::<Vec<f64>>()
    };
    let full = asked("1", "1");
    let turned = [("0.5", "1"), ("0.25", "1"), ("1", "0.5"), ("1", "0")].map(|(volume, tone)| asked(volume, tone));
    assert_eq!(printed.len(), 6);
    for (index, row) in printed[1..].iter().enumerate() {
        let frequency: f64 = row[0].parse().unwrap();
        let shown = |cell: usize| row[cell].replace('−', "-").parse::<f64>().unwrap();
        let relative = full[index] - full[1];
        assert_close(shown(1), relative, close::ONE_DECIMAL, "full");
        // The voltage that a constant current induces rises with frequency (Faraday's law).
        assert_close(shown(2), relative + 20.0 * (frequency / 400.0).log10(), close::ONE_DECIMAL, "coil");
        for (place, levels) in turned.iter().enumerate() {
            assert_close(shown(3 + place), levels[index] - full[index], close::ONE_DECIMAL, "turned");
            let exact = sheet.levels[0].rows[index].changes_db[place].unwrap();
            assert_close(exact, levels[index] - full[index], close::LEVEL_DB, "turned, not rounded");
        }
        assert_close(
            sheet.levels[0].rows[index].full_db.unwrap(),
            full[index],
            close::LEVEL_DB,
            "full, not rounded",
        );
    }
}

/// The output's resistance by the ratio of what two loads leave of one voltage, at a frequency at which no capacitor carries anything.
fn by_two_loads(guitar: &Guitar, setting: Setting) -> f64 {
    let loaded = |load: f64| {
        let mut guitar = guitar.clone();
        guitar.input.resistance = ohms(load);
        guitar.input.capacitance = farads(0.0);
        guitar.cable.capacitance = farads(0.0);
        transfer(&guitar, setting, 1e-9).norm()
    };
    // V₁/V₂ = (R₁/(Z + R₁))/(R₂/(Z + R₂)), solved for Z.
    let (one, other) = (1e6, 1e4);
    let ratio = loaded(one) / loaded(other) * other / one;
    (ratio * one - other) / (1.0 - ratio)
}

#[test]
fn the_ohmmeter_reads_what_two_loads_tell() {
    for file in GUITARS {
        let mut guitar = sample(file.name);
        let networks = [None, network("150k || 1n"), network("82k + (150k || 1n)")];
        for bleed in networks {
            guitar.fit(Slot::Bleed, bleed);
            for setting in [setting(1.0, 1.0), setting(0.5, 1.0), setting(0.3, 0.0), setting(1.0, 0.4)] {
                let read = resistance_at_the_jack(&guitar, setting).unwrap();
                assert_relatively_close(read, by_two_loads(&guitar, setting), close::FOUND, file.name);
            }
            assert_eq!(resistance_at_the_jack(&guitar, setting(0.0, 1.0)), Some(0.0));
        }
    }
}

#[test]
fn a_capacitor_in_series_leaves_the_track_alone() {
    let mut guitar = sample("wren-bridge");
    guitar.fit(Slot::Series, network("3n9"));
    let track = guitar.volume.pot.resistance.value();
    assert_eq!(resistance_at_the_jack(&guitar, Setting::FULL), Some(track));
}

#[test]
fn substitutes_are_the_builds_that_sound_the_same() {
    let mut request = Request::new(sample("wren-bridge"), target("keep highs within 4 dB from full to half volume"));
    request.searches = vec![(Slot::Bleed, network("R || C"))];
    request.top = 25;
    request.explain = false;
    let result = recommend(&request, &()).unwrap();
    assert!(result.left_alone.is_none());
    let sheet = sheet(&request, &result).unwrap().unwrap();
    let alike: Vec<_> = result.builds.iter().skip(1).filter(|build| build.sounds_like_first).collect();
    assert!(!alike.is_empty());
    assert_eq!(sheet.substitutes.len(), alike.len());
    for (substitute, build) in sheet.substitutes.iter().zip(alike) {
        assert_eq!(
            substitute.slots[&Slot::Bleed].as_ref().unwrap().to_string(),
            build.slots[&Slot::Bleed]
        );
        assert_close(substitute.margin_db, build.margin_db, close::LEVEL_DB, "margin");
    }
}

/// What leaves the tone network alone is what is built, and substitutes leave it alone as well.
#[test]
fn the_sheet_builds_what_the_first_screen_says() {
    let request = Request::new(sample("plover-bridge"), target("which cap for less mud?"));
    let result = recommend(&request, &()).unwrap();
    let left = result.left_alone.as_ref().expect("an answer that touches less");
    let sheet = sheet(&request, &result).unwrap().unwrap();
    assert_eq!(sheet.fit.len(), 1);
    assert_eq!(sheet.fit[0].network.to_string(), left.slots[&Slot::Series]);
    let mut first = sample("plover-bridge");
    first.fit(Slot::Series, Some(sheet.fit[0].network.clone()));
    let settings = [Setting::FULL];
    for substitute in &sheet.substitutes {
        assert_eq!(substitute.slots.keys().collect::<Vec<_>>(), [&Slot::Series]);
        let mut other = sample("plover-bridge");
        other.fit(Slot::Series, substitute.slots[&Slot::Series].clone());
        assert!(sounds_same(&first, &other, &settings));
    }
}

const HOSTILE: &str = "</title><script>alert(1)</script> & \"it's\" | `code` [l](javascript:x) *b* https://example.org ![i](x) \u{1}";

#[test]
fn a_hostile_name_stays_text() {
    let mut guitar = sample("wren-bridge");
    guitar.name = HOSTILE.to_owned();
    let (sheet, result) = sheet_of(guitar, &[(Slot::Bleed, network("1n"))]);
    let html = sheet_html(&sheet, &result);
    let page = parsed(&html);
    let named = |name: &str| page.descendants().filter(|node| node.tag_name().name() == name).collect::<Vec<_>>();
    for forbidden in ["script", "a", "img", "iframe", "link", "object"] {
        assert!(named(forbidden).is_empty(), "{forbidden}");
    }
    let shown = format!("Build sheet: {}", HOSTILE.replace('\u{1}', " "));
    assert_eq!(named("h1")[0].text(), Some(shown.as_str()));
    let inside = |node: &Node<'_, '_>| node.ancestors().any(|outer| outer.has_tag_name(SVG));
    let titles: Vec<_> = named("title").into_iter().filter(|node| !inside(node)).collect();
    assert_eq!(titles[0].text(), Some(shown.as_str()));

    let markdown = sheet_markdown(&sheet, &result);
    let title = markdown.lines().next().unwrap();
    let mut letters = title.strip_prefix("# ").unwrap().chars();
    let mut plain = String::new();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => assert!(letters.next().unwrap().is_ascii_punctuation()),
            letter => plain.push(letter),
        }
    }
    assert!(!plain.contains(['<', '>', '&', '|', '`', '[', ']', '*', '#', '\u{1}']), "{plain}");
    assert!(!plain.contains("://"), "{plain}");
}

#[test]
fn a_page_lets_nothing_in_but_its_own_style() {
    let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network("1n"))]);
    let html = sheet_html(&sheet, &result);
    let page = parsed(&html);
    let find = |name: &str| page.descendants().find(|node| node.tag_name().name() == name).unwrap();
    assert_eq!(find("html").attribute("lang"), Some("en-GB"));
    let policy = page
        .descendants()
        .find(|node| node.attribute("http-equiv") == Some("Content-Security-Policy"))
        .and_then(|node| node.attribute("content"))
        .unwrap();
    let digest = base64::engine::general_purpose::STANDARD.encode(Sha256::digest(find("style").text().unwrap()));
    assert_eq!(
        policy,
        format!("default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'")
    );
    let style = find("style").text().unwrap();
    for promised in ["prefers-color-scheme: dark", "@media print", "color-scheme: light dark"] {
        assert!(style.contains(promised), "{promised}");
    }
    // Nothing is styled, scripted or fetched beside it.
    for node in page.descendants() {
        for attribute in node.attributes() {
            let name = attribute.name();
            assert!(!name.starts_with("on") && !["style", "src", "href"].contains(&name), "{name}");
        }
    }
}

#[test]
fn the_cautions_are_there() {
    let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network("1n"))]);
    let markdown = sheet_markdown(&sheet, &result);
    for word in [
        "clip leads",
        "Photograph",
        "asthma",
        "Protect your eyes",
        "Leaded solder",
        "local codes",
        "ground wire to the strings",
        "shield",
        "Unplug",
        "microphonic",
        "Y5V",
        "C0G",
    ] {
        assert!(markdown.contains(word), "{word}");
    }
    assert!(!markdown.contains('\u{2014}'));
}

fn written(folder: &Path, name: &str, arguments: &[&str]) -> String {
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

#[test]
fn every_shipped_guitar_has_its_sheet() {
    let folder = tempfile::tempdir().unwrap();
    for file in GUITARS {
        let coarse = ["recommend", "--guitar", file.name, "--values", "R=E3,C=E3"];
        let html = written(folder.path(), "sheet.html", &coarse);
        let page = parsed(&html);
        let name = sample(file.name).name;
        assert!(html.contains(&format!("<h1>Build sheet: {name}</h1>")), "{}", file.name);
        for table in tables(&page) {
            assert!(table.iter().all(|row| row.len() == table[0].len()), "{table:?}");
        }
        let markdown = written(folder.path(), "sheet.MD", &coarse);
        assert!(markdown.starts_with(&format!("# Build sheet: {name}\n")));
        for text in [&html, &markdown] {
            assert!(!text.contains("NaN") && !text.contains("inf "), "{text}");
        }
    }
}

#[test]
fn cases_have_their_own_levels() {
    let folder = tempfile::tempdir().unwrap();
    let asked = [
        "recommend",
        "--values",
        "R=E3,C=E3",
        "--case",
        "cable=300p",
        "--case",
        "cable=900p,input=220k",
    ];
    let markdown = written(folder.path(), "sheet.md", &asked);
    assert_eq!(markdown.matches("\nCase \"").count(), 2, "{markdown}");
    assert!(markdown.contains("It is to hold in each of these cases:"));
}

#[test]
fn no_other_suffix_is_written_and_the_two_are_named() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["sheet.txt", "sheet", "sheet.htm", "sheet.md.pdf", ".html", "md"] {
        let path = folder.path().join(name);
        let told = refused(&with(&MET, &["--sheet", path.to_str().unwrap()]));
        assert!(told.contains(".md") && told.contains(".html"), "{told}");
        assert!(!path.exists());
    }
    let path = folder.path().join("sheet.html");
    let same = path.to_str().unwrap();
    let told = refused(&with(&MET, &["--sheet", same, "--output", same]));
    assert!(told.contains("same file"), "{told}");
    // A bad request or a missing folder leaves nothing behind.
    refused(&["recommend", "--guitar", "no-such-guitar", "--sheet", same]);
    let nowhere = folder.path().join("none").join("sheet.md");
    let told = refused(&with(&MET, &["--quiet", "--sheet", nowhere.to_str().unwrap()]));
    assert!(told.contains("there is no such folder"), "{told}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn the_answer_is_printed_as_without_a_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.html");
    let with_sheet = ends(&with(&MET, &["--sheet", path.to_str().unwrap()]), 0);
    assert_eq!(with_sheet, ends(&MET, 0));
    assert!(path.exists());
}
