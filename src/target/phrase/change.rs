//! What shall change, in whatever words: "less mud", "too bright", "not bright enough", "my neck pickup is muddy", "bass cut".

use super::cursor::Cursor;
use super::keep::keep_band;
use super::knobs::Positions;
use super::qualities::{Alone, Quality};
use super::wish::{LESS_WINDOW, Wish, usual_amount};
use super::{NamedBand, left_over};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;

/// What a wish is about: a band, or a way to sound.
struct Subject {
    band: NamedBand,
    /// +1 where more of it is more of the band.
    sign: f64,
    alone: Option<Alone>,
    /// What was written for it.
    written: String,
}

/// How much of a subject was said, and how.
struct Said {
    degree: Degree,
    /// Whether it was told of the guitar as it is: "it gets", "there is".
    is_stated: bool,
    /// Whether it was compared without a judgement: "less" and "duller", but not "too".
    is_compared: bool,
}

/// A change and what came with it.
pub(super) fn read_change(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    read(cursor, Degree::Bare, at, wishes)
}

/// What follows "cut" or "shave": "1 dB off the bass", "2 dB of mud".
pub(super) fn read_less(cursor: &mut Cursor<'_>, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    read(cursor, Degree::Less, at, wishes)
}

/// A change in the direction of `usual` where no other is said.
fn read(cursor: &mut Cursor<'_>, usual: Degree, at: Positions, wishes: &mut Vec<Wish>) -> Result<()> {
    let (first, start) = (cursor.taken(), cursor.here());
    let is_after_complaint = cursor.has_complained();
    pass_over_band_of_quality(cursor);
    // "2 dB less mud", "2 dB off the mud"
    let said_first = if cursor.is_amount_at(0) { Some(read_amount(cursor)?) } else { None };
    let mut times = cursor.take_amount();
    let is_limit = cursor.is_written(&["not too", "not too much"]) && matches!(wishes.last(), Some(Wish::Change { .. }));
    let is_compared = cursor.compares();
    let before = match degree_before(cursor)? {
        Degree::Bare => {
            let _is_joint = usual == Degree::Less && cursor.take("of");
            usual
        }
        said => said,
    };
    times = times.or_else(|| cursor.take_amount());
    let is_stated = cursor.is_stated_since(first);
    let subject = read_subject(cursor)?;
    if is_limit {
        return limit_last(&subject, &start, wishes);
    }
    let said = Said {
        is_stated,
        is_compared: is_compared || cursor.compares(),
        degree: read_degree(cursor, before)?,
    };
    times = times.or_else(|| cursor.take_amount());
    let (by, at, held) = read_rest(cursor, at, times)?;
    let by = said_first.or(by);
    let direction = direction(&said, &subject, &at, wishes.last(), is_after_complaint).ok_or_else(|| not_said(&said, &subject, &start))?;
    let is_plain = times.is_none() && held.is_empty() && (subject.band.name == "highs" || said.degree == Degree::Bare);
    let is_about_volume = at.is_turned_down() || (at.lowers_volume() && is_plain);
    if is_complaint(&said, &subject) && direction * subject.dullness() < 0.0 && by.is_none() && is_about_volume {
        return keep_band(cursor, "highs", at, wishes);
    }
    let held = held.into_iter().map(|band| Wish::Hold { band, at: at.clone() });
    wishes.push(Wish::Change {
        sign: direction * subject.sign,
        by: by.unwrap_or(usual_amount(times.unwrap_or(1.0))),
        band: subject.band,
        at: at.clone(),
    });
    wishes.extend(held);
    Ok(())
}

/// The error for what may be a wish, a complaint or neither.
fn not_said(said: &Said, subject: &Subject, start: &Passage<'_>) -> Error {
    if said.is_compared {
        return Error::at(start, ErrorKind::Missing, "whether the guitar is so, or shall be so, is not said")
            .label("say `too …`, or `make it …`, or at which knob position it is so");
    }
    let which = format!("whether more or less of `{}` is wished is not said", subject.written);
    Error::at(start, ErrorKind::Missing, which).label("`more`, `less` or `too` is missing")
}

/// "warmer, but not too dark" is half of it; "fatter, but not too dark" may not cost the highs.
fn limit_last(subject: &Subject, start: &Passage<'_>, wishes: &mut Vec<Wish>) -> Result<()> {
    let held = match wishes.last_mut() {
        Some(Wish::Change { band, sign, by, .. }) if *band == subject.band && *sign == subject.sign => {
            if *by == usual_amount(1.0) {
                *by = usual_amount(0.5);
            }
            return Ok(());
        }
        Some(Wish::Change { band, at, .. }) if *band != subject.band && subject.sign < 0.0 => Wish::Hold {
            band: subject.band.clone(),
            at: at.clone(),
        },
        _ => {
            let message = format!("how much would be too {} is not said", subject.written);
            return Err(Error::at(start, ErrorKind::Missing, message)
                .label("a wish can bound what is lost by another, not what is gained")
                .help("such as `less mud without losing highs`"));
        }
    };
    wishes.push(held);
    Ok(())
}

