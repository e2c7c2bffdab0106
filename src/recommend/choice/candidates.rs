//! The builds that an answer is chosen from: those with the fewest changes that do the job, and those that do it at a price.

use std::collections::BTreeMap;

use super::super::changes::Known;
use super::super::tries::{Searched, Tries};
use super::super::{Prepared, Request, Rewired, prepare, yields};
use super::NOBODY_HEARS;
use crate::error::Result;
use crate::guitar::{Guitar, Slot};
use crate::kernel::measure::{rest, worst_point};
use crate::kernel::plan::Plan;
use crate::kernel::same::Sound;
use crate::parts::network::{Component, Kind, Network};
use crate::search::exhaustive::{self, Evaluator};
use crate::search::ranking::Entry;
use crate::search::space::{SlotSpace, Space};

/// No build is offered that spoils the rest by more than this, in dB.
const DEAREST: f64 = 6.0;
/// How many builds that do the job are looked at one by one, and how many of them for what else they change.
const MOST_COMPARED: usize = 2000;
const MOST_LOOKED_AT: usize = 100;
/// How closely the smallest price is found, in dB.
const PRICE_CLOSENESS: f64 = 0.05;

/// A build with everything the choice depends on.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    /// The slots that it changes, and its space alone.
    pub(super) prepared: Prepared,
    pub(super) entry: Entry,
    pub(super) guitar: Guitar,
    pub(super) changes: usize,
    pub(super) rest_db: f64,
}

/// What the choice is made from.
pub(super) struct Choice<'r> {
    pub(super) request: &'r Request,
    pub(super) prepared: &'r Prepared,
    pub(super) tries: &'r Tries,
    pub(super) known: Known<'r>,
}

