//! What each key of a guitar file means, what is usual and how to find it out with what people own: for the comments of a written file and
//! for messages about what is missing. Ranges without a source of their own are common practice.

use super::kind::KINDS;
use super::ranges::{self, Limits};

/// One key.
pub(super) struct Guide {
    pub(super) key: &'static str,
    /// A value that works, as TOML writes it.
    pub(super) example: &'static str,
    usual: Usual,
    /// What it is and how to find it out, in whole sentences.
    pub(super) says: &'static str,
}

/// What is usual.
enum Usual {
    /// By kind of pickup.
    Kinds,
    /// As errors about this range say.
    Range(&'static Limits),
    /// In words of its own.
    Words(&'static str),
    /// Nothing is.
    Unsaid,
}

impl Guide {
    /// What is usual, without a full stop.
    pub(super) fn usual(&self) -> Option<String> {
        match self.usual {
            Usual::Kinds => {
                let kinds = KINDS.map(|kind| format!("{} {} to {} H", kind.name, kind.inductance[0], kind.inductance[1]));
                Some(kinds.join(", "))
            }
            Usual::Range(limits) => Some(limits.usual().to_owned()),
            Usual::Words(words) => Some(words.to_owned()),
            Usual::Unsaid => None,
        }
    }
}

const fn guide(key: &'static str, example: &'static str, usual: Usual, says: &'static str) -> Guide {
    Guide { key, example, usual, says }
}

pub(super) const NAME: Guide = guide("name", "\"My guitar, bridge\"", Usual::Unsaid, "What you call the guitar.");
pub(super) const SERIES: Guide = guide(
    "series",
    "\"4n7\"",
    Usual::Unsaid,
    "Parts in the way between pickup and volume pot (bass cut). Parts are written as values: + is in series, || in parallel.",
);
pub(super) const INDUCTANCE: Guide = guide(
    "inductance",
    "\"4.2 H\"",
    Usual::Kinds,
    "The maker may state it. An LCR meter reads it at 100 or 120 Hz, on the pickup's two leads, with nothing else soldered to \
     them. Without one: knobwright identify finds it from a measured response.",
);
pub(super) const WINDING_RESISTANCE: Guide = guide(
    "resistance",
    "\"8 kΩ\"",
    Usual::Range(&ranges::WINDING_RESISTANCE),
    "Multimeter across the pickup's two leads, one of them unsoldered. At the far end of a plugged-in cable, volume and tone at 10, \
     it reads a few per cent low, because the volume pot lies beside it.",
);
pub(super) const WINDING_CAPACITANCE: Guide = guide(
    "capacitance",
    "\"120 pF\"",
    Usual::Range(&ranges::WINDING_CAPACITANCE),
    "Of the winding. No capacitance meter reads it, the coil is in its way; knobwright identify finds it. Otherwise leave it: the cable \
     weighs more.",
);
pub(super) const LOSS: Guide = guide(
    "loss",
    "[{ inductance = \"0.5 H\", resistance = \"30 kΩ\" }]",
    Usual::Words("rod magnets without a cover none, others one or two cells"),
    "Losses in steel poles, covers and baseplates: parts of the inductance above, each with a resistance across it. Only a \
     measured response tells them: knobwright identify.",
);
pub(super) const PICKUP_TOLERANCE: Guide = guide(
    "tolerance",
    "\"10 %\"",
    Usual::Words("5 % where nothing is said"),
    "How far the pickup's values may be off, for the share of built guitars that meet a wish. Less where you measured.",
);
pub(super) const ACROSS: Guide = guide(
    "across",
    "\"470p\"",
    Usual::Words("nothing"),
    "Parts from the pickup's hot lead to ground. The code on a small capacitor is in pF: 471 is 47 and one nought, 470 pF.",
);
pub(super) const TRACK: Guide = guide(
    "resistance",
    "\"500 kΩ\"",
    Usual::Range(&ranges::TRACK),
    "Printed on the pot: B500K is 500 kΩ. Pots are easily 20 % off their print. Multimeter across the two outer lugs, with everything \
     unsoldered from one of them.",
);
pub(super) const TAPER: Guide = guide(
    "taper",
    "\"audio 15 %\"",
    Usual::Words("\"linear\" or \"audio 15 %\"; 10, 20 and 30 % are made too"),
    "The percentage is how much of the track lies at half rotation between the lug where the knob stops at 0 and the middle lug: \
     multimeter across these two lugs, knob at 5, divided by the whole track. The letter on the pot does not tell: makers disagree \
     about A and B.",
);
pub(super) const POT_TOLERANCE: Guide = guide(
    "tolerance",
    "\"10 %\"",
    Usual::Words("20 % where nothing is said"),
    "How far the track may be off. Less where you measured.",
);
pub(super) const TAPER_TOLERANCE: Guide = guide(
    "taper_tolerance",
    "\"10 %\"",
    Usual::Words("a third of the percentage where nothing is said; 6 % of a linear pot's half"),
    "How far the taper may be off: its percentage is off by so much of itself. 0 % where you measured.",
);
pub(super) const BLEED: Guide = guide(
    "bleed",
    "\"150k || 1n\"",
    Usual::Words("nothing, or a capacitor of 470 pF to 2.2 nF, often with a resistor"),
    "Treble bleed: parts between the volume pot's middle lug and the outer lug with the pickup on it. The code on a capacitor is in pF: \
     102 is 10 and two noughts, 1 nF.",
);
pub(super) const TONE_NETWORK: Guide = guide(
    "network",
    "\"22n\"",
    Usual::Words("one capacitor, 10 to 47 nF"),
    "Parts between the tone pot and ground. The code on a capacitor is in pF: 223 is 22 and three noughts, 22 nF; \
     knobwright values --decode 223 reads it. A capacitance meter reads it too, one leg unsoldered.",
);
pub(super) const HOOKUP: Guide = guide(
    "hookup",
    "\"shelf\"",
    Usual::Words("\"rheostat\""),
    "Count the lugs of the tone pot that are in use: two (or two of three joined) is \"rheostat\"; all three, with a capacitor from the \
     hot lug to the middle one (key bypass), is \"shelf\".",
);
pub(super) const BYPASS: Guide = guide(
    "bypass",
    "\"100n\"",
    Usual::Unsaid,
    "Parts from the tone pot's hot lug to its middle lug. The code on a capacitor is in pF: 104 is 10 and four noughts, 100 nF.",
);
pub(super) const JOINED_AT: Guide = guide(
    "joined_at",
    "\"wiper\"",
    Usual::Words("\"pickup\""),
    "Follow the wire from the tone pot to the volume pot: the outer lug with the pickup on it is \"pickup\"; the middle lug, which leads \
     to the jack, is \"wiper\" ('50s wiring).",
);
pub(super) const NO_LOAD: Guide = guide(
    "no_load",
    "true",
    Usual::Words("false"),
    "true where the pot switches itself off at 10 (some click there): a multimeter between its hot lug and its middle lug then shows no \
     connection.",
);
pub(super) const CABLE: Guide = guide(
    "capacitance",
    "\"500 pF\"",
    Usual::Range(&ranges::PER_METRE),
    "A capacitance meter on one plug, tip to sleeve, reads it; nothing on the other plug. Or write length and per_metre in place of it.",
);
pub(super) const CABLE_TOLERANCE: Guide = guide(
    "tolerance",
    "\"5 %\"",
    Usual::Words("10 % where nothing is said"),
    "How far the cable may be off. Less where you measured.",
);
pub(super) const INPUT_RESISTANCE: Guide = guide(
    "resistance",
    "\"1 MΩ\"",
    Usual::Range(&ranges::INPUT_RESISTANCE),
    "Of what the cable is plugged into; its manual says. Some pedals have far less.",
);
pub(super) const INPUT_CAPACITANCE: Guide = guide(
    "capacitance",
    "\"100 pF\"",
    Usual::Range(&ranges::INPUT_CAPACITANCE),
    "Of what the cable is plugged into. Hardly any manual says; 0 does.",
);
pub(super) const LOAD_NETWORK: Guide = guide(
    "network",
    "\"500k || (500k + 22n)\"",
    Usual::Unsaid,
    "The parts as values: + is in series, || in parallel.",
);
pub(super) const LOAD_AT: Guide = guide(
    "at",
    "\"wiper\"",
    Usual::Words("\"pickup\""),
    "Where it is joined: \"pickup\" is the volume pot's input lug, \"wiper\" its middle lug.",
);
pub(super) const CASE_NAME: Guide = guide("name", "\"stage\"", Usual::Unsaid, "What you call the case.");
