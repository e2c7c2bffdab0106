//! From a circuit to figures: frequency grids, plans of a target's points, measures in dB.
// The indices are those of a plan made here, into its own points; no input reaches one, and `get` would cost the inner loop.
#![allow(clippy::indexing_slicing)]

pub mod built;
pub mod evaluate;
pub mod features;
pub mod grid;
pub mod guards;
pub mod lanes;
pub mod measure;
pub mod placed;
pub mod plan;
pub mod response;
pub mod same;
mod size;
