//! What shall change, in whatever words: "less mud", "too bright", "not bright enough", "my neck pickup is muddy", "bass cut".

use super::cursor::Cursor;
use super::knobs::Positions;
use super::qualities::{Alone, Quality};
use super::wish::{KEEP_WITHIN, LESS_BY, LESS_WINDOW, Wish};
use super::{NamedBand, left_over};
use crate::error::{Error, ErrorKind, Result};

/// What a wish is about: a band, or a way to sound.
struct Subject {
    band: NamedBand,
    /// +1 where more of it is more of the band.
    sign: f64,
    alone: Option<Alone>,
    is_stated: bool,
}

/// A change and what came with it.
pub(super) fn read_change(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let start = cursor.here();
    let is_after_complaint = cursor.has_complained();
    pass_over_band_of_quality(cursor);
    let mut times = cursor.take_amount();
    let before = degree_before(cursor)?;
    times = times.or_else(|| cursor.take_amount());
    let subject = read_subject(cursor)?;
    let degree = match (before, degree_after(cursor)) {
        (Degree::NotEnough, after) if after != Some(Degree::NotEnough) => return Err(cursor.refuse(&["enough"])),
        (Degree::Bare, Some(after)) => after,
        (before, _) => before,
    };
    let direction = match degree.sign() {
        Some(sign) => sign,
        None => bare(cursor, &subject, is_after_complaint, wishes).ok_or_else(|| {
            let which = format!("whether more or less of `{}` is wished is not said", cursor.before().text());
            Error::at(&start, ErrorKind::Missing, which).label("`more`, `less` or `too` is missing")
        })?,
    };
    times = times.or_else(|| cursor.take_amount());
    let (by, at, held) = read_rest(cursor, at, times)?;
    let sign = direction * subject.sign;
    let is_complaint = subject
        .alone
        .is_some_and(|alone| alone != Alone::Compared || (subject.is_stated && degree == Degree::Bare));
    if is_complaint && direction * dullness(&subject) < 0.0 && by.is_none() {
        if at.is_turned_down() {
            return keep_turned_down(cursor, at, wishes);
        }
        // "muffled at half volume"; less mud can be wished for anywhere.
        let is_below_full =
            at.named_tone().is_none() && at.named_volume().is_some_and(|volumes| volumes.iter().all(|volume| *volume < 1.0));
        if is_below_full && times.is_none() && held.is_empty() && (subject.band.name == "highs" || degree == Degree::Bare) {
            let (band, within) = (cursor.known_band("highs")?, KEEP_WITHIN);
            wishes.push(Wish::Keep { band, within, at });
            return Ok(());
        }
    }
    let usual = LESS_BY * times.unwrap_or(1.0);
    let by = by.unwrap_or([usual, usual + LESS_WINDOW]);
    let band = subject.band;
    wishes.push(Wish::Change {
        band,
        sign,
        by,
        at: at.clone(),
    });
    wishes.extend(held.into_iter().map(|band| Wish::Hold { band, at: at.clone() }));
    Ok(())
}

/// "gets dull when I turn down" asks for the highs to be kept, as does "stays bright when I turn down".
pub(super) fn keep_turned_down(cursor: &Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let band = cursor.known_band("highs")?;
    wishes.push(Wish::Keep {
        band,
        within: KEEP_WITHIN,
        at,
    });
    wishes.push(Wish::Feel);
    Ok(())
}

/// Whether a guitar that sounds so lacks highs.
pub(super) fn is_dull(quality: &Quality) -> bool {
    let is_felt_as_such = matches!(quality.alone, Alone::Complaint | Alone::Either);
    is_felt_as_such && (quality.word == "muddy" || (quality.band == "highs" && quality.sign < 0.0))
}

