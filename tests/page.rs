//! Pages to hand over. Outside sources: the XML rules as an independent parser has them, SHA-256 and base 64 as general-purpose libraries have
//! them, CSP level 3 for the policy, the response command for every curve; a browser, where there is one, for what the page does.

mod program;

use std::path::{Path, PathBuf};
use std::process::Command;

use base64::Engine;
use knobwright::circuit::Setting;
use knobwright::guitar::Guitar;
use knobwright::guitar::taper::Taper;
use knobwright::inputs;
use knobwright::kernel::response::response;
use knobwright::parts::network::Network;
use knobwright::picture::{Sweep, sweep};
use knobwright::source::Source;
use knobwright::units::Ohms;
use program::{ends, run, text};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use roxmltree::{Document, ParsingOptions};
use serde_json::Value;
use sha2::{Digest, Sha256};

/// What the page promises, in dB.
const CLOSE_DB: f64 = 0.1;
/// What the page promises, in bytes.
const MOST_BYTES: usize = 1_500_000;
/// A line separator, which ends a string of a script, is refused in a name already.
const HOSTILE: &str = "</script><img src=x onerror=alert(1)> ]]> & 'it' \"s\"";

fn parsed(html: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(html, options).unwrap_or_else(|error| panic!("{error}"))
}

fn page_of(folder: &Path, arguments: &[&str]) -> String {
    let path = folder.join("page.html");
    let output = run(&[arguments, &["--quiet", "--page", path.to_str().unwrap()]].concat());
    assert!([Some(0), Some(1)].contains(&output.status.code()), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty() && !output.stdout.is_empty());
    std::fs::read_to_string(path).unwrap()
}

/// A guitar file of a hostile name.
fn hostile_guitar(folder: &Path) -> String {
    let sample = knobwright::shipped::GUITARS[0].text;
    let name = serde_json::to_string(HOSTILE).unwrap();
    let renamed = sample.replacen("name = \"Wren, bridge\"", &format!("name = {name}"), 1);
    assert_ne!(renamed, sample);
    let path = folder.join("hostile.toml");
    std::fs::write(&path, renamed).unwrap();
    path.to_str().unwrap().to_owned()
}

fn between<'t>(text: &'t str, from: &str, to: &str) -> &'t str {
    let start = text.find(from).unwrap_or_else(|| panic!("no {from}")) + from.len();
    &text[start..start + text[start..].find(to).unwrap()]
}

fn pages(folder: &Path) -> Vec<(&'static str, String)> {
    let guitar = hostile_guitar(folder);
    let recommend = [
        "recommend",
        "--guitar",
        &guitar,
        "--builds",
        "200",
        "--search",
        "bleed=R || C",
        "--values",
        "R=E12,C=E6",
    ];
    let builds = [
        "--build",
        "<b>bench</b>: bleed=120k || 1n",
        "--build",
        "a&b: tone=47n",
        "--target",
        "keep highs within 4 dB from full to half volume",
    ];
    let compare = [&["compare", "--guitar", &guitar][..], &builds].concat();
    let kit = [
        "kit",
        "--guitars",
        &guitar,
        "wren-bridge",
        "--values",
        "R=E3,C=E3",
        "--choose",
        "R=1,C=1",
    ];
    let measured = folder.join("measured.csv");
    let swept = ends(&["response", "--quiet", "--guitar", &guitar, "--volume", "5", "--format", "csv"], 0);
    let columns = |line: &str| line.split(',').skip(2).take(2).collect::<Vec<_>>().join(",");
    std::fs::write(&measured, swept.lines().map(columns).collect::<Vec<_>>().join("\n") + "\n").unwrap();
    let measured = measured.to_str().unwrap();
    let swept = ["--guitar", &guitar, "--volume", "5"];
    vec![
        ("recommend", page_of(folder, &recommend)),
        ("compare", page_of(folder, &compare)),
        ("kit", page_of(folder, &kit)),
        (
            "tolerance",
            page_of(
                folder,
                &["tolerance", "--guitar", &guitar, "--builds", "200", "--build", "bleed=1n"],
            ),
        ),
        ("response", page_of(folder, &[&["response"][..], &swept].concat())),
        (
            "verify",
            page_of(folder, &[&["verify", "--measured", measured][..], &swept].concat()),
        ),
        (
            "identify",
            page_of(folder, &[&["identify", "--response", measured][..], &swept].concat()),
        ),
    ]
}

