//! The innermost loops: several candidates side by side in vector lanes, one point of the plan after the other.
//!
//! At every point |N₀ + N₁·t|² = n₀ + n₁u + n₂v + n₃(u² + v²) with t = u + jv, the same for D. The loops hold no logarithm and no
//! square root, and [`Isa::within`] holds no division either. The instruction set is found once, when the program runs; the loops
//! are the same text for each, over a `vector` as wide as the processor has it (fused multiply-adds round once where others round twice).
#![allow(unsafe_code)]

#[macro_use]
mod dispatch;
mod built;
mod loops;
mod product;
mod vector;

pub use built::{Compared, Points, Program, Reference, Step};
pub use dispatch::Isa;

use num_complex::Complex64;

use loops::{average_ends, average_power, breaks, compose, intervals, mean_ends, mean_power, nearness, powers, within};

/// Candidates side by side.
pub const LANES: usize = 8;

/// One figure a candidate.
pub type Lane = [f64; LANES];

/// The powers of numerator and denominator at one point, as polynomials in u and v.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quadratics {
    /// n₀ … n₃
    pub n: [f64; 4],
    /// d₀ … d₃
    pub d: [f64; 4],
    /// What a candidate's reactive weight is multiplied by to give v at this point's frequency.
    pub scale: f64,
}

/// A point whose power ratio to the anchor is bounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundedQuadratics {
    /// The point.
    pub at: Quadratics,
    /// Largest ratio allowed, infinite when there is no such bound.
    pub high: f64,
    /// Smallest ratio allowed, zero when there is no such bound.
    pub low: f64,
}

/// Candidates side by side: u, and the reactive weight w that gives v = scale·w.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// Real part of t.
    pub u: Lane,
    /// Reactive weight.
    pub w: Lane,
}

/// Several points side by side, to be asked about a whole rectangle of candidates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Packed {
    n: [Lane; 4],
    d: [Lane; 4],
    scale: Lane,
    high: Lane,
    low: Lane,
}

impl Packed {
    /// Packs points into as few groups as hold them; the last group repeats its last point.
    pub fn pack(points: impl Iterator<Item = BoundedQuadratics>) -> Vec<Self> {
        let mut groups: Vec<Self> = Vec::new();
        for (index, point) in points.enumerate() {
            match (index % LANES, groups.last_mut()) {
                // A point fills its lane and all behind it, until others take theirs.
                (lane, Some(group)) if lane > 0 => (lane..LANES).for_each(|lane| group.set(lane, &point)),
                _ => groups.push(Self::of(&point)),
            }
        }
        groups
    }

    fn of(point: &BoundedQuadratics) -> Self {
        Self {
            n: point.at.n.map(|term| [term; LANES]),
            d: point.at.d.map(|term| [term; LANES]),
            scale: [point.at.scale; LANES],
            high: [point.high; LANES],
            low: [point.low; LANES],
        }
    }

    fn set(&mut self, lane: usize, point: &BoundedQuadratics) {
        for term in 0..4 {
            self.n[term][lane] = point.at.n[term];
            self.d[term][lane] = point.at.d[term];
        }
        (self.scale[lane], self.high[lane], self.low[lane]) = (point.at.scale, point.high, point.low);
    }
}

impl Packed {
    /// The point in a lane.
    #[must_use]
    pub fn point(&self, lane: usize) -> BoundedQuadratics {
        BoundedQuadratics {
            at: Quadratics {
                n: [self.n[0][lane], self.n[1][lane], self.n[2][lane], self.n[3][lane]],
                d: [self.d[0][lane], self.d[1][lane], self.d[2][lane], self.d[3][lane]],
                scale: self.scale[lane],
            },
            high: self.high[lane],
            low: self.low[lane],
        }
    }
}

/// (α + β·t)/(γ + δ·t)
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moebius {
    /// α
    pub alpha: Complex64,
    /// β
    pub beta: Complex64,
    /// γ
    pub gamma: Complex64,
    /// δ
    pub delta: Complex64,
}

/// One point before what stands around t is put in: N and D in the slot's admittance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointTerms {
    /// N₀, N₁, D₀, D₁
    pub terms: [Complex64; 4],
    /// Which of the maps is that of its frequency.
    pub frequency: usize,
    /// See [`Quadratics::scale`].
    pub scale: f64,
    /// What the bounds are multiplied by.
    pub ratio: f64,
}

