//! The response of some builds at any knob position: known at nodes of both knobs' travel, interpolated between them by a rule so simple
//! that a page can follow it too.
//!
//! The response is smooth in the wiper fraction w, whatever the taper, so the nodes stand in w and a table leads from rotation to w. A
//! travel is cut into panels of four nodes each, evenly spaced in u = ln((w + near)/(1 + far − w)); within a panel the level in dB is the cubic through
//! its four nodes (Lagrange), in both knobs one after the other. Panels are halved until the cubic is within [`CLOSE_DB`] of the response
//! at points between the nodes.

use rayon::prelude::*;
use serde::{Serialize, Serializer};

use super::curves::SHOWN;
use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::guitar::taper::Taper;
use crate::kernel::grid::frequencies;
use crate::kernel::measure::decibels;
use crate::kernel::response::powers;

/// Points per octave: a readout picks one of them, and straight lines between them stay within 0.09 dB of a resonance of Q = 5.
pub const SWEPT_FINENESS: u32 = 24;
/// More builds than this are not swept.
pub const MOST_SWEPT: usize = 24;

/// Rows of the table from rotation to wiper fraction, less one.
const STEPS: usize = 500;
/// How close the cubic has to be at the points tried, in dB, for one knob.
const CLOSE_DB: f64 = 0.025;
/// Panels are halved so many times at most.
const DEPTH: usize = 6;
/// Volume fractions below this are as good as silent.
const LOWEST: f64 = 1e-4;
/// Where the volume's travel begins, as a rotation.
const FIRST: f64 = 0.01;
/// Near and far of the volume's coordinate: what lies beside the upper part of the track makes the response bend before w = 1.
const VOLUME_SHIFTS: [f64; 2] = [0.0, 0.1];
/// Near and far of the tone's coordinate, which reaches down to w = 0 and is plain at the other end.
const TONE_SHIFTS: [f64; 2] = [0.01, 1000.0];
/// No more values than this are kept, so that a page stays small; builds from the end of the list are left out first.
const MOST_VALUES: usize = 1_000_000;
/// Every so many frequencies one is tried when panels are laid out, both ends among them …
const TRIED: usize = 4;
/// … of so many builds, evenly among all.
const TRIED_BUILDS: usize = 5;

/// Some builds of one guitar at any knob position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sweep {
    /// The case shown, for a guitar with cases.
    pub case: Option<String>,
    /// What that is called: a case, or a position of the selector.
    #[serde(skip)]
    pub case_word: &'static str,
    /// Where the knobs stand at first.
    pub start: Setting,
    /// The builds seen first: before and after, by index.
    pub shown: [usize; 2],
    /// The frequencies in Hz, ascending.
    pub frequencies_hz: Vec<f64>,
    /// The volume knob's travel.
    pub volume: Travel,
    /// The tone knob's travel; one node where there is no tone control.
    pub tone: Travel,
    /// The builds.
    pub builds: Vec<Swept>,
    /// How many builds were left out to keep this small.
    pub left_out: usize,
}

/// A knob's travel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Travel {
    /// The wiper fraction at evenly spaced rotations from 0 to 1; straight lines between them.
    pub fractions: Vec<f64>,
    /// The fractions at which the response is known: panels of four, the last of each the first of the next. Below the first of them the
    /// guitar is as good as silent.
    pub nodes: Vec<f64>,
    /// The coordinate is ln((w + near)/(1 + far − w)).
    pub near: f64,
    /// See near.
    pub far: f64,
    /// Whether the last node stands apart and holds at rotation 1 only (no-load controls).
    pub apart_at_full: bool,
}

/// One build.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Swept {
    /// Its name.
    pub name: String,
    /// At each node of the volume (outer) and of the tone (inner).
    pub levels: Vec<Levels>,
}

/// Levels over the frequencies, in hundredths of a dB.
///
/// As JSON a text, most of it a letter a level: by how much the step to a level differs from the step before (the first two steps from 0).
/// `a` to `z` are 0 to 25, `A` to `Z` are −1 to −26, and anything else is written out and ended by `;`.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels(pub Vec<i32>);

