//! What there is to choose from: pools of values (or of networks), the networks, and which values each of them needs.

use super::choose::{MOST_NEEDS, too_many};
use super::clock::Clock;
use super::{Choose, Pieces, Request};
use crate::error::{Error, ErrorKind, Result};
use crate::parts::choice::{Key, pick, unit};
use crate::parts::network::{FreePart, Kind, Network};
use crate::parts::stock::Stock;
use crate::recommend;
use crate::search::exhaustive::{fits_stock, written};
use crate::search::space::Space;
use crate::units::{grouped, rkm, with_prefix};

/// More margins than this are not held: they take four bytes each, twice over while they are put in order, some 240 MiB.
pub const MOST_MARGINS: u64 = 25_000_000;
/// A kit holds at most this many values of one kind; more is no kit.
pub const MOST_CHOSEN: usize = 50;
/// So many networks are listed before the clock is looked at again.
const LISTED_BETWEEN_LOOKS: u64 = 1024;

/// What is chosen from what.
pub(super) struct Layout {
    pub(super) spaces: Vec<Space>,
    pub(super) pools: Vec<Pool>,
    pub(super) values: Vec<Value>,
    pub(super) networks: Vec<Built>,
    /// For each space, the network of each of its combinations; none where parts are out of order or too few are in stock.
    pub(super) places: Vec<Vec<Option<u32>>>,
}

/// Values of which so many are chosen.
pub(super) struct Pool {
    /// As the user names it.
    pub(super) key: String,
    /// The one free part it is for, as `bleed.R`, or else the key.
    pub(super) name: String,
    pub(super) kind: Option<Kind>,
    pub(super) size: usize,
    pub(super) fixed: Vec<usize>,
}

/// Something a kit can hold.
pub(super) struct Value {
    pub(super) pool: usize,
    /// In Ω or F; none where networks are chosen.
    pub(super) value: Option<f64>,
    pub(super) written: String,
}

/// A network in every searched slot.
pub(super) struct Built {
    pub(super) space: usize,
    /// What is chosen for each free part.
    pub(super) choices: Vec<usize>,
    /// Values of the free parts, slot by slot.
    pub(super) values: Vec<Vec<f64>>,
    pub(super) parts: usize,
    pub(super) needs: Vec<usize>,
}

impl Layout {
    pub(super) fn new(request: &Request, clock: Clock) -> Result<Self> {
        check(request)?;
        let mut spaces = recommend::asked_spaces(&request.searches, &request.rules)?;
        if spaces.iter().all(|space| space.parts().next().is_none()) {
            return Err(Error::new(ErrorKind::Search, "no searched network has a free part").help("for example --search bleed=\"R || C\""));
        }
        let asks = (request.guitars.len() as u64).saturating_mul(request.targets.len() as u64);
        add_fixed(&mut spaces, &request.fixed)?;
        let margins = spaces
            .iter()
            .map(Space::index_count)
            .fold(0, u64::saturating_add)
            .saturating_mul(asks);
        if margins > MOST_MARGINS {
            let message = format!(
                "{} guitars times networks are more than {}",
                grouped(margins),
                grouped(MOST_MARGINS)
            );
            return Err(
                Error::new(ErrorKind::Search, message).help("narrow it: fewer free parts, a coarser series (--values), a shorter --range")
            );
        }
        match &request.choose {
            Choose::Values(sizes) => Self::of_values(spaces, request, sizes, clock),
            Choose::Networks(size) => Self::of_networks(spaces, request, *size, clock),
        }
    }

