//! A chosen kit → what it does for each guitar, every figure by the definition.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::aim::Solved;
use super::choose::{Problem, SILENT};
use super::clock::Clock;
use super::growth::Grown;
use super::layout::{Built, Layout, fitted};
use super::margins::{Margins, PARTS, plan};
use super::working::Working;
use super::{Addition, Chosen, Drop, Group, Growth, Held, Kit, LeftForTime, LeftOut, Request, Served, Sizes, in_millionths};
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::guitar::catalogue::WEIGHT_PARTS;
use crate::kernel::measure::BoundedPoint;
use crate::parts::network::{Component, Kind, Network};
use crate::parts::series::Series;
use crate::progress::Progress;
use crate::recommend::{Parts, Worst};
use crate::search::exhaustive::{Evaluator, written};
use crate::tolerance::Yield;
use crate::units::marking::{MarkedPart, capacitor_code, letter_code, resistor_bands};
use crate::units::{Farads, Fraction, Ohms};

/// Margins this near to the best, in parts, are compared by the definition: rounding and lanes together are wrong by less.
const NEAR: i32 = 3;

impl Margins {
    /// The problem of choosing, with these margins taken out of here.
    pub(super) fn problem(&mut self, request: &Request, layout: &Layout) -> Result<Problem> {
        let problem = Problem::new(
            layout.values.iter().map(|value| value.pool).collect(),
            layout.networks.iter().map(|network| network.needs.clone()).collect(),
            std::mem::take(&mut self.margins),
            self.asks.iter().map(|(guitar, _)| request.guitars[*guitar].weight).collect(),
        )?;
        let prices: Option<Vec<u64>> = (0..layout.values.len())
            .map(|value| unit_price(request, layout, value).map(in_millionths))
            .collect();
        match (prices, request.budget) {
            (Some(prices), _) => problem.with_prices(prices),
            (None, None) => Ok(problem),
            (None, Some(_)) => Err(
                Error::new(ErrorKind::Missing, "a budget needs the price of everything that may be chosen")
                    .help("give every row of the stock list a price: --stock my-drawers.csv"),
            ),
        }
    }
}

/// All that an answer is made from.
pub(super) struct Job<'j> {
    pub(super) request: &'j Request,
    pub(super) layout: &'j Layout,
    pub(super) problem: &'j Problem,
    pub(super) margins: &'j Margins,
    pub(super) working: &'j Working<'j>,
    pub(super) clock: Clock,
}

/// The answer; `told` is how many steps of progress each guitar comes to.
pub(super) fn answer(job: &Job<'_>, grown: &Grown, (progress, told): (&dyn Progress, u64)) -> Result<Kit> {
    let (request, layout, problem) = (job.request, job.layout, job.problem);
    let chosen = grown.kits.get(grown.asked).and_then(Option::as_ref);
    let chosen = chosen.ok_or_else(|| Error::new(ErrorKind::Search, "no kit is as small as that"))?;
    let values = &chosen.values;
    let guitars = served(job, values, &|| progress.advance(told))?;
    let is_met = |served: &&Served| served.meets_target;
    let weigh = |served: &mut dyn Iterator<Item = &Served>| served.map(|served| served.weight).sum::<f64>();
    let without = without_each(problem, values);
    let bag = bag(job, values, &guitars, &without);
    let left_for_time = left_for_time(layout, grown, &guitars);
    let not_weighed = weigh(&mut guitars.iter().filter(|served| served.left_out == Some(LeftOut::NotWeighed)));
    let total_weight = weigh(&mut guitars.iter());
    Ok(Kit {
        chosen: by_part(layout, values),
        covered: guitars.iter().filter(is_met).count(),
        total: guitars.len(),
        covered_weight: weigh(&mut guitars.iter().filter(is_met)),
        total_weight,
        worst_margin_db: guitars.iter().filter_map(|served| served.margin_db).min_by(f64::total_cmp),
        aim: request.aim,
        optimal: chosen.optimal && not_weighed == 0.0,
        gap: match request.aim {
            // Whoever was not weighed might be served by another choice.
            super::Aim::Coverage if not_weighed > 0.0 => (chosen.gap * (total_weight - not_weighed) + not_weighed) / total_weight,
            super::Aim::Coverage => chosen.gap,
            super::Aim::Margin => chosen.gap / PARTS,
        },
        left_for_time,
        at_least_db: request.at_least_db,
        yield_at_least: request.yield_at_least,
        budget: request.budget,
        targets: request.targets.clone(),
        searched: searched(request),
        networks: layout.networks.len(),
        price: bag.iter().map(|held| Some(held.unit_price? * held.pieces as f64)).sum(),
        groups: groups(&guitars),
        drop_first: drop_first(job, values, &without),
        growth: growth(job, grown),
        additions: additions(job, values),
        bags_in_stock: bag
            .iter()
            .filter_map(|held| Some(u64::from(held.in_stock?) / held.pieces.max(1) as u64))
            .min(),
        bags: request.bags,
        guitars,
        bag,
    })
}

