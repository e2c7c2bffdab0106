//! What the built program prints: keys, headers, widths and help are what the guide to its use promises.

mod program;

use knobwright::inputs;
use knobwright::shipped::{GUITARS, TARGETS};
use program::*;
use serde_json::Value;

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
    // To where the guitar's own sound ends.
    let band = clauses[0]["band"].as_array().unwrap();
    assert_eq!((&band[0], band.len()), (&1500.0.into(), 2));
    assert!((2500.0..6000.0).contains(&band[1].as_f64().unwrap()), "{band:?}");
    assert_eq!(clauses[0]["anchor"], serde_json::json!([100.0, 400.0]));
    let half_marks: Vec<f64> = (10..=20).rev().map(|mark| f64::from(mark) / 2.0).collect();
    assert_eq!(clauses[0]["volume"], serde_json::json!(half_marks));
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
        let evaluated = space["evaluated"].as_f64().unwrap();
        assert!(0.0 < evaluated && evaluated <= space["candidates"].as_f64().unwrap());
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
    let asked = ["response", "--volume", "10,0", "--tone", "10,5", "--frequencies", "100,1k"];
    let csv = ends(&with(&asked, &["--format", "csv"]), 0);
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines[0], "volume,tone,frequency_hz,level_db,phase_deg");
    assert_eq!(lines.len(), 1 + 2 * 2 * 2);
    assert_eq!(&lines[5..], ["0,10,100,,", "0,10,1000,,", "0,5,100,,", "0,5,1000,,"]);
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
fn every_answer_fits_eighty_columns() {
    let coarse = ["--quiet", "--top", "25", "--builds", "100"];
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
        &["response", "--volume", "10,1.23456", "--to", "20k"],
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

/// Every command with its options, those that all commands with a result share left out.
const OPTIONS: &[(&str, &[&str])] = &[
    (
        "recommend",
        &[
            "--guitar",
            "--target",
            "--with",
            "--case",
            "--knobs",
            "--position",
            "--hookup",
            "--joined-at",
            "--try",
            "--search",
            "--values",
            "--range",
            "--stock",
            "--pairs",
            "--top",
            "--large",
            "--at-any-price",
            "--explain",
            "--rank-by",
            "--sheet",
            "--builds",
            "--tolerance",
            "--law",
            "--precision",
            "--random-seed",
            "--threads",
            "--plot",
            "--plot-kind",
            "--plot-at",
            "--plot-values",
        ],
    ),
    (
        "tolerance",
        &[
            "--guitar",
            "--target",
            "--with",
            "--case",
            "--knobs",
            "--position",
            "--build",
            "--hookup",
            "--joined-at",
            "--builds",
            "--tolerance",
            "--law",
            "--precision",
            "--random-seed",
            "--threads",
        ],
    ),
    (
        "compare",
        &[
            "--guitar",
            "--with",
            "--case",
            "--knobs",
            "--position",
            "--build",
            "--without-present",
            "--target",
            "--volume",
            "--tone",
            "--plot",
            "--plot-kind",
            "--plot-at",
        ],
    ),
    (
        "response",
        &[
            "--guitar",
            "--with",
            "--case",
            "--knobs",
            "--position",
            "--volume",
            "--tone",
            "--knob",
            "--from",
            "--to",
            "--points-per-octave",
            "--frequencies",
            "--plot",
        ],
    ),
    ("values", &["--range", "--nearest", "--decode"]),
    (
        "identify",
        &[
            "--impedance",
            "--response",
            "--jack",
            "--peak",
            "--peak-of",
            "--pot-points",
            "--columns",
            "--jig",
            "--load",
            "--guitar",
            "--pickup",
            "--with",
            "--volume",
            "--tone",
            "--known",
            "--slope",
            "--robust",
            "--models",
            "--plot",
        ],
    ),
    (
        "verify",
        &[
            "--guitar",
            "--knobs",
            "--position",
            "--with",
            "--changed",
            "--measured",
            "--columns",
            "--volume",
            "--tone",
            "--slope",
            "--target",
            "--tolerance",
            "--random-seed",
        ],
    ),
    (
        "kit",
        &[
            "--guitars",
            "--target",
            "--search",
            "--choose",
            "--at-least",
            "--yield-at-least",
            "--budget",
            "--bags",
            "--card",
            "--csv-for",
            "--tables",
            "--fixed",
            "--pieces",
            "--aim",
            "--floor",
            "--time-limit",
            "--values",
            "--range",
            "--stock",
            "--threads",
        ],
    ),
];
/// What every command with a result has.
const OUTPUT: [&str; 5] = ["--format", "--output", "--quiet", "--page", "--help"];
/// Commands of another kind, with all their options.
const OTHERS: &[(&str, &[&str])] = &[
    ("target", &["--output", "--page", "--help"]),
    ("guitar", &["--output", "--help"]),
    ("check", &["--list", "--help"]),
    ("guide", &["--output", "--help"]),
    (
        "batch",
        &[
            "--guitars",
            "--target",
            "--search",
            "--stock",
            "--builds",
            "--tolerance",
            "--law",
            "--precision",
            "--random-seed",
            "--threads",
            "--sheets",
            "--csv",
            "--csv-for",
            "--quiet",
            "--help",
        ],
    ),
];

#[test]
fn help_says_something_about_every_option() {
    let overview = ends(&["--help"], 0);
    let with_output = OPTIONS.iter().map(|(command, options)| (*command, with(options, &OUTPUT)));
    for (command, wanted) in with_output.chain(OTHERS.iter().map(|(command, options)| (*command, options.to_vec()))) {
        assert!(overview.contains(&format!("\n  {command} ")), "{command}");
        for form in ["-h", "--help"] {
            let help = ends(&[command, form], 0);
            let options = options(&help);
            for option in &wanted {
                let found = options.iter().find(|(name, _)| name.split([' ', ',']).any(|word| word == *option));
                let (_, said) = found.unwrap_or_else(|| panic!("{command} {form}: no {option} in\n{help}"));
                assert!(said.len() > 8, "{command} {form}: {option} says `{said}`");
            }
            assert_eq!(options.len(), wanted.len(), "{command}: {options:?}");
            assert!(help.lines().all(|line| line.chars().count() <= 100), "{help}");
        }
    }
    let commands = overview
        .split("Commands:\n")
        .nth(1)
        .unwrap()
        .lines()
        .take_while(|line| !line.is_empty());
    // What is too long goes on in lines of their own, further in.
    let listed = commands
        .filter(|line| !line.starts_with("   ") && !line.starts_with("  help "))
        .count();
    assert_eq!(listed, OPTIONS.len() + OTHERS.len(), "{overview}");
}

/// What is to change decides what is searched: a wish about the highs is not one about the lows that it keeps.
#[test]
fn a_wish_at_full_searches_what_can_help_there() {
    for (phrase, searched) in [
        ("less mud", vec!["tone C, series C", "tone C, series R || C"]),
        ("darker", vec!["across C", "across R", "across R + C"]),
        // Beside the guitar as it is: with a no-load pot, with a larger volume pot, with both.
        ("more presence", vec!["across C"; 4]),
    ] {
        let arguments = ["recommend", "--target", phrase, "--format", "json"];
        let answer: Value = serde_json::from_slice(&run(&arguments).stdout).unwrap();
        let spaces = answer["search"].as_array().unwrap().iter().filter_map(|space| {
            let slots = ["tone", "series", "across"].map(|slot| space["slots"][slot].as_str().map(|network| format!("{slot} {network}")));
            let slots: Vec<String> = slots.into_iter().flatten().collect();
            (!slots.iter().any(|slot| slot.ends_with("none"))).then(|| slots.join(", "))
        });
        assert_eq!(spaces.collect::<Vec<_>>(), searched, "{phrase}");
    }
}

#[test]
fn no_knob_position_however_small_gives_anything_but_a_number_or_silence() {
    for position in ["1e-300", "5e-324", "1e-20", "9.999999999999999"] {
        for knob in ["--volume", "--tone"] {
            for format in ["csv", "json", "table"] {
                let answer = ends(&["response", knob, position, "--frequencies", "1k", "--format", format], 0);
                assert!(!answer.contains("NaN") && !answer.contains("inf"), "{knob} {position}: {answer}");
            }
            let answer = ends(&["response", knob, position, "--frequencies", "1k", "--format", "csv"], 0);
            let level = answer.lines().nth(1).unwrap().split(',').nth(3).unwrap();
            assert!(level.is_empty() || level.parse::<f64>().unwrap().is_finite(), "{answer}");
        }
    }
}

/// A small kit, quick to choose.
const KIT: [&str; 6] = ["kit", "--quiet", "--values", "R=E6,C=E3", "--choose", "R=2,C=1"];

#[test]
fn the_keys_of_a_kit_are_fixed_and_its_table_fits() {
    let answer = json(&KIT, 0);
    has(
        &answer,
        &[
            "chosen",
            "covered",
            "total",
            "optimal",
            "gap",
            "guitars",
            "growth",
            "bag",
            "drop_first",
            "targets",
        ],
    );
    assert_eq!(keys(&answer["chosen"]), ["bleed.C", "bleed.R"]);
    let values = |part: &str| {
        answer["chosen"][part]
            .as_array()
            .unwrap()
            .iter()
            .map(|value| value.as_f64().unwrap())
            .collect::<Vec<_>>()
    };
    assert!(values("bleed.R").iter().all(|value| (1e3..=1e6).contains(value)) && values("bleed.R").len() <= 2);
    assert!(values("bleed.C").iter().all(|value| (100e-12..=22e-9).contains(value)) && values("bleed.C").len() == 1);
    assert_eq!(
        (&answer["optimal"], &answer["gap"], &answer["total"]),
        (&true.into(), &0.0.into(), &60.into())
    );
    let guitars = answer["guitars"].as_array().unwrap();
    assert_eq!(guitars.len(), 60);
    for guitar in guitars {
        has(
            guitar,
            &["name", "slots", "parts", "margin_db", "own_best_margin_db", "meets_target"],
        );
        assert_eq!(guitar["meets_target"], guitar["margin_db"].as_f64().unwrap() >= 0.0);
        assert!(guitar["own_best_margin_db"].as_f64() >= guitar["margin_db"].as_f64());
        assert_eq!(guitar["left_out"].is_null(), guitar["meets_target"] == true);
    }
    let met = guitars.iter().filter(|guitar| guitar["meets_target"] == true).count();
    assert_eq!(answer["covered"], met);
    for growth in answer["growth"].as_array().unwrap() {
        has(growth, &["R", "C", "covered", "optimal", "holds"]);
    }
    let asked = answer["growth"]
        .as_array()
        .unwrap()
        .iter()
        .find(|growth| growth["R"] == 2 && growth["C"] == 1);
    assert_eq!(asked.unwrap()["covered"], answer["covered"]);
    for more in [
        &["--aim", "margin"][..],
        &["--fixed", "R=150k", "--stock", "small-workshop"],
        &["--choose", "networks=2"],
    ] {
        let mut arguments = vec!["kit", "--quiet"];
        arguments.extend(if more.contains(&"--stock") { &KIT[4..] } else { &KIT[2..4] });
        arguments.extend(more);
        let table = ends(&arguments, 0);
        assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
        assert!(table.contains("of 60 guitars") && table.contains("Left out: "), "{table}");
        assert_eq!(table.contains("150 kΩ (kept)"), more.contains(&"--fixed"), "{table}");
    }
    let csv = ends(&with(&KIT, &["--format", "csv"]), 0);
    assert_eq!(csv.lines().count(), 61);
    assert!(
        csv.starts_with(
            "name,target,weight,meets_target,network,margin_db,own_best_network,own_best_margin_db,loses_db,left_out,works_in\n"
        )
    );
}

#[test]
fn a_bad_catalogue_is_refused_whole_and_a_folder_is_read_whole() {
    let folder = tempfile::tempdir().unwrap();
    let header = "name,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper,cable.capacitance";
    let good = "Teal,2.6 H,6 k,110 p,250 k,linear,500 p";
    let text = format!("{header}\n{good}\nSmew,2.6 k,6 k,110 p,250 k,linear,500 p\nRuff,2 H,6 k,110 p,250 k,linear,900 n\n");
    std::fs::write(folder.path().join("bad.csv"), text).unwrap();
    for arguments in [&["kit", "--guitars", "bad.csv"][..], &["check", "bad.csv"]] {
        let output = run_in(folder.path(), arguments);
        let told = program::text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(
            output.stdout.is_empty() && told.contains("bad.csv:3:10") && told.contains("bad.csv:4:"),
            "{told}"
        );
    }
    std::fs::write(folder.path().join("good.csv"), format!("{header}\n{good}\n")).unwrap();
    let checked = run_in(folder.path(), &["check", "good.csv"]);
    assert_eq!(program::text(&checked.stdout), "good.csv: catalogue, 1 guitar\n");
    let guitars = folder.path().join("guitars");
    std::fs::create_dir(&guitars).unwrap();
    for guitar in &GUITARS[..3] {
        std::fs::write(guitars.join(format!("{}.toml", guitar.name)), guitar.text).unwrap();
    }
    let small = [
        "kit",
        "--guitars",
        "guitars",
        "good.csv",
        "wren-bridge",
        "--values",
        "R=E3,C=E3",
        "--format",
        "json",
    ];
    let output = run_in(folder.path(), &small);
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["total"], 5, "{}", program::text(&output.stderr));
    std::fs::write(guitars.join("broken.toml"), "name = 3").unwrap();
    let told = program::text(&run_in(folder.path(), &small).stderr);
    assert!(told.contains("broken.toml:1:8"), "{told}");
}

