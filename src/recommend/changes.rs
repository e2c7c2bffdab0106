//! What a build changes besides what was wished for: the level in every region of the sound at every position that is guarded, and what the
//! closed tone knob takes off.

use serde::Serialize;

use crate::circuit::Setting;
use crate::guitar::{Case, Guitar};
use crate::kernel::guards::{self, Region};
use crate::kernel::measure::decibels;
use crate::kernel::response::mean_power;
use crate::target::Clause;

/// A change below this, in dB, is not worth a line.
pub const WORTH_A_LINE: f64 = 3.0;

/// One thing that a build changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideEffect {
    /// What changes; none for what the closed tone knob takes off.
    pub region: Option<Region>,
    /// Where.
    pub at: Setting,
    /// The level with the build less the level now, in dB; for the closed tone knob how much more it takes off.
    pub difference_db: f64,
    /// What the closed tone knob takes off now, in dB; 0 for a level.
    pub now_db: f64,
}

/// What a build changes where the target does not speak, as JSON has it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// As a sentence.
    pub says: String,
    /// `lows`, `mids`, `highs`, `loudness`, `closed tone` or `volume travel`.
    pub band: &'static str,
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// In dB.
    pub difference_db: f64,
    /// How many dB are allowed; none where nothing is broken.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed_db: Option<f64>,
}

/// The figures of the present guitar that builds are compared with.
pub(crate) struct Known<'a> {
    wish: &'a [Clause],
    has_tone: bool,
    cases: Vec<Levels>,
}

/// The levels of one guitar in one case.
struct Levels {
    highs_end: f64,
    /// Position by position, lows, mids and highs in dB.
    levels: Vec<[f64; 3]>,
    /// What the closed tone knob takes off, in dB.
    cut: f64,
}

const REGIONS: [Region; 3] = [Region::Lows, Region::Mids, Region::Highs];

impl Levels {
    fn new(guitar: &Guitar, highs_end: f64) -> Self {
        let level = |setting, band: [f64; 2]| decibels(mean_power(guitar, setting, &guards::grid(band)));
        let levels = guards::positions(guitar.tone.is_some())
            .map(|setting| REGIONS.map(|region| level(setting, region.band(highs_end))))
            .collect();
        let shape = |setting| level(setting, Region::Highs.band(highs_end)) - level(setting, guards::ANCHOR);
        Self {
            highs_end,
            levels,
            cut: shape(Setting::FULL) - shape(guards::CLOSED),
        }
    }
}

impl<'a> Known<'a> {
    /// Of the present guitar; what a wish speaks of is no side effect.
    pub(crate) fn new(present: &Guitar, wish: &'a [Clause]) -> Self {
        let cases = present.in_cases();
        Self {
            wish,
            has_tone: present.tone.is_some(),
            cases: cases.iter().map(|case| Levels::new(case, guards::highs_end(case))).collect(),
        }
    }

    /// Everything that a build changes where the target does not speak, the largest first; of several cases the largest counts.
    pub(crate) fn side_effects(&self, build: &Guitar) -> Vec<SideEffect> {
        let mut found: Vec<SideEffect> = Vec::new();
        for (known, case) in self.cases.iter().zip(build.in_cases()) {
            let own = Levels::new(&case, known.highs_end);
            for effect in self.in_case(known, &own) {
                match found
                    .iter_mut()
                    .find(|other| other.region == effect.region && other.at == effect.at)
                {
                    Some(other) if other.difference_db.abs() >= effect.difference_db.abs() => {}
                    Some(other) => *other = effect,
                    None => found.push(effect),
                }
            }
        }
        found.sort_by(|one, other| other.difference_db.abs().total_cmp(&one.difference_db.abs()));
        found
    }

    fn in_case(&self, known: &Levels, own: &Levels) -> Vec<SideEffect> {
        let mut effects = Vec::new();
        let rows = guards::positions(self.has_tone).zip(known.levels.iter().zip(&own.levels));
        for (at, (now, then)) in rows {
            for (region, (now, then)) in REGIONS.into_iter().zip(now.iter().zip(then)) {
                let difference = then - now;
                if difference.is_finite() && !guards::speaks_of(self.wish, at, region.band(known.highs_end)) {
                    effects.push(SideEffect {
                        region: Some(region),
                        at,
                        difference_db: difference,
                        now_db: 0.0,
                    });
                }
            }
        }
        let difference = own.cut - known.cut;
        let highs = Region::Highs.band(known.highs_end);
        if self.has_tone && difference.is_finite() && !guards::speaks_of(self.wish, guards::CLOSED, highs) {
            effects.push(SideEffect {
                region: None,
                at: guards::CLOSED,
                difference_db: difference,
                now_db: known.cut,
            });
        }
        effects
    }
}

