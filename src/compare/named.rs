//! `bench: bleed=120k || 1n; tone=22n` → a name and what is fitted where.

use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::parts::choice::read_assignment_in;
use crate::parts::network::Network;
use crate::source::Source;

/// The name of the guitar as it is.
pub const PRESENT: &str = "present";

/// Names longer than this spoil every table.
const LONGEST_NAME: usize = 40;

/// A build by name.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedBuild {
    /// What it is called.
    pub name: String,
    /// What is fitted where; every other slot stays as it is.
    pub fittings: Vec<(Slot, Option<Network>)>,
}

impl NamedBuild {
    /// Reads `NAME: SLOT=NETWORK; SLOT=NETWORK`. Without a name and its colon, what is fitted is the name.
    ///
    /// # Errors
    /// Where the text is none.
    pub fn read(source: &Source) -> Result<Self> {
        let text = source.passage();
        let (name, start) = match text.text().find(':') {
            Some(colon) => (text.part(0..colon).trimmed(), colon + 1),
            None => (text.trimmed(), 0),
        };
        let length = name.text().chars().count();
        if length == 0 || length > LONGEST_NAME || name.text().chars().any(char::is_control) {
            return Err(Error::at(&name, ErrorKind::Range, "a build's name has 1 to 40 letters")
                .label("not a name")
                .help("for example: bench: bleed=120k || 1n; tone=22n"));
        }
        let words = Slot::ALL.map(Slot::word);
        let mut fittings = Vec::new();
        let mut from = start;
        for piece in text.text().get(start..).unwrap_or_default().split(';') {
            let item = text.part(from..from + piece.len()).trimmed();
            from += piece.len() + 1;
            if item.text().is_empty() {
                return Err(Error::at(&item, ErrorKind::Missing, "expected SLOT=NETWORK, found nothing")
                    .label("nothing is fitted here")
                    .help("for example: bench: bleed=120k || 1n; tone=22n"));
            }
            let (word, network) = read_assignment_in(&item, &words).map_err(|error| match item.text().contains(',') {
                true => error.help("several slots of one build are set apart by `;`"),
                false => error,
            })?;
            let slot = Slot::ALL.into_iter().find(|slot| slot.word() == word);
            let slot = slot.ok_or_else(|| Error::at(&item, ErrorKind::Unknown, format!("`{word}` is no slot")))?;
            fittings.push((slot, network));
        }
        Ok(Self {
            name: name.text().to_owned(),
            fittings,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::NamedBuild;
    use crate::guitar::Slot;
    use crate::source::Source;

    fn read(text: &str) -> crate::error::Result<NamedBuild> {
        NamedBuild::read(&Source::inline("--build", text))
    }

    #[test]
    fn a_build_has_a_name_and_slots_set_apart_by_semicolons() {
        let build = read(" bench : bleed = 120k || 1n ; tone=none").unwrap();
        assert_eq!(build.name, "bench");
        let fitted: Vec<_> = build
            .fittings
            .iter()
            .map(|(slot, network)| (*slot, network.as_ref().map(ToString::to_string)))
            .collect();
        assert_eq!(fitted, [(Slot::Bleed, Some("120k || 1n".to_owned())), (Slot::Tone, None)]);
        assert_eq!(read("bleed=1n").unwrap().name, "bleed=1n");
    }

    #[test]
    fn what_is_no_build_is_refused() {
        for text in [
            "",
            ":",
            "a:",
            ": bleed=1n",
            "a: bleed",
            "a: bleed=1n;",
            "a: bled=1n",
            "a: bleed=1n, tone=2n",
            "a: b: bleed=1n",
        ] {
            assert!(read(text).is_err(), "{text}");
        }
        let help = read("a: bleed=1n, tone=2n").unwrap_err().picture();
        assert!(help.contains("set apart by `;`"), "{help}");
        assert!(read(&format!("{}: bleed=1n", "x".repeat(41))).is_err());
    }
}
