//! The order of builds, and the few that must be kept to know the first N of any number.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Margins this close, in dB, are one group.
pub const GROUP_WIDTH: f64 = 0.01;

/// Rounding must not decide what is kept; ranking itself uses [`GROUP_WIDTH`] alone.
const KEEPING_SLACK: f64 = 1e-9;

/// A candidate with everything its rank depends on.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Margin in dB, finite.
    pub margin: f64,
    /// How many parts it has.
    pub parts: usize,
    /// What they cost, if every price is known.
    pub cost: Option<f64>,
    /// Every part's value, slot by slot, in written order.
    pub values: Vec<Vec<f64>>,
    /// The written network of each slot.
    pub written: Vec<String>,
    /// Which space it comes from.
    pub space: usize,
    /// The choice of each free part, in slot and written order.
    pub choices: Vec<usize>,
    /// The values of the free parts alone, slot by slot; a pair has the value of both together.
    pub chosen: Vec<Vec<f64>>,
}

impl Entry {
    /// The order inside a group: fewer parts; known cost before unknown, then cheaper; values slot by slot; written networks.
    #[must_use]
    pub fn compare_in_group(&self, other: &Self) -> Ordering {
        let cost = match (self.cost, other.cost) {
            (Some(own), Some(others)) => own.total_cmp(&others),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (None, None) => Ordering::Equal,
        };
        self.parts
            .cmp(&other.parts)
            .then(cost)
            .then_with(|| compare_values(&self.values, &other.values))
            .then_with(|| self.written.cmp(&other.written))
            // Two spaces can hold the same build, one with a part fixed that the other leaves free.
            .then(self.space.cmp(&other.space))
    }
}

fn compare_values(own: &[Vec<f64>], others: &[Vec<f64>]) -> Ordering {
    for (own, others) in own.iter().zip(others) {
        for (own, other) in own.iter().zip(others) {
            match own.total_cmp(other) {
                Ordering::Equal => {}
                decided => return decided,
            }
        }
        match own.len().cmp(&others.len()) {
            Ordering::Equal => {}
            decided => return decided,
        }
    }
    own.len().cmp(&others.len())
}

/// The first `top` of all entries: by margin, in groups of [`GROUP_WIDTH`] that each hang on their own best.
#[must_use]
pub fn rank(mut entries: Vec<Entry>, top: usize) -> Vec<Entry> {
    entries.sort_by(|one, other| other.margin.total_cmp(&one.margin).then_with(|| one.compare_in_group(other)));
    let mut ranked = Vec::with_capacity(top.min(entries.len()));
    let mut rest = entries.into_iter().peekable();
    while let Some(best) = rest.next() {
        if ranked.len() >= top {
            break;
        }
        let margin = best.margin;
        let mut group = vec![best];
        while let Some(next) = rest.next_if(|next| margin - next.margin <= GROUP_WIDTH) {
            group.push(next);
        }
        group.sort_by(Entry::compare_in_group);
        ranked.extend(group);
    }
    ranked.truncate(top);
    ranked
}

/// How many of a ranked list, given by their margins, are its first group.
#[must_use]
pub fn group(margins: &[f64]) -> usize {
    let best = margins.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    margins.iter().take_while(|margin| best - **margin <= GROUP_WIDTH).count()
}

/// The `top` largest margins so far, and the margin below which nothing can be among the first any more.
#[derive(Debug, Clone)]
pub struct Floor {
    top: usize,
    /// Smallest on top.
    best: BinaryHeap<Smallest>,
}

impl Floor {
    /// For the first `top`, at least one.
    #[must_use]
    pub fn new(top: usize) -> Self {
        Self {
            top: top.max(1),
            best: BinaryHeap::new(),
        }
    }

    /// The smallest of the `top` largest margins less the width of a group; −∞ until so many are known.
    #[must_use]
    pub fn margin(&self) -> f64 {
        self.least().map_or(f64::NEG_INFINITY, |least| least - GROUP_WIDTH - KEEPING_SLACK)
    }

    /// The smallest of the `top` largest margins; `None` until so many are known.
    #[must_use]
    pub fn least(&self) -> Option<f64> {
        self.best.peek().filter(|_| self.best.len() == self.top).map(|least| least.0)
    }

    /// Takes a candidate's margin into account, which must be a number.
    pub fn count(&mut self, margin: f64) {
        debug_assert!(margin.is_finite(), "{margin} dB is no margin");
        if self.best.len() < self.top {
            self.best.push(Smallest(margin));
        } else if self.best.peek().is_some_and(|least| least.0 < margin) {
            self.best.pop();
            self.best.push(Smallest(margin));
        }
    }

    /// Takes another's margins into account, which must be of other candidates.
    pub fn merge(&mut self, other: &Self) {
        for Smallest(margin) in &other.best {
            self.count(*margin);
        }
    }
}

