//! Laws of the ranking that hold whatever the circuit is, on one guitar and the default target.

mod requests;
mod support;

use std::collections::{BTreeMap, BTreeSet};

use knobwright::guitar::Slot::{self, Bleed};
use knobwright::parts::stock::Stock;
use knobwright::recommend::{Build, Recommendation, recommend};
use knobwright::source::Source;
use knobwright::target::Target;
use requests::*;
use support::worked_guitar;

/// A target that the whole volume knob has a say in.
fn half_volume() -> Target {
    let phrase = "keep highs within 4 dB from full to half volume and keep level within 6 dB of present from full to half volume";
    Target::from_phrase(&Source::inline("target", phrase).passage()).unwrap()
}

fn answer(case: &Case, target: &Target) -> Recommendation {
    recommend(&request(case, &worked_guitar(), target), &()).unwrap()
}

fn largest_margin(result: &Recommendation) -> f64 {
    result.builds.iter().map(|build| build.margin_db).fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn the_answer_does_not_depend_on_the_number_of_threads() {
    let case = Case {
        searches: &[(Bleed, "R1 + (R2 || C)"), (Bleed, "R || C"), (Bleed, "C1 || C2")],
        series: &[("R", "E6", E6), ("C", "E6", E6)],
        ranges: &[("R", "1k..1M", [1e3, 1e6]), ("C", "100p..22n", [100e-12, 22e-9])],
        top: 10,
        ..Case::default()
    };
    for top in [1, 10, 100] {
        let texts = [1, 2, 7].map(|threads| {
            let mut request = request(&Case { top, ..case }, &worked_guitar(), &half_volume());
            request.threads = Some(threads);
            knobwright::report::json(&recommend(&request, &()).unwrap()).unwrap()
        });
        assert_eq!(texts[0].matches("\"rank\"").count(), top);
        assert!(texts.iter().all(|text| *text == texts[0]));
    }
}

#[test]
fn a_longer_list_begins_with_the_shorter_one() {
    let case = Case {
        searches: &[(Bleed, "R1 + (R2 || C)")],
        series: E3_E6,
        ranges: &[BLEED_R, BLEED_C],
        top: 200,
        ..Case::default()
    };
    let long = answer(&case, &half_volume());
    for top in [1, 2, 3, 10, 50] {
        assert_eq!(answer(&Case { top, ..case }, &half_volume()).builds, long.builds[..top]);
    }
}

#[test]
fn more_values_never_lower_the_best_margin() {
    let all: [SeriesKey; 3] = [("R", "E3", E3), ("R", "E6", E6), ("R", "E12", E12)];
    let mut before = f64::NEG_INFINITY;
    for (_, name, _) in all {
        let mut request = request(
            &Case {
                searches: &[(Bleed, "R + C")],
                top: 1000,
                ..Case::default()
            },
            &worked_guitar(),
            &half_volume(),
        );
        let text = Source::inline("--values", format!("R={name},C={name}"));
        request.rules.add_series(&text.passage(), &Slot::ALL.map(Slot::word)).unwrap();
        let best = largest_margin(&recommend(&request, &()).unwrap());
        assert!(best >= before, "{name}: {best} after {before}");
        before = best;
    }
    // A further alternative, and a wider range, are more values too.
    let narrow = Case {
        searches: &[(Bleed, "R || C")],
        series: E3_E6,
        ranges: &[BLEED_R, BLEED_C],
        top: 1000,
        ..Case::default()
    };
    let more = Case {
        searches: &[(Bleed, "R || C"), (Bleed, "R + C")],
        ..narrow
    };
    let wide = Case {
        ranges: &[("R", "1k..1M", [1e3, 1e6]), ("C", "100p..22n", [100e-12, 22e-9])],
        ..narrow
    };
    let [narrow, more, wide] = [narrow, more, wide].map(|case| largest_margin(&answer(&case, &half_volume())));
    assert!(more >= narrow && wide >= narrow, "{narrow} {more} {wide}");
}

#[test]
fn taking_away_a_value_that_was_not_chosen_changes_nothing() {
    const TOP: usize = 6;
    let all = Case {
        searches: &[(Bleed, "R || C"), (Bleed, "R + C")],
        ranges: &[("R", "10k..1M", [10e3, 1e6]), ("C", "100p..5n", [100e-12, 5e-9])],
        stock: DRAWERS,
        top: 1000,
        ..Case::default()
    };
    let whole = answer(&all, &half_volume());
    // A value that opens a group has a say in its order without standing among the first.
    let last = whole.builds[TOP - 1].margin_db - 0.01;
    let said: BTreeSet<u64> = whole
        .builds
        .iter()
        .filter(|build| build.margin_db >= last)
        .flat_map(|build| &build.parts.0)
        .map(|part| part.1.to_bits())
        .collect();
    let mut removed = 0;
    for row in DRAWERS.iter().filter(|row| !said.contains(&row.2.to_bits())) {
        let left: Vec<StockRow> = DRAWERS.iter().copied().filter(|other| other.1 != row.1).collect();
        let mut request = request(&all, &worked_guitar(), &half_volume());
        request.rules.stock = Some(Stock::read(&Source::inline("stock", stock_csv(&left))).unwrap());
        let without = recommend(&request, &()).unwrap();
        let listed = |builds: &[Build]| {
            builds[..TOP]
                .iter()
                .map(|build| (build.slots.clone(), build.margin_db, build.cost))
                .collect::<Vec<_>>()
        };
        assert_eq!(listed(&without.builds), listed(&whole.builds), "without {}", row.1);
        removed += 1;
    }
    assert!(removed >= 2, "{removed}");
}

#[test]
fn dropping_a_clause_never_lowers_a_margin() {
    let case = Case {
        searches: &[(Bleed, "R + C"), (Bleed, "R || C")],
        series: E3_E6,
        ranges: &[BLEED_R, BLEED_C],
        top: 1000,
        ..Case::default()
    };
    let target = half_volume();
    let margins = |target: &Target| -> BTreeMap<String, f64> {
        answer(&case, target)
            .builds
            .into_iter()
            .map(|build| (build.slots[&Bleed].clone(), build.margin_db))
            .collect()
    };
    let both = margins(&target);
    let alone: Vec<_> = target
        .clauses
        .iter()
        .map(|clause| margins(&Target::new(target.name.clone(), vec![clause.clone()])))
        .collect();
    assert_eq!(both.len(), alone[0].len());
    for (bleed, margin) in &both {
        assert!(alone.iter().all(|alone| alone[bleed] >= *margin), "{bleed}");
        // The margin of a build is the smallest over its clauses.
        assert_eq!(
            alone.iter().map(|alone| alone[bleed]).fold(f64::INFINITY, f64::min),
            *margin,
            "{bleed}"
        );
    }
}

/// At full volume a bleed network is shorted out, so that every build has the same margin and the rest of the order decides.
#[test]
fn equals_stand_in_the_order_of_parts_cost_values_and_writing() {
    let phrase = "cut highs by 1 to 2 dB at tone 0";
    let target = Target::from_phrase(&Source::inline("target", phrase).passage()).unwrap();
    let order = |case: Case| -> Vec<String> {
        let result = answer(&case, &target);
        result.builds.iter().map(|build| build.slots[&Bleed].clone()).collect()
    };
    let case = Case {
        searches: &[(Bleed, "R || C"), (Bleed, "C + R"), (Bleed, "R + C"), (Bleed, "C")],
        series: &[("R", "E3", E3), ("C", "E3", E3)],
        ranges: &[("R", "47k..100k", [47e3, 100e3]), ("C", "1n..2n2", [1e-9, 2.2e-9])],
        top: 100,
        ..Case::default()
    };
    let expected = [
        "none",
        "1n",
        "2n2",
        "1n + 47k",
        "1n + 100k",
        "2n2 + 47k",
        "2n2 + 100k",
        "47k + 1n",
        "47k || 1n",
        "47k + 2n2",
        "47k || 2n2",
        "100k + 1n",
        "100k || 1n",
        "100k + 2n2",
        "100k || 2n2",
    ];
    assert_eq!(order(case), expected);
    // Nothing costs nothing; then by cost, then those with a part of unknown price.
    let stocked = Case {
        searches: &[(Bleed, "C")],
        series: &[],
        ranges: &[("C", "100p..15n", [100e-12, 15e-9])],
        stock: DRAWERS,
        ..case
    };
    assert_eq!(order(stocked), ["none", "2n2", "10n", "470p", "1n", "1n5"]);
    // Two pieces of 1 nF are in stock, one of everything else, and none of 22 nF.
    let twice = Case {
        searches: &[(Bleed, "C1 || C2")],
        ..stocked
    };
    let expected = [
        "none",
        "2n2 || 10n",
        "470p || 2n2",
        "1n || 2n2",
        "470p || 10n",
        "1n || 10n",
        "470p || 1n",
        "1n || 1n",
        "470p || 1n5",
        "1n || 1n5",
        "1n5 || 2n2",
        "1n5 || 10n",
    ];
    assert_eq!(order(twice), expected);
}
