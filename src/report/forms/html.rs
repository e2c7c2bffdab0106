//! A document as one HTML file: nothing fetched, no script where nothing moves, well-formed as XML too, so that any reader of XML can check
//! it.

use super::player::player;
use super::shell;
use crate::error::Result;
use crate::report::document::{Block, Document, Figure, Origin, Tabled};
use crate::report::escape::escaped;
use crate::report::json::json_in_page;
use crate::report::plot::plot_svg;
use crate::report::schematic::schematic;
use crate::report::table::{Cell, Table};

pub(super) fn html(document: &Document) -> Result<String> {
    let leaves = document.leaves();
    let sweep = leaves.iter().find_map(|block| match block {
        Block::Sliders(sliders) => Some(&sliders.sweep),
        _ => None,
    });
    let data = sweep.map(json_in_page).transpose()?;
    let moves = |block: &&Block| match block {
        Block::Sliders(_) => true,
        Block::Table(tabled) => tabled.sorts,
        _ => false,
    };
    let moves = leaves.iter().any(moves);
    let mut sections: Vec<String> = vec![String::new()];
    for block in &leaves {
        if let (true, Some(html)) = (begins_section(block), sections.last_mut().filter(|html| !html.is_empty())) {
            html.push_str("</section>");
            sections.push(String::new());
        }
        if let Some(html) = sections.last_mut() {
            let opening = if html.is_empty() { "<section>\n" } else { "" };
            html.push_str(&format!("{opening}{}\n", self::block(block, moves)));
        }
    }
    let body = sections.join("\n") + "</section>";
    Ok(shell::page(&document.title, &body, data.as_deref(), moves))
}

fn begins_section(block: &Block) -> bool {
    matches!(block, Block::Heading(_) | Block::Sliders(_) | Block::Source(_))
}

fn block(block: &Block, moves: bool) -> String {
    match block {
        Block::Heading(text) => element("h2", text),
        Block::Subheading(text) => element("h3", text),
        Block::Paragraph(text) => element("p", text.trim()),
        Block::Answer(text) => format!("<p class=\"answer\">{}</p>", escaped(text)),
        Block::Points(points) => format!("<ul>\n{}\n</ul>", elements("li", points)),
        Block::Steps(steps) => format!("<ol>\n{}\n</ol>", elements("li", steps)),
        Block::Table(tabled) => table(tabled),
        Block::Verbatim(text) => verbatim(text),
        Block::Drawing(drawing) => schematic(&drawing.0, &drawing.1),
        Block::Figure(shown) => figure(shown),
        Block::Sliders(sliders) => player(&sliders.sweep, sliders.heading),
        Block::Source(origin) => source(origin, moves),
        Block::Close(_) | Block::OnPage(_) | Block::OnScreen(_) => String::new(),
    }
}

fn element(name: &str, text: &str) -> String {
    format!("<{name}>{}</{name}>", escaped(text))
}

fn elements(name: &str, texts: &[String]) -> String {
    texts.iter().map(|text| element(name, text)).collect::<Vec<_>>().join("\n")
}

/// Line by line, since a control letter would become a space.
fn verbatim(text: &str) -> String {
    let lines: Vec<String> = text.lines().map(escaped).collect();
    format!("<pre tabindex=\"0\">{}</pre>", lines.join("\n"))
}

/// A picture with a caption, wide enough to be read on a small screen by scrolling.
fn figure(shown: &Figure) -> String {
    format!(
        "<figure>\n<div class=\"plate\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">\n{}</div>\n<figcaption>{}</figcaption>\n</figure>",
        escaped(shown.name),
        // HTML knows the elements of SVG without their namespace.
        plot_svg(&shown.picture).replace(" xmlns=\"http://www.w3.org/2000/svg\"", ""),
        escaped(shown.caption)
    )
}

/// A table; one that sorts has a button in each header and the number behind each cell.
fn table(tabled: &Tabled) -> String {
    let Table { columns, rows } = &tabled.table;
    let header = |title: &str| match tabled.sorts {
        true => format!("<th scope=\"col\" aria-sort=\"none\"><button type=\"button\">{title}</button></th>"),
        false => format!("<th scope=\"col\">{title}</th>"),
    };
    let headers: String = columns.iter().map(|column| header(&escaped(&column.in_full()))).collect();
    let rows: String = rows.iter().map(|row| format!("<tr>{}</tr>\n", cells(row))).collect();
    let caption = escaped(&tabled.caption);
    let (label, caption) = match caption.as_str() {
        "" => (String::new(), String::new()),
        said => (
            format!(" tabindex=\"0\" role=\"group\" aria-label=\"{said}\""),
            format!("<caption>{said}</caption>\n"),
        ),
    };
    let class = if tabled.sorts { " class=\"sorts\"" } else { "" };
    format!(
        "<div class=\"wide\"{label}>\n<table{class}>\n{caption}<thead><tr>{headers}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</div>"
    )
}

/// The first cell says what its row is about.
fn cells(row: &[Cell]) -> String {
    let cell = |(index, cell): (usize, &Cell)| {
        let text = escaped(&cell.for_people());
        let number = match cell {
            Cell::Number { value, .. } | Cell::Quantity { value, .. } => format!(" class=\"number\" data-number=\"{value}\""),
            Cell::Empty(_) => " class=\"number\"".to_owned(),
            Cell::Text(_) => String::new(),
        };
        match index {
            0 => format!("<th scope=\"row\"{number}>{text}</th>"),
            _ => format!("<td{number}>{text}</td>"),
        }
    };
    row.iter().enumerate().map(cell).collect()
}

/// The version, the command and what went in, folded up where a script unfolds it for printing.
fn source(origin: &Origin, folded: bool) -> String {
    let open = if folded { "" } else { " open=\"open\"" };
    let input = |(name, text): &(String, String)| {
        format!(
            "<details{open}>\n<summary>{}</summary>\n{}\n</details>\n",
            escaped(name),
            verbatim(text)
        )
    };
    let inputs: String = origin.inputs.iter().map(input).collect();
    format!(
        "<h2>How to make it again</h2>\n\
         <dl class=\"block\">\n<div><dt>Program</dt><dd>knobwright {}</dd></div>\n<div><dt>Command</dt><dd><code>{}</code></dd></div>\n</dl>\n\
         <p>The same version with the same command and inputs gives the same figures. What went in:</p>\n{inputs}",
        env!("CARGO_PKG_VERSION"),
        escaped(&origin.command)
    )
}
