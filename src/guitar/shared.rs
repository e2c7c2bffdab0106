//! What a guitar file has behind the selector, and the controls that several pickups share: tone controls by name, a bass cut, a rotary
//! tone selector, a blend.

use super::Potentiometer;
use super::ensemble::BassCut;
use super::file::{self, potentiometer, tone_beside};
use super::{Tone, Volume};
use crate::document::{Mistakes, Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits;
use crate::parts::network::Network;

/// Most tone controls of one pickup, or behind the selector.
pub(super) const MOST_TONES: usize = 5;
/// Most positions of a rotary tone selector.
const MOST_CHOICES: usize = 24;

/// What is behind the selector.
pub(super) struct Shared {
    pub(super) series: Option<Network>,
    pub(super) across: Option<Network>,
    pub(super) volume: Option<Volume>,
    pub(super) tones: Vec<NamedTone>,
    pub(super) bass_cut: Option<BassCut>,
    pub(super) blend: Option<Blend>,
    pub(super) choices: Vec<Choice>,
}

/// A tone control and the name of its knob.
#[derive(Clone)]
pub(super) struct NamedTone {
    pub(super) name: String,
    pub(super) tone: Tone,
}

/// One shaft that turns one of two pickups down either way.
pub(super) struct Blend {
    pub(super) pot: Potentiometer,
    /// The pickups' places in the file: the first is alone at 0, the second at 10.
    pub(super) between: [usize; 2],
}

/// A position of a rotary tone selector.
pub(super) struct Choice {
    pub(super) name: String,
    pub(super) network: Option<Network>,
}

/// A pickup as a blend can name it.
pub(super) struct Blended<'n> {
    pub(super) name: &'n str,
    pub(super) has_volume: bool,
}

impl Shared {
    pub(super) fn read(root: &Section<'_>, pickups: &[Blended<'_>], mistakes: &mut Mistakes) -> Option<Self> {
        let series = mistakes.keep(file::network(root.get("series")));
        let across = mistakes.keep(file::network(root.get("across")));
        let volume = root.get("volume").map(|value| file::volume(&value, mistakes));
        let tones = tones(root, "", mistakes);
        let bass_cut = root.get("bass_cut").map(|value| bass_cut(&value, mistakes));
        let blend = root.get("blend").map(|value| blend(&value, pickups, mistakes));
        let choices = root.get("tone_choice").map(|value| choices(&value, mistakes));
        let shared = Self {
            series: series?,
            across: across?,
            volume: all_or_none(volume)?,
            tones: tones?,
            bass_cut: all_or_none(bass_cut)?,
            blend: all_or_none(blend)?,
            choices: choices.unwrap_or_else(|| Some(Vec::new()))?,
        };
        mistakes.keep(shared.check_choices(root))?;
        Some(shared)
    }

    /// A rotary selector stands in place of the network of one tone control, or of a tone control.
    fn check_choices(&self, root: &Section<'_>) -> Result<()> {
        let Some(written) = root.get("tone_choice").filter(|_| !self.choices.is_empty()) else {
            return Ok(());
        };
        let place = written.key_passage();
        match self.tones.as_slice() {
            [] => Ok(()),
            [only] if only.tone.network.is_none() => Ok(()),
            [_] => {
                let message = "[[tone_choice]] stands in place of the tone control's network, and [tone] has one";
                Err(Error::at(&place, ErrorKind::Conflict, message).help("leave `network` out of [tone]"))
            }
            _ => {
                let message = "[[tone_choice]] goes with one tone control or none, and there are several";
                Err(Error::at(&place, ErrorKind::Conflict, message).label("which of them?"))
            }
        }
    }
}

/// What is not there is read; what is there and wrong is not.
#[allow(
    clippy::option_option,
    reason = "the outer level is whether a table stands in the file, the inner whether it could be read"
)]
pub(super) fn all_or_none<T>(read: Option<Option<T>>) -> Option<Option<T>> {
    read.map_or(Some(None), |read| read.map(Some))
}

/// The tone control of `[tone]`, or each of `[tones.NAME]`; `owner` is the pickup whose they are, or nothing.
pub(super) fn tones(section: &Section<'_>, owner: &str, mistakes: &mut Mistakes) -> Option<Vec<NamedTone>> {
    let (one, several) = (section.get("tone"), section.get("tones"));
    let named = |word: &str| {
        [owner, word, "tone"]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    };
    match (one, several) {
        (None, None) => Some(Vec::new()),
        (Some(one), None) => {
            let tone = tone_beside(&one, mistakes)?;
            Some(vec![NamedTone { name: named(""), tone }])
        }
        (Some(_), Some(several)) => {
            let message = "one tone control stands under [tone], several under [tones.NAME], not both";
            mistakes.keep(Err(
                Error::at(&several.key_passage(), ErrorKind::Conflict, message).label("[tone] is given already")
            ))
        }
        (None, Some(several)) => {
            let entries = mistakes.keep(several.section("[tones]"))?.entries();
            if let Some((beyond, _)) = entries.get(MOST_TONES) {
                mistakes.keep(limits::count(entries.len(), MOST_TONES, "tone controls in one place", beyond))?;
            }
            let read = entries.iter().map(|(key, value)| {
                let name = mistakes.keep(knob_name(key, "a tone control", "treble"));
                let tone = tone_beside(value, mistakes);
                Some(NamedTone {
                    name: named(&name?),
                    tone: tone?,
                })
            });
            read.collect::<Vec<_>>().into_iter().collect()
        }
    }
}

