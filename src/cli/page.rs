//! `--page`: where a page to hand over goes, and what it says about its origin.

use std::ffi::{OsStr, OsString};
use std::path::Path;

use knobwright::inputs::Inputs;
use knobwright::report::{Document, Origin};
use knobwright::source::{Source, shown};
use knobwright::target::Target;
use knobwright::{Error, ErrorKind, Result};

use super::args::PageArgs;
use super::beside::made;
use super::outputs::put;
use super::run::tell;

/// What a guitar's text is called on a page.
const GUITAR: &str = "Guitar";
/// What a stock list's text is called on a page.
const STOCK: &str = "Stock list";

/// A page's file.
pub struct PageFile<'p> {
    path: &'p Path,
}

impl<'p> PageFile<'p> {
    /// Reads where the page goes, before any work is done: a file of the right suffix.
    pub fn read(args: &'p PageArgs) -> Result<Option<Self>> {
        let Some(path) = args.page.as_deref() else { return Ok(None) };
        let source = Source::inline("--page", shown(path));
        let suffix = path.extension().map(|suffix| suffix.to_string_lossy().to_ascii_lowercase());
        if suffix.as_deref() != Some("html") {
            let error = Error::at(&source.passage(), ErrorKind::Unknown, "the page has no form of this suffix");
            return Err(error.label("expected .html"));
        }
        Ok(Some(Self { path }))
    }

    /// Writes a document as the page, whole; where no page can be made of it, standard error says why.
    pub fn write(&self, document: Document, origin: Origin, quiet: bool) -> Result<()> {
        let Some(html) = made("page", document.from_origin(origin).html()) else {
            return Ok(());
        };
        put(self.path, html.as_bytes())?;
        if !quiet {
            tell(&format!("The page is in `{}`.", shown(self.path)));
        }
        Ok(())
    }
}

/// The command as typed and the texts of all that went in: guitar, targets and stock lists, then every other file that was read, those named
/// inside others among them.
pub fn origin(inputs: &Inputs, guitars: &[Option<&OsStr>], targets: &[&Target], stock: &[OsString]) -> Result<Origin> {
    let mut named: Vec<(String, String)> = Vec::new();
    for guitar in guitars {
        let source = inputs.guitar_source(*guitar)?;
        named.push((format!("{GUITAR}: {}", source.name()), source.text().to_owned()));
    }
    named.extend(targets.iter().map(|target| (format!("Target: {}", target.name), target.to_toml())));
    for name in stock {
        let source = inputs.stock_source(name)?;
        named.push((format!("{STOCK}: {}", source.name()), source.text().to_owned()));
    }
    for file in inputs.files() {
        let source = inputs.file(&file.path)?;
        let is_there = |(name, _): &(String, String)| [GUITAR, STOCK].iter().any(|what| *name == format!("{what}: {}", source.name()));
        if !named.iter().any(is_there) {
            let by = file.named_in.map_or_else(String::new, |text| format!(", named in {text}"));
            named.push((format!("File: {}{by}", source.name()), source.text().to_owned()));
        }
    }
    let words = std::env::args_os().skip(1).map(|word| quoted(&word.to_string_lossy()));
    Ok(Origin {
        command: std::iter::once("knobwright".to_owned()).chain(words).collect::<Vec<_>>().join(" "),
        inputs: named,
    })
}

/// A word as a POSIX shell takes it.
pub(super) fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-_./,=:+%".contains(letter);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}
