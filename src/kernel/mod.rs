//! From a circuit to figures: frequency grids, plans of a target's points, measures in dB.

pub mod evaluate;
pub mod grid;
pub mod lanes;
pub mod measure;
pub mod plan;
pub mod response;
