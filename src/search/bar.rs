//! What a candidate must reach, in dB.

/// By how much, in dB, the threshold is lowered before anything is discarded.
pub(crate) const SLACK: f64 = 1e-6;

/// Below this margin, in dB, nothing is discarded: it is far below that of any build that can be heard.
const LOWEST: f64 = -400.0;

/// The margin that a candidate must reach. Always a finite number of dB, so that neither an infinity nor what is no number gets into the
/// bounds that are made from it: without a threshold it discards nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bar {
    decibels: f64,
    discards: bool,
}

impl Bar {
    /// Below which nothing is.
    pub(crate) const NONE: Self = Self {
        decibels: LOWEST,
        discards: false,
    };

    /// From a threshold in dB, −∞ where there is none yet.
    pub(crate) fn at(threshold: f64) -> Self {
        let discards = threshold > LOWEST;
        Self {
            decibels: if discards { threshold.min(-LOWEST) } else { LOWEST },
            discards,
        }
    }

    /// In dB, finite.
    pub(crate) fn decibels(self) -> f64 {
        self.decibels
    }

    /// Whether anything can be discarded.
    pub(crate) fn discards(self) -> bool {
        self.discards
    }

    /// Whether a margin, in dB, is too small.
    pub(crate) fn is_above(self, margin: f64) -> bool {
        self.discards && margin < self.decibels
    }
}
