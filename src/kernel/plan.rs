//! Guitar + target + free slots → everything about the target's points that no candidate changes.

use crate::circuit::ports::{Polynomials, Reduction};
use crate::circuit::{Port, Setting};
use crate::guitar::{Case, Guitar, Slot};
use crate::kernel::guards::{self, Guard};
use crate::kernel::measure::Measure;
use crate::kernel::placed::holds_in;
use crate::kernel::response::powers;
use crate::target::{Against, Clause, Over, Target};

/// The points of a target on a guitar, each reduced to the free slots; candidates are evaluated against it.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The free slots, in the order of a candidate's admittances.
    pub slots: Vec<Slot>,
    /// Every frequency that any point needs, in Hz, ascending, each once.
    pub frequencies: Vec<f64>,
    /// Every combination of case, knob setting and frequency that any clause or reference needs, each once.
    pub points: Vec<Point>,
    /// The clauses, in the target's order.
    pub clauses: Vec<PlannedClause>,
    /// What the target does not speak of and a build must keep; none unless asked for.
    pub guards: Vec<Guard>,
}

/// One knob setting at one frequency in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Index of the guitar's case; 0 where it has none.
    pub case: usize,
    /// Where the knobs stand.
    pub setting: Setting,
    /// Index into [`Plan::frequencies`].
    pub frequency: usize,
    /// The circuit there.
    pub reduction: Reduction,
}

/// A clause with its points found.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedClause {
    /// Smallest difference allowed, in dB.
    pub at_least: Option<f64>,
    /// Largest difference allowed, in dB.
    pub at_most: Option<f64>,
    /// Each frequency or the whole band.
    pub over: Over,
    /// Every combination of case (outermost) and the clause's rotations, volume before tone.
    pub combinations: Vec<Combination>,
}

/// One knob combination of a clause in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    /// Index of the guitar's case; 0 where it has none.
    pub case: usize,
    /// Where the knobs stand.
    pub setting: Setting,
    /// Points and anchor of the build itself.
    pub measured: Measured,
    /// What it is compared with.
    pub reference: Reference,
}

/// Indices into [`Plan::points`]: a band's points, and an anchor's when the measure is shape (else empty).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// The band's grid.
    pub band: Vec<usize>,
    /// The anchor's grid.
    pub anchor: Vec<usize>,
}

/// The reference of a combination.
#[derive(Debug, Clone, PartialEq)]
pub enum Reference {
    /// The same measure of the same build elsewhere.
    Build(Measured),
    /// Known figures in dB: one a frequency, or one for the whole band.
    Known(Vec<f64>),
}

/// A knob combination of a target at which the present guitar makes no sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Silent {
    /// Index of the clause.
    pub clause: usize,
    /// Where the knobs stand.
    pub setting: Setting,
    /// What its cases are called: cases, or positions of a selector.
    pub case_word: &'static str,
    /// The case's name, if the guitar has cases.
    pub case: Option<String>,
}

impl Plan {
    /// Plans a target: `build` is the guitar whose free slots are searched, `present` the one that references to the present mean.
    /// The cases are those of `build`, and `present` is compared with in the same case.
    ///
    /// # Errors
    /// The first knob combination of the target at which `present` is silent.
    pub fn new(build: &Guitar, present: &Guitar, target: &Target, slots: &[Slot]) -> Result<Self, Silent> {
        Self::planned(build, present, target, slots, false)
    }

    /// As [`Plan::new`], with the guards of the rest that the target does not speak of.
    ///
    /// # Errors
    /// As [`Plan::new`].
    pub fn guarded(build: &Guitar, present: &Guitar, target: &Target, slots: &[Slot]) -> Result<Self, Silent> {
        Self::planned(build, present, target, slots, true)
    }

    fn planned(build: &Guitar, present: &Guitar, target: &Target, slots: &[Slot], is_guarded: bool) -> Result<Self, Silent> {
        let (builds, presents) = (build.in_cases(), present_in_cases(build, present));
        let mut draft = Draft::default();
        let mut clauses = Vec::with_capacity(target.clauses.len());
        for (index, clause) in target.clauses.iter().enumerate() {
            clauses.push(
                draft
                    .clause(clause, &presents, &build.cases)
                    .map_err(|knobs| silent(build, index, knobs))?,
            );
        }
        let guards = if is_guarded {
            guards::of(target, &builds, &presents, &build.cases, &mut draft)
        } else {
            Vec::new()
        };
        let (frequencies, points) = draft.reduce(&builds, slots);
        Ok(Self {
            slots: slots.to_vec(),
            frequencies,
            points,
            clauses,
            guards,
        })
    }

