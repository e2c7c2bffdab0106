//! The parts to buy: values, marks, tolerance and kind, and what serves as well.

use crate::parts::network::{Component, Network};
use crate::recommend::instructions::network_in_words;
use crate::recommend::sheet::{Sheet, SheetPart, Substitute};
use crate::report::document::Block;
use crate::report::words::{nothing_fitted, slot_part};
use crate::units::marking::Colour;
use crate::units::{with_prefix, with_prefix_rounded};

/// Which capacitors, and why. Published: the classes and how far temperature moves them (EIA-198, IEC 60384-8 and -9), age, voltage and knocks
/// (makers' tables). Common practice, no source: that any voltage rating will do, and that the dear ones sound the same.
const CAPACITORS: &str = "Capacitors: film (polypropylene or polyester) or ceramic of class C0G (NP0), for the treble bleed and the tone control alike. Not \
                          ceramics of high permittivity: temperature alone may move an X7R by 15 %, a Z5U by 56 % and a Y5V by 82 %; they lose \
                          capacitance with age and under voltage (little at a guitar's fraction of a volt), and they are microphonic, so that \
                          knocks become signal. Any voltage rating sold will do. The dear ones sound the same.";
const RESISTORS: &str = "Resistors: metal film or carbon film, 1/4 W or smaller; no power worth naming flows here.";
const INDUCTORS: &str = "Inductors: sealed or shielded against hum; the value as a meter reads it at 1 kHz.";
const ORDER: &str = "Measure every part before it goes in: a part that reads within the limits is right, whatever is printed on it.";
/// What the limits are.
const BEARS: &str = "The limits are what the wish and the rest of the guitar bear of one part, with the others as marked; several parts near their \
                     limits at once may miss it. How many builds of 100 work is counted with the tolerance.";
/// How far beyond the mark the limits are sought.
const DECADE: &str = "no limit within ten times the value either way";

pub(super) fn blocks(sheet: &Sheet) -> Vec<Block> {
    let mut blocks = vec![Block::heading("Parts")];
    if sheet.parts.is_empty() && !sheet.changes.is_empty() {
        blocks.push(Block::paragraph(
            "No resistor and no capacitor: what is exchanged stands under \"What comes out and what stays\".",
        ));
    } else if sheet.parts.is_empty() {
        blocks.push(Block::paragraph("None: this answer needs no new part."));
    } else {
        blocks.push(table(&sheet.parts));
        blocks.push(Block::subheading("What stands on them"));
        blocks.push(Block::Points(sheet.parts.iter().map(marks).collect()));
        blocks.push(Block::subheading("Which kind to ask for"));
        blocks.push(Block::Points(kinds(&sheet.parts)));
    }
    blocks.extend(substitutes(sheet));
    blocks
}

/// A part's value with its unit.
pub(super) fn value(component: Component) -> String {
    match component {
        Component::Resistor(ohms) => with_prefix(ohms.value(), "Ω"),
        Component::Capacitor(farads) => with_prefix(farads.value(), "F"),
        Component::Inductor(henries) => with_prefix(henries.value(), "H"),
    }
}

fn unit_and_name(component: Component) -> (&'static str, &'static str) {
    match component {
        Component::Resistor(_) => ("Ω", "resistor"),
        Component::Capacitor(_) => ("F", "capacitor"),
        Component::Inductor(_) => ("H", "inductor"),
    }
}

fn table(parts: &[SheetPart]) -> Block {
    let titles = ["Part", "Value", "Tolerance", "May read", "For"].map(str::to_owned);
    let row = |part: &SheetPart| {
        let (unit, name) = unit_and_name(part.component);
        let as_sold = part.reading.map(|(low, high)| {
            let [low, high] = [low, high].map(|end| with_prefix_rounded(end, unit, 4));
            format!("{low} to {high}")
        });
        let reading = part.bears.map(|ends| bears(ends, unit)).or(as_sold);
        vec![
            part.label.clone(),
            format!("{} {name}", value(part.component)),
            part.tolerance
                .map_or_else(|| "as sold".to_owned(), |share| format!("{} % or closer", share.value() * 100.0)),
            reading.unwrap_or_default(),
            slot_part(part.slot).to_owned(),
        ]
    };
    Block::rows("Parts to have", &titles, parts.iter().map(row).collect())
}

