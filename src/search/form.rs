//! A space taken apart for the fast search: two parts that vary together as a plane, everything else around them.
//!
//! In a series or a parallel of parts, one resistor and one capacitor give one impedance or admittance t = u + jv with u from the
//! one and v from the other. Whatever stands around them in the slot makes the slot's admittance (α + β·t)/(γ + δ·t) at each
//! frequency, so that V/E stays a ratio of first degree in t: three parts cost what two do.

use std::ops::Range;

use num_complex::Complex64;

use crate::kernel::lanes::Moebius;
use crate::parts::network::{Admittance, Kind, Network};
use crate::search::space::{PartSpace, Space};

/// A space with its plane chosen.
#[derive(Debug)]
pub(crate) struct Form<'s> {
    pub(crate) space: &'s Space,
    /// Which of the space's slots holds the plane.
    pub(crate) slot: usize,
    /// One or two parts that span the plane.
    pub(crate) axes: Vec<Axis>,
    /// Numbers of all other parts, those of other slots first.
    outer: Vec<usize>,
    /// How many of them are in other slots.
    in_other_slots: usize,
    /// The number of the slot's first part.
    first_part: usize,
    /// Whether t is an impedance.
    pub(crate) series: bool,
    levels: Vec<Level>,
}

/// A part that spans the plane.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Axis {
    /// Its number among the space's parts.
    pub(crate) part: usize,
    /// Whether it moves v rather than u.
    pub(crate) reactive: bool,
    /// For each choice, what it adds to u, or to v before the frequency's scale; above zero.
    pub(crate) weights: Vec<f64>,
}

/// What stands beside or before the plane at one level of the network, from the plane outwards.
#[derive(Debug)]
struct Level {
    series: bool,
    siblings: Vec<Sibling>,
}

#[derive(Debug)]
struct Sibling {
    network: Network,
    /// Which of the slot's parts are in it.
    parts: Range<usize>,
}

/// Where a plane can be: the way down to a node, and its free members.
struct Place {
    slot: usize,
    path: Vec<usize>,
    axes: Vec<usize>,
    size: usize,
}

impl<'s> Form<'s> {
    /// Chooses the largest plane there is; `None` if the space has no free part.
    pub(crate) fn new(space: &'s Space) -> Option<Self> {
        let mut places = Vec::new();
        let mut first = 0;
        for (slot, content) in space.slots.iter().enumerate() {
            if let Some(network) = &content.network {
                let mut search = PlaceSearch {
                    slot,
                    parts: &content.parts,
                    next: 0,
                    places: &mut places,
                };
                search.visit(network, &mut Vec::new());
            }
            first += content.parts.len();
        }
        // The first among the largest, so that the order of evaluation is the same everywhere.
        let place = places.into_iter().rev().max_by_key(|place| place.size)?;
        let first_part = first - space.slots.iter().skip(place.slot).map(|slot| slot.parts.len()).sum::<usize>();
        Some(Self::at(space, &place, first_part))
    }

    fn at(space: &'s Space, place: &Place, first_part: usize) -> Self {
        let content = &space.slots[place.slot];
        let mut levels = Vec::new();
        if let Some(network) = &content.network {
            collect_levels(network, &place.path, &place.axes, 0, &mut levels);
        }
        levels.reverse();
        let series = levels.first().is_some_and(|level: &Level| level.series);
        let own = first_part..first_part + content.parts.len();
        let axes: Vec<Axis> = place
            .axes
            .iter()
            .map(|part| axis(&content.parts[*part], first_part + part, series))
            .collect();
        let others = |part: &usize| !axes.iter().any(|axis| axis.part == *part);
        let count = space.parts().count();
        let elsewhere: Vec<usize> = (0..count).filter(|part| !own.contains(part)).collect();
        let in_other_slots = elsewhere.len();
        Self {
            space,
            slot: place.slot,
            outer: elsewhere.into_iter().chain(own.filter(others)).collect(),
            in_other_slots,
            first_part,
            series,
            levels,
            axes,
        }
    }

    /// How many choices each outer part has, in the order of `outer`.
    fn outer_sizes(&self) -> Vec<u64> {
        let parts: Vec<&PartSpace> = self.space.parts().collect();
        self.outer.iter().map(|part| parts[*part].values.len() as u64).collect()
    }

    /// Whether the parts in all other slots have one choice together.
    pub(crate) fn is_alone(&self) -> bool {
        self.outer_sizes().iter().take(self.in_other_slots).all(|size| *size == 1)
    }

    /// How many planes there are.
    pub(crate) fn outer_count(&self) -> u64 {
        self.outer_sizes().into_iter().fold(1, u64::saturating_mul)
    }

    /// Puts the outer parts' choices of a plane in; which choice of the other slots that is.
    pub(crate) fn set_outer(&self, outer: u64, choices: &mut [usize]) -> u64 {
        let (mut rest, mut others) = (outer, 0);
        for (position, (part, size)) in self.outer.iter().zip(self.outer_sizes()).enumerate().rev() {
            if position + 1 == self.in_other_slots {
                others = rest;
            }
            choices[*part] = (rest % size) as usize;
            rest /= size;
        }
        others
    }

    /// Puts the choices of a cell of a plane in.
    pub(crate) fn set_cell(&self, cell: [usize; 2], choices: &mut [usize]) {
        for (axis, choice) in self.axes.iter().zip(cell) {
            choices[axis.part] = choice;
        }
    }

