//! What a bench can change in a guitar besides the parts in its places: other pots, another cable, another wiring.

use std::fmt;

use super::file::{HOOKUPS, JOINTS};
use super::fitting::{no_tone, no_volume};
use super::ranges::{self, held};
use super::taper::Taper;
use super::{Guitar, Hookup, Joint, Potentiometer, Slot};
use crate::error::{Error, ErrorKind, Result};
use crate::parts::choice::items;
use crate::source::{Passage, Source};
use crate::units::{Farads, Ohms, read_farads, read_ohms, rkm};

/// One thing changed.
#[derive(Debug, Clone, PartialEq)]
pub enum Alteration {
    /// A volume pot of another resistance.
    VolumeTrack(Ohms),
    /// A volume pot of another taper.
    VolumeTaper(Taper),
    /// A tone pot of another resistance.
    ToneTrack(Ohms),
    /// A tone pot of another taper.
    ToneTaper(Taper),
    /// A cable of another capacitance.
    Cable(Farads),
    /// The tone control joined elsewhere.
    JoinedAt(Joint),
    /// The tone control wired otherwise.
    Hookup(Hookup),
    /// A tone pot that lets go at 10, or one that does not.
    NoLoad(bool),
}

/// Everything that a key may say.
const EXAMPLE: &str = "for example: volume=500k, volume=audio 10 %, cable=300p, joined_at=wiper, hookup=shelf, no_load=true";

impl Alteration {
    /// The keys, as in a guitar file.
    pub const KEYS: [&'static str; 6] = ["volume", "tone", "cable", "joined_at", "hookup", "no_load"];

    /// Reads the value of a key; `tone_pot` is the same as `tone`, for texts in which `tone` is a place for parts.
    ///
    /// # Errors
    /// Where the key is none, or the value is out of the range that a guitar file allows.
    pub fn read(key: &Passage<'_>, value: &Passage<'_>) -> Result<Self> {
        let track = |make: fn(Ohms) -> Self| held(value, read_ohms, &ranges::TRACK).map(make);
        Ok(match key.text() {
            "volume" if names_a_taper(value) => Self::VolumeTaper(Taper::read(value)?),
            "volume" => track(Self::VolumeTrack)?,
            "tone" | "tone_pot" if names_a_taper(value) => Self::ToneTaper(Taper::read(value)?),
            "tone" | "tone_pot" => track(Self::ToneTrack)?,
            "cable" => Self::Cable(held(value, read_farads, &ranges::CABLE)?),
            "joined_at" => Self::JoinedAt(one_of(value, JOINTS)?),
            "hookup" => Self::Hookup(one_of(value, HOOKUPS)?),
            "no_load" => Self::NoLoad(one_of(value, [("true", true), ("false", false)])?),
            other => {
                return Err(Error::at(
                    key,
                    ErrorKind::Unknown,
                    format!("`{other}` is nothing that can be changed this way"),
                )
                .label("expected a key")
                .nearest(other, Self::KEYS)
                .help(format!("keys: {}", Self::KEYS.join(", "))));
            }
        })
    }

    /// Whether a key and its value are about a pot, the cable or the wiring where `tone` alone is a place for parts.
    #[must_use]
    pub fn is_named_by(key: &str, value: &Passage<'_>) -> bool {
        match key {
            "tone" => Taper::read(value).is_ok(),
            "tone_pot" => true,
            key => Self::KEYS.contains(&key),
        }
    }

    /// Reads `KEY=VALUE,VALUE…`: the alternatives for one key.
    ///
    /// # Errors
    /// Where the text is none.
    pub fn read_all(source: &Source) -> Result<Vec<Self>> {
        let text = source.passage();
        let Some(equals) = text.text().find('=') else {
            return Err(
                Error::at(&text, ErrorKind::Syntax, format!("expected KEY=VALUE, found `{}`", text.text()))
                    .label("no `=` here")
                    .help(EXAMPLE),
            );
        };
        let key = text.part(0..equals).trimmed();
        let values = items(&text.part(equals + 1..text.text().len()));
        values.iter().map(|value| Self::read(&key, value)).collect()
    }

    /// What makes one guitar the other, as far as pots, cable and wiring go.
    #[must_use]
    pub fn between(one: &Guitar, other: &Guitar) -> Vec<Self> {
        let pot = |one: &Potentiometer, other: &Potentiometer, track: fn(Ohms) -> Self, taper: fn(Taper) -> Self| {
            let track = (one.resistance != other.resistance).then(|| track(other.resistance));
            let taper = (one.taper != other.taper).then(|| taper(other.taper.clone()));
            [track, taper]
        };
        let mut found: Vec<Option<Self>> = pot(&one.volume.pot, &other.volume.pot, Self::VolumeTrack, Self::VolumeTaper).into();
        let cable = other.cable.capacitance;
        found.push((one.cable.capacitance != cable).then_some(Self::Cable(cable)));
        if let (Some(one), Some(other)) = (&one.tone, &other.tone) {
            found.extend(pot(&one.pot, &other.pot, Self::ToneTrack, Self::ToneTaper));
            found.push((one.joined_at != other.joined_at).then_some(Self::JoinedAt(other.joined_at)));
            found.push((one.hookup != other.hookup).then_some(Self::Hookup(other.hookup)));
            found.push((one.no_load != other.no_load).then_some(Self::NoLoad(other.no_load)));
        }
        found.into_iter().flatten().collect()
    }

    /// Whether both change the same thing, so that a guitar can have only one of them.
    #[must_use]
    pub fn is_instead_of(&self, other: &Self) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other)
    }

    /// Changes a guitar; `option` is what asks for it. A network that has no place in another wiring is taken out.
    ///
    /// # Errors
    /// When the guitar has no tone control to change.
    pub fn apply(&self, guitar: &mut Guitar, option: &str) -> Result<()> {
        let no_tone = || no_tone(&format!("{option} {self} is about the tone control"));
        match self {
            Self::VolumeTrack(_) | Self::VolumeTaper(_) if !guitar.volume.is_fitted => {
                return Err(no_volume(&format!("{option} {self} is about the volume control")));
            }
            Self::VolumeTrack(track) => guitar.volume.pot.resistance = *track,
            Self::VolumeTaper(taper) => guitar.volume.pot.taper = taper.clone(),
            Self::Cable(capacitance) => guitar.cable.capacitance = *capacitance,
            Self::ToneTrack(track) => guitar.tone.as_mut().ok_or_else(no_tone)?.pot.resistance = *track,
            Self::ToneTaper(taper) => guitar.tone.as_mut().ok_or_else(no_tone)?.pot.taper = taper.clone(),
            Self::JoinedAt(joint) => guitar.tone.as_mut().ok_or_else(no_tone)?.joined_at = *joint,
            Self::NoLoad(no_load) => guitar.tone.as_mut().ok_or_else(no_tone)?.no_load = *no_load,
            Self::Hookup(hookup) => {
                guitar.tone.as_mut().ok_or_else(no_tone)?.hookup = *hookup;
                if *hookup == Hookup::Rheostat {
                    guitar.fit(Slot::Bypass, None);
                }
            }
        }
        Ok(())
    }
}