#[test]
fn a_page_is_well_formed_and_lets_nothing_in() {
    let folder = tempfile::tempdir().unwrap();
    for (command, html) in pages(folder.path()) {
        let page = parsed(&html);
        let digest = |text: &str| base64::engine::general_purpose::STANDARD.encode(Sha256::digest(text));
        let style = between(&html, "<style>", "</style>");
        // A page on which nothing moves has no script, and allows none.
        let moves = html.contains("<script>");
        let script = if moves { between(&html, "<script>", "</script>") } else { "" };
        let allowed = if moves {
            format!(" script-src 'sha256-{}';", digest(script))
        } else {
            String::new()
        };
        let policy = between(&html, "http-equiv=\"Content-Security-Policy\" content=\"", "\"");
        let wanted = format!(
            "default-src 'none'; style-src 'sha256-{}';{allowed} base-uri 'none'; form-action 'none'",
            digest(style)
        );
        assert_eq!(policy, wanted, "{command}");
        for promised in [
            "prefers-color-scheme: dark",
            "@media print",
            "color-scheme: light dark",
            "max-width: 40rem",
        ] {
            assert!(style.contains(promised), "{promised}");
        }
        for forbidden in [
            "innerHTML",
            "outerHTML",
            "insertAdjacent",
            "document.write",
            "eval(",
            "fetch(",
            "XMLHttp",
            "import",
        ] {
            assert!(!script.contains(forbidden), "{forbidden}");
        }
        for address in ["http:", "https:", "src=\"", "href=", "url(", "@import", "//www"] {
            assert!(!html.contains(address), "{command}: {address}");
        }
        for node in page.descendants() {
            for attribute in node.attributes() {
                let name = attribute.name();
                assert!(
                    !name.starts_with("on") && !["style", "src", "href", "action"].contains(&name),
                    "{command}: {name}"
                );
            }
        }
        assert_eq!(page.descendants().filter(|node| node.has_tag_name("style")).count(), 1, "{command}");
        assert!(html.len() < MOST_BYTES, "{command}: {} bytes", html.len());
        assert_eq!(html.matches("NaN").count(), script.matches("NaN").count(), "{command}");
    }
}

#[test]
fn a_hostile_name_stays_text_in_every_place() {
    let folder = tempfile::tempdir().unwrap();
    for (command, html) in pages(folder.path()) {
        let page = parsed(&html);
        let count = |name: &str| page.descendants().filter(|node| node.tag_name().name() == name).count();
        for forbidden in ["img", "b", "a", "iframe", "link", "object"] {
            assert_eq!(count(forbidden), 0, "{command}: {forbidden}");
        }
        assert!(!html.contains("<img"), "{command}");
        let shown = page
            .descendants()
            .filter_map(|node| node.text())
            .any(|text| text.contains("</script><img src=x onerror=alert(1)>"));
        assert!(shown, "{command}");
        let sweeps = ["recommend", "compare"].contains(&command);
        let sorts = html.contains("class=\"sorts\"");
        assert_eq!(count("script"), usize::from(sweeps) + usize::from(sweeps || sorts), "{command}");
        if sweeps {
            let data = between(&html, "id=\"sweep\">", "</script>");
            assert!(!data.contains(['<', '>', '&', '\u{2028}']), "{command}");
            serde_json::from_str::<Value>(data).unwrap();
        }
    }
}

#[test]
fn ids_are_unique_and_every_label_has_its_control() {
    let folder = tempfile::tempdir().unwrap();
    for (command, html) in pages(folder.path()) {
        let page = parsed(&html);
        let mut ids: Vec<&str> = page.descendants().filter_map(|node| node.attribute("id")).collect();
        for label in page.descendants().filter_map(|node| node.attribute("for")) {
            assert!(ids.contains(&label), "{command}: {label}");
        }
        let all = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), all, "{command}");
        for header in page.descendants().filter(|node| node.has_attribute("aria-sort")) {
            let button = header.first_element_child().unwrap();
            assert!(button.has_tag_name("button") && !button.text().unwrap().is_empty(), "{command}");
        }
        for svg in page.descendants().filter(|node| node.attribute("role") == Some("img")) {
            assert!(svg.children().any(|node| node.has_tag_name("title")), "{command}");
        }
    }
}

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("test", text).passage()).unwrap()
}

/// The guitar as it is, with two bleeds and with another tone network.
fn builds(name: &str) -> Vec<(String, Guitar)> {
    let guitar = inputs::guitar(Some(name)).unwrap();
    let mut builds = vec![("present".to_owned(), guitar.clone())];
    for bleed in ["91k + (150k || 1n5)", "1n"] {
        let mut other = guitar.clone();
        other.volume.bleed = network(bleed);
        builds.push((bleed.to_owned(), other));
    }
    let mut other = guitar;
    if let Some(tone) = &mut other.tone {
        tone.network = network("100n");
    }
    builds.push(("100n".to_owned(), other));
    builds
}

