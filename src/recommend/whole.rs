//! Guitars with several volume or tone knobs: an answer for each, what the same parts at all of them would cost, and what the knobs do to
//! each other where pickups sound together.

use std::collections::BTreeMap;

use serde::Serialize;

use super::choice::NOBODY_HEARS;
use super::{Prepared, Recommendation, Request, prepare, recommend};
use crate::error::Result;
use crate::guitar::ensemble::Channel;
use crate::guitar::whole::{View, Whole};
use crate::guitar::{Guitar, Setting, Slot};
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::measure::{decibels, rest, worst_point};
use crate::kernel::placed::placed;
use crate::kernel::plan::Plan;
use crate::kernel::response::mean_power;
use crate::parts::network::Network;
use crate::progress::Progress;
use crate::search::exhaustive::{self, Evaluator};
use crate::search::space::Space;
use crate::source::Source;
use crate::target::{Clause, Target};

/// What to solder at each of a guitar's knobs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WholeAnswer {
    /// The guitar's name.
    pub guitar: String,
    /// An answer for each knob that the target is about.
    pub controls: Vec<Control>,
    /// The same parts at each of them; none where they differ in nothing, or where one is best left alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_parts: Option<SameParts>,
    /// What the volume knobs do to each other, with the answers fitted; empty where no pickup has one of its own.
    pub together: Vec<Together>,
}

impl WholeAnswer {
    /// Whether the target turns a volume knob, so that what these do to each other is of interest.
    #[must_use]
    pub fn turns_a_volume(&self) -> bool {
        let clauses = self.controls.iter().flat_map(|control| &control.recommendation.target.clauses);
        clauses.flat_map(|clause| &clause.volume).any(|volume| *volume < 1.0)
    }
}

/// The answer for one volume or tone knob.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Control {
    /// Whose knobs they are.
    pub knobs: String,
    /// The answer.
    pub recommendation: Recommendation,
}

/// One answer's parts fitted everywhere.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SameParts {
    /// What is fitted at each.
    pub slots: BTreeMap<Slot, String>,
    /// The margin at each, in dB.
    pub margins_db: BTreeMap<String, f64>,
    /// By how many dB the worst of these is below the margin of its own answer.
    pub costs_db: f64,
}

/// What one pickup's volume knob does where others sound with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Together {
    /// The position of the selector.
    pub position: String,
    /// Whose volume knob is turned; the others are at full.
    pub knobs: String,
    /// Whether the guitar is silent with it at 0.
    pub silent_at_zero: bool,
    /// By how many dB the highs of all that sounds fall from 10 to 5.
    pub highs_at_5_db: f64,
    /// By how many dB what is below them does.
    pub rest_at_5_db: f64,
    /// With everything at full, by how many dB the highs are louder than of this pickup alone.
    pub highs_against_alone_db: f64,
    /// The same below the highs.
    pub rest_against_alone_db: f64,
}

impl Whole {
    /// The views that a target is about: those with a tone knob where it turns one, one for each volume knob where it turns one, else those behind
    /// the selector, or each pickup's where there are none.
    #[must_use]
    pub fn asked_by(&self, target: &Target) -> Vec<&View> {
        let clauses_of = |view: &View| placed(target.clone(), &mut view.guitar.clone()).clauses;
        let known: Vec<(&View, Vec<Clause>)> = self.views.iter().map(|view| (view, clauses_of(view))).collect();
        let known: Vec<&(&View, Vec<Clause>)> = known.iter().filter(|(_, clauses)| !clauses.is_empty()).collect();
        let clauses = || known.iter().flat_map(|(_, clauses)| clauses);
        let turns_tone = clauses().any(|clause| clause.tone.iter().any(|tone| *tone < 1.0));
        let turns_volume = clauses().any(|clause| clause.volume.iter().any(|volume| *volume < 1.0));
        // What is wished with every knob at full is done once, behind the selector, where there are knobs.
        let has_shared = known.iter().any(|(view, _)| !view.is_of_a_tone && view.lugs.is_none());
        let is_asked = |view: &&View| match (turns_tone, turns_volume) {
            (true, _) => view.guitar.tone.is_some(),
            (false, true) => !view.is_of_a_tone,
            (false, false) => !view.is_of_a_tone && (view.lugs.is_none() || !has_shared),
        };
        let asked: Vec<&View> = known.iter().map(|(view, _)| *view).filter(is_asked).collect();
        // Where no knob can do it, the first says so.
        match (asked.as_slice(), known.first()) {
            ([], Some((first, _))) => vec![*first],
            ([], None) => self.views.iter().take(1).collect(),
            _ => asked,
        }
    }
}

/// An answer for each view, whose request `request` makes.
///
/// # Errors
/// The first of any view.
pub fn recommend_whole(whole: &Whole, views: &[&View], requests: &[Request], progress: &dyn Progress) -> Result<WholeAnswer> {
    let asked = views.iter().zip(requests);
    let control = |(view, request): (&&View, &Request)| {
        Ok(Control {
            knobs: view.name.clone(),
            recommendation: recommend(request, progress)?,
        })
    };
    let controls: Vec<Control> = asked.map(control).collect::<Result<_>>()?;
    Ok(WholeAnswer {
        guitar: whole.name.clone(),
        same_parts: same_parts(requests, &controls)?,
        together: together(views, requests, &controls)?,
        controls,
    })
}

