//! Every candidate of a request, enumerated here and not by the library's spaces.

use std::collections::BTreeMap;

use knobwright::guitar::Slot;
use knobwright::parts::network::{Component, Kind, Network};

use super::{C, Case, R, StockRow, network};
use crate::support::naive;

/// What is said about a part by the first of SLOT.PART, PART, SLOT.KIND, KIND that is there.
fn said<T: Copy>(said: &[(&str, &str, T)], slot: Slot, name: &str) -> T {
    let kind = &name[..1];
    let keys = [format!("{slot}.{name}"), name.to_owned(), format!("{slot}.{kind}"), kind.to_owned()];
    let found = keys.iter().find_map(|key| said.iter().find(|(here, ..)| here == key));
    found.unwrap_or_else(|| panic!("nothing said about {slot}.{name}")).2
}

/// Every value a part may take, ascending.
fn values(case: &Case, slot: Slot, name: &str) -> Vec<f64> {
    let [low, high] = said(case.ranges, slot, name);
    let inside = |value: &f64| low * (1.0 - 1e-9) <= *value && *value <= high * (1.0 + 1e-9);
    if !case.stock.is_empty() {
        let kind = if name.starts_with('R') { R } else { C };
        let drawers = case.stock.iter().filter(|row| row.0 == kind && row.4 != Some(0));
        let mut values: Vec<f64> = drawers.map(|row| row.2).filter(inside).collect();
        values.sort_by(f64::total_cmp);
        return values;
    }
    let mantissas = said(case.series, slot, name);
    let decades = -12..7;
    let every = decades.flat_map(|decade| {
        mantissas
            .iter()
            .map(move |digits| format!("{digits}e{decade}").parse::<f64>().unwrap())
    });
    every.filter(inside).collect()
}

/// Groups of free parts, by their place in written order, of one kind and directly joined.
fn joined(network: &Network, next: &mut usize, groups: &mut Vec<Vec<usize>>) {
    match network {
        Network::Fixed(_) => {}
        Network::Free(_) => *next += 1,
        Network::Series(members) | Network::Parallel(members) => {
            let mut own: BTreeMap<Kind, Vec<usize>> = BTreeMap::new();
            for member in members {
                if let Network::Free(part) = member {
                    own.entry(part.kind).or_default().push(*next);
                }
                joined(member, next, groups);
            }
            groups.extend(own.into_values());
        }
    }
}

/// Every network that can be made of one with free parts; of interchangeable parts only the order that does not fall.
fn fillings(case: &Case, slot: Slot, free: Option<&Network>) -> Vec<Option<Network>> {
    let Some(free) = free else { return vec![None] };
    let choices: Vec<Vec<f64>> = free.free_parts().iter().map(|part| values(case, slot, &part.name)).collect();
    let mut groups = Vec::new();
    joined(free, &mut 0, &mut groups);
    let mut combinations = vec![Vec::new()];
    for choice in &choices {
        combinations = combinations
            .iter()
            .flat_map(|so_far: &Vec<f64>| choice.iter().map(|value| [so_far.as_slice(), &[*value]].concat()))
            .collect();
    }
    let falls = |values: &[f64]| {
        let pairs = groups
            .iter()
            .flat_map(|group| group.iter().flat_map(|a| group.iter().map(move |b| (*a, *b))));
        pairs
            .into_iter()
            .any(|(a, b)| a < b && choices[a] == choices[b] && values[a] > values[b])
    };
    combinations.retain(|values| !falls(values));
    combinations.into_iter().map(|values| Some(free.with_values(&values))).collect()
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * one.abs()
}

/// The row of the drawers that holds a part.
fn drawer(case: &Case, part: &Component) -> Option<&'static StockRow> {
    case.stock
        .iter()
        .find(|row| Some(row.0) == part.kind() && near(row.2, part.value()))
}

fn in_stock(case: &Case, parts: &[Component]) -> bool {
    parts.iter().all(|part| {
        let needed = parts
            .iter()
            .filter(|other| other.kind() == part.kind() && near(other.value(), part.value()))
            .count();
        drawer(case, part).and_then(|row| row.4).is_none_or(|quantity| needed <= quantity)
    })
}

/// The searches of a case with their candidates: every choice of one alternative (or none) a slot.
pub fn enumerated(case: &Case) -> Vec<(BTreeMap<Slot, String>, Vec<naive::Candidate>)> {
    let mut searches = vec![(BTreeMap::new(), vec![Vec::new()])];
    for slot in Slot::ALL {
        let mut texts: Vec<&str> = case
            .searches
            .iter()
            .filter(|search| search.0 == slot)
            .map(|search| search.1)
            .collect();
        if texts.is_empty() {
            continue;
        }
        texts.push("none");
        let mut longer = Vec::new();
        for (names, candidates) in &searches {
            for text in &texts {
                let fillings = fillings(case, slot, network(text).as_ref());
                let both = |so_far: &Vec<(Slot, Option<Network>)>| {
                    let so_far = so_far.clone();
                    fillings
                        .iter()
                        .map(move |filling| [so_far.as_slice(), &[(slot, filling.clone())]].concat())
                        .collect::<Vec<_>>()
                };
                let mut names: BTreeMap<Slot, String> = names.clone();
                names.insert(slot, (*text).to_owned());
                longer.push((names, candidates.iter().flat_map(both).collect()));
            }
        }
        searches = longer;
    }
    let candidate = |slots: Vec<(Slot, Option<Network>)>| {
        let parts: Vec<Component> = slots
            .iter()
            .filter_map(|slot| slot.1.as_ref())
            .flat_map(Network::components)
            .collect();
        let price = |part: &Component| drawer(case, part).and_then(|row| row.3);
        let cost = (!case.stock.is_empty()).then(|| parts.iter().map(price).sum()).flatten();
        naive::Candidate { slots, cost }
    };
    searches
        .into_iter()
        .map(|(names, all)| (names, all.into_iter().map(candidate).collect()))
        .collect()
}

/// Every candidate that the drawers suffice for.
pub fn buildable(case: &Case) -> Vec<naive::Candidate> {
    let parts = |candidate: &naive::Candidate| {
        candidate
            .slots
            .iter()
            .filter_map(|slot| slot.1.as_ref())
            .flat_map(Network::components)
            .collect::<Vec<_>>()
    };
    enumerated(case)
        .into_iter()
        .flat_map(|search| search.1)
        .filter(|candidate| in_stock(case, &parts(candidate)))
        .collect()
}