    fn of_values(spaces: Vec<Space>, request: &Request, sizes: &[(Key, usize)], clock: Clock) -> Result<Self> {
        let keys: Vec<(Key, usize)> = sizes.iter().enumerate().map(|(pool, (key, _))| (key.clone(), pool)).collect();
        let mut pools: Vec<Pool> = sizes.iter().map(|(key, size)| Pool::new(key, *size)).collect();
        let mut named: Vec<Vec<String>> = vec![Vec::new(); pools.len()];
        let mut found: Vec<(usize, f64)> = Vec::new();
        for (slot, part, values) in parts(&spaces) {
            let pool = pick(&keys, slot, part).ok_or_else(|| uncounted(slot, part))?;
            named[pool].push(format!("{slot}.{}", part.name));
            found.extend(values.iter().map(|value| (pool, *value)));
        }
        found.sort_by(|one, other| one.0.cmp(&other.0).then(one.1.total_cmp(&other.1)));
        found.dedup();
        if found.len() >= usize::from(u16::MAX) {
            return Err(too_many());
        }
        for (pool, mut names) in pools.iter_mut().zip(named) {
            names.dedup();
            match names.as_slice() {
                [] => return Err(no_such_part(&pool.key)),
                [only] => pool.name.clone_from(only),
                _ => {}
            }
        }
        let value = |(pool, value): &(usize, f64)| Value {
            pool: *pool,
            value: Some(*value),
            written: pools[*pool].kind.map_or_else(String::new, |kind| written_value(kind, *value)),
        };
        let values: Vec<Value> = found.iter().map(value).collect();
        fix(&mut pools, &found, &spaces, &keys, request)?;
        let place = |pool: usize, value: f64| found.iter().position(|known| *known == (pool, value));
        let needs = |space: &Space, chosen: &[Vec<f64>], _: usize| {
            let mut needs: Vec<usize> = Vec::new();
            for (slot, chosen) in space.slots.iter().zip(chosen) {
                for (part, value) in slot.parts.iter().zip(chosen) {
                    needs.extend(pick(&keys, slot.slot.word(), &part.part).and_then(|pool| place(pool, *value)));
                }
            }
            needs.sort_unstable();
            let all = needs.len();
            needs.dedup();
            (request.pieces == Pieces::AsNeeded || needs.len() == all).then_some(needs)
        };
        Self::build(spaces, pools, values, (request, clock), needs)
    }

    fn of_networks(spaces: Vec<Space>, request: &Request, size: usize, clock: Clock) -> Result<Self> {
        if spaces.iter().map(Space::index_count).fold(0, u64::saturating_add) >= u64::from(u16::MAX) {
            return Err(too_many());
        }
        if let Some((key, _)) = request.fixed.first() {
            let message = format!("--fixed {key} keeps a value, but whole networks are chosen");
            return Err(Error::new(ErrorKind::Conflict, message).help("choose values instead, for example --choose R=3,C=3"));
        }
        let pools = vec![Pool {
            key: "networks".to_owned(),
            name: "networks".to_owned(),
            kind: None,
            size,
            fixed: Vec::new(),
        }];
        let is_nothing = |space: &Space| space.slots.iter().all(|slot| slot.network.is_none());
        let needs = |space: &Space, _: &[Vec<f64>], next: usize| Some(if is_nothing(space) { Vec::new() } else { vec![next] });
        let mut layout = Self::build(spaces, pools, Vec::new(), (request, clock), needs)?;
        let mut next = 0;
        for network in &mut layout.networks {
            if network.needs.is_empty() {
                continue;
            }
            network.needs = vec![next];
            next += 1;
            let space = &layout.spaces[network.space];
            let slots = space
                .networks(&network.choices)
                .into_iter()
                .map(|(slot, network)| (slot, written(network.as_ref())));
            let written: Vec<String> = slots
                .map(|(slot, written)| {
                    if space.slots.len() == 1 {
                        written
                    } else {
                        format!("{slot} {written}")
                    }
                })
                .collect();
            layout.values.push(Value {
                pool: 0,
                value: None,
                written: written.join(", "),
            });
        }
        Ok(layout)
    }

