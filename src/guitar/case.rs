//! What-if cases: the same guitar with another cable, input, pot or pickup. Where cases are given, only they count.

use serde::Serialize;

use super::ensemble::Ensemble;
use super::knob::{Knob, Names};
use super::ranges::{self, Limits, held};
use super::{Guitar, Pickup};
use crate::document::{Mistakes, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_CASES};
use crate::source::{Passage, Source};
use crate::units::{Farads, Henries, Ohms, read_farads, read_henries, read_ohms, with_prefix};

/// The word for the guitar as its file describes it.
const AS_IS: &str = "as-is";

/// Every key with its range.
const KEYS: [(&str, &Limits); 6] = [
    ("cable", &ranges::CABLE),
    ("input", &ranges::INPUT_RESISTANCE),
    ("input_capacitance", &ranges::INPUT_CAPACITANCE),
    ("volume", &ranges::TRACK),
    ("tone", &ranges::TRACK),
    ("inductance", &ranges::INDUCTANCE),
];

/// What differs from the guitar as its file describes it; what is `None` stays.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Case {
    /// What it is called, by its owner or by what it changes; unique among a guitar's cases.
    pub name: String,
    /// The cable's whole capacitance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cable: Option<Farads>,
    /// The input's resistance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input: Option<Ohms>,
    /// The input's capacitance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input_capacitance: Option<Farads>,
    /// The volume pot's track.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume: Option<Ohms>,
    /// The tone pot's track.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tone: Option<Ohms>,
    /// The pickup's low-frequency inductance; its loss cells keep their shares of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inductance: Option<Henries>,
    /// The low-frequency inductances of pickups by their names, in a guitar of several; the other states of each change by as much.
    #[serde(skip_serializing_if = "Vec::is_empty", serialize_with = "by_name")]
    pub inductances: Vec<(String, Henries)>,
    /// A position of the selector, where the guitar has several pickups; only the name of such a case is written.
    #[serde(skip)]
    pub position: Option<Box<Position>>,
}

fn by_name<S: serde::Serializer>(inductances: &[(String, Henries)], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(inductances.iter().map(|(name, inductance)| (name, inductance)))
}

/// What is connected in one position of a selector.
#[derive(Debug, Clone, PartialEq)]
pub struct Position {
    /// The guitar's own pickup there.
    pub pickup: Pickup,
    /// Everything else.
    pub ensemble: Ensemble,
    /// The knobs that stand still and not at rest, by their names, each with its rotation.
    pub turned: Vec<(String, f64)>,
    /// Whether the view's knobs are judged there; elsewhere they only must do no harm.
    pub is_judged: bool,
}

impl Position {
    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.ensemble.position
    }

    /// What is turned, as the end of a case's name: ", bass cut 5"; nothing where nothing is.
    #[must_use]
    pub fn turned_in_words(&self) -> String {
        let word = |(name, rotation): &(String, f64)| format!(", {name} {}", (rotation * 1e4).round() / 1e3);
        self.turned.iter().map(word).collect()
    }

    /// The same with knobs turned that stand still in it; nothing where one of them is not connected.
    #[must_use]
    pub fn turned(&self, knobs: &[(&Knob, f64)]) -> Option<Self> {
        let mut turned = self.clone();
        for (knob, rotation) in knobs {
            turned.ensemble.turn(knob, *rotation).then_some(())?;
            turned.turned.push((knob.name.clone(), *rotation));
        }
        Some(turned)
    }
}

impl Case {
    /// What the cases of a guitar are called: positions of its selector, or cases.
    #[must_use]
    pub fn word(cases: &[Self]) -> &'static str {
        let are_positions = cases.iter().any(|case| case.position.is_some());
        if are_positions { "position" } else { "case" }
    }
}

