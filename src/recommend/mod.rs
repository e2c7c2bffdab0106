//! The main job: a guitar and a wish → ranked builds that can be soldered, and what stands in the way where none will do.

pub mod assumed;
pub mod changes;
pub mod choice;
mod defaults;
pub mod explain;
mod finish;
mod in_depth;
pub mod instructions;
mod joint;
mod prepare;
pub mod purchase;
mod rewired;
pub mod sheet;
pub mod shopping;
mod tries;
pub mod whole;
mod yields;

use std::collections::BTreeMap;

use serde::{Serialize, Serializer};

pub use self::assumed::Assumed;
pub use self::choice::{Answer, AnswerKind};
pub use self::explain::{Explanation, Stops};
pub use self::in_depth::in_depth;
pub use self::purchase::Purchase;
pub use self::rewired::Rewired;
pub use self::shopping::Item;
pub use self::yields::Tolerance;
use crate::circuit::Setting;
use crate::error::Result;
use crate::guitar::alteration::Alteration;
use crate::guitar::kind::Kind;
use crate::guitar::{Case, Guitar, Hookup, Joint, Slot};
use crate::kernel::features::at_own_ends;
use crate::kernel::guards;
use crate::kernel::measure::{BoundedPoint, rest};
use crate::kernel::placed::placed;
use crate::kernel::plan::Plan;
use crate::parts::choice::Rules;
use crate::parts::network::Network;
use crate::progress::Progress;
use crate::search::exhaustive::{self, Evaluator, written};
use crate::search::ranking::Entry;
use crate::search::space::{SlotSpace, Space};
use crate::target::Target;
use crate::tolerance::{Lot, Yield};

/// What to recommend for.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The guitar as its file describes it.
    pub guitar: Guitar,
    /// The kind of pickup that was named, where the guitar is only the sample that stands for it.
    pub kind: Option<&'static Kind>,
    /// What its owner wants to hear.
    pub target: Target,
    /// Fitted before anything else, replacing what the guitar has.
    pub with: Vec<(Slot, Option<Network>)>,
    /// Rewires the builds; the present guitar keeps its own wiring.
    pub hookup: Option<Hookup>,
    /// Rewires the builds; the present guitar keeps its own wiring.
    pub joined_at: Option<Joint>,
    /// Other pots, cables and wirings that are tried beside the guitar's own, in every combination; empty lets the target decide where it
    /// decides what is searched as well.
    pub tries: Vec<Alteration>,
    /// Networks with free parts by slot; empty lets the target decide.
    pub searches: Vec<(Slot, Option<Network>)>,
    /// Where values come from.
    pub rules: Rules,
    /// How many builds to list, at least one.
    pub top: usize,
    /// Allows more than [`crate::limits::MOST_CANDIDATES`].
    pub large: bool,
    /// Worker threads; `None` is one a core.
    pub threads: Option<usize>,
    /// Whether to search again for explanations; without them [`Recommendation::explanation`] is empty.
    pub explain: bool,
    /// The built guitars that are drawn for the yields; `None` draws none.
    pub lot: Option<Lot>,
    /// What ranks the builds.
    pub rank_by: RankBy,
    /// Whether builds may spoil what the target does not speak of.
    pub at_any_price: bool,
}

/// What ranks builds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RankBy {
    /// The margin with every value on its mark.
    #[default]
    Margin,
    /// The share of built guitars that meet the target, among the builds of the best margins.
    Yield,
}

impl Recommendation {
    /// What is listed: the answer's build first, then the others as they rank.
    #[must_use]
    pub fn listed(&self) -> Vec<&Build> {
        let answer = self.answer.build.as_ref();
        let others = self
            .builds
            .iter()
            .filter(|build| answer.is_none_or(|answer| answer.rank != build.rank));
        answer.into_iter().chain(others).collect()
    }

    /// The build that is listed first; none where no combination makes a sound and keeps the rest.
    #[must_use]
    pub fn first(&self) -> Option<&Build> {
        self.answer.build.as_ref().or(self.builds.first())
    }

    /// Whether the listed builds differ in pots, cable or wiring, or have others than now.
    #[must_use]
    pub fn tells_changes(&self) -> bool {
        let mut all = self.listed().into_iter().map(|build| &build.changed);
        let first = all.next();
        first.is_some_and(|first| first.is_of_pots_or_cable() || all.any(|other| other != first))
    }

