//! Many guitars, few values: which ones a bag should hold so that most of them are served, and what one more would buy.
// The indices are those of asks, networks and values counted here; no input reaches one.
#![allow(clippy::indexing_slicing)]

pub mod aim;
mod answer;
pub mod choose;
pub mod clock;
mod cover;
mod growth;
mod layout;
mod margins;
mod working;

use std::collections::BTreeMap;
use std::time::Duration;

use serde::{Serialize, Serializer};

pub use layout::{MOST_CHOSEN, MOST_MARGINS};
pub use margins::PARTS;

use self::choose::Problem;
use self::clock::Clock;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::guitar::catalogue::Listed;
use crate::parts::choice::{Key, Rules};
use crate::parts::network::Network;
use crate::progress::Progress;
use crate::recommend::{self, Parts, Worst};
use crate::search::exhaustive::with_threads;
use crate::target::Target;
use crate::tolerance::Yield;

/// What to choose a kit for.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The guitars, at least one.
    pub guitars: Vec<Listed>,
    /// The targets, at least one; each guitar counts once for each target it meets.
    pub targets: Vec<Target>,
    /// Networks with free parts by slot.
    pub searches: Vec<(Slot, Option<Network>)>,
    /// Where values come from.
    pub rules: Rules,
    /// What is chosen, and how many.
    pub choose: Choose,
    /// How many pieces of a value the bag may hold.
    pub pieces: Pieces,
    /// Values in the bag already; they count among those chosen.
    pub fixed: Vec<(Key, f64)>,
    /// What the kit is to be best at.
    pub aim: Aim,
    /// With [`Aim::Margin`], margins below count as this in the mean, in dB.
    pub floor_db: f64,
    /// A guitar is served from this margin on, in dB.
    pub at_least_db: f64,
    /// A guitar is served only by a network that works in this share of the builds drawn.
    pub yield_at_least: Option<f64>,
    /// What the bag may cost, with one piece of each value; only where every price is known.
    pub budget: Option<f64>,
    /// For how many bags parts are to be ordered.
    pub bags: Option<u32>,
    /// How long all of it may take, to within a second; what is left out for time is told.
    pub time_limit: Option<Duration>,
    /// Worker threads; `None` is one a core.
    pub threads: Option<usize>,
}

/// How many pieces of each value a bag may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pieces {
    /// As many as any guitar that is served takes.
    #[default]
    AsNeeded,
    /// One: a network that takes a value twice is not to be had from it.
    One,
}

/// What is chosen.
#[derive(Debug, Clone, PartialEq)]
pub enum Choose {
    /// So many values for each key; parts that answer to one key share its values.
    Values(Vec<(Key, usize)>),
    /// So many ready-made networks.
    Networks(usize),
}

/// What a kit is to be best at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Aim {
    /// Most guitars that meet the target; among equals the largest sum of margins to spare.
    Coverage,
    /// The largest worst margin; among equals the largest mean of margins cut at a floor.
    Margin,
}

/// The answer; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Kit {
    /// What the kit holds, by part: values in Ω and F, or written networks.
    pub chosen: BTreeMap<String, Vec<Chosen>>,
    /// How many guitars it serves, each once for each target it meets.
    pub covered: usize,
    /// Of how many.
    pub total: usize,
    /// The same by weight.
    pub covered_weight: f64,
    /// The same by weight.
    pub total_weight: f64,
    /// The smallest margin it leaves a guitar that has one, in dB.
    pub worst_margin_db: Option<f64>,
    /// What it is to be best at.
    pub aim: Aim,
    /// Whether it is proved that no other kit is better.
    pub optimal: bool,
    /// By how much another could be better at most: for coverage as a share of the total weight, for margin in dB over the guitars that
    /// were weighed.
    pub gap: f64,
    /// What there was no time for, beside a proof; none where nothing is missing.
    pub left_for_time: Option<LeftForTime>,
    /// From which margin on a guitar is served, in dB.
    pub at_least_db: f64,
    /// In which share of builds a network must work to serve, if that is asked.
    pub yield_at_least: Option<f64>,
    /// What the bag was allowed to cost, if that is asked.
    pub budget: Option<f64>,
    /// The targets.
    pub targets: Vec<Target>,
    /// The searched networks by slot.
    pub searched: BTreeMap<Slot, Vec<String>>,
    /// How many networks were weighed on each guitar.
    pub networks: usize,
    /// What the kit holds, one by one.
    pub bag: Vec<Held>,
    /// What the bag costs with all its pieces, if every price is known.
    pub price: Option<f64>,
    /// The groups of the catalogue, in its order; none where it says none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<Group>,
    /// What to drop first: the one that serves fewest besides the others. None where all are fixed.
    pub drop_first: Option<Drop>,
    /// Every guitar with every target.
    pub guitars: Vec<Served>,
    /// How many are served by kits of other sizes.
    pub growth: Vec<Growth>,
    /// What one more in this very bag would bring, the best of each kind of part first; only what brings something.
    pub additions: Vec<Addition>,
    /// How many bags the stock has parts for; none where no list says how many pieces there are.
    pub bags_in_stock: Option<u64>,
    /// For how many bags parts are to be ordered, if that is asked.
    pub bags: Option<u32>,
}

