//! The exact choice: so many values of each pool that the networks they make serve most.
//!
//! Every network needs one or more values, and an ask (one guitar with one target) is served when some network, all of whose values are in
//! the kit, has a margin of at least the cut. The search is branch and bound: pools one after the other, the one with the fewest
//! combinations first; in a pool one value is taken or left for good. Whatever is decided turns the networks into fewer: those that need a
//! value left out are dropped, those that need the same undecided values become one set of asks.
//!
//! Two bounds end a branch. For any pool with k values still to take: what is served without a value of the pool counts in full, and each
//! value adds what its networks serve beyond; the sum of the k largest is never below what any k add together (the gain of a union is at
//! most the sum of the gains), the values of other pools being all there. It is cheap, and `bound` asks it first, for the asks served and for
//! the sum of margins, which decides among equals. The sharper one is that of `relax`, which takes both together and minds all pools at once.

mod bound;
mod greedy;
mod problem;
mod relax;

use super::clock::Clock;
use super::cover::{Asks, unite};
pub use greedy::greedy;
pub(super) use problem::too_many;
pub use problem::{Choice, MOST_NEEDS, MOST_POOLS, MOST_TAKEN, Problem, SILENT, Score, Wanted};
use relax::Prices;

/// Steps in which the sharper bound is lowered, at first and at each node below.
const STEPS_AT_ROOT: usize = 100;
const STEPS: usize = 12;

/// The best kit there is, or the best found until the time is over. `known` is a kit to begin with, as one of a smaller size.
///
/// `None` if `wanted` is a kit that serves every ask, or so many, and there is none.
#[must_use]
pub fn choose(problem: &Problem, wanted: &Wanted, known: Option<&[usize]>, clock: Clock) -> Option<Choice> {
    let view = View::new(problem, wanted);
    let best = greedy::improved(&view, known, clock).unwrap_or_default();
    let total = view.asks.total();
    let serving = relax::worth_of_serving(&view);
    let mut search = Search {
        serving,
        least: if wanted.all { total } else { wanted.least },
        best,
        view: &view,
        clock,
        late: false,
        open: 0,
    };
    if !(wanted.all && search.best.0.covered == total) {
        let mut kit = view.fixed.clone();
        let above = Above {
            prices: Prices::new(&view, serving),
            most_covered: total,
        };
        let first = view.order.first().map_or(0, |pool| view.left[*pool]);
        search.node(0, first, view.start.clone(), &mut kit, &above);
    }
    let (score, mut values) = search.best;
    values.sort_unstable();
    values.dedup();
    let choice = Choice {
        most_covered: if search.late {
            score.covered.max(search.open)
        } else {
            score.covered
        },
        optimal: !search.late,
        values,
        score,
    };
    let is_enough = score.covered >= if wanted.all { total } else { wanted.least };
    (is_enough || search.late).then_some(choice)
}

/// How good a kit of given values is.
#[must_use]
pub fn score(problem: &Problem, wanted: &Wanted, values: &[usize]) -> Score {
    View::new(problem, wanted).score(values)
}

/// Networks that need the same undecided values.
#[derive(Debug, Clone)]
struct Set {
    needs: Needs,
    /// What they serve together.
    served: Vec<u64>,
    /// Which they are.
    members: Vec<u32>,
}

/// Up to four values, each plus one in 16 bits of its own, the largest at the top: as numbers they can be sorted and compared at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Needs(u64);

impl Needs {
    fn new(values: &[usize]) -> Self {
        Self(values.iter().rev().fold(0, |packed, value| packed << 16 | (*value as u64 + 1)))
    }

    fn values(self) -> impl Iterator<Item = usize> {
        (0..MOST_NEEDS)
            .map(move |place| (self.0 >> (16 * place)) & 0xffff)
            .filter(|value| *value > 0)
            .map(|value| value as usize - 1)
    }

    fn holds(self, value: usize) -> bool {
        self.values().any(|own| own == value)
    }

