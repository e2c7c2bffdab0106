//! Whether a tech would sign the answers: every guitar that is shipped, thirty everyday wishes, each answer refitted and judged by the second
//! solver. The rules of the rest are those of the guide; what they allow is a working rule of our own.

mod support;

use std::collections::BTreeMap;

use knobwright::circuit::Setting;
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::kernel::features::Features;
use knobwright::parts::choice::Rules;
use knobwright::parts::network::Network;
use knobwright::recommend::{Answer, AnswerKind, Recommendation, Request, recommend};
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use knobwright::target::Target;
use support::*;

fn all_guitars() -> Vec<Guitar> {
    GUITARS.iter().map(|file| inputs::guitar(Some(file.name)).unwrap()).collect()
}

#[test]
fn a_guitars_own_end_is_that_of_the_second_solver() {
    for guitar in all_guitars() {
        let features = Features::of(&guitar, Setting::FULL).unwrap();
        match (features.upper_minus_3_db_hz, rest::own_end(&guitar)) {
            (Some(got), Some(expected)) => assert_relatively_close(got, expected, 1e-9, &guitar.name),
            (got, expected) => assert_eq!(got, expected, "{}", guitar.name),
        }
    }
}

fn wish(phrase: &str) -> Target {
    Target::from_phrase(&Source::inline("--target", phrase).passage()).unwrap_or_else(|error| panic!("{}", error.picture()))
}

#[test]
fn a_guitar_keeps_its_own_rest() {
    for guitar in all_guitars() {
        for guard in rest::guards(&guitar, &guitar, &wish("less mud")) {
            assert!(guard.margin_db() >= 0.0, "{}: {guard:?}", guitar.name);
        }
    }
}

/// Wishes of a bench, for knobs up and down.
const WISHES: [&str; 12] = [
    "treble bleed",
    "which cap for less mud?",
    "keep highs",
    "brighter",
    "darker",
    "less lows",
    "less mud and keep highs",
    "no bump at tone 0",
    "less harsh",
    "which tone cap?",
    "keep highs within 2 dB from full to quarter volume",
    "cut highs by 6 to 12 dB at tone 0",
];

/// The answer with coarse series, where what is checked holds for these as for fine ones; none where the guitar has no such knob.
fn answered(guitar: &Guitar, phrase: &str) -> Option<Recommendation> {
    let mut request = Request::new(guitar.clone(), wish(phrase));
    request.explain = false;
    let slots = Slot::ALL.map(Slot::word);
    let series = Source::inline("series", "R=E12,C=E6");
    request.rules.add_series(&series.passage(), &slots).unwrap();
    // A wish that has no use for the series of one kind of part is searched with its own.
    recommend(&request, &()).ok().or_else(|| {
        request.rules = Rules::default();
        recommend(&request, &()).ok()
    })
}

fn refitted(guitar: &Guitar, answer: &Answer) -> Guitar {
    let mut build = guitar.clone();
    for slot in Slot::ALL
        .into_iter()
        .filter(|slot| guitar.fitted(*slot).is_some() || answer.slots.contains_key(slot))
    {
        let written = answer.slots.get(&slot).map_or("none", String::as_str);
        build.fit(slot, Network::read(&Source::inline("answer", written).passage()).unwrap());
    }
    build
}

#[test]
fn an_answer_spoils_nothing_that_the_second_solver_can_find() {
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    for guitar in all_guitars() {
        for phrase in WISHES {
            let Some(result) = answered(&guitar, phrase) else { continue };
            let (answer, what) = (&result.answer, format!("{}, {phrase}: {}", guitar.name, result.answer.says));
            *kinds.entry(format!("{:?}", answer.kind)).or_default() += 1;
            let build = refitted(&guitar, answer);
            let guards = rest::guards(&guitar, &build, &result.target);
            let least = guards.iter().map(rest::Guard::margin_db).fold(f64::INFINITY, f64::min);
            assert_close(answer.rest_db.unwrap(), least, 1e-6, &what);
            match answer.kind {
                AnswerKind::Price => assert!(!answer.harm.is_empty() && (-6.0..0.0).contains(&least), "{what}: {guards:?}"),
                _ => assert!(answer.harm.is_empty() && least >= 0.0, "{what}: {guards:?}"),
            }
            match answer.kind {
                AnswerKind::Already => assert!(answer.margin_db >= -0.5 && build == guitar, "{what}"),
                AnswerKind::Fit | AnswerKind::Price => assert!(answer.margin_db >= 0.0 && build != guitar, "{what}"),
                AnswerKind::Closest => assert!(answer.margin_db < 0.0 && build != guitar, "{what}"),
                AnswerKind::Leave => assert!(answer.margin_db < 0.0 && build == guitar, "{what}"),
            }
        }
    }
    println!("{kinds:?}");
    assert!(kinds["Fit"] >= 40, "{kinds:?}");
}

/// No build that does the job about as well has fewer changes: every build of the list is counted by hand.
#[test]
fn an_answer_changes_no_more_than_it_must() {
    for guitar in all_guitars() {
        for phrase in WISHES {
            let Some(result) = answered(&guitar, phrase).filter(|result| result.answer.kind == AnswerKind::Fit) else {
                continue;
            };
            let own = changes(&guitar, &refitted(&guitar, &result.answer));
            let best = result.builds[0].margin_db;
            let limit = (best / 2.0).max(best - 0.5);
            for listed in result.builds.iter().filter(|build| build.margin_db >= limit) {
                let mut build = guitar.clone();
                for (slot, written) in &listed.slots {
                    build.fit(*slot, Network::read(&Source::inline("build", written.as_str()).passage()).unwrap());
                }
                let takes_tone_out = guitar.fitted(Slot::Tone).is_some() && build.fitted(Slot::Tone).is_none();
                assert!(
                    takes_tone_out || changes(&guitar, &build) >= own,
                    "{}, {phrase}: {} changes, {:?}",
                    guitar.name,
                    own,
                    listed.slots
                );
            }
        }
    }
}

/// Parts coming in or going out, whichever are more, place by place.
fn changes(one: &Guitar, other: &Guitar) -> usize {
    let parts = |guitar: &Guitar, slot| -> Vec<String> {
        let parts = guitar.fitted(slot).map(Network::components).unwrap_or_default();
        parts.iter().map(|part| format!("{part:?}")).collect()
    };
    let in_slot = |slot: Slot| {
        let (now, mut then) = (parts(one, slot), parts(other, slot));
        if one.fitted(slot) == other.fitted(slot) {
            return 0;
        }
        let mut out = 0;
        for part in &now {
            match then.iter().position(|new| new == part) {
                Some(place) => drop(then.remove(place)),
                None => out += 1,
            }
        }
        then.len().max(out).max(1)
    };
    Slot::ALL.into_iter().map(in_slot).sum()
}
