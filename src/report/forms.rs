//! The forms of a document: text for a screen, Markdown, and one HTML file that needs nothing else. What it says is decided elsewhere, once
//! for all of them.

mod html;
mod markdown;
mod player;
mod shell;
mod text;

use super::document::Document;
use crate::error::Result;

impl Document {
    /// As text of the given width. Headings, drawings and all that needs a page are left out.
    #[must_use]
    pub fn text(&self, width: usize) -> String {
        text::text(self, width)
    }

    /// As Markdown (CommonMark with tables).
    #[must_use]
    pub fn markdown(&self) -> String {
        markdown::markdown(self)
    }

    /// As one HTML file that needs nothing else and lets nothing in.
    ///
    /// # Errors
    /// None in practice: every result has a JSON form.
    pub fn html(&self) -> Result<String> {
        html::html(self)
    }
}
