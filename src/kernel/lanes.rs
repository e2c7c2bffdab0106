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

use loops::{breaks, intervals, mean_power, nearness, powers_of, within};
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
    #[must_use]
    pub fn breaks(self, points: &[Packed], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
        match self {
            Self::Portable => breaks::<Portable>(points, anchor, rectangle),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { breaks_256(points, anchor, rectangle) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { breaks_512(points, anchor, rectangle) },
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
fn breaks_256(points: &[Packed], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
    breaks::<Fused256>(points, anchor, rectangle)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn breaks_512(points: &[Packed], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
    breaks::<Fused512>(points, anchor, rectangle)
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
