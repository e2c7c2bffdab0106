//! The search over buildable combinations: spaces of candidates, the exact search, the ranking, and what stops a target.
// The indices come from the spaces that this module counts itself; no input reaches one.
#![allow(clippy::indexing_slicing)]

mod bar;
pub mod exhaustive;
mod folded;
mod form;
mod gathered;
pub mod ideal;
mod plane;
pub mod pruned;
pub mod ranking;
mod sample;
mod screen;
pub mod space;
mod worker;
