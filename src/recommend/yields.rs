//! How many of the guitars that are really built meet the target, for each build of the answer; ranking by that.

use serde::Serialize;

use super::tries::Tries;
use super::{RankBy, Request, prepare};
use crate::error::Result;
use crate::guitar::Guitar;
use crate::tolerance::{Built, Lot, Yield, rate_all, spreads};

/// So many times the builds that are listed are rated where the yield ranks them …
const DEEPER: usize = 10;
/// … and at least so many.
const FEWEST_RATED: usize = 100;

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
        (RankBy::Yield, Some(_)) => request.top.saturating_mul(DEEPER).max(FEWEST_RATED),
        _ => request.top,
    }
}

/// The yield of each entry, in order; ranks the entries by it where that is asked for, and cuts them to the list's length.
pub(super) fn rate(request: &Request, tries: &mut Tries) -> Result<Vec<Option<Yield>>> {
    let Some(lot) = &request.lot else {
        return Ok(vec![None; tries.listed.len()]);
    };
    let guitars = tries.guitars();
    let Some(present) = tries.asked_for().map(|searched| &searched.prepared.present) else {
        return Ok(Vec::new());
    };
    let built = guitars.iter().map(|guitar| built(request, present, lot, guitar));
    let built: Vec<Built> = built.collect::<Result<_>>()?;
    let by_yield = request.rank_by == RankBy::Yield;
    let yields = rate_all(&built, lot, by_yield);
    if !by_yield {
        return Ok(yields);
    }
    // Equal yields stay in the order of their margins.
    let mut ranked: Vec<_> = std::mem::take(&mut tries.listed).into_iter().zip(yields).collect();
    let share = |rated: &Option<Yield>| rated.map_or(0.0, |rated| rated.share);
    ranked.sort_by(|one, other| share(&other.1).total_cmp(&share(&one.1)));
    ranked.truncate(request.top);
    let (listed, yields) = ranked.into_iter().unzip();
    tries.listed = listed;
    Ok(yields)
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
