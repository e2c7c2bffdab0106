//! The innermost loops: several candidates side by side in vector lanes, one point of the plan after the other.
//!
//! At every point |N₀ + N₁·t|² = n₀ + n₁u + n₂v + n₃(u² + v²) with t = u + jv, the same for D. The loops hold no logarithm and no
//! square root, and [`Isa::within`] holds no division either. The instruction set is found once, when the program runs; the loops
//! are the same text for each, over a `vector` as wide as the processor has it (fused multiply-adds round once where others round twice).
#![allow(unsafe_code)]

mod vector;

#[cfg(target_arch = "x86_64")]
use vector::{Fused256, Fused512};
use vector::{Portable, Vector};

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
    pub fn pack(points: impl ExactSizeIterator<Item = BoundedQuadratics> + Clone, into: &mut Vec<Self>) {
        into.clear();
        let count = points.len();
        for (index, point) in points.enumerate() {
            let lane = index % LANES;
            if lane == 0 {
                into.push(Self::of(&point));
            } else if let Some(group) = into.last_mut() {
                group.set(lane, &point);
            }
            if index + 1 == count {
                for rest in lane + 1..LANES {
                    if let Some(group) = into.last_mut() {
                        group.set(rest, &point);
                    }
                }
            }
        }
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

/// By how much a difference of polynomials is raised, relative to its terms, so that rounding never makes a bound too tight.
const ROUNDING: f64 = 1e-13;

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

/// N and D of one point for every candidate of a block.
#[inline(always)]
fn square_sums<V: Vector>(at: &Quadratics, u: V, w: V, squares: V) -> (V, V) {
    let v = w.mul(V::splat(at.scale));
    let square = v.mul_add(v, squares);
    (form(splat(&at.n), u, v, square), form(splat(&at.d), u, v, square))
}

/// c₀ + c₁u + c₂v + c₃(u² + v²). No closure may stand in these loops: it would not have the loop's instructions.
#[inline(always)]
fn form<V: Vector>(c: [V; 4], u: V, v: V, squares: V) -> V {
    squares.mul_add(c[3], v.mul_add(c[2], u.mul_add(c[1], c[0])))
}

#[inline(always)]
fn splat<V: Vector>(c: &[f64; 4]) -> [V; 4] {
    [V::splat(c[0]), V::splat(c[1]), V::splat(c[2]), V::splat(c[3])]
}

#[inline(always)]
fn load<V: Vector>(c: &[Lane; 4]) -> [V; 4] {
    [V::load(&c[0]), V::load(&c[1]), V::load(&c[2]), V::load(&c[3])]
}

/// factor·a − b, term by term.
#[inline(always)]
fn difference<V: Vector>(factor: V, a: [V; 4], b: [V; 4]) -> [V; 4] {
    [
        factor.mul_sub(a[0], b[0]),
        factor.mul_sub(a[1], b[1]),
        factor.mul_sub(a[2], b[2]),
        factor.mul_sub(a[3], b[3]),
    ]
}

#[inline(always)]
fn within<V: Vector>(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
    let (u, w, anchor) = (V::load(&block.u), V::load(&block.w), V::load(anchor));
    let squares = u.mul(u);
    let mut worst = V::splat(f64::INFINITY);
    let mut done = 0;
    for some in points.chunks(POINTS_BETWEEN_LOOKS) {
        for point in some {
            let (numerator, denominator) = square_sums(&point.at, u, w, squares);
            let scaled = anchor.mul(denominator);
            let above = scaled.mul_sub(V::splat(point.high), numerator);
            let below = scaled.mul_add(V::splat(-point.low), numerator);
            worst = above.less(below).less(worst);
        }
        done += some.len();
        if abandon && worst.store().iter().all(|worst| *worst < 0.0) {
            break;
        }
    }
    (worst.store(), done)
}

#[inline(always)]
fn nearness<V: Vector>(points: &[BoundedQuadratics], block: &Block) -> [Lane; 3] {
    let (u, w) = (V::load(&block.u), V::load(&block.w));
    let squares = u.mul(u);
    let (mut most, mut least, mut smallest) = (V::splat(0.0), V::splat(f64::INFINITY), V::splat(f64::INFINITY));
    for point in points {
        let (numerator, denominator) = square_sums(&point.at, u, w, squares);
        let ratio = numerator.div(denominator);
        most = ratio.mul(V::splat(point.high.recip())).more(most);
        // Nothing over no bound is no number, which counts as no bound.
        least = ratio.mul(V::splat(point.low.recip())).less(least);
        smallest = ratio.less(smallest);
    }
    [most.store(), least.store(), smallest.store()]
}

#[inline(always)]
fn mean_power<V: Vector>(points: &[Quadratics], block: &Block) -> Lane {
    let (u, w) = (V::load(&block.u), V::load(&block.w));
    let squares = u.mul(u);
    let mut sum = V::splat(0.0);
    for point in points {
        let (numerator, denominator) = square_sums(point, u, w, squares);
        sum = sum.add(numerator.div(denominator));
    }
    sum.div(V::splat(points.len() as f64)).store()
}

#[inline(always)]
fn powers_of<V: Vector>(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    let (u, w) = (V::load(&block.u), V::load(&block.w));
    let squares = u.mul(u);
    for point in points {
        let (numerator, denominator) = square_sums(point, u, w, squares);
        powers.push(numerator.div(denominator).store());
    }
}

/// A rectangle with v at the scale of each point of a group.
#[derive(Clone, Copy)]
struct Sides<V> {
    u: [V; 2],
    v: [V; 2],
}

impl<V: Vector> Sides<V> {
    #[inline(always)]
    fn new(rectangle: &Rectangle, group: &Packed) -> Self {
        let scale = V::load(&group.scale);
        Self {
            u: [V::splat(rectangle.u[0]), V::splat(rectangle.u[1])],
            v: [scale.mul(V::splat(rectangle.w[0])), scale.mul(V::splat(rectangle.w[1]))],
        }
    }

    /// Smallest and largest of a quadratic form: a part in u and a part in v.
    #[inline(always)]
    fn span(&self, c: [V; 4]) -> [V; 2] {
        let along_u = extremes(c[1], c[3], self.u);
        let along_v = extremes(c[2], c[3], self.v);
        [c[0].add(along_u[0]).add(along_v[0]), c[0].add(along_u[1]).add(along_v[1])]
    }

    /// What rounding may take away from factor·D − N.
    #[inline(always)]
    fn rounding(&self, n: [V; 4], d: [V; 4], factor: V) -> V {
        let squares = self.u[1].mul_add(self.u[1], self.v[1].mul(self.v[1]));
        let constant = factor.mul_add(d[0], n[0]);
        factor.mul_add(d[3], n[3]).mul_add(squares, constant).mul(V::splat(ROUNDING))
    }
}

/// Smallest and largest of c₁x + c₃x² between two ends: at an end, or at the vertex, held between the ends.
#[inline(always)]
fn extremes<V: Vector>(linear: V, square: V, ends: [V; 2]) -> [V; 2] {
    // Of a straight line the vertex is no number or infinite, and is held at an end.
    let vertex = linear.mul(V::splat(-0.5)).div(square).more(ends[0]).less(ends[1]);
    let one = ends[0].mul(square.mul_add(ends[0], linear));
    let other = ends[1].mul(square.mul_add(ends[1], linear));
    let turn = vertex.mul(square.mul_add(vertex, linear));
    [one.less(other).less(turn), one.more(other).more(turn)]
}

#[inline(always)]
fn breaks<V: Vector>(points: &[Packed], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
    let (anchor_low, anchor_high) = (V::splat(anchor[0]), V::splat(anchor[1]));
    let zero = V::splat(0.0);
    for group in points {
        let sides = Sides::<V>::new(rectangle, group);
        let (n, d) = (load(&group.n), load(&group.d));
        let (high, low) = (V::load(&group.high).mul(anchor_high), V::load(&group.low).mul(anchor_low));
        let above = sides.span(difference(high, d, n))[1];
        // The largest of N − low·a·D is the smallest of its opposite, turned about.
        let below = zero.sub(sides.span(difference(low, d, n))[0]);
        let above = above.add(sides.rounding(n, d, high)).store();
        let below = below.add(sides.rounding(n, d, low)).store();
        // Without an upper bound there is infinity or no number here, and neither is below zero.
        if above.iter().chain(&below).any(|least| *least < 0.0) {
            return true;
        }
    }
    false
}

#[inline(always)]
fn intervals<V: Vector>(points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) {
    // The geometric middle where there is one: values are spaced by ratio.
    let middle = |ends: [f64; 2]| if ends[0] > 0.0 { (ends[0] * ends[1]).sqrt() } else { 0.5 * ends[1] };
    let (u, w) = (V::splat(middle(rectangle.u)), V::splat(middle(rectangle.w)));
    let zero = V::splat(0.0);
    for group in points {
        let sides = Sides::<V>::new(rectangle, group);
        let (n, d) = (load(&group.n), load(&group.d));
        let v = w.mul(V::load(&group.scale));
        let squares = u.mul_add(u, v.mul(v));
        let ratio = form(n, u, v, squares).div(form(d, u, v, squares));
        // Of λD − N, so that what lies above and what lies below change places.
        let span = sides.span(difference(ratio, d, n));
        let rounding = sides.rounding(n, d, ratio);
        let least = sides.span(d)[0].sub(sides.rounding(d, d, zero)).store();
        let below = zero.more(rounding.add(span[1])).store();
        let above = zero.more(rounding.sub(span[0])).store();
        let ratio = ratio.store();
        let mut ends = [[0.0; LANES], [f64::INFINITY; LANES]];
        for lane in 0..LANES {
            // Where the denominator cannot be held off zero nothing is known.
            if least[lane] > 0.0 {
                ends[0][lane] = (ratio[lane] - below[lane] / least[lane]).max(0.0);
                ends[1][lane] = ratio[lane] + above[lane] / least[lane];
            }
        }
        into.push(ends);
    }
}
