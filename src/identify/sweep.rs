//! Sweeps from the bench: a frequency and a reading a row, in whatever dialect of CSV the instrument writes.
//!
//! Cells are separated by commas, semicolons, tabs or spaces; with any but the comma a decimal comma is read too. Lines that begin with
//! `#`, `%`, `!` or `*` are comments. Without a header the columns are frequency, reading and phase. A unit in a header is read
//! (`f [kHz]`, `Z (kOhm)`, `phase / rad`).

use std::ops::Range;

use serde::Serialize;

use super::hum;
use crate::error::{Error, ErrorKind, Result};
use crate::limits::MOST_ROWS;
use crate::parts::choice::assigned;
use crate::rows::{SETTINGS, open_quote, several_responses};
use crate::source::{Passage, Source};

/// Fewer rows than this decide nothing.
pub const FEWEST_ROWS: usize = 5;
/// Lowest and highest frequency of a row, in Hz.
const FREQUENCIES: [f64; 2] = [0.01, 10e6];
/// What a comment begins with.
const COMMENT: [char; 4] = ['#', '%', '!', '*'];

/// What the second column of a sweep is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Reading {
    /// |Z| in Ω.
    Impedance,
    /// A level in dB against anything.
    Level,
}

impl Reading {
    /// The name of its column unless told.
    #[must_use]
    pub const fn column(self) -> &'static str {
        match self {
            Self::Impedance => "magnitude_ohm",
            Self::Level => "level_db",
        }
    }
}

/// What the columns of a file are called, or their numbers from 1; `None` is the usual name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Columns {
    /// Frequency in Hz; usually `frequency_hz`.
    pub frequency: Option<String>,
    /// The reading; usually `magnitude_ohm` or `level_db`.
    pub reading: Option<String>,
    /// Phase in degrees; usually `phase_deg`.
    pub phase: Option<String>,
}

impl Columns {
    /// Reads `frequency=f,reading=mag,phase=ph`; a number counts columns from 1.
    ///
    /// # Errors
    /// Where the text is no list of those keys.
    pub fn read(text: &Passage<'_>) -> Result<Self> {
        let mut columns = Self::default();
        for (item, key, value) in assigned(text, "frequency=f,reading=mag,phase=ph")? {
            let place = match key.text() {
                "frequency" => &mut columns.frequency,
                "reading" => &mut columns.reading,
                "phase" => &mut columns.phase,
                other => {
                    return Err(Error::at(&key, ErrorKind::Unknown, format!("`{other}` is no column of a sweep"))
                        .label("expected frequency, reading or phase")
                        .nearest(other, ["frequency", "reading", "phase"]));
                }
            };
            if place.is_some() {
                return Err(Error::at(&item, ErrorKind::Conflict, format!("`{}` is given twice", key.text())).label("the second time"));
            }
            *place = Some(value.text().to_owned());
        }
        Ok(columns)
    }
}

/// One row of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// In Hz, above 0.
    pub frequency: f64,
    /// ln |Z/Ω|, or the level as ln of a ratio: nepers either way.
    pub nepers: f64,
    /// In rad.
    pub phase: Option<f64>,
}

/// A sweep, by rising frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// The file's name.
    pub name: String,
    /// Its rows; all of them have a phase or none has.
    pub rows: Vec<Row>,
    /// What its reader should know.
    pub notes: Vec<String>,
}

/// One neper in dB: 20·log₁₀ e.
pub const NEPER_DB: f64 = 20.0 * std::f64::consts::LOG10_E;

/// The standard deviation of what jumps from point to point in several smooth series, from second differences: what is slow bends them
/// little. White noise of deviation σ has second differences of deviation σ·√6, and a median size of 0.6745 of that.
#[must_use]
pub fn scatter<'s>(series: impl IntoIterator<Item = &'s [f64]>) -> f64 {
    let bends = |own: &'s [f64]| own.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs());
    let mut bends: Vec<f64> = series.into_iter().flat_map(bends).collect();
    bends.sort_by(f64::total_cmp);
    bends.get(bends.len() / 2).map_or(0.0, |median| median / (0.6745 * 6.0_f64.sqrt()))
}

