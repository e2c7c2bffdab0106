//! The built program as a user meets it: what it takes, writes, prints and returns is what the guide to its use promises, word for word.
//! The counts of candidates follow from the lists of IEC 60063.

use std::fs;
use std::path::Path;
use std::process::{Output, Stdio};

use assert_cmd::Command;
use knobwright::inputs;
use knobwright::shipped::{GUITARS, STOCK, TARGETS};
use serde_json::Value;

const PROGRAM: &str = env!("CARGO_BIN_EXE_knobwright");
const COMMANDS: [&str; 5] = ["recommend", "response", "target", "values", "check"];
/// A quick search that meets the default target on the first sample, and one that cannot.
const MET: [&str; 5] = ["recommend", "--search", "bleed=R1 + (R2 || C)", "--values", "R=E12,C=E3"];
const MISSED: [&str; 5] = [
    "recommend",
    "--target",
    "keep highs within 0.2 dB from full to quarter volume",
    "--search",
    "bleed=C",
];

fn run(arguments: &[&str]) -> Output {
    Command::new(PROGRAM).args(arguments).output().unwrap()
}

fn run_in(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(PROGRAM).current_dir(folder).args(arguments).output().unwrap()
}

fn with<'t>(base: &[&'t str], more: &[&'t str]) -> Vec<&'t str> {
    [base, more].concat()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("text")
}

/// Standard output of a run that ends with a status.
#[track_caller]
fn ends(arguments: &[&str], status: i32) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(status), "{arguments:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// Standard error of a refused run, which prints nothing.
#[track_caller]
fn refused(arguments: &[&str]) -> String {
    let output = run(arguments);
    let told = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
    assert!(told.contains("error: ") && !told.contains("panicked"), "{arguments:?}: {told}");
    told
}

fn json(arguments: &[&str], status: i32) -> Value {
    serde_json::from_str(&ends(&with(arguments, &["--format", "json"]), status)).expect("JSON")
}

#[test]
fn the_status_tells_how_it_ended() {
    ends(&MET, 0);
    let missed = ends(&MISSED, 1);
    assert!(
        missed.contains("What stops it: clause 1"),
        "the best is still printed, and what stops it: {missed}"
    );
    assert!(missed.contains("\n 1  "));
    for done in [
        &["response", "--frequencies", "100"][..],
        &["target"],
        &["target", "darker"],
        &["values"],
        &["values", "E96", "--nearest", "76.1k"],
        &["values", "--decode", "223J"],
        &["check", "--list"],
        &["check", "targets/less-mud.toml", "stock-values/stock/small-workshop.csv"],
        &["--help"],
        &["--version"],
    ] {
        ends(done, 0);
    }
}

#[test]
fn bad_input_and_bad_usage_end_with_two() {
    for bad in [
        &["recommend", "--guitar", "./nowhere.toml"][..],
        &["recommend", "--guitar", "tests/bad-input/negative-resistance.toml"],
        &["recommend", "--target", "make it sing"],
        &["recommend", "--search", "bleed=Q"],
        &["recommend", "--search", "bypass=C"],
        &["recommend", "--with", "bleed=C"],
        &["recommend", "--with", "bleed=1n", "--with", "bleed=2n"],
        &["recommend", "--range", "C=22n..100p"],
        &["recommend", "--range", "bleed.C=1.01n..1.02n"],
        &["recommend", "--top", "0"],
        &["recommend", "--threads", "0"],
        &["recommend", "--format", "yaml"],
        &["recommend", "--stock", "small-workshop", "--values", "R=E24"],
        &["recommend", "--guitar", "siskin-bridge", "--search", "tone=C"],
        &["recommend", "--guitar", "siskin-bridge", "--hookup", "shelf"],
        &["recommend", "--target", "keep highs within 2 dB at volume 11"],
        &["response", "--volume", "1.5"],
        &["response", "--volume", "NaN"],
        &["response", "--tone", ""],
        &["response", "--frequencies", "0"],
        &["response", "--from", "2k", "--to", "1k"],
        &["response", "--guitar", "siskin-bridge", "--tone", "0.5"],
        &["response", "--with", "bypass=1n"],
        &["target", "less"],
        &["values", "E7"],
        &["values", "--nearest", "-1k"],
        &["values", "--range", "1k..1n"],
        &["values", "--decode", "purple rain"],
        &["check"],
        &["check", "nowhere.toml"],
        &["solder"],
        &[],
    ] {
        let output = run(bad);
        assert_eq!(output.status.code(), Some(2), "{bad:?}");
        assert!(output.stdout.is_empty(), "{bad:?}");
        assert!(!output.stderr.is_empty() && !text(&output.stderr).contains("panicked"), "{bad:?}");
    }
}

#[test]
fn check_reports_every_bad_file_and_still_reads_the_good_ones() {
    let files = [
        "tests/bad-input/zero-pot.toml",
        "stock-values/guitars/wren-bridge.toml",
        "tests/bad-input/stock-short-row.csv",
        "targets/tone-sweep.toml",
        "tests/bad-input/targets/no-bound.toml",
        "stock-values/stock/small-workshop.csv",
    ];
    let output = run(&with(&["check"], &files));
    assert_eq!(output.status.code(), Some(2));
    let (good, bad) = (text(&output.stdout), text(&output.stderr));
    for (index, file) in files.iter().enumerate() {
        let (here, there) = if index % 2 == 0 { (&bad, &good) } else { (&good, &bad) };
        assert!(here.contains(file) && !there.contains(file), "{file}");
    }
    assert_eq!(good.lines().count(), 3, "a line each: {good}");
    assert_eq!(bad.matches("error: ").count(), 3);
}

#[test]
fn an_output_file_is_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("answer.json");
    let path = file.to_str().unwrap();
    let plain = ends(&with(&MISSED, &["--quiet", "--format", "json"]), 1);
    let output = run(&with(&MISSED, &["--quiet", "--format", "json", "--output", path]));
    assert_eq!((output.status.code(), output.stdout.is_empty()), (Some(1), true));
    assert_eq!(fs::read_to_string(&file).unwrap(), plain);
    // Bad input leaves what was there, and leaves nothing beside it.
    for bad in [
        &["recommend", "--guitar", "nobody"][..],
        &["recommend", "--search", "bleed=Q"],
        &["response", "--volume", "2"],
        &["target", "less"],
        &["values", "E7"],
    ] {
        refused(&with(bad, &["--output", path]));
        assert_eq!(fs::read_to_string(&file).unwrap(), plain);
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    // Every command that has a result writes it; what is there is replaced.
    for done in [&["response"][..], &["target"], &["values"]] {
        assert_eq!(ends(&with(done, &["--output", path]), 0), "");
        assert_eq!(fs::read_to_string(&file).unwrap(), ends(done, 0));
    }
    let nowhere = folder.path().join("no/such/folder.csv");
    let told = refused(&with(&MET, &["--quiet", "--output", nowhere.to_str().unwrap()]));
    assert!(told.contains("there is no such folder"), "{told}");
    refused(&["target", "--output", folder.path().to_str().unwrap()]);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}

/// The keys of an object, sorted.
fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value.as_object().expect("an object").keys().map(String::as_str).collect();
    keys.sort_unstable();
    keys
}

