//! What a user sees for every broken phrase and target file in `tests/bad-input`.

use std::path::Path;

use knobwright::Error;
use knobwright::source::Source;
use knobwright::target::Target;

/// The whole message, after the checks every message must pass.
fn message(error: &Error) -> String {
    let picture = error.picture();
    let place = error.place().unwrap_or_else(|| panic!("no place: {picture}"));
    let (line, column) = place.source.line_column(place.span.start);
    assert!(picture.contains(&format!("{}:{line}:{column}", place.source.name())), "{picture}");
    picture
}

#[test]
fn broken_phrases() {
    let phrases = include_str!("bad-input/phrases.txt");
    assert!(phrases.lines().count() >= 30);
    let messages: Vec<String> = phrases
        .lines()
        .map(|phrase| {
            let source = Source::inline("--target", phrase);
            let error = Target::from_phrase(&source.passage()).expect_err(phrase);
            message(&error)
        })
        .collect();
    insta::assert_snapshot!(messages.join("\n\n"));
}

#[test]
fn the_empty_phrase() {
    let source = Source::inline("--target", "");
    insta::assert_snapshot!(message(&Target::from_phrase(&source.passage()).unwrap_err()));
}

#[test]
fn broken_target_files() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths: Vec<_> = std::fs::read_dir(root.join("tests/bad-input/targets"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    paths.sort();
    assert!(paths.len() >= 15);
    let messages: Vec<String> = paths
        .iter()
        .map(|path| {
            let source = Source::file(path).unwrap();
            let error = Target::read(&source).expect_err(source.name());
            message(&error).replace(&format!("{}/", root.display()), "")
        })
        .collect();
    insta::assert_snapshot!(messages.join("\n\n"));
}
