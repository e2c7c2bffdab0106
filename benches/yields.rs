//! Built guitars: nanoseconds a point of the polynomials in vector lanes, coefficients of each guitar included, against a dense solve of
//! each guitar and against a scalar ladder written for this one circuit; random numbers apart; the yields of a whole list.
//!
//! Baselines: the tests' dense solver (nodal analysis by nalgebra, set up anew for each guitar and frequency) and the ladder. Results are
//! compared before anything is timed.

mod common;
#[path = "../tests/support/twin.rs"]
mod twin;

use std::f64::consts::TAU;
use std::hint::black_box;

use common::best_of;
use knobwright::circuit::Setting;
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::parts::network::Network;
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::tolerance::{Built, Draws, Law, Lot, Spread, Tolerances, margins, rate_all, spreads, with_factors};
use num_complex::Complex64;

/// Level in dB that the fast way and the plain solve may part by.
const LEVEL_DB: f64 = 1e-9;
const BUILDS: u64 = 10_000;
const NETWORKS: [&str; 10] = [
    "120k || 1n",
    "91k + (150k || 1n5)",
    "150k || 820p",
    "82k + 1n5",
    "100k || 1n2",
    "1n",
    "680p",
    "110k + (220k || 2n7)",
    "130k + 1n2",
    "82k + (150k || 1n)",
];

fn main() {
    let guitar = inputs::guitar(None).expect("the first sample reads");
    let target = inputs::target(None).expect("the default target reads");
    let lists: Vec<Built> = NETWORKS.iter().map(|network| built(&guitar, &target, network)).collect();
    let build = with_bleed(&guitar, NETWORKS[0]);
    let first = &lists[0];
    agree(first, &guitar, &build, &target);
    let draws = Lot::default().draws;
    let one_thread = |job: &(dyn Fn() -> f64 + Sync)| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("one thread");
        best_of(5, || pool.install(job)).0.as_secs_f64()
    };
    let points = (BUILDS as usize * first.plan.points()) as f64;
    let all = one_thread(&|| margins(first, draws, 0, BUILDS).iter().sum());
    let numbers = one_thread(&|| random_numbers(&first.spreads, draws));
    let fast = (all - numbers) * 1e9 / points;
    let (dense, ladder) = (dense(&build), ladder(&build));
    println!(
        "{} points a guitar, one thread: {fast:.2} ns a point with the coefficients of each guitar, random numbers apart",
        first.plan.points()
    );
    println!("  dense solve {dense:.0} ns a point: {:.0} times as long", dense / fast);
    println!("  scalar ladder {ladder:.1} ns a point: {:.1} times as long", ladder / fast);
    println!(
        "  random numbers {:.1} ms for {BUILDS} guitars of {} values",
        numbers * 1e3,
        first.spreads.len()
    );
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let (time, _) = best_of(5, || pool.install(|| rate_all(&lists, &Lot::default())).len());
        println!(
            "{threads} threads: {} networks of {BUILDS} guitars in {:.0} ms",
            lists.len(),
            time.as_secs_f64() * 1e3
        );
    }
}

fn with_bleed(guitar: &Guitar, network: &str) -> Guitar {
    let mut build = guitar.clone();
    build.fit(
        Slot::Bleed,
        Network::read(&Source::inline("bleed", network).passage()).expect("a network"),
    );
    build
}

fn built(guitar: &Guitar, target: &Target, network: &str) -> Built {
    let build = with_bleed(guitar, network);
    let spreads = spreads(&build, &Tolerances::default(), None);
    Built::new(&build, guitar, target, spreads).unwrap_or_else(|silent| panic!("silent: {silent:?}"))
}

