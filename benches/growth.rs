//! How time grows with the number of candidates, points and slots: doubling one of them should at most double the time.
//!
//! Baseline: the same search at the size before, in the same run, on one thread. Times are of whole searches, the plan included. Brute force
//! in the same lanes shows the growth of the plain work, beside what the pruned search makes of it.

mod common;

use common::{best_of, guitar, median, target};
use knobwright::guitar::{Guitar, Slot};
use knobwright::kernel::lanes::Isa;
use knobwright::kernel::plan::Plan;
use knobwright::parts::choice::{Key, Rules};
use knobwright::parts::network::Network;
use knobwright::parts::series::Series;
use knobwright::search::exhaustive::{search_with, with_threads};
use knobwright::search::pruned::Method;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::source::Source;
use knobwright::target::Target;

/// How many of the random guitars each figure is the median of.
const GUITARS: u64 = 5;

/// One size of something: what it is called, how much of it there is, and the search.
struct Size {
    name: String,
    amount: f64,
    slots: Vec<Slot>,
    space: Space,
    target: Target,
}

fn main() {
    println!("instruction set: {:?}", Isa::detect());
    grows("candidates, R1 + (R2 || C)", &candidates());
    grows("points, R || C", &points());
    grows("slots, one value each but the first", &slots());
}

fn grows(what: &str, sizes: &[Size]) {
    println!("{what}:");
    let mut before: Option<(f64, [f64; 2])> = None;
    for size in sizes {
        let times = times(size);
        let ratios = before.map(|(amount, earlier)| {
            let [pruned, brute] = [times[0] / earlier[0], times[1] / earlier[1]];
            format!(
                "{:.2} x as many: time x {pruned:.2} pruned, x {brute:.2} brute force",
                size.amount / amount
            )
        });
        println!(
            "  {}: {:.2} ms pruned, {:.2} ms brute force; {}",
            size.name,
            times[0] * 1e3,
            times[1] * 1e3,
            ratios.unwrap_or_else(|| "the first size".to_owned())
        );
        before = Some((size.amount, times));
    }
}

/// Seconds of a pruned search and of a brute force, medians over the guitars.
fn times(size: &Size) -> [f64; 2] {
    let mut times = [Vec::new(), Vec::new()];
    for seed in 0..GUITARS {
        let guitar = guitar(seed);
        let run = |prune: bool| {
            let isa = Isa::detect();
            best_of(3, || with_threads(Some(1), || search(&guitar, size, Method { prune, isa })))
        };
        let ((pruned, found), (brute, all)) = (run(true), run(false));
        assert_eq!(found, all, "{}, guitar {seed}", size.name);
        times[0].push(pruned.as_secs_f64());
        times[1].push(brute.as_secs_f64());
    }
    times.map(median)
}

fn search(guitar: &Guitar, size: &Size, method: Method) -> Vec<knobwright::search::ranking::Entry> {
    let plan = Plan::new(guitar, guitar, &size.target, &size.slots).expect("no knob position is silent");
    search_with(&plan, std::slice::from_ref(&size.space), None, 10, method, &()).entries
}

/// Each series twice as dense as the one before, in one of three parts.
fn candidates() -> Vec<Size> {
    let sizes = [
        [Series::E6, Series::E12, Series::E12],
        [Series::E12, Series::E12, Series::E12],
        [Series::E12, Series::E24, Series::E12],
        [Series::E24, Series::E24, Series::E12],
    ];
    let size = |series: [Series; 3]| {
        let space = space(
            &[(Slot::Bleed, "R1 + (R2 || C)")],
            &[("R1", series[0]), ("R2", series[1]), ("C", series[2])],
        );
        Size {
            name: format!("{} candidates", space.count()),
            amount: space.count() as f64,
            slots: vec![Slot::Bleed],
            space,
            target: target(common::WIDE),
        }
    };
    sizes.into_iter().map(size).collect()
}

/// One, two, four and eight volume settings below full.
fn points() -> Vec<Size> {
    let size = |settings: u32| {
        let rotations: Vec<String> = (0..settings)
            .map(|step| (0.25 + 0.5 * f64::from(step) / f64::from(settings)).to_string())
            .collect();
        let target = target(&format!(
            "[[clause]]\nmeasure = \"shape\"\nband = [80, 8000]\nvolume = [{}]\nat_least = -3.0\nat_most = 3.0\nagainst = \"full\"\n",
            rotations.join(", ")
        ));
        Size {
            name: format!("{settings} settings"),
            amount: f64::from(settings),
            slots: vec![Slot::Bleed],
            space: space(&[(Slot::Bleed, "R || C")], &[("R", Series::E24), ("C", Series::E24)]),
            target,
        }
    };
    [1, 2, 4, 8].into_iter().map(size).collect()
}

/// The same number of candidates with one, two, three and four slots searched.
fn slots() -> Vec<Size> {
    let all = [
        (Slot::Bleed, "R || C"),
        (Slot::Tone, "22n"),
        (Slot::Bypass, "100n"),
        (Slot::Series, "47n"),
    ];
    let size = |count: usize| Size {
        name: format!("{count} slots"),
        amount: count as f64,
        slots: all[..count].iter().map(|(slot, _)| *slot).collect(),
        space: space(&all[..count], &[("R", Series::E24), ("C", Series::E24)]),
        target: target(common::WIDE),
    };
    (1..=all.len()).map(size).collect()
}

fn space(slots: &[(Slot, &str)], series: &[(&str, Series)]) -> Space {
    let key = |part: &str| Key {
        slot: None,
        part: part.to_owned(),
    };
    let rules = Rules {
        series: series.iter().map(|(part, series)| (key(part), *series)).collect(),
        ..Rules::default()
    };
    let slot = |(slot, network): &(Slot, &str)| {
        let network = Network::read(&Source::inline("bench", *network).passage()).expect("the network reads");
        SlotSpace::new(*slot, network, &rules).expect("the space is not empty")
    };
    Space {
        slots: slots.iter().map(slot).collect(),
    }
}
