//! How much of anything is taken: far above what anybody means, and low enough that no input takes the machine down. README.md shows the
//! same figures.

use crate::error::{Error, ErrorKind, Result};
use crate::source::{Passage, Source, is_printable};

/// Rows of a stock list, a catalogue, a curve or a sweep.
pub const MOST_ROWS: usize = 100_000;
/// Characters of a name.
pub const LONGEST_NAME: usize = 200;
/// Clauses of a target.
pub const MOST_CLAUSES: usize = 100;
/// What-if cases of a guitar.
pub const MOST_CASES: usize = 100;
/// Fixed loads of a guitar.
pub const MOST_LOADS: usize = 20;
/// Points (knob position, frequency, case) that a target asks about; each is held in memory, reduced to the searched slots.
pub const MOST_PLANNED_POINTS: u64 = 80_000;
/// Points of a plain response, each written as soon as it is computed.
pub const MOST_RESPONSE_POINTS: u64 = 10_000_000;
/// Points of a plain response as a table for people, laid out as a whole: on the screen or on a page.
pub const MOST_TABLE_POINTS: u64 = 100_000;
/// Candidates that are searched unless more are asked for.
pub const MOST_CANDIDATES: u64 = 20_000_000;
/// Candidates that are searched at all.
pub const MOST_CANDIDATES_LARGE: u64 = 100_000_000_000;
/// Guitars that are drawn for a yield.
pub const MOST_DRAWN: u64 = 10_000_000;
/// A rotation below this is 0: a knob that is not turned.
pub const SMALLEST_ROTATION: f64 = 1e-6;

/// A name: one line, neither empty nor longer than [`LONGEST_NAME`]. `what` it names, with an example.
pub(crate) fn name(written: &Passage<'_>, what: &str, example: &str) -> Result<String> {
    let name = written.text().trim();
    let wrong = |message: String| {
        let expected = format!("expected a name such as \"{example}\"");
        Err(Error::at(written, ErrorKind::Syntax, message).label(expected))
    };
    if name.is_empty() || !name.chars().all(is_printable) {
        return wrong(format!("{what}'s name is one line of text, not empty"));
    }
    let length = name.chars().count();
    if length > LONGEST_NAME {
        return wrong(format!("{what}'s name has {length} characters; {LONGEST_NAME} is the most"));
    }
    Ok(name.to_owned())
}

/// Refuses one more than so many.
pub(crate) fn count(found: usize, most: usize, what: &str, place: &Passage<'_>) -> Result<()> {
    if found <= most {
        return Ok(());
    }
    Err(Error::at(place, ErrorKind::Range, format!("more than {most} {what}")).label("one too many"))
}

/// Refuses what does not show in a text and would steer a terminal or turn the text around it.
pub(crate) fn printable(source: &Source) -> Result<()> {
    let shows = |letter: char| is_printable(letter) || matches!(letter, '\n' | '\r' | '\t');
    let Some((at, letter)) = source.text().char_indices().find(|(_, letter)| !shows(*letter)) else {
        return Ok(());
    };
    let message = format!(
        "the character U+{:04X} does not show and changes how the text around it does",
        u32::from(letter)
    );
    Err(
        Error::at(&source.passage_at(at..at + letter.len_utf8()), ErrorKind::Syntax, message)
            .label("this character")
            .help("take it out; copied text often brings such characters along"),
    )
}
