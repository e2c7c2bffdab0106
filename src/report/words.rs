//! Sentences: networks, knob positions, cautions.

use std::collections::BTreeMap;

use crate::guitar::Hookup;
use crate::guitar::Joint;
use crate::guitar::Slot;
use crate::parts::network::{Component, Network};
use crate::recommend::instructions::network_in_words;
use crate::source::Source;
use crate::tolerance::Yield;
use crate::units::{grouped, with_prefix};

/// Breaks text into lines no longer than `width`, each after the first indented by `indent` spaces.
#[must_use]
pub fn wrapped(text: &str, width: usize, indent: usize) -> String {
    let spaces = " ".repeat(indent);
    let options = textwrap::Options::new(width.max(20)).subsequent_indent(&spaces).break_words(false);
    textwrap::fill(text, options)
}

/// What a result writes for a slot, read back; `None` for "none".
#[must_use]
pub fn written_network(written: &str) -> Option<Network> {
    Network::read(&Source::inline("result", written).passage()).ok().flatten()
}

/// What stands in each place: "bleed 120 kΩ and 1 nF in parallel; tone 22 nF".
#[must_use]
pub fn fitted_in_words(slots: &BTreeMap<Slot, String>) -> Vec<String> {
    let in_words = |(slot, written): (&Slot, &String)| match written_network(written) {
        Some(network) => format!("{slot} {}", network_in_words(&network)),
        None => format!("{slot} nothing"),
    };
    slots.iter().map(in_words).collect()
}

/// "has 0.42 dB to spare", "misses by 1.50 dB".
#[must_use]
pub fn spare(margin_db: f64) -> String {
    if margin_db >= 0.0 {
        format!("has {margin_db:.2} dB to spare")
    } else {
        format!("misses by {:.2} dB", -margin_db)
    }
}

/// How the tone control is wired.
#[must_use]
pub fn wired(hookup: Hookup) -> &'static str {
    match hookup {
        Hookup::Rheostat => "the common way, as a rheostat",
        Hookup::Shelf => "as a shelf",
    }
}

/// Where the tone control is joined.
#[must_use]
pub fn joined(joint: Joint) -> &'static str {
    match joint {
        Joint::Pickup => "at the volume control's input lug",
        Joint::Wiper => "at the volume control's wiper",
    }
}

/// A part with its value: `a 22 nF capacitor`.
#[must_use]
pub fn component_in_words(component: Component) -> String {
    let (value, what) = match component {
        Component::Resistor(value) => (with_prefix(value.value(), "Ω"), "resistor"),
        Component::Capacitor(value) => (with_prefix(value.value(), "F"), "capacitor"),
        Component::Inductor(value) => (with_prefix(value.value(), "H"), "coil"),
    };
    format!("{} {value} {what}", article(&value))
}

/// "an" before a number that is spoken with a vowel first: 8 and what begins with it, 11 and 18 before the unit.
fn article(value: &str) -> &'static str {
    let digits: String = value.chars().take_while(char::is_ascii_digit).collect();
    if digits.starts_with('8') || digits == "11" || digits == "18" {
        "an"
    } else {
        "a"
    }
}

/// The text with a capital first letter.
#[must_use]
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// "a", "a and b", "a, b and c".
#[must_use]
pub fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Where a slot is, by function.
#[must_use]
pub fn place(slot: Slot) -> &'static str {
    match slot {
        Slot::Bleed => "across the volume control, from its input lug to its wiper",
        Slot::Tone => "at the tone control, from the pot to ground",
        Slot::Bypass => "at the tone control, from its hot lug to its wiper",
        Slot::Series => "in series between the pickup and the controls",
        Slot::Across => "across the pickup, from its hot lead to ground",
    }
}

/// What stands in a slot, for players.
#[must_use]
pub fn slot_part(slot: Slot) -> &'static str {
    match slot {
        Slot::Bleed => "the treble bleed",
        Slot::Tone => "the tone network",
        Slot::Bypass => "the bypass network",
        Slot::Series => "the part in series",
        Slot::Across => "the part across the pickup",
    }
}

/// What to do with a slot that stays empty.
#[must_use]
pub fn nothing_fitted(slot: Slot) -> &'static str {
    match slot {
        Slot::Bleed => "fit no treble bleed",
        Slot::Tone => "fit no tone network",
        Slot::Bypass => "fit no bypass network",
        Slot::Series => "fit nothing in series between the pickup and the controls",
        Slot::Across => "fit nothing across the pickup",
    }
}

/// In how many of the guitars that are really built it works.
#[must_use]
pub fn works_in(found: &Yield) -> String {
    let count = grouped(found.builds);
    match 100.0 * found.share {
        _ if found.meeting == found.builds => format!("all of {count} builds"),
        _ if found.meeting == 0 => format!("none of {count} builds"),
        share if share < 1.0 => "fewer than 1 of 100 builds".to_owned(),
        share if share > 99.0 => "more than 99 of 100 builds".to_owned(),
        share => format!("{share:.0} of 100 builds"),
    }
}

/// A rotation as on the knob, 0 to 10.
#[must_use]
pub fn knob(rotation: f64) -> String {
    format!("{}", (rotation * 1e4).round() / 1e3)
}

/// A frequency for people.
#[must_use]
pub fn hertz(frequency: f64) -> String {
    if frequency < 100.0 {
        format!("{frequency:.1} Hz")
    } else {
        format!("{frequency:.0} Hz")
    }
}

/// The usual short cautions of soldering in a passive guitar.
pub const CAUTIONS: &str = "Before soldering: unplug the guitar, ventilate, protect your eyes, wash your hands after leaded solder, and keep every ground \
wire as it was. Try the values with clip leads first. Leave amplifiers and anything mains-powered to trained people, by local codes.";

/// Which capacitors to ask for, in one line. Published: the classes, and how far temperature moves them (EIA-198 and IEC 60384-8 and -9:
/// C0G 0 ± 30 ppm/K; X7R ± 15 %, Z5U + 22 − 56 %, Y5V + 22 − 82 %), and what voltage does to those of high permittivity (makers' tables).
/// Common practice, no source: that any voltage rating will do, and that the dear ones sound the same.
pub const CAPACITORS: &str = "Capacitors: film or ceramic C0G (NP0); any voltage rating found in a guitar shop will do. No ceramics of high \
permittivity (X7R, Y5V, Z5U): their value moves with voltage and temperature. The dear ones sound the same.";

#[cfg(test)]
mod tests {
    use super::article;

    #[test]
    fn numbers_have_the_article_they_are_spoken_with() {
        for value in ["8.2 nF", "82 kΩ", "820 pF", "8 H", "11 kΩ", "18 nF"] {
            assert_eq!(article(value), "an", "{value}");
        }
        for value in ["1.8 nF", "110 kΩ", "180 kΩ", "1.1 MΩ", "22 nF", "100 pF"] {
            assert_eq!(article(value), "a", "{value}");
        }
    }
}