/// What is missing for time; a margin without a point that is the worst was not worked out once more.
fn left_for_time(layout: &Layout, grown: &Grown, guitars: &[Served]) -> Option<LeftForTime> {
    let tried = grown.sizes.iter().zip(&grown.kits);
    let left = LeftForTime {
        not_weighed: guitars.iter().filter(|served| served.left_out == Some(LeftOut::NotWeighed)).count(),
        sizes_not_tried: tried
            .filter(|(_, kit)| kit.is_none())
            .map(|(sizes, _)| named(layout, sizes))
            .collect(),
        worst_not_looked_up: guitars
            .iter()
            .filter(|served| served.margin_db.is_some() && served.worst.is_none())
            .count(),
    };
    (left != LeftForTime::default()).then_some(left)
}

fn named(layout: &Layout, sizes: &[usize]) -> Sizes {
    let keys = layout.pools.iter().map(|pool| pool.key.clone());
    Sizes(keys.zip(sizes.iter().copied()).collect())
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

/// How many asks a kit serves, what they weigh, and its smallest margin in dB.
type Figures = (usize, u64, Option<f64>);

fn figures(problem: &Problem, best: &[i32]) -> Figures {
    let met = || best.iter().zip(problem.weights()).filter(|(margin, _)| **margin >= 0);
    let heard = best.iter().copied().filter(|margin| *margin > SILENT).min();
    let weight = met().map(|(_, weight)| u64::from(*weight)).sum();
    (met().count(), weight, heard.map(|worst| f64::from(worst) / PARTS))
}

/// The figures of a kit.
fn figures_of(problem: &Problem, values: &[usize]) -> Figures {
    figures(
        problem,
        &problem.best_margins(|needs| needs.iter().all(|need| values.contains(need))),
    )
}

/// The figures of a kit without each of its values in turn.
fn without_each(problem: &Problem, values: &[usize]) -> Vec<Figures> {
    let in_kit = |network: &usize| problem.needs()[*network].iter().all(|need| values.contains(need));
    let networks: Vec<usize> = (0..problem.needs().len()).filter(in_kit).collect();
    let without = |dropped: &usize| {
        let mut best = vec![SILENT; problem.weights().len()];
        for network in networks.iter().filter(|network| !problem.needs()[**network].contains(dropped)) {
            for (best, margin) in best.iter_mut().zip(problem.margins_of(*network)) {
                *best = (*best).max(*margin);
            }
        }
        figures(problem, &best)
    };
    values.par_iter().map(without).collect()
}

fn growth(job: &Job<'_>, grown: &Grown) -> Vec<Growth> {
    let (layout, problem) = (job.layout, job.problem);
    let tried = grown
        .sizes
        .iter()
        .zip(&grown.kits)
        .filter_map(|(sizes, kit)| Some((sizes, kit.as_ref()?)));
    let row = |(sizes, kit): (&Vec<usize>, &Solved)| {
        let (covered, weight, worst_margin_db) = figures_of(problem, &kit.values);
        Growth {
            sizes: named(layout, sizes),
            covered,
            covered_weight: weight as f64 / f64::from(WEIGHT_PARTS),
            worst_margin_db: worst_margin_db.map(|worst| worst + job.request.at_least_db),
            price: price(job, &kit.values),
            holds: kit.values.iter().map(|value| layout.values[*value].written.clone()).collect(),
            optimal: kit.optimal,
        }
    };
    tried.map(row).collect()
}

/// What one more in a kit would bring: the best two of each pool that serve more.
fn additions(job: &Job<'_>, values: &[usize]) -> Vec<Addition> {
    /// How many of a pool are told.
    const TOLD: usize = 2;
    let (layout, problem) = (job.layout, job.problem);
    let own = problem.best_margins(|needs| needs.iter().all(|need| values.contains(need)));
    let (covered, ..) = figures(problem, &own);
    let with = |value: usize| {
        let mut best = own.clone();
        for (network, needs) in problem.needs().iter().enumerate() {
            let is_new = needs.contains(&value) && needs.iter().all(|need| *need == value || values.contains(need));
            if is_new {
                best.iter_mut()
                    .zip(problem.margins_of(network))
                    .for_each(|(best, margin)| *best = (*best).max(*margin));
            }
        }
        (value, figures(problem, &best))
    };
    let others: Vec<usize> = (0..layout.values.len()).filter(|value| !values.contains(value)).collect();
    let mut tried: Vec<(usize, Figures)> = others
        .into_par_iter()
        .map(with)
        .filter(|(_, figures)| figures.0 > covered)
        .collect();
    tried.sort_by_key(|(value, figures)| (std::cmp::Reverse(figures.1), *value));
    let mut told = vec![0; layout.pools.len()];
    let addition = |(value, (covered, weight, _)): (usize, Figures)| {
        let content = &layout.values[value];
        told[content.pool] += 1;
        (told[content.pool] <= TOLD).then(|| Addition {
            part: layout.pools[content.pool].name.clone(),
            written: content.written.clone(),
            unit_price: unit_price(job.request, layout, value),
            covered,
            covered_weight: weight as f64 / f64::from(WEIGHT_PARTS),
        })
    };
    tried.into_iter().filter_map(addition).collect()
}

/// What to drop first: the last among equals.
fn drop_first(job: &Job<'_>, values: &[usize], without: &[Figures]) -> Option<Drop> {
    let layout = job.layout;
    let is_free = |value: &usize| !layout.pools[layout.values[*value].pool].fixed.contains(value);
    let left = values.iter().zip(without).filter(|(value, _)| is_free(value));
    let worst = |margin: Option<f64>| margin.unwrap_or(f64::NEG_INFINITY);
    let (value, (covered, _, worst_margin_db)) =
        left.max_by(|(_, one), (_, other)| one.1.cmp(&other.1).then(worst(one.2).total_cmp(&worst(other.2))))?;
    Some(Drop {
        written: layout.values[*value].written.clone(),
        covered: *covered,
        worst_margin_db: worst_margin_db.map(|worst| worst + job.request.at_least_db),
    })
}

fn bag(job: &Job<'_>, values: &[usize], guitars: &[Served], without: &[Figures]) -> Vec<Held> {
    let (request, layout) = (job.request, job.layout);
    let (covered, ..) = figures_of(job.problem, values);
    let held = |(value, without): (&usize, &Figures)| {
        let content = &layout.values[*value];
        let pool = &layout.pools[content.pool];
        let number = content.value.unwrap_or(0.0);
        let (stock, kind) = (request.rules.stock.as_ref(), pool.kind);
        let stated = stock.zip(kind).and_then(|(stock, kind)| stock.tolerance(kind, number));
        let tolerance = stated.or_else(|| usual_tolerance(number));
        let (code, marking) = marks(pool.kind, number, tolerance);
        let pieces = pieces(layout, guitars, *value);
        let in_stock = stock.zip(kind).and_then(|(stock, kind)| stock.quantity(kind, number));
        let wanted = request.bags.map(|bags| u64::from(bags) * pieces as u64);
        Held {
            part: pool.name.clone(),
            value: content.value,
            written: content.written.clone(),
            code,
            marking,
            unit_price: unit_price(request, layout, *value),
            pieces,
            in_stock,
            to_order: wanted.map(|wanted| wanted.saturating_sub(in_stock.map_or(0, u64::from))),
            fixed: pool.fixed.contains(value),
            used_by: guitars.iter().filter(|served| uses(layout, served, *value)).count(),
            serves_alone: covered - without.0,
        }
    };
    values.iter().zip(without).map(held).collect()
}

/// What one piece of a value, or one ready-made network, costs.
fn unit_price(request: &Request, layout: &Layout, value: usize) -> Option<f64> {
    let content = layout.values.get(value)?;
    let kind = layout.pools.get(content.pool)?.kind;
    let part = kind.and_then(|kind| kind.component(content.value.unwrap_or(0.0)));
    let parts = part.map_or_else(|| parts_of(layout, value), |part| vec![part]);
    request.rules.stock.as_ref()?.cost(&parts)
}

/// What a kit costs with as many pieces of each value as the guitar takes that takes most, each served by its best network.
fn price(job: &Job<'_>, values: &[usize]) -> Option<f64> {
    let (layout, problem) = (job.layout, job.problem);
    let mut pieces: Vec<usize> = vec![1; values.len()];
    for ask in 0..problem.weights().len() {
        let serves =
            |network: &usize| problem.margins_of(*network)[ask] >= 0 && problem.needs()[*network].iter().all(|need| values.contains(need));
        let first = |network: &usize| {
            (
                problem.margins_of(*network)[ask],
                std::cmp::Reverse((layout.networks[*network].parts, *network)),
            )
        };
        let Some(network) = (0..layout.networks.len()).filter(serves).max_by_key(first) else {
            continue;
        };
        let parts = parts(layout, &layout.networks[network]);
        for (value, pieces) in values.iter().zip(&mut pieces) {
            *pieces = (*pieces).max(times(layout, &parts, *value));
        }
    }
    let cost = |(value, pieces): (&usize, usize)| Some(unit_price(job.request, layout, *value)? * pieces as f64);
    values.iter().zip(pieces).map(cost).sum()
}

/// The parts of a ready-made network.
fn parts_of(layout: &Layout, value: usize) -> Vec<Component> {
    let network = layout.networks.iter().find(|network| network.needs == [value]);
    let fitted = network.map(|network| fitted(layout, network)).unwrap_or_default();
    fitted
        .iter()
        .filter_map(|(_, network)| network.as_ref())
        .flat_map(Network::components)
        .collect()
}

/// How many pieces of a value the bag holds: as many as the guitar takes that takes most, of those that are served.
fn pieces(layout: &Layout, guitars: &[Served], value: usize) -> usize {
    let served = guitars.iter().filter(|served| served.meets_target);
    served.map(|served| taken(layout, served, value)).max().unwrap_or(0).max(1)
}

/// Every group with what it comes to, in the order of the catalogue; none where no guitar has one.
fn groups(guitars: &[Served]) -> Vec<Group> {
    if guitars.iter().all(|served| served.group.is_none()) {
        return Vec::new();
    }
    let mut groups: Vec<Group> = Vec::new();
    for served in guitars {
        let place = groups.iter().position(|group| group.name == served.group).unwrap_or_else(|| {
            groups.push(Group {
                name: served.group.clone(),
                covered: 0,
                total: 0,
                covered_weight: 0.0,
                total_weight: 0.0,
            });
            groups.len() - 1
        });
        let group = &mut groups[place];
        group.total += 1;
        group.total_weight += served.weight;
        if served.meets_target {
            group.covered += 1;
            group.covered_weight += served.weight;
        }
    }
    groups
}

/// How many pieces of a value a guitar takes.
fn taken(layout: &Layout, served: &Served, value: usize) -> usize {
    let content = &layout.values[value];
    if content.value.is_none() {
        return usize::from(uses(layout, served, value));
    }
    times(layout, &served.parts, value)
}

/// How often a value stands among parts.
fn times(layout: &Layout, parts: &Parts, value: usize) -> usize {
    let content = &layout.values[value];
    let Some(number) = content.value else { return 0 };
    let letter = layout.pools[content.pool]
        .kind
        .map(Kind::letter)
        .and_then(|letter| letter.chars().next());
    let is_it = |(part, own): &&(String, f64)| {
        let kind = part.rsplit('.').next().and_then(|name| name.chars().next());
        *own == number && letter.is_some() && kind == letter
    };
    parts.0.iter().filter(is_it).count()
}

/// Whether a guitar is served with a value.
fn uses(layout: &Layout, served: &Served, value: usize) -> bool {
    let content = &layout.values[value];
    if content.value.is_some() {
        return taken(layout, served, value) > 0;
    }
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
fn served(job: &Job<'_>, values: &[usize], done: &(dyn Fn() + Sync)) -> Result<Vec<Served>> {
    let (request, layout, problem) = (job.request, job.layout, job.problem);
    let in_kit: Vec<usize> = (0..layout.networks.len())
        .filter(|network| problem.needs()[*network].iter().all(|need| values.contains(need)))
        .collect();
    let everything: Vec<usize> = (0..layout.networks.len()).collect();
    let of_ask = |(place, ask): (usize, &(usize, usize))| -> Result<((usize, usize), Served)> {
        let near = |among: &[usize]| nearest(problem, place, among);
        let (own, others) = (near(&in_kit), near(&everything));
        let served = if job.clock.is_over_for_good() {
            let first = |near: &[usize]| near.first().map(|network| as_weighed(job, place, *network));
            one(job, *ask, first(&own), first(&others))
        } else {
            let plan = plan(request, *ask)?;
            let mut evaluator = Evaluator::new(&plan);
            let mut best = |near: &[usize]| best(job, place, &mut evaluator, near);
            let (mut own, mut others) = (best(&own), best(&others));
            let is_asked = request.yield_at_least.is_some();
            own.iter_mut().for_each(|own| own.look_up(job, place));
            others.iter_mut().filter(|_| is_asked).for_each(|others| others.look_up(job, place));
            one(job, *ask, own, others)
        };
        done();
        Ok((*ask, served))
    };
    let asked: Result<Vec<_>> = job.margins.asks.par_iter().enumerate().map(of_ask).collect();
    let mut all = asked?;
    for (ask, why) in &job.margins.left_out {
        let mut left_out = empty(request, *ask);
        left_out.left_out = Some(why.clone());
        all.push((*ask, left_out));
        done();
    }
    all.sort_by_key(|(ask, _)| *ask);
    Ok(all.into_iter().map(|(_, served)| served).collect())
}

/// A network, its margin, and where that is if it was looked up.
struct Best<'l> {
    number: usize,
    network: &'l Built,
    /// Whether it serves the ask, and in how many builds it works if that was looked up.
    serves: bool,
    built: Option<Yield>,
    margin: f64,
    worst: Option<BoundedPoint>,
}

/// A network with the margin that it was weighed with.
fn as_weighed<'l>(job: &Job<'l>, ask: usize, network: usize) -> Best<'l> {
    Best {
        number: network,
        network: &job.layout.networks[network],
        serves: job.problem.margins_of(network)[ask] >= 0,
        built: None,
        margin: f64::from(job.problem.margins_of(network)[ask]) / PARTS + job.request.at_least_db,
        worst: None,
    }
}

