//! The circuit: what a guitar is, not what anybody wants of it.
//!
//! One description of the whole circuit gives V/E as polynomials in s whose values may still vary ([`recipe`]), by sums over the forests
//! of its graph ([`graph`]); as numbers, down to the ports where parts are still to be chosen ([`ports`]).
// The indices are nodes and steps that this module numbers itself; no input reaches one.
#![allow(clippy::indexing_slicing)]

pub mod graph;
mod netlist;
pub mod ports;
pub mod recipe;

use num_complex::Complex64;

use self::ports::Polynomials;
use self::recipe::Recipe;
pub use crate::guitar::Setting;
use crate::guitar::ensemble::Beside;
use crate::guitar::{Guitar, Slot};

/// V_W / E: the voltage at the output over the pickup's EMF at one frequency in Hz (above 0). Exactly zero when silent, which a wiper within
/// 1e-290 or so of its end is to anybody.
#[must_use]
pub fn transfer(guitar: &Guitar, setting: Setting, frequency: f64) -> Complex64 {
    Polynomials::new(guitar, setting, &[]).transfer(frequency).unwrap_or_default()
}

/// What an ohmmeter reads from the output to ground with nothing plugged in, in Ω; `None` where no current flows.
#[must_use]
pub fn resistance_at_the_jack(guitar: &Guitar, setting: Setting) -> Option<f64> {
    let terms = Recipe::at_rest(guitar, setting, &[Port::Jack]).made_of(|leaf| leaf.value);
    let [open, shorted] = [0, 1].map(|term| terms[term][1][0]);
    (open > 0.0).then(|| shorted / open)
}

/// A pair of nodes where something may be connected that is not known yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    /// Where a slot's network goes; connected to nothing where the guitar does not have the slot.
    Slot(Slot),
    /// In place of the pickup, its winding capacitance included: EMF to hot end.
    Pickup,
    /// In place of all that is plugged in, cable included: output to ground.
    Jack,
}

/// Which value of a guitar a value of its circuit comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// A pickup's inductance, the loss cells' shares included. Pickups are numbered as in the file.
    Inductance(usize),
    /// A winding's resistance.
    WindingResistance(usize),
    /// A winding's capacitance.
    WindingCapacitance(usize),
    /// The volume control's track.
    VolumeTrack,
    /// The tone control's track.
    ToneTrack,
    /// The track of a control that stands still, by its number.
    HeldTrack(usize),
    /// The volume control's taper.
    VolumeTaper,
    /// The tone control's taper.
    ToneTaper,
    /// The taper of a control that stands still, by its number.
    HeldTaper(usize),
    /// The cable's capacitance.
    Cable,
    /// A part of a network, by its place in written order.
    Part(Place, usize),
    /// Something that does not vary: the input, the resistances of the loss cells.
    Exact,
}

impl Origin {
    /// Whether two guitars have one and the same part there, so that what it is off its mark it is off in both: a network, a pot or a cable
    /// that is exchanged is another part.
    #[must_use]
    pub fn is_shared(self, one: &Guitar, other: &Guitar) -> bool {
        let tone_pot = |guitar: &Guitar| guitar.tone.as_ref().map(|tone| (tone.pot.clone(), tone.no_load));
        match self {
            Self::VolumeTrack | Self::VolumeTaper => one.volume.pot == other.volume.pot,
            Self::ToneTrack | Self::ToneTaper => tone_pot(one) == tone_pot(other),
            Self::Cable => one.cable == other.cable,
            Self::Part(Place::Slot(slot), _) => one.fitted(slot) == other.fitted(slot),
            Self::Inductance(_)
            | Self::WindingResistance(_)
            | Self::WindingCapacitance(_)
            | Self::HeldTrack(_)
            | Self::HeldTaper(_)
            | Self::Part(Place::Load(_) | Place::Beside(_), _)
            | Self::Exact => true,
        }
    }
}

/// Where a network is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// In a slot.
    Slot(Slot),
    /// A load of the guitar, by its number.
    Load(usize),
    /// Beside what is turned, where it stands still.
    Beside(Beside),
}
