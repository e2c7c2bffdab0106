//! Guitar catalogues (CSV): one guitar a row, the columns named as the keys of a guitar file, with dots.
//!
//! A row is written out as the guitar file it stands for and read by that file's reader, so that every range, default and message is the
//! same; a mistake is then shown in the cell it came from.

use std::collections::HashMap;
use std::ops::Range;

use super::Guitar;
use crate::error::{Error, ErrorKind, MOST_MISTAKES, Result, nearest};
use crate::limits;
use crate::rows::{self, Row};
use crate::source::{Passage, Place, Source};

/// Weights are held in this many parts of one, so that sums of them are exact whatever their order.
pub const WEIGHT_PARTS: u32 = 1000;

/// The largest weight.
pub const MOST_WEIGHT: u32 = 1000;

/// A guitar of a catalogue.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// The guitar.
    pub guitar: Guitar,
    /// How common it is, in parts of [`WEIGHT_PARTS`].
    pub weight: u32,
    /// The group that it is counted with, if the catalogue says one.
    pub group: Option<String>,
    /// Columns of the catalogue's owner, which pass through: name, from `x_` on, and text.
    pub own: Vec<(String, String)>,
}

impl Listed {
    /// A guitar that counts once.
    #[must_use]
    pub fn once(guitar: Guitar) -> Self {
        Self {
            guitar,
            weight: WEIGHT_PARTS,
            group: None,
            own: Vec::new(),
        }
    }
}

/// What a column begins with that its owner has for himself.
const OWN: &str = "x_";
/// Columns that are no keys of a guitar file.
const BESIDE: [&str; 2] = ["weight", "group"];

/// Columns that hold a text, in the order of a guitar file; `name` and `weight` stand apart, loss cells and loads are numbered.
const TEXTS: [&str; 29] = [
    "series",
    "pickup.inductance",
    "pickup.resistance",
    "pickup.capacitance",
    "pickup.tolerance",
    "pickup.across",
    "volume.resistance",
    "volume.taper",
    "volume.taper.table",
    "volume.tolerance",
    "volume.taper_tolerance",
    "volume.bleed",
    "tone.resistance",
    "tone.taper",
    "tone.taper.table",
    "tone.tolerance",
    "tone.taper_tolerance",
    "tone.network",
    "tone.bypass",
    "tone.hookup",
    "tone.joined_at",
    "cable.capacitance",
    "cable.length",
    "cable.per_metre",
    "cable.tolerance",
    "input.resistance",
    "input.capacitance",
    "name",
    "tone.no_load",
];

/// Columns that stand for an item of a list: the list, and the keys of an item; a number stands between, as in `pickup.loss.1.inductance`.
const LISTS: [(&str, [&str; 2]); 2] = [("pickup.loss", ["inductance", "resistance"]), ("load", ["network", "at"])];

/// Reads a catalogue whole.
///
/// # Errors
/// The first [`MOST_MISTAKES`] bad rows, each with its mistake in its column, and how many more there are; nothing of the catalogue is
/// used then.
pub fn read(source: &Source) -> Result<Vec<Listed>, Vec<Error>> {
    let rows = rows::all(source).map_err(|error| vec![error])?;
    let Some((header, rows)) = rows.split_first() else {
        let start = source.passage_at(0..0);
        let error =
            Error::at(&start, ErrorKind::Missing, "the catalogue is empty").label("expected a header such as name,pickup.inductance,…");
        return Err(vec![error]);
    };
    let columns = columns(header)?;
    let mut names: HashMap<String, usize> = HashMap::with_capacity(rows.len());
    let (mut listed, mut errors, mut more) = (Vec::with_capacity(rows.len()), Vec::new(), 0_usize);
    for row in rows {
        match guitar(source, &columns, row).and_then(|found| unique(found, &columns, row, &mut names)) {
            Ok(found) => listed.push(found),
            Err(_) if errors.len() == MOST_MISTAKES => more += 1,
            Err(error) => errors.push(error.help(format!("row {} of the catalogue", row.line()))),
        }
    }
    if more > 0 {
        let rows = if more == 1 { "row" } else { "rows" };
        let message = format!("`{}` has mistakes in {more} more {rows}", source.name());
        errors.push(Error::new(ErrorKind::Syntax, message));
    }
    if listed.is_empty() && errors.is_empty() {
        errors.push(Error::at(&header.passage(), ErrorKind::Missing, "the catalogue has no guitars").label("expected rows below"));
    }
    if errors.is_empty() { Ok(listed) } else { Err(errors) }
}

