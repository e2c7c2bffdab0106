//! Stock lists: what is in the drawers.

use super::network::Kind;
use crate::error::Result;
use crate::source::Source;
use crate::units::Fraction;

/// A stock list; one row a value.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stock {
    /// The rows, in written order.
    pub rows: Vec<StockedPart>,
}

/// One row of a stock list.
#[derive(Debug, Clone, PartialEq)]
pub struct StockedPart {
    /// Resistor or capacitor.
    pub kind: Kind,
    /// In Ω or F.
    pub value: f64,
    /// If stated.
    pub tolerance: Option<Fraction>,
    /// For one piece, in the list's own currency, if stated.
    pub price: Option<f64>,
    /// How many there are; `None` is as many as needed.
    pub quantity: Option<u32>,
    /// Whatever the owner wrote.
    pub note: String,
}

impl Stock {
    /// Reads a CSV with the header `kind,value,tolerance,price,quantity,note`; the last four cells may be empty.
    ///
    /// # Errors
    /// Where a row is malformed, or lists a value that an earlier row lists.
    pub fn read(source: &Source) -> Result<Self> {
        todo!()
    }
}
