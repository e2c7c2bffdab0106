//! What a free part may be: which series, which range, or which drawers.

use super::network::{FreePart, Kind, Network};
use super::pairs::{Joined, Pair};
use super::series::Series;
use super::stock::Stock;
use crate::error::{Error, ErrorKind, Result, nearest};
use crate::source::{Passage, Source};
use crate::units::{read_farads, read_ohms, with_prefix};

/// Which parts a rule is for: a part's name or a kind's letter, in one slot or in all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    /// The slot's word, if only one is meant.
    pub slot: Option<String>,
    /// `R`, `C`, or a numbered name such as `R1`.
    pub part: String,
}

/// A closed range of values in Ω or F.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Smallest.
    pub low: f64,
    /// Largest.
    pub high: f64,
}

/// What the user said about where values come from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rules {
    /// Series by key, in written order; the first that fits a rank of keys is taken.
    pub series: Vec<(Key, Series)>,
    /// Ranges by key.
    pub ranges: Vec<(Key, Range)>,
    /// Only what is listed here, instead of a series.
    pub stock: Option<Stock>,
    /// Whether two stocked parts may stand for one.
    pub pairs: bool,
}

/// One thing a free part may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// In Ω or F.
    pub value: f64,
    /// The two parts that stand for it; `None` for a single part.
    pub pair: Option<Pair>,
}

/// More pairs than this are not made of one stock list.
const MOST_PAIRS: usize = 5_000_000;

/// Values whose ratio is closer to 1 than this are one value.
const SAME_VALUE: f64 = 1e-9;

impl Rules {
    /// Reads `R=E24,C=E12` and adds it.
    ///
    /// # Errors
    /// Where the text is no list of keys and series; `slots` are the words known as slots.
    pub fn add_series(&mut self, text: &Passage<'_>, slots: &[&str]) -> Result<()> {
        for item in items(text) {
            let (key, value) = key_and_value(&item, slots, "R=E24,C=E12")?;
            let series = Series::named(value.text()).ok_or_else(|| {
                let names = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"];
                Error::at(
                    &value,
                    ErrorKind::Unknown,
                    format!("`{}` is no series of standard values", value.text()),
                )
                .label("expected a series")
                .nearest(value.text(), names)
                .help(format!("series: {}", names.join(", ")))
            })?;
            refuse_twice(&self.series, &key, &item)?;
            self.series.push((key, series));
        }
        Ok(())
    }

    /// Reads `R=1k..1M,C=100p..22n` and adds it.
    ///
    /// # Errors
    /// Where the text is no list of keys and ranges; `slots` are the words known as slots.
    pub fn add_ranges(&mut self, text: &Passage<'_>, slots: &[&str]) -> Result<()> {
        for item in items(text) {
            let (key, value) = key_and_value(&item, slots, "R=1k..1M,C=100p..22n")?;
            let range = read_range(&value, key.kind())?;
            refuse_twice(&self.ranges, &key, &item)?;
            self.ranges.push((key, range));
        }
        Ok(())
    }

