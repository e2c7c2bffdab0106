//! Sets of asks as bits, weighed exactly: each word holds asks of one weight, so that a set weighs the sum of its counted words.

/// The asks of a problem, each at its own bit.
#[derive(Debug, Clone)]
pub(super) struct Asks {
    weights: Vec<u32>,
    /// The bit of each ask.
    bits: Vec<usize>,
    /// The weight of every ask in a word.
    word_weights: Vec<u64>,
}

impl Asks {
    pub(super) fn new(weights: &[u32]) -> Self {
        let mut order: Vec<usize> = (0..weights.len()).collect();
        order.sort_by_key(|ask| weights[*ask]);
        let mut bits = vec![0; weights.len()];
        let mut word_weights: Vec<u64> = Vec::new();
        let mut next = 0;
        for ask in order {
            let weight = u64::from(weights[ask]);
            if next % 64 == 0 || word_weights.last() != Some(&weight) {
                next = word_weights.len() * 64;
                word_weights.push(weight);
            }
            bits[ask] = next;
            next += 1;
        }
        Self {
            weights: weights.to_vec(),
            bits,
            word_weights,
        }
    }

    /// How many words a set has.
    pub(super) fn words(&self) -> usize {
        self.word_weights.len()
    }

    /// The asks with a margin of at least `cut`.
    pub(super) fn at_least(&self, margins: &[i32], cut: i32) -> Vec<u64> {
        let mut set = vec![0; self.words()];
        for (margin, bit) in margins.iter().zip(&self.bits) {
            if *margin >= cut {
                set[bit / 64] |= 1 << (bit % 64);
            }
        }
        set
    }

    /// What a set weighs.
    pub(super) fn weigh(&self, set: &[u64]) -> u64 {
        let words = set.iter().zip(&self.word_weights);
        words.map(|(word, weight)| u64::from(word.count_ones()) * weight).sum()
    }

    /// What `set` weighs without what is in `known`.
    pub(super) fn weigh_beyond(&self, set: &[u64], known: &[u64]) -> u64 {
        let words = set.iter().zip(known).zip(&self.word_weights);
        words
            .map(|((word, known), weight)| u64::from((word & !known).count_ones()) * weight)
            .sum()
    }

    /// What all asks weigh together.
    pub(super) fn total(&self) -> u64 {
        self.weights.iter().map(|weight| u64::from(*weight)).sum()
    }

    /// Σ weight·amount, exactly.
    pub(super) fn sum(&self, amounts: impl Iterator<Item = u32>) -> u128 {
        amounts
            .zip(&self.weights)
            .map(|(amount, weight)| u128::from(u64::from(amount) * u64::from(*weight)))
            .sum()
    }
}

/// Adds a set to another.
pub(super) fn unite(into: &mut [u64], set: &[u64]) {
    for (into, word) in into.iter_mut().zip(set) {
        *into |= word;
    }
}
