//! The kit: the exact choice against all kits tried one after the other, against a mixed-integer model solved by a general-purpose solver
//! (good_lp with microlp), and against the guarantee of the greedy choice (G. L. Nemhauser, L. A. Wolsey, M. L. Fisher, Mathematical
//! Programming 14, 1978); the margins against the definition and against the main job. Limits: the time a kit may take, and requests that no
//! command line lets through.

mod program;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use good_lp::{Expression, ProblemVariables, Solution, SolverModel, constraint, microlp, variable};
use knobwright::guitar::catalogue::{self, Listed};
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::kernel::plan::Plan;
use knobwright::kit::aim::{Asked, solve, worst};
use knobwright::kit::choose::{Problem, SILENT, Score, Wanted, choose, greedy, score};
use knobwright::kit::clock::Clock;
use knobwright::kit::{Aim, Choose, Kit, LeftOut, Pieces, Request, Served, kit};
use knobwright::parts::choice::{Key, Rules};
use knobwright::parts::network::Network;
use knobwright::parts::stock::Stock;
use knobwright::progress::Progress;
use knobwright::recommend::{self, recommend};
use knobwright::report;
use knobwright::search::exhaustive::Evaluator;
use knobwright::search::pruned::every_margin;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::source::Source;

/// A plain generator of uniform numbers from a fixed seed.
struct Uniform(u64);

impl Uniform {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() * count as f64) as usize
    }
}

/// Values, networks and asks at random; margins fall off from a best pair of values of each ask, as real ones do, with noise.
fn random_problem(seed: u64) -> (Problem, Vec<usize>) {
    let mut random = Uniform(seed * 7919 + 1);
    let (resistors, capacitors, asks) = (2 + random.below(11), 2 + random.below(11), 3 + random.below(28));
    let three_parts = seed % 5 == 4;
    let weights: Vec<u32> = (0..asks)
        .map(|_| {
            if seed.is_multiple_of(2) {
                1000
            } else {
                250 * (1 + random.below(8) as u32)
            }
        })
        .collect();
    let bests: Vec<[f64; 4]> = (0..asks).map(|_| [(); 4].map(|()| random.next())).collect();
    let pool_of = vec![0; resistors].into_iter().chain(vec![1; capacitors]).collect();
    let (mut all_needs, mut margins) = (Vec::new(), Vec::new());
    let mut add = |needs: Vec<usize>, places: &[f64], random: &mut Uniform| {
        all_needs.push(needs);
        for best in &bests {
            let away: f64 = best.iter().zip(places).map(|(best, place)| (best - place).abs()).sum();
            let margin = ((0.25 + 0.4 * best[3] - away + 0.15 * (random.next() - 0.5)) * 1000.0) as i32;
            margins.push(if random.next() < 0.03 { SILENT } else { margin });
        }
    };
    if random.next() < 0.5 {
        add(Vec::new(), &[0.1, 0.1], &mut random);
    }
    let place = |of: usize, index: usize| (index as f64 + 0.5) / of as f64;
    for resistor in 0..resistors {
        for capacitor in 0..capacitors {
            add(
                vec![resistor, resistors + capacitor],
                &[place(resistors, resistor), place(capacitors, capacitor)],
                &mut random,
            );
            // Two resistors of one pool beside a capacitor.
            for other in resistor..resistors * usize::from(three_parts) {
                let mut needs = vec![resistor, other, resistors + capacitor];
                needs.dedup();
                let places = [place(resistors, resistor), place(capacitors, capacitor), place(resistors, other)];
                add(needs, &places, &mut random);
            }
        }
    }
    let fixed = if seed % 3 == 2 { vec![random.below(resistors)] } else { Vec::new() };
    (Problem::new(pool_of, all_needs, margins, weights).expect("a problem"), fixed)
}

/// The best margin of every ask with a kit, found without any of the library.
fn best_margins(problem: &Problem, kit: &[usize]) -> Vec<i32> {
    let asks = problem.weights().len();
    let mut best = vec![SILENT; asks];
    for (network, needs) in problem.needs().iter().enumerate() {
        if needs.iter().all(|need| kit.contains(need)) {
            for (ask, best) in best.iter_mut().enumerate() {
                *best = (*best).max(problem.margins_of(network)[ask]);
            }
        }
    }
    best
}

/// Every kit of these sizes that holds what is fixed.
fn all_kits(problem: &Problem, sizes: &[usize], fixed: &[usize]) -> Vec<Vec<usize>> {
    let mut kits = vec![Vec::new()];
    for (pool, size) in sizes.iter().enumerate() {
        let values: Vec<usize> = (0..problem.pool_of().len())
            .filter(|value| problem.pool_of()[*value] == pool)
            .collect();
        let subsets: Vec<Vec<usize>> = (0_u32..1 << values.len())
            .filter(|bits| bits.count_ones() as usize == (*size).min(values.len()))
            .map(|bits| {
                (0..values.len())
                    .filter(|place| bits >> place & 1 == 1)
                    .map(|place| values[place])
                    .collect()
            })
            .collect();
        kits = kits
            .iter()
            .flat_map(|kit: &Vec<usize>| subsets.iter().map(|subset| [kit.as_slice(), subset].concat()))
            .collect();
    }
    kits.retain(|kit| fixed.iter().all(|value| kit.contains(value)));
    kits
}

fn plain_score(problem: &Problem, kit: &[usize], cut: i32, floor: i32) -> Score {
    let best = best_margins(problem, kit);
    let of_all = || best.iter().zip(problem.weights());
    Score {
        covered: of_all()
            .filter(|(margin, _)| **margin >= cut)
            .map(|(_, weight)| u64::from(*weight))
            .sum(),
        surplus: of_all()
            .map(|(margin, weight)| (i64::from((*margin).max(floor)) - i64::from(floor)) as u128 * u128::from(*weight))
            .sum(),
    }
}

const INSTANCES: u64 = 60;

#[test]
fn coverage_is_that_of_the_best_of_all_kits() {
    for seed in 0..INSTANCES {
        let (problem, fixed) = random_problem(seed);
        let wanted = Wanted::coverage(&[2, 2], &fixed);
        let found = choose(&problem, &wanted, None, Clock::ENDLESS).expect("a kit");
        let best = all_kits(&problem, &[2, 2], &fixed)
            .iter()
            .map(|kit| plain_score(&problem, kit, 0, 0))
            .max()
            .expect("kits");
        assert_eq!(found.score, best, "instance {seed}");
        assert!(found.optimal && found.most_covered == best.covered, "instance {seed}");
        assert_eq!(plain_score(&problem, &found.values, 0, 0), best, "instance {seed}");
        assert_eq!(score(&problem, &wanted, &found.values), best, "instance {seed}");
        assert!(fixed.iter().all(|value| found.values.contains(value)), "instance {seed}");
        for pool in 0..2 {
            assert!(
                found.values.iter().filter(|value| problem.pool_of()[**value] == pool).count() <= 2,
                "instance {seed}"
            );
        }
    }
}

fn asked<'a>(sizes: &'a [usize], fixed: &'a [usize], aim: Aim, floor: i32) -> Asked<'a> {
    Asked {
        sizes,
        fixed,
        aim,
        floor,
        budget: None,
        cheapest: true,
    }
}

