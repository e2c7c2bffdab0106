//! Nodal equations of a small circuit driven by one ideal EMF, with exact shorts by merging nodes.

use num_complex::Complex64;

use crate::parts::network::Admittance;

/// A node of a circuit.
pub type Node = usize;

/// The node every voltage is measured against.
pub const GROUND: Node = 0;

/// A branch between two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Branch {
    /// One end.
    pub from: Node,
    /// The other end.
    pub to: Node,
    /// What lies between, in S; a short makes both ends one node.
    pub admittance: Admittance,
}

/// Most nodes a circuit may have, ground and source included.
pub const MOST_NODES: usize = 12;

/// V(output)/V(source) with an ideal EMF between `source` and ground.
///
/// `None` when the circuit has more than [`MOST_NODES`] nodes, shorts the source, or leaves the output undetermined.
#[must_use]
pub fn transfer(branches: &[Branch], source: Node, output: Node) -> Option<Complex64> {
    let circuit = Circuit::new(branches, Some(source))?;
    if circuit.classes[source] == circuit.classes[GROUND] {
        return None;
    }
    circuit.connected(output).then_some(())?;
    let (numerator, denominator) = circuit.equations().determinants(circuit.end(output));
    finite(numerator / denominator)
}

/// The impedance in Ω between `node` and ground.
///
/// `None` when the circuit has more than [`MOST_NODES`] nodes or nothing ties the node to ground.
#[must_use]
pub fn driving_point_impedance(branches: &[Branch], node: Node) -> Option<Complex64> {
    let circuit = Circuit::new(branches, None)?;
    if circuit.classes.get(node)? == &circuit.classes[GROUND] {
        return Some(Complex64::ZERO);
    }
    circuit.connected(node).then_some(())?;
    match circuit.end(node) {
        End::Unknown(_) => finite(circuit.equations().admittance_to_ground(circuit.end(node)).inv()),
        End::Ground | End::Source => None,
    }
}

fn finite(value: Complex64) -> Option<Complex64> {
    value.is_finite().then_some(value)
}

/// Branches whose shorts have been merged, and what is left to solve.
struct Circuit<'b> {
    branches: &'b [Branch],
    /// The class each node was merged into.
    classes: [Node; MOST_NODES],
    /// Row of each class in the equations; `None` for ground, source and classes tied to neither.
    rows: [Option<usize>; MOST_NODES],
    size: usize,
    source: Option<Node>,
}

impl<'b> Circuit<'b> {
    fn new(branches: &'b [Branch], source: Option<Node>) -> Option<Self> {
        let in_range = |node: Node| node < MOST_NODES;
        if !branches.iter().all(|branch| in_range(branch.from) && in_range(branch.to)) || !source.is_none_or(in_range) {
            return None;
        }
        let mut circuit = Self {
            branches,
            classes: std::array::from_fn(|node| node),
            rows: [None; MOST_NODES],
            size: 0,
            source,
        };
        for branch in branches.iter().filter(|branch| branch.admittance == Admittance::Short) {
            merge(&mut circuit.classes, branch.from, branch.to);
        }
        let tied = circuit.tied();
        for (class, is_tied) in tied.into_iter().enumerate() {
            let known = class == circuit.classes[GROUND] || source.is_some_and(|source| class == circuit.classes[source]);
            if is_tied && !known {
                circuit.rows[class] = Some(circuit.size);
                circuit.size += 1;
            }
        }
        Some(circuit)
    }

    /// Which classes hang, through admittances that are not zero, on ground or source.
    fn tied(&self) -> [bool; MOST_NODES] {
        let mut tied = [false; MOST_NODES];
        tied[self.classes[GROUND]] = true;
        if let Some(source) = self.source {
            tied[self.classes[source]] = true;
        }
        for _ in 0..MOST_NODES {
            for branch in self.branches.iter().filter(|branch| branch.admittance != Admittance::OPEN) {
                let (from, to) = (self.classes[branch.from], self.classes[branch.to]);
                if tied[from] || tied[to] {
                    (tied[from], tied[to]) = (true, true);
                }
            }
        }
        tied
    }

    fn connected(&self, node: Node) -> bool {
        node < MOST_NODES && self.tied()[self.classes[node]]
    }

    fn equations(&self) -> Equations {
        let mut equations = Equations::new(self.size);
        for branch in self.branches {
            if let Admittance::Value(admittance) = branch.admittance {
                equations.add(self.end(branch.from), self.end(branch.to), admittance);
            }
        }
        equations
    }

    /// Where a node stands in the equations; one that hangs on nothing counts as grounded, having no current to carry.
    fn end(&self, node: Node) -> End {
        let class = self.classes[node];
        match self.rows[class] {
            Some(row) => End::Unknown(row),
            None if self.source.is_some_and(|source| class == self.classes[source]) => End::Source,
            None => End::Ground,
        }
    }
}

/// Makes the classes of two nodes one; the lower number stays.
pub(super) fn merge(classes: &mut [Node; MOST_NODES], one: Node, other: Node) {
    let (one, other) = (classes[one], classes[other]);
    let (keep, drop) = (one.min(other), one.max(other));
    for class in classes.iter_mut().filter(|class| **class == drop) {
        *class = keep;
    }
}

