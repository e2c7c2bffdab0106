//! Marks on parts (IEC 60062): colour bands, three-digit code, letter codes, tolerance letters, rated voltages. A mark that reads in several ways gives them all.

mod bands;
mod code;
mod pots;
mod rated;
mod tolerance;

use std::fmt;

use serde::Serialize;

use super::read::{Quantity, read_quantity};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;

pub use bands::{Colour, resistor_bands};
pub use code::{capacitor_code, letter_code};
pub use tolerance::Tolerance;

pub(in crate::units) use code::code_on_capacitor;

/// What a mark is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum MarkedPart {
    /// A resistor or potentiometer; values in Ω.
    Resistor,
    /// A capacitor; values in F.
    Capacitor,
    /// An inductor; values in H.
    Inductor,
}

impl fmt::Display for MarkedPart {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::Resistor => "resistor",
            Self::Capacitor => "capacitor",
            Self::Inductor => "inductor",
        })
    }
}

/// One way to read a mark.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// What it is on.
    pub what: MarkedPart,
    /// In Ω, F or H.
    pub value: f64,
    /// If the mark states one.
    pub tolerance: Option<Tolerance>,
    /// The rated voltage in V, if the mark states one.
    pub volts: Option<u32>,
    /// How it was read, and what else the mark says.
    pub note: String,
}

/// Longer than any mark.
const LONGEST: usize = 80;

/// Reads a mark in every way it can be meant, the likeliest first.
///
/// # Errors
/// Where the text is no mark; a wrong colour is pointed at.
pub fn decode(passage: &Passage<'_>) -> Result<Vec<Reading>> {
    let whole = passage.trimmed();
    let text = whole.text();
    if text.is_empty() {
        return Err(Error::at(passage, ErrorKind::Missing, "expected a mark, found nothing")
            .label("nothing here")
            .help(FORMS));
    }
    if text.len() > LONGEST {
        return Err(Error::at(&whole, ErrorKind::Syntax, "the text is too long for a mark")
            .label("no mark")
            .help(FORMS));
    }
    if bands::looks_like_bands(text) {
        return bands::read_bands(&whole);
    }
    let readings = [
        rated::read_rated(text),
        pots::read_pot(text).into_iter().collect(),
        rated::read_value(text),
    ]
    .concat();
    if !readings.is_empty() {
        return Ok(readings);
    }
    read_as_value(&whole)
}

const FORMS: &str = "marks that are read: 223J, 2A223J, 104K250V, 0.022/400, 4K7J, 470R, n22, B250K, `yellow violet yellow gold`";

/// What is no mark but a value with its unit, as older parts are printed.
fn read_as_value(whole: &Passage<'_>) -> Result<Vec<Reading>> {
    let quantity = read_quantity(whole).map_err(|error| error.help(FORMS))?;
    let (what, value) = match quantity {
        Quantity::Ohms(value) => (MarkedPart::Resistor, value.value()),
        Quantity::Farads(value) => (MarkedPart::Capacitor, value.value()),
        Quantity::Henries(value) => (MarkedPart::Inductor, value.value()),
    };
    if value <= 0.0 {
        let error = Error::at(whole, ErrorKind::Range, format!("`{}` is no value of a part", whole.text()));
        return Err(error.label("not above zero").help(FORMS));
    }
    Ok(vec![Reading {
        what,
        value,
        tolerance: None,
        volts: None,
        note: "printed in plain".to_owned(),
    }])
}
