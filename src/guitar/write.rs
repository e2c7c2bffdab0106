//! [`Guitar`] → TOML that reads back as the same guitar, figure for figure; with comments it is a file to start from.

use super::guide::{self, Guide};
use super::ranges;
use super::taper::Taper;
use super::{Case, Guitar, Hookup, Load, Pickup, Potentiometer, Tone, Volume};
use crate::document::quoted;
use crate::limits::LONGEST_NAME;
use crate::parts::network::Network;
use crate::source::is_printable;
use crate::units::{Decimal, Farads, Fraction, Henries, Ohms, with_prefix};

/// Columns of a comment.
const WIDTH: usize = 100;

/// What stands above everything.
const HEAD: &str = "A guitar file: change what you know better. The program passes over lines that begin with #; take the # away from a key \
                    to set it. Values carry a unit or a prefix, in quotes. knobwright check FILE says what was read.";

impl Guitar {
    /// The guitar as its file. It reads back to the same guitar, whatever file it was read from: a measured taper is written with its points.
    /// A name that a file cannot hold (of several lines, say) is left out; the guitar is then called by its file.
    #[must_use]
    pub fn to_toml(&self) -> String {
        self.write(File {
            text: String::new(),
            is_commented: false,
        })
    }

    /// As [`Guitar::to_toml`], with what is usual for each value and how to find it out as comments, and every key that is not set;
    /// `about` says at the top where the values come from.
    #[must_use]
    pub fn to_commented_toml(&self, about: &str) -> String {
        let mut file = File {
            text: String::new(),
            is_commented: true,
        };
        file.comment(HEAD);
        file.comment(about);
        self.write(file)
    }

    fn write(&self, mut file: File) -> String {
        file.key(&guide::NAME, name(&self.name));
        file.key(&guide::SERIES, self.series.as_ref().map(network));
        file.pickup(&self.pickup, self.across.as_ref());
        file.volume(&self.volume);
        file.tone(self.tone.as_ref());
        file.heading(
            "[cable]",
            "The cable to the amplifier, or to the first pedal that does not let the guitar's own signal through.",
        );
        file.key(&guide::CABLE, Some(farads(self.cable.capacitance)));
        file.key(&guide::CABLE_TOLERANCE, self.cable.tolerance.map(share));
        file.heading("[input]", "What the cable is plugged into.");
        file.key(&guide::INPUT_RESISTANCE, Some(ohms(self.input.resistance)));
        file.key(&guide::INPUT_CAPACITANCE, Some(farads(self.input.capacitance)));
        file.loads(&self.loads);
        file.cases(&self.cases);
        file.text
    }
}

/// A file while it is written.
struct File {
    text: String,
    is_commented: bool,
}

impl File {
    /// A comment, broken into lines.
    fn comment(&mut self, words: &str) {
        if !self.is_commented || words.is_empty() {
            return;
        }
        for line in textwrap::wrap(words, WIDTH - 2) {
            self.line(&format!("# {line}"));
        }
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// A blank line, except at the beginning.
    fn blank(&mut self) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
    }

    fn heading(&mut self, heading: &str, says: &str) {
        self.blank();
        self.comment(says);
        self.line(heading);
    }

    /// A key with its value; one that is not set stands there as a comment, or nowhere.
    fn key(&mut self, guide: &Guide, value: Option<String>) {
        if !self.is_commented {
            if let Some(value) = value {
                self.line(&format!("{} = {value}", guide.key));
            }
            return;
        }
        self.blank();
        self.comment(guide.says);
        if let Some(usual) = guide.usual() {
            self.comment(&format!("Usual: {usual}."));
        }
        match value {
            Some(value) => self.line(&format!("{} = {value}", guide.key)),
            None => self.line(&format!("# {} = {}", guide.key, guide.example)),
        }
    }

    /// A table that is not there, as a comment.
    fn absent(&mut self, heading: &str, says: &str, keys: &[(&str, &str)]) {
        if !self.is_commented {
            return;
        }
        self.heading(&format!("# {heading}"), says);
        for (key, value) in keys {
            self.line(&format!("# {key} = {value}"));
        }
    }

    fn pickup(&mut self, pickup: &Pickup, across: Option<&Network>) {
        self.heading("[pickup]", "The pickup alone, without pots and cable.");
        self.key(&guide::INDUCTANCE, Some(henries(pickup.inductance)));
        self.key(&guide::WINDING_RESISTANCE, Some(ohms(pickup.resistance)));
        self.key(&guide::WINDING_CAPACITANCE, Some(farads(pickup.capacitance)));
        let cells: Vec<String> = pickup
            .loss
            .iter()
            .map(|cell| {
                format!(
                    "{{ inductance = {}, resistance = {} }}",
                    henries(cell.inductance),
                    ohms(cell.resistance)
                )
            })
            .collect();
        self.key(&guide::LOSS, (!cells.is_empty()).then(|| list(&cells)));
        self.key(&guide::PICKUP_TOLERANCE, pickup.tolerance.map(share));
        self.key(&guide::ACROSS, across.map(network));
    }

    fn pot(&mut self, pot: &Potentiometer) {
        self.key(&guide::TRACK, Some(ohms(pot.resistance)));
        self.key(&guide::TAPER, Some(taper(&pot.taper)));
        self.key(&guide::POT_TOLERANCE, pot.tolerance.map(share));
        self.key(&guide::TAPER_TOLERANCE, pot.taper_tolerance.map(share));
    }

