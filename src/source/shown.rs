//! What of a text may be shown: a terminal obeys some characters, and others turn the direction of the text around them.

use std::borrow::Cow;
use std::path::Path;

/// Whether a character only shows: it neither steers a terminal (C0, DEL, C1), nor turns the direction of writing, nor breaks a line.
#[must_use]
pub fn is_printable(letter: char) -> bool {
    let turns = matches!(
        letter,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
    );
    !letter.is_control() && !turns
}

/// A text as it may be shown on one line: what does more than show stands as its code.
#[must_use]
pub fn printable(text: &str) -> Cow<'_, str> {
    escaped(text, |_| false)
}

/// As [`printable`], for a text of several lines: their ends and tabs stay.
#[must_use]
pub fn printable_lines(text: &str) -> Cow<'_, str> {
    escaped(text, |letter| matches!(letter, '\n' | '\r' | '\t'))
}

/// A path as it is shown: as [`printable`], and what is no text in it as replacement characters.
#[must_use]
pub fn shown(path: &Path) -> String {
    printable(&path.to_string_lossy()).into_owned()
}

/// As [`printable`], but for what `stays`.
pub(crate) fn escaped(text: &str, stays: impl Fn(char) -> bool) -> Cow<'_, str> {
    let shows = |letter: char| is_printable(letter) || stays(letter);
    if text.chars().all(shows) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for letter in text.chars() {
        if shows(letter) {
            shown.push(letter);
        } else {
            shown.extend(letter.escape_unicode());
        }
    }
    Cow::Owned(shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_steer_a_terminal_is_shown_as_its_code() {
        assert_eq!(
            shown(Path::new("a\u{1b}[2Jb\u{9b}\u{202e}é.csv")),
            "a\\u{1b}[2Jb\\u{9b}\\u{202e}é.csv"
        );
    }
}
