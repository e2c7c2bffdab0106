//! The builds as a shopping list for spreadsheets, and what a purchase would bring, in words.

use super::table::{Cell, Column, Table};
use super::words::{component_in_words, list};
use crate::parts::network::Kind;
use crate::recommend::purchase::PartToBuy;
use crate::recommend::{Build, Item, Purchase, Recommendation};
use crate::units::marking::{MarkedPart, capacitor_code, letter_code};
use crate::units::{Farads, knob, rkm};

/// What a row says about a part, then what it says about the build that the part belongs to.
const COLUMNS: [&str; 29] = [
    "rank",
    "slot",
    "part",
    "kind",
    "value_si",
    "iec_60062",
    "capacitor_code",
    "quantity",
    "tolerance",
    "unit_price",
    "in_stock",
    "network",
    "margin_db",
    "meets_target",
    "yield",
    "yield_low95",
    "yield_high95",
    "rms_db",
    "volume_shift_db",
    "worst_clause",
    "worst_case",
    "worst_volume",
    "worst_tone",
    "worst_frequency_hz",
    "worst_difference_db",
    "part_count",
    "cost",
    "at_range_end",
    "sounds_like_first",
];

/// Every build, one row for each different part of a slot. A slot that holds nothing has a row of its own with a quantity of 0; a pot, cable
/// or wiring that is another has one with what it is in place of the network.
pub(super) fn shopping_table(result: &Recommendation) -> Table {
    let rows = result.listed().into_iter().flat_map(|build| {
        let changes = build.changed.in_short().into_iter().map(move |[what, then]| {
            let mut part = nothing();
            part[5] = Cell::number(1.0, 0);
            row(build, &what, &then, part)
        });
        let parts = build.slots.iter().flat_map(move |(slot, network)| {
            let items: Vec<&Item> = build.items.iter().filter(|item| item.slot == *slot).collect();
            let parts: Vec<[Cell; 9]> = match items.as_slice() {
                [] => vec![nothing()],
                items => items.iter().map(|item| about_part(item)).collect(),
            };
            parts.into_iter().map(move |part| row(build, slot.word(), network, part))
        });
        changes.chain(parts)
    });
    Table {
        columns: COLUMNS.iter().map(|name| Column::new("", name)).collect(),
        rows: rows.collect(),
    }
}

fn row(build: &Build, place: &str, network: &str, part: [Cell; 9]) -> Vec<Cell> {
    // An answer that is not among the listed has no rank.
    let rank = if build.rank == 0 {
        Cell::Empty("")
    } else {
        Cell::number(build.rank as f64, 0)
    };
    let mut row = vec![rank, Cell::text(place)];
    row.extend(part);
    row.push(Cell::text(network));
    row.extend(about_build(build));
    row
}

fn nothing() -> [Cell; 9] {
    let mut cells = std::array::from_fn(|_| Cell::Empty(""));
    cells[5] = Cell::number(0.0, 0);
    cells
}

fn about_part(item: &Item) -> [Cell; 9] {
    let or_empty = |number: Option<f64>| number.map_or(Cell::Empty(""), |number| Cell::number(number, 2));
    [
        Cell::text(item.parts.join(" ")),
        Cell::text(item.kind),
        Cell::number(item.value, 0),
        Cell::text(printed(item)),
        code(item).map_or(Cell::Empty(""), Cell::Text),
        Cell::number(item.quantity as f64, 0),
        or_empty(item.tolerance),
        or_empty(item.unit_price),
        item.in_stock.map_or(Cell::Empty(""), |in_stock| Cell::text(in_stock.to_string())),
    ]
}

/// The value as the code of IEC 60062 has it, or as networks do where the code has no form for it.
pub(super) fn printed(item: &Item) -> String {
    let (what, unit) = match item.kind {
        "resistor" => (MarkedPart::Resistor, "R"),
        "capacitor" => (MarkedPart::Capacitor, "F"),
        _ => (MarkedPart::Inductor, "H"),
    };
    letter_code(what, item.value, None).unwrap_or_else(|| rkm(item.value, unit))
}

/// The three-digit code of a capacitor.
fn code(item: &Item) -> Option<String> {
    let farads = Farads::new(item.value).filter(|_| item.kind == "capacitor")?;
    capacitor_code(farads, None)
}

fn about_build(build: &Build) -> Vec<Cell> {
    let worst = &build.worst;
    let mut row = vec![Cell::number(build.margin_db, 2), Cell::text(build.meets_target.to_string())];
    row.extend(match build.built {
        Some(built) => [built.share, built.interval95[0], built.interval95[1]].map(|share| Cell::number(share, 4)),
        None => [Cell::Empty(""), Cell::Empty(""), Cell::Empty("")],
    });
    row.extend([build.rms_db, build.volume_shift_db].map(|figure| Cell::number(figure, 2)));
    row.push(Cell::number(worst.clause as f64, 0));
    row.push(worst.case.as_ref().map_or(Cell::Empty(""), Cell::text));
    row.extend([worst.at.volume, worst.at.tone].map(|rotation| Cell::number(knob::number(rotation), 3)));
    row.push(worst.frequency_hz.map_or(Cell::Empty(""), |frequency| Cell::number(frequency, 1)));
    row.push(Cell::number(worst.difference_db, 2));
    row.push(Cell::number(build.part_count as f64, 0));
    row.push(build.cost.map_or(Cell::Empty(""), |cost| Cell::number(cost, 2)));
    row.push(Cell::text(build.at_range_end.join(" ")));
    row.push(Cell::text(build.sounds_like_first.to_string()));
    row
}

/// What would help that is not in stock; none where nothing would.
pub(super) fn purchases_in_words(result: &Recommendation) -> Option<String> {
    let gain = |(index, purchase): (usize, &Purchase)| {
        let slots: Vec<String> = purchase.slots.iter().map(|(slot, network)| format!("{slot} {network}")).collect();
        let would = if index == 0 { "would gain " } else { "" };
        let part = part_in_words(purchase.buy);
        let (gain, margin) = (purchase.gain_db, purchase.margin_db);
        format!("{part} {would}{gain:.1} dB ({}, margin {margin:+.2} dB)", slots.join(", "))
    };
    let gains: Vec<String> = result.purchases.iter().enumerate().map(gain).collect();
    (!gains.is_empty()).then(|| format!("Buying {}.", list(&gains)))
}

fn part_in_words(buy: PartToBuy) -> String {
    match buy.kind.component(buy.value) {
        Some(component) => component_in_words(component),
        None => Kind::word(buy.kind).to_owned(),
    }
}