    fn build(
        spaces: Vec<Space>,
        pools: Vec<Pool>,
        values: Vec<Value>,
        (request, clock): (&Request, Clock),
        needs: impl Fn(&Space, &[Vec<f64>], usize) -> Option<Vec<usize>>,
    ) -> Result<Self> {
        let (mut networks, mut places) = (Vec::new(), Vec::new());
        let mut choices = Vec::new();
        for (number, space) in spaces.iter().enumerate() {
            let mut own = Vec::new();
            for index in 0..space.index_count() {
                if index.is_multiple_of(LISTED_BETWEEN_LOOKS) && clock.is_over_for_good() {
                    return Err(Error::new(ErrorKind::Search, "the time was over before all networks were listed").help("allow more time"));
                }
                let in_order = space.choices(index, &mut choices);
                let chosen = space.values(&choices);
                let is_there = in_order && fits_stock(request.rules.stock.as_ref(), space, &choices);
                // What takes more pieces of a value than a bag may hold is no network of it.
                let needs = if is_there { needs(space, &chosen, networks.len()) } else { None };
                own.push(needs.as_ref().map(|_| networks.len() as u32));
                if let Some(needs) = needs {
                    if needs.len() > MOST_NEEDS {
                        let message = format!("a network of {} free parts; a kit is chosen for at most {MOST_NEEDS}", needs.len());
                        return Err(Error::new(ErrorKind::Search, message).help("give some of the parts a value"));
                    }
                    networks.push(Built {
                        space: number,
                        choices: choices.clone(),
                        values: chosen,
                        parts: space.part_count(),
                        needs,
                    });
                }
            }
            places.push(own);
        }
        if networks.is_empty() {
            let message = "there is no network to choose from: none can be made from what there is";
            return Err(Error::new(ErrorKind::Search, message).help("a longer stock list, or other networks"));
        }
        Ok(Self {
            spaces,
            pools,
            values,
            networks,
            places,
        })
    }
}

impl Pool {
    fn new(key: &Key, size: usize) -> Self {
        Self {
            key: key.to_string(),
            name: key.to_string(),
            kind: Some(key.kind()),
            size,
            fixed: Vec::new(),
        }
    }
}

/// A value as networks are written.
fn written_value(kind: Kind, value: f64) -> String {
    match kind {
        Kind::Resistor => rkm(value, "R"),
        Kind::Capacitor => rkm(value, "F"),
    }
}

/// Whether a request can be asked at all; the command line has refused most of it with its place.
fn check(request: &Request) -> Result<()> {
    let refuse = |kind, message: String| Err(Error::new(kind, message));
    if request.guitars.is_empty() || request.targets.is_empty() {
        let what = if request.guitars.is_empty() { "guitar" } else { "target" };
        return refuse(ErrorKind::Missing, format!("there is no {what} to choose a kit for"));
    }
    if let Some(listed) = request.guitars.iter().find(|listed| listed.weight == 0) {
        return refuse(ErrorKind::Range, format!("{} counts nothing: its weight is 0", listed.guitar.name));
    }
    // In its cases a guitar may be asked too much nevertheless: then it is left out by itself.
    request.targets.iter().try_for_each(|target| target.check_points(1))?;
    let sizes = match &request.choose {
        Choose::Values(sizes) => sizes.iter().map(|(_, size)| *size).collect(),
        Choose::Networks(size) => vec![*size],
    };
    if let Some(size) = sizes.iter().find(|size| !(1..=MOST_CHOSEN).contains(*size)) {
        return refuse(ErrorKind::Range, format!("a kit holds 1 to {MOST_CHOSEN} of each, not {size}"));
    }
    if let Some((key, value)) = request.fixed.iter().find(|(_, value)| !value.is_normal() || *value < 0.0) {
        return refuse(ErrorKind::Range, format!("{key} is kept at {value}, which is no value of a part"));
    }
    Ok(())
}

