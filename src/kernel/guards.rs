//! Guards: what a wish does not speak of, and a build must keep nevertheless. First, do no harm.
//!
//! A guard compares a build with the present guitar at the same knob positions, case by case, in mean power level. It has no share in
//! the margin: a build keeps every guard or is not offered. Which positions are watched is a working rule of our own, as is how much may
//! change there unless the target says so (`target/guards.rs`).

use crate::circuit::Setting;
use crate::guitar::{Case, Guitar};
use crate::kernel::features::own_end;
use crate::kernel::grid::{POINTS_PER_OCTAVE, frequencies};
use crate::kernel::measure::{decibels, larger, mean, smaller};
use crate::kernel::placed::{is_own, speaks_in};
use crate::kernel::plan::{Combination, Draft, Knobs, Measured, PlannedClause, Reference};
use crate::kernel::response::powers;
use crate::target::{Band, Clause, Guards, Measure, Over, Target};

/// Volume positions, as rotations, where bands are watched one by one.
const VOLUMES: [f64; 2] = [0.75, 0.5];
/// Volume positions where only loudness is watched.
const QUIET_VOLUMES: [f64; 2] = [0.25, 0.1];
/// Tone positions, with the volume at full.
const TONES: [f64; 4] = [0.75, 0.5, 0.25, 0.0];
/// The volume positions between which the loudness must fall.
const FALLS_OVER: [f64; 5] = [1.0, 0.75, 0.5, 0.25, 0.1];

/// The bands in Hz; the highs end where the guitar's own sound ends.
const LOWS: [f64; 2] = [80.0, 250.0];
const MIDS: [f64; 2] = [250.0, 1500.0];
const HIGHS_BEGIN: f64 = 1500.0;
const LOUDNESS: [f64; 2] = [100.0, 1500.0];
pub(crate) const ANCHOR: [f64; 2] = [100.0, 400.0];
/// The lowest and the highest frequency at which the highs may end, in Hz.
const HIGHS_END: [f64; 2] = [2500.0, 6000.0];

/// A guard that the present guitar breaks, or nearly, allows so much beyond the present guitar, in dB: no worse than nobody hears. Else another tone
/// capacitor, which moves everything by hundredths of a dB, would count as harm.
const UNHEARD: f64 = 0.5;

/// One guard in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct Guard {
    /// What it watches.
    pub about: About,
    /// The present guitar's own difference, in dB: 0 where it is what is compared with.
    pub now_db: f64,
    /// Its bounds, with one knob position.
    pub clause: PlannedClause,
}

/// What a guard watches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum About {
    /// The level in a region of the sound.
    Level(Region),
    /// What the closed tone knob takes off the highs, loudness set aside.
    ClosedTone,
    /// How far the loudness falls from a volume rotation to the guard's own position.
    Falls {
        /// Where the fall begins.
        from: f64,
    },
}

/// A region of the sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Region {
    /// 80 to 250 Hz.
    Lows,
    /// 250 to 1500 Hz.
    Mids,
    /// 1500 Hz to where the guitar's own sound ends.
    Highs,
    /// 100 to 1500 Hz: what makes a guitar loud.
    Loudness,
}

impl Region {
    /// The band in Hz, given where the highs end.
    #[must_use]
    pub(crate) const fn band(self, highs_end: f64) -> [f64; 2] {
        match self {
            Self::Lows => LOWS,
            Self::Mids => MIDS,
            Self::Highs => [HIGHS_BEGIN, highs_end],
            Self::Loudness => LOUDNESS,
        }
    }

    /// The word on the screen and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Lows => "lows",
            Self::Mids => "mids",
            Self::Highs => "highs",
            Self::Loudness => "loudness",
        }
    }
}

/// The closed tone knob.
pub(crate) const CLOSED: Setting = Setting { volume: 1.0, tone: 0.0 };

/// Every knob position that is guarded.
pub(crate) fn positions(has_tone: bool) -> impl Iterator<Item = Setting> {
    let volumes = [1.0]
        .into_iter()
        .chain(VOLUMES)
        .chain(QUIET_VOLUMES)
        .map(|volume| Setting { volume, tone: 1.0 });
    let tones = TONES
        .into_iter()
        .filter(move |_| has_tone)
        .map(|tone| Setting { volume: 1.0, tone });
    volumes.chain(tones)
}

