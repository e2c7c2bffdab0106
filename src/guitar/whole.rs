//! Guitar files of several pickups → the guitar as seen from each of its volume and tone knobs.
//!
//! A view is a plain [`Guitar`]: one volume knob and one tone knob that are turned, the pickup they belong to or share, and everything
//! else as it stands beside ([`super::ensemble`]). The positions of the selector are its cases, so that whatever is asked of a guitar is
//! asked in each of them. A pickup's own volume knob is judged where no other pickup with a volume knob of its own sounds: what these do
//! to each other no part at one of them can cure.

use super::ensemble::Lugs;
use super::knob::Names;
use super::several::read_tables;
use super::{Case, Guitar};
use crate::document::{Document, Mistakes};
use crate::error::{Error, ErrorKind, Result};
use crate::source::{Passage, Source};

/// A guitar as each of its knobs sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// What its owner calls it.
    pub name: String,
    /// At least one; only one where the guitar has one volume knob and at most one tone knob.
    pub views: Vec<View>,
    /// The positions of the selector, in the order of the file; none for a guitar of one pickup.
    pub positions: Vec<String>,
}

/// The guitar as one volume knob and one tone knob see it.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// Whose knobs are turned: a pickup's name for its own, `volume` for those behind the selector, else the name of the tone knob.
    pub name: String,
    /// The guitar in the positions where these knobs are judged, each in every case of the file.
    pub guitar: Guitar,
    /// The positions where these knobs are judged.
    pub judged: Vec<Case>,
    /// The further positions in which they do something: others' volume knobs sound with them there.
    pub elsewhere: Vec<Case>,
    /// The cases of the file.
    pub cases: Vec<Case>,
    /// Whether its volume knob is another view's too, so that only its tone knob is its own.
    pub is_of_a_tone: bool,
    /// How a volume control of a pickup's own is wired.
    pub lugs: Option<Lugs>,
}

impl Guitar {
    /// Reads a guitar file; files named inside it are read from its folder.
    ///
    /// # Errors
    /// All mistakes in one, in the order of their places. A guitar of several volume or tone knobs is for [`Whole::read`].
    pub fn read(source: &Source) -> Result<Self> {
        Whole::read(source)?.only()
    }
}

/// The tables that a guitar of one pickup, one volume and one tone control has no use for.
const TABLES_OF_SEVERAL: [&str; 6] = ["pickups", "selector", "tones", "bass_cut", "blend", "tone_choice"];

impl Whole {
    /// Reads a guitar file of one pickup or several.
    ///
    /// # Errors
    /// All mistakes in one, in the order of their places.
    pub fn read(source: &Source) -> Result<Self> {
        let document = Document::parse(source)?;
        let root = document.root("the guitar file");
        let is_of_several = TABLES_OF_SEVERAL.into_iter().any(|key| root.get(key).is_some());
        if !is_of_several {
            return Guitar::read_single(&document, source).map(Self::plain);
        }
        let mut mistakes = Mistakes::default();
        let read = read_tables(&root, source, &mut mistakes);
        match (read, Error::all(mistakes.0)) {
            (Some(file), None) => Ok(file.whole()),
            (_, Some(error)) => Err(error),
            // What is not read has its mistake.
            (None, None) => Err(Error::new(ErrorKind::Syntax, format!("`{}` is no guitar file", source.name()))),
        }
    }

    fn plain(guitar: Guitar) -> Self {
        Self {
            name: guitar.name.clone(),
            views: vec![View {
                name: String::new(),
                judged: Vec::new(),
                elsewhere: Vec::new(),
                cases: guitar.cases.clone(),
                is_of_a_tone: false,
                lugs: None,
                guitar,
            }],
            positions: Vec::new(),
        }
    }

