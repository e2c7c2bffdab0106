//! The innermost loops: several candidates side by side in vector lanes, one point of the plan after the other.
//!
//! At every point |N₀ + N₁·t|² = n₀ + n₁u + n₂v + n₃(u² + v²) with t = u + jv, the same for D. The loops hold no logarithm and no
//! square root, and [`Isa::within`] holds no division either. The instruction set is found once, when the program runs; the loops
//! are the same text for each, so that all paths do the same steps (fused multiply-adds round once where others round twice).
#![allow(unsafe_code)]

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

/// How many points are gone through before it is asked whether any candidate is still alive.
const POINTS_BETWEEN_LOOKS: usize = 8;

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
            Self::Portable => within::<false>(points, block, anchor, abandon),
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
            Self::Portable => mean_power::<false>(points, block),
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused256 => unsafe { mean_power_256(points, block) },
            // SAFETY: as in `within`.
            #[cfg(target_arch = "x86_64")]
            Self::Fused512 => unsafe { mean_power_512(points, block) },
        }
    }

    /// N/D at each point, a row of lanes a point.
    pub fn powers(self, points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
        powers.clear();
        match self {
            Self::Portable => powers_of::<false>(points, block, powers),
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
    within::<true>(points, block, anchor, abandon)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn within_512(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
    within::<true>(points, block, anchor, abandon)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn mean_power_256(points: &[Quadratics], block: &Block) -> Lane {
    mean_power::<true>(points, block)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn mean_power_512(points: &[Quadratics], block: &Block) -> Lane {
    mean_power::<true>(points, block)
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn powers_256(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    powers_of::<true>(points, block, powers);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f")]
fn powers_512(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    powers_of::<true>(points, block, powers);
}

/// a·b + c, fused where the processor does that in one step.
#[inline(always)]
fn madd<const FUSED: bool>(a: f64, b: f64, c: f64) -> f64 {
    if FUSED { a.mul_add(b, c) } else { a * b + c }
}

#[inline(always)]
fn square_sums<const FUSED: bool>(at: &Quadratics, block: &Block, squares: &Lane) -> (Lane, Lane) {
    let (mut numerator, mut denominator) = ([0.0; LANES], [0.0; LANES]);
    for lane in 0..LANES {
        let v = at.scale * block.w[lane];
        let square = madd::<FUSED>(v, v, squares[lane]);
        let form = |c: &[f64; 4]| {
            let linear = madd::<FUSED>(c[1], block.u[lane], c[0]);
            madd::<FUSED>(c[3], square, madd::<FUSED>(c[2], v, linear))
        };
        numerator[lane] = form(&at.n);
        denominator[lane] = form(&at.d);
    }
    (numerator, denominator)
}

#[inline(always)]
fn squares_of_u(block: &Block) -> Lane {
    std::array::from_fn(|lane| block.u[lane] * block.u[lane])
}

#[inline(always)]
fn within<const FUSED: bool>(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
    let squares = squares_of_u(block);
    let mut worst = [f64::INFINITY; LANES];
    let mut done = 0;
    for some in points.chunks(POINTS_BETWEEN_LOOKS) {
        for point in some {
            let (numerator, denominator) = square_sums::<FUSED>(&point.at, block, &squares);
            for lane in 0..LANES {
                let scaled = anchor[lane] * denominator[lane];
                let above = madd::<FUSED>(point.high, scaled, -numerator[lane]);
                let below = madd::<FUSED>(-point.low, scaled, numerator[lane]);
                let least = if above < below { above } else { below };
                worst[lane] = if least < worst[lane] { least } else { worst[lane] };
            }
        }
        done += some.len();
        if abandon && worst.iter().all(|worst| *worst < 0.0) {
            break;
        }
    }
    (worst, done)
}

#[inline(always)]
fn mean_power<const FUSED: bool>(points: &[Quadratics], block: &Block) -> Lane {
    let squares = squares_of_u(block);
    let mut sum = [0.0; LANES];
    for point in points {
        let (numerator, denominator) = square_sums::<FUSED>(point, block, &squares);
        for lane in 0..LANES {
            sum[lane] += numerator[lane] / denominator[lane];
        }
    }
    let count = points.len() as f64;
    sum.map(|sum| sum / count)
}

#[inline(always)]
fn powers_of<const FUSED: bool>(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    let squares = squares_of_u(block);
    for point in points {
        let (numerator, denominator) = square_sums::<FUSED>(point, block, &squares);
        powers.push(std::array::from_fn(|lane| numerator[lane] / denominator[lane]));
    }
}
