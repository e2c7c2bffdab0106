//! The written form of networks: `150k || 1n`, `130k + 1n`, `R1 + (R2 || C)`.

use super::Network;
use crate::error::Result;
use crate::source::Passage;

impl Network {
    /// Reads a network with fixed and free parts; `none` is `None`.
    ///
    /// # Errors
    /// Where the text is no network.
    pub fn read(passage: &Passage<'_>) -> Result<Option<Self>> {
        todo!()
    }
}
