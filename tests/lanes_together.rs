//! The vector loops that put points together and ask several planes at once, on every instruction set this machine has, against plain
//! complex arithmetic and dense samples of a rectangle in every plane.

mod support;

use std::sync::atomic::{AtomicU64, Ordering};

use knobwright::kernel::lanes::{
    BoundedQuadratics, Composition, Isa, LANES, Moebius, Packed, PackedTerms, PointTerms, Quadratics, Rectangle,
};
use num_complex::Complex64;
use proptest::prelude::*;
use support::random;

const CASES: u32 = 400;

/// As for the single loops: a fraction of the kernel's promise of 1e-9 dB.
const RATIO: f64 = 1e-12;

fn complex() -> impl Strategy<Value = Complex64> {
    (0.1..10.0_f64, 0.0..1.5_f64).prop_map(|(size, angle)| Complex64::from_polar(size, angle))
}

fn terms() -> impl Strategy<Value = [Complex64; 4]> {
    [complex(), complex(), complex(), complex()]
}

fn map() -> impl Strategy<Value = Moebius> {
    terms().prop_map(|[alpha, beta, gamma, delta]| Moebius { alpha, beta, gamma, delta })
}

/// |zero + one·t|² as a polynomial in t = u + jv.
fn form(zero: Complex64, one: Complex64) -> [f64; 4] {
    let product = zero.conj() * one;
    [zero.norm_sqr(), 2.0 * product.re, -2.0 * product.im, one.norm_sqr()]
}

#[test]
fn composed_points_are_those_of_complex_arithmetic() {
    const FREQUENCIES: usize = 5;
    let point = (terms(), 0..FREQUENCIES, 0.1..10.0_f64, 0.5..2.0_f64).prop_map(|(terms, frequency, scale, ratio)| PointTerms {
        terms,
        frequency,
        scale,
        ratio,
    });
    let maps = prop::collection::vec(map(), FREQUENCIES);
    let (sound, doubted) = (AtomicU64::new(0), AtomicU64::new(0));
    random::runner(CASES)
        .run(
            &(prop::collection::vec(point, 1..20), maps, any::<bool>(), any::<bool>()),
            |(mut points, mut maps, series, wide)| {
                // Within a quadrant terms never cancel; over more of the circle they do now and then, and must be doubted.
                if wide {
                    let widened = |z: Complex64| Complex64::from_polar(z.norm(), 2.0 * z.arg());
                    for point in &mut points {
                        point.terms = point.terms.map(widened);
                    }
                    for map in &mut maps {
                        let Moebius { alpha, beta, gamma, delta } = *map;
                        *map = Moebius {
                            alpha: widened(alpha),
                            beta: widened(beta),
                            gamma: widened(gamma),
                            delta: widened(delta),
                        };
                    }
                }
                let how = Composition {
                    series,
                    high: 3.0,
                    low: 0.25,
                    most_cancellation: 1e6,
                };
                for isa in Isa::available() {
                    let mut packed = Vec::new();
                    if !isa.compose(&PackedTerms::pack(&points), &maps, &how, &mut packed) {
                        doubted.fetch_add(1, Ordering::Relaxed);
                        continue;
                    }
                    sound.fetch_add(1, Ordering::Relaxed);
                    for (position, point) in points.iter().enumerate() {
                        let got = packed[position / LANES].point(position % LANES);
                        prop_assert_eq!(
                            [got.at.scale, got.high, got.low],
                            [point.scale, 3.0 * point.ratio, 0.25 * point.ratio]
                        );
                        let Moebius { alpha, beta, gamma, delta } = maps[point.frequency];
                        for (u, v) in [(0.0, 0.0), (0.3, 0.0), (0.0, 2.0), (0.7, 1.1), (30.0, 20.0)] {
                            // v counts upwards in both: a reactance is turned about.
                            let t = Complex64::new(u, if series { -v } else { v });
                            let y = (alpha + beta * t) / (gamma + delta * t);
                            let [n0, n1, d0, d1] = point.terms;
                            let expected = ((n0 + n1 * y) / (d0 + d1 * y)).norm_sqr();
                            let value = |c: &[f64; 4]| c[0] + c[1] * u + c[2] * v + c[3] * (u * u + v * v);
                            let ratio = value(&got.at.n) / value(&got.at.d);
                            // Terms may cancel here by as much as they are allowed to, a factor of a million.
                            prop_assert!((ratio / expected - 1.0).abs() < 1e-8, "{isa:?}: {ratio} is not {expected}");
                        }
                    }
                }
                Ok(())
            },
        )
        .unwrap();
    assert!(
        sound.into_inner() > u64::from(CASES) / 20,
        "the property must not hold for want of points that can be trusted"
    );
    assert!(
        doubted.into_inner() > u64::from(CASES) / 20,
        "angles over more than a quadrant must be doubted now and then"
    );
}

fn quadratics() -> impl Strategy<Value = Quadratics> {
    (terms(), 0.1..10.0_f64).prop_map(|([n0, n1, d0, d1], scale)| Quadratics {
        n: form(n0, n1),
        d: form(d0, d1),
        scale,
    })
}