/// The same parts at every knob: of all that are searched, and of each answer's own, those that do it at all knobs with the fewest parts, or
/// else those that come nearest.
fn same_parts(requests: &[Request], controls: &[Control]) -> Result<Option<SameParts>> {
    let answers: Vec<&BTreeMap<Slot, String>> = controls.iter().map(|control| &control.recommendation.answer.slots).collect();
    let is_build = |control: &Control| control.recommendation.answer.build.is_some();
    let all_differ = answers.iter().skip(1).any(|slots| Some(slots) != answers.first());
    let is_fit = controls
        .iter()
        .all(|control| is_build(control) && control.recommendation.answer.changed == Default::default());
    if !all_differ || !is_fit {
        return Ok(None);
    }
    let searched = controls.iter().filter_map(|control| control.recommendation.answer.build.as_ref());
    let searched: Vec<Slot> = searched.flat_map(|build| build.slots.keys().copied()).collect();
    let mut best: Option<Shared> = None;
    for slots in answers.into_iter().cloned().chain(searched_together(requests)?) {
        let next = at_every_knob(&slots, requests, controls, &searched)?;
        if let Some(next) = next.filter(|next| best.as_ref().is_none_or(|best| next.is_before(best))) {
            best = Some(next);
        }
    }
    Ok(best.map(|best| best.same))
}

/// Parts at every knob, and how they compare with others.
struct Shared {
    same: SameParts,
    /// The smallest margin, in dB.
    least_db: f64,
    parts: usize,
}

impl Shared {
    /// Fewer parts among those that do it, or miss by what nobody hears; else what comes nearer.
    fn is_before(&self, other: &Self) -> bool {
        let is_met = |shared: &Self| shared.least_db >= -NOBODY_HEARS;
        match (is_met(self), is_met(other)) {
            (true, true) => (self.parts, -self.least_db) < (other.parts, -other.least_db),
            (false, false) => self.least_db > other.least_db,
            (is_met, _) => is_met,
        }
    }
}

/// What some parts leave at every knob; nothing where one lacks a place for them, or where they would spoil the rest.
fn at_every_knob(slots: &BTreeMap<Slot, String>, requests: &[Request], controls: &[Control], searched: &[Slot]) -> Result<Option<Shared>> {
    let (mut margins, mut costs, mut parts) = (BTreeMap::new(), 0.0_f64, 0);
    for (request, control) in requests.iter().zip(controls) {
        let mut build = request.guitar.clone();
        for slot in searched {
            if request.guitar.need_slot(*slot, "").is_err() {
                return Ok(None);
            }
            build.fit(*slot, network_in(slots, *slot)?);
        }
        let Some(margin) = margin(&build, request) else {
            return Ok(None);
        };
        costs = costs.max(control.recommendation.answer.margin_db - margin);
        margins.insert(control.knobs.clone(), margin);
        let fitted = searched.iter().filter_map(|slot| build.fitted(*slot));
        parts = fitted.map(Network::part_count).sum();
    }
    let least_db = margins.values().copied().fold(f64::INFINITY, f64::min);
    let same = SameParts {
        slots: slots
            .iter()
            .filter(|(slot, _)| searched.contains(slot))
            .map(|(slot, parts)| (*slot, parts.clone()))
            .collect(),
        margins_db: margins,
        costs_db: costs,
    };
    Ok(Some(Shared { same, least_db, parts }))
}

/// The best of all that is searched where it stands at every knob: exact, by one plan of all of them. Of each number of parts the best. A stock
/// list is left to the answers' own parts: the same network twice takes twice the pieces.
fn searched_together(requests: &[Request]) -> Result<Vec<BTreeMap<Slot, String>>> {
    let mut all: Option<(Plan, Prepared)> = None;
    for request in requests {
        let prepared = prepare::prepare(request)?;
        let plan = prepared.plan(&request.target)?;
        all = match all {
            None => Some((plan, prepared)),
            // Other places at one of them: there is nothing that is the same.
            Some((_, known)) if known.spaces != prepared.spaces => return Ok(Vec::new()),
            Some((known, first)) => Some((known.beside(&plan), first)),
        };
    }
    let stock = requests.iter().any(|request| request.rules.stock.is_some());
    let Some((plan, prepared)) = all.filter(|_| !stock) else {
        return Ok(Vec::new());
    };
    let by_count: Vec<Space> = prepared.spaces.iter().flat_map(Space::by_part_count).collect();
    let mut counts: Vec<usize> = by_count.iter().map(Space::part_count).collect();
    counts.sort_unstable();
    counts.dedup();
    let mut found = Vec::with_capacity(counts.len());
    for count in counts {
        let spaces: Vec<Space> = by_count.iter().filter(|space| space.part_count() == count).cloned().collect();
        let best = exhaustive::search(&plan, &spaces, None, 1, &()).entries.into_iter().next();
        found.extend(best.map(|entry| {
            let built = Prepared {
                spaces,
                ..prepared.clone()
            }
            .built(&entry);
            Slot::ALL
                .into_iter()
                .filter_map(|slot| Some((slot, built.fitted(slot)?.to_string())))
                .collect()
        }));
    }
    Ok(found)
}

