//! What is too much, what may be opened and what reaches a terminal: this project's own promises, no outside source.

use std::path::Path;
use std::time::{Duration, Instant};

use assert_cmd::Command;
use knobwright::circuit::Setting;
use knobwright::error::{Error, ErrorKind};
use knobwright::guitar::{Guitar, catalogue};
use knobwright::identify::sweep::{Columns, Reading, Sweep};
use knobwright::inputs;
use knobwright::kernel::response::response;
use knobwright::limits;
use knobwright::parts::stock::Stock;
use knobwright::source::Source;
use knobwright::target::Target;

/// No reader may take longer over the most rows there may be; asked of a program that is optimised for use.
const LONGEST: Duration = Duration::from_secs(2);
/// Ten times the rows may take so many times the time: with work in proportion to their square it would be a hundred.
const MOST_GROWTH: f64 = 35.0;

/// The shortest of three times: a busy machine does not stretch each of them.
fn timed(read: impl Fn()) -> Duration {
    let once = |_| {
        let start = Instant::now();
        read();
        start.elapsed()
    };
    (0..3).map(once).min().expect("three times")
}

/// Reads lists of the most rows and of a tenth, and holds the times to what is promised.
fn grows_with_its_rows(what: &str, write: impl Fn(usize) -> Source, read: impl Fn(&Source) -> usize) {
    let most = limits::MOST_ROWS;
    let [few, many] = [most / 10, most].map(|rows| {
        // A text anew each time: it counts its lines once.
        let time = timed(|| assert_eq!(read(&write(rows)), rows, "{what}"));
        println!("{what}: {rows} rows in {time:?}");
        time
    });
    assert!(
        many.as_secs_f64() < MOST_GROWTH * few.as_secs_f64(),
        "{what}: {many:?} after {few:?}"
    );
    assert!(cfg!(debug_assertions) || many < LONGEST, "{what}: {many:?}");
}

fn lines(name: &str, head: &str, row: impl Fn(usize) -> String, rows: usize) -> Source {
    let mut text = head.to_owned();
    (1..=rows).for_each(|index| text.push_str(&row(index)));
    Source::inline(name, text)
}

#[test]
fn readers_take_time_in_proportion_to_the_rows() {
    let write = |rows| {
        lines(
            "stock.csv",
            "kind,value,tolerance,price,quantity,note\n",
            |row| format!("resistor,{row} R,5 %,0.10,3,film\n"),
            rows,
        )
    };
    grows_with_its_rows("stock", write, |source| Stock::read(source).expect("reads").rows.len());
    let write = |rows| lines("sweep.csv", "frequency_hz,magnitude_ohm\n", |row| format!("{row},6500\n"), rows);
    let sweep = |source: &Source| Sweep::read(source, Reading::Impedance, &Columns::default()).expect("reads");
    grows_with_its_rows("sweep", write, |source| sweep(source).rows.len());
    let head = "name,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper,cable.capacitance\n";
    let write = |rows| lines("birds.csv", head, |row| format!("bird {row},3 H,6k,100p,250k,linear,500p\n"), rows);
    grows_with_its_rows("catalogue", write, |source| catalogue::read(source).expect("reads").len());
    let head = "[[clause]]\nmeasure = \"level\"\nagainst = \"present\"\nband = \"band9999\"\nat_most = 1.0\n[bands]\n";
    let write = |rows| lines("bands.toml", head, |row| format!("band{row} = [100, 200]\n"), rows);
    // A target keeps the bands that its clauses name; that of this one stands at the end of the shorter list.
    let bands = |source: &Source| Target::read(source).map(|_| source.text().lines().count() - 6).expect("reads");
    grows_with_its_rows("bands", write, bands);
}

#[test]
fn the_error_of_a_large_file_draws_its_own_lines_only() {
    let mut stock = String::from("kind,value,tolerance,price,quantity,note\n");
    (1..50_000).for_each(|row| stock.push_str(&format!("resistor,{row} R,5 %,0.10,3,{}\n", "x".repeat(300))));
    stock.push_str("resistor,4k7,,,-1,\n");
    let source = Source::inline("stock.csv", stock);
    let error = Stock::read(&source).expect_err("a quantity below 0");
    let picture = error.picture();
    assert!(picture.contains("--> stock.csv:50001:16"), "{picture}");
    assert!(picture.contains("50001 | resistor,4k7,,,-1,"), "{picture}");
    assert!(picture.len() < 1000, "{picture}");
}