/// One guitar of a catalogue as the guitar file that its row stands for, by its name or by the number of its row, 1 for the first.
///
/// # Errors
/// Where there is none, or its row has a mistake.
pub fn row(source: &Source, asked: &Passage<'_>) -> Result<Source> {
    let rows = rows::all(source)?;
    let empty = || Error::at(&source.passage_at(0..0), ErrorKind::Missing, "the catalogue is empty");
    let (header, rows) = rows.split_first().ok_or_else(empty)?;
    let columns = columns(header).map_err(|mut errors| errors.swap_remove(0))?;
    let name_of = |row: &Row<'_>| row.cell(position(&columns, "name").unwrap_or(0)).text().to_owned();
    let numbered = || {
        asked
            .text()
            .parse::<usize>()
            .ok()
            .and_then(|number| rows.get(number.checked_sub(1)?))
    };
    let found = rows
        .iter()
        .find(|row| name_of(row) == asked.text())
        .or_else(numbered)
        .ok_or_else(|| {
            let names: Vec<String> = rows.iter().map(name_of).collect();
            Error::at(asked, ErrorKind::Unknown, format!("the catalogue has no guitar `{}`", asked.text()))
                .label("expected the name of a guitar, or the number of its row")
                .nearest(asked.text(), names.iter().map(String::as_str))
                .help(format!("`{}` has {} guitars", source.name(), rows.len()))
        })?;
    guitar(source, &columns, found).map_err(|error| error.help(format!("row {} of the catalogue", found.line())))?;
    Ok(File::write(source, &columns, found).source)
}

fn unique(found: Listed, columns: &[Column], row: &Row<'_>, names: &mut HashMap<String, usize>) -> Result<Listed> {
    match names.insert(found.guitar.name.clone(), row.line()) {
        None => Ok(found),
        Some(earlier) => {
            let cell = row.cell(position(columns, "name").unwrap_or(0));
            let message = format!("`{}` stands in row {earlier} and again in row {}", found.guitar.name, row.line());
            Err(Error::at(&cell, ErrorKind::Conflict, message).label(format!("also in row {earlier}")))
        }
    }
}

/// A column by the key it is named after.
struct Column {
    key: String,
    /// The list and the number of its item, for a column that is a part of one.
    item: Option<(&'static str, usize, &'static str)>,
}

fn position(columns: &[Column], key: &str) -> Option<usize> {
    columns.iter().position(|column| column.key == key)
}

fn columns(header: &Row<'_>) -> Result<Vec<Column>, Vec<Error>> {
    let (mut columns, mut errors): (Vec<Column>, Vec<Error>) = (Vec::new(), Vec::new());
    for index in 0..header.len() {
        let cell = header.cell(index);
        match column(&cell) {
            Ok(column) if position(&columns, &column.key).is_some() => {
                let message = format!("the column `{}` stands there twice", column.key);
                errors.push(Error::at(&cell, ErrorKind::Conflict, message).label("the second time"));
            }
            Ok(column) => columns.push(column),
            Err(error) => errors.push(error),
        }
    }
    if errors.is_empty() && position(&columns, "name").is_none() {
        let message = "the column `name` is missing";
        errors.push(Error::at(&header.passage(), ErrorKind::Missing, message).label("a catalogue names each guitar"));
    }
    if errors.is_empty() { Ok(columns) } else { Err(errors) }
}

