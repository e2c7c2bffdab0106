//! The controlled language of wishes → clauses. What is not understood is refused with its place and with sentences that
//! fit, never guessed. `phrase/speech.rs` holds every word there is, the guide ("Phrases") the forms.

mod change;
mod cursor;
mod fillers;
mod forms;
mod keep;
mod knob_talk;
mod knobs;
mod lexer;
mod lose;
mod places;
mod qualities;
mod speech;
mod wish;

use super::{Band, Clause};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_CLAUSES};
use crate::source::Passage;
use cursor::Cursor;
use keep::{keep, keep_band};
use knobs::{Knob, Positions};
use lose::{read_keep, read_lose, read_lost, read_no_loss, read_same, read_turned_down};
use wish::{BUMP_OVER, CUT_BY, CUT_WINDOW, LESS_WINDOW, Wish, usual_amount};

/// A band's name and its frequencies.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedBand {
    /// As written in phrases.
    pub name: String,
    /// Its frequencies.
    pub band: Band,
}

/// A phrase as understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// What it asks, in order.
    pub clauses: Vec<Clause>,
    /// The wishes in the language's own words, where they are not what was written.
    pub read_as: Option<String>,
}

/// Reads a phrase, or several joined by `and`, `;` or a comma. `own_bands` are those a target file defines; they win over the common ones.
///
/// # Errors
/// At the first word that is not understood, with sentences that fit.
pub fn read_phrase(passage: &Passage<'_>, own_bands: &[NamedBand]) -> Result<Reading> {
    let (place, rest) = places::take_out(passage.text());
    let mut cursor = Cursor::new(passage.clone(), &rest, own_bands, common_bands());
    refuse_two_pickups(passage, &rest)?;
    cursor.refuse_impossible()?;
    cursor.refuse_part()?;
    pass_over_lead(&mut cursor).map_err(|error| cursor.with_examples(error, None))?;
    let begin = cursor.taken();
    let mut wishes = Vec::new();
    loop {
        let first = cursor.peek().to_owned();
        let known = forms::FIRST_WORDS.into_iter().find(|word| *word == first);
        read_wish(&mut cursor, Positions::default(), &mut wishes).map_err(|error| cursor.with_examples(error, known))?;
        limits::count(wishes.len(), MOST_CLAUSES, "clauses", passage)?;
        if cursor.is_done() {
            break;
        }
        if !pass_over_joint(&mut cursor) {
            return Err(cursor.with_examples(left_over(&cursor), known));
        }
    }
    let wishes = distinct(wishes);
    refuse_contradiction(passage, &wishes)?;
    let said = wish::in_one_sentence(&wishes) + &places::in_words(&place);
    let is_as_written = lexer::content(&said) == lexer::content(&cursor.written_from(begin));
    let clauses = wishes.iter().flat_map(Wish::clauses).map(|clause| Clause {
        place: place.clone(),
        ..clause
    });
    Ok(Reading {
        clauses: clauses.collect(),
        read_as: (!is_as_written).then_some(said),
    })
}

/// Which wish would be whose is lost where two pickups are named.
fn refuse_two_pickups(passage: &Passage<'_>, rest: &str) -> Result<()> {
    let lower = rest.to_lowercase();
    let names = |pickup: &str| lower.split(|sign: char| !sign.is_alphanumeric()).any(|word| word == pickup);
    if names("neck") && names("bridge") {
        return Err(
            Error::at(passage, ErrorKind::Conflict, "two pickups are named, and a wish is about one")
                .label("neck and bridge")
                .help("ask for each by itself; a guitar file can hold both, and says so of each"),
        );
    }
    Ok(())
}

/// "warmer without getting dull", "brighter and darker": no part does both.
fn refuse_contradiction(passage: &Passage<'_>, wishes: &[Wish]) -> Result<()> {
    let is_against = |one: &Wish| wishes.iter().any(|other| one.contradicts(other));
    if wishes.iter().any(is_against) {
        return Err(Error::at(
            passage,
            ErrorKind::Conflict,
            "more and less of the same is wished for at the same place",
        )
        .label("no guitar does both")
        .help("ask for one of them, or name the knob position that each is for"));
    }
    Ok(())
}

/// Each wish once; the feel only where no other wish bounds the level.
fn distinct(wishes: Vec<Wish>) -> Vec<Wish> {
    let bounds_level = wishes.iter().any(|wish| matches!(wish, Wish::Level { .. }));
    let mut kept: Vec<Wish> = Vec::with_capacity(wishes.len());
    for wish in wishes {
        let is_told_otherwise = wish == Wish::Feel && bounds_level;
        if !kept.contains(&wish) && !is_told_otherwise {
            kept.push(wish);
        }
    }
    kept
}

/// The bands known by name everywhere (common practice, no source).
#[must_use]
pub fn common_bands() -> Vec<NamedBand> {
    const NAMED: [(&str, Band); 6] = [
        ("lows", Band::fixed(80.0, 250.0)),
        ("mud", Band::fixed(150.0, 400.0)),
        ("mids", Band::fixed(400.0, 1500.0)),
        ("highs", Band::HIGHS),
        ("presence", Band::PRESENCE),
        ("brightness", Band::BRIGHTNESS),
    ];
    let owned = |(name, band): (&str, Band)| NamedBand {
        name: name.to_owned(),
        band,
    };
    NAMED.into_iter().map(owned).collect()
}