    /// Reads `KEY=…,KEY=…`, each key once; what stands behind a key is left to the caller.
    ///
    /// # Errors
    /// Where the text is no such list; `slots` are the words known as slots.
    pub fn read_keys<'t>(text: &Passage<'t>, slots: &[&str], example: &str) -> Result<Vec<(Key, Passage<'t>)>> {
        let mut found: Vec<(Key, Passage<'t>)> = Vec::new();
        for item in items(text) {
            let (key, value) = key_and_value(&item, slots, example)?;
            refuse_twice(&found, &key, &item)?;
            found.push((key, value));
        }
        Ok(found)
    }

    /// Everything a free part may be, by value, a single part before pairs of the same value; never empty. `left_out` is the way of joining that
    /// no pair has here.
    ///
    /// # Errors
    /// When there is nothing to choose from, with the range and the nearest value there would be, or when there are too many pairs.
    pub fn choices(&self, slot: &str, part: &FreePart, default_range: Range, left_out: Option<Joined>) -> Result<Vec<Choice>> {
        let range = self.range(slot, part, default_range);
        let single = |value| Choice { value, pair: None };
        let mut choices: Vec<Choice> = match &self.stock {
            Some(stock) => stock
                .values(part.kind)
                .into_iter()
                .filter(|value| range.holds(*value))
                .map(single)
                .collect(),
            None => self
                .series_of(slot, part)
                .values(range.low, range.high)
                .into_iter()
                .map(single)
                .collect(),
        };
        if let Some(stock) = self.stock.as_ref().filter(|_| self.pairs) {
            choices.extend(pairs(stock, part.kind, range, left_out)?);
            // A stable sort: singles stay before pairs, and pairs of one value in the order they were made.
            choices.sort_by(|one, other| one.value.total_cmp(&other.value));
        }
        if choices.is_empty() {
            return Err(self.nothing(slot, part, range));
        }
        Ok(choices)
    }

    /// The standard values of a free part that are not in stock, ascending; none without a stock list.
    #[must_use]
    pub fn for_sale(&self, slot: &str, part: &FreePart, default_range: Range) -> Vec<f64> {
        let Some(stock) = &self.stock else {
            return Vec::new();
        };
        let range = self.range(slot, part, default_range);
        let stocked = stock.values(part.kind);
        let is_stocked = |value: &f64| stocked.iter().any(|stocked| (stocked / value - 1.0).abs() < SAME_VALUE);
        let mut values = self.series_of(slot, part).values(range.low, range.high);
        values.retain(|value| !is_stocked(value));
        values
    }

    fn range(&self, slot: &str, part: &FreePart, default_range: Range) -> Range {
        pick(&self.ranges, slot, part).unwrap_or(default_range)
    }

    /// The keys that name a slot or a numbered part and that none of the given free parts answers to. A bare kind is for whatever there is.
    #[must_use]
    pub fn unused_keys<'p>(&self, parts: &[(&'p str, &'p FreePart)]) -> Vec<&Key> {
        let keys = self.series.iter().map(|(key, _)| key).chain(self.ranges.iter().map(|(key, _)| key));
        let specific = |key: &&Key| key.slot.is_some() || key.part.len() > 1;
        let unanswered = |key: &&Key| !parts.iter().any(|(slot, part)| key.fits(slot, part));
        keys.filter(specific).filter(unanswered).collect()
    }

    /// The series that a free part's values come from; `None` where a stock list takes its place.
    #[must_use]
    pub fn listed_series(&self, slot: &str, part: &FreePart) -> Option<Series> {
        self.stock.is_none().then(|| self.series_of(slot, part))
    }

    fn series_of(&self, slot: &str, part: &FreePart) -> Series {
        pick(&self.series, slot, part).unwrap_or(match part.kind {
            Kind::Resistor => Series::E24,
            Kind::Capacitor => Series::E12,
        })
    }

    fn nothing(&self, slot: &str, part: &FreePart, range: Range) -> Error {
        let unit = unit(part.kind);
        let range_text = format!("{} to {}", with_prefix(range.low, unit), with_prefix(range.high, unit));
        let message = format!("nothing to choose from for {slot}.{}: no value from {range_text}", part.name);
        let error = Error::new(ErrorKind::Search, message);
        let Some(stock) = &self.stock else {
            return match self.series_of(slot, part).nearest((range.low * range.high).sqrt()) {
                Some(near) => error.help(format!("the nearest standard value is {}", with_prefix(near, unit))),
                None => error,
            };
        };
        let every = stock.values(part.kind);
        let middle = (range.low * range.high).sqrt();
        let distance = |value: &f64| (value / middle).ln().abs();
        match every.iter().min_by(|one, other| distance(one).total_cmp(&distance(other))) {
            Some(near) => error.help(format!("the nearest value in stock is {}", with_prefix(*near, unit))),
            None => error.help("the stock list holds no such part at all"),
        }
    }
}

impl Key {
    /// The kind of part it is for.
    #[must_use]
    pub fn kind(&self) -> Kind {
        if self.part.starts_with('R') {
            Kind::Resistor
        } else {
            Kind::Capacitor
        }
    }

    fn fits(&self, slot: &str, part: &FreePart) -> bool {
        self.slot.as_deref().is_none_or(|only| only == slot) && (self.part == part.name || self.part == part.kind.letter())
    }
}

