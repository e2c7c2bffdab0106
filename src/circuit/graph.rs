//! V/E of a circuit as sums over the forests of its graph.
//!
//! By the matrix-tree theorem the determinants of a circuit's nodal equations are such sums (G. Kirchhoff, 1847; W. K. Chen, *Applied
//! Graph Theory*, 1971, ch. 4). Ground and the EMF are roots. With each branch's admittance written p/q, and every forest weighing ∏p of
//! its branches times ∏q of all others,
//!
//! - D = the forests with one tree a root,
//! - N = those of them with the output in the EMF's tree.
//!
//! Of several EMFs each has an N of its own, by superposition: the others are wires then. One whose lower end is not ground (of two pickups
//! in series the upper) sends its current out of one end and draws it in at the other: its N is the difference of the sums with its branch
//! at either end, over the same D.
//!
//! A forest sum stays the same when two branches side by side become (p₁q₂ + p₂q₁, q₁q₂), and two in a row (p₁p₂, p₁q₂ + p₂q₁); any
//! other branch is in the forest (its ends merge, times p) or not (it goes, times q).
//!
//! A port is a pair of nodes between which something may be connected that is not known yet. With an admittance Y there, N and D gain
//! Y times their own sums over the graph with both nodes merged, so that with k ports there are 2ᵏ sums each ([`super::ports`]).

use super::recipe::{Branch, Draft, ONE, ZERO};

/// A node of a circuit.
pub type Node = usize;

/// The node every voltage is measured against.
pub const GROUND: Node = 0;

/// Branches and ports between nodes.
#[derive(Debug, Default)]
pub(super) struct Circuit {
    pub(super) branches: Vec<(Node, Node, Branch)>,
    /// Both ends of a port that is connected to nothing are ground.
    pub(super) ports: Vec<(Node, Node)>,
    /// The EMFs; the lower end of the first is ground.
    pub(super) emfs: Vec<Emf>,
    pub(super) output: Node,
}

/// A pickup's EMF: the node it drives, which has only the pickup's winding on it besides.
#[derive(Debug, Clone, Copy)]
pub(super) struct Emf {
    pub(super) root: Node,
    pub(super) cold: Node,
    /// How many times the EMF of a pickup of 0 dB; below zero where it is reversed.
    pub(super) ratio: f64,
}

impl Circuit {
    /// The steps of N and D for every subset of merged ports; both zero where a merged port's ends are one node already.
    pub(super) fn terms(mut self, draft: &mut Draft) -> Vec<[usize; 2]> {
        let mut wired = self.each_node_apart();
        for (from, to, branch) in &self.branches {
            if branch.q == ZERO {
                wired.merge(*from, *to);
            }
        }
        self.renumber(&wired);
        // What lies between one and the same node carries no current; what is open does not join.
        self.branches.retain(|(from, to, branch)| from != to && branch.p != ZERO);
        self.leave_out_what_floats();
        (0..1 << self.ports.len()).map(|subset| self.term(draft, subset)).collect()
    }

    fn each_node_apart(&self) -> Classes {
        let ends = self.branches.iter().map(|(from, to, _)| from.max(to));
        let ends = ends.chain(self.ports.iter().map(|(from, to)| from.max(to)));
        let emfs = self.emfs.iter().flat_map(|emf| [&emf.root, &emf.cold]);
        let last = ends.chain(emfs).chain([&self.output]).max();
        Classes((0..=*last.unwrap_or(&GROUND)).collect())
    }

    fn renumber(&mut self, classes: &Classes) {
        let ends = self.branches.iter_mut().flat_map(|(from, to, _)| [from, to]);
        let ends = ends.chain(self.ports.iter_mut().flat_map(|(from, to)| [from, to]));
        let emfs = self.emfs.iter_mut().flat_map(|emf| [&mut emf.root, &mut emf.cold]);
        for node in ends.chain(emfs).chain([&mut self.output]) {
            *node = classes.of(*node);
        }
    }

    /// Branches and ports that no root can be reached from would make every sum zero.
    fn leave_out_what_floats(&mut self) {
        let mut tied = self.each_node_apart();
        for emf in &self.emfs {
            tied.merge(emf.root, emf.cold);
        }
        for (from, to) in self
            .branches
            .iter()
            .map(|(from, to, _)| (from, to))
            .chain(self.ports.iter().map(|(from, to)| (from, to)))
        {
            tied.merge(*from, *to);
        }
        let floats = |node: Node| tied.of(node) != GROUND;
        self.branches.retain(|(from, ..)| !floats(*from));
        for port in self.ports.iter_mut().filter(|(from, _)| floats(*from)) {
            *port = (GROUND, GROUND);
        }
    }

