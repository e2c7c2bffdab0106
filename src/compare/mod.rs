//! Named builds of one guitar side by side: what each sounds like at every knob position, how they do against a target, how far apart
//! they are and whether anybody could tell them apart.

mod figures;
mod named;

use std::collections::BTreeMap;

use serde::Serialize;

pub use self::figures::{Apart, AtPosition, Pair, Peak};
pub use self::named::{NamedBuild, PRESENT};
use crate::circuit::Setting;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::{Case, Guitar, Slot};
use crate::kernel::guards;
use crate::kernel::measure::{root_mean_square, worst_point};
use crate::kernel::plan::Plan;
use crate::parts::network::Network;
use crate::recommend::changes::{Known, Told, worth_telling};
use crate::recommend::{Rewired, Worst, check_target, silent};
use crate::search::exhaustive::Evaluator;
use crate::target::Target;

/// More builds than this are no comparison that anybody could read.
pub const MOST_BUILDS: usize = 50;

/// What to compare.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The guitar as its file describes it.
    pub guitar: Guitar,
    /// Fitted before anything else, in every build and in the present guitar.
    pub with: Vec<(Slot, Option<Network>)>,
    /// The builds, each with a name of its own.
    pub builds: Vec<NamedBuild>,
    /// Whether the present guitar is compared as well, as the first.
    pub present: bool,
    /// What they are held against, if anything.
    pub target: Option<Target>,
    /// Knob positions; `None` leaves them to the target, and without one to what the builds change.
    pub settings: Option<Vec<Setting>>,
}

/// Builds side by side; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// The guitar's name.
    pub guitar: String,
    /// The what-if cases; none is the guitar as it is.
    pub cases: Vec<Case>,
    /// The target, if there is one.
    pub target: Option<Target>,
    /// The builds in the order they were named, present first.
    pub builds: Vec<Compared>,
    /// Every two builds, in order.
    pub pairs: Vec<Pair>,
}

/// One build.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Compared {
    /// Its name.
    pub name: String,
    /// What each slot holds; slots with nothing in them are left out.
    pub slots: BTreeMap<Slot, String>,
    /// Pots, cable and wiring that are otherwise than in the present guitar.
    pub changed: Rewired,
    /// What it changes by more than 3 dB that the target does not speak of, the largest first; nothing for the present guitar.
    pub also_changes: Vec<Told>,
    /// By how many dB it changes at most what the target does not speak of.
    pub largest_change_db: f64,
    /// How it does against the target; none without a target, or where the build is silent at a position the target asks about.
    pub against_target: Option<AgainstTarget>,
    /// What it sounds like in each case (outer) at each knob position (inner).
    pub positions: Vec<AtPosition>,
}

/// How a build does against the target.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AgainstTarget {
    /// Margin in dB.
    pub margin_db: f64,
    /// Whether the margin is not below 0.
    pub meets_target: bool,
    /// Root mean square of all differences, in dB.
    pub rms_db: f64,
    /// Where it is worst.
    pub worst: Worst,
}

/// The guitars of a comparison: what is heard, by name.
#[derive(Debug, Clone, PartialEq)]
pub struct Lineup {
    /// The guitar that "present" means in the target.
    pub present: Guitar,
    /// The builds with their names, in order.
    pub builds: Vec<(String, Guitar)>,
    /// The knob positions.
    pub settings: Vec<Setting>,
    /// Where two of them must sound the same to be told so.
    pub heard_at: Vec<Setting>,
}

