//! Sweeps as instruments and spreadsheets write them, good and bad, through the built program; readings of potentiometers against the
//! tabulated laws of tests/tapers.rs; what is printed, written and returned.

mod program;

use std::fmt::Write;
use std::fs;
use std::path::Path;

use knobwright::identify::pots::pot;
use program::*;

/// |Z| in Ω of 2.5 H and 6 kΩ with 120 pF across, written out.
fn magnitude(frequency: f64) -> f64 {
    let w = std::f64::consts::TAU * frequency;
    let (r, x) = (6000.0, w * 2.5);
    let (real, imaginary) = (1.0 - w * 120e-12 * x, w * 120e-12 * r);
    (r.hypot(x)) / real.hypot(imaginary)
}

fn rows(separator: &str, decimal: char) -> Vec<String> {
    let row = |index: i32| {
        let frequency = 100.0 * 1.06_f64.powi(index);
        format!("{frequency:.2}{separator}{:.3}", magnitude(frequency)).replace('.', &decimal.to_string())
    };
    (0..90).map(row).collect()
}

/// The inductance that a file gives; its notes as well.
fn found(folder: &Path, text: impl AsRef<[u8]>, more: &[&str]) -> (f64, String) {
    fs::write(folder.join("s.csv"), text).unwrap();
    let arguments = with(&["identify", "--impedance", "s.csv", "--jig", "1G,1p", "--format", "json"], more);
    let output = run_in(folder, &arguments);
    assert!(output.status.success(), "{}", text_of(&output.stderr));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let chosen = answer["chosen"].as_u64().unwrap() as usize;
    let values = answer["models"][chosen]["values"].as_array().unwrap();
    assert_eq!(values[0]["name"], "inductance");
    (values[0]["value"].as_f64().unwrap(), answer["sweeps"][0]["notes"].to_string())
}