fn column(cell: &Passage<'_>) -> Result<Column> {
    let key = cell.text().to_owned();
    let is_own = key.len() > OWN.len() && key.starts_with(OWN);
    if is_own || BESIDE.contains(&key.as_str()) || TEXTS.contains(&key.as_str()) {
        return Ok(Column { key, item: None });
    }
    for (list, keys) in LISTS {
        let rest = key
            .strip_prefix(list)
            .and_then(|rest| rest.strip_prefix('.'))
            .and_then(|rest| rest.split_once('.'));
        let Some((number, part)) = rest else { continue };
        let number = number.parse::<usize>().ok().filter(|number| (1..=99).contains(number));
        let part = keys.into_iter().find(|key| *key == part);
        if let (Some(number), Some(part)) = (number, part) {
            return Ok(Column {
                key,
                item: Some((list, number, part)),
            });
        }
    }
    let numbered = LISTS.iter().flat_map(|(list, keys)| keys.map(|part| format!("{list}.1.{part}")));
    let known: Vec<String> = TEXTS
        .iter()
        .map(|text| (*text).to_owned())
        .chain(numbered)
        .chain(BESIDE.map(str::to_owned))
        .collect();
    let error = Error::at(cell, ErrorKind::Unknown, format!("`{key}` is no key of a guitar file")).label("expected a key, with dots");
    Err(match nearest(&key, known.iter().map(String::as_str)) {
        Some(word) => error.help(format!("did you mean `{word}`?")),
        None => error.help(format!("columns: {}", known.join(", "))),
    })
}

fn guitar(source: &Source, columns: &[Column], row: &Row<'_>) -> Result<Listed> {
    let header: Vec<&str> = columns.iter().map(|column| column.key.as_str()).collect();
    rows::check_count(row, &header)?;
    let name = row.cell(position(columns, "name").unwrap_or(0));
    if name.text().is_empty() {
        return Err(Error::at(&row.passage(), ErrorKind::Missing, "the guitar has no name").label("`name` is empty"));
    }
    let file = File::write(source, columns, row);
    let guitar = Guitar::read(&file.source).map_err(|error| file.in_catalogue(error, row))?;
    let weight = match position(columns, "weight") {
        Some(column) if !row.cell(column).text().is_empty() => weight(&row.cell(column))?,
        _ => WEIGHT_PARTS,
    };
    let group = position(columns, "group")
        .map(|column| row.cell(column))
        .filter(|cell| !cell.text().is_empty());
    let group = group.map(|cell| limits::name(&cell, "a group", "single coils")).transpose()?;
    let is_own = |(_, column): &(usize, &Column)| column.key.starts_with(OWN);
    let own = columns.iter().enumerate().filter(is_own);
    Ok(Listed {
        guitar,
        weight,
        group,
        own: own
            .map(|(place, column)| (column.key.clone(), row.cell(place).text().to_owned()))
            .collect(),
    })
}

fn weight(cell: &Passage<'_>) -> Result<u32> {
    let parts = cell.text().parse::<f64>().map(|weight| weight * f64::from(WEIGHT_PARTS));
    let most = f64::from(MOST_WEIGHT * WEIGHT_PARTS);
    match parts {
        // A decimal to three places is a whole number of parts, up to the rounding of its product.
        Ok(parts) if (1.0..=most).contains(&parts) && (parts - parts.round()).abs() < 1e-6 => Ok(parts.round() as u32),
        _ => Err(Error::at(cell, ErrorKind::Range, format!("`{}` is no weight", cell.text()))
            .label(format!("expected 0.001 to {MOST_WEIGHT}, at most three decimals"))),
    }
}

/// The guitar file that a row stands for.
struct File {
    source: Source,
    /// Where each value stands in it, and in which column it came.
    values: Vec<(Range<usize>, usize)>,
}

