//! Two stocked parts that stand for one value: 1 n and 220 p side by side are 1.22 n.

use super::network::{Kind, Network};

/// How two parts are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Joined {
    /// One after the other.
    Series,
    /// Side by side.
    Parallel,
}

/// Two parts of one kind that stand for one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// How they are joined.
    pub joined: Joined,
    /// Their values in Ω or F, the smaller first.
    pub values: [f64; 2],
}

impl Pair {
    /// The value of both together, in Ω or F, to 14 digits: resistances in series and capacitances in parallel add up, the others add
    /// up as reciprocals.
    #[must_use]
    pub fn value(self, kind: Kind) -> f64 {
        let [one, other] = self.values;
        let exact = match (kind, self.joined) {
            (Kind::Resistor, Joined::Series) | (Kind::Capacitor, Joined::Parallel) => one + other,
            (Kind::Resistor, Joined::Parallel) | (Kind::Capacitor, Joined::Series) => one * other / (one + other),
        };
        // 1 n + 220 p is to be 1.22 n and not 1.2200000000000001 n, so that it is known for what a part of 1.22 n is.
        format!("{exact:.13e}").parse().unwrap_or(exact)
    }

    /// The two as a network; `None` unless both values are finite.
    #[must_use]
    pub fn network(self, kind: Kind) -> Option<Network> {
        let [one, other] = self.values.map(|value| kind.component(value).map(Network::Fixed));
        let members = vec![one?, other?];
        Some(match self.joined {
            Joined::Series => Network::Series(members),
            Joined::Parallel => Network::Parallel(members),
        })
    }

    /// Every pair of these values, joined either way, those of `left_out` apart.
    pub fn all(values: &[f64], left_out: Option<Joined>) -> impl Iterator<Item = Self> {
        let ways = [Joined::Series, Joined::Parallel]
            .into_iter()
            .filter(move |joined| Some(*joined) != left_out);
        ways.flat_map(move |joined| {
            values.iter().enumerate().flat_map(move |(index, one)| {
                let others = values.iter().take(index + 1);
                others.map(move |other| Self {
                    joined,
                    values: [one.min(*other), one.max(*other)],
                })
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_have_the_values_of_the_handbook() {
        let value = |kind, joined, values| Pair { joined, values }.value(kind);
        assert_eq!(value(Kind::Capacitor, Joined::Parallel, [220e-12, 1e-9]), 1.22e-9);
        assert_eq!(value(Kind::Capacitor, Joined::Series, [2.2e-9, 2.2e-9]), 1.1e-9);
        assert_eq!(value(Kind::Resistor, Joined::Series, [8.2e3, 120e3]), 128.2e3);
        assert_eq!(value(Kind::Resistor, Joined::Parallel, [100e3, 300e3]), 75e3);
    }

    #[test]
    fn of_n_values_there_are_n_times_n_plus_one_pairs() {
        let values: Vec<f64> = (1..=7).map(f64::from).collect();
        let pairs: Vec<Pair> = Pair::all(&values, None).collect();
        assert_eq!(pairs.len(), 7 * 8);
        assert!(pairs.iter().all(|pair| pair.values[0] <= pair.values[1]));
        assert!(Pair::all(&values, Some(Joined::Series)).all(|pair| pair.joined == Joined::Parallel));
    }
}