#[track_caller]
fn has(value: &Value, wanted: &[&str]) {
    let found = keys(value);
    assert!(wanted.iter().all(|key| found.contains(key)), "{wanted:?} in {found:?}");
}

#[test]
fn the_keys_and_types_of_the_json_are_fixed() {
    let answer = json(&MET, 0);
    has(&answer, &["guitar", "target", "present", "search", "indifferent", "builds"]);
    assert_eq!(answer["guitar"], "Wren, bridge");
    has(&answer["target"], &["name", "clauses"]);
    let clauses = answer["target"]["clauses"].as_array().unwrap();
    assert_eq!(clauses.len(), 2);
    has(
        &clauses[0],
        &[
            "measure", "against", "band", "anchor", "over", "volume", "tone", "at_least", "at_most",
        ],
    );
    assert_eq!((&clauses[0]["measure"], &clauses[0]["against"]), (&"shape".into(), &"full".into()));
    assert_eq!((&clauses[1]["over"], &clauses[1]["against"]), (&"mean".into(), &"present".into()));
    assert_eq!(clauses[0]["band"], serde_json::json!([1500.0, 6000.0]));
    assert_eq!(clauses[0]["anchor"], serde_json::json!([100.0, 400.0]));
    assert_eq!(clauses[0]["volume"], serde_json::json!([1.0, 0.75, 0.5]));
    assert_eq!((&clauses[0]["at_least"], &clauses[0]["at_most"]), (&(-4.0).into(), &4.0.into()));
    assert!(answer["present"]["margin_db"].is_f64() && answer["present"]["meets_target"] == false);

    let search = answer["search"].as_array().unwrap();
    let named: Vec<&Value> = search.iter().map(|space| &space["slots"]["bleed"]).collect();
    assert_eq!(named, ["R1 + (R2 || C)", "none"]);
    // E12 from 1k to 1M: three decades and the last end. E3 from 100p to 22n: two decades, 10n and 22n.
    assert_eq!(search[0]["candidates"], 37 * 37 * 8);
    assert_eq!(search[1]["candidates"], 1);
    for space in search {
        has(space, &["slots", "candidates", "evaluated", "exact", "ideal"]);
        assert_eq!(space["evaluated"].as_f64(), space["candidates"].as_f64());
        assert!(space["exact"].is_boolean());
    }
    for item in answer["indifferent"].as_array().unwrap() {
        assert!(item["slot"].is_string() && item["span_db"].as_f64().unwrap() < 0.5);
    }
    let builds = answer["builds"].as_array().unwrap();
    assert_eq!(builds.len(), 10);
    for (index, build) in builds.iter().enumerate() {
        check_build(build, index + 1);
    }
}

