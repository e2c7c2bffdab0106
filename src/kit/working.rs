//! In how many builds a network works on a guitar: whether it serves where a share of builds is asked for, and what is told of it.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::choose::Problem;
use super::growth::Grown;
use super::layout::{Layout, fitted};
use super::{Request, ask_of};
use crate::error::Result;
use crate::recommend;
use crate::tolerance::{Built, Lot, Tolerances, Yield, spreads};

/// Builds that are drawn of a network on a guitar.
const BUILDS: u64 = 1000;

/// The yields known so far, by ask and network.
pub(super) struct Working<'w> {
    request: &'w Request,
    layout: &'w Layout,
    asks: &'w [(usize, usize)],
    known: Mutex<HashMap<(usize, usize), Option<Yield>>>,
}

impl<'w> Working<'w> {
    pub(super) fn new(request: &'w Request, layout: &'w Layout, asks: &'w [(usize, usize)]) -> Self {
        Self {
            request,
            layout,
            asks,
            known: Mutex::default(),
        }
    }

    /// The yield of a network on the guitar of an ask, by their numbers.
    pub(super) fn of(&self, ask: usize, network: usize) -> Option<Yield> {
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(found) = known().get(&(ask, network)) {
            return *found;
        }
        let found = self.drawn(ask, network).ok().flatten();
        known().insert((ask, network), found);
        found
    }

    fn drawn(&self, ask: usize, network: usize) -> Result<Option<Yield>> {
        let (Some(ask), Some(network)) = (self.asks.get(ask), self.layout.networks.get(network)) else {
            return Ok(None);
        };
        let asked = ask_of(self.request, *ask);
        let (present, mut build) = recommend::guitars(&asked)?;
        for (slot, network) in fitted(self.layout, network) {
            build.fit(slot, network);
        }
        let spreads = spreads(&build, &Tolerances::default(), self.request.rules.stock.as_ref());
        let built = Built::new(&build, &present, &asked.target, spreads).map_err(recommend::silent)?;
        Ok(built.rate(&Lot {
            builds: BUILDS,
            ..Lot::default()
        }))
    }

    /// Whether a network works in as many builds as are asked for.
    pub(super) fn is_enough(&self, ask: usize, network: usize) -> bool {
        let least = self.request.yield_at_least;
        least.is_none_or(|least| self.of(ask, network).is_some_and(|found| found.share >= least))
    }

    /// The networks that some kit would serve an ask with and that work in too few builds: of each ask those before the first that does.
    pub(super) fn too_few(&self, problem: &Problem, grown: &Grown) -> Vec<(usize, usize)> {
        if self.request.yield_at_least.is_none() {
            return Vec::new();
        }
        let mut found: Vec<(usize, usize)> = Vec::new();
        for kit in grown.kits.iter().flatten() {
            let in_kit: Vec<usize> = (0..problem.needs().len())
                .filter(|network| problem.needs()[*network].iter().all(|need| kit.values.contains(need)))
                .collect();
            let of_ask = |ask: usize| -> Vec<(usize, usize)> {
                let margin = |network: &usize| problem.margins_of(*network)[ask];
                let mut serving: Vec<usize> = in_kit.iter().copied().filter(|network| margin(network) >= 0).collect();
                serving.sort_by_key(|network| std::cmp::Reverse(margin(network)));
                let fails = serving.into_iter().take_while(|network| !self.is_enough(ask, *network));
                fails.map(|network| (ask, network)).collect()
            };
            found.extend((0..self.asks.len()).into_par_iter().flat_map_iter(of_ask).collect::<Vec<_>>());
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}
