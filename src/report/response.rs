//! A plain response as text and CSV.

use std::io::{Result as IoResult, Write};

use serde::{Serialize, Serializer};

use super::document::{Block, Document};
use super::json::write_json;
use super::table::{Cell, Column, Table, write_csv};
use crate::kernel::response::{CasePoint, Response};
use crate::picture::Picture;
use crate::progress::Progress;
use crate::units::knob;

/// The response as a document, with its picture; every point of it is a row.
#[must_use]
pub fn response_document(parts: &[Response<'_>], picture: Option<&Picture>) -> Document {
    let figure = picture.map(|picture| Block::figure(picture, "Picture of the response", "Level over frequency at each knob position."));
    let mut blocks: Vec<Block> = figure.into_iter().collect();
    blocks.push(Block::table("Level and phase against the pickup's own voltage", table(parts)));
    blocks.push(Block::modelled());
    let name = parts.first().map_or("", |part| part.guitar.name.as_str());
    Document::new(format!("{name}: response"), blocks)
}

/// Writes the response as CSV, one row a point, each as soon as it is computed, the case first where the guitar has cases; level and phase
/// are empty where the output is silent. Each point is told to `progress`.
///
/// # Errors
/// Those of `out`.
pub fn response_csv(parts: &[Response<'_>], progress: &dyn Progress, out: impl Write) -> IoResult<()> {
    let points = watched(parts, progress);
    write_csv(&columns(parts), points.map(|point| row(&point)), out)
}

/// The points as JSON, each written as soon as it is computed.
///
/// # Errors
/// As the writer.
pub fn response_json(parts: &[Response<'_>], progress: &dyn Progress, out: impl Write) -> IoResult<()> {
    write_json(&Watched { parts, progress }, out)
}

/// The points of a response, each told to somebody who watches.
fn watched<'r>(parts: &'r [Response<'r>], progress: &'r dyn Progress) -> impl Iterator<Item = CasePoint<'r>> {
    progress.expect(parts.iter().map(Response::count).sum());
    parts.iter().flat_map(Response::points).inspect(|_| progress.advance(1))
}

struct Watched<'r> {
    parts: &'r [Response<'r>],
    progress: &'r dyn Progress,
}

impl Serialize for Watched<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(watched(self.parts, self.progress))
    }
}

fn table(parts: &[Response<'_>]) -> Table {
    Table {
        columns: columns(parts),
        rows: parts.iter().flat_map(Response::points).map(|point| row(&point)).collect(),
    }
}

/// A guitar of several pickups has a column for each of its knobs.
fn columns(parts: &[Response<'_>]) -> Vec<Column> {
    let figures = [
        ("frequency\nHz", "frequency_hz"),
        ("level\ndB", "level_db"),
        ("phase\ndegrees", "phase_deg"),
    ];
    let knobs = match parts.first().and_then(Response::names) {
        Some(names) => names.knobs.iter().map(|knob| knob.name.as_str()).collect(),
        None => vec!["volume", "tone"],
    };
    let has_cases = parts.iter().any(|part| !part.guitar.cases.is_empty());
    let case = parts.first().filter(|_| has_cases).map(|part| part.guitar.case_word());
    let named = case.into_iter().chain(knobs).map(|word| (word, word));
    named.chain(figures).map(|(title, name)| Column::new(title, name)).collect()
}

fn row(
    CasePoint {
        case,
        position,
        knobs,
        point,
    }: &CasePoint<'_>,
) -> Vec<Cell> {
    let figure = |value: Option<f64>, decimals| value.map_or(Cell::Empty("silent"), |value| Cell::difference(value, decimals));
    let knobs: Vec<f64> = match knobs {
        Some(knobs) => knobs.iter().map(|(_, rotation)| *rotation).collect(),
        None => vec![point.at.volume, point.at.tone],
    };
    let figures = [
        Cell::number(point.frequency_hz, 1),
        figure(point.level_db, 2),
        figure(point.phase_deg, 1),
    ];
    let knobs = knobs.into_iter().map(|rotation| Cell::number(knob::number(rotation), 3));
    case.iter()
        .chain(position)
        .copied()
        .map(Cell::text)
        .chain(knobs)
        .chain(figures)
        .collect()
}
