//! A sharper bound than that of single gains: asks are let off having one network each, at a price.
//!
//! With F the worth of a set of networks to an ask (B when it is served, plus its margin above the floor; B so large that no sum of margins
//! reaches it), the best kit is worth max Σ_g w_g·max F over the kit. For any prices u ≥ 0 that is at most
//!
//! L(u) = Σ_g w_g·u_g + max over kits of Σ q, the sum over the kit's sets of q = Σ_g w_g·max(0, F − u_g)
//!
//! (Lagrangian relaxation of "one network an ask"; M. L. Fisher, "The Lagrangian relaxation method for solving integer programming
//! problems", Management Science 27(1), 1981). The second maximum is bounded in turn: each set is owned by its first value of some pool, a
//! value owns no more sets than the values still to be taken of the other pools can make, and the k largest owners count. Prices
//! descend along the subgradient, in steps towards the best kit known. A value whose being taken would bring L below that kit is
//! left out for good.

use super::{Clock, Needs, Set, View};

/// No more figures than these are held for a node; beyond, the plain bounds have to do.
const MOST_FIGURES: usize = 8_000_000;
/// What rounding could take away from a sum, as a share of it: far more than double precision does over all asks.
const SLACK: f64 = 1e-10;
/// Halve the steps after so many that did not lower the bound.
const PATIENCE: usize = 6;

/// Worth and prices, carried from a node to those below.
#[derive(Debug, Clone)]
pub(super) struct Prices {
    /// u of each ask.
    of: Vec<f64>,
}

/// What a relaxation tells about a node.
pub(super) struct Verdict {
    /// Whether no kit here is worth the threshold.
    pub(super) hopeless: bool,
    /// What no kit here is worth more than.
    pub(super) most: f64,
    /// Values that no kit worth the threshold takes.
    pub(super) useless: Vec<usize>,
}

/// The worth B of being served at all, beside the margin.
pub(super) fn worth_of_serving(view: &View<'_>) -> f64 {
    let mut best = vec![0; view.problem.weights().len()];
    (0..view.problem.needs().len()).for_each(|network| view.raise(&mut best, network as u32));
    let most = view.asks.sum(best.into_iter());
    let unit = view
        .problem
        .weights()
        .iter()
        .fold(0, |unit, weight| greatest_common_divisor(unit, *weight))
        .max(1);
    (most / u128::from(unit) + 1) as f64
}

fn greatest_common_divisor(one: u32, other: u32) -> u32 {
    if other == 0 {
        one
    } else {
        greatest_common_divisor(other, one % other)
    }
}

impl Prices {
    /// Half of what each ask could get at most.
    pub(super) fn new(view: &View<'_>, serving: f64) -> Self {
        let mut of = vec![0.0; view.problem.weights().len()];
        for network in 0..view.problem.needs().len() {
            for (price, margin) in of.iter_mut().zip(view.problem.margins_of(network)) {
                *price = f64::max(*price, worth(view, *margin, serving));
            }
        }
        of.iter_mut().for_each(|price| *price *= 0.9);
        Self { of }
    }
}

fn worth(view: &View<'_>, margin: i32, serving: f64) -> f64 {
    f64::from(view.surplus(margin)) + if margin >= view.wanted.cut { serving } else { 0.0 }
}

/// The worth of each set to each ask, set by set.
fn worths(view: &View<'_>, sets: &[Set], serving: f64) -> Vec<f64> {
    let asks = view.problem.weights().len();
    let mut worths = vec![0.0; sets.len() * asks];
    for (set, row) in sets.iter().zip(worths.chunks_mut(asks)) {
        let mut best = vec![super::SILENT; asks];
        for network in &set.members {
            for (best, margin) in best.iter_mut().zip(view.problem.margins_of(*network as usize)) {
                *best = (*best).max(*margin);
            }
        }
        for (cell, margin) in row.iter_mut().zip(best) {
            *cell = worth(view, margin, serving);
        }
    }
    worths
}

