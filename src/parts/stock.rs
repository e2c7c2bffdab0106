//! Stock lists: what is in the drawers.

use std::collections::HashMap;

use super::network::Kind;
use crate::error::{Error, ErrorKind, Result};
use crate::rows::{self, Row};
use crate::source::{Passage, Source};
use crate::units::{Fraction, read_farads, read_fraction, read_ohms};

const HEADER: [&str; 6] = ["kind", "value", "tolerance", "price", "quantity", "note"];

/// A resistor outside is a slip of the pen: 10 mΩ to 1 GΩ.
const RESISTORS: std::ops::RangeInclusive<f64> = 0.01..=1e9;

/// A capacitor outside is a slip of the pen: 0.1 pF to 10 mF.
const CAPACITORS: std::ops::RangeInclusive<f64> = 1e-13..=0.01;

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
    /// Where a row is malformed, or lists a value that an earlier row lists, or when no part is listed at all.
    pub fn read(source: &Source) -> Result<Self> {
        let rows = rows::read(source, &HEADER)?;
        let mut seen: HashMap<(Kind, u64), usize> = HashMap::with_capacity(rows.len());
        let mut parts = Vec::with_capacity(rows.len());
        for row in &rows {
            let part = part(row)?;
            let line = row.line();
            if let Some(earlier) = seen.insert((part.kind, part.value.to_bits()), line) {
                let written = row.cell(1);
                let message = format!(
                    "the {} {} stands in row {earlier} and again in row {line}",
                    word(part.kind),
                    written.text()
                );
                return Err(Error::at(&written, ErrorKind::Conflict, message)
                    .label(format!("also in row {earlier}"))
                    .help("one row a value: add the quantities up"));
            }
            parts.push(part);
        }
        if parts.is_empty() {
            let end = source.text().trim_end().len();
            let start = source.text().get(..end).and_then(|text| text.rfind('\n')).map_or(0, |at| at + 1);
            return Err(
                Error::at(&source.passage_at(start..end), ErrorKind::Missing, "the stock list has no parts")
                    .label("expected rows below")
                    .help("a row is written like: resistor,120k,5 %,0.10,25,carbon film"),
            );
        }
        Ok(Self { rows: parts })
    }

    /// One line: how many values of each kind were read.
    #[must_use]
    pub fn summary(&self) -> String {
        let count = |kind| self.rows.iter().filter(|row| row.kind == kind).count();
        let priced = self.rows.iter().filter(|row| row.price.is_some()).count();
        let empty = self.rows.iter().filter(|row| row.quantity == Some(0)).count();
        let plural = |count: usize, word: &str| {
            if count == 1 {
                format!("1 {word}")
            } else {
                format!("{count} {word}s")
            }
        };
        let resistors = plural(count(Kind::Resistor), "resistor value");
        let capacitors = plural(count(Kind::Capacitor), "capacitor value");
        format!("{resistors} and {capacitors}; {priced} with a price, {empty} out of stock")
    }
}

fn word(kind: Kind) -> &'static str {
    match kind {
        Kind::Resistor => "resistor",
        Kind::Capacitor => "capacitor",
    }
}

fn part(row: &Row<'_>) -> Result<StockedPart> {
    let in_row = |error: Error| error.help(format!("row {} of the stock list", row.line()));
    let kind = kind(&row.cell(0)).map_err(in_row)?;
    Ok(StockedPart {
        kind,
        value: value(kind, &row.cell(1)).map_err(in_row)?,
        tolerance: tolerance(&row.cell(2)).map_err(in_row)?,
        price: price(&row.cell(3)).map_err(in_row)?,
        quantity: quantity(&row.cell(4)).map_err(in_row)?,
        note: row.cell(5).text().to_owned(),
    })
}

fn kind(cell: &Passage<'_>) -> Result<Kind> {
    match cell.text().to_lowercase().as_str() {
        "resistor" => Ok(Kind::Resistor),
        "capacitor" => Ok(Kind::Capacitor),
        written => Err(Error::at(
            cell,
            ErrorKind::Unknown,
            format!("`{}` is no kind of part in a stock list", cell.text()),
        )
        .label("expected resistor or capacitor")
        .nearest(written, ["resistor", "capacitor"])),
    }
}

fn value(kind: Kind, cell: &Passage<'_>) -> Result<f64> {
    let (value, range, limits) = match kind {
        Kind::Resistor => (read_ohms(cell)?.value(), RESISTORS, "10 mΩ to 1 GΩ"),
        Kind::Capacitor => (read_farads(cell)?.value(), CAPACITORS, "0.1 pF to 10000 µF"),
    };
    if range.contains(&value) {
        return Ok(value);
    }
    let message = format!("a {} of `{}` is outside {limits}", word(kind), cell.text());
    Err(Error::at(cell, ErrorKind::Range, message).label(format!("expected {limits}")))
}

