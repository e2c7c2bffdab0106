//! Ranked entries → builds with every figure a user sees, and the reasons around them.

use std::collections::BTreeMap;

use super::choice::Findings;
use super::explain::{Explanation, Stops};
use super::tries::{Searched, Tries};
use super::{
    Build, Differences, Ideal, Indifferent, Parts, Prepared, Present, Recommendation, Request, Rewired, SearchSummary, Worst, assumed,
    choice, explain, prepare, purchase, shopping, yields,
};
use crate::circuit::Setting;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::{Guitar, Slot};
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::measure::{BoundedPoint, decibels, measure, root_mean_square, worst_point};
use crate::kernel::placed::counting;
use crate::kernel::plan::Plan;
use crate::kernel::response::mean_power;
use crate::kernel::same::Sound;
use crate::parts::choice::Rules;
use crate::parts::network::{Component, FreePart, Kind, Network};
use crate::search::exhaustive::{self, Evaluator, written};
use crate::search::ideal;
use crate::search::ranking::Entry;
use crate::search::space::{PartSpace, SlotSpace, Space};
use crate::target::Target;
use crate::tolerance::Yield;

/// The band whose mean level tells how much the volume knob's feel changes, in Hz.
const FEEL_BAND: [f64; 2] = [100.0, 1500.0];
/// A span below this, in dB, is nothing anyone could hear.
const AUDIBLE_SPAN: f64 = 0.5;
/// How many values of a part stand for its whole range.
const VALUES_OF_A_RANGE: usize = 9;
/// More combinations of such values are not gone through: fewer values a part stand in for them.
const MOST_COMBINATIONS: usize = 10_000;

pub(super) fn finish(request: &Request, tries: &Tries, yields: &[Option<Yield>]) -> Result<Recommendation> {
    let target = &request.target;
    // What is explained is the search that found the first of the list.
    let Searched { prepared, plan, .. } = tries
        .lead()
        .ok_or_else(|| Error::new(ErrorKind::Search, "there is nothing to search"))?;
    let own = tries.listed_of_lead();
    let best = own.first().map(|entry| prepared.built(entry));
    let (search, told) = exhaustive::both(
        || tries.all.iter().flat_map(|one| searched(request, one)).collect(),
        || {
            let present = present(prepared, target)?;
            let builds = builds(request, tries, yields);
            let indifferent = match &best {
                Some(best) => indifferent(prepared, target, best)?,
                None => Vec::new(),
            };
            let explained = explained(request, prepared, plan, &own, builds.first())?;
            Ok::<_, Error>((present, builds, indifferent, explained))
        },
    );
    let (present, mut builds, indifferent, (stops, explanation)) = told?;
    let findings = Findings {
        tries,
        builds: &builds,
        present_margin_db: present.margin_db,
        explanation: &explanation,
    };
    let (answer, guitar) = choice::choose(request, prepared, &findings)?;
    let assumed = assumed::assumed(request, prepared, &answer, guitar.as_ref())?;
    if let Some(first) = guitar.or_else(|| best.clone()) {
        sound_like(prepared, target, &first, &mut builds);
    }
    let matters = prepared.slots.iter().any(|slot| !indifferent.iter().any(|item| item.slot == *slot));
    Ok(Recommendation {
        guitar: prepared.present.name.clone(),
        assumed,
        cases: counting(&request.target, &prepared.present.cases),
        target: target.clone(),
        answer,
        present,
        rewired: match tries.asked_for() {
            Some(Searched { prepared, .. }) => Differences::between(&prepared.present, &prepared.build).outside(&prepared.slots),
            None => Differences::default(),
        },
        ranked_by: request.rank_by,
        tolerances: best.as_ref().map(|best| yields::tolerances(request, best)).unwrap_or_default(),
        search,
        stops,
        explanation,
        suggestion: explain::suggestion(request, prepared, matters)?,
        purchases: purchase::purchases(request, prepared, plan, &builds)?,
        indifferent,
        builds,
    })
}

fn searched(request: &Request, searched: &Searched) -> Vec<SearchSummary> {
    let Searched { prepared, plan, found } = searched;
    let changed = Rewired::between(&prepared.present, &prepared.build);
    let spaces: Vec<_> = prepared.spaces.iter().zip(&found.evaluated).enumerate().collect();
    let summary = |(number, (space, evaluated)): &(usize, (&Space, &f64))| {
        let slots = space.slots.iter().map(|slot| (slot.slot, written(slot.network.as_ref()))).collect();
        let origin = |slot: Slot, part: &PartSpace| {
            let series = request.rules.listed_series(slot.word(), &part.part);
            (
                key(slot, part),
                match series {
                    Some(series) => series.to_string(),
                    None if part.pairs.is_empty() => "stock".to_owned(),
                    None => "stock, pairs".to_owned(),
                },
            )
        };
        let parts = |slot: &'_ SlotSpace| slot.parts.iter().map(|part| origin(slot.slot, part)).collect::<Vec<_>>();
        SearchSummary {
            slots,
            changed: changed.clone(),
            candidates: space.count(),
            evaluated: **evaluated,
            exact: prepared.is_exact,
            values: space.slots.iter().flat_map(parts).collect(),
            ideal: ideal(
                plan,
                space,
                prepared.spaces.len(),
                found.entries.iter().filter(|entry| entry.space == *number),
            ),
        }
    };
    exhaustive::each(&spaces, summary)
}

