//! A kit for people and for spreadsheets: what to put in the bag, what one more would buy, who is left out.

use std::collections::BTreeMap;

use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use super::words::{CAUTIONS, list, spare};
use crate::error::Result;
use crate::guitar::Slot;
use crate::kit::{Aim, Group, Growth, Held, Kit, LeftOut, Served, Sizes};
use crate::units::{grouped, with_prefix};

/// More guitars than this are listed in CSV and JSON only.
const MOST_LISTED: usize = 100;
/// A name or network longer than this is cut in text.
const LONGEST_CELL: usize = 22;

impl Kit {
    /// The kit as a document.
    #[must_use]
    pub fn document(&self) -> Document {
        let mut blocks = vec![Block::Answer(answer(self))];
        blocks.extend(left_for_time(self).map(|left| Block::lines(vec![left])));
        if !self.bag.is_empty() {
            blocks.extend([Block::heading("The bag"), Block::table("What the bag holds", bag_table(self))]);
        }
        if !self.groups.is_empty() {
            blocks.extend([
                Block::heading("By group"),
                Block::labelled("By group:", "How each group is served", groups_table(self)),
            ]);
        }
        let beside: Vec<String> = [dropped(self), added(self), enough(self), bags(self), at_the_edge(self)]
            .into_iter()
            .flatten()
            .collect();
        if !beside.is_empty() {
            blocks.push(Block::lines(beside));
        }
        blocks.push(Block::heading("What other sizes would serve"));
        blocks.push(Block::labelled(
            "What other sizes would serve:",
            "Kits of other sizes; ~ is not proved to be the best of its size",
            growth_table(self),
        ));
        let left_out = left_out(self);
        if !left_out.is_empty() {
            blocks.extend([Block::heading("Left out"), left_out_block(self, &left_out)]);
        }
        let served: Vec<&Served> = self.guitars.iter().filter(|served| served.meets_target).collect();
        if !served.is_empty() {
            let table = Block::labelled("Served:", "The guitars that are served", served_table(self, &served, false));
            let shown = vec![Block::heading("Served"), table];
            match self.guitars.len() <= MOST_LISTED {
                true => blocks.extend(shown),
                false => blocks.push(Block::OnPage(shown)),
            }
        }
        blocks.extend([Block::heading("What was asked"), asked(self)]);
        blocks.extend([Block::heading("Before you solder"), Block::paragraph(CAUTIONS), Block::modelled()]);
        Document::new("Which few values serve most guitars?", blocks)
    }
}

/// The guitars that are not served: those that another value would serve first, then those that come nearest.
fn left_out(kit: &Kit) -> Vec<&Served> {
    let mut left_out: Vec<&Served> = kit.guitars.iter().filter(|served| !served.meets_target).collect();
    let nearness = |served: &Served| {
        (
            served.left_out == Some(LeftOut::NeedsAnother),
            served.margin_db.unwrap_or(f64::NEG_INFINITY),
        )
    };
    left_out.sort_by(|one, other| nearness(other).partial_cmp(&nearness(one)).unwrap_or(std::cmp::Ordering::Equal));
    left_out
}