/// Lowers the bound of a node in so many steps, or until the time is over; `left` is how many values of each pool may still be taken, `threshold` what a kit must be
/// worth to be of interest.
pub(super) fn judge(
    view: &View<'_>,
    sets: &[Set],
    left: &[usize],
    prices: &mut Prices,
    serving: f64,
    threshold: f64,
    (steps, clock): (usize, Clock),
) -> Option<Verdict> {
    let asks = view.problem.weights().len();
    if asks == 0 || sets.len() * asks > MOST_FIGURES {
        return None;
    }
    let worths = worths(view, sets, serving);
    let pools: Vec<usize> = (0..left.len()).filter(|pool| left[*pool] > 0).collect();
    let owners: Vec<Owners> = pools.iter().map(|pool| Owners::new(view, sets, *pool, left)).collect();
    let weights = view.problem.weights();
    let (mut best, mut best_prices) = (f64::INFINITY, prices.of.clone());
    let (mut useless, mut since, mut scale) = (Vec::new(), 0, 1.0);
    let mut figures = vec![0.0; sets.len()];
    for _ in 0..steps {
        if clock.is_over() {
            break;
        }
        for (figure, row) in figures.iter_mut().zip(worths.chunks(asks)) {
            let gain = row
                .iter()
                .zip(&prices.of)
                .zip(weights)
                .map(|((worth, price), weight)| f64::from(*weight) * (worth - price).max(0.0));
            *figure = gain.sum();
        }
        let paid: f64 = prices
            .of
            .iter()
            .zip(weights)
            .map(|(price, weight)| price * f64::from(*weight))
            .sum();
        let relaxed: Vec<Relaxed> = owners.iter().map(|owners| owners.relaxed(&figures)).collect();
        let Some(least) = relaxed.iter().min_by(|one, other| one.value.total_cmp(&other.value)) else {
            break;
        };
        let bound = paid + least.value;
        for (owners, relaxed) in owners.iter().zip(&relaxed) {
            owners.useless(relaxed, (threshold / (1.0 + SLACK)) - paid, &mut useless);
        }
        if bound < best {
            (best, since) = (bound, 0);
            best_prices.clone_from(&prices.of);
        } else {
            since += 1;
            if since >= PATIENCE {
                (since, scale) = (0, scale * 0.5);
            }
        }
        if best * (1.0 + SLACK) < threshold {
            break;
        }
        let mut taken = vec![0.0_f64; asks];
        for set in &least.sets {
            let row = &worths[set * asks..(set + 1) * asks];
            for ((taken, worth), price) in taken.iter_mut().zip(row).zip(&prices.of) {
                *taken += f64::from(worth > price);
            }
        }
        let square: f64 = taken
            .iter()
            .zip(weights)
            .map(|(taken, weight)| f64::from(*weight) * (1.0 - taken).powi(2))
            .sum();
        if square == 0.0 {
            break;
        }
        // With steps scaled by the weights, a step of this length reaches the threshold if the bound falls as its slope says.
        let step = scale * (bound - threshold).max(0.0) / square;
        for (price, taken) in prices.of.iter_mut().zip(&taken) {
            *price = (*price - step * (1.0 - taken)).max(0.0);
        }
    }
    prices.of = best_prices;
    useless.sort_unstable();
    useless.dedup();
    Some(Verdict {
        hopeless: best * (1.0 + SLACK) < threshold,
        most: best * (1.0 + SLACK),
        useless,
    })
}

/// Sets by how many values of each pool they need.
type Patterns = Vec<(Vec<usize>, Vec<usize>)>;

/// The sets by their first value of one pool.
struct Owners {
    left: usize,
    /// The owners' values.
    values: Vec<usize>,
    /// For each owner, and at last for those without a value of the pool, the sets it owns by what they need, with how many of them a
    /// kit can hold.
    groups: Vec<Vec<(usize, Vec<usize>)>>,
    /// The set that needs nothing.
    always: Option<usize>,
}

/// The best relaxed choice.
struct Relaxed {
    value: f64,
    /// What each owner adds.
    gains: Vec<f64>,
    /// The gain that the last of those taken has.
    last: f64,
    sets: Vec<usize>,
}

