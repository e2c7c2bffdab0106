//! The knobs of a guitar of several pickups, by their names.

use crate::units::Henries;

/// A knob, and the tracks on its shaft.
#[derive(Debug, Clone, PartialEq)]
pub struct Knob {
    /// What its owner calls it.
    pub name: String,
    /// One, or two of a blend.
    pub tracks: Vec<Track>,
    /// Whether the guitar has a view in which it is turned: a volume or a tone knob.
    pub has_view: bool,
}

/// A track, and how its wiper moves with the knob.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Track {
    /// Which of the file's controls it is.
    pub number: usize,
    /// How it moves.
    pub travel: Travel,
}

/// Over which part of a knob's travel a track's wiper moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Travel {
    /// All of it.
    Plain,
    /// Up to the middle: full from there on.
    FirstHalf,
    /// Beyond the middle: full up to there, nothing at the end.
    SecondHalf,
}

impl Travel {
    /// The rotation of a track of its own that the knob's rotation stands for; a blend is full on both sides in the middle.
    #[must_use]
    pub const fn rotation(self, knob: f64) -> f64 {
        match self {
            Self::Plain => knob,
            Self::FirstHalf => (2.0 * knob).min(1.0),
            Self::SecondHalf => (2.0 - 2.0 * knob).min(1.0),
        }
    }
}

impl Knob {
    /// Where the knob does nothing: a blend in the middle, every other at full.
    #[must_use]
    pub fn rest(&self) -> f64 {
        if self.tracks.iter().any(|track| track.travel != Travel::Plain) {
            0.5
        } else {
            1.0
        }
    }
}

/// What the knobs and positions of a guitar are called, as one of its views has them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Names {
    /// The volume knob that is turned, if there is one.
    pub volume: Option<String>,
    /// The tone knob that is turned, if there is one.
    pub tone: Option<String>,
    /// Every knob of the guitar.
    pub knobs: Vec<Knob>,
    /// Every position of its selector.
    pub positions: Vec<String>,
    /// Every pickup.
    pub pickups: Vec<String>,
    /// The inductance of each, in the order of their names, whatever state it is in.
    pub inductances: Vec<Henries>,
}

impl Names {
    /// A knob by its name, however its letters are written.
    #[must_use]
    pub fn knob(&self, name: &str) -> Option<&Knob> {
        self.knobs.iter().find(|knob| knob.name.to_lowercase() == name.to_lowercase())
    }

    /// Whether it is the volume knob, or the tone knob, that is turned.
    #[must_use]
    pub fn is_turned(&self, knob: &Knob) -> bool {
        [&self.volume, &self.tone].into_iter().flatten().any(|own| *own == knob.name)
    }
}
