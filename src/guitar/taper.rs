//! Rotation → wiper fraction.

use crate::curve::Curve;
use crate::units::Fraction;

/// How the wiper moves along the track as the knob turns (physics.md, "Potentiometer").
#[derive(Debug, Clone, PartialEq)]
pub enum Taper {
    /// w = x.
    Linear,
    /// w = (bˣ − 1)/(b − 1), b = ((1 − m)/m)²; m is the fraction at half rotation.
    Audio(Fraction),
    /// w = 1 − w_audio(1 − x).
    ReverseAudio(Fraction),
    /// w = 2m·x up to half way, then m + 2(1 − m)(x − ½).
    TwoSlope(Fraction),
    /// Measured points, straight lines between them; from (0, 0) to (1, 1), never falling.
    Table(Curve),
}

impl Taper {
    /// w(x): the fraction of the track between counter-clockwise lug and wiper at rotation x, 0 to 1. Exactly 0 at 0 and 1 at 1.
    #[must_use]
    pub fn wiper(&self, rotation: f64) -> f64 {
        todo!()
    }
}
