//! What a guitar file may say: the range of each quantity, and how one is read within it.

use crate::document::{Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::units::{Decimal, Farads, Fraction, Henries, Ohms, read_fraction, read_metres, with_prefix};

/// A closed range of a quantity in its SI unit.
pub(super) struct Limits {
    what: &'static str,
    unit: &'static str,
    low: f64,
    high: f64,
    help: &'static str,
    /// What to write where the value is not known; empty where it can be left out.
    typical: &'static str,
}

pub(super) const INDUCTANCE: Limits = limits("a pickup's inductance", "H", 0.01, 50.0, "most pickups have 1 to 10 H")
    .or_else("write inductance = \"2.6 H\" for a single coil, or inductance = \"4.4 H\" for a humbucker");
pub(super) const WINDING_RESISTANCE: Limits = limits("a pickup's resistance", "Ω", 0.0, 100e3, "most pickups have 4 to 17 kΩ")
    .or_else("write resistance = \"6.2 k\" for a single coil, or resistance = \"8 k\" for a humbucker");
pub(super) const WINDING_CAPACITANCE: Limits =
    limits("a pickup's capacitance", "F", 0.0, 10e-9, "most pickups have 60 to 200 pF").or_else("write capacitance = \"120 p\"");
pub(super) const LOSS_INDUCTANCE: Limits = limits(
    "a loss cell's inductance",
    "H",
    1e-6,
    50.0,
    "it is a part of the pickup's inductance",
);
pub(super) const LOSS_RESISTANCE: Limits = limits("a loss cell's resistance", "Ω", 1.0, 100e6, "loss cells have some 10 to 100 kΩ");
pub(super) const TRACK: Limits = limits(
    "a potentiometer",
    "Ω",
    1e3,
    10e6,
    "guitars have 250 kΩ and 500 kΩ, some 300 kΩ and 1 MΩ",
)
.or_else("write resistance = \"250 k\" with single coils, or resistance = \"500 k\" with humbuckers");
pub(super) const CABLE: Limits =
    limits("a cable", "F", 0.0, 20e-9, "a cable has about 100 pF a metre").or_else("write capacitance = \"500 p\"");
pub(super) const PER_METRE: Limits = limits(
    "a cable's capacitance per metre",
    "F",
    1e-12,
    1e-9,
    "most cables have 80 to 130 pF a metre",
);
pub(super) const INPUT_RESISTANCE: Limits = limits("an input's resistance", "Ω", 1e3, 1e12, "amplifiers have 1 MΩ");
pub(super) const INPUT_CAPACITANCE: Limits = limits("an input's capacitance", "F", 0.0, 20e-9, "amplifiers have up to some 100 pF");

/// More eddy-loss cells than any measurement can tell apart.
pub(super) const MOST_LOSS_CELLS: usize = 16;

/// No longer cable is meant, in m; with the capacitance per metre it must still be a [`CABLE`].
const LONGEST_CABLE: f64 = 1000.0;

const fn limits(what: &'static str, unit: &'static str, low: f64, high: f64, help: &'static str) -> Limits {
    Limits {
        what,
        unit,
        low,
        high,
        help,
        typical: "",
    }
}

impl Limits {
    const fn or_else(self, typical: &'static str) -> Self {
        Self { typical, ..self }
    }

    /// What is usual, and what to write where the value is not known.
    pub(super) fn typical(&self) -> String {
        match self.typical {
            "" => self.help.to_owned(),
            typical => format!("{}; not known? {typical}", self.help),
        }
    }

    pub(super) fn hold(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// A text in quotes; a bare number is answered with the readings that lie in the range.
    pub(super) fn quoted<'d>(&self, value: &Value<'d>) -> Result<Passage<'d>> {
        quoted(value, |number| self.readings(number))
    }

    /// What a number without its unit can mean within the range, at most two readings, the one nearest to the middle of the range first.
    fn readings(&self, number: f64) -> Vec<String> {
        /// Where a range begins at zero, nothing so far below its upper end is meant.
        const LEAST_SHARE: f64 = 5e-5;
        /// Outside of these a number has the noughts that a prefix would save: it is in the unit itself.
        const PREFIXED: std::ops::Range<f64> = 1e-3..1e4;
        let powers: &[i32] = match self.unit {
            _ if self.hold(number) && !PREFIXED.contains(&number.abs()) => &[0],
            "F" => &[0, -6, -9, -12],
            "H" => &[0, -3],
            _ => &[0, 3, 6],
        };
        let low = if self.low > 0.0 { self.low } else { self.high * LEAST_SHARE };
        let middle = (low * self.high).sqrt();
        let written = Decimal::of(number);
        let scaled = |power: &i32| written.clone().and_then(|written| written.times_ten_to(*power).value());
        let mut values: Vec<f64> = powers
            .iter()
            .filter_map(scaled)
            .filter(|value| (low..=self.high).contains(value))
            .collect();
        values.sort_by(|one, other| (one / middle).ln().abs().total_cmp(&(other / middle).ln().abs()));
        if values.is_empty() {
            values.push(number);
        }
        values.iter().take(2).map(|value| with_prefix(*value, self.unit)).collect()
    }

    /// What is usual.
    pub(super) const fn usual(&self) -> &'static str {
        self.help
    }

    pub(super) fn words(&self) -> String {
        format!("{} to {}", with_prefix(self.low, self.unit), with_prefix(self.high, self.unit))
    }
}

