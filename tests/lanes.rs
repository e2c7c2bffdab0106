//! The vector loops, on every instruction set this machine has, against the same polynomials worked out one at a time in plain doubles,
//! and the bounds over a rectangle against a dense sample of the rectangle.
//!
//! Coefficients are those of |N₀ + N₁·t|² and |D₀ + D₁·t|² with random complex N₀ … D₁, the form every point of a plan has.

mod support;

use std::sync::atomic::{AtomicU64, Ordering};

use knobwright::kernel::lanes::{Block, BoundedQuadratics, Isa, LANES, Lane, Packed, Quadratics, Rectangle};
use num_complex::Complex64;
use proptest::prelude::*;
use support::random;

const CASES: u32 = 400;

/// The kernel's promise against the scalar definition is 1e-9 dB, a ratio of 2.3e-10; with terms that do not cancel far it is kept with room.
const RATIO: f64 = 1e-12;

fn complex() -> impl Strategy<Value = Complex64> {
    (0.1..10.0_f64, 0.0..1.5_f64).prop_map(|(size, angle)| Complex64::from_polar(size, angle))
}

fn point() -> impl Strategy<Value = Quadratics> {
    // Angles within a right angle of each other: the terms add up rather than cancel.
    (complex(), complex(), complex(), complex(), 0.1..10.0_f64).prop_map(|(n0, n1, d0, d1, scale)| {
        let form = |zero: Complex64, one: Complex64| {
            let product = zero.conj() * one;
            [zero.norm_sqr(), 2.0 * product.re, -2.0 * product.im, one.norm_sqr()]
        };
        Quadratics {
            n: form(n0, n1),
            d: form(d0, d1),
            scale,
        }
    })
}

fn ratio(at: &Quadratics, u: f64, w: f64) -> f64 {
    let v = at.scale * w;
    let value = |c: &[f64; 4]| c[0] + c[1] * u + c[2] * v + c[3] * (u * u + v * v);
    value(&at.n) / value(&at.d)
}

fn block() -> impl Strategy<Value = Block> {
    let lane = || prop::array::uniform8(0.01..3.0_f64);
    (lane(), lane()).prop_map(|(u, w)| Block { u, w })
}

fn close(got: f64, expected: f64) -> bool {
    (got - expected).abs() <= RATIO * expected.abs()
}

#[test]
fn powers_and_means_are_those_of_the_scalar_form() {
    let points = prop::collection::vec(point(), 1..30);
    random::runner(CASES)
        .run(&(points, block()), |(points, block)| {
            for isa in Isa::available() {
                let mut powers: Vec<Lane> = Vec::new();
                isa.powers(&points, &block, &mut powers);
                let mean = isa.mean_power(&points, &block);
                for lane in 0..LANES {
                    let expected: Vec<f64> = points.iter().map(|point| ratio(point, block.u[lane], block.w[lane])).collect();
                    for (row, expected) in powers.iter().zip(&expected) {
                        prop_assert!(close(row[lane], *expected), "{isa:?}: {} is not {expected}", row[lane]);
                    }
                    let average = expected.iter().sum::<f64>() / expected.len() as f64;
                    prop_assert!(close(mean[lane], average), "{isa:?}: {} is not {average}", mean[lane]);
                }
            }
            Ok(())
        })
        .unwrap();
}

#[test]
fn a_candidate_is_within_the_bounds_where_its_ratio_is() {
    let bounded = (point(), 0.01..2.0_f64, 1.0..100.0_f64).prop_map(|(at, low, span)| BoundedQuadratics { at, low, high: low * span });
    let points = prop::collection::vec(bounded, 1..30);
    random::runner(CASES)
        .run(&(points, block(), 0.2..5.0_f64), |(points, block, anchor)| {
            for isa in Isa::available() {
                let (worst, done) = isa.within(&points, &block, &[anchor; LANES], false);
                prop_assert_eq!(done, points.len());
                for (lane, worst) in worst.iter().enumerate() {
                    let distance = |point: &BoundedQuadratics| {
                        let ratio = ratio(&point.at, block.u[lane], block.w[lane]) / anchor;
                        (point.high / ratio).min(ratio / point.low)
                    };
                    let room = points.iter().map(distance).fold(f64::INFINITY, f64::min);
                    // Nearer to a bound than rounding reaches, either answer is right.
                    if (room - 1.0).abs() > 1e-9 {
                        prop_assert_eq!(*worst >= 0.0, room >= 1.0, "{:?}, lane {}: {}", isa, lane, room);
                    }
                }
            }
            Ok(())
        })
        .unwrap();
}