/// The best found with any value in one of so many spaces, never below those of its entries that are listed.
fn ideal<'e>(plan: &Plan, space: &Space, spaces: usize, listed: impl Iterator<Item = &'e Entry>) -> Option<Ideal> {
    let start = listed.max_by(|one, other| one.margin.total_cmp(&other.margin));
    let chosen = start.map(|entry| entry.chosen.as_slice());
    let found = ideal::best_within(plan, space, chosen, ideal::evaluations(space, spaces))?;
    Some(Ideal {
        parts: parts(space, &found.values),
        margin_db: found.margin,
    })
}

fn explained(
    request: &Request,
    prepared: &Prepared,
    plan: &Plan,
    listed: &[Entry],
    build: Option<&Build>,
) -> Result<(Option<Stops>, Explanation)> {
    let (Some(best), Some(build)) = (listed.first(), build) else {
        return Ok((None, Explanation::default()));
    };
    let asked = explain::Asked {
        request,
        prepared,
        plan,
        best,
        listed,
    };
    Ok((explain::stops(&asked, &build.worst), explain::explanation(&asked)?))
}

impl Prepared {
    /// The guitar with an entry's parts fitted.
    pub(super) fn built(&self, entry: &Entry) -> Guitar {
        let mut guitar = self.build.clone();
        for (slot, network) in self
            .spaces
            .get(entry.space)
            .map(|space| space.networks(&entry.choices))
            .unwrap_or_default()
        {
            guitar.fit(slot, network);
        }
        guitar
    }

    /// The worst point of a whole guitar, nothing left free.
    pub(super) fn worst_of(&self, guitar: &Guitar, target: &Target) -> Result<Option<BoundedPoint>> {
        let plan = Plan::new(guitar, &self.present, target, &[]).map_err(prepare::silent)?;
        Ok(worst_point(&plan, Evaluator::new(&plan).powers(&[], &[])))
    }

    /// As [`Self::worst_of`], for a target of which not all is held at once; the clause is counted in its own piece.
    pub(super) fn worst_in_pieces(&self, guitar: &Guitar, target: &Target) -> Result<Option<BoundedPoint>> {
        let mut worst: Option<BoundedPoint> = None;
        for piece in target.in_pieces() {
            let here = self.worst_of(guitar, &piece)?;
            let is_worse = |here: &BoundedPoint| worst.as_ref().is_none_or(|worst| here.margin < worst.margin);
            if here.as_ref().is_some_and(is_worse) {
                worst = here;
            }
        }
        Ok(worst)
    }
}

fn present(prepared: &Prepared, target: &Target) -> Result<Present> {
    let worst = prepared.worst_of(&prepared.present, target)?;
    // A plan is refused where the present guitar is silent at a clause's own points; at full it never is.
    let worst = worst.ok_or_else(|| Error::new(ErrorKind::Conflict, "the guitar makes no sound"))?;
    Ok(Present {
        margin_db: worst.margin,
        meets_target: worst.margin >= 0.0,
        worst: Worst::new(worst, &prepared.present.cases),
    })
}

/// The builds of the list, ranked.
fn builds(request: &Request, tries: &Tries, yields: &[Option<Yield>]) -> Vec<Build> {
    let Some(asked_for) = tries.asked_for() else {
        return Vec::new();
    };
    let feel = Feel::new(request, &asked_for.prepared.present);
    let rated: Vec<_> = tries.each_listed().zip(yields).collect();
    let build = |((searched, entry), built): &((&Searched, &Entry), &Option<Yield>)| {
        figured(request, &searched.prepared, &searched.plan, &feel, entry, **built)
    };
    let mut builds: Vec<Build> = exhaustive::each(&rated, build).into_iter().flatten().collect();
    for (index, build) in builds.iter_mut().enumerate() {
        build.rank = index + 1;
    }
    builds
}

/// What the volume knob feels like with the present guitar: the mean level of [`FEEL_BAND`] in each case at the target's positions.
pub(super) struct Feel {
    settings: Vec<Setting>,
    frequencies: Vec<f64>,
    present: Vec<f64>,
}