impl File {
    fn write(source: &Source, columns: &[Column], row: &Row<'_>) -> Self {
        let (mut text, mut values) = (String::new(), Vec::new());
        let mut put = |text: &mut String, column: usize| {
            let start = text.len();
            text.push_str(&quoted(row.cell(column).text()));
            values.push((start..text.len(), column));
        };
        let filled = |index: &usize| !row.cell(*index).text().is_empty();
        for (index, column) in columns.iter().enumerate().filter(|(index, _)| filled(index)) {
            match (column.key.as_str(), column.item) {
                (key, None) if key.starts_with(OWN) || BESIDE.contains(&key) => {}
                (_, Some(_)) => {}
                ("tone.no_load", _) if ["true", "false"].contains(&row.cell(index).text()) => {
                    text.push_str(&format!("tone.no_load = {}\n", row.cell(index).text()));
                }
                (key, None) => {
                    text.push_str(key);
                    text.push_str(" = ");
                    put(&mut text, index);
                    text.push('\n');
                }
            }
        }
        for (list, _) in LISTS {
            let mut items: Vec<(usize, &str, usize)> = columns
                .iter()
                .enumerate()
                .filter(|(index, _)| filled(index))
                .filter_map(|(index, column)| column.item.filter(|item| item.0 == list).map(|item| (item.1, item.2, index)))
                .collect();
            items.sort_unstable();
            if items.is_empty() {
                continue;
            }
            text.push_str(&format!("{list} = ["));
            for same in items.chunk_by(|one, other| one.0 == other.0) {
                text.push('{');
                for (place, (_, part, index)) in same.iter().enumerate() {
                    text.push_str(if place == 0 { "" } else { ", " });
                    text.push_str(&format!("{part} = "));
                    put(&mut text, *index);
                }
                text.push_str("}, ");
            }
            text.push_str("]\n");
        }
        Self {
            source: source.derived(text),
            values,
        }
    }

    /// The first mistake of a row where it stands in the catalogue: in its cell, or else in its row.
    fn in_catalogue(&self, error: Error, row: &Row<'_>) -> Error {
        let is_in_cell = |span: &Range<usize>| {
            self.values
                .iter()
                .any(|(value, _)| value.start <= span.start && span.end <= value.end)
        };
        let mut each = error.into_each();
        let first = each
            .iter()
            .position(|error| error.place().is_some_and(|place| is_in_cell(&place.span)));
        let error = each.swap_remove(first.unwrap_or(0));
        let Some(place) = error.place().filter(|place| place.source == self.source) else {
            return error;
        };
        let span = place.span.clone();
        let value = self
            .values
            .iter()
            .find(|(value, _)| value.start <= span.start && span.end <= value.end && value.end > span.start);
        let Some((value, column)) = value else {
            return error.moved(row.passage().place());
        };
        let cell = row.cell(*column).place();
        let inside = span.start.saturating_sub(value.start + 1)..span.end.saturating_sub(value.start + 1);
        let part = cell.span.start + inside.start..cell.span.start + inside.end;
        // Where the cell is written otherwise than the value (quotes in it, say), the whole cell is meant.
        let same = cell.source.text().get(part.clone()) == self.source.text().get(span) && part.end <= cell.span.end;
        error.moved(Place {
            span: if same && !part.is_empty() { part } else { cell.span.clone() },
            source: cell.source,
        })
    }
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    let mut quoted = String::with_capacity(text.len() + 2);
    quoted.push('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => quoted.extend(['\\', letter]),
            letter if letter.is_control() => quoted.push_str(&format!("\\u{:04X}", u32::from(letter))),
            letter => quoted.push(letter),
        }
    }
    quoted.push('"');
    quoted
}

/// Whether a CSV is a catalogue of guitars: its header names guitars' keys.
#[must_use]
pub fn is_catalogue(source: &Source) -> bool {
    let first = rows::all(source).ok().and_then(|rows| rows.into_iter().next());
    first
        .is_some_and(|header| (0..header.len()).any(|index| header.cell(index).text() == "name" || header.cell(index).text().contains('.')))
}

