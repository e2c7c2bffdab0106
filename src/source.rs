//! Where a text came from and which part of it is meant.

use std::fmt;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

mod encoding;
mod files;
mod shown;

pub use files::{Files, LARGEST_FILE_MIB, ReadFile, are_one_file, files_in, is_folder};
pub(crate) use shown::escaped;
pub use shown::{is_printable, printable, printable_lines, shown};

/// A text with the name a user knows it by (a path, or words such as `--search`).
#[derive(Clone)]
pub struct Source {
    name: Arc<str>,
    text: Arc<str>,
    /// Where files named in the text are; none for a text that may name none.
    origin: Option<Arc<Origin>>,
    /// How many lines end before each block of the text, counted when a line is first asked for.
    lines: Arc<OnceLock<Vec<usize>>>,
}

/// Bytes of text between two counts of lines: few counts, and little to count from one of them on.
const BLOCK: usize = 256;

impl PartialEq for Source {
    fn eq(&self, other: &Self) -> bool {
        let same_text = Arc::ptr_eq(&self.text, &other.text) || self.text == other.text;
        self.name == other.name && self.origin == other.origin && same_text
    }
}

impl Eq for Source {}

/// Where the files are that a text may name.
struct Origin {
    folder: PathBuf,
    /// Everything that is named must lie below this folder; none where whoever runs the program named the text itself.
    root: Option<PathBuf>,
    /// What else the same command reads: files named in this one are among them.
    files: Files,
}

impl PartialEq for Origin {
    fn eq(&self, other: &Self) -> bool {
        self.folder == other.folder && self.root == other.root
    }
}

impl Eq for Origin {}

impl fmt::Debug for Source {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "Source({}, {} bytes)", self.name, self.text.len())
    }
}

impl Source {
    /// A text that is already in memory. Files named in it are not opened; see [`Source::within`].
    pub fn inline(name: impl AsRef<str>, text: impl Into<Arc<str>>) -> Self {
        Self {
            name: printable(name.as_ref()).into(),
            text: text.into(),
            origin: None,
            lines: Arc::default(),
        }
    }

    /// The same text, which may name files below a folder: by a relative path without `..`, and by no link that leads out of the folder.
    #[must_use]
    pub fn within(self, folder: &Path) -> Self {
        let origin = Origin {
            folder: folder.to_owned(),
            root: Some(folder.to_owned()),
            files: Files::default(),
        };
        Self {
            origin: Some(Arc::new(origin)),
            ..self
        }
    }

    /// Another text that stands for a part of this one: the same name, and files named in it are seen from the same folder.
    #[must_use]
    pub(crate) fn derived(&self, text: String) -> Self {
        Self {
            text: text.into(),
            lines: Arc::default(),
            ..self.clone()
        }
    }

    /// Reads a file whole.
    ///
    /// # Errors
    /// A sentence fit for a user when the file cannot be read, is larger than [`LARGEST_FILE_MIB`] or is not UTF-8.
    pub fn file(path: &Path) -> Result<Self, String> {
        Files::default().open(path)
    }

    /// The name a user knows the text by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Reads a file that is named inside this text, seen from the folder of the file it was read from. What it says is read once, however
    /// often it is named, and counts among the files that were read for this one.
    ///
    /// # Errors
    /// As [`Source::file`], and when the text may not name the file. What is no ordinary file, such as a pipe, is refused: reading it
    /// could wait for ever.
    pub fn open_beside(&self, path: &str) -> Result<Self, String> {
        match &self.origin {
            Some(origin) => origin.files.open_named(origin, path, self.name.clone()),
            None => Err(format!(
                "`{path}` is not opened: this text is no file, so there is no folder to look in"
            )),
        }
    }

