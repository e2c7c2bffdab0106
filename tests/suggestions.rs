//! Every "write …" and "did you mean …" of the messages on bad input is typed in at the place it points to: the complaint must be gone.

use std::path::{Path, PathBuf};

use knobwright::error::Error;
use knobwright::guitar::Guitar;
use knobwright::guitar::taper::Taper;
use knobwright::parts::stock::Stock;
use knobwright::source::Source;
use knobwright::target::Target;

type Reader = fn(&Source) -> Result<(), Error>;

/// What a message says can be typed, and instead of what.
#[derive(Debug)]
enum Suggestion {
    /// Instead of the place.
    Place(String),
    /// An example ("such as"), instead of the whole value that the place is in.
    Value(String),
    /// `key = "value"` in the table that the place is in.
    Key(String, String),
}

/// The suggestions of one line of help, the likeliest first.
fn suggestions(help: &str) -> Vec<Suggestion> {
    if let Some(word) = help.strip_prefix("did you mean `") {
        return vec![Suggestion::Place(word.trim_end_matches("`?").to_owned())];
    }
    let mut found = Vec::new();
    for part in help.split("write ").skip(1) {
        let mut rest = part;
        let mut is_example = false;
        while let Some((before, sign, after)) = split_at_quote(rest) {
            let Some((inside, behind)) = after.split_once(sign) else { break };
            is_example |= before.ends_with("such as ");
            let key = before.strip_suffix(" = ").and_then(|before| before.rsplit(' ').next());
            found.push(match (sign, key) {
                ('"', Some(key)) => Suggestion::Key(key.to_owned(), inside.to_owned()),
                ('"', None) => Suggestion::Place(format!("\"{inside}\"")),
                _ if is_example => Suggestion::Value(inside.to_owned()),
                _ => Suggestion::Place(inside.to_owned()),
            });
            rest = behind;
        }
    }
    found
}

/// What stands before the next quotation mark, the mark, and what stands behind it.
fn split_at_quote(text: &str) -> Option<(&str, char, &str)> {
    let at = text.find(['`', '"'])?;
    let sign = text[at..].chars().next()?;
    Some((&text[..at], sign, &text[at + 1..]))
}

/// The text with the suggestion typed in.
fn applied(source: &Source, error: &Error, suggestion: &Suggestion) -> String {
    let (text, mut span) = (source.text(), error.place().expect("a place").span.clone());
    match suggestion {
        Suggestion::Place(new) => {
            // The quotes around a value stay.
            if text[span.clone()].starts_with('"') && !new.starts_with('"') {
                span = span.start + 1..span.end - 1;
            }
            format!("{}{new}{}", &text[..span.start], &text[span.end..])
        }
        Suggestion::Value(new) => {
            let ends = ['"', ',', '\n'];
            let start = text[..span.start].rfind(ends).map_or(0, |at| at + 1);
            let end = text[span.end..].find(ends).map_or(text.len(), |at| span.end + at);
            format!("{}{new}{}", &text[..start], &text[end..])
        }
        Suggestion::Key(key, value) => with_key(text, span.start, key, value),
    }
}

/// The text with a key of the table around `at` set; a key that is not there is written under the line of `at`.
fn with_key(text: &str, at: usize, key: &str, value: &str) -> String {
    let line_of = |offset: usize| text[..offset].matches('\n').count();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let here = line_of(at);
    let heading = (0..=here).rev().find(|line| lines[*line].starts_with('[')).unwrap_or(0);
    let end = (heading + 1..lines.len())
        .find(|line| lines[*line].starts_with('['))
        .unwrap_or(lines.len());
    let written = format!("{key} = \"{value}\"");
    match (heading..end).find(|line| lines[*line].starts_with(&format!("{key} "))) {
        Some(line) => lines[line] = written,
        None => lines.insert(here + 1, written),
    }
    lines.join("\n")
}

/// A message without what it quotes: what kind of complaint it is.
fn complaint(error: &Error) -> String {
    let unquoted = error.message().split('`').step_by(2).collect::<Vec<_>>().join("`");
    unquoted.chars().filter(|sign| !sign.is_ascii_digit()).collect()
}

fn place(error: &Error) -> usize {
    error.place().expect("a place").span.start
}

