//! Knob positions in phrases: `from full to quarter volume`, `at tone 10, 7.5, 5`, `half volume`, `volume 5`.

use super::cursor::Cursor;
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::units::knob;

/// The rotations a clause is asked at; a knob that is not named stays at full.
#[derive(Default)]
pub(super) struct Positions {
    volume: Option<Vec<f64>>,
    tone: Option<Vec<f64>>,
}

impl Positions {
    /// Volume rotations.
    pub(super) fn volume(&self) -> Vec<f64> {
        self.volume.clone().unwrap_or_else(|| vec![1.0])
    }

    /// Tone rotations.
    pub(super) fn tone(&self) -> Vec<f64> {
        self.tone.clone().unwrap_or_else(|| vec![1.0])
    }

    /// Whether no knob was named.
    pub(super) fn is_empty(&self) -> bool {
        self.volume.is_none() && self.tone.is_none()
    }

    /// Reads the next stretch that names a knob, if one comes next.
    pub(super) fn read_if_next(&mut self, cursor: &mut Cursor<'_>) -> Result<bool> {
        let begins = cursor.peek() == "at" || cursor.peek() == "from" || Knob::peek(cursor).is_some() || is_position(cursor.peek());
        if !begins {
            return Ok(false);
        }
        let start = cursor.here();
        let (knob, rotations) = if cursor.take("from") {
            read_range(cursor)?
        } else {
            cursor.take("at");
            read_list(cursor)?
        };
        let slot = match knob {
            Knob::Volume => &mut self.volume,
            Knob::Tone => &mut self.tone,
        };
        if slot.replace(rotations).is_some() {
            let message = format!("the {} knob is set twice in one clause", knob.word());
            return Err(Error::at(&start, ErrorKind::Conflict, message)
                .label("set a second time here")
                .help(format!("several positions of one knob are a list: at {} 10, 7.5, 5", knob.word())));
        }
        Ok(true)
    }

    /// Reads positions to the end of the clause; at least one must be there.
    pub(super) fn read_needed(cursor: &mut Cursor<'_>) -> Result<Self> {
        let mut positions = Self::default();
        while positions.read_if_next(cursor)? {}
        if positions.is_empty() {
            return Err(cursor.refuse(&["from", "at"]));
        }
        Ok(positions)
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Knob {
    Volume,
    Tone,
}

impl Knob {
    const fn word(self) -> &'static str {
        match self {
            Self::Volume => "volume",
            Self::Tone => "tone",
        }
    }

    fn peek(cursor: &Cursor<'_>) -> Option<Self> {
        [Self::Volume, Self::Tone].into_iter().find(|knob| knob.word() == cursor.peek())
    }

    fn take(cursor: &mut Cursor<'_>) -> Option<Self> {
        let knob = Self::peek(cursor)?;
        cursor.skip();
        Some(knob)
    }

    /// Takes a knob's word unless it names another knob than the one known, which begins the next stretch.
    fn take_unless_other(cursor: &mut Cursor<'_>, known: Option<Self>) -> Option<Self> {
        match (Self::peek(cursor), known) {
            (Some(next), Some(known)) if next != known => Some(known),
            (Some(next), _) => {
                cursor.skip();
                Some(next)
            }
            (None, known) => known,
        }
    }
}

/// One position as written.
struct Position<'p> {
    rotation: f64,
    place: Passage<'p>,
}

/// Whether a word can begin a position.
fn is_position(word: &str) -> bool {
    matches!(
        word,
        "full" | "three-quarter" | "three-quarters" | "three" | "half" | "quarter" | "zero"
    ) || word.starts_with(|first: char| first.is_ascii_digit())
}

fn read_position<'p>(cursor: &mut Cursor<'p>) -> Result<Position<'p>> {
    let place = cursor.here();
    let rotation = match cursor.peek() {
        "full" => 1.0,
        "three-quarter" | "three-quarters" | "3/4" => 0.75,
        "half" | "1/2" => 0.5,
        "quarter" | "1/4" => 0.25,
        "zero" => 0.0,
        "three" => {
            cursor.skip();
            if !matches!(cursor.peek(), "quarter" | "quarters") {
                return Err(cursor.refuse(&["quarter", "quarters"]));
            }
            0.75
        }
        word => {
            let number = word.parse::<f64>().ok().filter(|number| number.is_finite());
            let Some(number) = number else { return Err(not_a_position(cursor)) };
            knob::rotation(number).ok_or_else(|| {
                let message = format!("a knob goes from 0 to 10, and `{}` is outside", place.text());
                Error::at(&place, ErrorKind::Range, message).label("0 to 10, as on the knob")
            })?
        }
    };
    cursor.skip();
    Ok(Position { rotation, place })
}

