//! A wish as read: the clauses it stands for, and how it is said in the words of the language.

use super::NamedBand;
use super::knobs::Positions;
use crate::target::words::{number, positions as in_words};
use crate::target::{Against, Band, Clause, DEFAULT_ANCHOR, Measure, Over, Place};

/// The volume knob's feel is its mean level over this band.
const LEVEL_BAND: Band = Band::fixed(100.0, 1500.0);
/// Where a bump is looked for unless told, and what it is measured from.
const BUMP_BAND: Band = Band::fixed(80.0, 1500.0);
const BUMP_ANCHOR: Band = Band::fixed(80.0, 120.0);
/// What "less" and "more" of a low band is measured from, and where a band counts as low.
const ANCHOR_ABOVE: Band = Band::fixed(600.0, 1200.0);
const LOW_BAND_TOP: f64 = 600.0;
/// What "less" and "more" keep besides the anchor, and by how many dB.
const KEPT_BAND: Band = Band::KEPT_HIGHS;
const KEPT_WITHIN: f64 = 3.0;
/// What "without losing" allows, in dB.
const HELD_AT_LEAST: f64 = -1.0;
/// dB that a form takes when a number is left out.
pub(super) const KEEP_WITHIN: f64 = 4.0;
pub(super) const FEEL_WITHIN: f64 = 6.0;
pub(super) const CUT_BY: f64 = 6.0;
pub(super) const CUT_WINDOW: f64 = 6.0;
pub(super) const BUMP_OVER: f64 = 2.0;
pub(super) const LESS_BY: f64 = 1.0;
pub(super) const LESS_WINDOW: f64 = 2.0;

/// From how many to how many dB a change goes where no number is given, as a multiple of the usual least.
pub(super) fn usual_amount(times: f64) -> [f64; 2] {
    [LESS_BY * times, LESS_BY * times + LESS_WINDOW]
}

/// One wish.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Wish {
    /// keep BAND within X dB
    Keep { band: NamedBand, within: f64, at: Positions },
    /// keep level within X dB of present
    Level { within: f64, at: Positions },
    /// the feel of the volume knob
    Feel,
    /// cut BAND by X to Y dB
    Cut {
        band: NamedBand,
        least: f64,
        most: f64,
        at: Positions,
    },
    /// no bump
    NoBump { over: f64, band: Option<NamedBand>, at: Positions },
    /// less, more, darker, brighter; `sign` is +1 for more
    Change {
        band: NamedBand,
        sign: f64,
        by: [f64; 2],
        at: Positions,
    },
    /// without losing BAND
    Hold { band: NamedBand, at: Positions },
}

/// A clause over each frequency, before its bounds.
fn clause(measure: Measure, against: Against, band: Band, at: &Positions) -> Clause {
    Clause {
        measure,
        against,
        band,
        anchor: (measure == Measure::Shape).then_some(DEFAULT_ANCHOR),
        over: Over::Every,
        volume: at.volume(),
        tone: at.tone(),
        at_least: None,
        at_most: None,
        bands: Vec::new(),
        place: Place::default(),
    }
}

impl Wish {
    /// What the tone capacitor is chosen for when nothing else is said: the shipped target `tone-sweep`.
    pub(super) fn tone_sweep(highs: &NamedBand) -> Vec<Self> {
        let cut = |least, most, tone| Self::Cut {
            band: highs.clone(),
            least,
            most,
            at: Positions::of_tone(vec![tone]),
        };
        let no_bump = Self::NoBump {
            over: 3.0,
            band: None,
            at: Positions::of_tone(vec![0.5, 0.25, 0.0]),
        };
        vec![no_bump, cut(3.0, 9.0, 0.25), cut(10.0, 16.0, 0.0)]
    }

    /// Whether no guitar can grant this one with the other.
    pub(super) fn contradicts(&self, other: &Self) -> bool {
        let Self::Change { band, sign, at, .. } = self else { return false };
        match other {
            Self::Change {
                band: same,
                sign: other,
                at: there,
                ..
            } => same == band && there == at && sign * other < 0.0,
            Self::Hold { band: same, at: there } => same == band && there == at && *sign < 0.0,
            _ => false,
        }
    }

