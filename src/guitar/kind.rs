//! Kinds of pickup by the names players know them by, for owners who cannot state a single value: the sample that stands for each, and
//! what its inductance usually is.

use serde::Serialize;

/// A kind of pickup.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Kind {
    /// What players call it.
    pub name: &'static str,
    /// The shipped sample that stands for it.
    pub sample: &'static str,
    /// The inductances that pickups of this kind have, in H.
    pub inductance: [f64; 2],
}

/// Every kind (common practice, no source).
pub const KINDS: [Kind; 6] = [
    kind("single coil", "wren-bridge", [2.0, 3.3]),
    kind("hot single coil", "bittern-neck", [2.5, 5.0]),
    kind("covered neck single coil", "linnet-neck", [1.6, 2.5]),
    kind("large single coil", "heron-bridge", [5.5, 10.0]),
    kind("humbucker", "plover-bridge", [3.8, 5.5]),
    kind("hot humbucker", "shrike-bridge", [6.0, 10.0]),
];

const fn kind(name: &'static str, sample: &'static str, inductance: [f64; 2]) -> Kind {
    Kind { name, sample, inductance }
}

impl Kind {
    /// The kind of a name, in any case, with hyphens or spaces, one or several of them.
    #[must_use]
    pub fn named(written: &str) -> Option<&'static Self> {
        let written = plain(written);
        let is_meant = |kind: &&Self| [written.as_str(), written.trim_end_matches('s')].contains(&kind.name);
        KINDS.iter().find(is_meant)
    }
}

/// Lower case, one space between words; "singlecoil" is two.
fn plain(written: &str) -> String {
    let spaced = written.to_lowercase().replace(['-', '_'], " ").replace("singlecoil", "single coil");
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kind_is_known_however_it_is_written() {
        let sample = |written: &str| Kind::named(written).map(|kind| kind.sample);
        for written in ["hot humbucker", "Hot-Humbucker", " HOT  humbuckers", "hot_humbucker"] {
            assert_eq!(sample(written), Some("shrike-bridge"), "{written}");
        }
        assert_eq!(sample("singlecoils"), Some("wren-bridge"));
        assert_eq!(sample("Covered-Neck Single-Coil"), Some("linnet-neck"));
        for other in ["", "s", "coil", "wren-bridge", "humbucker bridge"] {
            assert_eq!(sample(other), None, "{other}");
        }
    }
}