    /// N and D with a subset of the ports merged.
    fn term(&self, draft: &mut Draft, subset: usize) -> [usize; 2] {
        let (mut plus, mut minus, mut denominator) = (ZERO, ZERO, None);
        for (index, emf) in self.emfs.iter().enumerate() {
            let [driven, all] = self.driven(draft, subset, Some((index, emf.root)));
            denominator = denominator.or(Some(all));
            let drawn = match emf.cold {
                GROUND => ZERO,
                cold => self.moved(emf.root, cold).driven(draft, subset, Some((index, emf.root)))[0],
            };
            let ratio = draft.ratio(emf.ratio.abs());
            let [driven, drawn] = [driven, drawn].map(|sum| draft.product(ratio, sum));
            let (more, less) = if emf.ratio < 0.0 { (drawn, driven) } else { (driven, drawn) };
            (plus, minus) = (draft.sum(plus, more), draft.sum(minus, less));
        }
        let denominator = denominator.unwrap_or_else(|| self.driven(draft, subset, None)[1]);
        [draft.difference(plus, minus), denominator]
    }

    /// The same with the winding of an EMF at the EMF's other end.
    fn moved(&self, root: Node, cold: Node) -> Self {
        let end = |(from, to, branch): &(Node, Node, Branch)| match (*from == root, *to == root) {
            (true, _) => (root, cold, *branch),
            (_, true) => (cold, root, *branch),
            _ => (*from, *to, *branch),
        };
        Self {
            branches: self.branches.iter().map(end).collect(),
            ports: self.ports.clone(),
            emfs: self.emfs.clone(),
            output: self.output,
        }
    }

    /// The forests with the output in the tree of one EMF, given by its number and root, and all forests; every other EMF is a wire.
    fn driven(&self, draft: &mut Draft, subset: usize, own: Option<(usize, Node)>) -> [usize; 2] {
        let mut classes = self.each_node_apart();
        for (index, emf) in self.emfs.iter().enumerate() {
            if own.is_none_or(|(own, _)| own != index) {
                classes.merge(emf.root, emf.cold);
            }
        }
        let source = own.map(|(_, root)| root);
        let shorted = self.ports.iter().enumerate().filter(|(index, _)| subset & (1 << index) != 0);
        for (_, (from, to)) in shorted {
            if !classes.merge(*from, *to) {
                return [ZERO; 2];
            }
        }
        let roots: Vec<Node> = source.iter().chain([&GROUND]).map(|root| classes.of(*root)).collect();
        if roots.len() > 1 && roots[0] == GROUND {
            return [ZERO; 2];
        }
        let ends = Ends {
            output: classes.of(self.output),
            roots,
        };
        let mut graph = Graph {
            branches: Vec::new(),
            inner: self.inner(&classes, &ends),
        };
        // A branch whose ends the ports merge is in no forest, but its q must stay: without it the terms would have no common scale.
        let mut factor = ONE;
        for (from, to, branch) in &self.branches {
            match [from, to].map(|node| classes.of(*node)) {
                [from, to] if from == to => factor = draft.product(factor, branch.q),
                [from, to] => graph.join(draft, from, to, *branch),
            }
        }
        let sums = graph.forests(draft, &ends);
        let all = sums.iter().fold(ZERO, |all, sum| draft.sum(all, *sum));
        let numerator = source.map_or(ZERO, |_| sums[0]);
        [numerator, all].map(|sum| draft.product(factor, sum))
    }

    /// Every node of a branch or port takes part in every term, so that all of them are of one polynomial.
    fn inner(&self, classes: &Classes, ends: &Ends) -> Vec<Node> {
        let branches = self.branches.iter().flat_map(|(from, to, _)| [from, to]);
        let ports = self.ports.iter().flat_map(|(from, to)| [from, to]);
        let mut nodes: Vec<Node> = branches.chain(ports).map(|node| classes.of(*node)).collect();
        nodes.retain(|node| !ends.contain(*node));
        nodes.sort_unstable();
        nodes.dedup();
        nodes
    }
}

/// For each node the lowest one of those it is merged with.
struct Classes(Vec<Node>);

impl Classes {
    fn of(&self, node: Node) -> Node {
        self.0[node]
    }

    /// `false` if both were one already.
    fn merge(&mut self, one: Node, other: Node) -> bool {
        let (one, other) = (self.of(one), self.of(other));
        let (keep, drop) = (one.min(other), one.max(other));
        self.0.iter_mut().filter(|class| **class == drop).for_each(|class| *class = keep);
        keep != drop
    }
}

/// The nodes that are left when everything else is taken out.
struct Ends {
    output: Node,
    /// The EMF, if any, and ground.
    roots: Vec<Node>,
}

impl Ends {
    fn contain(&self, node: Node) -> bool {
        self.output == node || self.roots.contains(&node)
    }
}

