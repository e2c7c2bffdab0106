//! A good kit in no time, for the exact search to beat: value after value, then one exchanged for another while that helps.

use super::{Choice, Clock, Needs, Problem, Score, Set, View, Wanted, with};

/// How often all exchanges are tried at most.
const MOST_ROUNDS: usize = 30;

/// Takes the network that adds most to what is served, again and again. Where every network needs one value of its own, that serves at
/// least 1 − 1/e of what the best kit does (G. L. Nemhauser, L. A. Wolsey, M. L. Fisher, "An analysis of approximations for maximizing
/// submodular set functions", Mathematical Programming 14, 1978). When the time is over, it ends with what it has.
#[must_use]
pub fn greedy(problem: &Problem, wanted: &Wanted, clock: Clock) -> Choice {
    let view = View::new(problem, wanted);
    let mut values = taken(&view, &[], clock);
    values.sort_unstable();
    Choice {
        score: view.score(&values),
        values,
        optimal: false,
        most_covered: view.asks.total(),
    }
}

/// The best of the greedy kit and a known one, each filled up and improved by exchanges, as far as the time reaches.
pub(super) fn improved(view: &View<'_>, known: Option<&[usize]>, clock: Clock) -> Option<(Score, Vec<usize>)> {
    let from = |start: &[usize]| exchanged(view, taken(view, &view.problem.known_values(start), clock), clock);
    // The known kit comes first, while there is time, and wins among equals.
    let known = known.map(from);
    let kits = [Some(from(&[])), known].into_iter().flatten();
    kits.max_by(|one, other| one.0.cmp(&other.0))
}

/// Goes on from a kit until nothing more fits in or adds anything. A kit is wanted in any case, so that this alone may go on a little
/// when the time is over.
fn taken(view: &View<'_>, start: &[usize], clock: Clock) -> Vec<usize> {
    let pool_of = view.problem.pool_of();
    let mut left = view.left.clone();
    let mut kit = view.fixed.clone();
    let mut sets = view.start.clone();
    for value in start {
        let is_paid = view.rest(&kit).is_none_or(|rest| view.problem.price([*value]) <= rest);
        if left[pool_of[*value]] > 0 && is_paid && !kit.contains(value) {
            left[pool_of[*value]] -= 1;
            kit.push(*value);
            sets = with(&sets, *value);
        }
    }
    while !clock.is_over_for_good()
        && let Some(needs) = next(view, &sets, &left, view.rest(&kit))
    {
        for value in needs.values() {
            left[pool_of[value]] -= 1;
            kit.push(value);
            sets = with(&sets, value);
        }
    }
    kit
}

/// The values of the set that adds most, if any adds something and fits.
fn next(view: &View<'_>, sets: &[Set], left: &[usize], rest: Option<u64>) -> Option<Needs> {
    let nothing = Set {
        needs: Needs::default(),
        served: vec![0; view.asks.words()],
        members: Vec::new(),
    };
    let base = sets.iter().find(|set| set.needs == Needs::default()).unwrap_or(&nothing);
    let mut known = vec![0; view.problem.weights().len()];
    base.members.iter().for_each(|network| view.raise(&mut known, *network));
    let fits = |set: &&Set| {
        let pools = left.iter().enumerate();
        let needed = |pool: usize| set.needs.values().filter(|value| view.problem.pool_of()[*value] == pool).count();
        set.needs != Needs::default() && view.is_paid(set, rest) && pools.into_iter().all(|(pool, left)| needed(pool) <= *left)
    };
    let gain = |set: &Set| view.asks.weigh_beyond(&set.served, &base.served);
    let fitting: Vec<(&Set, u64)> = sets.iter().filter(fits).map(|set| (set, gain(set))).collect();
    let most = fitting.iter().map(|(_, gain)| *gain).max()?;
    let surplus = |set: &Set| {
        let mut own = known.clone();
        set.members.iter().for_each(|network| view.raise(&mut own, *network));
        view.asks.sum(own.iter().zip(&known).map(|(own, known)| own - known))
    };
    let equal = fitting
        .into_iter()
        .filter(|(_, gain)| *gain == most)
        .map(|(set, _)| (surplus(set), set.needs));
    let (surplus, needs) = equal.max_by(|one, other| one.0.cmp(&other.0).then(other.1.cmp(&one.1)))?;
    (most > 0 || surplus > 0).then_some(needs)
}

/// Exchanges one value for another of its pool while that makes the kit better.
fn exchanged(view: &View<'_>, mut kit: Vec<usize>, clock: Clock) -> (Score, Vec<usize>) {
    let pool_of = view.problem.pool_of();
    let mut best = view.score(&kit);
    for _ in 0..MOST_ROUNDS {
        let before = best;
        for position in 0..kit.len() {
            let own = kit[position];
            if view.fixed.contains(&own) {
                continue;
            }
            let mut chosen = own;
            for other in (0..pool_of.len()).filter(|other| pool_of[*other] == pool_of[own]) {
                if kit.contains(&other) {
                    continue;
                }
                if clock.is_over() {
                    return (best, kit);
                }
                kit[position] = other;
                let budget = view.wanted.budget.filter(|_| view.problem.prices().is_some());
                let is_paid = budget.is_none_or(|budget| view.problem.price(kit.iter().copied()) <= budget);
                let score = view.score(&kit);
                if score > best && is_paid {
                    (best, chosen) = (score, other);
                }
                kit[position] = chosen;
            }
        }
        if best == before {
            break;
        }
    }
    (best, kit)
}
