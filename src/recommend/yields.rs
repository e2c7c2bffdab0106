//! How many of the guitars that are really built meet the target, for each build of the answer; ranking by that.

use serde::Serialize;

use super::tries::{Listed, Tries};
use super::{RankBy, Request, prepare};
use crate::error::Result;
use crate::guitar::Guitar;
use crate::search::ranking::group;
use crate::tolerance::{Built, Lot, Yield, rate_all, rate_best, spreads};

/// Where the yield ranks builds, those are rated that meet the target or come so near the best, in dB …
const NEAR_THE_BEST: f64 = 0.5;
/// … but no more than this, those with the largest margins.
const MOST_RATED: usize = 2000;
/// How many further builds a group that the list's end cuts through may have, to be ranked as a whole.
const MOST_OF_A_GROUP: usize = 54;

/// A value that was drawn, and within what.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tolerance {
    /// `pickup inductance`, `volume pot`, `bleed.C` …
    pub value: String,
    /// As a share of one.
    pub tolerance: f64,
}

/// How many builds have to be known for the list that is asked for.
pub(super) fn pool(request: &Request) -> usize {
    match (request.rank_by, &request.lot) {
        (RankBy::Yield, Some(_)) => request.top.max(MOST_RATED),
        (RankBy::Margin, Some(_)) => request.top.saturating_add(MOST_OF_A_GROUP),
        _ => request.top,
    }
}

/// The yield of each entry, in order; ranks the entries by it, all of them where that is asked for and else those of one group of margins,
/// and cuts them to the list's length.
pub(super) fn rate(request: &Request, tries: &mut Tries) -> Result<Vec<Option<Yield>>> {
    let Some(lot) = &request.lot else {
        return Ok(vec![None; tries.listed.len()]);
    };
    let by_yield = request.rank_by == RankBy::Yield;
    let rated = if by_yield {
        near_the_best(&tries.listed, request.top)
    } else {
        whole_groups(&tries.listed, request.top)
    };
    tries.listed.truncate(rated);
    let guitars = tries.guitars();
    let Some(present) = tries.asked_for().map(|searched| &searched.prepared.present) else {
        return Ok(Vec::new());
    };
    let built = guitars.iter().map(|guitar| built(request, present, lot, guitar));
    let built: Vec<Built> = built.collect::<Result<_>>()?;
    let yields = if by_yield {
        rate_best(&built, lot, request.top)
    } else {
        rate_all(&built, lot)
    };
    let mut ranked: Vec<_> = std::mem::take(&mut tries.listed).into_iter().zip(yields).collect();
    let share = |rated: &Option<Yield>| rated.map_or(0.0, |rated| rated.share);
    let margins: Vec<f64> = ranked.iter().map(|(listed, _)| listed.entry.margin).collect();
    let mut start = 0;
    while let Some(rest) = margins.get(start..).filter(|rest| !rest.is_empty()) {
        let count = if by_yield { rest.len() } else { group(rest).max(1) };
        // Equal yields stay in the order they are in.
        if let Some(group) = ranked.get_mut(start..start + count) {
            group.sort_by(|one, other| share(&other.1).total_cmp(&share(&one.1)));
        }
        start += count;
    }
    ranked.truncate(request.top);
    let (listed, yields) = ranked.into_iter().unzip();
    tries.listed = listed;
    Ok(yields)
}

/// How many of a list are rated where the yield ranks it.
fn near_the_best(listed: &[Listed], top: usize) -> usize {
    let best = listed.iter().map(|listed| listed.entry.margin).fold(f64::NEG_INFINITY, f64::max);
    let near = |listed: &&Listed| listed.entry.margin >= (best - NEAR_THE_BEST).min(0.0);
    listed.iter().filter(near).count().max(top.min(listed.len()))
}

/// The end of the group that the first so many of a list end in.
fn whole_groups(listed: &[Listed], top: usize) -> usize {
    let margins: Vec<f64> = listed.iter().map(|listed| listed.entry.margin).collect();
    let mut end = 0;
    while end < top.min(listed.len()) {
        end += group(margins.get(end..).unwrap_or_default()).max(1);
    }
    end
}

/// The yield of one guitar.
pub(super) fn of(request: &Request, present: &Guitar, guitar: &Guitar) -> Result<Option<Yield>> {
    let Some(lot) = &request.lot else { return Ok(None) };
    Ok(built(request, present, lot, guitar)?.rate(lot))
}

/// What is drawn for a guitar; nothing where no yields are asked for.
pub(super) fn tolerances(request: &Request, guitar: &Guitar) -> Vec<Tolerance> {
    let Some(lot) = &request.lot else { return Vec::new() };
    let spreads = spreads(guitar, &lot.tolerances, request.rules.stock.as_ref());
    let tolerances = spreads.into_iter().map(|spread| Tolerance {
        value: spread.name,
        tolerance: spread.tolerance,
    });
    tolerances.collect()
}

fn built(request: &Request, present: &Guitar, lot: &Lot, guitar: &Guitar) -> Result<Built> {
    let spreads = spreads(guitar, &lot.tolerances, request.rules.stock.as_ref());
    Built::new(guitar, present, &request.target, spreads).map_err(prepare::silent)
}