/// Every guitar with every target as CSV.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn kit_csv(kit: &Kit) -> Result<String> {
    let columns = [
        "name",
        "target",
        "weight",
        "meets_target",
        "network",
        "margin_db",
        "own_best_network",
        "own_best_margin_db",
        "loses_db",
        "left_out",
        "works_in",
    ];
    let number = |value: Option<f64>| value.map_or(Cell::Empty(""), |value| Cell::number(value, 2));
    let own = own_columns(kit);
    let group = (!kit.groups.is_empty()).then_some("group");
    let row = |served: &Served| -> Vec<Cell> {
        vec![
            Cell::text(served.name.as_str()),
            Cell::text(served.target.as_str()),
            Cell::number(served.weight, 3),
            Cell::text(served.meets_target.to_string()),
            Cell::text(networks(&served.slots)),
            number(served.margin_db),
            Cell::text(networks(&served.own_best_slots)),
            number(served.own_best_margin_db),
            number(served.loses_db),
            served.left_out.as_ref().map_or(Cell::Empty(""), |why| Cell::text(reason(why))),
            number(served.built.map(|built| built.share)),
        ]
        .into_iter()
        .chain(group.map(|_| Cell::text(served.group.clone().unwrap_or_default())))
        .chain(own.iter().map(|name| Cell::text(own_cell(served, name))))
        .collect()
    };
    let all = columns.iter().copied().chain(group).chain(own.iter().map(String::as_str));
    let table = Table {
        columns: all.map(|name| Column::new(name, name)).collect(),
        rows: kit.guitars.iter().map(row).collect(),
    };
    table.csv()
}

/// Every table of a kit as CSV, each with a file's name: the bag, the guitars, kits of other sizes and, where there are any, the groups.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn kit_tables(kit: &Kit) -> Result<Vec<(&'static str, String)>> {
    let mut tables = vec![
        ("bag.csv", whole_bag(kit).csv()?),
        ("guitars.csv", kit_csv(kit)?),
        ("growth.csv", growth_table(kit).csv()?),
    ];
    if !kit.groups.is_empty() {
        tables.push(("groups.csv", groups_table(kit).csv()?));
    }
    Ok(tables)
}

/// The bag with everything there is to say of it; where it holds values, a stock list like any other.
fn whole_bag(kit: &Kit) -> Table {
    let names = [
        "kind",
        "value",
        "price",
        "quantity",
        "part",
        "code",
        "marking",
        "in_stock",
        "to_order",
        "used_by",
        "serves_alone",
        "fixed",
    ];
    let number = |value: Option<f64>, decimals| value.map_or(Cell::Empty(""), |value| Cell::number(value, decimals));
    let text = |value: &Option<String>| Cell::text(value.clone().unwrap_or_default());
    let row = |held: &Held| {
        vec![
            Cell::text(kind(held)),
            Cell::text(held.written.as_str()),
            number(held.unit_price, 4),
            Cell::number(held.pieces as f64, 0),
            Cell::text(held.part.as_str()),
            text(&held.code),
            text(&held.marking),
            number(held.in_stock.map(f64::from), 0),
            number(held.to_order.map(|count| count as f64), 0),
            Cell::number(held.used_by as f64, 0),
            Cell::number(held.serves_alone as f64, 0),
            Cell::text(held.fixed.to_string()),
        ]
    };
    Table {
        columns: names.map(|name| Column::new(name, name)).to_vec(),
        rows: kit.bag.iter().map(row).collect(),
    }
}

/// The columns that the catalogues' owners have for themselves, each once.
fn own_columns(kit: &Kit) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for (name, _) in kit.guitars.iter().flat_map(|served| &served.own) {
        if !found.contains(name) {
            found.push(name.clone());
        }
    }
    found
}

fn own_cell(served: &Served, name: &str) -> String {
    let found = served.own.iter().find(|(own, _)| own == name);
    found.map(|(_, text)| text.clone()).unwrap_or_default()
}

/// A bag that serves nobody, with the guitar that comes nearest.
fn none_served(kit: &Kit) -> String {
    let nearest = kit
        .guitars
        .iter()
        .filter(|served| served.margin_db.is_some())
        .max_by(|one, other| one.margin_db.partial_cmp(&other.margin_db).unwrap_or(std::cmp::Ordering::Equal));
    let nearly = nearest.map_or(String::new(), |served| {
        let is_bare = served.slots.values().all(|network| network == "none");
        let with = if is_bare {
            "nothing fitted".to_owned()
        } else {
            networks(&served.slots)
        };
        let margin = spare(served.margin_db.unwrap_or_default());
        format!(" {} comes nearest: with {with} it {margin}.", served.name)
    });
    format!("No bag of this size serves any of the {} {}.{nearly}", kit.total, guitars(kit))
}

