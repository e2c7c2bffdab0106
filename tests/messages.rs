//! What a user sees on bad input: each file of `tests/bad-input` gives an error with a place, and its whole message is a snapshot.

use std::path::{Path, PathBuf};

use knobwright::error::{Error, ErrorKind};
use knobwright::guitar::Guitar;
use knobwright::guitar::taper::Taper;
use knobwright::parts::stock::Stock;
use knobwright::source::Source;

/// The reader a file is meant for, by its name.
fn read(path: &Path) -> Result<(), Error> {
    let source = Source::file(path).expect("the file is text");
    let name = path.file_name().and_then(|name| name.to_str()).expect("the name is text");
    match name {
        _ if name.ends_with(".toml") => Guitar::read(&source).map(drop),
        _ if name.starts_with("pot-") => Taper::read_table(&source).map(drop),
        _ if name.starts_with("stock-") => Stock::read(&source).map(drop),
        _ => panic!("no reader for {name}"),
    }
}

fn bad_files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir("tests/bad-input")
        .expect("the folder is there")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml" || extension == "csv"))
        .collect();
    files.sort();
    files
}

#[test]
fn every_bad_file_is_answered_at_its_place() {
    let files = bad_files();
    assert!(files.len() >= 70, "{} files", files.len());
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("snapshots/messages");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    for file in files {
        let Err(error) = read(&file) else {
            panic!("{} was read", file.display());
        };
        assert!(error.place().is_some(), "{}: {error} has no place", file.display());
        let picture = error.picture();
        assert!(
            !picture.chars().any(|letter| letter.is_control() && letter != '\n'),
            "{}: {picture:?}",
            file.display()
        );
        let stem = file
            .file_stem()
            .and_then(|stem| stem.to_str())
            .expect("the name is text")
            .to_owned();
        settings.bind(|| insta::assert_snapshot!(stem, picture));
    }
}

fn guitar_with(key: &str, value: &str) -> Source {
    let text = format!("{key} = {value}\n[volume]\nresistance = \"250 k\"\ntaper = \"linear\"\n[cable]\ncapacitance = \"500 p\"\n");
    Source::inline("hostile.toml", text)
}

#[test]
fn deep_nesting_and_endless_lines_are_answered() {
    let endless = "9".repeat(1 << 20);
    for (key, value) in [
        ("name", "[".repeat(100_000) + &"]".repeat(100_000)),
        ("name", "{a=".repeat(100_000) + "1" + &"}".repeat(100_000)),
        ("series", format!("\"{}22n{}\"", "(".repeat(100_000), ")".repeat(100_000))),
        ("series", format!("\"{}\"", "(".repeat(100_000))),
        ("series", format!("\"{endless}k\"")),
        ("name", format!("\"{}\\u0007\"", "x".repeat(1 << 20))),
        ("pickup.inductance", format!("\"{endless} H\"")),
        ("pickup.inductance", endless.clone()),
        ("pickup.inductance", "\"1e-999999999999999999999 H\"".to_owned()),
        ("pickup.inductance", "\"1e99999999999999999999 H\"".to_owned()),
    ] {
        let source = guitar_with(key, &value);
        let error = Guitar::read(&source).expect_err(key);
        assert!(error.place().is_some(), "{key}: {}", error.message().len());
        assert!(
            error.picture().len() < 10_000,
            "{key}: a picture of {} bytes",
            error.picture().len()
        );
    }
    for line in [
        endless.clone() + "\n",
        format!("0,0\n{endless},1\n"),
        "0,0\n\"".to_owned() + &"x,\n".repeat(1 << 18),
    ] {
        let error = Taper::read_table(&Source::inline("hostile.csv", format!("rotation,fraction\n{line}"))).expect_err("hostile");
        assert!(
            error.place().is_some() && error.picture().len() < 10_000,
            "a picture of {} bytes",
            error.picture().len()
        );
    }
}

#[test]
fn what_is_no_text_file_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("junk.toml");
    std::fs::write(&path, [b'a', b'=', 0xff, 0xfe, 0x00]).expect("written");
    let error = Source::file(&path).expect_err("no text");
    assert!(error.contains("junk.toml") && error.contains("offset 2"), "{error}");
    let error = Source::file(&folder.path().join("none.toml")).expect_err("no file");
    assert!(error.contains("there is no such file"), "{error}");
    assert!(Source::file(folder.path()).is_err());
}

/// A table named in a guitar file is read from that file's folder, and its mistakes are shown in the table.
#[test]
fn a_mistake_in_a_table_is_shown_in_the_table() {
    let error = read(Path::new("tests/bad-input/taper-table-not-rising.toml")).expect_err("not a taper");
    let place = error.place().expect("a place");
    assert!(place.source.name().ends_with("pot-not-rising.csv"), "{error}");
    assert_eq!(place.source.line_column(place.span.start), (5, 1));
    let error = read(Path::new("tests/bad-input/taper-table-missing.toml")).expect_err("no table");
    assert_eq!(error.kind(), ErrorKind::File);
}

proptest::proptest! {
    /// No text at all makes a reader panic, and what is refused has a place and draws.
    #[test]
    fn any_text_is_read_or_refused(text in "(\\PC|\n|\"|=|\\[|\\]|,|#){0,200}") {
        let source = Source::inline("any", text.as_str());
        let readings = [
            Guitar::read(&source).map(drop),
            Taper::read_table(&source).map(drop),
            Stock::read(&source).map(drop),
            Taper::read(&source.passage()).map(drop),
        ];
        for error in readings.into_iter().filter_map(Result::err) {
            proptest::prop_assert!(error.place().is_some());
            proptest::prop_assert!(!error.picture().is_empty());
        }
    }

    /// Any text in the place of a value is read or refused at a place.
    #[test]
    fn any_value_is_read_or_refused(value in "[0-9a-zA-Zµ .,%Ω+|()e\\-]{0,24}", cell in 0..6_usize) {
        let lines = ["resistance", "taper", "tolerance", "bleed"];
        if let Some(key) = lines.get(cell) {
            let line = format!("{key} = \"{value}\"");
            let rest = [("resistance", "250 k"), ("taper", "linear")].iter().filter(|(other, _)| other != key);
            let rest: String = rest.map(|(key, value)| format!("{key} = \"{value}\"\n")).collect();
            let text = format!(
                "[pickup]\ninductance = \"3 H\"\nresistance = \"6 k\"\ncapacitance = \"0 p\"\n[cable]\ncapacitance = \"0 p\"\n[volume]\n{rest}{line}\n"
            );
            match Guitar::read(&Source::inline("any", text)) {
                Ok(guitar) => proptest::prop_assert!(!guitar.summary().contains("NaN") && !guitar.summary().contains("inf")),
                Err(error) => proptest::prop_assert!(error.place().is_some(), "{}", error),
            }
        }
        let row = format!("kind,value,tolerance,price,quantity,note\nresistor,{value},,,,\n");
        if let Ok(stock) = Stock::read(&Source::inline("any", row)) {
            proptest::prop_assert!(stock.rows.iter().all(|row| row.value.is_finite() && row.value > 0.0));
        }
    }
}
