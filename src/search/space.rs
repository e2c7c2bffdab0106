//! Free parts × choices → candidates in a fixed order: how many there are, and what the i-th is.

use crate::error::Result;
use crate::guitar::Slot;
use crate::parts::choice::{Range, Rules};
use crate::parts::network::{Component, FreePart, Kind, Network};

/// One search: what is tried in each searched slot.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// In slot order; the last part of the last slot varies fastest.
    pub slots: Vec<SlotSpace>,
}

/// What is tried in one slot.
#[derive(Debug, Clone, PartialEq)]
pub struct SlotSpace {
    /// The slot.
    pub slot: Slot,
    /// The network; `None` is nothing fitted.
    pub network: Option<Network>,
    /// Its free parts, in written order.
    pub parts: Vec<PartSpace>,
}

/// What a free part may be.
#[derive(Debug, Clone, PartialEq)]
pub struct PartSpace {
    /// The free part.
    pub part: FreePart,
    /// Every value it may take, ascending.
    pub values: Vec<f64>,
    /// Index of the interchangeable part before it, whose value it must not be below.
    pub not_below: Option<usize>,
}

/// Where a default range of a part ends (common practice, no source).
#[must_use]
pub fn default_range(slot: Slot, kind: Kind) -> Range {
    let (low, high) = match (slot, kind) {
        (Slot::Bleed, Kind::Resistor) => (1e3, 1e6),
        (Slot::Bleed, Kind::Capacitor) => (100e-12, 22e-9),
        (Slot::Tone | Slot::Bypass, Kind::Resistor) => (1e3, 250e3),
        (Slot::Tone, Kind::Capacitor) => (1e-9, 220e-9),
        (Slot::Bypass, Kind::Capacitor) => (10e-9, 470e-9),
        (Slot::Series, Kind::Resistor) => (100e3, 2.2e6),
        (Slot::Series, Kind::Capacitor) => (1e-9, 100e-9),
    };
    Range { low, high }
}

impl SlotSpace {
    /// Finds the values of each free part of a network.
    ///
    /// # Errors
    /// When a part has nothing to choose from.
    pub fn new(slot: Slot, network: Option<Network>, rules: &Rules) -> Result<Self> {
        let mut parts: Vec<PartSpace> = Vec::new();
        if let Some(network) = &network {
            for (part, twins) in network.free_parts().into_iter().zip(earlier_twins(network)) {
                let values = rules.values(slot.word(), part, default_range(slot, part.kind))?;
                // Parts with different choices are not interchangeable, however they are joined.
                let same = |twin: &usize| parts.get(*twin).is_some_and(|other| other.values == values);
                let not_below = twins.into_iter().rev().find(same);
                parts.push(PartSpace {
                    part: part.clone(),
                    values,
                    not_below,
                });
            }
        }
        Ok(Self { slot, network, parts })
    }
}

impl Space {
    /// The same space with only some of its slots.
    #[must_use]
    pub fn only(&self, slots: &[Slot]) -> Self {
        let kept = |slot: &&SlotSpace| slots.contains(&slot.slot);
        Self {
            slots: self.slots.iter().filter(kept).cloned().collect(),
        }
    }

    /// How many candidates there are; saturates far above any search that is run.
    #[must_use]
    pub fn count(&self) -> u64 {
        let parts = || self.slots.iter().flat_map(|slot| chains(&slot.parts));
        parts().fold(1_u64, |product, (choices, length)| {
            product.saturating_mul(multisets(choices, length))
        })
    }

    /// How many combinations there are with interchangeable parts told apart.
    #[must_use]
    pub fn index_count(&self) -> u64 {
        let sizes = self.parts().map(|part| part.values.len() as u64);
        sizes.fold(1_u64, u64::saturating_mul)
    }

    /// The choices of combination `index`, one a free part in slot and written order; `false` when interchangeable parts are out of order.
    pub fn choices(&self, mut index: u64, choices: &mut Vec<usize>) -> bool {
        choices.clear();
        for part in self.slots.iter().rev().flat_map(|slot| slot.parts.iter().rev()) {
            let size = part.values.len() as u64;
            choices.push((index % size) as usize);
            index /= size;
        }
        choices.reverse();
        self.in_order(choices)
    }

