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
pub fn response_document(response: &Response<'_>, picture: Option<&Picture>) -> Document {
    let figure = picture.map(|picture| Block::figure(picture, "Picture of the response", "Level over frequency at each knob position."));
    let mut blocks: Vec<Block> = figure.into_iter().collect();
    blocks.push(Block::table("Level and phase against the pickup's own voltage", table(response)));
    blocks.push(Block::modelled());
    Document::new(format!("{}: response", response.guitar.name), blocks)
}

/// Writes the response as CSV, one row a point, each as soon as it is computed, the case first where the guitar has cases; level and phase
/// are empty where the output is silent. Each point is told to `progress`.
///
/// # Errors
/// Those of `out`.
pub fn response_csv(response: &Response<'_>, progress: &dyn Progress, out: impl Write) -> IoResult<()> {
    let points = watched(response, progress);
    write_csv(&columns(response), points.map(|point| row(&point)), out)
}

/// The points as JSON, each written as soon as it is computed.
///
/// # Errors
/// As the writer.
pub fn response_json(response: &Response<'_>, progress: &dyn Progress, out: impl Write) -> IoResult<()> {
    write_json(&Watched { response, progress }, out)
}

/// The points of a response, each told to somebody who watches.
fn watched<'r>(response: &'r Response<'_>, progress: &'r dyn Progress) -> impl Iterator<Item = CasePoint<'r>> {
    progress.expect(response.count());
    response.points().inspect(|_| progress.advance(1))
}

struct Watched<'r> {
    response: &'r Response<'r>,
    progress: &'r dyn Progress,
}

impl Serialize for Watched<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(watched(self.response, self.progress))
    }
}

fn table(response: &Response<'_>) -> Table {
    Table {
        columns: columns(response),
        rows: response.points().map(|point| row(&point)).collect(),
    }
}

fn columns(response: &Response<'_>) -> Vec<Column> {
    let columns = [
        ("volume", "volume"),
        ("tone", "tone"),
        ("frequency\nHz", "frequency_hz"),
        ("level\ndB", "level_db"),
        ("phase\ndegrees", "phase_deg"),
    ];
    let case = (!response.guitar.cases.is_empty()).then(|| response.guitar.case_word());
    let case = case.map(|word| (word, word));
    case.iter().chain(&columns).map(|(title, name)| Column::new(title, name)).collect()
}

fn row(CasePoint { case, point }: &CasePoint<'_>) -> Vec<Cell> {
    let figure = |value: Option<f64>, decimals| value.map_or(Cell::Empty("silent"), |value| Cell::difference(value, decimals));
    let figures = [
        Cell::number(knob::number(point.at.volume), 3),
        Cell::number(knob::number(point.at.tone), 3),
        Cell::number(point.frequency_hz, 1),
        figure(point.level_db, 2),
        figure(point.phase_deg, 1),
    ];
    case.iter().copied().map(Cell::text).chain(figures).collect()
}
