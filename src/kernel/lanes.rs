//! The innermost loops: several candidates side by side in vector lanes, one point of the plan after the other.
//!
//! At every point |N₀ + N₁·t|² = n₀ + n₁u + n₂v + n₃(u² + v²) with t = u + jv, the same for D. The loops hold no logarithm and no
//! square root, and [`Isa::within`] holds no division either. The instruction set is found once, when the program runs; the loops
//! are the same text for each, over a `vector` as wide as the processor has it (fused multiply-adds round once where others round twice).
#![allow(unsafe_code)]

mod built;
mod loops;
mod vector;

pub use built::{Compared, Points, Program, Reference, Step};

use num_complex::Complex64;

use loops::{breaks, compose, intervals, mean_ends, mean_power, nearness, powers_of, within};
use vector::Portable;
#[cfg(target_arch = "x86_64")]
use vector::{Fused256, Fused512};

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

/// The instruction set in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Isa {
    /// Whatever the compiler was told to assume.
    Portable,
    /// 256-bit vectors with fused multiply-add.
    #[cfg(target_arch = "x86_64")]
    Fused256,
    /// 512-bit vectors.
    #[cfg(target_arch = "x86_64")]
    Fused512,
}

impl Isa {
    /// The best one this processor has.
    #[must_use]
    pub fn detect() -> Self {
        #[cfg(target_arch = "x86_64")]
        {
            if is_x86_feature_detected!("avx512f") {
                return Self::Fused512;
            }
            if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
                return Self::Fused256;
            }
        }
        Self::Portable
    }

    /// Every one this processor has.
    #[must_use]
    pub fn available() -> Vec<Self> {
        #[allow(unused_mut)]
        let mut found = vec![Self::Portable];
        #[cfg(target_arch = "x86_64")]
        {
            if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
                found.push(Self::Fused256);
            }
            if is_x86_feature_detected!("avx512f") {
                found.push(Self::Fused512);
            }
        }
        found
    }

    /// Whether each candidate's power over `anchor` lies within the bounds at every point: the smallest of high·a·D − N and
    /// N − low·a·D, below zero where it does not. May stop when no candidate is left; the second figure says after how many points.
    #[must_use]
    pub fn within(self, points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
        match self {
            Self::Portable => within::<Portable>(points, block, anchor, abandon),
            // SAFETY: the variant exists only where `detect` or `available` found the features.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { within_256(points, block, anchor, abandon) },
            // SAFETY: as above.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { within_512(points, block, anchor, abandon) },
        }
    }

    /// The mean of N/D over the points, for each candidate.
    #[must_use]
    pub fn mean_power(self, points: &[Quadratics], block: &Block) -> Lane {
        match self {
            Self::Portable => mean_power::<Portable>(points, block),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { mean_power_256(points, block) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { mean_power_512(points, block) },
        }
    }

    /// How near each candidate comes to its bounds: the largest (N/D)/high, the smallest (N/D)/low and the smallest N/D over the points.
    #[must_use]
    pub fn nearness(self, points: &[BoundedQuadratics], block: &Block) -> [Lane; 3] {
        match self {
            Self::Portable => nearness::<Portable>(points, block),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { nearness_256(points, block) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { nearness_512(points, block) },
        }
    }

    /// Whether some point breaks a bound for every candidate of a rectangle, with the anchor's mean power between two ends. The largest value
    /// of high·a·D − N is a sum of a part in u and a part in v, so that it is exact; it is below zero where the upper bound breaks.
    ///
    /// Several planes at once, each with its own points in the same order: `true` only where one and the same point breaks the same bound in
    /// all of them. u and v being positive, a form is at most the one with the largest of each coefficient.
    #[must_use]
    pub fn breaks(self, planes: &[&[Packed]], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
        match self {
            Self::Portable => breaks::<Portable>(planes, anchor, rectangle),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { breaks_256(planes, anchor, rectangle) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { breaks_512(planes, anchor, rectangle) },
        }
    }

    /// Bounds of N/D at each point over a rectangle, a pair of lanes a group. With λ = N/D at the middle, N − λD is small over a small
    /// rectangle, and so is what it adds to λ.
    pub fn intervals(self, points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) {
        into.clear();
        match self {
            Self::Portable => intervals::<Portable>(points, rectangle, into),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { intervals_256(points, rectangle, into) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { intervals_512(points, rectangle, into) },
        }
    }

    /// Bounds of the mean of N/D over the first `count` points, at least one, that hold over a rectangle in all of several planes.
    #[must_use]
    pub fn mean_ends(self, planes: &[&[Packed]], count: usize, rectangle: &Rectangle) -> [f64; 2] {
        match self {
            Self::Portable => mean_ends::<Portable>(planes, count, rectangle),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { mean_ends_256(planes, count, rectangle) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { mean_ends_512(planes, count, rectangle) },
        }
    }

    /// Puts what stands around t, one map a frequency, into points. `false` where terms of some point may cancel too far to be trusted.
    #[must_use]
    pub fn compose(self, points: &[PackedTerms], maps: &[Moebius], how: &Composition, into: &mut Vec<Packed>) -> bool {
        into.clear();
        match self {
            Self::Portable => compose::<Portable>(points, maps, how, into),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { compose_256(points, maps, how, into) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { compose_512(points, maps, how, into) },
        }
    }

    /// N/D at each point, a row of lanes a point.
    pub fn powers(self, points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
        powers.clear();
        match self {
            Self::Portable => powers_of::<Portable>(points, block, powers),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { powers_256(points, block, powers) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { powers_512(points, block, powers) },
        }
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn within_256(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
    within::<Fused256>(points, block, anchor, abandon)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn within_512(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
    within::<Fused512>(points, block, anchor, abandon)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn mean_power_256(points: &[Quadratics], block: &Block) -> Lane {
    mean_power::<Fused256>(points, block)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn mean_power_512(points: &[Quadratics], block: &Block) -> Lane {
    mean_power::<Fused512>(points, block)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn powers_256(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    powers_of::<Fused256>(points, block, powers);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn powers_512(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    powers_of::<Fused512>(points, block, powers);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn nearness_256(points: &[BoundedQuadratics], block: &Block) -> [Lane; 3] {
    nearness::<Fused256>(points, block)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn nearness_512(points: &[BoundedQuadratics], block: &Block) -> [Lane; 3] {
    nearness::<Fused512>(points, block)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn breaks_256(planes: &[&[Packed]], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
    breaks::<Fused256>(planes, anchor, rectangle)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn breaks_512(planes: &[&[Packed]], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
    breaks::<Fused512>(planes, anchor, rectangle)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn intervals_256(points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) {
    intervals::<Fused256>(points, rectangle, into);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn intervals_512(points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) {
    intervals::<Fused512>(points, rectangle, into);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn mean_ends_256(planes: &[&[Packed]], count: usize, rectangle: &Rectangle) -> [f64; 2] {
    mean_ends::<Fused256>(planes, count, rectangle)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn compose_256(points: &[PackedTerms], maps: &[Moebius], how: &Composition, into: &mut Vec<Packed>) -> bool {
    compose::<Fused256>(points, maps, how, into)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn mean_ends_512(planes: &[&[Packed]], count: usize, rectangle: &Rectangle) -> [f64; 2] {
    mean_ends::<Fused512>(planes, count, rectangle)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn compose_512(points: &[PackedTerms], maps: &[Moebius], how: &Composition, into: &mut Vec<Packed>) -> bool {
    compose::<Fused512>(points, maps, how, into)
}
