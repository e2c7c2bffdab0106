//! A page as CommonMark with tables. Whatever a name contains, it stays text.

use super::{Block, Page, lettered};

pub(super) fn markdown(page: &Page) -> String {
    let mut blocks = vec![format!("# {}", escaped(&page.title))];
    blocks.extend(page.blocks.iter().map(block));
    blocks.join("\n\n") + "\n"
}

fn block(block: &Block) -> String {
    match block {
        Block::Heading(text) => format!("## {}", escaped(text)),
        Block::Subheading(text) => format!("### {}", escaped(text)),
        Block::Paragraph(text) => escaped(text),
        Block::Answer(text) => format!("**{}**", escaped(text)),
        Block::Points(points) => listed(points, |_| "-".to_owned()),
        Block::Steps(steps) => listed(steps, |index| format!("{}.", index + 1)),
        Block::Rows { titles, rows } => table(titles, rows),
        Block::Verbatim(text) => {
            let fence = fence(text);
            format!("{fence}text\n{}\n{fence}", text.trim_end_matches('\n'))
        }
        Block::Drawing(drawing) => format!("```text\n{}\n```", lettered(drawing)),
    }
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

fn table(titles: &[String], rows: &[Vec<String>]) -> String {
    let line = |cells: &[String]| {
        let cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
        format!("| {} |", cells.join(" | "))
    };
    let mut lines = vec![line(titles), format!("|{}", " --- |".repeat(titles.len()))];
    lines.extend(rows.iter().map(|row| line(row)));
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
