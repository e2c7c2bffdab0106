//! The guitar as it is asked for and what is tried beside it, other pots, cables and wirings: each searched, all ranked together.

use super::{Prepared, Request, yields};
use crate::error::Result;
use crate::guitar::Guitar;
use crate::kernel::plan::Plan;
use crate::progress::Progress;
use crate::search::exhaustive::{self, Found};
use crate::search::ranking::{Entry, rank};

/// One guitar to be built, searched.
pub(super) struct Searched {
    pub(super) prepared: Prepared,
    pub(super) plan: Plan,
    pub(super) found: Found,
}

/// A build by the search that found it.
pub(super) struct Listed {
    /// Which of the searches.
    pub(super) search: usize,
    pub(super) entry: Entry,
}

/// Every search, and the first of all their builds.
pub(super) struct Tries {
    pub(super) all: Vec<Searched>,
    pub(super) listed: Vec<Listed>,
}

impl Tries {
    /// Searches; at least one guitar is to be given.
    pub(super) fn new(request: &Request, guitars: Vec<Prepared>, progress: &dyn Progress) -> Result<Self> {
        let (stock, top) = (request.rules.stock.as_ref(), yields::pool(request));
        let search = |prepared: Prepared| {
            let plan = prepared.plan(&request.target)?;
            let found = exhaustive::search_kept(&plan, &prepared.spaces, stock, top, progress);
            Ok(Searched { prepared, plan, found })
        };
        let all: Vec<Searched> = guitars.into_iter().map(search).collect::<Result<_>>()?;
        let listed = ranked(&all, top);
        Ok(Self { all, listed })
    }

    /// The search that found the first of the list; the first where nothing was found.
    pub(super) fn lead(&self) -> Option<&Searched> {
        self.all.get(self.lead_number())
    }

    fn lead_number(&self) -> usize {
        self.listed.first().map_or(0, |first| first.search)
    }

    /// What the leading search has on the list.
    pub(super) fn listed_of_lead(&self) -> Vec<Entry> {
        let own = self.listed.iter().filter(|listed| listed.search == self.lead_number());
        own.map(|listed| listed.entry.clone()).collect()
    }

    /// The guitar as it is asked for.
    pub(super) fn asked_for(&self) -> Option<&Searched> {
        self.all.first()
    }

    /// A build with the search that found it.
    pub(super) fn each_listed(&self) -> impl Iterator<Item = (&Searched, &Entry)> {
        self.listed
            .iter()
            .filter_map(|listed| Some((self.all.get(listed.search)?, &listed.entry)))
    }

    /// The guitars of the list.
    pub(super) fn guitars(&self) -> Vec<Guitar> {
        self.each_listed().map(|(searched, entry)| searched.prepared.built(entry)).collect()
    }
}

/// The first `top` of all that was found. The spaces of later searches count on from those of earlier ones, so that ties have an order.
fn ranked(all: &[Searched], top: usize) -> Vec<Listed> {
    let mut starts = Vec::with_capacity(all.len());
    let mut entries = Vec::new();
    let mut start = 0;
    for searched in all {
        starts.push(start);
        entries.extend(searched.found.entries.iter().map(|entry| Entry {
            space: entry.space + start,
            ..entry.clone()
        }));
        start += searched.prepared.spaces.len();
    }
    let of_search = |entry: Entry| {
        let search = starts.partition_point(|start| *start <= entry.space).saturating_sub(1);
        let start = starts.get(search).copied().unwrap_or_default();
        Listed {
            search,
            entry: Entry {
                space: entry.space - start,
                ..entry
            },
        }
    };
    rank(entries, top).into_iter().map(of_search).collect()
}
