//! Guitar files of several pickups → the guitar as seen from each of its volume and tone knobs.
//!
//! A view is a plain [`Guitar`]: one volume knob and one tone knob that are turned, the pickup they belong to or share, and everything
//! else as it stands beside ([`super::ensemble`]). The positions of the selector are its cases, so that whatever is asked of a guitar is
//! asked in each of them. A pickup's own volume knob is judged where no other pickup with a volume knob of its own sounds: what these do
//! to each other no part at one of them can cure.

use super::ensemble::{Channel, Ensemble, Held, Joined, Lugs, Stage, Whose};
use super::file::{self, Rest, own_tone, own_volume, shared_tone, winding};
use super::ranges::{self, optional};
use super::selector::{self, Use};
use super::{Case, Guitar, Pickup, Position, Tone, Volume};
use crate::document::{Document, Mistakes, Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_CASES};
use crate::parts::network::Network;
use crate::source::{Passage, Source};
use crate::units::{read_farads, read_henries, read_ohms};

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
    /// Whose knobs are turned: a pickup's name, `volume` for the controls behind the selector, `neck tone` for a pickup's tone control.
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

/// Most pickups of a guitar. Built guitars of many in series are slow to draw: each adds two degrees to their polynomials.
const MOST_PICKUPS: usize = 8;

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
        match all.as_slice() {
            [] | [_] => self.guitar.clone(),
            all => self.in_positions(all, if cases.is_empty() { &self.cases } else { cases }),
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

/// A pickup as the file has it.
struct Own {
    name: String,
    pickup: Pickup,
    states: Vec<(String, Pickup)>,
    ratio: f64,
    series: Option<Network>,
    across: Option<Network>,
    volume: Option<(Volume, Lugs)>,
    tone: Option<Tone>,
}

/// Everything that a file of several pickups says.
struct File {
    pickups: Vec<Own>,
    positions: Vec<(String, Joined, Vec<Use>)>,
    shared: Shared,
    name: String,
    rest: Rest,
}

/// What is behind the selector.
struct Shared {
    series: Option<Network>,
    across: Option<Network>,
    volume: Option<Volume>,
    tone: Option<Tone>,
}

fn read_tables(root: &Section<'_>, source: &Source, mistakes: &mut Mistakes) -> Option<File> {
    if let Some(single) = root.get("pickup") {
        let message = "a guitar has [pickup], or [pickups.NAME] for each of several, not both";
        let error = Error::at(&single.key_passage(), ErrorKind::Conflict, message).label("[pickups] are given already");
        mistakes.keep(Err::<(), _>(error));
    }
    let name = mistakes.keep(file::name(root.get("name"), source));
    let pickups = root.get("pickups").and_then(|value| pickups(&value, mistakes));
    let names: Vec<(String, Vec<String>)> = pickups.iter().flatten().map(Own::names).collect();
    let has_all_names = pickups.is_some();
    let positions = positions(root.get("selector").filter(|_| has_all_names), &names, mistakes);
    let volume = root.get("volume").map(|value| file::volume(&value, mistakes));
    let tone = root.get("tone").map(|value| shared_tone(&value, mistakes));
    let series = mistakes.keep(file::network(root.get("series")));
    let across = mistakes.keep(file::network(root.get("across")));
    let cable = mistakes.keep(file::need(root, "cable"));
    let has_tone = tone.is_some() || pickups.iter().flatten().any(|own| own.tone.is_some());
    let rest = Rest::read(root, cable, has_tone, mistakes);
    mistakes.keep(root.finish());
    let file = File {
        pickups: pickups?,
        positions: positions?,
        shared: Shared {
            series: series?,
            across: across?,
            volume: volume.map_or(Some(None), |read| read.map(Some))?,
            tone: tone.map_or(Some(None), |read| read.map(Some))?,
        },
        name: name?,
        rest: rest?,
    };
    mistakes.keep(file.check(root))?;
    Some(file)
}

fn pickups(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Vec<Own>> {
    let section = mistakes.keep(value.section("[pickups]"))?;
    let entries = section.entries();
    if let Some((beyond, _)) = entries.get(MOST_PICKUPS) {
        mistakes.keep(limits::count(entries.len(), MOST_PICKUPS, "pickups", beyond))?;
    }
    if entries.is_empty() {
        let error = Error::at(&value.passage(), ErrorKind::Missing, "[pickups] names no pickup");
        return mistakes.keep(Err(error.help("each stands under its name: [pickups.neck], [pickups.bridge]")));
    }
    let read: Vec<Option<Own>> = entries
        .iter()
        .map(|(key, value)| {
            let is_word = |letter: char| letter.is_alphanumeric() || letter == '_';
            if key.text().is_empty() || !key.text().chars().all(is_word) {
                let error = Error::at(key, ErrorKind::Syntax, "a pickup's name is one word of letters, digits and `_`");
                return mistakes.keep(Err(error.label("expected for example neck")));
            }
            own(key.text(), value, mistakes)
        })
        .collect();
    read.into_iter().collect()
}

fn own(name: &str, value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Own> {
    let section = mistakes.keep(value.section("a pickup"))?;
    let pickup = winding(&section, mistakes);
    let states = match (&pickup, section.get("states")) {
        (Some(pickup), Some(states)) => states_of(pickup, &states, mistakes),
        _ => Some(Vec::new()),
    };
    let ratio = mistakes.keep(output(section.get("output")));
    let series = mistakes.keep(file::network(section.get("series")));
    let across = mistakes.keep(file::network(section.get("across")));
    let volume = section.get("volume").map(|value| own_volume(&value, mistakes));
    let tone = section.get("tone").map(|value| own_tone(&value, mistakes));
    mistakes.keep(section.finish());
    Some(Own {
        name: name.to_owned(),
        pickup: pickup?,
        states: states?,
        ratio: ratio?,
        series: series?,
        across: across?,
        volume: volume.map_or(Some(None), |read| read.map(Some))?,
        tone: tone.map_or(Some(None), |read| read.map(Some))?,
    })
}

/// The same pickup with other values, as a switch at the pickup makes it.
fn states_of(pickup: &Pickup, value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Vec<(String, Pickup)>> {
    let section = mistakes.keep(value.section("the states of a pickup"))?;
    let read: Vec<Option<(String, Pickup)>> = section
        .entries()
        .iter()
        .map(|(name, value)| {
            let section = mistakes.keep(value.section("a state of a pickup"))?;
            let mut other = pickup.clone();
            let inductance = mistakes.keep(optional(&section, "inductance", read_henries, &ranges::INDUCTANCE))?;
            if let Some(inductance) = inductance {
                other.scale_to(inductance);
            }
            let resistance = mistakes.keep(optional(&section, "resistance", read_ohms, &ranges::WINDING_RESISTANCE))?;
            other.resistance = resistance.unwrap_or(other.resistance);
            let capacitance = mistakes.keep(optional(&section, "capacitance", read_farads, &ranges::WINDING_CAPACITANCE))?;
            other.capacitance = capacitance.unwrap_or(other.capacitance);
            if let Some(cells) = section.get("loss") {
                other.loss = file::loss(&cells, other.inductance.value(), mistakes)?;
            }
            mistakes.keep(section.finish())?;
            Some((name.text().to_owned(), other))
        })
        .collect();
    read.into_iter().collect()
}

/// "−3 dB" beside the others, as a ratio.
fn output(value: Option<Value<'_>>) -> Result<f64> {
    const MOST_DB: f64 = 40.0;
    let Some(value) = value else { return Ok(1.0) };
    let written = value.text()?;
    let number = written.text().trim().strip_suffix("dB").map(str::trim);
    let decibels = number.and_then(|number| number.replace('−', "-").parse::<f64>().ok());
    match decibels.filter(|decibels| decibels.abs() <= MOST_DB) {
        Some(decibels) => Ok(10.0_f64.powf(decibels / 20.0)),
        None => {
            let message = format!("`{}` is no output level", written.text());
            Err(Error::at(&written, ErrorKind::Range, message).label("expected for example \"-2 dB\", at most 40 dB either way"))
        }
    }
}

type Named = (String, Joined, Vec<Use>);

fn positions(value: Option<Value<'_>>, names: &[(String, Vec<String>)], mistakes: &mut Mistakes) -> Option<Vec<Named>> {
    let Some(value) = value else {
        // Without a selector all pickups sound together.
        let all: Vec<Use> = (0..names.len())
            .map(|pickup| Use {
                pickup,
                state: None,
                reversed: false,
            })
            .collect();
        let joined = match all.len() {
            1 => Joined::One(0),
            count => Joined::Parallel((0..count).map(Joined::One).collect()),
        };
        return Some(vec![("all".to_owned(), joined, all)]);
    };
    let section = mistakes.keep(value.section("[selector]"))?;
    let entries = section.entries();
    if let Some((beyond, _)) = entries.get(MOST_CASES) {
        mistakes.keep(limits::count(entries.len(), MOST_CASES, "positions", beyond))?;
    }
    if entries.is_empty() {
        let error = Error::at(&value.passage(), ErrorKind::Missing, "[selector] names no position");
        return mistakes.keep(Err(error.help("a position is written like: both = \"neck || bridge\"")));
    }
    let read: Vec<Option<Named>> = entries
        .iter()
        .map(|(key, value)| {
            let name = mistakes.keep(limits::name(key, "a position", "both"))?;
            let written = mistakes.keep(value.text())?;
            let (joined, uses) = mistakes.keep(selector::read(&written, names))?;
            Some((name, joined, uses))
        })
        .collect();
    read.into_iter().collect()
}

impl Own {
    fn names(&self) -> (String, Vec<String>) {
        (self.name.clone(), self.states.iter().map(|(name, _)| name.clone()).collect())
    }

    fn in_state(&self, state: Option<usize>) -> &Pickup {
        state
            .and_then(|state| self.states.get(state))
            .map_or(&self.pickup, |(_, pickup)| pickup)
    }
}

/// Which volume knob and which tone knob are turned.
#[derive(Clone, Copy)]
struct Focus {
    volume: Option<usize>,
    tone: FocusTone,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum FocusTone {
    None,
    Shared,
    Pickup(usize),
}

impl File {
    /// What can be contradictory only as a whole.
    fn check(&self, root: &Section<'_>) -> Result<()> {
        let has_volume = self.shared.volume.is_some() || self.pickups.iter().all(|own| own.volume.is_some());
        if !has_volume {
            let message = "a guitar needs [volume], or a [pickups.NAME.volume] for each pickup";
            return Err(Error::at(&root.passage(), ErrorKind::Missing, message).help(
                "a guitar without any volume control can be written with a volume pot of 10M and a linear taper, which loads it by next to nothing",
            ));
        }
        if let Some(case) = self.rest.cases.iter().find(|case| case.inductance.is_some()) {
            let message = format!("case \"{}\" changes the inductance, but of which pickup?", case.name);
            return Err(Error::at(&root.passage(), ErrorKind::Conflict, message)
                .help("write the pickup's other values as a state: [pickups.neck.states.other], and a position that uses it"));
        }
        for (name, joined, uses) in &self.positions {
            let in_series = members_in_series(joined);
            let with_controls = in_series.into_iter().filter_map(|place| self.pickups.get(uses.get(place)?.pickup));
            if let Some(own) = with_controls.into_iter().find(|own| own.volume.is_some() || own.tone.is_some()) {
                let message = format!(
                    "position \"{name}\" puts {} in series, but it has controls of its own: these would hang between two pickups",
                    own.name
                );
                return Err(Error::at(&root.passage(), ErrorKind::Conflict, message)
                    .help("only pickups without [pickups.NAME.volume] and [pickups.NAME.tone] can be joined by +"));
            }
        }
        Ok(())
    }

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
        let shared_tone = || {
            if self.shared.tone.is_some() {
                FocusTone::Shared
            } else {
                FocusTone::None
            }
        };
        let mut found = Vec::new();
        for (number, own) in self.pickups.iter().enumerate().filter(|(_, own)| own.volume.is_some()) {
            let tone = if own.tone.is_some() {
                FocusTone::Pickup(number)
            } else {
                shared_tone()
            };
            found.push((
                own.name.clone(),
                Focus {
                    volume: Some(number),
                    tone,
                },
            ));
        }
        if self.shared.volume.is_some() {
            let (volume, tone) = (None, shared_tone());
            found.push(("volume".to_owned(), Focus { volume, tone }));
            for (number, own) in self.pickups.iter().enumerate() {
                if own.tone.is_some() && own.volume.is_none() {
                    let tone = FocusTone::Pickup(number);
                    found.push((format!("{} tone", own.name), Focus { volume: None, tone }));
                }
            }
        }
        found
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
        let has_own_volume = |used: &Use| self.pickups.get(used.pickup).is_some_and(|own| own.volume.is_some());
        let is_free = |(_, _, uses): &&Named| {
            let others = uses.iter().filter(|used| has_own_volume(used) && Some(used.pickup) != focus.volume);
            focus.volume.is_none() || others.count() == 0
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
            is_of_a_tone: focus.volume.is_none() && matches!(focus.tone, FocusTone::Pickup(_)),
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

/// The places of all pickups below a `+`.
fn members_in_series(joined: &Joined) -> Vec<usize> {
    match joined {
        Joined::One(_) => Vec::new(),
        Joined::Parallel(members) => members.iter().flat_map(members_in_series).collect(),
        Joined::Series(_) => joined.members(),
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