/// A quantity as its SI number.
pub(super) trait Number: Copy {
    fn number(self) -> f64;
}

impl Number for Ohms {
    fn number(self) -> f64 {
        self.value()
    }
}

impl Number for Farads {
    fn number(self) -> f64 {
        self.value()
    }
}

impl Number for Henries {
    fn number(self) -> f64 {
        self.value()
    }
}

/// Reads a quantity written in quotes and holds it to its range.
pub(super) fn quantity<T: Number>(value: &Value<'_>, read: fn(&Passage<'_>) -> Result<T>, limits: &Limits) -> Result<T> {
    held(&limits.quoted(value)?, read, limits)
}

/// Reads a quantity that must be there; where it is not, what is usual is said.
pub(super) fn needed<T: Number>(
    section: &Section<'_>,
    key: &'static str,
    read: fn(&Passage<'_>) -> Result<T>,
    limits: &Limits,
) -> Result<T> {
    let written = section.need(key).map_err(|error| error.help_if_missing(|| limits.typical()));
    quantity(&written?, read, limits)
}

/// Reads a quantity that may be left out.
pub(super) fn optional<T: Number>(
    section: &Section<'_>,
    key: &'static str,
    read: fn(&Passage<'_>) -> Result<T>,
    limits: &Limits,
) -> Result<Option<T>> {
    section.get(key).map(|value| quantity(&value, read, limits)).transpose()
}

/// Reads a quantity and holds it to its range.
pub(super) fn held<T: Number>(written: &Passage<'_>, read: fn(&Passage<'_>) -> Result<T>, limits: &Limits) -> Result<T> {
    let quantity = read(written)?;
    if limits.hold(quantity.number()) {
        return Ok(quantity);
    }
    let message = format!(
        "{} of {} is outside {}",
        limits.what,
        with_prefix(quantity.number(), limits.unit),
        limits.words()
    );
    Err(Error::at(written, ErrorKind::Range, message)
        .label(format!("expected {}", limits.words()))
        .help(limits.help))
}

/// Reads a cable's length in m.
pub(super) fn length(value: &Value<'_>) -> Result<f64> {
    let written = quoted(value, |number| vec![format!("{number} m")])?;
    let metres = read_metres(&written)?;
    if (0.0..=LONGEST_CABLE).contains(&metres) {
        return Ok(metres);
    }
    let message = format!("a cable's length of {metres} m is outside 0 to {LONGEST_CABLE} m");
    Err(Error::at(&written, ErrorKind::Range, message).label("expected metres, such as \"4.5 m\""))
}

/// Reads a tolerance: 0 up to below 100 %.
pub(super) fn share(value: Option<Value<'_>>) -> Result<Option<Fraction>> {
    let Some(value) = value else { return Ok(None) };
    let written = quoted(&value, percent_readings)?;
    let share = read_fraction(&written)?;
    if (0.0..1.0).contains(&share.value()) {
        return Ok(Some(share));
    }
    Err(Error::at(&written, ErrorKind::Range, "a tolerance is 0 up to below 100 %").label("expected a tolerance such as \"5 %\""))
}

/// A text in quotes; a bare number is answered with how to write it.
fn quoted<'d>(value: &Value<'d>, readings: impl FnOnce(f64) -> Vec<String>) -> Result<Passage<'d>> {
    let Ok(number) = value.number() else {
        return value.text();
    };
    let quoted: Vec<String> = readings(number).iter().map(|reading| format!("\"{reading}\"")).collect();
    let meant = if quoted.len() > 1 {
        "whichever is meant"
    } else {
        "if that is what is meant"
    };
    let error = Error::at(
        &value.passage(),
        ErrorKind::Unit,
        "A value in a guitar file carries a unit or a prefix",
    )
    .label("a number alone");
    Err(error.help(format!("write {}, in quotes, {meant}", quoted.join(" or "))))
}

/// A share as percent: 0.05 is how a program writes 5 %.
fn percent_readings(number: f64) -> Vec<String> {
    let percent = format!("{number} %");
    match Decimal::of(number) {
        Some(share) if number != 0.0 && number.abs() < 1.0 => vec![format!("{} %", share.times_ten_to(2).plain()), percent],
        _ => vec![percent],
    }
}
