//! The circuit seen from the slots where parts are still to be chosen, and from any other pair of nodes.
//!
//! With the admittances Y₁ … Yₖ of k ports free, V/E = N/D with both N and D of degree one in each Yᵢ
//! (H. W. Bode, *Network Analysis and Feedback Amplifier Design*, 1945; for several elements R. D. Middlebrook,
//! V. Vorpérian and J. Lindal, "The N Extra Element Theorem", IEEE Trans. Circuits Syst. I 45(9), 1998).
//! An admittance Y between two nodes adds Y·u·uᵀ to the nodal matrix, u = ±1 at its ends, and
//! det(G + Y·u·uᵀ) = det G + Y·det(G with both nodes merged). So the coefficient of ∏ Yᵢ, i ∈ S, is that of the circuit with the ports
//! of S shorted by merging and the others open: no limit is ever taken numerically. And the impedance seen at a port, its EMF silent, is
//! D with that port shorted over D with it open.

use num_complex::Complex64;

use super::recipe::{Leaf, OHMS, Recipe, scaled_frequency};
use super::{Port, Setting};
use crate::guitar::{Guitar, Slot};
use crate::parts::network::Admittance;

/// Most slots that can be free at once.
pub const MOST_SLOTS: usize = 4;
const MOST_TERMS: usize = 1 << MOST_SLOTS;

/// N and D of a circuit as polynomials in s, ready for any number of frequencies.
#[derive(Debug, Clone, PartialEq)]
pub struct Polynomials {
    ports: usize,
    /// In the order of [`Recipe::terms`]; with the admittances at the ports in S.
    terms: Vec<[Vec<f64>; 2]>,
}

impl Polynomials {
    /// Of a guitar at a knob setting, seen from some ports; at most [`MOST_SLOTS`], further ones are ignored. What the guitar has at a port is
    /// left out.
    #[must_use]
    pub fn new(guitar: &Guitar, setting: Setting, ports: &[Port]) -> Self {
        let ports = ports.get(..MOST_SLOTS).unwrap_or(ports);
        Self::from(&Recipe::new(guitar, setting, ports))
    }

    /// V/E with all ports open at a frequency in Hz, above 0; exactly zero when silent. `None` where the output is tied to nothing or the
    /// EMF shorted, or so nearly that the arithmetic cannot tell.
    #[must_use]
    pub fn transfer(&self, frequency: f64) -> Option<Complex64> {
        let [numerator, denominator] = self.at(0, scaled_frequency(frequency));
        if numerator == Complex64::ZERO && denominator != Complex64::ZERO {
            return Some(Complex64::ZERO);
        }
        finite(numerator / denominator)
    }

    /// |V/E|² with all ports open at a frequency in Hz, above 0; zero when silent. By the same steps as [`Self::reduce`] with nothing free,
    /// so that a guitar held against itself differs by nothing at all.
    #[must_use]
    pub fn power(&self, frequency: f64) -> f64 {
        let transfer = self.reduce(frequency).transfer(&[]);
        if transfer.is_finite() { transfer.norm_sqr() } else { 0.0 }
    }

    /// The impedance in Ω seen at the first port, the others open, at a frequency in Hz, above 0; `None` where nothing ties its ends.
    #[must_use]
    pub fn impedance(&self, frequency: f64) -> Option<Complex64> {
        let angular = scaled_frequency(frequency);
        let [[_, open], [_, shorted]] = [0, 1].map(|term| self.at(term, angular));
        finite(shorted / open)
    }

    /// N and D of every term at a frequency in Hz, above 0.
    #[must_use]
    pub fn reduce(&self, frequency: f64) -> Reduction {
        let angular = scaled_frequency(frequency);
        let mut reduction = Reduction {
            slots: self.ports,
            numerator: [Complex64::ZERO; MOST_TERMS],
            denominator: [Complex64::ZERO; MOST_TERMS],
        };
        let mut largest = 0.0_f64;
        for term in 0..self.terms.len() {
            [reduction.numerator[term], reduction.denominator[term]] = self.at(term, angular);
            largest = largest.max(reduction.denominator[term].norm_sqr());
        }
        // A common factor keeps the squares of what is made of them far from the ends of the double's range.
        if largest > 0.0 {
            let scale = largest.sqrt().recip();
            for term in 0..self.terms.len() {
                reduction.numerator[term] *= scale;
                reduction.denominator[term] *= scale;
            }
        }
        reduction
    }

    fn at(&self, term: usize, angular: f64) -> [Complex64; 2] {
        [0, 1].map(|which| value(&self.terms[term][which], angular))
    }
}

