//! A document as text for a screen.

use crate::report::document::{Block, Document, Tabled};
use crate::report::words::wrapped;

pub(super) fn text(document: &Document, width: usize) -> String {
    let blocks: Vec<String> = document.blocks.iter().filter_map(|next| block(next, width, 0)).collect();
    blocks.join("\n\n") + "\n"
}

/// A block without an empty line at its end; nothing where the screen shows nothing of it.
fn block(block: &Block, width: usize, hanging: usize) -> Option<String> {
    let text = match block {
        Block::Answer(text) | Block::Paragraph(text) => wrapped(text, width, hanging),
        Block::Points(points) => listed(points, width, |_| "-".to_owned()),
        Block::Steps(steps) => listed(steps, width, |index| format!("  {}.", index + 1)),
        Block::Table(tabled) => table(tabled, width),
        Block::Verbatim(text) => text.clone(),
        Block::Close(blocks) | Block::OnScreen(blocks) => close(blocks, width),
        Block::Heading(_)
        | Block::Subheading(_)
        | Block::Drawing(_)
        | Block::Figure(_)
        | Block::Sliders(_)
        | Block::Source(_)
        | Block::OnPage(_) => return None,
    };
    let text = text.trim_end();
    (!text.is_empty()).then(|| text.to_owned())
}

fn close(blocks: &[Block], width: usize) -> String {
    let lines: Vec<String> = blocks.iter().filter_map(|next| block(next, width, 2)).collect();
    lines.join("\n")
}

fn listed(items: &[String], width: usize, mark: impl Fn(usize) -> String) -> String {
    let item = |(index, item): (usize, &String)| wrapped(&format!("{} {item}", mark(index)), width, 2);
    items.iter().enumerate().map(item).collect::<Vec<_>>().join("\n")
}

fn table(tabled: &Tabled, width: usize) -> String {
    let text = tabled.table.text_within(width);
    match &tabled.label {
        Some(label) => format!("{label}\n{text}"),
        None => text,
    }
}