    /// The clauses, in order.
    pub(super) fn clauses(&self) -> Vec<Clause> {
        match self {
            Self::Keep { band, within, at } => vec![clause(Measure::Shape, Against::Full, band.band, at).within(*within)],
            Self::Level { within, at } => vec![level(*within, at)],
            Self::Feel => vec![level(FEEL_WITHIN, &Positions::turned_down())],
            Self::Cut { band, least, most, at } => vec![Clause {
                over: Over::Mean,
                at_least: Some(-most),
                at_most: Some(-least),
                ..clause(Measure::Shape, Against::Full, band.band, at)
            }],
            Self::NoBump { over, band, at } => vec![Clause {
                anchor: Some(BUMP_ANCHOR),
                at_most: Some(*over),
                ..clause(
                    Measure::Shape,
                    Against::Flat,
                    band.as_ref().map_or(BUMP_BAND, |named| named.band),
                    at,
                )
            }],
            Self::Change { band, sign, by, at } => {
                // The mean power of the highs belongs to the resonance peak alone, and calls a shorter cable darker.
                let changed = if band.band == Band::HIGHS { Band::BRIGHTNESS } else { band.band };
                change(changed, by.map(|end| sign * end), at)
            }
            Self::Hold { band, at } => vec![Clause {
                over: Over::Average,
                at_least: Some(HELD_AT_LEAST),
                ..clause(Measure::Level, Against::Present, band.band, at)
            }],
        }
    }

    /// The wish in the words of the language.
    fn words(&self) -> String {
        match self {
            Self::Keep { band, within, at } => format!("keep {} within {} dB{}", band.name, number(*within), said(at)),
            Self::Level { within, at } => format!("keep level within {} dB of present{}", number(*within), said(at)),
            Self::Feel => "the feel of the volume knob".to_owned(),
            Self::Cut { band, least, most, at } => format!("cut {} by {} to {} dB{}", band.name, number(*least), number(*most), said(at)),
            Self::NoBump { over, band, at } => {
                let over = if *over == BUMP_OVER {
                    String::new()
                } else {
                    format!(" over {} dB", number(*over))
                };
                let band = band.as_ref().map_or_else(String::new, |band| format!(" in {}", band.name));
                format!("no bump{over}{band}{}", said(at))
            }
            Self::Change { band, sign, by, at } => format!("{}{}{}", direction(band, *sign), amount(*by), said(at)),
            Self::Hold { band, .. } => format!("without losing {}", band.name),
        }
    }
}

fn level(within: f64, at: &Positions) -> Clause {
    Clause {
        over: Over::Mean,
        ..clause(Measure::Level, Against::Present, LEVEL_BAND, at).within(within)
    }
}

/// The change wished for, between two differences from now, and the rest kept.
fn change(band: Band, ends: [f64; 2], at: &Positions) -> Vec<Clause> {
    let anchor = if band.high() <= LOW_BAND_TOP {
        ANCHOR_ABOVE
    } else {
        DEFAULT_ANCHOR
    };
    let mut clauses = vec![Clause {
        over: Over::Average,
        anchor: Some(anchor),
        at_least: Some(ends[0].min(ends[1])),
        at_most: Some(ends[0].max(ends[1])),
        ..clause(Measure::Shape, Against::Present, band, at)
    }];
    let reaches_kept = band.low() < KEPT_BAND.high() && KEPT_BAND.low() < band.high();
    for kept in [Some(anchor), (!reaches_kept).then_some(KEPT_BAND)].into_iter().flatten() {
        clauses.push(clause(Measure::Level, Against::Present, kept, at).within(KEPT_WITHIN));
    }
    clauses
}

fn direction(band: &NamedBand, sign: f64) -> String {
    match (band.name.as_str(), sign > 0.0) {
        ("highs", true) => "brighter".to_owned(),
        ("highs", false) => "darker".to_owned(),
        (name, true) => format!("more {name}"),
        (name, false) => format!("less {name}"),
    }
}

fn amount([least, most]: [f64; 2]) -> String {
    if most != least + LESS_WINDOW {
        format!(" by {} to {} dB", number(least), number(most))
    } else if least == LESS_BY {
        String::new()
    } else {
        format!(" by {} dB", number(least))
    }
}

/// The knobs that are named, each where it stands.
fn said(at: &Positions) -> String {
    let knob = |rotations: Option<&[f64]>, name| rotations.map_or_else(String::new, |rotations| format!(" {}", in_words(rotations, name)));
    format!("{}{}", knob(at.named_volume(), "volume"), knob(at.named_tone(), "tone"))
}

/// Several wishes in the words of the language; they read back as the same wishes.
pub(super) fn in_one_sentence(wishes: &[Wish]) -> String {
    let mut sentence = String::new();
    for (index, wish) in wishes.iter().enumerate() {
        let joint = match wish {
            _ if index == 0 => "",
            Wish::Hold { .. } => " ",
            Wish::Feel => ", and ",
            _ => " and ",
        };
        sentence.push_str(joint);
        sentence.push_str(&wish.words());
    }
    sentence
}
