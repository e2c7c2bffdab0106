//! A chosen kit → what it does for each guitar, every figure by the definition.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::aim::best_margins;
use super::choose::{Problem, SILENT};
use super::growth::{Grown, asked};
use super::layout::{Built, Layout, fitted};
use super::margins::{Margins, PARTS, plan};
use super::{Chosen, Drop, Growth, Held, Kit, LeftOut, Request, Served, Sizes};
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::guitar::catalogue::WEIGHT_PARTS;
use crate::kernel::measure::BoundedPoint;
use crate::parts::network::{Kind, Network};
use crate::parts::series::Series;
use crate::recommend::{Parts, Worst};
use crate::search::exhaustive::{Evaluator, written};
use crate::units::marking::{MarkedPart, capacitor_code, letter_code, resistor_bands};
use crate::units::{Farads, Fraction, Ohms};

/// Margins this near to the best, in parts, are compared by the definition: rounding and lanes together are wrong by less.
const NEAR: i32 = 3;

impl Margins {
    /// The problem of choosing, with these margins taken out of here.
    pub(super) fn problem(&mut self, request: &Request, layout: &Layout) -> Problem {
        Problem {
            pool_of: layout.values.iter().map(|value| value.pool).collect(),
            needs: layout.networks.iter().map(|network| network.needs.clone()).collect(),
            margins: std::mem::take(&mut self.margins),
            weights: self.asks.iter().map(|(guitar, _)| request.guitars[*guitar].weight).collect(),
        }
    }
}

pub(super) fn answer(request: &Request, layout: &Layout, problem: &Problem, margins: &Margins, grown: &[Grown]) -> Result<Kit> {
    let chosen = asked(layout, grown).ok_or_else(|| Error::new(ErrorKind::Search, "no kit is as small as that"))?;
    let values = &chosen.kit.values;
    let guitars = served(request, layout, problem, margins, values)?;
    let is_met = |served: &&Served| served.meets_target;
    let weigh = |served: &mut dyn Iterator<Item = &Served>| served.map(|served| served.weight).sum::<f64>();
    let bag = bag(request, layout, problem, values, &guitars);
    Ok(Kit {
        chosen: by_part(layout, values),
        covered: guitars.iter().filter(is_met).count(),
        total: guitars.len(),
        covered_weight: weigh(&mut guitars.iter().filter(is_met)),
        total_weight: weigh(&mut guitars.iter()),
        worst_margin_db: guitars.iter().filter_map(|served| served.margin_db).min_by(f64::total_cmp),
        aim: request.aim,
        optimal: chosen.kit.optimal,
        gap: match request.aim {
            super::Aim::Coverage => chosen.kit.gap,
            super::Aim::Margin => chosen.kit.gap / PARTS,
        },
        targets: request.targets.clone(),
        searched: searched(request),
        networks: layout.networks.len(),
        price: bag.iter().map(|held| held.unit_price).sum(),
        drop_first: drop_first(layout, problem, values),
        growth: grown.iter().map(|grown| growth(layout, problem, grown)).collect(),
        guitars,
        bag,
    })
}

fn by_part(layout: &Layout, values: &[usize]) -> BTreeMap<String, Vec<Chosen>> {
    let mut by_part: BTreeMap<String, Vec<Chosen>> = layout.pools.iter().map(|pool| (pool.name.clone(), Vec::new())).collect();
    for value in values {
        let held = &layout.values[*value];
        let item = held.value.map_or_else(|| Chosen::Network(held.written.clone()), Chosen::Value);
        by_part.entry(layout.pools[held.pool].name.clone()).or_default().push(item);
    }
    by_part
}

fn searched(request: &Request) -> BTreeMap<Slot, Vec<String>> {
    let mut searched: BTreeMap<Slot, Vec<String>> = BTreeMap::new();
    for (slot, network) in &request.searches {
        searched.entry(*slot).or_default().push(written(network.as_ref()));
    }
    searched
}

/// How many asks a kit serves and its smallest margin in parts.
fn figures(problem: &Problem, values: &[usize]) -> (usize, u64, Option<f64>) {
    let best = best_margins(problem, |needs| needs.iter().all(|need| values.contains(need)));
    let met = || best.iter().zip(&problem.weights).filter(|(margin, _)| **margin >= 0);
    let heard = best.iter().copied().filter(|margin| *margin > SILENT).min();
    let weight = met().map(|(_, weight)| u64::from(*weight)).sum();
    (met().count(), weight, heard.map(|worst| f64::from(worst) / PARTS))
}

