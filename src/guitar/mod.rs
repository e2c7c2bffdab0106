//! A guitar as plain data: one pickup, one volume, one tone, the cable and what it is plugged into; and what sounds beside it where there
//! is more ([`ensemble`]).

pub mod alteration;
mod case;
pub mod catalogue;
pub mod ensemble;
pub mod file;
pub mod fitting;
mod guide;
pub mod kind;
pub mod knob;
mod ranges;
mod selector;
mod setting;
mod several;
mod shared;
mod summary;
pub mod taper;
mod views;
pub mod whole;
mod write;

use std::fmt;

use serde::Serialize;

pub use case::{Case, Position, read_cases};
pub use setting::Setting;

use crate::parts::network::Network;
use crate::units::{Farads, Fraction, Henries, Ohms};
use ensemble::Ensemble;
use taper::Taper;

/// Everything between the strings and the amplifier that shapes the sound electrically.
#[derive(Debug, Clone, PartialEq)]
pub struct Guitar {
    /// What its owner calls it.
    pub name: String,
    /// Network in series between pickup and controls; `None` is a wire.
    pub series: Option<Network>,
    /// Network from the pickup's hot end, behind `series`, to ground; `None` is open.
    pub across: Option<Network>,
    /// The pickup.
    pub pickup: Pickup,
    /// The volume control.
    pub volume: Volume,
    /// The tone control, if there is one.
    pub tone: Option<Tone>,
    /// The cable.
    pub cable: Cable,
    /// What the cable is plugged into.
    pub input: Input,
    /// Controls that stay connected, as shunts to ground.
    pub loads: Vec<Load>,
    /// What sounds and loads besides, in a guitar of several pickups.
    pub ensemble: Option<Box<Ensemble>>,
    /// What-if cases; with none, the guitar as it is is what counts, else only they do.
    pub cases: Vec<Case>,
}

/// A magnetic pickup: winding resistance, coil with eddy losses, winding capacitance.
#[derive(Debug, Clone, PartialEq)]
pub struct Pickup {
    /// Low-frequency total, loss cells included.
    pub inductance: Henries,
    /// Winding resistance.
    pub resistance: Ohms,
    /// Winding capacitance.
    pub capacitance: Farads,
    /// Eddy-loss cells; their inductances are part of the total.
    pub loss: Vec<LossCell>,
    /// Tolerance of all three values, if the file states one.
    pub tolerance: Option<Fraction>,
}

impl Pickup {
    /// L₀: what the loss cells leave of the low-frequency inductance, in H.
    #[must_use]
    pub fn lossless_inductance(&self) -> f64 {
        let cells: f64 = self.loss.iter().map(|cell| cell.inductance.value()).sum();
        (self.inductance.value() - cells).max(0.0)
    }
}

/// One eddy-loss cell: an inductance behind a parallel resistance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossCell {
    /// Lᵢ
    pub inductance: Henries,
    /// Rᵢ
    pub resistance: Ohms,
}

/// A potentiometer.
#[derive(Debug, Clone, PartialEq)]
pub struct Potentiometer {
    /// Resistance of the whole track.
    pub resistance: Ohms,
    /// How the wiper moves with the knob.
    pub taper: Taper,
    /// Tolerance of the track's resistance, if the file states one.
    pub tolerance: Option<Fraction>,
    /// By how much the fraction at half rotation may be off, as a share of itself, if the file says so.
    pub taper_tolerance: Option<Fraction>,
}

/// The volume control and its bleed network.
#[derive(Debug, Clone, PartialEq)]
pub struct Volume {
    /// The potentiometer.
    pub pot: Potentiometer,
    /// Across input lug and wiper; `None` is open.
    pub bleed: Option<Network>,
    /// Whether there is one: without, the signal goes straight from the input lug to the output, and the pot says nothing.
    pub is_fitted: bool,
}

