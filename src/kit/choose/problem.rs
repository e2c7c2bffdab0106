//! What there is to choose from, what is wanted of it, and what comes out.

use crate::error::{Error, ErrorKind, Result};

/// A network needs at most this many values.
pub const MOST_NEEDS: usize = 4;
/// Values come from at most this many pools.
pub const MOST_POOLS: usize = 32;
/// A kit takes at most this many values of one pool.
pub const MOST_TAKEN: usize = 64;

/// The margin of a network that is silent.
pub const SILENT: i32 = i32::MIN;

/// Just below what is met: the margin of a network that meets its target and does not serve all the same.
const REFUSED: i32 = -1;

/// What there is to choose from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Problem {
    pool_of: Vec<usize>,
    needs: Vec<Vec<usize>>,
    margins: Vec<i32>,
    weights: Vec<u32>,
    /// What each value costs, in millionths; none where prices are not known.
    prices: Option<Vec<u64>>,
}

impl Problem {
    /// The pool of each value; the values each network needs, ascending; for each network the margin of every ask, in parts of a dB
    /// ([`SILENT`] where there is none); how much each ask counts.
    ///
    /// # Errors
    /// When these do not go together: a network that needs a value there is not, more than [`MOST_NEEDS`] or the same one twice, too few or
    /// too many margins, an ask that counts nothing, more than [`MOST_POOLS`] pools or more values than can be told apart.
    pub fn new(pool_of: Vec<usize>, needs: Vec<Vec<usize>>, margins: Vec<i32>, weights: Vec<u32>) -> Result<Self> {
        let refuse = |why: &str| Err(Error::new(ErrorKind::Search, why));
        if pool_of.len() >= usize::from(u16::MAX) || u32::try_from(needs.len()).is_err() {
            return Err(too_many());
        }
        if pool_of.iter().any(|pool| *pool >= MOST_POOLS) {
            return refuse(&format!(
                "values of more than {MOST_POOLS} kinds; a kit is chosen from at most so many"
            ));
        }
        if needs.iter().any(|needs| needs.len() > MOST_NEEDS) {
            return refuse(&format!("a network that needs more than {MOST_NEEDS} values"));
        }
        let ascends = |needs: &Vec<usize>| needs.is_sorted_by(|one, other| one < other);
        let exists = |needs: &Vec<usize>| needs.iter().all(|value| *value < pool_of.len());
        if !needs.iter().all(|needs| ascends(needs) && exists(needs)) {
            return refuse("a network that needs a value twice, or one that there is not");
        }
        if needs.len().checked_mul(weights.len()) != Some(margins.len()) {
            return refuse("there must be one margin for each network and ask");
        }
        if weights.contains(&0) {
            return refuse("every guitar must count something: its weight is 0");
        }
        Ok(Self {
            pool_of,
            needs,
            margins,
            weights,
            prices: None,
        })
    }

    /// The same with what each value costs, in millionths of the currency.
    ///
    /// # Errors
    /// Where there is not one price a value.
    pub fn with_prices(mut self, prices: Vec<u64>) -> Result<Self> {
        if prices.len() != self.pool_of.len() {
            return Err(Error::new(ErrorKind::Search, "there must be one price for each value"));
        }
        self.prices = Some(prices);
        Ok(self)
    }

    /// What each value costs, if prices are known.
    #[must_use]
    pub fn prices(&self) -> Option<&[u64]> {
        self.prices.as_deref()
    }

    /// What some values cost together, one piece each; nothing where prices are not known.
    #[must_use]
    pub fn price(&self, values: impl IntoIterator<Item = usize>) -> u64 {
        let prices = self.prices.as_deref().unwrap_or_default();
        values
            .into_iter()
            .filter_map(|value| prices.get(value))
            .fold(0, |sum, price| sum.saturating_add(*price))
    }