/// Keeps, of all entries offered, at least those that can be among the first `top`.
#[derive(Debug, Clone)]
pub struct Kept {
    entries: Vec<Entry>,
    floor: Floor,
}

/// How many entries, as a multiple of those wanted, are held before the hopeless are dropped.
const COMPACT_AT: usize = 64;

impl Kept {
    /// Keeps for the first `top`, at least one.
    #[must_use]
    pub fn new(top: usize) -> Self {
        Self {
            entries: Vec::new(),
            floor: Floor::new(top),
        }
    }

    /// Below this margin nothing can be among the first any more; −∞ until enough are known.
    #[must_use]
    pub fn floor(&self) -> f64 {
        self.floor.margin()
    }

    /// How many of what is kept have at least that margin.
    #[must_use]
    pub fn count_above(&self, least: f64) -> usize {
        self.entries.iter().filter(|entry| entry.margin >= least).count()
    }

    /// Offers a candidate by its margin; the rest of the entry is made only if it may matter.
    pub fn offer(&mut self, margin: f64, entry: impl FnOnce() -> Entry) {
        if margin < self.floor() {
            return;
        }
        self.floor.count(margin);
        self.entries.push(entry());
        if self.entries.len() >= COMPACT_AT.saturating_mul(self.floor.top.max(16)) {
            self.compact();
        }
    }

    /// Takes over what another has kept.
    pub fn merge(&mut self, other: Self) {
        for entry in other.entries {
            self.offer(entry.margin, || entry);
        }
    }

    /// The first `top` of all that were offered.
    #[must_use]
    pub fn ranked(self) -> Vec<Entry> {
        rank(self.entries, self.floor.top)
    }

    /// Everything that is kept, ranked. No entry is missing that fewer than `top` others have no smaller margin than.
    #[must_use]
    pub fn all(self) -> Vec<Entry> {
        rank(self.entries, usize::MAX)
    }

    /// Drops every entry that at least `top` others precede whatever else is offered: those that have no smaller margin and
    /// come first inside a group. If such an entry opened a group, either `top` entries stand in earlier groups or one of equal
    /// margin opens the same group, so that the first `top` stay what they are.
    fn compact(&mut self) {
        let floor = self.floor();
        self.entries.retain(|entry| entry.margin >= floor);
        self.entries.sort_by(Entry::compare_in_group);
        let top = self.floor.top;
        let mut before: BinaryHeap<Smallest> = BinaryHeap::new();
        self.entries.retain(|entry| {
            let beaten = before.len() == top && before.peek().is_some_and(|least| least.0 >= entry.margin);
            before.push(Smallest(entry.margin));
            if before.len() > top {
                before.pop();
            }
            !beaten
        });
    }
}

/// A margin that a max-heap keeps the smallest of on top.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Smallest(f64);

impl Eq for Smallest {}

impl PartialOrd for Smallest {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Smallest {
    fn cmp(&self, other: &Self) -> Ordering {
        other.0.total_cmp(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(margin: f64, parts: usize, value: f64) -> Entry {
        Entry {
            margin,
            parts,
            cost: None,
            values: vec![vec![value; parts]],
            written: vec![format!("{value}")],
            space: 0,
            choices: vec![0; parts],
            chosen: vec![vec![value; parts]],
        }
    }

    #[test]
    fn a_chain_of_near_margins_is_cut_at_the_group_of_each_best() {
        // a ≈ b, b ≈ c, a ≉ c: the best opens a group that c does not belong to.
        let ranked = rank(vec![entry(0.984, 1, 1.0), entry(0.992, 2, 2.0), entry(1.0, 3, 3.0)], 3);
        let order: Vec<usize> = ranked.iter().map(|entry| entry.parts).collect();
        assert_eq!(order, [2, 3, 1]);
    }

    #[test]
    fn keeping_few_gives_the_same_first_as_keeping_all() {
        let mut state = 12345_u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / (1_u64 << 31) as f64
        };
        for round in 0..40 {
            let width = if round % 2 == 0 { 0.02 } else { 1.0 };
            let entries: Vec<Entry> = (0..20_000)
                .map(|_| {
                    let parts = 1 + (random() * 3.0) as usize;
                    let margin = if round % 5 == 0 {
                        0.5
                    } else {
                        (random() * width * 500.0).round() / 500.0
                    };
                    entry(margin, parts, (random() * 1e4).round())
                })
                .collect();
            let mut kept = Kept::new(7);
            for entry in &entries {
                kept.offer(entry.margin, || entry.clone());
            }
            assert!(kept.entries.len() < 20_000);
            assert_eq!(kept.ranked(), rank(entries, 7));
        }
    }
}