    fn without(self, value: usize) -> Self {
        let (mut packed, mut place) = (0, 0);
        for own in self.values().filter(|own| *own != value) {
            packed |= (own as u64 + 1) << (16 * place);
            place += 1;
        }
        Self(packed)
    }
}

/// A problem seen with what is wanted.
struct View<'p> {
    problem: &'p Problem,
    wanted: &'p Wanted,
    asks: Asks,
    /// The values that are in the kit already, as far as there are such values.
    fixed: Vec<usize>,
    /// Pools in the order in which they are decided.
    order: Vec<usize>,
    /// How many values of each pool are still to be taken.
    left: Vec<usize>,
    /// The networks with the fixed values in.
    start: Vec<Set>,
}

impl<'p> View<'p> {
    fn new(problem: &'p Problem, wanted: &'p Wanted) -> Self {
        let asks = Asks::new(problem.weights());
        let set = |(network, needs): (usize, &Vec<usize>)| Set {
            needs: Needs::new(needs),
            served: asks.at_least(problem.margins_of(network), wanted.cut),
            members: vec![network as u32],
        };
        let mut start: Vec<Set> = problem.needs().iter().enumerate().map(set).collect();
        merge(&mut start);
        let values_in = |pool: usize| problem.pool_of().iter().filter(|own| **own == pool).count();
        let mut left: Vec<usize> = (0..problem.pools())
            .map(|pool| {
                wanted
                    .sizes
                    .get(pool)
                    .map_or(0, |size| (*size).min(MOST_TAKEN).min(values_in(pool)))
            })
            .collect();
        let fixed = problem.known_values(&wanted.fixed);
        for value in &fixed {
            start = with(&start, *value);
            left[problem.pool_of()[*value]] = left[problem.pool_of()[*value]].saturating_sub(1);
        }
        let mut order: Vec<usize> = (0..left.len()).collect();
        order.sort_by(|one, other| combinations(values_in(*one), left[*one]).total_cmp(&combinations(values_in(*other), left[*other])));
        Self {
            problem,
            wanted,
            asks,
            fixed,
            order,
            left,
            start,
        }
    }

    /// What is left of the budget beside a kit, where there is one.
    fn rest(&self, kit: &[usize]) -> Option<u64> {
        let budget = self.wanted.budget.filter(|_| self.problem.prices().is_some())?;
        // A kit is never begun with what it cannot pay, but for what is in the bag already.
        Some(budget.saturating_sub(self.problem.price(kit.iter().copied())))
    }

    /// Whether the values that a set still needs can be paid.
    fn is_paid(&self, set: &Set, rest: Option<u64>) -> bool {
        rest.is_none_or(|rest| self.problem.price(set.needs.values()) <= rest)
    }

    /// What a margin adds to the surplus.
    fn surplus(&self, margin: i32) -> u32 {
        margin.max(self.wanted.floor).abs_diff(self.wanted.floor)
    }

    /// Raises each ask's surplus to what a network gives it.
    fn raise(&self, into: &mut [u32], network: u32) {
        for (into, margin) in into.iter_mut().zip(self.problem.margins_of(network as usize)) {
            *into = (*into).max(self.surplus(*margin));
        }
    }

    fn score(&self, values: &[usize]) -> Score {
        let mut in_kit = vec![false; self.problem.pool_of().len()];
        for value in self.problem.known_values(values) {
            in_kit[value] = true;
        }
        let best = self.problem.best_margins(|needs| needs.iter().all(|need| in_kit[*need]));
        Score {
            covered: self.asks.weigh(&self.asks.at_least(&best, self.wanted.cut)),
            surplus: self.asks.sum(best.into_iter().map(|margin| self.surplus(margin))),
        }
    }
}

fn combinations(of: usize, taken: usize) -> f64 {
    (0..taken.min(of)).map(|step| (of - step) as f64 / (step + 1) as f64).product()
}

/// Makes one of the sets that need the same.
fn merge(sets: &mut Vec<Set>) {
    sets.sort_by_key(|set| set.needs);
    let mut merged: Vec<Set> = Vec::with_capacity(sets.len());
    for set in sets.drain(..) {
        match merged.last_mut() {
            Some(last) if last.needs == set.needs => {
                unite(&mut last.served, &set.served);
                last.members.extend(set.members);
            }
            _ => merged.push(set),
        }
    }
    *sets = merged;
}

