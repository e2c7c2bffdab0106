//! Half a page to go into the bag: what is in it, how it is joined, and which of it goes into which guitar.

use std::collections::BTreeSet;

use super::document::{Block, Document};
use super::kit::spoken;
use super::schematic::Labels;
use super::sheet::wiring::{lug, terminal};
use super::table::{Cell, Column, Table};
use super::words::{CAUTIONS, capitalised, slot_part};
use crate::guitar::Slot;
use crate::kit::{Held, Kit, Served};
use crate::parts::network::{Component, Network};
use crate::recommend::instructions::network_in_words;
use crate::recommend::sheet::assembly::ends;
use crate::source::Source;

impl Kit {
    /// The card of a bag, as a document.
    #[must_use]
    pub fn card(&self) -> Document {
        let served: Vec<&Served> = self.guitars.iter().filter(|served| served.meets_target).collect();
        let mut blocks = vec![
            Block::Answer(format!(
                "Find your guitar below and fit the parts of its row. This bag serves {} of {} guitars that were looked at.",
                self.covered, self.total
            )),
            Block::heading("In the bag"),
            Block::table("The parts of the bag", held(self)),
            Block::heading("How they are joined"),
        ];
        blocks.extend(drawings(&served));
        blocks.push(Block::heading("Which guitar takes what"));
        blocks.push(Block::table("The parts of each guitar", takes(self, &served)));
        blocks.push(Block::paragraph(CAUTIONS));
        Document::new("What is in this bag, and what it is for", blocks)
    }
}

fn held(kit: &Kit) -> Table {
    let columns = [
        Column::new("part", "part"),
        Column::new("on the part", "marking"),
        Column::new("pieces", "pieces"),
    ];
    let marks = |held: &Held| {
        let marks: Vec<String> = held.marking.iter().chain(&held.code).cloned().collect();
        marks.join(", or ")
    };
    let row = |held: &Held| {
        vec![
            Cell::text(spoken(held)),
            Cell::text(marks(held)),
            Cell::number(held.pieces as f64, 0),
        ]
    };
    Table {
        columns: columns.to_vec(),
        rows: kit.bag.iter().map(row).collect(),
    }
}

/// One drawing of each form that some guitar takes, its parts as letters.
fn drawings(served: &[&Served]) -> Vec<Block> {
    let mut seen: BTreeSet<(Slot, String)> = BTreeSet::new();
    let mut blocks = Vec::new();
    let fitted = served.iter().flat_map(|served| &served.slots);
    for (slot, written) in fitted {
        let Ok(Some(network)) = Network::read(&Source::inline("network", written.as_str()).passage()) else {
            continue;
        };
        let letters = letters(&network);
        let form = form(&network, &mut letters.iter());
        if seen.insert((*slot, form.clone())) {
            let leads = ends(*slot);
            let labels = Labels {
                title: format!("Circuit of {}", slot_part(*slot)),
                description: format!("{form}, from {} to {}.", lug(leads[0], None), lug(leads[1], None)),
                parts: letters,
                ends: leads.map(|lead| terminal(lead, None)),
            };
            blocks.push(Block::Subheading(format!("{}, {form}", capitalised(slot_part(*slot)))));
            blocks.push(Block::Drawing(Box::new((network, labels))));
        }
    }
    blocks
}

/// R1, C1, R2 … for the parts of a network in written order; a kind of which there is one has no number.
fn letters(network: &Network) -> Vec<String> {
    let letter = |part: &Component| part.kind().map_or("L", |kind| kind.letter());
    let parts = network.components();
    let count = |of: &str| parts.iter().filter(|part| letter(part) == of).count();
    let mut numbers = std::collections::BTreeMap::new();
    parts
        .iter()
        .map(|part| {
            let own = letter(part);
            let number = numbers.entry(own).or_insert(0_usize);
            *number += 1;
            if count(own) == 1 {
                own.to_owned()
            } else {
                format!("{own}{number}")
            }
        })
        .collect()
}

/// A network with letters for its parts, as it is written.
fn form<'l>(network: &Network, letters: &mut impl Iterator<Item = &'l String>) -> String {
    let mut joined = |members: &[Network], by: &str| {
        let members: Vec<String> = members
            .iter()
            .map(|member| match member {
                Network::Series(_) | Network::Parallel(_) => format!("({})", form(member, letters)),
                _ => letters.next().cloned().unwrap_or_default(),
            })
            .collect();
        members.join(by)
    };
    match network {
        Network::Series(members) => joined(members, " + "),
        Network::Parallel(members) => joined(members, " || "),
        _ => letters.next().cloned().unwrap_or_default(),
    }
}

/// A network as written → in the words of the bench.
fn in_words(written: &str) -> String {
    let network = Network::read(&Source::inline("network", written).passage()).ok().flatten();
    network.map_or_else(|| written.to_owned(), |network| network_in_words(&network))
}

fn takes(kit: &Kit, served: &[&Served]) -> Table {
    let several = kit.targets.len() > 1;
    let mut columns = vec![Column::new("guitar", "name")];
    if several {
        columns.push(Column::new("wish", "target"));
    }
    columns.push(Column::new("fit", "network"));
    let row = |served: &&Served| {
        let fitted: Vec<String> = served
            .slots
            .iter()
            .map(|(slot, network)| match (network.as_str(), served.slots.len()) {
                ("none", 1) => "nothing: leave it as it is".to_owned(),
                ("none", _) => format!("{}: nothing", slot_part(*slot)),
                (network, 1) => in_words(network),
                (network, _) => format!("{}: {}", slot_part(*slot), in_words(network)),
            })
            .collect();
        let mut row = vec![Cell::text(served.name.as_str())];
        if several {
            row.push(Cell::text(served.target.as_str()));
        }
        row.push(Cell::text(fitted.join("; ")));
        row
    };
    Table {
        columns,
        rows: served.iter().map(row).collect(),
    }
}
