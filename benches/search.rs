//! The exact pruned search against a brute force in the same vector lanes: time, and the share of candidates evaluated.
//!
//! Baseline: every candidate through the lanes at every point, no rectangle asked, nothing abandoned. Both on one thread.

mod common;

use common::{HIGHS, WIDE, best_of, bleed_plan, guitar, median, space, target};
use knobwright::guitar::Slot;
use knobwright::kernel::lanes::Isa;
use knobwright::parts::series::Series;
use knobwright::search::exhaustive::{search_with, with_threads};
use knobwright::search::pruned::Method;

const GUITARS: u64 = 20;

fn main() {
    let spaces = [
        ("R || C, E24 x E24", "R || C", Series::E24, Series::E24, WIDE),
        ("R || C, E96 x E24", "R || C", Series::E96, Series::E24, WIDE),
        ("R1 + (R2 || C), E24", "R1 + (R2 || C)", Series::E24, Series::E24, WIDE),
        ("R1 + (R2 || C), E24, highs", "R1 + (R2 || C)", Series::E24, Series::E24, HIGHS),
        ("R1 + (R2 || C), E96, 80 Hz-8 kHz", "R1 + (R2 || C)", Series::E96, Series::E24, WIDE),
        ("R1 + (R2 || C), E96, 1.5-6 kHz", "R1 + (R2 || C)", Series::E96, Series::E24, HIGHS),
    ];
    println!("instruction set: {:?}", Isa::detect());
    for (name, network, resistors, capacitors, wish) in spaces {
        let space = [space(Slot::Bleed, network, resistors, capacitors)];
        let target = target(wish);
        let guitars = if space[0].count() > 1_000_000 { GUITARS / 4 } else { GUITARS };
        let (mut gains, mut shares, mut times) = (Vec::new(), Vec::new(), Vec::new());
        for seed in 0..guitars {
            let guitar = guitar(seed);
            let plan = bleed_plan(&guitar, &target);
            let run = |prune: bool| {
                let isa = Isa::detect();
                with_threads(Some(1), || search_with(&plan, &space, None, 10, Method { prune, isa }, &()))
            };
            let (pruned_time, pruned) = best_of(5, || run(true));
            let (brute_time, brute) = best_of(if guitars < GUITARS { 1 } else { 3 }, || run(false));
            assert_eq!(pruned.entries, brute.entries, "{name}, guitar {seed}");
            gains.push(brute_time.as_secs_f64() / pruned_time.as_secs_f64());
            shares.push(pruned.evaluated[0] / space[0].count() as f64);
            times.push(pruned_time.as_secs_f64() * 1e3);
        }
        println!(
            "{name}: {} candidates, median of {guitars} guitars: {:.1} x faster than brute force, {:.2} ms, {:.2} % evaluated",
            space[0].count(),
            median(gains),
            median(times),
            100.0 * median(shares)
        );
    }
    threads();
}

/// Two threads over one on the large search, the threads being there already; brute force beside it tells whether the second core is free.
fn threads() {
    let space = [space(Slot::Bleed, "R1 + (R2 || C)", Series::E96, Series::E24)];
    let plan = bleed_plan(&guitar(0), &target(WIDE));
    let times = |prune: bool, runs: usize| {
        let method = Method { prune, isa: Isa::detect() };
        let run = |threads| {
            with_threads(Some(threads), || {
                best_of(runs, || search_with(&plan, &space, None, 10, method, &()))
            })
        };
        let ((one, alone), (two, together)) = (run(1), run(2));
        assert_eq!(alone, together);
        one.as_secs_f64() / two.as_secs_f64()
    };
    println!(
        "two threads over one, R1 + (R2 || C), E96: {:.2} x; brute force {:.2} x",
        times(true, 20),
        times(false, 2)
    );
}