impl Guitar {
    /// What its cases are called: positions of its selector, or cases.
    #[must_use]
    pub fn case_word(&self) -> &'static str {
        Case::word(&self.cases)
    }

    /// What the knobs and positions of a guitar of several pickups are called.
    #[must_use]
    pub fn names(&self) -> Option<&Names> {
        let position = self.cases.iter().find_map(|case| case.position.as_deref());
        let ensemble = position.map(|position| &position.ensemble).or(self.ensemble.as_deref());
        ensemble.map(|ensemble| ensemble.names.as_ref())
    }

    /// Every position of a guitar of several pickups, in each of its cases; one that is seen in one position only is in that.
    #[must_use]
    pub fn positions(&self) -> Vec<Case> {
        if self.has_positions() {
            return self.cases.clone();
        }
        let Some(ensemble) = self.ensemble.as_deref() else {
            return Vec::new();
        };
        let position = Position {
            pickup: self.pickup.clone(),
            ensemble: ensemble.clone(),
            turned: Vec::new(),
            is_judged: true,
        };
        let at = |case: &Case| Case {
            position: Some(Box::new(position.clone())),
            ..case.clone()
        };
        if self.cases.is_empty() {
            let name = position.name().to_owned();
            return vec![at(&Case { name, ..Case::default() })];
        }
        self.cases.iter().map(at).collect()
    }

    /// The guitar in one case; the result has no cases of its own.
    #[must_use]
    pub fn in_case(&self, case: &Case) -> Self {
        let mut guitar = Self {
            cases: Vec::new(),
            ..self.clone()
        };
        if let Some(position) = &case.position {
            guitar.pickup = position.pickup.clone();
            guitar.ensemble = Some(Box::new(position.ensemble.clone()));
        }
        guitar.cable.capacitance = case.cable.unwrap_or(self.cable.capacitance);
        guitar.input.resistance = case.input.unwrap_or(self.input.resistance);
        guitar.input.capacitance = case.input_capacitance.unwrap_or(self.input.capacitance);
        guitar.volume.pot.resistance = case.volume.unwrap_or(self.volume.pot.resistance);
        if let Some(tone) = &mut guitar.tone {
            tone.pot.resistance = case.tone.unwrap_or(tone.pot.resistance);
        }
        if let Some(inductance) = case.inductance {
            guitar.pickup.scale_to(inductance);
        }
        for (pickup, inductance) in &case.inductances {
            guitar.scale_pickup(pickup, *inductance);
        }
        guitar
    }

    /// The guitar in each of its cases, in order; the guitar as it is when it has none.
    #[must_use]
    pub fn in_cases(&self) -> Vec<Self> {
        if self.cases.is_empty() {
            return vec![self.clone()];
        }
        self.cases.iter().map(|case| self.in_case(case)).collect()
    }
}

impl Guitar {
    /// Another inductance of one pickup of several, its states along with it.
    fn scale_pickup(&mut self, name: &str, inductance: Henries) {
        let Some(ensemble) = self.ensemble.as_deref_mut() else { return };
        let known = ensemble.names.pickups.iter().position(|own| own == name);
        let Some(own) = known.and_then(|place| ensemble.names.inductances.get(place)) else {
            return;
        };
        let factor = inductance.value() / own.value();
        if ensemble.own.name == name {
            self.pickup.scale_by(factor);
        }
        let others = ensemble.others.iter_mut().filter(|(_, channel)| channel.name == name);
        others.for_each(|(pickup, _)| pickup.scale_by(factor));
    }
}

impl Pickup {
    /// Another total inductance, each loss cell keeping its share.
    pub(crate) fn scale_to(&mut self, inductance: Henries) {
        self.scale_by(inductance.value() / self.inductance.value());
        self.inductance = inductance;
    }

    fn scale_by(&mut self, factor: f64) {
        let scaled = |inductance: Henries| Henries::new(inductance.value() * factor).unwrap_or(inductance);
        for cell in &mut self.loss {
            cell.inductance = scaled(cell.inductance);
        }
        self.inductance = scaled(self.inductance);
    }
}

/// Which controls and pickups a guitar has for a case to change.
#[derive(Clone, Copy)]
pub(super) struct Has<'h> {
    pub(super) volume: bool,
    pub(super) tone: bool,
    /// Their names; none of a guitar of one pickup.
    pub(super) pickups: &'h [String],
}

impl<'h> Has<'h> {
    fn of(guitar: &'h Guitar) -> Self {
        Self {
            volume: guitar.volume.is_fitted,
            tone: guitar.tone.is_some(),
            pickups: guitar.names().map_or(&[], |names| &names.pickups),
        }
    }

    /// The pickup whose inductance a key is: `neck inductance`.
    fn pickup(self, key: &str) -> Option<&'h String> {
        let name = key.strip_suffix(INDUCTANCE)?.strip_suffix(' ')?;
        self.pickups.iter().find(|own| *own == name)
    }

    /// What its pickups' inductances are called.
    fn inductances(self) -> impl Iterator<Item = String> + use<'h> {
        self.pickups.iter().map(|name| format!("{name} {INDUCTANCE}"))
    }
}

