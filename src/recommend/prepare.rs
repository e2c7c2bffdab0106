//! Request → the present guitar, the guitar to be built, and the spaces to search; every contradiction is refused here.

use super::defaults::{default_searches, default_tries};
use super::joint::joint;
use super::{Prepared, Request};
use crate::circuit::ports::MOST_SLOTS;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::alteration::Alteration;
use crate::guitar::fitting::{no_tone, no_volume};
use crate::guitar::{Guitar, Hookup, Slot};
use crate::kernel::placed;
use crate::kernel::plan::Silent;
use crate::limits::{MOST_CANDIDATES, MOST_CANDIDATES_LARGE};
use crate::parts::choice::{Key, Rules};
use crate::parts::network::{MOST_PARTS, Network};
use crate::search::space::{SlotSpace, Space};
use crate::target::{Clause, Target};
use crate::units::grouped;

/// The alternatives of one slot.
pub(super) type Alternatives = (Slot, Vec<Option<Network>>);

/// Free parts of one search at most, where each may be a pair.
const MOST_FREE_WITH_PAIRS: usize = 8;

/// More guitars than this are not tried beside each other.
const MOST_TRIED: usize = 64;

/// The guitar as it is asked for, then each combination of what is tried beside it.
pub(super) fn all(request: &Request) -> Result<Vec<Prepared>> {
    let first = prepare(request)?;
    let tries = if request.tries.is_empty() && request.searches.is_empty() {
        default_tries(&request.target, &first.build)
    } else {
        request.tries.clone()
    };
    let mut guitars = vec![first];
    for tried in combinations(&tries)? {
        let next = altered(request, &tried)?;
        // What the guitar has already is not tried again.
        if guitars.iter().all(|other| other.build != next.build) {
            guitars.push(next);
        }
    }
    check_count(guitars.iter().flat_map(|guitar| &guitar.spaces), request)?;
    Ok(guitars)
}

/// Every combination of alternatives for different things, fewest changes first, none changed left out.
fn combinations(tries: &[Alteration]) -> Result<Vec<Vec<Alteration>>> {
    let mut all: Vec<Vec<Alteration>> = vec![Vec::new()];
    for (index, tried) in tries.iter().enumerate() {
        if tries.iter().take(index).any(|earlier| earlier == tried) {
            continue;
        }
        let without: Vec<Vec<Alteration>> = all
            .iter()
            .filter(|combination| combination.iter().all(|other| !tried.is_instead_of(other)))
            .cloned()
            .collect();
        all.extend(without.into_iter().map(|mut combination| {
            combination.push(tried.clone());
            combination
        }));
        if all.len() > MOST_TRIED {
            let message = format!("--try makes more than {MOST_TRIED} combinations");
            return Err(Error::new(ErrorKind::Search, message).help("try fewer alternatives at once"));
        }
    }
    all.sort_by_key(Vec::len);
    all.retain(|combination| !combination.is_empty());
    Ok(all)
}

/// The guitar as it is asked for.
pub(super) fn prepare(request: &Request) -> Result<Prepared> {
    altered(request, &[])
}

/// The guitar with some things changed besides what is asked for.
pub(super) fn altered(request: &Request, tried: &[Alteration]) -> Result<Prepared> {
    check_pairs(request)?;
    let (present, mut build) = guitars(request)?;
    for alteration in tried {
        alteration.apply(&mut build, "--try")?;
    }
    check_target(&request.target, &build)?;
    let guitars = Prepared {
        tried: tried.to_vec(),
        ..Prepared::new(request, present, build)
    };
    if let Some(spaces) = joint(request, &guitars)? {
        check_count(&spaces, request)?;
        return Ok(Prepared {
            is_exact: false,
            ..guitars.searching(spaces)
        });
    }
    let spaces = if request.searches.is_empty() {
        chosen_spaces(&default_searches(&request.target, &guitars.build)?, request)?
    } else {
        spaces(&asked_searches(&request.searches, &guitars.build)?, &request.rules)?
    };
    check_keys(&request.rules, &spaces)?;
    check_count(&spaces, request)?;
    Ok(guitars.searching(spaces))
}

