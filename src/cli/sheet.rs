//! `recommend --sheet`: which form a build sheet takes, and where it goes.

use std::path::Path;

use knobwright::recommend::{Recommendation, Request, sheet::sheet};
use knobwright::report::{Document, Origin};
use knobwright::source::{Source, shown};
use knobwright::{Error, ErrorKind, Result};

use super::beside::made;
use super::outputs::put;
use super::run::tell;

/// A build sheet's file, its form told by its suffix.
pub struct SheetFile<'p> {
    path: &'p Path,
    form: fn(&Document) -> Result<String>,
}

impl<'p> SheetFile<'p> {
    /// Refuses any suffix but the two.
    pub fn new(path: &'p Path) -> Result<Self> {
        let source = Source::inline("--sheet", shown(path));
        let suffix = path.extension().map(|suffix| suffix.to_string_lossy().to_ascii_lowercase());
        let form: fn(&Document) -> Result<String> = match suffix.as_deref() {
            Some("md") => |document: &Document| Ok(document.markdown()),
            Some("html") => Document::html,
            _ => {
                let error = Error::at(&source.passage(), ErrorKind::Unknown, "the build sheet has no form of this suffix");
                return Err(error
                    .label("expected .md or .html")
                    .help("a name that ends in .md is written as Markdown, one in .html as HTML"));
            }
        };
        Ok(Self { path, form })
    }

    /// Writes the sheet of an answer; where the guitar is left as it is there is nothing to write.
    pub fn write(&self, request: &Request, result: &Recommendation, origin: &Origin, quiet: bool) -> Result<()> {
        let Some(sheet) = made("build sheet", sheet(request, result)) else {
            return Ok(());
        };
        let told = match sheet {
            Some(sheet) => {
                let document = sheet.document(result).from_origin(origin.clone());
                put(self.path, (self.form)(&document)?.as_bytes())?;
                format!("The build sheet is in `{}`.", shown(self.path))
            }
            None => "No build sheet was written: there is nothing to build.".to_owned(),
        };
        if !quiet {
            tell(&told);
        }
        Ok(())
    }
}
