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
            _ => {
                let [n0, _, d0, _] = self.put_in(None, admittances);
                [n0, d0]
            }
        };
        if numerator == Complex64::ZERO {
            return Complex64::ZERO;
        }
        numerator / denominator
    }

    /// N₀, N₁, D₀ and D₁ in the admittance of one slot, every other slot's put in.
    #[must_use]
    pub fn in_one_slot(&self, position: usize, admittances: &[Admittance]) -> [Complex64; 4] {
        self.put_in(Some(position), admittances)
    }

    /// How many slots are free.
    #[must_use]
    pub fn free_slots(&self) -> usize {
        (self.terms.len() / 2).trailing_zeros() as usize
    }

    /// Which of the free slots change V/E whatever is in the others, a bit each.
    #[must_use]
    pub fn moved_by(&self) -> u8 {
        let (numerator, denominator) = self.terms();
        let terms = numerator.iter().zip(denominator).enumerate();
        let present = terms.filter(|(_, (n, d))| **n != Complex64::ZERO || **d != Complex64::ZERO);
        present.fold(0, |slots, (term, _)| slots | term as u8)
    }

    /// The coefficients of N and D, 2^k each.
    #[must_use]
    pub fn terms(&self) -> (&[Complex64], &[Complex64]) {
        self.terms.split_at(self.terms.len() / 2)
    }

    /// N₀, N₁, D₀ and D₁ with every slot's admittance put in but that of the one to be left free; N₁ and D₁ are zero where none is.
    fn put_in(&self, free: Option<usize>, admittances: &[Admittance]) -> [Complex64; 4] {
        // One for each number of slots, so that each is unrolled: this is what a search does most.
        match self.free_slots() {
            0 => folded::<1>(self.terms(), free, admittances),
            1 => folded::<2>(self.terms(), free, admittances),
            2 => folded::<4>(self.terms(), free, admittances),
            3 => folded::<8>(self.terms(), free, admittances),
            _ => folded::<MOST_TERMS>(self.terms(), free, admittances),
        }
    }
}

/// See [`Reduction::put_in`], for so many terms; the last slot's admittance is put in first.
fn folded<const TERMS: usize>(terms: (&[Complex64], &[Complex64]), free: Option<usize>, admittances: &[Admittance]) -> [Complex64; 4] {
    let (mut numerator, mut denominator) = ([Complex64::ZERO; TERMS], [Complex64::ZERO; TERMS]);
    numerator.copy_from_slice(terms.0);
    denominator.copy_from_slice(terms.1);
    let slots = TERMS.trailing_zeros() as usize;
    let mut left = TERMS;
    for (slot, admittance) in admittances.iter().enumerate().take(slots).rev() {
        if Some(slot) != free {
            left /= 2;
            fold(&mut numerator[..2 * left], &mut denominator[..2 * left], slot, *admittance);
        }
    }
    let second = |terms: &[Complex64; TERMS]| if left > 1 { terms[1] } else { Complex64::ZERO };
    [numerator[0], second(&numerator), denominator[0], second(&denominator)]
}

/// Puts in the admittance of the slot at a position; later slots move up by one, and half of the terms are left.
#[inline]
fn fold(numerator: &mut [Complex64], denominator: &mut [Complex64], position: usize, admittance: Admittance) {
    let bit = 1 << position;
    let count = numerator.len() / 2;
    let without = |term: usize| (term & (bit - 1)) | ((term & !(bit - 1)) << 1);
    // Every term is read before the place it stands at is written to.
    match admittance {
        Admittance::Value(admittance) => {
            for terms in [numerator, denominator] {
                for term in 0..count {
                    terms[term] = terms[without(term)] + terms[without(term) | bit] * admittance;
                }
            }
        }
        Admittance::Short => {
            // A slot without influence has no coefficient at all: its short changes nothing either.
            let inert = |term: usize| numerator[term] == Complex64::ZERO && denominator[term] == Complex64::ZERO;
            let picked = if (0..count).all(|term| inert(without(term) | bit)) {
                0
            } else {
                bit
            };
            for terms in [numerator, denominator] {
                for term in 0..count {
                    terms[term] = terms[without(term) | picked];
                }
            }
        }
    }
}
