//! Which tolerance a value has: what the user says, else what guitar file and stock list say, else what is usual.

use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::parts::choice::{Key, assigned, pick_for, read_key, refuse_twice};
use crate::parts::network::FreePart;
use crate::source::Passage;
use crate::units::read_fraction;

/// Of a resistor (common practice, no source: carbon film).
pub(super) const RESISTOR: f64 = 0.05;
/// Of a capacitor (common practice, no source: film).
pub(super) const CAPACITOR: f64 = 0.10;
/// Of a potentiometer's track (common practice, no source: carbon).
pub(super) const POTENTIOMETER: f64 = 0.20;
/// Of a taper's fraction at half rotation, as a share of it (a working rule; common practice, no source: 15 % is made as 10 to 20 %).
pub(super) const TAPER: f64 = 1.0 / 3.0;
/// The same of a linear pot's half: 3 points to either side (common practice, no source).
pub(super) const LINEAR_TAPER: f64 = 0.06;
/// Of a pickup's values (common practice, no source).
pub(super) const PICKUP: f64 = 0.05;
/// Of a cable's capacitance (common practice, no source).
pub(super) const CABLE: f64 = 0.10;

/// The word for the networks of `[[load]]` in a key.
pub(super) const LOAD: &str = "load";

const EXAMPLE: &str = "R=1%,C=5%,bleed.C=10%,pickup=5%,volume=20%,tone=20%,taper=10%,cable=10%";

/// What `--tolerance` says, as shares of one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tolerances {
    /// Of parts, by key; the nearest key wins.
    pub parts: Vec<(Key, f64)>,
    /// Of the pickup's three values.
    pub pickup: Option<f64>,
    /// Of the volume control's track.
    pub volume: Option<f64>,
    /// Of the tone control's track.
    pub tone: Option<f64>,
    /// Of every taper's fraction at half rotation, as a share of it.
    pub taper: Option<f64>,
    /// Of the cable's capacitance.
    pub cable: Option<f64>,
}

impl Tolerances {
    /// Reads `R=1%,bleed.C=10%,pickup=5%` and adds it.
    ///
    /// # Errors
    /// Where the text is no list of keys and tolerances, or gives a key twice.
    pub fn add(&mut self, text: &Passage<'_>) -> Result<()> {
        for (item, key, value) in assigned(text, EXAMPLE)? {
            let share = tolerance(&value)?;
            let of_guitar = match key.text() {
                "pickup" => Some(&mut self.pickup),
                "volume" => Some(&mut self.volume),
                "tone" => Some(&mut self.tone),
                "taper" => Some(&mut self.taper),
                "cable" => Some(&mut self.cable),
                _ => None,
            };
            match of_guitar {
                Some(known) if known.is_some() => {
                    let message = format!("`{}` is given twice", key.text());
                    return Err(Error::at(&item, ErrorKind::Conflict, message).label("the second time"));
                }
                Some(known) => *known = Some(share),
                None => {
                    let [bleed, tone, bypass, series, across] = Slot::ALL.map(Slot::word);
                    let words = ["pickup", "volume", "tone", "taper", "cable", "R", "C"];
                    let part = read_key(&key, &[bleed, tone, bypass, series, across, LOAD]).map_err(|error| {
                        let error = error.nearest(key.text(), words);
                        error.help("keys: pickup, volume, tone, taper, cable; R and C for all parts; bleed.C, tone.R1, load.C for some")
                    })?;
                    refuse_twice(&self.parts, &part, &item)?;
                    self.parts.push((part, share));
                }
            }
        }
        Ok(())
    }

    /// Of a part in a slot (or `load`), if the user said.
    pub(super) fn of_part(&self, place: &str, part: &FreePart) -> Option<f64> {
        pick_for(&self.parts, place, part)
    }
}

fn tolerance(text: &Passage<'_>) -> Result<f64> {
    let share = read_fraction(text)?.value();
    if (0.0..1.0).contains(&share) {
        return Ok(share);
    }
    Err(Error::at(text, ErrorKind::Range, "a tolerance is 0 up to below 100 %").label("expected a tolerance such as 5%"))
}
