//! CSV with places: rows of cells under an exact header, `#` comments and blank lines passed over.

use std::ops::Range;

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_ROWS};
use crate::source::{Passage, Source};

/// One row: its cells and where each of them stands.
pub(crate) struct Row<'s> {
    source: &'s Source,
    record: StringRecord,
    cells: Vec<Range<usize>>,
}

impl Row<'_> {
    /// What a cell says, without white space around it; empty past the last cell.
    pub(crate) fn cell(&self, column: usize) -> Passage<'_> {
        let text = self.record.get(column).unwrap_or_default();
        let span = self.cells.get(column).cloned().unwrap_or_else(|| self.span());
        Passage::decoded(self.source, text, span)
    }

    /// How many cells it has.
    pub(crate) fn len(&self) -> usize {
        self.record.len()
    }

    /// The whole row.
    pub(crate) fn passage(&self) -> Passage<'_> {
        self.source.passage_at(self.span())
    }

    /// Where the row stands.
    pub(crate) fn span(&self) -> Range<usize> {
        let start = self.cells.first().map_or(0, |cell| cell.start);
        start..self.cells.last().map_or(start, |cell| cell.end)
    }

    /// The row's line in the file, from 1.
    pub(crate) fn line(&self) -> usize {
        self.source.line(self.span().start)
    }
}

/// Reads every row under the header; each row has as many cells as the header.
///
/// # Errors
/// Where the header is another, a row has too few or too many cells, or there are more than [`MOST_ROWS`].
pub(crate) fn read<'s>(source: &'s Source, header: &[&str]) -> Result<Vec<Row<'s>>> {
    let mut rows = all(source)?.into_iter();
    let Some(first) = rows.next() else {
        let message = format!("the header `{}` is missing: there is no row at all", header.join(","));
        return Err(Error::at(&beginning(source), ErrorKind::Missing, message).label("expected the header"));
    };
    check_header(&first, header)?;
    let rows: Vec<Row<'s>> = rows.collect();
    rows.iter().try_for_each(|row| check_count(row, header))?;
    Ok(rows)
}

/// Reads every row under a header that holds two names, perhaps among others, and where the columns of these are.
///
/// # Errors
/// As [`read`].
pub(crate) fn read_two<'s>(source: &'s Source, names: [&str; 2]) -> Result<(Vec<Row<'s>>, [usize; 2], Vec<String>)> {
    let all = all(source)?;
    let header: Vec<String> = all
        .first()
        .map(|head| head.record.iter().map(str::to_owned).collect())
        .unwrap_or_default();
    let column = |name: &str| header.iter().position(|own| own == name);
    let [Some(first), Some(second)] = names.map(column) else {
        return Ok((read(source, &names)?, [0, 1], Vec::new()));
    };
    let words: Vec<&str> = header.iter().map(String::as_str).collect();
    let rows: Vec<Row<'s>> = all.into_iter().skip(1).collect();
    rows.iter().try_for_each(|row| check_count(row, &words))?;
    Ok((rows, [first, second], header))
}

/// The settings of a row of this program's own responses: where its knobs and its selector stand.
pub(crate) const SETTINGS: [&str; 5] = ["volume", "tone", "position", "case", "build"];

/// What there is to say where a table of responses holds several.
pub(crate) fn several_responses(place: &Passage<'_>, column: &str) -> Error {
    let message = format!("this table holds responses at several values of `{column}`, and one is wanted");
    Error::at(place, ErrorKind::Conflict, message)
        .label("another one begins here")
        .help("write one alone, such as: knobwright response --volume 5 --tone 10 --format csv --output half.csv")
}

/// Reads every row as it stands, the header first.
///
/// # Errors
/// Where the text is no CSV, holds what does not show, or has more than [`MOST_ROWS`] under its header.
pub(crate) fn all(source: &Source) -> Result<Vec<Row<'_>>> {
    limits::printable(source)?;
    let delimiter = delimiter(source.text());
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .comment(Some(b'#'))
        .from_reader(source.text().as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| Error::at(&beginning(source), ErrorKind::Syntax, format!("this is no CSV: {error}")))?;
        let start = record
            .position()
            .map_or(0, |position| usize::try_from(position.byte()).unwrap_or(0));
        let cells = cell_spans(source, start, record.len(), delimiter)?;
        let record = if delimiter == COMMA { record } else { with_points(&record) };
        let row = Row { source, record, cells };
        if row.record.iter().all(str::is_empty) && row.record.len() == 1 {
            continue;
        }
        if rows.len() > MOST_ROWS {
            return Err(Error::at(&row.passage(), ErrorKind::Range, format!("more than {MOST_ROWS} rows"))
                .label(format!("at most {MOST_ROWS} are read")));
        }
        rows.push(row);
    }
    Ok(rows)
}

