//! Where each lead goes, by function, and the network as a drawing.

use super::parts::value;
use crate::guitar::{Hookup, Slot};
use crate::recommend::sheet::{Assembly, Fitting, How, Join, Lead, Lug, Sheet, ToneWiring, assembly::joint};
use crate::report::page::Block;
use crate::report::schematic::{Labels, Terminal};
use crate::report::words::{capitalised, list, slot_part};

/// How to find the lugs without trusting a picture.
const FIND_LUGS: &str = "To find the lugs by function: the wiper is the middle lug of nearly every pot. An outer lug is at the wiper's end at zero if an \
                         ohmmeter reads nearly 0 Ω between the two with the knob at zero, and at the wiper's end at full if it reads nearly 0 Ω \
                         with the knob at full; disconnect a lug before you measure at it. Volume control: the input lug is at the wiper's end at \
                         full and takes the pickup's hot lead, the wiper goes to the jack, and the lug at the wiper's end at zero goes to ground, \
                         usually the pot's case. \
                         These leads stay where they are unless a step says otherwise.";

pub(super) fn blocks(sheet: &Sheet) -> Vec<Block> {
    let mut blocks = vec![Block::Heading("Where each lead goes".to_owned())];
    let rewired = sheet.tone.filter(|tone| tone.changes);
    if sheet.fit.is_empty() && rewired.is_none() {
        blocks.push(Block::Paragraph("No new lead: leave every wire as it is.".to_owned()));
        return blocks;
    }
    blocks.push(Block::Paragraph(FIND_LUGS.to_owned()));
    if let Some(tone) = rewired.or_else(|| sheet.tone.filter(|_| touches_tone(sheet))) {
        blocks.push(Block::Subheading("The tone control's own leads".to_owned()));
        blocks.push(Block::Points(tone_leads(tone)));
    }
    for fitting in &sheet.fit {
        blocks.push(Block::Subheading(capitalised(slot_part(fitting.slot))));
        blocks.push(Block::Drawing(Box::new((fitting.network.clone(), labels(fitting)))));
        blocks.push(Block::Steps(steps(fitting)));
    }
    blocks
}

fn touches_tone(sheet: &Sheet) -> bool {
    sheet.fit.iter().any(|fitting| matches!(fitting.slot, Slot::Tone | Slot::Bypass))
}

/// The wires of the tone control, apart from the networks.
fn tone_leads(tone: ToneWiring) -> Vec<String> {
    let how = if tone.changes { "Change them to this" } else { "They should be so already" };
    let hot = lug(joint(tone.joined_at));
    let mut lines = match tone.hookup {
        Hookup::Rheostat => vec![
            format!("{how}: a wire from {hot} to the tone control's wiper."),
            "The tone control's outer lug at the wiper's end at full stays free, or is tied to nothing but the wiper's neighbour that your pot \
             was wired with: only the wiper and the outer lug at its end at zero carry signal."
                .to_owned(),
        ],
        Hookup::Shelf => vec![
            format!("{how}: a wire from {hot} to the tone control's outer lug at the wiper's end at full, which is its hot lug."),
            "The tone control's wiper goes nowhere but to the bypass network.".to_owned(),
        ],
    };
    lines.push(if tone.has_network {
        "From the tone control's outer lug at the wiper's end at zero the tone network goes to ground.".to_owned()
    } else {
        "The tone control's outer lug at the wiper's end at zero stays free: nothing goes to ground.".to_owned()
    });
    if tone.hookup == Hookup::Rheostat {
        lines.push(
            "If the old network sat between the volume and the tone control, with the tone control grounded instead, the new one can go in \
             the same place: the order along the branch makes no difference."
                .to_owned(),
        );
    }
    lines
}

fn steps(fitting: &Fitting) -> Vec<String> {
    let Assembly { joins, leads: [first, last] } = &fitting.assembly;
    let mut steps: Vec<String> = joins.iter().map(join).collect();
    if fitting.slot == Slot::Series {
        steps.push("Unsolder the pickup's hot lead from the volume control's input lug; the network goes between the two.".to_owned());
    }
    let (one, other) = if first.of == last.of {
        (format!("One end of {}", first.of), format!("The other end of {}", last.of))
    } else {
        (free_end(first), free_end(last))
    };
    steps.push(format!("{one}: to {}.", lug(first.to)));
    steps.push(format!("{other}: to {}.", lug(last.to)));
    steps.push("These parts have no direction: either way round is right.".to_owned());
    steps
}

fn free_end(lead: &Lead) -> String {
    format!("Free end of {}", lead.of)
}

fn join(join: &Join) -> String {
    let members = list(&join.members);
    match join.how {
        How::SideBySide => format!(
            "Lay {members} side by side and twist their leads together at both ends. Together they are {}.",
            join.name
        ),
        How::InARow => format!(
            "Put {members} in a row: twist one end of each to the next, so that the row has two free ends. Together they are {}.",
            join.name
        ),
    }
}

fn lug(lug: Lug) -> &'static str {
    match lug {
        Lug::PickupLead => "the pickup's hot lead",
        Lug::VolumeInput => "the volume control's input lug",
        Lug::VolumeWiper => "the volume control's wiper",
        Lug::ToneUpper => "the tone control's hot lug, the outer lug at the wiper's end at full",
        Lug::ToneWiper => "the tone control's wiper",
        Lug::ToneLower => "the tone control's outer lug at the wiper's end at zero",
        Lug::Ground => "ground: a pot's case or the ground point",
    }
}

/// The same in the few letters that fit a drawing.
fn terminal(lug: Lug) -> Terminal {
    let lines: &[&str] = match lug {
        Lug::PickupLead => &["pickup", "hot lead"],
        Lug::VolumeInput => &["volume", "input lug"],
        Lug::VolumeWiper => &["volume", "wiper"],
        Lug::ToneUpper => &["tone", "hot lug"],
        Lug::ToneWiper => &["tone", "wiper"],
        Lug::ToneLower => &["tone", "outer lug", "(zero end)"],
        Lug::Ground => &["ground", "(pot case)"],
    };
    Terminal {
        lines: lines.iter().map(|line| (*line).to_owned()).collect(),
        is_ground: lug == Lug::Ground,
    }
}

fn labels(fitting: &Fitting) -> Labels {
    let parts = fitting.labels.iter().zip(fitting.network.components());
    let [first, last] = &fitting.assembly.leads;
    Labels {
        title: format!("Circuit of {}", slot_part(fitting.slot)),
        description: format!(
            "{}, from {} to {}.",
            capitalised(&crate::report::words::network(&fitting.network)),
            lug(first.to),
            lug(last.to)
        ),
        parts: parts.map(|(label, part)| format!("{label} {}", value(part))).collect(),
        ends: [first.to, last.to].map(terminal),
    }
}
