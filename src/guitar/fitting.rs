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

/// The error for something that needs a volume control on a guitar without one.
#[must_use]
pub fn no_volume(what: &str) -> Error {
    Error::new(
        ErrorKind::Missing,
        format!("{what}, but the guitar has none: its file lacks the [volume] table"),
    )
    .help("add [volume] with resistance and taper to the guitar file")
}

impl Guitar {
    /// Whether it is seen in several positions of a selector at once.
    #[must_use]
    pub fn has_positions(&self) -> bool {
        self.cases.iter().any(|case| case.position.is_some())
    }

    /// Whether more is connected than a guitar of one pickup has.
    #[must_use]
    pub fn has_more_connected(&self) -> bool {
        self.ensemble.is_some() || self.has_positions()
    }

    /// Refuses a guitar in several positions of its selector, for what is about one; `what` begins the sentence.
    ///
    /// # Errors
    /// When there are several.
    pub fn need_one_position(&self, what: &str) -> Result<()> {
        if !self.has_positions() {
            return Ok(());
        }
        let names: Vec<&str> = self.cases.iter().map(|case| case.name.as_str()).collect();
        let message = format!("{what} is about one position of the selector, and \"{}\" has several", self.name);
        Err(Error::new(ErrorKind::Missing, message).help(format!("say which with --position: {}", names.join(", "))))
    }

    /// Refuses a guitar of several pickups, for what is about a pickup alone; `what` begins the sentence.
    ///
    /// # Errors
    /// When there are several pickups, or one with more behind it than a guitar of one pickup has.
    pub fn need_one_pickup(&self, what: &str) -> Result<()> {
        if !self.has_more_connected() {
            return Ok(());
        }
        let message = format!("{what} is about one pickup, and \"{}\" has more connected", self.name);
        Err(Error::new(ErrorKind::Conflict, message).help("write this pickup and its knobs as a guitar of one: [pickup], [volume], [tone]"))
    }

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
            (Slot::Bleed, _) if !self.volume.is_fitted => Err(no_volume(&format!("{option} bleed is about the volume control"))),
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