fn text_of(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn sweeps_are_read_in_every_dialect() {
    let folder = tempfile::tempdir().unwrap();
    let head = "frequency_hz,magnitude_ohm\n";
    let plain = rows(",", '.');
    let backwards: Vec<String> = plain.iter().rev().cloned().collect();
    let mut shuffled = plain.clone();
    shuffled.swap(3, 70);
    let kilo: Vec<String> = (0..90)
        .map(|index| {
            let frequency = 100.0 * 1.06_f64.powi(index);
            format!("{:.6},{:.6}", frequency / 1e3, magnitude(frequency) / 1e3)
        })
        .collect();
    let mut twice = plain.clone();
    twice.insert(10, plain[10].clone());
    for (text, more, note) in [
        (format!("{head}{}", plain.join("\n")), &[][..], ""),
        (
            format!("\u{feff}# a comment\r\n\r\n{head}{}\r\n! another\r\n", plain.join("\r\n")),
            &[],
            "",
        ),
        (format!("frequency_hz;magnitude_ohm\n{}", rows(";", ',').join("\n")), &[], ""),
        (format!("frequency_hz\tmagnitude_ohm\n{}", rows("\t", ',').join("\n")), &[], ""),
        (rows("   ", '.').join("\n"), &[], ""),
        (
            format!("\"f [Hz]\",\"|Z|\"\n{}", plain.join("\n")),
            &["--columns", "frequency=f [Hz],reading=|Z|"],
            "",
        ),
        (format!("f [kHz],Z [kOhm]\n{}", kilo.join("\n")), &[], ""),
        (format!("f / kHz,|Z| (kΩ)\n{}", kilo.join("\n")), &[], ""),
        (format!("n,m\n{}", plain.join("\n")), &["--columns", "frequency=1,reading=2"], ""),
        (format!("{head}{}", backwards.join("\n")), &[], ""),
        (format!("{head}{}", shuffled.join("\n")), &[], "no order of frequency"),
        (format!("{head}{}", twice.join("\n")), &[], "repeated once"),
        (format!("{head}{}", plain[..40].join("\n")), &[], "peak is not inside the sweep"),
    ] {
        let (inductance, notes) = found(folder.path(), &text, more);
        assert!((inductance - 2.5).abs() < 0.01, "{inductance} of {}", &text[..60]);
        assert!(notes.contains(note) && (!note.is_empty() || notes == "[]"), "{note}: {notes}");
    }
}

#[test]
fn bad_sweeps_are_answered_at_their_place() {
    let folder = tempfile::tempdir().unwrap();
    let head = "frequency_hz,magnitude_ohm\n100,6000\n200,6500\n300,7000\n400,8000\n";
    let utf16: Vec<u8> = [0xff, 0xfe].into_iter().chain(head.bytes().flat_map(|byte| [byte, 0])).collect();
    for (text, message) in [
        (Vec::new(), "at least 5 rows, `s.csv` has 0 rows"),
        (b"# nothing\n".to_vec(), "has 0 rows"),
        (head.into(), "at least 5 rows, `s.csv` has 4 rows"),
        (format!("{head}500,nine\n").into(), "s.csv:6:5"),
        (format!("{head}500,8k\n").into(), "`8k` is not a number"),
        (format!("{head}500,0\n").into(), "an impedance of 0 Ω cannot be"),
        (format!("{head}500,-3\n").into(), "an impedance of -3 Ω cannot be"),
        (format!("{head}0,9000\n").into(), "0 Hz is no frequency"),
        (format!("{head}500,\n").into(), "a cell is empty"),
        (format!("{head}500\n").into(), "too few cells"),
        (format!("{head}500,nan\n").into(), "`nan` is not a number"),
        (format!("{head}500,1e999\n").into(), "`1e999` is not a number"),
        (head.replace("magnitude_ohm", "magnitud_ohm").into(), "did you mean `magnitud_ohm`?"),
        (utf16[..utf16.len() - 1].to_vec(), "begins like UTF-16 text and is none"),
        (utf16, "at least 5 rows, `s.csv` has 4 rows"),
        (b"frequency_hz,magnitude_ohm\n100,6000 \xa9\n".to_vec(), "is not UTF-8 text"),
    ] {
        fs::write(folder.path().join("s.csv"), &text).unwrap();
        let output = run_in(folder.path(), &["identify", "--impedance", "s.csv"]);
        let told = text_of(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{message}: {told}");
        assert!(
            told.contains(message) && !told.contains("panicked") && output.stdout.is_empty(),
            "{message}: {told}"
        );
    }
}

#[test]
fn two_million_rows_meet_a_stated_limit() {
    let folder = tempfile::tempdir().unwrap();
    let mut text = String::from("frequency_hz,magnitude_ohm\n");
    for index in 0..2_000_000 {
        writeln!(text, "{},9000", 100 + index).unwrap();
    }
    fs::write(folder.path().join("s.csv"), text).unwrap();
    let output = run_in(folder.path(), &["identify", "--impedance", "s.csv"]);
    let told = text_of(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(
        told.contains("s.csv:100002:1") && told.contains("more than 100000 rows") && told.contains("every tenth row"),
        "{told}"
    );
}

#[test]
fn a_flat_line_is_no_pickup_and_no_panic() {
    let folder = tempfile::tempdir().unwrap();
    for text in [
        (0..50).map(|index| format!("{},1000\n", 100 + 100 * index)).collect::<String>(),
        "100,5000\n".repeat(20),
        (0..9)
            .map(|index| format!("{},{}\n", 1000 + index, if index % 2 == 0 { "1e12" } else { "0.001" }))
            .collect(),
    ] {
        fs::write(folder.path().join("s.csv"), text).unwrap();
        for more in [
            &[][..],
            &["--robust"],
            &["--known", "resistance=6k"],
            &["--format", "json"],
            &["--format", "csv", "--models"],
        ] {
            let output = run_in(folder.path(), &with(&["identify", "--impedance", "s.csv"], more));
            let told = text_of(&output.stderr) + &text_of(&output.stdout);
            assert!(matches!(output.status.code(), Some(0 | 2)), "{more:?}: {told}");
            assert!(
                !told.contains("panicked") && !told.contains("NaN") && !told.contains(" inf"),
                "{told}"
            );
        }
    }
}

#[test]
fn a_sweep_is_drawn_beside_its_fit() {
    let folder = tempfile::tempdir().unwrap();
    let sweep = format!("frequency_hz,magnitude_ohm\n{}", rows(",", '.').join("\n"));
    fs::write(folder.path().join("s.csv"), sweep).unwrap();
    let drawn = |more: &[&str]| run_in(folder.path(), &with(&["identify", "--impedance", "s.csv", "--jig", "1G,1p"], more));
    assert_eq!(drawn(&["--plot", "p.svg"]).status.code(), Some(0));
    let svg = fs::read_to_string(folder.path().join("p.svg")).unwrap();
    let picture = roxmltree::Document::parse(&svg).unwrap();
    let words: Vec<&str> = picture.descendants().filter_map(|node| node.text()).collect();
    for wanted in ["s.csv, read", "s.csv, fitted", "dB (impedances: of ohms)"] {
        assert!(words.iter().any(|text| text.contains(wanted)), "{wanted}: {words:?}");
    }
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    // Where both are the same line, the readings are the fit's.
    let answer: serde_json::Value = serde_json::from_slice(&drawn(&["--format", "json"]).stdout).unwrap();
    let points = answer["fits"][0]["points"].as_array().unwrap();
    assert_eq!(points.len(), rows(",", '.').len());
    for point in points {
        let [frequency, read, fitted] = [0, 1, 2].map(|index| point[index].as_f64().unwrap());
        assert!((read - 20.0 * magnitude(frequency).log10()).abs() < 0.01, "{frequency} Hz: {read}");
        assert!((read - fitted).abs() < 0.01, "{frequency} Hz: {read} and {fitted}");
    }
    let refused = run_in(folder.path(), &["identify", "--pot-points", "0=0,10=243k", "--plot", "p.svg"]);
    assert_eq!(refused.status.code(), Some(2));
}

#[test]
fn the_table_printed_and_the_file_written_hold_the_pickup() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path();
    fs::write(
        path.join("s.csv"),
        format!("frequency_hz,magnitude_ohm\n{}", rows(",", '.').join("\n")),
    )
    .unwrap();
    let output = run_in(
        path,
        &["identify", "--impedance", "s.csv", "--jig", "1G,1p", "--output", "mine.toml"],
    );
    let printed = text_of(&output.stdout);
    // What is to be pasted stands last, below how well it is known.
    let (above, pasted) = printed
        .split_once("Paste this over the [pickup] table of your guitar file:\n\n")
        .unwrap();
    assert!(
        pasted.starts_with("[pickup]\ninductance = \"2.5 H\"\nresistance = \"6 kΩ\"\n") && above.contains("95 % interval"),
        "{printed}"
    );
    assert!(printed.lines().all(|line| line.chars().count() <= 80), "{printed}");
    let checked = text_of(&run_in(path, &["check", "mine.toml"]).stdout);
    assert!(
        checked.contains("pickup 2.5 H, 6 kΩ, 119 pF") && checked.contains("volume 250 kΩ"),
        "{checked}"
    );
    // Into the user's own file: everything but the pickup stays.
    fs::write(path.join("own.toml"), include_str!("../stock-values/guitars/bittern-neck.toml")).unwrap();
    run_in(
        path,
        &[
            "identify",
            "--impedance",
            "s.csv",
            "--jig",
            "1G,1p",
            "--guitar",
            "own.toml",
            "--output",
            "new.toml",
        ],
    );
    let checked = text_of(&run_in(path, &["check", "new.toml"]).stdout);
    assert!(
        checked.contains("guitar Bittern, neck: pickup 2.5 H, 6 kΩ, 119 pF; volume 250 kΩ audio 30 %"),
        "{checked}"
    );
    // Peaks.
    let peaks = ["identify", "--peak", "470p=4.14k", "--peak", "2n2=2.09k"];
    assert!(refused(&peaks).contains("--known resistance=6k"));
    let printed = ends(&with(&peaks, &["--known", "resistance=6k"]), 0);
    for wanted in ["121.69 pF", "2.49771 H", "2.48 H to 2.516", "116 pF to 127.4 pF"] {
        assert!(printed.contains(wanted), "{wanted}: {printed}");
    }
    let lossy = ends(
        &[
            "identify",
            "--peak",
            "470p=3487.5",
            "--peak",
            "2n2=1588.7",
            "--known",
            "resistance=8k",
        ],
        0,
    );
    assert!(
        lossy.contains("WARNING") && lossy.contains("-16.98") && lossy.contains("capacitance = \"0 F\""),
        "{lossy}"
    );
    let answer = json(&with(&peaks, &["--known", "resistance=6k"]), 0);
    assert!((answer["capacitance"].as_f64().unwrap() - 121.69e-12).abs() < 1e-14 && answer["clamped"] == false);
}

#[test]
fn what_cannot_be_meant_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("r.csv"),
        "frequency_hz,level_db\n100,0\n200,0\n400,1\n800,2\n1600,3\n",
    )
    .unwrap();
    for (arguments, message) in [
        (&["identify"][..], "nothing was measured"),
        (&["identify", "--response", "r.csv"], "what loaded the pickup"),
        (&["identify", "--response", "no.csv", "--load", "1M"], "there is no such file"),
        (&["identify", "--response", "4k7=r.csv", "--load", "1M"], "4k7"),
        (
            &["identify", "--response", "r.csv", "--load", "unknown,1M"],
            "either known or unknown",
        ),
        (&["identify", "--impedance", "r.csv"], "no column `magnitude_ohm`"),
        (
            &["identify", "--response", "r.csv", "--load", "1M", "--known", "resistence=6k"],
            "did you mean `resistance`?",
        ),
        (&["identify", "--peak", "4.14k"], "is no peak"),
        (&["identify", "--pot-points", "0=0,5=31k"], "the reading at 10 is missing"),
        (&["identify", "--pot-points", "0=0,10=250k"], "needs a reading between"),
        (&["identify", "--pot-points", "0=250k,5=31k,10=0"], "the resistance falls here"),
        (
            &["verify", "--measured", "r.csv", "--volume", "10,5"],
            "lists 2 positions for 1 sweep",
        ),
        (&["verify", "--measured", "r.csv", "--volume", "0"], "no sound"),
    ] {
        let output = run_in(folder.path(), arguments);
        let told = text_of(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
        assert!(told.contains(message) && !told.contains("panicked"), "{arguments:?}: {told}");
    }
}

/// The sample's own response as its measurement, 23 dB lower.
#[test]
fn verify_ends_by_the_target_as_measured() {
    let folder = tempfile::tempdir().unwrap();
    let sweep = |knobs: &[&str]| {
        let response = ends(
            &with(
                &[
                    "response",
                    "--guitar",
                    "wren-bridge",
                    "--format",
                    "csv",
                    "--points-per-octave",
                    "24",
                ],
                knobs,
            ),
            0,
        );
        let row = |row: &str| {
            let cells: Vec<&str> = row.split(',').collect();
            format!("{},{}\n", cells[2], cells[3].parse::<f64>().unwrap() - 23.0)
        };
        let rows: String = response.lines().skip(1).map(row).collect();
        format!("frequency_hz,level_db\n{rows}")
    };
    fs::write(folder.path().join("full.csv"), sweep(&[])).unwrap();
    fs::write(folder.path().join("half.csv"), sweep(&["--volume", "5"])).unwrap();
    let base = [
        "verify",
        "--guitar",
        "wren-bridge",
        "--measured",
        "full.csv",
        "--measured",
        "half.csv",
        "--volume",
        "10,5",
    ];
    for (target, status, words) in [
        (None, 0, "The guitar measures as predicted"),
        (Some("keep highs within 20 dB at volume 5"), 0, "The target is met as measured"),
        (Some("keep highs within 0.1 dB at volume 5"), 1, "The target is MISSED as measured"),
    ] {
        let arguments = target.map_or(base.to_vec(), |target| with(&base, &["--target", target]));
        let output = run_in(folder.path(), &arguments);
        let printed = text_of(&output.stdout);
        assert_eq!(output.status.code(), Some(status), "{}", text_of(&output.stderr));
        assert!(printed.contains(words) && printed.contains("-23.00 dB was taken off"), "{printed}");
        assert!(printed.lines().all(|line| line.chars().count() <= 80), "{printed}");
    }
    for format in ["json", "csv"] {
        let output = run_in(folder.path(), &with(&base, &["--format", format]));
        assert!(output.status.success() && !text_of(&output.stdout).contains("NaN"));
    }
}

/// Readings by the tabulated laws: the exponential one (15 % at half: 0.04437, 0.15, 0.40144), two straight slopes, a linear track.
#[test]
fn a_few_readings_of_a_pot_name_its_taper() {
    for (resistance, readings, taper) in [
        (250e3, [[2.5, 0.04437], [5.0, 0.15], [7.5, 0.40144]], "audio 15 %"),
        (500e3, [[2.5, 0.025], [5.0, 0.10], [7.0, 0.25843]], "audio 10 %"),
        (500e3, [[2.5, 0.05], [5.0, 0.10], [7.0, 0.46]], "two-slope 10 %"),
        (219e3, [[2.5, 0.25], [5.0, 0.5], [7.5, 0.75]], "linear"),
        (
            250e3,
            [[2.5, 1.0 - 0.40144], [5.0, 0.85], [7.5, 1.0 - 0.04437]],
            "reverse audio 15 %",
        ),
    ] {
        let mut points = vec![[0.0, 0.0]];
        points.extend(readings.map(|[knob, share]| [knob, share * resistance]));
        points.push([10.0, resistance]);
        let found = pot(&points).unwrap();
        assert_eq!((found.laws[0].taper.as_str(), found.law_will_do), (taper, true), "{found:?}");
        assert!(found.laws[0].worst_db < 0.01 && found.resistance == resistance);
    }
    // A track that follows no law: its points are the taper.
    let found = pot(&[[0.0, 0.0], [2.0, 1.9e3], [5.0, 31e3], [10.0, 243e3]]).unwrap();
    assert!(!found.law_will_do && found.resistance == 243e3);
    assert!((found.mid - 31.0 / 243.0).abs() < 1e-12 && found.table.len() == 4);
    // The table is one that a guitar file takes.
    let table = ends(&["identify", "--pot-points", "0=0,2=1.9k,5=31k,10=243k", "--format", "csv"], 0);
    let source = knobwright::source::Source::inline("pot.csv", table);
    let taper = knobwright::guitar::taper::Taper::read_table(&source).unwrap();
    assert!((taper.wiper(0.5) - 31.0 / 243.0).abs() < 1e-12);
}