fn guitar_text(name: &str, taper: &str) -> String {
    format!(
        "name = \"{name}\"\n[pickup]\ninductance = \"3 H\"\nresistance = \"6 k\"\ncapacitance = \"100 p\"\n[volume]\nresistance = \"250 k\"\n\
         taper = {taper}\n[cable]\ncapacitance = \"500 p\"\n"
    )
}

fn refused(error: &Error, words: &str) {
    assert!(error.message().contains(words), "{error}");
    assert!(error.place().is_some(), "{error}");
}

#[test]
fn more_than_the_limits_is_refused_at_its_place() {
    let long = "x".repeat(limits::LONGEST_NAME + 1);
    let read = |text: String| Guitar::read(&Source::inline("x.toml", text));
    refused(
        &read(guitar_text(&long, "\"linear\"")).expect_err("a long name"),
        "201 characters; 200 is the most",
    );
    assert!(read(guitar_text(&long[1..], "\"linear\"")).is_ok());
    let load = "[[load]]\nnetwork = \"1M\"\n";
    let loads = |count: usize| read(guitar_text("x", "\"linear\"") + &load.repeat(count));
    assert_eq!(loads(limits::MOST_LOADS).expect("reads").loads.len(), 20);
    refused(&loads(limits::MOST_LOADS + 1).expect_err("loads"), "more than 20 loads");
    let clause = "[[clause]]\nsays = \"keep highs within 4 dB at volume 5\"\n";
    let clauses = |count: usize| Target::read(&Source::inline("x.toml", clause.repeat(count)));
    assert_eq!(clauses(limits::MOST_CLAUSES).expect("reads").clauses.len(), 100);
    refused(&clauses(limits::MOST_CLAUSES + 1).expect_err("clauses"), "more than 100 clauses");
}

#[test]
fn a_knob_that_is_hardly_turned_is_not_turned() {
    let guitar = inputs::guitar(Some("heron-bridge")).expect("shipped");
    let at =
        |rotation: f64| [[rotation, 1.0], [1.0, rotation]].map(|[volume, tone]| response(&guitar, &[Setting { volume, tone }], &[1000.0]));
    let levels = |rotation: f64| at(rotation).map(|points| points[0].level_db);
    assert_eq!(levels(1e-160), levels(0.0));
    assert_eq!(levels(0.9e-6), levels(0.0));
    assert_eq!(levels(0.0)[0], None);
    assert!(levels(1e-6)[0].is_some());
}

/// A folder with a taper in it, one beside it, a link to that one, and a pipe.
fn folder() -> tempfile::TempDir {
    let whole = tempfile::tempdir().expect("a folder");
    let inner = whole.path().join("inner");
    std::fs::create_dir(&inner).expect("made");
    std::fs::write(inner.join("pot.csv"), "rotation,fraction\n0,0\n1,1\n").expect("written");
    std::fs::write(whole.path().join("secret.csv"), "hush,hush\n").expect("written");
    whole
}

