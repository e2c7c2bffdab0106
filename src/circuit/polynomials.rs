//! V/E of a wiring at one knob setting as N(s)/D(s), planned once: a list of sums and products that makes both polynomials from the
//! guitar's values, whatever these are.
//!
//! By the matrix-tree theorem both determinants are sums over the forests of the circuit's graph (G. Kirchhoff, 1847; W. K. Chen,
//! *Applied Graph Theory*, 1971, ch. 4). With each branch's admittance written p/q, and every forest weighing ∏p of its branches times
//! ∏q of all others,
//!
//! - D = the forests of two trees that part source from ground,
//! - N = those of them with the output in the source's tree.
//!
//! A forest sum stays the same when two branches side by side become (p₁q₂ + p₂q₁, q₁q₂), and two in a row (p₁p₂, p₁q₂ + p₂q₁); any
//! other branch is in the forest (its ends merge, times p) or not (it goes, times q). Nothing is ever subtracted or divided: each
//! coefficient is a sum of products of positive values, and comes out to the last digits however far apart these lie. Zero resistances
//! and zero capacitances need no case of their own.

use std::collections::HashMap;

use num_complex::Complex64;

use super::netlist::{Element, Netlist, OUTPUT, SOURCE};
use super::nodal::{GROUND, MOST_NODES, Node};
use super::{Origin, Place, Setting};
use crate::guitar::{Guitar, Pickup};
use crate::parts::network::{Component, Network};

/// One value times s⁰ or s¹.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaf {
    /// In Ω, H or F.
    pub value: f64,
    /// Whether it stands with s: inductances and capacitances do.
    pub with_s: bool,
    /// Whether it is an admittance (a capacitance) or an impedance.
    pub is_admittance: bool,
    /// Where it comes from.
    pub origin: Origin,
}

/// Resistances are counted in this many Ω and angular frequencies in this many rad/s, so that all coefficients stay near 1.
const OHMS: f64 = 1e5;
const RADIANS: f64 = std::f64::consts::TAU * 1e3;

impl Leaf {
    /// A value at its place in the units that keep coefficients near 1.
    #[must_use]
    pub fn scaled(&self) -> f64 {
        let ohms = if self.is_admittance { self.value * OHMS } else { self.value / OHMS };
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

/// How N and D are made from a guitar's values.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Every value, as the guitar has it.
    pub leaves: Vec<Leaf>,
    /// One polynomial a step, each made from earlier ones.
    pub steps: Vec<Step>,
    /// The degree of each step's polynomial.
    pub degrees: Vec<usize>,
    /// The step that makes N.
    pub numerator: usize,
    /// The step that makes D.
    pub denominator: usize,
}

impl Recipe {
    /// Plans N and D of a guitar at a knob setting.
    #[must_use]
    pub fn new(guitar: &Guitar, setting: Setting) -> Self {
        let netlist = Netlist::new(guitar, setting, &[]);
        let mut draft = Draft::new();
        let mut graph = Graph::default();
        for (from, to, element) in &netlist.branches {
            let branch = draft.element(element);
            draft.join(&mut graph, netlist.classes[*from], netlist.classes[*to], branch);
        }
        let ends = [SOURCE, OUTPUT, GROUND].map(|node| netlist.classes[node]);
        let [numerator, denominator] = draft.forests(graph, ends);
        draft.recipe(numerator, denominator)
    }

    /// The nominal N and D: coefficients of 1, s, s², …
    #[must_use]
    pub fn coefficients(&self) -> [Vec<f64>; 2] {
        self.made_of(|leaf| leaf.value)
    }

    /// The nominal V/E, ready for any number of frequencies.
    #[must_use]
    pub fn ratio(&self) -> Ratio {
        let [numerator, denominator] = self.made_of(Leaf::scaled);
        Ratio { numerator, denominator }
    }

    fn made_of(&self, value: impl Fn(&Leaf) -> f64) -> [Vec<f64>; 2] {
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
        [self.numerator, self.denominator].map(|step| made[step].clone())
    }
}

/// V/E of one guitar at one knob setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Ratio {
    numerator: Vec<f64>,
    denominator: Vec<f64>,
}

impl Ratio {
    /// |V/E|² at a frequency in Hz, above 0; zero when silent. Right to 1e-9 dB.
    #[must_use]
    pub fn power(&self, frequency: f64) -> f64 {
        let angular = scaled_frequency(frequency);
        let [numerator, denominator] = [&self.numerator, &self.denominator].map(|polynomial| square(polynomial, angular));
        if numerator > 0.0 { numerator / denominator } else { 0.0 }
    }
}

/// |c₀ + c₁·jω + c₂·(jω)² + …|²
fn square(polynomial: &[f64], angular: f64) -> f64 {
    let s = Complex64::new(0.0, angular);
    let sum = polynomial
        .iter()
        .rev()
        .fold(Complex64::ZERO, |sum, coefficient| sum * s + coefficient);
    sum.norm_sqr()
}

/// A branch's admittance p/q, as steps.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Branch {
    p: usize,
    q: usize,
}

