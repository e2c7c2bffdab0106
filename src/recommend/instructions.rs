//! What to do at the bench, in the words of the bench: parallel and series, never a bracketed formula.

use crate::guitar::{Guitar, Hookup, Joint, Potentiometer, Slot};
use crate::parts::network::{Component, Network};
use crate::units::with_prefix;

/// Everything that turns one guitar into another, each as an instruction in lower case: "fit 3.9 nF in series …".
pub(super) fn instructions(present: &Guitar, build: &Guitar) -> Vec<String> {
    let mut all = rewiring(present, build);
    for slot in Slot::ALL {
        let [now, then] = [present, build].map(|guitar| guitar.fitted(slot));
        if now != then {
            all.push(instruction(slot, now, then));
        }
    }
    all
}

pub(super) fn rewiring(present: &Guitar, build: &Guitar) -> Vec<String> {
    let mut all: Vec<String> = pot("volume", [&present.volume.pot, &build.volume.pot], false).into_iter().collect();
    if present.cable.capacitance != build.cable.capacitance {
        let [now, then] = [present, build].map(|guitar| with_prefix(guitar.cable.capacitance.value(), "F"));
        all.push(format!("use a cable of {then} instead of {now}"));
    }
    let (Some(now), Some(then)) = (&present.tone, &build.tone) else {
        return all;
    };
    let lets_go = then.no_load && !now.no_load;
    all.extend(pot("tone", [&now.pot, &then.pot], lets_go));
    if now.no_load && !then.no_load {
        all.push("fit a tone pot that stays connected at 10, not a no-load pot".to_owned());
    }
    let hookup = (now.hookup != then.hookup).then(|| match then.hookup {
        Hookup::Rheostat => "wire the tone control the common way, as a rheostat".to_owned(),
        Hookup::Shelf => "wire the tone control as a shelf".to_owned(),
    });
    let joint = (now.joined_at != then.joined_at).then(|| match then.joined_at {
        Joint::Pickup => "join the tone control at the volume pot's input lug".to_owned(),
        Joint::Wiper => "join the tone control at the volume pot's wiper".to_owned(),
    });
    all.extend(hookup.into_iter().chain(joint));
    all
}

/// A pot in the place of another; `None` where it is the same.
fn pot(name: &str, [now, then]: [&Potentiometer; 2], lets_go: bool) -> Option<String> {
    let track = (now.resistance != then.resistance).then(|| with_prefix(then.resistance.value(), "Ω"));
    let taper = (now.taper != then.taper).then(|| format!(" with the taper {}", then.taper));
    if track.is_none() && taper.is_none() && !lets_go {
        return None;
    }
    let words = ["a".to_owned()]
        .into_iter()
        .chain(lets_go.then(|| "no-load".to_owned()))
        .chain([format!("{name} pot")])
        .chain(track.map(|track| format!("of {track} in place of the {}", with_prefix(now.resistance.value(), "Ω"))));
    let words: Vec<String> = words.collect();
    let told = if lets_go { ", one that lets go at 10" } else { "" };
    Some(format!("fit {}{}{told}", words.join(" "), taper.unwrap_or_default()))
}

fn instruction(slot: Slot, now: Option<&Network>, then: Option<&Network>) -> String {
    match (slot, now, then) {
        (Slot::Bleed, now, Some(network)) => bleed(now.is_some(), network),
        (Slot::Bleed, _, None) => "take the treble bleed out".to_owned(),
        (Slot::Tone, now, Some(network)) => tone(now, network),
        (Slot::Tone, _, None) => "take the tone capacitor out; the knob then does nothing".to_owned(),
        (Slot::Bypass, _, Some(network)) => format!("fit {} at the tone pot, from its hot lug to its wiper", network_in_words(network)),
        (Slot::Bypass, _, None) => "take out what is between the tone pot's hot lug and its wiper".to_owned(),
        (Slot::Across, now, Some(network)) => across(now.is_some(), network),
        (Slot::Across, _, None) => "take out what is across the pickup".to_owned(),
        (Slot::Series, now, Some(network)) => series(now.is_some(), network),
        (Slot::Series, _, None) => "take out what is in series between the pickup and the controls".to_owned(),
    }
}