impl Owners {
    fn new(view: &View<'_>, sets: &[Set], pool: usize, left: &[usize]) -> Self {
        let pool_of = view.problem.pool_of();
        let mut values: Vec<usize> = sets
            .iter()
            .flat_map(|set| set.needs.values())
            .filter(|value| pool_of[*value] == pool)
            .collect();
        values.sort_unstable();
        values.dedup();
        let mut groups: Vec<Patterns> = vec![Vec::new(); values.len() + 1];
        for (index, set) in sets.iter().enumerate().filter(|(_, set)| set.needs != Needs::default()) {
            let owner = set.needs.values().filter(|value| pool_of[*value] == pool).min();
            let place = owner.and_then(|owner| values.binary_search(&owner).ok());
            let mut pattern = vec![0; left.len()];
            set.needs.values().for_each(|value| pattern[pool_of[value]] += 1);
            let group = &mut groups[place.unwrap_or(values.len())];
            match group.iter_mut().find(|(known, _)| *known == pattern) {
                Some((_, members)) => members.push(index),
                None => group.push((pattern, vec![index])),
            }
        }
        let last = values.len();
        let counted = |(place, group): (usize, Patterns)| {
            let count = |(pattern, members): (Vec<usize>, Vec<usize>)| (most_sets(&pattern, left, (place < last).then_some(pool)), members);
            group.into_iter().map(count).collect()
        };
        Self {
            left: left[pool],
            groups: groups.into_iter().enumerate().map(counted).collect(),
            always: sets.iter().position(|set| set.needs == Needs::default()),
            values,
        }
    }

    fn relaxed(&self, figures: &[f64]) -> Relaxed {
        let mut gains = Vec::with_capacity(self.values.len());
        let mut owned: Vec<Vec<usize>> = Vec::with_capacity(self.groups.len());
        for group in &self.groups {
            let (mut gain, mut sets) = (0.0, Vec::new());
            for (most, members) in group {
                let mut ranked: Vec<usize> = members.clone();
                if ranked.len() > *most {
                    ranked.sort_unstable_by(|one, other| figures[*other].total_cmp(&figures[*one]));
                    ranked.truncate(*most);
                }
                gain += ranked.iter().map(|set| figures[*set]).sum::<f64>();
                sets.extend(ranked);
            }
            gains.push(gain);
            owned.push(sets);
        }
        let unowned = gains.pop().unwrap_or(0.0);
        let mut order: Vec<usize> = (0..gains.len()).collect();
        order.sort_by(|one, other| gains[*other].total_cmp(&gains[*one]));
        order.truncate(self.left);
        let always = self.always.map_or(0.0, |set| figures[set]);
        let value = always + unowned + order.iter().map(|owner| gains[*owner]).sum::<f64>();
        let last = if order.len() < self.left {
            0.0
        } else {
            order.last().map_or(0.0, |owner| gains[*owner])
        };
        let chosen = order.into_iter().chain([self.values.len()]);
        let sets = chosen.flat_map(|owner| owned[owner].iter().copied()).chain(self.always).collect();
        Relaxed { value, gains, last, sets }
    }

    /// Values whose being taken leaves less than `least` of the bound.
    fn useless(&self, relaxed: &Relaxed, least: f64, into: &mut Vec<usize>) {
        for (value, gain) in self.values.iter().zip(&relaxed.gains) {
            let with = relaxed.value - relaxed.last + gain;
            if *gain < relaxed.last && with < least - SLACK * relaxed.value.abs() {
                into.push(*value);
            }
        }
    }
}

/// How many sets of one pattern (values needed of each pool) the values still to be taken can make; with an owner, one value of its pool is
/// settled.
fn most_sets(pattern: &[usize], left: &[usize], owner: Option<usize>) -> usize {
    let pools = pattern.iter().zip(left).enumerate();
    let ways = pools.map(|(pool, (needed, left))| {
        let settled = usize::from(owner == Some(pool));
        let (needed, left) = (needed.saturating_sub(settled), left.saturating_sub(settled));
        (0..needed).fold(1_usize, |ways, step| ways.saturating_mul(left.saturating_sub(step)) / (step + 1))
    });
    ways.fold(1, usize::saturating_mul)
}
