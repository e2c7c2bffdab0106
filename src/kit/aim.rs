//! What a kit is to be best at, on top of the exact choice.

use std::time::{Duration, Instant};

use super::Aim;
use super::choose::{Choice, Problem, SILENT, Wanted, choose, greedy};

/// A kit with its proof.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// Its values, ascending.
    pub values: Vec<usize>,
    /// Whether no other kit is better.
    pub optimal: bool,
    /// By how much another could be better at most: as a share of all asks' weight for coverage, in the margins' parts for margin.
    pub gap: f64,
}

/// The best kit of these sizes, or the best found in time, beginning with a known one. Margins below `floor` count as `floor` in sums.
#[must_use]
pub fn solve(
    problem: &Problem,
    sizes: &[usize],
    fixed: &[usize],
    aim: Aim,
    floor: i32,
    known: Option<&[usize]>,
    limit: Option<Duration>,
) -> Solved {
    let deadline = limit.and_then(|limit| Instant::now().checked_add(limit));
    let wanted = Wanted::coverage(sizes, fixed);
    match aim {
        Aim::Coverage => of_coverage(problem, &wanted, known, deadline),
        Aim::Margin => of_margin(problem, &Wanted { floor, ..wanted }, known, deadline),
    }
}

fn of_coverage(problem: &Problem, wanted: &Wanted, known: Option<&[usize]>, deadline: Option<Instant>) -> Solved {
    let total: u64 = problem.weights.iter().map(|weight| u64::from(*weight)).sum();
    match choose(problem, wanted, known, deadline) {
        Some(choice) => Solved {
            gap: (choice.most_covered - choice.score.covered) as f64 / total.max(1) as f64,
            optimal: choice.optimal,
            values: choice.values,
        },
        None => nothing(),
    }
}

fn nothing() -> Solved {
    Solved {
        values: Vec::new(),
        optimal: true,
        gap: 0.0,
    }
}

/// The smallest margin over the asks that a kit leaves; [`SILENT`] where an ask has none.
#[must_use]
pub fn worst(problem: &Problem, values: &[usize]) -> i32 {
    best_margins(problem, |needs| needs.iter().all(|need| values.contains(need)))
        .into_iter()
        .min()
        .unwrap_or(SILENT)
}

/// The best margin of each ask over the networks whose needs fit.
pub(super) fn best_margins(problem: &Problem, fits: impl Fn(&[usize]) -> bool) -> Vec<i32> {
    let mut best = vec![SILENT; problem.weights.len()];
    for (network, _) in problem.needs.iter().enumerate().filter(|(_, needs)| fits(needs.as_slice())) {
        for (best, margin) in best.iter_mut().zip(problem.margins_of(network)) {
            *best = (*best).max(*margin);
        }
    }
    best
}

/// The largest margin T that some kit gives every ask, by halving among all margins there are; then, of the kits that do, the one with the
/// largest sum of margins.
fn of_margin(problem: &Problem, wanted: &Wanted, known: Option<&[usize]>, deadline: Option<Instant>) -> Solved {
    let most = best_margins(problem, |_| true).into_iter().min().unwrap_or(SILENT);
    let at = |cut: i32, all: bool| Wanted {
        cut,
        all,
        ..wanted.clone()
    };
    let start = greedy(problem, &at(most, false)).values;
    let mut kit = match known {
        Some(known) if worst(problem, known) > worst(problem, &start) => known.to_vec(),
        _ => start,
    };
    let mut reached = worst(problem, &kit);
    let mut open: Vec<i32> = problem
        .margins
        .iter()
        .copied()
        .filter(|margin| *margin > reached && *margin <= most)
        .collect();
    open.sort_unstable();
    open.dedup();
    let mut optimal = true;
    while !open.is_empty() && optimal {
        let middle = open.len() / 2;
        match choose(problem, &at(open[middle], true), Some(&kit), deadline) {
            Some(Choice { values, .. }) if worst(problem, &values) >= open[middle] => {
                reached = worst(problem, &values);
                kit = values;
                open.retain(|margin| *margin > reached);
            }
            Some(_) => optimal = false,
            None => open.truncate(middle),
        }
    }
    let gap = open.last().map_or(0.0, |most| f64::from(*most) - f64::from(reached));
    match choose(problem, &at(reached, false), Some(&kit), deadline) {
        Some(choice) if worst(problem, &choice.values) >= reached => Solved {
            values: choice.values,
            optimal: optimal && choice.optimal,
            gap,
        },
        _ => Solved {
            values: kit,
            optimal: false,
            gap,
        },
    }
}