/// Whether a guitar that sounds so lacks highs.
pub(super) fn is_dull(quality: &Quality) -> bool {
    let is_felt_as_such = matches!(quality.alone, Alone::Complaint | Alone::Either);
    is_felt_as_such && dullness(quality.band, quality.sign) > 0.0
}

/// +1 where more of a sound is duller, −1 where it is brighter, 0 elsewhere.
fn dullness(band: &str, sign: f64) -> f64 {
    match band {
        "highs" => -sign,
        "mud" => sign,
        _ => 0.0,
    }
}

impl Subject {
    fn dullness(&self) -> f64 {
        dullness(&self.band.name, self.sign)
    }

    /// "duller" and "muddier", which nobody wishes for.
    fn is_worse(&self) -> bool {
        self.alone == Some(Alone::Complaint) && self.dullness() > 0.0 && self.written.ends_with("er")
    }
}

/// Whether something is wrong with the guitar as it is.
fn is_complaint(said: &Said, subject: &Subject) -> bool {
    let is_told = said.is_stated && (said.is_compared || said.degree == Degree::Bare);
    is_told || subject.alone.is_some_and(|alone| alone != Alone::Compared)
}

/// +1 where more of the subject is wished for, −1 where less; none where that is not said.
fn direction(said: &Said, subject: &Subject, at: &Positions, last: Option<&Wish>, is_after_complaint: bool) -> Option<f64> {
    let is_lowered = at.lowers_volume();
    match said.degree.sign() {
        // What "gets duller" or "has less treble" as the volume is turned down shall not.
        Some(sign) if said.is_stated && said.is_compared => match subject.alone {
            Some(Alone::Complaint) => (sign > 0.0).then_some(-1.0),
            _ => is_lowered.then_some(-sign),
        },
        Some(sign) if sign > 0.0 && subject.is_worse() => is_lowered.then_some(-1.0),
        Some(sign) => Some(sign),
        None => match subject.alone {
            Some(Alone::Complaint) => Some(-1.0),
            // "it gets darker when I turn down" is a complaint; "it gets darker" may be a wish or none.
            Some(Alone::Compared | Alone::Either) if said.is_stated => is_lowered.then_some(-1.0),
            Some(Alone::Compared) => Some(1.0),
            Some(Alone::Wish) => (!said.is_stated && !is_after_complaint).then_some(1.0),
            Some(Alone::Either) => None,
            // After another change a band goes the same way: "less lows and mids".
            None => match last {
                Some(Wish::Change { sign, .. }) => Some(*sign),
                _ => None,
            },
        },
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
        ("off", Degree::Less),
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

/// The degree said before the subject, or after it; "enough" must have its "not".
fn read_degree(cursor: &mut Cursor<'_>, before: Degree) -> Result<Degree> {
    let place = cursor.here();
    match (before, degree_after(cursor)) {
        (Degree::NotEnough, after) if after != Some(Degree::NotEnough) => Err(cursor.refuse(&["enough"])),
        (Degree::NotEnough, _) => Ok(before),
        (_, Some(Degree::NotEnough)) => {
            Err(Error::at(&place, ErrorKind::Missing, "where there is enough, nothing is wished for").label("`not` is missing before it"))
        }
        (Degree::Bare, Some(after)) => Ok(after),
        (before, _) => Ok(before),
    }
}

fn read_subject(cursor: &mut Cursor<'_>) -> Result<Subject> {
    let written = cursor.here().text().to_lowercase();
    let Some(quality) = cursor.peek_quality() else {
        let band = cursor.band(&["darker", "brighter"])?;
        return Ok(Subject {
            // Nobody praises mud.
            alone: (band.name == "mud").then_some(Alone::Complaint),
            band,
            sign: 1.0,
            written,
        });
    };
    let subject = Subject {
        band: cursor.known_band(quality.band)?,
        sign: quality.sign,
        alone: Some(quality.alone),
        written,
    };
    cursor.skip();
    pass_over_its_band(cursor, quality, &subject);
    // "a warmer, darker, mellow tone" is one wish.
    loop {
        let ahead = usize::from(cursor.peek() == ",");
        let next = cursor.quality_at(ahead);
        if next.is_none_or(|next| next.alone == Alone::Complaint || (next.band, next.sign) != (quality.band, quality.sign)) {
            return Ok(subject);
        }
        (0..=ahead).for_each(|_| cursor.skip());
    }
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

type Rest = (Option<[f64; 2]>, Positions, Vec<NamedBand>);

/// By how much, where, and what is not to be lost by it.
fn read_rest(cursor: &mut Cursor<'_>, at: Positions, times: Option<f64>) -> Result<Rest> {
    let (mut by, mut at, mut held) = (None, at, Vec::new());
    loop {
        // "less mud, just half a dB"
        let is_after_comma = cursor.peek() == "," && cursor.is_amount_at(1) && cursor.peek_at(3).is_empty();
        let comes_next = cursor.is_amount_at(0) || (is_after_comma && cursor.take(","));
        if by.is_none() && times.is_none() && (cursor.take("by") || comes_next) {
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
        return cursor.band_or_sound(&[]);
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