fn answer(kit: &Kit) -> String {
    if kit.covered == 0 && kit.optimal {
        return none_served(kit);
    }
    let what = if kit.bag.iter().any(|held| held.value.is_none()) {
        "network"
    } else {
        "value"
    };
    let held: Vec<String> = kit.bag.iter().map(spoken).collect();
    let serves = format!("{} of {} {}", kit.covered, kit.total, guitars(kit));
    let share = if kit.covered_weight == kit.covered as f64 && kit.total_weight == kit.total as f64 {
        String::new()
    } else {
        format!(", by weight {} of {}", kit.covered_weight, kit.total_weight)
    };
    let mut text = match held.len() {
        0 => format!("No {what} is needed: with nothing fitted the target is met on {serves}{share}."),
        1 => format!("This one {what} serves {serves}{share}: {}.", list(&held)),
        count => format!("These {count} {what}s serve {serves}{share}: {}.", list(&held)),
    };
    if let Some(price) = kit.price.filter(|_| !kit.bag.is_empty()) {
        text.push_str(&match kit.bag.iter().map(|held| held.pieces).sum::<usize>() {
            pieces if pieces == kit.bag.len() => format!(" One of each costs {price:.2}."),
            pieces => format!(" The bag with its {pieces} pieces costs {price:.2}."),
        });
    }
    let nothing = |served: &&Served| served.meets_target && served.slots.values().all(|network| network == "none");
    match kit.guitars.iter().filter(nothing).count() {
        0 => {}
        1 => text.push_str(" One of them is best left as it is."),
        count => text.push_str(&format!(" {count} of them are best left as they are.")),
    }
    text.push(' ');
    text.push_str(&proof(kit));
    text
}

/// What there was no time for, beside a proof.
fn left_for_time(kit: &Kit) -> Option<String> {
    let left = kit.left_for_time.as_ref()?;
    let mut said = Vec::new();
    match left.not_weighed {
        0 => {}
        1 => said.push("1 guitar was not weighed, and the kit was chosen for the others".to_owned()),
        count => said.push(format!("{count} guitars were not weighed, and the kit was chosen for the others")),
    }
    let size = |sizes: &Sizes| {
        let counts = sizes.0.iter().map(|(key, count)| format!("{key}={count}"));
        counts.collect::<Vec<_>>().join(",")
    };
    if !left.sizes_not_tried.is_empty() {
        let sizes: Vec<String> = left.sizes_not_tried.iter().map(size).collect();
        said.push(format!("these sizes were not tried: {}", sizes.join("; ")));
    }
    match left.worst_not_looked_up {
        0 => {}
        1 => said.push("1 guitar's worst point was not looked up".to_owned()),
        count => said.push(format!("{count} guitars' worst points were not looked up")),
    }
    Some(format!(
        "The time limit ended the work early: {}. Allow more with --time-limit.",
        list(&said)
    ))
}

fn guitars(kit: &Kit) -> &'static str {
    match (kit.targets.len() > 1, kit.total == 1) {
        (true, _) => "guitars, each counted once a target",
        (false, true) => "guitar",
        (false, false) => "guitars",
    }
}

fn proof(kit: &Kit) -> String {
    match (kit.optimal, kit.aim) {
        (true, Aim::Coverage) => "Proved: no other choice of this size serves more.".to_owned(),
        (true, Aim::Margin) => {
            let worst = kit.worst_margin_db.map_or(String::new(), |worst| format!(", {worst:+.2} dB"));
            format!("Proved: no other choice of this size does better by the guitar that has least to spare{worst}.")
        }
        (false, Aim::Coverage) if kit.gap == 0.0 => {
            "No other choice of this size serves more; whether an equal one spares more was not settled in time.".to_owned()
        }
        (false, Aim::Coverage) => format!(
            "The time was too short for a proof: another choice might serve up to {:.1} % more of them; allow more with --time-limit.",
            kit.gap * 100.0
        ),
        (false, Aim::Margin) => format!(
            "The time was too short for a proof: another choice might do better by up to {:.2} dB by the guitar that has least to spare; allow more with --time-limit.",
            kit.gap
        ),
    }
}

