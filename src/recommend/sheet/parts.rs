//! The parts of a build as they are bought and recognised: values, marks, tolerances.

use std::collections::BTreeMap;

use super::Fitting;
use super::bears::Bearing;
use crate::circuit::{Origin, Place};
use crate::guitar::Slot;
use crate::parts::network::Component;
use crate::tolerance::Spread;
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
    /// Between which values, in the part's SI unit, this part alone may lie with the target still met and the rest still kept; none of the two
    /// where nothing breaks within a decade, none at all where the build misses its target.
    pub bears: Option<[Option<f64>; 2]>,
    /// Four colour bands at the tolerance to ask for; none where four bands do not say it.
    pub four_bands: Option<Vec<Colour>>,
    /// Five colour bands at 1 %, or at the tolerance to ask for where that is closer; none where five bands do not say it.
    pub five_bands: Option<Vec<Colour>>,
    /// The three-digit code of a capacitor with its tolerance letter.
    pub code: Option<String>,
    /// The code with the letter at the decimal point (RKM code), with its tolerance letter.
    pub letter_code: Option<String>,
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

/// The parts of all that goes in, each with the tolerance that is drawn for it, so that a bought part is one of those that were rated.
pub(super) fn parts(fittings: &[Fitting], spreads: &[Spread], bearings: &BTreeMap<(Slot, usize), Bearing>) -> Vec<SheetPart> {
    let tolerance = |slot: Slot, index: usize| {
        let origin = Origin::Part(Place::Slot(slot), index);
        let spread = spreads.iter().find(|spread| spread.origin == origin)?;
        Fraction::new(spread.tolerance)
    };
    let of_fitting = |fitting: &Fitting| {
        let parts = fitting.labels.iter().zip(fitting.network.components()).enumerate();
        let part = |(index, (label, part)): (usize, (&String, Component))| {
            let bearing = bearings.get(&(fitting.slot, index));
            let bears = bearing.map(|ends| ends.map(|end| end.map(|factor| factor * part.value())));
            SheetPart {
                bears,
                ..part_of(label, fitting.slot, part, tolerance(fitting.slot, index))
            }
        };
        parts.map(part).collect::<Vec<_>>()
    };
    fittings.iter().flat_map(of_fitting).collect()
}

fn part_of(label: &str, slot: Slot, component: Component, tolerance: Option<Fraction>) -> SheetPart {
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
        bears: None,
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
