//! Upper bounds of what the values of one pool can add, all values of the other pools being there.

use super::super::cover::unite;
use super::{Set, View};

/// The most that `left` values of a pool can cover together with what needs none of it, and what each value of the pool adds by itself.
pub(super) fn covered(view: &View<'_>, sets: &[Set], pool: usize, left: usize) -> (u64, Vec<(usize, u64)>) {
    let mut base = vec![0; view.asks.words()];
    let mut own: Vec<Option<Vec<u64>>> = vec![None; view.problem.pool_of().len()];
    for set in sets {
        let mut needs_none = true;
        for value in set.needs.values().filter(|value| view.problem.pool_of()[*value] == pool) {
            needs_none = false;
            match &mut own[value] {
                Some(own) => unite(own, &set.served),
                none => *none = Some(set.served.clone()),
            }
        }
        if needs_none {
            unite(&mut base, &set.served);
        }
    }
    let gains: Vec<(usize, u64)> = own
        .iter()
        .enumerate()
        .filter_map(|(value, own)| own.as_ref().map(|own| (value, view.asks.weigh_beyond(own, &base))))
        .collect();
    let mut union = base.clone();
    own.iter().flatten().for_each(|own| unite(&mut union, own));
    let most = largest(gains.iter().map(|(_, gain)| *gain), left);
    ((view.asks.weigh(&base) + most).min(view.asks.weigh(&union)), gains)
}

/// The largest sum of margins above the floor, in the same way.
pub(super) fn surplus(view: &View<'_>, sets: &[Set], pool: usize, left: usize) -> u128 {
    let asks = view.problem.weights().len();
    let mut base = vec![0; asks];
    let mut own: Vec<Option<Vec<u32>>> = vec![None; view.problem.pool_of().len()];
    for set in sets {
        let mut needs_none = true;
        for value in set.needs.values().filter(|value| view.problem.pool_of()[*value] == pool) {
            needs_none = false;
            let own = own[value].get_or_insert_with(|| vec![0; asks]);
            set.members.iter().for_each(|network| view.raise(own, *network));
        }
        if needs_none {
            set.members.iter().for_each(|network| view.raise(&mut base, *network));
        }
    }
    let gain = |own: &Vec<u32>| view.asks.sum(own.iter().zip(&base).map(|(own, base)| own.saturating_sub(*base)));
    view.asks.sum(base.iter().copied()) + largest(own.iter().flatten().map(gain), left)
}

/// The sum of the `count` largest.
fn largest<T: Ord + Copy + std::iter::Sum>(figures: impl Iterator<Item = T>, count: usize) -> T {
    let mut figures: Vec<T> = figures.collect();
    figures.sort_unstable_by(|one, other| other.cmp(one));
    figures.into_iter().take(count).sum()
}
