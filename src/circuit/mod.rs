//! The circuit: what a guitar is, not what anybody wants of it.
//!
//! One general nodal description of the whole circuit, solved either at once ([`transfer`]) or down to the ports of
//! the slots where parts are still to be chosen ([`ports`]), or written out as polynomials in s whose values may still vary
//! ([`polynomials`]).
// The indices are nodes that this module numbers itself, below MOST_NODES by construction; no input reaches one.
#![allow(clippy::indexing_slicing)]

mod netlist;
pub mod nodal;
pub mod polynomials;
pub mod ports;

use num_complex::Complex64;

use self::netlist::{Element, Netlist, OUTPUT, SOURCE};
use self::nodal::{Branch, GROUND, Node};
pub use crate::guitar::Setting;
use crate::guitar::{Guitar, Slot};
use crate::parts::network::Admittance;

/// V_W / E: the voltage at the output over the pickup's EMF at one frequency in Hz (above 0). Exactly zero when silent.
#[must_use]
pub fn transfer(guitar: &Guitar, setting: Setting, frequency: f64) -> Complex64 {
    ports::Reduction::of(guitar, setting, frequency, &[]).transfer(&[])
}

/// The admittance in S seen at the output with the pickup's EMF silent, at one frequency in Hz (above 0); what is plugged in belongs to it.
/// `None` where the output is shorted or tied to nothing.
#[must_use]
pub fn output_admittance(guitar: &Guitar, setting: Setting, frequency: f64) -> Option<Complex64> {
    let netlist = Netlist::new(guitar, setting, &[]);
    let s = Complex64::new(0.0, std::f64::consts::TAU * frequency);
    let branch = |(from, to, element): &(Node, Node, Element<'_>)| Branch {
        from: netlist.classes[*from],
        to: netlist.classes[*to],
        admittance: element.admittance(s),
    };
    let mut branches: Vec<Branch> = netlist.branches.iter().map(branch).collect();
    branches.push(Branch {
        from: netlist.classes[SOURCE],
        to: GROUND,
        admittance: Admittance::Short,
    });
    let impedance = nodal::driving_point_impedance(&branches, netlist.classes[OUTPUT])?;
    let admittance = impedance.inv();
    admittance.is_finite().then_some(admittance)
}

/// Which value of a guitar a value of its circuit comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// The pickup's inductance, the loss cells' shares included.
    Inductance,
    /// The winding's resistance.
    WindingResistance,
    /// The winding's capacitance.
    WindingCapacitance,
    /// The volume control's track.
    VolumeTrack,
    /// The tone control's track.
    ToneTrack,
    /// The cable's capacitance.
    Cable,
    /// A part of a network, by its place in written order.
    Part(Place, usize),
    /// Something that does not vary: the input, the resistances of the loss cells.
    Exact,
}

/// Where a network is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// In a slot.
    Slot(Slot),
    /// A load of the guitar, by its number.
    Load(usize),
}