/// The margins of a few built guitars are those of guitars built one by one.
fn agree(built: &Built, guitar: &Guitar, build: &Guitar, target: &Target) {
    let draws = Draws {
        law: Law::Uniform,
        seed: 5,
    };
    let drawn = margins(built, draws, 0, 24);
    for (number, margin) in drawn.iter().enumerate() {
        let factors: Vec<f64> = built
            .spreads
            .iter()
            .map(|spread| {
                let mut factor = [1.0];
                draws.fill(spread, number as u64, &mut factor);
                factor[0]
            })
            .collect();
        // The present guitar has no bleed whose values could be off.
        let pairs = built.spreads.iter().cloned().zip(factors.iter().copied());
        let (kept, own): (Vec<Spread>, Vec<f64>) = pairs.filter(|(spread, _)| !spread.name.starts_with("bleed.")).unzip();
        let present = with_factors(guitar, &kept, &own);
        let one = with_factors(build, &built.spreads, &factors);
        let exact = Built::new(&one, &present, target, Vec::new()).unwrap_or_else(|silent| panic!("silent: {silent:?}"));
        let plain = exact.margins_at(&[Vec::new()])[0];
        assert!((plain - margin).abs() <= LEVEL_DB, "guitar {number}: {margin} and {plain}");
    }
    for frequency in [100.0, 1000.0, 5000.0] {
        let (solved, laddered) = (
            twin::transfer(build, HALF, frequency).norm(),
            Ladder::of(build).transfer(frequency).norm(),
        );
        assert!(
            (20.0 * (solved / laddered).log10()).abs() <= LEVEL_DB,
            "{frequency} Hz: {solved} and {laddered}"
        );
    }
}

fn random_numbers(spreads: &[Spread], draws: Draws) -> f64 {
    let mut factors = vec![0.0; BUILDS as usize];
    let mut sum = 0.0;
    for spread in spreads {
        draws.fill(spread, 0, &mut factors);
        sum += factors[7];
    }
    sum
}

const HALF: Setting = Setting { volume: 0.5, tone: 1.0 };

fn frequencies() -> Vec<f64> {
    (0..60).map(|step| 100.0 * 2.0_f64.powf(f64::from(step) / 10.0)).collect()
}

/// Nanoseconds a point of the tests' dense solver.
fn dense(build: &Guitar) -> f64 {
    let frequencies = frequencies();
    let solve = || -> f64 {
        frequencies
            .iter()
            .map(|frequency| twin::transfer(black_box(build), HALF, *frequency).norm_sqr())
            .sum()
    };
    best_of(20, solve).0.as_secs_f64() * 1e9 / frequencies.len() as f64
}

/// Nanoseconds a point of the ladder.
fn ladder(build: &Guitar) -> f64 {
    let (frequencies, values) = (frequencies(), Ladder::of(build));
    let solve = || -> f64 {
        frequencies
            .iter()
            .map(|frequency| black_box(&values).transfer(*frequency).norm_sqr())
            .sum()
    };
    best_of(200, solve).0.as_secs_f64() * 1e9 / frequencies.len() as f64
}

/// The values of a guitar at half volume: a pickup without eddy losses, a bleed of R || C, a tone capacitor.
struct Ladder {
    inductance: f64,
    winding: [f64; 2],
    track: [f64; 2],
    bleed: [f64; 2],
    tone: [f64; 2],
    output: [f64; 2],
}

impl Ladder {
    fn of(build: &Guitar) -> Self {
        let track = build.volume.pot.resistance.value();
        let wiper = build.volume.pot.taper.wiper(HALF.volume);
        let bleed = build.volume.bleed.as_ref().map(Network::components).unwrap_or_default();
        let tone = build.tone.as_ref().expect("a tone control");
        let capacitor = tone.network.as_ref().map(Network::components).unwrap_or_default();
        Self {
            inductance: build.pickup.inductance.value(),
            winding: [build.pickup.resistance.value(), build.pickup.capacitance.value()],
            track: [track * (1.0 - wiper), track * wiper],
            bleed: [bleed[0].value(), bleed[1].value()],
            tone: [tone.pot.resistance.value(), capacitor[0].value()],
            output: [build.input.resistance.value(), build.cable.capacitance.value()],
        }
    }

    /// V/E, written out by hand from the output back to the source.
    fn transfer(&self, frequency: f64) -> Complex64 {
        let s = Complex64::new(0.0, TAU * frequency);
        let output = 1.0 / self.track[1] + s * self.output[1] + 1.0 / self.output[0];
        let upper = 1.0 / (1.0 / self.track[0] + 1.0 / self.bleed[0] + s * self.bleed[1]);
        let divider = 1.0 / (1.0 + upper * output);
        let control = 1.0 / (self.tone[0] + 1.0 / (s * self.tone[1]));
        let input = control + output * divider + s * self.winding[1];
        let winding = self.winding[0] + s * self.inductance;
        divider / (1.0 + winding * input)
    }
}
