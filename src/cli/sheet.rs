//! `recommend --sheet`: which form a build sheet takes, and where it goes.

use std::path::Path;

use knobwright::recommend::{Recommendation, Request, sheet::sheet};
use knobwright::report::{sheet_html, sheet_markdown, write_whole};
use knobwright::source::Source;
use knobwright::{Error, ErrorKind, Result};

use super::run::tell;

/// A build sheet's file, its form told by its suffix.
pub struct SheetFile<'p> {
    path: &'p Path,
    form: fn(&knobwright::recommend::sheet::Sheet, &Recommendation) -> String,
}

impl<'p> SheetFile<'p> {
    /// Refuses any suffix but the two, and the file that the result goes to.
    pub fn new(path: &'p Path, output: Option<&Path>) -> Result<Self> {
        let written = path.display().to_string();
        let source = Source::inline("--sheet", written.as_str());
        let suffix = path.extension().map(|suffix| suffix.to_string_lossy().to_ascii_lowercase());
        let form = match suffix.as_deref() {
            Some("md") => sheet_markdown,
            Some("html") => sheet_html,
            _ => {
                let error = Error::at(&source.passage(), ErrorKind::Unknown, "the build sheet has no form of this suffix");
                return Err(error
                    .label("expected .md or .html")
                    .help("a name that ends in .md is written as Markdown, one in .html as HTML"));
            }
        };
        if output == Some(path) {
            let error = Error::at(&source.passage(), ErrorKind::Conflict, "--sheet and --output name the same file");
            return Err(error.label("the result goes here"));
        }
        Ok(Self { path, form })
    }

    /// Writes the sheet of an answer; where there is no build there is nothing to write.
    pub fn write(&self, request: &Request, result: &Recommendation, quiet: bool) -> Result<()> {
        let told = match sheet(request, result)? {
            Some(sheet) => {
                write_whole(self.path, (self.form)(&sheet, result).as_bytes())?;
                format!("The build sheet is in `{}`.", self.path.display())
            }
            None => "No build sheet was written: there is no build.".to_owned(),
        };
        if !quiet {
            tell(&told);
        }
        Ok(())
    }
}
