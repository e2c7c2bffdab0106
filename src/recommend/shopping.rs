//! What a build is soldered from: every part with its value, how many, and what the stock list says about it.

use std::collections::BTreeMap;

use serde::Serialize;

use super::finish::key;
use crate::guitar::Slot;
use crate::parts::network::{Component, Network};
use crate::parts::stock::Stock;
use crate::search::ranking::Entry;
use crate::search::space::{Space, components};

/// Equal parts of one slot of a build.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// The slot.
    pub slot: Slot,
    /// The free parts that they are, or are in; none for a part that the searched network fixes.
    pub parts: Vec<String>,
    /// `resistor`, `capacitor` or `inductor`.
    pub kind: &'static str,
    /// In Ω, F or H.
    pub value: f64,
    /// How many.
    pub quantity: usize,
    /// As a fraction; none without a stock list, or where it does not say.
    pub tolerance: Option<f64>,
    /// Of one; the mean over all that the build needs, where stock lists differ. None where it is not known.
    pub unit_price: Option<f64>,
    /// Whether the stock list has as many as the build needs; none without a stock list.
    pub in_stock: Option<bool>,
}

/// Every part of a build, slot by slot in written order, equal parts of a slot together.
pub(super) fn items(space: &Space, entry: &Entry, stock: Option<&Stock>) -> Vec<Item> {
    let all = components(&space.networks(&entry.choices));
    let mut items: Vec<(Component, Item)> = Vec::new();
    for (slot, name, component) in pieces(space, entry) {
        let same = items.iter_mut().find(|(other, item)| *other == component && item.slot == slot);
        match same {
            Some((_, item)) => {
                item.quantity += 1;
                item.parts.extend(name.filter(|name| !item.parts.contains(name)));
            }
            None => items.push((component, item(slot, name, component, &all, stock))),
        }
    }
    items.into_iter().map(|(_, item)| item).collect()
}

fn item(slot: Slot, name: Option<String>, component: Component, all: &[Component], stock: Option<&Stock>) -> Item {
    let value = component.value();
    let needed: Vec<Component> = all.iter().filter(|other| **other == component).copied().collect();
    let listed = stock.zip(component.kind());
    let has = |stock: &Stock| {
        let quantity = component.kind().map_or(Some(0), |kind| stock.quantity(kind, value));
        quantity.is_none_or(|quantity| quantity as usize >= needed.len())
    };
    Item {
        slot,
        parts: name.into_iter().collect(),
        kind: component.kind().map_or("inductor", |kind| kind.word()),
        value,
        quantity: 1,
        tolerance: listed
            .and_then(|(stock, kind)| stock.tolerance(kind, value))
            .map(|share| share.value()),
        unit_price: stock
            .and_then(|stock| stock.cost(&needed))
            .map(|cost| cost / needed.len().max(1) as f64),
        in_stock: stock.map(has),
    }
}

/// Every single part with its slot and the free part that it is, or is in.
fn pieces(space: &Space, entry: &Entry) -> Vec<(Slot, Option<String>, Component)> {
    let mut choices = entry.choices.iter();
    let mut pieces = Vec::new();
    for slot in &space.slots {
        let mut parts = slot.parts.iter();
        for leaf in slot.network.iter().flat_map(Network::leaves) {
            match leaf {
                Network::Fixed(component) => pieces.push((slot.slot, None, *component)),
                _ => {
                    let Some((part, choice)) = parts.next().zip(choices.next()) else {
                        continue;
                    };
                    let fitted = part.fitted(*choice).map(|network| network.components()).unwrap_or_default();
                    let name = key(slot.slot, part);
                    pieces.extend(fitted.into_iter().map(|component| (slot.slot, Some(name.clone()), component)));
                }
            }
        }
    }
    pieces
}

/// The free parts of a build that are made of two, each with the two as a network.
pub(super) fn pairs(space: &Space, entry: &Entry) -> BTreeMap<String, String> {
    let parts = space
        .slots
        .iter()
        .flat_map(|slot| slot.parts.iter().map(move |part| (slot.slot, part)));
    let pair = |((slot, part), choice): ((Slot, _), &usize)| {
        let part: &crate::search::space::PartSpace = part;
        let network = part.pair(*choice)?.network(part.part.kind)?;
        Some((key(slot, part), network.to_string()))
    };
    parts.zip(&entry.choices).filter_map(pair).collect()
}
