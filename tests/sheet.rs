//! Build sheets: marks, leads, levels, substitutes, files. Outside sources: IEC 60062 for the marks (tested by themselves in
//! `markings.rs`). Levels are held against the `response` command, resistances at the jack against the ratio of two loads in the circuit.

mod program;
mod sheets;
mod support;

use knobwright::circuit::{Setting, resistance_at_the_jack, transfer};
use knobwright::guitar::{Guitar, Hookup, Joint, Slot};
use knobwright::kernel::same::sounds_same;
use knobwright::parts::network::Component;
use knobwright::recommend::sheet::sheet;
use knobwright::recommend::{Request, recommend};
use knobwright::shipped::GUITARS;
use knobwright::target::Target;
use knobwright::units::Farads;
use knobwright::units::marking::{MarkedPart, Tolerance, capacitor_code, letter_code, resistor_bands};
use program::*;
use sheets::*;
use support::*;

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
        let markdown = sheet.document(&result).markdown();
        let html = sheet.document(&result).html().unwrap().replace("&#39;", "'");
        for words in said {
            assert!(markdown.contains(words), "{slot} {written}: `{words}` in\n{markdown}");
            assert!(html.contains(words), "{slot} {written}: `{words}`");
        }
    }
}

#[test]
fn what_comes_out_is_told_when_nothing_goes_in() {
    let (sheet, result) = sheet_of(sample("curlew-middle"), &[(Slot::Bleed, None)]);
    assert!(sheet.fit.is_empty() && sheet.parts.is_empty());
    let markdown = sheet.document(&result).markdown();
    for words in [
        "Take out the treble bleed: 150 kΩ and 680 pF in parallel; nothing goes in its place",
        "None: this answer needs no new part.",
        "No new lead: leave every wire as it is.",
        "The tone capacitor stays as it is: 22 nF.",
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
    let mut request = Request::new(sample("avocet-middle"), target("cut highs by 18 to 60 dB at tone 0"));
    request.hookup = Some(Hookup::Rheostat);
    request.joined_at = Some(Joint::Wiper);
    request.searches = vec![(Slot::Tone, network("22n"))];
    request.at_any_price = true;
    let result = recommend(&request, &()).unwrap();
    let sheet = sheet(&request, &result).unwrap().unwrap();
    let markdown = sheet.document(&result).markdown();
    assert!(
        markdown.contains("Change them to this: a wire from the volume control's wiper to the tone control's wiper."),
        "{markdown}"
    );
    assert!(
        markdown.contains("Take out the bypass network: 100 nF; nothing goes in its place"),
        "{markdown}"
    );
}

#[test]
fn bands_and_codes_are_those_of_the_marks() {
    for text in BLEEDS {
        let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network(text))]);
        let markdown = sheet.document(&result).markdown();
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
                    assert!(markdown.contains(&letter_code(MarkedPart::Capacitor, value, tolerance).unwrap()));
                }
                Component::Inductor(_) => panic!("no inductor"),
            }
        }
    }
    // IEC 60062 itself, worked by hand: 150 kΩ is brown green yellow; 680 pF is 68 and one nought.
    let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network("150k || 680p"))]);
    let markdown = sheet.document(&result).markdown();
    assert!(
        markdown
            .contains("R1, 150 kΩ: four bands brown green yellow gold; five bands (a 1 % part or closer) brown green black orange brown;")
    );
    assert!(markdown.contains("C1, 680 pF: three-digit code 681K;"));
}

#[test]
fn levels_are_those_of_the_response_command() {
    let (sheet, result) = sheet_of(sample("heron-bridge"), &[(Slot::Bleed, network("82k + (150k || 1n)"))]);
    let html = sheet.document(&result).html().unwrap();
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
    let full = asked("10", "10");
    let turned = [("5", "10"), ("2.5", "10"), ("10", "5"), ("10", "0")].map(|(volume, tone)| asked(volume, tone));
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
    let sheet = sheet(&request, &result).unwrap().unwrap();
    let answer = result.answer.build.as_ref().unwrap();
    let others = result.builds.iter().filter(|build| build.slots != answer.slots);
    let alike: Vec<_> = others.filter(|build| build.sounds_like_first).collect();
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
    let answer = &result.answer;
    let sheet = sheet(&request, &result).unwrap().unwrap();
    let mut first = sample("plover-bridge");
    for fitting in &sheet.fit {
        assert_eq!(fitting.network.to_string(), answer.slots[&fitting.slot]);
        first.fit(fitting.slot, Some(fitting.network.clone()));
    }
    for slot in Slot::ALL {
        assert_eq!(first.fitted(slot).map(ToString::to_string), answer.slots.get(&slot).cloned());
    }
    let build = answer.build.as_ref().expect("something to solder");
    for substitute in &sheet.substitutes {
        assert!(substitute.slots.keys().eq(build.slots.keys()));
        let mut other = sample("plover-bridge");
        for (slot, network) in &substitute.slots {
            other.fit(*slot, network.clone());
        }
        assert!(sounds_same(&first, &other, &[Setting::FULL]));
    }
}

