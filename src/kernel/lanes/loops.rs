//! The loops themselves, for any width of vector.

use super::vector::Vector;
use super::{Block, BoundedQuadratics, LANES, Lane, Packed, Quadratics, Rectangle};

/// By how much a difference of polynomials is raised, relative to its terms, so that rounding never makes a bound too tight.
const ROUNDING: f64 = 1e-13;

/// How many points are gone through before it is asked whether any candidate is still alive.
const POINTS_BETWEEN_LOOKS: usize = 8;

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
pub(super) fn within<V: Vector>(points: &[BoundedQuadratics], block: &Block, anchor: &Lane, abandon: bool) -> (Lane, usize) {
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
pub(super) fn nearness<V: Vector>(points: &[BoundedQuadratics], block: &Block) -> [Lane; 3] {
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
pub(super) fn mean_power<V: Vector>(points: &[Quadratics], block: &Block) -> Lane {
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
pub(super) fn powers_of<V: Vector>(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
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
pub(super) fn breaks<V: Vector>(points: &[Packed], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
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
pub(super) fn intervals<V: Vector>(points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) {
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