impl Volume {
    /// None: of a guitar, or a pickup, that goes straight to the output.
    #[must_use]
    pub const fn absent() -> Self {
        Self {
            pot: Potentiometer {
                resistance: Ohms::ZERO,
                taper: Taper::Linear,
                tolerance: None,
                taper_tolerance: None,
            },
            bleed: None,
            is_fitted: false,
        }
    }
}

/// The tone control and its networks.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    /// The potentiometer.
    pub pot: Potentiometer,
    /// From the pot to ground; `None` is open.
    pub network: Option<Network>,
    /// From the hot lug to the wiper, with hookup shelf only; `None` is open.
    pub bypass: Option<Network>,
    /// How the pot is used.
    pub hookup: Hookup,
    /// Where the branch is joined.
    pub joined_at: Joint,
    /// Whether the branch is disconnected at rotation 1.
    pub no_load: bool,
}

/// How the tone potentiometer is wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Hookup {
    /// The track up to the wiper in series with the tone network.
    Rheostat,
    /// The whole track in series with the tone network, the bypass network from hot lug to wiper.
    Shelf,
}

impl Hookup {
    /// The word a user types.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rheostat => "rheostat",
            Self::Shelf => "shelf",
        }
    }
}

/// Where a branch joins the signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Joint {
    /// The volume control's input lug.
    Pickup,
    /// The volume control's wiper, which is the output.
    Wiper,
}

impl Joint {
    /// The word a user types.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pickup => "pickup",
            Self::Wiper => "wiper",
        }
    }
}

/// The cable, as one capacitance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cable {
    /// Whole capacitance.
    pub capacitance: Farads,
    /// Its tolerance, if the file states one.
    pub tolerance: Option<Fraction>,
}

/// The input the guitar is plugged into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// Resistance to ground.
    pub resistance: Ohms,
    /// Capacitance to ground.
    pub capacitance: Farads,
}

/// A network to ground that stays connected.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// The network.
    pub network: Network,
    /// Where it is joined.
    pub at: Joint,
}

/// A place in the circuit where parts can be fitted. The order is the order of every list of slots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Slot {
    /// Across the volume control's input lug and wiper.
    Bleed,
    /// From the tone control to ground.
    Tone,
    /// From the tone control's hot lug to its wiper.
    Bypass,
    /// Between pickup and controls.
    Series,
    /// From the pickup's hot end, behind the series slot, to ground.
    Across,
}

impl Slot {
    /// All of them, in order.
    pub const ALL: [Self; 5] = [Self::Bleed, Self::Tone, Self::Bypass, Self::Series, Self::Across];

    /// The word a user types.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bleed => "bleed",
            Self::Tone => "tone",
            Self::Bypass => "bypass",
            Self::Series => "series",
            Self::Across => "across",
        }
    }
}

impl fmt::Display for Slot {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.word())
    }
}

impl Guitar {
    /// What is fitted in a slot; `None` when nothing is, or when the guitar has no such slot.
    #[must_use]
    pub fn fitted(&self, slot: Slot) -> Option<&Network> {
        match slot {
            Slot::Bleed => self.volume.bleed.as_ref(),
            Slot::Tone => self.tone.as_ref()?.network.as_ref(),
            Slot::Bypass => self.tone.as_ref()?.bypass.as_ref(),
            Slot::Series => self.series.as_ref(),
            Slot::Across => self.across.as_ref(),
        }
    }

    /// Fits a network in a slot (`None` takes out what is there). Does nothing without the tone table for `tone` and `bypass`.
    pub fn fit(&mut self, slot: Slot, network: Option<Network>) {
        match (slot, &mut self.tone) {
            (Slot::Bleed, _) => self.volume.bleed = network,
            (Slot::Series, _) => self.series = network,
            (Slot::Across, _) => self.across = network,
            (Slot::Tone, Some(tone)) => tone.network = network,
            (Slot::Bypass, Some(tone)) => tone.bypass = network,
            (Slot::Tone | Slot::Bypass, None) => {}
        }
    }
}
