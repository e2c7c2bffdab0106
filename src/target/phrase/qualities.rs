//! How a guitar can sound, how much of it, and what cannot be wished for, as tables (common practice, no source).

/// What a quality means when it stands alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Alone {
    /// As a wish for it: "warm".
    Wish,
    /// As one already compared: "brighter".
    Compared,
    /// As a complaint: "muddy".
    Complaint,
    /// As either: "dark".
    Either,
}

/// How a guitar can sound.
#[derive(Debug)]
pub(super) struct Quality {
    pub(super) word: &'static str,
    /// The band that has more (+1) or less (−1) of itself where a guitar sounds so.
    pub(super) band: &'static str,
    pub(super) sign: f64,
    pub(super) alone: Alone,
}

const fn quality(word: &'static str, band: &'static str, sign: f64, alone: Alone) -> Quality {
    Quality { word, band, sign, alone }
}

/// Every quality there is a word for.
pub(super) const QUALITIES: &[Quality] = &[
    quality("muddy", "mud", 1.0, Alone::Complaint),
    quality("dull", "highs", -1.0, Alone::Complaint),
    quality("dark", "highs", -1.0, Alone::Either),
    quality("darker", "highs", -1.0, Alone::Compared),
    quality("warm", "highs", -1.0, Alone::Wish),
    quality("bright", "highs", 1.0, Alone::Wish),
    quality("brighter", "highs", 1.0, Alone::Compared),
    quality("trebly", "highs", 1.0, Alone::Complaint),
    quality("harsh", "presence", 1.0, Alone::Complaint),
    quality("bite", "presence", 1.0, Alone::Wish),
    quality("fat", "presence", -1.0, Alone::Wish),
    quality("nasal", "mids", 1.0, Alone::Complaint),
    quality("scooped", "mids", -1.0, Alone::Wish),
    quality("thin", "lows", -1.0, Alone::Complaint),
    quality("bassy", "lows", 1.0, Alone::Complaint),
];

/// How much, as a multiple of the usual amount.
pub(super) const AMOUNTS: &[(&str, f64)] = &[("slightly", 0.5), ("much", 2.0)];

/// Wishes that no part around the knobs can grant, and why.
pub(super) const IMPOSSIBLE: &[(&[&str], &str)] = &[
    (
        &[
            "louder",
            "loud",
            "gain",
            "output",
            "hotter",
            "hot",
            "power",
            "powerful",
            "stronger",
            "distortion",
            "distorted",
            "overdrive",
            "drive",
            "sustain",
            "dirt",
            "fuzz",
            "volume boost",
            "more volume",
        ],
        "resistors and capacitors only take away: no passive part makes a guitar louder, hotter or longer sounding; that takes another pickup, a \
         pedal or the amplifier",
    ),
    (
        &["hum", "hums", "humming", "noise", "noisy", "buzz", "buzzing", "hiss", "crackle"],
        "resistors and capacitors at the knobs cannot tell hum and noise from music; that takes shielding, better grounding or a pickup that cancels hum",
    ),
    (
        &["reverb", "echo", "delay", "chorus", "compression", "compressor", "compressed"],
        "resistors and capacitors change the balance of lows, mids and highs and nothing else; that takes a pedal or the amplifier",
    ),
];

/// Words too wide for one meaning, with sentences that may be meant.
pub(super) const WIDE: &[(&[&str], [&str; 3])] = &[
    (
        &["vintage", "old", "modern", "classic", "retro", "fifties", "sixties"],
        ["darker", "brighter", "less presence"],
    ),
    (
        &["open", "opens", "opened", "lively", "alive", "fresh", "hi-fi", "hifi"],
        ["brighter", "a bit brighter", "less mud"],
    ),
    (
        &[
            "punch",
            "punchy",
            "tight",
            "tighter",
            "body",
            "weight",
            "meat",
            "beef",
            "beefy",
            "full-bodied",
            "fullness",
        ],
        ["more lows", "less mud", "fatter"],
    ),
    (
        &["balanced", "even", "flat", "neutral", "natural", "better", "nicer", "good", "great"],
        ["less mud", "less presence", "keep highs"],
    ),
    (&["not"], ["not so bright", "less presence", "keep highs"]),
    (
        &["metal", "rock", "blues", "country", "funk", "surf", "indie"],
        ["more presence", "darker", "less mud"],
    ),
    (&["quiet", "quieter", "weak"], ["more lows", "brighter", "keep level"]),
];