/// One more in the bag.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Addition {
    /// The part it is for.
    pub part: String,
    /// As written in networks.
    pub written: String,
    /// The price of one, if it is known.
    pub unit_price: Option<f64>,
    /// How many are served then.
    pub covered: usize,
    /// The same by weight.
    pub covered_weight: f64,
}

/// What the time limit left no time for, beside a proof.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct LeftForTime {
    /// Guitars whose networks were not weighed, each once for each target; the kit was chosen for the others.
    pub not_weighed: usize,
    /// Sizes of kits that were not tried.
    pub sizes_not_tried: Vec<Sizes>,
    /// Guitars whose margins were not worked out once more by the definition: they are right to 0.00003 dB, and which point of the target is
    /// the worst was not looked up.
    pub worst_not_looked_up: usize,
}

/// Something in a kit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Chosen {
    /// A value in Ω or F.
    Value(f64),
    /// A network as written.
    Network(String),
}

/// Something in a kit, with all there is to say about it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Held {
    /// The part it is for.
    pub part: String,
    /// The value in Ω or F; none for a network.
    pub value: Option<f64>,
    /// As written in networks.
    pub written: String,
    /// The code of IEC 60062, if there is one.
    pub code: Option<String>,
    /// What stands on the part: colour bands or three digits.
    pub marking: Option<String>,
    /// The price of one, if a stock list tells it.
    pub unit_price: Option<f64>,
    /// Whether it was in the bag already.
    pub fixed: bool,
    /// How many pieces of it the bag holds: the most that any guitar served takes.
    pub pieces: usize,
    /// How many pieces the stock list has; none where it does not say.
    pub in_stock: Option<u32>,
    /// How many are to be ordered for the bags asked for.
    pub to_order: Option<u64>,
    /// How many guitars get it.
    pub used_by: usize,
    /// How many fewer are served without it.
    pub serves_alone: usize,
}

/// How a kit serves one group of guitars.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// What the catalogue calls it; nothing for guitars without a group.
    pub name: Option<String>,
    /// How many it serves, each once for each target it meets.
    pub covered: usize,
    /// Of how many.
    pub total: usize,
    /// The same by weight.
    pub covered_weight: f64,
    /// The same by weight.
    pub total_weight: f64,
}

/// What to drop first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drop {
    /// As written.
    pub written: String,
    /// How many are served without it.
    pub covered: usize,
    /// The smallest margin left without it, in dB.
    pub worst_margin_db: Option<f64>,
}

/// What a kit does for one guitar and target.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Served {
    /// The guitar's name.
    pub name: String,
    /// The target's name.
    pub target: String,
    /// How much it counts.
    pub weight: f64,
    /// The group it is counted with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// Columns of the catalogue's owner.
    #[serde(skip_serializing_if = "Vec::is_empty", serialize_with = "by_column")]
    pub own: Vec<(String, String)>,
    /// Its best network from the kit.
    pub slots: BTreeMap<Slot, String>,
    /// The values of the free parts, in Ω and F.
    pub parts: Parts,
    /// The margin in dB; none where the guitar has none.
    pub margin_db: Option<f64>,
    /// Where that is; none as well where there was no time to look it up.
    pub worst: Option<Worst>,
    /// Its best network of all that were weighed.
    pub own_best_slots: BTreeMap<Slot, String>,
    /// The margin of that in dB.
    pub own_best_margin_db: Option<f64>,
    /// What the kit costs it, in dB.
    pub loses_db: Option<f64>,
    /// Whether it is served: the margin is not below what is asked for, and the network works in as many builds as are asked for.
    pub meets_target: bool,
    /// In how many builds its network works; none where it is not served, or there was no time.
    #[serde(rename = "yield")]
    pub built: Option<Yield>,
    /// Why it is left out, if it is.
    pub left_out: Option<LeftOut>,
}