/// +1 where more of the quality is duller, −1 where it is brighter, 0 elsewhere.
fn dullness(subject: &Subject) -> f64 {
    match subject.band.name.as_str() {
        "highs" => -subject.sign,
        "mud" => subject.sign,
        _ => 0.0,
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Degree {
    Less,
    More,
    /// "not … enough"
    NotEnough,
    /// "no harshness"
    None,
    Bare,
}

impl Degree {
    fn sign(self) -> Option<f64> {
        match self {
            Self::Less | Self::None => Some(-1.0),
            Self::More | Self::NotEnough => Some(1.0),
            Self::Bare => None,
        }
    }
}

fn degree_before(cursor: &mut Cursor<'_>) -> Result<Degree> {
    let words = [
        ("less", Degree::Less),
        ("cut", Degree::Less),
        ("more", Degree::More),
        ("not", Degree::NotEnough),
        ("no", Degree::None),
    ];
    let found = words.into_iter().find(|(word, _)| cursor.take(word));
    let degree = found.map_or(Degree::Bare, |(_, degree)| degree);
    let is_complaint = cursor.peek() == "mud" || cursor.peek_quality().is_some_and(|quality| quality.alone == Alone::Complaint);
    if degree == Degree::None && !is_complaint {
        return Err(cursor.refuse(&["bump"]));
    }
    Ok(degree)
}

/// "the highs are too much", "bass cut", "treble boost", "not bright enough".
fn degree_after(cursor: &mut Cursor<'_>) -> Option<Degree> {
    let words = [
        ("less", Degree::Less),
        ("cut", Degree::Less),
        ("more", Degree::More),
        ("enough", Degree::NotEnough),
    ];
    words.into_iter().find(|(word, _)| cursor.take(word)).map(|(_, degree)| degree)
}

fn read_subject(cursor: &mut Cursor<'_>) -> Result<Subject> {
    let is_stated = cursor.is_stated();
    let Some(quality) = cursor.peek_quality() else {
        let band = cursor.band(&["darker", "brighter"])?;
        return Ok(Subject {
            // Nobody praises mud.
            alone: (band.name == "mud").then_some(Alone::Complaint),
            band,
            sign: 1.0,
            is_stated,
        });
    };
    let subject = Subject {
        band: cursor.known_band(quality.band)?,
        sign: quality.sign,
        alone: Some(quality.alone),
        is_stated,
    };
    cursor.skip();
    pass_over_its_band(cursor, quality, &subject);
    Ok(subject)
}

/// In "the bass is boomy" and "the highs are too harsh" the band says nothing more.
fn pass_over_band_of_quality(cursor: &mut Cursor<'_>) {
    let quality = match cursor.peek_at(1) {
        "less" => cursor.quality_at(2),
        _ => cursor.quality_at(1),
    };
    let Some(quality) = quality.filter(|quality| quality.sign > 0.0) else {
        return;
    };
    let Ok(of_quality) = cursor.known_band(quality.band) else {
        return;
    };
    let overlaps = |band: &NamedBand| band.band.low() < of_quality.band.high() && of_quality.band.low() < band.band.high();
    if cursor.peek_band().is_some_and(overlaps) {
        cursor.skip();
    }
}

/// In "spiky top" and "muddy lows" the band says nothing more; in "dull lows" it would.
fn pass_over_its_band(cursor: &mut Cursor<'_>, quality: &Quality, subject: &Subject) {
    let overlaps = |other: &NamedBand| other.band.low() < subject.band.band.high() && subject.band.band.low() < other.band.high();
    let is_its_own = cursor
        .peek_band()
        .is_some_and(|band| overlaps(band) && (quality.sign > 0.0 || band.name == subject.band.name));
    if is_its_own {
        cursor.skip();
    }
}

/// What a subject means without "more" or "less"; after another change, a band goes the same way ("less lows and mids").
fn bare(cursor: &Cursor<'_>, subject: &Subject, is_after_complaint: bool, wishes: &[Wish]) -> Option<f64> {
    match subject.alone {
        Some(Alone::Complaint) => Some(-1.0),
        // "it gets darker when I turn down" is a complaint; "it gets darker" may be a wish or none.
        Some(Alone::Compared) if subject.is_stated => (cursor.peek() == "turned-down").then_some(-1.0),
        Some(Alone::Compared) => Some(1.0),
        Some(Alone::Either) if subject.is_stated && cursor.peek() == "turned-down" => Some(-1.0),
        Some(Alone::Wish) => (!subject.is_stated && !is_after_complaint).then_some(1.0),
        Some(Alone::Either) => None,
        None => match wishes.last() {
            Some(Wish::Change { sign, .. }) => Some(*sign),
            _ => None,
        },
    }
}

type Rest = (Option<[f64; 2]>, Positions, Vec<NamedBand>);

/// By how much, where, and what is not to be lost by it.
fn read_rest(cursor: &mut Cursor<'_>, at: Positions, times: Option<f64>) -> Result<Rest> {
    let (mut by, mut at, mut held) = (None, at, Vec::new());
    loop {
        let is_number = cursor.peek().starts_with(|sign: char| sign.is_ascii_digit()) && matches!(cursor.peek_at(1), "db" | "to");
        let names_knob = matches!(cursor.peek_at(3), "volume" | "tone");
        if by.is_none() && times.is_none() && (cursor.take("by") || (is_number && !names_knob)) {
            by = Some(read_amount(cursor)?);
        } else if cursor.take("without") {
            held.push(read_held(cursor)?);
        } else if !at.read_if_next(cursor, None)? {
            return Ok((by, at, held));
        }
    }
}

/// `X dB` or `X [dB] to Y dB`.
fn read_amount(cursor: &mut Cursor<'_>) -> Result<[f64; 2]> {
    let (least, most) = super::read_window(cursor, LESS_WINDOW)?;
    Ok([least, most])
}

/// What follows "without": "losing highs", "getting dull", "a loss of bass".
pub(super) fn read_held(cursor: &mut Cursor<'_>) -> Result<NamedBand> {
    if cursor.take("losing") || cursor.take("lose") {
        return match cursor.peek_quality().filter(|quality| quality.sign > 0.0) {
            Some(quality) => {
                cursor.skip();
                cursor.known_band(quality.band)
            }
            None => cursor.band(&[]),
        };
    }
    let Some(quality) = cursor.peek_quality() else {
        let band = cursor.band(&["losing"])?;
        cursor.expect("loss")?;
        return Ok(band);
    };
    // "dull" and "muddy when turned down" are a loss of highs; "without getting harsh" would bound a gain.
    let band = match (quality.sign < 0.0, quality.word) {
        (true, _) => quality.band,
        (false, "muddy") => "highs",
        _ => return Err(left_over(cursor)),
    };
    cursor.skip();
    cursor.known_band(band)
}