#[test]
fn what_a_kit_cannot_be_chosen_for_is_refused() {
    for (arguments, word) in [
        (&["--choose", "R=3"][..], "add C=3"),
        (&["--choose", "R=0,C=1"], "1 to 50"),
        (&["--choose", "R=1,C=1,tone.C=1"], "answers to `tone.C`"),
        (&["--choose", "networks=x"], "1 to 50"),
        (
            &["--choose", "R=1,C=1", "--fixed", "R=1k", "--fixed", "R=2k"],
            "2 values of R are fixed",
        ),
        (&["--choose", "networks=2", "--fixed", "R=1k"], "whole networks"),
        (&["--search", "bleed=120k"], "no searched network has a free part"),
        (&["--search", "tone=C", "--search", "bleed=R1 + (R2 || C)"], "narrow it"),
        (&["--guitars", "no-such-bird"], "sixty-birds"),
        (&["--time-limit=-1"], "no time"),
        (&["--floor", "2 k"], "level"),
    ] {
        let told = refused(&with(&["kit"], arguments));
        assert!(told.contains(word), "{arguments:?}: {told}");
    }
}

/// Dielectric classes as EIA-198 and IEC 60384 name them; that the dear ones sound the same is common practice, no source.
#[test]
fn which_capacitors_to_ask_for_is_said_only_where_one_goes_in() {
    let said = ["film", "C0G (NP0)", "X7R", "Y5V", "Z5U", "voltage", "The dear ones sound the same."];
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let folder = tempfile::tempdir().unwrap();
    let with_files = |asked: &[&str], name: &str| {
        let [sheet, page] = ["md", "html"].map(|ending| folder.path().join(format!("{name}.{ending}")));
        let files = ["--sheet", sheet.to_str().unwrap(), "--page", page.to_str().unwrap(), "--quiet"];
        let explained = ends(&[asked, &["--builds", "0", "--explain"], &files].concat(), 0);
        [
            explained,
            std::fs::read_to_string(sheet).unwrap(),
            std::fs::read_to_string(page).unwrap(),
        ]
    };
    for text in with_files(&MET, "bleed") {
        let text = one_line(&text);
        assert!(said.iter().all(|word| text.contains(word)), "{text}");
    }
    // A no-load tone pot and no part at all.
    for text in with_files(&["recommend", "--guitar", "wren-bridge", "brighter"], "pot") {
        assert!(!one_line(&text).contains("The dear ones"), "{text}");
    }
    // The first screen stays short.
    assert!(!ends(&with(&MET, &["--builds", "0", "--quiet"]), 0).contains("C0G"));
}