impl From<&Recipe> for Polynomials {
    fn from(recipe: &Recipe) -> Self {
        let mut terms = recipe.made_of(Leaf::scaled);
        for (subset, term) in terms.iter_mut().enumerate() {
            let siemens = OHMS.powi(subset.count_ones().cast_signed());
            term.iter_mut().flatten().for_each(|coefficient| *coefficient *= siemens);
        }
        Self {
            ports: terms.len().trailing_zeros() as usize,
            terms,
        }
    }
}

/// c₀ + c₁·jω + c₂·(jω)² + …
fn value(polynomial: &[f64], angular: f64) -> Complex64 {
    let step = |(re, im): (f64, f64), coefficient: &f64| (coefficient - angular * im, angular * re);
    let (re, im) = polynomial.iter().rev().fold((0.0, 0.0), step);
    Complex64::new(re, im)
}

fn finite(value: Complex64) -> Option<Complex64> {
    value.is_finite().then_some(value)
}

/// N and D of one knob setting and frequency; bit i of an index says whether Yᵢ is a factor of the term.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reduction {
    slots: usize,
    numerator: [Complex64; MOST_TERMS],
    denominator: [Complex64; MOST_TERMS],
}

impl Reduction {
    /// Solves the circuit at one setting and frequency in Hz (above 0) down to the given free slots, whatever the guitar
    /// has in them; at most [`MOST_SLOTS`], further ones are ignored.
    #[must_use]
    pub fn of(guitar: &Guitar, setting: Setting, frequency: f64, free: &[Slot]) -> Self {
        let ports: Vec<Port> = free.iter().copied().map(Port::Slot).collect();
        Polynomials::new(guitar, setting, &ports).reduce(frequency)
    }

    /// V/E with one admittance a slot, in the order of the free slots. Exactly zero when silent.
    #[must_use]
    pub fn transfer(&self, admittances: &[Admittance]) -> Complex64 {
        if let (1, Some(Admittance::Value(admittance))) = (self.slots, admittances.first()) {
            // The same steps as below, without moving terms about: one slot is what most searches have.
            let numerator = self.numerator[0] + self.numerator[1] * admittance;
            if numerator == Complex64::ZERO {
                return Complex64::ZERO;
            }
            return numerator / (self.denominator[0] + self.denominator[1] * admittance);
        }
        let mut rest = *self;
        for admittance in admittances.get(..self.slots).unwrap_or(admittances).iter().rev() {
            rest = rest.fold_last(*admittance);
        }
        if rest.numerator[0] == Complex64::ZERO {
            return Complex64::ZERO;
        }
        rest.numerator[0] / rest.denominator[0]
    }

    /// How many slots are still free.
    #[must_use]
    pub fn free_slots(&self) -> usize {
        self.slots
    }

    /// The coefficients of N and D, 2^k each.
    #[must_use]
    pub fn terms(&self) -> (&[Complex64], &[Complex64]) {
        let terms = 1 << self.slots;
        (&self.numerator[..terms], &self.denominator[..terms])
    }

    /// The reduction with the last free slot's admittance put in.
    #[must_use]
    pub fn fold_last(&self, admittance: Admittance) -> Self {
        match self.slots.checked_sub(1) {
            Some(last) => self.fold(last, admittance),
            None => *self,
        }
    }

    /// The reduction with the admittance of the free slot at a position put in; later slots move up by one.
    #[must_use]
    pub fn fold(&self, position: usize, admittance: Admittance) -> Self {
        if position >= self.slots {
            return *self;
        }
        let mut folded = *self;
        folded.slots = self.slots - 1;
        let bit = 1 << position;
        let pairs = (0..1 << folded.slots).map(|term| {
            let without = (term & (bit - 1)) | ((term & !(bit - 1)) << 1);
            (term, without, without | bit)
        });
        // A slot without influence has no coefficient at all: its short changes nothing either.
        let inert = |term: usize| self.numerator[term] == Complex64::ZERO && self.denominator[term] == Complex64::ZERO;
        let keeps = admittance == Admittance::Short && pairs.clone().all(|(_, _, with)| inert(with));
        for (term, without, with) in pairs {
            let pick = |terms: &[Complex64; MOST_TERMS]| match admittance {
                Admittance::Short if keeps => terms[without],
                Admittance::Short => terms[with],
                Admittance::Value(admittance) => terms[without] + terms[with] * admittance,
            };
            folded.numerator[term] = pick(&self.numerator);
            folded.denominator[term] = pick(&self.denominator);
        }
        folded
    }
}