/// Every free part of every space with its slot's word and its values.
fn parts(spaces: &[Space]) -> impl Iterator<Item = (&'static str, &FreePart, &[f64])> {
    let slots = spaces.iter().flat_map(|space| &space.slots);
    slots.flat_map(|slot| slot.parts.iter().map(|part| (slot.slot.word(), &part.part, part.values.as_slice())))
}

fn uncounted(slot: &str, part: &FreePart) -> Error {
    let message = format!("how many values of {slot}.{} may the kit hold?", part.name);
    Error::new(ErrorKind::Missing, message).help(format!("add {}=3 to --choose", part.kind.letter()))
}

fn no_such_part(key: &str) -> Error {
    Error::new(ErrorKind::Unknown, format!("no part that is searched answers to `{key}`"))
        .help("name it in --search, or leave it out of --choose")
}

/// Puts fixed values among those that their parts may take, whatever the series holds.
fn add_fixed(spaces: &mut [Space], fixed: &[(Key, f64)]) -> Result<()> {
    for (key, value) in fixed {
        let one = [(key.clone(), ())];
        let mut fits = false;
        for slot in spaces.iter_mut().flat_map(|space| &mut space.slots) {
            let word = slot.slot.word();
            for part in slot.parts.iter_mut().filter(|part| pick(&one, word, &part.part).is_some()) {
                fits = true;
                if !part.values.contains(value) {
                    part.values.push(*value);
                    part.values.sort_by(f64::total_cmp);
                }
            }
        }
        if !fits {
            return Err(no_such_part(&key.to_string()));
        }
    }
    Ok(())
}

/// Finds the fixed values in their pools.
fn fix(pools: &mut [Pool], found: &[(usize, f64)], spaces: &[Space], keys: &[(Key, usize)], request: &Request) -> Result<()> {
    let (fixed, stock) = (&request.fixed, request.rules.stock.as_ref());
    for (key, value) in fixed {
        let one = [(key.clone(), ())];
        let mut own: Vec<usize> = parts(spaces)
            .filter(|(slot, part, _)| pick(&one, slot, part).is_some())
            .filter_map(|(slot, part, _)| pick(keys, slot, part))
            .collect();
        own.sort_unstable();
        own.dedup();
        for pool in own {
            let place = found.iter().position(|known| *known == (pool, *value));
            if let Some(place) = place.filter(|place| !pools[pool].fixed.contains(place)) {
                pools[pool].fixed.push(place);
            }
        }
    }
    let stocked = stock.map_or(Ok(()), |stock| in_stock(pools, found, stock));
    stocked?;
    let Some(pool) = pools.iter().find(|pool| pool.fixed.len() > pool.size) else {
        return Ok(());
    };
    let values = pool
        .fixed
        .iter()
        .map(|place| with_prefix(found[*place].1, pool.kind.map_or("", unit)));
    let message = format!(
        "{} values of {} are fixed, but only {} chosen",
        pool.fixed.len(),
        pool.key,
        pool.size
    );
    let help = format!("the fixed ones count among those chosen: {}", values.collect::<Vec<_>>().join(", "));
    Err(Error::new(ErrorKind::Conflict, message).help(help))
}

/// What is kept must be there, where parts come from a stock list.
fn in_stock(pools: &[Pool], found: &[(usize, f64)], stock: &Stock) -> Result<()> {
    for pool in pools {
        let Some(kind) = pool.kind else { continue };
        for place in &pool.fixed {
            let (_, value) = found[*place];
            let is_there = stock.values(kind).contains(&value);
            if !is_there {
                let message = format!(
                    "{} of {} is to be kept, but the stock list has none",
                    with_prefix(value, unit(kind)),
                    pool.key
                );
                return Err(Error::new(ErrorKind::Conflict, message).help("put it on the list, or take it out of --fixed"));
            }
        }
    }
    Ok(())
}

/// What is fitted in each searched slot of a network.
pub(super) fn fitted(layout: &Layout, network: &Built) -> Vec<(crate::guitar::Slot, Option<Network>)> {
    layout.spaces[network.space].networks(&network.choices)
}