/// The largest distance in dB between the data and the response, at random rotations.
fn furthest(builds: &[(String, Guitar)], sweep: &Sweep, runner: &mut TestRunner, times: usize) -> f64 {
    let mut furthest = 0.0_f64;
    let rotations = (0.01..=1.0, 0.0..=1.0);
    for _ in 0..times {
        let (volume, tone) = rotations.new_tree(runner).unwrap().current();
        let tone = if sweep.tone.nodes.len() > 1 { tone } else { 1.0 };
        for (index, (_, guitar)) in builds.iter().enumerate() {
            let Some(levels) = sweep.levels_db(index, Setting { volume, tone }) else {
                continue;
            };
            let points = response(guitar, &[Setting { volume, tone }], &sweep.frequencies_hz);
            for (level, point) in levels.iter().zip(&points) {
                let distance = (level - point.level_db.unwrap()).abs();
                if distance > furthest {
                    println!("{distance} at {volume} {tone} {} of {index}", point.frequency_hz);
                }
                furthest = furthest.max(distance);
            }
        }
    }
    furthest
}

#[test]
fn the_data_of_a_page_is_close_to_the_response_at_random_rotations() {
    let mut runner = TestRunner::deterministic();
    for file in knobwright::shipped::GUITARS {
        let builds = builds(file.name);
        let sweep = sweep(&builds, Setting { volume: 1.0, tone: 1.0 }, [0, 1]).unwrap();
        assert_eq!((sweep.builds.len(), sweep.left_out), (builds.len(), 0), "{}", file.name);
        let times = if file.name == knobwright::shipped::GUITARS[0].name {
            200
        } else {
            25
        };
        let furthest = furthest(&builds, &sweep, &mut runner, times);
        println!(
            "{}: {} × {} nodes, {furthest:.3} dB",
            file.name,
            sweep.volume.nodes.len(),
            sweep.tone.nodes.len()
        );
        assert!(furthest <= CLOSE_DB, "{}: {furthest} dB", file.name);
    }
}

/// Builds with other pots than the present guitar's, as `--try` and `compare` make them: a no-load tone pot, other tapers, another track.
#[test]
fn each_build_is_swept_with_pots_of_its_own() {
    let mut runner = TestRunner::deterministic();
    for (name, tapers) in [
        ("wren-bridge", ["linear", "audio 30 %"]),
        ("dunlin-bridge", ["audio 10 %", "linear"]),
    ] {
        let guitar = knobwright::inputs::guitar(Some(name)).unwrap();
        let [volume, tone] = tapers.map(|taper| Taper::read(&Source::inline("taper", taper).passage()).unwrap());
        let mut builds = vec![("present".to_owned(), guitar.clone())];
        for change in [0b001, 0b010, 0b100, 0b111] {
            let mut other = guitar.clone();
            let control = other.tone.as_mut().unwrap();
            control.no_load = change & 0b001 > 0;
            if change & 0b010 > 0 {
                other.volume.pot.taper = volume.clone();
                other.volume.pot.resistance = Ohms::new(1e6).unwrap();
            }
            if change & 0b100 > 0 {
                control.pot.taper = tone.clone();
            }
            builds.push((change.to_string(), other));
        }
        let sweep = sweep(&builds, Setting { volume: 1.0, tone: 1.0 }, [0, 1]).unwrap();
        assert_eq!(sweep.builds.len(), builds.len());
        for (index, (_, guitar)) in builds.iter().enumerate() {
            let levels = sweep.levels_db(index, Setting { volume: 1.0, tone: 1.0 }).unwrap();
            let points = response(guitar, &[Setting { volume: 1.0, tone: 1.0 }], &sweep.frequencies_hz);
            for (level, point) in levels.iter().zip(points) {
                assert!((level - point.level_db.unwrap()).abs() < 0.006, "{name} {index} {point:?}");
            }
        }
        let furthest = furthest(&builds, &sweep, &mut runner, 50);
        assert!(furthest <= CLOSE_DB, "{name}: {furthest} dB");
    }
}