/// Those of some networks that may be the best for an ask; none where all are silent.
fn nearest(problem: &Problem, ask: usize, among: &[usize]) -> Vec<usize> {
    let margin = |network: &usize| problem.margins_of(*network)[ask];
    let Some(most) = among.iter().map(margin).max().filter(|most| *most > SILENT) else {
        return Vec::new();
    };
    let near = |network: &usize| margin(network) >= most.saturating_sub(NEAR);
    among.iter().copied().filter(near).collect()
}

/// The best of some networks by the definition, fewer parts and the earlier one among equals; of the first ones, when the time is over.
fn best<'l>(job: &Job<'l>, ask: usize, evaluator: &mut Evaluator<'_>, near: &[usize]) -> Option<Best<'l>> {
    let mut best: Option<Best<'l>> = None;
    for number in near {
        let network = &job.layout.networks[*number];
        let space = &job.layout.spaces[network.space];
        let fitted: Vec<(Slot, Option<&Network>)> = space.slots.iter().map(|slot| (slot.slot, slot.network.as_ref())).collect();
        let Some(worst) = evaluator.worst(&fitted, &network.values) else {
            continue;
        };
        let serves = job.problem.margins_of(*number)[ask] >= 0;
        let beats = |known: &Best<'_>| {
            (serves, worst.margin, std::cmp::Reverse(network.parts)) > (known.serves, known.margin, std::cmp::Reverse(known.network.parts))
        };
        if best.as_ref().is_none_or(beats) {
            best = Some(Best {
                number: *number,
                network,
                serves,
                built: None,
                margin: worst.margin,
                worst: Some(worst),
            });
        }
        if job.clock.is_over_for_good() {
            break;
        }
    }
    best.map(|best| Best {
        margin: best.margin + job.request.at_least_db,
        ..best
    })
}

