//! The vector loops over candidates side by side, on every instruction set this machine has, against the same polynomials worked out one at a
//! time in plain doubles, and the composition of points against plain complex arithmetic.

mod support;

use std::sync::atomic::{AtomicU64, Ordering};

use knobwright::kernel::lanes::{Block, BoundedQuadratics, Composition, Isa, LANES, Lane, Moebius, PackedTerms, PointTerms, Quadratics};
use num_complex::Complex64;
use proptest::prelude::*;
use support::points::{RATIO, point, ratio, terms, value};
use support::random;

// Under an interpreter that looks for undefined behaviour each case takes a thousand times as long.
const CASES: u32 = if cfg!(miri) { 10 } else { 400 };

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
                let levels = isa.average_power(&points, &block);
                for lane in 0..LANES {
                    let expected: Vec<f64> = points.iter().map(|point| ratio(point, block.u[lane], block.w[lane])).collect();
                    for (row, expected) in powers.iter().zip(&expected) {
                        prop_assert!(close(row[lane], *expected), "{isa:?}: {} is not {expected}", row[lane]);
                    }
                    let average = expected.iter().sum::<f64>() / expected.len() as f64;
                    prop_assert!(close(mean[lane], average), "{isa:?}: {} is not {average}", mean[lane]);
                    let of_levels = (expected.iter().map(|ratio| ratio.ln()).sum::<f64>() / expected.len() as f64).exp();
                    prop_assert!(close(levels[lane], of_levels), "{isa:?}: {} is not {of_levels}", levels[lane]);
                }
            }
            Ok(())
        })
        .unwrap();
}

/// The product of four hundred powers of 10^±60 is far outside what a double holds, and its root is not; what is silent has none.
#[test]
fn an_average_over_many_points_neither_underflows_nor_overflows() {
    let block = Block {
        u: [1.0; LANES],
        w: [1.0; LANES],
    };
    let flat = |power: f64| Quadratics {
        n: [power, 0.0, 0.0, 0.0],
        d: [1.0, 0.0, 0.0, 0.0],
        scale: 1.0,
    };
    for isa in Isa::available() {
        for exponent in [-60, 0, 60] {
            let of = |count: usize| isa.average_power(&vec![flat(10_f64.powi(exponent)); count], &block);
            for count in [1, 3, 4, 5, 400] {
                for root in of(count) {
                    assert!(
                        (root / 10_f64.powi(exponent) - 1.0).abs() < 1e-13,
                        "{isa:?}: {root} at 10^{exponent}"
                    );
                }
            }
        }
        for silent in [0.0, -0.0, f64::INFINITY, f64::NAN] {
            let roots = isa.average_power(&[flat(1.0), flat(silent), flat(1e30)], &block);
            assert!(roots.iter().all(|root| root.is_nan()), "{isa:?}: {roots:?} of {silent}");
        }
    }
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

fn map() -> impl Strategy<Value = Moebius> {
    terms().prop_map(|[alpha, beta, gamma, delta]| Moebius { alpha, beta, gamma, delta })
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
                            let ratio = value(&got.at.n, u, v) / value(&got.at.d, u, v);
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
