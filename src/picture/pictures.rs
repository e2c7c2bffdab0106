//! Which picture a command draws: of a recommendation, a comparison, a plain response.

use std::collections::BTreeMap;

use super::curves::SHOWN;
use super::landscape::check_landscape;
use super::{Asked, Curves, Label, MOST_CURVES, Picture, Subject, View, Voice, deviations, landscape, levels};
use crate::circuit::Setting;
use crate::compare::{self, Lineup, PRESENT};
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::{Guitar, Slot};
use crate::recommend::{Build, Recommendation, Request, guitars};

/// How many of the ranked builds stand side by side in a picture of several.
const SHOWN_BUILDS: usize = 4;

/// Refuses a picture that no answer to this request can have, before the answer is looked for.
///
/// # Errors
/// When there are too many knob positions, or no network that is searched has the values of a landscape; as [`crate::recommend::recommend`]
/// for a request that fits no guitar.
pub fn check_recommendation(request: &Request, view: View, at: Option<Setting>, parts: Option<[&str; 2]>) -> Result<()> {
    match view {
        View::Landscape => check_landscape(request, parts),
        View::Builds => Ok(()),
        View::Knobs | View::Deviation => check_count(at.map_or_else(|| request.target.shown_settings(None).len(), |_| 1)),
    }
}

/// A picture of a recommendation; `at` is the knob position where builds are shown side by side (the best build's worst unless told),
/// `parts` the two values of a landscape.
///
/// # Errors
/// When there is no such picture of this result.
pub fn of_recommendation(
    request: &Request,
    result: &Recommendation,
    view: View,
    at: Option<Setting>,
    parts: Option<[&str; 2]>,
) -> Result<Picture> {
    let best = result.first();
    let best = best.ok_or_else(|| Error::new(ErrorKind::Search, "no build makes a sound: there is nothing to draw"))?;
    if view == View::Landscape {
        return landscape(request, result, best, parts).map(Picture::Landscape);
    }
    let (present, _) = guitars(request)?;
    let case = Circumstance::of(&present, best.worst.case.as_deref());
    let present = case.of_guitar(&present);
    let target = &request.target.in_case(case.name.as_deref());
    let setting = at.unwrap_or(best.worst.at);
    let mut named = Vec::new();
    for ranked in result
        .listed()
        .into_iter()
        .take(if view == View::Builds { SHOWN_BUILDS } else { 1 })
    {
        let name = named_in_list(result, ranked);
        named.push((name, case.of_guitar(&ranked.guitar)));
    }
    let asked = Some(Asked {
        target,
        present: &present,
        marked: 0,
        built: request.lot.as_ref().map(|lot| (lot, request.rules.stock.as_ref())),
    });
    let mut curves = match view {
        View::Builds => {
            named.push((PRESENT.to_owned(), present.clone()));
            side_by_side(&named, setting, asked)?
        }
        _ => {
            // A picture full of curves does without the worst place, so that what was promised before the search is drawn.
            let worst = Some(best.worst.at).filter(|_| target.shown_settings(None).len() < MOST_CURVES);
            let settings = at.map_or_else(|| target.shown_settings(worst), |at| vec![at]);
            over_knobs(&named, &settings, asked, view, fitted_slots(best))?
        }
    };
    curves.guitar.clone_from(&result.guitar);
    curves.case = case.in_words();
    Ok(Picture::Curves(curves))
}

/// Refuses a picture that no comparison of this request can have.
///
/// # Errors
/// When there are too many builds, or a deviation is asked for without a target; as [`compare::lineup`].
pub fn check_comparison(request: &compare::Request, view: View) -> Result<()> {
    if view == View::Deviation && request.target.is_none() {
        return Err(no_target());
    }
    check_count(compare::lineup(request)?.builds.len())
}

fn no_target() -> Error {
    Error::new(ErrorKind::Missing, "a deviation is one from a target, and there is none").help("name one with --target")
}

/// A picture of a comparison: its builds side by side at one knob position, as levels or as differences from what the target compares
/// with. Unless told, the position is the worst of the build that does best, or the last of those compared.
///
/// # Errors
/// When there is no such picture of this comparison.
pub fn of_comparison(request: &compare::Request, result: &compare::Comparison, view: View, at: Option<Setting>) -> Result<Picture> {
    let Lineup {
        present, builds, settings, ..
    } = compare::lineup(request)?;
    let margins = result
        .builds
        .iter()
        .enumerate()
        .filter_map(|(index, build)| Some((index, build.against_target.as_ref()?)));
    let best = margins.max_by(|(_, one), (_, other)| one.margin_db.total_cmp(&other.margin_db));
    let worst = best.map(|(_, best)| best.worst.at);
    let setting = at.or(worst).or(settings.last().copied()).unwrap_or(Setting::FULL);
    let case = Circumstance::of(&present, best.and_then(|(_, best)| best.worst.case.as_deref()));
    let builds: Vec<(String, Guitar)> = builds.iter().map(|(name, guitar)| (name.clone(), case.of_guitar(guitar))).collect();
    let present = case.of_guitar(&present);
    let target = request.target.as_ref().map(|target| target.in_case(case.name.as_deref()));
    let asked = target.as_ref().map(|target| Asked {
        target,
        present: &present,
        marked: best.map_or(0, |(index, _)| index),
        built: None,
    });
    let mut curves = match (view, asked) {
        (View::Builds, asked) => side_by_side(&builds, setting, asked)?,
        (View::Deviation, Some(asked)) => {
            let voices = of_builds(&builds, setting)?;
            deviations(&voices, SHOWN, asked, Subject::Position(setting))
        }
        (View::Deviation, None) => return Err(no_target()),
        _ => {
            return Err(Error::new(
                ErrorKind::Conflict,
                "a comparison is drawn as builds or as their deviation",
            ));
        }
    };
    curves.guitar.clone_from(&result.guitar);
    curves.case = case.in_words();
    Ok(Picture::Curves(curves))
}

