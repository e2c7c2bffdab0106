//! Guitars as they are really built: every value off its mark by a factor of its own, eight guitars side by side.
//!
//! The wiring is planned once a knob setting ([`Recipe`]); each built guitar then costs its two polynomials and a few multiplications a
//! point. [`margins`](BuiltPlan::margins) agrees with the plain solve of each guitar to 1e-9 dB.

use crate::circuit::Origin;
use crate::circuit::recipe::{Leaf, Recipe, Step as RecipeStep, Wiped, scaled_frequency};
use crate::guitar::Guitar;
use crate::guitar::taper::{Bent, Law};
use crate::kernel::lanes::{Compared, Isa, LANES, Lane, Points, Program, Reference, Step};
use crate::kernel::measure::{decibels, larger, power, smaller};
use crate::kernel::plan::{self, PlannedClause, Silent};
use crate::target::Target;

/// A target's points on one wiring, for any values.
#[derive(Debug, Clone, PartialEq)]
pub struct BuiltPlan {
    settings: Vec<Wired>,
    wipers: Wipers,
    clauses: Vec<Bounds>,
    points: usize,
}

/// One knob setting: its points, and the parts of tracks whose taper varies. The factors of these stand behind those of the origins.
#[derive(Debug, Clone, PartialEq)]
struct Wired {
    program: Program,
    points: Points,
    parts: Vec<TrackPart>,
}

/// The part of a track to one side of a wiper that varies.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TrackPart {
    /// The number of its track's factor, if that varies.
    track: Option<usize>,
    wiper: usize,
    beyond: bool,
}

/// A taper that varies.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bending {
    law: Law,
    mid: f64,
    factor: usize,
}

/// Where a wiper stands whose taper varies, a number of these.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wiper {
    taper: usize,
    rotation: f64,
    /// With the taper on its mark.
    nominal: f64,
}

/// Every taper that varies, and every place where its wiper stands.
#[derive(Debug, Clone, PartialEq, Default)]
struct Wipers {
    tapers: Vec<Bending>,
    places: Vec<Wiper>,
}

/// A clause: its combinations and its bounds in dB.
#[derive(Debug, Clone, PartialEq)]
struct Bounds {
    at_least: Option<f64>,
    at_most: Option<f64>,
    combinations: Vec<Compared>,
}

/// What is used again from one call to the next.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    row: Vec<Lane>,
    factors: Vec<Lane>,
    wipers: Vec<Lane>,
    powers: Vec<Lane>,
}

impl BuiltPlan {
    /// Plans a target for a build whose values at `origins` vary, each by its own factor. The present guitar varies with the build, by the
    /// same factors; what is in the present guitar only, a network, a pot or a cable that is exchanged, does not.
    ///
    /// # Errors
    /// The first knob combination of the target at which `present` is silent.
    pub fn new(build: &Guitar, present: &Guitar, target: &Target, origins: &[Origin]) -> Result<Self, Silent> {
        let (clauses, points) = plan::layout(build, present, target)?;
        let (builds, presents) = (build.in_cases(), plan::present_in_cases(build, present));
        let mut knobs: Vec<plan::Knobs> = Vec::new();
        let mut settings: Vec<Wired> = Vec::new();
        let mut wipers = Wipers::default();
        for (number, (at, frequency)) in points.iter().enumerate() {
            let place = knobs.iter().position(|known| known == at).unwrap_or_else(|| {
                let (case, setting) = *at;
                let recipe = match builds.get(case) {
                    Some(build) => Recipe::new(build, setting, &[]),
                    None => Recipe::new(&presents[case - builds.len()], setting, &[]),
                };
                let varies = |origin: Origin| {
                    let is_own = case < builds.len() || origin.is_shared(build, present);
                    origins.iter().position(|known| *known == origin).filter(|_| is_own)
                };
                knobs.push(*at);
                settings.push(wired(&recipe, varies, origins.len(), &mut wipers));
                settings.len() - 1
            });
            let angular = scaled_frequency(*frequency);
            settings[place].points.squares.push(angular * angular);
            settings[place].points.numbers.push(number);
        }
        Ok(Self {
            settings,
            wipers,
            clauses: clauses.iter().map(bounds).collect(),
            points: points.len(),
        })
    }

    /// At how many points each built guitar is evaluated.
    #[must_use]
    pub fn points(&self) -> usize {
        self.points
    }

    /// The margins in dB of eight built guitars, given one factor an origin; no number, which meets nothing, where a power is none. A build
    /// that is silent at a point has no margin, and this is not the place to ask: no spread of its values makes a silent build sound, nor the
    /// other way round.
    #[must_use]
    pub fn margins(&self, isa: Isa, factors: &[Lane], scratch: &mut Scratch) -> Lane {
        scratch.powers.resize(self.points, [0.0; LANES]);
        self.wipers.stand(factors, &mut scratch.wipers);
        for wired in &self.settings {
            scratch.factors.clear();
            scratch.factors.extend_from_slice(factors);
            let parts = wired.parts.iter();
            scratch
                .factors
                .extend(parts.map(|part| part.factors(&self.wipers, &scratch.wipers, factors)));
            isa.built_powers(
                &wired.program,
                &wired.points,
                &scratch.factors,
                &mut scratch.row,
                &mut scratch.powers,
            );
        }
        let mut margins = [f64::INFINITY; LANES];
        for clause in &self.clauses {
            let (mut least, mut most) = ([f64::INFINITY; LANES], [0.0_f64; LANES]);
            for combination in &clause.combinations {
                let [low, high] = isa.spread(combination, &scratch.powers);
                for lane in 0..LANES {
                    least[lane] = smaller(least[lane], low[lane]);
                    most[lane] = larger(most[lane], high[lane]);
                }
            }
            for lane in 0..LANES {
                let above = clause.at_most.map(|at_most| at_most - decibels(most[lane]));
                let below = clause.at_least.map(|at_least| decibels(least[lane]) - at_least);
                for margin in [above, below].into_iter().flatten() {
                    margins[lane] = smaller(margins[lane], margin);
                }
            }
        }
        margins
    }
}

