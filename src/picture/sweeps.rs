//! Which builds of a result are swept, and where they are seen first.

use super::pictures::{Circumstance, named_in_list};
use super::{Sweep, sweep};
use crate::circuit::Setting;
use crate::compare::{self, Lineup, PRESENT};
use crate::error::Result;
use crate::guitar::Guitar;
use crate::recommend::{Recommendation, Request, guitars};

/// The guitar as it is and the ranked builds, seen first where the best is worst; `None` where there is nothing to hear.
///
/// # Errors
/// When the request does not fit the guitar.
pub fn sweep_of_recommendation(request: &Request, result: &Recommendation) -> Result<Option<Sweep>> {
    let Some(best) = result.first() else { return Ok(None) };
    let (present, _) = guitars(request)?;
    let case = Circumstance::of(&present, best.worst.case.as_deref());
    let mut builds: Vec<(String, Guitar)> = vec![(PRESENT.to_owned(), case.of_guitar(&present))];
    for ranked in result.listed() {
        let name = named_in_list(result, ranked);
        builds.push((name, case.of_guitar(&ranked.guitar)));
    }
    Ok(named(sweep(&builds, best.worst.at, [0, 1]), case))
}

/// The builds of a comparison, the first two seen first, at the last position compared.
///
/// # Errors
/// When a build does not fit the guitar.
pub fn sweep_of_comparison(request: &compare::Request) -> Result<Option<Sweep>> {
    let Lineup {
        present, builds, settings, ..
    } = compare::lineup(request)?;
    let case = Circumstance::of(&present, None);
    let builds: Vec<(String, Guitar)> = builds.iter().map(|(name, guitar)| (name.clone(), case.of_guitar(guitar))).collect();
    let start = settings.last().copied().unwrap_or(Setting::FULL);
    Ok(named(sweep(&builds, start, [0, 1]), case))
}

fn named(sweep: Option<Sweep>, case: Circumstance) -> Option<Sweep> {
    sweep.map(|sweep| Sweep {
        case: case.name,
        case_word: case.word,
        ..sweep
    })
}
