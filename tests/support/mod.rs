//! What the checks share: how close is close, networks and guitars built by hand, an independent solver, random inputs.
#![allow(dead_code, reason = "each test program uses a part of it")]

pub mod naive;
pub mod points;
pub mod random;
pub mod rest;
pub mod twin;

use knobwright::circuit::Setting;
use knobwright::circuit::graph::{GROUND, Node};
use knobwright::circuit::ports::Polynomials;
use knobwright::circuit::recipe::Recipe;
use knobwright::guitar::taper::Taper;
use knobwright::guitar::{Cable, Guitar, Hookup, Input, Joint, LossCell, Pickup, Potentiometer, Tone, Volume};
use knobwright::parts::network::{Component, Network};
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::units::{Farads, Fraction, Henries, Ohms};
use num_complex::Complex64;

/// The target that a phrase stands for.
pub fn wish(phrase: &str) -> Target {
    Target::from_phrase(&Source::inline("--target", phrase).passage()).unwrap_or_else(|error| panic!("{}", error.picture()))
}

/// What is promised, quantity by quantity. The only place where a tolerance is written.
pub mod close {
    /// Level in dB against an independent solver, and of the reduction against the plain solve.
    pub const LEVEL_DB: f64 = 1e-9;
    /// Phase in rad against an independent solver.
    pub const PHASE_RAD: f64 = 1e-9;
    /// Either part of a complex transfer printed with nine decimals.
    pub const COMPLEX_CHECK_POINT: f64 = 1e-8;
    /// Level in dB printed with three decimals.
    pub const THREE_DECIMALS: f64 = 5.000_001e-4;
    /// Level in dB, or a ratio, printed with four decimals.
    pub const FOUR_DECIMALS: f64 = 5.000_001e-5;
    /// Level in dB printed with six decimals.
    pub const SIX_DECIMALS: f64 = 5.000_001e-7;
    /// Level in dB, or a frequency in Hz, printed with two decimals.
    pub const TWO_DECIMALS: f64 = 5.000_001e-3;
    /// A frequency in Hz printed with one decimal.
    pub const ONE_DECIMAL: f64 = 5.000_001e-2;
    /// A frequency in Hz printed to the hertz.
    pub const WHOLE: f64 = 0.500_000_1;
    /// A closed form evaluated beside the code that is tested, relative.
    pub const CLOSED_FORM: f64 = 1e-12;
    /// A figure found by golden section or bisection, relative or in dB.
    pub const FOUND: f64 = 1e-6;
    /// The Q of a bandwidth against that of the poles, for a sharp peak, relative.
    pub const SHARP_PEAK: f64 = 0.02;
    /// The step in dB by which bounds are moved.
    pub const BOUND_STEP: f64 = 0.001;
    /// A drawn curve against the exact one, in pixels of the drawing at its own size.
    pub const DRAWN_PIXELS: f64 = 0.1;
    /// A reading from a grid of 48 points per octave: half a step, relative.
    pub const FINE_GRID: f64 = 0.007_25;
    /// A level read from such a grid, in dB, at resonances of a Q of a few.
    pub const FINE_GRID_DB: f64 = 0.02;
    /// The minimum of a sum of squares found by another solver, relative: the sum is flat there.
    pub const OTHER_SOLVER: f64 = 2e-6;
    /// An interval's end from another solver's Jacobian, relative.
    pub const OTHER_JACOBIAN: f64 = 1e-5;
    /// A reading from a measured curve, relative.
    pub const MEASURED: f64 = 0.01;
}

/// Fails unless `got` is within `tolerance` of `expected`.
#[track_caller]
pub fn assert_close(got: f64, expected: f64, tolerance: f64, what: &str) {
    let miss = (got - expected).abs();
    assert!(
        miss <= tolerance,
        "{what}: got {got}, expected {expected}, off by {miss:e}, allowed {tolerance:e}"
    );
}

/// Fails unless `got` is within a share of `tolerance` of `expected`.
#[track_caller]
pub fn assert_relatively_close(got: f64, expected: f64, tolerance: f64, what: &str) {
    assert_close(got, expected, tolerance * expected.abs(), what);
}

/// 20·log₁₀|H|.
pub fn decibels(transfer: Complex64) -> f64 {
    20.0 * transfer.norm().log10()
}

/// The angle between two transfers, in rad.
pub fn angle_between(one: Complex64, other: Complex64) -> f64 {
    (one * other.conj()).arg().abs()
}

/// s = j·2πf.
pub fn s(frequency_hz: f64) -> Complex64 {
    Complex64::new(0.0, std::f64::consts::TAU * frequency_hz)
}

pub fn ohms(value: f64) -> Ohms {
    Ohms::new(value).unwrap()
}

pub fn farads(value: f64) -> Farads {
    Farads::new(value).unwrap()
}

pub fn henries(value: f64) -> Henries {
    Henries::new(value).unwrap()
}

pub fn fraction(value: f64) -> Fraction {
    Fraction::new(value).unwrap()
}

/// A resistor of so many Ω.
pub fn r(value: f64) -> Network {
    Network::Fixed(Component::Resistor(ohms(value)))
}

/// A capacitor of so many F.
pub fn c(value: f64) -> Network {
    Network::Fixed(Component::Capacitor(farads(value)))
}

/// An inductor of so many H.
pub fn l(value: f64) -> Network {
    Network::Fixed(Component::Inductor(henries(value)))
}

pub fn series(members: impl Into<Vec<Network>>) -> Network {
    Network::Series(members.into())
}

