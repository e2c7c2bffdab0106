//! Which positions of the selector and which knobs of a guitar the clauses of a target are about.

use crate::error::{Error, ErrorKind, Result};
use crate::guitar::ensemble::Whose;
use crate::guitar::knob::{Knob, Names};
use crate::guitar::{Case, Guitar, Position};
use crate::target::{Clause, Place, Target};

/// A target for the knobs of one view of a guitar: clauses about other knobs or positions are left out, names are as the guitar has them, and
/// the guitar gets a case for every position in which other knobs are to be turned. What the guitar does not know stays, for
/// [`check`] to refuse.
#[must_use]
pub fn placed(mut target: Target, guitar: &mut Guitar) -> Target {
    let positions = positions(guitar);
    let Some(names) = positions.first().map(|position| position.ensemble.names.clone()) else {
        let spoken = target.clauses.iter_mut().filter(|clause| clause.place.is_spoken);
        spoken.for_each(|clause| clause.place = Place::default());
        return target;
    };
    let about = |clause: &Clause| here(clause, &names, &positions);
    target.clauses = target.clauses.iter().filter_map(about).collect();
    for clause in target.clauses.iter().filter(|clause| !clause.place.knobs.is_empty()) {
        turn(guitar, &names, &clause.place);
    }
    target
}

/// Refuses what a guitar has no position or knob for.
///
/// # Errors
/// At the first clause that is about nothing of the guitar.
pub fn check(target: &Target, guitar: &Guitar) -> Result<()> {
    if target.clauses.is_empty() {
        return Err(
            Error::new(ErrorKind::Conflict, "no wish of the target is about these knobs of the guitar")
                .help("name other knobs with --knobs, or leave the position, the pickup or the knob out of the wish"),
        );
    }
    let names = guitar.names();
    for (index, clause) in target.clauses.iter().enumerate() {
        let wish = format!("wish {} of the target", index + 1);
        match names {
            None if clause.place.is_anywhere() => {}
            None => {
                let message = format!("{wish} names a position or a knob, and this guitar has one pickup, one volume and one tone control");
                return Err(Error::new(ErrorKind::Conflict, message)
                    .help("leave `selector`, `pickup`, `knob` and `knobs` out, or name a guitar of several pickups"));
            }
            Some(names) => unknown(&clause.place, names, &wish).map_or(Ok(()), Err)?,
        }
        let holds = |case: &Case| holds_in(clause, Some(case));
        if !guitar.cases.is_empty() && !guitar.cases.iter().any(holds) {
            return Err(
                Error::new(ErrorKind::Conflict, format!("{wish} holds in no position of this guitar"))
                    .help("the knobs that it names are not connected together in any of the positions"),
            );
        }
    }
    Ok(())
}

/// Whether a clause counts in a case of a guitar; in the guitar as it is it does.
#[must_use]
pub fn holds_in(clause: &Clause, case: Option<&Case>) -> bool {
    let Some(position) = case.and_then(|case| case.position.as_deref()) else {
        return true;
    };
    let is_named = clause.place.selector.iter().any(|name| name == position.name());
    position.turned == clause.place.knobs && (is_named || clause.place.selector.is_empty() && position.is_judged)
}

/// The cases of a guitar that count for a target; none where that is a position by itself, which is the guitar as it is.
#[must_use]
pub fn counting(target: &Target, cases: &[Case]) -> Vec<Case> {
    let counts = |case: &&Case| target.clauses.iter().any(|clause| holds_in(clause, Some(case)));
    let counting: Vec<Case> = cases.iter().filter(counts).cloned().collect();
    match counting.as_slice() {
        [only] if only.position.is_some() && cases.len() > 1 => Vec::new(),
        _ => counting,
    }
}

/// Whether a clause says something about what happens in a case, be it that it counts in another one.
#[must_use]
pub(super) fn speaks_in(clause: &Clause, case: Option<&Case>) -> bool {
    clause.place.is_anywhere() || holds_in(clause, case)
}

/// Whether a case is one of the guitar's own positions: others turn knobs that some clause names.
#[must_use]
pub(super) fn is_own(case: Option<&Case>) -> bool {
    let position = case.and_then(|case| case.position.as_deref());
    position.is_none_or(|position| position.turned.is_empty())
}