    /// Every place that any of the searches fills, in order.
    #[must_use]
    pub fn searched_slots(&self) -> Vec<Slot> {
        let searched = |slot: &Slot| self.search.iter().any(|search| search.slots.contains_key(slot));
        Slot::ALL.into_iter().filter(searched).collect()
    }

    /// Whether a build is the answer.
    #[must_use]
    pub fn is_answer(&self, build: &Build) -> bool {
        self.answer.build.as_ref().is_some_and(|answer| answer.rank == build.rank)
    }
}

impl Request {
    /// Everything left to its default, and no yields. Bands that the target knows by their words end where the guitar's own sound ends, and in
    /// a guitar of several pickups it is about the knobs of the view and the positions that it names.
    #[must_use]
    pub fn new(mut guitar: Guitar, target: Target) -> Self {
        let target = placed(target, &mut guitar);
        Self {
            target: at_own_ends(target, &guitar),
            guitar,
            kind: None,
            with: Vec::new(),
            hookup: None,
            joined_at: None,
            tries: Vec::new(),
            searches: Vec::new(),
            rules: Rules::default(),
            top: 10,
            large: false,
            threads: None,
            explain: true,
            lot: None,
            rank_by: RankBy::Margin,
            at_any_price: false,
        }
    }
}

/// The answer; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recommendation {
    /// The guitar's name.
    pub guitar: String,
    /// What was assumed where only the kind of pickup was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub assumed: Option<Assumed>,
    /// The what-if cases over which each margin is the smallest; none is the guitar as it is.
    pub cases: Vec<Case>,
    /// The target.
    pub target: Target,
    /// The answer.
    pub answer: Answer,
    /// How the present guitar does.
    pub present: Present,
    /// What every build has otherwise than the present guitar, outside the searched slots: a tone control wired anew, and what only such a
    /// control has a place for.
    pub rewired: Differences,
    /// What ranks the builds.
    pub ranked_by: RankBy,
    /// Within what the values of the first build were drawn for the yields; empty without yields.
    pub tolerances: Vec<Tolerance>,
    /// What was searched.
    pub search: Vec<SearchSummary>,
    /// Slots whose whole range nobody could hear in this target.
    pub indifferent: Vec<Indifferent>,
    /// The best builds, ranked.
    pub builds: Vec<Build>,
    /// What stops the best build, when none meets the target.
    pub stops: Option<Stops>,
    /// What further searches tell about the answer.
    #[serde(flatten)]
    pub explanation: Explanation,
    /// What would help where nothing that was searched can.
    pub suggestion: Option<Suggestion>,
    /// Single parts that are not in stock and would help, the most helpful first; none without a stock list.
    pub purchases: Vec<Purchase>,
}

impl Recommendation {
    /// What its cases are called: positions of the selector, or cases.
    #[must_use]
    pub fn case_word(&self) -> &'static str {
        Case::word(&self.cases)
    }
}

/// How the guitar does as it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Present {
    /// Margin in dB.
    pub margin_db: f64,
    /// Whether it meets the target already.
    pub meets_target: bool,
    /// Where it is worst.
    pub worst: Worst,
}

/// One space of candidates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SearchSummary {
    /// The network tried in each searched slot.
    pub slots: BTreeMap<Slot, String>,
    /// What the guitar that was searched has otherwise than now.
    pub changed: Rewired,
    /// How many candidates there are.
    pub candidates: u64,
    /// How many were evaluated.
    pub evaluated: f64,
    /// Whether the best of them all was found for certain.
    pub exact: bool,
    /// Where each free part's values come from: a series, "stock", or "stock, pairs".
    pub values: BTreeMap<String, String>,
    /// The best found with any value at all; none without a free part.
    pub ideal: Option<Ideal>,
}

/// The best margin found with any value inside the ranges: no proved bound, but never below that of a build.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ideal {
    /// The values.
    pub parts: Parts,
    /// The margin in dB.
    pub margin_db: f64,
}

/// A slot that does not matter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Indifferent {
    /// The slot.
    pub slot: Slot,
    /// By how much its whole range moves the target's measures, in dB.
    pub span_db: f64,
}

