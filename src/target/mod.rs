//! What the user wants to hear, as clauses that bound a measured difference in dB.

mod file;
mod guards;
pub mod phrase;
mod place;
mod travel;
mod words;
mod write;

use serde::Serialize;

use crate::curve::Curve;
use crate::error::Result;
use crate::source::Passage;
use crate::units::{Hertz, knob};

pub use guards::Guards;
pub use place::Place;

/// A named list of clauses; a build meets it when every clause holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Target {
    /// What it is called.
    pub name: String,
    /// At least one.
    pub clauses: Vec<Clause>,
    /// What a phrase was understood as, in the language's own words, where it was written otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub read_as: Option<String>,
    /// What is to be known of this wish on this guitar.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// How much of the rest may change.
    #[serde(skip_serializing_if = "is_usual")]
    pub guards: Guards,
}

fn is_usual(guards: &Guards) -> bool {
    *guards == Guards::USUAL
}

impl Target {
    /// The target a phrase stands for, named by the phrase itself.
    ///
    /// # Errors
    /// At the first word that is not understood, with the nearest forms.
    pub fn from_phrase(passage: &Passage<'_>) -> Result<Self> {
        let read = phrase::read_phrase(passage, &[])?;
        Ok(Self {
            read_as: read.read_as,
            ..Self::new(passage.text().trim(), read.clauses)
        })
    }

    /// A target by its clauses, with the usual guards.
    #[must_use]
    pub fn new(name: impl Into<String>, clauses: Vec<Clause>) -> Self {
        Self {
            name: name.into(),
            clauses,
            read_as: None,
            note: None,
            guards: Guards::USUAL,
        }
    }

    /// Whether its knob positions look like shares of the travel, 0 to 1, where numbers on the knob are read.
    #[must_use]
    pub fn looks_like_shares(&self) -> bool {
        let positions = self.clauses.iter().flat_map(|clause| clause.volume.iter().chain(&clause.tone));
        // A knob left out stands at full and says nothing.
        let named: Vec<f64> = positions.copied().filter(|rotation| *rotation < 1.0).collect();
        knob::looks_like_shares(&named)
    }

    /// The same target for a guitar whose own sound ends at a frequency in Hz, or nowhere: bands known by their words end there, and in
    /// each of its cases where the sound ends in that case.
    #[must_use]
    pub fn at_own_ends(mut self, end: Option<f64>, cases: &[(String, Option<f64>)]) -> Self {
        for clause in &mut self.clauses {
            let bands = |end| (clause.band.at_own_end(end), clause.anchor.map(|anchor| anchor.at_own_end(end)));
            let in_case = |(case, end): &(String, Option<f64>)| {
                let (band, anchor) = bands(*end);
                CaseBands {
                    case: case.clone(),
                    band,
                    anchor,
                }
            };
            let own = bands(end);
            let cases: Vec<CaseBands> = cases.iter().map(in_case).collect();
            let differ = cases.iter().any(|bands| (bands.band, bands.anchor) != own);
            (clause.band, clause.anchor) = own;
            clause.bands = if differ { cases } else { Vec::new() };
        }
        let lowest = cases
            .iter()
            .map(|(_, end)| *end)
            .chain([end])
            .flatten()
            .fold(f64::INFINITY, f64::min);
        let asks_for_presence = self.clauses.iter().any(|clause| clause.band.word() == Band::PRESENCE.word());
        self.note = (asks_for_presence && lowest < Band::PRESENCE.low()).then(|| {
            format!(
                "This guitar's own sound ends at {:.1} kHz, below the presence: there is little of it to change.",
                lowest / 1e3
            )
        });
        self
    }

    /// The same target as one of a guitar's cases has it.
    #[must_use]
    pub(crate) fn in_case(&self, name: Option<&str>) -> Self {
        let in_case = |clause: &Clause| {
            let own = clause.bands.iter().find(|bands| Some(bands.case.as_str()) == name);
            let (band, anchor) = own.map_or((clause.band, clause.anchor), |own| (own.band, own.anchor));
            Clause {
                band,
                anchor,
                bands: Vec::new(),
                ..clause.clone()
            }
        };
        Self {
            clauses: self.clauses.iter().map(in_case).collect(),
            ..self.clone()
        }
    }