/// Every position of a guitar of several pickups in which a view's knobs do something, each once.
fn positions(guitar: &Guitar) -> Vec<Position> {
    let mut found: Vec<Position> = Vec::new();
    for position in guitar.positions().into_iter().filter_map(|case| case.position) {
        let is_known = found.iter().any(|known| known.name() == position.name());
        if position.turned.is_empty() && !is_known {
            found.push(*position);
        }
    }
    found
}

/// A clause as it is about a view's knobs; nothing where it is about others.
fn here(clause: &Clause, names: &Names, positions: &[Position]) -> Option<Clause> {
    let mut clause = clause.clone();
    if let Some(knob) = clause.place.knob.as_deref().and_then(|name| names.knob(name)) {
        if !names.is_turned(knob) {
            return None;
        }
        clause.place.knob = None;
    }
    of_pickup(&mut clause.place, names, positions)?;
    in_positions(&mut clause.place, names, positions)?;
    with_knobs(&mut clause, names, positions)?;
    Some(clause)
}

/// A pickup with knobs of its own is asked about these; of others that share one the positions in which it sounds, by itself if there are such.
fn of_pickup(place: &mut Place, names: &Names, positions: &[Position]) -> Option<()> {
    let Some(pickup) = place.pickup.as_deref().and_then(|asked| same(&names.pickups, asked)) else {
        return Some(());
    };
    let is_own = |position: &Position| {
        let ensemble = &position.ensemble;
        let has_own = ensemble.volume == Whose::Pickup || ensemble.tone == Whose::Pickup;
        has_own.then(|| ensemble.own.name == pickup)
    };
    match positions.first().and_then(is_own) {
        Some(true) => {}
        Some(false) => return None,
        None => {
            let sounds = |position: &&Position| position.ensemble.channels().any(|channel| channel.name == pickup);
            let alone = |position: &&Position| sounds(position) && position.ensemble.others.is_empty();
            let mut found: Vec<String> = positions.iter().filter(alone).map(|position| position.name().to_owned()).collect();
            if found.is_empty() {
                found = positions.iter().filter(sounds).map(|position| position.name().to_owned()).collect();
            }
            if place.selector.is_empty() {
                place.selector = found;
            }
        }
    }
    place.pickup = None;
    Some(())
}

fn in_positions(place: &mut Place, names: &Names, positions: &[Position]) -> Option<()> {
    if place.selector.is_empty() {
        return Some(());
    }
    let asked = place.selector.iter().flat_map(|asked| match same(&names.positions, asked) {
        Some(own) => vec![own.to_owned()],
        None => sounding_together(asked, positions),
    });
    let known: Vec<String> = asked.collect();
    let is_all_known = known.iter().all(|name| names.positions.contains(name));
    let in_view: Vec<String> = known
        .iter()
        .filter(|name| positions.iter().any(|position| position.name() == **name))
        .cloned()
        .collect();
    if is_all_known && in_view.is_empty() {
        return None;
    }
    place.selector = if is_all_known { in_view } else { known };
    Some(())
}

/// "both", "all": positions by how many pickups sound; any other word stays as it is.
fn sounding_together(asked: &str, positions: &[Position]) -> Vec<String> {
    let count = |position: &Position| position.ensemble.channels().count();
    let wanted = match asked {
        "both" => 2,
        "all" => positions.iter().map(count).max().unwrap_or(0),
        _ => 0,
    };
    let found: Vec<String> = positions
        .iter()
        .filter(|position| count(position) == wanted)
        .map(|position| position.name().to_owned())
        .collect();
    if found.is_empty() { vec![asked.to_owned()] } else { found }
}

