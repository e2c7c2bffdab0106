//! The fast search against its slow twin, which evaluates every candidate by the definition: same builds, same order, same figures.
//!
//! Guitars, targets, what-if cases, stock and spaces are drawn at random from fixed seeds.

mod support;

use std::sync::atomic::{AtomicUsize, Ordering};

use knobwright::guitar::{Case as WhatIf, Guitar, Joint, Slot};
use knobwright::inputs;
use knobwright::kernel::lanes::Isa;
use knobwright::kernel::plan::Plan;
use knobwright::parts::choice::{Key, Range, Rules};
use knobwright::parts::network::Network;
use knobwright::parts::series::Series;
use knobwright::parts::stock::Stock;
use knobwright::recommend::{Build, Request, recommend};
use knobwright::search::exhaustive::{Evaluator, all_above, search_by_definition, search_with, with_threads};
use knobwright::search::pruned::{Method, every_margin};
use knobwright::search::ranking::Entry;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::shipped::{GUITARS, TARGETS};
use knobwright::source::Source;
use knobwright::target::{Against, Target};
use proptest::prelude::*;
use support::{farads, ohms, random};

/// How many random guitars, targets and spaces are searched, some by each thread.
const CASES: u32 = 2000;
const THREADS: u32 = 4;
/// Points of the plan times candidates of a case at most, for the slow twin's sake.
const MOST_WORK: u64 = 400_000;

const FORMS: [&str; 15] = [
    "C",
    "R",
    "R || C",
    "R + C",
    "R1 + (R2 || C)",
    "C1 || C2",
    "R1 + R2",
    "R1 || (R2 + C)",
    "120k || C",
    "R + (100k || C)",
    "C1 + (R || C2)",
    "(R1 + C1) || (R2 + C2)",
    "R1 + (R2 || (R3 + C))",
    "(R1 || C1) + (R2 || C2)",
    "none",
];

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("form", text).passage()).unwrap()
}

/// Where values come from: some hundred candidates a space, or a handful.
#[derive(Debug, Clone, Copy)]
enum Values {
    Wide,
    Narrow,
    /// Eight capacitors, fewer than most lists are long.
    Eight,
    /// Stocked pieces, with prices or without; joined in pairs or not.
    Stocked {
        prices: bool,
        pairs: bool,
    },
}

fn rules(coarse: bool, values: Values) -> Rules {
    let key = |part: &str| Key {
        slot: None,
        part: part.to_owned(),
    };
    let (resistors, capacitors) = if coarse {
        (Series::E3, Series::E3)
    } else {
        (Series::E12, Series::E6)
    };
    let range = |low: f64, high: f64| Range { low, high };
    let [resistances, capacitances] = match values {
        Values::Narrow => [range(3e4, 4.8e5), range(4.7e-10, 1e-8)],
        Values::Eight => [range(3e4, 1e5), range(4.7e-10, 6.8e-9)],
        Values::Wide | Values::Stocked { .. } => [range(1e3, 1e6), range(1e-10, 1e-7)],
    };
    let (stock, pairs) = match values {
        Values::Stocked { prices, pairs } => (Some(stock(prices)), pairs),
        _ => (None, false),
    };
    Rules {
        series: vec![(key("R"), resistors), (key("C"), capacitors)],
        ranges: vec![(key("R"), resistances), (key("C"), capacitances)],
        stock,
        pairs,
    }
}

/// Few pieces, equal prices among them.
fn stock(prices: bool) -> Stock {
    let rows = [
        ("resistor,47k", "0.10", "1"),
        ("resistor,120k", "0.10", "2"),
        ("resistor,220k", "0.05", ""),
        ("resistor,330k", "", "1"),
        ("capacitor,470p", "0.30", "1"),
        ("capacitor,1n", "0.30", ""),
        ("capacitor,2n2", "0.20", "2"),
        ("capacitor,15n", "0.20", "1"),
    ];
    let mut csv = "kind,value,tolerance,price,quantity,note\n".to_owned();
    for (part, price, quantity) in rows {
        let price = if prices { price } else { "" };
        csv.push_str(&format!("{part},,{price},{quantity},\n"));
    }
    Stock::read(&Source::inline("stock", csv)).unwrap()
}

