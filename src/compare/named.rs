//! `bench: bleed=120k || 1n; tone=22n; volume=500k` → a name, what is fitted where, and which pots, cable and wiring are others.

use crate::error::{Error, ErrorKind, Result};
use crate::guitar::alteration::Alteration;
use crate::guitar::{Guitar, Slot};
use crate::parts::choice::read_assignment_in;
use crate::parts::network::Network;
use crate::source::{Passage, Source};

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
    /// Other pots, another cable, another wiring.
    pub alterations: Vec<Alteration>,
    /// Another guitar, in which all this is done; none is the guitar that is compared.
    pub guitar: Option<Guitar>,
}

/// What a build may say, for help.
const EXAMPLE: &str = "for example: bench: bleed=120k || 1n; tone=22n; volume=500k";

/// The key of another guitar.
const GUITAR: &str = "guitar";

impl NamedBuild {
    /// Reads `NAME: SLOT=NETWORK; KEY=VALUE; guitar=FILE`. Without a name and its colon, what is fitted is the name. `guitar` finds the
    /// guitar that is named.
    ///
    /// # Errors
    /// Where the text is none.
    pub fn read(source: &Source, guitar: &dyn Fn(&str) -> Result<Guitar>) -> Result<Self> {
        let text = source.passage();
        let (name, start) = match text.text().find(':') {
            Some(colon) => (text.part(0..colon).trimmed(), colon + 1),
            None => (text.trimmed(), 0),
        };
        let length = name.text().chars().count();
        if length == 0 || length > LONGEST_NAME || name.text().chars().any(char::is_control) {
            return Err(Error::at(&name, ErrorKind::Range, "a build's name has 1 to 40 letters")
                .label("not a name")
                .help(EXAMPLE));
        }
        let words = Slot::ALL.map(Slot::word);
        let mut build = Self {
            name: name.text().to_owned(),
            fittings: Vec::new(),
            alterations: Vec::new(),
            guitar: None,
        };
        let mut from = start;
        for piece in text.text().get(start..).unwrap_or_default().split(';') {
            let item = text.part(from..from + piece.len()).trimmed();
            from += piece.len() + 1;
            if item.text().is_empty() {
                return Err(Error::at(&item, ErrorKind::Missing, "expected SLOT=NETWORK, found nothing")
                    .label("nothing is fitted here")
                    .help(EXAMPLE));
            }
            if let Some(equals) = item.text().find('=') {
                let (key, value) = (item.part(0..equals).trimmed(), item.part(equals + 1..item.text().len()).trimmed());
                if key.text() == GUITAR {
                    build.guitar = Some(guitar(value.text())?);
                    continue;
                }
                if Alteration::is_named_by(key.text(), &value) {
                    build.alter(Alteration::read(&key, &value)?, &item)?;
                    continue;
                }
            }
            let (word, network) = read_assignment_in(&item, &words).map_err(|error| match item.text().contains(',') {
                true => error.help("several slots of one build are set apart by `;`"),
                false => error,
            })?;
            let slot = Slot::ALL.into_iter().find(|slot| slot.word() == word);
            let slot = slot.ok_or_else(|| Error::at(&item, ErrorKind::Unknown, format!("`{word}` is no slot")))?;
            build.fittings.push((slot, network));
        }
        Ok(build)
    }

    fn alter(&mut self, alteration: Alteration, item: &Passage<'_>) -> Result<()> {
        if self.alterations.iter().any(|earlier| earlier.is_instead_of(&alteration)) {
            return Err(Error::at(item, ErrorKind::Conflict, "one build cannot have two of these").label("the second of them"));
        }
        self.alterations.push(alteration);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::NamedBuild;
    use crate::error::{Error, ErrorKind};
    use crate::guitar::{Guitar, Slot};
    use crate::source::Source;

    const SWIFT: &str = r#"
name = "Swift"
pickup = { inductance = "3 H", resistance = "7 k", capacitance = "100 p" }
volume = { resistance = "250 k", taper = "linear" }
cable = { capacitance = "500 p" }
"#;

    fn read(text: &str) -> crate::error::Result<NamedBuild> {
        NamedBuild::read(&Source::inline("--build", text), &|name| match name {
            "swift" => Guitar::read(&Source::inline("swift", SWIFT)),
            _ => Err(Error::new(ErrorKind::File, "there is none")),
        })
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
    fn a_build_may_have_other_pots_cable_wiring_and_guitar() {
        let build =
            read("half a meg: volume=500k; tone_pot=250k; tone=audio 10 %; tone=22n; cable=300p; no_load=true; guitar=swift").unwrap();
        let words: Vec<String> = build.alterations.iter().map(ToString::to_string).collect();
        assert_eq!(words, ["volume=500k", "tone=250k", "tone=audio 10 %", "cable=300p", "no_load=true"]);
        assert_eq!(build.fittings.len(), 1);
        assert_eq!(build.guitar.unwrap().name, "Swift");
        for text in ["a: volume=500k; volume=1M", "a: guitar=nobody", "a: no_load=perhaps", "a: volume=5"] {
            assert!(read(text).is_err(), "{text}");
        }
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
