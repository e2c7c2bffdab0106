//! Guitar files (TOML, contract.md) → [`Guitar`](super::Guitar).

use super::Guitar;
use crate::error::Result;
use crate::source::Source;

impl Guitar {
    /// Reads a guitar file; files named inside it are read from its folder.
    ///
    /// # Errors
    /// At the place of the first mistake.
    pub fn read(source: &Source) -> Result<Self> {
        todo!()
    }
}