/// Every kit of at most these sizes, smaller ones among them, by brute force.
fn all_kits_up_to(problem: &Problem, sizes: [usize; 2], fixed: &[usize]) -> Vec<Vec<usize>> {
    let sizes = (0..=sizes[0]).flat_map(|one| (0..=sizes[1]).map(move |other| [one, other]));
    let mut kits: Vec<Vec<usize>> = sizes.flat_map(|sizes| all_kits(problem, &sizes, fixed)).collect();
    kits.sort();
    kits.dedup();
    kits
}

/// With prices: of all kits within the budget the one that covers most, of these the cheapest, of these the one with the largest margins.
#[test]
fn money_is_spent_as_in_the_best_of_all_kits() {
    let (mut bound, mut cheaper) = (0, 0);
    for seed in 0..INSTANCES {
        let (problem, fixed) = random_problem(seed);
        let mut random = Uniform(seed + 31);
        let prices: Vec<u64> = problem.pool_of().iter().map(|_| 20_000 * (1 + random.below(6)) as u64).collect();
        let price = |kit: &[usize]| kit.iter().map(|value| prices[*value]).sum::<u64>();
        let kits = all_kits_up_to(&problem, [2, 2], &fixed);
        let figure = |kit: &[usize]| {
            let score = plain_score(&problem, kit, 0, 0);
            (score.covered, std::cmp::Reverse(price(kit)), score.surplus)
        };
        let priced = problem.clone().with_prices(prices.clone()).expect("prices");
        for budget in [None, Some(160_000), Some(230_000), Some(price(&fixed) + 40_000)] {
            let within = |kit: &&Vec<usize>| budget.is_none_or(|budget| price(kit) <= budget.max(price(&fixed)));
            let best = kits.iter().filter(within).map(|kit| figure(kit)).max().expect("kits");
            let asked = Asked {
                budget,
                ..asked(&[2, 2], &fixed, Aim::Coverage, 0)
            };
            let found = solve(&priced, &asked, None, Clock::ENDLESS);
            assert_eq!(figure(&found.values), best, "instance {seed}, {budget:?}");
            assert!(found.optimal && found.gap == 0.0, "instance {seed}, {budget:?}");
            let free = figure(&solve(&problem, &Asked { budget: None, ..asked }, None, Clock::ENDLESS).values);
            bound += usize::from(best.0 < free.0);
            cheaper += usize::from(best.0 == free.0 && best.1 > free.1);
        }
    }
    assert!(
        bound >= 20 && cheaper >= 10,
        "{bound} bound by the budget, {cheaper} cheaper than without prices"
    );
}

#[test]
fn the_worst_margin_is_that_of_the_best_of_all_kits() {
    for seed in 0..INSTANCES {
        let (problem, fixed) = random_problem(seed);
        let floor = [-2000, -300, 0, 100][seed as usize % 4];
        let found = solve(&problem, &asked(&[2, 2], &fixed, Aim::Margin, floor), None, Clock::ENDLESS);
        let figure = |kit: &[usize]| {
            let worst = best_margins(&problem, kit).into_iter().min().expect("asks");
            (worst, plain_score(&problem, kit, 0, floor).surplus)
        };
        let best = all_kits(&problem, &[2, 2], &fixed)
            .iter()
            .map(|kit| figure(kit))
            .max()
            .expect("kits");
        assert_eq!(figure(&found.values), best, "instance {seed}");
        assert_eq!(worst(&problem, &found.values), best.0, "instance {seed}");
        assert!(found.optimal && found.gap == 0.0, "instance {seed}");
    }
}

/// x: values in the kit; y ≤ x of each value it needs: networks at hand; z ≤ Σ y over the networks that serve: asks served.
#[test]
fn coverage_is_that_of_a_mixed_integer_model() {
    for seed in (0..INSTANCES).filter(|seed| seed % 5 != 4).step_by(5) {
        let (problem, fixed) = random_problem(seed);
        let asks = problem.weights().len();
        let mut variables = ProblemVariables::new();
        let values: Vec<_> = problem.pool_of().iter().map(|_| variables.add(variable().binary())).collect();
        let networks: Vec<_> = problem.needs().iter().map(|_| variables.add(variable().min(0).max(1))).collect();
        let served: Vec<_> = (0..asks).map(|_| variables.add(variable().min(0).max(1))).collect();
        let goal: Expression = served
            .iter()
            .zip(problem.weights())
            .map(|(served, weight)| f64::from(*weight) * *served)
            .sum();
        let mut model = variables.maximise(goal.clone()).using(microlp);
        for pool in 0..2 {
            let chosen: Expression = (0..values.len())
                .filter(|value| problem.pool_of()[*value] == pool)
                .map(|value| values[value])
                .sum();
            model.add_constraint(constraint!(chosen <= 2));
        }
        for value in &fixed {
            model.add_constraint(constraint!(values[*value] == 1));
        }
        for (network, needs) in problem.needs().iter().enumerate() {
            for need in needs {
                model.add_constraint(constraint!(networks[network] <= values[*need]));
            }
        }
        for (ask, served) in served.iter().enumerate() {
            let serving = (0..networks.len()).filter(|network| problem.margins_of(*network)[ask] >= 0);
            let at_hand: Expression = serving.map(|network| networks[network]).sum();
            model.add_constraint(constraint!(*served <= at_hand));
        }
        let solution = model.solve().expect("the model has a solution");
        let found = choose(&problem, &Wanted::coverage(&[2, 2], &fixed), None, Clock::ENDLESS).expect("a kit");
        let modelled = solution.eval(&goal);
        assert!(
            (modelled - found.score.covered as f64).abs() < 1e-3,
            "instance {seed}: {modelled} and {}",
            found.score.covered
        );
    }
}

#[test]
fn a_value_more_never_serves_less_and_a_known_kit_is_never_undone() {
    for seed in 0..20 {
        let (problem, _) = random_problem(seed);
        let best = |sizes: &[usize]| choose(&problem, &Wanted::coverage(sizes, &[]), None, Clock::ENDLESS).expect("a kit");
        let mut smaller = best(&[1, 1]);
        for sizes in [[1, 2], [2, 2], [3, 2], [3, 3]] {
            let larger = best(&sizes);
            assert!(larger.score >= smaller.score, "instance {seed}, {sizes:?}");
            // Without any time the kit begun with is what comes back, and no proof.
            let now = Clock::new(Some(Duration::ZERO));
            let hasty = choose(&problem, &Wanted::coverage(&sizes, &[]), Some(&smaller.values), now).expect("a kit");
            assert!(
                smaller.score <= hasty.score && hasty.score <= larger.score,
                "instance {seed}, {sizes:?}"
            );
            assert!(hasty.most_covered >= larger.score.covered, "instance {seed}, {sizes:?}");
            smaller = larger;
        }
    }
}

/// With ready-made networks the greedy choice serves at least 1 − 1/e of what the best does.
#[test]
fn the_greedy_guarantee_holds() {
    let mut worse = 0;
    for seed in 0..INSTANCES {
        let (pools, _) = random_problem(seed);
        let networks = pools.needs().len();
        let needs = (0..networks).map(|network| vec![network]).collect();
        let margins = (0..networks).flat_map(|network| pools.margins_of(network).to_vec()).collect();
        let problem = Problem::new(vec![0; networks], needs, margins, pools.weights().to_vec()).expect("a problem");
        let wanted = Wanted::coverage(&[3], &[]);
        let (best, quick) = (
            choose(&problem, &wanted, None, Clock::ENDLESS).expect("a kit"),
            greedy(&problem, &wanted, Clock::ENDLESS),
        );
        assert!(quick.score <= best.score, "instance {seed}");
        assert!(
            quick.score.covered as f64 >= (1.0 - (-1.0_f64).exp()) * best.score.covered as f64,
            "instance {seed}: {:?} and {:?}",
            quick.score,
            best.score
        );
        worse += usize::from(quick.score < best.score);
    }
    assert!(worse > 0, "the greedy choice is not always the best, or this would check nothing");
}

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("test", text).passage()).expect("a network")
}

