//! The vector loops that ask whole rectangles, in one plane or in several at once, on every instruction set this machine has, against dense
//! samples of the rectangle in every plane.

mod support;

use std::sync::atomic::{AtomicU64, Ordering};

use knobwright::kernel::lanes::{BoundedQuadratics, Isa, LANES, Packed, Quadratics, Rectangle};
use proptest::prelude::*;
use support::points::{RATIO, point, ratio, rectangle, sampled};
use support::random;

// Under an interpreter that looks for undefined behaviour each case takes a thousand times as long.
const CASES: u32 = if cfg!(miri) { 10 } else { 400 };

/// The same points in several planes: near one another, as in planes next to each other.
fn planes() -> impl Strategy<Value = Vec<Vec<BoundedQuadratics>>> {
    let bounded = (point(), 0.01..5.0_f64, 1.0..3.0_f64, any::<bool>()).prop_map(|(at, low, span, open)| BoundedQuadratics {
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

fn packed(planes: &[Vec<BoundedQuadratics>]) -> Vec<Vec<Packed>> {
    planes.iter().map(|points| Packed::pack(points.iter().copied())).collect()
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

/// What a mean's ends must hold: that of the first points of a plane at some candidate.
fn mean(points: &[BoundedQuadratics], count: usize, u: f64, w: f64) -> f64 {
    points.iter().take(count).map(|point| ratio(&point.at, u, w)).sum::<f64>() / count as f64
}

#[test]
fn ends_of_a_mean_hold_every_candidate_of_a_rectangle_in_every_plane() {
    let counted = planes().prop_flat_map(|planes| (1..=planes[0].len(), Just(planes)));
    let (narrow, all) = (AtomicU64::new(0), AtomicU64::new(0));
    random::runner(CASES)
        .run(&(counted, rectangle()), |((count, planes), rectangle)| {
            let packed = packed(&planes);
            let together: Vec<&[Packed]> = packed.iter().map(Vec::as_slice).collect();
            for isa in Isa::available() {
                let [low, high] = isa.mean_ends(&together, count, &rectangle);
                all.fetch_add(1, Ordering::Relaxed);
                narrow.fetch_add(u64::from(low > 0.0 && high < 100.0 * low), Ordering::Relaxed);
                for points in &planes {
                    for (u, w) in sampled(&rectangle) {
                        let mean = mean(points, count, u, w);
                        prop_assert!(
                            low <= mean * (1.0 + RATIO) && mean <= high * (1.0 + RATIO),
                            "{isa:?}: {low} {mean} {high}"
                        );
                    }
                }
            }
            Ok(())
        })
        .unwrap();
    assert!(
        2 * narrow.into_inner() > all.into_inner(),
        "the property must not hold for want of ends that say something"
    );
}

/// The power of the mean of the levels.
fn average(points: &[BoundedQuadratics], count: usize, u: f64, w: f64) -> f64 {
    (points.iter().take(count).map(|point| ratio(&point.at, u, w).ln()).sum::<f64>() / count as f64).exp()
}

#[test]
fn ends_of_an_average_hold_every_candidate_of_a_rectangle_and_meet_where_it_is_one() {
    let counted = planes().prop_flat_map(|planes| (1..=planes[0].len(), Just(planes)));
    let (narrow, all) = (AtomicU64::new(0), AtomicU64::new(0));
    random::runner(CASES)
        .run(&(counted, rectangle()), |((count, planes), rectangle)| {
            let points = &planes[0];
            let packed = Packed::pack(points.iter().copied());
            for isa in Isa::available() {
                let [low, high] = isa.average_ends(&packed, count, &rectangle);
                all.fetch_add(1, Ordering::Relaxed);
                narrow.fetch_add(u64::from(low > 0.0 && high < 100.0 * low), Ordering::Relaxed);
                for (u, w) in sampled(&rectangle) {
                    let average = average(points, count, u, w);
                    prop_assert!(
                        low <= average * (1.0 + RATIO) && average <= high * (1.0 + RATIO),
                        "{isa:?}: {low} {average} {high}"
                    );
                    for end in isa.average_ends(&packed, count, &Rectangle { u: [u, u], w: [w, w] }) {
                        prop_assert!((end / average - 1.0).abs() < 1e-9, "{isa:?}: {end} is not {average}");
                    }
                }
            }
            Ok(())
        })
        .unwrap();
    let (narrow, all) = (narrow.into_inner(), all.into_inner());
    assert!(2 * narrow > all, "{narrow} of {all} ends say something");
}

#[test]
fn ends_of_a_mean_meet_where_the_rectangle_is_one_candidate() {
    let counted = planes().prop_flat_map(|planes| (1..=planes[0].len(), Just(planes)));
    random::runner(CASES)
        .run(&(counted, 0.01..3.0_f64, 0.01..3.0_f64), |((count, planes), u, w)| {
            let points = &planes[0];
            let packed = Packed::pack(points.iter().copied());
            let expected = mean(points, count, u, w);
            for isa in Isa::available() {
                for end in isa.mean_ends(&[&packed], count, &Rectangle { u: [u, u], w: [w, w] }) {
                    prop_assert!((end / expected - 1.0).abs() < 1e-9, "{isa:?}: {end} is not {expected}");
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
                    if !isa.breaks(&together, anchor, &rectangle) {
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