    /// The line of a byte offset, from 1. The first question counts every line, each takes a moment then.
    #[must_use]
    pub fn line(&self, offset: usize) -> usize {
        let bytes = self.text.as_bytes();
        let offset = offset.min(bytes.len());
        let ends = |bytes: &[u8]| bytes.iter().filter(|byte| **byte == b'\n').count();
        let before = self.lines.get_or_init(|| {
            let mut sum = 0;
            let blocks = bytes.chunks(BLOCK).map(|block| {
                sum += ends(block);
                sum
            });
            std::iter::once(0).chain(blocks).collect()
        });
        let block = offset / BLOCK;
        let rest = bytes.get(block * BLOCK..offset).unwrap_or_default();
        before.get(block).copied().unwrap_or(0) + ends(rest) + 1
    }

    /// Line and column of a byte offset, both from 1; columns count characters.
    #[must_use]
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..offset).unwrap_or(&self.text);
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        let column = before.get(line_start..).map_or(0, |text| text.chars().count()) + 1;
        (self.line(before.len()), column)
    }

    /// The whole text as a passage.
    #[must_use]
    pub fn passage(&self) -> Passage<'_> {
        Passage {
            source: self,
            text: &self.text,
            span: 0..self.text.len(),
            exact: true,
        }
    }

    /// A stretch of the text, as a passage. An offset outside the text gives the whole text.
    #[must_use]
    pub fn passage_at(&self, span: Range<usize>) -> Passage<'_> {
        match self.text.get(span.clone()) {
            Some(text) => Passage {
                source: self,
                text,
                span,
                exact: true,
            },
            None => self.passage(),
        }
    }
}

/// A place in a source, kept by an error after the source itself may be gone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The text the place is in.
    pub source: Source,
    /// Byte offsets into the text.
    pub span: Range<usize>,
}

/// A stretch of a source on its way through the readers: what it says and where it stands.
///
/// The text may differ from what is written in the source (a string with escapes); then every part of it is
/// placed at the whole.
#[derive(Debug, Clone)]
pub struct Passage<'a> {
    source: &'a Source,
    text: &'a str,
    span: Range<usize>,
    exact: bool,
}

impl<'a> Passage<'a> {
    /// A text decoded from `span` of the source. `exact` when the text is the one written from `span.start` on.
    #[must_use]
    pub fn decoded(source: &'a Source, text: &'a str, span: Range<usize>) -> Self {
        let exact = source.text().get(span.clone()) == Some(text);
        Self { source, text, span, exact }
    }

    /// What it says.
    #[must_use]
    pub fn text(&self) -> &'a str {
        self.text
    }

    /// The source it stands in.
    #[must_use]
    pub fn source(&self) -> &'a Source {
        self.source
    }

    /// Where it stands, for an error.
    #[must_use]
    pub fn place(&self) -> Place {
        Place {
            source: self.source.clone(),
            span: self.span.clone(),
        }
    }

    /// A part of it, by byte offsets into [`Passage::text`]; the whole when the offsets fit no part.
    #[must_use]
    pub fn part(&self, range: Range<usize>) -> Self {
        match self.text.get(range.clone()) {
            Some(text) => Self {
                source: self.source,
                text,
                span: if self.exact {
                    self.span.start + range.start..self.span.start + range.end
                } else {
                    self.span.clone()
                },
                exact: self.exact,
            },
            None => self.clone(),
        }
    }

    /// Without white space at either end.
    #[must_use]
    pub fn trimmed(&self) -> Self {
        let start = self.text.len() - self.text.trim_start().len();
        self.part(start..start + self.text.trim().len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_characters_from_one() {
        let source = Source::inline("x", "ab\nµcd\n");
        assert_eq!(source.line_column(0), (1, 1));
        assert_eq!(source.line_column(3), (2, 1));
        assert_eq!(source.line_column(5), (2, 2));
        assert_eq!(source.line_column(8), (3, 1));
    }

    #[test]
    fn a_part_keeps_its_place() {
        let source = Source::inline("x", "key = \" 4k7 \"");
        let passage = source.passage_at(7..12).trimmed();
        assert_eq!(passage.text(), "4k7");
        assert_eq!(passage.place().span, 8..11);
        let decoded = Passage::decoded(&source, "10 Ω", 6..13);
        assert_eq!(decoded.part(0..2).place().span, 6..13);
    }
}