fn check_build(build: &Value, rank: usize) {
    let wanted = [
        "rank",
        "slots",
        "fitted",
        "hookup",
        "joined_at",
        "parts",
        "margin_db",
        "meets_target",
        "rms_db",
        "volume_shift_db",
        "at_range_end",
        "worst",
    ];
    has(build, &wanted);
    assert_eq!(build["rank"], rank);
    assert_eq!((&build["hookup"], &build["joined_at"]), (&"rheostat".into(), &"pickup".into()));
    assert_eq!((keys(&build["slots"]), keys(&build["fitted"])), (vec!["bleed"], vec!["tone"]));
    assert_eq!(keys(&build["parts"]), ["bleed.C", "bleed.R1", "bleed.R2"]);
    // SI units: nanofarads, not numbers of them.
    assert!((100e-12..=22e-9).contains(&build["parts"]["bleed.C"].as_f64().unwrap()));
    assert!((1e3..=1e6).contains(&build["parts"]["bleed.R1"].as_f64().unwrap()));
    assert!(
        ["margin_db", "rms_db", "volume_shift_db"]
            .iter()
            .all(|key| build[key].as_f64().is_some_and(f64::is_finite))
    );
    assert_eq!(build["meets_target"], build["margin_db"].as_f64().unwrap() >= 0.0);
    assert!(build["at_range_end"].as_array().unwrap().iter().all(Value::is_string));
    let worst = &build["worst"];
    has(worst, &["clause", "volume", "tone", "frequency_hz", "difference_db"]);
    assert!(worst["clause"].is_u64() && worst["volume"].is_f64() && worst["tone"].is_f64() && worst["difference_db"].is_f64());
    // A frequency where each is bounded, null where the mean is.
    assert_eq!(worst["frequency_hz"].is_null(), worst["clause"] == 1);
}

