//! What a result says, in order, as plain data: each result has one `document`, and the writers in `forms/` make text, Markdown or HTML of
//! any of them.

use super::schematic::Labels;
use super::table::{Cell, Column, Table};
use super::words::CAUTIONS;
use crate::parts::network::Network;
use crate::picture::{Picture, Sweep};
use crate::recommend::sheet::Sheet;

/// A result, ready to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// Its title, which the screen leaves out.
    pub title: String,
    /// What stands in it, in order.
    pub blocks: Vec<Block>,
}

/// A piece of a document.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// The one paragraph that answers the question.
    Answer(String),
    /// The head of a section; the screen leaves it out.
    Heading(String),
    /// The head of a part of a section, likewise.
    Subheading(String),
    /// A paragraph.
    Paragraph(String),
    /// Points in no order.
    Points(Vec<String>),
    /// Steps in their order.
    Steps(Vec<String>),
    /// Rows and columns.
    Table(Box<Tabled>),
    /// A text as it is, to be copied.
    Verbatim(String),
    /// A network as a circuit.
    Drawing(Box<(Network, Labels)>),
    /// A picture; the screen and Markdown leave it out.
    Figure(Box<Figure>),
    /// Curves under sliders, for a browser alone.
    Sliders(Box<Sliders>),
    /// All it takes to make the document again; the screen leaves it out.
    Source(Origin),
    /// Blocks between which the screen has no empty line, and whose paragraphs hang by two columns there.
    Close(Vec<Block>),
    /// What the screen leaves out.
    OnPage(Vec<Block>),
    /// What the screen alone shows.
    OnScreen(Vec<Block>),
}

/// A table and what is written over it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tabled {
    /// What a page writes over it.
    pub caption: String,
    /// What the screen writes over it, if anything.
    pub label: Option<String>,
    /// Whether a reader may sort it in a browser.
    pub sorts: bool,
    /// The table.
    pub table: Table,
}

/// A picture with its caption.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The picture.
    pub picture: Picture,
    /// Its name, for those who cannot see it.
    pub name: &'static str,
    /// What to see in it.
    pub caption: &'static str,
}

/// Curves under sliders.
#[derive(Debug, Clone, PartialEq)]
pub struct Sliders {
    /// The head of their section.
    pub heading: &'static str,
    /// The builds at any knob position.
    pub sweep: Sweep,
}

/// Where a document comes from, so that it can be made again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Origin {
    /// The command as typed, quoted for a shell.
    pub command: String,
    /// Texts that went in, each with its name.
    pub inputs: Vec<(String, String)>,
}

/// What a page shows besides the words and figures of a result.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shown {
    /// Builds at any knob position.
    pub sweep: Option<Sweep>,
    /// Pictures.
    pub pictures: Vec<Picture>,
    /// How to build the answer.
    pub sheet: Option<Sheet>,
}

impl Document {
    /// A document with nothing in it yet.
    pub(super) fn new(title: impl Into<String>, blocks: Vec<Block>) -> Self {
        Self {
            title: title.into(),
            blocks,
        }
    }

    /// The same with all it takes to make it again.
    #[must_use]
    pub fn from_origin(mut self, origin: Origin) -> Self {
        self.blocks.push(Block::Source(origin));
        self
    }

    /// All blocks that a page shows, those inside others in their places.
    pub(super) fn leaves(&self) -> Vec<&Block> {
        fn leaves<'b>(blocks: &'b [Block], into: &mut Vec<&'b Block>) {
            for block in blocks {
                match block {
                    Block::Close(inner) | Block::OnPage(inner) => leaves(inner, into),
                    Block::OnScreen(_) => {}
                    block => into.push(block),
                }
            }
        }
        let mut found = Vec::new();
        leaves(&self.blocks, &mut found);
        found
    }
}

impl Block {
    /// A paragraph.
    pub(super) fn paragraph(text: impl Into<String>) -> Self {
        Self::Paragraph(text.into())
    }

    /// The head of a section.
    pub(super) fn heading(text: impl Into<String>) -> Self {
        Self::Heading(text.into())
    }

    /// Paragraphs close together.
    pub(super) fn lines(lines: Vec<String>) -> Self {
        Self::Close(lines.into_iter().map(Self::Paragraph).collect())
    }

    /// The head of a part of a section.
    pub(super) fn subheading(text: impl Into<String>) -> Self {
        Self::Subheading(text.into())
    }

    /// A table whose caption is for pages alone.
    pub(super) fn table(caption: impl Into<String>, table: Table) -> Self {
        Self::tabled(caption.into(), None, table)
    }

    /// A table under the same words everywhere, those of the screen with a mark at their end.
    pub(super) fn captioned(caption: impl Into<String>, mark: &str, table: Table) -> Self {
        let caption = caption.into();
        let label = format!("{caption}{mark}");
        Self::tabled(caption, Some(label), table)
    }

    /// A table under words for the screen and a caption for a page.
    pub(super) fn labelled(label: &str, caption: &str, table: Table) -> Self {
        Self::tabled(caption.to_owned(), Some(label.to_owned()), table)
    }

    fn tabled(caption: String, label: Option<String>, table: Table) -> Self {
        Self::Table(Box::new(Tabled {
            caption,
            label,
            sorts: table.rows.len() > 2,
            table,
        }))
    }

    /// A table of words that keeps its order.
    pub(super) fn rows(caption: &str, titles: &[String], rows: Vec<Vec<String>>) -> Self {
        let table = Table {
            columns: titles.iter().map(|title| Column::new(title, title)).collect(),
            rows: rows.into_iter().map(|row| row.into_iter().map(Cell::Text).collect()).collect(),
        };
        Self::Table(Box::new(Tabled {
            caption: caption.to_owned(),
            label: None,
            sorts: false,
            table,
        }))
    }

    /// Curves under sliders, where there are any.
    pub(super) fn sliders(heading: &'static str, shown: &Shown) -> Option<Self> {
        let sweep = shown.sweep.clone()?;
        Some(Self::Sliders(Box::new(Sliders { heading, sweep })))
    }

    /// The usual cautions, on a page.
    pub(super) fn cautions() -> Self {
        Self::OnPage(vec![Self::heading("Before you solder"), Self::paragraph(CAUTIONS)])
    }

    /// What stands behind the figures, on a page.
    pub(super) fn modelled() -> Self {
        let model = "Every figure comes from a linear circuit model of the guitar, solved exactly at each frequency: pickup, controls, cable and \
                     input, with the values below. It does not know the strings, the amplifier or the room: your ears decide.";
        Self::OnPage(vec![Self::heading("How it was computed"), Self::paragraph(model)])
    }

    /// A picture with its caption.
    pub(super) fn figure(picture: &Picture, name: &'static str, caption: &'static str) -> Self {
        Self::Figure(Box::new(Figure {
            picture: picture.clone(),
            name,
            caption,
        }))
    }
}