#[derive(Debug)]
struct Case {
    guitar: Guitar,
    target: Target,
    slots: Vec<Slot>,
    spaces: Vec<Space>,
    stock: Option<Stock>,
    top: Top,
    /// Whether the rest is guarded.
    guarded: bool,
}

/// How many are listed.
#[derive(Debug, Clone, Copy)]
enum Top {
    Some(usize),
    All,
    MoreThanAll,
}

impl Case {
    fn count(&self) -> u64 {
        self.spaces.iter().map(Space::count).sum()
    }

    fn top(&self) -> usize {
        match self.top {
            Top::Some(top) => top,
            Top::All => self.count() as usize,
            Top::MoreThanAll => self.count() as usize + 7,
        }
    }

    /// The plan, if the case is small enough; a target at a silent knob position is refused before any search.
    fn plan(&self) -> Option<Plan> {
        let count = self.count();
        let plan = Plan::guarded(&self.guitar, &self.guitar, &self.target, &self.slots).ok()?;
        let (plan, most) = if self.guarded {
            (plan, 2 * MOST_WORK)
        } else {
            (plan.unguarded(), MOST_WORK)
        };
        (count <= 3000 && count * plan.points.len() as u64 <= most).then_some(plan)
    }
}

/// A guitar, seldom with what-if cases.
fn guitar() -> impl Strategy<Value = Guitar> {
    let what_ifs = [
        WhatIf {
            name: "long cable".to_owned(),
            cable: Some(farads(1.2e-9)),
            ..WhatIf::default()
        },
        WhatIf {
            name: "low input".to_owned(),
            input: Some(ohms(220e3)),
            ..WhatIf::default()
        },
    ];
    (random::guitar(), prop_oneof![3 => Just(0), 1 => 1..=2_usize]).prop_map(move |(mut guitar, cases)| {
        guitar.cases = what_ifs[..cases].to_vec();
        guitar
    })
}

/// Clauses of every kind; every second target bounds what no bleed and seldom another part moves, both knobs being at full, among the rest
/// or alone.
fn target() -> impl Strategy<Value = Target> {
    let against = prop_oneof![Just(Against::Full), Just(Against::Present), Just(Against::Flat)];
    let clauses = prop::collection::vec(random::clause(), 1..4);
    (clauses, 0..6_usize, against).prop_map(|(mut clauses, full, against)| {
        let settings: &[&[f64]] = &[&[1.0], &[1.0, 0.5], &[1.0, 0.3]];
        if let (Some(volume), Some(clause)) = (settings.get(full), clauses.first_mut()) {
            (clause.volume, clause.tone, clause.against) = (volume.to_vec(), vec![1.0], against);
        }
        if full == 0 {
            clauses.truncate(1);
        }
        Target::new("random", clauses)
    })
}

fn case() -> impl Strategy<Value = Case> {
    let slots = prop_oneof![
        Just(vec![Slot::Bleed]),
        Just(vec![Slot::Tone]),
        Just(vec![Slot::Series]),
        Just(vec![Slot::Bleed, Slot::Tone]),
        Just(vec![Slot::Tone, Slot::Bypass]),
        Just(vec![Slot::Bleed, Slot::Series]),
        Just(vec![Slot::Across]),
        Just(vec![Slot::Series, Slot::Across]),
    ];
    let forms = prop::collection::vec(prop::sample::select(FORMS.to_vec()), 2);
    let values = prop_oneof![
        Just(Values::Wide),
        Just(Values::Narrow),
        Just(Values::Eight),
        any::<(bool, bool)>().prop_map(|(prices, pairs)| Values::Stocked { prices, pairs }),
    ];
    let tops = [1, 2, 8, 10, 64, 65, 100].map(Top::Some);
    let top = prop::sample::select([&tops[..], &[Top::All, Top::MoreThanAll]].concat());
    (guitar(), target(), slots, forms, values, top, any::<bool>()).prop_map(|(guitar, target, slots, forms, values, top, guarded)| {
        let joint = slots.len() > 1;
        let rules = |form: &str| rules(joint || form.len() > 8, values);
        let own = |(slot, form): (&Slot, &&str)| SlotSpace::new(*slot, network(form), &rules(form)).unwrap();
        let first = Space {
            slots: slots.iter().zip(&forms).map(own).collect(),
        };
        let second = Space {
            slots: slots.iter().zip(forms.iter().rev()).map(own).collect(),
        };
        let mut spaces = vec![first, second];
        spaces.dedup();
        Case {
            stock: rules("").stock,
            guitar,
            target,
            slots,
            spaces,
            top,
            guarded,
        }
    })
}