/// A part in the words of a bag.
pub(super) fn spoken(held: &Held) -> String {
    match held.value {
        Some(value) => format!("{} {}", with_prefix(value, unit(held)), kind(held)),
        None => held.written.clone(),
    }
}

fn kind(held: &Held) -> &'static str {
    match (held.value, unit(held)) {
        (None, _) => "network",
        (_, "F") => "capacitor",
        _ => "resistor",
    }
}

fn unit(held: &Held) -> &'static str {
    let name = held.part.rsplit('.').next().unwrap_or_default();
    if name.starts_with('C') { "F" } else { "Ω" }
}

fn bag_table(kit: &Kit) -> Table {
    let has_marks = kit.bag.iter().any(|held| held.code.is_some());
    let has_prices = kit.bag.iter().any(|held| held.unit_price.is_some());
    let mut columns = vec![Column::new("in the bag", "written")];
    if has_marks {
        columns.extend([Column::new("code", "code"), Column::new("on the part", "marking")]);
    }
    if has_prices {
        columns.push(Column::new("price", "unit_price"));
    }
    let has_pieces = kit.bag.iter().any(|held| held.pieces > 1);
    if has_pieces {
        columns.push(Column::new("pieces", "pieces"));
    }
    columns.extend([Column::new("goes\ninto", "used_by"), Column::new("lost\nwithout", "serves_alone")]);
    let row = |held: &Held| {
        let fixed = if held.fixed { " (kept)" } else { "" };
        let name = held
            .value
            .map_or_else(|| held.written.clone(), |value| with_prefix(value, unit(held)));
        let mut row = vec![Cell::text(name + fixed)];
        if has_marks {
            row.extend([&held.code, &held.marking].map(|mark| Cell::text(mark.clone().unwrap_or_default())));
        }
        if has_prices {
            row.push(held.unit_price.map_or(Cell::Empty("?"), |price| Cell::number(price, 2)));
        }
        if has_pieces {
            row.push(Cell::number(held.pieces as f64, 0));
        }
        row.extend([Cell::number(held.used_by as f64, 0), Cell::number(held.serves_alone as f64, 0)]);
        row
    };
    Table {
        columns,
        rows: kit.bag.iter().map(row).collect(),
    }
}

fn dropped(kit: &Kit) -> Option<String> {
    let drop = kit.drop_first.as_ref()?;
    let cost = match kit.covered - drop.covered {
        0 => format!("{} are served all the same", drop.covered),
        lost => format!("{} are served, {lost} fewer", drop.covered),
    };
    Some(format!("If one has to go, drop {}: then {cost}.", drop.written))
}

/// What one more would bring in this very bag.
fn added(kit: &Kit) -> Option<String> {
    let said: Vec<String> = kit
        .additions
        .iter()
        .map(|more| format!("{}: {} instead of {}", more.written, more.covered, kit.covered))
        .collect();
    (!said.is_empty()).then(|| format!("If one may be added: {}.", said.join("; ")))
}

/// A smaller bag that serves as many.
fn enough(kit: &Kit) -> Option<String> {
    let size = |sizes: &Sizes| sizes.0.iter().map(|(_, count)| count).sum::<usize>();
    let smaller = kit
        .growth
        .iter()
        .filter(|growth| growth.covered == kit.covered && size(&growth.sizes) < kit.bag.len());
    let least = smaller.min_by_key(|growth| size(&growth.sizes)).filter(|_| kit.covered > 0)?;
    Some(format!(
        "{} of them serve as many, with less to spare: {}.",
        least.holds.len(),
        least.holds.join(" ")
    ))
}

