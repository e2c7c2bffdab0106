//! Whether what is recommended for the shipped guitars is advice that makes sense to a player. What sense is, is common practice, no source:
//! no part is won by the end of a range, a knob that is to keep its feel keeps it, and nobody is told to change what nobody can hear.

mod support;

use knobwright::guitar::{Guitar, Hookup, Slot};
use knobwright::inputs;
use knobwright::kernel::measure::visit_points;
use knobwright::kernel::plan::Plan;
use knobwright::parts::network::Network;
use knobwright::recommend::{AnswerKind, Recommendation, Request, recommend};
use knobwright::report::recommendation_text;
use knobwright::search::exhaustive::Evaluator;
use knobwright::shipped::{GUITARS, ShippedFile, TARGETS};
use knobwright::source::Source;
use knobwright::target::Target;
use support::c;

fn request(guitar: &ShippedFile, target: &str) -> Request {
    Request::new(inputs::guitar(Some(guitar.name)).unwrap(), inputs::target(Some(target)).unwrap())
}

/// With coarse series, where what is checked holds for these as for fine ones: it is quick.
fn coarse(mut request: Request, series: &str) -> Request {
    let slots = Slot::ALL.map(Slot::word);
    request
        .rules
        .add_series(&Source::inline("series", series).passage(), &slots)
        .unwrap();
    request
}

fn answered(request: &Request) -> Recommendation {
    recommend(request, &()).unwrap_or_else(|error| panic!("{}: {}", request.guitar.name, error.picture()))
}

fn turns_tone(target: &Target) -> bool {
    target.clauses.iter().any(|clause| clause.tone != [1.0])
}

fn with_tone() -> impl Iterator<Item = &'static ShippedFile> {
    GUITARS
        .iter()
        .filter(|file| inputs::guitar(Some(file.name)).unwrap().tone.is_some())
}

#[test]
fn less_mud_is_not_won_at_an_end_of_a_range() {
    let mut met = 0;
    for file in with_tone() {
        let result = answered(&request(file, "clearer-closed-tone"));
        let best = &result.builds[0];
        assert_eq!(best.at_range_end, Vec::<String>::new(), "{}: {:?}", file.name, best.slots);
        // A closed tone knob with nothing behind it would be no tone knob.
        assert_ne!(best.slots[&Slot::Tone], "none", "{}", file.name);
        met += usize::from(best.meets_target);
    }
    // One need not be within reach of parts alone.
    assert!(met + 1 >= with_tone().count(), "{met}");
}

/// A subset of the default series never does better than the default series.
#[test]
fn the_first_sample_meets_the_default_target_with_something_to_spare() {
    let mut request = coarse(
        Request::new(inputs::guitar(None).unwrap(), inputs::target(None).unwrap()),
        "R=E12,C=E6",
    );
    request.searches = vec![(
        Slot::Bleed,
        Network::read(&Source::inline("search", "R1 + (R2 || C)").passage()).unwrap(),
    )];
    let result = answered(&request);
    assert!(result.builds[0].margin_db >= 0.3, "{}", result.builds[0].margin_db);
    assert!(!result.present.meets_target, "there would be nothing to do");
}

#[test]
fn a_target_that_holds_the_feel_of_the_volume_knob_holds_it() {
    for file in GUITARS {
        let result = answered(&coarse(request(file, "highs-and-feel"), "R=E12,C=E6"));
        for build in &result.builds {
            assert!(build.meets_target, "{}: {:?}", file.name, build.slots);
            assert!(build.volume_shift_db.abs() <= 6.0, "{}: {}", file.name, build.volume_shift_db);
        }
        let result = answered(&coarse(request(file, "highs-and-feel-to-quarter"), "R=E12,C=E6"));
        for build in &result.builds {
            // Where the target is missed, the feel is missed by no more than the whole.
            let missed = (-build.margin_db).max(0.0);
            assert!(
                build.volume_shift_db.abs() <= 6.0 + missed + 1e-9,
                "{}: {:?}",
                file.name,
                build.slots
            );
        }
    }
}

/// By how many dB the tone slot's whole default range, 1 to 220 nF, moves what the target bounds at the point it moves most.
fn span_of_tone(present: &Guitar, best: &Guitar, target: &Target) -> f64 {
    let mut extremes: Vec<(f64, f64)> = Vec::new();
    for farads in [1e-9, 2.2e-9, 4.7e-9, 10e-9, 22e-9, 47e-9, 100e-9, 220e-9] {
        let mut build = best.clone();
        build.fit(Slot::Tone, Some(c(farads)));
        let plan = Plan::new(&build, present, target, &[]).unwrap();
        let mut differences = Vec::new();
        assert!(visit_points(&plan, Evaluator::new(&plan).powers(&[], &[]), |point| differences
            .push(point.difference)));
        extremes.resize(differences.len(), (f64::INFINITY, f64::NEG_INFINITY));
        for (extreme, difference) in extremes.iter_mut().zip(differences) {
            *extreme = (extreme.0.min(difference), extreme.1.max(difference));
        }
    }
    extremes.iter().map(|(low, high)| high - low).fold(0.0, f64::max)
}