/// Whether clauses bound anything over more than half of a band, in octaves, at a knob position.
pub(crate) fn speaks_of(clauses: &[Clause], setting: Setting, band: [f64; 2]) -> bool {
    clauses
        .iter()
        .any(|clause| speaks_at(clause, setting) && clause.each_band().any(|own| covers(own, band)))
}

/// Where the highs of a guitar end for everything that is said of them, in Hz.
#[must_use]
pub fn highs_end(present: &Guitar) -> f64 {
    let [lowest, highest] = HIGHS_END;
    own_end(present).map_or(highest, |end| end.clamp(lowest, highest))
}

/// The guards of a target, given build and present guitar in each case.
pub(super) fn of(target: &Target, builds: &[Guitar], presents: &[Guitar], cases: &[Case], draft: &mut Draft) -> Vec<Guard> {
    let mut guards = Vec::new();
    for (case, (build, present)) in builds.iter().zip(presents).enumerate() {
        let own = cases.get(case);
        if !is_own(own) {
            continue;
        }
        let mut turned = present.clone();
        turned.volume.pot.clone_from(&build.volume.pot);
        let mut bare = turned.clone();
        bare.volume.bleed = None;
        let mut watch = Watch {
            widths: &target.guards,
            clauses: target.clauses.iter().filter(|clause| speaks_in(clause, own)).collect(),
            case,
            present,
            turned,
            bare,
            highs_end: highs_end(present),
            draft,
            guards: &mut guards,
        };
        watch.at_full();
        if present.volume.is_fitted {
            watch.at_volumes();
            watch.still_turns_down();
        }
        if present.tone.is_some() {
            watch.at_tones();
            watch.still_closes();
        }
    }
    guards
}

/// The guards of one case, as they are made.
struct Watch<'a> {
    widths: &'a Guards,
    /// Those of the target that say something of this case.
    clauses: Vec<&'a Clause>,
    case: usize,
    present: &'a Guitar,
    /// With the build's volume pot, for positions where the volume is turned down: another pot is another travel, which is judged as its own.
    turned: Guitar,
    /// The same without a treble bleed, so that a knob that was improved once is not made a little worse by every further improvement.
    bare: Guitar,
    highs_end: f64,
    draft: &'a mut Draft,
    guards: &'a mut Vec<Guard>,
}

