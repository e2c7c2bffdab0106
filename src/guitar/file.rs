//! Guitar files (TOML) → [`Guitar`]: every key, its range and its default.

use std::path::Path;

use super::case;
use super::ranges::{self, needed, quantity, share};
use super::taper::Taper;
use super::{Cable, Guitar, Hookup, Input, Joint, Load, LossCell, Pickup, Potentiometer, Tone, Volume};
use crate::document::{Document, Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_LOADS};
use crate::parts::network::Network;
use crate::source::Source;
use crate::units::{
    Decimal, Farads, Henries, Ohms, read_farads, read_farads_per_metre, read_henries, read_ohms, with_prefix, with_prefix_rounded,
};

pub(super) const HOOKUPS: [(&str, Hookup); 2] = [(Hookup::Rheostat.word(), Hookup::Rheostat), (Hookup::Shelf.word(), Hookup::Shelf)];
pub(super) const JOINTS: [(&str, Joint); 2] = [(Joint::Pickup.word(), Joint::Pickup), (Joint::Wiper.word(), Joint::Wiper)];

/// What is wrong with a file, gathered while the rest of it is read.
#[derive(Default)]
struct Mistakes(Vec<Error>);

impl Mistakes {
    /// What was read, or nothing and one mistake more.
    fn keep<T>(&mut self, read: Result<T>) -> Option<T> {
        read.map_err(|error| self.0.push(error)).ok()
    }
}

impl Guitar {
    /// Reads a guitar file; files named inside it are read from its folder.
    ///
    /// # Errors
    /// All mistakes in one, in the order of their places.
    pub fn read(source: &Source) -> Result<Self> {
        let document = Document::parse(source)?;
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
        let tables = ["pickup", "volume", "cable"].map(|key| mistakes.keep(root.need(key).map_err(whole_file)));
        let [pickup_table, volume_table, cable_table] = tables;
        let tone_table = root.get("tone");
        let pickup = pickup_table.and_then(|value| pickup(&value, mistakes));
        let volume = volume_table.and_then(|value| volume(&value, mistakes));
        let tone = match &tone_table {
            Some(value) => tone(value, mistakes).map(Some),
            None => Some(None),
        };
        let cable = cable_table.and_then(|value| mistakes.keep(cable(&value)));
        let input = input(root.get("input"), mistakes);
        let loads = mistakes.keep(loads(root.get("load")));
        let cases = mistakes.keep(case::from_file(root.get("case"), tone_table.is_some()));
        mistakes.keep(root.refuse_unknown());
        let (pickup, across) = pickup?;
        Some(Self {
            name: name?,
            series: series?,
            across,
            pickup,
            volume: volume?,
            tone: tone?,
            cable: cable?,
            input: input?,
            loads: loads?,
            cases: cases?,
        })
    }
}

/// Who has not even the tables is helped by a whole file.
fn whole_file(error: Error) -> Error {
    if error.kind() == ErrorKind::Missing {
        return error.help("knobwright guitar prints a whole file to start from: knobwright guitar humbucker");
    }
    error
}

fn name(value: Option<Value<'_>>, source: &Source) -> Result<String> {
    let Some(value) = value else {
        let stem = Path::new(source.name()).file_stem();
        return Ok(stem.map_or_else(|| source.name().to_owned(), |stem| stem.to_string_lossy().into_owned()));
    };
    value.name("a guitar", "Heron, bridge")
}

/// A fitted network; nothing when the key is left out or says `none`.
fn network(value: Option<Value<'_>>) -> Result<Option<Network>> {
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
    let inductance = mistakes.keep(needed(&section, "inductance", read_henries, &ranges::INDUCTANCE));
    let resistance = mistakes.keep(needed(&section, "resistance", read_ohms, &ranges::WINDING_RESISTANCE));
    let capacitance = mistakes.keep(needed(&section, "capacitance", read_farads, &ranges::WINDING_CAPACITANCE));
    let loss = match section.get("loss") {
        Some(cells) => mistakes.keep(loss(&cells, inductance.map_or(f64::INFINITY, Henries::value))),
        None => Some(Vec::new()),
    };
    let tolerance = mistakes.keep(share(section.get("tolerance")));
    let across = mistakes.keep(network(section.get("across")));
    mistakes.keep(section.finish());
    let pickup = Pickup {
        inductance: inductance?,
        resistance: resistance?,
        capacitance: capacitance?,
        loss: loss?,
        tolerance: tolerance?,
    };
    Some((pickup, across?))
}