/// A guitar with an answer's networks; nothing where it lacks a place for one of them.
fn fitted(guitar: &Guitar, slots: &BTreeMap<Slot, String>) -> Result<Option<Guitar>> {
    let mut build = guitar.clone();
    for slot in Slot::ALL {
        let network = network_in(slots, slot)?;
        if network.is_some() && guitar.need_slot(slot, "").is_err() {
            return Ok(None);
        }
        build.fit(slot, network);
    }
    Ok(Some(build))
}

/// What an answer has in a slot.
fn network_in(slots: &BTreeMap<Slot, String>, slot: Slot) -> Result<Option<Network>> {
    let read = |written: &String| Network::read(&Source::inline(slot.word(), written.as_str()).passage());
    slots.get(&slot).map_or(Ok(None), read)
}

/// What a build leaves; nothing where it spoils the rest and must not.
fn margin(build: &Guitar, request: &Request) -> Option<f64> {
    let plan = match request.at_any_price {
        true => Plan::new(build, &request.guitar, &request.target, &[]),
        false => Plan::guarded(build, &request.guitar, &request.target, &[]),
    };
    let plan = plan.ok()?;
    let mut evaluator = Evaluator::new(&plan);
    let powers = evaluator.powers(&[], &[]);
    let is_kept = plan.guards.is_empty() || rest(&plan, powers) >= 0.0;
    worst_point(&plan, powers).map(|worst| worst.margin).filter(|_| is_kept)
}

/// Every pickup with a volume knob of its own in every position that it shares with another such.
fn together(views: &[&View], requests: &[Request], controls: &[Control]) -> Result<Vec<Together>> {
    let mut found = Vec::new();
    for ((view, request), control) in views
        .iter()
        .zip(requests)
        .zip(controls)
        .filter(|((view, _), _)| view.lugs.is_some())
    {
        let Some(alone) = fitted(&request.guitar, &control.recommendation.answer.slots)? else {
            continue;
        };
        for position in view.positions().filter(|case| shares_volumes(case.position.as_deref())) {
            let mut guitar = alone.in_case(position);
            for (other, control) in views.iter().zip(controls) {
                fit_beside(&mut guitar, &other.name, &control.recommendation.answer.slots)?;
            }
            found.push(effects(&view.name, &position.name, &guitar, &alone));
        }
    }
    Ok(found)
}

fn shares_volumes(position: Option<&crate::guitar::Position>) -> bool {
    position.is_some_and(|position| position.ensemble.others.iter().any(|(_, channel)| channel.stage.volume.is_some()))
}

/// Fits an answer at a pickup whose knobs stand still.
fn fit_beside(guitar: &mut Guitar, pickup: &str, slots: &BTreeMap<Slot, String>) -> Result<()> {
    let Some(ensemble) = &mut guitar.ensemble else { return Ok(()) };
    let channel = ensemble
        .others
        .iter_mut()
        .map(|(_, channel)| channel)
        .find(|channel| channel.name == pickup);
    let Some(Channel { stage, .. }) = channel else { return Ok(()) };
    let network = |slot: Slot| network_in(slots, slot);
    stage.series = network(Slot::Series)?;
    stage.across = network(Slot::Across)?;
    if let Some(volume) = &mut stage.volume {
        volume.control.bleed = network(Slot::Bleed)?;
    }
    if let Some(tone) = stage.tones.first_mut() {
        tone.control.network = network(Slot::Tone)?;
        tone.control.bypass = network(Slot::Bypass)?;
    }
    Ok(())
}

/// The highs, and what is below them, in Hz.
const HIGHS: [f64; 2] = [1500.0, 4000.0];
const REST: [f64; 2] = [100.0, 1500.0];

fn effects(knobs: &str, position: &str, guitar: &Guitar, alone: &Guitar) -> Together {
    let level = |guitar: &Guitar, volume: f64, [low, high]: [f64; 2]| {
        decibels(mean_power(
            guitar,
            Setting { volume, tone: 1.0 },
            &frequencies(low, high, POINTS_PER_OCTAVE),
        ))
    };
    let falls = |band| level(guitar, 1.0, band) - level(guitar, 0.5, band);
    let against = |band| level(guitar, 1.0, band) - level(alone, 1.0, band);
    Together {
        position: position.to_owned(),
        knobs: knobs.to_owned(),
        silent_at_zero: level(guitar, 0.0, REST) == f64::NEG_INFINITY,
        highs_at_5_db: falls(HIGHS),
        rest_at_5_db: falls(REST),
        highs_against_alone_db: against(HIGHS),
        rest_against_alone_db: against(REST),
    }
}