#[test]
fn the_ends_of_the_travel_are_exact_and_silence_is_told() {
    for name in ["wren-bridge", "kestrel-bridge"] {
        let mut builds = builds(name);
        for (_, guitar) in &mut builds {
            guitar.tone.as_mut().unwrap().no_load = true;
        }
        let sweep = sweep(&builds, Setting { volume: 1.0, tone: 1.0 }, [0, 1]).unwrap();
        assert!(sweep.tone.apart_at_full);
        for (volume, tone) in [(1.0, 1.0), (1.0, 0.0), (1.0, 0.999_999)] {
            let levels = sweep.levels_db(1, Setting { volume, tone }).unwrap();
            let points = response(&builds[1].1, &[Setting { volume, tone }], &sweep.frequencies_hz);
            for (level, point) in levels.iter().zip(points) {
                assert!((level - point.level_db.unwrap()).abs() < 0.006, "{volume} {tone} {point:?}");
            }
        }
        assert_eq!(sweep.levels_db(0, Setting { volume: 0.0, tone: 1.0 }), None);
        assert_eq!(sweep.levels_db(99, Setting { volume: 1.0, tone: 1.0 }), None);
    }
}

/// Levels as the page's script reads them, written down anew from the description of the form.
fn decoded(text: &str) -> Vec<i64> {
    let (mut levels, mut level, mut step, mut number) = (Vec::new(), 0, 0, String::new());
    for letter in text.chars() {
        let change = match letter {
            'a'..='z' => i64::from(u32::from(letter)) - 97,
            'A'..='Z' => 64 - i64::from(u32::from(letter)),
            ';' => std::mem::take(&mut number).parse().unwrap(),
            digit => {
                number.push(digit);
                continue;
            }
        };
        step += change;
        level += step;
        levels.push(level);
    }
    levels
}

#[test]
fn levels_survive_being_written() {
    let builds = builds("heron-bridge");
    let sweep = sweep(&builds, Setting { volume: 0.5, tone: 1.0 }, [0, 1]).unwrap();
    let written = serde_json::to_value(&sweep).unwrap();
    for (index, build) in sweep.builds.iter().enumerate() {
        for (node, levels) in build.levels.iter().enumerate() {
            let text = written["builds"][index]["levels"][node].as_str().unwrap();
            let own: Vec<i64> = levels.0.iter().map(|level| i64::from(*level)).collect();
            assert_eq!(decoded(text), own);
        }
    }
}

#[test]
fn the_page_of_the_default_job_shows_every_build_and_stays_small() {
    let folder = tempfile::tempdir().unwrap();
    let html = page_of(folder.path(), &["recommend", "--builds", "0"]);
    let data: Value = serde_json::from_str(between(&html, "id=\"sweep\">", "</script>")).unwrap();
    println!("{} bytes", html.len());
    // The guitar as it is, the answer, and the ten best.
    assert!((11..=12).contains(&data["builds"].as_array().unwrap().len()));
    assert!(html.len() < MOST_BYTES, "{}", html.len());
    for part in [
        "What was asked",
        "The best builds",
        "Pictures",
        "Build sheet",
        "How it was computed",
        "inductance = &quot;2.6 H&quot;",
    ] {
        assert!(html.contains(part), "{part}");
    }
    assert!(html.contains("<code>knobwright recommend --builds 0 --quiet --page "));
}

#[test]
fn what_a_page_cannot_be_written_as_is_refused() {
    for (arguments, word) in [
        (&["recommend", "--page", "x.pdf"][..], "expected .html"),
        (&["recommend", "--page", "x.html", "--sheet", "x.html"], "same file"),
        (
            &["compare", "--build", "bleed=1n", "--page", "x.html", "--output", "x.html"],
            "same file",
        ),
        (&["kit", "--page", "page"], "expected .html"),
    ] {
        let told = program::refused(arguments);
        assert!(told.contains(word), "{told}");
    }
}

/// A program on the path.
fn found(names: &[&str]) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    let places = std::env::split_paths(&path).collect::<Vec<_>>();
    names
        .iter()
        .flat_map(|name| places.iter().map(move |place| place.join(name)))
        .find(|path| path.is_file())
}

fn numbers(readout: &str) -> Vec<f64> {
    let plain = readout.replace('\u{2212}', "-");
    let words = plain.split([' ', ',']).filter_map(|word| word.parse().ok());
    words.collect()
}

/// How the script ends where the browser cannot start at all.
const NO_BROWSER: i32 = 77;

