//! Build sheets as pages and drawings. Outside sources: IEC 60617 for the symbols, the XML rules as an independent parser has them, SHA-256
//! and base 64 as general-purpose libraries have them.

mod program;
mod sheets;
mod support;

use base64::Engine;
use knobwright::guitar::Slot;
use knobwright::parts::network::{Component, Kind, Network};
use knobwright::recommend::sheet::{How, Lug, Sheet};
use knobwright::shipped::GUITARS;
use knobwright::units::with_prefix;
use proptest::strategy::{Strategy, ValueTree};
use roxmltree::{Document, Node};
use sha2::{Digest, Sha256};
use sheets::*;
use support::random;

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    let written = node.attribute(name).unwrap_or_else(|| panic!("no {name} in {node:?}"));
    written.parse().unwrap_or_else(|_| panic!("{name} is {written}"))
}

fn drawings<'d>(page: &'d Document<'d>) -> Vec<Node<'d, 'd>> {
    page.descendants().filter(|node| node.has_tag_name(SVG)).collect()
}

const SVG: &str = "svg";

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
        let html = sheet.document(&result).html().unwrap();
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
            assert!(sheet.document(&result).markdown().contains(&written), "{written}");
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
        let html = sheet.document(&result).html().unwrap();
        check_drawing(drawings(&parsed(&html))[0], &wanted);
        for line in sheet
            .document(&result)
            .markdown()
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
    let markdown = sheet.document(&result).markdown();
    assert!(markdown.contains(wanted), "{markdown}");
}

#[test]
fn a_shelf_with_tone_and_bypass_numbers_its_parts_through() {
    let fitted = [(Slot::Tone, network("3k3 + 100n")), (Slot::Bypass, network("22k || 47n"))];
    let (sheet, result) = sheet_of(sample("avocet-middle"), &fitted);
    let labels: Vec<&str> = sheet.parts.iter().map(|part| part.label.as_str()).collect();
    assert_eq!(labels, ["R1", "C1", "R2", "C2"]);
    let html = sheet.document(&result).html().unwrap();
    let page = parsed(&html);
    let drawings = drawings(&page);
    assert_eq!(drawings.len(), 2);
    for (drawing, (_, network)) in drawings.iter().zip(&fitted) {
        check_drawing(*drawing, network.as_ref().unwrap());
    }
    // The old parts were a resistor and a capacitor.
    let markdown = sheet.document(&result).markdown();
    assert!(markdown.contains("Take out the tone network: 6.8 kΩ; the new parts go in the same place."));
    assert!(markdown.contains("Take out the bypass network: 100 nF; the new parts go in the same place."));
    assert_eq!(sheet.used_again, network("100n").unwrap().components());
}

const HOSTILE: &str = "</title><script>alert(1)</script> & \"it's\" | `code` [l](javascript:x) *b* https://example.org ![i](x) \u{1}";

#[test]
fn a_hostile_name_stays_text() {
    let mut guitar = sample("wren-bridge");
    guitar.name = HOSTILE.to_owned();
    let (sheet, result) = sheet_of(guitar, &[(Slot::Bleed, network("1n"))]);
    let html = sheet.document(&result).html().unwrap();
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

    let markdown = sheet.document(&result).markdown();
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
    let html = sheet.document(&result).html().unwrap();
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
fn every_shipped_guitar_has_its_sheet() {
    let folder = tempfile::tempdir().unwrap();
    for file in GUITARS {
        let coarse = [
            "recommend",
            "--guitar",
            file.name,
            "--values",
            "R=E3,C=E3",
            "--builds",
            "0",
            "--target",
            "keep highs within 2 dB from full to quarter volume",
        ];
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