impl Prepared {
    /// The guitars of a request, with nothing searched.
    pub(super) fn new(request: &Request, present: Guitar, build: Guitar) -> Self {
        Self {
            present,
            build,
            slots: Vec::new(),
            spaces: Vec::new(),
            is_exact: true,
            tried: Vec::new(),
            at_any_price: request.at_any_price,
        }
    }

    /// The same with these spaces searched, all of the same slots.
    pub(super) fn searching(self, spaces: Vec<Space>) -> Self {
        let slots = spaces.first().map(|space| space.slots.iter().map(|slot| slot.slot).collect());
        Self {
            slots: slots.unwrap_or_default(),
            spaces,
            ..self
        }
    }
}

/// The spaces of places that the target chose.
pub(super) fn chosen_spaces(places: &[Alternatives], request: &Request) -> Result<Vec<Space>> {
    Ok(limited(spaces(places, &request.rules)?, request))
}

/// Of spaces that the target chose, no more with pairs than are searched.
pub(super) fn limited(spaces: Vec<Space>, request: &Request) -> Vec<Space> {
    if request.rules.pairs { limit_pairs(spaces) } else { spaces }
}

/// Refuses more candidates than are searched.
pub(super) fn check_count<'s>(spaces: impl IntoIterator<Item = &'s Space>, request: &Request) -> Result<()> {
    let candidates = spaces.into_iter().map(Space::count).fold(0, u64::saturating_add);
    if candidates > MOST_CANDIDATES && !request.large {
        let message = format!("{} candidates are more than {}", grouped(candidates), grouped(MOST_CANDIDATES));
        return Err(Error::new(ErrorKind::Search, message).help(match request.rules.pairs {
            true => "allow it with --large, or narrow it: fewer free parts, a shorter --range, no --pairs",
            false => "allow it with --large, or narrow it: fewer free parts, a coarser series (--values), a shorter --range",
        }));
    }
    if candidates > MOST_CANDIDATES_LARGE {
        return Err(far_too_many(candidates));
    }
    Ok(())
}

/// Candidates that one core tries in a second where none can be passed over; measured, and good for the order of magnitude.
const TRIED_IN_A_SECOND: u64 = 10_000_000;

fn far_too_many(candidates: u64) -> Error {
    let (most, hours) = (grouped(MOST_CANDIDATES_LARGE), candidates / TRIED_IN_A_SECOND / 3600);
    let message = format!(
        "{} candidates are more than {most}, the most that are searched",
        grouped(candidates)
    );
    Error::new(ErrorKind::Search, message)
        .help(format!("one by one they would take some {} hours on one core", grouped(hours)))
        .help("narrow it: fewer free parts, a coarser series (--values), a shorter --range")
}

fn check_pairs(request: &Request) -> Result<()> {
    let rules = &request.rules;
    if rules.pairs && rules.stock.is_none() {
        let error = Error::new(
            ErrorKind::Missing,
            "--pairs joins parts that are in stock, and no stock list is given",
        );
        return Err(error.help("add --stock with a file or a shipped list, such as --stock small-workshop"));
    }
    for (slot, network) in request.searches.iter().filter(|_| rules.pairs) {
        let parts = network
            .as_ref()
            .map_or(0, |network| network.part_count() + network.free_parts().len());
        if parts > MOST_PARTS {
            let message = format!("--pairs: the network for {slot} could have {parts} parts; {MOST_PARTS} is the most");
            return Err(Error::new(ErrorKind::Range, message).help("each free part may be two: leave some out"));
        }
    }
    Ok(())
}