    /// Takes it that networks do not serve asks, whatever their margins: pairs of an ask and a network.
    pub(in crate::kit) fn refuse(&mut self, pairs: impl IntoIterator<Item = (usize, usize)>) {
        let asks = self.weights.len();
        for (ask, network) in pairs {
            if let Some(margin) = self.margins.get_mut(network * asks + ask).filter(|margin| **margin >= 0) {
                *margin = REFUSED;
            }
        }
    }

    /// The pool of each value.
    #[must_use]
    pub fn pool_of(&self) -> &[usize] {
        &self.pool_of
    }

    /// The values each network needs, ascending.
    #[must_use]
    pub fn needs(&self) -> &[Vec<usize>] {
        &self.needs
    }

    /// How much each ask counts.
    #[must_use]
    pub fn weights(&self) -> &[u32] {
        &self.weights
    }

    /// The margin of every ask with one network, none for a network that there is not.
    #[must_use]
    pub fn margins_of(&self, network: usize) -> &[i32] {
        let asks = self.weights.len();
        let begin = network.saturating_mul(asks);
        self.margins.get(begin..begin.saturating_add(asks)).unwrap_or_default()
    }

    /// The margins that occur, network by network.
    pub(in crate::kit) fn margins(&self) -> &[i32] {
        &self.margins
    }

    /// How many pools there are.
    pub(super) fn pools(&self) -> usize {
        self.pool_of.iter().max().map_or(0, |last| last + 1)
    }

    /// Those of some values that there are, each once.
    pub(super) fn known_values(&self, values: &[usize]) -> Vec<usize> {
        let mut known: Vec<usize> = Vec::with_capacity(values.len());
        for value in values {
            if *value < self.pool_of.len() && !known.contains(value) {
                known.push(*value);
            }
        }
        known
    }

    /// The best margin of each ask over the networks whose needs fit.
    pub(in crate::kit) fn best_margins(&self, fits: impl Fn(&[usize]) -> bool) -> Vec<i32> {
        let mut best = vec![SILENT; self.weights.len()];
        for (network, _) in self.needs.iter().enumerate().filter(|(_, needs)| fits(needs.as_slice())) {
            for (best, margin) in best.iter_mut().zip(self.margins_of(network)) {
                *best = (*best).max(*margin);
            }
        }
        best
    }
}

/// What is said when there is more to choose from than can be told apart.
pub(in crate::kit) fn too_many() -> Error {
    Error::new(ErrorKind::Search, "too many values or networks to choose from").help("a coarser series, a shorter range, fewer free parts")
}

/// What is wanted of a kit.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// How many values of each pool, those in `fixed` among them; more than [`MOST_TAKEN`] count as that many.
    pub sizes: Vec<usize>,
    /// Values that are in the kit already.
    pub fixed: Vec<usize>,
    /// A margin from which on an ask is served.
    pub cut: i32,
    /// Among kits that serve the same, the larger sum of margins above this wins.
    pub floor: i32,
    /// Whether only a kit that serves every ask will do, and the first one at that.
    pub all: bool,
    /// What the kit may cost, in millionths, one piece of each value; only where prices are known.
    pub budget: Option<u64>,
    /// Kits that cover less than this are of no use.
    pub least: u64,
}

impl Wanted {
    /// Most asks served, then the largest sum of their margins.
    #[must_use]
    pub fn coverage(sizes: &[usize], fixed: &[usize]) -> Self {
        Self {
            sizes: sizes.to_vec(),
            fixed: fixed.to_vec(),
            cut: 0,
            floor: 0,
            all: false,
            budget: None,
            least: 0,
        }
    }
}

/// How good a kit is; the larger is the better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Score {
    /// What the asks that are served weigh together.
    pub covered: u64,
    /// The sum of weight times margin above the floor, in the margins' parts.
    pub surplus: u128,
}

/// A kit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Its values, ascending; fewer than asked for where no other adds anything.
    pub values: Vec<usize>,
    /// How good it is.
    pub score: Score,
    /// Whether it is proved that no kit is better.
    pub optimal: bool,
    /// What no kit can cover more than.
    pub most_covered: u64,
}
