//! The fast search against its slow twin, which evaluates every candidate by the definition: same builds, same order, same figures.
//!
//! Guitars, targets and spaces are drawn at random from a fixed seed.

mod support;

use std::sync::atomic::{AtomicUsize, Ordering};

use knobwright::guitar::{Guitar, Joint, Slot};
use knobwright::kernel::lanes::Isa;
use knobwright::kernel::plan::Plan;
use knobwright::parts::choice::{Key, Range, Rules};
use knobwright::parts::network::Network;
use knobwright::parts::series::Series;
use knobwright::search::exhaustive::{Evaluator, all_above, search_by_definition, search_with, with_threads};
use knobwright::search::pruned::Method;
use knobwright::search::ranking::Entry;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::source::Source;
use knobwright::target::Target;
use proptest::prelude::*;
use support::random;

/// How many random guitars, targets and spaces are searched.
const CASES: u32 = 600;

const FORMS: [&str; 12] = [
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
    "none",
];

fn network(text: &str) -> Option<Network> {
    Network::read(&Source::inline("form", text).passage()).unwrap()
}

/// Coarse series over one or two decades: some hundred candidates a space.
fn rules(coarse: bool, wide: bool) -> Rules {
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
    Rules {
        series: vec![(key("R"), resistors), (key("C"), capacitors)],
        ranges: if wide {
            vec![(key("R"), range(1e3, 1e6)), (key("C"), range(1e-10, 1e-7))]
        } else {
            vec![(key("R"), range(3e4, 4.8e5)), (key("C"), range(4.7e-10, 1e-8))]
        },
        ..Rules::default()
    }
}

#[derive(Debug)]
struct Case {
    guitar: Guitar,
    target: Target,
    slots: Vec<Slot>,
    spaces: Vec<Space>,
    top: usize,
}

fn case() -> impl Strategy<Value = Case> {
    let slots = prop_oneof![
        Just(vec![Slot::Bleed]),
        Just(vec![Slot::Tone]),
        Just(vec![Slot::Series]),
        Just(vec![Slot::Bleed, Slot::Tone]),
        Just(vec![Slot::Tone, Slot::Bypass]),
        Just(vec![Slot::Bleed, Slot::Series]),
    ];
    let forms = prop::collection::vec(prop::sample::select(FORMS.to_vec()), 2);
    let clauses = prop::collection::vec(random::clause(), 1..4);
    (random::guitar(), clauses, slots, forms, any::<bool>(), 1_usize..12).prop_map(|(guitar, clauses, slots, forms, wide, top)| {
        let joint = slots.len() > 1;
        let own = |(slot, form): (&Slot, &&str)| SlotSpace::new(*slot, network(form), &rules(joint || form.len() > 8, wide)).unwrap();
        let first = Space {
            slots: slots.iter().zip(&forms).map(own).collect(),
        };
        let second = Space {
            slots: slots.iter().zip(forms.iter().rev()).map(own).collect(),
        };
        let mut spaces = vec![first, second];
        spaces.dedup();
        Case {
            guitar,
            target: Target {
                name: "random".to_owned(),
                clauses,
            },
            slots,
            spaces,
            top,
        }
    })
}

#[test]
fn the_fast_search_equals_its_slow_twin() {
    let tried = AtomicUsize::new(0);
    let discarded = AtomicUsize::new(0);
    random::runner(CASES)
        .run(&case(), |case| {
            // A target at a silent knob position is refused before any search.
            let Ok(plan) = Plan::new(&case.guitar, &case.guitar, &case.target, &case.slots) else {
                return Ok(());
            };
            let candidates: u64 = case.spaces.iter().map(Space::count).sum();
            prop_assume!(candidates <= 3000);
            let slow = search_by_definition(&plan, &case.spaces, None, case.top);
            for isa in Isa::available() {
                for prune in [true, false] {
                    let fast = search_with(&plan, &case.spaces, None, case.top, Method { prune, isa }, &());
                    prop_assert_eq!(&fast.entries, &slow, "{:?}, pruned: {}", isa, prune);
                    let evaluated: f64 = fast.evaluated.iter().sum();
                    if prune && evaluated < 0.5 * candidates as f64 {
                        discarded.fetch_add(1, Ordering::Relaxed);
                    }
                }
            }
            tried.fetch_add(1, Ordering::Relaxed);
            Ok(())
        })
        .unwrap();
    let (tried, discarded) = (tried.into_inner(), discarded.into_inner());
    assert!(tried >= 500, "{tried} cases were comparable");
    assert!(discarded >= 100, "only {discarded} searches discarded anything worth the name");
}

/// All that are good enough, and none where they are too many.
#[test]
fn everything_above_a_margin_is_what_the_slow_twin_has_there() {
    let compared = AtomicUsize::new(0);
    random::runner(CASES / 4)
        .run(&(case(), 0.0..1.0_f64), |(case, share)| {
            let Ok(plan) = Plan::new(&case.guitar, &case.guitar, &case.target, &case.slots) else {
                return Ok(());
            };
            let candidates: u64 = case.spaces.iter().map(Space::count).sum();
            prop_assume!(candidates <= 3000);
            let all = search_by_definition(&plan, &case.spaces, None, candidates as usize);
            prop_assume!(!all.is_empty());
            let least = all[(share * all.len() as f64) as usize].margin;
            let above: Vec<Entry> = all.into_iter().filter(|entry| entry.margin >= least).collect();
            prop_assert_eq!(all_above(&plan, &case.spaces, None, least, above.len() - 1), None);
            let most = above.len();
            prop_assert_eq!(all_above(&plan, &case.spaces, None, least, most), Some(above));
            compared.fetch_add(1, Ordering::Relaxed);
            Ok(())
        })
        .unwrap();
    assert!(compared.into_inner() >= 100);
}

#[test]
fn some_clauses_of_a_plan_are_the_plan_of_some_clauses() {
    let several = AtomicUsize::new(0);
    random::runner(CASES / 4)
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
                let alone = Target {
                    name: "alone".to_owned(),
                    clauses: vec![case.target.clauses[kept].clone()],
                };
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