impl Sweep {
    /// Reads a sweep.
    ///
    /// # Errors
    /// Where a row is malformed, a reading is not above zero, a column is not there, there are fewer than five rows or more than 100,000.
    pub fn read(source: &Source, reading: Reading, columns: &Columns) -> Result<Self> {
        let mut lines = Lines::of(source);
        let Some(first) = lines.next() else {
            return Err(too_few(source, 0, source.passage_at(0..0)));
        };
        let delimiter = Delimiter::of(&source.text()[first.clone()]);
        refuse_open_quote(source, &first, delimiter)?;
        let head = cells(source, &first, delimiter);
        let headed = head.iter().any(|cell| number(cell.text(), delimiter).is_none());
        let places = Places::find(&head, headed, reading, columns, source)?;
        let mut settings = Settings::of(&head, headed);
        let mut rows = Vec::new();
        let start = if headed { None } else { Some(first.clone()) };
        let mut last = first;
        for line in start.into_iter().chain(lines) {
            if rows.len() == MOST_ROWS {
                let message = format!("`{}` has more than {MOST_ROWS} rows", source.name());
                return Err(Error::at(&source.passage_at(line), ErrorKind::Range, message)
                    .label("one row too many")
                    .help("keep every tenth row, or sweep with fewer points: some hundred are plenty"));
            }
            refuse_open_quote(source, &line, delimiter)?;
            settings.check(source, &line, delimiter)?;
            rows.push(places.row(source, &line, delimiter, reading)?);
            last = line;
        }
        if rows.len() < FEWEST_ROWS {
            return Err(too_few(source, rows.len(), source.passage_at(last)));
        }
        let mut notes = ordered(&mut rows);
        let levels: Vec<f64> = rows.iter().map(|row| NEPER_DB * row.nepers).collect();
        let readings: Vec<[f64; 2]> = rows.iter().zip(&levels).map(|(row, level)| [row.frequency, *level]).collect();
        let spoiled = hum::spoiled(&readings, scatter([levels.as_slice()]));
        rows.retain(|row| !spoiled.contains(&row.frequency));
        notes.extend((!spoiled.is_empty()).then(|| hum::note(&spoiled)));
        Ok(Self {
            name: source.name().to_owned(),
            rows,
            notes,
        })
    }
}

fn too_few(source: &Source, count: usize, place: Passage<'_>) -> Error {
    let rows = if count == 1 { "row" } else { "rows" };
    let message = format!(
        "a sweep needs at least {FEWEST_ROWS} rows, `{}` has {count} {rows} of readings",
        source.name()
    );
    Error::at(&place, ErrorKind::Missing, message).label("expected more rows below")
}

/// Sorts the rows; what there is to say about their order.
fn ordered(rows: &mut [Row]) -> Vec<String> {
    let mut notes = Vec::new();
    let rising = rows.is_sorted_by(|one, next| one.frequency <= next.frequency);
    let falling = rows.is_sorted_by(|one, next| one.frequency >= next.frequency);
    if !rising {
        rows.sort_by(|one, other| one.frequency.total_cmp(&other.frequency));
        if !falling {
            notes.push("the rows were in no order of frequency; they have been sorted".to_owned());
        }
    }
    let twice = rows.windows(2).filter(|pair| pair[0].frequency == pair[1].frequency).count();
    if twice > 0 {
        let times = if twice == 1 { "once" } else { "times" };
        let count = if twice == 1 { String::new() } else { format!("{twice} ") };
        notes.push(format!("a frequency is repeated {count}{times}: each reading counts"));
    }
    notes
}

/// What separates cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Delimiter {
    One(char),
    Spaces,
}

impl Delimiter {
    fn of(line: &str) -> Self {
        let found = ['\t', ';', ','].into_iter().find(|delimiter| line.contains(*delimiter));
        found.map_or(Self::Spaces, Self::One)
    }
}

