//! What really gets built: every value off its mark within its tolerance, and how many of the guitars built so meet the target.
// The indices are lanes of a block and spreads of one list, both made here; no input reaches one.
#![allow(clippy::indexing_slicing)]

pub mod depth;
mod draw;
mod interval;
mod rate;
mod rules;
mod spread;

use serde::Serialize;

pub use self::draw::{Draws, Law};
pub use self::interval::{interval95, wilson};
pub use self::rate::{Built, margins, rate_all, rate_best};
pub use self::rules::Tolerances;
pub use self::spread::{Spread, spreads, with_factors};

/// How many built guitars are drawn unless told.
pub const BUILDS: u64 = 10_000;
/// The seed unless told: a plain run is reproducible.
pub const SEED: u64 = 0;

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// How many built guitars are drawn at most.
    pub builds: u64,
    /// The law of every value, and the seed.
    pub draws: Draws,
    /// What tolerances the user stated.
    pub tolerances: Tolerances,
    /// Drawing ends as soon as the 95 % interval reaches no further than this to either side.
    pub precision: Option<f64>,
}

impl Default for Lot {
    fn default() -> Self {
        Self {
            builds: BUILDS,
            draws: Draws {
                law: Law::Uniform,
                seed: SEED,
            },
            tolerances: Tolerances::default(),
            precision: None,
        }
    }
}

/// How many of the guitars drawn meet the target.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Yield {
    /// How many were drawn.
    pub builds: u64,
    /// How many of them have a margin not below 0.
    pub meeting: u64,
    /// Their share.
    pub share: f64,
    /// The 95 % interval of the share, after Wilson.
    pub interval95: [f64; 2],
}

impl Yield {
    /// So many of so many; `None` of none.
    #[must_use]
    pub fn of(meeting: u64, builds: u64) -> Option<Self> {
        let interval95 = interval95(meeting, builds)?;
        Some(Self {
            builds,
            meeting,
            share: meeting as f64 / builds as f64,
            interval95,
        })
    }

    /// How far the interval reaches from the share, to the side where it reaches further.
    #[must_use]
    pub fn reach(&self) -> f64 {
        let [low, high] = self.interval95;
        (high - self.share).max(self.share - low)
    }
}
