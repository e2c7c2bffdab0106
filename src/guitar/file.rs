//! Guitar files (TOML) → [`Guitar`]: every key, its range and its default.

use std::path::Path;

use super::case::{self, Has};
use super::ensemble::Lugs;
use super::ranges::{self, needed, quantity, share};
use super::taper::Taper;
use super::{Cable, Case, Guitar, Hookup, Input, Joint, Load, LossCell, Pickup, Potentiometer, Tone, Volume};
use crate::document::{Document, Mistakes, Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_LOADS};
use crate::parts::network::Network;
use crate::source::Source;
use crate::units::{
    Decimal, Farads, Fraction, Henries, Ohms, read_farads, read_farads_per_metre, read_henries, read_ohms, with_prefix, with_prefix_rounded,
};

pub(super) const HOOKUPS: [(&str, Hookup); 2] = [(Hookup::Rheostat.word(), Hookup::Rheostat), (Hookup::Shelf.word(), Hookup::Shelf)];
pub(super) const JOINTS: [(&str, Joint); 2] = [(Joint::Pickup.word(), Joint::Pickup), (Joint::Wiper.word(), Joint::Wiper)];

/// Of a control beside others: the output lug is the wiper only where the wiring is joined.
const OWN_JOINTS: [(&str, Joint); 3] = [("pickup", Joint::Pickup), ("output", Joint::Wiper), ("wiper", Joint::Wiper)];
const LUGS: [(&str, Lugs); 2] = [(Lugs::Joined.word(), Lugs::Joined), (Lugs::Independent.word(), Lugs::Independent)];

/// Who has not even the tables is helped by a whole file.
const WHOLE_FILE: &str = "knobwright guitar prints a whole file to start from: knobwright guitar humbucker";
const USUAL_TAPER: &str = "not known? write taper = \"audio 15 %\", as many audio pots have it";

impl Guitar {
    /// Reads a guitar file of one pickup.
    pub(super) fn read_single(document: &Document<'_>, source: &Source) -> Result<Self> {
        let mut mistakes = Mistakes::default();
        let read = Self::read_tables(&document.root("the guitar file"), source, &mut mistakes);
        match (read, Error::all(mistakes.0)) {
            (Some(guitar), None) => Ok(guitar),
            (_, Some(error)) => Err(error),
            // What is not read has its mistake.
            (None, None) => Err(Error::new(ErrorKind::Syntax, format!("`{}` is no guitar file", source.name()))),
        }
    }

    fn read_tables(root: &Section<'_>, source: &Source, mistakes: &mut Mistakes) -> Option<Self> {
        let name = mistakes.keep(name(root.get("name"), source));
        let series = mistakes.keep(network(root.get("series")));
        let [pickup_table, volume_table, cable_table] = ["pickup", "volume", "cable"].map(|key| mistakes.keep(need(root, key)));
        let tone_table = root.get("tone");
        let pickup = pickup_table.and_then(|value| pickup(&value, mistakes));
        let volume = volume_table.and_then(|value| volume(&value, mistakes));
        let tone = match &tone_table {
            Some(value) => tone(value, mistakes).map(Some),
            None => Some(None),
        };
        let has = Has {
            volume: true,
            tone: tone_table.is_some(),
            pickups: &[],
        };
        let rest = Rest::read(root, cable_table, has, mistakes);
        mistakes.keep(root.finish());
        let (pickup, across) = pickup?;
        let rest = rest?;
        Some(Self {
            cases: rest.cases.clone(),
            ..rest.guitar(name?, pickup, [series?, across], volume?, tone?)
        })
    }
}

pub(super) fn need<'d>(root: &Section<'d>, key: &'static str) -> Result<Value<'d>> {
    root.need(key).map_err(|error| error.help_if_missing(|| WHOLE_FILE.to_owned()))
}

/// What every guitar has, of however many pickups.
pub(super) struct Rest {
    pub(super) cases: Vec<Case>,
    cable: Cable,
    input: Input,
    loads: Vec<Load>,
}

