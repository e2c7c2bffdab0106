//! Stock lists: what is in the drawers.

use std::collections::HashMap;

use super::network::{Component, Kind};
use crate::error::{Error, ErrorKind, Result, one_slip};
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
    /// Reads a CSV with the columns kind, value, tolerance, price, quantity and note, in any order, the last four at will; other columns are
    /// passed over. Cells are separated by commas, or by semicolons or tabs and then with decimal commas.
    ///
    /// # Errors
    /// Where a row is malformed, or lists a value that an earlier row lists, or when no part is listed at all.
    pub fn read(source: &Source) -> Result<Self> {
        let (columns, rows) = columns(source)?;
        let mut seen: HashMap<(Kind, u64), usize> = HashMap::with_capacity(rows.len());
        let mut parts = Vec::with_capacity(rows.len());
        for row in &rows {
            let part = part(row, &columns)?;
            let line = row.line();
            if let Some(earlier) = seen.insert((part.kind, part.value.to_bits()), line) {
                let written = row.cell(columns.value);
                let message = format!(
                    "the {} {} stands in row {earlier} and again in row {line}",
                    part.kind.word(),
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

    /// Several lists as one. What stands in more than one of them keeps its rows: the pieces add up.
    #[must_use]
    pub fn joined(lists: impl IntoIterator<Item = Self>) -> Self {
        Self {
            rows: lists.into_iter().flat_map(|list| list.rows).collect(),
        }
    }

    /// Every value of a kind of which there is a piece, in Ω or F, ascending.
    #[must_use]
    pub fn values(&self, kind: Kind) -> Vec<f64> {
        let in_stock = self.rows.iter().filter(|row| row.kind == kind && row.quantity != Some(0));
        let mut values: Vec<f64> = in_stock.map(|row| row.value).collect();
        values.sort_by(f64::total_cmp);
        values.dedup();
        values
    }

    /// How many pieces there are of a value; `None` where a row of it says nothing, which is as many as needed. An unlisted value has 0.
    #[must_use]
    pub fn quantity(&self, kind: Kind, value: f64) -> Option<u32> {
        self.rows_of(kind, value)
            .map(|row| row.quantity)
            .try_fold(0_u32, |sum, quantity| Some(sum.saturating_add(quantity?)))
    }

    /// The tolerance of the part of a value: the widest where several rows hold it. `None` for what is not in stock, and where a
    /// row says nothing.
    #[must_use]
    pub fn tolerance(&self, kind: Kind, value: f64) -> Option<Fraction> {
        let in_stock = self.rows_of(kind, value).filter(|row| row.quantity != Some(0));
        let stated: Option<Vec<Fraction>> = in_stock.map(|row| row.tolerance).collect();
        stated?.into_iter().max_by(|one, other| one.value().total_cmp(&other.value()))
    }

    /// Whether there are enough pieces of every listed value that `parts` use; values that are not listed are not counted.
    #[must_use]
    pub fn suffices(&self, parts: &[Component]) -> bool {
        parts.iter().all(|part| {
            let needed = parts.iter().filter(|other| *other == part).count();
            let listed = part.kind().filter(|kind| self.rows_of(*kind, part.value()).next().is_some());
            listed
                .and_then(|kind| self.quantity(kind, part.value()))
                .is_none_or(|quantity| quantity as usize >= needed)
        })
    }

    /// What the parts cost together, if every price is known: of a value that stands in several rows the cheapest pieces first, as far
    /// as they reach.
    #[must_use]
    pub fn cost(&self, parts: &[Component]) -> Option<f64> {
        let mut prices = Vec::with_capacity(parts.len());
        for (index, part) in parts.iter().enumerate() {
            if parts.iter().take(index).any(|earlier| earlier == part) {
                continue;
            }
            let needed = parts.iter().filter(|other| *other == part).count();
            prices.extend(self.prices(part.kind()?, part.value(), needed)?);
        }
        // In a fixed order and to 10⁻⁹, so that builds of equal cost compare as equal whatever they are made of.
        prices.sort_by(f64::total_cmp);
        let sum: f64 = prices.into_iter().sum();
        let rounded = (sum * 1e9).round() / 1e9 + 0.0;
        [rounded, sum].into_iter().find(|cost| cost.is_finite())
    }

    /// Whether any part has a price.
    #[must_use]
    pub fn has_prices(&self) -> bool {
        self.rows.iter().any(|row| row.price.is_some())
    }

    /// The prices of the cheapest so many pieces; `None` where one is not known, or there are fewer.
    fn prices(&self, kind: Kind, value: f64, needed: usize) -> Option<Vec<f64>> {
        let mut rows: Vec<&StockedPart> = self.rows_of(kind, value).collect();
        let price = |row: &StockedPart| row.price.unwrap_or(f64::INFINITY);
        rows.sort_by(|one, other| price(one).total_cmp(&price(other)));
        let mut prices = Vec::with_capacity(needed);
        for row in rows {
            let left = needed - prices.len();
            let taken = row.quantity.map_or(left, |quantity| left.min(quantity as usize));
            if taken > 0 {
                prices.extend(std::iter::repeat_n(row.price?, taken));
            }
        }
        (prices.len() == needed).then_some(prices)
    }

    fn rows_of(&self, kind: Kind, value: f64) -> impl Iterator<Item = &StockedPart> {
        self.rows.iter().filter(move |row| row.kind == kind && row.value == value)
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

/// Where each column of a list stands.
struct Columns {
    kind: usize,
    value: usize,
    /// Tolerance, price, quantity and note; a list may lack them.
    others: [Option<usize>; 4],
}

/// Columns stand in any order; what a list does not know is its owner's and is passed over, unless it is a slip of the pen.
fn columns(source: &Source) -> Result<(Columns, Vec<Row<'_>>)> {
    let mut all = rows::all(source)?.into_iter();
    let Some(header) = all.next() else {
        return Err(Error::at(&source.passage_at(0..0), ErrorKind::Missing, "the stock list is empty")
            .label(format!("expected the header {}", HEADER.join(","))));
    };
    let names: Vec<String> = (0..header.len()).map(|column| header.cell(column).text().to_lowercase()).collect();
    let find = |name: &str| names.iter().position(|own| own == name);
    let needed = |name: &str| {
        find(name).ok_or_else(|| {
            let message = format!("the stock list has no column `{name}`");
            Error::at(&header.passage(), ErrorKind::Syntax, message)
                .label(format!("expected `{name}` among them"))
                .help(format!("columns: {}, in any order; kind and value are needed", HEADER.join(", ")))
        })
    };
    let columns = Columns {
        kind: needed("kind")?,
        value: needed("value")?,
        others: ["tolerance", "price", "quantity", "note"].map(find),
    };
    for (column, name) in names.iter().enumerate() {
        let cell = header.cell(column);
        if names.iter().take(column).any(|earlier| earlier == name) {
            return Err(Error::at(&cell, ErrorKind::Conflict, format!("two columns are called `{name}`")).label("the second one"));
        }
        let slip = HEADER.into_iter().find(|known| known != name && one_slip(name, known));
        if let Some(meant) = slip {
            let message = format!("`{name}` is no column of a stock list");
            return Err(Error::at(&cell, ErrorKind::Unknown, message)
                .label("expected a column")
                .help(format!("did you mean `{meant}`?")));
        }
    }
    let width: Vec<&str> = names.iter().map(String::as_str).collect();
    let rows: Vec<Row<'_>> = all.collect();
    rows.iter().try_for_each(|row| rows::check_count(row, &width))?;
    Ok((columns, rows))
}

fn part(row: &Row<'_>, columns: &Columns) -> Result<StockedPart> {
    let in_row = |error: Error| error.help(format!("row {} of the stock list", row.line()));
    let kind = kind(&row.cell(columns.kind)).map_err(in_row)?;
    let [tolerated, priced, counted, noted] = columns.others.map(|column| column.map(|column| row.cell(column)));
    Ok(StockedPart {
        kind,
        value: value(kind, &row.cell(columns.value)).map_err(in_row)?,
        tolerance: tolerated.map_or(Ok(None), |cell| tolerance(&cell)).map_err(in_row)?,
        price: priced.map_or(Ok(None), |cell| price(&cell)).map_err(in_row)?,
        quantity: counted.map_or(Ok(None), |cell| quantity(&cell)).map_err(in_row)?,
        note: noted.map(|cell| cell.text().to_owned()).unwrap_or_default(),
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
    let message = format!("a {} of `{}` is outside {limits}", kind.word(), cell.text());
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
    let number = written.trim_matches(|letter: char| "€$£ ".contains(letter));
    let number = rows::CURRENCIES
        .into_iter()
        .fold(number, |number, word| number.trim_end_matches(word).trim_start_matches(word).trim());
    match number.parse::<f64>() {
        _ if written.is_empty() => Ok(None),
        // Adding zero turns −0 into 0.
        Ok(price) if price.is_finite() && price >= 0.0 => Ok(Some(price + 0.0)),
        _ => Err(Error::at(cell, ErrorKind::Range, format!("`{written}` is no price")).label("expected a number from 0 on")),
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

    fn lists() -> Stock {
        let one = read("resistor,10k,5 %,0.04,2,\nresistor,22k,,0.10,,\ncapacitor,1n,10 %,,3,\n").unwrap();
        let other = read("resistor,10k,1 %,0.03,1,\nresistor,22k,1 %,0.20,4,\nresistor,47k,2 %,0.05,0,\n").unwrap();
        Stock::joined([one, other])
    }

    fn resistors(values: &[f64]) -> Vec<Component> {
        values.iter().filter_map(|value| Kind::Resistor.component(*value)).collect()
    }

    #[test]
    fn the_pieces_of_several_lists_add_up() {
        let stock = lists();
        assert_eq!(stock.values(Kind::Resistor), [10e3, 22e3]);
        assert_eq!(stock.quantity(Kind::Resistor, 10e3), Some(3));
        assert_eq!(stock.quantity(Kind::Resistor, 22e3), None);
        assert_eq!(stock.quantity(Kind::Resistor, 33e3), Some(0));
        assert!(stock.suffices(&resistors(&[10e3, 10e3, 10e3])));
        assert!(!stock.suffices(&resistors(&[10e3; 4])));
        assert!(!stock.suffices(&resistors(&[47e3])));
        assert!(stock.suffices(&resistors(&[22e3; 9])));
    }

    #[test]
    fn the_cheapest_pieces_come_first_as_far_as_they_reach() {
        let stock = lists();
        assert_eq!(stock.cost(&resistors(&[10e3])), Some(0.03));
        assert_eq!(stock.cost(&resistors(&[10e3, 22e3, 10e3])), Some(0.03 + 0.04 + 0.10));
        assert_eq!(stock.cost(&resistors(&[10e3; 4])), None, "there are three");
        assert_eq!(stock.cost(&resistors(&[])), Some(0.0));
        let capacitor: Vec<Component> = Kind::Capacitor.component(1e-9).into_iter().collect();
        assert_eq!(stock.cost(&capacitor), None, "no price");
    }

    #[test]
    fn a_part_has_the_widest_tolerance_of_its_rows() {
        let stock = lists();
        let of = |kind, value| stock.tolerance(kind, value).map(Fraction::value);
        assert_eq!(of(Kind::Resistor, 10e3), Some(0.05));
        assert_eq!(of(Kind::Capacitor, 1e-9), Some(0.1));
        assert_eq!(of(Kind::Resistor, 22e3), None, "one row does not say");
        assert_eq!(of(Kind::Resistor, 47e3), None, "out of stock");
        assert_eq!(of(Kind::Capacitor, 10e3), None);
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
