//! Rows and columns, once as text for people and once as CSV for programs.

use std::io::{Error as IoError, Result as IoResult, Write};

use comfy_table::{CellAlignment, ContentArrangement, presets};

use crate::error::{Error, ErrorKind, Result};

/// A table of a result.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Title, unit and CSV name of each column.
    pub columns: Vec<Column>,
    /// One cell a column in each row.
    pub rows: Vec<Vec<Cell>>,
}

/// A column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Over the column in text; a line feed breaks it.
    pub title: String,
    /// The CSV header, with the unit in the name.
    pub name: String,
    /// The title where a screen is too narrow for all.
    pub short: Option<&'static str>,
    /// More letters than this are cut off on a screen.
    pub longest: Option<usize>,
}

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words, at the left.
    Text(String),
    /// A number with so many decimals in text, in full precision in CSV; the sign of a difference is always shown.
    Number {
        /// The number, in the unit of the column.
        value: f64,
        /// Decimals in text.
        decimals: usize,
        /// Whether a plus is shown in text.
        signed: bool,
    },
    /// A quantity: with prefix and unit in text, in SI units and full precision in CSV.
    Quantity {
        /// In the SI unit.
        value: f64,
        /// With prefix and unit.
        text: String,
    },
    /// Nothing: empty in CSV, the word in text.
    Empty(&'static str),
}

impl Column {
    /// A column by title and CSV name.
    #[must_use]
    pub fn new(title: &str, name: &str) -> Self {
        Self {
            title: title.to_owned(),
            name: name.to_owned(),
            short: None,
            longest: None,
        }
    }

    /// The same with a title for narrow screens.
    #[must_use]
    pub fn short(self, short: &'static str) -> Self {
        Self {
            short: Some(short),
            ..self
        }
    }

    /// The same, its cells cut on a screen after so many letters.
    #[must_use]
    pub fn cut_at(self, letters: usize) -> Self {
        Self {
            longest: Some(letters),
            ..self
        }
    }

    /// The title in one line; the name where a mere sign is enough on a screen.
    #[must_use]
    pub fn in_full(&self) -> String {
        let title = if self.title.contains(char::is_alphanumeric) {
            &self.title
        } else {
            &self.name
        };
        title.replace('\n', " ")
    }

    fn cell(&self, cell: &Cell) -> String {
        let text = cell.for_people();
        match self.longest {
            Some(longest) if text.chars().count() > longest => {
                let kept: String = text.chars().take(longest.saturating_sub(1)).collect();
                kept.trim_end().to_owned() + "…"
            }
            _ => text,
        }
    }
}

impl Cell {
    /// Words.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    /// A number with so many decimals in text.
    #[must_use]
    pub fn number(value: f64, decimals: usize) -> Self {
        Self::Number {
            value,
            decimals,
            signed: false,
        }
    }

    /// A difference: the sign is always shown.
    #[must_use]
    pub fn difference(value: f64, decimals: usize) -> Self {
        Self::Number {
            value,
            decimals,
            signed: true,
        }
    }

    /// As a person reads it.
    #[must_use]
    pub fn for_people(&self) -> String {
        match self {
            Self::Text(text) | Self::Quantity { text, .. } => text.clone(),
            Self::Empty(word) => (*word).to_owned(),
            Self::Number { value, decimals, signed } => {
                // −0.00 is 0.00 to a reader.
                let value = if value.abs() < 0.5 * 0.1_f64.powi(i32::try_from(*decimals).unwrap_or(0)) {
                    0.0
                } else {
                    *value
                };
                if *signed {
                    format!("{value:+.decimals$}")
                } else {
                    format!("{value:.decimals$}")
                }
            }
        }
    }

    fn for_programs(&self) -> String {
        match self {
            // A spreadsheet takes a cell that begins like this for a formula.
            Self::Text(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r']) => format!("'{text}"),
            Self::Text(text) => text.clone(),
            Self::Empty(_) => String::new(),
            Self::Number { value, .. } | Self::Quantity { value, .. } => value.to_string(),
        }
    }
}

impl Table {
    /// The table as text, columns set apart by two spaces, numbers at the right.
    #[must_use]
    pub fn text(&self) -> String {
        self.laid_out(2, |column| &column.title)
    }

