//! The circuit seen from the slots where parts are still to be chosen.
//!
//! With the admittances Y₁ … Yₖ of k slots free, V/E = N/D with both N and D of degree one in each Yᵢ
//! (H. W. Bode, *Network Analysis and Feedback Amplifier Design*, 1945; for several elements R. D. Middlebrook,
//! V. Vorpérian and J. Lindal, "The N Extra Element Theorem", IEEE Trans. Circuits Syst. I 45(9), 1998).
//! An admittance Y between two nodes adds Y·u·uᵀ to the nodal matrix, u = ±1 at its ends, and
//! det(G + Y·u·uᵀ) = det G + Y·det(G with both nodes merged). So the coefficient of ∏ Yᵢ, i ∈ S, is the determinant
//! of the circuit with the slots of S shorted by merging and the others open: no limit is ever taken numerically.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::Setting;
use super::netlist::{Netlist, OUTPUT, SOURCE};
use super::nodal::{End, Equations, GROUND, MOST_NODES, Node, merge};
use crate::guitar::{Guitar, Slot};
use crate::parts::network::Admittance;

/// Most slots that can be free at once.
pub const MOST_SLOTS: usize = 4;
const MOST_TERMS: usize = 1 << MOST_SLOTS;

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
        let free = free.get(..MOST_SLOTS).unwrap_or(free);
        SettingCircuit::new(guitar, setting, free).reduce(frequency)
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

/// A guitar at one knob setting, ready to be reduced at any number of frequencies.
pub(crate) struct SettingCircuit<'g> {
    netlist: Netlist<'g>,
    /// For each subset of shorted slots, how the nodes merge; `None` where a shorted slot's ends are one node already.
    contractions: Vec<Option<Contraction>>,
}

struct Contraction {
    classes: [Node; MOST_NODES],
    rows: [Option<usize>; MOST_NODES],
    size: usize,
}

impl<'g> SettingCircuit<'g> {
    pub(crate) fn new(guitar: &'g Guitar, setting: Setting, free: &[Slot]) -> Self {
        let netlist = Netlist::new(guitar, setting, free);
        let contractions = contractions(&netlist, netlist.classes);
        Self { netlist, contractions }
    }

    /// N and D at a frequency in Hz.
    pub(crate) fn reduce(&self, frequency: f64) -> Reduction {
        let s = Complex64::new(0.0, TAU * frequency);
        let admittances: Vec<_> = self.netlist.branches.iter().map(|(_, _, element)| element.admittance(s)).collect();
        let shorts = self
            .merged_with_shorts(&admittances)
            .map(|classes| contractions(&self.netlist, classes));
        let mut reduction = Reduction {
            slots: self.netlist.ports.len(),
            numerator: [Complex64::ZERO; MOST_TERMS],
            denominator: [Complex64::ZERO; MOST_TERMS],
        };
        for (term, contraction) in shorts.as_ref().unwrap_or(&self.contractions).iter().enumerate() {
            if let Some(contraction) = contraction {
                let (numerator, denominator) = self.determinants(contraction, &admittances);
                reduction.numerator[term] = numerator;
                reduction.denominator[term] = denominator;
            }
        }
        scaled(reduction)
    }

    /// The classes when a fitted network happens to be a short (an inductor and a capacitor at their resonance).
    fn merged_with_shorts(&self, admittances: &[Admittance]) -> Option<[Node; MOST_NODES]> {
        admittances.contains(&Admittance::Short).then(|| {
            let mut classes = self.netlist.classes;
            for ((from, to, _), admittance) in self.netlist.branches.iter().zip(admittances) {
                if *admittance == Admittance::Short {
                    merge(&mut classes, *from, *to);
                }
            }
            classes
        })
    }

    fn determinants(&self, contraction: &Contraction, admittances: &[Admittance]) -> (Complex64, Complex64) {
        let mut equations = Equations::new(contraction.size);
        for ((from, to, _), admittance) in self.netlist.branches.iter().zip(admittances) {
            if let Admittance::Value(admittance) = admittance {
                equations.add(contraction.end(*from), contraction.end(*to), *admittance);
            }
        }
        equations.determinants(contraction.end(OUTPUT))
    }
}

impl Contraction {
    fn end(&self, node: Node) -> End {
        match (self.classes[node], self.rows[self.classes[node]]) {
            (_, Some(row)) => End::Unknown(row),
            (SOURCE, None) => End::Source,
            (_, None) => End::Ground,
        }
    }
}

fn contractions(netlist: &Netlist<'_>, classes: [Node; MOST_NODES]) -> Vec<Option<Contraction>> {
    (0..1_usize << netlist.ports.len())
        .map(|subset| contract(netlist, classes, subset))
        .collect()
}

fn contract(netlist: &Netlist<'_>, mut classes: [Node; MOST_NODES], subset: usize) -> Option<Contraction> {
    for (index, (from, to)) in netlist.ports.iter().enumerate() {
        if subset & (1 << index) != 0 {
            if classes[*from] == classes[*to] {
                return None;
            }
            merge(&mut classes, *from, *to);
        }
    }
    // Every node of a branch or port takes part in every subset, so that all determinants are of one polynomial.
    let ends = netlist
        .branches
        .iter()
        .map(|(from, to, _)| (*from, *to))
        .chain(netlist.ports.iter().copied());
    let mut rows = [None; MOST_NODES];
    let mut size = 0;
    for node in ends.flat_map(|(from, to)| [from, to]) {
        let class = classes[node];
        if class != GROUND && class != SOURCE && rows[class].is_none() {
            rows[class] = Some(size);
            size += 1;
        }
    }
    Some(Contraction { classes, rows, size })
}

/// Determinants are products of small admittances; a common factor keeps their squares far from the ends of the double's range.
fn scaled(mut reduction: Reduction) -> Reduction {
    let largest = reduction.denominator.iter().map(|term| term.norm_sqr()).fold(0.0, f64::max).sqrt();
    if largest > 0.0 {
        let scale = largest.recip();
        for term in reduction.numerator.iter_mut().chain(&mut reduction.denominator) {
            *term *= scale;
        }
    }
    reduction
}