impl Rest {
    pub(super) fn read(root: &Section<'_>, cable_table: Option<Value<'_>>, has: Has<'_>, mistakes: &mut Mistakes) -> Option<Self> {
        let cable = cable_table.and_then(|value| cable(&value, mistakes));
        let input = input(root.get("input"), mistakes);
        let loads = loads(root.get("load"), mistakes);
        let cases = case::from_file(root.get("case"), has, mistakes);
        Some(Self {
            cases: cases?,
            cable: cable?,
            input: input?,
            loads: loads?,
        })
    }

    /// A guitar of one pickup with a network in series and one across; the cases are left to the caller.
    pub(super) fn guitar(
        &self,
        name: String,
        pickup: Pickup,
        [series, across]: [Option<Network>; 2],
        volume: Volume,
        tone: Option<Tone>,
    ) -> Guitar {
        Guitar {
            name,
            series,
            across,
            pickup,
            volume,
            tone,
            cable: self.cable,
            input: self.input,
            loads: self.loads.clone(),
            ensemble: None,
            cases: Vec::new(),
        }
    }
}

pub(super) fn name(value: Option<Value<'_>>, source: &Source) -> Result<String> {
    let Some(value) = value else {
        let stem = Path::new(source.name()).file_stem();
        return Ok(stem.map_or_else(|| source.name().to_owned(), |stem| stem.to_string_lossy().into_owned()));
    };
    value.name("a guitar", "Heron, bridge")
}

/// A fitted network; nothing when the key is left out or says `none`.
pub(super) fn network(value: Option<Value<'_>>) -> Result<Option<Network>> {
    let Some(value) = value else { return Ok(None) };
    let written = value
        .text()
        .map_err(|error| error.help("a network is written like \"120k || 1n\" or \"none\""))?;
    let network = Network::read(&written)?;
    match network.as_ref().map(Network::free_parts).as_deref() {
        Some([free, ..]) => {
            let message = format!("`{}` is a free part; a guitar file holds what is fitted", free.name);
            Err(Error::at(&written, ErrorKind::Conflict, message)
                .label("expected a network of values, such as \"120k || 1n\"")
                .help("free parts go into a search, not into the file"))
        }
        _ => Ok(network),
    }
}

fn choice<T: Copy, const N: usize>(value: Option<Value<'_>>, choices: [(&'static str, T); N], default: T) -> Result<T> {
    let Some(value) = value else { return Ok(default) };
    let written = value.text()?;
    let words = choices.map(|(word, _)| word);
    match choices.iter().find(|(word, _)| *word == written.text()) {
        Some((_, choice)) => Ok(*choice),
        None => {
            let expected = words.map(|word| format!("\"{word}\"")).join(" or ");
            Err(
                Error::at(&written, ErrorKind::Unknown, format!("`{}` is not {expected}", written.text()))
                    .label(format!("expected {expected}"))
                    .nearest(written.text(), words),
            )
        }
    }
}