/// What turns the view's own knobs is as if `volume` and `tone` said so; the others are turned in cases of their own.
fn with_knobs(clause: &mut Clause, names: &Names, positions: &[Position]) -> Option<()> {
    let named = std::mem::take(&mut clause.place.knobs);
    let (mut turns_own, mut turns_other_view) = (false, false);
    for (name, rotation) in named {
        let Some(knob) = names.knob(&name) else {
            clause.place.knobs.push((name, rotation));
            continue;
        };
        if Some(&knob.name) == names.volume.as_ref() {
            (clause.volume, turns_own) = (vec![rotation], true);
        } else if Some(&knob.name) == names.tone.as_ref() {
            (clause.tone, turns_own) = (vec![rotation], true);
        } else {
            turns_other_view |= knob.has_view;
            if rotation != knob.rest() {
                clause.place.knobs.push((knob.name.clone(), rotation));
            }
        }
    }
    let is_turned = |rotations: &[f64]| rotations.iter().any(|rotation| *rotation != 1.0);
    if turns_other_view && !turns_own && !is_turned(&clause.volume) && !is_turned(&clause.tone) {
        return None;
    }
    if clause.place.knobs.is_empty() {
        return Some(());
    }
    let knobs: Vec<(&Knob, f64)> = clause
        .place
        .knobs
        .iter()
        .filter_map(|(name, rotation)| Some((names.knob(name)?, *rotation)))
        .collect();
    let has_all = |position: &&Position| position.turned(&knobs).is_some();
    if clause.place.selector.is_empty() {
        let there: Vec<&Position> = positions.iter().filter(has_all).collect();
        let judged: Vec<&&Position> = there.iter().filter(|position| position.is_judged).collect();
        let chosen: Vec<String> = if judged.is_empty() {
            there.iter().map(|position| position.name().to_owned()).collect()
        } else {
            judged.iter().map(|position| position.name().to_owned()).collect()
        };
        clause.place.selector = chosen;
    }
    Some(())
}

/// Adds a case for every position that a place names, with its knobs turned.
fn turn(guitar: &mut Guitar, names: &Names, place: &Place) {
    let mut cases: Vec<Case> = guitar.positions();
    let knob = |(name, rotation): &(String, f64)| Some((names.knob(name)?, *rotation));
    let Some(knobs) = place.knobs.iter().map(knob).collect::<Option<Vec<_>>>() else {
        return;
    };
    let turned = |case: &Case| {
        let own = case.position.as_deref()?;
        let is_named = own.turned.is_empty() && place.selector.iter().any(|name| name == own.name());
        let position = own.turned(&knobs).filter(|_| is_named)?;
        Some(Case {
            name: format!("{}{}", case.name, position.turned_in_words()),
            position: Some(Box::new(position)),
            ..case.clone()
        })
    };
    let mut further: Vec<Case> = cases.iter().filter_map(turned).collect();
    further.retain(|next| cases.iter().all(|known| known.name != next.name));
    cases.extend(further);
    guitar.cases = cases;
}

/// A name among those that are known, however its letters are written.
fn same<'n>(known: &'n [String], asked: &str) -> Option<&'n str> {
    known
        .iter()
        .map(String::as_str)
        .find(|own| own.to_lowercase() == asked.to_lowercase())
}

/// The error for the first name that the guitar does not have.
fn unknown(place: &Place, names: &Names, wish: &str) -> Option<Error> {
    let refused = |what: &str, asked: &str, known: Vec<&str>| {
        let message = format!("{wish} names the {what} `{asked}`, and this guitar has none of that name");
        let error = Error::new(ErrorKind::Unknown, message).nearest(asked, known.iter().copied());
        error.help(format!("{what}s of this guitar: {}", known.join(", ")))
    };
    let positions = || names.positions.iter().map(String::as_str).collect::<Vec<_>>();
    let knobs = || names.knobs.iter().map(|knob| knob.name.as_str()).collect::<Vec<_>>();
    if let Some(asked) = place.selector.iter().find(|asked| same(&names.positions, asked).is_none()) {
        return Some(refused("position", asked, positions()));
    }
    if let Some(asked) = &place.pickup {
        return Some(refused("pickup", asked, names.pickups.iter().map(String::as_str).collect()));
    }
    let mut asked = place.knob.iter().chain(place.knobs.iter().map(|(name, _)| name));
    let asked = asked.find(|asked| names.knob(asked).is_none())?;
    Some(refused("knob", asked, knobs()))
}