impl Best<'_> {
    /// Finds out in how many builds it works, where it serves.
    fn look_up(&mut self, job: &Job<'_>, ask: usize) {
        if self.serves {
            self.built = job.working.of(ask, self.number);
        }
    }
}

fn one(job: &Job<'_>, ask: (usize, usize), own: Option<Best<'_>>, others: Option<Best<'_>>) -> Served {
    let (request, layout) = (job.request, job.layout);
    let slots = |best: &Option<Best<'_>>| -> BTreeMap<Slot, String> {
        let networks = best.as_ref().map(|best| fitted(layout, best.network)).unwrap_or_default();
        networks
            .into_iter()
            .map(|(slot, network)| (slot, written(network.as_ref())))
            .collect()
    };
    let margin = |best: &Option<Best<'_>>| best.as_ref().map(|best| best.margin);
    let (kept, possible) = (margin(&own), margin(&others));
    let meets_target = own.as_ref().is_some_and(|own| own.serves);
    let works = |built: Option<Yield>| {
        request
            .yield_at_least
            .is_none_or(|least| built.is_none_or(|built| built.share >= least))
    };
    let cases = &request.guitars[ask.0].guitar.cases;
    Served {
        slots: slots(&own),
        parts: own.as_ref().map(|own| parts(layout, own.network)).unwrap_or_default(),
        margin_db: kept,
        worst: own.as_ref().and_then(|own| Some(Worst::new(own.worst?, cases))),
        own_best_slots: slots(&others),
        own_best_margin_db: possible,
        loses_db: kept.zip(possible).map(|(kept, possible)| (possible - kept).max(0.0)),
        meets_target,
        built: own.as_ref().and_then(|own| own.built),
        left_out: match possible {
            _ if meets_target => None,
            Some(_) if others.as_ref().is_some_and(|others| others.serves && works(others.built)) => Some(LeftOut::NeedsAnother),
            Some(possible) if possible >= request.at_least_db => Some(LeftOut::TooFewWork),
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
        group: listed.group.clone(),
        own: listed.own.clone(),
        slots: BTreeMap::new(),
        parts: Parts::default(),
        margin_db: None,
        worst: None,
        own_best_slots: BTreeMap::new(),
        own_best_margin_db: None,
        loses_db: None,
        meets_target: false,
        built: None,
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