fn growth(layout: &Layout, problem: &Problem, grown: &Grown) -> Growth {
    let (covered, weight, worst_margin_db) = figures(problem, &grown.kit.values);
    Growth {
        sizes: Sizes(
            layout
                .pools
                .iter()
                .map(|pool| pool.key.clone())
                .zip(grown.sizes.iter().copied())
                .collect(),
        ),
        covered,
        covered_weight: weight as f64 / f64::from(WEIGHT_PARTS),
        worst_margin_db,
        holds: grown.kit.values.iter().map(|value| layout.values[*value].written.clone()).collect(),
        optimal: grown.kit.optimal,
    }
}

fn without(values: &[usize], dropped: usize) -> Vec<usize> {
    values.iter().copied().filter(|value| *value != dropped).collect()
}

fn drop_first(layout: &Layout, problem: &Problem, values: &[usize]) -> Option<Drop> {
    let is_free = |value: &&usize| !layout.pools[layout.values[**value].pool].fixed.contains(value);
    let left = values
        .iter()
        .filter(is_free)
        .map(|value| (*value, figures(problem, &without(values, *value))));
    let worst = |margin: Option<f64>| margin.unwrap_or(f64::NEG_INFINITY);
    let (value, (covered, _, worst_margin_db)) =
        left.max_by(|(_, one), (_, other)| one.1.cmp(&other.1).then(worst(one.2).total_cmp(&worst(other.2))))?;
    Some(Drop {
        written: layout.values[value].written.clone(),
        covered,
        worst_margin_db,
    })
}

fn bag(request: &Request, layout: &Layout, problem: &Problem, values: &[usize], guitars: &[Served]) -> Vec<Held> {
    let (covered, ..) = figures(problem, values);
    let held = |value: &usize| {
        let content = &layout.values[*value];
        let pool = &layout.pools[content.pool];
        let number = content.value.unwrap_or(0.0);
        let (stock, kind) = (request.rules.stock.as_ref(), pool.kind);
        let stated = stock.zip(kind).and_then(|(stock, kind)| stock.tolerance(kind, number));
        let part = kind.and_then(|kind| kind.component(number));
        let tolerance = stated.or_else(|| usual_tolerance(number));
        let (code, marking) = marks(pool.kind, number, tolerance);
        Held {
            part: pool.name.clone(),
            value: content.value,
            written: content.written.clone(),
            code,
            marking,
            unit_price: stock.zip(part).and_then(|(stock, part)| stock.cost(&[part])),
            fixed: pool.fixed.contains(value),
            used_by: guitars.iter().filter(|served| uses(layout, served, *value)).count(),
            serves_alone: covered - figures(problem, &without(values, *value)).0,
        }
    };
    values.iter().map(held).collect()
}

/// Whether a guitar is served with a value.
fn uses(layout: &Layout, served: &Served, value: usize) -> bool {
    let content = &layout.values[value];
    match content.value {
        Some(number) => served.parts.0.iter().any(|(part, own)| {
            let kind = part.rsplit('.').next().and_then(|name| name.chars().next());
            *own == number
                && layout.pools[content.pool]
                    .kind
                    .map(Kind::letter)
                    .is_some_and(|letter| kind == letter.chars().next())
        }),
        None => {
            let slots = served.slots.iter();
            let written: Vec<String> = slots
                .map(|(slot, written)| {
                    if served.slots.len() == 1 {
                        written.clone()
                    } else {
                        format!("{slot} {written}")
                    }
                })
                .collect();
            written.join(", ") == content.written
        }
    }
}

/// The tolerance usual for the coarsest series that has a value.
fn usual_tolerance(value: f64) -> Option<Fraction> {
    let series = [Series::E24, Series::E96, Series::E192];
    let has = |series: &Series| series.values(value * 0.999, value * 1.001).contains(&value);
    series.into_iter().find(has).and_then(Series::usual_tolerance)
}

fn marks(kind: Option<Kind>, value: f64, tolerance: Option<Fraction>) -> (Option<String>, Option<String>) {
    match kind {
        Some(Kind::Resistor) => {
            let bands = Ohms::new(value)
                .zip(tolerance)
                .and_then(|(value, tolerance)| resistor_bands(value, tolerance));
            let named = bands.map(|bands| bands.iter().map(|colour| colour.name()).collect::<Vec<_>>().join(" "));
            (letter_code(MarkedPart::Resistor, value, None), named)
        }
        Some(Kind::Capacitor) => {
            let digits = Farads::new(value).and_then(|value| capacitor_code(value, None));
            (letter_code(MarkedPart::Capacitor, value, None), digits)
        }
        None => (None, None),
    }
}

