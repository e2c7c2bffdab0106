//! [`Target`](super::Target) → TOML with explicit clauses.

use std::fmt::Write;

use super::{Against, Band, Clause, Guards, Measure, Over, Place, Target, travel};
use crate::document::quoted;
use crate::units::knob;

impl Target {
    /// The target as TOML with explicit clauses; it reads back to the same target where its curves are found again.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut toml = format!("name = {}\n", quoted(&self.name));
        if let Some(read_as) = &self.read_as {
            toml.push_str(&format!("read_as = {}\n", quoted(read_as)));
        }
        if self.guards != Guards::USUAL {
            toml.push_str("\n[guards]\n");
            for (key, width) in self.guards.entries() {
                let _infallible = writeln!(toml, "{key} = {width:?}");
            }
        }
        for clause in &self.clauses {
            toml.push_str("\n[[clause]]\n");
            for (key, value) in entries(clause) {
                // Writing to a text cannot fail.
                let _infallible = writeln!(toml, "{key} = {value}");
            }
        }
        toml
    }
}

fn entries(clause: &Clause) -> Vec<(&'static str, String)> {
    let mut entries = vec![
        ("measure", quoted(measure_word(clause.measure))),
        ("against", against(&clause.against)),
        ("band", band(clause.band)),
    ];
    entries.extend(clause.anchor.map(|anchor| ("anchor", band(anchor))));
    entries.push(("over", quoted(over_word(clause.over))));
    entries.push(("volume", list(&clause.volume)));
    entries.push(("tone", list(&clause.tone)));
    entries.extend(clause.at_least.map(|bound| ("at_least", number(bound))));
    entries.extend(clause.at_most.map(|bound| ("at_most", number(bound))));
    entries.extend(place(&clause.place));
    entries
}

fn place(place: &Place) -> Vec<(&'static str, String)> {
    let mut entries = Vec::new();
    if !place.selector.is_empty() {
        let names: Vec<String> = place.selector.iter().map(|name| quoted(name)).collect();
        entries.push(("selector", format!("[{}]", names.join(", "))));
    }
    entries.extend(place.pickup.as_deref().map(|name| ("pickup", quoted(name))));
    entries.extend(place.knob.as_deref().map(|name| ("knob", quoted(name))));
    if !place.knobs.is_empty() {
        let named = |(name, rotation): &(String, f64)| format!("{} = {}", quoted(name), number(knob::number(*rotation)));
        let knobs: Vec<String> = place.knobs.iter().map(named).collect();
        entries.push(("knobs", format!("{{ {} }}", knobs.join(", "))));
    }
    entries
}

const fn measure_word(measure: Measure) -> &'static str {
    match measure {
        Measure::Level => "level",
        Measure::Shape => "shape",
    }
}

const fn over_word(over: Over) -> &'static str {
    match over {
        Over::Every => "every",
        Over::Mean => "mean",
        Over::Average => "average",
    }
}

fn against(against: &Against) -> String {
    match against {
        Against::Full => quoted("full"),
        Against::Present => quoted("present"),
        Against::Flat => quoted("flat"),
        Against::Curve(wanted) => format!("{{ curve = {} }}", quoted(&wanted.name)),
    }
}

fn band(band: Band) -> String {
    match band.word() {
        Some(word) => quoted(word),
        None => format!("[{}, {}]", band.low(), band.high()),
    }
}

fn list(rotations: &[f64]) -> String {
    if let Some([from, to]) = travel::ends(rotations).map(|ends| ends.map(|end| number(knob::number(end)))) {
        return format!("{{ from = {from}, to = {to} }}");
    }
    let numbers: Vec<String> = rotations.iter().map(|rotation| number(knob::number(*rotation))).collect();
    format!("[{}]", numbers.join(", "))
}

/// With a point or an exponent, as TOML wants of a number that is no integer; every digit kept.
fn number(value: f64) -> String {
    format!("{value:?}")
}