const COMMA: u8 = b',';
/// Words that stand before or behind a price.
pub(crate) const CURRENCIES: [&str; 3] = ["EUR", "USD", "GBP"];

/// What separates cells, by the header: semicolons or tabs where it has more of them than commas.
fn delimiter(text: &str) -> u8 {
    let begins = record_start(text, 0);
    let header = text.get(begins..).and_then(|rest| rest.lines().next()).unwrap_or_default();
    let count = |delimiter: u8| header.bytes().filter(|byte| *byte == delimiter).count();
    let other = [b';', b'\t']
        .into_iter()
        .find(|other| count(*other) > 0 && count(*other) >= count(COMMA));
    other.unwrap_or(COMMA)
}

/// What is to be said of a file whose cells are not separated by commas.
pub(crate) fn dialect(source: &Source) -> Option<String> {
    let delimiter = delimiter(source.text());
    let separated = match delimiter {
        b';' => "semicolons",
        b'\t' => "tabs",
        _ => return None,
    };
    let commas = all(source).is_ok_and(|rows| rows.iter().any(|row| row.cells.iter().any(|span| has_decimal_comma(source, span))));
    let decimals = if commas { ", decimals with a comma" } else { "" };
    Some(format!(
        "`{}` is read with cells separated by {separated}{decimals}.",
        source.name()
    ))
}

fn has_decimal_comma(source: &Source, span: &Range<usize>) -> bool {
    source.text().get(span.clone()).is_some_and(|cell| decimal_comma(cell).is_some())
}

/// The cells of a row whose numbers have a decimal comma, with a point instead.
fn with_points(record: &StringRecord) -> StringRecord {
    let point = |cell: &str| match decimal_comma(cell) {
        Some(at) => format!("{}.{}", cell.get(..at).unwrap_or_default(), cell.get(at + 1..).unwrap_or_default()),
        None => cell.to_owned(),
    };
    record.iter().map(point).collect()
}

/// Where the one comma of a number stands: digits on both sides, before them at most a sign of currency or of the number, behind them a unit.
fn decimal_comma(cell: &str) -> Option<usize> {
    let at = cell.find(',')?;
    let (before, behind) = (cell.get(..at)?, cell.get(at + 1..)?);
    let word = CURRENCIES.into_iter().find_map(|word| before.strip_prefix(word)).unwrap_or(before);
    let whole = word.trim_start_matches(|letter: char| "+-−€$£ ".contains(letter));
    let digits = behind.len() - behind.trim_start_matches(|letter: char| letter.is_ascii_digit()).len();
    let unit = behind.get(digits..)?;
    let is_unit = unit.chars().all(|letter| letter.is_alphabetic() || "%€$£ µΩ".contains(letter)) && unit.chars().count() <= 6;
    let is_number = !whole.is_empty() && whole.bytes().all(|byte| byte.is_ascii_digit()) && digits > 0;
    (is_number && is_unit).then_some(at)
}

fn beginning(source: &Source) -> Passage<'_> {
    source.passage_at(0..0)
}

fn check_header(row: &Row<'_>, header: &[&str]) -> Result<()> {
    if row.record.iter().eq(header.iter().copied()) {
        return Ok(());
    }
    let written = row.passage();
    let expected = header.join(",");
    let message = format!("the header must be `{expected}`");
    let error = Error::at(&written, ErrorKind::Syntax, message).label(format!("expected `{expected}`"));
    Err(error)
}

/// Refuses a row that has not as many cells as the header.
pub(crate) fn check_count(row: &Row<'_>, header: &[&str]) -> Result<()> {
    let (found, wanted) = (row.record.len(), header.len());
    if found == wanted {
        return Ok(());
    }
    let message = format!("row {} has {found} {}, the header has {wanted}", row.line(), cells(found));
    let error = Error::at(&row.passage(), ErrorKind::Syntax, message).label(format!("expected `{}`", header.join(",")));
    Err(if found > wanted {
        error.help("a decimal point is a point (0.5); a text that holds a comma goes in \"quotes\"")
    } else {
        error.help("an empty cell still needs its comma")
    })
}

fn cells(count: usize) -> &'static str {
    if count == 1 { "cell" } else { "cells" }
}

/// Where each cell of the record that begins at or after `start` stands, without quotes and white space.
fn cell_spans(source: &Source, start: usize, count: usize, delimiter: u8) -> Result<Vec<Range<usize>>> {
    let text = source.text();
    let mut at = record_start(text, start);
    let mut spans = Vec::with_capacity(count);
    for _ in 0..count {
        let rest = text.get(at..).unwrap_or_default();
        let length = cell_length(rest, delimiter);
        let cell = rest.get(..length).unwrap_or_default();
        if cell.starts_with('"') && (cell.contains(['\n', '\r']) || cell.matches('"').count() % 2 == 1) {
            return Err(open_quote(source, at));
        }
        spans.push(trimmed(text, at..at + length));
        at = (at + length + 1).min(text.len());
    }
    Ok(spans)
}

