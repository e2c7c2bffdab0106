//! Where guitars lie that are built with parts as they come.

use super::deviation::{Deviation, concerns, grid};
use super::{Bounds, Corridor, Voice};
use crate::guitar::Guitar;
use crate::kernel::grid::POINTS_PER_OCTAVE;
use crate::parts::stock::Stock;
use crate::search::exhaustive;
use crate::target::{Clause, Over, Target};
use crate::tolerance::{Lot, spreads, with_factors};

/// How many built guitars are looked at: ends of the shares below are then known well enough for a picture.
const BUILT: usize = 200;
/// A band narrower than this everywhere, in dB, is no wider than its curve.
const NARROW: f64 = 0.001;
/// Between these shares of them nine of ten lie.
const SHARES: [f64; 2] = [0.05, 0.95];

/// How far apart the differences of nine of ten built guitars lie, for each voice and clause that bounds something there. `present` varies with the
/// build, by the same factors, but for a network that only it has.
pub(super) fn spread(voices: &[Voice<'_>], target: &Target, present: &Guitar, lot: &Lot, stock: Option<&Stock>) -> Vec<Corridor> {
    let Some(build) = voices.first().map(|voice| voice.guitar) else {
        return Vec::new();
    };
    let places: Vec<(usize, usize, &Clause)> = voices
        .iter()
        .enumerate()
        .flat_map(|(curve, voice)| {
            let clauses = target.clauses.iter().enumerate();
            let concerned = clauses.filter(|(_, clause)| concerns(clause, voice.setting));
            concerned.map(move |(index, clause)| (curve, index, clause))
        })
        .collect();
    let numbers: Vec<usize> = (0..BUILT).collect();
    let pairs = built(build, present, lot, stock);
    let differences = |number: &usize| -> Vec<Option<Vec<f64>>> {
        let [build, present] = pairs(*number);
        let at_place = |(curve, _, clause): &(usize, usize, &Clause)| {
            let found = Deviation::of(
                clause,
                &build,
                &present,
                voices.get(*curve)?.setting,
                &grid(clause, POINTS_PER_OCTAVE),
            )?;
            Some(found.differences().collect())
        };
        places.iter().map(at_place).collect()
    };
    let built: Vec<Vec<Option<Vec<f64>>>> = exhaustive::each(&numbers, differences);
    let band = |(place, (curve, index, clause)): (usize, &(usize, usize, &Clause))| {
        let all: Option<Vec<&Vec<f64>>> = built.iter().map(|own| own.get(place)?.as_ref()).collect();
        Some(Corridor {
            curve: Some(*curve),
            clause: *index,
            is_mean: clause.over != Over::Every,
            points: ends(clause, &all?),
        })
    };
    let is_wide = |bounds: &Bounds| Some(bounds.high_db? - bounds.low_db? > NARROW);
    let bands = places.iter().enumerate().filter_map(band);
    bands
        .filter(|band| band.points.iter().any(|bounds| is_wide(bounds) == Some(true)))
        .collect()
}

/// The build and the present guitar with the values of built guitar number so many.
fn built(build: &Guitar, present: &Guitar, lot: &Lot, stock: Option<&Stock>) -> impl Fn(usize) -> [Guitar; 2] + Sync {
    let spreads = spreads(build, &lot.tolerances, stock);
    let mut factors = vec![[0.0; BUILT]; spreads.len()];
    for (spread, factors) in spreads.iter().zip(&mut factors) {
        lot.draws.fill(spread, 0, factors);
    }
    let common: Vec<bool> = spreads.iter().map(|spread| spread.origin.is_shared(build, present)).collect();
    let (build, present) = (build.clone(), present.clone());
    move |number| {
        let own: Vec<f64> = factors.iter().filter_map(|factors| factors.get(number)).copied().collect();
        let shared: Vec<f64> = own
            .iter()
            .zip(&common)
            .map(|(factor, common)| if *common { *factor } else { 1.0 })
            .collect();
        [with_factors(&build, &spreads, &own), with_factors(&present, &spreads, &shared)]
    }
}

fn ends(clause: &Clause, all: &[&Vec<f64>]) -> Vec<Bounds> {
    let at = grid(clause, POINTS_PER_OCTAVE);
    let ends_at = |position: usize| {
        // One figure stands for a whole band's mean.
        let figure = |own: &&Vec<f64>| own.get(position).or(own.first()).copied();
        let mut sorted: Vec<f64> = all.iter().filter_map(figure).collect();
        sorted.sort_by(f64::total_cmp);
        SHARES.map(|share| sorted.get((share * sorted.len() as f64) as usize).copied())
    };
    let bounds = |(position, frequency): (usize, &f64)| {
        let [low_db, high_db] = ends_at(position);
        Bounds {
            frequency_hz: *frequency,
            low_db,
            high_db,
        }
    };
    at.iter().enumerate().map(bounds).collect()
}