impl Serialize for Levels {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (mut before, mut step_before) = (0, 0);
        let mut text = String::with_capacity(self.0.len() + 16);
        for level in &self.0 {
            let step = level - before;
            push_change(&mut text, step - step_before);
            (before, step_before) = (*level, step);
        }
        serializer.serialize_str(&text)
    }
}

fn push_change(text: &mut String, change: i32) {
    let letter = |first: u8, place: i32| u8::try_from(place).map(|place| char::from(first + place));
    match change {
        0..=25 => text.extend(letter(b'a', change)),
        -26..=-1 => text.extend(letter(b'A', -change - 1)),
        _ => text.push_str(&format!("{change};")),
    }
}

impl Sweep {
    /// The level of a build in dB at each frequency, for any rotations; `None` where it is as good as silent, or there is no such build.
    #[must_use]
    pub fn levels_db(&self, build: usize, knobs: Setting) -> Option<Vec<f64>> {
        let build = self.builds.get(build)?;
        let volume = self.volume.weights(knobs.volume)?;
        let tone = self.tone.weights(knobs.tone)?;
        let mut levels = vec![0.0; self.frequencies_hz.len()];
        for (row, outer) in &volume {
            for (column, inner) in &tone {
                let known = build.levels.get(row * self.tone.nodes.len() + column)?;
                for (level, hundredths) in levels.iter_mut().zip(&known.0) {
                    *level += outer * inner * f64::from(*hundredths) / 100.0;
                }
            }
        }
        Some(levels)
    }
}

impl Travel {
    /// A travel of one node, for a knob that is not there.
    fn still() -> Self {
        Self {
            fractions: vec![1.0, 1.0],
            nodes: vec![1.0],
            near: 0.0,
            far: 1.0,
            apart_at_full: false,
        }
    }

    fn of(taper: &Taper, lowest: f64, [near, far]: [f64; 2]) -> Self {
        let fraction = |step: usize| taper.wiper(step as f64 / STEPS as f64);
        Self {
            fractions: (0..=STEPS).map(fraction).collect(),
            nodes: vec![lowest, 1.0],
            near,
            far,
            apart_at_full: false,
        }
    }

    /// The nodes that matter at a rotation, and by how much each does; `None` where the guitar is as good as silent.
    #[must_use]
    pub fn weights(&self, rotation: f64) -> Option<Vec<(usize, f64)>> {
        let last = self.nodes.len().checked_sub(1)?;
        if last == 0 || (self.apart_at_full && rotation >= 1.0) {
            return Some(vec![(last, 1.0)]);
        }
        let steps = self.fractions.len().checked_sub(1)? as f64;
        let place = rotation.clamp(0.0, 1.0) * steps;
        let below = place.floor().min(steps - 1.0);
        let [low, high] = [below, below + 1.0].map(|step| self.fractions.get(step as usize));
        let (low, high) = low.zip(high)?;
        let fraction = low + (high - low) * (place - below);
        let first = self.nodes.first()?;
        if fraction < first * (1.0 - 1e-9) {
            return None;
        }
        // Panels begin at every third node; a node that stands apart begins none.
        let panels = self.nodes.iter().step_by(3).take((last - usize::from(self.apart_at_full)) / 3);
        let start = 3 * panels.filter(|left| **left <= fraction).count().saturating_sub(1);
        let nodes: Vec<f64> = self
            .nodes
            .get(start..start + 4)?
            .iter()
            .map(|node| self.coordinate(*node))
            .collect();
        let at = self.coordinate(fraction);
        Some(
            lagrange(&nodes, at)
                .into_iter()
                .enumerate()
                .map(|(index, weight)| (start + index, weight))
                .collect(),
        )
    }

    fn coordinate(&self, fraction: f64) -> f64 {
        ((fraction + self.near) / (1.0 + self.far - fraction)).ln()
    }

