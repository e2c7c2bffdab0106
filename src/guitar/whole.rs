//! Guitar files of several pickups → the guitar as seen from each of its volume and tone knobs.
//!
//! A view is a plain [`Guitar`]: one volume knob and one tone knob that are turned, the pickup they belong to or share, and everything
//! else as it stands beside ([`super::ensemble`]). The positions of the selector are its cases, so that whatever is asked of a guitar is
//! asked in each of them. A pickup's own volume knob is judged where no other pickup with a volume knob of its own sounds: what these do
//! to each other no part at one of them can cure.

use super::ensemble::{Channel, Ensemble, Held, Lugs, Stage, Whose};
use super::selector::Use;
use super::several::{File, Named, read_tables};
use super::{Case, Guitar, Pickup, Position, Volume};
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
    /// Whose knobs are turned: a pickup's name, `volume` for the controls behind the selector, `neck tone` for a pickup's tone control, `tone` for
    /// one that all share where each pickup has a volume knob.
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

impl Whole {
    /// Reads a guitar file of one pickup or several.
    ///
    /// # Errors
    /// All mistakes in one, in the order of their places.
    pub fn read(source: &Source) -> Result<Self> {
        let document = Document::parse(source)?;
        let root = document.root("the guitar file");
        if root.get("pickups").is_none() {
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
                guitar,
                lugs: None,
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
    /// The guitar in some of its positions, in all where none is named, and in other cases than the file's if any are given.
    ///
    /// # Errors
    /// Where a position is none of these knobs'.
    pub fn seen_in(&self, positions: &[Passage<'_>], cases: &[Case]) -> Result<Guitar> {
        let cases = if cases.is_empty() { &self.cases } else { cases };
        if positions.is_empty() {
            let cases = crossed(&self.judged, cases);
            return Ok(Guitar {
                cases,
                ..self.guitar.clone()
            });
        }
        let chosen: Vec<Case> = positions
            .iter()
            .map(|written| self.position(written).cloned())
            .collect::<Result<_>>()?;
        Ok(self.in_positions(&chosen, cases))
    }

    /// The guitar wherever these knobs do something.
    #[must_use]
    pub fn seen_everywhere(&self, cases: &[Case]) -> Guitar {
        let all: Vec<Case> = self.positions().cloned().collect();
        let cases = if cases.is_empty() { &self.cases } else { cases };
        Guitar {
            cases: crossed(&all, cases),
            ..self.guitar.clone()
        }
    }

    fn in_positions(&self, chosen: &[Case], cases: &[Case]) -> Guitar {
        let guitar = match chosen {
            [only] => self.guitar.in_case(only),
            _ => self.guitar.clone(),
        };
        Guitar {
            cases: crossed(chosen, cases),
            ..guitar
        }
    }

    /// All positions in which these knobs do something.
    pub fn positions(&self) -> impl Iterator<Item = &Case> {
        self.judged.iter().chain(&self.elsewhere)
    }

    fn position(&self, written: &Passage<'_>) -> Result<&Case> {
        self.positions().find(|case| case.name == written.text()).ok_or_else(|| {
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

/// Which volume knob and which tone knob are turned.
#[derive(Clone, Copy)]
struct Focus {
    volume: Option<usize>,
    tone: FocusTone,
    /// Whether its volume knob is another view's too.
    is_of_a_tone: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum FocusTone {
    None,
    Shared,
    Pickup(usize),
}

impl File {
    fn whole(self) -> Whole {
        let foci = self.foci();
        let alone = foci.len() == 1;
        let views = foci.iter().filter_map(|(name, focus)| self.view(name, *focus, alone)).collect();
        let is_plain = self.pickups.len() == 1 && self.positions.len() == 1;
        Whole {
            name: self.name.clone(),
            views,
            positions: if is_plain {
                Vec::new()
            } else {
                self.positions.iter().map(|(name, ..)| name.clone()).collect()
            },
        }
    }

    /// Every view: each pickup's own volume knob, the one behind the selector, each tone knob of a pickup that has no volume of its own.
    fn foci(&self) -> Vec<(String, Focus)> {
        let owners: Vec<usize> = (0..self.pickups.len()).filter(|number| self.has_volume(*number)).collect();
        let shared_tone = if self.shared.tone.is_some() {
            FocusTone::Shared
        } else {
            FocusTone::None
        };
        let are_several = owners.len() + usize::from(self.shared.volume.is_some()) > 1;
        let mut found = Vec::new();
        let mut add = |name: String, volume, tone, is_of_a_tone| {
            let focus = Focus {
                volume,
                tone,
                is_of_a_tone,
            };
            found.push((name, focus));
        };
        for number in &owners {
            let Some(own) = self.pickups.get(*number) else { continue };
            let tone = match own.tone {
                Some(_) => FocusTone::Pickup(*number),
                // A tone knob for all is not changed at each of them.
                None if are_several => FocusTone::None,
                None => shared_tone,
            };
            add(own.name.clone(), Some(*number), tone, false);
        }
        if self.shared.volume.is_none() {
            if are_several && shared_tone == FocusTone::Shared {
                add("tone".to_owned(), owners.first().copied(), shared_tone, true);
            }
            return found;
        }
        add("volume".to_owned(), None, shared_tone, false);
        for (number, own) in self.pickups.iter().enumerate() {
            if own.tone.is_some() && own.volume.is_none() {
                add(format!("{} tone", own.name), None, FocusTone::Pickup(number), true);
            }
        }
        found
    }

    fn has_volume(&self, pickup: usize) -> bool {
        self.pickups.get(pickup).is_some_and(|own| own.volume.is_some())
    }

    fn view(&self, name: &str, focus: Focus, alone: bool) -> Option<View> {
        let owner = match (focus.volume, focus.tone) {
            (Some(number), _) | (None, FocusTone::Pickup(number)) => Some(number),
            _ => None,
        };
        let sounding = self.positions.iter().filter(|(_, _, uses)| match owner {
            Some(owner) => uses.iter().any(|used| used.pickup == owner),
            None => true,
        });
        let has_own_volume = |used: &Use| self.has_volume(used.pickup);
        let is_free = |(_, _, uses): &&Named| {
            let others = uses.iter().filter(|used| has_own_volume(used) && Some(used.pickup) != focus.volume);
            focus.volume.is_none() || focus.is_of_a_tone || others.count() == 0
        };
        let (mut judged, mut elsewhere): (Vec<&Named>, Vec<&Named>) = sounding.partition(is_free);
        if judged.is_empty() {
            std::mem::swap(&mut judged, &mut elsewhere);
        }
        let cases = |positions: &[&Named]| -> Vec<Case> { positions.iter().map(|position| self.case(position, focus, owner)).collect() };
        let positions = cases(&judged);
        let first = positions.first()?.position.as_deref()?;
        let full_name = if alone {
            self.name.clone()
        } else {
            format!("{}, {name}", self.name)
        };
        let mut guitar = self.plain_part(full_name, first.pickup.clone(), focus)?;
        guitar.ensemble = first.simplified();
        guitar.cases = crossed(&positions, &self.rest.cases);
        Some(View {
            name: name.to_owned(),
            guitar,
            judged: positions,
            elsewhere: cases(&elsewhere),
            cases: self.rest.cases.clone(),
            is_of_a_tone: focus.is_of_a_tone,
            lugs: focus
                .volume
                .and_then(|number| self.pickups.get(number)?.volume.as_ref().map(|(_, lugs)| *lugs)),
        })
    }

    /// Everything but pickups and what stands still.
    fn plain_part(&self, name: String, pickup: Pickup, focus: Focus) -> Option<Guitar> {
        let own = focus.volume.and_then(|number| self.pickups.get(number));
        let places = match own {
            Some(own) => [&own.series, &own.across],
            None => [&self.shared.series, &self.shared.across],
        };
        let volume = match own {
            Some(own) => own.volume.as_ref().map(|(volume, _)| volume),
            None => self.shared.volume.as_ref(),
        };
        let tone = match focus.tone {
            FocusTone::None => None,
            FocusTone::Shared => self.shared.tone.clone(),
            FocusTone::Pickup(number) => self.pickups.get(number).and_then(|own| own.tone.clone()),
        };
        Some(self.rest.guitar(name, pickup, places.map(Clone::clone), volume?.clone(), tone))
    }

    fn case(&self, (name, joined, uses): &Named, focus: Focus, owner: Option<usize>) -> Case {
        let first = owner
            .and_then(|owner| uses.iter().position(|used| used.pickup == owner))
            .unwrap_or(0);
        // The own pickup is 0, the others follow in their order.
        let number = |place: usize| match place {
            _ if place == first => 0,
            _ if place < first => place + 1,
            _ => place,
        };
        let channel = |used: &Use| -> Option<(Pickup, Channel)> {
            let own = self.pickups.get(used.pickup)?;
            let is_volume = focus.volume == Some(used.pickup);
            let is_tone = focus.tone == FocusTone::Pickup(used.pickup);
            let held = |control: &(Volume, Lugs)| Held::full(control.0.clone(), 2 * used.pickup);
            let stage = Stage {
                series: own.series.clone().filter(|_| !is_volume),
                across: own.across.clone().filter(|_| !is_volume),
                volume: own.volume.as_ref().filter(|_| !is_volume).map(held),
                tones: own
                    .tone
                    .iter()
                    .filter(|_| !is_tone)
                    .map(|tone| Held::full(tone.clone(), 2 * used.pickup + 1))
                    .collect(),
            };
            let channel = Channel {
                name: own.name.clone(),
                number: used.pickup,
                ratio: if used.reversed { -own.ratio } else { own.ratio },
                lugs: own.volume.as_ref().map_or_else(Lugs::default, |(_, lugs)| *lugs),
                stage,
            };
            Some((own.in_state(used.state).clone(), channel))
        };
        let mut others: Vec<(Pickup, Channel)> = uses.iter().filter_map(channel).collect();
        let mut case = Case {
            name: name.clone(),
            ..Case::default()
        };
        if first < others.len() {
            let (pickup, own) = others.remove(first);
            let is_own = |is_pickup: bool| if is_pickup { Whose::Pickup } else { Whose::Shared };
            case.position = Some(Box::new(Position {
                name: name.clone(),
                pickup,
                ensemble: Ensemble {
                    own,
                    others,
                    joined: joined.renumbered(&number),
                    volume: is_own(focus.volume.is_some()),
                    tone: is_own(matches!(focus.tone, FocusTone::Pickup(_))),
                    shared: self.shared_stage(focus),
                },
            }));
        }
        case
    }

    /// What is behind the selector and not turned.
    fn shared_stage(&self, focus: Focus) -> Stage {
        let number = 2 * self.pickups.len();
        let is_turned = focus.volume.is_none();
        let tone = self.shared.tone.as_ref().filter(|_| focus.tone != FocusTone::Shared);
        Stage {
            series: self.shared.series.clone().filter(|_| !is_turned),
            across: self.shared.across.clone().filter(|_| !is_turned),
            volume: self
                .shared
                .volume
                .clone()
                .filter(|_| !is_turned)
                .map(|volume| Held::full(volume, number)),
            tones: tone.iter().map(|tone| Held::full((*tone).clone(), number + 1)).collect(),
        }
    }
}

impl Position {
    /// Nothing where a guitar of one pickup says the same.
    fn simplified(&self) -> Option<Box<Ensemble>> {
        let own = &self.ensemble.own;
        let is_plain = self.ensemble.others.is_empty()
            && self.ensemble.shared == Stage::default()
            && own.stage == Stage::default()
            && own.ratio == 1.0
            && own.number == 0
            && own.lugs == Lugs::Joined;
        (!is_plain).then(|| Box::new(self.ensemble.clone()))
    }
}

impl<T> Held<T> {
    fn full(control: T, number: usize) -> Self {
        Self {
            control,
            number,
            rotation: 1.0,
        }
    }
}

/// Every position in every case of the file; a lone position is the guitar as it is.
fn crossed(positions: &[Case], cases: &[Case]) -> Vec<Case> {
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
    fn at(&self, position: &Self, name: String) -> Self {
        Self {
            name,
            position: position.position.clone(),
            ..self.clone()
        }
    }
}