/// The lines that say something, by their byte ranges.
struct Lines<'s> {
    text: &'s str,
    at: usize,
}

impl<'s> Lines<'s> {
    fn of(source: &'s Source) -> Self {
        Self {
            text: source.text(),
            at: 0,
        }
    }
}

impl Iterator for Lines<'_> {
    type Item = Range<usize>;

    fn next(&mut self) -> Option<Range<usize>> {
        loop {
            let line = self.text.get(self.at..)?.split_inclusive(['\n', '\r']).next()?;
            let start = self.at;
            self.at += line.len();
            let said = line.trim();
            if !said.is_empty() && !said.starts_with(COMMENT) {
                let lead = line.len() - line.trim_start().len();
                return Some(start + lead..start + lead + said.len());
            }
        }
    }
}

/// Refuses a line with a cell whose quote is not closed in it: the reading's line is not the one its instrument wrote.
fn refuse_open_quote(source: &Source, line: &Range<usize>, delimiter: Delimiter) -> Result<()> {
    let ends_cell = |letter: char| match delimiter {
        Delimiter::One(delimiter) => letter == delimiter,
        Delimiter::Spaces => letter.is_whitespace(),
    };
    let (mut opened, mut begins) = (None, true);
    for (at, letter) in source.text()[line.clone()].char_indices() {
        match (opened, letter) {
            (None, '"') if begins => opened = Some(at),
            (Some(_), '"') => opened = None,
            _ => {}
        }
        begins = opened.is_none() && (ends_cell(letter) || (begins && letter.is_whitespace()));
    }
    opened.map_or(Ok(()), |at| Err(open_quote(source, line.start + at)))
}

/// The cells of a line, without white space and quotes around them.
fn cells<'s>(source: &'s Source, line: &Range<usize>, delimiter: Delimiter) -> Vec<Passage<'s>> {
    let text = &source.text()[line.clone()];
    let mut found = Vec::new();
    let mut start = line.start;
    let mut push = |range: Range<usize>| {
        let cell = source.passage_at(range).trimmed();
        let inner = cell.text().strip_prefix('"').and_then(|inner| inner.strip_suffix('"'));
        let cell = inner.map_or_else(|| cell.clone(), |inner| cell.part(1..1 + inner.len()).trimmed());
        found.push(cell);
    };
    match delimiter {
        Delimiter::One(delimiter) => {
            for piece in text.split(delimiter) {
                push(start..start + piece.len());
                start += piece.len() + delimiter.len_utf8();
            }
        }
        Delimiter::Spaces => {
            for piece in text.split(char::is_whitespace) {
                if !piece.is_empty() {
                    push(start..start + piece.len());
                }
                // White space is longer than a byte in some scripts.
                start += piece.len();
                start += source.text()[start..line.end].chars().next().map_or(0, char::len_utf8);
            }
        }
    }
    found
}

fn number(written: &str, delimiter: Delimiter) -> Option<f64> {
    if delimiter != Delimiter::One(',') && written.contains(',') {
        return written.replacen(',', ".", 1).parse().ok();
    }
    written.parse().ok()
}

/// A unit in a header, `f [kHz]`, `Z (kOhm)`, `phase / deg`, and what its readings are multiplied by; the second is what it measures.
fn unit(head: &str) -> Option<(f64, Measures)> {
    let (_, tail) = head.rsplit_once(['[', '(', '/'])?;
    unit_word(tail.trim_end_matches([']', ')']).trim())
}

/// What a unit measures.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Measures {
    Frequency,
    Impedance,
    Level,
    Phase,
}