/// Tries every suggestion of the messages on a text; how many there were.
fn try_suggestions(source: &Source, read: Reader) -> usize {
    let mistakes = read(source).expect_err(source.name()).into_each();
    mistakes.iter().map(|error| try_suggestions_of(error, source, read)).sum()
}

fn try_suggestions_of(error: &Error, source: &Source, read: Reader) -> usize {
    let picture = error.picture();
    let helps = picture.lines().filter_map(|line| line.trim_start().strip_prefix("= help: "));
    let mut tried = 0;
    for help in helps.filter(|help| help.contains("write ") || help.starts_with("did you mean")) {
        let found = suggestions(help);
        assert!(!found.is_empty(), "nothing to type can be taken from `{help}`:\n{picture}");
        for (rank, suggestion) in found.iter().enumerate() {
            let text = applied(source, error, suggestion);
            let after = read(&Source::inline(source.name(), text.as_str())).err();
            // What else is wrong with the file stays.
            let after = after.and_then(|after| after.into_each().into_iter().find(|after| place(after) == place(error)));
            // The likeliest reading must fit; behind a word that was meant, the next mistake may show at the same place.
            let must_fit = rank == 0 && help.contains("write ");
            let is_same = after.as_ref().is_some_and(|after| must_fit || complaint(after) == complaint(error));
            let after = after.map(|after| after.picture()).unwrap_or_default();
            assert!(!is_same, "{suggestion:?} does not help:\n{picture}\n{text}\n{after}");
        }
        tried += found.len();
    }
    tried
}

fn files(folder: &str, endings: &[&str]) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("the folder is there");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut found: Vec<PathBuf> = paths
        .filter(|path| {
            path.extension()
                .is_some_and(|ending| endings.iter().any(|wanted| ending == *wanted))
        })
        .collect();
    found.sort();
    found
}

/// The reader a file is meant for, by its name.
fn reader(path: &Path) -> Reader {
    let name = path.file_name().and_then(|name| name.to_str()).expect("the name is text");
    match name {
        _ if name.ends_with(".toml") => |source| Guitar::read(source).map(drop),
        _ if name.starts_with("pot-") => |source| Taper::read_table(source).map(drop),
        _ => |source| Stock::read(source).map(drop),
    }
}

#[test]
fn suggestions_for_guitars_and_stock_work_when_typed() {
    let mut tried = 0;
    for path in files("tests/bad-input", &["toml", "csv"]) {
        tried += try_suggestions(&Source::file(&path).expect("the file is text"), reader(&path));
    }
    assert!(tried >= 50, "{tried} suggestions");
}

#[test]
fn suggestions_for_targets_and_phrases_work_when_typed() {
    let mut tried = 0;
    for path in files("tests/bad-input/targets", &["toml"]) {
        tried += try_suggestions(&Source::file(&path).expect("the file is text"), |source| {
            Target::read(source).map(drop)
        });
    }
    for phrase in include_str!("bad-input/phrases.txt").lines() {
        tried += try_suggestions(&Source::inline("--target", phrase), |source| {
            Target::from_phrase(&source.passage()).map(drop)
        });
    }
    assert!(tried >= 20, "{tried} suggestions");
}

/// The first suggestion is the likeliest reading: what a number without its unit can mean within the range of its key.
#[test]
fn the_likeliest_reading_comes_first() {
    for (file, first) in [
        ("bare-number", "\"250 kΩ\""),
        ("bare-tolerance", "\"20 %\""),
        ("capacitance-bare-number", "\"110 pF\""),
        ("resistance-bare-number", "\"7.1 kΩ\""),
        ("tolerance-bare-share", "5 %"),
        ("taper-bare-share", "15 %"),
        ("network-three-digits", "22n"),
        ("network-code-with-letter", "22n"),
    ] {
        let source = Source::file(Path::new(&format!("tests/bad-input/{file}.toml"))).expect("the file is text");
        let picture = Guitar::read(&source).expect_err(file).picture();
        let help = picture.split("= help: ").nth(1).expect("a help");
        let found = suggestions(help.lines().next().expect("a line"));
        assert!(matches!(&found[0], Suggestion::Place(text) if text == first), "{file}: {found:?}");
    }
}
