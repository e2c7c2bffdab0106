//! Whether a tech would sign the answers: every guitar that is shipped, thirty everyday wishes, each answer refitted and judged by the second
//! solver. The rules of the rest are those of the guide; what they allow is a working rule of our own.

mod support;

use std::collections::BTreeMap;

use knobwright::circuit::Setting;
use knobwright::curve::Curve;
use knobwright::guitar::alteration::Alteration;
use knobwright::guitar::taper::Taper;
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

/// Every shipped guitar and the catalogue of sixty.
fn seventy_two() -> Vec<Guitar> {
    let listed = inputs::guitars(&[]).unwrap();
    all_guitars()
        .into_iter()
        .chain(listed.into_iter().map(|listed| listed.guitar))
        .collect()
}

/// The average level of the band `brightness` above the mean of 100 to 400 Hz, everything at full, by the second solver, in dB.
fn brightness(guitar: &Guitar, end: f64) -> f64 {
    let level = |frequency: f64| 20.0 * twin::transfer(guitar, Setting::FULL, frequency).norm().log10();
    let band: Vec<f64> = naive::grid(1500.0, end).into_iter().map(level).collect();
    let anchor: Vec<f64> = naive::grid(100.0, 400.0).into_iter().map(level).collect();
    band.iter().sum::<f64>() / band.len() as f64 - naive::mean_level(&anchor)
}

/// A shorter cable is brighter and a longer one darker, a capacitor or a resistor across the pickup is darker: what every tech knows
/// (common practice, no source). The mean power of the band would say the opposite of most of these.
#[test]
fn the_average_of_brightness_is_right_on_every_guitar() {
    let guitars = seventy_two();
    assert_eq!(guitars.len(), 72);
    for guitar in guitars {
        let end = rest::own_end(&guitar).map_or(15e3, |end| (1.5 * end).min(15e3));
        let now = brightness(&guitar, end);
        let with = |change: &dyn Fn(&mut Guitar)| {
            let mut changed = guitar.clone();
            change(&mut changed);
            brightness(&changed, end) - now
        };
        let cable = |share: f64| move |guitar: &mut Guitar| guitar.cable.capacitance = farads(share * guitar.cable.capacitance.value());
        let across = |network: Network| move |guitar: &mut Guitar| guitar.across = Some(network.clone());
        for (shorter, longer) in [(0.5, 2.0), (0.7, 1.4)] {
            assert!(with(&cable(shorter)) > 0.0, "{}: a shorter cable", guitar.name);
            assert!(with(&cable(longer)) < 0.0, "{}: a longer cable", guitar.name);
        }
        for picofarads in [100.0, 150.0, 220.0, 330.0, 470.0, 680.0, 1000.0, 1500.0, 2200.0, 3300.0, 4700.0] {
            assert!(with(&across(c(picofarads * 1e-12))) < 0.0, "{}: {picofarads} pF", guitar.name);
        }
        for kilohms in [100.0, 150.0, 270.0, 470.0, 1000.0] {
            assert!(with(&across(r(kilohms * 1e3))) < 0.0, "{}: {kilohms} kΩ", guitar.name);
        }
    }
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
const WISHES: [&str; 30] = [
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
    "my guitar gets dull when I turn down",
    "a bit brighter",
    "much darker",
    "fatter",
    "more presence",
    "too boomy",
    "less mud at tone 0",
    "more lows",
    "less mids",
    "brighter without losing lows",
    "less mud without losing highs",
    "the tone knob is too dark",
    "keep highs within 3 dB at volume 7.5",
    "keep level within 3 dB from full to half volume",
    "darker at half volume",
    "brighter and keep highs when I turn down",
    "cut highs by at least 3 dB at tone 5",
    "less presence at tone 5",
];

/// Every wish is asked of some of the guitars, unless this is set: then of all, which takes five minutes.
const ALL: &str = "KNOBWRIGHT_ALL_WISHES";

/// Every guitar with the wishes that are asked of it.
fn asked() -> impl Iterator<Item = (Guitar, &'static str)> {
    let all = std::env::var_os(ALL).is_some();
    seventy_two().into_iter().enumerate().flat_map(move |(index, guitar)| {
        let every = if index < GUITARS.len() { 2 } else { 12 };
        let is_asked = move |(wish, _): &(usize, &&str)| all || (wish + index) % every == 0;
        let wishes = WISHES.iter().enumerate().filter(is_asked);
        wishes.map(move |(_, phrase)| (guitar.clone(), *phrase))
    })
}

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
    let changed = serde_json::to_value(&answer.changed).unwrap();
    for (key, value) in changed.as_object().unwrap() {
        let written = format!("{key}={}", value.as_str().map_or_else(|| value.to_string(), str::to_owned));
        for alteration in Alteration::read_all(&Source::inline("answer", written)).unwrap() {
            alteration.apply(&mut build, "answer").unwrap();
        }
    }
    build
}