const ZERO: usize = 0;
const ONE: usize = 1;

/// At most one branch between any two nodes.
#[derive(Debug, Clone, Default)]
struct Graph {
    branches: Vec<(Node, Node, Branch)>,
}

impl Graph {
    /// Takes out and returns the branch between two nodes.
    fn take(&mut self, one: Node, other: Node) -> Option<Branch> {
        let between = |(from, to, _): &(Node, Node, Branch)| (*from, *to) == (one, other) || (*from, *to) == (other, one);
        let place = self.branches.iter().position(between)?;
        Some(self.branches.swap_remove(place).2)
    }

    /// The nodes that branches lead to from one node, ascending.
    fn neighbours(&self, node: Node) -> Vec<Node> {
        let mut found: Vec<Node> = self
            .branches
            .iter()
            .filter_map(|(from, to, _)| match (*from == node, *to == node) {
                (true, _) => Some(*to),
                (_, true) => Some(*from),
                _ => None,
            })
            .collect();
        found.sort_unstable();
        found
    }
}

/// A recipe being written.
struct Draft {
    leaves: Vec<Leaf>,
    steps: Vec<Step>,
    degrees: Vec<usize>,
    known: HashMap<Step, usize>,
}

impl Draft {
    fn new() -> Self {
        let mut draft = Self {
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
        if let Some(known) = self.known.get(&step) {
            return *known;
        }
        self.steps.push(step);
        self.degrees.push(degree);
        self.known.insert(step, self.steps.len() - 1);
        self.steps.len() - 1
    }

    fn sum(&mut self, one: usize, other: usize) -> usize {
        match (one.min(other), one.max(other)) {
            (ZERO, other) => other,
            (one, other) => self.step(Step::Sum(one, other), self.degrees[one].max(self.degrees[other])),
        }
    }

    fn product(&mut self, one: usize, other: usize) -> usize {
        match (one.min(other), one.max(other)) {
            (ZERO, _) => ZERO,
            (ONE, other) => other,
            (one, other) => self.step(Step::Product(one, other), self.degrees[one] + self.degrees[other]),
        }
    }

    fn leaf(&mut self, value: f64, with_s: bool, is_admittance: bool, origin: Origin) -> usize {
        self.leaves.push(Leaf {
            value,
            with_s,
            is_admittance,
            origin,
        });
        self.step(Step::Leaf(self.leaves.len() - 1), usize::from(with_s))
    }

    fn resistor(&mut self, value: f64, origin: Origin) -> Branch {
        let q = self.leaf(value, false, false, origin);
        Branch { p: ONE, q }
    }

    fn inductor(&mut self, value: f64, origin: Origin) -> Branch {
        let q = self.leaf(value, true, false, origin);
        Branch { p: ONE, q }
    }

    fn capacitor(&mut self, value: f64, origin: Origin) -> Branch {
        let p = self.leaf(value, true, true, origin);
        Branch { p, q: ONE }
    }

    fn side_by_side(&mut self, one: Branch, other: Branch) -> Branch {
        let (first, second) = (self.product(one.p, other.q), self.product(other.p, one.q));
        Branch {
            p: self.sum(first, second),
            q: self.product(one.q, other.q),
        }
    }

    fn in_a_row(&mut self, one: Branch, other: Branch) -> Branch {
        let turned = |branch: Branch| Branch { p: branch.q, q: branch.p };
        turned(self.side_by_side(turned(one), turned(other)))
    }

    fn element(&mut self, element: &Element<'_>) -> Branch {
        match *element {
            Element::Winding(pickup) => self.winding(pickup),
            Element::Resistance(value, origin) => self.resistor(value, origin),
            Element::Capacitance(value, origin) => self.capacitor(value, origin),
            Element::Network(network, place) => self.network(network, place, &mut 0),
        }
    }

    fn winding(&mut self, pickup: &Pickup) -> Branch {
        let resistor = self.resistor(pickup.resistance.value(), Origin::WindingResistance);
        let coil = self.inductor(pickup.lossless_inductance(), Origin::Inductance);
        let mut winding = self.in_a_row(resistor, coil);
        for cell in &pickup.loss {
            let share = self.inductor(cell.inductance.value(), Origin::Inductance);
            let loss = self.resistor(cell.resistance.value(), Origin::Exact);
            let cell = self.side_by_side(share, loss);
            winding = self.in_a_row(winding, cell);
        }
        winding
    }

    /// `next` counts the parts in written order.
    fn network(&mut self, network: &Network, place: Place, next: &mut usize) -> Branch {
        let open = Branch { p: ZERO, q: ONE };
        let wire = Branch { p: ONE, q: ZERO };
        match network {
            Network::Series(members) => members.iter().fold(wire, |row, member| {
                let member = self.network(member, place, next);
                self.in_a_row(row, member)
            }),
            Network::Parallel(members) => members.iter().fold(open, |side, member| {
                let member = self.network(member, place, next);
                self.side_by_side(side, member)
            }),
            Network::Free(_) => {
                *next += 1;
                open
            }
            Network::Fixed(component) => {
                let origin = Origin::Part(place, *next);
                *next += 1;
                match component {
                    Component::Resistor(value) => self.resistor(value.value(), origin),
                    Component::Capacitor(value) => self.capacitor(value.value(), origin),
                    Component::Inductor(value) => self.inductor(value.value(), origin),
                }
            }
        }
    }

    /// Adds a branch to a graph, side by side with the one that is there.
    fn join(&mut self, graph: &mut Graph, from: Node, to: Node, branch: Branch) {
        // What lies between one and the same node carries no current; what is open does not join.
        if from == to || branch.p == ZERO {
            return;
        }
        let branch = match graph.take(from, to) {
            Some(beside) => self.side_by_side(beside, branch),
            None => branch,
        };
        graph.branches.push((from, to, branch));
    }

    /// N and D: the forest sums of a graph whose ends are source, output and ground.
    fn forests(&mut self, mut graph: Graph, ends: [Node; 3]) -> [usize; 2] {
        let inner = |graph: &Graph| {
            let nodes = (0..MOST_NODES).filter(|node| !ends.contains(node));
            let mut crossings: Vec<(usize, Node)> = nodes.map(|node| (graph.neighbours(node).len(), node)).collect();
            crossings.retain(|(branches, _)| *branches > 0);
            crossings.into_iter().min()
        };
        let mut factor = ONE;
        while let Some((branches, node)) = inner(&graph) {
            let neighbours = graph.neighbours(node);
            match branches {
                // A node on one branch hangs on it in every forest.
                1 => {
                    factor = graph
                        .take(node, neighbours[0])
                        .map_or(factor, |branch| self.product(factor, branch.p))
                }
                2 => {
                    if let (Some(one), Some(other)) = (graph.take(node, neighbours[0]), graph.take(node, neighbours[1])) {
                        let row = self.in_a_row(one, other);
                        self.join(&mut graph, neighbours[0], neighbours[1], row);
                    }
                }
                _ => {
                    let sums = self.with_and_without(graph, node, &neighbours, ends);
                    return sums.map(|sum| self.product(factor, sum));
                }
            }
        }
        self.last(graph, ends).map(|sum| self.product(factor, sum))
    }

    /// The forests with one branch of a node, and those without it; preferably a branch to another inner node.
    fn with_and_without(&mut self, mut graph: Graph, node: Node, neighbours: &[Node], ends: [Node; 3]) -> [usize; 2] {
        let other = neighbours.iter().find(|other| !ends.contains(other));
        let other = *other.unwrap_or(&neighbours[0]);
        let Some(branch) = graph.take(node, other) else {
            return [ZERO, ZERO];
        };
        let mut merged = Graph::default();
        for (from, to, branch) in &graph.branches {
            let [from, to] = [*from, *to].map(|end| if end == node { other } else { end });
            self.join(&mut merged, from, to, *branch);
        }
        let (with, without) = (self.forests(merged, ends), self.forests(graph, ends));
        [0, 1].map(|sum| {
            let (with, without) = (self.product(branch.p, with[sum]), self.product(branch.q, without[sum]));
            self.sum(with, without)
        })
    }

    /// Only source, output and ground are left.
    fn last(&mut self, mut graph: Graph, [source, output, ground]: [Node; 3]) -> [usize; 2] {
        // What lies between source and ground is in no forest.
        let apart = graph.take(source, ground).map_or(ONE, |branch| branch.q);
        if output == source {
            return [apart, apart];
        }
        let open = Branch { p: ZERO, q: ONE };
        let up = graph.take(source, output).unwrap_or(open);
        if output == ground {
            return [ZERO, apart];
        }
        let down = graph.take(output, ground).unwrap_or(open);
        let (with_source, with_ground) = (self.product(up.p, down.q), self.product(up.q, down.p));
        let all = self.sum(with_source, with_ground);
        [with_source, all].map(|sum| self.product(apart, sum))
    }

    /// Only the steps that N and D need, in order.
    fn recipe(self, numerator: usize, denominator: usize) -> Recipe {
        let mut needed = vec![false; self.steps.len()];
        (needed[numerator], needed[denominator]) = (true, true);
        for index in (0..self.steps.len()).rev() {
            if let (true, Step::Sum(one, other) | Step::Product(one, other)) = (needed[index], self.steps[index]) {
                (needed[one], needed[other]) = (true, true);
            }
        }
        let mut recipe = Recipe {
            leaves: self.leaves,
            steps: Vec::new(),
            degrees: Vec::new(),
            numerator: 0,
            denominator: 0,
        };
        let mut renamed = vec![0; self.steps.len()];
        for index in (0..self.steps.len()).filter(|index| needed[*index]) {
            renamed[index] = recipe.steps.len();
            recipe.degrees.push(self.degrees[index]);
            recipe.steps.push(match self.steps[index] {
                Step::Sum(one, other) => Step::Sum(renamed[one], renamed[other]),
                Step::Product(one, other) => Step::Product(renamed[one], renamed[other]),
                other => other,
            });
        }
        (recipe.numerator, recipe.denominator) = (renamed[numerator], renamed[denominator]);
        recipe
    }
}
