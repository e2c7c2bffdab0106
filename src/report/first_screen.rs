//! The answer on one screen, for somebody who has never read a graph: what to do, what else it changes, the next best, what stops it or
//! how much room there is, and where to go on.

use super::answer::{also_changes, answer, assumed, built};
use super::explanation::tightest;
use super::recommendation::{changed, what_stops};
use super::table::{Cell, Column, Table};
use super::words::wrapped;
use crate::recommend::{Build, Recommendation};

/// Lines at most.
const MOST_LINES: usize = 25;
/// Lines of what else changes, rows of the list, and lines of what stops the best, at most.
const MOST_CHANGES: usize = 4;
const MOST_ROWS: usize = 5;
const MOST_REASONS: usize = 2;

const GO_ON: &str = "Every reason and figure: --explain. The wiring: --sheet build.html. Pictures: --page answer.html.";
pub(super) const CAUTION: &str = "Before soldering: unplug, ventilate, protect your eyes, keep every ground wire.";

/// The answer on at most 25 lines of at least 80 columns.
#[must_use]
pub fn first_screen(result: &Recommendation, width: usize) -> String {
    let mut headline = answer(result);
    headline.extend(built(result).map(|built| format!(" {built}")));
    let headline = wrapped(&headline, width, 0);
    let understood = assumed(result).iter().cloned().chain(result.target.echo());
    let echo: Vec<String> = understood.map(|line| wrapped(&line, width, 2)).collect();
    let (reason, go_on) = (
        reason(result, width),
        [wrapped(GO_ON, width, 2), wrapped(CAUTION, width, 2)].join("\n"),
    );
    let mut changes: Vec<String> = also_changes(result, MOST_CHANGES)
        .iter()
        .map(|line| wrapped(line, width, 2))
        .collect();
    let mut rows = MOST_ROWS.min(result.listed().len());
    loop {
        let table = if rows == 0 { String::new() } else { list(result, rows, width) };
        let blocks = [
            headline.clone(),
            changes.join("\n"),
            echo.join("\n"),
            table,
            reason.clone(),
            go_on.clone(),
        ];
        let blocks: Vec<String> = blocks.into_iter().filter(|block| !block.is_empty()).collect();
        let text = blocks.join("\n\n") + "\n";
        // What is longest and least needed goes first.
        if text.lines().count() <= MOST_LINES || rows <= 1 && changes.len() <= 1 {
            return text;
        }
        if changes.len() > 2 || rows <= 1 {
            changes.pop();
        } else {
            rows -= 1;
        }
    }
}

/// What stops the best, or how much room there is: two lines.
fn reason(result: &Recommendation, width: usize) -> String {
    let text = match &result.stops {
        Some(stops) => what_stops(result, stops).into_iter().next(),
        None => tightest(&result.explanation.tightest),
    };
    let lines = text.map(|text| wrapped(&text, width, 2)).unwrap_or_default();
    let few: Vec<&str> = lines.lines().take(MOST_REASONS + 1).collect();
    // A sentence cut in the middle says nothing.
    if few.len() > MOST_REASONS { String::new() } else { few.join("\n") }
}

/// The first rows of the list: what goes where, how much is to spare, in how many builds it works.
fn list(result: &Recommendation, rows: usize, width: usize) -> String {
    let slots = result.searched_slots();
    let tells_changes = result.tells_changes();
    let rated = result.listed().iter().any(|build| build.built.is_some());
    let mut columns = vec![Column::new("", "")];
    columns.extend(tells_changes.then(|| Column::new("changed", "")));
    columns.extend(slots.iter().map(|slot| Column::new(slot.word(), "")));
    columns.push(Column::new("dB to\nspare", ""));
    columns.extend(rated.then(|| Column::new("works in\n% of builds", "")));
    columns.push(Column::new("parts", ""));
    let row = |build: &Build| {
        let mut row = vec![if result.is_answer(build) {
            Cell::text("*")
        } else {
            Cell::number(build.rank as f64, 0)
        }];
        row.extend(tells_changes.then(|| changed(build)));
        row.extend(
            slots
                .iter()
                .map(|slot| Cell::text(build.slots.get(slot).map_or("as now", String::as_str))),
        );
        row.push(Cell::difference(build.margin_db, 1));
        row.extend(build.built.map(|built| Cell::number(100.0 * built.share, 0)));
        row.push(Cell::number(build.part_count as f64, 0));
        row
    };
    let table = Table {
        columns,
        rows: result.listed().into_iter().take(rows).map(row).collect(),
    };
    table.text_within(width).trim_end().to_owned()
}
