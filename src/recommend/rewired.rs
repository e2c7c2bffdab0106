//! What a build has otherwise than the present guitar besides the parts in its places: pots, cable, wiring.

use serde::Serialize;

use crate::guitar::{Guitar, Hookup, Joint, Potentiometer};
use crate::units::rkm;

/// What is otherwise than now; what is the same is left out.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Rewired {
    /// The volume pot: its resistance, its taper, or both.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume: Option<String>,
    /// The tone pot: its resistance, its taper, or both.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tone: Option<String>,
    /// Whether the tone pot lets go at 10.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_load: Option<bool>,
    /// The cable's capacitance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cable: Option<String>,
    /// How the tone control is wired.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hookup: Option<Hookup>,
    /// Where it is joined.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub joined_at: Option<Joint>,
}

impl Rewired {
    pub(crate) fn between(present: &Guitar, build: &Guitar) -> Self {
        let cable = (present.cable.capacitance != build.cable.capacitance).then(|| rkm(build.cable.capacitance.value(), "F"));
        let all = Self {
            volume: other_pot(&present.volume.pot, &build.volume.pot),
            cable,
            ..Self::default()
        };
        let (Some(now), Some(then)) = (&present.tone, &build.tone) else {
            return all;
        };
        Self {
            tone: other_pot(&now.pot, &then.pot),
            no_load: (now.no_load != then.no_load).then_some(then.no_load),
            hookup: (now.hookup != then.hookup).then_some(then.hookup),
            joined_at: (now.joined_at != then.joined_at).then_some(then.joined_at),
            ..all
        }
    }

    /// How many changes these are: a new pot is one, whatever is new about it.
    #[must_use]
    pub fn count(&self) -> usize {
        let tone_pot = self.tone.is_some() || self.no_load.is_some();
        let changes = [
            self.volume.is_some(),
            tone_pot,
            self.cable.is_some(),
            self.hookup.is_some(),
            self.joined_at.is_some(),
        ];
        changes.into_iter().filter(|changes| *changes).count()
    }

    /// Whether a pot or the cable is another.
    #[must_use]
    pub const fn is_of_pots_or_cable(&self) -> bool {
        self.volume.is_some() || self.tone.is_some() || self.no_load.is_some() || self.cable.is_some()
    }

    /// "volume pot 500k", "tone pot no-load": each change in the few words that a table has room for.
    #[must_use]
    pub fn in_words(&self) -> Vec<String> {
        self.in_short().into_iter().map(|words| words.join(" ")).collect()
    }

    /// What changes and to what, as [`Rewired::in_words`].
    #[must_use]
    pub fn in_short(&self) -> Vec<[String; 2]> {
        let no_load = self.no_load.map(|no_load| if no_load { "no-load" } else { "not no-load" });
        let tone = no_load
            .map(str::to_owned)
            .into_iter()
            .chain(self.tone.clone())
            .collect::<Vec<_>>()
            .join(" ");
        let all = [
            ("volume pot", self.volume.clone()),
            ("tone pot", Some(tone).filter(|tone| !tone.is_empty())),
            ("cable", self.cable.clone()),
            ("tone control", self.hookup.map(|hookup| format!("wired as a {}", hookup.word()))),
            ("tone joined", self.joined_at.map(|joint| format!("at the {}", joint.word()))),
        ];
        all.into_iter().filter_map(|(what, then)| Some([what.to_owned(), then?])).collect()
    }
}

/// "500k", "audio 10 %" or "500k audio 10 %": what is new about a pot.
fn other_pot(now: &Potentiometer, then: &Potentiometer) -> Option<String> {
    let track = (now.resistance != then.resistance).then(|| rkm(then.resistance.value(), "R"));
    let taper = (now.taper != then.taper).then(|| then.taper.to_string());
    let new: Vec<String> = track.into_iter().chain(taper).collect();
    (!new.is_empty()).then(|| new.join(" "))
}
