//! Random guitars, networks and knob settings over the whole range that a guitar file allows, ends included.

use knobwright::circuit::Setting;
use knobwright::curve::Curve;
use knobwright::guitar::taper::Taper;
use knobwright::guitar::{Cable, Guitar, Hookup, Input, Joint, Load, LossCell, Pickup, Potentiometer, Tone, Volume};
use knobwright::parts::network::Network;
use knobwright::target::{Against, Band, Clause, Measure, Over};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use super::{c, farads, fraction, henries, l, ohms, r};

/// A runner that draws the same cases in every run.
pub fn runner(cases: u32) -> TestRunner {
    TestRunner::new_with_rng(config(cases), TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

/// As [`runner`], other cases for each seed; as many may be rejected as it takes.
pub fn runner_from(seed: u32, cases: u32) -> TestRunner {
    let config = Config {
        max_global_rejects: 20 * cases,
        ..config(cases)
    };
    TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &[seed as u8; 32]))
}

fn config(cases: u32) -> Config {
    Config {
        cases,
        failure_persistence: None,
        ..Config::default()
    }
}

/// Uniform in the logarithm.
pub fn logarithmic(low: f64, high: f64) -> impl Strategy<Value = f64> + Clone {
    (low.ln()..high.ln()).prop_map(f64::exp)
}

/// Zero, or uniform in the logarithm.
fn zero_or(low: f64, high: f64) -> impl Strategy<Value = f64> {
    prop_oneof![1 => Just(0.0), 5 => logarithmic(low, high)]
}

pub fn frequency() -> impl Strategy<Value = f64> {
    logarithmic(1.0, 50e3)
}

/// A knob: either end, a place a player would name, or any.
pub fn rotation() -> impl Strategy<Value = f64> {
    prop_oneof![
        2 => Just(0.0),
        3 => Just(1.0),
        2 => (1_u8..10).prop_map(|mark| f64::from(mark) / 10.0),
        5 => 0.001..0.999,
    ]
}

pub fn setting() -> impl Strategy<Value = Setting> {
    (rotation(), rotation()).prop_map(|(volume, tone)| Setting { volume, tone })
}

/// A resistor, a capacitor or (seldom) an inductor.
fn component() -> impl Strategy<Value = Network> + Clone {
    prop_oneof![
        4 => logarithmic(10.0, 10e6).prop_map(r),
        4 => logarithmic(10e-12, 1e-6).prop_map(c),
        1 => logarithmic(10e-3, 20.0).prop_map(l),
    ]
}

/// Up to three levels of series and parallel; no series directly in a series, no parallel directly in a parallel.
pub fn network() -> impl Strategy<Value = Network> {
    let leaf = component();
    let pair = |member: BoxedStrategy<Network>| vec(member, 2..4);
    let inner_series = pair(leaf.clone().boxed()).prop_map(Network::Series).boxed();
    let inner_parallel = pair(leaf.clone().boxed()).prop_map(Network::Parallel).boxed();
    let series_member = prop_oneof![2 => leaf.clone(), 1 => inner_parallel].boxed();
    let parallel_member = prop_oneof![2 => leaf.clone(), 1 => inner_series].boxed();
    let middle_series = pair(series_member.clone()).prop_map(Network::Series).boxed();
    let middle_parallel = pair(parallel_member.clone()).prop_map(Network::Parallel).boxed();
    let outer_series = pair(prop_oneof![leaf.clone(), middle_parallel].boxed()).prop_map(Network::Series);
    let outer_parallel = pair(prop_oneof![leaf.clone(), middle_series].boxed()).prop_map(Network::Parallel);
    prop_oneof![
        3 => leaf,
        2 => pair(series_member).prop_map(Network::Series),
        2 => pair(parallel_member).prop_map(Network::Parallel),
        1 => outer_series,
        1 => outer_parallel,
    ]
}

/// Nothing, or a network.
pub fn fitting() -> impl Strategy<Value = Option<Network>> {
    option::weighted(0.6, network())
}

fn table_taper() -> impl Strategy<Value = Taper> {
    vec((0.05..1.0, 0.0..1.0), 1..6).prop_map(|steps| {
        let (mut x, mut y) = (0.0, 0.0);
        let width: f64 = steps.iter().map(|step| step.0).sum();
        // Some steps are flat: a track may have dead travel, at its beginning too.
        let rises: Vec<f64> = steps.iter().map(|step| if step.1 < 0.2 { 0.0 } else { step.1 }).collect();
        let height: f64 = rises.iter().sum::<f64>().max(0.1);
        let mut points = vec![[0.0, 0.0]];
        for (step, rise) in steps.iter().zip(rises) {
            x += 0.9 * step.0 / width;
            y += 0.9 * rise / height;
            points.push([x, y]);
        }
        points.push([1.0, 1.0]);
        Taper::Table(Curve::new(points).unwrap())
    })
}