/// What came up in the random cases.
#[derive(Default)]
struct Tally {
    tried: AtomicUsize,
    discarded: AtomicUsize,
    with_cases: AtomicUsize,
    stocked: AtomicUsize,
    all: AtomicUsize,
    /// Guarded, and some of the builds that would be listed broke a guard.
    guarded: AtomicUsize,
    spoiling: AtomicUsize,
}

fn equals_its_twin(case: &Case, tally: &Tally) -> Result<(), TestCaseError> {
    let Some(plan) = case.plan() else {
        return Err(TestCaseError::reject("too large, or silent"));
    };
    let (top, stock) = (case.top(), case.stock.as_ref());
    let slow = search_by_definition(&plan, &case.spaces, stock, top);
    let methods = Isa::available().into_iter().map(|isa| Method { prune: true, isa });
    let brute = Method {
        prune: false,
        ..Method::best()
    };
    for method in methods.chain([brute]) {
        let fast = search_with(&plan, &case.spaces, stock, top, method, &());
        prop_assert_eq!(&fast.entries, &slow, "{:?}, the first {}", method, top);
        let evaluated: f64 = fast.evaluated.iter().sum();
        if method.prune && evaluated < 0.5 * case.count() as f64 {
            tally.discarded.fetch_add(1, Ordering::Relaxed);
        }
    }
    let count = |counter: &AtomicUsize, whether: bool| counter.fetch_add(usize::from(whether), Ordering::Relaxed);
    count(&tally.tried, true);
    count(&tally.with_cases, !case.guitar.cases.is_empty());
    count(&tally.stocked, stock.is_some());
    count(&tally.all, top >= slow.len());
    count(&tally.guarded, case.guarded);
    count(
        &tally.spoiling,
        case.guarded && search_by_definition(&plan.unguarded(), &case.spaces, stock, top) != slow,
    );
    Ok(())
}

#[test]
fn the_fast_search_equals_its_slow_twin() {
    let tally = Tally::default();
    std::thread::scope(|scope| {
        for seed in 0..THREADS {
            let tally = &tally;
            scope.spawn(move || {
                let mut runner = random::runner_from(seed, CASES / THREADS);
                runner.run(&case(), |case| equals_its_twin(&case, tally)).unwrap();
            });
        }
    });
    let [tried, discarded, with_cases, stocked, all] =
        [tally.tried, tally.discarded, tally.with_cases, tally.stocked, tally.all].map(AtomicUsize::into_inner);
    let [guarded, spoiling] = [tally.guarded, tally.spoiling].map(AtomicUsize::into_inner);
    assert_eq!(tried, CASES as usize);
    assert!(discarded >= 200, "only {discarded} searches discarded anything worth the name");
    assert!(with_cases >= 200, "{with_cases} with what-if cases");
    assert!(stocked >= 200, "{stocked} with stock");
    assert!(all >= 200, "{all} lists of everything");
    assert!(guarded >= 800, "{guarded} with guards");
    assert!(spoiling >= 200, "in {spoiling} cases a guard changed the list");
}