impl Feel {
    pub(super) fn new(request: &Request, present: &Guitar) -> Self {
        let mut feel = Self {
            settings: request.target.settings(),
            frequencies: frequencies(FEEL_BAND[0], FEEL_BAND[1], POINTS_PER_OCTAVE),
            present: Vec::new(),
        };
        feel.present = feel.levels(present);
        feel
    }

    fn levels(&self, guitar: &Guitar) -> Vec<f64> {
        let cases = guitar.in_cases();
        let level = |case: &Guitar, setting: &Setting| decibels(mean_power(case, *setting, &self.frequencies));
        let in_case = |case| self.settings.iter().map(move |setting| level(case, setting));
        cases.iter().flat_map(in_case).collect()
    }

    /// The largest change of a guitar, with its sign.
    fn shift(&self, guitar: &Guitar) -> f64 {
        let levels = self.levels(guitar);
        let shifts = levels.iter().zip(&self.present).map(|(own, present)| own - present);
        shifts.fold(0.0, |largest: f64, shift| if shift.abs() > largest.abs() { shift } else { largest })
    }
}

/// An entry of a search with every figure that a user sees; its rank, and what it sounds like, are told by the list that it stands in.
pub(super) fn figured(
    request: &Request,
    prepared: &Prepared,
    plan: &Plan,
    feel: &Feel,
    entry: &Entry,
    built: Option<Yield>,
) -> Option<Build> {
    let space = prepared.spaces.get(entry.space)?;
    let mut evaluator = Evaluator::new(plan);
    let powers = evaluator.powers(&space.fitted(), &entry.chosen);
    let (worst, rms_db) = (worst_point(plan, powers)?, root_mean_square(plan, powers)?);
    let guitar = prepared.built(entry);
    Some(Build {
        rank: 0,
        slots: prepared.slots_of(entry),
        fitted: others(&guitar, &prepared.slots),
        hookup: guitar.tone.as_ref().map(|tone| tone.hookup),
        joined_at: guitar.tone.as_ref().map(|tone| tone.joined_at),
        changed: Rewired::between(&prepared.present, &guitar),
        parts: parts(space, &entry.chosen),
        pairs: shopping::pairs(space, entry),
        items: shopping::items(space, entry, request.rules.stock.as_ref()),
        margin_db: worst.margin,
        meets_target: worst.margin >= 0.0,
        rest_db: Some(prepared.rest_in(plan, entry, &guitar, &request.target).ok()?).filter(|rest| rest.is_finite()),
        built,
        rms_db,
        volume_shift_db: feel.shift(&guitar),
        at_range_end: at_range_end(space, entry),
        worst: Worst::new(worst, &guitar.cases),
        sounds_like_first: true,
        part_count: entry.parts,
        cost: entry.cost,
        guitar,
    })
}

/// Marks the builds that sound like the one that is listed first.
fn sound_like(prepared: &Prepared, target: &Target, first: &Guitar, builds: &mut [Build]) {
    let heard_at = prepared.heard_at(target);
    let cases = first.in_cases();
    let sound = Sound::new(&cases, &heard_at);
    let alike = exhaustive::each(builds, |build| sound.is_like(&Sound::new(&build.guitar.in_cases(), &heard_at)));
    for (build, is_alike) in builds.iter_mut().zip(alike) {
        build.sounds_like_first = is_alike;
    }
}

fn others(guitar: &Guitar, searched: &[Slot]) -> BTreeMap<Slot, String> {
    let others = Slot::ALL.into_iter().filter(|slot| !searched.contains(slot));
    others.filter_map(|slot| Some((slot, guitar.fitted(slot)?.to_string()))).collect()
}

pub(super) fn parts(space: &Space, values: &[Vec<f64>]) -> Parts {
    let names = space
        .slots
        .iter()
        .flat_map(|slot| slot.parts.iter().map(|part| key(slot.slot, part)));
    Parts(names.zip(values.iter().flatten().copied()).collect())
}

pub(super) fn key(slot: Slot, part: &PartSpace) -> String {
    format!("{slot}.{}", part.part.name)
}

fn at_range_end(space: &Space, entry: &Entry) -> Vec<String> {
    let parts = space
        .slots
        .iter()
        .flat_map(|slot| slot.parts.iter().map(move |part| (slot.slot, part)));
    parts
        .zip(entry.chosen.iter().flatten())
        .filter(|((_, part), value)| part.values.len() > 1 && [part.values.first(), part.values.last()].contains(&Some(value)))
        .map(|((slot, part), _)| key(slot, part))
        .collect()
}