impl TrackPart {
    /// What it is multiplied by, given where the wipers stand.
    fn factors(&self, wipers: &Wipers, places: &[Lane], factors: &[Lane]) -> Lane {
        let track = self.track.map_or([1.0; LANES], |track| factors[track]);
        let (own, off) = (wipers.places[self.wiper].nominal, &places[self.wiper]);
        std::array::from_fn(|lane| {
            let ratio = if self.beyond {
                (1.0 - off[lane]) / (1.0 - own)
            } else {
                off[lane] / own
            };
            track[lane] * ratio
        })
    }
}

impl Wipers {
    /// The number of a wiper's place, a new one where it is not known yet.
    fn number(&mut self, wiped: &Wiped, factor: usize) -> usize {
        let bending = Bending {
            law: wiped.law,
            mid: wiped.mid,
            factor,
        };
        let wiper = Wiper {
            taper: place_in(&mut self.tapers, bending),
            rotation: wiped.rotation,
            nominal: wiped.law.bent(wiped.mid).wiper(wiped.rotation),
        };
        place_in(&mut self.places, wiper)
    }

    /// Where every wiper stands in eight built guitars.
    fn stand(&self, factors: &[Lane], into: &mut Vec<Lane>) {
        let bent = |taper: &Bending| factors[taper.factor].map(|factor| taper.law.bent(taper.mid * factor));
        let bent: Vec<[Bent; LANES]> = self.tapers.iter().map(bent).collect();
        into.clear();
        into.extend(
            self.places
                .iter()
                .map(|place| bent[place.taper].map(|law| law.wiper(place.rotation))),
        );
    }
}

/// The number of an item in a list, at whose end it is put where it is not in it.
fn place_in<T: PartialEq>(list: &mut Vec<T>, item: T) -> usize {
    list.iter().position(|known| *known == item).unwrap_or_else(|| {
        list.push(item);
        list.len() - 1
    })
}

/// The program of a setting; the factors of parts of tracks are numbered from `first` on.
fn wired(recipe: &Recipe, varies: impl Fn(Origin) -> Option<usize>, first: usize, wipers: &mut Wipers) -> Wired {
    let mut parts = Vec::new();
    let program = program(recipe, |leaf| {
        let track = varies(leaf.origin);
        let taper = leaf.wiped.and_then(|wiped| Some((wiped, varies(wiped.origin)?)));
        let Some((wiped, factor)) = taper else { return track };
        parts.push(TrackPart {
            track,
            wiper: wipers.number(&wiped, factor),
            beyond: wiped.beyond,
        });
        Some(first + parts.len() - 1)
    });
    Wired {
        program,
        points: Points::default(),
        parts,
    }
}

fn bounds(clause: &PlannedClause) -> Bounds {
    let combinations = clause.combinations.iter().map(|combination| Compared {
        band: combination.measured.band.clone(),
        anchor: combination.measured.anchor.clone(),
        reference: match &combination.reference {
            plan::Reference::Build(elsewhere) => Reference::Points(elsewhere.band.clone(), elsewhere.anchor.clone()),
            plan::Reference::Known(figures) => Reference::Powers(figures.iter().map(|figure| power(*figure)).collect()),
        },
        over: clause.over,
    });
    Bounds {
        at_least: clause.at_least,
        at_most: clause.at_most,
        combinations: combinations.collect(),
    }
}

/// Lays out a recipe's polynomials one behind the other, N and D last and equally long.
fn program(recipe: &Recipe, mut varies: impl FnMut(&Leaf) -> Option<usize>) -> Program {
    let mut program = Program::default();
    for leaf in &recipe.leaves {
        program.leaves.push((leaf.scaled(), varies(leaf)));
    }
    let [numerator, denominator] = recipe.open();
    let longest = recipe.degrees[numerator].max(recipe.degrees[denominator]) + 1;
    program.terms = longest.next_multiple_of(2);
    let mut spans: Vec<(usize, usize)> = Vec::with_capacity(recipe.steps.len());
    for (index, (step, degree)) in recipe.steps.iter().zip(&recipe.degrees).enumerate() {
        let (at, terms) = (program.length, degree + 1);
        spans.push((at, terms));
        let is_end = index == numerator || index == denominator;
        program.length += if is_end { program.terms } else { terms };
        let power = |leaf: usize| usize::from(recipe.leaves[leaf].with_s);
        match *step {
            RecipeStep::Zero => {}
            RecipeStep::One => program.steps.push(Step::One(at)),
            RecipeStep::Leaf(leaf) => program.steps.push(Step::Leaf(at + power(leaf), leaf)),
            RecipeStep::Sum(one, other) => program.steps.extend([one, other].map(|term| Step::Add(at, spans[term]))),
            RecipeStep::Product(one, other) => program.steps.push(match (recipe.steps[one], recipe.steps[other]) {
                (RecipeStep::Leaf(leaf), _) => Step::Scale(at + power(leaf), leaf, spans[other]),
                (_, RecipeStep::Leaf(leaf)) => Step::Scale(at + power(leaf), leaf, spans[one]),
                _ => Step::Multiply(at, spans[one], spans[other]),
            }),
        }
    }
    (program.numerator, program.denominator) = (spans[numerator].0, spans[denominator].0);
    program
}
