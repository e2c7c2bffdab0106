//! A target in plain sentences, for people who play.

use super::phrase::common_bands;
use super::{Against, Band, Clause, DEFAULT_ANCHOR, Measure, Over, Target, travel};

impl Target {
    /// One plain sentence for each clause.
    #[must_use]
    pub fn in_words(&self) -> Vec<String> {
        self.clauses.iter().map(Clause::in_words).collect()
    }
}

impl Clause {
    /// The clause as one plain sentence.
    #[must_use]
    pub fn in_words(&self) -> String {
        let (subject, is_plural) = self.subject();
        let sentence = format!(
            "{}, {subject} {}{}{}",
            self.knobs(),
            self.bounds(is_plural),
            self.levelled(),
            self.place.in_words()
        );
        capitalized(&sentence)
    }

    /// What is measured, and whether it takes a plural verb.
    fn subject(&self) -> (String, bool) {
        let named = || common_bands().into_iter().find(|known| known.band == self.band);
        let common = match self.band.word() {
            Some("kept highs") => None,
            Some(word) => Some(word.to_owned()),
            None => named().map(|known| known.name),
        };
        let hertz = self.hertz();
        let (name, is_plural) = match &common {
            Some(name) => (format!("the {name} ({hertz})"), name.ends_with('s') && !name.ends_with("ss")),
            None => (hertz, false),
        };
        match self.measure {
            Measure::Shape => (name, is_plural),
            Measure::Level if common.is_some() => (format!("the level of {name}"), false),
            Measure::Level => (format!("the level over {name}"), false),
        }
    }

    /// Where it is measured; of several cases from the first end to the last.
    fn hertz(&self) -> String {
        let ends = self.each_band().map(Band::high);
        let (lowest, highest) = ends.fold((f64::INFINITY, 0.0_f64), |(lowest, highest), end| {
            (lowest.min(end), highest.max(end))
        });
        if lowest == highest || self.bands.is_empty() {
            return range(self.band);
        }
        let why = if self.each_band().any(Band::ends_with_the_sound) {
            " by case, where this guitar's own sound ends"
        } else {
            " by case"
        };
        format!(
            "{} Hz to {:.1}–{:.1} kHz{why}",
            number(self.band.low()),
            lowest / 1e3,
            highest / 1e3
        )
    }

    fn bounds(&self, is_plural: bool) -> String {
        let mean = match self.over {
            Over::Every => "",
            Over::Mean | Over::Average => " on average",
        };
        let (stay, are, they) = if is_plural {
            ("stay", "are", "they are")
        } else {
            ("stays", "is", "it is")
        };
        let (stay, are) = (format!("{stay}{mean}"), format!("{are}{mean}"));
        let reference = self.reference(they);
        match (self.at_least, self.at_most) {
            (Some(low), Some(high)) if low == -high => format!("{stay} within {} dB of {reference}", number(high)),
            (Some(low), Some(high)) if high <= 0.0 => {
                format!("{are} {} to {} dB below {reference}", number(-high), number(-low))
            }
            (Some(low), Some(high)) if low >= 0.0 => format!("{are} {} to {} dB above {reference}", number(low), number(high)),
            (Some(low), Some(high)) => {
                let (below, above) = (number(-low), number(high));
                format!("{stay} between {below} dB below and {above} dB above {reference}")
            }
            (None, Some(high)) if high < 0.0 => format!("{are} at least {} dB below {reference}", number(-high)),
            (None, Some(high)) => format!("{stay} at most {} dB above {reference}", number(high)),
            (Some(low), None) if low > 0.0 => format!("{are} at least {} dB above {reference}", number(low)),
            (Some(low), None) => format!("{stay} at most {} dB below {reference}", number(-low)),
            (None, None) => format!("{are} free"),
        }
    }

