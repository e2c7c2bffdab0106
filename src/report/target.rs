//! What a phrase or a target file asks, in words and as the file it stands for.

use super::document::{Block, Document};
use crate::target::Target;

impl Target {
    /// What is asked, as a document.
    #[must_use]
    pub fn document(&self) -> Document {
        let mut blocks = vec![Block::Answer(self.name.clone())];
        blocks.extend(self.echo().map(Block::Paragraph));
        blocks.push(Block::Steps(self.in_words()));
        blocks.extend([Block::heading("The same as a target file"), Block::Verbatim(self.to_toml())]);
        Document::new("What is asked", blocks)
    }
}
