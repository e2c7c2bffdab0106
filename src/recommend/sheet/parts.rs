//! The parts of a build as they are bought and recognised: values, marks, tolerances.

use super::Fitting;
use crate::guitar::Slot;
use crate::parts::network::Component;
use crate::units::marking::{Colour, MarkedPart, Tolerance, capacitor_code, letter_code, resistor_bands};
use crate::units::{Fraction, Ohms};

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetPart {
    /// What it is called on the sheet: R1, C1, L1 …
    pub label: String,
    /// Where it goes.
    pub slot: Slot,
    /// Kind and value.
    pub component: Component,
    /// The tolerance to ask for, if one is stated.
    pub tolerance: Option<Fraction>,
    /// What a meter may read on a part that keeps the tolerance, lowest and highest, in the part's SI unit.
    pub reading: Option<(f64, f64)>,
    /// Four colour bands at the tolerance to ask for; none where four bands do not say it.
    pub four_bands: Option<Vec<Colour>>,
    /// Five colour bands at 1 %, or at the tolerance to ask for where that is closer; none where five bands do not say it.
    pub five_bands: Option<Vec<Colour>>,
    /// The three-digit code of a capacitor with its tolerance letter.
    pub code: Option<String>,
    /// The code with the letter at the decimal point (RKM code), with its tolerance letter.
    pub letter_code: Option<String>,
}

/// The tolerance to ask for when a part is bought: 5 % for resistors, 10 % for capacitors (common practice, no source); none is stated
/// for inductors.
#[must_use]
pub fn tolerance_to_ask_for(component: Component) -> Option<Fraction> {
    match component {
        Component::Resistor(_) => Fraction::new(0.05),
        Component::Capacitor(_) => Fraction::new(0.1),
        Component::Inductor(_) => None,
    }
}

/// Numbers parts by kind.
#[derive(Debug, Default)]
pub(super) struct Labels {
    resistors: usize,
    capacitors: usize,
    inductors: usize,
}

impl Labels {
    pub(super) fn next(&mut self, component: Component) -> String {
        let (letter, count) = match component {
            Component::Resistor(_) => ('R', &mut self.resistors),
            Component::Capacitor(_) => ('C', &mut self.capacitors),
            Component::Inductor(_) => ('L', &mut self.inductors),
        };
        *count += 1;
        format!("{letter}{count}")
    }
}

/// The parts of all that goes in.
pub(super) fn parts(fittings: &[Fitting]) -> Vec<SheetPart> {
    let of_fitting = |fitting: &Fitting| {
        let parts = fitting.labels.iter().zip(fitting.network.components());
        let slot = fitting.slot;
        parts.map(|(label, part)| part_of(label, slot, part)).collect::<Vec<_>>()
    };
    fittings.iter().flat_map(of_fitting).collect()
}

fn part_of(label: &str, slot: Slot, component: Component) -> SheetPart {
    let tolerance = tolerance_to_ask_for(component);
    let mark = tolerance.map(|tolerance| Tolerance::Share(tolerance.value()));
    let value = component.value();
    let (what, resistance) = match component {
        Component::Resistor(ohms) => (MarkedPart::Resistor, Some(ohms)),
        Component::Capacitor(_) => (MarkedPart::Capacitor, None),
        Component::Inductor(_) => (MarkedPart::Inductor, None),
    };
    let code = match component {
        Component::Capacitor(farads) => capacitor_code(farads, mark),
        _ => None,
    };
    SheetPart {
        label: label.to_owned(),
        slot,
        component,
        tolerance,
        reading: tolerance.map(|tolerance| (value * (1.0 - tolerance.value()), value * (1.0 + tolerance.value()))),
        four_bands: bands(resistance, tolerance, 4),
        five_bands: bands(resistance, tolerance.and_then(closer), 5),
        code,
        letter_code: letter_code(what, value, mark),
    }
}

/// 1 %, the widest tolerance that resistors with five bands usually have (common practice, no source), unless a closer one is asked for.
fn closer(tolerance: Fraction) -> Option<Fraction> {
    Fraction::new(tolerance.value().min(0.01))
}

fn bands(resistance: Option<Ohms>, tolerance: Option<Fraction>, count: usize) -> Option<Vec<Colour>> {
    resistor_bands(resistance?, tolerance?).filter(|bands| bands.len() == count)
}