/// Refuses a picture of more curves than can be told apart.
///
/// # Errors
/// When there are too many cases and settings.
pub fn check_response(guitar: &Guitar, settings: usize) -> Result<()> {
    check_count(settings.saturating_mul(guitar.cases.len().max(1)))
}

/// A picture of a guitar's response in each of its cases at each setting, over at least the range given in Hz.
///
/// # Errors
/// When there are too many curves.
pub fn of_response(guitar: &Guitar, settings: &[Setting], range: [f64; 2]) -> Result<Picture> {
    let cases = guitar.in_cases();
    let mut voices = Vec::new();
    for (index, circumstance) in cases.iter().enumerate() {
        let case = guitar.cases.get(index).map(|case| case.name.clone());
        voices.extend(settings.iter().map(|setting| Voice {
            label: Label::Position(*setting, case.clone()),
            guitar: circumstance,
            setting: *setting,
        }));
    }
    check_count(voices.len())?;
    let range = [range[0].min(SHOWN[0]), range[1].max(SHOWN[1])];
    let mut curves = levels(&voices, range, None, Subject::Build(slots_of(guitar)));
    curves.guitar.clone_from(&guitar.name);
    Ok(Picture::Curves(curves))
}

/// The case of a guitar that a picture shows.
pub(super) struct Circumstance {
    pub(super) name: Option<String>,
    /// What it is called: a case, or a position of the selector.
    pub(super) word: &'static str,
}

impl Circumstance {
    /// The case of that name, or the first where there are any.
    pub(super) fn of(guitar: &Guitar, name: Option<&str>) -> Self {
        let named = guitar.cases.iter().find(|case| Some(case.name.as_str()) == name);
        Self {
            name: named.or(guitar.cases.first()).map(|case| case.name.clone()),
            word: guitar.case_word(),
        }
    }

    /// "case stage", "position both".
    pub(super) fn in_words(&self) -> Option<String> {
        self.name.as_ref().map(|name| format!("{} {name}", self.word))
    }

    pub(super) fn of_guitar(&self, guitar: &Guitar) -> Guitar {
        let case = guitar.cases.iter().find(|case| Some(&case.name) == self.name.as_ref());
        case.map_or_else(|| guitar.clone(), |case| guitar.in_case(case))
    }
}

fn side_by_side(builds: &[(String, Guitar)], setting: Setting, asked: Option<Asked<'_>>) -> Result<Curves> {
    let voices = of_builds(builds, setting)?;
    Ok(levels(&voices, SHOWN, asked, Subject::Position(setting)))
}

fn of_builds(builds: &[(String, Guitar)], setting: Setting) -> Result<Vec<Voice<'_>>> {
    check_count(builds.len())?;
    let voice = |(name, guitar)| Voice {
        label: Label::Build(String::clone(name)),
        guitar,
        setting,
    };
    Ok(builds.iter().map(|(name, guitar)| voice((name, guitar))).collect())
}

fn over_knobs(
    named: &[(String, Guitar)],
    settings: &[Setting],
    asked: Option<Asked<'_>>,
    view: View,
    slots: BTreeMap<Slot, String>,
) -> Result<Curves> {
    check_count(settings.len())?;
    let voice = |guitar, setting: &Setting| Voice {
        label: Label::Position(*setting, None),
        guitar,
        setting: *setting,
    };
    let voices: Vec<Voice<'_>> = named
        .iter()
        .flat_map(|(_, guitar)| settings.iter().map(move |setting| voice(guitar, setting)))
        .collect();
    let subject = Subject::Build(slots);
    Ok(match (view, asked) {
        (View::Deviation, Some(asked)) => deviations(&voices, SHOWN, asked, subject),
        _ => levels(&voices, SHOWN, asked, subject),
    })
}

fn check_count(count: usize) -> Result<()> {
    if count > MOST_CURVES {
        let message = format!("{count} curves in one picture cannot be told apart");
        return Err(
            Error::new(ErrorKind::Range, message).help(format!("name fewer knob positions, cases or builds: at most {MOST_CURVES}"))
        );
    }
    Ok(())
}

fn slots_of(guitar: &Guitar) -> BTreeMap<Slot, String> {
    Slot::ALL
        .into_iter()
        .filter_map(|slot| Some((slot, guitar.fitted(slot)?.to_string())))
        .collect()
}

fn fitted_slots(build: &Build) -> BTreeMap<Slot, String> {
    build.slots.clone()
}

/// "answer: 1n5", "3: 1n8".
pub(super) fn named_in_list(result: &Recommendation, build: &Build) -> String {
    if result.is_answer(build) {
        return format!("answer: {}", in_short(build));
    }
    format!("{}: {}", build.rank, in_short(build))
}

fn in_short(build: &Build) -> String {
    let searched = build.slots.iter();
    let several = build.slots.len() > 1;
    let slot = |(slot, written): (&Slot, &String)| if several { format!("{slot} {written}") } else { written.clone() };
    let changed = build.changed.in_words().into_iter();
    changed.chain(searched.map(slot)).collect::<Vec<_>>().join(", ")
}