/// Whether a word belongs to the language, so that no band can be called by it.
#[must_use]
pub(super) fn is_reserved(word: &str) -> bool {
    const WORDS: [&str; 32] = [
        "level",
        "within",
        "of",
        "present",
        "from",
        "to",
        "at",
        "by",
        "least",
        "over",
        "in",
        "and",
        "bump",
        "volume",
        "tone",
        "full",
        "three-quarter",
        "three-quarters",
        "three",
        "half",
        "quarter",
        "quarters",
        "zero",
        "db",
        "decibel",
        "decibels",
        "which",
        "what",
        "for",
        "i",
        "want",
        "flat",
    ];
    let word = word.to_lowercase();
    WORDS.contains(&word.as_str()) || forms::FIRST_WORDS.contains(&word.as_str())
}

/// Passes over "which cap for", "to" and the like; what such a question names alone is a wish of its own.
fn pass_over_lead(cursor: &mut Cursor<'_>) -> Result<()> {
    let asks = cursor.take("which");
    while cursor.take("which") {}
    let is_own_wish = |word: &str| matches!(word, "tone-cap" | "treble-bleed");
    if is_own_wish(cursor.peek()) {
        let ahead = usize::from(cursor.peek_at(1) == "cap");
        if matches!(cursor.peek_at(ahead + 1), "for" | "to") && !cursor.peek_at(ahead + 2).is_empty() {
            cursor.skip();
            cursor.take("cap");
        }
    } else {
        let named = cursor.take("cap");
        // "what do I need against mud"
        let asks_for_wish = matches!(cursor.peek(), "for" | "less" | "about");
        if asks && !named && !asks_for_wish {
            return Err(cursor.refuse(&["cap", "parts", "treble bleed"]));
        }
    }
    let _is_question = cursor.take("for") || cursor.take("to") || (asks && cursor.take("about"));
    Ok(())
}

/// Passes over what joins two wishes; `and` and a comma, one or both, or `;`.
fn pass_over_joint(cursor: &mut Cursor<'_>) -> bool {
    let comma = cursor.take(",");
    let and = cursor.take("and");
    comma || and || cursor.take(";")
}

fn read_wish(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    if cursor.take("turned-down") {
        return read_turned_down(cursor, wishes);
    }
    if let Some(words) = knob_talk::even_sweep(cursor) {
        return read_sweep(cursor, words, wishes);
    }
    if knob_talk::is_of_tone(cursor) {
        return knob_talk::read_of_tone(cursor, wishes);
    }
    if knob_talk::is_of_volume(cursor) {
        return knob_talk::read_of_volume(cursor, wishes);
    }
    match (cursor.peek(), cursor.peek_at(1)) {
        ("keep", _) => read_keep(cursor, at, wishes),
        ("lose", _) => read_lose(cursor, at, wishes),
        // "the treble disappears when I turn down", "the highs stay when I turn down"
        (band, "lose" | "keep") if cursor.band_named(band) => read_lost(cursor, at, wishes),
        (band, "to") if cursor.band_named(band) && cursor.peek_at(2) == "keep" => read_lost(cursor, at, wishes),
        ("same", "turned-down") => {
            cursor.skip();
            keep_band(cursor, "highs", at, wishes)
        }
        ("same", band) if cursor.band_named(band) && matches!(wishes.last(), Some(Wish::Change { .. })) => read_same(cursor, wishes),
        ("no" | "less", next) if next == "loss" || (cursor.peek_at(2) == "loss" && cursor.band_named(next)) => {
            read_no_loss(cursor, at, wishes)
        }
        (band, "loss") if cursor.band_named(band) => {
            let band = cursor.band(&[])?;
            cursor.skip();
            keep(cursor, &band, at, wishes)
        }
        ("no" | "less", "bump") => read_no_bump(cursor, at, wishes),
        // "shave 1 dB off the bass", "cut 2 dB of mud"
        ("cut" | "take" | "shave" | "knock" | "trim", _) if cursor.is_amount_at(1) => {
            cursor.skip();
            change::read_less(cursor, at, wishes)
        }
        ("cut", _) => read_cut(cursor, at, wishes),
        ("feel", _) => read_feel(cursor, wishes),
        ("treble-bleed", _) => {
            cursor.skip();
            cursor.take("cap");
            keep_band(cursor, "highs", Positions::turned_down(), wishes)?;
            read_on_turned_down(cursor)
        }
        ("tone-cap", _) => read_sweep(cursor, 1, wishes),
        ("without", _) => {
            cursor.skip();
            let band = change::read_held(cursor)?;
            keep(cursor, &band, at, wishes)
        }
        _ => {
            let mut at = at;
            // "at tone 0, less mud"
            if !cursor.is_amount_at(0) && at.read_if_next(cursor, None)? {
                cursor.take(",");
                return read_wish(cursor, at, wishes);
            }
            change::read_change(cursor, at, wishes)
        }
    }
}

