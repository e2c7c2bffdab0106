//! What stands behind a number: a prefix, a unit, both or neither, in every spelling in use.

use super::spelling::Spelling;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Dimension {
    Resistance,
    Capacitance,
    Inductance,
    Frequency,
}

impl Dimension {
    pub(super) fn noun(self) -> &'static str {
        match self {
            Self::Resistance => "a resistance",
            Self::Capacitance => "a capacitance",
            Self::Inductance => "an inductance",
            Self::Frequency => "a frequency",
        }
    }

    /// What an error says was expected.
    pub(super) fn expected(self) -> &'static str {
        match self {
            Self::Resistance => "a resistance such as `250 k`, `4k7` or `470 Ω`",
            Self::Capacitance => "a capacitance such as `22 n`, `4n7` or `500 pF`",
            Self::Inductance => "an inductance such as `3.4 H` or `100 mH`",
            Self::Frequency => "a frequency such as `1000`, `4.14 kHz`",
        }
    }

    /// Spellings to look for a near one in.
    pub(super) fn suffixes(self) -> &'static [&'static str] {
        match self {
            Self::Resistance => &["kΩ", "MΩ", "Ω", "kohm", "Mohm", "ohm", "k", "M", "R"],
            Self::Capacitance => &["pF", "nF", "uF", "µF", "MFD", "p", "n", "u"],
            Self::Inductance => &["mH", "uH", "µH", "H"],
            Self::Frequency => &["Hz", "kHz"],
        }
    }
}

/// A suffix understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Suffix {
    /// `p n u m k M G`, whatever sign it was written with.
    pub(super) prefix: Option<char>,
    /// The unit, if one is written.
    pub(super) unit: Option<Dimension>,
}

/// What the letters of a value mean; `None` when they are no suffix.
pub(super) fn understand(spelling: &Spelling<'_>) -> Option<Suffix> {
    let text = spelling.suffix.text();
    let Some(letter) = spelling.point_letter else {
        return understand_text(text);
    };
    let unit = match text {
        "" => None,
        word => Some(unit_word(word)?),
    };
    let letter_unit = match letter {
        'R' | 'Ω' | '\u{2126}' => Dimension::Resistance,
        'F' => Dimension::Capacitance,
        'H' => Dimension::Inductance,
        _ => {
            return Some(Suffix {
                prefix: Some(prefix_sign(letter)?),
                unit,
            });
        }
    };
    let agrees = unit.is_none_or(|unit| unit == letter_unit);
    agrees.then_some(Suffix {
        prefix: None,
        unit: Some(letter_unit),
    })
}

fn understand_text(text: &str) -> Option<Suffix> {
    if text.is_empty() {
        return Some(Suffix { prefix: None, unit: None });
    }
    if let Some(prefix) = old_capacitance(text) {
        return Some(Suffix {
            prefix: Some(prefix),
            unit: Some(Dimension::Capacitance),
        });
    }
    if let Some(unit) = unit_word(text) {
        return Some(Suffix {
            prefix: None,
            unit: Some(unit),
        });
    }
    let (prefix, rest) = take_prefix(text)?;
    let unit = match rest.trim_start() {
        "" => None,
        // A lower-case f is a farad behind a prefix only: alone it would be femto.
        "f" => Some(Dimension::Capacitance),
        // `R` is a unit alone, not behind a prefix.
        "R" => return None,
        word => Some(unit_word(word)?),
    };
    Some(Suffix {
        prefix: Some(prefix),
        unit,
    })
}

fn take_prefix(text: &str) -> Option<(char, &str)> {
    if let Some(rest) = ["meg", "Meg", "MEG"].iter().find_map(|word| text.strip_prefix(word)) {
        return Some(('M', rest));
    }
    let first = text.chars().next()?;
    Some((prefix_sign(first)?, text.strip_prefix(first)?))
}

fn prefix_sign(sign: char) -> Option<char> {
    match sign {
        'p' | 'n' | 'm' | 'M' | 'G' => Some(sign),
        'u' | 'µ' | 'μ' => Some('u'),
        'k' | 'K' => Some('k'),
        _ => None,
    }
}

/// Spellings of old drawings (common practice, no source): MFD is the microfarad, MMF the picofarad.
fn old_capacitance(text: &str) -> Option<char> {
    match text.replace(['µ', 'μ'], "u").to_ascii_lowercase().as_str() {
        "mfd" | "ufd" => Some('u'),
        "mmf" | "mmfd" | "uuf" | "uufd" => Some('p'),
        _ => None,
    }
}

fn unit_word(word: &str) -> Option<Dimension> {
    match word {
        "Ω" | "\u{2126}" | "R" => Some(Dimension::Resistance),
        "F" => Some(Dimension::Capacitance),
        "H" => Some(Dimension::Inductance),
        _ => match word.to_ascii_lowercase().as_str() {
            "ohm" | "ohms" => Some(Dimension::Resistance),
            "farad" | "farads" => Some(Dimension::Capacitance),
            "henry" | "henrys" | "henries" => Some(Dimension::Inductance),
            "hz" => Some(Dimension::Frequency),
            _ => None,
        },
    }
}

/// The power of ten of a prefix sign.
pub(super) fn power(prefix: Option<char>) -> i32 {
    match prefix {
        Some('p') => -12,
        Some('n') => -9,
        Some('u') => -6,
        Some('m') => -3,
        Some('k') => 3,
        Some('M') => 6,
        Some('G') => 9,
        _ => 0,
    }
}