    /// What was understood, as a sentence, where it was written otherwise, and what is to be known of it on this guitar.
    #[must_use]
    pub fn echo(&self) -> Option<String> {
        let read_as = self.read_as.as_ref().map(|read_as| format!("Read as: {read_as}."));
        let sentences: Vec<String> = read_as.into_iter().chain(self.note.clone()).collect();
        (!sentences.is_empty()).then(|| sentences.join(" "))
    }

    /// Whether no clause bounds both ways, so that the margin has no ceiling and its best part may be the end of a range.
    #[must_use]
    pub fn is_one_sided(&self) -> bool {
        self.clauses
            .iter()
            .all(|clause| clause.at_least.is_none() || clause.at_most.is_none())
    }
}

/// One bound on one measure (DEVELOPERS.md, "Measures and targets").
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Clause {
    /// What is measured.
    pub measure: Measure,
    /// What it is compared with.
    pub against: Against,
    /// Where.
    pub band: Band,
    /// The band whose mean power levels a shape; only a clause that measures shape has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anchor: Option<Band>,
    /// Where and from what it is measured in each case of the guitar, where that differs; empty where it does not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bands: Vec<CaseBands>,
    /// Each frequency of the band, or the band as a whole.
    pub over: Over,
    /// Volume rotations, 0 to 1; written as on the knob.
    #[serde(serialize_with = "knob::serialize_list")]
    pub volume: Vec<f64>,
    /// Tone rotations, 0 to 1; written as on the knob.
    #[serde(serialize_with = "knob::serialize_list")]
    pub tone: Vec<f64>,
    /// Smallest difference allowed, in dB.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_least: Option<f64>,
    /// Largest difference allowed, in dB.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_most: Option<f64>,
    /// Where in a guitar of several pickups.
    #[serde(flatten)]
    pub place: Place,
}

/// What a clause is measured over in one case of a guitar, whose own sound may end elsewhere than in the next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseBands {
    /// The case's name.
    pub case: String,
    /// Where it is measured.
    pub band: Band,
    /// What it is measured from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anchor: Option<Band>,
}

impl Clause {
    /// The band and the anchor in a case, by its place among the guitar's cases.
    #[must_use]
    pub fn bands_in(&self, case: usize) -> (Band, Option<Band>) {
        self.bands.get(case).map_or((self.band, self.anchor), |own| (own.band, own.anchor))
    }

    /// The band in every case, at least one.
    pub fn each_band(&self) -> impl Iterator<Item = Band> + '_ {
        let count = self.bands.len().max(1);
        (0..count).map(|case| self.bands_in(case).0)
    }

    /// The same with both bounds at `width` dB from the reference.
    #[must_use]
    fn within(self, width: f64) -> Self {
        Self {
            at_least: Some(-width),
            at_most: Some(width),
            ..self
        }
    }
}

/// What a clause measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Measure {
    /// L(v, t, f).
    Level,
    /// L(v, t, f) − A(v, t): the response levelled by its own anchor.
    Shape,
}

/// What a clause compares with.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Against {
    /// The same build with both knobs at full.
    Full,
    /// The guitar as its file describes it, at the same knob positions.
    Present,
    /// 0 dB.
    Flat,
    /// A wanted curve.
    Curve(WantedCurve),
}

/// A curve in dB over frequency and the name it was written by.
#[derive(Debug, Clone, PartialEq)]
pub struct WantedCurve {
    /// As written in the target.
    pub name: String,
    /// Frequency in Hz, level in dB.
    pub curve: Curve,
}

impl Serialize for WantedCurve {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.name)
    }
}

/// A frequency band, ends included.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(into = "[f64; 2]")]
pub struct Band {
    low: Hertz,
    high: Hertz,
    ends: Ends,
}

/// Where a band ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Ends {
    /// Where it is written.
    #[default]
    AsWritten,
    /// Where the guitar's own sound ends, between 2500 and 6000 Hz.
    Highs,
    /// The same, between 3500 and 5000 Hz.
    Presence,
    /// Where the highs end, or at 4000 Hz: what a change of another band keeps.
    Kept,
    /// One and a half times as high as the guitar's own sound goes, so that it holds all that makes a guitar bright or dark.
    Brightness,
}

/// The highest end of [`Band::BRIGHTNESS`] in Hz, also where the guitar's sound has no end, and the lowest.
const BRIGHTNESS_ENDS: [f64; 2] = [2500.0, 15e3];

impl From<Band> for [f64; 2] {
    fn from(band: Band) -> Self {
        [band.low.value(), band.high.value()]
    }
}