fn shipped() -> Vec<Listed> {
    inputs::guitars(&[]).expect("the shipped catalogue")
}

fn key(part: &str) -> Key {
    Key {
        slot: None,
        part: part.to_owned(),
    }
}

fn rules(values: &str) -> Rules {
    let mut rules = Rules::default();
    rules
        .add_series(&Source::inline("--values", values).passage(), &[])
        .expect("series");
    rules
}

fn request(guitars: Vec<Listed>) -> Request {
    Request {
        guitars,
        targets: vec![inputs::target(None).expect("the default target")],
        searches: vec![(Slot::Bleed, network("R || C"))],
        rules: rules("R=E6,C=E6"),
        choose: Choose::Values(vec![(key("R"), 2), (key("C"), 2)]),
        pieces: Pieces::AsNeeded,
        fixed: Vec::new(),
        aim: Aim::Coverage,
        floor_db: -6.0,
        at_least_db: 0.0,
        yield_at_least: None,
        budget: None,
        bags: None,
        time_limit: None,
        threads: None,
    }
}

#[test]
fn permuting_guitars_changes_nothing() {
    for aim in [Aim::Coverage, Aim::Margin] {
        let one = kit(&Request { aim, ..request(shipped()) }, &()).expect("a kit");
        let mut guitars = shipped();
        guitars.reverse();
        guitars.rotate_left(17);
        let other = kit(&Request { aim, ..request(guitars) }, &()).expect("a kit");
        assert_eq!((&one.chosen, one.covered, &one.bag), (&other.chosen, other.covered, &other.bag));
        assert_eq!(
            (&one.growth, &one.drop_first, one.worst_margin_db),
            (&other.growth, &other.drop_first, other.worst_margin_db)
        );
        for served in &one.guitars {
            assert!(other.guitars.contains(served), "{}", served.name);
        }
        let threaded = kit(
            &Request {
                aim,
                threads: Some(3),
                ..request(shipped())
            },
            &(),
        )
        .expect("a kit");
        assert_eq!(one, threaded);
    }
}

/// A stock list of the kit's values alone, as the main job takes it.
fn stock_of(kit: &Kit) -> Stock {
    let mut text = "kind,value,tolerance,price,quantity,note\n".to_owned();
    for held in &kit.bag {
        let kind = if held.part.ends_with('R') { "resistor" } else { "capacitor" };
        text.push_str(&format!("{kind},{},,,,\n", held.written));
    }
    Stock::read(&Source::inline("kit.csv", text)).expect("a stock list")
}

/// With one piece of each value the choice is that of trying every bag, each guitar asked as the main job asks it with a stock list that has one of
/// each; with as many as are needed, the bag has as many as the guitar takes that takes most, and costs them all.
#[test]
fn a_bag_with_one_piece_of_each_is_the_best_of_all_such_bags() {
    let guitars: Vec<Listed> = shipped().into_iter().take(14).collect();
    let asked = |pieces| Request {
        searches: vec![(Slot::Bleed, network("R1 + (R2 || C)"))],
        rules: {
            let mut rules = rules("R=E3,C=E3");
            let ranges = Source::inline("--range", "R=40k..300k,C=900p..3n");
            rules.add_ranges(&ranges.passage(), &[]).expect("ranges");
            rules
        },
        choose: Choose::Values(vec![(key("R"), 2), (key("C"), 1)]),
        pieces,
        ..request(guitars.clone())
    };
    let (resistors, capacitors) = (["47k", "100k", "220k"], ["1n", "2n2"]);
    let covered_by = |one: &str, other: &str, farads: &str, quantity: &str| {
        let text = format!(
            "kind,value,tolerance,price,quantity,note\nresistor,{one},,,{quantity},\nresistor,{other},,,{quantity},\ncapacitor,{farads},,,{quantity},\n"
        );
        let rules = Rules {
            stock: Some(Stock::read(&Source::inline("bag.csv", text)).expect("a stock list")),
            ..Rules::default()
        };
        let is_served = |listed: &&Listed| {
            let request = recommend::Request {
                searches: asked(Pieces::One).searches,
                rules: rules.clone(),
                top: 100,
                explain: false,
                ..recommend::Request::new(listed.guitar.clone(), asked(Pieces::One).targets[0].clone())
            };
            let builds = recommend(&request, &()).map(|found| found.builds).unwrap_or_default();
            builds.iter().any(|build| build.margin_db >= 0.0)
        };
        guitars.iter().filter(is_served).count()
    };
    for (pieces, quantity) in [(Pieces::One, "1"), (Pieces::AsNeeded, "9")] {
        let mut best = 0;
        for (place, one) in resistors.iter().enumerate() {
            for other in &resistors[place + 1..] {
                best = best.max(
                    capacitors
                        .map(|farads| covered_by(one, other, farads, quantity))
                        .into_iter()
                        .max()
                        .unwrap(),
                );
            }
        }
        // Two guitars of one weight may be worth less than one of another: the choice is by weight, the count is what is compared.
        let even: Vec<Listed> = guitars.iter().map(|listed| Listed::once(listed.guitar.clone())).collect();
        let found = kit(
            &Request {
                guitars: even,
                ..asked(pieces)
            },
            &(),
        )
        .expect("a kit");
        assert!(found.optimal && found.covered == best, "{pieces:?}: {} and {best}", found.covered);
        for held in &found.bag {
            let taken = |served: &Served| {
                let kind = held.part.chars().next();
                let is_it = |(part, value): &&(String, f64)| {
                    Some(*value) == held.value && part.rsplit('.').next().and_then(|name| name.chars().next()) == kind
                };
                served.parts.0.iter().filter(is_it).count()
            };
            let most = found
                .guitars
                .iter()
                .filter(|served| served.meets_target)
                .map(taken)
                .max()
                .unwrap_or(0);
            assert_eq!(held.pieces, most.max(1), "{}", held.written);
            assert!(pieces == Pieces::AsNeeded || most <= 1, "{}", held.written);
        }
    }
}

/// Groups and the owner's columns pass from the catalogue into the answer.
#[test]
fn groups_and_own_columns_pass_through() {
    let text = "name,weight,group,x_article,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper,cable.capacitance\n\
                One,1,single coils,A-1,2.5 H,6 k,100 p,250 k,audio 15 %,500 p\nTwo,3,single coils,A-2,2.7 H,6 k,100 p,250 k,audio 15 %,500 p\n\
                Three,1,,,5 H,8 k,120 p,500 k,audio 15 %,500 p\n";
    let guitars = catalogue::read(&Source::inline("birds.csv", text)).expect("a catalogue");
    let found = kit(&request(guitars), &()).expect("a kit");
    let names: Vec<Option<&str>> = found.groups.iter().map(|group| group.name.as_deref()).collect();
    assert_eq!(names, [Some("single coils"), None]);
    let served = |names: &[&str]| {
        let named = |served: &&Served| names.contains(&served.name.as_str()) && served.meets_target;
        found.guitars.iter().filter(named).map(|served| served.weight).sum::<f64>()
    };
    assert_eq!(found.groups[0].covered_weight, served(&["One", "Two"]));
    assert_eq!(
        (found.groups[0].total, found.groups[0].total_weight, found.groups[1].total),
        (2, 4.0, 1)
    );
    let csv = knobwright::report::kit_csv(&found).expect("CSV");
    let header: Vec<&str> = csv.lines().next().unwrap().split(',').collect();
    assert!(header.contains(&"group") && header.last() == Some(&"x_article"), "{header:?}");
    assert!(csv.lines().nth(2).unwrap().ends_with(",A-2"), "{csv}");
}