/// How far the stock goes, and what to order.
fn bags(kit: &Kit) -> Option<String> {
    let stocked = kit.bags_in_stock.map(|bags| match bags {
        0 => "The stock is not enough for one bag.".to_owned(),
        1 => "The stock is enough for 1 bag.".to_owned(),
        bags => format!("The stock is enough for {} bags.", grouped(bags)),
    });
    let order = kit.bags.map(|bags| {
        let wanted: Vec<String> = kit
            .bag
            .iter()
            .filter_map(|held| Some((held, held.to_order.filter(|count| *count > 0)?)))
            .map(|(held, count)| format!("{} of {}", grouped(count), held.written))
            .collect();
        match wanted.as_slice() {
            [] => format!("For {bags} bags nothing has to be ordered."),
            wanted => format!("For {bags} bags order {}.", list(wanted)),
        }
    });
    let said: Vec<String> = [stocked, order].into_iter().flatten().collect();
    (!said.is_empty()).then(|| said.join(" "))
}

/// Guitars that are barely served, and those that barely are not.
fn at_the_edge(kit: &Kit) -> Option<String> {
    /// How near the edge, in dB.
    const NEAR: f64 = 0.5;
    let beyond = |served: &Served| served.margin_db.map(|margin| margin - kit.at_least_db);
    let named = |is_served: bool, near: &dyn Fn(f64) -> bool| -> Vec<String> {
        let own = kit.guitars.iter().filter(|served| served.meets_target == is_served);
        own.filter(|served| beyond(served).is_some_and(near))
            .map(|served| served.name.clone())
            .collect()
    };
    let barely = named(true, &|beyond| beyond < NEAR);
    let almost = named(false, &|beyond| (-NEAR..0.0).contains(&beyond));
    let told = |names: &[String], what: &str| match names.len() {
        0 => None,
        1..=6 => Some(format!("{what}: {}.", names.join("; "))),
        count => Some(format!("{what}: {count} guitars.")),
    };
    let said: Vec<String> = [
        told(&barely, "Served with less than 0.5 dB to spare"),
        told(&almost, "Missed by less than 0.5 dB"),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!said.is_empty()).then(|| said.join(" "))
}

fn growth_table(kit: &Kit) -> Table {
    let sizes = kit.growth.first().map(|growth| growth.sizes.0.as_slice()).unwrap_or_default();
    let mut columns: Vec<Column> = sizes.iter().map(|(key, _)| Column::new(key, key)).collect();
    columns.extend([Column::new("serves", "covered"), Column::new("worst\ndB", "worst_margin_db")]);
    let has_prices = kit.growth.iter().any(|growth| growth.price.is_some());
    if has_prices {
        columns.push(Column::new("price", "price"));
    }
    columns.extend([Column::new("", "proved"), Column::new("holds", "holds").cut_at(52)]);
    let row = |growth: &Growth| {
        let mut row: Vec<Cell> = growth.sizes.0.iter().map(|(_, size)| Cell::number(*size as f64, 0)).collect();
        row.extend([Cell::number(growth.covered as f64, 0), decibels(growth.worst_margin_db, true)]);
        if has_prices {
            row.push(growth.price.map_or(Cell::Empty("?"), |price| Cell::number(price, 2)));
        }
        row.extend([
            Cell::text(if growth.optimal { "" } else { "~" }),
            Cell::text(growth.holds.join(" ")),
        ]);
        row
    };
    Table {
        columns,
        rows: kit.growth.iter().map(row).collect(),
    }
}