fn bleed(is_there: bool, network: &Network) -> String {
    let parts = network_in_words(network);
    let place = "from the volume pot's input lug to its wiper (the middle lug)";
    match (is_there, network) {
        (true, _) => format!("change the treble bleed to {parts}, {place}"),
        (false, Network::Fixed(Component::Resistor(_))) => format!("fit a resistor of {parts} {place}"),
        (false, Network::Fixed(_)) => format!("fit {parts} as a treble bleed, {place}"),
        (false, _) => format!("fit a treble bleed: {parts}, {place}"),
    }
}

fn tone(now: Option<&Network>, network: &Network) -> String {
    let from = now.map(network_in_words);
    match (from, capacitor_with_resistor(network)) {
        (Some(from), None) if is_capacitor(network) && now.is_some_and(is_capacitor) => {
            format!("change the tone capacitor from {from} to {}", network_in_words(network))
        }
        (Some(from), Some([capacitor, resistor])) if now.is_some_and(is_capacitor) && from == capacitor => {
            format!("put {resistor} in series with the tone capacitor")
        }
        (Some(from), Some([capacitor, resistor])) if now.is_some_and(is_capacitor) => {
            format!("change the tone capacitor from {from} to {capacitor} and put {resistor} in series with it")
        }
        (Some(from), _) => format!(
            "change what goes from the tone pot to ground from {from} to {}",
            network_in_words(network)
        ),
        (None, _) => format!("fit {} from the tone pot to ground", network_in_words(network)),
    }
}

fn series(is_there: bool, network: &Network) -> String {
    let parts = network_in_words(network);
    let place = "between the pickup and the controls";
    match (is_there, network) {
        (true, _) => format!("change what is in series {place} to {parts}"),
        (false, Network::Fixed(Component::Capacitor(_))) => format!("fit a series capacitor of {parts} {place}"),
        (false, Network::Fixed(_)) => format!("fit {parts} in series {place}"),
        (false, _) => format!("put {parts}, in line {place}"),
    }
}

fn across(is_there: bool, network: &Network) -> String {
    let parts = network_in_words(network);
    let verb = if is_there { "change what is across the pickup to" } else { "fit" };
    format!("{verb} {parts} from the pickup's hot lead to ground")
}

fn is_capacitor(network: &Network) -> bool {
    matches!(network, Network::Fixed(Component::Capacitor(_)))
}

/// A capacitor and a resistor in series, in words.
fn capacitor_with_resistor(network: &Network) -> Option<[String; 2]> {
    let Network::Series(members) = network else { return None };
    match members.as_slice() {
        [one, other] if is_capacitor(one) => Some([one, other]),
        [one, other] if is_capacitor(other) => Some([other, one]),
        _ => None,
    }
    .filter(|[_, resistor]| matches!(resistor, Network::Fixed(Component::Resistor(_))))
    .map(|both| both.map(network_in_words))
}

/// "150 kΩ and 1.5 nF in parallel, with 91 kΩ in series".
#[must_use]
pub fn network_in_words(network: &Network) -> String {
    let (members, how) = match network {
        Network::Fixed(component) => return value(*component),
        Network::Free(part) => return part.name.clone(),
        Network::Series(members) => (members, "in series"),
        Network::Parallel(members) => (members, "in parallel"),
    };
    let (joined, single): (Vec<&Network>, Vec<&Network>) = members
        .iter()
        .partition(|member| matches!(member, Network::Series(_) | Network::Parallel(_)));
    let words = |networks: &[&Network]| networks.iter().map(|network| network_in_words(network)).collect::<Vec<_>>();
    if joined.is_empty() {
        return format!("{} {how}", list(&words(&single)));
    }
    let whole = words(&joined).join(&format!(", {how} with "));
    match single.as_slice() {
        [] => whole,
        single => format!("{whole}, with {} {how}", list(&words(single))),
    }
}

fn value(component: Component) -> String {
    match component {
        Component::Resistor(value) => with_prefix(value.value(), "Ω"),
        Component::Capacitor(value) => with_prefix(value.value(), "F"),
        Component::Inductor(value) => with_prefix(value.value(), "H"),
    }
}

/// "a", "a and b", "a, b and c".
pub(super) fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
