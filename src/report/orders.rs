//! The answers for many guitars as one list for a spreadsheet: what each gets, part by part.

use super::answer::answer;
use super::shopping::printed;
use super::table::{Cell, Column, Table};
use crate::error::Result;
use crate::recommend::{Item, Recommendation};

/// What became of one guitar.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The guitar's name.
    pub guitar: String,
    /// The group that it is counted with.
    pub group: Option<String>,
    /// Columns of the catalogue's owner.
    pub own: Vec<(String, String)>,
    /// Its answer, or why there is none.
    pub found: std::result::Result<Box<Recommendation>, String>,
}

const COLUMNS: [&str; 10] = [
    "guitar",
    "meets_target",
    "answer",
    "margin_db",
    "yield",
    "slot",
    "kind",
    "value_si",
    "iec_60062",
    "quantity",
];

/// One row for each part that goes into a guitar; a guitar that gets none has one row all the same.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn orders_csv(orders: &[Order]) -> Result<String> {
    let mut own: Vec<&str> = Vec::new();
    for (name, _) in orders.iter().flat_map(|order| &order.own) {
        if !own.contains(&name.as_str()) {
            own.push(name);
        }
    }
    let has_groups = orders.iter().any(|order| order.group.is_some());
    let columns = COLUMNS.into_iter().chain(has_groups.then_some("group")).chain(own.iter().copied());
    let table = Table {
        columns: columns.map(|name| Column::new(name, name)).collect(),
        rows: orders.iter().flat_map(|order| rows(order, has_groups, &own)).collect(),
    };
    table.csv()
}

fn rows(order: &Order, has_groups: bool, own: &[&str]) -> Vec<Vec<Cell>> {
    let nothing = || std::array::from_fn(|_| Cell::Empty(""));
    let (about, parts): ([Cell; 4], Vec<[Cell; 5]>) = match &order.found {
        Err(why) => (
            [Cell::text("false"), Cell::text(why), Cell::Empty(""), Cell::Empty("")],
            vec![nothing()],
        ),
        Ok(found) => {
            let build = found.answer.build.as_ref();
            let built = build.and_then(|build| build.built);
            let about = [
                Cell::text(found.answer.kind.is_met().to_string()),
                Cell::text(answer(found)),
                Cell::number(found.answer.margin_db, 2),
                built.map_or(Cell::Empty(""), |built| Cell::number(built.share, 4)),
            ];
            let parts: Vec<[Cell; 5]> = build.map(|build| build.items.iter().map(part).collect()).unwrap_or_default();
            (about, if parts.is_empty() { vec![nothing()] } else { parts })
        }
    };
    let row = |part: [Cell; 5]| {
        let mut row = vec![Cell::text(&order.guitar)];
        row.extend(about.clone());
        row.extend(part);
        if has_groups {
            row.push(Cell::text(order.group.as_deref().unwrap_or_default()));
        }
        row.extend(own.iter().map(|name| {
            let text = order.own.iter().find(|(own, _)| own == name);
            Cell::text(text.map(|(_, text)| text.as_str()).unwrap_or_default())
        }));
        row
    };
    parts.into_iter().map(row).collect()
}

fn part(item: &Item) -> [Cell; 5] {
    [
        Cell::text(item.slot.word()),
        Cell::text(item.kind),
        Cell::number(item.value, 0),
        Cell::text(printed(item)),
        Cell::number(item.quantity as f64, 0),
    ]
}