fn tolerance(cell: &Passage<'_>) -> Result<Option<Fraction>> {
    if cell.text().is_empty() {
        return Ok(None);
    }
    let share = read_fraction(cell)?;
    if (0.0..1.0).contains(&share.value()) {
        return Ok(Some(share));
    }
    Err(Error::at(cell, ErrorKind::Range, "a tolerance is 0 up to below 100 %").label("expected a tolerance such as 5 %"))
}

fn price(cell: &Passage<'_>) -> Result<Option<f64>> {
    let written = cell.text();
    match written.parse::<f64>() {
        _ if written.is_empty() => Ok(None),
        // Adding zero turns −0 into 0.
        Ok(price) if price.is_finite() && price >= 0.0 => Ok(Some(price + 0.0)),
        _ => {
            Err(Error::at(cell, ErrorKind::Range, format!("`{written}` is no price"))
                .label("expected a number from 0 on, without currency"))
        }
    }
}

fn quantity(cell: &Passage<'_>) -> Result<Option<u32>> {
    let written = cell.text();
    match written.parse::<u32>() {
        _ if written.is_empty() => Ok(None),
        Ok(quantity) => Ok(Some(quantity)),
        Err(_) => {
            let message = format!("`{written}` is no quantity");
            Err(Error::at(cell, ErrorKind::Range, message).label(format!("expected a whole number, 0 to {}", u32::MAX)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "kind,value,tolerance,price,quantity,note\n";

    fn read(rows: &str) -> Result<Stock> {
        Stock::read(&Source::inline("drawer.csv", format!("{HEAD}{rows}")))
    }

    #[test]
    fn a_row_is_a_part() {
        let stock =
            read("resistor,120k,5 %,0.10,25,carbon film\n# rest\n\nCapacitor,2n2,,,,\ncapacitor,22n,10%,1,0,\"old, brown\"\n").unwrap();
        let part = |kind, value, tolerance, price, quantity, note: &str| StockedPart {
            kind,
            value,
            tolerance: Fraction::new(tolerance).filter(|share| share.value() > 0.0),
            price,
            quantity,
            note: note.to_owned(),
        };
        let expected = [
            part(Kind::Resistor, 120e3, 0.05, Some(0.10), Some(25), "carbon film"),
            part(Kind::Capacitor, 2.2e-9, 0.0, None, None, ""),
            part(Kind::Capacitor, 22e-9, 0.1, Some(1.0), Some(0), "old, brown"),
        ];
        assert_eq!(stock.rows, expected);
        assert_eq!(
            stock.summary(),
            "1 resistor value and 2 capacitor values; 2 with a price, 1 out of stock"
        );
    }

    #[test]
    fn a_bad_cell_is_placed() {
        for (row, place) in [
            ("resistor,22n,,,,", "drawer.csv:2:12: "),
            ("capacitor,4k7,,,,", "drawer.csv:2:11: "),
            ("inductor,1 H,,,,", "drawer.csv:2:1: "),
            ("resistor,0 k,,,,", "drawer.csv:2:10: "),
            ("resistor,-1k,,,,", "drawer.csv:2:10: "),
            ("resistor,1k,100 %,,,", "drawer.csv:2:13: "),
            ("resistor,1k,5,,,", "drawer.csv:2:13: "),
            ("resistor,1k,,-0.01,,", "drawer.csv:2:14: "),
            ("resistor,1k,,inf,,", "drawer.csv:2:14: "),
            ("resistor,1k,,,2.5,", "drawer.csv:2:15: "),
            ("resistor,1k,,,-1,", "drawer.csv:2:15: "),
            ("resistor,,,,,", "drawer.csv:2:10: "),
        ] {
            let error = read(row).unwrap_err();
            assert!(error.to_string().starts_with(place), "{row}: {error}");
            assert!(
                row.starts_with("inductor") || error.picture().contains("row 2"),
                "{row}: {}",
                error.picture()
            );
        }
    }

    #[test]
    fn one_value_stands_in_one_row() {
        let error = read("resistor,4k7,,,,\ncapacitor,4n7,,,,\nresistor,4.7 kΩ,,,,\n").unwrap_err();
        assert_eq!(
            error.to_string(),
            "drawer.csv:4:10: the resistor 4.7 kΩ stands in row 2 and again in row 4"
        );
        assert!(read("").unwrap_err().to_string().contains("no parts"));
    }
}