/// Lowest and highest frequency a band may reach, in Hz.
pub const BAND_LIMITS: [f64; 2] = [1.0, 50e3];

/// The anchor of a shape unless told.
pub const DEFAULT_ANCHOR: Band = Band::fixed(100.0, 400.0);

impl Band {
    /// A band of the language itself. Only ever evaluated by the compiler.
    #[allow(clippy::panic, reason = "the compiler stops here, never the program")]
    const fn fixed(low: f64, high: f64) -> Self {
        Self::ending(low, high, Ends::AsWritten)
    }

    /// What the words "highs" and "presence" mean, what a change of another band keeps of the highs, and what is bright.
    pub(crate) const HIGHS: Self = Self::ending(1500.0, 6000.0, Ends::Highs);
    pub(crate) const PRESENCE: Self = Self::ending(2500.0, 5000.0, Ends::Presence);
    pub(crate) const KEPT_HIGHS: Self = Self::ending(1500.0, 4000.0, Ends::Kept);
    pub(crate) const BRIGHTNESS: Self = Self::ending(1500.0, BRIGHTNESS_ENDS[1], Ends::Brightness);

    #[allow(clippy::panic, reason = "the compiler stops here, never the program")]
    const fn ending(low: f64, high: f64, ends: Ends) -> Self {
        match (Hertz::new(low), Hertz::new(high)) {
            (Some(low), Some(high)) => Self { low, high, ends },
            _ => panic!("a fixed band is finite"),
        }
    }

    /// The band from `low` to `high` Hz, if both lie within [`BAND_LIMITS`] and `low` is below `high`.
    #[must_use]
    pub fn new(low: f64, high: f64) -> Option<Self> {
        let [lowest, highest] = BAND_LIMITS;
        if lowest <= low && low < high && high <= highest {
            Some(Self {
                low: Hertz::new(low)?,
                high: Hertz::new(high)?,
                ends: Ends::AsWritten,
            })
        } else {
            None
        }
    }

    /// The same band where a guitar's own sound ends at a frequency in Hz, or nowhere; a band in Hz stays as written.
    #[must_use]
    pub fn at_own_end(self, end: Option<f64>) -> Self {
        let between = |low: f64, high: f64| end.map_or(high, |end| end.clamp(low, high));
        let high = match self.ends {
            Ends::AsWritten => return self,
            Ends::Highs => between(2500.0, 6000.0),
            Ends::Presence => between(3500.0, 5000.0),
            Ends::Kept => between(2500.0, 6000.0).min(4000.0),
            Ends::Brightness => {
                let [lowest, highest] = BRIGHTNESS_ENDS;
                end.map_or(highest, |end| (1.5 * end).clamp(lowest, highest))
            }
        };
        Hertz::new(high).map_or(self, |high| Self { high, ..self })
    }

    /// The band that a word means whatever the guitar: where it ends is told by the guitar's own sound.
    #[must_use]
    pub fn known(word: &str) -> Option<Self> {
        [Self::HIGHS, Self::PRESENCE, Self::BRIGHTNESS, Self::KEPT_HIGHS]
            .into_iter()
            .find(|band| band.word() == Some(word))
    }

    /// Whether its upper end is exactly where the sound of a guitar ends.
    #[must_use]
    pub(crate) fn ends_with_the_sound(self) -> bool {
        let inside = |low: f64, high: f64| low < self.high() && self.high() < high;
        match self.ends {
            Ends::Highs => inside(2500.0, 6000.0),
            Ends::Presence => inside(3500.0, 5000.0),
            Ends::AsWritten | Ends::Kept | Ends::Brightness => false,
        }
    }

    /// The word that means this band whatever the guitar.
    #[must_use]
    pub(crate) const fn word(self) -> Option<&'static str> {
        match self.ends {
            Ends::AsWritten => None,
            Ends::Kept => Some("kept highs"),
            Ends::Highs => Some("highs"),
            Ends::Presence => Some("presence"),
            Ends::Brightness => Some("brightness"),
        }
    }

    /// Lower end in Hz.
    #[must_use]
    pub fn low(self) -> f64 {
        self.low.value()
    }

    /// Upper end in Hz.
    #[must_use]
    pub fn high(self) -> f64 {
        self.high.value()
    }
}

/// What of a band a clause bounds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Over {
    /// Each frequency.
    #[default]
    Every,
    /// The level of the mean power.
    Mean,
    /// The mean of the levels in dB, each point of the band's grid alike.
    Average,
}
