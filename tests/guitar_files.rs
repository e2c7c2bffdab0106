//! Guitar files that the program writes: this project's own promise that they read back to the same guitar, and that every remark holds.

use assert_cmd::Command;
use knobwright::guitar::Guitar;
use knobwright::guitar::catalogue;
use knobwright::guitar::kind::KINDS;
use knobwright::inputs;
use knobwright::shipped;
use knobwright::source::Source;

fn read(text: &str) -> Guitar {
    Guitar::read(&Source::inline("written.toml", text)).unwrap_or_else(|error| panic!("{}\n{text}", error.picture()))
}

/// Everything that a guitar file can say, with values that have many digits.
const EVERYTHING: &str = r#"
name = "Knot \"9\", \\ neck"
series = "3n9 || (1M5 + 470p)"
[pickup]
inductance = "3.1234567890123 H"
resistance = "6123.4567 R"
capacitance = "0 F"
loss = [{ inductance = "0.7 H", resistance = "22.2 k" }, { inductance = "1 mH", resistance = "1 M" }]
tolerance = "7.25 %"
across = "1M + 220p"
[volume]
resistance = "473.1 k"
taper = "reverse audio 12.5 %"
tolerance = "12.5 %"
bleed = "91k + (150k || 1n5)"
[tone]
resistance = "1 M"
taper = "two-slope 33 %"
network = "6k8"
bypass = "100n"
hookup = "shelf"
joined_at = "wiper"
no_load = true
[cable]
length = "3.3 m"
per_metre = "97 p"
[input]
resistance = "220 k"
capacitance = "33 p"
[[load]]
network = "500k || (500k + 22n)"
at = "wiper"
[[load]]
network = "1M"
[[case]]
name = "as-is"
[[case]]
cable = "900 p"
input = "100 k"
input_capacitance = "47 p"
volume = "250 k"
tone = "250 k"
inductance = "2.9 H"
"#;

#[test]
fn every_guitar_reads_back_as_it_was_written() {
    let samples = shipped::GUITARS.iter().map(|file| inputs::guitar(Some(file.name)).unwrap());
    let kinds = KINDS.iter().map(|kind| inputs::guitar(Some(kind.name)).unwrap());
    let birds = shipped::CATALOGUES
        .iter()
        .flat_map(|file| catalogue::read(&Source::inline(file.name, file.text)).unwrap());
    let guitars = samples
        .chain(kinds)
        .chain(birds.map(|listed| listed.guitar))
        .chain([read(EVERYTHING)]);
    let mut count = 0;
    for guitar in guitars {
        let written = guitar.to_toml().unwrap();
        assert_eq!(read(&written), guitar, "{written}");
        count += 1;
    }
    assert!(count >= 79, "{count}");
}

/// "Take the # away to use it" holds for each key by itself.
#[test]
fn every_key_behind_a_mark_can_be_used() {
    let mut used = 0;
    for name in ["plover-bridge", "avocet-middle", "siskin-bridge"] {
        let guitar = inputs::guitar(Some(name)).unwrap();
        let written = guitar.to_toml().unwrap();
        let lines: Vec<&str> = written.lines().collect();
        let is_key = |line: &str| {
            line.strip_prefix("# ")
                .is_some_and(|rest| rest.split(" = ").next().is_some_and(|key| !key.contains(' ')) && rest.contains(" = "))
        };
        for (index, line) in lines.iter().enumerate().filter(|(_, line)| is_key(line)) {
            // The keys of a case stand under their heading.
            let heading = lines[..index].iter().rposition(|line| *line == "# [[case]]");
            let with_mark_away: Vec<&str> = (0..lines.len())
                .map(|other| {
                    if other == index || Some(other) == heading {
                        lines[other].trim_start_matches("# ")
                    } else {
                        lines[other]
                    }
                })
                .collect();
            assert_ne!(read(&with_mark_away.join("\n")), guitar, "{line}");
            used += 1;
        }
    }
    assert!(used >= 20, "{used}");
}

#[test]
fn a_measured_taper_is_not_left_out_silently() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("pot.csv"), "rotation,fraction\n0,0\n0.5,0.2\n1,1\n").unwrap();
    let path = folder.path().join("own.toml");
    let text = inputs::guitar(Some("wren-bridge")).unwrap().to_toml().unwrap();
    std::fs::write(&path, text.replacen("\"audio 15 %\"\n", "{ table = \"pot.csv\" }\n", 1)).unwrap();
    let output = Command::cargo_bin("knobwright").unwrap().arg("guitar").arg(&path).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(
        said.contains("the taper of the volume pot was measured") && said.contains("copy the guitar file itself"),
        "{said}"
    );
    assert!(output.stdout.is_empty());
}

/// What is written can be asked about at once, and says the same.
#[test]
fn a_written_file_answers_as_the_sample_does() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("my.toml");
    let run = |arguments: &[&str]| Command::cargo_bin("knobwright").unwrap().args(arguments).output().unwrap();
    let path = path.to_string_lossy().into_owned();
    assert!(run(&["guitar", "humbucker", "--output", &path]).status.success());
    let answer = |guitar: &str| run(&["recommend", "--guitar", guitar, "--builds", "0", "--format", "csv"]).stdout;
    assert!(!answer(&path).is_empty());
    assert_eq!(answer(&path), answer("plover-bridge"));
}
