//! Where the knobs stand.

use serde::Serialize;

use crate::units::knob;

/// Where both knobs stand: rotations from 0 (fully counter-clockwise) to 1, written as on the knob, 0 to 10.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Setting {
    /// Volume rotation.
    #[serde(serialize_with = "knob::serialize")]
    pub volume: f64,
    /// Tone rotation; without effect on a guitar without a tone control.
    #[serde(serialize_with = "knob::serialize")]
    pub tone: f64,
}

impl Setting {
    /// Both knobs at full.
    pub const FULL: Self = Self { volume: 1.0, tone: 1.0 };
}