/// Every guitar with every target, in the order of the request.
fn served(request: &Request, layout: &Layout, problem: &Problem, margins: &Margins, values: &[usize]) -> Result<Vec<Served>> {
    let in_kit: Vec<usize> = (0..layout.networks.len())
        .filter(|network| problem.needs[*network].iter().all(|need| values.contains(need)))
        .collect();
    let everything: Vec<usize> = (0..layout.networks.len()).collect();
    let of_ask = |(place, ask): (usize, &(usize, usize))| -> Result<((usize, usize), Served)> {
        let plan = plan(request, *ask)?;
        let mut evaluator = Evaluator::new(&plan);
        let mut best = |among: &[usize]| best(layout, problem, &mut evaluator, place, among);
        let (own, others) = (best(&in_kit), best(&everything));
        Ok((*ask, one(request, layout, *ask, own, others)))
    };
    let asked: Result<Vec<_>> = margins.asks.par_iter().enumerate().map(of_ask).collect();
    let mut all = asked?;
    for (guitar, target, why) in &margins.refused {
        let ask = (*guitar, *target);
        let mut refused = empty(request, ask);
        refused.left_out = Some(LeftOut::DoesNotFit(why.clone()));
        all.push((ask, refused));
    }
    all.sort_by_key(|(ask, _)| *ask);
    Ok(all.into_iter().map(|(_, served)| served).collect())
}

type Best<'l> = Option<(&'l Built, BoundedPoint)>;

/// The best of some networks by the definition, fewer parts and the earlier one among equals.
fn best<'l>(layout: &'l Layout, problem: &Problem, evaluator: &mut Evaluator<'_>, ask: usize, among: &[usize]) -> Best<'l> {
    let most = among
        .iter()
        .map(|network| problem.margins_of(*network)[ask])
        .max()
        .filter(|most| *most > SILENT)?;
    let near = among
        .iter()
        .filter(|network| problem.margins_of(**network)[ask] >= most.saturating_sub(NEAR));
    let mut best: Best<'l> = None;
    for network in near {
        let network = &layout.networks[*network];
        let space = &layout.spaces[network.space];
        let fitted: Vec<(Slot, Option<&Network>)> = space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect();
        let Some(worst) = evaluator.worst(&fitted, &network.values) else {
            continue;
        };
        let beats = |(known, point): &(&Built, BoundedPoint)| {
            (worst.margin, std::cmp::Reverse(network.parts)) > (point.margin, std::cmp::Reverse(known.parts))
        };
        if best.as_ref().is_none_or(beats) {
            best = Some((network, worst));
        }
    }
    best
}

fn one(request: &Request, layout: &Layout, ask: (usize, usize), own: Best<'_>, others: Best<'_>) -> Served {
    let slots = |best: &Best<'_>| -> BTreeMap<Slot, String> {
        let networks = best.as_ref().map(|(network, _)| fitted(layout, network)).unwrap_or_default();
        networks
            .into_iter()
            .map(|(slot, network)| (slot, written(network.as_ref())))
            .collect()
    };
    let margin = |best: &Best<'_>| best.as_ref().map(|(_, point)| point.margin);
    let (kept, possible) = (margin(&own), margin(&others));
    let meets_target = kept.is_some_and(|margin| margin >= 0.0);
    let cases = &request.guitars[ask.0].guitar.cases;
    Served {
        slots: slots(&own),
        parts: own.as_ref().map(|(network, _)| parts(layout, network)).unwrap_or_default(),
        margin_db: kept,
        worst: own.as_ref().map(|(_, point)| Worst::new(*point, cases)),
        own_best_slots: slots(&others),
        own_best_margin_db: possible,
        loses_db: kept.zip(possible).map(|(kept, possible)| (possible - kept).max(0.0)),
        meets_target,
        left_out: match possible {
            _ if meets_target => None,
            Some(possible) if possible >= 0.0 => Some(LeftOut::NeedsAnother),
            _ => Some(LeftOut::NoneServes),
        },
        ..empty(request, ask)
    }
}

fn empty(request: &Request, (guitar, target): (usize, usize)) -> Served {
    let listed = &request.guitars[guitar];
    Served {
        name: listed.guitar.name.clone(),
        target: request.targets[target].name.clone(),
        weight: f64::from(listed.weight) / f64::from(WEIGHT_PARTS),
        slots: BTreeMap::new(),
        parts: Parts::default(),
        margin_db: None,
        worst: None,
        own_best_slots: BTreeMap::new(),
        own_best_margin_db: None,
        loses_db: None,
        meets_target: false,
        left_out: None,
    }
}

fn parts(layout: &Layout, network: &Built) -> Parts {
    let slots = layout.spaces[network.space].slots.iter().zip(&network.values);
    let named = slots.flat_map(|(slot, values)| {
        slot.parts
            .iter()
            .zip(values)
            .map(|(part, value)| (format!("{}.{}", slot.slot, part.part.name), *value))
    });
    Parts(named.collect())
}
