//! Which solver finds the better optimum with the same number of evaluations: 200 random cases (the shipped guitars with varied values ×
//! targets × spaces), no buildable start given. A contender is judged by how far it stays below the best any of them found, a long run of
//! the chosen one included.

use std::cell::{Cell, RefCell};
use std::time::Instant;

use argmin::core::{CostFunction, Error, Executor, Gradient};
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::particleswarm::ParticleSwarm;
use argmin::solver::quasinewton::LBFGS;
use argmin::solver::simulatedannealing::{Anneal, SATempFunc, SimulatedAnnealing};
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::kernel::measure::visit_points;
use knobwright::kernel::plan::Plan;
use knobwright::parts::choice::Rules;
use knobwright::parts::network::Network;
use knobwright::search::exhaustive::Evaluator;
use knobwright::search::ideal::{self, EVALUATIONS_PER_PART, Problem};
use knobwright::search::space::{SlotSpace, Space};
use knobwright::shipped::{GUITARS, TARGETS};
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::units::{Farads, Henries, Ohms};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{RngCore, SeedableRng};

const CASES: usize = 200;
const SEED: u64 = 2;
/// How many evaluations the reference run may take.
const LONG: usize = 20_000;
/// How much of the evaluations goes into spreading points, for every solver that needs a start.
const SHARE: f64 = 0.25;
/// Edge of the first simplex, as a share of the ranges.
const EDGE: f64 = 0.2;
/// What a silent candidate costs, in dB.
const SILENT: f64 = 1e3;

const PHRASES: [&str; 5] = [
    "keep highs within 2 dB from full to quarter volume",
    "keep highs within 1 dB at volume 7, 5 and keep level within 2 dB of present from full to half volume",
    "cut highs by 4 to 7 dB at tone 5",
    "no bump at tone 0 and cut highs by 12 to 18 dB at tone 0",
    "brighter at half volume",
];

const SPACES: [&[(Slot, &str)]; 9] = [
    &[(Slot::Bleed, "C")],
    &[(Slot::Bleed, "R || C")],
    &[(Slot::Bleed, "R + C")],
    &[(Slot::Bleed, "R1 + (R2 || C)")],
    &[(Slot::Tone, "R + C")],
    &[(Slot::Series, "R || C"), (Slot::Tone, "C")],
    &[(Slot::Bleed, "R || C"), (Slot::Tone, "C")],
    &[(Slot::Bleed, "R + C"), (Slot::Tone, "R + C")],
    &[(Slot::Bleed, "R1 + (R2 || C1) || C2")],
];

fn main() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(SEED);
    let mut cases: Vec<(Plan, Space)> = Vec::new();
    while cases.len() < CASES {
        cases.extend(case(&mut random));
    }
    let points: usize = cases.iter().map(|(plan, _)| plan.points.len()).sum();
    println!("{CASES} cases, {} points in the mean", points / CASES);
    let contenders = contenders();
    let margins: Vec<Vec<f64>> = cases
        .iter()
        .map(|(plan, space)| contenders.iter().map(|contender| contender.margin(plan, space)).collect())
        .collect();
    let best: Vec<f64> = cases
        .iter()
        .zip(&margins)
        .map(|((plan, space), margins)| {
            let long = ideal::best_within(plan, space, None, LONG).map_or(-SILENT, |found| found.margin);
            margins.iter().copied().fold(long, f64::max)
        })
        .collect();
    println!(
        "{:56} {:>8} {:>8} {:>8} {:>8} {:>8} {:>6} {:>6}",
        "solver", "≤0.01 dB", "≤0.1 dB", "mean", "95 %", "worst", "runs", "ms"
    );
    for (index, contender) in contenders.iter().enumerate() {
        let mut short: Vec<f64> = best.iter().zip(&margins).map(|(best, margins)| best - margins[index]).collect();
        short.sort_by(f64::total_cmp);
        let within = |bound: f64| 100 * short.iter().filter(|short| **short <= bound).count() / CASES;
        let mean = short.iter().sum::<f64>() / CASES as f64;
        println!(
            "{:56} {:>6} % {:>6} % {mean:8.3} {:8.3} {:8.3} {:6} {:6.2}",
            contender.name,
            within(0.01),
            within(0.1),
            short[CASES * 95 / 100],
            short[CASES - 1],
            contender.evaluations.get() / CASES,
            contender.seconds.get() * 1e3 / CASES as f64
        );
    }
}

/// A solver under test.
struct Contender {
    name: String,
    /// Evaluations for each free part.
    budget: usize,
    solve: Solve,
    evaluations: Cell<usize>,
    seconds: Cell<f64>,
}

