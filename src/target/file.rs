//! Target files (TOML, contract.md) → [`Target`](super::Target), and back.

use super::Target;
use crate::error::Result;
use crate::source::Source;

impl Target {
    /// Reads a target file; curves named inside it are read from its folder.
    ///
    /// # Errors
    /// At the place of the first mistake.
    pub fn read(source: &Source) -> Result<Self> {
        todo!()
    }

    /// The target as TOML with explicit clauses; it reads back to the same target.
    #[must_use]
    pub fn to_toml(&self) -> String {
        todo!()
    }
}