/// The trade's usual answer is another tone capacitor, which does next to nothing with the knob full up; one in series does.
#[test]
fn which_cap_for_less_mud_is_one_in_series() {
    let mut indifferent = 0;
    for file in GUITARS {
        let request = coarse(request(file, "which cap for less mud?"), "C=E6,R=E6");
        let result = answered(&request);
        let best = &result.builds[0];
        // A shelf keeps its resistor, and a part in series alone does not do it there.
        if request.guitar.hookup() == Some(Hookup::Shelf) {
            assert_eq!(result.answer.kind, AnswerKind::Leave, "{}: {}", file.name, result.answer.says);
            continue;
        }
        assert_ne!(
            result.answer.slots.get(&Slot::Series),
            None,
            "{}: {}",
            file.name,
            result.answer.says
        );
        let named = result.indifferent.iter().find(|item| item.slot == Slot::Tone);
        let text = recommendation_text(&result, 80).replace('\n', " ").replace("  ", " ");
        assert_eq!(
            named.is_some() && result.answer.slots.get(&Slot::Tone) == request.guitar.fitted(Slot::Tone).map(ToString::to_string).as_ref(),
            text.contains("the tone network changes nothing anyone could hear"),
            "{}: {text}",
            file.name
        );
        if request.guitar.tone.is_none() {
            assert_eq!(named, None);
            continue;
        }
        let mut fitted = request.guitar.clone();
        for (slot, written) in &best.slots {
            fitted.fit(*slot, Network::read(&Source::inline("result", written.as_str()).passage()).unwrap());
        }
        let span = span_of_tone(&request.guitar, &fitted, &request.target);
        assert_eq!(named.is_some(), span < 0.5, "{}: {span} dB", file.name);
        if let Some(named) = named {
            assert!(
                (named.span_db - span).abs() < 0.02,
                "{}: {} dB, {span} dB",
                file.name,
                named.span_db
            );
            indifferent += 1;
        }
    }
    assert!(indifferent >= 5, "{indifferent}");
}

/// A resistor across the pickup and a capacitor there both make a guitar darker, and which is at hand is the player's to know.
#[test]
fn the_other_kind_of_part_is_named_where_it_does_the_job_as_well() {
    let mut named = 0;
    for file in GUITARS {
        let request = request(file, "darker");
        let result = answered(&request);
        let Some(instead) = &result.answer.instead else { continue };
        let read = |written: &String| {
            Network::read(&Source::inline("answer", written.clone()).passage())
                .unwrap()
                .unwrap()
        };
        let [own, other] = [&result.answer.slots, &instead.slots].map(|slots| read(&slots[&Slot::Across]));
        let kinds = [own.components(), other.components()].map(|parts| parts.iter().map(|part| part.kind()).collect::<Vec<_>>());
        assert_ne!(kinds[0], kinds[1], "{}: {}", file.name, result.answer.says);
        let mut build = request.guitar.clone();
        build.fit(Slot::Across, Some(other));
        let plan = Plan::guarded(&build, &request.guitar, &result.target, &[]).unwrap();
        let mut evaluator = Evaluator::new(&plan);
        let worst = evaluator.worst(&[], &[]).unwrap();
        assert!(
            (worst.margin - instead.margin_db).abs() < 1e-9 && worst.margin >= 0.0,
            "{}",
            file.name
        );
        named += 1;
    }
    assert!(named >= 8, "{named}");
}

#[test]
fn every_target_runs_on_every_guitar() {
    for file in GUITARS {
        for target in TARGETS {
            let request = request(file, target.name);
            let turned = turns_tone(&request.target);
            if turned && request.guitar.tone.is_none() {
                let error = recommend(&request, &()).unwrap_err();
                assert!(error.message().contains("[tone] table"), "{}", error.message());
                continue;
            }
            let result = answered(&coarse(request, if turned { "C=E6" } else { "C=E3,R=E6" }));
            assert!(!result.builds.is_empty(), "{}, {}", file.name, target.name);
            for build in &result.builds {
                let figures = [build.margin_db, build.rms_db, build.volume_shift_db, build.worst.difference_db];
                assert!(figures.iter().all(|figure| figure.is_finite()), "{}, {}", file.name, target.name);
            }
            // A missed target says what stops it, a met one has nothing to say.
            assert_eq!(result.stops.is_some(), !result.builds[0].meets_target);
        }
    }
}