impl Choice<'_> {
    pub(super) fn sounds_as_now(&self, build: &Guitar) -> bool {
        let present = &self.prepared.present;
        let settings = self.prepared.heard_at(&self.request.target);
        Sound::new(&present.in_cases(), &settings).is_like(&Sound::new(&build.in_cases(), &settings))
    }

    /// Of all builds with a margin of at least `least` dB that keep the rest, the one that changes least.
    pub(super) fn least_changed(&self, least: f64) -> Result<Option<Candidate>> {
        let candidates = self.fewest_changes(least)?;
        self.pick(candidates)
    }

    /// Every build with a margin of at least `least` dB that has the fewest changes; of very many only those with the best margins.
    pub(super) fn fewest_changes(&self, least: f64) -> Result<Vec<Candidate>> {
        let mut groups: BTreeMap<usize, Vec<Prepared>> = BTreeMap::new();
        for spared in self.tries.all.iter().flat_map(|searched| spared(&searched.prepared)) {
            let mut by_changes: BTreeMap<usize, Vec<Space>> = BTreeMap::new();
            for space in &spared.spaces {
                by_changes.entry(self.fewest_of(&spared, space)).or_default().push(space.clone());
            }
            for (changes, spaces) in by_changes {
                let part = Prepared { spaces, ..spared.clone() };
                groups.entry(changes).or_default().push(part);
            }
        }
        let mut found: Vec<Candidate> = Vec::new();
        for (changes, group) in groups {
            if found.first().is_some_and(|best| changes > best.changes) {
                break;
            }
            for prepared in group {
                found.extend(self.candidates(&prepared, least)?);
            }
            let fewest = found.iter().map(|candidate| candidate.changes).min();
            found.retain(|candidate| Some(candidate.changes) == fewest);
        }
        Ok(found)
    }

    /// How many changes a build of a space has at least.
    pub(super) fn fewest_of(&self, prepared: &Prepared, space: &Space) -> usize {
        let at_least = |slot: &SlotSpace| {
            let kinds = |network: Option<&Network>| {
                let leaves: Vec<Option<Kind>> = network.iter().flat_map(|network| network.leaves()).map(kind).collect();
                leaves
            };
            count_changes(&kinds(self.prepared.present.fitted(slot.slot)), &kinds(slot.network.as_ref()))
        };
        space.slots.iter().map(at_least).sum::<usize>() + rewirings(prepared)
    }

    /// The builds of some spaces with a margin of at least `least` dB.
    pub(super) fn candidates(&self, prepared: &Prepared, least: f64) -> Result<Vec<Candidate>> {
        let plan = prepared.plan(&self.request.target)?;
        let stock = self.request.rules.stock.as_ref();
        let entries = exhaustive::all_above(&plan, &prepared.spaces, stock, least, MOST_COMPARED)
            .unwrap_or_else(|| exhaustive::search(&plan, &prepared.spaces, stock, MOST_LOOKED_AT, &()).entries);
        let above = entries.into_iter().filter(|entry| entry.margin >= least);
        above
            .map(|entry| self.candidate(prepared, &plan, entry))
            .filter_map(Result::transpose)
            .collect()
    }

    /// A candidate by its entry; `None` for one that takes out what makes the tone knob work, which is done at any price only.
    pub(super) fn candidate(&self, prepared: &Prepared, plan: &Plan, entry: Entry) -> Result<Option<Candidate>> {
        let guitar = prepared.built(&entry);
        let present = &self.prepared.present;
        if present.fitted(Slot::Tone).is_some() && guitar.fitted(Slot::Tone).is_none() && !self.request.at_any_price {
            return Ok(None);
        }
        Ok(Some(self.candidate_at_any_price(prepared, plan, entry, guitar)?))
    }

    pub(super) fn candidate_at_any_price(&self, prepared: &Prepared, plan: &Plan, entry: Entry, guitar: Guitar) -> Result<Candidate> {
        let spaces: Vec<Space> = prepared.spaces.get(entry.space).cloned().into_iter().collect();
        Ok(Candidate {
            rest_db: prepared.rest_in(plan, &entry, &guitar, &self.request.target)?,
            changes: changes_between(&self.prepared.present, &guitar),
            prepared: Prepared {
                spaces,
                ..prepared.clone()
            },
            entry: Entry { space: 0, ..entry },
            guitar,
        })
    }

    /// Of candidates with equally many changes: the least else changed, in whole dB, then the yield, then the margin.
    pub(super) fn pick(&self, mut candidates: Vec<Candidate>) -> Result<Option<Candidate>> {
        candidates.sort_by(|one, other| {
            other
                .entry
                .margin
                .total_cmp(&one.entry.margin)
                .then_with(|| one.entry.compare_in_group(&other.entry))
        });
        candidates.truncate(MOST_LOOKED_AT);
        if candidates.len() > 1 {
            let largest = exhaustive::each(&candidates, |candidate| self.largest_change(&candidate.guitar).round() as i64);
            let least = largest.iter().min().copied();
            let mut kept = largest.iter();
            candidates.retain(|_| kept.next().copied() == least);
        }
        if candidates.len() > 1 && self.request.lot.is_some() {
            let mut shares = Vec::with_capacity(candidates.len());
            for candidate in &candidates {
                shares.push(yields::of(self.request, &self.prepared.present, &candidate.guitar)?.map_or(0.0, |found| found.share));
            }
            let most = shares.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let mut shares = shares.iter();
            candidates.retain(|_| shares.next().is_some_and(|share| *share >= most));
        }
        let chosen = candidates.into_iter().next();
        chosen.map(|chosen| self.without_dead_parts(chosen)).transpose()
    }

    pub(super) fn largest_change(&self, guitar: &Guitar) -> f64 {
        self.known
            .side_effects(guitar)
            .first()
            .map_or(0.0, |effect| effect.difference_db.abs())
    }

    /// The first of the list.
    pub(super) fn first(&self) -> Result<Option<Candidate>> {
        for (searched, entry) in self.tries.each_listed() {
            if let Some(candidate) = self.candidate(&searched.prepared, &searched.plan, entry.clone())? {
                return Ok(Some(self.without_dead_parts(candidate)?));
            }
        }
        Ok(None)
    }

    /// A treble bleed's capacitor that could as well be a wire, or not be there, is left out.
    pub(super) fn without_dead_parts(&self, chosen: Candidate) -> Result<Candidate> {
        let Some(bleed) = chosen
            .guitar
            .fitted(Slot::Bleed)
            .filter(|bleed| self.prepared.present.fitted(Slot::Bleed) != Some(*bleed))
        else {
            return Ok(chosen);
        };
        for simpler in without_capacitor(bleed) {
            let mut guitar = chosen.guitar.clone();
            guitar.fit(Slot::Bleed, Some(simpler.clone()));
            let plan = Plan::guarded(&guitar, &self.prepared.present, &self.request.target, &[]).map_err(prepare::silent)?;
            let mut evaluator = Evaluator::new(&plan);
            let powers = evaluator.powers(&[], &[]);
            let Some(worst) = worst_point(&plan, powers) else { continue };
            let keeps = rest(&plan, powers) >= chosen.rest_db.min(0.0);
            let still_meets = worst.margin >= 0.0 || chosen.entry.margin < 0.0;
            if keeps && still_meets && worst.margin > chosen.entry.margin - NOBODY_HEARS {
                return self.fixed(&chosen.prepared, &guitar, worst.margin);
            }
        }
        Ok(chosen)
    }

    /// Where one resistor alone is the answer, the best capacitor in its place that does the job as well, and the other way round.
    pub(super) fn of_other_kind(&self, chosen: &Candidate) -> Result<Option<Candidate>> {
        let single = |space: &Space| match space.slots.as_slice() {
            [only] => Some((only.slot, kind(only.network.as_ref()?)?)),
            _ => None,
        };
        let Some((slot, own)) = chosen.prepared.spaces.first().and_then(single) else {
            return Ok(None);
        };
        let mut best: Option<Candidate> = None;
        for searched in self.tries.all.iter().filter(|searched| rewirings(&searched.prepared) == 0) {
            let mut others = searched.prepared.clone();
            others.slots = vec![slot];
            others
                .spaces
                .retain(|space| single(space).is_some_and(|(place, kind)| place == slot && kind != own));
            for candidate in self.candidates(&others, 0.0)? {
                if best.as_ref().is_none_or(|best| candidate.entry.margin > best.entry.margin) {
                    best = Some(candidate);
                }
            }
        }
        Ok(best)
    }

    /// A guitar as a candidate of its own, every changed slot a space of one choice.
    pub(super) fn fixed(&self, base: &Prepared, guitar: &Guitar, margin: f64) -> Result<Candidate> {
        let changed = |slot: &Slot| guitar.fitted(*slot) != base.build.fitted(*slot);
        let slots: Vec<Slot> = Slot::ALL.into_iter().filter(changed).collect();
        let fixed = |slot: &Slot| SlotSpace::new(*slot, guitar.fitted(*slot).cloned(), &self.request.rules);
        let space = Space {
            slots: slots.iter().map(fixed).collect::<Result<_>>()?,
        };
        let entry = exhaustive::entry(margin, &space, 0, &[], self.request.rules.stock.as_ref());
        let prepared = Prepared {
            slots,
            spaces: vec![space],
            ..base.clone()
        };
        let plan = prepared.plan(&self.request.target)?;
        self.candidate_at_any_price(&prepared, &plan, entry, guitar.clone())
    }

    /// The build that meets the wish and spoils least, if it can be had for a price that anyone would pay.
    pub(super) fn at_a_price(&self) -> Result<Option<Candidate>> {
        if self.request.at_any_price {
            return Ok(None);
        }
        let stock = self.request.rules.stock.as_ref();
        let is_met_by = |searched: &&Searched, price: f64| {
            let first = exhaustive::first_above(&searched.plan.at_price(price), &searched.prepared.spaces, stock, 0.0);
            first.is_some_and(|entry| entry.margin >= 0.0)
        };
        let (mut low, mut high) = (0.0, DEAREST);
        let mut able: Vec<&Searched> = self.tries.all.iter().filter(|searched| is_met_by(searched, high)).collect();
        if able.is_empty() {
            return Ok(None);
        }
        while high - low > PRICE_CLOSENESS {
            let middle = f64::midpoint(low, high);
            let cheaper: Vec<&Searched> = able.iter().copied().filter(|searched| is_met_by(searched, middle)).collect();
            if cheaper.is_empty() {
                low = middle;
            } else {
                (able, high) = (cheaper, middle);
            }
        }
        let mut candidates = Vec::new();
        for searched in able {
            candidates.extend(self.at_price(searched, high)?);
        }
        let most = candidates
            .iter()
            .map(|candidate| candidate.rest_db)
            .fold(f64::NEG_INFINITY, f64::max);
        candidates.retain(|candidate| candidate.rest_db >= most - PRICE_CLOSENESS);
        let fewest = candidates.iter().map(|candidate| candidate.changes).min();
        candidates.retain(|candidate| Some(candidate.changes) == fewest);
        self.pick(candidates)
    }

    /// The builds of one search that meet the wish where the rest may be spoiled by so many dB.
    fn at_price(&self, searched: &Searched, price: f64) -> Result<Vec<Candidate>> {
        let Searched { prepared, plan, .. } = searched;
        let (dear, stock) = (plan.at_price(price), self.request.rules.stock.as_ref());
        let entries = exhaustive::all_above(&dear, &prepared.spaces, stock, 0.0, MOST_COMPARED)
            .unwrap_or_else(|| exhaustive::search(&dear, &prepared.spaces, stock, MOST_LOOKED_AT, &()).entries);
        let met = entries.into_iter().filter(|entry| entry.margin >= 0.0);
        met.map(|entry| {
            let guitar = prepared.built(&entry);
            self.candidate_at_any_price(prepared, plan, entry, guitar)
        })
        .collect()
    }
}

