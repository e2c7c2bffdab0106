//! What is said of a knob itself: "the tone knob gets too dark", "the volume pot makes it dull".

use super::cursor::Cursor;
use super::keep::keep_band;
use super::knobs::{Positions, is_position};
use super::qualities::Alone;
use super::wish::{LESS_BY, LESS_WINDOW, Wish};
use super::{change, read_sweep};
use crate::error::Result;

/// Whether the next words speak of the tone knob, and not of where it stands.
pub(super) fn is_of_tone(cursor: &Cursor<'_>) -> bool {
    let next = cursor.peek_at(1);
    let says_where = is_position(next) || matches!(next, "" | "at" | "from" | "to" | "down" | "," | ";" | "and" | "for");
    cursor.peek() == "tone" && cursor.is_knob() && !says_where
}

/// Whether the next words blame the volume knob for lost highs.
pub(super) fn is_of_volume(cursor: &Cursor<'_>) -> bool {
    let blames = match cursor.peek_at(1) {
        "lose" => true,
        _ => cursor.quality_at(1).is_some_and(change::is_dull),
    };
    cursor.peek() == "volume" && cursor.is_knob() && blames
}

/// The tone knob is spoken of as it is when closed, unless a place is named.
pub(super) fn read_of_tone(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    let words = if cursor.peek_at(1) == "more" { 3 } else { 2 };
    if cursor.peek_at(words - 1) == "usable" {
        return read_sweep(cursor, words, wishes);
    }
    cursor.skip();
    // "does too much", "doesn't do enough"
    let strength = match (cursor.peek(), cursor.peek_at(1), cursor.peek_at(2)) {
        ("less", end, _) if ends_wish(end) => Some((1, 1.0)),
        ("not", "enough", end) if ends_wish(end) => Some((2, -1.0)),
        ("nothing", end, _) if ends_wish(end) => Some((1, -1.0)),
        _ => None,
    };
    let Some((words, sign)) = strength else {
        // "the tone knob makes it darker" tells what a tone knob is for.
        if cursor.peek_quality().is_some_and(|quality| quality.alone == Alone::Compared) {
            return Err(cursor.refuse_plain("what is wrong with it, such as `too dark` or `muddy`,"));
        }
        return change::read_change(cursor, Positions::of_tone_knob(), wishes);
    };
    (0..words).for_each(|_| cursor.skip());
    wishes.push(Wish::Change {
        band: cursor.known_band("highs")?,
        sign,
        by: [LESS_BY, LESS_BY + LESS_WINDOW],
        at: Positions::of_tone_knob(),
    });
    Ok(())
}

/// Highs are lost where the volume is turned down.
pub(super) fn read_of_volume(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.skip();
    if cursor.take("lose") {
        let band = match cursor.peek_quality().filter(|quality| quality.sign > 0.0) {
            Some(quality) => {
                cursor.skip();
                quality.band.to_owned()
            }
            None => cursor.band(&[])?.name.to_lowercase(),
        };
        return keep_band(cursor, &band, Positions::turned_down(), wishes);
    }
    change::read_change(cursor, Positions::turned_down(), wishes)
}

fn ends_wish(word: &str) -> bool {
    matches!(word, "" | "," | ";" | "and")
}