/// The effects worth a line, those of one position that go the same way in one sentence, the largest first.
pub(crate) fn worth_telling(effects: &[SideEffect]) -> Vec<Told> {
    let mut left: Vec<SideEffect> = effects
        .iter()
        .filter(|effect| effect.difference_db.abs() > WORTH_A_LINE)
        .copied()
        .collect();
    let mut told = Vec::new();
    while !left.is_empty() {
        let first = left.remove(0);
        let goes_along = |other: &SideEffect| {
            let is_level = first.region.is_some() && other.region.is_some();
            is_level && other.at == first.at && (other.difference_db > 0.0) == (first.difference_db > 0.0)
        };
        let together: Vec<SideEffect> = std::iter::once(first).chain(left.iter().copied().filter(goes_along)).collect();
        left.retain(|other| !goes_along(other));
        told.push(Told {
            says: sentence(&in_words(&together)),
            band: first.region.map_or("closed tone", Region::word),
            at: first.at,
            difference_db: first.difference_db,
            allowed_db: None,
        });
    }
    told
}

/// Effects of one position that go the same way, as a clause of a sentence.
fn in_words(together: &[SideEffect]) -> String {
    let [first, .., last] = together else {
        return together.first().map(SideEffect::in_words).unwrap_or_default();
    };
    let name = |region| together.iter().any(|effect| effect.region == Some(region));
    let names: Vec<&str> = [(Region::Lows, "bass"), (Region::Mids, "mids"), (Region::Highs, "highs")]
        .into_iter()
        .filter(|(region, _)| name(*region))
        .map(|(_, name)| name)
        .collect();
    let subject = match names.as_slice() {
        [_, _, _] => "the guitar is".to_owned(),
        ["bass", "mids"] => "the guitar below the highs is".to_owned(),
        names => format!("the {} are", names.join(" and ")),
    };
    let [most, least] = [first, last].map(|effect| effect.difference_db.abs().round());
    let size = if most == least {
        format!("{most:.0}")
    } else {
        format!("{least:.0} to {most:.0}")
    };
    let louder = if first.difference_db > 0.0 { "louder" } else { "quieter" };
    format!("{} {subject} {size} dB {louder} than now", position(first.at))
}

/// "with the tone knob closed", "at volume 5".
fn position(at: Setting) -> String {
    match (at.volume, at.tone) {
        (1.0, 1.0) => "with everything at full".to_owned(),
        (volume, 1.0) => format!("at volume {}", knob(volume)),
        (1.0, 0.0) => "with the tone knob closed".to_owned(),
        (1.0, tone) => format!("at tone {}", knob(tone)),
        (volume, tone) => format!("at volume {} and tone {}", knob(volume), knob(tone)),
    }
}

fn knob(rotation: f64) -> String {
    format!("{}", (rotation * 1e4).round() / 1e3)
}

impl SideEffect {
    /// As a clause of a sentence, in lower case and without a full stop.
    #[must_use]
    pub fn in_words(&self) -> String {
        let (at, size) = (position(self.at), self.difference_db.abs());
        let more = self.difference_db > 0.0;
        let louder = if more { "louder" } else { "quieter" };
        match self.region {
            Some(Region::Loudness) => format!("{at} the guitar is {size:.0} dB {louder} than now"),
            Some(Region::Lows) => format!("{at} the bass is {size:.0} dB {louder} than now"),
            Some(Region::Mids) => format!("{at} the mids are {size:.0} dB {louder} than now"),
            Some(Region::Highs) => format!("{at} the highs are {size:.0} dB {louder} than now"),
            None => format!(
                "the closed tone knob takes off {:.0} dB of highs instead of {:.0}",
                self.now_db + self.difference_db,
                self.now_db
            ),
        }
    }
}

/// With a capital letter and a full stop.
pub(super) fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters.next().map(|letter| letter.to_uppercase().collect()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

/// A guard that a build breaks, as JSON has it, with the figures of the plan of that build; where a selector has several positions, with the one
/// in which it does.
pub(super) fn broken(guard: &guards::Guard, difference_db: f64, case: Option<&Case>) -> Option<Told> {
    let combination = guard.clause.combinations.first()?;
    let at = combination.setting;
    let bound = match (guard.clause.at_least, guard.clause.at_most) {
        (Some(low), _) if difference_db < low => low,
        (_, Some(high)) => high,
        (Some(low), None) => low,
        (None, None) => return None,
    };
    let (band, says) = match guard.about {
        guards::About::Level(region) => {
            let effect = SideEffect {
                region: Some(region),
                at,
                difference_db: difference_db - guard.now_db,
                now_db: 0.0,
            };
            (region.word(), effect.in_words())
        }
        guards::About::ClosedTone => {
            let effect = SideEffect {
                region: None,
                at,
                // A cut is a fall: what is taken off is counted the other way.
                difference_db: guard.now_db - difference_db,
                now_db: -guard.now_db,
            };
            ("closed tone", effect.in_words())
        }
        guards::About::Falls { from } => {
            let travel = format!("from volume {} to {}", knob(from), knob(at.volume));
            let says = if difference_db >= 0.0 {
                format!("{travel} the guitar gets no quieter")
            } else {
                format!(
                    "{travel} the guitar gets only {:.0} dB quieter instead of {:.0}",
                    -difference_db, -guard.now_db
                )
            };
            ("volume travel", says)
        }
    };
    let position = case.filter(|case| case.position.is_some());
    let place = position
        .map(|case| format!(" in the position \"{}\"", case.name))
        .unwrap_or_default();
    Some(Told {
        says: sentence(&format!("{says}{place}")),
        band,
        at,
        difference_db,
        allowed_db: Some(bound),
    })
}