/// The same search for each set of slots that are changed, the others left as they are now.
fn spared(prepared: &Prepared) -> Vec<Prepared> {
    let slots = &prepared.slots;
    let of_set = |set: usize| {
        let changed: Vec<Slot> = (0..slots.len())
            .filter(|index| set >> index & 1 == 1)
            .filter_map(|index| slots.get(index).copied())
            .collect();
        let differs = |space: &Space| {
            let mut slots = space.slots.iter();
            slots.all(|slot| slot.network.as_ref() != prepared.present.fitted(slot.slot))
        };
        let mut spaces: Vec<Space> = prepared.spaces.iter().map(|space| space.only(&changed)).collect();
        spaces.sort_by_key(|space| format!("{:?}", space.fitted()));
        spaces.dedup();
        spaces.retain(differs);
        Prepared {
            slots: changed,
            spaces,
            ..prepared.clone()
        }
    };
    let sets = (0..1_usize << slots.len().min(8)).map(of_set);
    // Nothing changed at all is the present guitar, unless pots, cable or wiring are others.
    sets.filter(|spared| !spared.slots.is_empty() || rewirings(prepared) > 0).collect()
}

fn rewirings(prepared: &Prepared) -> usize {
    Rewired::between(&prepared.present, &prepared.build).count()
}

