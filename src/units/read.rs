//! "4k7", "22 nF", "3.4 H", "20 %" → a quantity, or an error that says where and what was expected.

use super::{Decibels, Farads, Fraction, Henries, Hertz, Ohms};
use crate::error::Result;
use crate::source::Passage;

/// A value whose spelling tells its kind, as networks are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Quantity {
    /// Resistance.
    Ohms(Ohms),
    /// Capacitance.
    Farads(Farads),
    /// Inductance.
    Henries(Henries),
}

/// Reads a resistance with prefix or unit: `250 k`, `4k7`, `470R`, `1 MΩ`.
///
/// # Errors
/// Where the text is no resistance, or carries neither unit nor prefix.
pub fn read_ohms(passage: &Passage<'_>) -> Result<Ohms> {
    todo!()
}

/// Reads a capacitance.
///
/// # Errors
/// Where the text is no capacitance, or carries neither unit nor prefix.
pub fn read_farads(passage: &Passage<'_>) -> Result<Farads> {
    todo!()
}

/// Reads a capacitance per metre: `110 p`, `110 pF/m`; the value is in F/m.
///
/// # Errors
/// Where the text is none.
pub fn read_farads_per_metre(passage: &Passage<'_>) -> Result<Farads> {
    todo!()
}

/// Reads an inductance.
///
/// # Errors
/// Where the text is none.
pub fn read_henries(passage: &Passage<'_>) -> Result<Henries> {
    todo!()
}

/// Reads a length in metres: `4.5 m`, `450 cm`.
///
/// # Errors
/// Where the text is none.
pub fn read_metres(passage: &Passage<'_>) -> Result<f64> {
    todo!()
}

/// Reads a frequency in Hz; a bare number is Hz: `1000`, `1k`, `4.14 kHz`.
///
/// # Errors
/// Where the text is none.
pub fn read_hertz(passage: &Passage<'_>) -> Result<Hertz> {
    todo!()
}

/// Reads a level: `2 dB`, `-3dB`, `2`.
///
/// # Errors
/// Where the text is none.
pub fn read_decibels(passage: &Passage<'_>) -> Result<Decibels> {
    todo!()
}

/// Reads a share written in percent: `5 %`, `5%`; the value is 0.05. The sign is required.
///
/// # Errors
/// Where the text is none.
pub fn read_fraction(passage: &Passage<'_>) -> Result<Fraction> {
    todo!()
}

/// Reads a value whose prefix or unit tells its kind (contract.md, "Networks"); a bare number from 1 on is a resistance.
///
/// # Errors
/// Where the text is no value, or one that reads in two ways.
pub fn read_quantity(passage: &Passage<'_>) -> Result<Quantity> {
    todo!()
}