#[test]
fn margins_are_those_of_the_main_job_with_the_kits_values() {
    let asked = request(shipped());
    let found = kit(&asked, &()).expect("a kit");
    assert!(
        found.covered > 0 && found.covered < found.total && found.optimal,
        "{} of {}",
        found.covered,
        found.total
    );
    for (listed, served) in asked.guitars.iter().zip(&found.guitars) {
        let best = |rules: Rules| {
            let request = recommend::Request {
                searches: asked.searches.clone(),
                rules,
                top: 1000,
                explain: false,
                ..recommend::Request::new(listed.guitar.clone(), asked.targets[0].clone())
            };
            let builds = recommend(&request, &()).expect("an answer").builds;
            builds
                .into_iter()
                .max_by(|one, other| one.margin_db.total_cmp(&other.margin_db))
                .expect("a build")
        };
        let (from_kit, own) = (
            best(Rules {
                stock: Some(stock_of(&found)),
                ..Rules::default()
            }),
            best(asked.rules.clone()),
        );
        assert_eq!(served.name, listed.guitar.name);
        assert_eq!(served.margin_db, Some(from_kit.margin_db), "{}", served.name);
        assert_eq!(
            (&served.slots, &served.parts),
            (&from_kit.slots, &from_kit.parts),
            "{}",
            served.name
        );
        assert_eq!(served.own_best_margin_db, Some(own.margin_db), "{}", served.name);
        assert_eq!(served.meets_target, from_kit.margin_db >= 0.0, "{}", served.name);
        let why = if own.margin_db >= 0.0 {
            LeftOut::NeedsAnother
        } else {
            LeftOut::NoneServes
        };
        assert_eq!(served.left_out, (!served.meets_target).then_some(why), "{}", served.name);
    }
    // What is counted is what is shown, and the curve's entry of this size is this kit.
    let met = found.guitars.iter().filter(|served| served.meets_target);
    assert_eq!(
        (met.clone().count(), met.map(|served| served.weight).sum::<f64>()),
        (found.covered, found.covered_weight)
    );
    let sizes: Vec<Vec<usize>> = found
        .growth
        .iter()
        .map(|growth| growth.sizes.0.iter().map(|size| size.1).collect())
        .collect();
    assert_eq!(sizes, [vec![1, 1], vec![2, 2], vec![2, 3], vec![3, 2], vec![3, 3], vec![4, 4]]);
    assert_eq!(
        (found.growth[1].covered, found.growth[1].covered_weight),
        (found.covered, found.covered_weight)
    );
    let weights: Vec<f64> = found.growth.iter().map(|growth| growth.covered_weight).collect();
    assert!(
        weights[0] <= weights[1] && weights[1] <= weights[2].min(weights[3]) && weights[2].max(weights[3]) <= weights[4],
        "{weights:?}"
    );
}

#[test]
fn the_lanes_margins_are_those_of_the_definition() {
    let target = inputs::target(None).expect("the default target");
    for text in ["R || C", "R + C", "R1 + (R2 || C)"] {
        let rules = rules("R=E3,C=E3");
        let slots = |network| vec![SlotSpace::new(Slot::Bleed, network, &rules).expect("values")];
        let spaces = [
            Space {
                slots: slots(network(text)),
            },
            Space { slots: slots(None) },
        ];
        for listed in shipped().iter().step_by(7) {
            let plan = Plan::new(&listed.guitar, &listed.guitar, &target, &[Slot::Bleed]).expect("no silent position");
            let mut evaluator = Evaluator::new(&plan);
            let mut seen = [0, 0];
            every_margin(&plan, &spaces, None, 1e-5, &|| false, &mut |space, index, margin| {
                seen[space] += 1;
                let mut choices = Vec::new();
                assert!(spaces[space].choices(index, &mut choices));
                let fitted = [(Slot::Bleed, spaces[space].slots[0].network.as_ref())];
                let exact = evaluator.worst(&fitted, &spaces[space].values(&choices)).map(|worst| worst.margin);
                let (margin, exact) = (margin.expect("a sound"), exact.expect("a sound"));
                assert!((margin - exact).abs() < 1e-6, "{text}: {margin} and {exact}");
                assert_eq!(margin >= 0.0, exact >= 0.0, "{text}");
            });
            assert_eq!(seen.map(|seen| seen as u64), [spaces[0].count(), 1]);
        }
    }
}

#[test]
fn fixed_values_networks_and_several_targets() {
    // A value outside the series stays in, and counts.
    let with_fixed = kit(
        &Request {
            fixed: vec![(key("R"), 155e3)],
            ..request(shipped())
        },
        &(),
    )
    .expect("a kit");
    assert!(with_fixed.bag.iter().any(|held| held.fixed && held.value == Some(155e3)));
    assert!(with_fixed.bag.iter().filter(|held| held.part == "bleed.R").count() <= 2);

    let networks = kit(
        &Request {
            choose: Choose::Networks(3),
            ..request(shipped())
        },
        &(),
    )
    .expect("a kit");
    assert!(networks.optimal && networks.bag.len() <= 3 && networks.bag.iter().all(|held| held.value.is_none()));
    // Two and two values make four networks: four of one's own choosing serve no fewer.
    let free = networks
        .growth
        .iter()
        .find(|growth| growth.sizes.0[0].1 == 4)
        .expect("four networks");
    assert!(free.covered_weight >= kit(&request(shipped()), &()).expect("a kit").covered_weight);

    let targets = [
        "keep highs within 4 dB from full to half volume",
        "keep highs within 6 dB from full to half volume",
    ];
    let both = kit(
        &Request {
            targets: targets
                .iter()
                .map(|target| inputs::target(Some(target)).expect("a target"))
                .collect(),
            ..request(shipped())
        },
        &(),
    )
    .expect("a kit");
    assert_eq!((both.total, both.guitars.len()), (120, 120));
    // Whoever meets the stricter target meets the looser one.
    for pair in both.guitars.chunks(2) {
        assert_eq!(pair[0].name, pair[1].name);
        assert!(!pair[0].meets_target || pair[1].meets_target, "{}", pair[0].name);
        assert!(pair[1].own_best_margin_db > pair[0].own_best_margin_db, "{}", pair[0].name);
    }
}

