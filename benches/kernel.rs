//! Points a second of the division-free loop against the multiply-add peak of the same core, and against the scalar definition; and
//! plain responses against a dense solve.
//!
//! Baseline: as many independent fused multiply-adds a second as the same core does with the same vectors, measured in this run. A
//! point is counted as 8.5 of them. Results are compared before anything is timed.

mod common;
#[path = "../tests/support/twin.rs"]
mod twin;

use std::hint::black_box;

use common::{HIGHS, best_of, bleed_plan, guitar, target};
use knobwright::circuit::Setting;
use knobwright::guitar::{Guitar, Slot};
use knobwright::kernel::grid::frequencies;
use knobwright::kernel::lanes::{Block, BoundedQuadratics, Isa, LANES, Quadratics};
use knobwright::kernel::response::powers;
use knobwright::parts::network::Network;
use knobwright::search::exhaustive::Evaluator;
use knobwright::source::Source;
use num_complex::Complex64;

/// What one point costs in multiply-adds: six for N and D, one for a·D, one each for the bounds, less what the broadcast saves.
const SLOTS_A_POINT: f64 = 8.5;
const ROUNDS: usize = 2_000;

fn main() {
    let points = points();
    let blocks: Vec<Block> = (0..64).map(block).collect();
    let anchor = [1.0; LANES];
    agree(&points, &blocks);
    for isa in Isa::available() {
        let (time, _) = best_of(7, || {
            let mut sum = 0.0;
            for _ in 0..ROUNDS / 64 {
                for block in &blocks {
                    sum += isa.within(&points, block, &anchor, false).0[0];
                }
            }
            sum
        });
        let count = (ROUNDS / 64 * blocks.len() * points.len() * LANES) as f64;
        let nanoseconds = time.as_secs_f64() * 1e9 / count;
        match peak(isa) {
            Some(peak) => println!(
                "{isa:?}: {nanoseconds:.3} ns a point, {:.0} % of the multiply-add peak ({peak:.1} a nanosecond)",
                100.0 * SLOTS_A_POINT / nanoseconds / peak
            ),
            None => println!("{isa:?}: {nanoseconds:.3} ns a point"),
        }
    }
    definition();
    responses();
}

/// Coefficients of the size a guitar has, by the formula every point has.
fn points() -> Vec<BoundedQuadratics> {
    let point = |index: usize| {
        let turn = index as f64 * 0.37;
        let form = |zero: Complex64, one: Complex64| {
            let product = zero.conj() * one;
            [zero.norm_sqr(), 2.0 * product.re, -2.0 * product.im, one.norm_sqr()]
        };
        let n = form(Complex64::from_polar(1.0, turn), Complex64::from_polar(0.8, turn + 0.4));
        let d = form(Complex64::from_polar(1.5, turn), Complex64::from_polar(0.9, turn + 0.7));
        BoundedQuadratics {
            at: Quadratics {
                n,
                d,
                scale: 1.0 + 0.01 * index as f64,
            },
            high: 1e6,
            low: 1e-6,
        }
    };
    (0..240).map(point).collect()
}

fn block(seed: usize) -> Block {
    let value = |lane: usize, step: f64| 0.1 + step * (seed * LANES + lane) as f64;
    Block {
        u: std::array::from_fn(|lane| value(lane, 0.001)),
        w: std::array::from_fn(|lane| value(lane, 0.002)),
    }
}

fn agree(points: &[BoundedQuadratics], blocks: &[Block]) {
    for block in blocks {
        let (plain, _) = Isa::PORTABLE.within(points, block, &[1.0; LANES], false);
        for isa in Isa::available() {
            let (worst, _) = isa.within(points, block, &[1.0; LANES], false);
            for (worst, plain) in worst.iter().zip(plain) {
                assert!((worst - plain).abs() <= 1e-12 * plain.abs(), "{isa:?}: {worst} is not {plain}");
            }
        }
    }
}