    /// The view of some knobs; the only one where none are named.
    ///
    /// # Errors
    /// Where there is none of that name, or there are several and none is named.
    pub fn view(self, knobs: Option<&Passage<'_>>) -> Result<View> {
        let names: Vec<String> = self
            .views
            .iter()
            .map(|view| view.name.clone())
            .filter(|name| !name.is_empty())
            .collect();
        let list = |error: Error| match names.as_slice() {
            [] => error.help("this guitar has one volume knob: leave the option out"),
            names => error.help(format!("knobs of this guitar: {}", names.join(", "))),
        };
        let is_only = self.views.len() == 1;
        let mut views = self.views.into_iter();
        match knobs {
            None if is_only => views.next().ok_or_else(|| Error::new(ErrorKind::Missing, "a guitar without knobs")),
            None => {
                let message = format!("{} has several volume or tone knobs: say whose are turned", self.name);
                let example = names.first().map_or("", String::as_str);
                Err(list(Error::new(ErrorKind::Missing, message)).help(format!("for example: --knobs \"{example}\"")))
            }
            Some(written) => views.find(|view| view.name == written.text()).ok_or_else(|| {
                let message = format!("this guitar has no knobs called `{}`", written.text());
                let error = Error::at(written, ErrorKind::Unknown, message).label("expected whose knobs are turned");
                list(error.nearest(written.text(), names.iter().map(String::as_str)))
            }),
        }
    }

    /// The only view.
    ///
    /// # Errors
    /// Where there are several: whose knobs are meant must be said.
    pub fn only(self) -> Result<Guitar> {
        self.view(None).map(|view| view.guitar)
    }

    /// Whether more than one knob of a kind can be turned.
    #[must_use]
    pub fn has_several_views(&self) -> bool {
        self.views.len() > 1
    }
}

impl View {
    /// The guitar in some of its positions, each of them judged, or wherever these knobs do something where none is named; and in other cases
    /// than the file's if any are given.
    ///
    /// # Errors
    /// Where a position is none of these knobs'.
    pub fn seen_in(&self, positions: &[Passage<'_>], cases: &[Case]) -> Result<Guitar> {
        let cases = if cases.is_empty() { &self.cases } else { cases };
        let all: Vec<Case> = self.positions().cloned().collect();
        let chosen: Vec<Case> = positions.iter().map(|written| self.position(written)).collect::<Result<_>>()?;
        let (guitar, seen) = match chosen.as_slice() {
            [] => (self.guitar.clone(), &all),
            [only] => (self.guitar.in_case(only), &chosen),
            _ => (self.guitar.clone(), &chosen),
        };
        Ok(Guitar {
            cases: crossed(seen, cases),
            ..guitar
        })
    }

    /// What its knobs and positions are called; nothing of a guitar of one pickup.
    #[must_use]
    pub fn names(&self) -> Option<&Names> {
        let position = self.positions().next()?.position.as_deref()?;
        Some(&position.ensemble.names)
    }

    /// All positions in which these knobs do something.
    pub fn positions(&self) -> impl Iterator<Item = &Case> {
        self.judged.iter().chain(&self.elsewhere)
    }

    fn position(&self, written: &Passage<'_>) -> Result<Case> {
        let found = self.positions().find(|case| case.name == written.text());
        found.map(Case::judged).ok_or_else(|| {
            let names: Vec<&str> = self.positions().map(|case| case.name.as_str()).collect();
            let message = format!("`{}` is no position in which these knobs do anything", written.text());
            let error = Error::at(written, ErrorKind::Unknown, message).label("expected a position of the selector");
            let error = error.nearest(written.text(), names.iter().copied());
            if names.is_empty() {
                return error.help("this guitar has no selector: leave the position out");
            }
            error.help(format!("positions: {}", names.join(", ")))
        })
    }
}

/// Every position in every case of the file; a lone position is the guitar as it is.
pub(super) fn crossed(positions: &[Case], cases: &[Case]) -> Vec<Case> {
    match positions {
        [] | [_] => cases.to_vec(),
        _ => every(positions, cases),
    }
}

/// Every position in every case of the file.
fn every(positions: &[Case], cases: &[Case]) -> Vec<Case> {
    if cases.is_empty() {
        return positions.to_vec();
    }
    let at = |position: &Case| {
        let named = |case: &Case| case.at(position, format!("{}, {}", position.name, case.name));
        cases.iter().map(named).collect::<Vec<_>>()
    };
    positions.iter().flat_map(at).collect()
}

impl Case {
    /// The same where it counts, whatever knobs sound with it.
    fn judged(&self) -> Self {
        let mut case = self.clone();
        case.position.iter_mut().for_each(|position| position.is_judged = true);
        case
    }

    fn at(&self, position: &Self, name: String) -> Self {
        Self {
            name,
            position: position.position.clone(),
            ..self.clone()
        }
    }
}
