//! Free parts × choices → candidates in a fixed order: how many there are, and what the i-th is.

use crate::error::Result;
use crate::guitar::Slot;
use crate::parts::choice::{Range, Rules};
use crate::parts::network::{Component, FreePart, Kind, Network};
use crate::parts::pairs::{Joined, Pair};
use crate::parts::stock::Stock;

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
    /// For each value the two parts that stand for it, if it is no single part's; empty where all are.
    pub pairs: Vec<Option<Pair>>,
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
        (Slot::Series | Slot::Across, Kind::Resistor) => (100e3, 2.2e6),
        (Slot::Across, Kind::Capacitor) => (100e-12, 10e-9),
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
            let left_out = joined_with_their_kind(network);
            for ((part, twins), left_out) in network.free_parts().into_iter().zip(earlier_twins(network)).zip(left_out) {
                let choices = rules.choices(slot.word(), part, default_range(slot, part.kind), left_out)?;
                let mut own = PartSpace {
                    part: part.clone(),
                    values: choices.iter().map(|choice| choice.value).collect(),
                    pairs: choices.into_iter().map(|choice| choice.pair).collect(),
                    not_below: None,
                };
                own.forget_no_pairs();
                // Parts with different choices are not interchangeable, however they are joined.
                let same = |twin: &usize| {
                    parts
                        .get(*twin)
                        .is_some_and(|other| other.values == own.values && other.pairs == own.pairs)
                };
                own.not_below = twins.into_iter().rev().find(same);
                parts.push(own);
            }
        }
        Ok(Self { slot, network, parts })
    }
}

impl PartSpace {
    /// What a choice is fitted as: one part, or two; `None` for a choice that there is not.
    #[must_use]
    pub fn fitted(&self, choice: usize) -> Option<Network> {
        match self.pair(choice) {
            Some(pair) => pair.network(self.part.kind),
            None => self.part.kind.component(*self.values.get(choice)?).map(Network::Fixed),
        }
    }

    /// The pair of a choice; `None` for a single part.
    #[must_use]
    pub fn pair(&self, choice: usize) -> Option<Pair> {
        self.pairs.get(choice).copied().flatten()
    }

    /// Keeps the choices that pass.
    fn retain(&mut self, mut keeps: impl FnMut(f64, Option<Pair>) -> bool) {
        let all: Vec<(f64, Option<Pair>)> = self
            .values
            .iter()
            .enumerate()
            .map(|(choice, value)| (*value, self.pair(choice)))
            .collect();
        (self.values, self.pairs) = all.into_iter().filter(|(value, pair)| keeps(*value, *pair)).unzip();
        self.forget_no_pairs();
    }

