//! The rest of a guitar: what a wish does not speak of, judged as the definition reads, by the second solver alone.

use knobwright::circuit::Setting;
use knobwright::guitar::Guitar;
use knobwright::target::{Clause, Measure, Target};

use super::naive::{grid, mean_level};
use super::twin;

/// The bands in Hz; the highs end where the guitar's own sound ends.
const LOWS: [f64; 2] = [80.0, 250.0];
const MIDS: [f64; 2] = [250.0, 1500.0];
const HIGHS_BEGIN: f64 = 1500.0;
const LOUDNESS: [f64; 2] = [100.0, 1500.0];
const ANCHOR: [f64; 2] = [100.0, 400.0];
/// Between which frequencies in Hz the highs may end.
const HIGHS_END: [f64; 2] = [2500.0, 6000.0];

/// What the present guitar itself breaks may be worse by so many dB, which nobody hears.
const UNHEARD: f64 = 0.5;

/// By how many dB the levels may differ, and the share of a knob's work that must be left.
#[derive(Debug, Clone, Copy)]
pub struct Widths {
    pub full: f64,
    pub volume: f64,
    pub volume_highs: f64,
    pub quarter_volume: f64,
    pub low_volume: f64,
    pub tone: f64,
    pub knobs: f64,
}

/// The working rules of the guide.
pub const USUAL: Widths = Widths {
    full: 3.0,
    volume: 6.0,
    volume_highs: 3.0,
    quarter_volume: 9.0,
    low_volume: 12.0,
    tone: 6.0,
    knobs: 0.5,
};

/// One guard: by how many dB something may differ, and differs.
#[derive(Debug, Clone)]
pub struct Guard {
    pub what: String,
    pub difference_db: f64,
    /// From, to.
    pub allowed_db: [f64; 2],
}

impl Guard {
    /// How many dB are left before it breaks.
    pub fn margin_db(&self) -> f64 {
        let [low, high] = self.allowed_db;
        (high - self.difference_db).min(self.difference_db - low)
    }
}

fn at(volume: f64, tone: f64) -> Setting {
    Setting { volume, tone }
}

/// The level of the mean power over a band in dB; −∞ where silent.
fn level(guitar: &Guitar, setting: Setting, [low, high]: [f64; 2]) -> f64 {
    let levels: Vec<f64> = grid(low, high)
        .into_iter()
        .map(|frequency| 20.0 * twin::transfer(guitar, setting, frequency).norm().log10())
        .collect();
    mean_level(&levels)
}

