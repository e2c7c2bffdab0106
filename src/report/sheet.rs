//! A build sheet in words: what to buy, what to take out, where each lead goes, what to measure afterwards.

mod checks;
mod parts;
pub(super) mod wiring;

use super::answer::{also_changes, answer, assumed};
use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use super::words::{capitalised, slot_part};
use crate::guitar::Slot;
use crate::parts::network::{Component, Network};
use crate::recommend::Recommendation;
use crate::recommend::instructions::network_in_words;
use crate::recommend::sheet::{Fitted, Sheet};

/// What else changes, in so many lines at most.
const MOST_CHANGES: usize = 4;

/// Short rules of the bench, in the order in which they come up.
const CAUTIONS: [&str; 8] = [
    "Photograph the original wiring before you touch it, and keep every part that comes out: the work can then be undone.",
    "Unplug the guitar. Try the parts with clip leads first: the figures come from a model of this guitar, your ears decide.",
    "Keep the ground wire to the strings and the shield connected as they were, and every pot's case grounded.",
    "Ventilate or extract: rosin fume from solder can cause asthma. Protect your eyes from spatter and from wire ends that fly off.",
    "Leaded solder: no food or drink at the bench, and wash your hands afterwards.",
    "Be quick with the iron on a pot (about 350 °C, 3 seconds), and slip sleeving over bare leads that could touch.",
    "This sheet is for passive guitars without a battery. Leave amplifiers, and anything else that is plugged into the mains, to trained \
     people, by local codes: a valve amplifier holds lethal voltages even when unplugged.",
    "Never lift a mains earth to cure hum. A shock from strings or microphone is a fault of what they are plugged into: have it checked.",
];

impl Sheet {
    /// The answer as something to build, as a document.
    #[must_use]
    pub fn document(&self, result: &Recommendation) -> Document {
        let mut blocks = question(self, result);
        blocks.extend(bench_blocks(self));
        Document::new(format!("Build sheet: {}", self.guitar), blocks)
    }
}

/// What to do at the bench, section by section.
pub(super) fn bench_blocks(sheet: &Sheet) -> Vec<Block> {
    let mut blocks = parts::blocks(sheet);
    blocks.push(Block::heading("Before you start"));
    blocks.push(Block::Points(CAUTIONS.map(str::to_owned).to_vec()));
    blocks.extend(taken_out(sheet));
    blocks.extend(wiring::blocks(sheet));
    blocks.extend(selector(sheet));
    blocks.extend(checks::blocks(sheet));
    blocks
}

/// The question and its answer, the same as on the screen.
fn question(sheet: &Sheet, result: &Recommendation) -> Vec<Block> {
    let mut blocks = vec![
        Block::Answer(answer(result)),
        Block::heading("What was asked"),
        Block::Paragraph(format!("Guitar: {}. Target: {}", sheet.guitar, sheet.target.name)),
    ];
    blocks.extend(assumed(result).iter().cloned().map(Block::Paragraph));
    blocks.extend(sheet.target.echo().map(Block::Paragraph));
    blocks.push(Block::Steps(sheet.target.in_words()));
    if !sheet.cases.is_empty() {
        let word = result.case_word();
        blocks.push(Block::Paragraph(format!("It is to hold in each of these {word}s:")));
        blocks.push(Block::Points(sheet.cases.clone()));
    }
    blocks.push(Block::heading("What else changes"));
    blocks.push(Block::Points(also_changes(result, MOST_CHANGES)));
    blocks
}

/// What the selector connects: wires that stay, told so that the checks can be made in the right position.
fn selector(sheet: &Sheet) -> Vec<Block> {
    if sheet.selector.is_empty() {
        return Vec::new();
    }
    let columns = [Column::new("position", "position"), Column::new("what is connected", "connected")];
    let rows = sheet.selector.iter().map(|row| row.iter().map(Cell::text).collect()).collect();
    let table = Table {
        columns: columns.to_vec(),
        rows,
    };
    let says = "These wires stay. Where a position connects something else in your guitar, the figures are not for it.";
    vec![
        Block::heading("The selector"),
        Block::table("What each position connects", table),
        Block::paragraph(says),
    ]
}

fn taken_out(sheet: &Sheet) -> Vec<Block> {
    let mut lines: Vec<String> = sheet.take_out.iter().map(|fitted| take_out(sheet, fitted)).collect();
    if !sheet.used_again.is_empty() {
        let values: Vec<String> = sheet.used_again.iter().map(|part| parts::value(*part)).collect();
        lines.push(format!(
            "Of what comes out, the same value goes in again: {}. If it is of the right kind and reads within the limits above, use it.",
            super::words::list(&values)
        ));
    }
    lines.extend(sheet.changes.iter().map(|change| format!("{}.", capitalised(change))));
    if lines.is_empty() {
        lines.push("Nothing: no part of the guitar has to go.".to_owned());
    }
    lines.extend(sheet.stays.iter().map(|fitted| {
        let part = named(fitted);
        format!("{} stays as it is: {}.", capitalised(part), network_in_words(&fitted.network))
    }));
    vec![Block::heading("What comes out and what stays"), Block::Points(lines)]
}

/// What stands in a place, by the name that it has at the bench.
fn named(fitted: &Fitted) -> &'static str {
    match (fitted.slot, &fitted.network) {
        (Slot::Tone, Network::Fixed(Component::Capacitor(_))) => "the tone capacitor",
        (Slot::Series, Network::Fixed(Component::Capacitor(_))) => "the series capacitor",
        (slot, _) => slot_part(slot),
    }
}

fn take_out(sheet: &Sheet, fitted: &Fitted) -> String {
    let replaced = sheet.fit.iter().any(|fitting| fitting.slot == fitted.slot);
    let then = match (replaced, fitted.slot) {
        (true, _) => "the new parts go in the same place",
        (false, Slot::Bleed) => "nothing goes in its place; the pot's own wires stay on their lugs",
        (false, Slot::Tone) => "nothing goes in its place; the lug that it was on stays free",
        (false, Slot::Bypass) => "nothing goes in its place; the pot's own wires stay on their lugs",
        (false, Slot::Across) => "nothing goes across the pickup any more",
        (false, Slot::Series) => "join the pickup's hot lead to the volume control's input lug with a wire instead",
    };
    format!("Take out {}: {}; {then}.", named(fitted), network_in_words(&fitted.network))
}
