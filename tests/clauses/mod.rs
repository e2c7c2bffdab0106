//! Clauses written out by hand, for the tests that compare readers with them.
#![allow(dead_code, reason = "each test uses its own part")]

use knobwright::target::{Against, Band, Clause, Measure, Over};

/// Every half mark.
pub const TO_QUARTER: [f64; 16] = [
    1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5, 0.45, 0.4, 0.35, 0.3, 0.25,
];
pub const TO_HALF: [f64; 11] = [1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5];
pub const FULL: [f64; 1] = [1.0];

/// What the guide calls by a word ends where a guitar's own sound ends; until a guitar is there, at the ends given here.
pub fn band(hertz: [f64; 2]) -> Band {
    let named = [
        (HIGHS, "highs"),
        (PRESENCE, "presence"),
        (KEPT, "kept highs"),
        (BRIGHTNESS, "brightness"),
    ];
    let word = named.into_iter().find(|(ends, _)| *ends == hertz).map(|(_, word)| word);
    word.and_then(Band::known).unwrap_or_else(|| Band::new(hertz[0], hertz[1]).unwrap())
}

/// A clause over each frequency of a band.
pub fn clause(measure: Measure, against: Against, hertz: [f64; 2], bounds: [Option<f64>; 2], volume: &[f64], tone: &[f64]) -> Clause {
    Clause {
        measure,
        against,
        band: band(hertz),
        anchor: (measure == Measure::Shape).then(|| band([100.0, 400.0])),
        over: Over::Every,
        volume: volume.to_vec(),
        tone: tone.to_vec(),
        at_least: bounds[0],
        at_most: bounds[1],
        bands: Vec::new(),
        place: knobwright::target::Place::default(),
    }
}

pub fn average(clause: Clause) -> Clause {
    Clause {
        over: Over::Average,
        ..clause
    }
}

pub fn mean(clause: Clause) -> Clause {
    Clause {
        over: Over::Mean,
        ..clause
    }
}

pub fn anchored(clause: Clause, hertz: [f64; 2]) -> Clause {
    Clause {
        anchor: Some(band(hertz)),
        ..clause
    }
}

pub fn keep(hertz: [f64; 2], width: f64, volume: &[f64], tone: &[f64]) -> Clause {
    clause(Measure::Shape, Against::Full, hertz, [Some(-width), Some(width)], volume, tone)
}

pub fn keep_level(width: f64, volume: &[f64]) -> Clause {
    mean(clause(
        Measure::Level,
        Against::Present,
        [100.0, 1500.0],
        [Some(-width), Some(width)],
        volume,
        &FULL,
    ))
}

pub fn cut(hertz: [f64; 2], at_least: f64, at_most: f64, tone: &[f64]) -> Clause {
    mean(clause(
        Measure::Shape,
        Against::Full,
        hertz,
        [Some(at_least), Some(at_most)],
        &FULL,
        tone,
    ))
}

pub fn no_bump(hertz: [f64; 2], over: f64, tone: &[f64]) -> Clause {
    anchored(
        clause(Measure::Shape, Against::Flat, hertz, [None, Some(over)], &FULL, tone),
        [80.0, 120.0],
    )
}

pub fn kept(hertz: [f64; 2], volume: &[f64], tone: &[f64]) -> Clause {
    clause(Measure::Level, Against::Present, hertz, [Some(-3.0), Some(3.0)], volume, tone)
}

pub fn change(hertz: [f64; 2], anchor: [f64; 2], bounds: [f64; 2], volume: &[f64], tone: &[f64]) -> Clause {
    let bounds = bounds.map(Some);
    anchored(
        average(clause(Measure::Shape, Against::Present, hertz, bounds, volume, tone)),
        anchor,
    )
}

pub const LOWS: [f64; 2] = [80.0, 250.0];
pub const MUD: [f64; 2] = [150.0, 400.0];
pub const MIDS: [f64; 2] = [400.0, 1500.0];
pub const HIGHS: [f64; 2] = [1500.0, 6000.0];
pub const PRESENCE: [f64; 2] = [2500.0, 5000.0];
pub const LOW_ANCHOR: [f64; 2] = [600.0, 1200.0];
pub const ANCHOR: [f64; 2] = [100.0, 400.0];
pub const BRIGHTNESS: [f64; 2] = [1500.0, 15e3];
pub const KEPT: [f64; 2] = [1500.0, 4000.0];
