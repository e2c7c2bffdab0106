//! The loops themselves, for any width of vector.

use super::product::Product;
use super::vector::Vector;
use super::{Block, BoundedQuadratics, Composition, LANES, Lane, Moebius, Packed, PackedTerms, Quadratics, Rectangle};

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
        if abandon && worst.is_everywhere_below_zero() {
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
    let (zero, mut finite) = (V::splat(0.0), V::splat(0.0));
    for point in points {
        let (numerator, denominator) = square_sums(&point.at, u, w, squares);
        let ratio = numerator.div(denominator);
        most = ratio.mul(V::splat(point.high.recip())).more(most);
        // Nothing over no bound is no number, which counts as no bound.
        least = ratio.mul(V::splat(point.low.recip())).less(least);
        smallest = ratio.less(smallest);
        // Zero times what is not finite is no number and stays so, where comparisons would pass over it.
        finite = ratio.mul_add(zero, finite);
    }
    [most.store(), least.store(), smallest.add(finite).store()]
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
pub(super) fn average_power<V: Vector>(points: &[Quadratics], block: &Block) -> Lane {
    let (u, w) = (V::load(&block.u), V::load(&block.w));
    let squares = u.mul(u);
    let mut product = Product::<V>::one();
    for point in points {
        let (numerator, denominator) = square_sums(point, u, w, squares);
        product.times(numerator.div(denominator));
    }
    product.root(points.len())
}

#[inline(always)]
pub(super) fn powers<V: Vector>(points: &[Quadratics], block: &Block, powers: &mut Vec<Lane>) {
    powers.clear();
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
        // One division for both vertices: a rounded vertex changes the value there by the square of what it is off.
        let turn = V::splat(-0.5).div(c[3]);
        let along_u = extremes(c[1], c[3], c[1].mul(turn), self.u);
        let along_v = extremes(c[2], c[3], c[2].mul(turn), self.v);
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
fn extremes<V: Vector>(linear: V, square: V, vertex: V, ends: [V; 2]) -> [V; 2] {
    // Of a straight line the vertex is no number or infinite, and is held at an end.
    let vertex = vertex.more(ends[0]).less(ends[1]);
    let one = ends[0].mul(square.mul_add(ends[0], linear));
    let other = ends[1].mul(square.mul_add(ends[1], linear));
    let turn = vertex.mul(square.mul_add(vertex, linear));
    [one.less(other).less(turn), one.more(other).more(turn)]
}

/// The largest of each coefficient. Where the second is no number, so is the result.
#[inline(always)]
fn largest<V: Vector>(one: [V; 4], other: [V; 4]) -> [V; 4] {
    [
        one[0].more(other[0]),
        one[1].more(other[1]),
        one[2].more(other[2]),
        one[3].more(other[3]),
    ]
}

/// The smallest of each coefficient.
#[inline(always)]
fn smallest<V: Vector>(one: [V; 4], other: [V; 4]) -> [V; 4] {
    [
        one[0].less(other[0]),
        one[1].less(other[1]),
        one[2].less(other[2]),
        one[3].less(other[3]),
    ]
}

/// Coefficients are computed plane by plane, so that what rounding may take away adds up to no more than the sum over the planes. A missing
/// bound and an unknown anchor are missing and unknown in every plane, so that no number found in one does not hide behind another's.
#[inline(always)]
pub(super) fn breaks<V: Vector>(planes: &[&[Packed]], anchor: [f64; 2], rectangle: &Rectangle) -> bool {
    let Some((first, rest)) = planes.split_first() else { return false };
    let (anchor_low, anchor_high) = (V::splat(anchor[0]), V::splat(anchor[1]));
    let zero = V::splat(0.0);
    for (index, group) in first.iter().enumerate() {
        let sides = Sides::<V>::new(rectangle, group);
        let (n, d) = (load(&group.n), load(&group.d));
        let (high, low) = (V::load(&group.high).mul(anchor_high), V::load(&group.low).mul(anchor_low));
        let (mut above, mut below) = (difference(high, d, n), difference(low, d, n));
        let (mut above_rounding, mut below_rounding) = (sides.rounding(n, d, high), sides.rounding(n, d, low));
        for plane in rest {
            let group = &plane[index];
            let (n, d) = (load(&group.n), load(&group.d));
            let (high, low) = (V::load(&group.high).mul(anchor_high), V::load(&group.low).mul(anchor_low));
            above = largest(above, difference(high, d, n));
            below = smallest(below, difference(low, d, n));
            above_rounding = above_rounding.add(sides.rounding(n, d, high));
            below_rounding = below_rounding.add(sides.rounding(n, d, low));
        }
        let above = sides.span(above)[1].add(above_rounding);
        // The largest of N − low·a·D is the smallest of its opposite, turned about.
        let below = zero.sub(sides.span(below)[0]).add(below_rounding);
        // Without an upper bound there is infinity or no number above, and neither is below zero nor hides what is.
        if above.less(below).is_anywhere_below_zero() {
            return true;
        }
    }
    false
}

/// Bounds of N/D at the points of a group, in all planes: with λ that of the middle of one of them, how far N/D may lie below and above λ, as
/// a share of the least D.
#[inline(always)]
fn ratio_ends<V: Vector>(planes: &[&[Packed]], index: usize, middle: [V; 2], rectangle: &Rectangle) -> [V; 2] {
    let zero = V::splat(0.0);
    let group = &planes[planes.len() / 2][index];
    let sides = Sides::<V>::new(rectangle, group);
    let (n, d) = (load(&group.n), load(&group.d));
    let (u, v) = (middle[0], middle[1].mul(V::load(&group.scale)));
    let squares = u.mul_add(u, v.mul(v));
    let ratio = form(n, u, v, squares).div(form(d, u, v, squares));
    // Of λD − N, so that what lies above and what lies below change places.
    let own = difference(ratio, d, n);
    let (mut most, mut fewest, mut denominator) = (own, own, d);
    let (mut rounding, mut denominator_rounding) = (zero, zero);
    for plane in planes {
        let (n, d) = (load(&plane[index].n), load(&plane[index].d));
        let own = difference(ratio, d, n);
        (most, fewest, denominator) = (largest(most, own), smallest(fewest, own), smallest(denominator, d));
        rounding = rounding.add(sides.rounding(n, d, ratio));
        denominator_rounding = denominator_rounding.add(sides.rounding(d, d, zero));
    }
    // Where the denominator cannot be held off zero nothing is known: the share is infinite then, or its product no number.
    let least = sides.span(denominator)[0].sub(denominator_rounding).more(zero);
    let share = V::splat(1.0).div(least);
    let below = zero.more(rounding.add(sides.span(most)[1]));
    let above = zero.more(rounding.sub(sides.span(fewest)[0]));
    [
        ratio.sub(below.mul(share)).more(zero),
        ratio.add(above.mul(share)).less(V::splat(f64::INFINITY)),
    ]
}

#[inline(always)]
fn middles<V: Vector>(rectangle: &Rectangle) -> [V; 2] {
    [V::splat(middle(rectangle.u)), V::splat(middle(rectangle.w))]
}

#[inline(always)]
pub(super) fn intervals<V: Vector>(points: &[Packed], rectangle: &Rectangle, into: &mut Vec<[Lane; 2]>) {
    into.clear();
    let middle = middles::<V>(rectangle);
    for index in 0..points.len() {
        let [low, high] = ratio_ends(&[points], index, middle, rectangle);
        into.push([low.store(), high.store()]);
    }
}

#[inline(always)]
pub(super) fn mean_ends<V: Vector>(planes: &[&[Packed]], count: usize, rectangle: &Rectangle) -> [f64; 2] {
    let middle = middles::<V>(rectangle);
    let (mut low, mut high) = (V::splat(0.0), V::splat(0.0));
    for index in 0..count.div_ceil(LANES) {
        let ends = ratio_ends(planes, index, middle, rectangle);
        let left = count - index * LANES;
        // Of what the last group repeats nothing counts.
        let counts = if left < LANES { V::load(&first_lanes(left)) } else { V::splat(1.0) };
        (low, high) = (ends[0].mul_add(counts, low), ends[1].mul_add(counts, high));
    }
    let mean = |sum: V| sum.store().iter().sum::<f64>() / count as f64;
    let (low, high) = (mean(low), mean(high));
    // Infinity times nothing is no number; the point that is repeated has it too.
    [low, if high.is_nan() { f64::INFINITY } else { high }]
}

#[inline(always)]
pub(super) fn average_ends<V: Vector>(points: &[Packed], count: usize, rectangle: &Rectangle) -> [f64; 2] {
    let middle = middles::<V>(rectangle);
    let (mut low, mut high) = (Product::<V>::one(), Product::<V>::one());
    for index in 0..count.div_ceil(LANES) {
        let [mut lowest, mut highest] = ratio_ends(&[points], index, middle, rectangle);
        let left = count - index * LANES;
        if left < LANES {
            (lowest, highest) = (ones_behind(lowest, left), ones_behind(highest, left));
        }
        low.times(lowest);
        high.times(highest);
    }
    // What is no number is not known: nothing below, anything above.
    let known = |sum: f64, unknown: f64| if sum.is_nan() { unknown } else { (sum / count as f64).exp2() };
    let (low, high) = (low.logarithm().iter().sum(), high.logarithm().iter().sum());
    [known(low, 0.0), known(high, f64::INFINITY)]
}

/// 1 behind so many lanes.
#[inline(always)]
fn ones_behind<V: Vector>(value: V, count: usize) -> V {
    let mut lanes = value.store();
    for lane in lanes.iter_mut().skip(count) {
        *lane = 1.0;
    }
    V::load(&lanes)
}

/// 1 in so many lanes, 0 in the others.
#[inline(always)]
fn first_lanes(count: usize) -> Lane {
    let mut lanes = [0.0; LANES];
    for lane in lanes.iter_mut().take(count) {
        *lane = 1.0;
    }
    lanes
}

/// The geometric middle where there is one: values are spaced by ratio.
#[inline(always)]
fn middle(ends: [f64; 2]) -> f64 {
    if ends[0] > 0.0 { (ends[0] * ends[1]).sqrt() } else { 0.5 * ends[1] }
}

/// Complex numbers side by side.
type Complex<V> = [V; 2];

#[inline(always)]
fn times<V: Vector>(one: Complex<V>, other: Complex<V>) -> Complex<V> {
    [
        one[0].mul_sub(other[0], one[1].mul(other[1])),
        one[0].mul_add(other[1], one[1].mul(other[0])),
    ]
}

#[inline(always)]
fn absolute<V: Vector>(value: V) -> V {
    value.more(V::splat(0.0).sub(value))
}

/// |re| + |im|
#[inline(always)]
fn size<V: Vector>(value: Complex<V>) -> V {
    absolute(value[0]).add(absolute(value[1]))
}

/// What may be trusted: `least` is below zero, or no number, where something may not.
#[derive(Clone, Copy)]
struct Trust<V> {
    least: V,
    finite: V,
    /// √ of the cancellation allowed, and the square of the largest cosine it allows.
    root: V,
    cosine: V,
}

impl<V: Vector> Trust<V> {
    #[inline(always)]
    fn new(most_cancellation: f64) -> Self {
        let most = 1.0 - most_cancellation.recip();
        Self {
            least: V::splat(f64::INFINITY),
            finite: V::splat(0.0),
            root: V::splat(most_cancellation.sqrt()),
            cosine: V::splat(most * most),
        }
    }

    #[inline(always)]
    fn needs(&mut self, least: V) {
        self.least = least.less(self.least);
        // Zero times what is not finite is no number and stays so.
        self.finite = least.mul_add(V::splat(0.0), self.finite);
    }

    #[inline(always)]
    fn sum(&mut self, one: Complex<V>, other: Complex<V>) -> Complex<V> {
        let sum = [one[0].add(other[0]), one[1].add(other[1])];
        self.needs(size(sum).mul_sub(self.root, size(one).add(size(other))));
        sum
    }

    /// |constant + linear·t|² as a form, the sign of v being that of a susceptance or of a reactance turned about.
    #[inline(always)]
    fn quadratic(&mut self, constant: Complex<V>, linear: Complex<V>, sign: V) -> [V; 4] {
        let zero = V::splat(0.0);
        let product = times([constant[0], zero.sub(constant[1])], linear);
        let towards_v = product[1].mul(sign);
        // The angle between the two over the quadrant of t, as in the search's own text.
        self.needs(product[0].more(towards_v));
        let least = product[0].less(towards_v).less(zero);
        let square = product[0].mul_add(product[0], product[1].mul(product[1]));
        self.needs(self.cosine.mul_sub(square, least.mul(least)));
        [
            constant[0].mul_add(constant[0], constant[1].mul(constant[1])),
            product[0].add(product[0]),
            towards_v.add(towards_v),
            linear[0].mul_add(linear[0], linear[1].mul(linear[1])),
        ]
    }
}

#[inline(always)]
fn complex<V: Vector>(parts: &[Lane; 2]) -> Complex<V> {
    [V::load(&parts[0]), V::load(&parts[1])]
}

/// The maps of a group's frequencies: real and imaginary parts of α, β, γ, δ.
#[inline(always)]
fn gather(maps: &[Moebius], frequencies: &[usize; LANES]) -> [[Lane; 2]; 4] {
    let mut gathered = [[[0.0; LANES]; 2]; 4];
    for (lane, frequency) in frequencies.iter().enumerate() {
        let Moebius { alpha, beta, gamma, delta } = &maps[*frequency];
        for (into, part) in gathered.iter_mut().zip([alpha, beta, gamma, delta]) {
            (into[0][lane], into[1][lane]) = (part.re, part.im);
        }
    }
    gathered
}

#[inline(always)]
pub(super) fn compose<V: Vector>(points: &[PackedTerms], maps: &[Moebius], how: &Composition, into: &mut Vec<Packed>) -> bool {
    into.clear();
    // t = u + jv in an admittance, u − jv in an impedance: Re(product·t) turns about with it.
    let sign = V::splat(if how.series { 1.0 } else { -1.0 });
    let mut trust = Trust::<V>::new(how.most_cancellation);
    for group in points {
        let map = gather(maps, &group.frequencies);
        let (alpha, beta) = (complex::<V>(&map[0]), complex::<V>(&map[1]));
        let (gamma, delta) = (complex::<V>(&map[2]), complex::<V>(&map[3]));
        let mut forms = [[V::splat(0.0); 4]; 2];
        for (form, terms) in forms
            .iter_mut()
            .zip([[&group.terms[0], &group.terms[1]], [&group.terms[2], &group.terms[3]]])
        {
            let (zero, one) = (complex::<V>(terms[0]), complex::<V>(terms[1]));
            let constant = trust.sum(times(zero, gamma), times(one, alpha));
            let linear = trust.sum(times(zero, delta), times(one, beta));
            *form = trust.quadratic(constant, linear, sign);
        }
        let ratio = V::load(&group.ratio);
        into.push(Packed {
            n: store(forms[0]),
            d: store(forms[1]),
            scale: group.scale,
            high: ratio.mul(V::splat(how.high)).store(),
            low: ratio.mul(V::splat(how.low)).store(),
        });
    }
    let (least, finite) = (trust.least.store(), trust.finite.store());
    least.iter().all(|least| *least >= 0.0) && finite.iter().all(|finite| finite.is_finite())
}

#[inline(always)]
fn store<V: Vector>(c: [V; 4]) -> [Lane; 4] {
    [c[0].store(), c[1].store(), c[2].store(), c[3].store()]
}
