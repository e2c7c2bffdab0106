//! Where a knob stands: a rotation of 0 to 1 inside the program, 0 to 10 as on the knob wherever a person or a script reads or writes it.

use serde::{Serialize, Serializer};

/// What a fully opened knob shows.
const FULL: f64 = 10.0;
/// Steps of a rotation from 0 to 1. Both ways round to them, since a tenth in binary is no tenth.
const STEPS: f64 = 1e10;

/// The number on the knob, 0 to 10, of a rotation from 0 to 1.
#[must_use]
pub fn number(rotation: f64) -> f64 {
    (rotation * STEPS).round() / (STEPS / FULL)
}

/// The rotation, 0 to 1, of a number on the knob; `None` for a number that no knob shows.
#[must_use]
pub fn rotation(number: f64) -> Option<f64> {
    (0.0..=FULL).contains(&number).then(|| (number * (STEPS / FULL)).round() / STEPS)
}

/// Whether a list of rotations looks like one written from 0 to 1: something is turned up, and nothing beyond 1 on the knob.
#[must_use]
pub fn looks_like_shares(rotations: &[f64]) -> bool {
    let most = rotations.iter().copied().fold(0.0, f64::max);
    0.0 < most && most <= 1.0 / FULL
}

/// Writes a rotation as the number on the knob.
pub(crate) fn serialize<S: Serializer>(rotation: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    number(*rotation).serialize(serializer)
}

/// Writes rotations as the numbers on the knob.
pub(crate) fn serialize_list<S: Serializer>(rotations: &[f64], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(rotations.iter().map(|rotation| number(*rotation)))
}

#[cfg(test)]
mod tests {
    use super::{looks_like_shares, number, rotation};

    #[test]
    fn a_hundredth_of_a_mark_is_a_thousandth_of_the_travel_both_ways() {
        for hundredths in 0..=1000 {
            let (written, held) = (f64::from(hundredths) / 100.0, f64::from(hundredths) / 1000.0);
            assert_eq!((rotation(written), number(held)), (Some(held), written));
        }
        assert_eq!((rotation(10.5), rotation(-0.1), rotation(f64::NAN)), (None, None, None));
    }

    #[test]
    fn fractions_are_told_from_marks() {
        assert!(looks_like_shares(&[0.1, 0.05]));
        assert!(!looks_like_shares(&[0.0]));
        assert!(!looks_like_shares(&[1.0, 0.05]));
    }
}