#[test]
fn abandoned_early_means_that_no_candidate_was_left() {
    let points = prop::collection::vec(point(), 20..40);
    random::runner(CASES)
        .run(&(points, block()), |(points, block)| {
            let narrow = |at: &Quadratics| BoundedQuadratics {
                at: *at,
                low: 0.9,
                high: 1.1,
            };
            let points: Vec<BoundedQuadratics> = points.iter().map(narrow).collect();
            for isa in Isa::available() {
                let (all, _) = isa.within(&points, &block, &[1.0; LANES], false);
                let (some, done) = isa.within(&points, &block, &[1.0; LANES], true);
                if done < points.len() {
                    prop_assert!(some.iter().chain(&all).all(|worst| *worst < 0.0));
                } else {
                    prop_assert_eq!(all, some);
                }
            }
            Ok(())
        })
        .unwrap();
}

fn rectangle() -> impl Strategy<Value = Rectangle> {
    let ends = || {
        prop_oneof![
            Just([0.0, 0.0]),
            (0.01..2.0_f64, 1.0..4.0_f64).prop_map(|(low, span)| [low, low * span])
        ]
    };
    (ends(), ends()).prop_map(|(u, w)| Rectangle { u, w })
}

fn sampled(rectangle: &Rectangle) -> Vec<(f64, f64)> {
    let along = |ends: [f64; 2]| (0..=12).map(move |step| ends[0] + (ends[1] - ends[0]) * f64::from(step) / 12.0);
    along(rectangle.u).flat_map(|u| along(rectangle.w).map(move |w| (u, w))).collect()
}

#[test]
fn intervals_hold_every_candidate_of_a_rectangle() {
    let points = prop::collection::vec(point(), 1..20);
    random::runner(CASES)
        .run(&(points, rectangle()), |(points, rectangle)| {
            let unbounded = |at: &Quadratics| BoundedQuadratics {
                at: *at,
                low: 0.0,
                high: f64::INFINITY,
            };
            let packed = Packed::pack(points.iter().map(unbounded));
            for isa in Isa::available() {
                let mut intervals = Vec::new();
                isa.intervals(&packed, &rectangle, &mut intervals);
                for (position, point) in points.iter().enumerate() {
                    let [low, high] = &intervals[position / LANES];
                    let (low, high) = (low[position % LANES], high[position % LANES]);
                    for (u, w) in sampled(&rectangle) {
                        let ratio = ratio(point, u, w);
                        prop_assert!(
                            low <= ratio * (1.0 + RATIO) && ratio <= high * (1.0 + RATIO),
                            "{isa:?}: {low} {ratio} {high}"
                        );
                    }
                }
            }
            Ok(())
        })
        .unwrap();
}

#[test]
fn a_rectangle_that_breaks_a_bound_holds_no_candidate_within_it() {
    let bounded = (point(), 0.01..5.0_f64, 1.0..3.0_f64, any::<bool>()).prop_map(|(at, low, span, open)| BoundedQuadratics {
        at,
        low,
        high: if open { f64::INFINITY } else { low * span },
    });
    let points = prop::collection::vec(bounded, 1..20);
    let broken = AtomicU64::new(0);
    let runs = points.prop_flat_map(|points| (Just(points), rectangle(), 0.3..3.0_f64, 1.0..1.3_f64));
    random::runner(CASES)
        .run(&runs, |(points, rectangle, anchor, span)| {
            let anchor = [anchor, anchor * span];
            let packed = Packed::pack(points.iter().copied());
            for isa in Isa::available() {
                if !isa.breaks(&packed, anchor, &rectangle) {
                    continue;
                }
                broken.fetch_add(1, Ordering::Relaxed);
                for (u, w) in sampled(&rectangle) {
                    for level in [anchor[0], anchor[1]] {
                        let inside = |point: &BoundedQuadratics| {
                            let ratio = ratio(&point.at, u, w) / level;
                            point.low <= ratio && ratio <= point.high
                        };
                        prop_assert!(!points.iter().all(inside), "{isa:?}: ({u}, {w}) is within every bound");
                    }
                }
            }
            Ok(())
        })
        .unwrap();
    // The property must not hold for want of rectangles that break.
    assert!(broken.into_inner() > u64::from(CASES) / 4);
}