/// At most one branch between any two nodes.
#[derive(Debug, Clone)]
struct Graph {
    branches: Vec<(Node, Node, Branch)>,
    /// The nodes that are no ends.
    inner: Vec<Node>,
}

impl Graph {
    /// Takes out and returns the branch between two nodes.
    fn take(&mut self, one: Node, other: Node) -> Branch {
        let between = |(from, to, _): &(Node, Node, Branch)| (*from, *to) == (one, other) || (*from, *to) == (other, one);
        let place = self.branches.iter().position(between);
        place.map_or(Branch::OPEN, |place| self.branches.swap_remove(place).2)
    }

    /// Adds a branch, side by side with the one that is there.
    fn join(&mut self, draft: &mut Draft, from: Node, to: Node, branch: Branch) {
        let beside = self.take(from, to);
        self.branches.push((from, to, draft.side_by_side(beside, branch)));
    }

    /// The nodes that branches lead to from one node, ascending.
    fn neighbours(&self, node: Node) -> Vec<Node> {
        let other_end = |(from, to, _): &(Node, Node, Branch)| match (*from == node, *to == node) {
            (true, _) => Some(*to),
            (_, true) => Some(*from),
            _ => None,
        };
        let mut found: Vec<Node> = self.branches.iter().filter_map(other_end).collect();
        found.sort_unstable();
        found
    }

    /// Takes out the inner node with the fewest branches.
    fn least_connected(&mut self) -> Option<(Node, Vec<Node>)> {
        let degree = |node: Node| self.branches.iter().filter(|(from, to, _)| *from == node || *to == node).count();
        let least = (0..self.inner.len()).min_by_key(|place| (degree(self.inner[*place]), self.inner[*place]))?;
        let node = self.inner.swap_remove(least);
        Some((node, self.neighbours(node)))
    }

    /// The sum of all forests with the output in the tree of a root, for each root.
    fn forests(mut self, draft: &mut Draft, ends: &Ends) -> Vec<usize> {
        let mut factor = ONE;
        while let Some((node, neighbours)) = self.least_connected() {
            match neighbours.as_slice() {
                // A node on no branch is in the tree of no root.
                [] => return vec![ZERO; ends.roots.len()],
                // A node on one branch hangs on it in every forest.
                [only] => factor = draft.product(factor, self.take(node, *only).p),
                [one, other] => {
                    let (first, second) = (self.take(node, *one), self.take(node, *other));
                    let row = draft.in_a_row(first, second);
                    self.join(draft, *one, *other, row);
                }
                _ => {
                    let sums = self.with_and_without(draft, node, &neighbours, ends);
                    return sums.into_iter().map(|sum| draft.product(factor, sum)).collect();
                }
            }
        }
        let sums = self.last(draft, ends);
        sums.into_iter().map(|sum| draft.product(factor, sum)).collect()
    }

    /// The forests with one branch of a node, and those without it; preferably a branch to another inner node.
    fn with_and_without(mut self, draft: &mut Draft, node: Node, neighbours: &[Node], ends: &Ends) -> Vec<usize> {
        let other = neighbours.iter().find(|other| !ends.contain(**other));
        let other = *other.unwrap_or(&neighbours[0]);
        let branch = self.take(node, other);
        let mut merged = Self {
            branches: Vec::new(),
            inner: self.inner.clone(),
        };
        for (from, to, branch) in &self.branches {
            let [from, to] = [*from, *to].map(|end| if end == node { other } else { end });
            merged.join(draft, from, to, *branch);
        }
        self.inner.push(node);
        let (with, without) = (merged.forests(draft, ends), self.forests(draft, ends));
        let both = with.into_iter().zip(without).map(|(with, without)| {
            let (with, without) = (draft.product(branch.p, with), draft.product(branch.q, without));
            draft.sum(with, without)
        });
        both.collect()
    }

    /// Only output and roots are left.
    fn last(mut self, draft: &mut Draft, ends: &Ends) -> Vec<usize> {
        let roots = &ends.roots;
        // What lies between two roots is in no forest.
        let mut apart = ONE;
        for (index, root) in roots.iter().enumerate() {
            for other in &roots[..index] {
                apart = draft.product(apart, self.take(*root, *other).q);
            }
        }
        if let Some(own) = roots.iter().position(|root| *root == ends.output) {
            return (0..roots.len()).map(|root| if root == own { apart } else { ZERO }).collect();
        }
        let legs: Vec<Branch> = roots.iter().map(|root| self.take(ends.output, *root)).collect();
        let sum = |own: usize| {
            legs.iter().enumerate().fold(apart, |product, (root, leg)| {
                draft.product(product, if root == own { leg.p } else { leg.q })
            })
        };
        (0..roots.len()).map(sum).collect()
    }
}