#[test]
fn a_guitar_that_the_search_does_not_go_with_is_left_out_with_the_reason() {
    let mut guitars = shipped();
    guitars.truncate(6);
    let mut bare = guitars[2].clone();
    bare.guitar.tone = None;
    bare.guitar.name = "Bare".to_owned();
    guitars.push(bare);
    let asked = Request {
        targets: vec![inputs::target(Some("cut highs by at least 6 dB at tone 0")).expect("a target")],
        searches: vec![(Slot::Tone, network("C"))],
        choose: Choose::Values(vec![(key("C"), 1)]),
        ..request(guitars)
    };
    let found = kit(&asked, &()).expect("a kit");
    assert_eq!(found.total, 7);
    let last = &found.guitars[6];
    assert!(
        matches!(&last.left_out, Some(LeftOut::DoesNotFit(why)) if why.contains("tone control")),
        "{last:?}"
    );
    assert!(found.covered > 0 && !last.meets_target && last.margin_db.is_none());
}

#[test]
fn a_catalogue_is_read_as_its_rows_guitar_files_would_be() {
    let listed = shipped();
    let first = &listed[0].guitar;
    let text = format!(
        "name = \"{}\"\n[pickup]\ninductance = \"2.61 H\"\nresistance = \"6.8 k\"\ncapacitance = \"95 p\"\n[volume]\nresistance = \"250 k\"\n\
         taper = \"audio 20 %\"\n[tone]\nresistance = \"250 k\"\ntaper = \"audio 15 %\"\nnetwork = \"15n\"\n[cable]\ncapacitance = \"550 p\"\n",
        first.name
    );
    assert_eq!(*first, Guitar::read(&Source::inline("first.toml", text)).expect("a guitar"));
    assert_eq!(catalogue::summary(&listed), "60 guitars, of weight 84 together");
}

/// Counts steps, and when the last of them was done.
#[derive(Default)]
struct Steps {
    expected: AtomicU64,
    done: AtomicU64,
    last: Mutex<Option<Instant>>,
}

impl Progress for Steps {
    fn expect(&self, steps: u64) {
        self.expected.fetch_add(steps, Ordering::Relaxed);
    }

    fn advance(&self, steps: u64) {
        self.done.fetch_add(steps, Ordering::Relaxed);
        *self.last.lock().expect("no step panics") = Some(Instant::now());
    }
}

impl Steps {
    fn are_all_done(&self) -> bool {
        self.done.load(Ordering::Relaxed) == self.expected.load(Ordering::Relaxed)
    }
}

/// Sixty guitars and networks of three parts: a choice that takes minutes.
fn hard() -> Request {
    Request {
        searches: vec![(Slot::Bleed, network("R1 + (R2 || C)"))],
        rules: rules("R=E12,C=E12"),
        choose: Choose::Values(vec![(key("R"), 3), (key("C"), 3)]),
        ..request(shipped())
    }
}

#[test]
fn a_time_limit_holds_for_all_of_a_kit_and_what_was_left_out_is_said() {
    const LIMIT: Duration = Duration::from_secs(3);
    // To within a second on a machine with nothing else to do; tests share theirs with many. A limit for each of the seven sizes would still
    // take twice as long.
    const LATEST: Duration = Duration::from_secs(8);
    for (aim, limit) in [(Aim::Coverage, LIMIT), (Aim::Margin, LIMIT), (Aim::Coverage, Duration::ZERO)] {
        let request = Request {
            aim,
            time_limit: Some(limit),
            ..hard()
        };
        let (steps, begun) = (Steps::default(), Instant::now());
        let found = kit(&request, &steps);
        let took = begun.elapsed();
        assert!(took < limit + LATEST, "{aim:?}: {took:?} where {limit:?} was allowed");
        // On a machine so busy that not one guitar could be weighed, that is said instead.
        let found = match found {
            Ok(found) => found,
            Err(error) => {
                assert!(error.message().contains("time was over"), "{error:?}");
                continue;
            }
        };
        // A guitar that no network serves well settles the worst margin of those that were weighed at once.
        assert!(!found.optimal && (found.gap > 0.0 || aim == Aim::Margin), "{aim:?}");
        assert!(steps.are_all_done(), "{aim:?}: the bar ends where the job ends");
        let last = steps.last.lock().expect("no step panics").expect("steps");
        assert!(
            last.elapsed() < took / 2,
            "{aim:?}: the last step was done {:?} before the end",
            last.elapsed()
        );
        let text = found.document().text(80).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("The time was too short for a proof"), "{text}");
        assert_eq!(
            found.left_for_time.is_some(),
            text.contains("The time limit ended the work early"),
            "{text}"
        );
        let json: serde_json::Value = serde_json::from_str(&report::json(&found).expect("JSON")).expect("JSON");
        let Some(left) = &found.left_for_time else { continue };
        assert_eq!(json["left_for_time"]["not_weighed"], left.not_weighed);
        let not_weighed = found.guitars.iter().filter(|served| served.left_out == Some(LeftOut::NotWeighed));
        assert_eq!(not_weighed.count(), left.not_weighed);
        for sizes in &left.sizes_not_tried {
            let named: Vec<String> = sizes.0.iter().map(|(key, count)| format!("{key}={count}")).collect();
            assert!(text.contains(&named.join(",")), "{text}");
            assert!(found.growth.iter().all(|growth| growth.sizes != *sizes));
        }
    }
}

#[test]
fn a_limit_that_is_not_reached_changes_nothing() {
    for aim in [Aim::Coverage, Aim::Margin] {
        let unlimited = Request { aim, ..request(shipped()) };
        let limited = Request {
            time_limit: Some(Duration::from_secs(3600)),
            ..unlimited.clone()
        };
        let (steps, whole) = (Steps::default(), kit(&unlimited, &()).expect("a kit"));
        assert_eq!(kit(&limited, &steps).expect("a kit"), whole);
        assert!(whole.left_for_time.is_none() && steps.are_all_done());
        let endless = Request {
            time_limit: Some(Duration::MAX),
            ..unlimited
        };
        assert_eq!(kit(&endless, &()).expect("a kit"), whole);
    }
}

/// At whatever moment the time is over: a kit of the sizes wanted, no better than the best, and a bound that the best does not pass.
#[test]
fn a_kit_cut_short_is_sound_and_its_gap_holds() {
    for seed in 0..INSTANCES {
        let (problem, fixed) = random_problem(seed);
        let wanted = Wanted::coverage(&[2, 2], &fixed);
        let whole = choose(&problem, &wanted, None, Clock::ENDLESS).expect("a kit");
        for micros in [0, 50, 200, 1000] {
            let clock = || Clock::new(Some(Duration::from_micros(micros)));
            let short = choose(&problem, &wanted, None, clock()).expect("a kit");
            assert!(
                short.score <= whole.score && short.most_covered >= whole.score.covered,
                "instance {seed}"
            );
            assert!(!short.optimal || short.score == whole.score, "instance {seed}");
            assert!(fixed.iter().all(|value| short.values.contains(value)), "instance {seed}");
            let worst_of = |clock| {
                let kit = solve(&problem, &asked(&[2, 2], &fixed, Aim::Margin, -300), None, clock);
                (f64::from(worst(&problem, &kit.values)), kit.gap)
            };
            let ((reached, gap), (best, _)) = (worst_of(clock()), worst_of(Clock::ENDLESS));
            assert!(
                reached <= best && best <= reached + gap,
                "instance {seed}: {reached} + {gap} and {best}"
            );
        }
    }
}

