//! Standard values and markings as text, CSV and JSON rows.

use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use crate::parts::series::Series;
use crate::units::marking::{MarkedPart, Reading, capacitor_code, letter_code, resistor_bands};
use crate::units::{Farads, Ohms, with_prefix};
use crate::values::{Nearest, SeriesList};

/// The values of a series, each with its code and how it is marked on the part.
#[must_use]
pub fn values_table(list: &SeriesList) -> Table {
    let rows = list.values.iter().map(|value| value_row(list.series, list.what, *value));
    Table {
        columns: value_columns(list.what),
        rows: rows.collect(),
    }
}

/// The value of a series nearest to a wanted one, and its neighbours, with their errors.
#[must_use]
pub fn nearest_table(nearest: &Nearest) -> Table {
    let mut columns = value_columns(nearest.what);
    columns.push(Column::new("error\n%", "error_percent"));
    let mut values = vec![nearest.value, nearest.below, nearest.above];
    values.dedup();
    if values.len() > 1 {
        let other = if nearest.value == nearest.below {
            nearest.above
        } else {
            nearest.below
        };
        values = vec![nearest.value, other];
    }
    let row = |value: &f64| {
        let mut row = value_row(nearest.series, nearest.what, *value);
        row.push(Cell::difference((value - nearest.wanted) / nearest.wanted * 100.0, 2));
        row
    };
    Table {
        columns,
        rows: values.iter().map(row).collect(),
    }
}

/// A table of values or readings as a document.
#[must_use]
pub fn values_document(title: &str, table: &Table) -> Document {
    Document::new(title, vec![Block::table(title, table.clone())])
}

/// Every reading of a marking, the likeliest first.
#[must_use]
pub fn decoded_table(readings: &[Reading]) -> Table {
    let columns = [
        ("part", "part"),
        ("value", "value_si"),
        ("tolerance", "tolerance"),
        ("how it reads", "note"),
    ];
    let row = |reading: &Reading| {
        vec![
            Cell::text(reading.what.to_string()),
            quantity(reading.what, reading.value),
            reading
                .tolerance
                .map_or(Cell::Empty("not marked"), |tolerance| Cell::text(tolerance.to_string())),
            Cell::text(reading.note.as_str()),
        ]
    };
    Table {
        columns: columns.iter().map(|(title, name)| Column::new(title, name)).collect(),
        rows: readings.iter().map(row).collect(),
    }
}

fn value_columns(what: MarkedPart) -> Vec<Column> {
    let mark = match what {
        MarkedPart::Resistor => ("colour bands", "colour_bands"),
        _ => ("code", "code"),
    };
    [("value", "value_si"), ("IEC 60062", "iec_60062"), mark]
        .iter()
        .map(|(title, name)| Column::new(title, name))
        .collect()
}

fn value_row(series: Series, what: MarkedPart, value: f64) -> Vec<Cell> {
    vec![
        quantity(what, value),
        letter_code(what, value, None).map_or(Cell::Empty(""), Cell::Text),
        marking(series, what, value).map_or(Cell::Empty(""), Cell::Text),
    ]
}

fn marking(series: Series, what: MarkedPart, value: f64) -> Option<String> {
    match what {
        MarkedPart::Resistor => {
            let bands = resistor_bands(Ohms::new(value)?, series.usual_tolerance()?)?;
            Some(bands.iter().map(|colour| colour.name()).collect::<Vec<_>>().join(" "))
        }
        MarkedPart::Capacitor => capacitor_code(Farads::new(value)?, None),
        MarkedPart::Inductor => None,
    }
}

fn quantity(what: MarkedPart, value: f64) -> Cell {
    let unit = match what {
        MarkedPart::Resistor => "Ω",
        MarkedPart::Capacitor => "F",
        MarkedPart::Inductor => "H",
    };
    Cell::Quantity {
        value,
        text: with_prefix(value, unit),
    }
}
