//! What one purchase would bring: the best builds that need a single part which is not in stock, everything else from the drawers.
//!
//! Every standard value that is not in stock is tried as each free part in turn. What is listed is the answer to the request with one piece
//! of that value added to the stock. A network with a fixed part that is sold out would need a purchase for that alone and is left out.

use std::collections::BTreeMap;

use serde::Serialize;

use super::explain::MOST_SEARCHED_AGAIN;
use super::finish::parts;
use super::{Build, Parts, Prepared, Request, prepare};
use crate::error::Result;
use crate::guitar::Slot;
use crate::kernel::plan::Plan;
use crate::parts::network::{Component, Kind, Network};
use crate::parts::stock::{Stock, StockedPart};
use crate::search::exhaustive;
use crate::search::space::{PartSpace, Space, default_range};

/// How many are listed at most.
const MOST_LISTED: usize = 3;
/// A gain below this, in dB, is not worth a purchase.
const LEAST_GAIN: f64 = 0.1;

/// A part to buy and what it would bring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Purchase {
    /// The part.
    pub buy: PartToBuy,
    /// What goes into each searched slot then.
    pub slots: BTreeMap<Slot, String>,
    /// The values of the free parts then, in Ω and F.
    pub parts: Parts,
    /// The margin then, in dB.
    pub margin_db: f64,
    /// Whether the target is met then.
    pub meets_target: bool,
    /// By how much the margin is above that of the best build from stock, in dB.
    pub gain_db: f64,
}

/// A part of a standard value that is not in stock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PartToBuy {
    /// Resistor or capacitor.
    pub kind: Kind,
    /// In Ω or F.
    pub value: f64,
}

/// A space in which one part is bought.
struct Shop {
    space: Space,
    /// The number of the bought part among the space's parts.
    bought: usize,
}

/// The most helpful purchases, largest gain first; none where nothing gains, and none where the search for them would be long.
pub(super) fn purchases(request: &Request, prepared: &Prepared, plan: &Plan, builds: &[Build]) -> Result<Vec<Purchase>> {
    let best = builds.iter().map(|build| build.margin_db).reduce(f64::max);
    let (Some(stock), Some(best)) = (&request.rules.stock, best) else {
        return Ok(Vec::new());
    };
    let mut shops = shops(request, prepared, stock);
    let candidates = shops.iter().map(|shop| shop.space.count()).fold(0, u64::saturating_add);
    if !request.explain || prepared.candidates().max(candidates) > MOST_SEARCHED_AGAIN {
        return Ok(Vec::new());
    }
    let mut purchases: Vec<Purchase> = Vec::new();
    while purchases.len() < MOST_LISTED {
        let Some((buy, margin)) = best_to_buy(plan, &shops, stock) else {
            break;
        };
        if margin - best < LEAST_GAIN {
            break;
        }
        purchases.extend(bought(request, stock, buy, best)?);
        shops.retain_mut(|shop| shop.leave_out(buy));
    }
    purchases.retain(|purchase| purchase.gain_db >= LEAST_GAIN);
    purchases.sort_by(|one, other| other.margin_db.total_cmp(&one.margin_db));
    Ok(purchases)
}

/// Every space with each of its parts in turn bought instead of taken from stock.
fn shops(request: &Request, prepared: &Prepared, stock: &Stock) -> Vec<Shop> {
    let mut shops = Vec::new();
    for space in &prepared.spaces {
        let fixed = fixed_parts(space);
        if !stock.suffices(&fixed) {
            continue;
        }
        let mut bought = 0;
        for (position, slot) in space.slots.iter().enumerate() {
            for (number, part) in slot.parts.iter().enumerate() {
                let values = for_sale(request, slot.slot, part, &fixed);
                // Of interchangeable parts one stands for all.
                if part.not_below.is_none() && !values.is_empty() {
                    let space = space.with_values(position, number, values);
                    shops.push(Shop { space, bought });
                }
                bought += 1;
            }
        }
    }
    shops
}

/// The standard values that a part could be bought in; one piece would not do for what the network fixes already.
fn for_sale(request: &Request, slot: Slot, part: &PartSpace, fixed: &[Component]) -> Vec<f64> {
    let kind = part.part.kind;
    let mut values = request.rules.for_sale(slot.word(), &part.part, default_range(slot, kind));
    values.retain(|value| !fixed.iter().any(|fixed| fixed.kind() == Some(kind) && fixed.value() == *value));
    values
}

fn fixed_parts(space: &Space) -> Vec<Component> {
    let networks = space.slots.iter().filter_map(|slot| slot.network.as_ref());
    networks.flat_map(Network::components).collect()
}

impl Shop {
    /// Takes a value off the shelf; whether anything is left.
    fn leave_out(&mut self, buy: PartToBuy) -> bool {
        let part = self.space.slots.iter_mut().flat_map(|slot| &mut slot.parts).nth(self.bought);
        part.is_some_and(|part| {
            part.values.retain(|value| part.part.kind != buy.kind || *value != buy.value);
            !part.values.is_empty()
        })
    }
}

/// The part of the best build, and its margin.
fn best_to_buy(plan: &Plan, shops: &[Shop], stock: &Stock) -> Option<(PartToBuy, f64)> {
    let spaces: Vec<Space> = shops.iter().map(|shop| shop.space.clone()).collect();
    // A row without a piece is as good as no row: what is bought there is not counted.
    let mut stock = stock.clone();
    stock.rows.retain(|row| row.quantity != Some(0));
    let entry = exhaustive::search(plan, &spaces, Some(&stock), 1, &()).entries.into_iter().next()?;
    let shop = shops.get(entry.space)?;
    let part: &PartSpace = shop.space.parts().nth(shop.bought)?;
    let value = *part.values.get(*entry.choices.get(shop.bought)?)?;
    let kind = part.part.kind;
    Some((PartToBuy { kind, value }, entry.margin))
}

/// The answer with one piece of a part added to the stock.
fn bought(request: &Request, stock: &Stock, buy: PartToBuy, in_stock: f64) -> Result<Option<Purchase>> {
    let mut request = request.clone();
    let piece = StockedPart {
        kind: buy.kind,
        value: buy.value,
        tolerance: None,
        price: None,
        quantity: Some(1),
        note: String::new(),
    };
    let mut stock = stock.clone();
    stock.rows.push(piece);
    (request.rules.stock, request.large) = (Some(stock), true);
    let prepared = prepare::prepare(&request)?;
    let plan = prepared.plan(&request.target)?;
    let found = exhaustive::search(&plan, &prepared.spaces, request.rules.stock.as_ref(), 1, &()).entries;
    Ok(found
        .first()
        .zip(found.first().and_then(|entry| prepared.spaces.get(entry.space)))
        .map(|(entry, space)| Purchase {
            buy,
            slots: prepared.slots_of(entry),
            parts: parts(space, &entry.chosen),
            margin_db: entry.margin,
            meets_target: entry.margin >= 0.0,
            gain_db: entry.margin - in_stock,
        }))
}
