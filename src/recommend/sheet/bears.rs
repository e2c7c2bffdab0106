//! How far each part of a build may be off, the others on their mark, with the wish still met and the rest of the guitar kept as it is.

use std::collections::BTreeMap;

use super::{Fitting, Prepared};
use crate::circuit::{Origin, Place};
use crate::error::Result;
use crate::guitar::{Guitar, Slot};
use crate::parts::network::Component;
use crate::recommend::prepare;
use crate::target::Target;
use crate::tolerance::{Built, Spread, with_factors};

/// Factors from the mark that are looked at, either way: steps of 2.3 % over a decade.
const STEPS: usize = 100;
const FARTHEST: f64 = 10.0;
/// How often the step in which it breaks is cut into as many.
const CUTS: usize = 2;
/// Places between the mark and where the wish breaks at which the rest is looked at.
const LOOKED_AT: usize = 6;
/// How often the step in which the rest breaks is halved.
const HALVED: usize = 8;

/// Between which factors a part may lie; none where nothing breaks within a decade.
pub(super) type Bearing = [Option<f64>; 2];

/// What each resistor and capacitor that goes in may be off by, by its slot and its place there in written order; nothing where the build
/// misses its target.
pub(super) fn bearings(
    prepared: &Prepared,
    target: &Target,
    answer: &Guitar,
    fittings: &[Fitting],
) -> Result<BTreeMap<(Slot, usize), Bearing>> {
    let (keys, spreads): (Vec<_>, Vec<_>) = fittings.iter().flat_map(spreads).unzip();
    let built = Built::new(answer, &prepared.present, target, spreads).map_err(prepare::silent)?;
    let own = prepared.rest_of(answer, target)?;
    let asked = Asked {
        prepared,
        target,
        answer,
        built: &built,
        least_rest: own.min(0.0),
    };
    if built.margins_at(&[Vec::new()]).iter().any(|margin| *margin < 0.0) {
        return Ok(BTreeMap::new());
    }
    let bearing = |(index, key)| Ok((key, [asked.end(index, FARTHEST.recip())?, asked.end(index, FARTHEST)?]));
    keys.into_iter().enumerate().map(bearing).collect()
}

fn spreads(fitting: &Fitting) -> Vec<((Slot, usize), Spread)> {
    let spread = |(index, part): (usize, Component)| {
        part.kind()?;
        let spread = Spread {
            name: String::new(),
            origin: Origin::Part(Place::Slot(fitting.slot), index),
            value: part.value(),
            unit: "",
            tolerance: 0.0,
            middle: 1.0,
        };
        Some(((fitting.slot, index), spread))
    };
    fitting.network.components().into_iter().enumerate().filter_map(spread).collect()
}

struct Asked<'a> {
    prepared: &'a Prepared,
    target: &'a Target,
    answer: &'a Guitar,
    built: &'a Built,
    /// What the rest may come down to: 0, or what the answer itself leaves of it.
    least_rest: f64,
}

impl Asked<'_> {
    /// The factor nearest to 1 towards the farthest at which something breaks.
    fn end(&self, index: usize, farthest: f64) -> Result<Option<f64>> {
        let mut between = [1.0, farthest];
        let mut breaks = false;
        for _ in 0..=CUTS {
            let Some(found) = self.first_miss(index, between) else { break };
            (between, breaks) = (found, true);
        }
        let met = if breaks { between[0] } else { farthest };
        Ok(self.first_harm(index, met)?.or(breaks.then_some(met)))
    }

    /// The step between two factors in which the wish is missed first.
    fn first_miss(&self, index: usize, [from, to]: [f64; 2]) -> Option<[f64; 2]> {
        let at = |step: usize| from * (to / from).powf(step as f64 / STEPS as f64);
        let row = |step: usize| {
            let mut row = vec![1.0; index + 1];
            if let Some(factor) = row.last_mut() {
                *factor = at(step);
            }
            row
        };
        let rows: Vec<Vec<f64>> = (1..=STEPS).map(row).collect();
        // No number meets nothing.
        let missed = |margin: &f64| margin.is_nan() || *margin < 0.0;
        let first = self.built.margins_at(&rows).iter().position(missed)?;
        Some([at(first), at(first + 1)])
    }

    /// The largest change up to a factor that keeps the rest, if that is not all of it.
    fn first_harm(&self, index: usize, farthest: f64) -> Result<Option<f64>> {
        let at = |share: f64| farthest.powf(share);
        let mut kept = 0.0;
        for step in 1..=LOOKED_AT {
            let share = step as f64 / LOOKED_AT as f64;
            if self.keeps(index, at(share))? {
                kept = share;
                continue;
            }
            let mut broken = share;
            for _ in 0..HALVED {
                let middle = f64::midpoint(kept, broken);
                if self.keeps(index, at(middle))? {
                    kept = middle;
                } else {
                    broken = middle;
                }
            }
            return Ok(Some(at(kept)));
        }
        Ok(None)
    }

    fn keeps(&self, index: usize, factor: f64) -> Result<bool> {
        let spreads = self.built.spreads.get(index..=index).unwrap_or_default();
        let off = with_factors(self.answer, spreads, &[factor]);
        Ok(self.prepared.rest_of(&off, self.target)? >= self.least_rest - 1e-9)
    }
}