#[test]
fn an_answer_spoils_nothing_that_the_second_solver_can_find() {
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    for (guitar, phrase) in asked() {
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
        meets_as_told(&guitar, &build, &result, &what);
    }
    println!("{kinds:?}");
    assert!(kinds["Fit"] >= 150, "{kinds:?}");
}

/// A guitar that misses by what nobody hears, and that nothing brings nearer, is left as it is, whatever the others in the list sound like.
#[test]
fn nothing_to_be_done_is_no_instruction() {
    let guitar = seventy_two().into_iter().find(|guitar| guitar.name == "Tern, neck").unwrap();
    let answer = answered(&guitar, "cut highs by at least 3 dB at tone 5").unwrap().answer;
    assert_eq!(answer.kind, AnswerKind::Already, "{}", answer.says);
    assert!(answer.says.contains("which nobody hears: leave it as it is."), "{}", answer.says);
}

/// The margin over the whole travel in half marks, and whether a tenth of a mark breaks what the half marks keep, by the second solver.
fn meets_as_told(guitar: &Guitar, build: &Guitar, result: &Recommendation, what: &str) {
    let margin = |target: &Target| naive::rank(guitar, build, target, vec![naive::Candidate::new([])])[0].margin_db;
    assert_close(result.answer.margin_db, margin(&result.target), 1e-6, what);
    let dense = |rotations: &[f64]| match rotations {
        [first, .., last] if rotations.len() > 2 && rotations.windows(2).all(|pair| (pair[0] - pair[1] - 0.05).abs() < 1e-9) => {
            let (first, last) = ((first * 100.0).round() as u32, (last * 100.0).round() as u32);
            (last..=first).rev().map(|hundredths| f64::from(hundredths) / 100.0).collect()
        }
        _ => rotations.to_vec(),
    };
    let mut closely = result.target.clone();
    for clause in &mut closely.clauses {
        (clause.volume, clause.tone) = (dense(&clause.volume), dense(&clause.tone));
    }
    if closely == result.target {
        return;
    }
    let worst = margin(&closely);
    let breaks = worst < result.answer.margin_db.min(0.0) - 0.05;
    assert_eq!(result.answer.says.contains("Between the half marks"), breaks, "{what}: {worst}");
}

/// A target file may draw the rest tighter or wider than usual, and is held to what it says.
#[test]
fn a_target_sets_guards_of_its_own() {
    let written = |guards: &str| {
        let file = format!("name = \"own rest\"\n[guards]\n{guards}\n[[clause]]\nsays = \"darker by 1 to 4 dB\"\n");
        Target::read(&Source::inline("own.toml", file)).unwrap_or_else(|error| panic!("{}", error.picture()))
    };
    let tight = rest::Widths {
        full: 1.5,
        volume: 2.0,
        volume_highs: 2.5,
        quarter_volume: 3.0,
        low_volume: 3.5,
        tone: 2.25,
        knobs: 0.8,
    };
    let targets = [
        (
            written("full = 1.5\nvolume = 2\nvolume_highs = 2.5\nquarter_volume = 3\nlow_volume = 3.5\ntone = 2.25\nknobs = 0.8"),
            tight,
        ),
        (written("full = 30"), rest::Widths { full: 30.0, ..rest::USUAL }),
    ];
    let mut differ = 0;
    for guitar in all_guitars().iter().step_by(3) {
        let [one, other] = targets.clone().map(|(target, widths)| {
            let mut request = Request::new(guitar.clone(), target);
            request.explain = false;
            let result = recommend(&request, &()).unwrap();
            let build = refitted(guitar, &result.answer);
            let guards = rest::guards_within(guitar, &build, &result.target, widths);
            let least = guards.iter().map(rest::Guard::margin_db).fold(f64::INFINITY, f64::min);
            assert_close(
                result.answer.rest_db.unwrap(),
                least,
                1e-6,
                &format!("{}: {}", guitar.name, result.answer.says),
            );
            (result.answer.slots, least)
        });
        differ += usize::from(one != other);
    }
    assert!(differ > 0, "the same answers whatever the guards");
}