    fn volume(&mut self, volume: &Volume) {
        self.heading("[volume]", "The volume pot.");
        self.pot(&volume.pot);
        self.key(&guide::BLEED, volume.bleed.as_ref().map(network));
    }

    fn tone(&mut self, tone: Option<&Tone>) {
        let Some(tone) = tone else {
            let keys = [&guide::TRACK, &guide::TAPER, &guide::TONE_NETWORK].map(|guide| (guide.key, guide.example));
            return self.absent("[tone]", "The tone pot; this guitar has none.", &keys);
        };
        self.heading("[tone]", "The tone pot. A guitar without one has no [tone].");
        self.pot(&tone.pot);
        self.key(&guide::TONE_NETWORK, tone.network.as_ref().map(network));
        self.key(&guide::HOOKUP, Some(quoted(tone.hookup.word())));
        if tone.hookup == Hookup::Shelf {
            self.key(&guide::BYPASS, tone.bypass.as_ref().map(network));
        }
        self.key(&guide::JOINED_AT, Some(quoted(tone.joined_at.word())));
        self.key(&guide::NO_LOAD, Some(tone.no_load.to_string()));
    }

    fn loads(&mut self, loads: &[Load]) {
        const SAYS: &str = "Controls that stay connected beside these, such as the pots of a second pickup that is on.";
        for load in loads {
            self.heading("[[load]]", SAYS);
            self.key(&guide::LOAD_NETWORK, Some(network(&load.network)));
            self.key(&guide::LOAD_AT, Some(quoted(load.at.word())));
        }
        if loads.is_empty() {
            let keys = [&guide::LOAD_NETWORK, &guide::LOAD_AT].map(|guide| (guide.key, guide.example));
            self.absent("[[load]]", SAYS, &keys);
        }
    }

    fn cases(&mut self, cases: &[Case]) {
        const SAYS: &str = "What if: another cable (whole capacitance), input (resistance), input_capacitance, volume or tone pot (track), or \
                            inductance. Where there are cases, only they count; one that changes nothing and has a name is the guitar as it is.";
        for case in cases {
            self.heading("[[case]]", SAYS);
            self.key(&guide::CASE_NAME, Some(quoted(&case.name)));
            let changes = [
                ("cable", &ranges::CABLE, case.cable.map(farads)),
                ("input", &ranges::INPUT_RESISTANCE, case.input.map(ohms)),
                ("input_capacitance", &ranges::INPUT_CAPACITANCE, case.input_capacitance.map(farads)),
                ("volume", &ranges::TRACK, case.volume.map(ohms)),
                ("tone", &ranges::TRACK, case.tone.map(ohms)),
                ("inductance", &ranges::INDUCTANCE, case.inductance.map(henries)),
            ];
            for (key, limits, value) in changes {
                if let Some(value) = value {
                    self.comment(&format!("Usual: {}.", limits.usual()));
                    self.line(&format!("{key} = {value}"));
                }
            }
        }
        if cases.is_empty() {
            self.absent("[[case]]", SAYS, &[("name", "\"long cable\""), ("cable", "\"900 pF\"")]);
        }
    }
}

/// A guitar's name, if a file can hold it.
fn name(name: &str) -> Option<String> {
    let is_held = !name.is_empty() && name == name.trim() && name.chars().all(is_printable) && name.chars().count() <= LONGEST_NAME;
    is_held.then(|| quoted(name))
}

fn henries(inductance: Henries) -> String {
    quoted(&with_prefix(inductance.value(), "H"))
}

fn ohms(resistance: Ohms) -> String {
    quoted(&with_prefix(resistance.value(), "Ω"))
}

fn farads(capacitance: Farads) -> String {
    // Nobody thinks of none in whole farads.
    if capacitance.value() == 0.0 {
        return quoted("0 pF");
    }
    quoted(&with_prefix(capacitance.value(), "F"))
}

fn share(share: Fraction) -> String {
    quoted(&percent(share))
}

/// Every figure of it.
fn percent(share: Fraction) -> String {
    let value = share.value();
    let number = Decimal::of(value).map_or_else(|| value.to_string(), |share| share.times_ten_to(2).plain());
    format!("{number} %")
}

fn network(network: &Network) -> String {
    quoted(&network.to_string())
}

fn taper(taper: &Taper) -> String {
    let (words, mid) = match taper {
        Taper::Linear => return quoted("linear"),
        Taper::Table(curve) => {
            let points: Vec<String> = curve
                .points()
                .iter()
                .map(|[rotation, fraction]| format!("[{rotation:?}, {fraction:?}]"))
                .collect();
            return format!("{{ points = {} }}", list(&points));
        }
        Taper::Audio(mid) => ("audio", mid),
        Taper::ReverseAudio(mid) => ("reverse audio", mid),
        Taper::TwoSlope(mid) => ("two-slope", mid),
    };
    quoted(&format!("{words} {}", percent(*mid)))
}

/// In one line, or an item a line where that is too long.
fn list(items: &[String]) -> String {
    const LONGEST: usize = WIDTH - 30;
    let line = items.join(", ");
    if line.len() <= LONGEST {
        format!("[{line}]")
    } else {
        format!("[\n    {},\n]", items.join(",\n    "))
    }
}
