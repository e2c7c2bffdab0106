//! The margin over the plane of two values, so that a person sees how flat the optimum is.

use super::{Axis, Landscape};
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::kernel::plan::Plan;
use crate::parts::network::Network;
use crate::recommend::{Build, Recommendation, Request, guitars, searched_parts, silent};
use crate::search::exhaustive::Evaluator;
use crate::search::space::{PartSpace, SlotSpace, Space};
use crate::source::Source;

/// Grid lines of each value.
const FINENESS: usize = 72;
/// So far below the best, in dB, the picture reaches; what lies farther off is cut away.
const DEPTH: f64 = 3.0;
/// So many standard values on each side of the chosen are shown at least.
const NEIGHBOURS: usize = 3;

/// The landscape around a build: over two of its free parts by slot and name, or the last two when none are named.
///
/// # Errors
/// When the build has fewer than two free parts, or none of the names given.
pub fn landscape(request: &Request, result: &Recommendation, build: &Build, parts: Option<[&str; 2]>) -> Result<Landscape> {
    let (present, _) = guitars(request)?;
    let slots = fitted_search(result, build)?;
    let slots: Vec<SlotSpace> = slots
        .into_iter()
        .map(|(slot, network)| SlotSpace::new(slot, network, &request.rules))
        .collect::<Result<_>>()?;
    let space = Space { slots };
    let named: Vec<(String, &PartSpace)> = space
        .slots
        .iter()
        .flat_map(|slot| slot.parts.iter().map(|part| (format!("{}.{}", slot.slot, part.part.name), part)))
        .collect();
    let [across, up] = chosen_pair(&named, parts)?;
    let searched: Vec<Slot> = space.slots.iter().map(|slot| slot.slot).collect();
    let plan = Plan::new(&build.guitar, &present, &request.target, &searched).map_err(silent)?;
    let mut surveyor = Surveyor {
        space: &space,
        evaluator: Evaluator::new(&plan),
        start: build.parts.0.iter().map(|(_, value)| *value).collect(),
        indices: [across, up],
    };
    let mut axes = Vec::with_capacity(2);
    for index in [across, up] {
        let (name, part) = named.get(index).ok_or_else(too_few)?;
        axes.push((name.clone(), *part, surveyor.start.get(index).copied().ok_or_else(too_few)?));
    }
    let windows = surveyor.windows(
        [axes.first().ok_or_else(too_few)?.1, axes.get(1).ok_or_else(too_few)?.1],
        build.margin_db,
    );
    let mut axes = axes.into_iter().zip(windows).map(|((part, space, chosen), [low, high])| Axis {
        part,
        kind: space.part.kind,
        values: space
            .values
            .iter()
            .copied()
            .filter(|value| low <= *value && *value <= high)
            .collect(),
        grid: logarithmic(low, high),
        chosen,
    });
    let (across, up) = axes.next().zip(axes.next()).ok_or_else(too_few)?;
    let margins_db = up
        .grid
        .iter()
        .map(|y| across.grid.iter().map(|x| surveyor.margin([*x, *y])).collect())
        .collect();
    let others = build.parts.0.iter().filter(|(name, _)| *name != across.part && *name != up.part);
    Ok(Landscape {
        guitar: result.guitar.clone(),
        target: result.target.name.clone(),
        networks: space
            .slots
            .iter()
            .filter_map(|slot| Some((slot.slot, slot.network.as_ref()?.to_string())))
            .collect(),
        held: others.cloned().collect(),
        margins_db,
        chosen_db: build.margin_db,
        across,
        up,
    })
}

/// Refuses a landscape over values that no network which is searched has together.
pub(super) fn check_landscape(request: &Request, parts: Option<[&str; 2]>) -> Result<()> {
    let searches = searched_parts(request)?;
    let Some([one, other]) = parts else {
        return if searches.iter().any(|names| names.len() >= 2) {
            Ok(())
        } else {
            Err(too_few())
        };
    };
    if one == other {
        return Err(same_part());
    }
    let mut known: Vec<&str> = searches.iter().flatten().map(String::as_str).collect();
    known.sort_unstable();
    known.dedup();
    for part in [one, other] {
        if !known.contains(&part) {
            return Err(
                Error::new(ErrorKind::Unknown, format!("no free part that is searched is called `{part}`"))
                    .nearest(part, known.iter().copied())
                    .help(format!("free parts that are searched: {}", known.join(", "))),
            );
        }
    }
    let has_both = |names: &Vec<String>| [one, other].iter().all(|part| names.iter().any(|name| name == part));
    if searches.iter().any(has_both) {
        return Ok(());
    }
    let message = format!("no network that is searched has both `{one}` and `{other}`");
    Err(Error::new(ErrorKind::Conflict, message).help(format!("free parts that are searched: {}", known.join(", "))))
}

fn same_part() -> Error {
    Error::new(ErrorKind::Conflict, "a landscape needs two different parts")
}

fn too_few() -> Error {
    Error::new(ErrorKind::Range, "a landscape needs a build with two free parts").help("search a network such as bleed=\"R || C\"")
}