/// A field that runs over its line's end is nearly always a quote that was forgotten, and would swallow every row below it.
pub(crate) fn open_quote(source: &Source, at: usize) -> Error {
    let rest = source.text().get(at..).unwrap_or_default();
    let end = at + rest.find(['\n', '\r']).unwrap_or(rest.len());
    let message = "a field runs over the end of its line: its quote is still open there";
    Error::at(&source.passage_at(at..end), ErrorKind::Syntax, message)
        .label("this quote is not closed")
        .help("close it with \" on the same line, or leave it out")
}

/// The reader counts the comments and blank lines before a record as part of it; this passes over them.
fn record_start(text: &str, start: usize) -> usize {
    let mut at = start;
    while let Some(line) = text.get(at..).and_then(|rest| rest.split_inclusive('\n').next()) {
        if !line.starts_with('#') && !line.trim_end_matches(['\r', '\n']).is_empty() {
            break;
        }
        at += line.len();
    }
    at
}

/// Bytes up to the delimiter or line end that closes the cell; inside quotes neither does.
fn cell_length(rest: &str, delimiter: u8) -> usize {
    let mut quoted = rest.starts_with('"');
    for (at, byte) in rest.bytes().enumerate().skip(usize::from(quoted)) {
        match byte {
            b'"' if rest.starts_with('"') => quoted = !quoted,
            b'\n' | b'\r' if !quoted => return at,
            byte if byte == delimiter && !quoted => return at,
            _ => {}
        }
    }
    rest.len()
}

fn trimmed(text: &str, span: Range<usize>) -> Range<usize> {
    let cell = text.get(span.clone()).unwrap_or_default();
    let start = span.start + cell.len() - cell.trim_start().len();
    let inner = cell.trim();
    let unquoted = inner.strip_prefix('"').and_then(|inner| inner.strip_suffix('"'));
    match unquoted {
        Some(unquoted) => {
            let start = start + 1 + unquoted.len() - unquoted.trim_start().len();
            start..start + unquoted.trim().len()
        }
        None => start..start + inner.len(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(text: &str) -> Vec<(String, usize, usize)> {
        let source = Source::inline("x.csv", text);
        let rows = read(&source, &["a", "b"]).unwrap();
        rows.iter()
            .flat_map(|row| (0..2).map(|column| row.cell(column)))
            .map(|cell| {
                let (line, column) = source.line_column(cell.place().span.start);
                (cell.text().to_owned(), line, column)
            })
            .collect()
    }

    #[test]
    fn cells_know_their_line_and_column() {
        let found = places("# first\n\na,b\r\n# between\r\n\r\n 1 ,\"two, \"\r\n   \nµ,3\n#end\n\"x \"\"y\"\"\",4");
        let expected = [
            ("1", 6, 2),
            ("two,", 6, 6),
            ("µ", 8, 1),
            ("3", 8, 3),
            ("x \"y\"", 10, 2),
            ("4", 10, 11),
        ];
        let expected: Vec<_> = expected.map(|(text, line, column)| (text.to_owned(), line, column)).into();
        assert_eq!(found, expected);
    }

    #[test]
    fn a_field_that_runs_over_its_lines_end_is_refused_where_it_begins() {
        for (text, line, column) in [
            ("a,b\n1,\"two\n3,4\n5,\"six\"\n", 2, 3),
            ("a,b\n\"x\ny\",4\n", 2, 1),
            ("a,b\n1,2\n3,\"4", 3, 3),
            ("a,b\r\n1,\"2\r\n", 2, 3),
        ] {
            let source = Source::inline("x.csv", text);
            let error = all(&source).err().expect("an open quote");
            let place = error.place().expect("a place");
            assert_eq!(source.line_column(place.span.start), (line, column), "{text}");
            assert!(!source.text()[place.span.clone()].contains(['\n', '\r']), "{text}");
        }
    }

    #[test]
    fn header_and_count_are_exact() {
        for (text, message) in [
            ("", "the header `a,b` is missing: there is no row at all"),
            ("b,a\n1,2\n", "the header must be `a,b`"),
            ("a,b\n1\n", "row 2 has 1 cell, the header has 2"),
            ("a,b\n1,2,3\n", "row 2 has 3 cells, the header has 2"),
        ] {
            let source = Source::inline("x.csv", text);
            assert_eq!(read(&source, &["a", "b"]).err().unwrap().message(), message);
        }
    }
}
