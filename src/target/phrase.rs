//! The controlled language of wishes → clauses. What is not understood is refused with its place and the forms that
//! exist, never guessed. Every form is listed in `phrase/forms.rs`.

mod cursor;
mod forms;
mod knobs;

use super::{Against, Band, Clause, DEFAULT_ANCHOR, Measure, Over};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, MOST_CLAUSES};
use crate::source::Passage;
use cursor::Cursor;
use knobs::Positions;
pub(super) use knobs::between;

/// A band's name and its frequencies.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedBand {
    /// As written in phrases.
    pub name: String,
    /// Its frequencies.
    pub band: Band,
}

/// Beginnings that are passed over, once.
const LEADS: [&[&str]; 3] = [&["which", "cap", "for"], &["what", "parts", "for"], &["i", "want"]];

/// The volume knob's feel is its mean level over this band.
const LEVEL_BAND: Band = Band::fixed(100.0, 1500.0);
/// Where a bump is looked for unless told, and what it is measured from.
const BUMP_BAND: Band = Band::fixed(80.0, 1500.0);
const BUMP_ANCHOR: Band = Band::fixed(80.0, 120.0);
/// What "less" and "more" of a low band is measured from, and where a band counts as low.
const ANCHOR_ABOVE: Band = Band::fixed(600.0, 1200.0);
const LOW_BAND_TOP: f64 = 600.0;
/// What "less" and "more" keep besides the anchor, and by how many dB.
const KEPT_BAND: Band = Band::fixed(1500.0, 4000.0);
const KEPT_WITHIN: f64 = 3.0;
/// "keep highs" alone, in dB and rotations: the first clause of the default target.
const HIGHS_WITHIN: f64 = 4.0;
const HIGHS_VOLUME: [f64; 3] = [1.0, 0.75, 0.5];
/// dB that "cut", "no bump" and "less" take when a number is left out.
const CUT_WINDOW: f64 = 6.0;
const BUMP_OVER: f64 = 2.0;
const LESS_BY: f64 = 1.0;
const LESS_WINDOW: f64 = 2.0;

/// Reads a phrase, or several joined by `and` or `;`. `own_bands` are those a target file defines; they win over the common ones.
///
/// # Errors
/// At the first word that is not understood, with the nearest forms.
pub fn read_phrase(passage: &Passage<'_>, own_bands: &[NamedBand]) -> Result<Vec<Clause>> {
    let bands = own_bands.iter().cloned().chain(common_bands()).collect();
    let mut cursor = Cursor::new(passage.clone(), bands);
    cursor.drop_last("?");
    pass_over_lead(&mut cursor).map_err(|error| cursor.with_forms(error, None))?;
    let mut clauses = Vec::new();
    loop {
        let first = first_word(&mut cursor).map_err(|error| cursor.with_forms(error, None))?;
        read_clause(first, &mut cursor, &mut clauses).map_err(|error| cursor.with_forms(error, Some(first)))?;
        limits::count(clauses.len(), MOST_CLAUSES, "clauses", passage)?;
        if cursor.is_done() {
            return Ok(clauses);
        }
        let begins_clause = cursor.peek() == "and" && forms::FIRST_WORDS.contains(&cursor.peek_at(1));
        if begins_clause || cursor.peek() == ";" {
            cursor.skip();
        } else {
            let error = left_over(&mut cursor);
            return Err(cursor.with_forms(error, Some(first)));
        }
    }
}