fn kind(leaf: &Network) -> Option<Kind> {
    match leaf {
        Network::Fixed(component) => component.kind(),
        Network::Free(part) => Some(part.kind),
        Network::Series(_) | Network::Parallel(_) => None,
    }
}

/// How many parts change between two guitars: slot by slot the larger of what comes in and what goes out, at least one where the network
/// differs at all; another pot, cable or wiring is one each.
fn changes_between(present: &Guitar, build: &Guitar) -> usize {
    let parts = |guitar: &Guitar, slot| guitar.fitted(slot).map(Network::components).unwrap_or_default();
    let differs = |slot: &Slot| present.fitted(*slot) != build.fitted(*slot);
    let of_slot = |slot: Slot| count_changes::<Component>(&parts(present, slot), &parts(build, slot));
    Slot::ALL.into_iter().filter(differs).map(of_slot).sum::<usize>() + Rewired::between(present, build).count()
}

fn count_changes<T: PartialEq>(now: &[T], then: &[T]) -> usize {
    let mut left: Vec<&T> = now.iter().collect();
    let mut coming = 0;
    for part in then {
        match left.iter().position(|other| *other == part) {
            Some(index) => drop(left.swap_remove(index)),
            None => coming += 1,
        }
    }
    left.len().max(coming).max(1)
}

/// A network with one of its capacitors a wire, or left out.
fn without_capacitor(network: &Network) -> Vec<Network> {
    let (members, is_series) = match network {
        Network::Series(members) => (members, true),
        Network::Parallel(members) => (members, false),
        Network::Fixed(_) | Network::Free(_) => return Vec::new(),
    };
    let joined = |members: Vec<Network>| match <[Network; 1]>::try_from(members) {
        Ok([only]) => only,
        Err(members) if is_series => Network::Series(members),
        Err(members) => Network::Parallel(members),
    };
    let mut simpler = Vec::new();
    for (index, member) in members.iter().enumerate() {
        let others: Vec<Network> = members
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != index)
            .map(|(_, other)| other.clone())
            .collect();
        if matches!(member, Network::Fixed(Component::Capacitor(_))) {
            simpler.push(joined(others));
            continue;
        }
        for inner in without_capacitor(member) {
            let all = members.iter().enumerate();
            let all = all.map(|(other, member)| if other == index { inner.clone() } else { member.clone() });
            simpler.push(joined(all.collect()));
        }
    }
    simpler
}
