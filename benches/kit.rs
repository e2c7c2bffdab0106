//! A kit over catalogues of four sizes: all margins and the choice apart, and how both grow.
//!
//! Baselines: for the margins the definition, one network after the other, on one guitar in fifty; for the choice a mixed-integer model
//! solved by a general-purpose solver (good_lp with microlp), on a problem that it can finish. Both are first asserted to agree.

mod common;

use std::time::{Duration, Instant};

use common::{best_of, guitar};
use good_lp::{Expression, ProblemVariables, Solution, SolverModel, constraint, microlp, variable};
use knobwright::guitar::Slot;
use knobwright::guitar::catalogue::Listed;
use knobwright::inputs;
use knobwright::kernel::plan::Plan;
use knobwright::kit::aim::{Asked, solve};
use knobwright::kit::choose::{Problem, Wanted, score};
use knobwright::kit::clock::Clock;
use knobwright::kit::{Aim, Choose, PARTS, Request, problem};
use knobwright::parts::choice::{Key, Rules};
use knobwright::parts::network::Network;
use knobwright::search::exhaustive::Evaluator;
use knobwright::source::Source;

const SIZES: [usize; 4] = [60, 250, 1000, 2000];
const LIMIT: Duration = Duration::from_secs(30);

fn coverage(sizes: &[usize]) -> Asked<'_> {
    Asked {
        sizes,
        fixed: &[],
        aim: Aim::Coverage,
        floor: 0,
        budget: None,
        cheapest: false,
    }
}

fn main() {
    let mut before: Option<(usize, Duration, Duration)> = None;
    for size in SIZES {
        let request = request(size, "R=E24,C=E12");
        let start = Instant::now();
        let whole = problem(&request, &()).expect("a problem");
        let margins = start.elapsed();
        let start = Instant::now();
        let kit = solve(&whole, &coverage(&[3, 3]), None, Clock::new(Some(LIMIT)));
        let choice = start.elapsed();
        let served = score(&whole, &Wanted::coverage(&[3, 3], &[]), &kit.values).covered / 1000;
        println!(
            "{size} guitars x {} networks: margins {:.2} s, choice of 3 + 3 {:.2} s, {served} served, {}",
            whole.needs().len(),
            margins.as_secs_f64(),
            choice.as_secs_f64(),
            if kit.optimal {
                "proved".to_owned()
            } else {
                format!("not proved, gap {:.1} %", kit.gap * 100.0)
            }
        );
        if let Some((smaller, earlier_margins, earlier_choice)) = before {
            println!(
                "  {:.1} x the guitars: {:.1} x the time for margins, {:.1} x for the choice",
                size as f64 / smaller as f64,
                margins.as_secs_f64() / earlier_margins.as_secs_f64(),
                choice.as_secs_f64() / earlier_choice.as_secs_f64()
            );
        }
        before = Some((size, margins, choice));
        by_definition(&request, &whole, margins);
    }
    against_model();
}

fn request(size: usize, values: &str) -> Request {
    let mut rules = Rules::default();
    rules.add_series(&Source::inline("bench", values).passage(), &[]).expect("series");
    let key = |part: &str| Key {
        slot: None,
        part: part.to_owned(),
    };
    Request {
        guitars: (0..size).map(|seed| Listed::once(guitar(seed as u64))).collect(),
        targets: vec![inputs::target(None).expect("the default target")],
        searches: vec![(
            Slot::Bleed,
            Network::read(&Source::inline("bench", "R || C").passage()).expect("a network"),
        )],
        rules,
        choose: Choose::Values(vec![(key("R"), 3), (key("C"), 3)]),
        pieces: knobwright::kit::Pieces::AsNeeded,
        fixed: Vec::new(),
        aim: Aim::Coverage,
        floor_db: 0.0,
        at_least_db: 0.0,
        yield_at_least: None,
        budget: None,
        bags: None,
        time_limit: Some(LIMIT),
        threads: None,
    }
}

/// The same margins by the definition for some of the guitars.
fn by_definition(request: &Request, whole: &Problem, margins: Duration) {
    let space = common::space(
        Slot::Bleed,
        "R || C",
        knobwright::parts::series::Series::E24,
        knobwright::parts::series::Series::E12,
    );
    let start = Instant::now();
    let mut count = 0;
    for (place, listed) in request.guitars.iter().enumerate().step_by(50) {
        let plan = Plan::new(&listed.guitar, &listed.guitar, &request.targets[0], &[Slot::Bleed]).expect("no silent position");
        let mut evaluator = Evaluator::new(&plan);
        let mut choices = Vec::new();
        for index in 0..space.index_count() {
            space.choices(index, &mut choices);
            let fitted = [(Slot::Bleed, space.slots[0].network.as_ref())];
            let exact = evaluator.worst(&fitted, &space.values(&choices)).expect("a sound").margin;
            let kept = f64::from(whole.margins_of(index as usize)[place]) / PARTS;
            assert!((exact - kept).abs() < 1.2e-5, "{exact} and {kept}");
        }
        count += 1;
    }
    let each = start.elapsed().as_secs_f64() / f64::from(count);
    println!(
        "  the definition on one thread would take {:.0} x as long",
        each * request.guitars.len() as f64 / margins.as_secs_f64()
    );
}

/// Sixty guitars, E3 values, two of each: the same choice as a mixed-integer model.
fn against_model() {
    let whole = problem(&request(60, "R=E3,C=E3"), &()).expect("a problem");
    let wanted = Wanted::coverage(&[2, 2], &[]);
    let (own, kit) = best_of(5, || solve(&whole, &coverage(&[2, 2]), None, Clock::ENDLESS));
    let start = Instant::now();
    let modelled = model(&whole);
    let other = start.elapsed();
    let covered = score(&whole, &wanted, &kit.values).covered;
    assert!((modelled - covered as f64).abs() < 1e-3, "{modelled} and {covered}");
    println!(
        "60 guitars, {} networks, 2 + 2: branch and bound {:.1} ms, which settles ties too; a mixed-integer model of coverage alone takes {:.0} x as long",
        whole.needs().len(),
        own.as_secs_f64() * 1e3,
        other.as_secs_f64() / own.as_secs_f64()
    );
}

fn model(whole: &Problem) -> f64 {
    let asks = whole.weights().len();
    let mut variables = ProblemVariables::new();
    let values: Vec<_> = whole.pool_of().iter().map(|_| variables.add(variable().binary())).collect();
    let networks: Vec<_> = whole.needs().iter().map(|_| variables.add(variable().min(0).max(1))).collect();
    let served: Vec<_> = (0..asks).map(|_| variables.add(variable().min(0).max(1))).collect();
    let goal: Expression = served
        .iter()
        .zip(whole.weights())
        .map(|(served, weight)| f64::from(*weight) * *served)
        .sum();
    let mut model = variables.maximise(goal.clone()).using(microlp);
    for pool in 0..2 {
        let chosen: Expression = (0..values.len())
            .filter(|value| whole.pool_of()[*value] == pool)
            .map(|value| values[value])
            .sum();
        model.add_constraint(constraint!(chosen <= 2));
    }
    for (network, needs) in whole.needs().iter().enumerate() {
        for need in needs {
            model.add_constraint(constraint!(networks[network] <= values[*need]));
        }
    }
    for (ask, served) in served.iter().enumerate() {
        let serving = (0..networks.len()).filter(|network| whole.margins_of(*network)[ask] >= 0);
        let at_hand: Expression = serving.map(|network| networks[network]).sum();
        model.add_constraint(constraint!(*served <= at_hand));
    }
    model.solve().expect("the model has a solution").eval(&goal)
}