    /// How many cells a plane has along each axis.
    pub(crate) fn sides(&self) -> [usize; 2] {
        [self.axes[0].weights.len(), self.axes.get(1).map_or(1, |axis| axis.weights.len())]
    }

    /// v of a reactive weight at s = jω: ω in an admittance, 1/ω in an impedance, whose reactance is −v.
    pub(crate) fn scale(&self, angular_frequency: f64) -> f64 {
        if self.series {
            angular_frequency.recip()
        } else {
            angular_frequency
        }
    }

    /// The slot's admittance as a function of t, given the slot's values (those of the axes are not looked at). `None` where a part of it
    /// is an exact short or open circuit, or sums cancel too far; only inductors can make that.
    pub(crate) fn moebius(&self, s: Complex64, values: &[f64]) -> Option<Moebius> {
        let mut map = Moebius {
            alpha: Complex64::ZERO,
            beta: Complex64::ONE,
            gamma: Complex64::ONE,
            delta: Complex64::ZERO,
        };
        if self.series {
            (map.alpha, map.beta, map.gamma, map.delta) = (map.gamma, map.delta, map.alpha, map.beta);
        }
        for level in &self.levels {
            for sibling in &level.siblings {
                let Admittance::Value(admittance) = sibling.network.admittance(s, &values[sibling.parts.clone()]) else {
                    return None;
                };
                if level.series {
                    if admittance == Complex64::ZERO {
                        return None;
                    }
                    let impedance = admittance.inv();
                    map.gamma = sum(map.gamma, impedance * map.alpha)?;
                    map.delta = sum(map.delta, impedance * map.beta)?;
                } else {
                    map.alpha = sum(map.alpha, admittance * map.gamma)?;
                    map.beta = sum(map.beta, admittance * map.delta)?;
                }
            }
        }
        Some(map)
    }

    /// The slot's values among those of all parts.
    pub(crate) fn slot_values<'v>(&self, values: &'v [f64]) -> &'v [f64] {
        &values[self.first_part..self.first_part + self.space.slots[self.slot].parts.len()]
    }
}

/// Where terms cancel by more than this, in power, rounding is not to be trusted: below it, errors of 10⁻¹⁵ stay a hundred times under the
/// slack of the search, a ratio of 2.3·10⁻⁷.
pub(crate) const MOST_CANCELLATION: f64 = 1e6;

/// A sum of complex terms, unless they cancel too far.
pub(crate) fn sum(one: Complex64, other: Complex64) -> Option<Complex64> {
    let sum = one + other;
    let sound = sum.l1_norm() * MOST_CANCELLATION.sqrt() >= one.l1_norm() + other.l1_norm();
    sound.then_some(sum)
}

fn axis(part: &PartSpace, number: usize, series: bool) -> Axis {
    let capacitor = part.part.kind == Kind::Capacitor;
    // R and 1/C in an impedance, 1/R and C in an admittance.
    let as_is = capacitor != series;
    Axis {
        part: number,
        reactive: capacitor,
        weights: part.values.iter().map(|value| if as_is { *value } else { value.recip() }).collect(),
    }
}

struct PlaceSearch<'a> {
    slot: usize,
    parts: &'a [PartSpace],
    next: usize,
    places: &'a mut Vec<Place>,
}

impl PlaceSearch<'_> {
    fn visit(&mut self, network: &Network, path: &mut Vec<usize>) {
        match network {
            Network::Fixed(_) => {}
            Network::Free(_) => {
                // A part alone in its slot is a plane of one line; in a series or parallel it was seen by its parent.
                if path.is_empty() {
                    self.add(path, vec![self.next]);
                }
                self.next += 1;
            }
            Network::Series(members) | Network::Parallel(members) => {
                let mut free = Vec::new();
                for (index, member) in members.iter().enumerate() {
                    if let Network::Free(_) = member {
                        free.push(self.next);
                    }
                    path.push(index);
                    self.visit(member, path);
                    path.pop();
                }
                free.sort_by_key(|part| (std::cmp::Reverse(self.parts[*part].values.len()), *part));
                free.truncate(2);
                if !free.is_empty() {
                    self.add(path, free);
                }
            }
        }
    }

    fn add(&mut self, path: &[usize], mut axes: Vec<usize>) {
        axes.sort_unstable();
        self.places.push(Place {
            slot: self.slot,
            path: path.to_vec(),
            size: axes.iter().map(|part| self.parts[*part].values.len()).product(),
            axes,
        });
    }
}

/// Everything beside the way down to the plane, level by level from the outside.
fn collect_levels(network: &Network, path: &[usize], axes: &[usize], first: usize, levels: &mut Vec<Level>) {
    let (series, members) = match network {
        Network::Fixed(_) | Network::Free(_) => return,
        Network::Series(members) => (true, members),
        Network::Parallel(members) => (false, members),
    };
    let mut siblings = Vec::new();
    let mut next = first;
    let mut down = None;
    for (index, member) in members.iter().enumerate() {
        let parts = next..next + member.free_parts().len();
        next = parts.end;
        let is_axis = path.is_empty() && parts.len() == 1 && axes.contains(&parts.start) && matches!(member, Network::Free(_));
        if path.first() == Some(&index) {
            down = Some((member, parts.start));
        } else if !is_axis {
            siblings.push(Sibling {
                network: member.clone(),
                parts,
            });
        }
    }
    levels.push(Level { series, siblings });
    if let Some((member, first)) = down {
        collect_levels(member, &path[1..], axes, first, levels);
    }
}