/// The guitars that a request is about.
///
/// # Errors
/// When a build does not fit the guitar, two builds share a name, or there is nothing to compare.
pub fn lineup(request: &Request) -> Result<Lineup> {
    let mut present = request.guitar.clone();
    present.fit_all(&request.with, "--with")?;
    let mut builds: Vec<(String, Guitar)> = Vec::new();
    if request.present {
        builds.push((PRESENT.to_owned(), present.clone()));
    }
    for build in &request.builds {
        if builds.iter().any(|(name, _)| *name == build.name) || build.name == PRESENT {
            let message = format!("two builds are called `{}`", build.name);
            return Err(Error::new(ErrorKind::Conflict, message).help("give each a name of its own; `present` is the guitar as it is"));
        }
        let mut guitar = match &build.guitar {
            // Positions are those of one guitar: another has none of its pickups.
            Some(other) => {
                present.need_one_position("a comparison with another guitar")?;
                other.need_one_position("a guitar to compare with")?;
                other.clone()
            }
            None => present.clone(),
        };
        guitar.cases.clone_from(&present.cases);
        for alteration in &build.alterations {
            alteration.apply(&mut guitar, "--build")?;
        }
        guitar.fit_all(&build.fittings, "--build")?;
        builds.push((build.name.clone(), guitar));
    }
    if builds.is_empty() || builds.len() > MOST_BUILDS {
        let message = format!("{} builds cannot be compared", builds.len());
        return Err(Error::new(ErrorKind::Range, message).help(format!("from 1 to {MOST_BUILDS}, each named with --build")));
    }
    let settings = settings(request);
    let mut heard_at = settings.clone();
    if request.settings.is_none() {
        // Two builds that are alike where a target looks may be far apart elsewhere.
        heard_at.extend(guards::positions(present.tone.is_some()));
    }
    Ok(Lineup {
        settings,
        heard_at,
        present,
        builds,
    })
}

/// Compares.
///
/// # Errors
/// As [`lineup`], and when the target asks about a position at which the present guitar is silent or turns a knob it lacks.
pub fn compare(request: &Request) -> Result<Comparison> {
    let lineup = lineup(request)?;
    if let Some(target) = &request.target {
        for (_, guitar) in &lineup.builds {
            check_target(target, guitar)?;
        }
        check_target(target, &lineup.present)?;
    }
    let known = Known::new(&lineup.present, request.target.as_ref().map_or(&[], |target| &target.clauses));
    let compared = |(name, guitar): &(String, Guitar)| {
        let effects = known.side_effects(guitar);
        let against_target = request.target.as_ref().map(|target| against(guitar, &lineup.present, target));
        Ok(Compared {
            name: name.clone(),
            slots: Slot::ALL
                .into_iter()
                .filter_map(|slot| Some((slot, guitar.fitted(slot)?.to_string())))
                .collect(),
            changed: Rewired::between(&lineup.present, guitar),
            also_changes: worth_telling(&effects),
            largest_change_db: effects.first().map_or(0.0, |effect| effect.difference_db.abs()),
            against_target: against_target.transpose()?.flatten(),
            positions: figures::at_positions(guitar, &lineup.settings),
        })
    };
    let builds: Vec<Compared> = lineup.builds.iter().map(compared).collect::<Result<_>>()?;
    Ok(Comparison {
        guitar: request.guitar.name.clone(),
        cases: request.guitar.cases.clone(),
        target: request.target.clone(),
        pairs: figures::pairs(&lineup, &builds),
        builds,
    })
}

/// `None` where the build is silent at a point of the target.
fn against(guitar: &Guitar, present: &Guitar, target: &Target) -> Result<Option<AgainstTarget>> {
    let plan = Plan::new(guitar, present, target, &[]).map_err(silent)?;
    let mut evaluator = Evaluator::new(&plan);
    let powers = evaluator.powers(&[], &[]);
    let found = worst_point(&plan, powers).zip(root_mean_square(&plan, powers));
    Ok(found.map(|(worst, rms_db)| AgainstTarget {
        margin_db: worst.margin,
        meets_target: worst.margin >= 0.0,
        rms_db,
        worst: Worst::new(worst, &guitar.cases),
    }))
}

/// The positions asked for; else the target's; else both ends and the middle of what the builds change: volume 10 and 5, and where anything
/// of the tone control may be changed tone 10 and 0.
fn settings(request: &Request) -> Vec<Setting> {
    if let Some(settings) = &request.settings {
        return settings.clone();
    }
    if let Some(target) = &request.target {
        return target.shown_settings(None);
    }
    let changed = request.builds.iter().flat_map(|build| &build.fittings);
    let about_tone = changed.map(|(slot, _)| *slot).any(|slot| matches!(slot, Slot::Tone | Slot::Bypass))
        || request.guitar.tone.is_some()
            && request
                .builds
                .iter()
                .any(|build| !build.alterations.is_empty() || build.guitar.is_some());
    let tones: &[f64] = if about_tone { &[1.0, 0.0] } else { &[1.0] };
    let volumes = [1.0, 0.5];
    let at = |volume: f64| tones.iter().map(move |tone| Setting { volume, tone: *tone });
    volumes.into_iter().flat_map(at).collect()
}