/// Where the guitar's own sound ends in Hz: the first frequency above its resonance, else above 1 kHz, that is 3.01 dB below the mean of 100
/// to 400 Hz with everything at full. None up to 50 kHz.
pub fn own_end(guitar: &Guitar) -> Option<f64> {
    let level_at = |frequency: f64| 20.0 * twin::transfer(guitar, at(1.0, 1.0), frequency).norm().log10();
    let least = level(guitar, at(1.0, 1.0), ANCHOR) - 3.01;
    let start = resonance(&level_at, least + 3.01).unwrap_or(1000.0);
    let steps = (0..).map(|step| start * 2.0_f64.powf(f64::from(step) / 96.0));
    let mut below = steps
        .take_while(|frequency| *frequency < 50e3)
        .filter(|frequency| level_at(*frequency) <= least);
    let (mut high, mut low) = (below.next()?, 0.0);
    if high > start {
        low = high / 2.0_f64.powf(1.0 / 96.0);
    }
    for _ in 0..60 {
        let middle = 0.5 * (low.max(start) + high);
        if level_at(middle) <= least {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
}

/// The highest interior maximum between 200 Hz and 20 kHz that stands 0.5 dB above the anchor and above the minima beside it.
fn resonance(at: &impl Fn(f64) -> f64, anchor: f64) -> Option<f64> {
    let points: Vec<f64> = (0..=637).map(|step| 200.0 * 2.0_f64.powf(f64::from(step) / 96.0)).collect();
    let levels: Vec<f64> = points.iter().map(|frequency| at(*frequency)).collect();
    let is_top = |index: &usize| levels[*index] > levels[index - 1] && levels[*index] >= levels[index + 1];
    let top = (1..levels.len() - 1)
        .filter(is_top)
        .max_by(|one, other| levels[*one].total_cmp(&levels[*other]))?;
    // Walks down to the nearest minimum on either side.
    let down = |mut index: usize, step: isize| {
        while let Some(next) = index.checked_add_signed(step).filter(|next| *next < levels.len()) {
            if levels[next] > levels[index] {
                break;
            }
            index = next;
        }
        levels[index]
    };
    let least = down(top, -1).max(down(top, 1)).max(anchor) + 0.5;
    (levels[top] >= least).then(|| points[top])
}

/// Every guard of a target between the present guitar and a build, in one case of both, as wide as usual.
pub fn guards(present: &Guitar, build: &Guitar, target: &Target) -> Vec<Guard> {
    guards_within(present, build, target, USUAL)
}

/// The same with widths of one's own.
pub fn guards_within(present: &Guitar, build: &Guitar, target: &Target, widths: Widths) -> Vec<Guard> {
    let end = own_end(present).unwrap_or(HIGHS_END[1]).clamp(HIGHS_END[0], HIGHS_END[1]);
    // Another volume pot has another travel, which is judged as its own.
    let mut turned = present.clone();
    turned.volume.pot = build.volume.pot.clone();
    let judge = Judge {
        present,
        bare: without_bleed(&turned),
        turned,
        build,
        target,
        widths,
        highs: [HIGHS_BEGIN, end],
    };
    let mut guards = judge.at_full();
    guards.extend(judge.at_volumes());
    guards.extend(judge.still_turns_down());
    if present.tone.is_some() && build.tone.is_some() {
        guards.extend(judge.at_tones());
        guards.extend(judge.still_closes());
    }
    guards
}

fn without_bleed(guitar: &Guitar) -> Guitar {
    let mut bare = guitar.clone();
    bare.volume.bleed = None;
    bare
}

struct Judge<'a> {
    present: &'a Guitar,
    /// With the build's volume pot.
    turned: Guitar,
    /// The present guitar without its treble bleed, which the volume knob is compared with.
    bare: Guitar,
    build: &'a Guitar,
    target: &'a Target,
    widths: Widths,
    highs: [f64; 2],
}

impl Judge<'_> {
    fn names(&self) -> [(&'static str, [f64; 2]); 3] {
        [("lows", LOWS), ("mids", MIDS), ("highs", self.highs)]
    }

    /// The level in a band against `reference`; a guard that the present guitar breaks is as wide as it needs.
    fn level(&self, reference: &Guitar, setting: Setting, name: &str, band: [f64; 2], [low, high]: [f64; 2]) -> Option<Guard> {
        let known = level(reference, setting, band);
        let present = if setting.volume < 1.0 { &self.turned } else { self.present };
        let now = level(present, setting, band) - known;
        if !known.is_finite() || !now.is_finite() || self.speaks_of_level(setting, band) {
            return None;
        }
        Some(Guard {
            what: format!("{name} at volume {} and tone {}", 10.0 * setting.volume, 10.0 * setting.tone),
            difference_db: level(self.build, setting, band) - known,
            allowed_db: [low.min(now - UNHEARD), high.max(now + UNHEARD)],
        })
    }

    /// Whether a clause bounds the level over more than half of a band, in octaves, at a knob position.
    fn speaks_of_level(&self, setting: Setting, band: [f64; 2]) -> bool {
        self.target.clauses.iter().any(|clause| {
            clause.measure == Measure::Level
                && clause.volume.contains(&setting.volume)
                && clause.tone.contains(&setting.tone)
                && covers(clause, band)
        })
    }

    fn at_full(&self) -> Vec<Guard> {
        let names = self.names().into_iter();
        names
            .filter_map(|(name, band)| self.level(self.present, at(1.0, 1.0), name, band, within(self.widths.full)))
            .collect()
    }

    fn at_volumes(&self) -> Vec<Guard> {
        let mut guards = Vec::new();
        for volume in [0.75, 0.5] {
            for (name, band) in self.names() {
                let allowed = if name == "highs" {
                    [-self.widths.volume_highs, f64::INFINITY]
                } else {
                    within(self.widths.volume)
                };
                guards.extend(self.level(&self.bare, at(volume, 1.0), name, band, allowed));
            }
        }
        for (volume, width) in [(0.25, self.widths.quarter_volume), (0.1, self.widths.low_volume)] {
            guards.extend(self.level(&self.bare, at(volume, 1.0), "loudness", LOUDNESS, within(width)));
        }
        guards
    }

    fn at_tones(&self) -> Vec<Guard> {
        let positions = [0.75, 0.5, 0.25, 0.0];
        let bands = [("lows", LOWS), ("mids", MIDS)];
        let each = positions
            .iter()
            .flat_map(|tone| bands.iter().map(move |(name, band)| (*tone, *name, *band)));
        each.filter_map(|(tone, name, band)| self.level(self.present, at(1.0, tone), name, band, within(self.widths.tone)))
            .collect()
    }

    /// By how many dB a closed tone knob takes off highs, loudness set aside.
    fn closed_cut(&self, guitar: &Guitar) -> f64 {
        let shape = |setting| level(guitar, setting, self.highs) - level(guitar, setting, ANCHOR);
        shape(at(1.0, 1.0)) - shape(at(1.0, 0.0))
    }

    fn still_closes(&self) -> Option<Guard> {
        let speaks = |clause: &Clause| clause.tone.contains(&0.0) && covers(clause, self.highs);
        let now = self.closed_cut(self.present);
        if !now.is_finite() || self.target.clauses.iter().any(speaks) {
            return None;
        }
        Some(Guard {
            what: "what the closed tone knob takes off".to_owned(),
            difference_db: self.closed_cut(self.build),
            allowed_db: [(now - UNHEARD).min(now * self.widths.knobs), f64::INFINITY],
        })
    }

    fn still_turns_down(&self) -> Vec<Guard> {
        let speaks = |clause: &Clause| clause.measure == Measure::Level && clause.volume.iter().any(|volume| *volume <= 0.1);
        if self.target.clauses.iter().any(speaks) {
            return Vec::new();
        }
        let steps = [(1.0, 0.75), (0.75, 0.5), (0.5, 0.25), (0.25, 0.1)];
        let fall = |guitar: &Guitar, (from, to): (f64, f64)| level(guitar, at(from, 1.0), LOUDNESS) - level(guitar, at(to, 1.0), LOUDNESS);
        let guard = |step: (f64, f64), least: f64| {
            let [bare, now] = [&self.bare, &self.turned].map(|guitar| fall(guitar, step));
            (bare.is_finite() && now.is_finite()).then(|| Guard {
                what: format!("the fall from volume {} to {}", 10.0 * step.0, 10.0 * step.1),
                difference_db: fall(self.build, step),
                allowed_db: [(least * bare).min(now - UNHEARD), f64::INFINITY],
            })
        };
        let whole = guard((1.0, 0.1), self.widths.knobs);
        steps.into_iter().filter_map(|step| guard(step, 0.0)).chain(whole).collect()
    }
}

fn within(width: f64) -> [f64; 2] {
    [-width, width]
}

/// Whether a clause's band holds more than half of another in octaves.
fn covers(clause: &Clause, [low, high]: [f64; 2]) -> bool {
    let shared = clause.band.high().min(high).ln() - clause.band.low().max(low).ln();
    shared > 0.5 * (high / low).ln()
}
