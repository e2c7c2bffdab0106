//! What a kit is to be best at, on top of the exact choice.

use super::Aim;
use super::choose::{Choice, Problem, SILENT, Wanted, choose, greedy};
use super::clock::Clock;

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

/// What kit is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// How many values of each pool.
    pub sizes: &'a [usize],
    /// Values that are in it already.
    pub fixed: &'a [usize],
    /// What it is to be best at.
    pub aim: Aim,
    /// With [`Aim::Margin`], margins below count as this in sums.
    pub floor: i32,
    /// What it may cost, in millionths, one piece of each value.
    pub budget: Option<u64>,
    /// Whether, where prices are known and coverage is the aim, the cheapest is wanted of those that cover most.
    pub cheapest: bool,
}

/// The best kit asked for, or the best found in time, beginning with a known one.
#[must_use]
pub fn solve(problem: &Problem, asked: &Asked<'_>, known: Option<&[usize]>, clock: Clock) -> Solved {
    let Asked {
        sizes,
        fixed,
        aim,
        floor,
        budget,
        cheapest,
    } = *asked;
    let wanted = Wanted {
        budget,
        ..Wanted::coverage(sizes, fixed)
    };
    match aim {
        Aim::Coverage => of_coverage(problem, &wanted, cheapest, known, clock),
        Aim::Margin => of_margin(problem, &Wanted { floor, ..wanted }, known, clock),
    }
}

fn of_coverage(problem: &Problem, wanted: &Wanted, is_cheapest: bool, known: Option<&[usize]>, clock: Clock) -> Solved {
    let total: u64 = problem.weights().iter().map(|weight| u64::from(*weight)).sum();
    match choose(problem, wanted, known, clock).map(|choice| {
        if is_cheapest {
            cheapest(problem, wanted, choice, clock)
        } else {
            choice
        }
    }) {
        Some(choice) => Solved {
            gap: (choice.most_covered - choice.score.covered) as f64 / total.max(1) as f64,
            optimal: choice.optimal,
            values: choice.values,
        },
        None => nothing(),
    }
}

/// Of the kits that cover as much as one, the cheapest, and of these the one with the largest margins: cheaper ones are asked for until there
/// is none.
fn cheapest(problem: &Problem, wanted: &Wanted, mut best: Choice, clock: Clock) -> Choice {
    while problem.prices().is_some() && best.optimal {
        let Some(cheaper) = problem.price(best.values.iter().copied()).checked_sub(1) else {
            break;
        };
        let wanted = Wanted {
            budget: Some(cheaper),
            least: best.score.covered,
            ..wanted.clone()
        };
        match choose(problem, &wanted, None, clock) {
            None => break,
            // What is in the bag already is there, whatever it costs.
            Some(found) if problem.price(found.values.iter().copied()) > cheaper => break,
            Some(found) if found.score.covered >= best.score.covered && found.optimal => best = found,
            Some(found) => {
                // A cheaper one may be there.
                let is_as_good = found.score.covered >= best.score.covered;
                best = Choice {
                    optimal: false,
                    most_covered: best.most_covered,
                    ..if is_as_good { found } else { best }
                };
            }
        }
    }
    best
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
    problem
        .best_margins(|needs| needs.iter().all(|need| values.contains(need)))
        .into_iter()
        .min()
        .unwrap_or(SILENT)
}

/// The better of two kits, the first among equals.
pub(super) fn better<'k>(problem: &Problem, aim: Aim, floor: i32, one: &'k [usize], other: &'k [usize]) -> &'k [usize] {
    let cut = if aim == Aim::Coverage { 0 } else { floor };
    let figure = |values: &[usize]| -> (i32, u64, u128) {
        let best = problem.best_margins(|needs| needs.iter().all(|need| values.contains(need)));
        let of_each = || best.iter().zip(problem.weights());
        let met = of_each().filter(|(margin, _)| **margin >= 0);
        let spare = |(margin, weight): (&i32, &u32)| u128::from(u64::from((*margin).max(cut).abs_diff(cut)) * u64::from(*weight));
        let surplus = of_each().map(spare).sum();
        match aim {
            Aim::Coverage => (0, met.map(|(_, weight)| u64::from(*weight)).sum(), surplus),
            Aim::Margin => (best.iter().copied().min().unwrap_or(SILENT), 0, surplus),
        }
    };
    if figure(other) > figure(one) { other } else { one }
}

/// The largest margin T that some kit gives every ask, by halving among all margins there are; then, of the kits that do, the one with the
/// largest sum of margins.
fn of_margin(problem: &Problem, wanted: &Wanted, known: Option<&[usize]>, clock: Clock) -> Solved {
    let most = problem.best_margins(|_| true).into_iter().min().unwrap_or(SILENT);
    let at = |cut: i32, all: bool| Wanted {
        cut,
        all,
        ..wanted.clone()
    };
    let start = greedy(problem, &at(most, false), clock).values;
    let mut kit = match known {
        Some(known) if worst(problem, known) > worst(problem, &start) => known.to_vec(),
        _ => start,
    };
    let mut reached = worst(problem, &kit);
    let mut open: Vec<i32> = problem
        .margins()
        .iter()
        .copied()
        .filter(|margin| *margin > reached && *margin <= most)
        .collect();
    open.sort_unstable();
    open.dedup();
    let mut optimal = true;
    while !open.is_empty() && optimal {
        let middle = open.len() / 2;
        match choose(problem, &at(open[middle], true), Some(&kit), clock) {
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
    if clock.is_over() {
        return Solved {
            values: kit,
            optimal: false,
            gap,
        };
    }
    match choose(problem, &at(reached, false), Some(&kit), clock) {
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