fn not_a_position(cursor: &Cursor<'_>) -> Error {
    let words = ["full", "three-quarter", "half", "quarter", "zero"];
    let error = cursor.refuse_plain("a knob position");
    if cursor.is_done() {
        return error;
    }
    error.nearest(cursor.peek(), words)
}

/// The part after `from`.
fn read_range(cursor: &mut Cursor<'_>) -> Result<(Knob, Vec<f64>)> {
    let knob = Knob::take(cursor);
    let first = read_position(cursor)?;
    let knob = Knob::take_unless_other(cursor, knob);
    cursor.expect("to")?;
    let knob = Knob::take_unless_other(cursor, knob);
    let second = read_position(cursor)?;
    let Some(knob) = Knob::take_unless_other(cursor, knob) else {
        return Err(knob_missing(cursor));
    };
    refuse_silence(knob, &first)?;
    refuse_silence(knob, &second)?;
    Ok((knob, between(first.rotation, second.rotation)))
}

/// Both ends and every multiple of a quarter strictly between, highest first.
pub(in crate::target) fn between(one: f64, other: f64) -> Vec<f64> {
    let (high, low) = (one.max(other), one.min(other));
    let quarters = [0.75, 0.5, 0.25].into_iter().filter(|quarter| low < *quarter && *quarter < high);
    let mut rotations: Vec<f64> = std::iter::once(high).chain(quarters).collect();
    if low < high {
        rotations.push(low);
    }
    rotations
}

/// A knob's name and its positions, in either order.
fn read_list(cursor: &mut Cursor<'_>) -> Result<(Knob, Vec<f64>)> {
    let named = Knob::take(cursor);
    let mut positions = vec![read_position(cursor)?];
    loop {
        if cursor.peek() == "," {
            refuse_decimal_comma(cursor)?;
            cursor.skip();
        } else if cursor.peek() == "and" && is_position(cursor.peek_at(1)) {
            cursor.skip();
        } else {
            break;
        }
        positions.push(read_position(cursor)?);
    }
    let Some(knob) = named.or_else(|| Knob::take(cursor)) else {
        return Err(knob_missing(cursor));
    };
    let mut rotations = Vec::with_capacity(positions.len());
    for position in &positions {
        refuse_silence(knob, position)?;
        if rotations.contains(&position.rotation) {
            let message = format!("`{}` is a position that stands in the list already", position.place.text());
            return Err(Error::at(&position.place, ErrorKind::Conflict, message).label("given twice"));
        }
        rotations.push(position.rotation);
    }
    Ok((knob, rotations))
}

fn knob_missing(cursor: &Cursor<'_>) -> Error {
    if !matches!(cursor.peek(), "and" | ";") {
        return cursor.refuse(&["volume", "tone"]);
    }
    let before = cursor.before();
    let message = format!("which knob `{}` belongs to is not said", before.text());
    Error::at(&before, ErrorKind::Missing, message).label("`volume` or `tone` must follow")
}

fn refuse_silence(knob: Knob, position: &Position<'_>) -> Result<()> {
    if knob == Knob::Volume && position.rotation == 0.0 {
        return Err(Error::at(&position.place, ErrorKind::Range, "volume zero is silent")
            .label("nothing can be heard here")
            .help("name a volume position above zero, such as quarter or 1"));
    }
    Ok(())
}

/// `7,5` could be 7.5 or 7 and 5; `10,5` and `10,7.5,5` can only be lists.
fn refuse_decimal_comma(cursor: &Cursor<'_>) -> Result<()> {
    let before = cursor.before();
    let (whole, decimals) = (before.text(), cursor.peek_at(1));
    let is_integer = |text: &str| !text.is_empty() && text.chars().all(|sign| sign.is_ascii_digit());
    let decimal = format!("{whole}.{decimals}").parse::<f64>();
    let could_be_decimal = is_integer(whole) && is_integer(decimals) && decimal.is_ok_and(|number| number <= 10.0);
    if could_be_decimal && cursor.is_tight() && cursor.peek_at(2) != "," {
        let message = format!("`{whole},{decimals}` could be {whole}.{decimals}, or {whole} and {decimals}");
        return Err(Error::at(&cursor.around(), ErrorKind::Syntax, message)
            .label("two readings")
            .help(format!("write `{whole}.{decimals}`, or `{whole}, {decimals}`")));
    }
    Ok(())
}