fn by_column<S: Serializer>(own: &[(String, String)], serializer: S) -> std::result::Result<S::Ok, S::Error> {
    serializer.collect_map(own.iter().map(|(name, text)| (name, text)))
}

/// Why a guitar is left out.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftOut {
    /// Another network would serve it.
    NeedsAnother,
    /// None of all that were weighed serves it.
    NoneServes,
    /// Its best network would, but works in too few builds.
    TooFewWork,
    /// The target or the search does not go with the guitar.
    DoesNotFit(String),
    /// There was no time to weigh any network on it.
    NotWeighed,
}

/// A kit of some size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Growth {
    /// How many of each.
    #[serde(flatten)]
    pub sizes: Sizes,
    /// How many guitars it serves.
    pub covered: usize,
    /// The same by weight.
    pub covered_weight: f64,
    /// The smallest margin it leaves, in dB.
    pub worst_margin_db: Option<f64>,
    /// What it costs with all its pieces, if every price is known.
    pub price: Option<f64>,
    /// What it holds, as written.
    pub holds: Vec<String>,
    /// Whether no other is better.
    pub optimal: bool,
}

/// How many of each, in the order in which they were asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sizes(pub Vec<(String, usize)>);

impl Serialize for Sizes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, size)| (name, size)))
    }
}

/// Chooses the kit.
///
/// # Errors
/// When there is nothing to choose from, too much of it, no guitar that the search goes with, or no time to weigh a single one.
pub fn kit(request: &Request, progress: &dyn Progress) -> Result<Kit> {
    let clock = Clock::new(request.time_limit);
    let layout = layout::Layout::new(request, clock)?;
    with_threads(request.threads, || {
        let asks = (request.guitars.len() * request.targets.len()) as u64;
        // Nobody knows how long the choice takes; it counts as much as the margins.
        let choice = asks * layout.networks.len() as u64;
        let each_answer = choice / (8 * asks).max(1) + 1;
        progress.expect(choice + each_answer * asks);
        let mut margins = margins::Margins::new(request, &layout, clock, progress);
        if margins.asks.is_empty() {
            return Err(nothing_weighed(&margins));
        }
        let mut problem = margins.problem(request, &layout)?;
        let working = working::Working::new(request, &layout, &margins.asks);
        let mut grown = growth::grown(request, &layout, &problem, clock, (progress, choice));
        // A choice by margins alone bounds the true one from above. Once all that it serves works in enough builds, the two are one.
        loop {
            let too_few = working.too_few(&problem, &grown);
            if too_few.is_empty() {
                break;
            }
            problem.refuse(too_few);
            grown = growth::grown(request, &layout, &problem, clock, (&(), 0));
        }
        answer::answer(
            &answer::Job {
                request,
                layout: &layout,
                problem: &problem,
                margins: &margins,
                working: &working,
                clock,
            },
            &grown,
            (progress, each_answer),
        )
    })
}

fn nothing_weighed(margins: &margins::Margins) -> Error {
    let is_late = |(_, why): &&(_, LeftOut)| *why == LeftOut::NotWeighed;
    if margins.left_out.iter().any(|left_out| is_late(&left_out)) {
        return Error::new(ErrorKind::Search, "the time was over before any guitar was weighed")
            .help("allow more time, or narrow it: fewer free parts, a coarser series, a shorter range");
    }
    let why = margins.left_out.iter().find_map(|(_, why)| match why {
        LeftOut::DoesNotFit(why) => Some(why.as_str()),
        _ => None,
    });
    let why = why.unwrap_or("there is no guitar");
    Error::new(ErrorKind::Search, format!("no guitar goes with this search and target: {why}"))
}

/// The choice that a request comes to: its values, networks and margins. [`kit`] solves it and says what it means.
///
/// # Errors
/// As [`kit`].
pub fn problem(request: &Request, progress: &dyn Progress) -> Result<Problem> {
    let clock = Clock::new(request.time_limit);
    let layout = layout::Layout::new(request, clock)?;
    with_threads(request.threads, || {
        margins::Margins::new(request, &layout, clock, progress).problem(request, &layout)
    })
}

/// A price in millionths.
fn in_millionths(price: f64) -> u64 {
    // A price is finite and not below 0; a float beyond the integer is held at its end.
    (price * 1e6).round() as u64
}

/// One guitar with one target as the main job asks it.
fn ask_of(request: &Request, (guitar, target): (usize, usize)) -> recommend::Request {
    recommend::Request {
        searches: request.searches.clone(),
        rules: request.rules.clone(),
        ..recommend::Request::new(request.guitars[guitar].guitar.clone(), request.targets[target].clone())
    }
}
