//! `guide`: the chapters of the guide, one at a time.

use knobwright::shipped::{GUIDE, ShippedFile};
use knobwright::source::Source;
use knobwright::{Error, ErrorKind, Result};

use super::args::Guide;
use super::outputs::deliver;
use super::run::Outcome;

/// Prints a chapter, or what chapters there are.
pub fn run(args: &Guide) -> Result<Outcome> {
    let text = match &args.chapter {
        None => contents(),
        Some(name) => chapter(name)?.text.to_owned(),
    };
    deliver(&text, args.output.as_deref())?;
    Ok(Outcome::Done)
}

fn chapter(name: &str) -> Result<ShippedFile> {
    let found = GUIDE.iter().find(|chapter| chapter.name == name);
    found.copied().ok_or_else(|| {
        let names = || GUIDE.iter().map(|chapter| chapter.name);
        let source = Source::inline("CHAPTER", name);
        Error::at(&source.passage(), ErrorKind::Unknown, format!("the guide has no chapter `{name}`"))
            .label("expected the name of a chapter")
            .nearest(name, names())
            .help(format!("chapters: {}", names().collect::<Vec<_>>().join(", ")))
    })
}

fn contents() -> String {
    let longest = GUIDE.iter().map(|chapter| chapter.name.len()).max().unwrap_or(0);
    let line = |chapter: &ShippedFile| format!("  {:longest$}  {}\n", chapter.name, title(chapter));
    let chapters: String = GUIDE.iter().map(line).collect();
    format!("Chapters of the guide:\n{chapters}\nOne of them: knobwright guide wiring\n")
}

/// Its first line, without the mark of a heading.
fn title(chapter: &ShippedFile) -> &'static str {
    chapter.text.lines().next().map_or("", |line| line.trim_start_matches("# "))
}