/// The same points in several planes: near one another, as in planes next to each other.
fn planes() -> impl Strategy<Value = Vec<Vec<BoundedQuadratics>>> {
    let bounded = (quadratics(), 0.01..5.0_f64, 1.0..3.0_f64, any::<bool>()).prop_map(|(at, low, span, open)| BoundedQuadratics {
        at,
        low,
        high: if open { f64::INFINITY } else { low * span },
    });
    let shifts = prop::collection::vec([0.9..1.1_f64, 0.9..1.1_f64, 0.9..1.1_f64, 0.9..1.1_f64], 1..5);
    (prop::collection::vec(bounded, 1..20), shifts).prop_map(|(points, shifts)| {
        let shifted = |point: &BoundedQuadratics, shift: &[f64; 4]| {
            let mut point = *point;
            for (n, d) in [(0, 0), (3, 3)] {
                point.at.n[n] *= shift[n];
                point.at.d[d] *= shift[3 - d];
            }
            // 2|N₀||N₁| bounds the middle terms: shrink them so that they stay a square's.
            for middle in [1, 2] {
                point.at.n[middle] *= 0.8;
                point.at.d[middle] *= 0.8;
            }
            point.low *= shift[1];
            point.high *= shift[2];
            point
        };
        let plane = |shift: &[f64; 4]| points.iter().map(|point| shifted(point, shift)).collect();
        shifts.iter().map(plane).collect()
    })
}

fn ratio(at: &Quadratics, u: f64, w: f64) -> f64 {
    let v = at.scale * w;
    let value = |c: &[f64; 4]| c[0] + c[1] * u + c[2] * v + c[3] * (u * u + v * v);
    value(&at.n) / value(&at.d)
}

fn rectangle() -> impl Strategy<Value = Rectangle> {
    let ends = || (0.01..2.0_f64, 1.0..4.0_f64).prop_map(|(low, span)| [low, low * span]);
    (ends(), ends()).prop_map(|(u, w)| Rectangle { u, w })
}

fn sampled(rectangle: &Rectangle) -> Vec<(f64, f64)> {
    let along = |ends: [f64; 2]| (0..=8).map(move |step| ends[0] + (ends[1] - ends[0]) * f64::from(step) / 8.0);
    along(rectangle.u).flat_map(|u| along(rectangle.w).map(move |w| (u, w))).collect()
}

fn packed(planes: &[Vec<BoundedQuadratics>]) -> Vec<Vec<Packed>> {
    planes.iter().map(|points| Packed::pack(points.iter().copied())).collect()
}

#[test]
fn intervals_hold_every_candidate_of_a_rectangle_in_every_plane() {
    random::runner(CASES)
        .run(&(planes(), rectangle()), |(planes, rectangle)| {
            let packed = packed(&planes);
            let together: Vec<&[Packed]> = packed.iter().map(Vec::as_slice).collect();
            for isa in Isa::available() {
                let mut intervals = Vec::new();
                isa.intervals_together(&together, &rectangle, &mut intervals);
                for points in &planes {
                    for (position, point) in points.iter().enumerate() {
                        let [low, high] = intervals[position / LANES].map(|lane| lane[position % LANES]);
                        for (u, w) in sampled(&rectangle) {
                            let ratio = ratio(&point.at, u, w);
                            prop_assert!(
                                low <= ratio * (1.0 + RATIO) && ratio <= high * (1.0 + RATIO),
                                "{isa:?}: {low} {ratio} {high}"
                            );
                        }
                    }
                }
            }
            Ok(())
        })
        .unwrap();
}

#[test]
fn what_breaks_a_bound_together_breaks_it_in_every_plane() {
    let broken = AtomicU64::new(0);
    random::runner(CASES)
        .run(
            &(planes(), rectangle(), 0.3..3.0_f64, 1.0..1.3_f64),
            |(planes, rectangle, anchor, span)| {
                let anchor = [anchor, anchor * span];
                let packed = packed(&planes);
                let together: Vec<&[Packed]> = packed.iter().map(Vec::as_slice).collect();
                for isa in Isa::available() {
                    if !isa.breaks_together(&together, anchor, &rectangle) {
                        continue;
                    }
                    broken.fetch_add(1, Ordering::Relaxed);
                    for (points, (u, w)) in planes
                        .iter()
                        .flat_map(|points| sampled(&rectangle).into_iter().map(move |cell| (points, cell)))
                    {
                        for level in anchor {
                            let inside = |point: &BoundedQuadratics| {
                                let ratio = ratio(&point.at, u, w) / level;
                                point.low <= ratio && ratio <= point.high
                            };
                            prop_assert!(!points.iter().all(inside), "{isa:?}: ({u}, {w}) is within every bound");
                        }
                    }
                }
                Ok(())
            },
        )
        .unwrap();
    assert!(
        broken.into_inner() > u64::from(CASES) / 4,
        "the property must not hold for want of rectangles that break"
    );
}