/// The definition: one candidate, every point, logarithms and all.
fn definition() {
    let guitar = guitar(0);
    let plan = bleed_plan(&guitar, &target(HIGHS));
    let network = Network::read(&Source::inline("bench", "120k || 1n").passage()).expect("reads");
    let mut evaluator = Evaluator::new(&plan);
    let (time, _) = best_of(7, || {
        let mut sum = 0.0;
        for _ in 0..200 {
            let worst = evaluator.worst(&[(Slot::Bleed, network.as_ref())], &[Vec::new()]);
            sum += worst.expect("sounds").margin;
        }
        sum
    });
    let nanoseconds = time.as_secs_f64() * 1e9 / (200 * plan.points.len()) as f64;
    println!("the definition, one candidate at a time: {nanoseconds:.1} ns a point");
}

/// Whole responses, 12 guitars at 20 knob positions and 480 frequencies, planning included; some of the points by the dense solve.
fn responses() {
    let guitars: Vec<Guitar> = (0..12).map(guitar).collect();
    let rotation = |step: usize| 0.05 + 0.1 * step as f64;
    let settings: Vec<Setting> = (0..20)
        .map(|step| Setting {
            volume: rotation(step % 10),
            tone: rotation(step / 2),
        })
        .collect();
    let at = frequencies(20.0, 20.0 * 2.0_f64.powf(479.0 / 48.0), 48);
    let each = || {
        guitars
            .iter()
            .flat_map(|guitar| settings.iter().map(move |setting| (guitar, *setting)))
    };
    let few: Vec<f64> = at.iter().copied().step_by(40).collect();
    for (guitar, setting) in each() {
        for (power, frequency) in powers(guitar, setting, &few).iter().zip(&few) {
            let level = 10.0 * (power / twin::transfer(guitar, setting, *frequency).norm_sqr()).log10();
            assert!(level.abs() <= 1e-9, "the dense solve is {level:e} dB off at {frequency} Hz");
        }
    }
    let (time, _) = best_of(7, || {
        each()
            .map(|(guitar, setting)| powers(guitar, setting, &at)[at.len() / 2])
            .sum::<f64>()
    });
    let own = time.as_secs_f64() * 1e9 / (each().count() * at.len()) as f64;
    let (time, _) = best_of(3, || {
        let solved = each().flat_map(|(guitar, setting)| few.iter().map(move |f| twin::transfer(guitar, setting, *f)));
        solved.map(|transfer| transfer.norm_sqr()).sum::<f64>()
    });
    let dense = time.as_secs_f64() * 1e9 / (each().count() * few.len()) as f64;
    println!(
        "response: {own:.1} ns a point, planning included; a dense solve of each point {dense:.0}, {:.0} times as long",
        dense / own
    );
}

/// Multiply-adds of doubles a nanosecond.
fn peak(isa: Isa) -> Option<f64> {
    #[cfg(target_arch = "x86_64")]
    {
        use std::arch::x86_64::{_mm256_fmadd_pd, _mm256_set1_pd, _mm256_storeu_pd};
        const CHAINS: usize = 12;
        const STEPS: usize = 1_000_000;

        #[target_feature(enable = "avx2,fma")]
        fn chains() -> f64 {
            let (factor, term) = (_mm256_set1_pd(black_box(0.999_999)), _mm256_set1_pd(black_box(1e-6)));
            let mut sums = [_mm256_set1_pd(1.0); CHAINS];
            for _ in 0..black_box(STEPS) {
                for sum in &mut sums {
                    *sum = _mm256_fmadd_pd(*sum, factor, term);
                }
            }
            let mut out = [0.0; 4];
            let mut total = 0.0;
            for sum in sums {
                // SAFETY: four doubles fit the array.
                unsafe { _mm256_storeu_pd(out.as_mut_ptr(), sum) };
                total += out[0];
            }
            total
        }

        if format!("{isa:?}") == "Fused256" {
            // SAFETY: the variant is only available where the features are.
            let (time, _) = best_of(7, || unsafe { chains() });
            return Some((CHAINS * STEPS * 4) as f64 / (time.as_secs_f64() * 1e9));
        }
    }
    let _ = isa;
    None
}