impl std::fmt::Display for Key {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.slot {
            Some(slot) => write!(formatter, "{slot}.{}", self.part),
            None => formatter.write_str(&self.part),
        }
    }
}

/// What is said about a part in a slot (or another place with a word of its own), by the nearest key.
pub(crate) fn pick_for<T: Copy>(rules: &[(Key, T)], place: &str, part: &FreePart) -> Option<T> {
    pick(rules, place, part)
}

/// SLOT.PART, PART, SLOT.KIND, KIND: the first of these that is given wins.
pub fn pick<T: Copy>(rules: &[(Key, T)], slot: &str, part: &FreePart) -> Option<T> {
    let letter = part.kind.letter();
    let ranks = [
        (Some(slot), part.name.as_str()),
        (None, &part.name),
        (Some(slot), letter),
        (None, letter),
    ];
    ranks.iter().find_map(|(slot, name)| {
        let fits = |key: &Key| key.slot.as_deref() == *slot && key.part == *name;
        rules.iter().find(|(key, _)| fits(key)).map(|(_, rule)| *rule)
    })
}

impl Range {
    fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// Every pair of stocked parts whose value lies in the range.
fn pairs(stock: &Stock, kind: Kind, range: Range, left_out: Option<Joined>) -> Result<Vec<Choice>> {
    let values = stock.values(kind);
    if values.len().saturating_mul(values.len()) > MOST_PAIRS {
        let message = format!(
            "--pairs: a stock list of {} {} values makes too many pairs",
            values.len(),
            kind.word()
        );
        return Err(Error::new(ErrorKind::Search, message).help("leave --pairs out, or shorten the list"));
    }
    let choice = |pair: Pair| Choice {
        value: pair.value(kind),
        pair: Some(pair),
    };
    let choices = Pair::all(&values, left_out).map(choice);
    Ok(choices.filter(|choice| range.holds(choice.value)).collect())
}

/// The unit a kind's values are printed with.
#[must_use]
pub fn unit(kind: Kind) -> &'static str {
    match kind {
        Kind::Resistor => "Ω",
        Kind::Capacitor => "F",
    }
}

/// The items of a list with commas, trimmed.
#[must_use]
pub fn items<'t>(text: &Passage<'t>) -> Vec<Passage<'t>> {
    let mut start = 0;
    let mut found = Vec::new();
    for piece in text.text().split(',') {
        found.push(text.part(start..start + piece.len()).trimmed());
        start += piece.len() + 1;
    }
    found
}

fn key_and_value<'t>(item: &Passage<'t>, slots: &[&str], example: &str) -> Result<(Key, Passage<'t>)> {
    let (key, value) = halves(item, example)?;
    Ok((read_key(&key, slots)?, value))
}

/// An item of a list with its two halves: `bleed.C=10%`.
type Assigned<'t> = (Passage<'t>, Passage<'t>, Passage<'t>);

/// Every item of `KEY=VALUE,…` with its key and value.
pub(crate) fn assigned<'t>(text: &Passage<'t>, example: &str) -> Result<Vec<Assigned<'t>>> {
    let split = |item: Passage<'t>| {
        let (key, value) = halves(&item, example)?;
        Ok((item, key, value))
    };
    items(text).into_iter().map(split).collect()
}

fn halves<'t>(item: &Passage<'t>, example: &str) -> Result<(Passage<'t>, Passage<'t>)> {
    let Some(equals) = item.text().find('=') else {
        return Err(
            Error::at(item, ErrorKind::Syntax, format!("expected `part=…`, found `{}`", item.text()))
                .label("no `=` here")
                .help(format!("for example: {example}")),
        );
    };
    let key = item.part(0..equals).trimmed();
    let value = item.part(equals + 1..item.text().len()).trimmed();
    Ok((key, value))
}