/// "treble bleed for when I turn down": nothing that was not said.
fn read_on_turned_down(cursor: &mut Cursor<'_>) -> Result<()> {
    let _is_for = cursor.take("for");
    cursor.take("turned-down");
    Ok(())
}

/// "usable tone sweep", "which tone cap".
fn read_sweep(cursor: &mut Cursor<'_>, words: usize, wishes: &mut Vec<Wish>) -> Result<()> {
    (0..words).for_each(|_| cursor.skip());
    cursor.take("sweep");
    // "the tone knob is useless below 3": the whole of it is mended.
    if (cursor.take("below") || cursor.take("under")) && lexer::is_position(cursor.peek()) {
        cursor.skip();
    }
    wishes.extend(Wish::tone_sweep(&cursor.known_band("highs")?));
    Ok(())
}

/// "the feel of the volume knob".
fn read_feel(cursor: &mut Cursor<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.expect("feel")?;
    if cursor.take("of") {
        cursor.expect("volume")?;
    }
    wishes.push(Wish::Feel);
    Ok(())
}

/// `cut BAND by X to Y dB …`, `cut BAND by [at least] X dB …`; without a knob it is `less BAND`.
fn read_cut(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.expect("cut")?;
    let _is_courtesy = cursor.take("down");
    if cursor.peek_quality().is_some() {
        return change::read_change(cursor, at, wishes);
    }
    let band = cursor.band(&[])?;
    let (mut by, mut at, mut held) = (None, at, Vec::new());
    loop {
        if by.is_none() && (cursor.take("by") || cursor.is_amount_at(0)) {
            by = Some(read_cut_amount(cursor)?);
        } else if let Some(times) = cursor.take_amount() {
            let [least, _] = usual_amount(times);
            by = Some((least, least + CUT_WINDOW));
        } else if cursor.take("without") {
            held.push(change::read_held(cursor)?);
        } else if !at.read_if_next(cursor, Some(Knob::Tone))? {
            break;
        }
    }
    let where_held = at.clone();
    wishes.push(if at.is_empty() {
        let by = by.map_or(usual_amount(1.0), |(least, most)| {
            let has_one_end = most == least + CUT_WINDOW;
            if has_one_end { [least, least + LESS_WINDOW] } else { [least, most] }
        });
        Wish::Change { band, sign: -1.0, by, at }
    } else {
        let (least, most) = by.unwrap_or((CUT_BY, CUT_BY + CUT_WINDOW));
        Wish::Cut { band, least, most, at }
    });
    wishes.extend(held.into_iter().map(|band| Wish::Hold {
        band,
        at: where_held.clone(),
    }));
    Ok(())
}

fn read_cut_amount(cursor: &mut Cursor<'_>) -> Result<(f64, f64)> {
    if cursor.peek() == "at" {
        cursor.skip();
        cursor.expect("least")?;
        let least = cursor.decibels()?;
        return Ok((least, least + CUT_WINDOW));
    }
    read_window(cursor, CUT_WINDOW)
}

/// `X dB` or `X [dB] to Y dB`, the smaller first; `window` is how far it goes where only one is given.
fn read_window(cursor: &mut Cursor<'_>, window: f64) -> Result<(f64, f64)> {
    let first = cursor.taken();
    let one = cursor.decibel_number()?;
    let has_unit = cursor.peek() != "to";
    if has_unit {
        cursor.decibel_unit()?;
    }
    let second_has_unit = cursor.peek_at(2) == "db" || !has_unit;
    if cursor.peek() != "to" || !second_has_unit {
        return Ok((one, one + window));
    }
    cursor.skip();
    let other = cursor.decibels()?;
    if other < one {
        let window = cursor.stretch(first, cursor.taken().saturating_sub(1));
        let message = format!("an amount of {one} to {other} dB ends below where it begins");
        return Err(Error::at(&window, ErrorKind::Range, message)
            .label("the smaller number comes first")
            .help(format!("write `{other} to {one} dB`")));
    }
    Ok((one, other))
}

/// `no bump [over X dB] [in BAND] …`.
fn read_no_bump(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    cursor.skip();
    cursor.expect("bump")?;
    let (mut over, mut band) = (None, None);
    loop {
        if over.is_none() && cursor.take("over") {
            over = Some(cursor.decibels()?);
        } else if band.is_none() && cursor.take("in") {
            band = Some(cursor.band(&[])?);
        } else {
            break;
        }
    }
    let at = at.read_or_usual(cursor, Knob::Tone)?;
    wishes.push(Wish::NoBump {
        over: over.unwrap_or(BUMP_OVER),
        band,
        at,
    });
    Ok(())
}

/// The error for what follows a wish that is complete.
fn left_over(cursor: &Cursor<'_>) -> Error {
    let error = cursor.refuse_plain("the end of the wish, `and` or `;`");
    forms::nearest_word(error, cursor.here().text(), &["and", "at", "from", "by", "volume", "tone"])
}
