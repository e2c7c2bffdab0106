//! A page as one HTML file: no script, nothing fetched, well-formed as XML too, so that any reader of XML can check it.

use super::{Block, Page, drawn};

/// The only style there is; [`POLICY`] names it by its digest.
const STYLE: &str = "
:root { color-scheme: light dark; --line: #8a8a8a; --soft: #f1f1ee; --back: #fff; --ink: #161616; }
@media (prefers-color-scheme: dark) { :root { --line: #7d7d7d; --soft: #262624; --back: #161616; --ink: #ececec; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1.2rem 1rem 3rem; max-width: 46rem; background: var(--back); color: var(--ink);
  font: 1rem/1.5 system-ui, sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.5rem; line-height: 1.25; margin: 0 0 1rem; }
h2 { font-size: 1.15rem; margin: 2rem 0 .5rem; padding-bottom: .2rem; border-bottom: 1px solid var(--line); }
h3 { font-size: 1rem; margin: 1.3rem 0 .3rem; }
p, ul, ol { margin: .5rem 0; }
li { margin: .25rem 0; }
.answer { padding: .8rem 1rem; border-left: .3rem solid var(--ink); background: var(--soft); font-size: 1.1rem; }
.wide { overflow-x: auto; margin: .6rem 0; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
th, td { padding: .3rem .7rem .3rem 0; border-bottom: 1px solid var(--line); text-align: left; vertical-align: top; }
th { font-weight: 600; }
svg { display: block; max-width: 100%; height: auto; margin: .6rem 0; }
@media print {
  :root { color-scheme: light; --line: #777; --soft: #fff; --back: #fff; --ink: #000; }
  body { max-width: none; padding: 0; font-size: 10.5pt; }
  h2, h3 { break-after: avoid; }
  svg, tr, .answer { break-inside: avoid; }
  .wide { overflow: visible; }
}
";

/// What the page may do: show its own style, and nothing else.
const POLICY: &str =
    "default-src 'none'; style-src 'sha256-2jcoDFZ6tOflk2PrdDxfKJpAo98roRCPYYFatDkO0G4='; base-uri 'none'; form-action 'none'";

pub(super) fn html(page: &Page) -> String {
    let title = escaped(&page.title);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en-GB\" xmlns=\"http://www.w3.org/1999/xhtml\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n{}\n</main>\n</body>\n</html>\n",
        blocks(&page.blocks)
    )
}

/// Blocks one after the other.
pub(in crate::report) fn blocks(blocks: &[Block]) -> String {
    let blocks: Vec<String> = blocks.iter().map(block).collect();
    blocks.join("\n")
}

fn block(block: &Block) -> String {
    match block {
        Block::Heading(text) => element("h2", text),
        Block::Subheading(text) => element("h3", text),
        Block::Paragraph(text) => element("p", text),
        Block::Answer(text) => format!("<p class=\"answer\">{}</p>", escaped(text)),
        Block::Points(points) => format!("<ul>\n{}\n</ul>", elements("li", points)),
        Block::Steps(steps) => format!("<ol>\n{}\n</ol>", elements("li", steps)),
        Block::Rows { titles, rows } => {
            let rows: Vec<String> = rows.iter().map(|row| format!("<tr>{}</tr>", cells(row))).collect();
            let titles: String = titles
                .iter()
                .map(|title| format!("<th scope=\"col\">{}</th>", escaped(title)))
                .collect();
            format!(
                "<div class=\"wide\"><table>\n<thead><tr>{titles}</tr></thead>\n<tbody>\n{}\n</tbody>\n</table></div>",
                rows.join("\n")
            )
        }
        Block::Verbatim(text) => {
            let lines: Vec<String> = text.lines().map(escaped).collect();
            format!("<pre tabindex=\"0\">{}</pre>", lines.join("\n"))
        }
        Block::Drawing(drawing) => drawn(drawing),
    }
}

fn element(name: &str, text: &str) -> String {
    format!("<{name}>{}</{name}>", escaped(text))
}

fn elements(name: &str, texts: &[String]) -> String {
    texts.iter().map(|text| element(name, text)).collect::<Vec<_>>().join("\n")
}

/// The cells of a row, the first of which says what the row is about.
fn cells(row: &[String]) -> String {
    let cell = |(index, text): (usize, &String)| match index {
        0 => format!("<th scope=\"row\">{}</th>", escaped(text)),
        _ => element("td", text),
    };
    row.iter().enumerate().map(cell).collect()
}

/// Text in which nothing is markup, inside elements and inside quoted attributes; letters that XML forbids become spaces.
pub(in crate::report) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            control if control.is_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}
