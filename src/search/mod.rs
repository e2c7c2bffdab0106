//! The search over buildable combinations: spaces of candidates, the exact search, the ranking, and what stops a target.

pub mod exhaustive;
pub mod ranking;
pub mod space;