pub fn taper() -> impl Strategy<Value = Taper> {
    prop_oneof![
        2 => Just(Taper::Linear),
        2 => (0.01..0.49).prop_map(|m| Taper::Audio(fraction(m))),
        1 => (0.01..0.49).prop_map(|m| Taper::ReverseAudio(fraction(m))),
        1 => (0.01..0.99).prop_map(|m| Taper::TwoSlope(fraction(m))),
        1 => table_taper(),
    ]
}

fn potentiometer() -> impl Strategy<Value = Potentiometer> {
    (logarithmic(1e3, 10e6), taper()).prop_map(|(resistance, taper)| Potentiometer {
        resistance: ohms(resistance),
        taper,
        tolerance: None,
        taper_tolerance: None,
    })
}

fn pickup() -> impl Strategy<Value = Pickup> {
    let cells = vec((0.01..0.6, logarithmic(1e3, 1e6)), 0..4);
    (logarithmic(0.01, 50.0), zero_or(10.0, 100e3), zero_or(1e-12, 10e-9), cells).prop_map(|(total, resistance, winding, cells)| {
        let shares: f64 = cells.iter().map(|cell| cell.0).sum();
        Pickup {
            inductance: henries(total),
            resistance: ohms(resistance),
            capacitance: farads(winding),
            loss: cells
                .iter()
                .map(|(share, loss)| LossCell {
                    inductance: henries(total * share / shares.max(1.0)),
                    resistance: ohms(*loss),
                })
                .collect(),
            tolerance: None,
        }
    })
}

pub fn joint() -> impl Strategy<Value = Joint> {
    prop_oneof![Just(Joint::Pickup), Just(Joint::Wiper)]
}

fn tone() -> impl Strategy<Value = Tone> {
    let fitted = (fitting(), fitting());
    (potentiometer(), fitted, any::<bool>(), joint(), any::<bool>()).prop_map(|(pot, (network, bypass), shelf, joined_at, no_load)| Tone {
        pot,
        network,
        bypass: bypass.filter(|_| shelf),
        hookup: if shelf { Hookup::Shelf } else { Hookup::Rheostat },
        joined_at,
        no_load,
    })
}

pub fn guitar() -> impl Strategy<Value = Guitar> {
    let fixed = (zero_or(1e-12, 20e-9), logarithmic(1e3, 10e6), zero_or(1e-12, 1e-9));
    let loads = vec((network(), joint()).prop_map(|(network, at)| Load { network, at }), 0..3);
    let networks = (fitting(), fitting());
    (
        pickup(),
        networks,
        potentiometer(),
        fitting(),
        option::weighted(0.8, tone()),
        fixed,
        loads,
    )
        .prop_map(
            |(pickup, (series, across), pot, bleed, tone, (cable, resistance, capacitance), loads)| Guitar {
                name: "random".to_owned(),
                series,
                across,
                pickup,
                volume: Volume {
                    pot,
                    bleed,
                    is_fitted: true,
                },
                tone,
                cable: Cable {
                    capacitance: farads(cable),
                    tolerance: None,
                },
                input: Input {
                    resistance: ohms(resistance),
                    capacitance: farads(capacitance),
                },
                loads,
                ensemble: None,
                cases: Vec::new(),
            },
        )
}

/// A clause of any measure, reference and bounds.
pub fn clause() -> impl Strategy<Value = Clause> {
    let band = (80.0..4000.0_f64, 0.2..2.0_f64).prop_map(|(low, octaves)| Band::new(low, low * octaves.exp2()).unwrap());
    let anchor = (80.0..1000.0_f64, 0.2..1.5_f64).prop_map(|(low, octaves)| Band::new(low, low * octaves.exp2()).unwrap());
    let against = prop_oneof![Just(Against::Full), Just(Against::Present), Just(Against::Flat)];
    let over = prop::sample::select(vec![Over::Every, Over::Mean, Over::Average]);
    let knob = || prop::collection::vec(prop_oneof![Just(1.0), Just(0.5), 0.05..1.0_f64], 1..3);
    let bounds = prop_oneof![
        (0.5..12.0_f64).prop_map(|width| (Some(-width), Some(width))),
        (-12.0..3.0_f64).prop_map(|low| (Some(low), None)),
        (-3.0..12.0_f64).prop_map(|high| (None, Some(high))),
    ];
    (any::<bool>(), over, against, band, anchor, knob(), knob(), bounds).prop_map(
        |(shape, over, against, band, anchor, volume, tone, (at_least, at_most))| Clause {
            measure: if shape { Measure::Shape } else { Measure::Level },
            against,
            band,
            anchor: shape.then_some(anchor),
            over,
            volume,
            tone,
            at_least,
            at_most,
            bands: Vec::new(),
            place: knobwright::target::Place::default(),
        },
    )
}