fn left_out_block(kit: &Kit, left_out: &[&Served]) -> Block {
    let why_unfit = |served: &Served| match &served.left_out {
        Some(LeftOut::DoesNotFit(why)) => Some(format!("{}: {why}", served.name)),
        _ => None,
    };
    let shown = |left_out: &[&Served]| {
        let fits: Vec<&Served> = left_out.iter().copied().filter(|served| why_unfit(served).is_none()).collect();
        let table = (!fits.is_empty()).then(|| Block::table("The guitars that are left out", served_table(kit, &fits, true)));
        let unfit = left_out.iter().filter_map(|served| why_unfit(served));
        table.into_iter().chain(unfit.map(Block::Paragraph)).collect::<Vec<Block>>()
    };
    let mut blocks = vec![Block::Paragraph(left_out_in_words(kit, left_out))];
    match left_out.split_at_checked(MOST_LISTED) {
        None | Some((_, [])) => blocks.extend(shown(left_out)),
        Some((first, rest)) => {
            blocks.push(Block::OnScreen(shown(first)));
            blocks.push(Block::OnScreen(vec![Block::Paragraph(format!(
                "… and {} more; --format csv lists them all",
                rest.len()
            ))]));
            blocks.push(Block::OnPage(shown(left_out)));
        }
    }
    Block::Close(blocks)
}

/// How many are left out, and why.
fn left_out_in_words(kit: &Kit, left_out: &[&Served]) -> String {
    let needs = left_out
        .iter()
        .filter(|served| served.left_out == Some(LeftOut::NeedsAnother))
        .count();
    let none = left_out
        .iter()
        .filter(|served| served.left_out == Some(LeftOut::NoneServes))
        .count();
    let mut said = Vec::new();
    if needs > 0 {
        said.push(format!("{needs} would be served by a network that needs another value"));
    }
    if none > 0 {
        said.push(format!("{none} by none of the {} networks tried", grouped(kit.networks as u64)));
    }
    let few = left_out
        .iter()
        .filter(|served| served.left_out == Some(LeftOut::TooFewWork))
        .count();
    if few > 0 {
        said.push(format!("{few} by networks that work in too few builds"));
    }
    let late = left_out
        .iter()
        .filter(|served| served.left_out == Some(LeftOut::NotWeighed))
        .count();
    if late > 0 {
        said.push(format!("{late} were not weighed for lack of time"));
    }
    let others = left_out.len() - needs - none - few - late;
    if others > 0 {
        said.push(format!("{others} cannot be asked"));
    }
    format!("Left out: {}; {}.", left_out.len(), list(&said))
}

/// How each group is served.
fn groups_table(kit: &Kit) -> Table {
    let columns = [
        Column::new("group", "group"),
        Column::new("serves", "covered"),
        Column::new("of", "total"),
        Column::new("by weight", "covered_weight"),
        Column::new("of", "total_weight"),
    ];
    let row = |group: &Group| {
        vec![
            Cell::text(group.name.as_deref().unwrap_or("(no group)")),
            Cell::number(group.covered as f64, 0),
            Cell::number(group.total as f64, 0),
            Cell::number(group.covered_weight, 1),
            Cell::number(group.total_weight, 1),
        ]
    };
    Table {
        columns: columns.to_vec(),
        rows: kit.groups.iter().map(row).collect(),
    }
}

