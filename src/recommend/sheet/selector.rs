//! What each position of a selector connects, in words.

use crate::guitar::Guitar;
use crate::guitar::ensemble::{Channel, Ensemble, Joined};

/// Each position with what is connected in it; nothing where there is one alone.
pub(super) fn rows(guitar: &Guitar) -> Vec<[String; 2]> {
    let mut rows: Vec<[String; 2]> = Vec::new();
    for position in guitar.positions().iter().filter_map(|case| case.position.as_deref()) {
        let row = [position.name().to_owned(), connected(&position.ensemble)];
        if position.turned.is_empty() && !rows.contains(&row) {
            rows.push(row);
        }
    }
    if rows.len() > 1 { rows } else { Vec::new() }
}

/// "neck (split) and bridge side by side".
pub(super) fn connected(ensemble: &Ensemble) -> String {
    let channels: Vec<&Channel> = ensemble.channels().collect();
    in_words(&ensemble.joined, &channels, true)
}

fn in_words(joined: &Joined, channels: &[&Channel], is_whole: bool) -> String {
    let (members, how) = match joined {
        Joined::One(number) => return channels.get(*number).map(|channel| named(channel)).unwrap_or_default(),
        Joined::Parallel(members) => (members, "side by side"),
        Joined::Series(members) => (members, "in series"),
    };
    let words: Vec<String> = members.iter().map(|member| in_words(member, channels, false)).collect();
    let list = match words.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} and {last} {how}", first.join(", ")),
        words => words.join(", "),
    };
    if is_whole { list } else { format!("({list})") }
}

fn named(channel: &Channel) -> String {
    let state = channel.state.as_ref().map(|state| format!(" ({state})")).unwrap_or_default();
    let reversed = if channel.ratio < 0.0 { " reversed" } else { "" };
    format!("{}{state}{reversed}", channel.name)
}