    /// Whether interchangeable parts are in order.
    #[must_use]
    pub fn in_order(&self, choices: &[usize]) -> bool {
        let mut first = 0;
        self.slots.iter().all(|slot| {
            let own = choices.get(first..first + slot.parts.len()).unwrap_or_default();
            first += slot.parts.len();
            in_order(&slot.parts, own)
        })
    }

    /// The free parts of all slots, in slot and written order.
    pub fn parts(&self) -> impl Iterator<Item = &PartSpace> {
        self.slots.iter().flat_map(|slot| &slot.parts)
    }

    /// The value of each free part, slot by slot.
    #[must_use]
    pub fn values(&self, choices: &[usize]) -> Vec<Vec<f64>> {
        let mut next = choices.iter();
        let mut pick = |part: &PartSpace| next.next().and_then(|choice| part.values.get(*choice)).copied();
        self.slots
            .iter()
            .map(|slot| slot.parts.iter().filter_map(&mut pick).collect())
            .collect()
    }

    /// What is fitted in each slot, given the values slot by slot.
    #[must_use]
    pub fn networks(&self, values: &[Vec<f64>]) -> Vec<(Slot, Option<Network>)> {
        self.slots
            .iter()
            .zip(values)
            .map(|(slot, values)| (slot.slot, slot.network.as_ref().map(|network| network.with_values(values))))
            .collect()
    }

    /// How many parts a candidate has.
    #[must_use]
    pub fn part_count(&self) -> usize {
        self.slots
            .iter()
            .filter_map(|slot| slot.network.as_ref())
            .map(Network::part_count)
            .sum()
    }
}

/// Every part of the networks, chosen and fixed, in slot and written order.
#[must_use]
pub fn components(networks: &[(Slot, Option<Network>)]) -> Vec<Component> {
    networks
        .iter()
        .filter_map(|(_, network)| network.as_ref())
        .flat_map(Network::components)
        .collect()
}

fn in_order(parts: &[PartSpace], choices: &[usize]) -> bool {
    parts.iter().zip(choices).all(|(part, choice)| {
        let before = part.not_below.and_then(|before| choices.get(before));
        before.is_none_or(|before| before <= choice)
    })
}

/// For each free part in written order, the free parts of the same kind that stand before it in the same series or parallel.
fn earlier_twins(network: &Network) -> Vec<Vec<usize>> {
    let mut twins = Vec::new();
    find_twins(network, &mut twins);
    twins
}

fn find_twins(network: &Network, twins: &mut Vec<Vec<usize>>) {
    match network {
        Network::Fixed(_) => {}
        Network::Free(_) => twins.push(Vec::new()),
        Network::Series(members) | Network::Parallel(members) => {
            let mut earlier: [Vec<usize>; 2] = [Vec::new(), Vec::new()];
            for member in members {
                if let Network::Free(part) = member {
                    let own = twins.len();
                    let before = &mut earlier[usize::from(part.kind == Kind::Capacitor)];
                    twins.push(before.clone());
                    before.push(own);
                } else {
                    find_twins(member, twins);
                }
            }
        }
    }
}

/// Chains of interchangeable parts: how many choices each has, and how many parts are in it.
fn chains(parts: &[PartSpace]) -> Vec<(u64, u64)> {
    let mut chain_of: Vec<usize> = Vec::new();
    let mut chains: Vec<(u64, u64)> = Vec::new();
    for part in parts {
        let chain = match part.not_below.and_then(|before| chain_of.get(before)) {
            Some(chain) => *chain,
            None => {
                chains.push((part.values.len() as u64, 0));
                chains.len() - 1
            }
        };
        if let Some((_, length)) = chains.get_mut(chain) {
            *length += 1;
        }
        chain_of.push(chain);
    }
    chains
}

/// How many non-decreasing sequences of `length` there are over `choices`: C(choices + length − 1, length).
fn multisets(choices: u64, length: u64) -> u64 {
    let product = (1..=length).try_fold(1_u128, |product, step| {
        Some(product.checked_mul(u128::from(choices) + u128::from(step) - 1)? / u128::from(step))
    });
    product.and_then(|product| u64::try_from(product).ok()).unwrap_or(u64::MAX)
}