    /// Lays panels so that the cubic through their nodes is close to some levels, which are known at any fraction.
    fn lay(&mut self, levels: &dyn Fn(f64) -> Vec<f64>) {
        let ends = [self.nodes.first(), self.nodes.last()].map(|end| end.copied().unwrap_or(1.0));
        let mut nodes = vec![ends[0]];
        self.panel(ends.map(|end| self.coordinate(end)), levels, DEPTH, &mut nodes);
        if let Some(last) = nodes.last_mut() {
            *last = ends[1];
        }
        self.nodes = nodes;
    }

    fn panel(&self, ends: [f64; 2], levels: &dyn Fn(f64) -> Vec<f64>, depth: usize, nodes: &mut Vec<f64>) {
        let at = |share: f64| ends[0] + (ends[1] - ends[0]) * share;
        // ln and exp miss the ends by a rounding error, which a fraction of 0 or 1 does not survive.
        let fraction = |coordinate: f64| {
            let ratio = coordinate.exp();
            ((ratio * (1.0 + self.far) - self.near) / (1.0 + ratio)).clamp(0.0, 1.0)
        };
        let places = [0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0].map(at);
        let known = places.map(|place| levels(fraction(place)));
        let is_close = |share: f64| {
            let weights = lagrange(&places, at(share));
            let wanted = levels(fraction(at(share)));
            wanted.iter().enumerate().all(|(index, wanted)| {
                let terms = known
                    .iter()
                    .zip(&weights)
                    .filter_map(|(known, weight)| Some(known.get(index)? * weight));
                (terms.sum::<f64>() - wanted).abs() <= CLOSE_DB
            })
        };
        if depth == 0 || [1.0 / 6.0, 0.5, 5.0 / 6.0].into_iter().all(is_close) {
            nodes.extend(places.into_iter().skip(1).map(fraction));
            return;
        }
        let middle = at(0.5);
        self.panel([ends[0], middle], levels, depth - 1, nodes);
        self.panel([middle, ends[1]], levels, depth - 1, nodes);
    }
}

/// How much each node of a polynomial counts at a point.
fn lagrange(nodes: &[f64], at: f64) -> Vec<f64> {
    let factor = |node: f64, other: f64| (at - other) / (node - other);
    let weight = |(index, node): (usize, &f64)| {
        let others = nodes.iter().enumerate().filter(|(other, _)| *other != index);
        others.map(|(_, other)| factor(*node, *other)).product()
    };
    nodes.iter().enumerate().map(weight).collect()
}

/// Sweeps some builds, without cases, by name; both travels are those of the first. A build that is silent where it should not be is left
/// out; `None` where none is left.
#[must_use]
pub fn sweep(builds: &[(String, Guitar)], start: Setting, shown: [usize; 2]) -> Option<Sweep> {
    let (_, guitar) = builds.first()?;
    let lets_go = |guitar: &Guitar| guitar.tone.as_ref().is_some_and(|tone| tone.no_load);
    let at: Vec<f64> = frequencies(SHOWN[0], SHOWN[1], SWEPT_FINENESS).into_iter().map(rounded).collect();
    let straight: Vec<(String, Guitar)> = builds.iter().map(|(name, own)| (name.clone(), straightened(own, guitar))).collect();
    let (volume, mut tone) = travels(guitar, &straight, &at);
    if builds.iter().any(|(_, guitar)| lets_go(guitar)) {
        // The one node of a control that the first guitar has not is at full.
        if guitar.tone.is_some() {
            tone.nodes.push(1.0);
        }
        tone.apart_at_full = true;
    }
    let values = volume.nodes.len() * tone.nodes.len() * at.len();
    let most = (MOST_VALUES / values.max(1)).clamp(2, MOST_SWEPT);
    let swept = straight.par_iter().zip(builds).take(most).filter_map(|((name, guitar), (_, own))| {
        let levels = swept_levels(guitar, lets_go(own), &volume, &tone, &at)?;
        Some(Swept {
            name: name.clone(),
            levels,
        })
    });
    let swept: Vec<Swept> = swept.collect();
    let last = swept.len().checked_sub(1)?;
    Some(Sweep {
        case: None,
        case_word: "case",
        start,
        shown: shown.map(|index| index.min(last)),
        frequencies_hz: at,
        volume,
        tone,
        left_out: builds.len() - swept.len(),
        builds: swept,
    })
}

