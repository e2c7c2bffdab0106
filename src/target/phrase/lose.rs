//! How people say that a band is kept, or that they lose it.

use super::cursor::Cursor;
use super::keep::keep;
use super::knobs::{Knob, Positions};
use super::qualities::Alone;
use super::wish::{FEEL_WITHIN, Wish};
use super::{NamedBand, change, read_feel, read_wish};
use crate::error::Result;

/// What follows "when I turn down" at the beginning of a wish.
pub(super) fn read_turned_down(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    let mut at = Positions::turned_down();
    while at.read_if_next(cursor, Some(Knob::Volume))? {}
    cursor.take(",");
    if cursor.take("without") {
        let band = change::read_held(cursor)?;
        return keep(cursor, &band, at, wishes);
    }
    read_wish(cursor, at, wishes)
}

/// "I lose highs when I turn down".
pub(super) fn read_lose(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.expect("lose")?;
    if cursor.peek() == "mud" || cursor.peek_quality().is_some_and(|quality| quality.alone == Alone::Complaint) {
        return change::read_change(cursor, at, wishes);
    }
    let band = cursor.band_or_sound(&[])?;
    keep_where(cursor, &band, at, wishes)
}

/// "the treble disappears when I turn down", "the highs stay when I turn down".
pub(super) fn read_lost(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let band = cursor.band(&[])?;
    cursor.take("to");
    cursor.skip();
    keep_where(cursor, &band, at, wishes)
}

/// A band kept where it is said to be lost, which must be said.
fn keep_where(cursor: &mut Cursor<'_>, band: &NamedBand, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let mut at = at;
    while at.read_if_next(cursor, Some(Knob::Volume))? {}
    if at.is_empty() {
        return Err(cursor.refuse_plain("where it is lost, such as `when I turn down`,"));
    }
    keep(cursor, band, at, wishes)
}

/// "less bass, same treble": what the change before it may not cost.
pub(super) fn read_same(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.skip();
    let band = cursor.band(&[])?;
    if let Some(Wish::Change { at, .. }) = wishes.last() {
        let at = at.clone();
        wishes.push(Wish::Hold { band, at });
    }
    Ok(())
}

/// "no treble loss", "too much loss of highs", "no loss".
pub(super) fn read_no_loss(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.skip();
    let band = if cursor.take("loss") {
        let is_named = cursor.take("of") || cursor.peek_band().is_some();
        if is_named { cursor.band(&[])? } else { cursor.known_band("highs")? }
    } else {
        let band = cursor.band(&[])?;
        cursor.expect("loss")?;
        band
    };
    keep(cursor, &band, at, wishes)
}

/// `keep level [within X dB [of present]] …`, `keep feel`, `keep BAND …`.
pub(super) fn read_keep(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let is_contrast = cursor.comes_after(&["but", "yet"]);
    let goes_on = cursor.is_written(&["keeps", "keeps getting"]);
    cursor.expect("keep")?;
    let is_complaint = cursor.peek_quality().is_some_and(|quality| quality.alone == Alone::Complaint);
    if is_complaint && goes_on {
        return change::read_change(cursor, at, wishes);
    }
    // Nobody keeps mud, unless by a figure.
    if is_complaint || (cursor.peek() == "mud" && matches!(cursor.peek_at(1), "" | "," | ";" | "and")) {
        return Err(cursor.refuse(&["highs", "level"]));
    }
    if cursor.peek() == "feel" {
        return read_feel(cursor, wishes);
    }
    if cursor.take("level") {
        let mut within = FEEL_WITHIN;
        if cursor.take("within") {
            within = cursor.decibels()?;
            if cursor.take("of") {
                cursor.expect("present")?;
            }
        }
        let at = at.read_or_usual(cursor, Knob::Volume)?;
        wishes.push(Wish::Level { within, at });
        return Ok(());
    }
    let band = cursor.band_or_sound(&["level"])?;
    // "less bass, but keep the treble" speaks of what the change may not cost, where it names nothing more.
    let is_all = matches!(cursor.peek(), "" | "," | ";" | "and");
    if let (Some(Wish::Change { at: where_changed, .. }), true) = (wishes.last(), is_contrast && is_all && at.is_empty()) {
        let at = where_changed.clone();
        wishes.push(Wish::Hold { band, at });
        return Ok(());
    }
    keep(cursor, &band, at, wishes)
}