#[test]
fn a_mean_has_no_frequency_and_ideal_is_there_before_it_exists() {
    let mean = json(
        &[
            "recommend",
            "--target",
            "keep level within 6 dB of present from full to half volume",
            "--search",
            "bleed=R",
        ],
        0,
    );
    for build in mean["builds"].as_array().unwrap() {
        assert!(build["worst"]["frequency_hz"].is_null(), "{build}");
    }
    for space in mean["search"].as_array().unwrap() {
        assert!(space.as_object().unwrap().contains_key("ideal"));
    }
    let none = &mean["builds"][0];
    assert_eq!((&none["slots"]["bleed"], &none["parts"]), (&"none".into(), &serde_json::json!({})));
    // Turned down as far as a range goes, a resistor across the control moves the knob most.
    let ends = json(
        &[
            "recommend",
            "--target",
            "keep level within 6 dB of present from full to half volume",
            "--search",
            "bleed=R",
            "--range",
            "R=2.2M..4.7M",
        ],
        0,
    );
    let found = ends["builds"]
        .as_array()
        .unwrap()
        .iter()
        .find(|build| build["slots"]["bleed"] == "4M7")
        .unwrap();
    assert_eq!(found["at_range_end"], serde_json::json!(["bleed.R"]));
}

#[test]
fn silence_is_empty_in_csv_null_in_json_and_a_word_in_tables() {
    let asked = ["response", "--volume", "1,0", "--tone", "1,0.5", "--frequencies", "100,1k"];
    let csv = ends(&with(&asked, &["--format", "csv"]), 0);
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines[0], "volume,tone,frequency_hz,level_db,phase_deg");
    assert_eq!(lines.len(), 1 + 2 * 2 * 2);
    assert_eq!(&lines[5..], ["0,1,100,,", "0,1,1000,,", "0,0.5,100,,", "0,0.5,1000,,"]);
    let level: &str = lines[1].split(',').nth(3).unwrap();
    assert!(level.len() > 12 && level.parse::<f64>().is_ok(), "full precision: {level}");
    let points = json(&asked, 0);
    let points = points.as_array().unwrap();
    assert_eq!(points.len(), 8);
    for point in points {
        has(point, &["volume", "tone", "frequency_hz", "level_db", "phase_deg"]);
        let silent = point["volume"] == 0.0;
        assert_eq!((point["level_db"].is_null(), point["phase_deg"].is_null()), (silent, silent));
    }
    let table = ends(&asked, 0);
    assert_eq!(table.matches("silent").count(), 8);
    for form in [csv, table] {
        assert!(!form.contains("NaN") && !form.contains("inf"));
    }
    // A grid has both its ends.
    let grid = ends(
        &[
            "response",
            "--from",
            "100",
            "--to",
            "400",
            "--points-per-octave",
            "1",
            "--format",
            "csv",
        ],
        0,
    );
    let frequencies: Vec<&str> = grid.lines().skip(1).map(|line| line.split(',').nth(2).unwrap()).collect();
    assert_eq!(frequencies, ["100", "200", "400"]);
}

#[test]
fn off_a_terminal_there_is_no_bar_and_no_colour() {
    for arguments in [
        &MET[..],
        &MISSED,
        &["recommend", "--search", "bleed=Q"],
        &["check", "tests/bad-input/junk.toml"],
    ] {
        let output = run(arguments);
        for stream in [&output.stdout, &output.stderr] {
            assert!(!stream.contains(&0x1b) && !stream.contains(&b'\r'), "{arguments:?}");
        }
    }
    let output = run(&MET);
    assert_eq!(
        text(&output.stderr),
        "No --guitar given: using the shipped sample \"Wren, bridge\".\n"
    );
}

#[test]
fn quiet_prints_nothing_but_the_result() {
    for arguments in [&MET[..], &["response", "--frequencies", "100"]] {
        let output = run(&with(arguments, &["--quiet"]));
        assert!(output.stderr.is_empty() && output.status.success(), "{}", text(&output.stderr));
        assert_eq!(text(&output.stdout), ends(arguments, 0));
    }
    // Bad input is told all the same.
    refused(&["recommend", "--guitar", "nobody", "--quiet"]);
}

