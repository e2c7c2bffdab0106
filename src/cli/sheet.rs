//! `recommend --sheet`: which form a build sheet takes, and where it goes.

use std::ffi::{OsStr, OsString};
use std::path::Path;

use knobwright::circuit::Setting;
use knobwright::recommend::sheet::{Sheet, sheet};
use knobwright::recommend::{Recommendation, Request};
use knobwright::report::{Document, Origin};
use knobwright::shipped::TARGETS;
use knobwright::source::{Source, shown};
use knobwright::units::knob;
use knobwright::{Error, ErrorKind, Result};

use super::args::{GuitarArgs, Recommend};
use super::beside::made;
use super::outputs::put;
use super::page::quoted;
use super::run::tell;

/// What was typed that says which guitar and which wish, to be typed again.
pub struct Typed<'a> {
    /// The guitar and what is fitted in it.
    pub guitar: &'a GuitarArgs,
    /// The target, if one was named.
    pub target: Option<OsString>,
}

impl<'a> Typed<'a> {
    /// As `recommend` was asked.
    pub fn of(args: &'a Recommend) -> Self {
        let wish = (!args.wish.is_empty()).then(|| OsString::from(args.wish.join(" ")));
        Self {
            guitar: &args.guitar,
            target: wish.or_else(|| args.target.clone()),
        }
    }

    /// The sheet of an answer, with the command that verifies what was built from it.
    pub fn sheet(&self, request: &Request, result: &Recommendation) -> Result<Option<Sheet>> {
        let mut sheet = sheet(request, result)?;
        if let Some(sheet) = &mut sheet {
            sheet.verify = Some(self.verify(sheet));
        }
        Ok(sheet)
    }

    fn verify(&self, sheet: &Sheet) -> String {
        let mut words: Vec<String> = ["knobwright", "verify"].map(str::to_owned).to_vec();
        let mut option = |name: &str, value: &str| words.extend([name.to_owned(), quoted(value)]);
        let text = |name: &OsStr| name.to_string_lossy().into_owned();
        let named = self.guitar.guitar.as_deref().map(text);
        let first = sheet.selector.first().map(|[position, _]| position.clone());
        let position = self.guitar.position.clone().filter(|names| !names.contains(',')).or(first);
        for (name, value) in [
            ("--guitar", named),
            ("--knobs", self.guitar.knobs.clone()),
            ("--position", position),
        ] {
            value.iter().for_each(|value| option(name, value));
        }
        let touched = |with: &&String| {
            let mut slots = sheet
                .fit
                .iter()
                .map(|fitting| fitting.slot)
                .chain(sheet.take_out.iter().map(|out| out.slot));
            slots.any(|slot| with.split('=').next().is_some_and(|key| key.trim() == slot.word()))
        };
        self.guitar
            .with
            .iter()
            .filter(|with| !touched(with))
            .for_each(|with| option("--with", with));
        for out in &sheet.take_out {
            if !sheet.fit.iter().any(|fitting| fitting.slot == out.slot) {
                option("--with", &format!("{}=none", out.slot.word()));
            }
        }
        for fitting in &sheet.fit {
            option("--with", &format!("{}={}", fitting.slot.word(), fitting.network));
        }
        sheet.altered.iter().for_each(|changed| option("--changed", &changed.to_string()));
        let knob = |rotation: f64| format!("{}", knob::number(rotation));
        for at in &sheet.positions {
            let name = match (at.volume < 1.0, at.tone < 1.0) {
                (true, _) => format!("volume-{}.csv", knob(at.volume)),
                (false, true) => format!("tone-{}.csv", knob(at.tone)),
                _ => "full.csv".to_owned(),
            };
            option("--measured", &name);
        }
        let list = |of: fn(&Setting) -> f64| sheet.positions.iter().map(|at| knob(of(at))).collect::<Vec<_>>().join(",");
        option("--volume", &list(|at| at.volume));
        if sheet.tone.is_some() {
            option("--tone", &list(|at| at.tone));
        }
        let default = TARGETS.first().map(|target| target.name.to_owned());
        self.target
            .as_deref()
            .map(text)
            .or(default)
            .iter()
            .for_each(|target| option("--target", target));
        words.push("--slope".to_owned());
        words.join(" ")
    }
}

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
    pub fn write(&self, request: &Request, result: &Recommendation, typed: &Typed<'_>, origin: &Origin, quiet: bool) -> Result<()> {
        let Some(sheet) = made("build sheet", typed.sheet(request, result)) else {
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