/// No build that does the job about as well has fewer changes: every build of the list is counted by hand.
#[test]
fn an_answer_changes_no_more_than_it_must() {
    for guitar in all_guitars() {
        for phrase in WISHES.into_iter().take(12) {
            let Some(result) = answered(&guitar, phrase).filter(|result| result.answer.kind == AnswerKind::Fit) else {
                continue;
            };
            let own = changes(&guitar, &refitted(&guitar, &result.answer));
            let best = result.builds[0].margin_db;
            let limit = (best / 2.0).max(best - 0.5);
            for listed in result.builds.iter().filter(|build| build.margin_db >= limit) {
                let build = &listed.guitar;
                let takes_tone_out = guitar.fitted(Slot::Tone).is_some() && build.fitted(Slot::Tone).is_none();
                assert!(
                    takes_tone_out || changes(&guitar, build) >= own,
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
    let no_load = |guitar: &Guitar| guitar.tone.as_ref().is_some_and(|tone| tone.no_load);
    let pots = usize::from(one.volume.pot != other.volume.pot) + usize::from(no_load(one) != no_load(other));
    Slot::ALL.into_iter().map(in_slot).sum::<usize>() + pots
}

/// A volume pot that goes through the middle of its resistance between two half marks loses the highs there and nowhere else.
#[test]
fn a_miss_between_the_half_marks_is_said_with_its_place() {
    let mut guitar = inputs::guitar(Some("wren-bridge")).unwrap();
    let steep = vec![[0.0, 0.0], [0.85, 0.02], [0.9, 0.99], [1.0, 1.0]];
    guitar.volume.pot.taper = Taper::Table(Curve::new(steep).unwrap());
    let phrase = "keep highs within 4 dB from full to half volume";
    let target = Target::from_phrase(&Source::inline("phrase", phrase).passage()).unwrap();
    let answer = recommend(&Request::new(guitar.clone(), target), &()).unwrap().answer;
    assert_eq!(answer.kind, AnswerKind::Already, "{}", answer.says);
    let highs = naive::grid(1500.0, rest::own_end(&guitar).unwrap().clamp(2500.0, 6000.0));
    let shape = |volume: f64| {
        let level = |frequency: &f64| 20.0 * twin::transfer(&guitar, Setting { volume, tone: 1.0 }, *frequency).norm().log10();
        let anchor: Vec<f64> = naive::grid(100.0, 400.0).iter().map(level).collect();
        let anchor = naive::mean_level(&anchor);
        highs.iter().map(|frequency| level(frequency) - anchor).collect::<Vec<_>>()
    };
    let full = shape(1.0);
    let miss = |step: &i32| {
        let off = shape(f64::from(*step) / 100.0);
        off.iter()
            .zip(&full)
            .map(|(own, full)| (own - full).abs() - 4.0)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let place = (50..=100).max_by(|one, other| miss(one).total_cmp(&miss(other))).unwrap();
    assert!(place % 5 != 0 && miss(&place) > 0.1);
    let said = format!(
        "Between the half marks it misses by {:.1} dB, at volume {:.1}.",
        miss(&place),
        f64::from(place) / 10.0
    );
    assert!(answer.says.contains(&said), "{said} {}", answer.says);
}