/// Row of ground in [`Equations`].
const GROUND_ROW: usize = 0;
/// Row of the source in [`Equations`].
const SOURCE_ROW: usize = 1;
/// Row of the first node whose voltage is not known.
const FIRST_UNKNOWN: usize = 2;

/// Admittances between every two nodes, ground and source among them, to be eliminated node by node.
///
/// Taking a node k out turns its star into a mesh: y_ij += y_ik·y_jk/Σₖ with Σₖ = Σ y_ik. That is Gaussian elimination of the
/// nodal matrix with every diagonal entry formed anew as the sum of its row, so that no small admittance is ever lost in a large
/// one: between resistances there is no subtraction at all (W. Grassmann, M. Taksar and D. Heyman, "Regenerative analysis and
/// steady state distributions for Markov chains", Operations Research 33(5), 1985, for the same step in another field). The
/// determinant of the nodal matrix is the product of the Σₖ.
#[derive(Clone)]
pub(super) struct Equations {
    size: usize,
    between: [[Complex64; MOST_NODES]; MOST_NODES],
}

impl Equations {
    /// For so many nodes of unknown voltage.
    pub(super) fn new(unknown: usize) -> Self {
        Self {
            size: FIRST_UNKNOWN + unknown,
            between: [[Complex64::ZERO; MOST_NODES]; MOST_NODES],
        }
    }

    /// Adds an admittance between two ends.
    pub(super) fn add(&mut self, from: End, to: End, admittance: Complex64) {
        let (from, to) = (from.row(), to.row());
        // With both ends merged into one node no current flows.
        if from != to {
            self.between[from][to] += admittance;
            self.between[to][from] += admittance;
        }
    }

    /// N and D of V(output)/V(source) = N/D, with D the determinant of the nodal matrix.
    pub(super) fn determinants(mut self, output: End) -> (Complex64, Complex64) {
        let output = output.row();
        let (product, left) = self.eliminate_but(output);
        match output {
            GROUND_ROW => (Complex64::ZERO, product),
            SOURCE_ROW => (product, product),
            _ => (product * self.between[output][SOURCE_ROW], product * self.sum(output, &left)),
        }
    }

    /// The admittance between an unknown node and ground, nothing being tied to the source.
    fn admittance_to_ground(mut self, node: End) -> Complex64 {
        let (_, left) = self.eliminate_but(node.row());
        self.sum(node.row(), &left)
    }

    /// Takes out every unknown node but one; the product of their sums, and which rows are left.
    fn eliminate_but(&mut self, kept: usize) -> (Complex64, [bool; MOST_NODES]) {
        let mut left: [bool; MOST_NODES] = std::array::from_fn(|row| row < self.size);
        let mut product = Complex64::ONE;
        while let Some((pivot, sum)) = self.pivot(&left, kept) {
            product *= sum;
            left[pivot] = false;
            self.star_to_mesh(pivot, sum, &left);
        }
        (product, left)
    }

    /// The unknown node, other than the one kept, whose admittances cancel least in their sum.
    fn pivot(&self, left: &[bool; MOST_NODES], kept: usize) -> Option<(usize, Complex64)> {
        let candidates = (FIRST_UNKNOWN..self.size).filter(|row| left[*row] && *row != kept);
        let soundness = |row: usize| {
            let sum = self.sum(row, left);
            let size: f64 = self.others(row, left).map(|other| self.between[row][other].l1_norm()).sum();
            let ratio = if size > 0.0 { sum.l1_norm() / size } else { 0.0 };
            (ratio, row, sum)
        };
        let best = candidates
            .map(soundness)
            .max_by(|one, other| one.0.total_cmp(&other.0).then(other.1.cmp(&one.1)));
        best.map(|(_, row, sum)| (row, sum))
    }

    fn star_to_mesh(&mut self, pivot: usize, sum: Complex64, left: &[bool; MOST_NODES]) {
        if sum == Complex64::ZERO {
            // The product is zero already, and so is every determinant.
            return;
        }
        for row in (0..self.size).filter(|row| left[*row]) {
            let share = self.between[row][pivot] / sum;
            for other in (row + 1..self.size).filter(|other| left[*other]) {
                let mesh = share * self.between[other][pivot];
                self.between[row][other] += mesh;
                self.between[other][row] += mesh;
            }
        }
    }

    fn sum(&self, row: usize, left: &[bool; MOST_NODES]) -> Complex64 {
        self.others(row, left).map(|other| self.between[row][other]).sum()
    }

    fn others<'l>(&self, row: usize, left: &'l [bool; MOST_NODES]) -> impl Iterator<Item = usize> + use<'l> {
        (0..self.size).filter(move |other| left[*other] && *other != row)
    }
}

/// One end of an admittance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// Ground.
    Ground,
    /// The EMF's hot end.
    Source,
    /// The node of unknown voltage with this number.
    Unknown(usize),
}

impl End {
    fn row(self) -> usize {
        match self {
            Self::Ground => GROUND_ROW,
            Self::Source => SOURCE_ROW,
            Self::Unknown(number) => FIRST_UNKNOWN + number,
        }
    }
}
