//! A document as CommonMark with tables. Whatever a name contains, it stays text.

use crate::report::document::{Block, Document, Origin};
use crate::report::schematic::text::schematic_text;
use crate::report::table::{Cell, Table};

pub(super) fn markdown(document: &Document) -> String {
    let mut blocks = vec![format!("# {}", escaped(&document.title))];
    blocks.extend(document.leaves().into_iter().filter_map(block));
    blocks.join("\n\n") + "\n"
}

fn block(block: &Block) -> Option<String> {
    Some(match block {
        Block::Heading(text) => format!("## {}", escaped(text)),
        Block::Subheading(text) => format!("### {}", escaped(text)),
        Block::Paragraph(text) => escaped(text),
        Block::Answer(text) => format!("**{}**", escaped(text)),
        Block::Points(points) => listed(points, |_| "-".to_owned()),
        Block::Steps(steps) => listed(steps, |index| format!("{}.", index + 1)),
        Block::Table(tabled) => table(&tabled.table),
        Block::Verbatim(text) => verbatim(text),
        Block::Drawing(drawing) => format!("```text\n{}\n```", schematic_text(&drawing.0, &drawing.1)),
        Block::Source(origin) => source(origin),
        Block::Figure(_) | Block::Sliders(_) | Block::Close(_) | Block::OnPage(_) | Block::OnScreen(_) => return None,
    })
}

/// The version, the command and what went in.
fn source(origin: &Origin) -> String {
    let version = env!("CARGO_PKG_VERSION");
    let mut blocks = vec![
        "## How to make it again".to_owned(),
        escaped(&format!(
            "knobwright {version} gives the same figures for the same command and files."
        )),
        verbatim(&origin.command),
    ];
    for (name, text) in &origin.inputs {
        blocks.extend([format!("### {}", escaped(name)), verbatim(text)]);
    }
    blocks.join("\n\n")
}

fn verbatim(text: &str) -> String {
    let fence = fence(text);
    format!("{fence}text\n{}\n{fence}", text.trim_end_matches('\n'))
}

/// More backticks in a row than stand anywhere in the text.
fn fence(text: &str) -> String {
    let longest = text.split(|letter| letter != '`').map(str::len).max().unwrap_or(0);
    "`".repeat(longest.max(2) + 1)
}

fn listed(items: &[String], mark: impl Fn(usize) -> String) -> String {
    let item = |(index, item): (usize, &String)| format!("{} {}", mark(index), escaped(item));
    items.iter().enumerate().map(item).collect::<Vec<_>>().join("\n")
}

fn table(table: &Table) -> String {
    let line = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    let titles = table.columns.iter().map(|column| escaped(&column.in_full())).collect();
    let mut lines = vec![line(titles), format!("|{}", " --- |".repeat(table.columns.len()))];
    let row = |row: &Vec<Cell>| line(row.iter().map(|cell| escaped(&cell.for_people())).collect());
    lines.extend(table.rows.iter().map(row));
    lines.join("\n")
}

/// Text in which nothing is markup: marks of emphasis, code, links, tables and HTML are escaped, line breaks become spaces, and what a
/// reader might turn into a link by itself is broken up.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.split_whitespace().collect::<Vec<_>>().join(" ").chars() {
        match letter {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '#' | '&' | '~' | '@' | '$' | '^' | '{' | '}' => {
                out.push('\\');
                out.push(letter);
            }
            control if control.is_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out.replace("://", "\\://").replace("www.", "www\\.")
}
