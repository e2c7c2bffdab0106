//! Guitar files of several pickups: everything that they say, every mistake at its place.

use super::case::Has;
use super::ensemble::{Joined, Lugs};
use super::file::{self, Rest, own_volume, winding};
use super::ranges::{self, optional};
use super::selector::{self, Use};
use super::shared::{self, Blended, NamedTone, Shared, all_or_none};
use super::{Pickup, Volume};
use crate::document::{Mistakes, Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_CASES};
use crate::parts::network::Network;
use crate::source::Source;
use crate::units::{read_farads, read_henries, read_ohms};

/// Most pickups of a guitar. Built guitars of many in series are slow to draw: each adds two degrees to their polynomials.
const MOST_PICKUPS: usize = 8;

/// What the pickup of a file with `[pickup]` is called.
const ONLY: &str = "pickup";

/// A pickup as the file has it.
pub(super) struct Own {
    pub(super) name: String,
    pub(super) pickup: Pickup,
    pub(super) states: Vec<(String, Pickup)>,
    pub(super) ratio: f64,
    pub(super) series: Option<Network>,
    pub(super) across: Option<Network>,
    pub(super) volume: Option<(Volume, Lugs)>,
    pub(super) tones: Vec<NamedTone>,
}

/// Everything that a file of several pickups says.
pub(super) struct File {
    pub(super) pickups: Vec<Own>,
    pub(super) positions: Vec<Named>,
    pub(super) shared: Shared,
    pub(super) name: String,
    pub(super) rest: Rest,
}

pub(super) fn read_tables(root: &Section<'_>, source: &Source, mistakes: &mut Mistakes) -> Option<File> {
    let single = root.get("pickup");
    if let Some(single) = single.as_ref().filter(|_| root.get("pickups").is_some()) {
        let message = "a guitar has [pickup], or [pickups.NAME] for each of several, not both";
        let error = Error::at(&single.key_passage(), ErrorKind::Conflict, message).label("[pickups] are given already");
        mistakes.keep(Err::<(), _>(error));
    }
    let name = mistakes.keep(file::name(root.get("name"), source));
    let pickups = match (root.get("pickups"), single) {
        (Some(value), _) => pickups(&value, mistakes),
        (None, Some(value)) => own(ONLY, &value, mistakes).map(|own| vec![own]),
        (None, None) => None,
    };
    let names: Vec<(String, Vec<String>)> = pickups.iter().flatten().map(Own::names).collect();
    let has_all_names = pickups.is_some();
    let positions = positions(root.get("selector").filter(|_| has_all_names), &names, mistakes);
    let blended: Vec<Blended<'_>> = pickups
        .iter()
        .flatten()
        .map(|own| Blended {
            name: &own.name,
            has_volume: own.volume.is_some(),
        })
        .collect();
    let shared = Shared::read(root, &blended, mistakes);
    let cable = mistakes.keep(file::need(root, "cable"));
    let tone = root.get("tone").is_some() || root.get("tones").is_some() || pickups.iter().flatten().any(|own| !own.tones.is_empty());
    let volume = root.get("volume").is_some() || pickups.iter().flatten().any(|own| own.volume.is_some());
    // A lone pickup in one state is that of a guitar of one pickup.
    let is_lone = matches!(names.as_slice(), [(_, states)] if states.is_empty());
    let of_pickups: Vec<String> = names.iter().filter(|_| !is_lone).map(|(name, _)| name.clone()).collect();
    let has = Has {
        volume,
        tone,
        pickups: &of_pickups,
    };
    let rest = Rest::read(root, cable, has, mistakes);
    mistakes.keep(root.finish());
    let file = File {
        pickups: pickups?,
        positions: positions?,
        shared: shared?,
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
            mistakes.keep(shared::knob_name(key, "a pickup", "neck"))?;
            if ["volume", "tone", "blend"].contains(&key.text()) {
                let message = format!("`{}` is the name of a knob, not of a pickup", key.text());
                return mistakes.keep(Err(Error::at(key, ErrorKind::Conflict, message).label("expected for example neck")));
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
    let tones = shared::tones(&section, name, mistakes);
    mistakes.keep(section.finish());
    Some(Own {
        name: name.to_owned(),
        pickup: pickup?,
        states: states?,
        ratio: ratio?,
        series: series?,
        across: across?,
        volume: all_or_none(volume)?,
        tones: tones?,
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

pub(super) type Named = (String, Joined, Vec<Use>);

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

    pub(super) fn in_state(&self, state: Option<usize>) -> &Pickup {
        state
            .and_then(|state| self.states.get(state))
            .map_or(&self.pickup, |(_, pickup)| pickup)
    }
}

impl File {
    /// What can be contradictory only as a whole.
    fn check(&self, root: &Section<'_>) -> Result<()> {
        self.check_names(root)?;
        for (name, joined, uses) in &self.positions {
            let in_series = members_in_series(joined);
            let with_controls = in_series.into_iter().filter_map(|place| self.pickups.get(uses.get(place)?.pickup));
            if let Some(own) = with_controls.into_iter().find(|own| self.has_controls(own)) {
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

    fn has_controls(&self, own: &Own) -> bool {
        let blend = self.shared.blend.iter().flat_map(|blend| blend.between);
        let mut blended = blend.filter_map(|pickup| self.pickups.get(pickup));
        own.volume.is_some() || !own.tones.is_empty() || blended.any(|other| other.name == own.name)
    }

    /// Knobs are told apart by their names, and positions by theirs.
    fn check_names(&self, root: &Section<'_>) -> Result<()> {
        let tones = self.pickups.iter().flat_map(|own| &own.tones).chain(&self.shared.tones);
        let mut seen: Vec<&str> = Vec::new();
        for tone in tones {
            if seen.contains(&tone.name.as_str()) {
                let message = format!("two tone controls are called `{}`", tone.name);
                return Err(Error::at(&root.passage(), ErrorKind::Conflict, message).help("give one of [tones.NAME] another name"));
            }
            seen.push(&tone.name);
        }
        let count = self.positions.len() * self.shared.choices.len().max(1);
        limits::count(count, MOST_CASES, "positions of the selectors together", &root.passage())
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