/// Limits, rounded to the inside.
fn bears([low, high]: [Option<f64>; 2], unit: &str) -> String {
    let inside = |value: f64, round: fn(f64) -> f64| {
        let figures = 10_f64.powf(value.log10().floor() - 2.0);
        with_prefix_rounded(round(value / figures) * figures, unit, 3)
    };
    match (low.map(|low| inside(low, f64::ceil)), high.map(|high| inside(high, f64::floor))) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("{low} or more"),
        (None, Some(high)) => format!("{high} or less"),
        (None, None) => DECADE.to_owned(),
    }
}

/// What the ink and the bands of a part say.
fn marks(part: &SheetPart) -> String {
    let mut said = Vec::new();
    said.extend(part.four_bands.as_ref().map(|bands| format!("four bands {}", colours(bands))));
    said.extend(
        part.five_bands
            .as_ref()
            .map(|bands| format!("five bands (a 1 % part or closer) {}", colours(bands))),
    );
    said.extend(part.code.as_ref().map(|code| format!("three-digit code {code}")));
    said.extend(part.letter_code.as_ref().map(|code| format!("letter code {code}")));
    if said.is_empty() {
        said.push("no mark of a standard says this value; look for it printed in plain".to_owned());
    }
    format!("{}, {}: {}.", part.label, value(part.component), said.join("; "))
}

fn colours(bands: &[Colour]) -> String {
    bands.iter().map(|band| band.name()).collect::<Vec<_>>().join(" ")
}

fn kinds(parts: &[SheetPart]) -> Vec<String> {
    let has = |is: fn(&Component) -> bool| parts.iter().any(|part| is(&part.component));
    let mut lines = Vec::new();
    lines.extend(has(|part| matches!(part, Component::Resistor(_))).then(|| RESISTORS.to_owned()));
    lines.extend(has(|part| matches!(part, Component::Capacitor(_))).then(|| CAPACITORS.to_owned()));
    lines.extend(has(|part| matches!(part, Component::Inductor(_))).then(|| INDUCTORS.to_owned()));
    lines.push(ORDER.to_owned());
    lines.extend(parts.iter().any(|part| part.bears.is_some()).then(|| BEARS.to_owned()));
    lines
}

fn substitutes(sheet: &Sheet) -> Vec<Block> {
    let mut blocks = vec![Block::heading("What sounds the same")];
    if sheet.substitutes.is_empty() {
        blocks.push(Block::Paragraph(
            "No other build on the list sounds the same; a longer list (--top) may hold one.".to_owned(),
        ));
        return blocks;
    }
    blocks.push(Block::Paragraph(
        "Take any of these instead if you have the parts, each line as a whole: less than 0.5 dB apart at every knob position of the target, \
         by our own rule, and resonances too close to tell apart."
            .to_owned(),
    ));
    blocks.push(Block::Points(sheet.substitutes.iter().map(substitute).collect()));
    blocks
}

fn substitute(substitute: &Substitute) -> String {
    let several = substitute.slots.len() > 1;
    let in_words = |(slot, fitted): (&crate::guitar::Slot, &Option<Network>)| match fitted {
        Some(fitted) if several => format!("{}: {}", slot_part(*slot), network_in_words(fitted)),
        Some(fitted) => network_in_words(fitted),
        None => nothing_fitted(*slot).to_owned(),
    };
    let slots: Vec<String> = substitute.slots.iter().map(in_words).collect();
    let margin = substitute.margin_db;
    let does = if margin >= 0.0 {
        format!("meets the target with {margin:.2} dB to spare")
    } else {
        format!("misses the target by {:.2} dB", -margin)
    };
    format!("{} ({does})", slots.join("; "))
}
