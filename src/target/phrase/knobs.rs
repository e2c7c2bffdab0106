//! Knob positions in phrases: `from full to quarter volume`, `at tone 10, 7.5, 5`, `half volume`, `volume 5`.

use super::cursor::Cursor;
use super::lexer::is_position;
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::target::travel::between;
use crate::units::knob;

/// The rotations a clause is asked at; a knob that is not named stays at full.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Positions {
    volume: Option<Vec<f64>>,
    tone: Option<Vec<f64>>,
    /// Whether the volume's are those of "when I turn down".
    is_turned_down: bool,
    /// Whether the tone knob is spoken of: closed, unless a place is named.
    is_of_tone_knob: bool,
}

impl Positions {
    /// "when I turn down": from full to half volume.
    pub(super) fn turned_down() -> Self {
        Self {
            volume: Some(between(1.0, 0.5)),
            is_turned_down: true,
            ..Self::default()
        }
    }

    /// Of the tone knob where it was spoken of: closed, unless a place is named.
    pub(super) fn of_tone_knob() -> Self {
        Self {
            is_of_tone_knob: true,
            ..Self::of_tone(vec![0.0])
        }
    }

    /// Of the tone knob alone.
    pub(super) fn of_tone(rotations: Vec<f64>) -> Self {
        Self {
            tone: Some(rotations),
            ..Self::default()
        }
    }

    /// Volume rotations.
    pub(super) fn volume(&self) -> Vec<f64> {
        self.volume.clone().unwrap_or_else(|| vec![1.0])
    }

    /// Tone rotations.
    pub(super) fn tone(&self) -> Vec<f64> {
        self.tone.clone().unwrap_or_else(|| vec![1.0])
    }

    /// Volume rotations, where the knob is named.
    pub(super) fn named_volume(&self) -> Option<&[f64]> {
        self.volume.as_deref()
    }

    /// Tone rotations, where the knob is named.
    pub(super) fn named_tone(&self) -> Option<&[f64]> {
        self.tone.as_deref()
    }

    /// Whether no knob was named.
    pub(super) fn is_empty(&self) -> bool {
        self.volume.is_none() && self.tone.is_none()
    }

    /// Whether nothing but "when I turn down" was said.
    pub(super) fn is_turned_down(&self) -> bool {
        self.is_turned_down && self.tone.is_none()
    }

    /// Whether the volume knob is somewhere below full, or goes there, and the tone knob is not spoken of.
    pub(super) fn lowers_volume(&self) -> bool {
        let is_below = |volumes: &[f64]| volumes.iter().any(|volume| *volume < 1.0);
        self.tone.is_none() && (self.is_turned_down || self.named_volume().is_some_and(is_below))
    }

    /// Reads the next stretch that names a knob, if one comes next; `usual` is the knob meant where none is named.
    pub(super) fn read_if_next(&mut self, cursor: &mut Cursor<'_>, usual: Option<Knob>) -> Result<bool> {
        if self.is_of_tone_knob && (cursor.take("turned-down") || cursor.take("closed")) {
            return Ok(true);
        }
        if cursor.take("turned-down") {
            if self.volume.is_none() {
                self.volume = Some(between(1.0, 0.5));
                self.is_turned_down = true;
            }
            return Ok(true);
        }
        let is_down = cursor.peek() == "down" && cursor.peek_at(1) == "to";
        let is_to = cursor.peek() == "to" && (is_position(cursor.peek_at(1)) || Knob::named(cursor.peek_at(1)).is_some());
        let begins =
            is_down || is_to || matches!(cursor.peek(), "at" | "from") || Knob::peek(cursor).is_some() || is_position(cursor.peek());
        if !begins {
            return Ok(false);
        }
        let start = cursor.here();
        let usual = usual
            .or(self.is_turned_down.then_some(Knob::Volume))
            .or(self.is_of_tone_knob.then_some(Knob::Tone));
        let (knob, rotations) = if is_down || is_to {
            cursor.take("down");
            cursor.skip();
            read_down_to(cursor, usual)?
        } else if cursor.take("from") {
            read_range(cursor, usual)?
        } else {
            cursor.take("at");
            read_list(cursor, usual)?
        };
        self.set(knob, rotations, &start)?;
        Ok(true)
    }

    fn set(&mut self, knob: Knob, rotations: Vec<f64>, start: &Passage<'_>) -> Result<()> {
        let slot = match knob {
            Knob::Volume => &mut self.volume,
            Knob::Tone => &mut self.tone,
        };
        let before = slot.replace(rotations);
        let said_how_far = match knob {
            Knob::Volume => std::mem::take(&mut self.is_turned_down),
            Knob::Tone => std::mem::take(&mut self.is_of_tone_knob),
        };
        if before.is_some() && !said_how_far {
            let message = format!("the {} knob is set twice in one clause", knob.word());
            return Err(Error::at(start, ErrorKind::Conflict, message)
                .label("set a second time here")
                .help(format!("several positions of one knob are a list: at {} 10, 7.5, 5", knob.word())));
        }
        Ok(())
    }