#[test]
fn requests_that_no_command_line_lets_through_are_refused_or_answered() {
    let few = || shipped().into_iter().take(2).collect::<Vec<_>>();
    let told = |request: Request| kit(&request, &()).expect_err("nothing to choose").message().to_owned();
    assert!(told(request(Vec::new())).contains("no guitar"));
    let without_targets = Request {
        targets: Vec::new(),
        ..request(few())
    };
    assert!(told(without_targets).contains("no target"));
    let without_searches = Request {
        searches: Vec::new(),
        ..request(few())
    };
    assert!(told(without_searches).contains("free part"));
    for size in [0, 51, usize::MAX] {
        for choose in [Choose::Networks(size), Choose::Values(vec![(key("R"), 2), (key("C"), size)])] {
            let sized = Request { choose, ..request(few()) };
            assert!(told(sized).contains("holds 1 to 50"), "{size}");
        }
    }
    let unnamed = Request {
        choose: Choose::Values(Vec::new()),
        ..request(few())
    };
    assert!(told(unnamed).contains("how many values"));
    for value in [f64::NAN, f64::INFINITY, 0.0, -1.0] {
        let fixed = Request {
            fixed: vec![(key("R"), value)],
            ..request(few())
        };
        assert!(told(fixed).contains("no value of a part"), "{value}");
    }
    let mut weightless = few();
    weightless[1].weight = 0;
    assert!(told(request(weightless)).contains("weight is 0"));
    let empty = Request {
        rules: Rules {
            stock: Some(Stock::default()),
            ..rules("R=E6,C=E6")
        },
        ..request(few())
    };
    let _ = kit(&empty, &());
    for threads in [0, 1_000_000_000, usize::MAX] {
        let threaded = Request {
            threads: Some(threads),
            ..request(few())
        };
        assert_eq!(
            kit(&threaded, &()).expect("a kit"),
            kit(&request(few()), &()).expect("a kit"),
            "{threads}"
        );
    }
    let odd = Request {
        floor_db: f64::NAN,
        aim: Aim::Margin,
        ..request(few())
    };
    assert!(kit(&odd, &()).is_ok());
}

/// More networks than can be told apart: with more than 65,534, one was taken for others.
#[test]
fn too_many_ready_made_networks_are_refused() {
    let request = Request {
        rules: rules("R=E24,C=E12"),
        choose: Choose::Networks(2),
        guitars: shipped().into_iter().take(1).collect(),
        ..hard()
    };
    let error = kit(&request, &()).expect_err("too many");
    assert!(error.message().contains("too many"), "{error:?}");
}

#[test]
fn a_problem_that_does_not_go_together_is_refused() {
    let new = |pool_of: &[usize], needs: &[&[usize]], margins: &[i32], weights: &[u32]| {
        let needs = needs.iter().map(|needs| needs.to_vec()).collect();
        Problem::new(pool_of.to_vec(), needs, margins.to_vec(), weights.to_vec())
    };
    assert!(new(&[0, 1], &[&[], &[0, 1]], &[1, 2], &[1]).is_ok());
    assert!(new(&[0], &[&[0, 1]], &[1], &[1]).is_err(), "a value there is not");
    assert!(new(&[0], &[&[0, 0]], &[1], &[1]).is_err(), "a value twice");
    assert!(new(&[0; 5], &[&[0, 1, 2, 3, 4]], &[1], &[1]).is_err(), "five values");
    assert!(new(&[0], &[&[0]], &[1], &[1, 1]).is_err(), "a margin too few");
    assert!(new(&[0], &[&[0]], &[1], &[0]).is_err(), "an ask that counts nothing");
    assert!(new(&[usize::MAX], &[], &[], &[]).is_err(), "a pool that there cannot be");
    assert!(new(&vec![0; 70_000], &[], &[], &[]).is_err(), "too many values");
    let nobody = new(&[0, 1], &[&[0], &[0, 1]], &[], &[]).expect("nobody to serve");
    let (nothing, all) = (Problem::default(), Clock::ENDLESS);
    for problem in [&nothing, &nobody, &random_problem(3).0] {
        for sizes in [vec![], vec![usize::MAX; 2], vec![1; 9]] {
            let wanted = Wanted::coverage(&sizes, &[usize::MAX, 0, 0]);
            let known = [7_000, 0, usize::MAX];
            assert!(choose(problem, &wanted, Some(&known), all).is_some());
            let _ = (
                score(problem, &wanted, &known),
                greedy(problem, &wanted, all),
                worst(problem, &known),
            );
            for aim in [Aim::Coverage, Aim::Margin] {
                let solved = solve(problem, &asked(&sizes, &[usize::MAX], aim, i32::MIN), Some(&known), all);
                assert!(solved.values.iter().all(|value| *value < problem.pool_of().len()));
            }
        }
    }
    assert!(nothing.margins_of(usize::MAX).is_empty());
}