/// One build.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Build {
    /// From 1; 0 for an answer that is not among the listed.
    pub rank: usize,
    /// What goes into each searched slot.
    pub slots: BTreeMap<Slot, String>,
    /// What stays in the others.
    pub fitted: BTreeMap<Slot, String>,
    /// How the tone control is wired; none without one.
    pub hookup: Option<Hookup>,
    /// Where the tone control is joined; none without one.
    pub joined_at: Option<Joint>,
    /// Pots, cable and wiring that are otherwise than now.
    pub changed: Rewired,
    /// The whole guitar.
    #[serde(skip)]
    pub guitar: Guitar,
    /// The values of the free parts, in Ω and F.
    pub parts: Parts,
    /// The free parts that are made of two, each with the two as a network.
    pub pairs: BTreeMap<String, String>,
    /// Every part that goes into the searched slots.
    pub items: Vec<Item>,
    /// Margin in dB: how many are left before a clause breaks.
    pub margin_db: f64,
    /// Whether the margin is not below 0.
    pub meets_target: bool,
    /// How many dB are left before something is spoiled that nobody asked to change; none where nothing is guarded.
    pub rest_db: Option<f64>,
    /// How many built guitars meet the target; none where none were drawn.
    #[serde(rename = "yield")]
    pub built: Option<Yield>,
    /// Root mean square of all differences, in dB.
    pub rms_db: f64,
    /// The largest change of the mean level over 100–1500 Hz against the present guitar in the same case, in dB, with its sign.
    pub volume_shift_db: f64,
    /// Free parts that sit at an end of their range.
    pub at_range_end: Vec<String>,
    /// Where it is worst.
    pub worst: Worst,
    /// Whether it sounds the same as the first (see [`crate::kernel::same`]).
    pub sounds_like_first: bool,
    /// How many parts go into the searched slots.
    pub part_count: usize,
    /// What they cost, if every price is known.
    pub cost: Option<f64>,
}

/// The point with the smallest margin, the first among equals in clause, case, volume, tone, frequency order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Worst {
    /// Index of the clause.
    pub clause: usize,
    /// The case's name; none for a guitar without cases.
    pub case: Option<String>,
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// Frequency in Hz; none where the clause bounds a band's mean.
    pub frequency_hz: Option<f64>,
    /// The difference there, in dB.
    pub difference_db: f64,
}

impl Worst {
    pub(crate) fn new(point: BoundedPoint, cases: &[Case]) -> Self {
        Self {
            clause: point.clause,
            case: cases.get(point.case).map(|case| case.name.clone()),
            at: point.setting,
            frequency_hz: point.frequency,
            difference_db: point.difference,
        }
    }
}

/// In what a build differs from the present guitar; what is the same is left out.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Differences {
    /// What goes into each slot that holds something else at present; "none" where it is to hold nothing.
    pub slots: BTreeMap<Slot, String>,
    /// How the tone control is wired, where it is wired otherwise.
    pub hookup: Option<Hookup>,
    /// Where the tone control is joined, where it is joined elsewhere.
    pub joined_at: Option<Joint>,
}

impl Differences {
    fn between(present: &Guitar, build: &Guitar) -> Self {
        let changed = |slot: &Slot| present.fitted(*slot) != build.fitted(*slot);
        let joined_at = |guitar: &Guitar| guitar.tone.as_ref().map(|tone| tone.joined_at);
        Self {
            slots: Slot::ALL
                .into_iter()
                .filter(changed)
                .map(|slot| (slot, written(build.fitted(slot))))
                .collect(),
            hookup: build.hookup().filter(|hookup| present.hookup() != Some(*hookup)),
            joined_at: joined_at(build).filter(|joint| joined_at(present) != Some(*joint)),
        }
    }

    /// The differences outside these slots.
    fn outside(mut self, slots: &[Slot]) -> Self {
        self.slots.retain(|slot, _| !slots.contains(slot));
        self
    }
}

/// A slot outside the search that would help.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    /// The slot.
    pub slot: Slot,
    /// What to fit there.
    pub network: String,
    /// Everything to be done to the guitar as it is, each as an instruction in lower case.
    pub does: Vec<String>,
    /// The margin in dB with everything else left as it is.
    pub margin_db: f64,
}

/// Values by part, in slot and written order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parts(pub Vec<(String, f64)>);