/// Drops what pairs cannot improve, and refuses what is beyond reason.
fn trim_pairs(spaces: &mut [Space], rules: &Rules) -> Result<()> {
    let Some(stock) = rules.stock.as_ref().filter(|_| rules.pairs) else {
        return Ok(());
    };
    for space in spaces {
        let free = space.parts().count();
        if free > MOST_FREE_WITH_PAIRS {
            let message = format!("--pairs: a search of {free} free parts; {MOST_FREE_WITH_PAIRS} is the most");
            return Err(Error::new(ErrorKind::Range, message).help("search fewer slots together, or leave --pairs out"));
        }
        space.drop_idle_pairs(stock);
    }
    Ok(())
}

/// Of the networks that the target chose, the larger ones go without pairs where all together would be refused.
fn limit_pairs(spaces: Vec<Space>) -> Vec<Space> {
    let mut alternatives: Vec<(Space, Space)> = spaces.into_iter().map(|space| (space.without_pairs(), space)).collect();
    let mut order: Vec<(u64, usize)> = alternatives
        .iter()
        .enumerate()
        .map(|(index, (_, paired))| (paired.count(), index))
        .collect();
    order.sort_unstable();
    let mut total = alternatives.iter().map(|(single, _)| single.count()).fold(0, u64::saturating_add);
    for (count, index) in order {
        if let Some((single, paired)) = alternatives.get_mut(index) {
            let with_pairs = (total - single.count()).saturating_add(count);
            if with_pairs <= MOST_CANDIDATES {
                total = with_pairs;
                *single = paired.clone();
            }
        }
    }
    let singles = alternatives.into_iter().map(|(space, _)| space);
    singles.filter(|space| space.parts().all(|part| !part.values.is_empty())).collect()
}

pub(super) fn guitars(request: &Request) -> Result<(Guitar, Guitar)> {
    let mut present = request.guitar.clone();
    let mut build = request.guitar.clone();
    rewire(&mut build, request)?;
    build.fit_all(&request.with, "--with")?;
    for (slot, network) in &request.with {
        // A bypass that only the rewired guitar has a place for is no part of the present one.
        if *slot != Slot::Bypass || present.hookup() == Some(Hookup::Shelf) {
            present.fit(*slot, network.clone());
        }
    }
    if build.hookup() == Some(Hookup::Rheostat) {
        build.fit(Slot::Bypass, None);
    }
    Ok((present, build))
}

fn rewire(build: &mut Guitar, request: &Request) -> Result<()> {
    match &mut build.tone {
        Some(tone) => {
            tone.hookup = request.hookup.unwrap_or(tone.hookup);
            tone.joined_at = request.joined_at.unwrap_or(tone.joined_at);
            Ok(())
        }
        None if request.hookup.is_some() => Err(no_tone("--hookup rewires the tone control")),
        None if request.joined_at.is_some() => Err(no_tone("--joined-at rewires the tone control")),
        None => Ok(()),
    }
}

pub(crate) fn check_target(target: &Target, build: &Guitar) -> Result<()> {
    let moved = |clause: &Clause| clause.tone.iter().any(|rotation| *rotation != 1.0);
    if build.tone.is_none() && target.clauses.iter().any(moved) {
        return Err(no_tone("the target turns the tone control down"));
    }
    let turned = |clause: &Clause| clause.volume.iter().any(|rotation| *rotation != 1.0);
    if !build.volume.is_fitted && target.clauses.iter().any(turned) {
        return Err(no_volume("the target turns the volume control down"));
    }
    placed::check(target, build)?;
    target.check_points(build.cases.len())
}

pub(crate) fn silent(silent: Silent) -> Error {
    let Silent {
        clause,
        setting,
        case_word,
        case,
    } = silent;
    let case = case.map(|case| format!(" in the {case_word} \"{case}\"")).unwrap_or_default();
    let message = format!(
        "wish {} of the target asks about volume {}, tone {}, where the guitar makes no sound{case}",
        clause + 1,
        knob(setting.volume),
        knob(setting.tone)
    );
    Error::new(ErrorKind::Conflict, message).help("leave that knob position out of the target")
}

