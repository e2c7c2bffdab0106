//! A band that is kept.

use super::cursor::Cursor;
use super::knobs::{Knob, Positions};
use super::wish::{KEEP_WITHIN, Wish};
use super::{Band, NamedBand};
use crate::error::Result;

/// A band of the common ones by its name.
pub(super) fn keep_band(cursor: &mut Cursor<'_>, name: &str, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let band = cursor.known_band(name)?;
    keep(cursor, &band, at, wishes)
}

/// What follows `keep BAND`: `[within X dB] [positions]`. The bare wish for the highs carries the feel of the volume knob.
pub(super) fn keep(cursor: &mut Cursor<'_>, band: &NamedBand, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let mut at = at;
    let mut within = None;
    loop {
        let is_number = cursor.peek_at(1) == "db";
        if within.is_none() && (cursor.take("within") || is_number) {
            within = Some(cursor.decibels()?);
        } else if !at.read_if_next(cursor, Some(Knob::Volume))? {
            break;
        }
    }
    // "brighter, but keep the bass" speaks of what the change may not cost; a volume knob loses nothing below the highs.
    let is_low = band.band.high() <= Band::HIGHS.low();
    if let (Some(Wish::Change { at: where_changed, .. }), true, None) = (wishes.last(), at.is_empty() && is_low, within) {
        let at = where_changed.clone();
        wishes.push(Wish::Hold { band: band.clone(), at });
        return Ok(());
    }
    let at = at.or_usual(Knob::Volume);
    let is_bare = band.name == "highs" && within.is_none() && at.is_turned_down();
    wishes.push(Wish::Keep {
        band: band.clone(),
        within: within.unwrap_or(KEEP_WITHIN),
        at,
    });
    wishes.extend(is_bare.then_some(Wish::Feel));
    Ok(())
}