/// What is asked for at the shop is what was drawn: the user's word before what is usual.
#[test]
fn a_tolerance_that_is_said_is_the_one_to_ask_for() {
    let folder = tempfile::tempdir().unwrap();
    let asked = [
        "recommend",
        "--search",
        "bleed=R + C",
        "--values",
        "R=E6,C=E6",
        "--builds",
        "50",
        "--tolerance",
        "R=2%,C=5%",
    ];
    let markdown = written(folder.path(), "sheet.md", &asked);
    assert!(markdown.contains("| R1 |") && markdown.contains("| 2 % or closer |"), "{markdown}");
    assert!(
        markdown.contains("| 5 % or closer |") && !markdown.contains("| 10 % or closer |"),
        "{markdown}"
    );
}

#[test]
fn the_cautions_are_there() {
    let (sheet, result) = sheet_of(sample("wren-bridge"), &[(Slot::Bleed, network("1n"))]);
    let markdown = sheet.document(&result).markdown();
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

#[test]
fn cases_have_their_own_levels() {
    let folder = tempfile::tempdir().unwrap();
    let asked = [
        "recommend",
        "--values",
        "R=E3,C=E3",
        "--builds",
        "0",
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

/// What a sheet says that the wish bears of one part: just inside, the wish is met and the rest kept; just outside, one of both is not. Held
/// against the tests' own solver, measures and guards.
#[test]
fn limits_are_where_the_wish_or_the_rest_breaks() {
    let holds = |present: &Guitar, build: &Guitar, target: &Target| {
        let ranked = support::naive::rank_with(twin::transfer, present, build, target, vec![support::naive::Candidate::new([])]);
        let margin = ranked.first().map_or(f64::NEG_INFINITY, |ranked| ranked.margin_db);
        let guards = support::rest::guards(present, build, target);
        margin >= 0.0 && guards.iter().all(|guard| guard.margin_db() >= 0.0)
    };
    let (mut by_wish, mut open) = (0, 0);
    for (name, phrase) in [
        ("wren-bridge", "keep highs within 4 dB at volume 5"),
        ("heron-bridge", "keep highs within 3 dB at volume 5"),
        ("bittern-neck", "less mud"),
        ("plover-bridge", "darker"),
        ("wren-bridge", "cut highs by 6 to 12 dB at tone 0"),
    ] {
        let request = Request::new(sample(name), target(phrase));
        let result = recommend(&request, &()).unwrap();
        let sheet = sheet(&request, &result)
            .unwrap()
            .unwrap_or_else(|| panic!("{name}, {phrase}: nothing to build"));
        let answer = &result.answer.build.as_ref().unwrap().guitar;
        let mut next = std::collections::BTreeMap::new();
        for part in &sheet.parts {
            let index = next.entry(part.slot).or_insert(0_usize);
            let own = *index;
            *index += 1;
            let value = part.component.value();
            let off = |value: f64| {
                let mut build = answer.clone();
                let mut parts = build.fitted(part.slot).unwrap().components();
                parts[own] = match part.component {
                    Component::Capacitor(_) => Component::Capacitor(farads(value)),
                    _ => Component::Resistor(ohms(value)),
                };
                let written = build.fitted(part.slot).unwrap().to_string();
                build.fit(part.slot, Some(rebuilt(&written, &parts)));
                build
            };
            for (end, out) in part.bears.expect("the wish is met").into_iter().zip([-1.0, 1.0]) {
                let end = match end {
                    Some(end) => end,
                    None => {
                        open += 1;
                        value * 10_f64.powf(out)
                    }
                };
                assert!(
                    holds(&request.guitar, &off(end * (1.0 - 1e-3 * out)), &result.target),
                    "{name}, {phrase}: {end} inside"
                );
                if (end / value).log10().abs() < 0.999 {
                    by_wish += 1;
                    assert!(
                        !holds(&request.guitar, &off(end * (1.0 + 2e-2 * out)), &result.target),
                        "{name}, {phrase}: {end} outside"
                    );
                }
            }
        }
    }
    assert!(by_wish >= 6 && open >= 1, "{by_wish} ends where something breaks, {open} open");
}

/// A network of the same form with other parts, in written order.
fn rebuilt(form: &str, parts: &[Component]) -> knobwright::parts::network::Network {
    use knobwright::parts::network::Network;
    fn of(network: &Network, parts: &mut std::slice::Iter<'_, Component>) -> Network {
        match network {
            Network::Series(members) => Network::Series(members.iter().map(|member| of(member, parts)).collect()),
            Network::Parallel(members) => Network::Parallel(members.iter().map(|member| of(member, parts)).collect()),
            _ => Network::Fixed(*parts.next().unwrap()),
        }
    }
    of(&network(form).unwrap(), &mut parts.iter())
}