fn loss(value: &Value<'_>, inductance: f64) -> Result<Vec<LossCell>> {
    let items = value.items()?;
    if items.len() > ranges::MOST_LOSS_CELLS {
        let message = format!("a pickup has at most {} loss cells", ranges::MOST_LOSS_CELLS);
        return Err(Error::at(&value.key_passage(), ErrorKind::Range, message).label(format!("{} cells", items.len())));
    }
    let mut cells = Vec::with_capacity(items.len());
    for item in &items {
        let section = item.section("a loss cell")?;
        cells.push(LossCell {
            inductance: quantity(&section.need("inductance")?, read_henries, &ranges::LOSS_INDUCTANCE)?,
            resistance: quantity(&section.need("resistance")?, read_ohms, &ranges::LOSS_RESISTANCE)?,
        });
        section.finish()?;
    }
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
    Ok(cells)
}

fn potentiometer(section: &Section<'_>, mistakes: &mut Mistakes) -> Option<Potentiometer> {
    let resistance = mistakes.keep(needed(section, "resistance", read_ohms, &ranges::TRACK));
    let taper = mistakes.keep(section.need("taper").map_err(usual_taper).and_then(|value| taper(&value)));
    let tolerance = mistakes.keep(share(section.get("tolerance")));
    Some(Potentiometer {
        resistance: resistance?,
        taper: taper?,
        tolerance: tolerance?,
    })
}

fn usual_taper(error: Error) -> Error {
    if error.kind() == ErrorKind::Missing {
        return error.help("not known? write taper = \"audio 15 %\", as many audio pots have it");
    }
    error
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

fn volume(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Volume> {
    let section = mistakes.keep(value.section("[volume]"))?;
    let pot = potentiometer(&section, mistakes);
    let bleed = mistakes.keep(network(section.get("bleed")));
    mistakes.keep(section.finish());
    Some(Volume { pot: pot?, bleed: bleed? })
}

fn tone(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Tone> {
    let section = mistakes.keep(value.section("[tone]"))?;
    let pot = potentiometer(&section, mistakes);
    let hookup = mistakes.keep(choice(section.get("hookup"), HOOKUPS, Hookup::Rheostat));
    let network_fitted = mistakes.keep(network(section.get("network")));
    let bypass = mistakes.keep(bypass(section.get("bypass"), hookup));
    let joined_at = mistakes.keep(choice(section.get("joined_at"), JOINTS, Joint::Pickup));
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

fn cable(value: &Value<'_>) -> Result<Cable> {
    let section = value.section("[cable]")?;
    let (whole, length, per_metre) = (section.get("capacitance"), section.get("length"), section.get("per_metre"));
    let tolerance = section.get("tolerance");
    let capacitance = match (whole, length, per_metre) {
        (Some(whole), None, None) => quantity(&whole, read_farads, &ranges::CABLE)?,
        (None, Some(length), Some(per_metre)) => long_cable(&length, &per_metre)?,
        (Some(_), Some(other), _) | (Some(_), None, Some(other)) => {
            let message = "a cable has a capacitance, or a length and a capacitance per metre, not both";
            return Err(Error::at(&other.key_passage(), ErrorKind::Conflict, message).label("`capacitance` is given already"));
        }
        (None, Some(lone), None) => return Err(half_cable(&lone, "per_metre")),
        (None, None, Some(lone)) => return Err(half_cable(&lone, "length")),
        (None, None, None) => {
            // A slip of the pen in one of the three is named before the lack of all of them.
            let missing = section.need("capacitance").err();
            let error = missing.filter(|error| error.kind() == ErrorKind::Unknown);
            return Err(match (error, section.finish()) {
                (Some(error), _) | (None, Err(error)) => error,
                (None, Ok(())) => Error::at(&value.passage(), ErrorKind::Missing, "the cable's capacitance is missing")
                    .label("[cable] needs `capacitance`, or `length` and `per_metre`")
                    .help(ranges::CABLE.typical()),
            });
        }
    };
    let tolerance = share(tolerance)?;
    section.finish()?;
    Ok(Cable { capacitance, tolerance })
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

fn loads(value: Option<Value<'_>>) -> Result<Vec<Load>> {
    let Some(value) = value else { return Ok(Vec::new()) };
    let items = value
        .items()
        .map_err(|error| error.help("a load stands under its own heading [[load]], in double brackets"))?;
    if let Some(beyond) = items.get(MOST_LOADS) {
        limits::count(items.len(), MOST_LOADS, "loads", &beyond.passage())?;
    }
    items.iter().map(load).collect()
}

fn load(value: &Value<'_>) -> Result<Load> {
    let section = value.section("[[load]]")?;
    let written = section.need("network")?;
    let network = network(Some(written.clone()))?.ok_or_else(|| {
        Error::at(&written.passage(), ErrorKind::Conflict, "a load that is `none` loads nothing")
            .label("expected a network")
            .help("leave the [[load]] out")
    })?;
    let at = choice(section.get("at"), JOINTS, Joint::Pickup)?;
    section.finish()?;
    Ok(Load { network, at })
}