/// The bands known by name everywhere (common practice, no source).
#[must_use]
pub fn common_bands() -> Vec<NamedBand> {
    const NAMED: [(&str, Band); 5] = [
        ("lows", Band::fixed(80.0, 250.0)),
        ("mud", Band::fixed(150.0, 400.0)),
        ("mids", Band::fixed(400.0, 1500.0)),
        ("highs", Band::fixed(1500.0, 6000.0)),
        ("presence", Band::fixed(2500.0, 5000.0)),
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

/// Passes over a beginning such as "which cap for", which must then be whole.
fn pass_over_lead(cursor: &mut Cursor<'_>) -> Result<()> {
    let lead = LEADS
        .into_iter()
        .find(|lead| lead.first().is_some_and(|first| cursor.peek() == *first));
    lead.into_iter().flatten().try_for_each(|word| cursor.expect(word))
}

fn first_word(cursor: &mut Cursor<'_>) -> Result<&'static str> {
    let found = forms::FIRST_WORDS.into_iter().find(|word| cursor.take(word));
    found.ok_or_else(|| cursor.refuse(&forms::FIRST_WORDS))
}

fn read_clause(first: &str, cursor: &mut Cursor<'_>, clauses: &mut Vec<Clause>) -> Result<()> {
    match first {
        "keep" => clauses.push(read_keep(cursor)?),
        "cut" => clauses.push(read_cut(cursor)?),
        "no" => clauses.push(read_no_bump(cursor)?),
        "more" | "brighter" => read_change(first, cursor, 1.0, clauses)?,
        _ => read_change(first, cursor, -1.0, clauses)?,
    }
    Ok(())
}

/// The error for what follows a clause that is complete.
fn left_over(cursor: &mut Cursor<'_>) -> Error {
    if cursor.take("and") {
        let error = cursor.refuse(&forms::FIRST_WORDS);
        return error.help("`and` begins a new clause only before one of these words");
    }
    let error = cursor.refuse_plain("the end, `and` or `;`");
    if cursor.peek() == "to" {
        return error.help("the positions between two are written `from … to …`");
    }
    error.nearest(cursor.peek(), ["and", "at", "from", "by", "volume", "tone"])
}

/// A clause over each frequency, before its bounds.
fn clause(measure: Measure, against: Against, band: Band, positions: &Positions) -> Clause {
    Clause {
        measure,
        against,
        band,
        anchor: (measure == Measure::Shape).then_some(DEFAULT_ANCHOR),
        over: Over::Every,
        volume: positions.volume(),
        tone: positions.tone(),
        at_least: None,
        at_most: None,
    }
}

/// `keep level within X dB of present …`, `keep BAND within X dB …`, `keep highs`.
fn read_keep(cursor: &mut Cursor<'_>) -> Result<Clause> {
    if cursor.take("level") {
        cursor.expect("within")?;
        let width = cursor.decibels()?;
        cursor.expect("of")?;
        cursor.expect("present")?;
        let positions = Positions::read_needed(cursor)?;
        return Ok(Clause {
            over: Over::Mean,
            ..clause(Measure::Level, Against::Present, LEVEL_BAND, &positions).within(width)
        });
    }
    let is_highs = cursor.peek() == "highs";
    let band = cursor.band(&["level"])?;
    let ends = cursor.is_done() || matches!(cursor.peek(), "and" | ";");
    if is_highs && ends {
        let kept = clause(Measure::Shape, Against::Full, band, &Positions::default());
        return Ok(Clause {
            volume: HIGHS_VOLUME.to_vec(),
            ..kept.within(HIGHS_WITHIN)
        });
    }
    cursor.expect("within")?;
    let width = cursor.decibels()?;
    let positions = Positions::read_needed(cursor)?;
    Ok(clause(Measure::Shape, Against::Full, band, &positions).within(width))
}

/// `cut BAND by X to Y dB …`, `cut BAND by [at least] X dB …`.
fn read_cut(cursor: &mut Cursor<'_>) -> Result<Clause> {
    let band = cursor.band(&[])?;
    cursor.expect("by")?;
    let (least, most) = if cursor.take("at") {
        cursor.expect("least")?;
        let least = cursor.decibels()?;
        (least, least + CUT_WINDOW)
    } else {
        read_window(cursor)?
    };
    let positions = Positions::read_needed(cursor)?;
    Ok(Clause {
        over: Over::Mean,
        at_least: Some(-most),
        at_most: Some(-least),
        ..clause(Measure::Shape, Against::Full, band, &positions)
    })
}

/// `X dB` or `X [dB] to Y dB`, the smaller first.
fn read_window(cursor: &mut Cursor<'_>) -> Result<(f64, f64)> {
    let first = cursor.position();
    let one = cursor.decibel_number()?;
    let has_unit = cursor.peek() != "to";
    if has_unit {
        cursor.decibel_unit()?;
    }
    let goes_on = cursor.peek() == "to";
    if !goes_on {
        return Ok((one, one + CUT_WINDOW));
    }
    cursor.skip();
    let other = cursor.decibels()?;
    if other < one {
        let window = cursor.stretch(first, cursor.position().saturating_sub(1));
        let message = format!("a cut by {one} to {other} dB ends below where it begins");
        return Err(Error::at(&window, ErrorKind::Range, message)
            .label("the smaller number comes first")
            .help(format!("write `{other} to {one} dB`")));
    }
    Ok((one, other))
}

/// `no bump [over X dB] [in BAND] …`.
fn read_no_bump(cursor: &mut Cursor<'_>) -> Result<Clause> {
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
    let positions = Positions::read_needed(cursor)?;
    Ok(Clause {
        anchor: Some(BUMP_ANCHOR),
        at_most: Some(over.unwrap_or(BUMP_OVER)),
        ..clause(Measure::Shape, Against::Flat, band.unwrap_or(BUMP_BAND), &positions)
    })
}

/// `less BAND …`, `more BAND …`, `darker …`, `brighter …`: the change wished for, and the rest kept.
fn read_change(first: &str, cursor: &mut Cursor<'_>, sign: f64, clauses: &mut Vec<Clause>) -> Result<()> {
    let band = match first {
        "darker" | "brighter" => cursor.known_band("highs")?,
        _ => cursor.band(&[])?,
    };
    let mut by = None;
    let mut positions = Positions::default();
    loop {
        if by.is_none() && cursor.take("by") {
            by = Some(cursor.decibels()?);
        } else if !positions.read_if_next(cursor)? {
            break;
        }
    }
    let least = by.unwrap_or(LESS_BY);
    let ends = [sign * least, sign * (least + LESS_WINDOW)];
    let anchor = if band.high() <= LOW_BAND_TOP {
        ANCHOR_ABOVE
    } else {
        DEFAULT_ANCHOR
    };
    clauses.push(Clause {
        over: Over::Mean,
        anchor: Some(anchor),
        at_least: Some(ends[0].min(ends[1])),
        at_most: Some(ends[0].max(ends[1])),
        ..clause(Measure::Shape, Against::Present, band, &positions)
    });
    let reaches_kept = band.low() < KEPT_BAND.high() && KEPT_BAND.low() < band.high();
    for kept in [Some(anchor), (!reaches_kept).then_some(KEPT_BAND)].into_iter().flatten() {
        clauses.push(clause(Measure::Level, Against::Present, kept, &positions).within(KEPT_WITHIN));
    }
    Ok(())
}