impl Watch<'_> {
    fn at_full(&mut self) {
        for region in [Region::Lows, Region::Mids, Region::Highs] {
            self.level(Setting::FULL, region, within(self.widths.full));
        }
    }

    fn at_volumes(&mut self) {
        for volume in VOLUMES {
            let setting = Setting { volume, tone: 1.0 };
            for region in [Region::Lows, Region::Mids] {
                self.level(setting, region, within(self.widths.volume));
            }
            self.level(setting, Region::Highs, [-self.widths.volume_highs, f64::INFINITY]);
        }
        let Guards {
            quarter_volume,
            low_volume,
            ..
        } = *self.widths;
        for (volume, width) in QUIET_VOLUMES.into_iter().zip([quarter_volume, low_volume]) {
            self.level(Setting { volume, tone: 1.0 }, Region::Loudness, within(width));
        }
    }

    fn at_tones(&mut self) {
        for tone in TONES {
            for region in [Region::Lows, Region::Mids] {
                self.level(Setting { volume: 1.0, tone }, region, within(self.widths.tone));
            }
        }
    }

    /// The level at a position within so many dB of what it is now; with a knob other than the volume turned, or none, of the present guitar.
    fn level(&mut self, setting: Setting, region: Region, [low, high]: [f64; 2]) {
        let band = region.band(self.highs_end);
        let (reference, present) = if setting.volume < 1.0 {
            (&self.bare, &self.turned)
        } else {
            (self.present, self.present)
        };
        let (Some(known), Some(present)) = (level(reference, setting, band), level(present, setting, band)) else {
            return;
        };
        let covers = |clause: &Clause| covers(clause.bands_in(self.case).0, band);
        let speaks = |clause: &Clause| clause.measure == Measure::Level && speaks_at(clause, setting) && covers(clause);
        if self.clauses.iter().copied().any(speaks) {
            return;
        }
        let now = present - known;
        let bounds = [smaller(low, now - UNHEARD), larger(high, now + UNHEARD)];
        let measured = self.points(setting, [band, [0.0; 2]]);
        self.add(
            (About::Level(region), now),
            setting,
            measured,
            Reference::Known(vec![known]),
            bounds,
        );
    }

    /// The closed tone knob must still close.
    fn still_closes(&mut self) {
        let (closed, highs) = (CLOSED, Region::Highs.band(self.highs_end));
        let speaks = |clause: &Clause| clause.tone.contains(&0.0) && covers(clause.bands_in(self.case).0, highs);
        let shape = |setting| Some(level(self.present, setting, highs)? - level(self.present, setting, ANCHOR)?);
        let (Some(at_full), Some(at_closed)) = (shape(Setting::FULL), shape(closed)) else {
            return;
        };
        if self.clauses.iter().copied().any(speaks) {
            return;
        }
        let change = at_closed - at_full;
        let most = larger(self.widths.knobs * change, change + UNHEARD);
        let [here, elsewhere] = [closed, Setting::FULL].map(|setting| self.points(setting, [highs, ANCHOR]));
        self.add(
            (About::ClosedTone, change),
            closed,
            here,
            Reference::Build(elsewhere),
            [f64::NEG_INFINITY, most],
        );
    }

    /// The volume knob must still turn down, all the way.
    fn still_turns_down(&mut self) {
        let [_, _, _, _, last] = FALLS_OVER;
        let speaks = |clause: &Clause| clause.measure == Measure::Level && clause.volume.iter().any(|volume| *volume <= last);
        if self.clauses.iter().copied().any(speaks) {
            return;
        }
        for (from, to) in FALLS_OVER.into_iter().zip(FALLS_OVER.into_iter().skip(1)) {
            self.falls(from, to, 0.0);
        }
        self.falls(1.0, last, self.widths.knobs);
    }

    /// The loudness falls by at least a share of what it falls by now.
    fn falls(&mut self, from: f64, to: f64, share: f64) {
        let [from_setting, to_setting] = [from, to].map(|volume| Setting { volume, tone: 1.0 });
        let change = |guitar: &Guitar| Some(level(guitar, to_setting, LOUDNESS)? - level(guitar, from_setting, LOUDNESS)?);
        let (Some(bare), Some(present)) = (change(&self.bare), change(&self.turned)) else {
            return;
        };
        let most = larger(share * bare, present + UNHEARD);
        let [here, elsewhere] = [to_setting, from_setting].map(|setting| self.points(setting, [LOUDNESS, [0.0; 2]]));
        self.add(
            (About::Falls { from }, present),
            to_setting,
            here,
            Reference::Build(elsewhere),
            [f64::NEG_INFINITY, most],
        );
    }

    /// The points of a band and an anchor; a band that ends at 0 Hz is none.
    fn points(&mut self, setting: Setting, bands: [[f64; 2]; 2]) -> Measured {
        let knobs: Knobs = (self.case, setting);
        let [band, anchor] = bands.map(|band| if band[1] > 0.0 { grid(band) } else { Vec::new() });
        self.draft.points_of(knobs, [&band, &anchor])
    }

    fn add(&mut self, (about, now_db): (About, f64), setting: Setting, measured: Measured, reference: Reference, [low, high]: [f64; 2]) {
        let combination = Combination {
            case: self.case,
            setting,
            measured,
            reference,
        };
        self.guards.push(Guard {
            about,
            now_db,
            clause: PlannedClause {
                at_least: Some(low).filter(|low| low.is_finite()),
                at_most: Some(high).filter(|high| high.is_finite()),
                over: Over::Mean,
                combinations: vec![combination],
            },
        });
    }
}

const fn within(width: f64) -> [f64; 2] {
    [-width, width]
}

pub(crate) fn grid([low, high]: [f64; 2]) -> Vec<f64> {
    frequencies(low, high, POINTS_PER_OCTAVE)
}

/// The mean power level of a band in dB; `None` where the guitar is silent.
fn level(guitar: &Guitar, setting: Setting, band: [f64; 2]) -> Option<f64> {
    let powers = powers(guitar, setting, &grid(band));
    let level = decibels(mean(powers.iter().copied()));
    (powers.iter().all(|power| *power > 0.0) && level.is_finite()).then_some(level)
}

fn speaks_at(clause: &Clause, setting: Setting) -> bool {
    clause.volume.contains(&setting.volume) && clause.tone.contains(&setting.tone)
}

/// Whether a band holds more than half of another, in octaves.
fn covers(band: Band, [low, high]: [f64; 2]) -> bool {
    let shared = (band.high().min(high) / band.low().max(low)).ln();
    shared > 0.5 * (high / low).ln()
}