    /// Reads positions to the end of the clause; none are those of "when I turn down" for the volume, and zero for the tone.
    pub(super) fn read_or_usual(self, cursor: &mut Cursor<'_>, usual: Knob) -> Result<Self> {
        let mut positions = self;
        while positions.read_if_next(cursor, Some(usual))? {}
        Ok(positions.or_usual(usual))
    }

    /// These, or the usual ones of a knob where none is named.
    pub(super) fn or_usual(self, usual: Knob) -> Self {
        match usual {
            _ if !self.is_empty() => self,
            Knob::Volume => Self::turned_down(),
            Knob::Tone => Self::of_tone(vec![0.0]),
        }
    }
}

/// A knob that has positions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Knob {
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

    fn named(word: &str) -> Option<Self> {
        [Self::Volume, Self::Tone].into_iter().find(|knob| knob.word() == word)
    }

    fn peek(cursor: &Cursor<'_>) -> Option<Self> {
        Self::named(cursor.peek())
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
        _ => read_number(cursor, &place)?,
    };
    cursor.skip();
    cursor.take("%");
    Ok(Position { rotation, place })
}

/// 0 to 10 as on the knob, or a percentage of its travel.
fn read_number(cursor: &Cursor<'_>, place: &Passage<'_>) -> Result<f64> {
    let is_percent = cursor.peek_at(1) == "%";
    let (share, marks) = if is_percent { (10.0, "100 %") } else { (1.0, "10") };
    let number = cursor.peek().parse::<f64>().ok().filter(|number| number.is_finite());
    let Some(number) = number else { return Err(not_a_position(cursor)) };
    knob::rotation(number / share).ok_or_else(|| {
        let message = format!("a knob goes from 0 to {marks}, and `{}` is outside", place.text());
        Error::at(place, ErrorKind::Range, message).label(format!("0 to {marks}, as on the knob"))
    })
}

fn not_a_position(cursor: &Cursor<'_>) -> Error {
    let words = ["full", "three-quarter", "half", "quarter", "zero"];
    let error = cursor.refuse_plain("a knob position");
    let error = if cursor.is_done() {
        error
    } else {
        error.nearest(cursor.peek(), words)
    };
    error.help("knob positions: full, three-quarter, half, quarter, zero (tone only), 0 to 10 as on the knob, or 50 %")
}

/// The part after `from`.
fn read_range(cursor: &mut Cursor<'_>, usual: Option<Knob>) -> Result<(Knob, Vec<f64>)> {
    let knob = Knob::take(cursor);
    let first = read_position(cursor)?;
    let knob = Knob::take_unless_other(cursor, knob);
    cursor.take("down");
    cursor.expect("to")?;
    read_second_end(cursor, &first, knob, usual)
}

/// The part after `down to`, or `to`: from full.
fn read_down_to(cursor: &mut Cursor<'_>, usual: Option<Knob>) -> Result<(Knob, Vec<f64>)> {
    let full = Position {
        rotation: 1.0,
        place: cursor.here(),
    };
    read_second_end(cursor, &full, None, usual)
}

/// The part after `to`.
fn read_second_end(cursor: &mut Cursor<'_>, first: &Position<'_>, knob: Option<Knob>, usual: Option<Knob>) -> Result<(Knob, Vec<f64>)> {
    let knob = Knob::take_unless_other(cursor, knob);
    let second = read_position(cursor)?;
    let Some(knob) = Knob::take_unless_other(cursor, knob).or(usual) else {
        return Err(knob_missing(cursor));
    };
    refuse_silence(knob, first)?;
    refuse_silence(knob, &second)?;
    Ok((knob, between(first.rotation, second.rotation)))
}

/// A knob's name and its positions, in either order; or `10 to 5`.
fn read_list(cursor: &mut Cursor<'_>, usual: Option<Knob>) -> Result<(Knob, Vec<f64>)> {
    let named = Knob::take(cursor);
    // "with the tone knob at 0"
    cursor.take("at");
    let first = read_position(cursor)?;
    if cursor.take("to") {
        return read_second_end(cursor, &first, named, usual);
    }
    let mut positions = vec![first];
    loop {
        if cursor.peek() == "," && is_position(cursor.peek_at(1)) {
            refuse_decimal_comma(cursor)?;
            cursor.skip();
        } else if cursor.peek() == "and" && is_position(cursor.peek_at(1)) {
            cursor.skip();
        } else {
            break;
        }
        positions.push(read_position(cursor)?);
    }
    let Some(knob) = named.or_else(|| Knob::take(cursor)).or(usual) else {
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
