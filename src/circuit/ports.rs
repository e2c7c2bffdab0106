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
        let count = self.terms.len();
        let mut terms = vec![Complex64::ZERO; 2 * count];
        let mut largest = 0.0_f64;
        for term in 0..count {
            [terms[term], terms[count + term]] = self.at(term, angular);
            largest = largest.max(terms[count + term].norm_sqr());
        }
        // A common factor keeps the squares of what is made of them far from the ends of the double's range.
        if largest > 0.0 {
            let scale = largest.sqrt().recip();
            terms.iter_mut().for_each(|term| *term *= scale);
        }
        Reduction {
            terms: terms.into_boxed_slice(),
        }
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
        Self { terms }
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

/// N and D of one knob setting and frequency: 2^k coefficients each, N before D; bit i of an index says whether Yᵢ is a factor of the term.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduction {
    terms: Box<[Complex64]>,
}

impl Reduction {
    /// Solves the circuit at one setting and frequency in Hz (above 0) down to the given free slots, whatever the guitar
    /// has in them; at most [`MOST_SLOTS`], further ones are ignored.
    #[must_use]
    pub fn of(guitar: &Guitar, setting: Setting, frequency: f64, free: &[Slot]) -> Self {
        let ports: Vec<Port> = free.iter().copied().map(Port::Slot).collect();
        Polynomials::new(guitar, setting, &ports).reduce(frequency)
    }

    /// V/E with one admittance a slot, in the order of the free slots; the last slots are open where there are fewer. Exactly zero when
    /// silent.
    #[must_use]
    pub fn transfer(&self, admittances: &[Admittance]) -> Complex64 {
        let [numerator, denominator] = match (&*self.terms, admittances.first()) {
            // The same steps as below, without moving terms about: one slot is what most searches have.
            ([n0, n1, d0, d1], Some(Admittance::Value(admittance))) => [n0 + n1 * admittance, d0 + d1 * admittance],
            _ => self.folding().all_but(None, admittances).first(),
        };
        if numerator == Complex64::ZERO {
            return Complex64::ZERO;
        }
        numerator / denominator
    }

    /// N₀, N₁, D₀ and D₁ in the admittance of one slot, every other slot's put in.
    #[must_use]
    pub fn in_one_slot(&self, position: usize, admittances: &[Admittance]) -> [Complex64; 4] {
        let folded = self.folding().all_but(Some(position), admittances);
        let ([n0, n1, ..], [d0, d1, ..]) = (folded.numerator, folded.denominator);
        [n0, n1, d0, d1]
    }

    /// How many slots are free.
    #[must_use]
    pub fn free_slots(&self) -> usize {
        (self.terms.len() / 2).trailing_zeros() as usize
    }

    /// The coefficients of N and D, 2^k each.
    #[must_use]
    pub fn terms(&self) -> (&[Complex64], &[Complex64]) {
        self.terms.split_at(self.terms.len() / 2)
    }

    fn folding(&self) -> Folding {
        let mut folding = Folding {
            slots: self.free_slots(),
            numerator: [Complex64::ZERO; MOST_TERMS],
            denominator: [Complex64::ZERO; MOST_TERMS],
        };
        let (numerator, denominator) = self.terms();
        folding.numerator[..numerator.len()].copy_from_slice(numerator);
        folding.denominator[..denominator.len()].copy_from_slice(denominator);
        folding
    }
}

/// A reduction while admittances are put in.
struct Folding {
    slots: usize,
    numerator: [Complex64; MOST_TERMS],
    denominator: [Complex64; MOST_TERMS],
}

impl Folding {
    /// Puts in every slot's admittance but one's, the last slot's first.
    fn all_but(mut self, position: Option<usize>, admittances: &[Admittance]) -> Self {
        for (slot, admittance) in admittances.iter().enumerate().take(self.slots).rev() {
            if Some(slot) != position {
                self.fold(slot, *admittance);
            }
        }
        self
    }

    /// Puts in the admittance of the slot at a position; later slots move up by one.
    fn fold(&mut self, position: usize, admittance: Admittance) {
        self.slots -= 1;
        let bit = 1 << position;
        let pairs = (0..1 << self.slots).map(|term| {
            let without = (term & (bit - 1)) | ((term & !(bit - 1)) << 1);
            (term, without, without | bit)
        });
        // A slot without influence has no coefficient at all: its short changes nothing either.
        let inert = |term: usize| self.numerator[term] == Complex64::ZERO && self.denominator[term] == Complex64::ZERO;
        let keeps = admittance == Admittance::Short && pairs.clone().all(|(_, _, with)| inert(with));
        // Every term is read before the place it stands at is written to.
        for (term, without, with) in pairs {
            let pick = |terms: &[Complex64; MOST_TERMS]| match admittance {
                Admittance::Short if keeps => terms[without],
                Admittance::Short => terms[with],
                Admittance::Value(admittance) => terms[without] + terms[with] * admittance,
            };
            self.numerator[term] = pick(&self.numerator);
            self.denominator[term] = pick(&self.denominator);
        }
    }

    fn first(&self) -> [Complex64; 2] {
        [self.numerator[0], self.denominator[0]]
    }
}