impl fmt::Display for Alteration {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::VolumeTrack(track) => write!(formatter, "volume={}", rkm(track.value(), "R")),
            Self::VolumeTaper(taper) => write!(formatter, "volume={taper}"),
            Self::ToneTrack(track) => write!(formatter, "tone={}", rkm(track.value(), "R")),
            Self::ToneTaper(taper) => write!(formatter, "tone={taper}"),
            Self::Cable(capacitance) => write!(formatter, "cable={}", rkm(capacitance.value(), "F")),
            Self::JoinedAt(joint) => write!(formatter, "joined_at={}", joint.word()),
            Self::Hookup(hookup) => write!(formatter, "hookup={}", hookup.word()),
            Self::NoLoad(no_load) => write!(formatter, "no_load={no_load}"),
        }
    }
}

/// Whether a pot is described by its taper, in words, and not by its resistance.
fn names_a_taper(value: &Passage<'_>) -> bool {
    value.text().starts_with(|first: char| first.is_ascii_alphabetic())
}

fn one_of<T: Copy, const N: usize>(value: &Passage<'_>, choices: [(&'static str, T); N]) -> Result<T> {
    let words = choices.map(|(word, _)| word);
    let found = choices.into_iter().find(|(word, _)| *word == value.text());
    found.map(|(_, choice)| choice).ok_or_else(|| {
        Error::at(
            value,
            ErrorKind::Unknown,
            format!("`{}` is not {}", value.text(), words.join(" or ")),
        )
        .label(format!("expected {}", words.join(" or ")))
        .nearest(value.text(), words)
    })
}

#[cfg(test)]
mod tests {
    use super::Alteration;
    use crate::source::Source;

    fn read(text: &str) -> crate::error::Result<Vec<Alteration>> {
        Alteration::read_all(&Source::inline("--try", text))
    }

    #[test]
    fn every_alternative_is_read_and_written_back() {
        for (text, written) in [
            ("volume=500k, 1M", vec!["volume=500k", "volume=1M"]),
            ("volume = audio 10 %", vec!["volume=audio 10 %"]),
            ("tone=250k,linear", vec!["tone=250k", "tone=linear"]),
            ("cable=300p", vec!["cable=300p"]),
            ("joined_at=wiper,pickup", vec!["joined_at=wiper", "joined_at=pickup"]),
            ("hookup=shelf", vec!["hookup=shelf"]),
            ("no_load=true", vec!["no_load=true"]),
        ] {
            let all: Vec<String> = read(text).unwrap().iter().map(ToString::to_string).collect();
            assert_eq!(all, written, "{text}");
        }
    }

    #[test]
    fn what_is_no_alternative_is_refused_with_what_is() {
        for (text, help) in [
            ("volume", "no `=` here"),
            ("volum=500k", "volume"),
            ("volume=500", "which unit?"),
            ("volume=500 R", "expected 1 kΩ to 10 MΩ"),
            ("volume=", "volume="),
            ("volume=500k,", "volume=500k,"),
            ("volume=loud", "taper"),
            ("no_load=yes", "expected true or false"),
            ("joined_at=jack", "expected pickup or wiper"),
            ("cable=1u", "20 nF"),
        ] {
            let refused = read(text).unwrap_err().picture();
            assert!(refused.contains(help), "{text}: {refused}");
        }
    }
}