/// A catalogue in one line: how many guitars, and what they weigh together where they differ.
#[must_use]
pub fn summary(listed: &[Listed]) -> String {
    let total: u64 = listed.iter().map(|listed| u64::from(listed.weight)).sum();
    let guitars = if listed.len() == 1 { "guitar" } else { "guitars" };
    if listed.iter().all(|listed| listed.weight == WEIGHT_PARTS) {
        format!("{} {guitars}", listed.len())
    } else {
        format!(
            "{} {guitars}, of weight {} together",
            listed.len(),
            total as f64 / f64::from(WEIGHT_PARTS)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "name,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper,cable.capacitance";

    fn errors(text: &str) -> Vec<String> {
        let source = Source::inline("birds.csv", text);
        read(&source).expect_err("refused").iter().map(ToString::to_string).collect()
    }

    #[test]
    fn every_bad_row_is_reported_with_its_row_and_column() {
        let text = format!(
            "{HEADER}\na,2.6 H,6 k,110 p,250 k,linear,500 p\nb,2.6 k,6 k,110 p,250 k,linear,500 p\nc,2 H,6 k,110 p,250 k,lin,\nd,1\n"
        );
        let found = errors(&text);
        assert_eq!(found.len(), 3, "{found:?}");
        assert!(found[0].starts_with("birds.csv:3:7: "), "{found:?}");
        assert!(found[1].starts_with("birds.csv:4:23: "), "{found:?}");
        assert!(found[2].starts_with("birds.csv:5:1: "), "{found:?}");
    }

    #[test]
    fn a_row_reads_as_the_guitar_file_it_stands_for() {
        let text = format!(
            "{HEADER},pickup.loss.1.inductance,pickup.loss.1.resistance,load.1.network,tone.resistance,tone.taper,tone.no_load,weight\n\
             \"Teal, neck\",2.6 H,6 k,110 p,250 k,audio 15 %,500 p,0.4 H,60 k,500k || 22n,250 k,linear,true,2.5\n"
        );
        let listed = read(&Source::inline("birds.csv", text)).expect("reads");
        let file = "name = \"Teal, neck\"\npickup = { inductance = \"2.6 H\", resistance = \"6 k\", capacitance = \"110 p\", \
                    loss = [{ inductance = \"0.4 H\", resistance = \"60 k\" }] }\nvolume = { resistance = \"250 k\", taper = \"audio 15 %\" }\n\
                    tone = { resistance = \"250 k\", taper = \"linear\", no_load = true }\ncable = { capacitance = \"500 p\" }\n\
                    load = [{ network = \"500k || 22n\" }]\n";
        let guitar = Guitar::read(&Source::inline("teal.toml", file)).expect("reads");
        let expected = Listed {
            weight: 2500,
            ..Listed::once(guitar)
        };
        assert_eq!(listed, [expected]);
    }

    #[test]
    fn headers_and_weights_are_held_to_what_they_may_be() {
        assert!(errors("nam,weight\nx,1\n")[0].contains("birds.csv:1:1: `nam` is no key"));
        assert!(errors("weight\n1\n")[0].contains("`name` is missing"));
        assert!(errors("name,name\nx,y\n")[0].contains("birds.csv:1:6: "));
        for weight in ["0", "-1", "nan", "inf", "1e9", "0.0001", "x"] {
            let text = format!("{HEADER},weight\na,2.6 H,6 k,110 p,250 k,linear,500 p,{weight}\n");
            assert!(errors(&text)[0].contains("birds.csv:2:38: "), "{weight}: {:?}", errors(&text));
        }
        let row = "a,2.6 H,6 k,110 p,250 k,linear,500 p";
        assert!(errors(&format!("{HEADER}\n{row}\n{row}\n"))[0].contains("birds.csv:3:1: "));
    }
}
