//! One error type for everything a user can get wrong: what, where, what was expected, and the nearest right word.

use std::fmt;
use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use crate::source::{Passage, Place, escaped, printable};

/// Result of everything that reads what a user wrote.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Mistakes of one text that are drawn; of the rest there is their number.
pub const MOST_MISTAKES: usize = 20;

/// What kind of mistake it is, for programs; the words for people are in the message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// A file that cannot be read or written.
    File,
    /// A text that breaks the form of its language.
    Syntax,
    /// A word that is none of those known at its place.
    Unknown,
    /// Something that must be there and is not.
    Missing,
    /// A value of the wrong unit or type.
    Unit,
    /// A value outside what is allowed.
    Range,
    /// Things that are right alone and wrong together.
    Conflict,
    /// A search with nothing to try, or with too much.
    Search,
}

/// A user's mistake.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error(Box<Inner>);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Inner {
    kind: ErrorKind,
    message: String,
    label: String,
    place: Option<Place>,
    help: Vec<String>,
    /// Further mistakes of the same text.
    further: Vec<Error>,
}

impl Error {
    /// Several mistakes as one, in the order of their places, none twice; `None` where there are none.
    pub(crate) fn all(mistakes: impl IntoIterator<Item = Self>) -> Option<Self> {
        let mut each: Vec<Self> = mistakes.into_iter().flat_map(Self::into_each).collect();
        let start = |error: &Self| error.0.place.as_ref().map(|place| place.span.start);
        each.sort_by_key(start);
        // What was found first knows most about it.
        each.dedup_by(|later, earlier| start(later) == start(earlier) && later.0.message == earlier.0.message);
        let mut each = each.into_iter();
        let mut first = each.next()?;
        first.0.further = each.collect();
        Some(first)
    }

    /// Each mistake by itself.
    #[must_use]
    pub fn into_each(mut self) -> Vec<Self> {
        let further = std::mem::take(&mut self.0.further);
        std::iter::once(self).chain(further).collect()
    }

    /// A mistake that has no place in a text.
    pub fn new(kind: ErrorKind, message: impl Into<String>) -> Self {
        Self(Box::new(Inner {
            kind,
            message: clipped(message.into()),
            label: String::new(),
            place: None,
            help: Vec::new(),
            further: Vec::new(),
        }))
    }

    /// A mistake at a place in a text.
    pub fn at(passage: &Passage<'_>, kind: ErrorKind, message: impl Into<String>) -> Self {
        Self::new(kind, message).placed(passage.place())
    }

    /// Adds the place, unless there is one already (the innermost is the most precise).
    #[must_use]
    pub fn placed(mut self, place: Place) -> Self {
        self.0.place.get_or_insert(place);
        self
    }

    /// The same mistake at another place: where a text was made from another one, that is the place a user knows.
    #[must_use]
    pub(crate) fn moved(mut self, place: Place) -> Self {
        self.0.place = Some(place);
        self.0.further.clear();
        self
    }

    /// Adds the words that stand at the caret.
    #[must_use]
    pub fn label(mut self, label: impl Into<String>) -> Self {
        self.0.label = clipped(label.into());
        self
    }

    /// Adds a line of help under the picture: what was expected, or what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.0.help.push(clipped(help.into()));
        self
    }

    /// Adds help where something is missing; a slip of the pen has a help of its own.
    #[must_use]
    pub fn help_if_missing(self, help: impl FnOnce() -> String) -> Self {
        match self.kind() {
            ErrorKind::Missing => self.help(help()),
            _ => self,
        }
    }

    /// Adds "did you mean …" when one of the words is near to what was written.
    #[must_use]
    pub fn nearest<'w>(self, written: &str, words: impl IntoIterator<Item = &'w str>) -> Self {
        match nearest(written, words) {
            Some(word) => self.help(format!("did you mean `{word}`?")),
            None => self,
        }
    }

    /// What kind of mistake it is.
    #[must_use]
    pub fn kind(&self) -> ErrorKind {
        self.0.kind
    }

    /// The message alone, in one line.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.0.message
    }

    /// Where it is, if it is in a text.
    #[must_use]
    pub fn place(&self) -> Option<&Place> {
        self.0.place.as_ref()
    }

    /// The whole message with the line it is about and a caret under the place, without colour.
    #[must_use]
    pub fn picture(&self) -> String {
        self.draw(&Renderer::plain().decor_style(DecorStyle::Ascii))
    }

    /// As [`Error::picture`], with terminal colours.
    #[must_use]
    pub fn coloured_picture(&self) -> String {
        self.draw(&Renderer::styled().decor_style(DecorStyle::Ascii))
    }

    fn draw(&self, renderer: &Renderer) -> String {
        let further = &self.0.further;
        let shown = further.iter().take(MOST_MISTAKES - 1).map(|error| error.draw_alone(renderer));
        let mut pictures: Vec<String> = std::iter::once(self.draw_alone(renderer)).chain(shown).collect();
        match further.len().saturating_sub(MOST_MISTAKES - 1) {
            0 => {}
            1 => pictures.push("and one mistake more".to_owned()),
            more => pictures.push(format!("and {more} mistakes more")),
        }
        pictures.join("\n\n")
    }

    fn draw_alone(&self, renderer: &Renderer) -> String {
        let inner = &*self.0;
        let extract = inner.place.as_ref().map(Extract::of);
        let mut group = Group::with_title(Level::ERROR.primary_title(inner.message.as_str()));
        if let Some(extract) = &extract {
            let mark = AnnotationKind::Primary.span(extract.span.clone());
            let snippet = Snippet::source(extract.text.as_str()).line_start(extract.line);
            let snippet = snippet.annotation(mark.label(inner.label.as_str()));
            let name = extract.place.source.name();
            group = if extract.is_whole {
                group.element(snippet.path(name))
            } else {
                // The column in the extract is not that in the line.
                let origin = Origin::path(name).line(extract.line).char_column(extract.column);
                group.element(origin).element(snippet)
            };
        }
        for help in &inner.help {
            group = group.element(Level::HELP.message(help.as_str()));
        }
        renderer.render(&[group])
    }
}

