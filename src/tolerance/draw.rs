//! Random values, each a function of seed, built guitar and part alone, so that no number of threads can matter.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use rand_distr::{Distribution, StandardNormal};

use super::Spread;
use crate::circuit::{Origin, Place};
use crate::guitar::Slot;
use crate::guitar::ensemble::Beside;

/// How values lie inside their tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Law {
    /// Every value inside is as likely as any other: the cautious reading of a tolerance.
    Uniform,
    /// Gaussian with the tolerance at three standard deviations, drawn again until inside.
    Normal,
}

/// The tolerance in standard deviations, for [`Law::Normal`].
const DEVIATIONS: f64 = 3.0;
/// 32-bit words of the generator that one uniform value takes.
const WORDS: u128 = 2;
/// The same kept free for a normal value, which may be drawn again: 1 in 370 is outside, so that so many in a row never are.
const NORMAL_WORDS: u128 = 64;

/// A law and a seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draws {
    /// How values lie inside their tolerance.
    pub law: Law,
    /// Another seed, other guitars.
    pub seed: u64,
}

impl Draws {
    /// The factors by which a value is off its mark in built guitars number `first` and on.
    pub fn fill(&self, spread: &Spread, first: u64, factors: &mut [f64]) {
        let mut generator = ChaCha8Rng::seed_from_u64(self.seed);
        generator.set_stream(stream(spread.origin));
        match self.law {
            Law::Uniform => {
                generator.set_word_pos(u128::from(first) * WORDS);
                for factor in factors {
                    *factor = spread.middle + spread.tolerance * (2.0 * share(generator.next_u64()) - 1.0);
                }
            }
            Law::Normal => {
                for (build, factor) in (first..).zip(factors) {
                    generator.set_word_pos(u128::from(build) * NORMAL_WORDS);
                    *factor = spread.middle + spread.tolerance * inside(&mut generator) / DEVIATIONS;
                }
            }
        }
    }
}

/// A normal deviate no further out than the tolerance.
fn inside(generator: &mut ChaCha8Rng) -> f64 {
    loop {
        let deviate: f64 = StandardNormal.sample(generator);
        if deviate.abs() <= DEVIATIONS {
            return deviate;
        }
    }
}

/// 53 random bits as a number from 0 to below 1.
fn share(bits: u64) -> f64 {
    (bits >> 11) as f64 / (1_u64 << 53) as f64
}

/// A stream of random numbers for each value, the same in every network that has a part there.
fn stream(origin: Origin) -> u64 {
    const PARTS_OF_A_PLACE: u64 = 1 << 16;
    /// More than there are slots and loads.
    const BESIDE: u64 = 1 << 16;
    /// The further pickups and the controls that stand still, beyond all parts.
    const FURTHER: u64 = 1 << 56;
    let winding = |own: u64, number: usize| if number == 0 { own } else { FURTHER + 8 * number as u64 + own };
    let place = |place: Place| match place {
        Place::Slot(slot) => Slot::ALL.iter().position(|other| *other == slot).unwrap_or(0) as u64,
        Place::Load(index) => Slot::ALL.len() as u64 + index as u64,
        Place::Beside(Beside::Shared) => BESIDE,
        Place::Beside(Beside::Held(number)) => BESIDE + 1 + 2 * number as u64,
        Place::Beside(Beside::Channel(number)) => BESIDE + 2 + 2 * number as u64,
    };
    match origin {
        Origin::Exact => 0,
        Origin::Inductance(number) => winding(1, number),
        Origin::WindingResistance(number) => winding(2, number),
        Origin::WindingCapacitance(number) => winding(3, number),
        Origin::VolumeTrack => 4,
        Origin::ToneTrack => 5,
        Origin::Cable => 6,
        Origin::VolumeTaper => 7,
        Origin::ToneTaper => 8,
        Origin::HeldTrack(number) => FURTHER + 8 * number as u64 + 4,
        Origin::HeldTaper(number) => FURTHER + 8 * number as u64 + 5,
        Origin::Part(at, index) => PARTS_OF_A_PLACE * (1 + place(at)) + index as u64,
    }
}
