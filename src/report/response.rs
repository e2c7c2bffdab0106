//! A plain response as text and CSV.

use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use crate::error::Result;
use crate::kernel::response::CasePoint;
use crate::picture::Picture;
use crate::units::knob;

/// The response as a document, with its picture.
#[must_use]
pub fn response_document(guitar: &str, points: &[CasePoint], picture: Option<&Picture>) -> Document {
    let figure = picture.map(|picture| Block::figure(picture, "Picture of the response", "Level over frequency at each knob position."));
    let mut blocks: Vec<Block> = figure.into_iter().collect();
    blocks.push(Block::table("Level and phase against the pickup's own voltage", table(points)));
    blocks.push(Block::modelled());
    Document::new(format!("{guitar}: response"), blocks)
}

/// The response as CSV, one row a point, the case first where the guitar has cases; level and phase are empty where the output is silent.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn response_csv(points: &[CasePoint]) -> Result<String> {
    table(points).csv()
}

fn table(points: &[CasePoint]) -> Table {
    let cases = points.iter().any(|row| row.case.is_some());
    let columns = [
        ("volume", "volume"),
        ("tone", "tone"),
        ("frequency\nHz", "frequency_hz"),
        ("level\ndB", "level_db"),
        ("phase\ndegrees", "phase_deg"),
    ];
    let figure = |value: Option<f64>, decimals| value.map_or(Cell::Empty("silent"), |value| Cell::difference(value, decimals));
    let row = |CasePoint { case, point }: &CasePoint| {
        let figures = [
            Cell::number(knob::number(point.at.volume), 3),
            Cell::number(knob::number(point.at.tone), 3),
            Cell::number(point.frequency_hz, 1),
            figure(point.level_db, 2),
            figure(point.phase_deg, 1),
        ];
        case.iter().map(Cell::text).chain(figures).collect()
    };
    let case = cases.then_some(("case", "case"));
    Table {
        columns: case.iter().chain(&columns).map(|(title, name)| Column::new(title, name)).collect(),
        rows: points.iter().map(row).collect(),
    }
}
