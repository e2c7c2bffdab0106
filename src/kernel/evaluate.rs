//! Plan + the candidate's admittances → |V/E|² at every point.

use num_complex::Complex64;

use crate::circuit::ports::MOST_SLOTS;
use crate::guitar::Slot;
use crate::kernel::plan::Plan;
use crate::parts::network::{Admittance, Network};

/// One admittance a free slot, in the plan's order; what stands behind the last free slot is not looked at.
pub type SlotAdmittances = [Admittance; MOST_SLOTS];

/// Fills `powers` with |V/E|² for each point of the plan.
///
/// `admittances` holds one row a frequency of the plan; none are needed where no slot is free.
pub fn powers(plan: &Plan, admittances: &[SlotAdmittances], powers: &mut Vec<f64>) {
    powers.clear();
    powers.extend(plan.points.iter().map(|point| {
        let transfer = point
            .reduction
            .transfer(admittances.get(point.frequency).map_or(&[], |row| row.as_slice()));
        if transfer.is_finite() { transfer.norm_sqr() } else { 0.0 }
    }));
}

/// The admittance of what is fitted in a slot at a frequency in Hz, with the values of its free parts. With nothing fitted the series slot is
/// a wire and every other slot is open.
#[must_use]
pub fn slot_admittance(slot: Slot, network: Option<&Network>, values: &[f64], frequency: f64) -> Admittance {
    match network {
        Some(network) => network.admittance(laplace(frequency), values),
        None if slot == Slot::Series => Admittance::Short,
        None => Admittance::OPEN,
    }
}

/// s = j·2πf for a frequency in Hz.
#[must_use]
pub fn laplace(frequency: f64) -> Complex64 {
    Complex64::new(0.0, std::f64::consts::TAU * frequency)
}
