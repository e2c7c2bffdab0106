//! One page to hand over: a self-contained HTML file with the question, the answer, curves under sliders, tables that sort, pictures, the
//! build sheet, cautions, and all it takes to run it again.

mod comparison;
mod kit;
mod player;
mod recommendation;
mod shell;
mod sorted;

pub use comparison::comparison_page;
pub use kit::kit_page;
pub use recommendation::recommendation_page;

use super::page::escaped;
use super::plot::plot_svg;
use crate::picture::Picture;

/// Where a page comes from, so that it can be made again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Origin {
    /// The command as typed, quoted for a shell.
    pub command: String,
    /// Texts that went in, each with its name.
    pub inputs: Vec<(String, String)>,
}

/// A section with a heading.
fn section(heading: &str, body: &str) -> String {
    format!("<section>\n<h2>{}</h2>\n{body}\n</section>", escaped(heading))
}

fn paragraph(text: &str) -> String {
    format!("<p>{}</p>", escaped(text))
}

fn paragraphs(texts: &[String]) -> String {
    texts.iter().map(|text| paragraph(text)).collect::<Vec<_>>().join("\n")
}

fn answered(text: &str) -> String {
    format!("<p class=\"answer\">{}</p>", escaped(text))
}

/// A target: its name, what it was read as and its clauses.
fn asked(name: &str, echo: Option<&str>, clauses: &[String]) -> String {
    let clauses: String = clauses.iter().map(|clause| format!("<li>{}</li>\n", escaped(clause))).collect();
    let echo = echo.map_or_else(String::new, |line| format!("{}\n", paragraph(line)));
    format!("{}\n{echo}<ol>\n{clauses}</ol>", paragraph(&format!("Target: {name}")))
}

/// A picture with a caption, wide enough to be read on a small screen by scrolling.
fn figure(picture: &Picture, name: &str, caption: &str) -> String {
    let svg = drawing(&plot_svg(picture));
    format!(
        "<figure>\n<div class=\"plate\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">\n{svg}</div>\n<figcaption>{}</figcaption>\n</figure>",
        escaped(name),
        escaped(caption)
    )
}

/// A drawing inside HTML, which knows the elements of SVG without their namespace.
fn drawing(svg: &str) -> String {
    svg.replace(" xmlns=\"http://www.w3.org/2000/svg\"", "")
}

/// The version, the command and what went in.
fn origin_section(origin: &Origin) -> String {
    let inputs: String = origin
        .inputs
        .iter()
        .map(|(name, text)| {
            let text: Vec<String> = text.lines().map(escaped).collect();
            format!(
                "<details>\n<summary>{}</summary>\n<pre tabindex=\"0\">{}</pre>\n</details>\n",
                escaped(name),
                text.join("\n")
            )
        })
        .collect();
    let body = format!(
        "<p>Every figure comes from a linear circuit model of the guitar, solved exactly at each frequency: pickup, controls, cable and \
         input, with the values below. It does not know the strings, the amplifier or the room: your ears decide.</p>\n\
         <dl class=\"block\">\n<div><dt>Program</dt><dd>knobwright {}</dd></div>\n<div><dt>Command</dt><dd><code>{}</code></dd></div>\n</dl>\n\
         <p>The same version with the same command and inputs gives the same figures. What went in:</p>\n{inputs}",
        env!("CARGO_PKG_VERSION"),
        escaped(&origin.command)
    );
    section("How it was computed", &body)
}