/// One word, as all that is named in a file of several pickups.
pub(super) fn knob_name(key: &crate::source::Passage<'_>, what: &str, example: &str) -> Result<String> {
    let is_word = |letter: char| letter.is_alphanumeric() || letter == '_';
    if key.text().is_empty() || !key.text().chars().all(is_word) {
        let message = format!("{what}'s name is one word of letters, digits and `_`");
        return Err(Error::at(key, ErrorKind::Syntax, message).label(format!("expected for example {example}")));
    }
    limits::name(key, what, example)
}

fn bass_cut(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<BassCut> {
    let section = mistakes.keep(value.section("[bass_cut]"))?;
    let pot = potentiometer(&section, mistakes);
    let network = mistakes.keep(file::network(section.get("network")));
    mistakes.keep(section.finish());
    Some(BassCut {
        pot: pot?,
        network: network?,
    })
}

fn blend(value: &Value<'_>, pickups: &[Blended<'_>], mistakes: &mut Mistakes) -> Option<Blend> {
    let section = mistakes.keep(value.section("[blend]"))?;
    let pot = potentiometer(&section, mistakes);
    let written = mistakes.keep(section.need("between"));
    let between = written.and_then(|value| mistakes.keep(between(&value, pickups)));
    mistakes.keep(section.finish());
    Some(Blend {
        pot: pot?,
        between: between?,
    })
}

fn between(value: &Value<'_>, pickups: &[Blended<'_>]) -> Result<[usize; 2]> {
    const EXPECTED: &str = "expected two pickups, such as [\"neck\", \"bridge\"]";
    let items = value.items()?;
    let [first, second] = items.as_slice() else {
        let message = format!("a blend is between 2 pickups, this one has {}", items.len());
        return Err(Error::at(&value.passage(), ErrorKind::Syntax, message).label(EXPECTED));
    };
    let [one, other] = [blended(first, pickups)?, blended(second, pickups)?];
    if one == other {
        let error = Error::at(&second.passage(), ErrorKind::Conflict, "a blend is between two different pickups");
        return Err(error.label("the same again"));
    }
    Ok([one, other])
}

fn blended(item: &Value<'_>, pickups: &[Blended<'_>]) -> Result<usize> {
    let written = item.text()?;
    let Some(place) = pickups.iter().position(|own| own.name == written.text()) else {
        let names = || pickups.iter().map(|own| own.name);
        return Err(
            Error::at(&written, ErrorKind::Unknown, format!("no pickup is called `{}`", written.text()))
                .label("expected the name of a pickup")
                .nearest(written.text(), names())
                .help(format!("pickups of this guitar: {}", names().collect::<Vec<_>>().join(", "))),
        );
    };
    if pickups.get(place).is_some_and(|own| own.has_volume) {
        let message = format!(
            "`{}` has a volume control of its own, which a blend stands in place of",
            written.text()
        );
        return Err(Error::at(&written, ErrorKind::Conflict, message).label("not both"));
    }
    Ok(place)
}

fn choices(value: &Value<'_>, mistakes: &mut Mistakes) -> Option<Vec<Choice>> {
    let items = value
        .items()
        .map_err(|error| error.help("each position stands under its own heading [[tone_choice]], in double brackets"));
    let items = mistakes.keep(items)?;
    let mut choices: Vec<Choice> = Vec::with_capacity(items.len());
    for item in &items {
        let section = mistakes.keep(item.section("[[tone_choice]]"))?;
        let written = mistakes.keep(section.need("name"));
        let name = written.as_ref().and_then(|name| mistakes.keep(name.name("a position", "10n")));
        let network = mistakes.keep(file::network(section.get("network")));
        mistakes.keep(section.finish());
        let (written, name) = (written?.passage(), name?);
        if choices.iter().any(|other| other.name == name) {
            let error = Error::at(&written, ErrorKind::Conflict, format!("two positions are called `{name}`"));
            return mistakes.keep(Err(error.label("the second of them")));
        }
        mistakes.keep(limits::count(
            choices.len() + 1,
            MOST_CHOICES,
            "positions of a tone selector",
            &written,
        ))?;
        choices.push(Choice { name, network: network? });
    }
    Some(choices)
}