    /// The same without its guards.
    #[must_use]
    pub fn unguarded(&self) -> Self {
        self.with_only(self.clauses.clone(), Vec::new())
    }

    /// The same with those guards alone that hold with the volume at full, where a treble bleed does nothing.
    #[must_use]
    pub fn guarded_at_full_volume(&self) -> Self {
        let mut guards = self.guards.clone();
        let is_at_full = |combination: &Combination| combination.setting.volume == 1.0;
        guards.retain(|guard| guard.clause.combinations.iter().all(is_at_full));
        self.with_only(self.clauses.clone(), guards)
    }

    /// The same with guards that may be broken by so many dB.
    #[must_use]
    pub fn at_price(&self, price: f64) -> Self {
        let mut plan = self.clone();
        for guard in &mut plan.guards {
            guard.clause.at_least = guard.clause.at_least.map(|low| low - price);
            guard.clause.at_most = guard.clause.at_most.map(|high| high + price);
        }
        plan
    }

    /// A clause by its number, the guards' behind those of the target.
    #[must_use]
    pub(crate) fn bounded(&self, number: usize) -> &PlannedClause {
        match number.checked_sub(self.clauses.len()) {
            None => &self.clauses[number],
            Some(guard) => &self.guards[guard].clause,
        }
    }

    /// Whether a clause, by its number, is a guard's.
    #[must_use]
    pub(crate) fn is_guard(&self, number: usize) -> bool {
        number >= self.clauses.len()
    }

    /// How many clauses there are, those of guards included.
    #[must_use]
    pub(crate) fn bounded_count(&self) -> usize {
        self.clauses.len() + self.guards.len()
    }

    /// The plan of some of the clauses, in the same order, and of all guards: what a new plan of these alone would be, but for the order
    /// of its points.
    #[must_use]
    pub fn only(&self, keeps: impl Fn(usize) -> bool) -> Self {
        let kept = self.clauses.iter().enumerate().filter(|(index, _)| keeps(*index));
        self.with_only(kept.map(|(_, clause)| clause.clone()).collect(), self.guards.clone())
    }

    /// Two plans of the same slots as one: what a candidate leaves is the smaller of what it leaves in each. The cases of the other are
    /// counted behind those of this one.
    #[must_use]
    pub fn beside(&self, other: &Self) -> Self {
        let mut frequencies = [self.frequencies.as_slice(), &other.frequencies].concat();
        frequencies.sort_by(f64::total_cmp);
        frequencies.dedup();
        let moved = |plan: &Self, cases: usize| -> Vec<Point> {
            let place = |frequency: f64| frequencies.partition_point(|known| *known < frequency);
            let point = |point: &Point| Point {
                case: point.case + cases,
                frequency: place(plan.frequencies[point.frequency]),
                ..point.clone()
            };
            plan.points.iter().map(point).collect()
        };
        let cases = self.points.iter().map(|point| point.case + 1).max().unwrap_or(0);
        let (mut clauses, mut guards) = (other.clauses.clone(), other.guards.clone());
        let all = clauses.iter_mut().chain(guards.iter_mut().map(|guard| &mut guard.clause));
        for clause in all {
            clause.indices().for_each(|index| *index += self.points.len());
            clause.combinations.iter_mut().for_each(|combination| combination.case += cases);
        }
        Self {
            slots: self.slots.clone(),
            points: [moved(self, 0), moved(other, cases)].concat(),
            frequencies,
            clauses: [self.clauses.as_slice(), &clauses].concat(),
            guards: [self.guards.as_slice(), &guards].concat(),
        }
    }

