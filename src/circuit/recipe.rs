//! How the polynomials of a circuit are made from its values, whatever these are: a list of sums and products, planned once.
//!
//! Nothing is ever divided, and each coefficient is a sum of products of positive values, which comes out to the last digits however far
//! apart these lie. Only what reversed pickups give is subtracted, as the very last step.

use std::collections::HashMap;

use super::Origin;
use crate::guitar::taper::Law;

/// One value times s⁰ or s¹.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaf {
    /// In Ω, H or F.
    pub value: f64,
    /// Whether it stands with s: inductances and capacitances do.
    pub with_s: bool,
    /// What kind of value it is.
    pub kind: LeafKind,
    /// Where it comes from.
    pub origin: Origin,
    /// Of which part of a track it is the resistance; none of anything else, and of a track whose taper is exact.
    pub wiped: Option<Wiped>,
}

/// The share of a track between its wiper and one of its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wiped {
    /// The taper that the share comes from.
    pub origin: Origin,
    /// Its law.
    pub law: Law,
    /// Its fraction at half rotation.
    pub mid: f64,
    /// Where the knob stands, 0 to 1.
    pub rotation: f64,
    /// Whether it is the part beyond the wiper.
    pub beyond: bool,
}

/// What a leaf counts as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeafKind {
    /// A resistance or an inductance.
    Impedance,
    /// A capacitance.
    Admittance,
    /// How many times the EMF of a pickup of 0 dB, below zero where it is reversed.
    Ratio,
}

/// Resistances are counted in this many Ω and angular frequencies in this many rad/s, so that all coefficients stay near 1.
pub(super) const OHMS: f64 = 1e5;
const RADIANS: f64 = std::f64::consts::TAU * 1e3;

impl Leaf {
    /// A value at its place in the units that keep coefficients near 1.
    #[must_use]
    pub fn scaled(&self) -> f64 {
        let ohms = match self.kind {
            LeafKind::Impedance => self.value / OHMS,
            LeafKind::Admittance => self.value * OHMS,
            LeafKind::Ratio => self.value,
        };
        if self.with_s { ohms * RADIANS } else { ohms }
    }
}

/// A frequency in Hz as an angular frequency in the units that keep coefficients near 1.
#[must_use]
pub fn scaled_frequency(frequency: f64) -> f64 {
    std::f64::consts::TAU * frequency / RADIANS
}

/// How one polynomial is made; the numbers are those of earlier steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Step {
    /// The polynomial 0.
    Zero,
    /// The polynomial 1.
    One,
    /// A leaf, by its number.
    Leaf(usize),
    /// The sum of two.
    Sum(usize, usize),
    /// The product of two.
    Product(usize, usize),
}

/// How N and D are made from a circuit's values.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Every value, as the circuit has it.
    pub leaves: Vec<Leaf>,
    /// One polynomial a step, each made from earlier ones.
    pub steps: Vec<Step>,
    /// The degree of each step's polynomial.
    pub degrees: Vec<usize>,
    /// The steps that make N and D with some of the ports shorted and the others open: bit i of an index says whether port i is shorted.
    pub terms: Vec<[usize; 2]>,
}

impl Recipe {
    /// The steps that make N and D with all ports open.
    #[must_use]
    pub fn open(&self) -> [usize; 2] {
        self.terms[0]
    }

    /// N and D of every term from a number for each leaf: coefficients of 1, s, s², …
    #[must_use]
    pub fn made_of(&self, value: impl Fn(&Leaf) -> f64) -> Vec<[Vec<f64>; 2]> {
        let mut made: Vec<Vec<f64>> = Vec::with_capacity(self.steps.len());
        for (step, degree) in self.steps.iter().zip(&self.degrees) {
            let mut polynomial = vec![0.0; degree + 1];
            match *step {
                Step::Zero => {}
                Step::One => polynomial[0] = 1.0,
                Step::Leaf(leaf) => polynomial[usize::from(self.leaves[leaf].with_s)] = value(&self.leaves[leaf]),
                Step::Sum(one, other) => {
                    for term in [one, other] {
                        polynomial.iter_mut().zip(&made[term]).for_each(|(sum, more)| *sum += more);
                    }
                }
                Step::Product(one, other) => {
                    for (power, factor) in made[one].iter().enumerate() {
                        let shifted = polynomial.iter_mut().skip(power);
                        shifted.zip(&made[other]).for_each(|(sum, more)| *sum += factor * more);
                    }
                }
            }
            made.push(polynomial);
        }
        self.terms.iter().map(|term| term.map(|step| made[step].clone())).collect()
    }
}

/// A branch's admittance p/q, as steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Branch {
    pub(super) p: usize,
    pub(super) q: usize,
}

/// The steps every recipe begins with.
pub(super) const ZERO: usize = 0;
pub(super) const ONE: usize = 1;

impl Branch {
    /// No connection.
    pub(super) const OPEN: Self = Self { p: ZERO, q: ONE };
    /// No resistance.
    pub(super) const WIRE: Self = Self { p: ONE, q: ZERO };
}

/// A recipe being written.
pub(super) struct Draft {
    /// Whether s is 0, so that capacitors are open and coils are wires.
    at_rest: bool,
    leaves: Vec<Leaf>,
    steps: Vec<Step>,
    degrees: Vec<usize>,
    known: HashMap<Step, usize>,
}

