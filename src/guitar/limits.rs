//! What a guitar file may say: the range of each quantity, and how one is read within it.

use crate::document::Value;
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::units::{Farads, Fraction, Henries, Ohms, read_fraction, read_metres, with_prefix};

/// A closed range of a quantity in its SI unit.
pub(super) struct Limits {
    what: &'static str,
    unit: &'static str,
    low: f64,
    high: f64,
    help: &'static str,
}

pub(super) const INDUCTANCE: Limits = limits("a pickup's inductance", "H", 0.01, 50.0, "most pickups have 1 to 10 H");
pub(super) const WINDING_RESISTANCE: Limits = limits("a pickup's resistance", "Ω", 0.0, 100e3, "most pickups have 4 to 17 kΩ");
pub(super) const WINDING_CAPACITANCE: Limits = limits("a pickup's capacitance", "F", 0.0, 10e-9, "most pickups have 60 to 200 pF");
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
);
pub(super) const CABLE: Limits = limits("a cable", "F", 0.0, 20e-9, "a cable has about 100 pF a metre");
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
    }
}

impl Limits {
    pub(super) fn hold(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
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
    held(&quoted(value, limits.unit)?, read, limits)
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
    let written = quoted(value, "m")?;
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
    let written = quoted(&value, "%")?;
    let share = read_fraction(&written)?;
    if (0.0..1.0).contains(&share.value()) {
        return Ok(Some(share));
    }
    Err(Error::at(&written, ErrorKind::Range, "a tolerance is 0 up to below 100 %").label("expected a tolerance such as \"5 %\""))
}

/// A text in quotes; a bare number is answered with how to write it.
pub(super) fn quoted<'d>(value: &Value<'d>, unit: &str) -> Result<Passage<'d>> {
    let Ok(number) = value.number() else {
        return value.text();
    };
    let suggestion = match unit {
        // 0.05 is how a program writes 5 %.
        "%" if number.abs() < 1.0 => format!("{} %", number * 100.0),
        "%" | "m" => format!("{number} {unit}"),
        _ => with_prefix(number, unit),
    };
    Err(Error::at(
        &value.passage(),
        ErrorKind::Unit,
        "A value in a guitar file carries a unit or a prefix",
    )
    .label("a number alone")
    .help(format!("write \"{suggestion}\", in quotes, if that is what is meant")))
}