    fn with_only(&self, mut clauses: Vec<PlannedClause>, mut guards: Vec<Guard>) -> Self {
        let bounded = |clauses: &mut [PlannedClause], guards: &mut [Guard], change: &mut dyn FnMut(&mut usize)| {
            let guards = guards.iter_mut().map(|guard| &mut guard.clause);
            clauses.iter_mut().chain(guards).flat_map(PlannedClause::indices).for_each(change);
        };
        let mut needed: Vec<usize> = Vec::new();
        bounded(&mut clauses, &mut guards, &mut |index| needed.push(*index));
        needed.sort_unstable();
        needed.dedup();
        // Every index is among those needed.
        bounded(&mut clauses, &mut guards, &mut |index| {
            *index = needed.partition_point(|other| other < index);
        });
        Self {
            slots: self.slots.clone(),
            frequencies: self.frequencies.clone(),
            points: needed.iter().filter_map(|index| self.points.get(*index)).cloned().collect(),
            clauses,
            guards,
        }
    }

    /// Over how many points the clauses bound a difference.
    #[must_use]
    pub fn bounded_points(&self) -> usize {
        self.clauses.iter().map(PlannedClause::bounded_points).sum()
    }
}

impl Combination {
    /// The indices of all points it is made of, those of its reference included.
    pub(crate) fn points(&self) -> impl Iterator<Item = usize> + '_ {
        let elsewhere = match &self.reference {
            Reference::Build(elsewhere) => Some(elsewhere),
            Reference::Known(_) => None,
        };
        let measured = std::iter::once(&self.measured).chain(elsewhere);
        measured.flat_map(|measured| measured.band.iter().chain(&measured.anchor).copied())
    }
}

impl PlannedClause {
    /// Every index into the plan's points.
    fn indices(&mut self) -> impl Iterator<Item = &mut usize> {
        self.combinations.iter_mut().flat_map(|combination| {
            let elsewhere = match &mut combination.reference {
                Reference::Build(elsewhere) => Some(elsewhere),
                Reference::Known(_) => None,
            };
            let measured = std::iter::once(&mut combination.measured).chain(elsewhere);
            measured.flat_map(|measured| measured.band.iter_mut().chain(&mut measured.anchor))
        })
    }

    /// Over how many points this clause bounds a difference.
    #[must_use]
    pub fn bounded_points(&self) -> usize {
        self.combinations
            .iter()
            .map(|combination| match self.over {
                Over::Every => combination.measured.band.len(),
                Over::Mean | Over::Average => 1,
            })
            .sum()
    }
}

fn silent(build: &Guitar, clause: usize, (case, setting): Knobs) -> Silent {
    Silent {
        clause,
        setting,
        case_word: build.case_word(),
        case: build.cases.get(case).map(|case| case.name.clone()),
    }
}

/// Clauses, and the knobs and frequency in Hz of each point.
type Layout = (Vec<PlannedClause>, Vec<(Knobs, f64)>);

/// The points of a target where the present guitar varies as the build does: its powers are not known before, and it counts as further
/// cases behind those of the build.
pub(super) fn layout(build: &Guitar, present: &Guitar, target: &Target) -> Result<Layout, Silent> {
    let presents = present_in_cases(build, present);
    let mut draft = Draft {
        present_varies: true,
        ..Draft::default()
    };
    let mut clauses = Vec::with_capacity(target.clauses.len());
    for (index, clause) in target.clauses.iter().enumerate() {
        clauses.push(
            draft
                .clause(clause, &presents, &build.cases)
                .map_err(|knobs| silent(build, index, knobs))?,
        );
    }
    Ok((clauses, draft.points))
}

/// The present guitar in each case of the build.
pub(super) fn present_in_cases(build: &Guitar, present: &Guitar) -> Vec<Guitar> {
    match build.cases.as_slice() {
        [] => vec![present.clone()],
        cases => cases.iter().map(|case| present.in_case(case)).collect(),
    }
}

/// Points collected so far, found again by case and the exact bits of setting and frequency.
#[derive(Default)]
pub(super) struct Draft {
    points: Vec<(Knobs, f64)>,
    index: std::collections::HashMap<(usize, [u64; 3]), usize>,
    /// Whether the present guitar's powers are points of their own.
    present_varies: bool,
}

/// A case and where the knobs stand in it.
pub(super) type Knobs = (usize, Setting);