const INDUCTANCE: &str = "inductance";

/// Reads cases from the command line, each `KEY=VALUE,…` or `as-is`, for a guitar.
///
/// # Errors
/// At the first mistake: an unknown key, a value out of the range a guitar file allows, a case given twice.
pub fn read_cases(sources: &[Source], guitar: &Guitar) -> Result<Vec<Case>> {
    let mut cases = Vec::with_capacity(sources.len());
    for source in sources {
        let written = source.passage().trimmed();
        add(&mut cases, read_case(&written, Has::of(guitar))?, &written)?;
    }
    Ok(cases)
}

/// Reads the `[[case]]` tables of a guitar file.
pub(super) fn from_file(value: Option<Value<'_>>, has: Has<'_>, mistakes: &mut Mistakes) -> Option<Vec<Case>> {
    let Some(value) = value else { return Some(Vec::new()) };
    let items = value
        .items()
        .map_err(|error| error.help("a case stands under its own heading [[case]], in double brackets"));
    let items = mistakes.keep(items)?;
    let read: Vec<Option<(Case, Passage<'_>)>> = items.iter().map(|item| case_table(item, has, mistakes)).collect();
    let mut cases = Vec::with_capacity(items.len());
    for (case, name_at) in read.into_iter().collect::<Option<Vec<_>>>()? {
        mistakes.keep(add(&mut cases, case, &name_at))?;
    }
    Some(cases)
}

/// One table, and where its name stands.
fn case_table<'d>(item: &Value<'d>, has: Has<'_>, mistakes: &mut Mistakes) -> Option<(Case, Passage<'d>)> {
    let section = mistakes.keep(item.section("[[case]]"))?;
    let (given, heading) = (section.get("name"), section.passage());
    let mut case = Case::default();
    let mut is_read = true;
    for (key, limits) in KEYS {
        if let Some(value) = section.get(key) {
            let set = limits
                .quoted(&value)
                .and_then(|written| case.set(key, &value.key_passage(), &written, has));
            is_read &= mistakes.keep(set).is_some();
        }
    }
    for key in has.inductances() {
        if let Some(value) = section.get_named(&key) {
            let set = ranges::INDUCTANCE
                .quoted(&value)
                .and_then(|written| case.set(&key, &value.key_passage(), &written, has));
            is_read &= mistakes.keep(set).is_some();
        }
    }
    is_read &= mistakes.keep(section.finish()).is_some();
    let name_at = given.as_ref().map_or(heading, Value::passage);
    case.name = match &given {
        Some(name) => mistakes.keep(name.name("a case", "6 m cable"))?,
        // Of what was not read nothing is known.
        None if is_read && case == Case::default() => return mistakes.keep(Err(nothing_changed(&name_at))),
        None => case.words(),
    };
    is_read.then_some((case, name_at))
}

fn nothing_changed(heading: &Passage<'_>) -> Error {
    Error::at(heading, ErrorKind::Missing, "this case changes nothing and has no name")
        .label(format!("expected one of {}", key_list()))
        .help(format!("for the guitar as it is, write name = \"{AS_IS}\""))
}

fn add(cases: &mut Vec<Case>, case: Case, written: &Passage<'_>) -> Result<()> {
    if cases.iter().any(|other| other.name == case.name) {
        let message = format!("two cases are called `{}`", case.name);
        return Err(Error::at(written, ErrorKind::Conflict, message).label("the second of them"));
    }
    limits::count(cases.len() + 1, MOST_CASES, "cases", written)?;
    cases.push(case);
    Ok(())
}

fn read_case(written: &Passage<'_>, has: Has<'_>) -> Result<Case> {
    let mut case = Case::default();
    if written.text() == AS_IS {
        case.name = AS_IS.to_owned();
        return Ok(case);
    }
    let mut seen: Vec<&str> = Vec::new();
    let mut start = 0;
    for piece in written.text().split(',') {
        let piece_at = written.part(start..start + piece.len()).trimmed();
        start += piece.len() + 1;
        let Some(equals) = piece_at.text().find('=') else {
            return Err(no_assignment(&piece_at, written));
        };
        let key_at = piece_at.part(0..equals).trimmed();
        let key = key_at.text();
        if KEYS.iter().all(|(known, _)| *known != key) && has.pickup(key).is_none() {
            return Err(unknown(&key_at));
        }
        if seen.contains(&key) {
            let message = format!("`{key}` stands twice in one case");
            return Err(Error::at(&key_at, ErrorKind::Conflict, message)
                .label("given already")
                .help("for two cases, write --case twice"));
        }
        seen.push(key);
        case.set(key, &key_at, &piece_at.part(equals + 1..piece_at.text().len()).trimmed(), has)?;
    }
    case.name = case.words();
    Ok(case)
}

