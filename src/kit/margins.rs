//! The margin of every network on every guitar for every target.
//!
//! A margin is kept as a whole number of 10⁻⁵ dB, rounded down: four bytes, and sums that are the same in any order. Its error is below
//! 1.1·10⁻⁵ dB (10⁻⁵ from rounding, 10⁻⁶ from the vector lanes); its sign is certain, because what lies near zero is evaluated by the definition.

use rayon::prelude::*;

use super::choose::SILENT;
use super::clock::Clock;
use super::layout::Layout;
use super::{LeftOut, Request, ask_of};
use crate::error::Result;
use crate::kernel::plan::Plan;
use crate::progress::Progress;
use crate::recommend;
use crate::search::pruned::every_margin;

/// Parts of a dB in which margins are kept.
pub const PARTS: f64 = 1e5;

/// Margins this near to zero, in dB, are evaluated by the definition: more than the lanes can be wrong by.
const NEAR: f64 = 1e-5;

/// Asks whose rows are put in order together, so that what is read and written stays in the processor's cache.
const BLOCK: usize = 64;

/// Every margin, network by network, and the asks that could not be asked.
pub(super) struct Margins {
    /// Guitar and target of each ask.
    pub(super) asks: Vec<(usize, usize)>,
    /// For each network, the margin of every ask.
    pub(super) margins: Vec<i32>,
    /// Guitar and target that are left out, and why.
    pub(super) left_out: Vec<((usize, usize), LeftOut)>,
}

/// The time for margins, as a share of all: nothing can be chosen without them, and they take less than the choice.
const SHARE: f64 = 0.5;

/// A margin in whole parts.
pub(super) fn whole(margin: Option<f64>) -> i32 {
    // A margin is at most some hundreds of dB; a float beyond the integer's range is held at its end.
    // What is no number would become 0, which counts as met.
    let told = margin.filter(|margin| margin.is_finite());
    told.map_or(SILENT, |margin| ((margin * PARTS).floor() as i32).max(SILENT + 1))
}

/// The plan of an ask, its margins less what a guitar must have to be served.
pub(super) fn plan(request: &Request, ask: (usize, usize)) -> Result<Plan> {
    let mut asked = ask_of(request, ask);
    // Every bound tightened by what is asked for takes that off every margin.
    for clause in &mut asked.target.clauses {
        clause.at_least = clause.at_least.map(|bound| bound + request.at_least_db);
        clause.at_most = clause.at_most.map(|bound| bound - request.at_least_db);
    }
    recommend::plan_for(&asked)
}

impl Margins {
    pub(super) fn new(request: &Request, layout: &Layout, clock: Clock, progress: &dyn Progress) -> Self {
        let clock = clock.share(SHARE);
        let targets = request.targets.len();
        let count = request.guitars.len() * targets;
        let networks = layout.networks.len();
        progress.expect((count * networks) as u64);
        let mut rows = vec![SILENT; count * networks];
        let reasons: Vec<Option<LeftOut>> = rows
            .par_chunks_mut(networks.max(1))
            .enumerate()
            .map(|(index, row)| {
                let reason = weigh(request, layout, (index / targets, index % targets), clock, row);
                progress.advance(networks as u64);
                reason
            })
            .collect();
        let ask = |index: usize| (index / targets, index % targets);
        let kept: Vec<usize> = (0..count).filter(|index| reasons[*index].is_none()).collect();
        let reasons = reasons.into_iter().enumerate();
        Self {
            margins: by_network(&rows, networks, &kept),
            asks: kept.into_iter().map(ask).collect(),
            left_out: reasons.filter_map(|(index, why)| Some((ask(index), why?))).collect(),
        }
    }
}

/// Fills in the margins of one ask; why not, where it cannot be asked or there is no time left.
fn weigh(request: &Request, layout: &Layout, ask: (usize, usize), clock: Clock, row: &mut [i32]) -> Option<LeftOut> {
    if clock.is_over_for_good() {
        return Some(LeftOut::NotWeighed);
    }
    let plan = match plan(request, ask) {
        Ok(plan) => plan,
        Err(error) => return Some(LeftOut::DoesNotFit(error.message().to_owned())),
    };
    let is_whole = every_margin(
        &plan,
        &layout.spaces,
        request.rules.stock.as_ref(),
        NEAR,
        &|| clock.is_over_for_good(),
        &mut |space, index, margin| {
            let place = layout.places[space].get(index as usize).copied().flatten();
            if let Some(cell) = place.and_then(|place| row.get_mut(place as usize)) {
                *cell = whole(margin);
            }
        },
    );
    (!is_whole).then_some(LeftOut::NotWeighed)
}

/// Rows of asks → rows of networks.
fn by_network(rows: &[i32], networks: usize, kept: &[usize]) -> Vec<i32> {
    let mut turned = vec![SILENT; networks * kept.len()];
    for (block, asks) in kept.chunks(BLOCK).enumerate() {
        for network in 0..networks {
            for (place, ask) in asks.iter().enumerate() {
                turned[network * kept.len() + block * BLOCK + place] = rows[ask * networks + network];
            }
        }
    }
    turned
}