type Solve = fn(&Problem<'_>, &Plan);

impl Contender {
    fn margin(&self, plan: &Plan, space: &Space) -> f64 {
        let budget = self.budget * space.parts().count();
        let problem = Problem::new(plan, space, budget);
        let begun = Instant::now();
        (self.solve)(&problem, plan);
        self.seconds.set(self.seconds.get() + begun.elapsed().as_secs_f64());
        self.evaluations.set(self.evaluations.get() + budget - problem.left());
        problem.found().map_or(-SILENT, |found| found.margin)
    }
}

fn contenders() -> Vec<Contender> {
    let solvers: [(&str, Solve); 9] = [
        ("chosen: simplex, two starts, tried again", |problem, _| problem.solve()),
        ("simplex, one start, not again", |problem, _| {
            for start in problem.starts(SHARE, 1) {
                problem.descend(&start, EDGE);
            }
        }),
        ("spread points alone", |problem, _| drop(problem.starts(1.0, 1))),
        ("smoothed margin, L-BFGS", |problem, plan| smoothed(problem, plan, 1)),
        ("smoothed margin, L-BFGS, two starts", |problem, plan| smoothed(problem, plan, 2)),
        ("smoothed margin, then simplex", |problem, plan| {
            smoothed(problem, plan, 1);
            let place = problem.best_place().map(|(place, _)| place);
            problem.descend(&place.unwrap_or_default(), 0.1 * EDGE);
        }),
        ("particle swarm of 10", |problem, _| swarm(problem, 10)),
        ("particle swarm of 25", |problem, _| swarm(problem, 25)),
        ("simulated annealing", |problem, _| anneal(problem)),
    ];
    let contender = |name: &str, budget, solve| Contender {
        name: format!("{name} ({budget} a part)"),
        budget,
        solve,
        evaluations: Cell::new(0),
        seconds: Cell::new(0.0),
    };
    [EVALUATIONS_PER_PART, 3 * EVALUATIONS_PER_PART]
        .into_iter()
        .flat_map(|budget| solvers.map(|(name, solve)| contender(name, budget, solve)))
        .collect()
}

/// The margin with its sign turned; the end of the evaluations is an error, which ends the run.
struct Cost<'a, 'p>(&'a Problem<'p>);

impl CostFunction for Cost<'_, '_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, place: &Vec<f64>) -> Result<f64, Error> {
        if self.0.left() == 0 {
            return Err(Error::msg("no evaluation is left"));
        }
        Ok(self.0.margin_of(self.0.values(place)).map_or(SILENT, |margin| -margin))
    }
}

fn swarm(problem: &Problem<'_>, particles: usize) {
    let bounds = (vec![0.0; problem.dimensions()], vec![1.0; problem.dimensions()]);
    let solver = ParticleSwarm::new(bounds, particles).with_rng_generator(Xoshiro256PlusPlus::seed_from_u64(SEED));
    let _ended = Executor::new(Cost(problem), solver).timer(false).run();
}

/// A soft minimum of all margins, −τ·ln Σ exp(−margin/τ), in angles: share = sin²(angle), which keeps the ranges without a corner.
struct Smoothed<'a, 'p> {
    problem: &'a Problem<'p>,
    plan: &'a Plan,
    evaluator: RefCell<Evaluator<'a>>,
    softness: f64,
}

impl CostFunction for Smoothed<'_, '_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, angles: &Vec<f64>) -> Result<f64, Error> {
        if self.problem.left() == 0 {
            return Err(Error::msg("no evaluation is left"));
        }
        let place: Vec<f64> = angles.iter().map(|angle| angle.sin().powi(2)).collect();
        let values = self.problem.values(&place);
        let Some(worst) = self.problem.margin_of(values.clone()) else {
            return Ok(SILENT);
        };
        let mut evaluator = self.evaluator.borrow_mut();
        let powers = evaluator.powers(self.problem.fitted(), &values);
        let mut sum = 0.0;
        visit_points(self.plan, powers, |point| {
            let clause = &self.plan.clauses[point.clause];
            for margin in [
                clause.at_most.map(|bound| bound - point.difference),
                clause.at_least.map(|bound| point.difference - bound),
            ] {
                sum += margin.map_or(0.0, |margin| ((worst - margin) / self.softness).exp());
            }
        });
        Ok(self.softness * sum.ln() - worst)
    }
}

impl Gradient for Smoothed<'_, '_> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, angles: &Vec<f64>) -> Result<Vec<f64>, Error> {
        let step = 1e-4;
        let slope = |axis: usize| {
            let mut sides = [angles.clone(), angles.clone()];
            sides[0][axis] -= step;
            sides[1][axis] += step;
            Ok((self.cost(&sides[1])? - self.cost(&sides[0])?) / (2.0 * step))
        };
        (0..angles.len()).map(slope).collect()
    }
}

