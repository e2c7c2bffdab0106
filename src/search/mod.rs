//! The search over buildable combinations: spaces of candidates, the exact search, the ranking, and what stops a target.

pub mod exhaustive;
mod form;
pub mod pruned;
pub mod ranking;
mod screen;
pub mod space;