    fn forget_no_pairs(&mut self) {
        if self.pairs.iter().all(Option::is_none) {
            self.pairs.clear();
        }
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

    /// The number of the combination with these choices: what [`Space::choices`] turns back.
    #[must_use]
    pub fn index(&self, choices: &[usize]) -> u64 {
        let sizes = self.parts().map(|part| part.values.len() as u64);
        sizes.zip(choices).fold(0, |index, (size, choice)| index * size + *choice as u64)
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

    /// What is fitted in each slot, pairs written out.
    #[must_use]
    pub fn networks(&self, choices: &[usize]) -> Vec<(Slot, Option<Network>)> {
        let mut next = choices.iter();
        let mut fitted = |part: &PartSpace| next.next().and_then(|choice| part.fitted(*choice));
        self.slots
            .iter()
            .map(|slot| {
                let parts: Vec<Network> = slot.parts.iter().filter_map(&mut fitted).collect();
                (slot.slot, slot.network.as_ref().map(|network| network.with_networks(&parts)))
            })
            .collect()
    }

    /// The network of each slot, its parts free.
    #[must_use]
    pub fn fitted(&self) -> Vec<(Slot, Option<&Network>)> {
        self.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect()
    }

    /// How many parts a candidate has at least; how many each has after [`Space::by_part_count`].
    #[must_use]
    pub fn part_count(&self) -> usize {
        let written = |slot: &SlotSpace| slot.network.as_ref().map_or(0, Network::part_count);
        let only_pairs = |part: &&PartSpace| !part.pairs.is_empty() && part.pairs.iter().all(Option::is_some);
        self.slots.iter().map(written).sum::<usize>() + self.parts().filter(only_pairs).count()
    }

    /// The same candidates in spaces whose candidates all have the same number of parts: each free part always a pair or never.
    #[must_use]
    pub fn by_part_count(&self) -> Vec<Self> {
        let mut spaces = vec![self.clone()];
        for (slot, content) in self.slots.iter().enumerate() {
            let with_pairs = content.parts.iter().enumerate().filter(|(_, part)| !part.pairs.is_empty());
            for (number, _) in with_pairs {
                let halves = spaces
                    .iter()
                    .flat_map(|space| [false, true].map(|pairs| space.with_pairs(slot, number, pairs)));
                spaces = halves.filter(|space| space.parts().all(|part| !part.values.is_empty())).collect();
            }
        }
        spaces
    }

    /// The same space with other values, ascending, for one part of a slot; what was interchangeable with it no longer is.
    #[must_use]
    pub fn with_values(&self, slot: usize, number: usize, values: Vec<f64>) -> Self {
        let mut space = self.clone();
        if let Some(content) = space.slots.get_mut(slot) {
            content.free_from_twins(number);
            if let Some(part) = content.parts.get_mut(number) {
                (part.values, part.pairs) = (values, Vec::new());
            }
        }
        space
    }

    /// The part always a pair, or never; what was interchangeable with it no longer is, as its choices differ.
    fn with_pairs(&self, slot: usize, number: usize, pairs: bool) -> Self {
        let mut space = self.clone();
        if let Some(content) = space.slots.get_mut(slot) {
            content.free_from_twins(number);
            if let Some(part) = content.parts.get_mut(number) {
                part.retain(|_, pair| pair.is_some() == pairs);
            }
        }
        space
    }

    /// The same space with single parts only; a part that is none in its range is left without values.
    #[must_use]
    pub fn without_pairs(&self) -> Self {
        let mut space = self.clone();
        for part in space.slots.iter_mut().flat_map(|slot| &mut slot.parts) {
            part.retain(|_, pair| pair.is_none());
        }
        space
    }

    /// Drops the pairs of a value of which there are single parts enough for any candidate: the single part gives the same margin with
    /// fewer parts, so that it always comes first.
    pub fn drop_idle_pairs(&mut self, stock: &Stock) {
        let written = |slot: &SlotSpace| slot.network.as_ref().map_or(0, Network::part_count);
        let most = self.slots.iter().map(|slot| written(slot) + slot.parts.len()).sum();
        for part in self.slots.iter_mut().flat_map(|slot| &mut slot.parts) {
            let is_plenty = |value: f64| {
                stock
                    .quantity(part.part.kind, value)
                    .is_none_or(|quantity| quantity as usize >= most)
            };
            let choices = 0..part.values.len();
            let singles = choices
                .filter(|choice| part.pair(*choice).is_none())
                .filter_map(|choice| part.values.get(choice));
            let plenty: Vec<f64> = singles.copied().filter(|value| is_plenty(*value)).collect();
            part.retain(|value, pair| pair.is_none() || !plenty.contains(&value));
        }
    }
}

impl SlotSpace {
    /// Parts that were interchangeable with this one are so no longer.
    fn free_from_twins(&mut self, number: usize) {
        for (other, part) in self.parts.iter_mut().enumerate() {
            if other == number || part.not_below == Some(number) {
                part.not_below = None;
            }
        }
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

/// For each free part in written order, how it is joined with another free part of its kind, if it is: there a pair joined the same
/// way would only be one more such part, which the network could ask for, and every build would come up several times.
fn joined_with_their_kind(network: &Network) -> Vec<Option<Joined>> {
    let mut found = Vec::new();
    find_joined(network, &mut found);
    found
}

fn find_joined(network: &Network, found: &mut Vec<Option<Joined>>) {
    let (joined, members) = match network {
        Network::Fixed(_) => return,
        Network::Free(_) => return found.push(None),
        Network::Series(members) => (Joined::Series, members),
        Network::Parallel(members) => (Joined::Parallel, members),
    };
    for member in members {
        if let Network::Free(part) = member {
            let alike = |other: &&Network| matches!(other, Network::Free(other) if other.kind == part.kind);
            found.push((members.iter().filter(alike).count() > 1).then_some(joined));
        } else {
            find_joined(member, found);
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