fn smoothed(problem: &Problem<'_>, plan: &Plan, starts: usize) {
    for start in problem.starts(SHARE, starts) {
        let mut angles: Vec<f64> = start.iter().map(|share| share.clamp(0.01, 0.99).sqrt().asin()).collect();
        for softness in [1.0, 0.3, 0.1, 0.03, 0.01] {
            let cost = Smoothed {
                problem,
                plan,
                evaluator: RefCell::new(Evaluator::new(plan)),
                softness,
            };
            let solver = LBFGS::new(MoreThuenteLineSearch::new(), 5).with_tolerance_cost(1e-5).unwrap();
            let ended = Executor::new(cost, solver)
                .configure(|state| state.param(angles.clone()).max_iters(30))
                .timer(false)
                .run();
            if let Some(reached) = ended.ok().and_then(|ended| ended.state.best_param) {
                angles = reached;
            }
        }
    }
}

/// Annealing steps of a normal law whose width falls with the temperature.
struct Annealed<'a, 'p>(Cost<'a, 'p>, RefCell<Xoshiro256PlusPlus>);

impl CostFunction for Annealed<'_, '_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, place: &Vec<f64>) -> Result<f64, Error> {
        self.0.cost(place)
    }
}

impl Anneal for Annealed<'_, '_> {
    type Param = Vec<f64>;
    type Output = Vec<f64>;
    type Float = f64;

    fn anneal(&self, place: &Vec<f64>, temperature: f64) -> Result<Vec<f64>, Error> {
        let mut random = self.1.borrow_mut();
        let width = 0.3 * temperature.min(1.0).sqrt();
        let step = |share: &f64| {
            let sum: f64 = (0..12).map(|_| uniform(&mut random)).sum();
            (share + width * (sum - 6.0)).clamp(0.0, 1.0)
        };
        Ok(place.iter().map(step).collect())
    }
}

fn anneal(problem: &Problem<'_>) {
    let random = || Xoshiro256PlusPlus::seed_from_u64(SEED);
    let solver = SimulatedAnnealing::new_with_rng(1.0, random()).unwrap();
    let solver = solver.with_temp_func(SATempFunc::Exponential(0.985));
    for start in problem.starts(SHARE, 1) {
        let cost = Annealed(Cost(problem), RefCell::new(random()));
        let _ended = Executor::new(cost, solver.clone())
            .configure(|state| state.param(start))
            .timer(false)
            .run();
    }
}

fn uniform(random: &mut Xoshiro256PlusPlus) -> f64 {
    (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// One random case, if what was drawn belongs together.
fn case(random: &mut Xoshiro256PlusPlus) -> Option<(Plan, Space)> {
    let mut pick = |count: usize| (uniform(random) * count as f64) as usize;
    let (guitar, wish, space) = (pick(GUITARS.len()), pick(TARGETS.len() + PHRASES.len()), pick(SPACES.len()));
    let target = inputs::target(Some(
        TARGETS.get(wish).map_or_else(|| PHRASES[wish - TARGETS.len()], |file| file.name),
    ))
    .unwrap();
    let guitar = varied(inputs::guitar(Some(GUITARS[guitar].name)).unwrap(), random);
    let searched = SPACES[space];
    if guitar.tone.is_none() && (searched.iter().any(|(slot, _)| *slot == Slot::Tone) || turns_tone(&target)) {
        return None;
    }
    let network = |text: &str| Network::read(&Source::inline("space", text).passage()).unwrap();
    let slots = searched
        .iter()
        .map(|(slot, text)| SlotSpace::new(*slot, network(text), &Rules::default()).unwrap());
    let space = Space { slots: slots.collect() };
    let names: Vec<Slot> = searched.iter().map(|(slot, _)| *slot).collect();
    Some((Plan::new(&guitar, &guitar, &target, &names).ok()?, space))
}

fn turns_tone(target: &Target) -> bool {
    target.clauses.iter().any(|clause| clause.tone.iter().any(|tone| *tone != 1.0))
}

/// Every main value up to half or double of what it was.
fn varied(mut guitar: Guitar, random: &mut Xoshiro256PlusPlus) -> Guitar {
    let mut factor = || (uniform(random) * 2.0 - 1.0).exp2();
    let inductance = factor();
    guitar.pickup.inductance = Henries::new(guitar.pickup.inductance.value() * inductance).unwrap();
    for cell in &mut guitar.pickup.loss {
        cell.inductance = Henries::new(cell.inductance.value() * inductance).unwrap();
        cell.resistance = Ohms::new(cell.resistance.value() * factor()).unwrap();
    }
    guitar.volume.pot.resistance = Ohms::new(guitar.volume.pot.resistance.value() * factor()).unwrap();
    guitar.cable.capacitance = Farads::new(guitar.cable.capacitance.value() * factor()).unwrap();
    guitar.input.resistance = Ohms::new(guitar.input.resistance.value() * factor()).unwrap();
    guitar
}