/// Any guitar of a catalogue is asked by its name or its row, and is the guitar that its row stands for.
#[test]
fn a_guitar_of_a_catalogue_is_asked_by_name_or_row() {
    let name = knobwright::shipped::CATALOGUES[0].name;
    let third = &shipped()[2].guitar;
    for row in [third.name.as_str(), "3"] {
        let asked = format!("{name}#{row}");
        let found = inputs::Inputs::default()
            .guitar(Some(asked.as_ref()))
            .unwrap_or_else(|error| panic!("{}", error.picture()));
        assert_eq!(&found, third);
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("own.csv");
    std::fs::write(&path, knobwright::shipped::CATALOGUES[0].text).unwrap();
    let asked = format!("{}#{}", path.display(), third.name);
    program::ends(&["response", "--guitar", &asked, "--frequencies", "1k"], 0);
    let refused = program::refused(&["recommend", "--guitar", &format!("{name}#Kitiwake, neck")]);
    assert!(
        refused.contains("has no guitar `Kitiwake, neck`") && refused.contains("did you mean"),
        "{refused}"
    );
    let refused = program::refused(&["recommend", "--guitar", &format!("{name}#0")]);
    assert!(refused.contains("has no guitar `0`"), "{refused}");
}

/// A bag that serves nobody says so, with the guitar that comes nearest, and ends with status 1; several values of a key stand after each other.
#[test]
fn a_bag_that_serves_nobody_says_so() {
    let asked = [
        "kit",
        "--search",
        "bleed=R",
        "--choose",
        "R=1",
        "--target",
        "keep highs within 1 dB from full to quarter volume",
    ];
    let screen = program::ends(&asked, 1).replace('\n', " ");
    assert!(
        screen.starts_with("No bag of this size serves any of the 60 guitars.") && screen.contains("comes nearest"),
        "{screen}"
    );
    let kept = program::ends(
        &[
            "kit",
            "--values",
            "R=E3,C=E3",
            "--choose",
            "R=2,C=1",
            "--fixed",
            "R=100k,220k",
            "--format",
            "json",
        ],
        0,
    );
    let json: serde_json::Value = serde_json::from_str(&kept).unwrap();
    let fixed: Vec<f64> = json["bag"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|held| held["fixed"] == true)
        .map(|held| held["value"].as_f64().unwrap())
        .collect();
    assert_eq!(fixed, [100e3, 220e3]);
    let refused = program::refused(&["kit", "--stock", "small-workshop", "--fixed", "R=101k"]);
    assert!(refused.contains("the stock list has none"), "{refused}");
}

/// A stock list of E3 values with prices and pieces.
const DRAWER: &str = "kind,value,tolerance,price,quantity,note\nresistor,47k,5 %,0.05,120,\nresistor,100k,5 %,0.08,90,\nresistor,220k,5 %,0.02,40,\n\
                      resistor,470k,5 %,0.03,10,\ncapacitor,470p,10 %,0.20,50,\ncapacitor,1n,10 %,0.11,77,\ncapacitor,2n2,10 %,0.30,200,\n";

fn drawer() -> Rules {
    Rules {
        stock: Some(Stock::read(&Source::inline("drawer.csv", DRAWER)).expect("a stock list")),
        ..Rules::default()
    }
}

/// Served means served: for every bag there is, each guitar is asked by the main job what its best network from the bag does, and, where a
/// share of builds is asked for, in how many it works; the bag chosen serves as many as the best of all.
#[test]
fn a_least_margin_and_a_least_yield_are_kept_exactly() {
    let guitars: Vec<Listed> = shipped().into_iter().take(12).collect();
    let (resistors, capacitors) = (["47k", "100k", "220k", "470k"], ["470p", "1n", "2n2"]);
    for (at_least_db, yield_at_least) in [(0.5, None), (1.5, None), (0.0, Some(0.9)), (0.3, Some(0.7))] {
        let request = Request {
            rules: drawer(),
            at_least_db,
            yield_at_least,
            choose: Choose::Values(vec![(key("R"), 2), (key("C"), 1)]),
            ..request(guitars.clone())
        };
        let found = kit(&request, &()).expect("a kit");
        // Margin and yield of each network on each guitar by the main job; yields as it draws them, of as many builds.
        let mut serves = std::collections::BTreeMap::new();
        for (place, listed) in guitars.iter().enumerate() {
            let asked = recommend::Request {
                searches: request.searches.clone(),
                rules: drawer(),
                top: 100,
                explain: false,
                lot: Some(knobwright::tolerance::Lot {
                    builds: 1000,
                    ..knobwright::tolerance::Lot::default()
                }),
                ..recommend::Request::new(listed.guitar.clone(), request.targets[0].clone())
            };
            for build in recommend(&asked, &()).map(|found| found.builds).unwrap_or_default() {
                let works = yield_at_least.is_none_or(|least| build.built.is_some_and(|built| built.share >= least));
                let network = build.slots[&Slot::Bleed].clone();
                serves.insert((place, network), build.margin_db >= at_least_db && works);
            }
        }
        let mut best = 0;
        for (place, one) in resistors.iter().enumerate() {
            for other in &resistors[place + 1..] {
                for farads in capacitors {
                    let bag = [one, other, &farads];
                    let is_served = |guitar: &usize| {
                        serves.iter().any(|((own, network), serves)| {
                            own == guitar
                                && *serves
                                && network
                                    .split(" || ")
                                    .all(|part| part == "none" || bag.iter().any(|held| **held == part))
                        })
                    };
                    best = best.max((0..guitars.len()).filter(is_served).count());
                }
            }
        }
        assert_eq!(found.covered, best, "{at_least_db} {yield_at_least:?}");
        assert!(found.optimal, "{at_least_db} {yield_at_least:?}");
        for served in &found.guitars {
            let margin = served.margin_db.unwrap_or(f64::NEG_INFINITY);
            if served.meets_target {
                assert!(margin >= at_least_db, "{}: {margin}", served.name);
                let share = served.built.expect("its yield").share;
                assert!(yield_at_least.is_none_or(|least| share >= least), "{}: {share}", served.name);
            }
        }
    }
}

/// Pieces in stock, bags, orders, prices by size and what one more would bring, worked out by hand from the answer and the list.
#[test]
fn the_desk_is_told_what_to_order_and_what_one_more_would_bring() {
    let guitars = shipped();
    let asked = |choose: Vec<(Key, usize)>, fixed: Vec<(Key, f64)>| Request {
        rules: drawer(),
        bags: Some(100),
        choose: Choose::Values(choose),
        fixed,
        ..request(guitars.clone())
    };
    let found = kit(&asked(vec![(key("R"), 1), (key("C"), 1)], vec![(key("R"), 100e3)]), &()).expect("a kit");
    let listed = |written: &str| -> (f64, u32) {
        let row = DRAWER.lines().find(|row| row.split(',').nth(1) == Some(written)).expect("a row");
        let cells: Vec<&str> = row.split(',').collect();
        (cells[3].parse().expect("a price"), cells[4].parse().expect("a quantity"))
    };
    let mut bags = u64::MAX;
    for held in &found.bag {
        let (price, quantity) = listed(&held.written);
        assert_eq!((held.unit_price, held.in_stock), (Some(price), Some(quantity)), "{}", held.written);
        assert_eq!(
            held.to_order,
            Some((100 * held.pieces as u64).saturating_sub(u64::from(quantity))),
            "{}",
            held.written
        );
        bags = bags.min(u64::from(quantity) / held.pieces as u64);
    }
    assert_eq!(found.bags_in_stock, Some(bags));
    let held: Vec<&str> = found.bag.iter().map(|held| held.written.as_str()).collect();
    let mut same: Vec<_> = found.growth.iter().filter(|growth| growth.holds.len() == held.len()).collect();
    same.retain(|growth| held.iter().all(|written| growth.holds.iter().any(|own| own == written)));
    let own = same.first().expect("its own row");
    let sum: f64 = found.bag.iter().map(|held| held.unit_price.unwrap() * held.pieces as f64).sum();
    assert!((own.price.unwrap() - sum).abs() < 1e-9, "{:?} and {sum}", own.price);
    assert!(!found.additions.is_empty(), "{:?}", found.growth);
    for more in &found.additions {
        // The same bag with one more in it, all of it kept.
        let is_resistor = more.part.ends_with('R');
        let mut fixed: Vec<(Key, f64)> = found
            .bag
            .iter()
            .map(|held| (key(if held.part.ends_with('R') { "R" } else { "C" }), held.value.unwrap()))
            .collect();
        let written = Source::inline("more", more.written.clone());
        let value = if is_resistor {
            knobwright::units::read_ohms(&written.passage()).unwrap().value()
        } else {
            knobwright::units::read_farads(&written.passage()).unwrap().value()
        };
        fixed.push((key(if is_resistor { "R" } else { "C" }), value));
        let of_kind = |is_resistor: bool| found.bag.iter().filter(|held| held.part.ends_with('R') == is_resistor).count();
        let sizes = [of_kind(true) + usize::from(is_resistor), of_kind(false) + usize::from(!is_resistor)];
        let with = kit(&asked(vec![(key("R"), sizes[0]), (key("C"), sizes[1])], fixed), &()).expect("a kit");
        assert_eq!(with.covered, more.covered, "{}", more.written);
        assert!(more.covered > found.covered);
    }
    let text = found.document().text(2000);
    assert!(
        text.contains("If one may be added: ") && text.contains("For 100 bags order "),
        "{text}"
    );
    let tables = report::kit_tables(&found).expect("tables");
    assert_eq!(
        tables.iter().map(|(name, _)| *name).collect::<Vec<_>>()[..3],
        ["bag.csv", "guitars.csv", "growth.csv"]
    );
    assert_eq!(tables[0].1.lines().count(), 1 + found.bag.len());
    // The bag is a stock list for `batch`.
    let stock = Stock::read(&Source::inline("bag.csv", tables[0].1.clone())).expect("a stock list");
    let rows: Vec<(f64, Option<u32>)> = stock.rows.iter().map(|row| (row.value, row.quantity)).collect();
    let held: Vec<(f64, Option<u32>)> = found
        .bag
        .iter()
        .map(|held| (held.value.unwrap(), Some(held.pieces as u32)))
        .collect();
    assert_eq!(rows, held);
}

/// A budget that a bag of the full size breaks is kept, and one without prices is refused.
#[test]
fn a_budget_is_kept() {
    let asked = |rules: Rules, budget: f64| Request {
        rules,
        budget: Some(budget),
        choose: Choose::Values(vec![(key("R"), 2), (key("C"), 2)]),
        ..request(shipped())
    };
    let dear = kit(&asked(drawer(), 9.0), &()).expect("a kit");
    let cheap = kit(&asked(drawer(), 0.20), &()).expect("a kit");
    let paid: f64 = cheap.bag.iter().map(|held| held.unit_price.unwrap()).sum();
    assert!(
        paid <= 0.20 + 1e-12 && cheap.covered <= dear.covered && cheap.covered > 0,
        "{paid}, {} and {}",
        cheap.covered,
        dear.covered
    );
    let refused = kit(&asked(rules("R=E6,C=E6"), 1.0), &()).expect_err("no prices");
    assert!(refused.message().contains("price"), "{refused}");
}

/// What a shop's export looks like: semicolons, decimal commas, a price with its currency, columns in another order and of its own, in UTF-8
/// with a mark, UTF-16 or Latin-1. It is the same list as the plain one, and what was understood is said.
#[test]
fn a_shops_export_is_read() {
    let plain = "kind,value,tolerance,price,quantity,note\nresistor,4.7k,5 %,0.12,30,\nresistor,150k,1 %,0.05,,\ncapacitor,1.5n,10 %,0.4,7,Gr\u{f6}\u{df}e 2\n";
    let shop = "Art.-Nr;value;kind;price;tolerance;note;quantity\nR-1;4,7k;resistor;0,12 \u{20ac};5 %;;30\nR-2;150k;resistor;\u{20ac} 0,05;1 %;;\nC-9;1,5 nF;capacitor;EUR 0,40;10 %;Gr\u{f6}\u{df}e 2;7\n";
    let read = |text: &str| Stock::read(&Source::inline("shop.csv", text)).unwrap_or_else(|error| panic!("{}", error.picture()));
    assert_eq!(read(shop), read(plain));
    assert_eq!(read(&shop.replace(';', "\t")), read(plain));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.csv");
    let latin: Vec<u8> = shop
        .chars()
        .map(|letter| if letter == '\u{20ac}' { 0x80 } else { u32::from(letter) as u8 })
        .collect();
    let utf16: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain(shop.encode_utf16().flat_map(u16::to_le_bytes))
        .collect();
    for (bytes, said) in [
        (shop.as_bytes().to_vec(), ""),
        (latin, "read as Latin-1"),
        (utf16, "read as UTF-16"),
    ] {
        std::fs::write(&path, bytes).unwrap();
        let inputs = inputs::Inputs::default();
        assert_eq!(
            inputs.stock(path.as_os_str()).unwrap_or_else(|error| panic!("{}", error.picture())),
            read(plain)
        );
        let notes = inputs.notes().join(" ");
        assert!(
            notes.contains(said) && notes.contains("separated by semicolons, decimals with a comma"),
            "{notes}"
        );
    }
    let refused = |text: &str| Stock::read(&Source::inline("shop.csv", text)).expect_err("refused").picture();
    assert!(refused("kind;value;quantitiy\nresistor;1k;3\n").contains("did you mean `quantity`?"));
    assert!(refused("value;price\n1k;3\n").contains("no column `kind`"));
    assert!(refused("kind;value;kind\nresistor;1k;3\n").contains("two columns"));
    // A catalogue is read so too, and names keep their commas.
    let catalogue = "name;pickup.inductance;pickup.resistance;pickup.capacitance;volume.resistance;volume.taper;cable.capacitance\nKittiwake, neck;2,4 H;6,1k;110p;250k;linear;500p\n";
    let listed = catalogue::read(&Source::inline("birds.csv", catalogue)).expect("a catalogue");
    assert_eq!(listed[0].guitar.name, "Kittiwake, neck");
    assert!((listed[0].guitar.pickup.inductance.value() - 2.4).abs() < 1e-12);
}

/// Out again for a spreadsheet: semicolons, decimal commas, the same figures to six digits.
#[test]
fn tables_are_written_for_spreadsheets_with_decimal_commas() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_str().unwrap();
    let asked = ["kit", "--quiet", "--values", "R=E3,C=E3", "--choose", "R=2,C=1", "--format", "csv"];
    let plain = program::ends(&asked, 0);
    let commas = program::ends(&program::with(&asked, &["--csv-for", "spreadsheet-comma", "--tables", path]), 0);
    let (mut numbers, mut lines) = (0, 0);
    for (one, other) in plain.lines().zip(commas.lines()) {
        lines += 1;
        let read = |line: &str, delimiter: u8| -> Vec<String> {
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .delimiter(delimiter)
                .from_reader(line.as_bytes());
            reader.records().next().unwrap().unwrap().iter().map(str::to_owned).collect()
        };
        let (one, other) = (read(one, b','), read(other, b';'));
        assert_eq!(one.len(), other.len(), "{other:?}");
        for (one, other) in one.iter().zip(&other) {
            match one.parse::<f64>() {
                Ok(value) if one.contains('.') => {
                    numbers += 1;
                    assert!(!other.contains('.'), "{other}");
                    let back: f64 = other.replace(',', ".").parse().unwrap();
                    assert!((back - value).abs() <= 5e-6 * value.abs().max(1e-9), "{one} and {other}");
                }
                _ => assert_eq!(one, other),
            }
        }
    }
    assert_eq!((lines, plain.lines().count()), (commas.lines().count(), commas.lines().count()));
    assert!(numbers > 100, "{numbers}");
    for name in ["bag.csv", "guitars.csv", "growth.csv"] {
        let text = std::fs::read_to_string(folder.path().join(name)).unwrap();
        assert!(text.lines().next().unwrap().contains(';'), "{name}: {text}");
    }
}