/// The pickup, and what is fitted across it.
fn pickup(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<(Pickup, Option<Network>)> {
    let section = mistakes.keep(value.section("[pickup]"))?;
    let pickup = winding(&section, mistakes);
    let across = mistakes.keep(network(section.get("across")));
    mistakes.keep(section.finish());
    Some((pickup?, across?))
}

/// The values of a pickup.
pub(super) fn winding(section: &Section<'_>, mistakes: &mut Mistakes) -> Option<Pickup> {
    let inductance = mistakes.keep(needed(section, "inductance", read_henries, &ranges::INDUCTANCE));
    let resistance = mistakes.keep(needed(section, "resistance", read_ohms, &ranges::WINDING_RESISTANCE));
    let capacitance = mistakes.keep(needed(section, "capacitance", read_farads, &ranges::WINDING_CAPACITANCE));
    let loss = match section.get("loss") {
        Some(cells) => loss(&cells, inductance.map_or(f64::INFINITY, Henries::value), mistakes),
        None => Some(Vec::new()),
    };
    let tolerance = mistakes.keep(share(section.get("tolerance")));
    Some(Pickup {
        inductance: inductance?,
        resistance: resistance?,
        capacitance: capacitance?,
        loss: loss?,
        tolerance: tolerance?,
    })
}

pub(super) fn loss(value: &Value<'_>, inductance: f64, mistakes: &mut Mistakes) -> Option<Vec<LossCell>> {
    let items = mistakes.keep(value.items())?;
    if items.len() > ranges::MOST_LOSS_CELLS {
        let message = format!("a pickup has at most {} loss cells", ranges::MOST_LOSS_CELLS);
        let error = Error::at(&value.key_passage(), ErrorKind::Range, message).label(format!("{} cells", items.len()));
        return mistakes.keep(Err(error));
    }
    let cells: Vec<Option<LossCell>> = items.iter().map(|item| loss_cell(item, mistakes)).collect();
    let cells: Vec<LossCell> = cells.into_iter().collect::<Option<_>>()?;
    mistakes.keep(check_whole(&cells, value, inductance))?;
    Some(cells)
}

fn loss_cell(item: &Value<'_>, mistakes: &mut Mistakes) -> Option<LossCell> {
    let section = mistakes.keep(item.section("a loss cell"))?;
    let inductance = mistakes.keep(needed(&section, "inductance", read_henries, &ranges::LOSS_INDUCTANCE));
    let resistance = mistakes.keep(needed(&section, "resistance", read_ohms, &ranges::LOSS_RESISTANCE));
    mistakes.keep(section.finish());
    Some(LossCell {
        inductance: inductance?,
        resistance: resistance?,
    })
}

/// The loss cells are parts of the pickup's inductance.
fn check_whole(cells: &[LossCell], value: &Value<'_>, inductance: f64) -> Result<()> {
    let total: f64 = cells.iter().map(|cell| cell.inductance.value()).sum();
    // The sum of decimal values may come out a rounding above their decimal sum.
    if total > inductance * (1.0 + 1e-12) {
        let message = format!(
            "the loss cells hold {}, more than the pickup's {}",
            with_prefix_rounded(total, "H", 6),
            with_prefix(inductance, "H")
        );
        return Err(Error::at(&value.passage(), ErrorKind::Conflict, message)
            .label(format!("together at most {}", with_prefix(inductance, "H")))
            .help("the inductances of the loss cells are parts of the pickup's inductance, which an LCR meter reads at 100 to 120 Hz"));
    }
    Ok(())
}

pub(super) fn potentiometer(section: &Section<'_>, mistakes: &mut Mistakes) -> Option<Potentiometer> {
    let resistance = mistakes.keep(needed(section, "resistance", read_ohms, &ranges::TRACK));
    let written = section
        .need("taper")
        .map_err(|error| error.help_if_missing(|| USUAL_TAPER.to_owned()));
    let taper = mistakes.keep(written.and_then(|value| taper(&value)));
    let tolerance = mistakes.keep(share(section.get("tolerance")));
    let taper_tolerance = mistakes.keep(taper_tolerance(section, taper.as_ref()));
    Some(Potentiometer {
        resistance: resistance?,
        taper: taper?,
        tolerance: tolerance?,
        taper_tolerance: taper_tolerance?,
    })
}

/// Of a taper that was measured nothing varies.
fn taper_tolerance(section: &Section<'_>, taper: Option<&Taper>) -> Result<Option<Fraction>> {
    let value = section.get("taper_tolerance");
    if let (Some(value), Some(Taper::Table(_))) = (&value, taper) {
        let message = "a measured taper is taken as it was measured";
        return Err(Error::at(&value.key_passage(), ErrorKind::Conflict, message)
            .label("not beside measured points")
            .help("leave it out"));
    }
    share(value)
}

fn taper(value: &Value<'_>) -> Result<Taper> {
    if !value.is_table() {
        let written = value
            .text()
            .map_err(|error| error.help("a taper is \"linear\", \"audio 15 %\" or { table = \"pot.csv\" }"))?;
        return Taper::read(&written);
    }
    let section = value.section("a measured taper")?;
    if let Some(points) = section.get("points") {
        if let Some(table) = section.get("table") {
            let message = "a measured taper has a table or points, not both";
            return Err(Error::at(&table.key_passage(), ErrorKind::Conflict, message).label("`points` are given already"));
        }
        section.finish()?;
        return Taper::read_points(&points);
    }
    let path = section.need("table")?.text()?;
    section.finish()?;
    let table = path.source().open_beside(path.text()).map_err(|message| {
        Error::at(&path, ErrorKind::File, message)
            .label("this file")
            .help("a path is seen from the folder of the guitar file")
    })?;
    Taper::read_table(&table)
}

/// The volume control for all pickups.
pub(super) fn volume(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Volume> {
    let section = mistakes.keep(value.section("[volume]"))?;
    let volume = volume_keys(&section, mistakes);
    mistakes.keep(section.finish());
    volume
}

/// A pickup's own volume control, and how it is wired.
pub(super) fn own_volume(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<(Volume, Lugs)> {
    let section = mistakes.keep(value.section("a pickup's volume control"))?;
    let volume = volume_keys(&section, mistakes);
    let lugs = mistakes.keep(choice(section.get("wiring"), LUGS, Lugs::Joined));
    mistakes.keep(section.finish());
    Some((volume?, lugs?))
}

fn volume_keys(section: &Section<'_>, mistakes: &mut Mistakes) -> Option<Volume> {
    let pot = potentiometer(section, mistakes);
    let bleed = mistakes.keep(network(section.get("bleed")));
    Some(Volume {
        pot: pot?,
        bleed: bleed?,
        is_fitted: true,
    })
}

fn tone(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Tone> {
    tone_joined(value, JOINTS, mistakes)
}

/// A tone control in a guitar of several pickups.
pub(super) fn tone_beside(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Tone> {
    tone_joined(value, OWN_JOINTS, mistakes)
}

fn tone_joined<const N: usize>(value: &Value<'_>, joints: [(&'static str, Joint); N], mistakes: &mut Mistakes) -> Option<Tone> {
    let section = mistakes.keep(value.section("[tone]"))?;
    let pot = potentiometer(&section, mistakes);
    let hookup = mistakes.keep(choice(section.get("hookup"), HOOKUPS, Hookup::Rheostat));
    let network_fitted = mistakes.keep(network(section.get("network")));
    let bypass = mistakes.keep(bypass(section.get("bypass"), hookup));
    let joined_at = mistakes.keep(choice(section.get("joined_at"), joints, Joint::Pickup));
    let no_load = mistakes.keep(section.get("no_load").map_or(Ok(false), |value| value.boolean()));
    mistakes.keep(section.finish());
    Some(Tone {
        pot: pot?,
        network: network_fitted?,
        bypass: bypass?,
        hookup: hookup?,
        joined_at: joined_at?,
        no_load: no_load?,
    })
}

fn bypass(value: Option<Value<'_>>, hookup: Option<Hookup>) -> Result<Option<Network>> {
    if let (Some(bypass), Some(Hookup::Rheostat)) = (&value, hookup) {
        let message = "`bypass` belongs to the shelf hookup; this tone control is a rheostat";
        return Err(Error::at(&bypass.key_passage(), ErrorKind::Conflict, message)
            .label("not with hookup = \"rheostat\"")
            .help("write hookup = \"shelf\", or leave the bypass out"));
    }
    network(value)
}

fn cable(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Cable> {
    let section = mistakes.keep(value.section("[cable]"))?;
    let capacitance = mistakes.keep(cable_capacitance(value, &section));
    let tolerance = mistakes.keep(share(section.get("tolerance")));
    mistakes.keep(section.finish());
    Some(Cable {
        capacitance: capacitance?,
        tolerance: tolerance?,
    })
}

fn cable_capacitance(value: &Value<'_>, section: &Section<'_>) -> Result<Farads> {
    match (section.get("capacitance"), section.get("length"), section.get("per_metre")) {
        (Some(whole), None, None) => quantity(&whole, read_farads, &ranges::CABLE),
        (None, Some(length), Some(per_metre)) => long_cable(&length, &per_metre),
        (Some(_), Some(other), _) | (Some(_), None, Some(other)) => {
            let message = "a cable has a capacitance, or a length and a capacitance per metre, not both";
            Err(Error::at(&other.key_passage(), ErrorKind::Conflict, message).label("`capacitance` is given already"))
        }
        (None, Some(lone), None) => Err(half_cable(&lone, "per_metre")),
        (None, None, Some(lone)) => Err(half_cable(&lone, "length")),
        (None, None, None) => {
            // A slip of the pen in one of the three is named before the lack of all of them.
            let slip = ["capacitance", "length", "per_metre"]
                .into_iter()
                .filter_map(|key| section.need(key).err());
            let slip = slip.filter(|error| error.kind() == ErrorKind::Unknown).last();
            Err(slip.unwrap_or_else(|| {
                Error::at(&value.passage(), ErrorKind::Missing, "the cable's capacitance is missing")
                    .label("[cable] needs `capacitance`, or `length` and `per_metre`")
                    .help(ranges::CABLE.typical())
            }))
        }
    }
}

/// More figures than a length and a capacitance per metre have together, fewer than a double.
const PRODUCT_FIGURES: usize = 14;

fn long_cable(length: &Value<'_>, per_metre: &Value<'_>) -> Result<Farads> {
    let metres = ranges::length(length)?;
    let farads = quantity(per_metre, read_farads_per_metre, &ranges::PER_METRE)?.value() * metres;
    // The product of two decimals, without the rounding of doubles in it: 9 m at 110 pF are 990 pF.
    let farads = Decimal::rounded(farads, PRODUCT_FIGURES)
        .and_then(|product| product.value())
        .unwrap_or(farads);
    Farads::new(farads).filter(|_| ranges::CABLE.hold(farads)).ok_or_else(|| {
        let message = format!(
            "a cable of {} is outside {}",
            with_prefix_rounded(farads, "F", 4),
            ranges::CABLE.words()
        );
        Error::at(&length.passage(), ErrorKind::Range, message).label("times the capacitance per metre")
    })
}

fn half_cable(lone: &Value<'_>, other: &str) -> Error {
    let message = format!("`{other}` is missing from [cable]");
    Error::at(&lone.key_passage(), ErrorKind::Missing, message).label(format!("goes with `{other}`"))
}

fn input(value: Option<Value<'_>>, mistakes: &mut Mistakes) -> Option<Input> {
    let Some(value) = value else {
        return Some(Input {
            resistance: Ohms::MEGOHM,
            capacitance: Farads::ZERO,
        });
    };
    let section = mistakes.keep(value.section("[input]"))?;
    let resistance = match section.get("resistance") {
        Some(value) => mistakes.keep(quantity(&value, read_ohms, &ranges::INPUT_RESISTANCE)),
        None => Some(Ohms::MEGOHM),
    };
    let capacitance = match section.get("capacitance") {
        Some(value) => mistakes.keep(quantity(&value, read_farads, &ranges::INPUT_CAPACITANCE)),
        None => Some(Farads::ZERO),
    };
    mistakes.keep(section.finish());
    Some(Input {
        resistance: resistance?,
        capacitance: capacitance?,
    })
}

fn loads(value: Option<Value<'_>>, mistakes: &mut Mistakes) -> Option<Vec<Load>> {
    let Some(value) = value else { return Some(Vec::new()) };
    let items = value
        .items()
        .map_err(|error| error.help("a load stands under its own heading [[load]], in double brackets"));
    let items = mistakes.keep(items)?;
    if let Some(beyond) = items.get(MOST_LOADS) {
        mistakes.keep(limits::count(items.len(), MOST_LOADS, "loads", &beyond.passage()))?;
    }
    let loads: Vec<Option<Load>> = items.iter().map(|item| load(item, mistakes)).collect();
    loads.into_iter().collect()
}

fn load(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Load> {
    let section = mistakes.keep(value.section("[[load]]"))?;
    let network = mistakes.keep(section.need("network").and_then(|written| {
        network(Some(written.clone()))?.ok_or_else(|| {
            Error::at(&written.passage(), ErrorKind::Conflict, "a load that is `none` loads nothing")
                .label("expected a network")
                .help("leave the [[load]] out")
        })
    }));
    let at = mistakes.keep(choice(section.get("at"), JOINTS, Joint::Pickup));
    mistakes.keep(section.finish());
    Some(Load {
        network: network?,
        at: at?,
    })
}