impl Serialize for Parts {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// Does the main job.
///
/// # Errors
/// When the request does not fit the guitar, asks about a silent knob position, or leaves nothing (or too much) to search.
pub fn recommend(request: &Request, progress: &dyn Progress) -> Result<Recommendation> {
    let guitars = prepare::all(request)?;
    exhaustive::with_threads(request.threads, || {
        let mut tries = Tries::new(request, guitars, progress)?;
        let yields = yields::rate(request, &mut tries)?;
        let mut found = finish::finish(request, &tries, &yields)?;
        for alone in joint::met_alone(request, &found.answer)? {
            found.answer.says.push_str(&format!(" {alone}"));
        }
        Ok(found)
    })
}

/// The guitar as it is and the guitar whose slots are searched, as [`recommend`] takes them.
///
/// # Errors
/// When the request does not fit the guitar.
pub fn guitars(request: &Request) -> Result<(Guitar, Guitar)> {
    prepare::guitars(request)
}

pub(crate) use self::prepare::{check_target, silent};
use self::tries::Tries;
/// The plan of a request's target on its guitar, with everything refused that [`recommend`] refuses.
pub(crate) fn plan_for(request: &Request) -> Result<Plan> {
    prepare::prepare(request)?.plan(&request.target)
}

/// The spaces that searches stand for, whatever the guitar: what [`recommend`] would search.
pub(crate) fn asked_spaces(searches: &[(Slot, Option<Network>)], rules: &Rules) -> Result<Vec<Space>> {
    prepare::asked_spaces(searches, rules)
}

/// The free parts of each space that a request searches, as `bleed.R`.
pub(crate) fn searched_parts(request: &Request) -> Result<Vec<Vec<String>>> {
    let parts = |slot: &SlotSpace| slot.parts.iter().map(|part| finish::key(slot.slot, part)).collect::<Vec<_>>();
    let spaces = prepare::prepare(request)?.spaces;
    Ok(spaces.iter().map(|space| space.slots.iter().flat_map(parts).collect()).collect())
}

/// The guitars and spaces of a request.
#[derive(Debug, Clone)]
struct Prepared {
    /// The guitar as it is, after `with`.
    present: Guitar,
    /// The guitar whose slots are searched.
    build: Guitar,
    /// The searched slots, in order.
    slots: Vec<Slot>,
    /// Every combination of alternatives.
    spaces: Vec<Space>,
    /// Whether the spaces hold every combination of what is searched, or only the likely ones.
    is_exact: bool,
    /// What was changed to get it, apart from the parts in its places.
    tried: Vec<Alteration>,
    /// Whether builds may spoil the rest.
    at_any_price: bool,
}

impl Prepared {
    fn plan(&self, target: &Target) -> Result<Plan> {
        self.plan_of(&self.build, target, &self.slots)
    }

    /// The plan of a guitar with some slots free, guarded unless the rest may be spoiled.
    fn plan_of(&self, build: &Guitar, target: &Target, slots: &[Slot]) -> Result<Plan> {
        let plan = if self.at_any_price {
            Plan::new(build, &self.present, target, slots)
        } else {
            Plan::guarded(build, &self.present, target, slots)
        };
        plan.map_err(prepare::silent)
    }

    /// Where builds must sound the same to count as the same: at the target's positions and at all that are guarded.
    fn heard_at(&self, target: &Target) -> Vec<Setting> {
        let mut settings = target.settings();
        settings.extend(guards::positions(self.present.tone.is_some()));
        settings
    }

    /// How many dB an entry of a plan's search leaves before it spoils the rest; `guitar` is the guitar with its parts fitted.
    fn rest_in(&self, plan: &Plan, entry: &Entry, guitar: &Guitar, target: &Target) -> Result<f64> {
        match self.spaces.get(entry.space).filter(|_| !plan.guards.is_empty()) {
            Some(space) => Ok(rest(plan, Evaluator::new(plan).powers(&space.fitted(), &entry.chosen))),
            None => self.rest_of(guitar, target),
        }
    }

    /// How many dB a whole guitar leaves before it spoils the rest.
    fn rest_of(&self, guitar: &Guitar, target: &Target) -> Result<f64> {
        let plan = Plan::guarded(guitar, &self.present, target, &[]).map_err(prepare::silent)?;
        Ok(rest(&plan, Evaluator::new(&plan).powers(&[], &[])))
    }
}
