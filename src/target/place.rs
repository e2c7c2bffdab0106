//! Where in a guitar of several pickups a clause holds: in which positions of the selector, at which of its knobs, with which others turned.

use serde::Serialize;

use crate::units::knob;

/// Where in a guitar of several pickups a clause holds. With nothing said it is about each of the guitar's volume and tone knobs in turn, in the
/// positions where these are judged.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Place {
    /// The positions of the selector, by their names.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub selector: Vec<String>,
    /// The pickup whose sound is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pickup: Option<String>,
    /// The knob that `volume` or `tone` turns, by its name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub knob: Option<String>,
    /// Further knobs by their names, each with its rotation, 0 to 1; written as on the knob.
    #[serde(skip_serializing_if = "Vec::is_empty", serialize_with = "numbers")]
    pub knobs: Vec<(String, f64)>,
    /// Whether it was said in a phrase: said of a guitar of one pickup it is passed over.
    #[serde(skip)]
    pub is_spoken: bool,
}

fn numbers<S: serde::Serializer>(knobs: &[(String, f64)], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(knobs.iter().map(|(name, rotation)| (name, knob::number(*rotation))))
}

impl Place {
    /// Whether nothing is said.
    #[must_use]
    pub const fn is_anywhere(&self) -> bool {
        self.selector.is_empty() && self.pickup.is_none() && self.knob.is_none() && self.knobs.is_empty()
    }

    /// As the end of a sentence: `, in the position "both", with the bridge volume at 5`.
    #[must_use]
    pub(super) fn in_words(&self) -> String {
        let quoted: Vec<String> = self.selector.iter().map(|name| format!("\"{name}\"")).collect();
        let mut words = String::new();
        match quoted.as_slice() {
            [] => {}
            [only] => words.push_str(&format!(", in the position {only}")),
            [first @ .., last] => words.push_str(&format!(", in the positions {} and {last}", first.join(", "))),
        }
        if let Some(pickup) = &self.pickup {
            words.push_str(&format!(", of the {pickup} pickup"));
        }
        if let Some(knob) = &self.knob {
            words.push_str(&format!(", by the {knob} knob"));
        }
        for (name, rotation) in &self.knobs {
            words.push_str(&format!(", with {name} at {}", super::words::number(rotation * 10.0)));
        }
        words
    }
}
