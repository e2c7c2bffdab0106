//! The best kit of each size, the smaller ones first, so that each begins with what a smaller one holds.

use super::aim::{Solved, solve};
use super::choose::Problem;
use super::layout::Layout;
use super::{Request, margins};

/// How many steps beyond what was asked.
const BEYOND: usize = 2;

/// A kit with its sizes.
pub(super) struct Grown {
    pub(super) sizes: Vec<usize>,
    pub(super) kit: Solved,
}

/// Kits of one value of each pool, of two, … up to what was asked and two more, and those with one more of a single pool.
pub(super) fn grown(request: &Request, layout: &Layout, problem: &Problem) -> Vec<Grown> {
    let fixed: Vec<usize> = layout.pools.iter().flat_map(|pool| pool.fixed.iter().copied()).collect();
    let floor = margins::whole(Some(request.floor_db));
    let mut grown: Vec<Grown> = Vec::new();
    for sizes in steps(layout) {
        let smaller = |other: &&Grown| other.sizes.iter().zip(&sizes).all(|(other, own)| other <= own);
        let known = grown.iter().rev().find(smaller).map(|other| other.kit.values.clone());
        let kit = solve(problem, &sizes, &fixed, request.aim, floor, known.as_deref(), request.time_limit);
        grown.push(Grown { sizes, kit });
    }
    grown
}

fn steps(layout: &Layout) -> Vec<Vec<usize>> {
    let asked: Vec<usize> = layout.pools.iter().map(|pool| pool.size).collect();
    let largest = asked.iter().copied().max().unwrap_or(0);
    let step = |step: usize| -> Vec<usize> {
        let size = |asked: &usize| {
            if step <= largest {
                step.min(*asked)
            } else {
                asked + step - largest
            }
        };
        asked.iter().map(size).collect()
    };
    let one_more = (0..asked.len()).map(|more| {
        asked
            .iter()
            .enumerate()
            .map(|(pool, size)| size + usize::from(pool == more))
            .collect()
    });
    let held = |pool: usize| layout.values.iter().filter(|value| value.pool == pool).count();
    let within = |sizes: Vec<usize>| -> Vec<usize> {
        let pools = layout.pools.iter().enumerate().zip(sizes);
        pools
            .map(|((pool, content), size)| size.max(content.fixed.len()).min(held(pool).max(1)))
            .collect()
    };
    let mut steps: Vec<Vec<usize>> = (1..=largest + BEYOND).map(step).chain(one_more).map(within).collect();
    steps.sort_by_key(|sizes| (sizes.iter().sum::<usize>(), sizes.clone()));
    steps.dedup();
    steps
}

/// The kit of the sizes that were asked for.
pub(super) fn asked<'g>(layout: &Layout, grown: &'g [Grown]) -> Option<&'g Grown> {
    let fits = |grown: &&Grown| grown.sizes.iter().zip(&layout.pools).all(|(size, pool)| *size <= pool.size);
    grown.iter().rev().find(fits)
}
