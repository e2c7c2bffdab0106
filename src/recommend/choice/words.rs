//! The answer in words: what to do, how well that does it, and where it falls short.

use super::candidates::{Candidate, Choice};
use super::{AnswerKind, NOBODY_HEARS, WORTH_SAYING, changed_networks};
use crate::guitar::Guitar;
use crate::recommend::changes::{self, Told};
use crate::recommend::instructions::{instructions, list, network_in_words};
use crate::units::knob;

/// A miss by more than this, in dB, is not worth soldering for.
const NOT_WORTH_SOLDERING: f64 = 2.0;

impl Choice<'_> {
    pub(super) fn to_do(&self, guitar: &Guitar) -> String {
        let all = instructions(&self.prepared.present, guitar);
        if all.len() > 1 && all.iter().any(|one| one.contains(',')) {
            all.join("; also ")
        } else {
            list(&all)
        }
    }

    pub(super) fn says(&self, kind: AnswerKind, chosen: &Candidate, harm: &[Told], closest: Option<&Candidate>) -> String {
        let (to_do, margin) = (self.to_do(&chosen.guitar), chosen.entry.margin);
        let capital = changes::sentence(&to_do);
        match kind {
            AnswerKind::Price => {
                let spoils = harm
                    .first()
                    .map_or("something else changes", |harm| harm.says.trim_end_matches('.'));
                let harmless = closest.map(|closest| {
                    format!(
                        " The closest that spoils nothing misses by {}: {}.",
                        decibels(-closest.entry.margin),
                        self.to_do(&closest.guitar)
                    )
                });
                let spoils = uncapitalised(spoils);
                format!(
                    "{capital} It does what you wish, at a price: {spoils}.{}",
                    harmless.unwrap_or_default()
                )
            }
            _ if margin >= 0.0 => format!("{capital} That does it{}.", to_spare(margin)),
            _ if margin >= -NOBODY_HEARS => format!("{capital} As good as met: it misses by {}, which nobody hears.", decibels(-margin)),
            _ if margin < -NOT_WORTH_SOLDERING => format!(
                "Nothing here does it, and none is worth soldering. The closest still misses by {}: {to_do}.",
                decibels(-margin)
            ),
            _ => format!(
                "Nothing here does it all the way. The closest misses by {}: {to_do}.",
                decibels(-margin)
            ),
        }
    }

    /// Where a guitar with a margin of so many dB misses the wish, or misses it by more, between the half marks of a knob's travel.
    pub(super) fn breaks_between_marks(&self, guitar: &Guitar, margin: f64) -> Option<String> {
        let close = self.request.target.looked_at_closely();
        if close == self.request.target {
            return None;
        }
        // A position between that is silent is not looked at.
        let worst = self.prepared.worst_in_pieces(guitar, &close).ok()??;
        let at = [("volume", worst.setting.volume), ("tone", worst.setting.tone)];
        let turned = at.iter().filter(|(_, rotation)| *rotation < 1.0);
        let at: Vec<String> = turned
            .map(|(knob, rotation)| format!("{knob} {:.1}", knob::number(*rotation)))
            .collect();
        (worst.margin < margin.min(0.0) - WORTH_SAYING).then(|| {
            let miss = decibels(-worst.margin);
            format!(" Between the half marks it misses by {miss}, at {}.", at.join(" and "))
        })
    }
}

/// "So does 470 pF in its place, with 0.5 dB to spare."
pub(super) fn so_does(other: &Candidate) -> String {
    let parts: Vec<String> = changed_networks(other).map(|(_, network)| network_in_words(network)).collect();
    format!(" So does {} in its place{}.", parts.join(" and "), to_spare(other.entry.margin))
}

/// What is to spare, as the end of a sentence.
pub(super) fn to_spare(margin: f64) -> String {
    if margin < 0.05 {
        return ", but only just".to_owned();
    }
    format!(", with {} to spare", decibels(margin))
}

/// A figure in dB as people say it.
pub(in crate::recommend) fn decibels(value: f64) -> String {
    let decimals = if value.abs() < 0.095 { 2 } else { 1 };
    format!("{value:.decimals$} dB")
}

pub(in crate::recommend) fn uncapitalised(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().map(|letter| letter.to_lowercase().collect()).unwrap_or_default();
    first + letters.as_str()
}
