//! A network drawn in letters, for where no picture can be shown: `[ ]` is a resistor, `┤ ├` a capacitor, `( )` an inductor.

use super::{Labels, Terminal};
use crate::parts::network::{Component, Network};

/// Lines of one width, one of which the wire enters and leaves on.
struct Block {
    lines: Vec<String>,
    axis: usize,
}

/// The network as lines of text.
#[must_use]
pub fn schematic_text(network: &Network, labels: &Labels) -> String {
    let drawn = block(network, &mut labels.parts.iter().map(String::as_str));
    let [start, end] = labels.ends.each_ref().map(named);
    let (before, after) = (format!("{start} o──"), format!("──o {end}"));
    let blank = " ".repeat(before.chars().count());
    let line = |(index, line): (usize, &String)| {
        if index == drawn.axis {
            format!("{before}{line}{after}")
        } else {
            format!("{blank}{line}").trim_end().to_owned()
        }
    };
    drawn.lines.iter().enumerate().map(line).collect::<Vec<_>>().join("\n")
}

fn named(terminal: &Terminal) -> String {
    terminal.lines.join(" ")
}

fn block<'l>(network: &Network, texts: &mut impl Iterator<Item = &'l str>) -> Block {
    match network {
        Network::Fixed(component) => {
            let text = texts.next().unwrap_or_default();
            let (open, close) = match component {
                Component::Resistor(_) => ('[', ']'),
                Component::Capacitor(_) => ('┤', '├'),
                Component::Inductor(_) => ('(', ')'),
            };
            Block {
                lines: vec![format!("─{open} {text} {close}─")],
                axis: 0,
            }
        }
        Network::Free(part) => Block {
            lines: vec![format!("─ {} ─", part.name)],
            axis: 0,
        },
        Network::Series(members) => {
            let blocks = members.iter().map(|member| block(member, texts)).collect();
            in_a_row(blocks)
        }
        Network::Parallel(members) => side_by_side(members.iter().map(|member| block(member, texts)).collect()),
    }
}

fn width(block: &Block) -> usize {
    block.lines.iter().map(|line| line.chars().count()).max().unwrap_or_default()
}

fn in_a_row(blocks: Vec<Block>) -> Block {
    let above = blocks.iter().map(|block| block.axis).max().unwrap_or_default();
    let below = blocks.iter().map(|block| block.lines.len() - block.axis).max().unwrap_or_default();
    let mut lines = vec![String::new(); above + below];
    for block in &blocks {
        let blank = " ".repeat(width(block));
        for (index, line) in lines.iter_mut().enumerate() {
            let own = (index + block.axis).checked_sub(above).and_then(|index| block.lines.get(index));
            line.push_str(own.unwrap_or(&blank));
        }
    }
    Block { lines, axis: above }
}

fn side_by_side(blocks: Vec<Block>) -> Block {
    let widest = blocks.iter().map(width).max().unwrap_or_default();
    let (first, count) = (blocks.first().map_or(0, |block| block.axis), blocks.len());
    let mut lines = Vec::new();
    for (number, block) in blocks.iter().enumerate() {
        for (index, line) in block.lines.iter().enumerate() {
            let missing = widest - width(block);
            let (fill, left, right) = match index.cmp(&block.axis) {
                std::cmp::Ordering::Equal if number == 0 => ("─", "─┬", "┬─"),
                std::cmp::Ordering::Equal if number + 1 == count => ("─", " └", "┘ "),
                std::cmp::Ordering::Equal => ("─", " ├", "┤ "),
                std::cmp::Ordering::Less if number == 0 => (" ", "  ", "  "),
                std::cmp::Ordering::Greater if number + 1 == count => (" ", "  ", "  "),
                _ => (" ", " │", "│ "),
            };
            let before = missing / 2;
            lines.push(format!(
                "{left}{}{line}{}{right}",
                fill.repeat(before),
                fill.repeat(missing - before)
            ));
        }
    }
    Block { lines, axis: first }
}