pub fn parallel(members: impl Into<Vec<Network>>) -> Network {
    Network::Parallel(members.into())
}

/// Any networks between numbered nodes; node 0 is ground, and a wire a series of nothing.
pub type Branches = [(Node, Node, Network)];

/// V(output)/V(source) by the library.
pub fn voltage(branches: &Branches, source: Node, output: Node, frequency: f64) -> Option<Complex64> {
    Polynomials::from(&Recipe::of_networks(branches, Some(source), output, &[])).transfer(frequency)
}

/// The impedance in Ω between a node and ground, by the library.
pub fn impedance(branches: &Branches, node: Node, frequency: f64) -> Option<Complex64> {
    Polynomials::from(&Recipe::of_networks(branches, None, GROUND, &[(node, GROUND)])).impedance(frequency)
}

/// Both knobs.
pub fn setting(volume: f64, tone: f64) -> Setting {
    Setting { volume, tone }
}

pub fn pot(resistance: f64, taper: Taper) -> Potentiometer {
    Potentiometer {
        resistance: ohms(resistance),
        taper,
        tolerance: None,
        taper_tolerance: None,
    }
}

/// A guitar without tone control and without anything fitted.
pub fn bare(inductance: f64, resistance: f64, winding: f64, volume: f64, load: f64, input: f64) -> Guitar {
    Guitar {
        name: "check".to_owned(),
        series: None,
        across: None,
        pickup: Pickup {
            inductance: henries(inductance),
            resistance: ohms(resistance),
            capacitance: farads(winding),
            loss: Vec::new(),
            tolerance: None,
        },
        volume: Volume {
            pot: pot(volume, Taper::Linear),
            bleed: None,
            is_fitted: true,
        },
        tone: None,
        cable: Cable {
            capacitance: farads(load),
            tolerance: None,
        },
        input: Input {
            resistance: ohms(input),
            capacitance: Farads::ZERO,
        },
        loads: Vec::new(),
        ensemble: None,
        cases: Vec::new(),
    }
}

/// A rheostat tone control with a linear taper.
pub fn rheostat(resistance: f64, network: Network, joined_at: Joint) -> Tone {
    Tone {
        pot: pot(resistance, Taper::Linear),
        network: Some(network),
        bypass: None,
        hookup: Hookup::Rheostat,
        joined_at,
        no_load: false,
    }
}

/// Circuit S: a bright single coil, 250 kΩ controls; linear tapers, so that rotation is track fraction.
pub fn circuit_s(joined_at: Joint) -> Guitar {
    let mut guitar = bare(2.2, 5.7e3, 110e-12, 250e3, 500e-12, 1e6);
    guitar.input.capacitance = farads(100e-12);
    guitar.tone = Some(rheostat(250e3, c(22e-9), joined_at));
    guitar
}

/// Circuit H: a moderate humbucker without eddy loss, 500 kΩ controls; linear tapers.
pub fn circuit_h(joined_at: Joint) -> Guitar {
    let mut guitar = bare(4.4, 8.0e3, 130e-12, 500e3, 500e-12, 1e6);
    guitar.input.capacitance = farads(100e-12);
    guitar.tone = Some(rheostat(500e3, c(22e-9), joined_at));
    guitar
}

/// Circuit H with an eddy-loss cell that takes `share` H of the 4.4 H.
pub fn circuit_h_with_loss(share: f64, resistance: f64) -> Guitar {
    let mut guitar = circuit_h(Joint::Pickup);
    guitar.pickup.loss.push(LossCell {
        inductance: henries(share),
        resistance: ohms(resistance),
    });
    guitar
}

/// The guitar of the worked table: 3.4 H, 7 kΩ, 120 pF, 250 kΩ audio 15 % controls, 22 nF, 500 pF, 1 MΩ.
pub fn worked_guitar() -> Guitar {
    let audio = Taper::Audio(fraction(0.15));
    let mut guitar = bare(3.4, 7e3, 120e-12, 250e3, 500e-12, 1e6);
    guitar.volume.pot.taper = audio.clone();
    let mut tone = rheostat(250e3, c(22e-9), Joint::Pickup);
    tone.pot.taper = audio;
    guitar.tone = Some(tone);
    guitar
}

/// Where a function has its maximum between `low` and `high`, and the maximum: golden-section search.
pub fn maximum(mut low: f64, mut high: f64, of: impl Fn(f64) -> f64) -> (f64, f64) {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let mut left = high - golden * (high - low);
    let mut right = low + golden * (high - low);
    let (mut at_left, mut at_right) = (of(left), of(right));
    for _ in 0..120 {
        if at_left < at_right {
            (low, left, at_left) = (left, right, at_right);
            right = low + golden * (high - low);
            at_right = of(right);
        } else {
            (high, right, at_right) = (right, left, at_left);
            left = high - golden * (high - low);
            at_left = of(left);
        }
    }
    let place = (low + high) / 2.0;
    (place, of(place))
}

/// Where a function that changes sign once between `low` and `high` does so: bisection.
pub fn crossing(mut low: f64, mut high: f64, of: impl Fn(f64) -> f64) -> f64 {
    let below = of(low) > 0.0;
    assert_ne!(below, of(high) > 0.0, "no change of sign between {low} and {high}");
    for _ in 0..200 {
        let middle = (low + high) / 2.0;
        if (of(middle) > 0.0) == below {
            low = middle;
        } else {
            high = middle;
        }
    }
    (low + high) / 2.0
}
