//! How the parts of a network are joined to each other, innermost first, and where its two ends go.

use crate::guitar::{Joint, Slot};
use crate::parts::network::Network;

/// A network as it is put together.
#[derive(Debug, Clone, PartialEq)]
pub struct Assembly {
    /// Joints inside the network, in the order in which they are made; none for a single part.
    pub joins: Vec<Join>,
    /// The two ends.
    pub leads: [Lead; 2],
}

/// Some parts or groups joined.
#[derive(Debug, Clone, PartialEq)]
pub struct Join {
    /// What the result is called: "group A" …
    pub name: String,
    /// How they are joined.
    pub how: How,
    /// Parts and earlier groups, in written order.
    pub members: Vec<String>,
}

/// How parts are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// End to end.
    InARow,
    /// All first ends together, and all second ends.
    SideBySide,
}

/// An end of a network and where it goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Lead {
    /// The part or group whose free end it is.
    pub of: String,
    /// Where it goes.
    pub to: Lug,
}

/// A place to solder to, by function.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lug {
    /// The pickup's hot lead.
    PickupLead,
    /// The volume control's input lug.
    VolumeInput,
    /// The volume control's wiper.
    VolumeWiper,
    /// The tone control's outer lug at the wiper's end when the knob is full up; it takes the signal with hookup shelf.
    ToneUpper,
    /// The tone control's wiper.
    ToneWiper,
    /// The tone control's outer lug at the wiper's end when the knob is at zero.
    ToneLower,
    /// Ground: a pot's case or the ground point.
    Ground,
}

/// The lug at which a branch takes the signal.
#[must_use]
pub const fn joint(joint: Joint) -> Lug {
    match joint {
        Joint::Pickup => Lug::VolumeInput,
        Joint::Wiper => Lug::VolumeWiper,
    }
}

/// Where the two ends of a slot's network go.
#[must_use]
pub const fn ends(slot: Slot) -> [Lug; 2] {
    match slot {
        Slot::Bleed => [Lug::VolumeInput, Lug::VolumeWiper],
        Slot::Series => [Lug::PickupLead, Lug::VolumeInput],
        Slot::Across => [Lug::VolumeInput, Lug::Ground],
        Slot::Bypass => [Lug::ToneUpper, Lug::ToneWiper],
        Slot::Tone => [Lug::ToneLower, Lug::Ground],
    }
}

/// Puts a network together.
pub(super) fn assembly(network: &Network, labels: &[String], ends: [Lug; 2]) -> Assembly {
    let mut joins = Vec::new();
    let [first, last] = joined(network, &mut labels.iter(), &mut joins);
    let [start, end] = ends;
    Assembly {
        joins,
        leads: [Lead { of: first, to: start }, Lead { of: last, to: end }],
    }
}

/// Joins a network and names the parts or groups at its two ends.
fn joined<'l>(network: &Network, labels: &mut impl Iterator<Item = &'l String>, joins: &mut Vec<Join>) -> [String; 2] {
    let (how, members) = match network {
        Network::Fixed(_) => {
            let label = labels.next().cloned().unwrap_or_default();
            return [label.clone(), label];
        }
        Network::Free(part) => return [part.name.clone(), part.name.clone()],
        Network::Series(members) => (How::InARow, members),
        Network::Parallel(members) => (How::SideBySide, members),
    };
    let mut names = Vec::new();
    for member in members {
        let ends = joined(member, labels, joins);
        // A member of several parts goes by the name of the group that it was just made into.
        let made = joins.last().filter(|_| member.part_count() > 1).map(|join| join.name.clone());
        let [label, _] = ends;
        names.push(made.unwrap_or(label));
    }
    let name = format!("group {}", group_letter(joins.len()));
    let ends = match (how, names.first(), names.last()) {
        (How::InARow, Some(first), Some(last)) => [first.clone(), last.clone()],
        _ => [name.clone(), name.clone()],
    };
    joins.push(Join { name, how, members: names });
    ends
}

/// A … Z, then A1 …: no network anybody solders has so many groups, but none may be without a name of its own.
fn group_letter(index: usize) -> String {
    let letter = char::from(b'A' + u8::try_from(index % 26).unwrap_or_default());
    match index / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{round}"),
    }
}