/// A few small spaces of one guitar, with targets that leave the list to ties, or the threshold unknown for long.
#[test]
fn the_worked_cases_equal_the_slow_twin() {
    let worked = [
        ("avocet-middle", "keep highs", "C", 10),
        ("dunlin-bridge", "keep highs", "150k || C", 100),
        ("avocet-middle", "cut highs by 6 to 12 dB at tone 0", "R || C", 10),
        (
            "avocet-middle",
            "keep level within 3 dB of present at volume full and keep highs",
            "R || C",
            8,
        ),
        (
            "plover-bridge",
            "no bump from full to half volume and keep level within 1 dB of present from full to half volume",
            "R + C",
            65,
        ),
    ];
    for (guitar, phrase, form, top) in worked {
        let guitar = inputs::guitar(Some(guitar)).unwrap();
        let target = Target::from_phrase(&Source::inline("phrase", phrase).passage()).unwrap();
        let plan = Plan::new(&guitar, &guitar, &target, &[Slot::Bleed]).unwrap();
        let space = [Space {
            slots: vec![SlotSpace::new(Slot::Bleed, network(form), &Rules::default()).unwrap()],
        }];
        let slow = search_by_definition(&plan, &space, None, top);
        let fast = search_with(&plan, &space, None, top, Method::best(), &());
        assert_eq!(fast.entries, slow, "{phrase}, {form}");
    }
}

/// With a no-load tone control at full only the bleed matters: the same margin for every tone capacitor, and another for each bleed. The best bleed
/// lies between those that are sampled, behind others that lead the list for a while.
#[test]
fn what_ties_beside_one_part_says_nothing_about_the_next() {
    let mut guitar = support::circuit_s(Joint::Pickup);
    guitar.tone.as_mut().unwrap().no_load = true;
    let target = Target::from_phrase(&Source::inline("phrase", "keep highs").passage()).unwrap();
    let slots = [Slot::Bleed, Slot::Tone];
    let plan = Plan::new(&guitar, &guitar, &target, &slots).unwrap();
    let series = |slot, series| {
        let key = Key {
            slot: None,
            part: "C".to_owned(),
        };
        let rules = Rules {
            series: vec![(key, series)],
            ..Rules::default()
        };
        SlotSpace::new(slot, network("C"), &rules).unwrap()
    };
    let spaces = [Space {
        slots: vec![series(Slot::Bleed, Series::E48), series(Slot::Tone, Series::E96)],
    }];
    let slow = search_by_definition(&plan, &spaces, None, 64);
    for top in [1, 10, 64] {
        let fast = search_with(&plan, &spaces, None, top, Method::best(), &());
        assert_eq!(fast.entries, slow[..top], "the first {top}");
    }
}

/// How many cases the rarer questions are asked of.
const FEWER_CASES: u32 = 300;

/// All that are good enough, and none where they are too many.
#[test]
fn everything_above_a_margin_is_what_the_slow_twin_has_there() {
    random::runner_from(THREADS, FEWER_CASES)
        .run(&(case(), 0.0..1.0_f64), |(case, share)| {
            let Some(plan) = case.plan() else {
                return Err(TestCaseError::reject("too large, or silent"));
            };
            let stock = case.stock.as_ref();
            let all = search_by_definition(&plan, &case.spaces, stock, case.count() as usize);
            prop_assume!(!all.is_empty());
            let least = all[(share * all.len() as f64) as usize].margin;
            let above: Vec<Entry> = all.into_iter().filter(|entry| entry.margin >= least).collect();
            prop_assert_eq!(all_above(&plan, &case.spaces, stock, least, above.len() - 1), None);
            let most = above.len();
            prop_assert_eq!(all_above(&plan, &case.spaces, stock, least, most), Some(above));
            Ok(())
        })
        .unwrap();
}

/// The margins that kits are chosen by, against the definition.
#[test]
fn every_margin_is_that_of_the_definition() {
    random::runner_from(THREADS + 1, FEWER_CASES)
        .run(&case(), |case| {
            let Some(plan) = case.plan() else {
                return Err(TestCaseError::reject("too large, or silent"));
            };
            let mut evaluator = Evaluator::new(&plan);
            let mut choices = Vec::new();
            let mut wrong = Vec::new();
            every_margin(
                &plan,
                &case.spaces,
                case.stock.as_ref(),
                1e-5,
                &|| false,
                &mut |number, index, margin| {
                    let space = &case.spaces[number];
                    space.choices(index, &mut choices);
                    let exact = evaluator.kept(&space.fitted(), &space.values(&choices)).map(|worst| worst.margin);
                    let is_right = match (margin, exact) {
                        (Some(margin), Some(exact)) => (margin - exact).abs() <= 1e-6 && (margin < 0.0) == (exact < 0.0),
                        (margin, exact) => margin == exact,
                    };
                    if !is_right {
                        wrong.push((number, index, margin, exact));
                    }
                },
            );
            prop_assert!(wrong.is_empty(), "{:?}", wrong);
            Ok(())
        })
        .unwrap();
}