#[test]
fn a_text_opens_no_file_that_it_was_not_given_a_folder_for() {
    let whole = folder();
    let inner = whole.path().join("inner");
    let text = |path: &str| Source::inline("x.toml", guitar_text("x", &format!("{{ table = \"{path}\" }}")));
    let absolute = whole.path().join("secret.csv").to_string_lossy().into_owned();
    for path in ["pot.csv", "../secret.csv", "/dev/null", absolute.as_str()] {
        let error = Guitar::read(&text(path)).expect_err(path);
        assert_eq!(error.kind(), ErrorKind::File);
        refused(&error, "is not opened");
    }
    assert!(Guitar::read(&text("pot.csv").within(&inner)).is_ok());
    for path in ["../secret.csv", absolute.as_str(), "./../secret.csv"] {
        let error = Guitar::read(&text(path).within(&inner)).expect_err(path);
        refused(&error, "only files below the given folder");
        assert!(!error.picture().contains("hush"), "{}", error.picture());
    }
    let target =
        |path: &str| format!("[[clause]]\nmeasure = \"level\"\nagainst = {{ curve = \"{path}\" }}\nband = \"highs\"\nat_most = 1.0\n");
    refused(
        &Target::read(&Source::inline("x.toml", target(&absolute))).expect_err("a curve"),
        "is not opened",
    );
    refused(
        &inputs::target_of(&Source::inline("x", absolute.replace(".csv", ".toml"))).expect_err("a target"),
        "is not opened",
    );
    let row = format!(
        "name,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper.table,cable.capacitance\nx,3 H,6k,0,250k,{absolute},0\n"
    );
    refused(
        &catalogue::read(&Source::inline("x.csv", row)).expect_err("a taper")[0],
        "is not opened",
    );
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_folder_and_a_pipe_are_refused() {
    let whole = folder();
    let inner = whole.path().join("inner");
    std::os::unix::fs::symlink(whole.path().join("secret.csv"), inner.join("link.csv")).expect("linked");
    let made = std::process::Command::new("mkfifo").arg(inner.join("pipe.csv")).status();
    let read = |path: &str| {
        let text = guitar_text("x", &format!("{{ table = \"{path}\" }}"));
        Guitar::read(&Source::inline("x.toml", text).within(&inner)).expect_err(path)
    };
    refused(&read("link.csv"), "leads out of the given folder");
    if made.is_ok_and(|status| status.success()) {
        refused(&read("pipe.csv"), "no ordinary file");
    }
}

/// Whether a text holds nothing that steers a terminal or turns the direction of text, but for line ends.
fn is_plain(text: &str) -> bool {
    text.chars()
        .all(|letter| letter == '\n' || knobwright::source::is_printable(letter))
}

#[test]
fn a_catalogue_full_of_mistakes_shows_some_and_counts_the_rest() {
    let head = "name,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper,cable.capacitance\n";
    let bad = |rows| lines("birds.csv", head, |row| format!("bird {row},3 H,6k,100p,250k,bent,500p\n"), rows);
    let errors = |rows| catalogue::read(&bad(rows)).expect_err("no such taper");
    let most = knobwright::error::MOST_MISTAKES;
    assert_eq!(errors(most).len(), most);
    let many = errors(10_000);
    assert_eq!(many.len(), most + 1);
    assert!(many[..most].iter().all(|error| error.place().is_some()));
    assert_eq!(
        many[most].message(),
        format!("`birds.csv` has mistakes in {} more rows", 10_000 - most)
    );
    assert!(include_str!("../src/guide/files.md").contains(&format!("the first {most} bad rows are shown")));
}

#[test]
fn a_long_list_of_knob_positions_is_said_once() {
    let output = Command::cargo_bin("knobwright")
        .expect("built")
        .args(["response", "--volume", "0.125,0.0625", "--frequencies", "1000"])
        .output()
        .expect("runs");
    let told = String::from_utf8(output.stderr).expect("text");
    assert!(told.contains("write --volume 1.25,0.625."), "{told}");
    assert_eq!(told.matches("0.625").count(), 1, "{told}");
    assert!(!told.contains("0.0625"), "{told}");
}

#[test]
fn what_steers_a_terminal_does_not_reach_it() {
    let whole = tempfile::tempdir().expect("a folder");
    let name = "a\u{1b}[31m\u{9b}1m\u{202e}.toml";
    let path = whole.path().join(name);
    std::fs::write(&path, "x = \u{1}\n").expect("written");
    let stock = whole.path().join("stock\u{202e}.csv");
    std::fs::write(&stock, "kind,va\u{9b}2Jlue\n").expect("written");
    for arguments in [
        vec!["check".as_ref(), path.as_os_str()],
        vec!["check".as_ref(), stock.as_os_str()],
        vec!["recommend".as_ref(), "--guitar".as_ref(), path.as_os_str()],
        vec!["recommend".as_ref(), "--guitar".as_ref(), Path::new(name).as_os_str()],
        vec!["recommend".as_ref(), "--top".as_ref(), Path::new(name).as_os_str()],
        vec![
            "response".as_ref(),
            "--quiet".as_ref(),
            "--output".as_ref(),
            Path::new("/none/\u{1b}[2J").as_os_str(),
        ],
    ] {
        let output = Command::cargo_bin("knobwright")
            .expect("built")
            .args(&arguments)
            .output()
            .expect("runs");
        let told = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(is_plain(&told), "{told:?}");
    }
}

#[test]
fn characters_that_do_not_show_are_refused_where_they_stand() {
    for letter in ["\u{202e}", "\u{9b}", "\u{200f}"] {
        let error = Guitar::read(&Source::inline("x.toml", guitar_text(&format!("Heron{letter}"), "\"linear\""))).expect_err("refused");
        refused(&error, "does not show");
        let stock = format!("kind,value,tolerance,price,quantity,note\nresistor,4k7,,,,old{letter}\n");
        refused(&Stock::read(&Source::inline("x.csv", stock)).expect_err("refused"), "does not show");
    }
}

/// Clauses in bands of their own, over both knobs' whole travel, so that no two share a point.
fn wide_target(clauses: usize) -> String {
    let clause = |number: usize| {
        format!(
            "[[clause]]\nmeasure = \"level\"\nband = [{}, 6000]\nagainst = \"full\"\nat_least = -60.0\n\
             volume = {{ from = 10, to = 0.5 }}\ntone = {{ from = 10, to = 0 }}\n",
            1500 + number
        )
    };
    (0..clauses).map(clause).collect()
}

/// Every command that plans a target refuses one that asks too much, and does so before the work: none of these says anything else.
#[test]
fn a_target_that_asks_about_too_many_points_is_refused_by_every_command() {
    let folder = tempfile::tempdir().expect("a folder");
    let (target, sweep) = (folder.path().join("wide.toml"), folder.path().join("sweep.csv"));
    std::fs::write(&target, wide_target(9)).expect("written");
    std::fs::write(
        &sweep,
        "frequency_hz,level_db\n100,-1\n200,-1.1\n400,-1.2\n800,-1.3\n1600,-1.4\n3200,-1.5\n",
    )
    .expect("written");
    let asked = |arguments: &[&str]| {
        let mut command = Command::cargo_bin("knobwright").expect("built");
        let output = command.args(arguments).arg("--target").arg(&target).output().expect("runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(
            said.contains("the target asks about ") && said.contains("give it fewer knob positions"),
            "{arguments:?}: {said}"
        );
        assert!(output.stdout.is_empty(), "{arguments:?}");
    };
    let sweep = sweep.to_string_lossy();
    asked(&["recommend", "--guitar", "plover-bridge"]);
    asked(&["tolerance", "--guitar", "plover-bridge", "--build", "bleed=1n"]);
    asked(&["compare", "--guitar", "plover-bridge", "--build", "one: bleed=1n"]);
    asked(&["kit"]);
    asked(&["verify", "--guitar", "plover-bridge", "--measured", &sweep]);
}

#[test]
fn the_guide_shows_the_limits() {
    let readme = include_str!("../src/guide/files.md");
    for (what, figure) in [
        ("rows of a file", limits::MOST_ROWS as u64),
        ("size of a file, in MiB", knobwright::source::LARGEST_FILE_MIB),
        ("characters of a name", limits::LONGEST_NAME as u64),
        ("clauses of a target", limits::MOST_CLAUSES as u64),
        ("cases of a guitar", limits::MOST_CASES as u64),
        ("loads of a guitar", limits::MOST_LOADS as u64),
        (
            "points a target asks about (knob positions × frequencies × cases)",
            limits::MOST_PLANNED_POINTS,
        ),
        ("points of a response, as CSV or JSON", limits::MOST_RESPONSE_POINTS),
        ("points of a response, as a table or on a page", limits::MOST_TABLE_POINTS),
        ("margins of a kit (guitars × targets × networks)", knobwright::kit::MOST_MARGINS),
        ("candidates without `--large`", limits::MOST_CANDIDATES),
        ("candidates with `--large`", limits::MOST_CANDIDATES_LARGE),
        ("built guitars (`--builds`)", limits::MOST_DRAWN),
    ] {
        let line = readme.lines().find(|line| line.starts_with(&format!("| {what} |")));
        let shown: Option<String> = line.map(|line| line.chars().filter(char::is_ascii_digit).collect());
        assert_eq!(shown, Some(figure.to_string()), "{what}");
    }
}