#[test]
fn the_page_does_in_a_browser_what_it_promises() {
    let (Some(chromium), Some(node)) = (found(&["chromium", "chromium-browser", "google-chrome"]), found(&["node"])) else {
        eprintln!("\nSKIPPED: no Chromium with Node.js on the path, so the page was not driven in a browser.\n");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let guitar = hostile_guitar(folder.path());
    page_of(folder.path(), &["recommend", "--guitar", &guitar, "--builds", "200"]);
    let page = folder.path().join("page.html");
    let shots = std::env::var("KNOBWRIGHT_SCREENSHOTS").unwrap_or_else(|_| "-".to_owned());
    let axe = std::env::var("KNOBWRIGHT_AXE").unwrap_or_else(|_| "-".to_owned());
    let mut command = Command::new(node);
    command.arg("tests/browser/page.mjs").arg(chromium).arg(&page).args([&shots, &axe]);
    let output = command.output().unwrap();
    if output.status.code() == Some(NO_BROWSER) {
        eprintln!("\nSKIPPED: {}\n", text(&output.stderr).trim());
        return;
    }
    assert!(output.status.success(), "{}", text(&output.stderr));
    let seen: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        (&seen["errors"], &seen["dialogs"]),
        (&Value::from(Vec::<Value>::new()), &Value::from(Vec::<Value>::new()))
    );
    assert_eq!((seen["images"].as_u64(), seen["requests"].as_u64()), (Some(0), Some(0)));
    assert!(
        seen["title"].as_str().unwrap().starts_with("</script><img src=x onerror=alert(1)>"),
        "{}",
        seen["title"]
    );
    // Sliders by keyboard, a pointer, the switch and the other builds all move the curves.
    for (one, other, what) in [
        ("first", "turned", "after"),
        ("first", "turned", "before"),
        ("onlyBefore", "other", "after"),
    ] {
        assert_ne!(seen[one][what], seen[other][what], "{one} {other} {what}");
    }
    // The page opens where the first build is worst.
    assert_eq!(
        (&seen["first"]["volume"], &seen["turned"]["volume"]),
        (&"8.5 of 10".into(), &"7.5 of 10".into())
    );
    assert_eq!(seen["onlyBefore"]["after"], "");
    assert_ne!(seen["hovered"], seen["readouts"][5]);
    // The guitar as it is, the answer, and the ten best, the answer among them or not.
    assert!((11..=12).contains(&seen["choices"].as_array().unwrap().len()));
    for sorted in seen["sorted"].as_array().unwrap() {
        let cells: Vec<f64> = sorted["cells"]
            .as_array()
            .unwrap()
            .iter()
            .map(|cell| cell.as_str().unwrap().parse().unwrap())
            .collect();
        let ascending = sorted["says"] == "ascending";
        assert!(ascending || sorted["says"] == "descending");
        assert!(
            cells
                .windows(2)
                .all(|pair| if ascending { pair[0] <= pair[1] } else { pair[0] >= pair[1] }),
            "{cells:?}"
        );
    }
    assert_ne!(seen["sorted"][0]["says"], seen["sorted"][1]["says"]);
    assert!(seen["widths"][0].as_u64() <= seen["widths"][1].as_u64(), "{}", seen["widths"]);
    let best = seen["choices"][1].as_str().unwrap().split_once(": ").unwrap().1;
    for readout in seen["readouts"].as_array().unwrap() {
        let readout = readout.as_str().unwrap();
        let [volume, tone, hertz, before, after, difference] = numbers(readout)[..] else {
            panic!("{readout}")
        };
        for (with, shown) in [(None, before), (Some(best), after)] {
            let [volume, tone] = [volume, tone].map(|knob| knob.to_string());
            let frequency = hertz.to_string();
            let with = with.map(|bleed| format!("bleed={bleed}"));
            let mut arguments = vec![
                "response", "--quiet", "--guitar", &guitar, "--format", "csv", "--volume", &volume, "--tone", &tone,
            ];
            arguments.extend(["--frequencies", &frequency]);
            arguments.extend(with.iter().flat_map(|with| ["--with", with]));
            let csv = ends(&arguments, 0);
            let level: f64 = csv.lines().nth(1).unwrap().split(',').nth(3).unwrap().parse().unwrap();
            assert!((level - shown).abs() <= CLOSE_DB, "{readout}: {level} dB, {arguments:?}");
        }
        assert!((after - before - difference).abs() <= 0.11, "{readout}");
    }
    if axe == "-" {
        eprintln!("\nSKIPPED: KNOBWRIGHT_AXE names no axe.min.js of axe-core, so accessibility was not checked by it.\n");
        return;
    }
    for scheme in ["light", "dark"] {
        let serious = seen["axe"][scheme]
            .as_array()
            .unwrap()
            .iter()
            .filter(|found| ["serious", "critical"].map(Value::from).contains(&found["impact"]));
        assert_eq!(serious.collect::<Vec<_>>(), Vec::<&Value>::new(), "{scheme}");
    }
}
