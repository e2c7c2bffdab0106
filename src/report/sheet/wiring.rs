//! Where each lead goes, by function, and the network as a drawing.

use super::parts::value;
use crate::guitar::Hookup;
use crate::guitar::Slot;
use crate::recommend::sheet::{Assembly, Fitting, How, Join, Lead, Lug, Several, Sheet, ToneWiring, VolumeLeads, assembly::joint};
use crate::report::document::Block;
use crate::report::schematic::{Labels, Terminal};
use crate::report::words::{capitalised, list, slot_part};

/// How to find the lugs without trusting a picture.
const FIND_LUGS: [&str; 2] = [
    "The wiper is the middle lug of nearly every pot.",
    "The zero-end lug is the outer lug that the wiper touches with the knob at zero, the full-end lug the one that it touches with the knob full up: \
     there an ohmmeter reads nearly 0 Ω between the two, whatever else is connected.",
];

/// Which lead is on which lug of the volume control.
fn volume_leads(several: Option<&Several>) -> &'static str {
    match several.map(|several| several.volume) {
        None => {
            "Volume control: its full-end lug is the input lug, where the pickup's hot lead arrives; its wiper goes to the jack; its \
             zero-end lug goes to ground, usually the pot's case. (Some guitars have input and wiper exchanged; these figures are not for \
             them.)"
        }
        Some(VolumeLeads::Shared) => {
            "Volume control: its full-end lug is the input lug, where the lead from the selector arrives; its wiper goes to the jack; its \
             zero-end lug goes to ground, usually the pot's case. (Some guitars have input and wiper exchanged; these figures are not for \
             them.)"
        }
        Some(VolumeLeads::Absent) => {
            "There is no volume control: the signal goes straight on to the jack. A part that would be at one of its lugs goes to the wire to \
             the jack."
        }
        Some(VolumeLeads::Joined) => {
            "This pickup's volume control: its full-end lug is the input lug, where the pickup's hot lead arrives; its wiper goes on towards \
             the selector; its zero-end lug goes to ground, usually the pot's case."
        }
        Some(VolumeLeads::Independent) => {
            "This pickup's volume control, wired so that it leaves the other pickups sounding: the pickup's hot lead arrives at its wiper; \
             its full-end lug, which is called the input lug all the same, goes on towards the selector; its zero-end lug goes to ground, \
             usually the pot's case."
        }
    }
}

const LEADS_STAY: &str = "All these leads stay where they are unless a step says otherwise.";

pub(super) fn blocks(sheet: &Sheet) -> Vec<Block> {
    let mut blocks = vec![Block::heading("Where each lead goes")];
    let rewired = sheet.tone.filter(|tone| tone.changes);
    if sheet.fit.is_empty() && rewired.is_none() {
        blocks.push(Block::paragraph(if sheet.changes.is_empty() {
            "No new lead: leave every wire as it is."
        } else {
            "No new lead: every wire of a pot that is exchanged goes to the same lug of the new one."
        }));
        return blocks;
    }
    let several = sheet.several.as_ref();
    let lugs = FIND_LUGS.into_iter().chain([volume_leads(several), LEADS_STAY]);
    blocks.push(Block::Points(lugs.map(str::to_owned).collect()));
    if let Some(tone) = rewired.or_else(|| sheet.tone.filter(|_| touches_tone(sheet))) {
        blocks.push(Block::subheading("The tone control's own leads"));
        blocks.push(Block::Points(tone_leads(tone, several)));
    }
    for fitting in &sheet.fit {
        blocks.push(Block::Subheading(capitalised(slot_part(fitting.slot))));
        blocks.push(Block::Drawing(Box::new((fitting.network.clone(), labels(fitting, several)))));
        blocks.push(Block::Steps(steps(fitting, several)));
    }
    blocks
}

fn touches_tone(sheet: &Sheet) -> bool {
    sheet.fit.iter().any(|fitting| matches!(fitting.slot, Slot::Tone | Slot::Bypass))
}

/// The wires of the tone control, apart from the networks.
fn tone_leads(tone: ToneWiring, several: Option<&Several>) -> Vec<String> {
    let how = if tone.changes {
        "Change them to this"
    } else {
        "They should be so already"
    };
    let hot = lug(joint(tone.joined_at), several);
    let mut lines = match tone.hookup {
        Hookup::Rheostat => vec![
            format!("{how}: a wire from {hot} to the tone control's wiper."),
            "The tone control's full-end lug stays free, or may be tied to its wiper: no signal needs it.".to_owned(),
        ],
        Hookup::Shelf => vec![
            format!("{how}: a wire from {hot} to the tone control's full-end lug, which is its hot lug."),
            "The tone control's wiper goes to the bypass network and nowhere else.".to_owned(),
        ],
    };
    lines.push(if tone.has_network {
        "From the tone control's zero-end lug the tone network goes to ground.".to_owned()
    } else {
        "The tone control's zero-end lug stays free: nothing goes to ground.".to_owned()
    });
    if tone.hookup == Hookup::Rheostat && tone.has_network {
        lines.push(
            "Does your guitar have these in another order (the hot wire at the zero-end lug and the network at the wiper, or the network between the two \
             controls and the pot grounded)? Then put the new network where the old one was: the order along the branch makes no difference."
                .to_owned(),
        );
    }
    lines
}