/// How long a list is asked for changes nothing but where it ends. A travel's quarters keep the many searches short.
#[test]
fn a_shorter_list_is_the_head_of_a_longer_one() {
    let mut longer = 0;
    for guitar in GUITARS {
        for target in TARGETS {
            let guitar = inputs::guitar(Some(guitar.name)).unwrap();
            let mut request = Request::new(guitar, inputs::target(Some(target.name)).unwrap().in_quarters());
            (request.explain, request.top) = (false, 300);
            // A target that a guitar has no knob or no place for is refused.
            let Ok(whole) = recommend(&request, &()) else { continue };
            for top in [1, 10, 64, 65] {
                request.top = top;
                let head = recommend(&request, &()).unwrap().builds;
                let list = |builds: &[Build]| {
                    builds
                        .iter()
                        .map(|build| (build.slots.clone(), build.margin_db))
                        .collect::<Vec<_>>()
                };
                let whole = &whole.builds[..top.min(whole.builds.len())];
                assert_eq!(
                    list(&head),
                    list(whole),
                    "{}, {}, the first {top}",
                    request.guitar.name,
                    target.name
                );
            }
            longer += usize::from(whole.builds.len() > 65);
        }
    }
    assert!(longer >= GUITARS.len(), "only {longer} long lists");
}

#[test]
fn some_clauses_of_a_plan_are_the_plan_of_some_clauses() {
    let several = AtomicUsize::new(0);
    random::runner(150)
        .run(&case(), |case| {
            let Ok(plan) = Plan::new(&case.guitar, &case.guitar, &case.target, &case.slots) else {
                return Ok(());
            };
            let space = &case.spaces[0];
            let mut choices = Vec::new();
            space.choices(space.index_count() / 2, &mut choices);
            let values = space.values(&choices);
            let margin = |plan: &Plan| Evaluator::new(plan).worst(&space.fitted(), &values).map(|worst| worst.margin);
            for kept in 0..case.target.clauses.len() {
                let alone = Target::new("alone", vec![case.target.clauses[kept].clone()]);
                let anew = Plan::new(&case.guitar, &case.guitar, &alone, &case.slots).unwrap();
                let only = plan.only(|index| index == kept);
                prop_assert_eq!(only.points.len(), anew.points.len());
                prop_assert_eq!(margin(&only), margin(&anew));
                several.fetch_add(usize::from(plan.clauses.len() > 1), Ordering::Relaxed);
            }
            Ok(())
        })
        .unwrap();
    assert!(several.into_inner() >= 50);
}

#[test]
fn the_count_does_not_depend_on_the_number_of_threads() {
    let guitar = support::circuit_s(Joint::Pickup);
    let target = Target::from_phrase(&Source::inline("phrase", "keep highs within 4 dB from full to half volume").passage()).unwrap();
    let slots = [Slot::Bleed];
    let spaces = vec![Space {
        slots: vec![SlotSpace::new(Slot::Bleed, network("R1 + (R2 || C)"), &Rules::default()).unwrap()],
    }];
    let plan = Plan::new(&guitar, &guitar, &target, &slots).unwrap();
    let run = |threads| with_threads(Some(threads), || search_with(&plan, &spaces, None, 10, Method::best(), &()));
    let one = run(1);
    assert!(one.evaluated[0] < 0.1 * spaces[0].count() as f64, "{:?}", one.evaluated);
    assert_eq!(one, run(2));
    assert_eq!(one, run(7));
}