/// The two parts by index, a resistor before a capacitor.
fn chosen_pair(named: &[(String, &PartSpace)], parts: Option<[&str; 2]>) -> Result<[usize; 2]> {
    let Some(parts) = parts else {
        let last = named.len().checked_sub(2).ok_or_else(too_few)?;
        return Ok([last, last + 1]);
    };
    let mut found = Vec::with_capacity(2);
    for part in parts {
        let index = named.iter().position(|(name, _)| name == part).ok_or_else(|| {
            let names: Vec<&str> = named.iter().map(|(name, _)| name.as_str()).collect();
            Error::new(ErrorKind::Unknown, format!("the best build has no free part called `{part}`"))
                .nearest(part, names.iter().copied())
                .help(format!("its free parts: {}", names.join(", ")))
        })?;
        found.push(index);
    }
    match found.as_slice() {
        [across, up] if across != up => Ok([*across, *up]),
        _ => Err(same_part()),
    }
}

/// Asks for the margin with two values of a build changed.
struct Surveyor<'p> {
    space: &'p Space,
    evaluator: Evaluator<'p>,
    /// The build's values, in slot and written order.
    start: Vec<f64>,
    /// Which two.
    indices: [usize; 2],
}

impl Surveyor<'_> {
    fn margin(&mut self, values: [f64; 2]) -> Option<f64> {
        let mut all = self.start.clone();
        for (index, value) in self.indices.into_iter().zip(values) {
            *all.get_mut(index)? = value;
        }
        let mut rest = all.into_iter();
        let values: Vec<Vec<f64>> = self
            .space
            .slots
            .iter()
            .map(|slot| rest.by_ref().take(slot.parts.len()).collect())
            .collect();
        let fitted: Vec<_> = self.space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect();
        self.evaluator.worst(&fitted, &values).map(|worst| worst.margin)
    }

    /// The smallest ranges that hold every standard pair of values within [`DEPTH`] of the best, and some neighbours of the chosen.
    fn windows(&mut self, parts: [&PartSpace; 2], best: f64) -> [[f64; 2]; 2] {
        let [across, up] = parts;
        let [x, y] = self.indices.map(|index| self.start.get(index).copied().unwrap_or(1.0));
        let mut windows = [neighbourhood(across, x), neighbourhood(up, y)];
        for x in &across.values {
            for y in &up.values {
                if self.margin([*x, *y]).is_some_and(|margin| margin >= best - DEPTH) {
                    for ([low, high], value) in windows.iter_mut().zip([*x, *y]) {
                        (*low, *high) = (low.min(value), high.max(value));
                    }
                }
            }
        }
        // A little room, so that no dot sits on the frame.
        windows.map(|[low, high]| [low / 1.06, high * 1.06])
    }
}

fn neighbourhood(part: &PartSpace, chosen: f64) -> [f64; 2] {
    let at = part.values.partition_point(|value| *value < chosen);
    let value = |index: usize| {
        part.values
            .get(index.min(part.values.len().saturating_sub(1)))
            .copied()
            .unwrap_or(chosen)
    };
    let (low, high) = (value(at.saturating_sub(NEIGHBOURS)).min(chosen), value(at + NEIGHBOURS).max(chosen));
    // With a single value in stock there is still a plane to look at.
    if high > low { [low, high] } else { [chosen / 2.0, chosen * 2.0] }
}

fn logarithmic(low: f64, high: f64) -> Vec<f64> {
    let step = (high / low).ln() / (FINENESS - 1) as f64;
    (0..FINENESS).map(|index| low * (step * index as f64).exp()).collect()
}

/// What a result writes for a slot, read back.
fn read(written: &str) -> Result<Option<Network>> {
    Network::read(&Source::inline("result", written).passage())
}

/// The networks with free parts that a build was found with.
fn fitted_search(result: &Recommendation, build: &Build) -> Result<Vec<(Slot, Option<Network>)>> {
    for search in &result.search {
        let mut values = build.parts.0.iter().map(|(_, value)| *value);
        let mut networks = Vec::new();
        let mut names = Vec::new();
        for (slot, written) in search.slots.iter().filter(|(slot, _)| build.slots.contains_key(slot)) {
            let network = read(written)?;
            let free: Vec<String> = network
                .iter()
                .flat_map(Network::free_parts)
                .map(|part| format!("{slot}.{}", part.name))
                .collect();
            let own: Vec<f64> = values.by_ref().take(free.len()).collect();
            let filled = network.as_ref().map(|network| network.with_values(&own).to_string());
            let fits = filled.unwrap_or_else(|| "none".to_owned()) == build.slots.get(slot).map_or("none", String::as_str);
            names.extend(free);
            if fits {
                networks.push((*slot, network));
            }
        }
        let same_names = build.parts.0.iter().map(|(name, _)| name).eq(&names);
        if networks.len() == search.slots.len() && same_names {
            return Ok(networks);
        }
    }
    Err(Error::new(ErrorKind::Search, "the build belongs to none of the searches"))
}
