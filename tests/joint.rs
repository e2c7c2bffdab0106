//! Several wishes in one sentence: searched together, never better than each alone, and not far from all combinations tried one by one.

mod support;

use knobwright::guitar::{Guitar, Hookup, Slot};
use knobwright::inputs;
use knobwright::parts::network::Network;
use knobwright::recommend::{AnswerKind, Recommendation, Request, recommend};
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use support::wish;

const BOTH: &str = "less mud and keep highs";

fn request(guitar: &Guitar, phrase: &str, series: &str) -> Request {
    let mut request = Request::new(guitar.clone(), wish(phrase));
    request.explain = false;
    let slots = Slot::ALL.map(Slot::word);
    request
        .rules
        .add_series(&Source::inline("series", series).passage(), &slots)
        .unwrap();
    request
}

fn answered(guitar: &Guitar, phrase: &str) -> Recommendation {
    recommend(&request(guitar, phrase, "R=E12,C=E6"), &()).unwrap()
}

fn best(found: &Recommendation) -> f64 {
    found.builds.iter().map(|build| build.margin_db).fold(f64::NEG_INFINITY, f64::max)
}

/// Where nothing grants both, what can be had of them by itself is said, and is what a request of its own answers.
#[test]
fn what_can_be_had_alone_is_said_where_both_cannot() {
    let mut said = 0;
    for file in GUITARS {
        let guitar = inputs::guitar(Some(file.name)).unwrap();
        let both = answered(&guitar, BOTH).answer;
        let misses = matches!(both.kind, AnswerKind::Closest | AnswerKind::Leave) && both.margin_db < -0.5;
        for (phrase, what) in [("less mud", "with both knobs full up"), ("keep highs", "of the volume knob")] {
            let alone = answered(&guitar, phrase).answer;
            let named = format!("What you wish {what} can be had by itself: {}", alone.says).to_lowercase();
            let is_said = both.says.to_lowercase().contains(&named);
            assert_eq!(is_said, misses && alone.kind == AnswerKind::Fit, "{}: {}", guitar.name, both.says);
            said += usize::from(is_said);
        }
    }
    assert!(said > 0);
}

/// Where each of two wishes is met alone, both are met together or as good as met, in the places of both.
#[test]
fn what_is_met_alone_is_met_together() {
    let mut met = 0;
    for file in GUITARS {
        let guitar = inputs::guitar(Some(file.name)).unwrap();
        let [mud, highs, both] = ["less mud", "keep highs", BOTH].map(|phrase| answered(&guitar, phrase));
        // At any price: what one wish may not spoil, the other may put right.
        let bound = |phrase: &str| {
            let mut request = request(&guitar, phrase, "R=E12,C=E6");
            request.at_any_price = true;
            let found = recommend(&request, &()).unwrap();
            best(&found).max(found.present.margin_db)
        };
        let least = bound("less mud").min(bound("keep highs"));
        assert!(best(&both) <= least + 1e-9, "{}: {} of {least}", guitar.name, best(&both));
        if mud.answer.kind.is_met() && highs.answer.kind.is_met() {
            met += 1;
            assert!(both.answer.margin_db >= -0.5, "{}: {}", guitar.name, both.answer.says);
            assert!(both.search.iter().all(|space| !space.exact), "{}", guitar.name);
            assert!(
                both.answer.slots.contains_key(&Slot::Series),
                "{}: {}",
                guitar.name,
                both.answer.says
            );
        }
    }
    assert!(met >= 6, "both wishes are met alone on {met} guitars");
}

/// With few values every combination of all three places can be tried: what the joint search finds is no better, and nobody hears the
/// difference.
#[test]
fn the_likely_combinations_are_as_good_as_all() {
    let network = |text: &str| Network::read(&Source::inline("network", text).passage()).unwrap();
    for file in GUITARS {
        let guitar = inputs::guitar(Some(file.name)).unwrap();
        if guitar.hookup() != Some(Hookup::Rheostat) {
            continue;
        }
        let together = recommend(&request(&guitar, BOTH, "R=E3,C=E3"), &()).unwrap();
        let mut all = request(&guitar, BOTH, "R=E3,C=E3");
        all.searches = vec![
            (Slot::Bleed, network("C")),
            (Slot::Bleed, network("R || C")),
            (Slot::Bleed, network("R + C")),
        ];
        all.searches.extend([
            (Slot::Tone, network("C")),
            (Slot::Series, network("C")),
            (Slot::Series, network("R || C")),
        ]);
        let all = recommend(&all, &()).unwrap();
        assert!(all.search.iter().all(|space| space.exact));
        // The joint search knows one form of bleed more.
        assert!(
            best(&together) >= best(&all) - 0.5,
            "{}: {} of {}",
            guitar.name,
            best(&together),
            best(&all)
        );
    }
}

/// A wish for the volume knob alone, and one for the tone knob, are searched as ever: every combination.
#[test]
fn other_wishes_are_searched_to_the_end() {
    let guitar = inputs::guitar(Some("wren-bridge")).unwrap();
    for phrase in ["keep highs", "less mud", "no bump at tone 0", "darker"] {
        assert!(
            answered_by_default(&guitar, phrase).search.iter().all(|space| space.exact),
            "{phrase}"
        );
    }
}

fn answered_by_default(guitar: &Guitar, phrase: &str) -> Recommendation {
    let mut request = Request::new(guitar.clone(), wish(phrase));
    request.explain = false;
    recommend(&request, &()).unwrap()
}

/// Pairs of stocked parts make far more combinations than are searched: of places that the wish chose, those go without pairs that would
/// be too many, and the wish is answered all the same.
#[test]
fn several_wishes_are_answered_with_pairs_too() {
    let guitar = inputs::guitar(Some("plover-bridge")).unwrap();
    let mut request = Request::new(guitar, wish(BOTH));
    request.explain = false;
    request.rules.stock = Some(inputs::stock("small-workshop").unwrap());
    let single = recommend(&request, &()).unwrap();
    request.rules.pairs = true;
    let paired = recommend(&request, &()).unwrap();
    assert!(single.answer.kind.is_met() && paired.answer.kind.is_met(), "{}", paired.answer.says);
    let has_pairs = |found: &Recommendation| {
        let mut origins = found.search.iter().flat_map(|space| space.values.values());
        origins.any(|origin| origin.ends_with("pairs"))
    };
    assert!(has_pairs(&paired) && !has_pairs(&single));
}