fn unit_word(word: &str) -> Option<(f64, Measures)> {
    let prefixed = |word: &str, base: &[&str]| {
        let base = base.iter().find(|base| word.to_lowercase().ends_with(*base))?;
        match word.get(..word.len().checked_sub(base.len())?)? {
            "" => Some(1.0),
            "k" | "K" => Some(1e3),
            "M" => Some(1e6),
            "m" => Some(1e-3),
            _ => None,
        }
    };
    // Both omegas, the letter and the sign.
    let word = word.replace(['\u{3a9}', '\u{2126}'], "ohm");
    if let Some(factor) = prefixed(&word, &["hz"]) {
        return Some((factor, Measures::Frequency));
    }
    if let Some(factor) = prefixed(&word, &["ohms", "ohm"]) {
        return Some((factor, Measures::Impedance));
    }
    match word.to_lowercase().as_str() {
        "db" | "dbv" | "dbu" | "dbfs" => Some((1.0, Measures::Level)),
        "deg" | "°" | "degrees" => Some((1.0, Measures::Phase)),
        "rad" => Some((1_f64.to_degrees(), Measures::Phase)),
        _ => None,
    }
}

/// Columns that say where knobs and selector stand, each with its name and what its first row says: all rows must say the same.
struct Settings(Vec<(usize, String, Option<String>)>);