/// The sets once a value is in the kit.
fn with(sets: &[Set], value: usize) -> Vec<Set> {
    let mut taken: Vec<Set> = sets.to_vec();
    for set in &mut taken {
        set.needs = set.needs.without(value);
    }
    merge(&mut taken);
    taken
}

/// What a node knows from the one above.
#[derive(Clone)]
struct Above {
    prices: Prices,
    /// What no kit there covers more than, by the sharper bound.
    most_covered: u64,
}

struct Search<'v> {
    view: &'v View<'v>,
    best: (Score, Vec<usize>),
    /// The worth of serving an ask beside that of its margin.
    serving: f64,
    /// Kits that cover less are of no use.
    least: u64,
    clock: Clock,
    /// Whether the time ran out.
    late: bool,
    /// The largest bound of what was not searched for lack of time.
    open: u64,
}

impl Search<'_> {
    fn is_over(&mut self, bound: u64) -> bool {
        // A node takes far longer than a look at the clock, some of them a hundred milliseconds.
        self.late = self.late || self.clock.is_over();
        if self.late {
            self.open = self.open.max(bound);
        }
        self.late || (self.view.wanted.all && self.best.0.covered >= self.view.asks.total())
    }

    /// Decides the pool at `level`, of which `left` values may still be taken.
    fn node(&mut self, level: usize, left: usize, mut sets: Vec<Set>, kit: &mut Vec<usize>, above: &Above) {
        let Some(pool) = self.view.order.get(level).copied() else {
            return self.offer(&sets, kit);
        };
        let rest = self.view.rest(kit);
        sets.retain(|set| self.view.is_paid(set, rest));
        let in_pool = |set: &Set| set.needs.values().any(|value| self.view.problem.pool_of()[value] == pool);
        if left == 0 || !sets.iter().any(in_pool) {
            sets.retain(|set| !in_pool(set));
            let next = self.view.order.get(level + 1).map_or(0, |pool| self.view.left[*pool]);
            return self.node(level + 1, next, sets, kit, above);
        }
        let Some((bound, mut order)) = self.bound(level, left, &sets) else {
            return;
        };
        if self.is_over(bound.min(above.most_covered)) {
            return;
        }
        if left == 1 && level + 1 == self.view.order.len() {
            self.last(&sets, &order, kit);
            if rest.is_some() {
                self.offer(&sets, kit);
            }
            return;
        }
        let mut own = above.clone();
        let steps = if kit.len() == self.view.fixed.len() { STEPS_AT_ROOT } else { STEPS };
        if self.is_hopeless(level, left, &mut sets, &mut own, steps) {
            return;
        }
        let mut hopeless = false;
        order.retain(|(value, _)| sets.iter().any(|set| set.needs.holds(*value)));
        order.sort_by_key(|(value, gain)| (std::cmp::Reverse(*gain), *value));
        for (position, (value, _)) in order.iter().enumerate() {
            kit.push(*value);
            self.node(level, left - 1, with(&sets, *value), kit, &own);
            kit.pop();
            if self.late {
                // What is left here is bounded as the whole of it was.
                self.open = self.open.max(bound.min(own.most_covered));
                return;
            }
            sets.retain(|set| !set.needs.holds(*value));
            if position + 1 == order.len() {
                break;
            }
            // What is left of the pool shrinks from value to value, until it cannot be enough.
            hopeless = match self.bound(level, left, &sets) {
                Some((bound, _)) => self.is_over(bound.min(own.most_covered)) || self.is_hopeless(level, left, &mut sets, &mut own, STEPS),
                None => true,
            };
            if hopeless {
                break;
            }
        }
        // Under a budget fewer values of this pool may leave more for the next.
        if rest.is_some() && !hopeless {
            sets.retain(|set| !in_pool(set));
            let next = self.view.order.get(level + 1).map_or(0, |pool| self.view.left[*pool]);
            self.node(level + 1, next, sets, kit, &own);
        }
    }

    /// Asks the sharper bound, which also drops the sets of values that no better kit takes.
    fn is_hopeless(&mut self, level: usize, left: usize, sets: &mut Vec<Set>, own: &mut Above, steps: usize) -> bool {
        let view = self.view;
        let mut free = vec![0; view.left.len()];
        for (place, pool) in view.order.iter().enumerate().skip(level) {
            free[*pool] = if place == level { left } else { view.left[*pool] };
        }
        // Worth is a whole number: what does not reach half a one more than the best is not better.
        let better = self.best.0.covered as f64 * self.serving + self.best.0.surplus as f64 + 0.5;
        let threshold = better.max(self.least as f64 * self.serving);
        let Some(verdict) = relax::judge(view, sets, &free, &mut own.prices, self.serving, threshold, (steps, self.clock)) else {
            return false;
        };
        // A float that is too large for the integer is held at its end; the bound is not below zero.
        own.most_covered = own.most_covered.min((verdict.most / self.serving) as u64);
        if !verdict.useless.is_empty() {
            sets.retain(|set| !set.needs.values().any(|value| verdict.useless.contains(&value)));
        }
        verdict.hopeless
    }

    /// What can be covered at most and the gain of each value of the pool at `level`; `None` if nothing here beats the best.
    fn bound(&mut self, level: usize, left: usize, sets: &[Set]) -> Option<(u64, Vec<(usize, u64)>)> {
        let view = self.view;
        let mut own = Vec::new();
        let mut least = u64::MAX;
        for (deeper, pool) in view.order.iter().enumerate().skip(level) {
            let left = if deeper == level { left } else { view.left[*pool] };
            let (bound, gains) = bound::covered(view, sets, *pool, left);
            least = least.min(bound);
            if least < self.least.max(self.best.0.covered) {
                return None;
            }
            if deeper == level {
                own = gains;
            }
        }
        if least > self.best.0.covered || view.wanted.all {
            return Some((least, own));
        }
        for (deeper, pool) in view.order.iter().enumerate().skip(level) {
            let left = if deeper == level { left } else { view.left[*pool] };
            if bound::surplus(view, sets, *pool, left) <= self.best.0.surplus {
                return None;
            }
        }
        Some((least, own))
    }

    /// The last value of all: each one is tried.
    fn last(&mut self, sets: &[Set], order: &[(usize, u64)], kit: &mut Vec<usize>) {
        let rest = self.view.rest(kit);
        let payable = |value: usize| rest.is_none_or(|rest| self.view.problem.price([value]) <= rest);
        for (value, _) in order.iter().filter(|(value, _)| payable(*value)) {
            kit.push(*value);
            let fits = |set: &&Set| set.needs.without(*value) == Needs::default();
            let mut served = vec![0; self.view.asks.words()];
            sets.iter().filter(fits).for_each(|set| unite(&mut served, &set.served));
            if self.view.asks.weigh(&served) >= self.best.0.covered.max(self.least) {
                let members = sets.iter().filter(fits).flat_map(|set| &set.members);
                self.settle(&served, members, kit);
            }
            kit.pop();
        }
    }

    fn offer(&mut self, sets: &[Set], kit: &[usize]) {
        let Some(all) = sets.iter().find(|set| set.needs == Needs::default()) else {
            return;
        };
        self.settle(&all.served, all.members.iter(), kit);
    }

    fn settle<'m>(&mut self, served: &[u64], members: impl Iterator<Item = &'m u32>, kit: &[usize]) {
        let covered = self.view.asks.weigh(served);
        if covered < self.best.0.covered.max(self.least) {
            return;
        }
        let mut best = vec![0; self.view.problem.weights().len()];
        members.for_each(|network| self.view.raise(&mut best, *network));
        let score = Score {
            covered,
            surplus: self.view.asks.sum(best.into_iter()),
        };
        if score > self.best.0 {
            self.best = (score, kit.to_vec());
        }
    }
}