pub(crate) fn read_key(text: &Passage<'_>, slots: &[&str]) -> Result<Key> {
    let (slot, part) = match text.text().split_once('.') {
        Some((slot, part)) => (Some(slot), part),
        None => (None, text.text()),
    };
    if let Some(unknown) = slot.filter(|slot| !slots.contains(slot)) {
        return Err(Error::at(text, ErrorKind::Unknown, format!("`{unknown}` is no slot"))
            .label("expected a slot before the dot")
            .nearest(unknown, slots.iter().copied())
            .help(format!("slots: {}", slots.join(", "))));
    }
    let digits = part.strip_prefix(['R', 'C']);
    if !digits.is_some_and(|digits| digits.bytes().all(|byte| byte.is_ascii_digit())) {
        let error = Error::at(text, ErrorKind::Unknown, format!("`{part}` is no free part"));
        let error = error.label("expected R or C with an optional number");
        return Err(match nearest(part, ["R", "C"]) {
            Some(word) => error.help(format!("did you mean `{word}`?")),
            None => error.help("keys: R, C, R1, bleed.R, tone.C1, …"),
        });
    }
    Ok(Key {
        slot: slot.map(str::to_owned),
        part: part.to_owned(),
    })
}

pub(crate) fn refuse_twice<T>(rules: &[(Key, T)], key: &Key, item: &Passage<'_>) -> Result<()> {
    if rules.iter().any(|(known, _)| known == key) {
        return Err(Error::at(item, ErrorKind::Conflict, format!("`{key}` is given twice")).label("the second time"));
    }
    Ok(())
}

fn read_range(text: &Passage<'_>, kind: Kind) -> Result<Range> {
    let Some(dots) = text.text().find("..") else {
        return Err(
            Error::at(text, ErrorKind::Syntax, format!("expected a range, found `{}`", text.text()))
                .label("no `..` here")
                .help("a range has both its ends: 1k..1M"),
        );
    };
    let low = read_end(&text.part(0..dots).trimmed(), kind)?;
    let high = read_end(&text.part(dots + 2..text.text().len()).trimmed(), kind)?;
    if low > high {
        return Err(Error::at(text, ErrorKind::Range, "the range is empty: its lower end is above its upper end").label("swap the ends"));
    }
    Ok(Range { low, high })
}

/// Reads one value of a kind, within what a range may hold.
///
/// # Errors
/// Where it is none.
pub fn read_end(text: &Passage<'_>, kind: Kind) -> Result<f64> {
    let limits = match kind {
        Kind::Resistor => Range { low: 0.01, high: 1e9 },
        Kind::Capacitor => Range { low: 1e-14, high: 1e-2 },
    };
    let value = match kind {
        Kind::Resistor => read_ohms(text)?.value(),
        Kind::Capacitor => read_farads(text)?.value(),
    };
    if !(limits.low <= value && value <= limits.high) {
        let (low, high) = (with_prefix(limits.low, unit(kind)), with_prefix(limits.high, unit(kind)));
        return Err(Error::at(text, ErrorKind::Range, format!("`{}` is out of range", text.text())).label(format!("from {low} to {high}")));
    }
    Ok(value)
}

/// Reads `SLOT=NETWORK`, as `--with` and `--search` take it: the slot's word and the network.
///
/// # Errors
/// Where the text is none.
pub fn read_assignment(source: &Source, slots: &[&str]) -> Result<(String, Option<Network>)> {
    read_assignment_in(&source.passage(), slots)
}

/// As [`read_assignment`], from a part of a longer text.
///
/// # Errors
/// Where the text is none.
pub fn read_assignment_in(text: &Passage<'_>, slots: &[&str]) -> Result<(String, Option<Network>)> {
    let Some(equals) = text.text().find('=') else {
        return Err(
            Error::at(text, ErrorKind::Syntax, format!("expected SLOT=NETWORK, found `{}`", text.text()))
                .label("no `=` here")
                .help("for example: bleed=120k || 1n"),
        );
    };
    let slot = text.part(0..equals).trimmed();
    if !slots.contains(&slot.text()) {
        return Err(Error::at(&slot, ErrorKind::Unknown, format!("`{}` is no slot", slot.text()))
            .label("expected a slot")
            .nearest(slot.text(), slots.iter().copied())
            .help(format!("slots: {}", slots.join(", "))));
    }
    let network = Network::read(&text.part(equals + 1..text.text().len()).trimmed())?;
    Ok((slot.text().to_owned(), network))
}
