//! The search over buildable combinations.