    /// What it is compared with; `they` is "they are" or "it is".
    fn reference(&self, they: &str) -> String {
        match &self.against {
            Against::Full => format!("what {they} {}", self.at_full()),
            Against::Present => format!("what {they} now"),
            Against::Flat => match (self.measure, self.anchor) {
                (Measure::Shape, anchor) => format!("the mean level of {}", range(anchor.unwrap_or(DEFAULT_ANCHOR))),
                (Measure::Level, _) => "the level the pickup makes".to_owned(),
            },
            Against::Curve(wanted) => format!("the curve `{}`", wanted.name),
        }
    }

    /// The positions `full` stands for, without the knob that never moves.
    fn at_full(&self) -> &'static str {
        match (moves(&self.volume), moves(&self.tone)) {
            (true, false) => "at full volume",
            (false, true) => "with the tone knob full up",
            _ => "with both knobs full up",
        }
    }

    /// How a shape sets loudness aside.
    fn levelled(&self) -> String {
        match (self.measure, &self.against, self.anchor) {
            (Measure::Level, ..) | (_, Against::Flat, _) => String::new(),
            (_, _, Some(anchor)) if anchor != DEFAULT_ANCHOR => format!(", measured from the mean level of {}", range(anchor)),
            _ => ", loudness set aside".to_owned(),
        }
    }

    fn knobs(&self) -> String {
        let volume = || positions(&self.volume, "volume");
        let tone = || positions(&self.tone, "tone");
        match (moves(&self.volume), moves(&self.tone)) {
            (false, false) => "with both knobs full up".to_owned(),
            (true, false) => volume(),
            (false, true) => tone(),
            (true, true) => format!("{} and {}", volume(), tone()),
        }
    }
}

/// Whether a knob is asked for anywhere but at full.
fn moves(rotations: &[f64]) -> bool {
    rotations.iter().any(|rotation| *rotation != 1.0)
}

/// "at half volume", "from full to quarter volume", "at tone 10, 7.5 and 5".
pub(super) fn positions(rotations: &[f64], knob: &str) -> String {
    let name = |rotation: f64| -> Option<&str> {
        [(1.0, "full"), (0.75, "three-quarter"), (0.5, "half"), (0.25, "quarter")]
            .into_iter()
            .find(|(known, _)| *known == rotation)
            .map(|(_, name)| name)
    };
    let on_knob = |rotation: &f64| number(rotation * 10.0);
    match rotations {
        [only] if knob == "volume" => match name(*only) {
            Some(name) => format!("at {name} {knob}"),
            None => format!("at {knob} {}", on_knob(only)),
        },
        [only] => format!("at {knob} {}", on_knob(only)),
        [first, .., last] if travel::ends(rotations).is_some() => match (name(*first), name(*last)) {
            (Some(first), Some(last)) if knob == "volume" => format!("from {first} to {last} {knob}"),
            _ => format!("from {knob} {} to {}", on_knob(first), on_knob(last)),
        },
        _ => match rotations.split_last() {
            Some((last, rest)) => {
                let rest: Vec<String> = rest.iter().map(on_knob).collect();
                format!("at {knob} {} and {}", rest.join(", "), on_knob(last))
            }
            None => format!("at no {knob} position"),
        },
    }
}

/// "1500–6000 Hz"; "1500 Hz to 4.4 kHz, where this guitar's own sound ends".
fn range(band: Band) -> String {
    let kilohertz = band.high() / 1e3;
    if band.ends_with_the_sound() {
        return format!(
            "{} Hz to {kilohertz:.1} kHz, where this guitar's own sound ends",
            number(band.low())
        );
    }
    if band.word().and_then(Band::known).is_some_and(|known| known != band) {
        return format!("{} Hz to {kilohertz:.1} kHz", number(band.low()));
    }
    format!("{}–{} Hz", number(band.low()), number(band.high()))
}

/// At most three decimals, none that are zero.
pub(super) fn number(value: f64) -> String {
    let rounded = (value * 1e3).round() / 1e3;
    // Adding zero turns −0 into 0.
    format!("{}", rounded + 0.0)
}

fn capitalized(sentence: &str) -> String {
    let mut signs = sentence.chars();
    match signs.next() {
        Some(first) => format!("{}{}.", first.to_uppercase(), signs.as_str()),
        None => String::new(),
    }
}
