//! A guitar written as its file reads back as the same guitar, figure for figure, and the file explains itself: the guitar that was read
//! is the check.

mod program;

use std::fs;
use std::path::Path;

use knobwright::guitar::Guitar;
use knobwright::guitar::kind::KINDS;
use knobwright::inputs;
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use program::{ends, refused, run_in, text};
use proptest::prelude::*;

fn read(name: &str, text: &str) -> Guitar {
    Guitar::read(&Source::inline(name, text)).unwrap_or_else(|error| panic!("{}\n{text}", error.picture()))
}

/// Both forms of a written guitar, read again.
#[track_caller]
fn comes_back(guitar: &Guitar) {
    for written in [guitar.to_toml(), guitar.to_commented_toml("")] {
        assert_eq!(&read("elsewhere.toml", &written), guitar, "{written}");
    }
}

/// Everything that a guitar file can say, in one.
const EVERYTHING: &str = r#"
name = "Teal \"the \\ loud\", neck"
series = "1n || 470k"
[pickup]
inductance = "3.141592653589793 H"
resistance = "6.25 k"
capacitance = "0"
across = "4k7 + (470p || 1M)"
tolerance = "3.3 %"
loss = [{ inductance = "1 mH", resistance = "33.3 k" }, { inductance = "0.7 H", resistance = "1 M" }]
[volume]
resistance = "513.7 k"
taper = "reverse audio 12.3456789012 %"
tolerance = "0 %"
bleed = "150k + (820p || 1n)"
[tone]
resistance = "1 M"
taper = "two-slope 7 %"
network = "6k8"
bypass = "100n"
hookup = "shelf"
joined_at = "wiper"
no_load = true
[cable]
length = "4.5 m"
per_metre = "110 p"
tolerance = "12.5 %"
[input]
resistance = "220 k"
capacitance = "47 p"
[[load]]
network = "500k || (500k + 22n)"
at = "wiper"
[[load]]
network = "1M"
[[case]]
name = "as-is"
[[case]]
name = "stage"
cable = "1.2 n"
input = "1000 G"
input_capacitance = "20 p"
volume = "250 k"
tone = "300 k"
inductance = "2.9 H"
[[case]]
cable = "300 p"
"#;

#[test]
fn every_guitar_comes_back_as_it_was() {
    for file in GUITARS {
        comes_back(&read(file.name, file.text));
    }
    for kind in &KINDS {
        comes_back(&inputs::guitar(Some(kind.name)).unwrap());
    }
    comes_back(&read("teal.toml", EVERYTHING));
    for guitar in inputs::guitars(&[]).unwrap() {
        comes_back(&guitar.guitar);
    }
    for guitar in ["bare-name.toml", "no tone.toml"] {
        let bare = "[pickup]\ninductance = \"3 H\"\nresistance = \"0\"\ncapacitance = \"0\"\n[volume]\nresistance = \"250 k\"\n\
                    taper = \"linear\"\n[cable]\ncapacitance = \"0\"\n";
        comes_back(&read(guitar, bare));
    }
}

/// A measured taper is written with its points: the file that held them is not needed any more.
#[test]
fn a_measured_taper_comes_along() {
    let folder = tempfile::tempdir().unwrap();
    let table = "rotation,fraction\n0,0\n0.3,0.0333333333333333333\n0.5,0.15\n0.75,0.15\n1,1\n";
    fs::write(folder.path().join("pot.csv"), table).unwrap();
    let measured = EVERYTHING.replace("\"two-slope 7 %\"", "{ table = \"pot.csv\" }");
    fs::write(folder.path().join("teal.toml"), measured).unwrap();
    let guitar = Guitar::read(&Source::file(&folder.path().join("teal.toml")).unwrap()).unwrap();
    comes_back(&guitar);
    let wrong = guitar.to_toml();
    for (right, wrong_points, message) in [
        ("[0.5, 0.15]", "[0.5, 0.01]", "never falls"),
        ("[0.5, 0.15]", "[0.2, 0.15]", "must rise"),
        ("[0.5, 0.15]", "[0.5]", "a point of a taper"),
        ("[0.0, 0.0],", "", "starts at 0,0"),
        ("[1.0, 1.0],", "", "ends at 1,1"),
    ] {
        assert!(wrong.contains(right), "{wrong}");
        let error = Guitar::read(&Source::inline("teal.toml", wrong.replace(right, wrong_points))).unwrap_err();
        assert!(error.message().contains(message) && error.place().is_some(), "{error}");
    }
}