/// Searched and fitted slots whose whole range moves no measure of the target by an audible amount.
fn indifferent(prepared: &Prepared, target: &Target, best: &Guitar) -> Result<Vec<Indifferent>> {
    let mut found = Vec::new();
    for slot in Slot::ALL {
        let ranges: Vec<SlotSpace> = if prepared.slots.contains(&slot) {
            let slots = prepared.spaces.iter().flat_map(|space| &space.slots);
            slots
                .filter(|space| space.slot == slot && !space.parts.is_empty())
                .cloned()
                .collect()
        } else {
            best.fitted(slot)
                .map(|network| whole_range(slot, network))
                .transpose()?
                .into_iter()
                .collect()
        };
        if ranges.is_empty() {
            continue;
        }
        if let Some(span_db) = inaudible_span(prepared, target, best, slot, &ranges)? {
            found.push(Indifferent { slot, span_db });
        }
    }
    Ok(found)
}

/// A fitted network with every resistor and capacitor free over the slot's whole default range.
fn whole_range(slot: Slot, network: &Network) -> Result<SlotSpace> {
    SlotSpace::new(slot, Some(freed(network, &mut 0)), &Rules::default())
}

fn freed(network: &Network, count: &mut usize) -> Network {
    let mut all = |members: &[Network]| members.iter().map(|member| freed(member, count)).collect();
    match network {
        Network::Series(members) => Network::Series(all(members)),
        Network::Parallel(members) => Network::Parallel(all(members)),
        Network::Free(part) => Network::Free(part.clone()),
        Network::Fixed(component) => {
            let kind = match component {
                Component::Resistor(_) => Kind::Resistor,
                Component::Capacitor(_) => Kind::Capacitor,
                Component::Inductor(_) => return network.clone(),
            };
            *count += 1;
            let name = format!("{}{count}", kind.letter());
            Network::Free(FreePart { kind, name })
        }
    }
}

/// By how much, in dB, a slot's range moves the target's measures at the point it moves most, everything else as in `best`; `None` where
/// somebody could hear it.
fn inaudible_span(prepared: &Prepared, target: &Target, best: &Guitar, slot: Slot, ranges: &[SlotSpace]) -> Result<Option<f64>> {
    let plan = Plan::new(best, &prepared.present, target, &[slot]).map_err(prepare::silent)?;
    let mut evaluator = Evaluator::new(&plan);
    let mut extremes: Vec<(f64, f64)> = Vec::new();
    let (mut choices, mut figures) = (Vec::new(), Vec::new());
    for range in ranges {
        // With so many parts nothing is said: a slot counts as one that matters.
        let Some(thinned) = thinned(range) else { return Ok(None) };
        let space = Space { slots: vec![thinned] };
        // Both ends first: of a slot that matters they tell nearly always.
        let last = space.index_count().saturating_sub(1);
        for index in std::iter::once(last).chain(0..last) {
            space.choices(index, &mut choices);
            let values = space.values(&choices);
            let powers = evaluator.powers(&[(slot, range.network.as_ref())], &values);
            if !all_measures(&plan, powers, &mut figures) {
                return Ok(None);
            }
            extremes.resize(figures.len(), (f64::INFINITY, f64::NEG_INFINITY));
            for ((low, high), figure) in extremes.iter_mut().zip(&figures) {
                (*low, *high) = (low.min(*figure), high.max(*figure));
            }
            if extremes.iter().any(|(low, high)| high - low >= AUDIBLE_SPAN) {
                return Ok(None);
            }
        }
    }
    Ok(extremes.into_iter().map(|(low, high)| high - low).reduce(f64::max))
}

/// The space with a few values a part, both ends among them; `None` where even the ends alone make too many combinations.
fn thinned(range: &SlotSpace) -> Option<SlotSpace> {
    let mut thinned = range.clone();
    let parts = u32::try_from(range.parts.len()).ok()?;
    let few = |most: &usize| {
        most.checked_pow(parts)
            .is_some_and(|combinations| combinations <= MOST_COMBINATIONS)
    };
    let most = (2..=VALUES_OF_A_RANGE).rev().find(few)?;
    for part in &mut thinned.parts {
        let (count, last) = (most.min(part.values.len()), part.values.len().saturating_sub(1));
        let step = |index: usize| index * last / (count - 1).max(1);
        part.values = (0..count).filter_map(|index| part.values.get(step(index))).copied().collect();
        part.pairs.clear();
    }
    Some(thinned)
}

/// The measure of every clause at every bounded point; `false` if the build is silent at one.
fn all_measures(plan: &Plan, powers: &[f64], figures: &mut Vec<f64>) -> bool {
    figures.clear();
    let mut own = Vec::new();
    for clause in &plan.clauses {
        for combination in &clause.combinations {
            if !measure(clause.over, powers, &combination.measured, &mut own) {
                return false;
            }
            figures.extend_from_slice(&own);
        }
    }
    true
}
