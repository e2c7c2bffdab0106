//! How much of the rest, of which a wish does not speak, may change: the widths of a target's guards.

use serde::Serialize;

use crate::document::Value;
use crate::error::{Error, ErrorKind, Result};

/// Widest guard, in dB: far beyond anything a guitar's controls do, so that it guards nothing.
const WIDEST: f64 = 200.0;

/// Widths in dB, and a share. The usual ones are working rules of our own; a target file sets others under `[guards]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Guards {
    /// Lows, mids and highs with everything at full, either way.
    pub full: f64,
    /// Lows and mids at volume 7.5 and 5, either way.
    pub volume: f64,
    /// By how much the highs may fall at volume 7.5 and 5.
    pub volume_highs: f64,
    /// Loudness at volume 2.5, either way.
    pub quarter_volume: f64,
    /// Loudness at volume 1, either way.
    pub low_volume: f64,
    /// Lows and mids at tone 7.5, 5, 2.5 and 0, either way.
    pub tone: f64,
    /// The share of what the closed tone knob takes off, and of what the volume knob turns down, that must be left: 0 to 1.
    pub knobs: f64,
}

impl Guards {
    /// Working rules of our own (DEVELOPERS.md, "Guards").
    pub const USUAL: Self = Self {
        full: 3.0,
        volume: 6.0,
        volume_highs: 3.0,
        quarter_volume: 9.0,
        low_volume: 12.0,
        tone: 6.0,
        knobs: 0.5,
    };

    /// Every width by its key.
    #[must_use]
    pub const fn entries(&self) -> [(&'static str, f64); 7] {
        [
            ("full", self.full),
            ("volume", self.volume),
            ("volume_highs", self.volume_highs),
            ("quarter_volume", self.quarter_volume),
            ("low_volume", self.low_volume),
            ("tone", self.tone),
            ("knobs", self.knobs),
        ]
    }

    /// Reads `[guards]`; what is not set stays as usual.
    pub(super) fn read(value: &Value<'_>) -> Result<Self> {
        let mut guards = Self::USUAL;
        let section = value.section("[guards]")?;
        for (key, width) in [
            ("full", &mut guards.full),
            ("volume", &mut guards.volume),
            ("volume_highs", &mut guards.volume_highs),
            ("quarter_volume", &mut guards.quarter_volume),
            ("low_volume", &mut guards.low_volume),
            ("tone", &mut guards.tone),
        ] {
            if let Some(value) = section.get(key) {
                *width = read_number(&value, WIDEST, "a width of 0 to 200 dB, such as 3")?;
            }
        }
        if let Some(value) = section.get("knobs") {
            guards.knobs = read_number(&value, 1.0, "a share of 0 to 1, such as 0.5")?;
        }
        section.finish()?;
        Ok(guards)
    }
}

impl Default for Guards {
    fn default() -> Self {
        Self::USUAL
    }
}

fn read_number(value: &Value<'_>, most: f64, expected: &str) -> Result<f64> {
    let number = value.number()?;
    if (0.0..=most).contains(&number) {
        return Ok(number);
    }
    let message = format!("`{}` is outside what a guard can be", value.passage().text());
    Err(Error::at(&value.passage(), ErrorKind::Range, message).label(format!("expected {expected}")))
}