/// What each of some guitars takes from the kit; names and networks are cut on a screen.
fn served_table(kit: &Kit, guitars: &[&Served], are_left_out: bool) -> Table {
    let several = kit.targets.len() > 1;
    let mut columns = vec![Column::new("guitar", "name").cut_at(LONGEST_CELL)];
    if several {
        columns.push(Column::new("target", "target"));
    }
    let has_weights = guitars.iter().any(|served| served.weight != 1.0);
    let is_whole = guitars.iter().all(|served| served.weight.fract() == 0.0);
    let weight_decimals = if is_whole { 0 } else { 1 };
    if has_weights {
        columns.push(Column::new("weight", "weight"));
    }
    columns.extend([
        Column::new("from the kit", "network").cut_at(LONGEST_CELL),
        Column::new("to spare\ndB", "margin_db"),
        Column::new("its own best", "own_best_network").cut_at(LONGEST_CELL),
        Column::new("loses\ndB", "loses_db"),
    ]);
    if !are_left_out {
        columns.push(Column::new("works\n%", "works_in"));
    }
    if are_left_out {
        columns.push(Column::new("stopped\nby", "stopped_by"));
    }
    let row = |served: &&Served| {
        let mut row = vec![Cell::text(&served.name)];
        if several {
            let number = kit
                .targets
                .iter()
                .position(|target| target.name == served.target)
                .map_or(0, |place| place + 1);
            row.push(Cell::number(number as f64, 0));
        }
        if has_weights {
            row.push(Cell::number(served.weight, weight_decimals));
        }
        row.extend([
            Cell::text(networks(&served.slots)),
            decibels(served.margin_db, true),
            Cell::text(networks(&served.own_best_slots)),
            decibels(served.loses_db, false),
        ]);
        if !are_left_out {
            row.push(served.built.map_or(Cell::Empty("-"), |built| Cell::number(100.0 * built.share, 0)));
        }
        if are_left_out {
            let wish = served.worst.as_ref().map(|worst| format!("wish {}", worst.clause + 1));
            row.push(Cell::text(wish.unwrap_or_default()));
        }
        row
    };
    Table {
        columns,
        rows: guitars.iter().map(row).collect(),
    }
}

/// A margin with its sign, or what it is less; margins are rounded down, so that no miss looks like a hit.
fn decibels(value: Option<f64>, signed: bool) -> Cell {
    match value {
        Some(value) if signed => Cell::difference((value * 100.0).floor() / 100.0, 2),
        Some(value) => Cell::number(value, 2),
        None => Cell::Empty("-"),
    }
}

fn asked(kit: &Kit) -> Block {
    let mut lines = Vec::new();
    for (index, target) in kit.targets.iter().enumerate() {
        let number = if kit.targets.len() > 1 {
            format!(" {}", index + 1)
        } else {
            String::new()
        };
        lines.push(format!("Target{number}: {}.", target.name));
        lines.extend(target.echo());
        lines.extend(target.in_words().iter().map(|words| format!("  {}.", words.trim_end_matches('.'))));
    }
    lines.extend(conditions(kit));
    lines.push(tried(kit));
    Block::lines(lines)
}

/// What counts as served, and what the bag may cost.
fn conditions(kit: &Kit) -> Option<String> {
    let mut said = Vec::new();
    if kit.at_least_db != 0.0 {
        said.push(format!("at least {} dB to spare", kit.at_least_db));
    }
    if let Some(least) = kit.yield_at_least {
        said.push(format!("a network that works in {:.0} of 100 builds or more", 100.0 * least));
    }
    if let Some(budget) = kit.budget {
        said.push(format!("a bag of {budget:.2} at most, with one piece of each"));
    }
    (!said.is_empty()).then(|| format!("Served means: {}.", list(&said)))
}

/// What was searched.
fn tried(kit: &Kit) -> String {
    let searched: Vec<String> = kit
        .searched
        .iter()
        .map(|(slot, networks)| format!("{slot} {}", list(networks)))
        .collect();
    format!(
        "Searched: {}; {} networks on each guitar, nothing fitted among them.",
        searched.join("; "),
        grouped(kit.networks as u64)
    )
}

fn networks(slots: &BTreeMap<Slot, String>) -> String {
    match slots.len() {
        1 => slots.values().cloned().collect(),
        _ => slots
            .iter()
            .map(|(slot, network)| format!("{slot} {network}"))
            .collect::<Vec<_>>()
            .join(", "),
    }
}

fn reason(why: &LeftOut) -> String {
    match why {
        LeftOut::NeedsAnother => "needs another value".to_owned(),
        LeftOut::NoneServes => "no network tried serves it".to_owned(),
        LeftOut::TooFewWork => "its best network works in too few builds".to_owned(),
        LeftOut::DoesNotFit(why) => why.clone(),
        LeftOut::NotWeighed => "no time to weigh it".to_owned(),
    }
}
