//! The words of a picture.

use std::collections::BTreeMap;

use crate::guitar::Setting;
use crate::guitar::Slot;
use crate::picture::{Axis, Curves, Label, Landscape, Mark, Quantity, Subject};
use crate::report::words::{hertz, knob};
use crate::units::with_prefix;

/// The first line: the guitar and what all curves share.
pub(super) fn title(curves: &Curves) -> String {
    let shared = match &curves.subject {
        Subject::Build(slots) if slots.is_empty() => String::new(),
        Subject::Build(slots) => format!(" with {}", fitted(slots)),
        Subject::Position(knobs) => format!(" at {}", position(*knobs)),
        Subject::Fit => String::new(),
    };
    format!("{}{shared}", curves.guitar)
}

/// The second line: what is drawn.
pub(super) fn subtitle(curves: &Curves) -> String {
    let what = match (curves.quantity, &curves.subject) {
        (Quantity::Level, Subject::Build(_)) => "Level at each knob position",
        (Quantity::Level, Subject::Position(_)) => "Level of each build",
        (Quantity::Reading, _) | (_, Subject::Fit) => "What was read, and what the model makes of it",
        (Quantity::Deviation, _) => "Distance from what the target compares with",
    };
    let case = curves.case.as_ref().map(|case| format!(", in the {case}")).unwrap_or_default();
    let target = curves
        .target
        .as_ref()
        .map(|target| format!(". Target: {target}"))
        .unwrap_or_default();
    format!("{what}{case}{target}")
}

/// What stands beside the curve.
pub(super) fn label(curves: &Curves, label: &Label) -> String {
    match label {
        Label::Build(name) => name.clone(),
        Label::Position(knobs, case) => {
            let positions = || {
                curves.curves.iter().filter_map(|curve| match &curve.of {
                    Label::Position(knobs, _) => Some(*knobs),
                    Label::Build(_) => None,
                })
            };
            // A knob that never moves is left out.
            let volume_moves = positions().any(|other| other.volume != knobs.volume);
            let tone_moves = positions().any(|other| other.tone != knobs.tone);
            let text = match (volume_moves, tone_moves) {
                (false, true) => format!("tone {}", knob(knobs.tone)),
                (true, false) if knobs.tone == 1.0 => format!("volume {}", knob(knobs.volume)),
                _ => position(*knobs),
            };
            case.as_ref().map_or_else(|| text.clone(), |case| format!("{text}, {case}"))
        }
    }
}

/// Where both knobs stand.
pub(super) fn position(knobs: Setting) -> String {
    if knobs.tone == 1.0 {
        format!("volume {}", knob(knobs.volume))
    } else {
        format!("volume {}, tone {}", knob(knobs.volume), knob(knobs.tone))
    }
}

fn fitted(slots: &BTreeMap<Slot, String>) -> String {
    let all = slots.iter().map(|(slot, network)| format!("{slot} {network}"));
    all.collect::<Vec<_>>().join(", ")
}

/// What the shading means.
pub(super) fn allowed(curves: &Curves) -> &'static str {
    match (curves.quantity, &curves.subject) {
        (Quantity::Level, Subject::Position(_)) => "allowed by the target for the curve with the ring",
        _ => "allowed by the target",
    }
}

/// What the darker shading means.
pub(super) const BUILT: &str = "where nine of ten built guitars lie, each part as it comes";

/// What the worst point is, in a line.
pub(super) fn worst(curves: &Curves, mark: &Mark) -> String {
    let whose = match (&curves.subject, curves.curves.get(mark.curve)) {
        (Subject::Position(_), Some(curve)) if curves.curves.len() > 1 => format!(" of {}", label(curves, &curve.of)),
        _ => String::new(),
    };
    let place = mark.frequency_hz.map_or_else(|| "mean of its band".to_owned(), hertz);
    let room = if mark.margin_db >= 0.0 { "to spare" } else { "too far" };
    format!(
        "Worst point{whose}: wish {}, {place}, {} dB, {:.2} dB {room}",
        mark.clause + 1,
        format!("{:+.2}", mark.difference_db).replace('-', "−"),
        mark.margin_db.abs()
    )
}

/// The unit of a value axis.
pub(super) fn unit(axis: &Axis) -> &'static str {
    crate::parts::choice::unit(axis.kind)
}

/// The landscape's first line.
pub(super) fn landscape_title(landscape: &Landscape) -> String {
    format!("{} with {}", landscape.guitar, fitted(&landscape.networks))
}

/// The landscape's second line.
pub(super) fn landscape_subtitle(landscape: &Landscape) -> String {
    let held: Vec<String> = landscape
        .held
        .iter()
        .map(|(part, value)| {
            let is_resistor = part.split('.').next_back().is_some_and(|name| name.starts_with('R'));
            format!("{part} {}", with_prefix(*value, if is_resistor { "Ω" } else { "F" }))
        })
        .collect();
    let held = if held.is_empty() {
        String::new()
    } else {
        format!(", {} held", held.join(" and "))
    };
    format!("Margin in dB{held}. Target: {}", landscape.target)
}

/// The chosen values.
pub(super) fn chosen(landscape: &Landscape) -> String {
    let value = |axis: &Axis| with_prefix(axis.chosen, unit(axis));
    format!(
        "Chosen: {} and {}, margin {} dB",
        value(&landscape.across),
        value(&landscape.up),
        format!("{:+.2}", landscape.chosen_db).replace('-', "−")
    )
}