/// A name that a file cannot hold was its file's; the written text leaves it to the file that it goes into.
#[test]
fn a_name_that_no_file_can_hold_is_left_to_the_file() {
    let mut guitar = inputs::guitar(None).unwrap();
    guitar.name = "two\nlines".to_owned();
    for written in [guitar.to_toml(), guitar.to_commented_toml("")] {
        assert_eq!(read("my-own.toml", &written).name, "my-own", "{written}");
    }
}

/// The comments above each key that stands in the text, and the keys that stand there as comments, in their table.
fn keys(written: &str) -> Vec<(String, Option<usize>, bool)> {
    let lines: Vec<&str> = written.lines().collect();
    let is_key = |line: &str| {
        let key = line.split(" = ").next().unwrap_or_default();
        line.contains(" = ") && key.chars().all(|letter| letter.is_ascii_lowercase() || letter == '_')
    };
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let bare = line.strip_prefix("# ").unwrap_or(line);
        if !is_key(bare) {
            continue;
        }
        let above = lines[..at].iter().rev().take_while(|line| line.starts_with("# ")).count();
        found.push((bare.to_owned(), (above > 0).then_some(at), *line != bare));
    }
    found
}

#[test]
fn every_value_says_what_it_is_and_how_to_find_it_out() {
    for file in GUITARS {
        let written = read(file.name, file.text).to_commented_toml("");
        for (key, explained, _) in keys(&written) {
            assert!(explained.is_some(), "{}: {key}\n{written}", file.name);
        }
        for needed in [
            "multimeter",
            "LCR meter",
            "capacitance meter",
            "lugs",
            "Usual: ",
            "knobwright identify",
        ] {
            assert!(written.contains(needed), "{}: {needed}\n{written}", file.name);
        }
        assert!(written.lines().all(|line| line.chars().count() <= 100), "{written}");
    }
}

/// A line of help that is no comment any more is a line of the file.
#[test]
fn every_key_in_a_comment_works_when_it_is_one_no_longer() {
    for file in GUITARS {
        let guitar = read(file.name, file.text);
        let written = guitar.to_commented_toml("");
        let commented: Vec<(String, usize)> = keys(&written)
            .into_iter()
            .filter_map(|(key, at, is_comment)| Some((key, at?)).filter(|_| is_comment))
            .collect();
        assert!(commented.len() >= 5, "{}: {commented:?}", file.name);
        let mut lines: Vec<&str> = written.lines().collect();
        // A heading goes with the keys under it.
        for line in &mut lines {
            if let Some(heading) = line.strip_prefix("# ").filter(|line| line.starts_with('[') && line.ends_with(']')) {
                *line = heading;
            }
        }
        for (key, at) in &commented {
            lines[*at] = key.as_str();
        }
        let changed = read(file.name, &lines.join("\n"));
        assert_ne!(changed, guitar, "{}", file.name);
        assert!(changed.tone.is_some() && !changed.loads.is_empty() && !changed.cases.is_empty());
    }
}