fn knob(rotation: f64) -> String {
    format!("{} of 10", (rotation * 1e4).round() / 1e3)
}

fn asked_searches(asked: &[(Slot, Option<Network>)], build: &Guitar) -> Result<Vec<Alternatives>> {
    let searched = alternatives(asked);
    searched.iter().try_for_each(|(slot, _)| build.need_slot(*slot, "--search"))?;
    if searched.len() > MOST_SLOTS {
        let message = format!("{} places are searched at once, {MOST_SLOTS} is the most", searched.len());
        return Err(Error::new(ErrorKind::Search, message).help("leave one --search out, or fit something there by --with"));
    }
    Ok(searched)
}

fn alternatives(asked: &[(Slot, Option<Network>)]) -> Vec<Alternatives> {
    let of_slot = |slot: Slot| {
        let networks = asked.iter().filter(|(asked, _)| *asked == slot);
        (slot, networks.map(|(_, network)| network.clone()).collect::<Vec<_>>())
    };
    Slot::ALL
        .map(of_slot)
        .into_iter()
        .filter(|(_, networks)| !networks.is_empty())
        .collect()
}

/// The spaces that these searches stand for, whatever the guitar.
pub(super) fn asked_spaces(asked: &[(Slot, Option<Network>)], rules: &Rules) -> Result<Vec<Space>> {
    let spaces = spaces(&alternatives(asked), rules)?;
    check_keys(rules, &spaces)?;
    Ok(spaces)
}

/// Every combination of alternatives, `none` being one more in each slot.
fn spaces(searched: &[Alternatives], rules: &Rules) -> Result<Vec<Space>> {
    let mut spaces = vec![Space { slots: Vec::new() }];
    for (slot, networks) in searched {
        let mut options: Vec<SlotSpace> = Vec::new();
        for network in networks.iter().cloned().chain([None]) {
            if !options.iter().any(|option| option.network == network) {
                options.push(SlotSpace::new(*slot, network, rules)?);
            }
        }
        spaces = spaces
            .iter()
            .flat_map(|space| {
                options.iter().map(|option| Space {
                    slots: space.slots.iter().chain([option]).cloned().collect(),
                })
            })
            .collect();
        if spaces.len() > 10_000 {
            return Err(Error::new(
                ErrorKind::Search,
                "too many alternatives: their combinations exceed 10,000 searches",
            ));
        }
    }
    trim_pairs(&mut spaces, rules)?;
    Ok(spaces)
}

pub(super) fn check_keys(rules: &Rules, spaces: &[Space]) -> Result<()> {
    let slots = spaces.iter().flat_map(|space| &space.slots);
    let parts: Vec<_> = slots
        .flat_map(|slot| slot.parts.iter().map(|part| (slot.slot.word(), &part.part)))
        .collect();
    match rules.unused_keys(&parts).first() {
        None => Ok(()),
        Some(key) => {
            let mut names: Vec<String> = parts.iter().map(|(slot, part)| format!("{slot}.{}", part.name)).collect();
            names.sort();
            names.dedup();
            Err(
                Error::new(ErrorKind::Unknown, format!("no part that is searched answers to `{key}`"))
                    .help(format!("parts that are searched: {}", names.join(", "))),
            )
        }
    }
}

/// What was said about the values of parts that are no longer searched does not matter any more.
pub(super) fn forget_unused_keys(request: &mut Request) {
    let networks = request
        .searches
        .iter()
        .filter_map(|(slot, network)| Some((slot.word(), network.as_ref()?)));
    let parts: Vec<_> = networks
        .flat_map(|(slot, network)| network.free_parts().into_iter().map(move |part| (slot, part)))
        .collect();
    let unused: Vec<Key> = request.rules.unused_keys(&parts).into_iter().cloned().collect();
    request.rules.series.retain(|(key, _)| !unused.contains(key));
    request.rules.ranges.retain(|(key, _)| !unused.contains(key));
}
