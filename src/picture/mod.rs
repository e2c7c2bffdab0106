//! What there is to see in a result, as plain data: curves, corridors, worst points, landscapes. Computed here, drawn by the report.

mod curves;
mod deviation;
mod fit;
mod landscape;
mod pictures;
mod spread;
mod sweep;
mod sweeps;

use std::collections::BTreeMap;

use serde::Serialize;

pub use self::curves::{Asked, FINENESS, Voice, deviations, levels};
pub use self::fit::of_identified;
pub use self::landscape::landscape;
pub use self::pictures::{check_comparison, check_recommendation, check_response, of_comparison, of_recommendation, of_response};
pub use self::sweep::{Levels, MOST_SWEPT, SWEPT_FINENESS, Sweep, Swept, Travel, sweep};
pub use self::sweeps::{sweep_of_comparison, sweep_of_recommendation};
use crate::circuit::Setting;
use crate::guitar::Slot;
use crate::parts::network::Kind;

/// More curves than this in one picture cannot be told apart.
pub const MOST_CURVES: usize = 24;

/// A kind of picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum View {
    /// One build at several knob positions.
    Knobs,
    /// Several builds at one knob position.
    Builds,
    /// Differences from what the target compares with, its corridor straightened out.
    Deviation,
    /// The margin over two values.
    Landscape,
}

/// Something to be drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Picture {
    /// Curves over frequency.
    Curves(Curves),
    /// Margin over two values.
    Landscape(Landscape),
}

/// Curves over frequency.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curves {
    /// The guitar's name.
    pub guitar: String,
    /// The target's name, if the picture shows one.
    pub target: Option<String>,
    /// The case shown, for a guitar with cases, where all curves are of the same.
    pub case: Option<String>,
    /// What all curves have in common.
    pub subject: Subject,
    /// What is drawn upwards.
    pub quantity: Quantity,
    /// Lowest and highest frequency, in Hz.
    pub frequency_hz: [f64; 2],
    /// The curves.
    pub curves: Vec<Curve>,
    /// Where the target allows them to be.
    pub corridors: Vec<Corridor>,
    /// Where nine of ten guitars lie that are built with parts as they come, each at a curve of its own; empty where none were drawn.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub built: Vec<Corridor>,
    /// The point with the smallest margin.
    pub worst: Option<Mark>,
}

/// What all curves of a picture have in common.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Subject {
    /// What is fitted, slot by slot; the curves are knob positions.
    Build(BTreeMap<Slot, String>),
    /// Where the knobs stand; the curves are builds.
    Position(Setting),
    /// Readings and the model that was fitted to them.
    Fit,
}

/// What is drawn upwards, in dB.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Quantity {
    /// L.
    Level,
    /// d.
    Deviation,
    /// What was read of a pickup: a level, or an impedance over 1 Ω.
    Reading,
}

/// One curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// What it is of.
    pub of: Label,
    /// Its unbroken pieces; none where the guitar is silent.
    pub strands: Vec<Strand>,
}

/// What tells a curve from the others.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Label {
    /// Where the knobs stand, and in which case.
    Position(Setting, Option<String>),
    /// A build by its name or rank.
    Build(String),
}

/// An unbroken piece of a curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Strand {
    /// The clause whose difference it is; none for a level.
    pub clause: Option<usize>,
    /// Whether it is one figure for a whole band.
    pub is_mean: bool,
    /// Frequency in Hz and dB, frequency ascending.
    pub points: Vec<[f64; 2]>,
}

/// What a clause allows, over its band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corridor {
    /// The curve it is for; none where it is for all.
    pub curve: Option<usize>,
    /// The clause.
    pub clause: usize,
    /// Whether it bounds the band's mean and not each frequency.
    pub is_mean: bool,
    /// Frequency ascending.
    pub points: Vec<Bounds>,
}

/// What is allowed at one frequency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bounds {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// The least, in dB.
    pub low_db: Option<f64>,
    /// The most, in dB.
    pub high_db: Option<f64>,
}

/// The point with the smallest margin.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// The curve it lies on.
    pub curve: usize,
    /// The clause.
    pub clause: usize,
    /// Where it is drawn, in Hz: its frequency, or the middle of the band whose mean is bounded.
    pub at_hz: f64,
    /// Where it is drawn, in dB.
    pub at_db: f64,
    /// Frequency in Hz; none for a mean.
    pub frequency_hz: Option<f64>,
    /// The difference there, in dB.
    pub difference_db: f64,
    /// The margin there, in dB.
    pub margin_db: f64,
}

/// The margin over the plane of two values, everything else held.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Landscape {
    /// The guitar's name.
    pub guitar: String,
    /// The target's name.
    pub target: String,
    /// The networks with their free parts.
    pub networks: BTreeMap<Slot, String>,
    /// Values drawn to the right.
    pub across: Axis,
    /// Values drawn upwards.
    pub up: Axis,
    /// The other free parts and the values they are held at.
    pub held: Vec<(String, f64)>,
    /// The margin in dB at each grid value of `up` (outer) and `across` (inner); none where the build is silent.
    pub margins_db: Vec<Vec<Option<f64>>>,
    /// The chosen build's margin in dB.
    pub chosen_db: f64,
}

/// One of the two values.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Axis {
    /// The part, by slot and name.
    pub part: String,
    /// Resistor or capacitor.
    #[serde(skip)]
    pub kind: Kind,
    /// Every value it may have inside the picture, in Ω or F.
    pub values: Vec<f64>,
    /// The grid, ascending, evenly spaced on a logarithmic scale.
    pub grid: Vec<f64>,
    /// The chosen value.
    pub chosen: f64,
}