#[test]
fn a_reader_that_left_ends_it_quietly() {
    for arguments in [
        &MET[..],
        &MISSED,
        &["response", "--points-per-octave", "1000"],
        &["target"],
        &["values", "E192"],
        &["check", "--list"],
        &["check", "targets/less-mud.toml", "targets/tone-sweep.toml"],
    ] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = std::process::Command::new(PROGRAM)
            .args(arguments)
            .stdout(writer)
            .stderr(Stdio::piped())
            .output()
            .unwrap();
        let told = text(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {told}");
        assert!(!told.contains("error") && !told.contains("panicked"), "{arguments:?}: {told}");
    }
}

#[cfg(unix)]
#[test]
fn an_interrupted_search_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("answer.txt");
    let mut child = std::process::Command::new(PROGRAM)
        .args(["recommend", "--large", "--values", "R=E192,C=E192", "--output"])
        .arg(&file)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(700));
    let kill = std::process::Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    assert!(kill.success());
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn every_answer_fits_eighty_columns() {
    let coarse = ["--quiet", "--top", "25"];
    let mut answers = 0;
    for guitar in GUITARS {
        let tone = inputs::guitar(Some(guitar.name)).unwrap().tone.is_some();
        for target in TARGETS {
            let moves = inputs::target(Some(target.name))
                .unwrap()
                .clauses
                .iter()
                .any(|clause| clause.tone != [1.0]);
            let asked = ["recommend", "--guitar", guitar.name, "--target", target.name];
            // Coarse series, so that it is quick; a key is refused where no part answers to it.
            let values = if tone && moves {
                ["--values", "C=E6"]
            } else {
                ["--values", "R=E6,C=E6"]
            };
            let output = run(&with(&with(&asked, &coarse), &values));
            if moves && !tone {
                assert!(text(&output.stderr).contains("lacks the [tone] table"));
                continue;
            }
            assert!(
                [Some(0), Some(1)].contains(&output.status.code()),
                "{asked:?}: {}",
                text(&output.stderr)
            );
            let answer = text(&output.stdout);
            for line in answer.lines() {
                assert!(line.chars().count() <= 80, "{asked:?}: {line}");
                assert!(!line.contains('\u{2014}') && line.trim_end() == line, "{asked:?}: {line}");
            }
            answers += 1;
        }
    }
    assert!(answers >= 70, "{answers}");
    for wide in [
        &[
            "recommend",
            "--search",
            "bleed=R || C",
            "--search",
            "tone=R + C",
            "--values",
            "R=E3,C=E3",
            "--target",
            "keep highs within 2 dB from full to half volume and cut highs by 3 to 9 dB at tone 0",
        ][..],
        &["recommend", "--target", "which cap for less mud?"],
        &["response", "--volume", "1,0.123456", "--to", "20k"],
        &["values", "E192"],
        &["values", "--decode", "yellow violet yellow gold"],
    ] {
        let answer = text(&run(wide).stdout);
        assert!(!answer.is_empty());
        for line in answer.lines() {
            assert!(line.chars().count() <= 80, "{wide:?}: {line}");
        }
    }
}

#[test]
fn a_target_reads_back_from_what_it_prints() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("written.toml");
    let path = file.to_str().unwrap();
    let shipped = TARGETS.iter().map(|file| file.name);
    let phrases = [
        "keep highs within 2 dB from full to quarter volume",
        "less mud; keep level within 4.5 dB of present from full to half volume",
        "which cap for more presence by 2 dB at tone 5?",
        "no bump over 1.5 dB in mids at tone 0",
        "Brighter",
    ];
    for asked in shipped.chain(phrases) {
        let printed = ends(&["target", asked], 0);
        ends(&["target", asked, "--output", path], 0);
        assert_eq!(ends(&["target", path], 0), printed, "{asked}");
        assert_eq!(inputs::target(Some(path)).unwrap(), inputs::target(Some(asked)).unwrap(), "{asked}");
        ends(&["check", path], 0);
    }
    assert_eq!(ends(&["target"], 0), ends(&["target", "highs-and-feel"], 0));
}