/// Several points side by side, as [`PointTerms`]; the last group repeats its last point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PackedTerms {
    /// Real and imaginary parts of N₀, N₁, D₀, D₁.
    terms: [[Lane; 2]; 4],
    frequencies: [usize; LANES],
    scale: Lane,
    ratio: Lane,
}

impl PackedTerms {
    /// Packs points into as few groups as hold them.
    #[must_use]
    pub fn pack(points: &[PointTerms]) -> Vec<Self> {
        let mut groups: Vec<Self> = Vec::with_capacity(points.len().div_ceil(LANES));
        for some in points.chunks(LANES) {
            let mut group = Self::EMPTY;
            for lane in 0..LANES {
                group.set(lane, &some[lane.min(some.len() - 1)]);
            }
            groups.push(group);
        }
        groups
    }

    const EMPTY: Self = Self {
        terms: [[[0.0; LANES]; 2]; 4],
        frequencies: [0; LANES],
        scale: [0.0; LANES],
        ratio: [0.0; LANES],
    };

    fn set(&mut self, lane: usize, point: &PointTerms) {
        for (parts, term) in self.terms.iter_mut().zip(&point.terms) {
            (parts[0][lane], parts[1][lane]) = (term.re, term.im);
        }
        self.frequencies[lane] = point.frequency;
        (self.scale[lane], self.ratio[lane]) = (point.scale, point.ratio);
    }
}

/// How points are put together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition {
    /// Whether t is an impedance, whose reactance is −v.
    pub series: bool,
    /// Bounds of the ratio, before each point's own ratio.
    pub high: f64,
    /// As `high`.
    pub low: f64,
    /// By how much terms may cancel, in power, before they are not to be trusted.
    pub most_cancellation: f64,
}

/// A rectangle of candidates: ends of u and of the reactive weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rectangle {
    /// Ends of u.
    pub u: [f64; 2],
    /// Ends of w.
    pub w: [f64; 2],
}

on_every_set! {
    /// Whether each candidate's power over `anchor` lies within the bounds at every point: the smallest of high·a·D − N and
    /// N − low·a·D, below zero where it does not. May stop when no candidate is left; the second figure says after how many points.
    #[must_use]
    fn within(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize);

    /// The mean of N/D over the points, for each candidate.
    #[must_use]
    fn mean_power(points: &[Quadratics], block: &Block) -> Lane;

    /// The power of the mean of the levels of N/D over the points, for each candidate; no number where one of them is not above zero.
    #[must_use]
    fn average_power(points: &[Quadratics], block: &Block) -> Lane;

    /// How near each candidate comes to its bounds: the largest (N/D)/high, the smallest (N/D)/low and the smallest N/D over the points, this no
    /// number where N/D is not finite at one of them.
    #[must_use]
    fn nearness(points: &[BoundedQuadratics], block: &Block) -> [Lane; 3];

    /// Whether some point breaks a bound for every candidate of a rectangle, with the anchor's mean power between two ends. The largest value
    /// of high·a·D − N is a sum of a part in u and a part in v, so that it is exact; it is below zero where the upper bound breaks.
    ///
    /// Several planes at once, each with its own points in the same order: `true` only where one and the same point breaks the same bound in
    /// all of them. u and v being positive, a form is at most the one with the largest of each coefficient.
    #[must_use]
    fn breaks(planes: &[&[Packed]], anchor: [f64; 2], rectangle: &Rectangle) -> bool;

    /// Bounds of N/D at each point over a rectangle, a pair of lanes a group. With λ = N/D at the middle, N − λD is small over a small
    /// rectangle, and so is what it adds to λ.
    fn intervals(points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) -> ();

    /// Bounds of the mean of N/D over the first `count` points, at least one, that hold over a rectangle in all of several planes.
    #[must_use]
    fn mean_ends(planes: &[&[Packed]], count: usize, rectangle: &Rectangle) -> [f64; 2];

    /// Bounds of the power of the mean of the levels of N/D over the first `count` points, at least one, that hold over a rectangle.
    #[must_use]
    fn average_ends(points: &[Packed], count: usize, rectangle: &Rectangle) -> [f64; 2];

    /// Puts what stands around t, one map a frequency, into points. `false` where terms of some point may cancel too far to be trusted.
    #[must_use]
    fn compose(points: &[PackedTerms], maps: &[Moebius], how: &Composition, into: &mut Vec<Packed>) -> bool;

    /// N/D at each point, a row of lanes a point.
    fn powers(points: &[Quadratics], block: &Block, into: &mut Vec<Lane>) -> ();
}