fn steps(fitting: &Fitting, several: Option<&Several>) -> Vec<String> {
    let Assembly {
        joins,
        leads: [first, last],
    } = &fitting.assembly;
    let is_named_again = |name: &String| {
        let inside = joins.iter().any(|join| join.members.contains(name));
        inside || first.of == *name || last.of == *name
    };
    let mut steps: Vec<String> = joins.iter().map(|join| join_in_words(join, is_named_again(&join.name))).collect();
    if fitting.slot == Slot::Series {
        steps.push(format!(
            "Unsolder {} from {}; the network goes between the two.",
            lug(Lug::PickupLead, several),
            lug(Lug::VolumeInput, several)
        ));
    }
    let (one, other) = if first.of == last.of {
        (format!("One end of {}", first.of), format!("The other end of {}", last.of))
    } else {
        (free_end(first), free_end(last))
    };
    steps.push(format!("{one}: to {}.", lug(first.to, several)));
    steps.push(format!("{other}: to {}.", lug(last.to, several)));
    steps
}

fn free_end(lead: &Lead) -> String {
    format!("Free end of {}", lead.of)
}

fn join_in_words(join: &Join, is_named_again: bool) -> String {
    let members = list(&join.members);
    let how = match (join.how, join.members.as_slice()) {
        (How::SideBySide, _) => format!("Lay {members} side by side and twist their leads together at both ends."),
        (How::InARow, [one, other]) => format!("Twist one end of {one} and one end of {other} together."),
        (How::InARow, _) => format!("Put {members} in a row: twist one end of each to the next, so that two ends stay free."),
    };
    if is_named_again {
        format!("{how} Together they are {}.", join.name)
    } else {
        how
    }
}

/// The lug that a branch is on in a volume control wired the other way round: input and wiper are exchanged.
fn exchanged(lug: Lug, several: Option<&Several>) -> Lug {
    match (lug, several.map(|several| several.volume)) {
        (Lug::VolumeInput, Some(VolumeLeads::Independent)) => Lug::VolumeWiper,
        (Lug::VolumeWiper, Some(VolumeLeads::Independent)) => Lug::VolumeInput,
        (lug, _) => lug,
    }
}

fn is_shared(several: Option<&Several>) -> bool {
    several.is_some_and(|several| several.volume == VolumeLeads::Shared)
}

fn is_absent(several: Option<&Several>) -> bool {
    several.is_some_and(|several| several.volume == VolumeLeads::Absent)
}

pub(in crate::report) fn lug(lug: Lug, several: Option<&Several>) -> &'static str {
    match exchanged(lug, several) {
        Lug::PickupLead if is_shared(several) => "the lead from the selector",
        Lug::PickupLead => "the pickup's hot lead",
        Lug::VolumeInput | Lug::VolumeWiper if is_absent(several) => "the wire to the jack",
        Lug::VolumeInput => "the volume control's input lug",
        Lug::VolumeWiper => "the volume control's wiper",
        Lug::ToneUpper => "the tone control's full-end lug (its hot lug)",
        Lug::ToneWiper => "the tone control's wiper",
        Lug::ToneLower => "the tone control's zero-end lug",
        Lug::Ground => "ground (a pot's case or the ground point)",
    }
}

/// The same in the few letters that fit a drawing.
pub(in crate::report) fn terminal(lug: Lug, several: Option<&Several>) -> Terminal {
    let lines: &[&str] = match exchanged(lug, several) {
        Lug::PickupLead if is_shared(several) => &["from the", "selector"],
        Lug::PickupLead => &["pickup", "hot lead"],
        Lug::VolumeInput | Lug::VolumeWiper if is_absent(several) => &["to the", "jack"],
        Lug::VolumeInput => &["volume", "input lug"],
        Lug::VolumeWiper => &["volume", "wiper"],
        Lug::ToneUpper => &["tone", "full-end lug"],
        Lug::ToneWiper => &["tone", "wiper"],
        Lug::ToneLower => &["tone", "zero-end lug"],
        Lug::Ground => &["ground", "(pot case)"],
    };
    Terminal {
        lines: lines.iter().map(|line| (*line).to_owned()).collect(),
        is_ground: lug == Lug::Ground,
    }
}

fn labels(fitting: &Fitting, several: Option<&Several>) -> Labels {
    let parts = fitting.labels.iter().zip(fitting.network.components());
    let [first, last] = &fitting.assembly.leads;
    Labels {
        title: format!("Circuit of {}", slot_part(fitting.slot)),
        description: format!(
            "{}, from {} to {}.",
            capitalised(&crate::recommend::instructions::network_in_words(&fitting.network)),
            lug(first.to, several),
            lug(last.to, several)
        ),
        parts: parts.map(|(label, part)| format!("{label} {}", value(part))).collect(),
        ends: [first.to, last.to].map(|to| terminal(to, several)),
    }
}