/// Most bytes of a line before a place, of the place itself and of its line behind it that are drawn.
const WIDEST_EXTRACT: usize = 16 << 10;

/// Most bytes of a place over several lines that is drawn whole.
const LONGEST_OVER_LINES: usize = 1 << 10;

/// The lines a place is in, as they can be drawn: the picture of a place in a large file takes no more than its own lines.
struct Extract<'e> {
    place: &'e Place,
    text: String,
    /// Of the place in the text.
    span: Range<usize>,
    line: usize,
    column: usize,
    /// Whether it begins where a line begins.
    is_whole: bool,
}

/// What the renderer itself draws as a sign one column wide: ASCII control characters, embeddings and isolates of a direction.
fn is_drawn(letter: char) -> bool {
    letter.is_ascii_control() || matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

impl<'e> Extract<'e> {
    fn of(place: &'e Place) -> Self {
        let text = place.source.text();
        let is_between = |at: &usize| text.is_char_boundary(*at);
        let at = |offset: usize| (0..=offset.min(text.len())).rev().find(is_between).unwrap_or(0);
        let start = at(place.span.start);
        let first_line = start + text.get(start..).and_then(|rest| rest.lines().next()).map_or(0, str::len);
        // Of a place over several lines the renderer draws each one, and a long place is known by its first.
        let is_long = place.span.len() > LONGEST_OVER_LINES;
        let most = if is_long { first_line } else { text.len() };
        let end = at(place.span.end.min(most).clamp(start, start + WIDEST_EXTRACT));
        let before = text.get(..start).unwrap_or_default();
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        let first = at(line_start.max(start.saturating_sub(WIDEST_EXTRACT)));
        let behind = text.get(end..).unwrap_or_default();
        let behind = behind.lines().next().unwrap_or_default();
        let last = at(end + behind.len().min(WIDEST_EXTRACT));
        let shown = |range: Range<usize>| escaped(text.get(range).unwrap_or_default(), is_drawn);
        let [before, inside, behind] = [shown(first..start), shown(start..end), shown(end..last)];
        let (line, column) = place.source.line_column(start);
        Self {
            place,
            text: format!("{before}{inside}{behind}"),
            span: before.len()..before.len() + inside.len(),
            line,
            column,
            is_whole: first == line_start,
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.0.place {
            let (line, column) = place.source.line_column(place.span.start);
            write!(formatter, "{}:{line}:{column}: ", place.source.name())?;
        }
        formatter.write_str(&self.0.message)
    }
}

impl std::error::Error for Error {}

/// Most characters of a message: enough for a sentence that quotes a value, too few for one that quotes a file.
const LONGEST_MESSAGE: usize = 400;

fn clipped(message: String) -> String {
    let mut message = printable(&message).into_owned();
    if let Some((at, _)) = message.char_indices().nth(LONGEST_MESSAGE) {
        message.truncate(at);
        message.push('…');
    }
    message
}

/// Longest word that is compared with others: longer than any key or word of ours.
const LONGEST_WORD: usize = 64;

/// The word nearest to what was written, if one is near enough to be meant.
pub fn nearest<'w>(written: &str, words: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    if written.len() > LONGEST_WORD {
        return None;
    }
    let written = written.to_lowercase();
    words
        .into_iter()
        .filter(|word| word.len() <= LONGEST_WORD)
        .map(|word| (strsim::damerau_levenshtein(&written, &word.to_lowercase()), word))
        .filter(|(distance, word)| *distance <= word.chars().count().div_ceil(3))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, word)| word)
}

/// Whether one letter too many, too few, wrong or swapped with the next makes `word` of what was written; short words are never near.
#[must_use]
pub fn one_slip(written: &str, word: &str) -> bool {
    const SHORTEST: usize = 3;
    let is_long_enough = written.chars().count() >= SHORTEST && word.chars().count() > SHORTEST;
    is_long_enough && written.len() <= LONGEST_WORD && strsim::damerau_levenshtein(written, word) == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Source;

    #[test]
    fn the_picture_names_line_column_and_help() {
        let source = Source::inline("heron.toml", "[pickup]\nresistence = \"7 k\"\n");
        let error = Error::at(&source.passage_at(9..19), ErrorKind::Unknown, "unknown key `resistence`")
            .label("not a key of [pickup]")
            .nearest("resistence", ["inductance", "resistance"]);
        let picture = error.picture();
        assert!(picture.contains("heron.toml:2:1"), "{picture}");
        assert!(picture.contains("^^^^^^^^^^ not a key of [pickup]"), "{picture}");
        assert!(picture.contains("did you mean `resistance`?"), "{picture}");
        assert_eq!(error.to_string(), "heron.toml:2:1: unknown key `resistence`");
    }

    #[test]
    fn far_words_are_not_suggested() {
        assert_eq!(nearest("volume", ["tone", "cable"]), None);
        assert_eq!(nearest("blled", ["bleed", "tone"]), Some("bleed"));
    }
}