/// The options of a command by its help, each with what is said about it.
fn options(help: &str) -> Vec<(String, String)> {
    let mut options: Vec<(String, String)> = Vec::new();
    for line in help.lines() {
        let trimmed = line.trim_start();
        if line.starts_with(' ') && (trimmed.starts_with("--") || trimmed.starts_with("-h")) {
            let (option, said) = trimmed.split_once("  ").unwrap_or((trimmed, ""));
            options.push((option.to_owned(), said.trim().to_owned()));
        } else if let Some(last) = options.last_mut().filter(|_| line.starts_with("      ")) {
            last.1.push_str(trimmed);
        }
    }
    options
}

#[test]
fn help_says_something_about_every_option() {
    let wanted: [&[&str]; 5] = [
        &[
            "--guitar",
            "--target",
            "--with",
            "--hookup",
            "--joined-at",
            "--search",
            "--values",
            "--range",
            "--stock",
            "--top",
            "--large",
            "--threads",
            "--format",
            "--output",
            "--quiet",
            "--help",
        ],
        &[
            "--guitar",
            "--with",
            "--volume",
            "--tone",
            "--from",
            "--to",
            "--points-per-octave",
            "--frequencies",
            "--format",
            "--output",
            "--quiet",
            "--help",
        ],
        &["--output", "--help"],
        &["--range", "--nearest", "--decode", "--format", "--output", "--quiet", "--help"],
        &["--list", "--help"],
    ];
    let overview = ends(&["--help"], 0);
    for (command, wanted) in COMMANDS.iter().zip(wanted) {
        assert!(overview.contains(&format!("\n  {command} ")), "{command}");
        for form in ["-h", "--help"] {
            let help = ends(&[command, form], 0);
            let options = options(&help);
            for option in wanted {
                let found = options.iter().find(|(name, _)| name.split([' ', ',']).any(|word| word == *option));
                let (_, said) = found.unwrap_or_else(|| panic!("{command} {form}: no {option} in\n{help}"));
                assert!(said.len() > 8, "{command} {form}: {option} says `{said}`");
            }
            assert_eq!(options.len(), wanted.len(), "{command}: {options:?}");
            assert!(help.lines().all(|line| line.chars().count() <= 100), "{help}");
        }
    }
}

#[test]
fn what_is_shipped_is_listed() {
    let list = ends(&["check", "--list"], 0);
    for file in GUITARS.iter().chain(TARGETS).chain(STOCK) {
        assert!(list.contains(&format!("  {}: ", file.name)), "{} in\n{list}", file.name);
    }
}

#[test]
fn too_many_candidates_are_refused_with_their_count() {
    let asked = [
        "recommend",
        "--search",
        "bleed=R1 + (R2 || C)",
        "--search",
        "tone=R + C",
        "--values",
        "R=E96",
    ];
    // E96 from 1k to 1M: 3·96 + 1 = 289 values, to 250k: 2·96 + 39 = 231; E12 from 100p to 22n and from 1n to 220n: 2·12 + 5 = 29.
    let (bleed, tone) = (289_u64 * 289 * 29, 231_u64 * 29);
    assert_eq!((bleed + 1) * (tone + 1), 16_228_137_000);
    let told = refused(&asked);
    assert!(told.contains("16,228,137,000 candidates are more than 20,000,000"), "{told}");
    assert!(told.contains("--large"), "{told}");
}

