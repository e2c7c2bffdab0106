//! The margin of every network on every guitar for every target.
//!
//! A margin is kept as a whole number of 10⁻⁵ dB, rounded down: four bytes, and sums that are the same in any order. Its error is below
//! 1.1·10⁻⁵ dB (10⁻⁵ from rounding, 10⁻⁶ from the vector lanes); its sign is certain, because what lies near zero is evaluated by the definition.

use rayon::prelude::*;

use super::choose::SILENT;
use super::layout::Layout;
use super::{Request, ask_of};
use crate::error::Result;
use crate::kernel::plan::Plan;
use crate::progress::Progress;
use crate::recommend;
use crate::search::exhaustive::every_margin;

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
    /// Guitar and target that do not go together, and why.
    pub(super) refused: Vec<(usize, usize, String)>,
}

/// A margin in whole parts.
pub(super) fn whole(margin: Option<f64>) -> i32 {
    // A margin is at most some hundreds of dB; a float beyond the integer's range is held at its end.
    margin.map_or(SILENT, |margin| ((margin * PARTS).floor() as i32).max(SILENT + 1))
}

pub(super) fn plan(request: &Request, ask: (usize, usize)) -> Result<Plan> {
    recommend::plan_for(&ask_of(request, ask))
}

impl Margins {
    pub(super) fn new(request: &Request, layout: &Layout, progress: &dyn Progress) -> Self {
        let targets = request.targets.len();
        let count = request.guitars.len() * targets;
        let networks = layout.networks.len();
        progress.expect((count * networks) as u64);
        let mut rows = vec![SILENT; count * networks];
        let refusals: Vec<Option<String>> = rows
            .par_chunks_mut(networks)
            .enumerate()
            .map(|(index, row)| {
                let plan = plan(request, (index / targets, index % targets));
                let refusal = plan.map(|plan| fill(request, layout, &plan, row)).err();
                progress.advance(networks as u64);
                refusal.map(|error| error.message().to_owned())
            })
            .collect();
        let ask = |index: usize| (index / targets, index % targets);
        let kept: Vec<usize> = (0..count).filter(|index| refusals[*index].is_none()).collect();
        let refused = refusals.into_iter().enumerate();
        Self {
            margins: by_network(&rows, networks, &kept),
            asks: kept.into_iter().map(ask).collect(),
            refused: refused
                .filter_map(|(index, why)| Some((ask(index).0, ask(index).1, why?)))
                .collect(),
        }
    }
}

fn fill(request: &Request, layout: &Layout, plan: &Plan, row: &mut [i32]) {
    every_margin(
        plan,
        &layout.spaces,
        request.rules.stock.as_ref(),
        NEAR,
        &mut |space, index, margin| {
            let place = layout.places[space].get(index as usize).copied().flatten();
            if let Some(cell) = place.and_then(|place| row.get_mut(place as usize)) {
                *cell = whole(margin);
            }
        },
    );
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