impl Draft {
    pub(super) fn new(at_rest: bool) -> Self {
        let mut draft = Self {
            at_rest,
            leaves: Vec::new(),
            steps: Vec::new(),
            degrees: Vec::new(),
            known: HashMap::new(),
        };
        draft.step(Step::Zero, 0);
        draft.step(Step::One, 0);
        draft
    }

    fn step(&mut self, step: Step, degree: usize) -> usize {
        *self.known.entry(step).or_insert_with(|| {
            self.steps.push(step);
            self.degrees.push(degree);
            self.steps.len() - 1
        })
    }

    pub(super) fn sum(&mut self, one: usize, other: usize) -> usize {
        match (one.min(other), one.max(other)) {
            (ZERO, other) => other,
            (one, other) => self.step(Step::Sum(one, other), self.degrees[one].max(self.degrees[other])),
        }
    }

    pub(super) fn product(&mut self, one: usize, other: usize) -> usize {
        match (one.min(other), one.max(other)) {
            (ZERO, _) => ZERO,
            (ONE, other) => other,
            (one, other) => self.step(Step::Product(one, other), self.degrees[one] + self.degrees[other]),
        }
    }

    /// What is exactly zero is no leaf: its branch is a wire or open.
    fn leaf(&mut self, value: f64, with_s: bool, kind: LeafKind, origin: Origin) -> usize {
        if value == 0.0 || with_s && self.at_rest {
            return ZERO;
        }
        self.leaves.push(Leaf {
            value,
            with_s,
            kind,
            origin,
            wiped: None,
        });
        self.step(Step::Leaf(self.leaves.len() - 1), usize::from(with_s))
    }

    /// In Ω.
    pub(super) fn resistor(&mut self, value: f64, origin: Origin) -> Branch {
        let q = self.leaf(value, false, LeafKind::Impedance, origin);
        Branch { p: ONE, q }
    }

    /// The part of a track, in Ω as it is with the taper on its mark.
    pub(super) fn wiped(&mut self, value: f64, origin: Origin, wiped: Option<Wiped>) -> Branch {
        let part = self.resistor(value, origin);
        if let Some(leaf) = self.leaves.last_mut().filter(|_| part.q != ZERO) {
            leaf.wiped = wiped;
        }
        part
    }

    /// In H.
    pub(super) fn inductor(&mut self, value: f64, origin: Origin) -> Branch {
        let q = self.leaf(value, true, LeafKind::Impedance, origin);
        Branch { p: ONE, q }
    }

    /// In F.
    pub(super) fn capacitor(&mut self, value: f64, origin: Origin) -> Branch {
        let p = self.leaf(value, true, LeafKind::Admittance, origin);
        Branch { p, q: ONE }
    }

    /// What reversed EMFs give is taken away as the last step of all, so that nothing else is ever subtracted.
    pub(super) fn difference(&mut self, plus: usize, minus: usize) -> usize {
        if minus == ZERO {
            return plus;
        }
        let turned = self.leaf(-1.0, false, LeafKind::Ratio, Origin::Exact);
        let less = self.product(turned, minus);
        self.sum(plus, less)
    }

    /// A plain number that multiplies an EMF.
    pub(super) fn ratio(&mut self, value: f64) -> usize {
        match value {
            1.0 => ONE,
            _ => self.leaf(value, false, LeafKind::Ratio, Origin::Exact),
        }
    }

    pub(super) fn side_by_side(&mut self, one: Branch, other: Branch) -> Branch {
        if one.q == ZERO || other.q == ZERO {
            return Branch::WIRE;
        }
        let (first, second) = (self.product(one.p, other.q), self.product(other.p, one.q));
        Branch {
            p: self.sum(first, second),
            q: self.product(one.q, other.q),
        }
    }

    pub(super) fn in_a_row(&mut self, one: Branch, other: Branch) -> Branch {
        let turned = |branch: Branch| Branch { p: branch.q, q: branch.p };
        turned(self.side_by_side(turned(one), turned(other)))
    }

    /// Only the steps that the terms need, in order.
    pub(super) fn recipe(self, terms: &[[usize; 2]]) -> Recipe {
        let mut needed = vec![false; self.steps.len()];
        terms.iter().flatten().for_each(|step| needed[*step] = true);
        for index in (0..self.steps.len()).rev() {
            if let (true, Step::Sum(one, other) | Step::Product(one, other)) = (needed[index], self.steps[index]) {
                (needed[one], needed[other]) = (true, true);
            }
        }
        let (mut steps, mut degrees) = (Vec::new(), Vec::new());
        let mut renamed = vec![0; self.steps.len()];
        for index in (0..self.steps.len()).filter(|index| needed[*index]) {
            renamed[index] = steps.len();
            degrees.push(self.degrees[index]);
            steps.push(match self.steps[index] {
                Step::Sum(one, other) => Step::Sum(renamed[one], renamed[other]),
                Step::Product(one, other) => Step::Product(renamed[one], renamed[other]),
                other => other,
            });
        }
        Recipe {
            leaves: self.leaves,
            steps,
            degrees,
            terms: terms.iter().map(|term| term.map(|step| renamed[step])).collect(),
        }
    }
}