impl Settings {
    fn of(head: &[Passage<'_>], headed: bool) -> Self {
        let named = head
            .iter()
            .enumerate()
            .filter(|(_, cell)| headed && SETTINGS.contains(&cell.text()));
        Self(named.map(|(column, cell)| (column, cell.text().to_owned(), None)).collect())
    }

    fn check(&mut self, source: &Source, line: &Range<usize>, delimiter: Delimiter) -> Result<()> {
        if self.0.is_empty() {
            return Ok(());
        }
        let cells = cells(source, line, delimiter);
        for (column, name, first) in &mut self.0 {
            let Some(cell) = cells.get(*column) else { continue };
            match first {
                None => *first = Some(cell.text().to_owned()),
                Some(first) if first != cell.text() => return Err(several_responses(cell, name)),
                Some(_) => {}
            }
        }
        Ok(())
    }
}

/// Where each column stands, from 0, and what its numbers are multiplied by.
struct Places {
    frequency: usize,
    reading: usize,
    phase: Option<usize>,
    factors: [f64; 3],
}

impl Places {
    fn find(head: &[Passage<'_>], headed: bool, reading: Reading, columns: &Columns, source: &Source) -> Result<Self> {
        let by_unit = |measures: Measures| {
            let mut found = head
                .iter()
                .enumerate()
                .filter(|(_, cell)| unit(cell.text()).is_some_and(|(_, own)| own == measures));
            let first = found.next().map(|(index, _)| index);
            first.filter(|_| found.next().is_none())
        };
        let find = |said: Option<&String>, usual: &str, position: usize, measures: Measures| -> Result<Option<usize>> {
            let name = said.map_or(usual, String::as_str);
            if let Some(index) = said
                .and_then(|said| said.parse::<usize>().ok())
                .and_then(|number| number.checked_sub(1))
            {
                return Ok((index < head.len()).then_some(index));
            }
            if !headed {
                return match said {
                    Some(said) => Err(Error::at(
                        &whole(head, source),
                        ErrorKind::Missing,
                        format!("there is no header, so no column `{said}`"),
                    )
                    .label("the first row holds numbers")
                    .help("give the column's number instead, counted from 1")),
                    None => Ok((position < head.len()).then_some(position)),
                };
            }
            let named = head.iter().position(|cell| cell.text().eq_ignore_ascii_case(name));
            Ok(named.or_else(|| by_unit(measures).filter(|_| said.is_none())))
        };
        let missing = |name: &str| {
            let names: Vec<&str> = head.iter().map(Passage::text).collect();
            Error::at(
                &whole(head, source),
                ErrorKind::Missing,
                format!("`{}` has no column `{name}`", source.name()),
            )
            .label(format!("expected a column `{name}`"))
            .nearest(name, names.iter().copied())
            .help("say which column is which, by name or number: --columns frequency=1,reading=2,phase=3")
        };
        let frequency = find(columns.frequency.as_ref(), "frequency_hz", 0, Measures::Frequency)?
            .ok_or_else(|| missing(columns.frequency.as_deref().unwrap_or("frequency_hz")))?;
        let measures = match reading {
            Reading::Impedance => Measures::Impedance,
            Reading::Level => Measures::Level,
        };
        let value = find(columns.reading.as_ref(), reading.column(), 1, measures)?
            .ok_or_else(|| missing(columns.reading.as_deref().unwrap_or(reading.column())))?;
        let phase = find(columns.phase.as_ref(), "phase_deg", 2, Measures::Phase)?;
        if let (Some(said), None) = (&columns.phase, phase) {
            return Err(missing(said));
        }
        let factor = |index: Option<usize>, measures: Measures| {
            let written = index
                .and_then(|index| head.get(index))
                .filter(|_| headed)
                .and_then(|cell| unit(cell.text()));
            written.filter(|(_, own)| *own == measures).map_or(1.0, |(factor, _)| factor)
        };
        Ok(Self {
            frequency,
            reading: value,
            phase,
            factors: [
                factor(Some(frequency), Measures::Frequency),
                factor(Some(value), measures),
                factor(phase, Measures::Phase),
            ],
        })
    }

    fn row(&self, source: &Source, line: &Range<usize>, delimiter: Delimiter, reading: Reading) -> Result<Row> {
        let cells = cells(source, line, delimiter);
        let get = |index: usize| -> Result<(f64, &Passage<'_>)> {
            let Some(cell) = cells.get(index) else {
                let message = format!("this row has {} cells, column {} is wanted", cells.len(), index + 1);
                return Err(Error::at(&source.passage_at(line.clone()), ErrorKind::Syntax, message).label("too few cells"));
            };
            match number(cell.text(), delimiter) {
                Some(value) if value.is_finite() => Ok((value, cell)),
                _ => Err(not_a_number(cell)),
            }
        };
        let [of_frequency, of_reading, of_phase] = self.factors;
        let (frequency, cell) = get(self.frequency)?;
        let frequency = frequency * of_frequency;
        if !(FREQUENCIES[0]..=FREQUENCIES[1]).contains(&frequency) {
            let message = format!("{frequency} Hz is no frequency of a sweep");
            return Err(Error::at(cell, ErrorKind::Range, message).label("expected hertz, above 0 and up to 10 MHz"));
        }
        let (value, cell) = get(self.reading)?;
        let value = value * of_reading;
        let nepers = match reading {
            Reading::Impedance if (1e-3..=1e12).contains(&value) => value.ln(),
            Reading::Impedance => {
                return Err(Error::at(cell, ErrorKind::Range, format!("an impedance of {value} Ω cannot be"))
                    .label("expected ohms above 0")
                    .help("leave rows without a reading out"));
            }
            Reading::Level if value.abs() <= 400.0 => value / NEPER_DB,
            Reading::Level => {
                return Err(Error::at(cell, ErrorKind::Range, format!("{value} dB is no level")).label("expected -400 to 400 dB"));
            }
        };
        let phase = self
            .phase
            .map(|phase| get(phase).map(|(degrees, _)| (degrees * of_phase).rem_euclid(360.0).to_radians()))
            .transpose()?;
        Ok(Row { frequency, nepers, phase })
    }
}

fn whole<'s>(head: &[Passage<'_>], source: &'s Source) -> Passage<'s> {
    let start = head.first().map_or(0, |cell| cell.place().span.start);
    source.passage_at(start..head.last().map_or(start, |cell| cell.place().span.end))
}

fn not_a_number(cell: &Passage<'_>) -> Error {
    let written = cell.text();
    if written.is_empty() {
        return Error::at(cell, ErrorKind::Missing, "a cell is empty where a number is expected").label("expected a number");
    }
    let message = format!("`{written}` is not a number");
    Error::at(cell, ErrorKind::Syntax, message)
        .label("expected a number alone, without unit")
        .help("a note belongs on a line of its own that begins with #")
}
