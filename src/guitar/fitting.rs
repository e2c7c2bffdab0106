//! What can be fitted where: every slot that a guitar lacks is refused in words.

use super::{Guitar, Hookup, Slot};
use crate::error::{Error, ErrorKind, Result};
use crate::parts::network::Network;

/// The error for something that needs a tone control on a guitar without one.
#[must_use]
pub fn no_tone(what: &str) -> Error {
    Error::new(
        ErrorKind::Missing,
        format!("{what}, but the guitar has none: its file lacks the [tone] table"),
    )
    .help("add [tone] with resistance and taper to the guitar file")
}

impl Guitar {
    /// How the tone control is wired, if there is one.
    #[must_use]
    pub fn hookup(&self) -> Option<Hookup> {
        self.tone.as_ref().map(|tone| tone.hookup)
    }

    /// Refuses a slot that the guitar's wiring lacks; `option` is what asks for it.
    ///
    /// # Errors
    /// When the slot is missing.
    pub fn need_slot(&self, slot: Slot, option: &str) -> Result<()> {
        match (slot, self.hookup()) {
            (Slot::Tone | Slot::Bypass, None) => Err(no_tone(&format!("{option} {slot} is about the tone control"))),
            (Slot::Bypass, Some(Hookup::Rheostat)) => {
                let message = format!("{option} bypass: the rheostat hookup has no bypass slot");
                Err(Error::new(ErrorKind::Conflict, message)
                    .help("the bypass goes from the tone control's hot lug to its wiper, with hookup shelf"))
            }
            _ => Ok(()),
        }
    }

    /// Fits known networks, each in its own slot.
    ///
    /// # Errors
    /// When a slot is missing or named twice, or a part has no value.
    pub fn fit_all(&mut self, fittings: &[(Slot, Option<Network>)], option: &str) -> Result<()> {
        for (index, (slot, network)) in fittings.iter().enumerate() {
            self.need_slot(*slot, option)?;
            if fittings.iter().take(index).any(|(earlier, _)| earlier == slot) {
                return Err(Error::new(ErrorKind::Conflict, format!("{option} fits the {slot} slot twice")));
            }
            if let Some(free) = network
                .as_ref()
                .and_then(|network| network.free_parts().first().map(|part| part.name.clone()))
            {
                return Err(Error::new(ErrorKind::Conflict, format!("{option} {slot}: `{free}` has no value"))
                    .help(format!("{option} fits known values; free parts are for --search")));
            }
            self.fit(*slot, network.clone());
        }
        Ok(())
    }
}
