//! A page of prose, tables and drawings, written as Markdown or as HTML. What it says is decided elsewhere, once for both.

mod html;
mod markdown;

use super::schematic::{Labels, schematic, text::schematic_text};
use crate::parts::network::Network;

pub(super) use html::escaped;

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Its title.
    pub title: String,
    /// What stands on it, in order.
    pub blocks: Vec<Block>,
}

/// A piece of a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// The head of a section.
    Heading(String),
    /// The head of a part of a section.
    Subheading(String),
    /// A paragraph.
    Paragraph(String),
    /// The one paragraph that answers the question.
    Answer(String),
    /// Points in no order.
    Points(Vec<String>),
    /// Steps in their order.
    Steps(Vec<String>),
    /// Titles and rows.
    Rows {
        /// One a column.
        titles: Vec<String>,
        /// Each as long as the titles.
        rows: Vec<Vec<String>>,
    },
    /// A text as it is, to be copied.
    Verbatim(String),
    /// A network as a circuit.
    Drawing(Box<(Network, Labels)>),
}

impl Page {
    /// As Markdown (CommonMark with tables).
    #[must_use]
    pub fn markdown(&self) -> String {
        markdown::markdown(self)
    }

    /// As one HTML file that needs nothing else and lets nothing in.
    #[must_use]
    pub fn html(&self) -> String {
        html::html(self)
    }
}

/// Blocks as HTML, without a page around them.
pub(super) fn blocks_html(blocks: &[Block]) -> String {
    html::blocks(blocks)
}

fn drawn(drawing: &(Network, Labels)) -> String {
    schematic(&drawing.0, &drawing.1)
}

fn lettered(drawing: &(Network, Labels)) -> String {
    schematic_text(&drawing.0, &drawing.1)
}
