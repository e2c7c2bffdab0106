//! The circuit: what a guitar is, not what anybody wants of it.
//!
//! One general nodal description of the whole circuit, solved either at once ([`transfer`]) or down to the ports of
//! the slots where parts are still to be chosen ([`ports`]).
// The indices are nodes that this module numbers itself, below MOST_NODES by construction; no input reaches one.
#![allow(clippy::indexing_slicing)]

mod netlist;
pub mod nodal;
pub mod ports;

use num_complex::Complex64;

use crate::guitar::Guitar;

/// Where both knobs stand: rotations from 0 (fully counter-clockwise) to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Volume rotation.
    pub volume: f64,
    /// Tone rotation; without effect on a guitar without a tone control.
    pub tone: f64,
}

impl Setting {
    /// Both knobs at full.
    pub const FULL: Self = Self { volume: 1.0, tone: 1.0 };
}

/// V_W / E: the voltage at the output over the pickup's EMF at one frequency in Hz (above 0). Exactly zero when silent.
#[must_use]
pub fn transfer(guitar: &Guitar, setting: Setting, frequency: f64) -> Complex64 {
    ports::Reduction::of(guitar, setting, frequency, &[]).transfer(&[])
}