#[test]
fn unknown_words_are_told_with_the_nearest_known() {
    for (arguments, nearest) in [
        (&["recommend", "--guitar", "wrenbridge"][..], "wren-bridge"),
        (&["response", "--guitar", "siskin-brige"], "siskin-bridge"),
        (&["recommend", "--target", "less-mudd"], "less-mud"),
        (&["recommend", "--stock", "smal-workshop"], "small-workshop"),
        (&["recommend", "--search", "bled=C"], "bleed"),
        (&["recommend", "--with", "tonne=22n"], "tone"),
        (&["recommend", "--values", "R=E25"], "E24"),
        (&["recommend", "--range", "serie.C=1n..2n"], "series"),
        (&["recommend", "--hookup", "shelff"], "shelf"),
        (&["recommend", "--joined-at", "wipr"], "wiper"),
        (&["recommend", "--targe", "darker"], "--target"),
        (&["recomend"], "recommend"),
        (&["target", "keep hights within 2 dB at tone 5"], "highs"),
        (&["values", "E13"], "E12"),
    ] {
        let told = refused(arguments);
        assert!(told.contains(nearest), "{arguments:?}: {told}");
    }
}

#[test]
fn keys_that_no_searched_part_answers_to_are_refused() {
    for (arguments, key) in [
        (&["--search", "bleed=C", "--values", "R=E24"][..], "R"),
        (&["--search", "bleed=C", "--range", "tone.C=1n..22n"], "tone.C"),
        (&["--search", "bleed=R + C", "--values", "R1=E6"], "R1"),
        (
            &["--search", "bleed=R + C", "--stock", "small-workshop", "--range", "C2=1n..22n"],
            "C2",
        ),
        (&["--target", "darker", "--range", "bleed.R=1k..10k"], "bleed.R"),
    ] {
        let told = refused(&with(&["recommend"], arguments));
        assert!(told.contains(&format!("answers to `{key}`")), "{told}");
    }
}

#[test]
fn a_name_with_a_separator_or_the_ending_is_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let own = GUITARS[0].text.replace("Wren, bridge", "My own");
    fs::write(folder.path().join("plain"), &own).unwrap();
    fs::write(folder.path().join("own.toml"), &own).unwrap();
    // A file that is called like a sample does not stand in for it.
    fs::write(folder.path().join("wren-bridge"), &own).unwrap();
    let named = |guitar: &str| {
        let output = run_in(
            folder.path(),
            &["recommend", "--guitar", guitar, "--search", "bleed=C", "--format", "json"],
        );
        let answer: Option<Value> = serde_json::from_slice(&output.stdout).ok();
        answer.map(|answer| answer["guitar"].as_str().unwrap().to_owned())
    };
    assert_eq!(named("own.toml").as_deref(), Some("My own"));
    assert_eq!(named("./plain").as_deref(), Some("My own"));
    assert_eq!(named("wren-bridge").as_deref(), Some("Wren, bridge"));
    assert_eq!(named("plain"), None);
    assert_eq!(named("wren-bridge.toml"), None);
    let told = text(&run_in(folder.path(), &["recommend", "--guitar", "plain"]).stderr);
    assert!(told.contains("no shipped guitar is called `plain`"), "{told}");
}

#[test]
fn what_is_left_out_is_the_first_sample_and_the_default_target() {
    let quick = ["--search", "bleed=C"];
    let left_out = run(&with(&["recommend"], &quick));
    assert!(text(&left_out.stderr).contains("Wren, bridge"));
    let said = run(&with(
        &["recommend", "--guitar", "wren-bridge", "--target", "highs-and-feel"],
        &quick,
    ));
    assert!(said.stderr.is_empty());
    assert_eq!(text(&left_out.stdout), text(&said.stdout));
    let phrase = "keep highs within 4 dB from full to half volume and keep level within 6 dB of present from full to half volume";
    let target = |arguments: &[&str]| {
        let answer = run(&with(arguments, &with(&quick, &["--format", "json"])));
        serde_json::from_slice::<Value>(&answer.stdout).unwrap()["target"]["clauses"].clone()
    };
    assert_eq!(target(&["recommend"]), target(&["recommend", "--target", phrase]));
}
