//! The built program as a user meets it: exit statuses, files, streams and refusals are what the guide to its use promises, word for word.
//! The counts of candidates follow from the lists of IEC 60063.

mod program;

use std::fs;
use std::process::Stdio;

use knobwright::shipped::{GUITARS, STOCK, TARGETS};
use program::*;
use serde_json::Value;

#[test]
fn the_status_tells_how_it_ended() {
    ends(&MET, 0);
    let missed = ends(&with(&MISSED, &["--explain"]), 1);
    assert!(
        missed.contains("What stops row 1: wish 1"),
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
        &["check", "targets/clearer-closed-tone.toml", "stock-values/stock/small-workshop.csv"],
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
        &["response", "--volume", "10.5"],
        &["response", "--volume", "NaN"],
        &["response", "--tone", ""],
        &["response", "--frequencies", "0"],
        &["response", "--from", "2k", "--to", "1k"],
        &["response", "--guitar", "siskin-bridge", "--tone", "5"],
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
        &["response", "--volume", "20"],
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
        "No --guitar given: using the shipped sample \"Wren, bridge\", a single coil. For another kind name it, as in --guitar humbucker; check --list shows all.\n"
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
fn a_reader_that_left_keeps_the_status_of_the_answer() {
    for (arguments, status) in [
        (&MET[..], 0),
        (&MISSED, 1),
        (&["response", "--points-per-octave", "1000"], 0),
        (&["target"], 0),
        (&["values", "E192"], 0),
        (&["check", "--list"], 0),
        (&["check", "targets/clearer-closed-tone.toml", "targets/tone-sweep.toml"], 0),
        (&["check", "targets/clearer-closed-tone.toml", "tests/bad-input/junk.toml"], 2),
        (&["check", "tests/bad-input/junk.toml", "targets/clearer-closed-tone.toml"], 2),
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
        assert_eq!(output.status.code(), Some(status), "{arguments:?}: {told}");
        assert!(
            !told.to_lowercase().contains("pipe") && !told.contains("panicked"),
            "{arguments:?}: {told}"
        );
    }
}

#[cfg(unix)]
#[test]
fn an_interrupted_search_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("answer.txt");
    let mut child = std::process::Command::new(PROGRAM)
        .args([
            "recommend",
            "--large",
            "--values",
            "R=E192,C=E192",
            "--search",
            "bleed=R1 + (R2 || C)",
            "--search",
            "tone=C",
            "--output",
        ])
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
        (&["recommend", "--target", "tone-swep"], "tone-sweep"),
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
        (&["--search", "bleed=C", "--range", "tone.C=1n..22n"][..], "tone.C"),
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
fn a_bare_kind_may_be_given_where_no_part_of_it_is_searched() {
    let arguments = ["recommend", "--quiet", "--search", "bleed=C", "--values", "R=E24,C=E12"];
    let plain = run(&["recommend", "--quiet", "--search", "bleed=C"]);
    assert!(!plain.stdout.is_empty());
    assert_eq!(text(&run(&arguments).stdout), text(&plain.stdout));
    let told = refused(&["recommend", "--values", "C=E12", "--values", "C=E3"]);
    assert!(told.contains("`C` is given twice"), "{told}");
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

#[test]
fn where_nobody_can_be_told_it_still_ends_as_it_should() {
    let Ok(full) = fs::OpenOptions::new().write(true).open("/dev/full") else {
        return;
    };
    for (arguments, status) in [
        (&["recommend", "--guitar", "nobody"][..], 2),
        (&["check", "tests/bad-input/junk.toml"], 2),
        (&["response", "--frequencies", "100"], 0),
    ] {
        let mut command = std::process::Command::new(PROGRAM);
        let output = command
            .args(arguments)
            .stderr(full.try_clone().unwrap())
            .stdout(Stdio::null())
            .status();
        assert_eq!(output.unwrap().code(), Some(status), "{arguments:?}");
    }
}

/// Whether a fitted network matters is found out by trying values in it, which must not take for ever where it has many parts.
#[test]
fn a_network_of_many_parts_is_answered_in_time() {
    let many = ["22n"; 15].join(" || ");
    for fitted in [
        format!("tone={many}"),
        format!("series=1k + ({many})"),
        "tone=10k + (10n || (1k + (1n || 2k2)))".to_owned(),
    ] {
        let mut command = assert_cmd::Command::new(PROGRAM);
        let limited = command
            .args(["recommend", "--search", "bleed=C", "--with", &fitted])
            .timeout(std::time::Duration::from_secs(60));
        let status = limited.output().unwrap().status.code();
        assert!(matches!(status, Some(0 | 1)), "{fitted}: {status:?}");
    }
}

#[test]
fn a_fraction_of_the_knob_is_no_path() {
    let told = ends(&["target", "keep highs within 4 dB from full to 1/4 volume"], 0);
    assert!(told.contains("volume = { from = 10.0, to = 2.5 }"), "{told}");
    let told = refused(&["target", "no/such 1/4 target"]);
    assert!(told.contains("there is no such file"), "{told}");
}