/// To a hundredth of a Hz, so that the page shows the frequency that was computed.
fn rounded(frequency: f64) -> f64 {
    (frequency * 100.0).round() / 100.0
}

/// The same guitar with pots whose rotation is the wiper fraction of the first guitar's, and a tone control that stays connected.
fn straightened(guitar: &Guitar, first: &Guitar) -> Guitar {
    let mut guitar = guitar.clone();
    guitar.volume.pot.taper = guitar.volume.pot.taper.over(&first.volume.pot.taper, STEPS);
    if let Some(tone) = &mut guitar.tone {
        tone.pot.taper = first
            .tone
            .as_ref()
            .map_or(Taper::Linear, |first| tone.pot.taper.over(&first.pot.taper, STEPS));
        tone.no_load = false;
    }
    guitar
}

/// Both travels with their panels laid by some builds at some frequencies and some places of the other knob.
fn travels(guitar: &Guitar, straight: &[(String, Guitar)], at: &[f64]) -> (Travel, Travel) {
    let pot = &guitar.volume.pot;
    let mut volume = Travel::of(&pot.taper, pot.taper.wiper(FIRST).max(LOWEST), VOLUME_SHIFTS);
    let tried: Vec<f64> = at.iter().copied().step_by(TRIED).collect();
    let count = straight.len().clamp(1, TRIED_BUILDS);
    let last = straight.len().saturating_sub(1);
    let indices: Vec<usize> = (0..count).map(|index| index * last / (count - 1).max(1)).collect();
    let levels = |settings: &[Setting]| -> Vec<f64> {
        let guitars = indices.iter().filter_map(|index| straight.get(*index));
        let of_build = |(_, guitar): &(String, Guitar)| {
            let level = |setting: &Setting| powers(guitar, *setting, &tried).into_iter().map(decibels).collect::<Vec<_>>();
            settings.iter().flat_map(level).collect::<Vec<_>>()
        };
        guitars.flat_map(of_build).collect()
    };
    let has_tone = guitar.tone.is_some();
    let tones: &[f64] = if has_tone { &[1.0, 0.2, 0.02, 0.0] } else { &[1.0] };
    volume.lay(&|volume| levels(&tones.iter().map(|tone| Setting { volume, tone: *tone }).collect::<Vec<_>>()));
    let Some(control) = guitar.tone.as_ref() else {
        return (volume, Travel::still());
    };
    let mut tone = Travel::of(&control.pot.taper, 0.0, TONE_SHIFTS);
    let volumes = [1.0, 0.5, 0.1];
    tone.lay(&|tone| levels(&volumes.map(|volume| Setting { volume, tone })));
    (volume, tone)
}

/// The levels at every node, with a tone control that lets go at full or stays connected; `None` where one is silent.
fn swept_levels(guitar: &Guitar, lets_go: bool, volume: &Travel, tone: &Travel, at: &[f64]) -> Option<Vec<Levels>> {
    let mut open = guitar.clone();
    if let Some(control) = &mut open.tone {
        control.no_load = lets_go;
    }
    let mut levels = Vec::with_capacity(volume.nodes.len() * tone.nodes.len());
    for outer in &volume.nodes {
        for (index, inner) in tone.nodes.iter().enumerate() {
            let is_apart = tone.apart_at_full && index + 1 == tone.nodes.len();
            let guitar = if is_apart { &open } else { guitar };
            let setting = Setting {
                volume: *outer,
                tone: *inner,
            };
            let hundredths = powers(guitar, setting, at).into_iter().map(|power| {
                let level = (100.0 * decibels(power)).round();
                level.is_finite().then_some(level as i32)
            });
            levels.push(Levels(hundredths.collect::<Option<_>>()?));
        }
    }
    Some(levels)
}