fn no_assignment(piece: &Passage<'_>, whole: &Passage<'_>) -> Error {
    if piece.text() == AS_IS {
        let message = format!("`{AS_IS}` is the guitar as it is and stands alone");
        return Error::at(piece, ErrorKind::Conflict, message).label(format!("not beside other keys in `{}`", whole.text()));
    }
    Error::at(piece, ErrorKind::Syntax, format!("expected KEY=VALUE, found {}", quote(piece)))
        .label("no `=` here")
        .nearest(piece.text(), [AS_IS])
        .help(format!("for example: cable=900p,input=220k; or `{AS_IS}` for the guitar as it is"))
}

fn unknown(key: &Passage<'_>) -> Error {
    Error::at(key, ErrorKind::Unknown, format!("expected the key of a case, found {}", quote(key)))
        .label("nothing that a case changes")
        .nearest(key.text(), KEYS.map(|(key, _)| key))
        .help(format!("keys of a case: {}", key_list()))
}

fn quote(written: &Passage<'_>) -> String {
    match written.text() {
        "" => "nothing".to_owned(),
        text => format!("`{text}`"),
    }
}

fn key_list() -> String {
    KEYS.map(|(key, _)| key).join(", ")
}

impl Case {
    fn set(&mut self, key: &str, key_at: &Passage<'_>, value: &Passage<'_>, has: Has<'_>) -> Result<()> {
        match key {
            "cable" => self.cable = Some(held(value, read_farads, &ranges::CABLE)?),
            "input" => self.input = Some(held(value, read_ohms, &ranges::INPUT_RESISTANCE)?),
            "input_capacitance" => self.input_capacitance = Some(held(value, read_farads, &ranges::INPUT_CAPACITANCE)?),
            "volume" if !has.volume => {
                let message = "this case changes the volume control, but the guitar has none: its file lacks the [volume] table";
                return Err(Error::at(key_at, ErrorKind::Missing, message).label("no volume control"));
            }
            "volume" => self.volume = Some(held(value, read_ohms, &ranges::TRACK)?),
            "tone" if !has.tone => {
                let message = "this case changes the tone control, but the guitar has none: its file lacks the [tone] table";
                return Err(Error::at(key_at, ErrorKind::Missing, message).label("no tone control"));
            }
            "tone" => self.tone = Some(held(value, read_ohms, &ranges::TRACK)?),
            INDUCTANCE if has.pickups.len() > 1 => {
                let (message, example) = ("the inductance of which pickup?", has.inductances().next().unwrap_or_default());
                return Err(Error::at(key_at, ErrorKind::Conflict, message).label(format!("expected for example \"{example}\"")));
            }
            INDUCTANCE if has.pickups.is_empty() => self.inductance = Some(held(value, read_henries, &ranges::INDUCTANCE)?),
            _ => {
                let lone = has.pickups.first().filter(|_| key == INDUCTANCE);
                let pickup = lone.or(has.pickup(key)).ok_or_else(|| unknown(key_at))?;
                let inductance = held(value, read_henries, &ranges::INDUCTANCE)?;
                self.inductances.push((pickup.clone(), inductance));
            }
        }
        Ok(())
    }

    /// What it changes, in words: "cable 900 pF, input 220 kΩ".
    fn words(&self) -> String {
        let changes = [
            ("cable", self.cable.map(Farads::value), "F"),
            ("input", self.input.map(Ohms::value), "Ω"),
            ("input capacitance", self.input_capacitance.map(Farads::value), "F"),
            ("volume", self.volume.map(Ohms::value), "Ω"),
            ("tone", self.tone.map(Ohms::value), "Ω"),
            ("inductance", self.inductance.map(Henries::value), "H"),
        ];
        let words = changes
            .into_iter()
            .filter_map(|(what, value, unit)| Some(format!("{what} {}", with_prefix(value?, unit))));
        let of_pickups = self.inductances.iter();
        let of_pickups = of_pickups.map(|(name, value)| format!("{name} {INDUCTANCE} {}", with_prefix(value.value(), "H")));
        words.chain(of_pickups).collect::<Vec<_>>().join(", ")
    }
}