impl Draft {
    fn clause(&mut self, clause: &Clause, presents: &[Guitar], cases: &[Case]) -> Result<PlannedClause, Knobs> {
        let mut combinations = Vec::new();
        let counts = |(case, _): &(usize, &Guitar)| holds_in(clause, cases.get(*case));
        for (case, present) in presents.iter().enumerate().filter(counts) {
            let measure = Measure::new(clause, case);
            for setting in clause.settings() {
                let knobs = (case, setting);
                if powers(present, setting, &measure.band).iter().any(|power| *power <= 0.0) {
                    return Err(knobs);
                }
                combinations.push(Combination {
                    case,
                    setting,
                    measured: self.measured(knobs, &measure),
                    reference: match (&clause.against, self.present_varies) {
                        (Against::Present, true) => Reference::Build(self.measured((presents.len() + case, setting), &measure)),
                        _ => match measure.of_reference(|frequencies| powers(present, setting, frequencies)) {
                            Some(known) => Reference::Known(known.levels),
                            None => Reference::Build(self.measured((case, Setting::FULL), &measure)),
                        },
                    },
                });
            }
        }
        Ok(PlannedClause {
            at_least: clause.at_least,
            at_most: clause.at_most,
            over: clause.over,
            combinations,
        })
    }

    fn measured(&mut self, knobs: Knobs, measure: &Measure<'_>) -> Measured {
        self.points_of(knobs, [&measure.band, &measure.anchor])
    }

    /// The points of a band and of an anchor, each as frequencies in Hz.
    pub(super) fn points_of(&mut self, knobs: Knobs, grids: [&[f64]; 2]) -> Measured {
        let [band, anchor] = grids.map(|grid| grid.iter().map(|frequency| self.point(knobs, *frequency)).collect());
        Measured { band, anchor }
    }

    fn point(&mut self, knobs: Knobs, frequency: f64) -> usize {
        let (case, setting) = knobs;
        let key = [setting.volume, setting.tone, frequency].map(f64::to_bits);
        *self.index.entry((case, key)).or_insert_with(|| {
            self.points.push((knobs, frequency));
            self.points.len() - 1
        })
    }

    /// Plans the circuit once for each position of the knobs and reduces it at each point.
    fn reduce(self, builds: &[Guitar], slots: &[Slot]) -> (Vec<f64>, Vec<Point>) {
        let mut frequencies: Vec<f64> = self.points.iter().map(|(_, frequency)| *frequency).collect();
        frequencies.sort_by(f64::total_cmp);
        frequencies.dedup();
        let ports: Vec<Port> = slots.iter().copied().map(Port::Slot).collect();
        let mut circuits: Vec<(Knobs, Polynomials)> = Vec::new();
        let mut points = Vec::with_capacity(self.points.len());
        for (knobs, frequency) in self.points {
            let (case, setting) = knobs;
            // Points of one position follow each other.
            let known = circuits.iter().rposition(|(own, _)| *own == knobs).unwrap_or_else(|| {
                circuits.push((knobs, Polynomials::new(&builds[case], setting, &ports)));
                circuits.len() - 1
            });
            points.push(Point {
                case,
                setting,
                frequency: frequencies.partition_point(|other| *other < frequency),
                reduction: circuits[known].1.reduce(frequency),
            });
        }
        (frequencies, points)
    }
}

impl Target {
    /// Every knob combination of the clauses, each once, in their order.
    #[must_use]
    pub fn settings(&self) -> Vec<Setting> {
        let mut settings: Vec<Setting> = Vec::new();
        for setting in self.clauses.iter().flat_map(Clause::settings) {
            if !settings.contains(&setting) {
                settings.push(setting);
            }
        }
        settings
    }

    /// As [`Target::settings`], with few enough to be shown: of a knob's whole travel its ends and the quarters between, and the place
    /// where something is worst.
    #[must_use]
    pub fn shown_settings(&self, worst: Option<Setting>) -> Vec<Setting> {
        let mut settings = self.in_quarters().settings();
        settings.extend(worst.filter(|worst| !settings.contains(worst)));
        settings
    }
}

impl Clause {
    /// Every combination of the clause's rotations, volume outer, tone inner.
    pub fn settings(&self) -> impl Iterator<Item = Setting> {
        self.volume.iter().flat_map(|volume| {
            self.tone.iter().map(|tone| Setting {
                volume: *volume,
                tone: *tone,
            })
        })
    }
}
