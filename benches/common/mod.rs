//! What the benches share: guitars drawn from a fixed seed, spaces, and a timer that takes the best of several runs.
#![allow(dead_code)]

use std::time::{Duration, Instant};

use knobwright::guitar::Guitar;
use knobwright::guitar::Slot;
use knobwright::inputs;
use knobwright::kernel::plan::Plan;
use knobwright::parts::choice::{Key, Rules};
use knobwright::parts::network::Network;
use knobwright::parts::series::Series;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::units::{Farads, Henries, Ohms};

/// The first shipped guitar with its values moved by a seed; `0` leaves it as it is.
pub fn guitar(seed: u64) -> Guitar {
    let mut guitar = inputs::guitar(None).expect("the first sample reads");
    let mut state = seed;
    let mut factor = |spread: f64| {
        if seed == 0 {
            return 1.0;
        }
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let uniform = (state >> 11) as f64 / (1_u64 << 53) as f64;
        spread.powf(2.0 * uniform - 1.0)
    };
    let pickup = &mut guitar.pickup;
    pickup.inductance = Henries::new(pickup.inductance.value() * factor(1.8)).expect("finite");
    pickup.resistance = Ohms::new(pickup.resistance.value() * factor(1.5)).expect("finite");
    guitar.cable.capacitance = Farads::new(guitar.cable.capacitance.value() * factor(1.7)).expect("finite");
    let pots = factor(2.0);
    guitar.volume.pot.resistance = Ohms::new(guitar.volume.pot.resistance.value() * pots).expect("finite");
    guitar
}

/// A target of one phrase, or of a TOML text.
pub fn target(text: &str) -> Target {
    let source = Source::inline("bench", text);
    if text.contains('=') {
        Target::read(&source)
    } else {
        Target::from_phrase(&source.passage())
    }
    .expect("the target reads")
}

/// Four volume settings, 80 Hz to 8 kHz against full.
pub const WIDE: &str = "[[clause]]\nmeasure = \"shape\"\nband = [80, 8000]\nvolume = [1.0, 0.75, 0.5, 0.25]\nat_least = -3.0\nat_most = 3.0\nagainst = \"full\"\n";

/// Four volume settings, the highs alone.
pub const HIGHS: &str = "keep highs within 2 dB from full to quarter volume";

/// A space of one slot.
pub fn space(slot: Slot, network: &str, resistors: Series, capacitors: Series) -> Space {
    let network = Network::read(&Source::inline("bench", network).passage()).expect("the network reads");
    let key = |part: &str| Key {
        slot: None,
        part: part.to_owned(),
    };
    let rules = Rules {
        series: vec![(key("R"), resistors), (key("C"), capacitors)],
        ..Rules::default()
    };
    Space {
        slots: vec![SlotSpace::new(slot, network, &rules).expect("the space is not empty")],
    }
}

/// The plan of a target with the bleed slot free.
pub fn bleed_plan(guitar: &Guitar, target: &Target) -> Plan {
    Plan::new(guitar, guitar, target, &[Slot::Bleed]).expect("no knob position is silent")
}

/// The shortest of some runs, and the last result.
pub fn best_of<T>(runs: usize, mut job: impl FnMut() -> T) -> (Duration, T) {
    let mut best = Duration::MAX;
    let mut result = None;
    for _ in 0..runs {
        let start = Instant::now();
        let output = std::hint::black_box(job());
        best = best.min(start.elapsed());
        result = Some(output);
    }
    (best, result.expect("at least one run"))
}

/// The middle of some figures.
pub fn median(mut figures: Vec<f64>) -> f64 {
    figures.sort_by(f64::total_cmp);
    figures[figures.len() / 2]
}
