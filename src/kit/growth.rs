//! The best kit of each size, the smaller ones first, so that each begins with what a smaller one holds.

use super::aim::{Asked, Solved, better, solve};
use super::choose::Problem;
use super::clock::Clock;
use super::layout::Layout;
use super::{Request, in_millionths, margins};
use crate::progress::Progress;

/// How many steps beyond what was asked.
const BEYOND: usize = 2;

/// Kits by their sizes, the smaller ones first.
pub(super) struct Grown {
    /// How many values of each pool.
    pub(super) sizes: Vec<Vec<usize>>,
    /// The kit of each of them, none where there was no time; there is one of the sizes that were asked for.
    pub(super) kits: Vec<Option<Solved>>,
    /// The place of the sizes that were asked for.
    pub(super) asked: usize,
}

/// Kits of one value of each pool, of two, … up to what was asked and two more, and those with one more of a single pool. `told` is how
/// many steps of progress all of it comes to.
pub(super) fn grown(request: &Request, layout: &Layout, problem: &Problem, clock: Clock, (progress, told): (&dyn Progress, u64)) -> Grown {
    let sizes = steps(layout);
    let fits = |sizes: &Vec<usize>| sizes.iter().zip(&layout.pools).all(|(size, pool)| *size <= pool.size);
    let mut growing = Growing {
        fixed: layout.pools.iter().flat_map(|pool| pool.fixed.iter().copied()).collect(),
        floor: margins::whole(Some(request.floor_db - request.at_least_db)),
        budget: request.budget.map(in_millionths),
        grown: Grown {
            asked: sizes.iter().rposition(fits).unwrap_or(0),
            kits: vec![None; sizes.len()],
            sizes,
        },
        aim: request.aim,
        problem,
    };
    let mut open: Vec<usize> = (0..growing.grown.sizes.len()).collect();
    let each = told / open.len().max(1) as u64;
    let mut left = told;
    // What is not proved gets what the others leave, until all is proved or the time is over.
    loop {
        let before = open.len();
        growing.round(&open, clock);
        open.retain(|place| !growing.grown.kits[*place].as_ref().is_some_and(|kit| kit.optimal));
        let done = each * (before - open.len()) as u64;
        progress.advance(done);
        left -= done;
        if open.is_empty() || clock.is_over() {
            break;
        }
    }
    progress.advance(left);
    growing.grown
}

struct Growing<'p> {
    problem: &'p Problem,
    aim: super::Aim,
    fixed: Vec<usize>,
    floor: i32,
    budget: Option<u64>,
    grown: Grown,
}

impl Growing<'_> {
    /// Goes over some sizes, the smaller ones first. What was asked for may take as long as all the others together.
    fn round(&mut self, places: &[usize], clock: Clock) {
        let weight = |place: &usize| if *place == self.grown.asked { places.len() as f64 } else { 1.0 };
        let weights: Vec<f64> = places.iter().map(weight).collect();
        for (done, place) in places.iter().enumerate() {
            let known = self.known(*place);
            if clock.is_over() && !(*place == self.grown.asked && self.grown.kits[*place].is_none()) {
                self.adopt(*place, known);
                continue;
            }
            let clock = clock.share(weights[done] / weights[done..].iter().sum::<f64>());
            let sizes = &self.grown.sizes[*place];
            let asked = Asked {
                sizes,
                fixed: &self.fixed,
                aim: self.aim,
                floor: self.floor,
                budget: self.budget,
                // For the other sizes the price is told of a kit that serves most, which takes a fraction of the time.
                cheapest: *place == self.grown.asked,
            };
            let kit = solve(self.problem, &asked, known.as_deref(), clock);
            self.grown.kits[*place] = Some(kit);
        }
    }

    /// The best kit known that is no larger.
    fn known(&self, place: usize) -> Option<Vec<usize>> {
        let sizes = &self.grown.sizes;
        let no_larger = |other: &usize| sizes[*other].iter().zip(&sizes[place]).all(|(other, own)| other <= own);
        let smaller = (0..place).rev().find(|other| no_larger(other) && self.grown.kits[*other].is_some());
        let values = |place: usize| self.grown.kits[place].as_ref().map(|kit| kit.values.as_slice());
        match (values(place), smaller.and_then(values)) {
            (Some(own), Some(smaller)) => Some(better(self.problem, self.aim, self.floor, own, smaller).to_vec()),
            (own, smaller) => own.or(smaller).map(<[usize]>::to_vec),
        }
    }

    /// A kit that was tried before is never worse than a smaller one that has become better since.
    fn adopt(&mut self, place: usize, known: Option<Vec<usize>>) {
        if let (Some(kit), Some(known)) = (&mut self.grown.kits[place], known) {
            kit.values = known;
        }
    }
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