    /// As [`Table::text`]; with short titles and narrow gaps where it would be wider than `width` and has such titles. Where that is not enough the
    /// columns that have them are left out, from the right.
    #[must_use]
    pub fn text_within(&self, width: usize) -> String {
        let roomy = self.text();
        let fits = roomy.lines().all(|line| line.chars().count() <= width);
        if fits || self.columns.iter().all(|column| column.short.is_none()) {
            return roomy;
        }
        let short = self.laid_out(1, |column| column.short.unwrap_or(&column.title));
        let fits = short.lines().all(|line| line.chars().count() <= width);
        match self.columns.iter().rposition(|column| column.short.is_some()) {
            Some(index) if !fits => self.without(index).text_within(width),
            _ => short,
        }
    }

    fn without(&self, column: usize) -> Self {
        let mut table = self.clone();
        table.columns.remove(column);
        for row in table.rows.iter_mut().filter(|row| column < row.len()) {
            row.remove(column);
        }
        table
    }

    fn laid_out(&self, gap: u16, title: impl Fn(&Column) -> &str) -> String {
        let mut table = comfy_table::Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Disabled);
        table.set_header(self.columns.iter().map(&title));
        for row in &self.rows {
            table.add_row(self.columns.iter().zip(row).map(|(column, cell)| column.cell(cell)));
        }
        let count = self.columns.len();
        for (index, column) in table.column_iter_mut().enumerate() {
            let numeric = |row: &Vec<Cell>| row.get(index).is_none_or(|cell| !matches!(cell, Cell::Text(_)));
            if self.rows.iter().all(numeric) {
                column.set_cell_alignment(CellAlignment::Right);
            }
            column.set_padding((0, if index + 1 == count { 0 } else { gap }));
        }
        let lines = table.lines().map(|line| line.trim_end().to_owned());
        lines.collect::<Vec<_>>().join("\n") + "\n"
    }

    /// The table as CSV with a header.
    ///
    /// # Errors
    /// When a row is not as long as the header.
    pub fn csv(&self) -> Result<String> {
        let broken = |error: &dyn std::fmt::Display| Error::new(ErrorKind::File, format!("no CSV can be made of this: {error}"));
        let mut bytes = Vec::new();
        write_csv(&self.columns, &self.rows, &mut bytes).map_err(|error| broken(&error))?;
        String::from_utf8(bytes).map_err(|error| broken(&error))
    }
}

/// A CSV for spreadsheets of countries with decimal commas: semicolons between cells, commas in numbers, and these rounded to six digits.
///
/// # Errors
/// Where the text is no CSV.
pub fn with_decimal_commas(csv: &str) -> Result<String> {
    let bad = |error: csv::Error| Error::new(ErrorKind::Syntax, format!("this is no CSV: {error}"));
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(csv.as_bytes());
    let mut writer = csv::WriterBuilder::new().delimiter(b';').flexible(true).from_writer(Vec::new());
    for record in reader.records() {
        let record = record.map_err(bad)?;
        writer.write_record(record.iter().map(with_comma)).map_err(bad)?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|error| Error::new(ErrorKind::File, error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| Error::new(ErrorKind::Syntax, error.to_string()))
}

/// A number that is not whole, rounded and with a comma; anything else as it is.
fn with_comma(cell: &str) -> String {
    let is_number = cell.contains('.') && cell.bytes().all(|byte| byte.is_ascii_digit() || b"+-.eE".contains(&byte));
    let Some(number) = cell.parse::<f64>().ok().filter(|number| is_number && number.is_finite()) else {
        return cell.to_owned();
    };
    let size = number.abs().max(f64::MIN_POSITIVE).log10().floor();
    let decimals = (5.0 - size).clamp(0.0, 15.0) as usize;
    let rounded = format!("{number:.decimals$}");
    let short = if rounded.contains('.') {
        rounded.trim_end_matches('0').trim_end_matches('.')
    } else {
        &rounded
    };
    short.replace('.', ",")
}

/// Writes rows as CSV under their header, each as soon as it is there.
///
/// # Errors
/// Those of `out`, and when a row is not as long as the header.
pub(super) fn write_csv<R: AsRef<[Cell]>>(columns: &[Column], rows: impl IntoIterator<Item = R>, out: impl Write) -> IoResult<()> {
    // What became of the writing decides what is to be done, which the library's own conversion hides.
    let failed = |error: csv::Error| {
        let words = error.to_string();
        match error.into_kind() {
            csv::ErrorKind::Io(error) => error,
            _ => IoError::other(words),
        }
    };
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(columns.iter().map(|column| &column.name)).map_err(failed)?;
    for row in rows {
        writer.write_record(row.as_ref().iter().map(Cell::for_programs)).map_err(failed)?;
    }
    writer.flush()
}