#[test]
fn the_command_prints_a_file_to_start_from() {
    let plover = read(
        "plover-bridge",
        GUITARS.iter().find(|file| file.name == "plover-bridge").unwrap().text,
    );
    for words in [&["plover-bridge"][..], &["humbucker"], &["Humbuckers"]] {
        let written = ends(&[&["guitar"], words].concat(), 0);
        assert_eq!(read("my.toml", &written), plover);
        assert!(written.starts_with("# "), "{written}");
        assert_eq!(written.contains("Assumed: a humbucker"), words != ["plover-bridge"], "{written}");
    }
    assert_eq!(ends(&["guitar", "hot", "humbucker"], 0), ends(&["guitar", "hot humbucker"], 0));
    let told = refused(&["guitar", "humbuker"]);
    assert!(told.contains("did you mean `humbucker`"), "{told}");
    assert_eq!(ends(&["guitar"], 0), ends(&["guitar", "wren-bridge"], 0));
}

#[test]
fn the_file_is_written_whole_and_never_over_the_one_it_was_read_from() {
    let folder = tempfile::tempdir().unwrap();
    let (mine, other) = (folder.path().join("my.toml"), folder.path().join("other.toml"));
    let status = |arguments: &[&str]| run_in(folder.path(), arguments).status.code();
    assert_eq!(status(&["guitar", "humbucker", "--output", "my.toml"]), Some(0));
    let first = fs::read_to_string(&mine).unwrap();
    assert_eq!(status(&["check", "my.toml"]), Some(0));
    assert_eq!(status(&["guitar", "./my.toml", "--output", "my.toml"]), Some(2));
    assert_eq!(fs::read_to_string(&mine).unwrap(), first);
    assert_eq!(status(&["guitar", "my.toml", "--output", "other.toml"]), Some(0));
    assert_eq!(
        Guitar::read(&Source::file(&other).unwrap()),
        Guitar::read(&Source::file(&mine).unwrap())
    );
    fs::write(folder.path().join("bad.toml"), "name = 3\n").unwrap();
    let bad = run_in(folder.path(), &["guitar", "bad.toml", "--output", "new.toml"]);
    assert_eq!(bad.status.code(), Some(2), "{}", text(&bad.stderr));
    assert!(!Path::new(&folder.path().join("new.toml")).exists());
}

/// What is written can be asked about at once, and says the same.
#[test]
fn a_written_file_answers_as_the_sample_does() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(
        run_in(folder.path(), &["guitar", "humbucker", "--output", "my.toml"]).status.code(),
        Some(0)
    );
    let answer = |guitar: &str| {
        run_in(
            folder.path(),
            &["recommend", "--guitar", guitar, "--builds", "0", "--format", "csv"],
        )
        .stdout
    };
    assert!(!answer("my.toml").is_empty());
    assert_eq!(answer("my.toml"), answer("plover-bridge"));
}

fn quantity(text: &str, digits: u64, power: i32) -> String {
    format!("{digits}e{power} {text}")
}

proptest! {
    /// Any figures come back to the last digit.
    #[test]
    fn any_figures_come_back(
        digits in 1_000_000_000_000_000_u64..9_999_999_999_999_999,
        shift in 0..3_i32,
        share in 0.01_f64..0.49,
    ) {
        let text = format!(
            "name = \"Any\"\n[pickup]\ninductance = \"{}\"\nresistance = \"{}\"\ncapacitance = \"{}\"\ntolerance = \"{} %\"\n\
             [volume]\nresistance = \"{}\"\ntaper = \"audio {} %\"\nbleed = \"{}\"\n[cable]\ncapacitance = \"{}\"\n",
            quantity("H", digits, -15 - shift.min(1)),
            quantity("Ω", digits, -13 + shift),
            quantity("F", digits, -25 - shift),
            share * 100.0,
            quantity("Ω", digits, -11 + shift.min(1)),
            share * 100.0,
            quantity("F", digits, -26 + shift),
            quantity("F", digits, -25 + shift.min(1)),
        );
        let guitar = read("any.toml", &text);
        prop_assert_eq!(&read("any.toml", &guitar.to_toml()), &guitar);
    }
}
