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
pub const MOST_NODES: usize = 10;

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
    let (numerator, denominator) = circuit.determinants(output);
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
    // Z = D with the node grounded, over D: the cofactor of the node's own diagonal entry.
    let mut grounded = branches.to_vec();
    grounded.push(Branch {
        from: node,
        to: GROUND,
        admittance: Admittance::Short,
    });
    let (_, denominator) = circuit.determinants(GROUND);
    let (_, cofactor) = Circuit::new(&grounded, None)?.determinants(GROUND);
    finite(cofactor / denominator)
}

fn finite(value: Complex64) -> Option<Complex64> {
    value.is_finite().then_some(value)
}

/// Branches whose shorts have been merged, and what is left to solve.
pub(super) struct Circuit<'b> {
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
        for class in 0..MOST_NODES {
            let known = class == circuit.classes[GROUND] || source.is_some_and(|source| class == circuit.classes[source]);
            if tied[class] && !known {
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

    fn determinants(&self, output: Node) -> (Complex64, Complex64) {
        let mut equations = Equations::new(self.size);
        let source = self.source.map(|source| self.classes[source]);
        for branch in self.branches {
            if let Admittance::Value(admittance) = branch.admittance {
                let (from, to) = (self.classes[branch.from], self.classes[branch.to]);
                let rows = (self.rows[from], self.rows[to]);
                equations.add(rows, (Some(from) == source, Some(to) == source), admittance);
            }
        }
        let output = self.classes[output];
        if Some(output) == source {
            let denominator = equations.denominator();
            return (denominator, denominator);
        }
        (equations.numerator(self.rows[output]), equations.denominator())
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

/// The nodal equations G·v = i of the unknown nodes, with the EMF's voltage as one.
#[derive(Clone)]
pub(super) struct Equations {
    size: usize,
    matrix: [[Complex64; MOST_NODES]; MOST_NODES],
    current: [Complex64; MOST_NODES],
}

impl Equations {
    pub(super) fn new(size: usize) -> Self {
        Self {
            size,
            matrix: [[Complex64::ZERO; MOST_NODES]; MOST_NODES],
            current: [Complex64::ZERO; MOST_NODES],
        }
    }

    /// Adds an admittance between two nodes, each given by its row (`None` is a known voltage: 1 at the source, else 0).
    pub(super) fn add(&mut self, rows: (Option<usize>, Option<usize>), at_source: (bool, bool), admittance: Complex64) {
        for (row, other, other_at_source) in [(rows.0, rows.1, at_source.1), (rows.1, rows.0, at_source.0)] {
            let Some(row) = row else { continue };
            if other == Some(row) {
                // Both ends merged into one node: no current flows.
                continue;
            }
            self.matrix[row][row] += admittance;
            if let Some(other) = other {
                self.matrix[row][other] -= admittance;
            } else if other_at_source {
                self.current[row] += admittance;
            }
        }
    }

    /// det G
    pub(super) fn denominator(&self) -> Complex64 {
        determinant(self.matrix, self.size)
    }

    /// det G with the output's column replaced by i (Cramer's rule); zero when the output is at ground.
    pub(super) fn numerator(&self, output: Option<usize>) -> Complex64 {
        let Some(output) = output else {
            return Complex64::ZERO;
        };
        let mut matrix = self.matrix;
        for (row, current) in matrix.iter_mut().zip(self.current) {
            row[output] = current;
        }
        determinant(matrix, self.size)
    }
}

/// Gaussian elimination with row pivoting.
fn determinant(mut matrix: [[Complex64; MOST_NODES]; MOST_NODES], size: usize) -> Complex64 {
    let mut product = Complex64::ONE;
    for column in 0..size {
        let mut pivot = column;
        for row in column + 1..size {
            if matrix[row][column].norm_sqr() > matrix[pivot][column].norm_sqr() {
                pivot = row;
            }
        }
        let head = matrix[pivot][column];
        if head == Complex64::ZERO {
            return Complex64::ZERO;
        }
        if pivot != column {
            matrix.swap(pivot, column);
            product = -product;
        }
        product *= head;
        let pivot_row = matrix[column];
        for row in matrix.iter_mut().take(size).skip(column + 1) {
            let factor = row[column] / head;
            for (entry, above) in row.iter_mut().zip(pivot_row).take(size).skip(column + 1) {
                *entry -= factor * above;
            }
        }
    }
    product
}
