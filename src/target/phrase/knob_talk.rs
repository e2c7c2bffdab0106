//! What is said of a knob itself: "the tone knob gets too dark", "the volume pot makes it dull".

use super::change;
use super::cursor::Cursor;
use super::knobs::Positions;
use super::lexer::is_position;
use super::lose::read_lose;
use super::qualities::{Alone, Quality};
use super::wish::{Wish, usual_amount};
use crate::error::Result;

/// How many of the next words ask for a tone knob that works evenly: "usable tone", "smooth tone sweep", "tone knob more gradual".
pub(super) fn even_sweep(cursor: &Cursor<'_>) -> Option<usize> {
    let skipped = |at: usize| at + usize::from(cursor.peek_at(at) == "more");
    let is_tone = |at: usize| cursor.peek_at(at) == "tone";
    let is_sweep = |at: usize| cursor.peek_at(at) == "sweep";
    let is_usable = |at: usize| cursor.peek_at(at) == "usable";
    // Of the sound, "smooth" says another thing.
    let is_even = |at: usize| is_usable(at) || cursor.is_written_at(at, &["smooth", "smoother"]);
    let first = skipped(0);
    if is_even(first) && is_tone(first + 1) {
        let is_of_knob = is_usable(first) || cursor.is_knob_at(first + 1) || is_sweep(first + 2);
        return is_of_knob.then_some(first + 2);
    }
    let second = skipped(1 + usize::from(is_sweep(1)));
    let is_of_knob = is_usable(second) || cursor.is_knob_at(0) || is_sweep(1);
    (is_tone(0) && is_even(second) && is_of_knob).then_some(second + 1)
}

/// Whether the next words speak of the tone knob, and not of where it stands.
pub(super) fn is_of_tone(cursor: &Cursor<'_>) -> bool {
    let next = cursor.peek_at(1);
    let says_where = is_position(next) || matches!(next, "" | "at" | "from" | "to" | "down" | "," | ";" | "and" | "for");
    cursor.peek() == "tone" && cursor.is_knob_at(0) && !says_where
}

/// Whether the next words blame the volume knob for lost highs.
pub(super) fn is_of_volume(cursor: &Cursor<'_>) -> bool {
    let blames = match cursor.peek_at(1) {
        "lose" => true,
        _ => cursor.quality_at(1).is_some_and(change::is_dull),
    };
    cursor.peek() == "volume" && cursor.is_knob_at(0) && blames
}

/// The tone knob is spoken of as it is when closed, unless a place is named.
pub(super) fn read_of_tone(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.skip();
    let Some((words, sign)) = strength(cursor) else {
        // "the tone knob makes it darker" and "cuts treble" tell what a tone knob is for.
        let is_no_complaint = |quality: &Quality| matches!(quality.alone, Alone::Compared | Alone::Wish);
        if cursor.peek() == "cut" || cursor.peek_quality().is_some_and(is_no_complaint) {
            return Err(cursor.refuse_plain("what is wrong with it, such as `too dark` or `muddy`,"));
        }
        return change::read_change(cursor, Positions::of_tone_knob(), wishes);
    };
    (0..words).for_each(|_| cursor.skip());
    wishes.push(Wish::Change {
        band: cursor.known_band("highs")?,
        sign,
        by: usual_amount(1.0),
        at: Positions::of_tone_knob(),
    });
    Ok(())
}

/// How many words say that the tone knob does too much (+1, more highs) or too little (−1).
fn strength(cursor: &Cursor<'_>) -> Option<(usize, f64)> {
    let words = [cursor.peek(), cursor.peek_at(1), cursor.peek_at(2), cursor.peek_at(3)];
    match words {
        ["less", end, ..] if ends_wish(end) => Some((1, 1.0)),
        // "cuts too much treble", "kills the highs"
        ["cut", "less", "highs", end] if ends_wish(end) => Some((3, 1.0)),
        ["lose", "highs", end, _] if ends_wish(end) => Some((2, 1.0)),
        ["not", "enough", end, _] if ends_wish(end) => Some((2, -1.0)),
        ["nothing", end, ..] if ends_wish(end) => Some((1, -1.0)),
        _ => None,
    }
}

/// Highs are lost where the volume is turned down.
pub(super) fn read_of_volume(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.skip();
    if cursor.peek() == "lose" {
        return read_lose(cursor, Positions::turned_down(), wishes);
    }
    change::read_change(cursor, Positions::turned_down(), wishes)
}

fn ends_wish(word: &str) -> bool {
    matches!(word, "" | "," | ";" | "and")
}