/// The card of a bag names every part with its marks, draws each form once and has a row for every guitar that is served.
#[test]
fn a_card_goes_into_the_bag() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("card.html");
    let asked = [
        "kit",
        "--quiet",
        "--values",
        "R=E3,C=E3",
        "--choose",
        "R=2,C=1",
        "--search",
        "bleed=R || C",
        "--search",
        "bleed=R + C",
    ];
    let answer = program::json(&program::with(&asked, &["--card", path.to_str().unwrap()]), 0);
    let html = std::fs::read_to_string(&path).unwrap();
    let mut forms = std::collections::BTreeSet::new();
    for held in answer["bag"].as_array().unwrap() {
        let marking = held["marking"].as_str().unwrap();
        assert!(html.contains(marking), "{marking}");
    }
    for served in answer["guitars"].as_array().unwrap() {
        let is_served = served["meets_target"] == true;
        assert_eq!(
            html.contains(&format!(">{}<", served["name"].as_str().unwrap())),
            is_served,
            "{}",
            served["name"]
        );
        let network = served["slots"]["bleed"].as_str().unwrap_or("none");
        if is_served && network != "none" {
            forms.insert(network.contains("||"));
        }
    }
    assert_eq!(html.matches("<svg").count(), forms.len(), "a drawing of each form");
    assert!(html.contains("Before soldering"));
    let refused = program::refused(&["kit", "--card", "card.txt"]);
    assert!(refused.contains("expected .html"), "{refused}");
}
