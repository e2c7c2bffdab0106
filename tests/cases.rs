//! What-if cases against runs of one case each by the naive recommender, closed forms of the plain circuit, and what a user sees.

mod support;

use std::sync::atomic::{AtomicUsize, Ordering};

use assert_cmd::Command;
use knobwright::error::{Error, ErrorKind};
use knobwright::guitar::{Case, Guitar, LossCell, Slot, read_cases};
use knobwright::kernel::plan::Plan;
use knobwright::kernel::response::Response;
use knobwright::parts::choice::Rules;
use knobwright::parts::network::Network;
use knobwright::recommend::{Build, Recommendation, Request, recommend};
use knobwright::report;
use knobwright::search::exhaustive::{search_by_definition, search_with};
use knobwright::search::pruned::Method;
use knobwright::search::space::{SlotSpace, Space};
use knobwright::source::Source;
use knobwright::target::{Against, Band, Clause, Measure, Over, Target};
use num_complex::Complex64;
use proptest::prelude::*;
use support::*;

fn cases(texts: &[&str], guitar: &Guitar) -> Result<Vec<Case>, Error> {
    let sources: Vec<Source> = texts.iter().map(|text| Source::inline("--case", *text)).collect();
    read_cases(&sources, guitar)
}

fn with_cases(mut guitar: Guitar, texts: &[&str]) -> Guitar {
    guitar.cases = cases(texts, &guitar).unwrap();
    guitar
}

fn clause(measure: Measure, against: Against, over: Over, width: f64) -> Clause {
    Clause {
        measure,
        against,
        band: Band::new(1500.0, 6000.0).unwrap(),
        anchor: (measure == Measure::Shape).then(|| Band::new(100.0, 400.0).unwrap()),
        over,
        volume: vec![1.0, 0.5, 0.25],
        tone: vec![1.0, 0.7],
        at_least: Some(-width),
        at_most: Some(width),
        bands: Vec::new(),
        place: knobwright::target::Place::default(),
    }
}

/// Every reference that depends on the guitar, each frequency and means.
fn target() -> Target {
    Target::new(
        "check",
        vec![
            clause(Measure::Shape, Against::Full, Over::Every, 4.0),
            clause(Measure::Level, Against::Present, Over::Mean, 9.0),
            clause(Measure::Shape, Against::Flat, Over::Mean, 6.0),
        ],
    )
}

/// Bleeds of two parts and none, all of them listed.
fn recommended(guitar: Guitar) -> Recommendation {
    let mut request = Request::new(guitar, target());
    let network = Network::read(&Source::inline("--search", "R || C").passage()).unwrap();
    request.searches = vec![(Slot::Bleed, network)];
    let slots = Slot::ALL.map(Slot::word);
    let ranges = Source::inline("--range", "R=47k..470k,C=330p..4n7");
    request.rules.add_ranges(&ranges.passage(), &slots).unwrap();
    request
        .rules
        .add_series(&Source::inline("--values", "R=E6,C=E3").passage(), &slots)
        .unwrap();
    request.top = 1000;
    request.at_any_price = true;
    recommend(&request, &()).unwrap()
}

fn fitted(build: &Build) -> naive::Candidate {
    let read = |written: &String| Network::read(&Source::inline("result", written.as_str()).passage()).unwrap();
    let slots: Vec<_> = build.slots.iter().map(|(slot, written)| (*slot, read(written))).collect();
    naive::Candidate::new(slots)
}

/// The worked guitar in each of three cases, changed by hand, with the text that asks for the case.
fn by_hand() -> [(&'static str, &'static str, Guitar); 3] {
    let mut short = worked_guitar();
    short.cable.capacitance = farads(300e-12);
    let mut long = worked_guitar();
    long.cable.capacitance = farads(900e-12);
    long.input.resistance = ohms(220e3);
    let mut other_pots = worked_guitar();
    other_pots.volume.pot.resistance = ohms(500e3);
    other_pots.tone.as_mut().unwrap().pot.resistance = ohms(1e6);
    other_pots.input.capacitance = farads(20e-12);
    other_pots.pickup.inductance = henries(4.1);
    [
        ("cable=300p", "cable 300 pF", short),
        ("cable=900p,input=220k", "cable 900 pF, input 220 kΩ", long),
        (
            " tone = 1 M, volume=500k,input_capacitance=20 pF, inductance=4.1 H ",
            "input capacitance 20 pF, volume 500 kΩ, tone 1 MΩ, inductance 4.1 H",
            other_pots,
        ),
    ]
}

/// A long cable ends a guitar's own sound lower, so that "highs" and "brightness" mean another band with it; each case alone is asked with
/// its own, by the second solver.
#[test]
fn a_named_band_ends_where_the_sound_of_each_case_ends() {
    let hand = by_hand();
    let guitar = with_cases(worked_guitar(), &hand.each_ref().map(|(text, ..)| *text));
    let mut builds = 0;
    for phrase in ["darker", "keep highs", "less presence", "less mud"] {
        let mut request = Request::new(guitar.clone(), wish(phrase));
        request.explain = false;
        let result = recommend(&request, &()).unwrap();
        for build in result.builds.iter().take(3) {
            let alone = hand.each_ref().map(|(_, _, single)| {
                let target = wish(phrase).at_own_ends(rest::own_end(single), &[]);
                naive::rank(single, single, &target, vec![fitted(build)])[0].margin_db
            });
            let least = alone.into_iter().fold(f64::INFINITY, f64::min);
            assert_close(build.margin_db, least, 1e-6, phrase);
            builds += 1;
        }
        let clause = &result.target.clauses[0];
        assert_eq!(clause.bands.len(), if phrase == "less mud" { 0 } else { 3 }, "{phrase}");
        let text = report::recommendation_text(&result, 80).replace("\n  ", " ");
        assert!(text.contains(" kHz by case"), "{text}");
    }
    assert!(builds >= 8, "{builds}");
}

#[test]
fn a_margin_is_the_smallest_of_single_case_runs() {
    let hand = by_hand();
    let result = recommended(with_cases(worked_guitar(), &hand.each_ref().map(|(text, ..)| *text)));
    let candidates: u64 = result.search.iter().map(|space| space.candidates).sum();
    assert_eq!((result.builds.len() as u64, candidates), (29, 29));
    let singles = hand.each_ref().map(|(_, _, guitar)| {
        let candidates = result.builds.iter().map(fitted).collect();
        naive::rank(guitar, guitar, &target(), candidates)
    });
    let mut worst_in: Vec<Option<String>> = Vec::new();
    for build in &result.builds {
        let candidate = fitted(build);
        let alone = singles
            .each_ref()
            .map(|single| single.iter().find(|ranked| ranked.candidate == candidate).unwrap());
        // The smallest margin, first among equals by clause before case.
        let (case, worst) = alone
            .iter()
            .enumerate()
            .reduce(|best, next| {
                let earlier = next.1.margin_db == best.1.margin_db && next.1.worst.clause < best.1.worst.clause;
                if next.1.margin_db < best.1.margin_db || earlier {
                    next
                } else {
                    best
                }
            })
            .unwrap();
        assert_close(build.margin_db, worst.margin_db, 10.0 * close::LEVEL_DB, "margin");
        assert_eq!(build.worst.case.as_deref(), Some(hand[case].1));
        assert_eq!(
            (build.worst.clause, build.worst.at.volume),
            (worst.worst.clause, worst.worst.volume)
        );
        assert_eq!(
            (build.worst.at.tone, build.worst.frequency_hz),
            (worst.worst.tone, worst.worst.frequency_hz)
        );
        // Each case has as many points, so that the mean of all squares is the mean of the three means.
        let squares: f64 = alone.iter().map(|single| single.rms_db.powi(2)).sum();
        assert_close(build.rms_db, (squares / 3.0).sqrt(), 10.0 * close::LEVEL_DB, "root mean square");
        let shift = alone
            .iter()
            .map(|single| single.volume_shift_db)
            .reduce(|one, other| if other.abs() > one.abs() { other } else { one });
        assert_close(build.volume_shift_db, shift.unwrap(), 10.0 * close::LEVEL_DB, "volume shift");
        worst_in.push(build.worst.case.clone());
    }
    worst_in.sort();
    worst_in.dedup();
    assert!(worst_in.len() > 1, "one case decides every build: {worst_in:?}");
    let margins = result.builds.iter().map(|build| build.margin_db);
    assert!(margins.clone().zip(margins.skip(1)).all(|(one, next)| next <= one + 0.01 + 1e-9));
}

#[test]
fn the_present_margin_and_the_spans_are_over_the_cases_too() {
    let hand = by_hand();
    let result = recommended(with_cases(worked_guitar(), &hand.each_ref().map(|(text, ..)| *text)));
    let none = || vec![naive::Candidate::new([])];
    let alone = hand
        .each_ref()
        .map(|(_, _, guitar)| naive::rank(guitar, guitar, &target(), none())[0].margin_db);
    let smallest = alone.into_iter().fold(f64::INFINITY, f64::min);
    assert_close(result.present.margin_db, smallest, 10.0 * close::LEVEL_DB, "present");
    assert!(result.present.worst.case.is_some());
    let names: Vec<&str> = result.cases.iter().map(|case| case.name.as_str()).collect();
    assert_eq!(names, hand.each_ref().map(|(_, name, _)| *name));
}

/// The same figures to the last bit, whatever the case is called.
#[test]
fn a_case_that_repeats_the_guitar_changes_nothing() {
    let plain = recommended(worked_guitar());
    assert!(plain.cases.is_empty() && plain.builds.iter().all(|build| build.worst.case.is_none()));
    for texts in [
        &["as-is"][..],
        &["cable=500p,input=1M,volume=250k,tone=250k,inductance=3.4H"],
        &["as-is", "cable=500 pF"],
    ] {
        let mut repeated = recommended(with_cases(worked_guitar(), texts));
        assert_eq!(repeated.cases.len(), texts.len());
        let name = repeated.cases[0].name.clone();
        repeated.cases.clear();
        let mut worsts: Vec<_> = repeated.builds.iter_mut().map(|build| &mut build.worst).collect();
        worsts.push(&mut repeated.present.worst);
        worsts.extend(repeated.answer.build.as_mut().map(|build| &mut build.worst));
        worsts.extend(repeated.stops.as_mut().map(|stops| &mut stops.worst));
        for worst in worsts {
            // The first case among equals.
            assert_eq!(worst.case.take().as_ref(), Some(&name));
        }
        for build in repeated.builds.iter_mut().chain(&mut repeated.answer.build) {
            // The guitar of a build has the cases that it was found in.
            build.guitar.cases.clear();
        }
        for (repeated, plain) in repeated.builds.iter_mut().zip(&plain.builds) {
            // Twice as many terms round otherwise.
            assert_close(repeated.rms_db, plain.rms_db, 10.0 * close::LEVEL_DB, "root mean square");
            repeated.rms_db = plain.rms_db;
        }
        if let (Some(repeated), Some(plain)) = (&mut repeated.answer.build, &plain.answer.build) {
            repeated.rms_db = plain.rms_db;
        }
        assert_eq!(repeated, plain);
    }
}

#[test]
fn a_case_of_the_guitars_own_values_is_the_guitar() {
    random::runner(500)
        .run(&random::guitar(), |guitar| {
            let own = Case {
                position: None,
                name: "own".to_owned(),
                cable: Some(guitar.cable.capacitance),
                input: Some(guitar.input.resistance),
                input_capacitance: Some(guitar.input.capacitance),
                volume: Some(guitar.volume.pot.resistance),
                tone: guitar.tone.as_ref().map(|tone| tone.pot.resistance),
                inductance: Some(guitar.pickup.inductance),
                inductances: Vec::new(),
            };
            prop_assert_eq!(&guitar.in_case(&own), &guitar);
            prop_assert_eq!(guitar.in_cases(), vec![guitar]);
            Ok(())
        })
        .unwrap();
}

/// At full volume, without winding resistance and tone control: V/E = 1 / (1 + Z·(1/R + sC)), Z = sL₀ + (sL₁ ∥ R₁), R = track ∥ input.
#[test]
fn each_case_is_the_closed_form_with_its_own_values() {
    let mut guitar = bare(3.0, 0.0, 0.0, 500e3, 500e-12, 1e6);
    guitar.pickup.loss = vec![LossCell {
        inductance: henries(0.6),
        resistance: ohms(30e3),
    }];
    let guitar = with_cases(guitar, &["as-is", "cable=1200p,input=220k", "inductance=6 H,volume=250k"]);
    // Twice the coil is twice its every inductance.
    let values = [
        ("as-is", 2.4, 0.6, 500e3, 500e-12, 1e6),
        ("cable 1.2 nF, input 220 kΩ", 2.4, 0.6, 500e3, 1200e-12, 220e3),
        ("volume 250 kΩ, inductance 6 H", 4.8, 1.2, 250e3, 500e-12, 1e6),
    ];
    let frequencies = [100.0, 1000.0, 3000.0, 6000.0];
    let asked = Response {
        guitar: &guitar,
        volumes: &[1.0],
        tones: &[1.0],
        frequencies: &frequencies,
    };
    let points: Vec<_> = asked.points().collect();
    assert_eq!(points.len(), 12);
    for ((name, lossless, cell, track, cable, input), points) in values.into_iter().zip(points.chunks(4)) {
        for (row, frequency) in points.iter().zip(frequencies) {
            let s = s(frequency);
            let coil = s * lossless + ((s * cell).inv() + 1.0 / 30e3).inv();
            let load = Complex64::from(1.0 / track + 1.0 / input) + s * cable;
            let expected = decibels((Complex64::ONE + coil * load).inv());
            assert_eq!((row.case, row.point.frequency_hz), (Some(name), frequency));
            assert_close(row.point.level_db.unwrap(), expected, close::LEVEL_DB, name);
        }
    }
}

/// The points are counted case by case, each setting once, in clause, case, volume, tone order.
#[test]
fn a_plan_has_each_cases_points_once() {
    let plain = Plan::new(&worked_guitar(), &worked_guitar(), &target(), &[Slot::Bleed]).unwrap();
    let guitar = with_cases(worked_guitar(), &["cable=300p", "cable=900p", "as-is"]);
    let plan = Plan::new(&guitar, &guitar, &target(), &[Slot::Bleed]).unwrap();
    assert_eq!(plan.frequencies, plain.frequencies);
    assert_eq!(plan.points.len(), 3 * plain.points.len());
    assert_eq!(plan.bounded_points(), 3 * plain.bounded_points());
    for clause in &plan.clauses {
        let order: Vec<_> = clause
            .combinations
            .iter()
            .map(|combination| (combination.case, combination.setting.volume, combination.setting.tone))
            .collect();
        let knobs = [(1.0, 1.0), (1.0, 0.7), (0.5, 1.0), (0.5, 0.7), (0.25, 1.0), (0.25, 0.7)];
        let expected: Vec<_> = (0..3).flat_map(|case| knobs.map(|(volume, tone)| (case, volume, tone))).collect();
        assert_eq!(order, expected);
        let points = |indices: &[usize], case| indices.iter().all(|index| plan.points[*index].case == case);
        assert!(
            clause
                .combinations
                .iter()
                .all(|combination| points(&combination.measured.band, combination.case))
        );
    }
    let own: Vec<_> = plan
        .points
        .iter()
        .filter(|point| point.case == 2)
        .map(|point| &point.reduction)
        .collect();
    assert_eq!(own, plain.points.iter().map(|point| &point.reduction).collect::<Vec<_>>());
}

/// The fast search and its slow twin on random guitars with random cases: same builds, order and figures, and much left out.
#[test]
fn the_fast_search_equals_its_slow_twin_over_cases() {
    let (short, long) = (random::logarithmic(50e-12, 1e-9), random::logarithmic(50e-12, 5e-9));
    let inputs = random::logarithmic(50e3, 2e6);
    let (tried, spared) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let network = Network::read(&Source::inline("form", "R || C").passage()).unwrap();
    let mut rules = Rules::default();
    rules
        .add_series(&Source::inline("--values", "R=E12,C=E6").passage(), &Slot::ALL.map(Slot::word))
        .unwrap();
    let spaces = [Space {
        slots: vec![SlotSpace::new(Slot::Bleed, network, &rules).unwrap()],
    }];
    random::runner(50)
        .run(&(random::guitar(), short, long, inputs), |(mut guitar, short, long, input)| {
            let case = |name: &str, cable| Case {
                name: name.to_owned(),
                cable: Some(farads(cable)),
                ..Case::default()
            };
            guitar.cases = vec![
                case("short", short),
                case("long", long),
                case("as-is", guitar.cable.capacitance.value()),
            ];
            guitar.cases[1].input = Some(ohms(input));
            // A guitar that is silent at a knob position of the target is refused before any search.
            let Ok(plan) = Plan::new(&guitar, &guitar, &target(), &[Slot::Bleed]) else {
                return Ok(());
            };
            let slow = search_by_definition(&plan, &spaces, None, 5);
            let fast = search_with(&plan, &spaces, None, 5, Method::best(), &());
            prop_assert_eq!(&fast.entries, &slow);
            tried.fetch_add(1, Ordering::Relaxed);
            spared.fetch_add(usize::from(fast.evaluated[0] < 0.5 * spaces[0].count() as f64), Ordering::Relaxed);
            Ok(())
        })
        .unwrap();
    let (tried, spared) = (tried.into_inner(), spared.into_inner());
    assert!(
        tried >= 40 && spared >= 20,
        "{spared} of {tried} searches spared the half of their candidates"
    );
}

#[test]
fn a_knob_position_without_sound_is_refused_with_its_case() {
    let mut silent = target();
    silent.clauses[1].volume = vec![0.0];
    let guitar = with_cases(worked_guitar(), &["cable=300p", "cable=900p"]);
    let error = recommend(&Request::new(guitar, silent), &()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Conflict);
    assert!(
        error.message().starts_with("wish 2 ") && error.message().ends_with("in the case \"cable 300 pF\""),
        "{error}"
    );
}

#[test]
fn what_is_no_case_is_refused_at_its_place() {
    let bare = bare(3.0, 6e3, 0.0, 250e3, 500e-12, 1e6);
    let refused = [
        ("cabel=900p", ErrorKind::Unknown, 0..5, "did you mean `cable`?"),
        ("cable=300p, inpt=1M", ErrorKind::Unknown, 12..16, "did you mean `input`?"),
        (
            "wire=3",
            ErrorKind::Unknown,
            0..4,
            "keys of a case: cable, input, input_capacitance, volume, tone, inductance",
        ),
        ("cable=900p,cable=300p", ErrorKind::Conflict, 11..16, "write --case twice"),
        ("cable", ErrorKind::Syntax, 0..5, "no `=` here"),
        ("asis", ErrorKind::Syntax, 0..4, "did you mean `as-is`?"),
        ("as-is,cable=900p", ErrorKind::Conflict, 0..5, "stands alone"),
        ("cable=900p,", ErrorKind::Syntax, 11..11, "expected KEY=VALUE, found nothing"),
        ("", ErrorKind::Syntax, 0..0, "expected KEY=VALUE"),
        ("=900p", ErrorKind::Unknown, 0..0, "keys of a case"),
        ("cable=900k", ErrorKind::Unit, 9..10, "capacitance"),
        ("input=220n", ErrorKind::Unit, 9..10, "resistance"),
        ("input = 220000", ErrorKind::Unit, 8..14, "which unit?"),
        ("inductance=900p", ErrorKind::Unit, 14..15, "inductance"),
        ("cable=21n", ErrorKind::Range, 6..9, "expected 0 F to 20 nF"),
        ("input=999R", ErrorKind::Range, 6..10, "expected 1 kΩ to"),
        ("input_capacitance=1u", ErrorKind::Range, 18..20, "expected 0 F to 20 nF"),
        ("volume=11M", ErrorKind::Range, 7..10, "expected 1 kΩ to 10 MΩ"),
        ("inductance=51H", ErrorKind::Range, 11..14, "expected 10 mH to 50 H"),
        ("tone=250k", ErrorKind::Missing, 0..4, "no tone control"),
    ];
    for (text, kind, span, words) in refused {
        let error = cases(&["as-is", text], &bare).expect_err(text);
        let place = error.place().unwrap_or_else(|| panic!("`{text}`: {error} has no place"));
        assert_eq!((error.kind(), place.span.clone()), (kind, span), "`{text}`: {error}");
        let picture = error.picture();
        assert!(picture.contains(words), "`{text}`: expected `{words}` in\n{picture}");
    }
    let twice = cases(&["cable=900p,input=1M", "input=1 MΩ,cable=0.9n"], &bare).unwrap_err();
    assert!(
        twice.place().is_some() && twice.message().contains("two cases are called `cable 900 pF, input 1 MΩ`"),
        "{twice}"
    );
    let many: Vec<String> = (1..=101).map(|number| format!("cable={number}p")).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert_eq!(cases(&many[..100], &bare).unwrap().len(), 100);
    assert_eq!(cases(&many, &bare).unwrap_err().kind(), ErrorKind::Range);
}

proptest! {
    /// No text makes the reader panic, and what is refused has a place and draws.
    #[test]
    fn any_text_is_a_case_or_refused(text in "(cable|input|tone|as-is|=|,|[0-9]|p|k|n| |\\PC){0,12}") {
        if let Err(error) = cases(&[&text], &worked_guitar()) {
            prop_assert!(error.place().is_some());
            prop_assert!(!error.picture().is_empty());
        }
    }
}

const FILE: &str = "[pickup]\ninductance = \"3.4 H\"\nresistance = \"7 k\"\ncapacitance = \"120 p\"\n
[volume]\nresistance = \"250 k\"\ntaper = \"audio 15 %\"\n
[tone]\nresistance = \"250 k\"\ntaper = \"audio 15 %\"\nnetwork = \"22n\"\n
[cable]\ncapacitance = \"500 p\"\n";

const TABLES: &str = "\n[[case]]\ncable = \"300 p\"\n\n[[case]]\ninput = \"220 k\"\ncable = \"900 pF\"\n
[[case]]\nname = \"other pots\"\nvolume = \"500 k\"\ntone = \"500 k\"\n\n[[case]]\nname = \"as-is\"\n";

fn guitar(text: &str) -> Guitar {
    Guitar::read(&Source::inline("heron.toml", text)).unwrap()
}

#[test]
fn file_and_option_agree() {
    let in_file = guitar(&format!("{FILE}{TABLES}"));
    let mut asked = cases(
        &["cable=300p", "cable=900p,input=220k", "volume=500k,tone=500k", "as-is"],
        &guitar(FILE),
    )
    .unwrap();
    asked[2].name = "other pots".to_owned();
    assert_eq!(in_file.cases, asked);
    let mut without = in_file;
    without.cases.clear();
    assert_eq!(without, guitar(FILE));
    assert!(guitar(&format!("case = []\n{FILE}")).cases.is_empty());
}

/// The program's answer, which misses or meets the target.
fn answer(arguments: &[&str]) -> String {
    let output = Command::cargo_bin("knobwright").unwrap().args(arguments).output().unwrap();
    let (text, errors) = (
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    );
    assert!(matches!(output.status.code(), Some(0 | 1)), "{arguments:?}: {errors}");
    text
}

#[test]
fn the_command_line_replaces_the_files_cases_and_its_results_name_them() {
    let folder = tempfile::tempdir().unwrap();
    let (with, without) = (folder.path().join("with.toml"), folder.path().join("without.toml"));
    std::fs::write(&with, format!("{FILE}{TABLES}")).unwrap();
    std::fs::write(&without, FILE).unwrap();
    let (with, without) = (with.to_str().unwrap(), without.to_str().unwrap());
    let short = [
        "--target",
        "keep highs within 4 dB from full to half volume",
        "--search",
        "bleed=R || C",
        "--values",
        "R=E3,C=E3",
    ];
    let recommend = |guitar: &str, format: &str, more: &[&str]| {
        let fixed = ["recommend", "--quiet", "--guitar", guitar, "--format", format];
        answer(&[&fixed[..], &short, more].concat())
    };
    let json = |guitar, more: &[&str]| serde_json::from_str::<serde_json::Value>(&recommend(guitar, "json", more)).unwrap();
    let names = |value: &serde_json::Value| -> Vec<String> {
        let cases = value["cases"].as_array().unwrap().iter();
        cases.map(|case| case["name"].as_str().unwrap().to_owned()).collect()
    };

    let from_file = json(with, &[]);
    assert_eq!(
        names(&from_file),
        ["cable 300 pF", "cable 900 pF, input 220 kΩ", "other pots", "as-is"]
    );
    assert_eq!(from_file["cases"][1]["cable"].as_f64(), Some(900e-12));
    assert!(
        names(&from_file)
            .iter()
            .any(|name| from_file["builds"][0]["worst"]["case"] == name.as_str())
    );

    let options = ["--case", "cable=900p,input=220k", "--case", "as-is"];
    let replaced = json(with, &options);
    assert_eq!(names(&replaced), ["cable 900 pF, input 220 kΩ", "as-is"]);
    let same = json(without, &options);
    assert_eq!(replaced["builds"], same["builds"]);

    let plain = json(without, &[]);
    assert_eq!(plain["cases"], serde_json::json!([]));
    assert!(plain["builds"][0]["worst"].as_object().unwrap()["case"].is_null());
    assert!(plain["present"]["worst"].as_object().unwrap()["case"].is_null());

    let header = |text: &str| text.lines().next().unwrap().to_owned();
    let (plain, cased) = (recommend(without, "csv", &[]), recommend(without, "csv", &options));
    assert!(
        header(&plain).contains(",worst_clause,worst_case,worst_volume,"),
        "{}",
        header(&plain)
    );
    assert_eq!(header(&plain), header(&cased));
    assert!(
        cased.contains("as-is") || cased.contains("\"cable 900 pF, input 220 kΩ\""),
        "{cased}"
    );

    let (plain, cased) = (
        recommend(without, "table", &["--explain"]),
        recommend(without, "table", &[&options[..], &["--explain"][..]].concat()),
    );
    assert!(!plain.to_lowercase().contains("case"), "{plain}");
    assert!(cased.contains("Cases: (1) cable 900 pF, input 220 kΩ; (2) as-is."), "{cased}");
    assert!(cased.lines().all(|line| line.chars().count() <= 80), "{cased}");
    let units = cased.lines().find(|line| line.trim_start().starts_with("spare ")).unwrap();
    assert!(units.split_whitespace().any(|word| word == "case"), "{cased}");
}

#[test]
fn a_response_has_a_case_column_only_with_cases() {
    let guitar = guitar(FILE);
    fn asked(guitar: &Guitar) -> Response<'_> {
        Response {
            guitar,
            volumes: &[1.0, 0.0],
            tones: &[1.0],
            frequencies: &[100.0, 1000.0],
        }
    }
    let csv = |guitar: &Guitar| {
        let mut bytes = Vec::new();
        report::response_csv(&[asked(guitar)], &(), &mut bytes).unwrap();
        String::from_utf8(bytes).unwrap()
    };
    let plain = csv(&guitar);
    assert!(
        plain.starts_with("volume,tone,frequency_hz,level_db,phase_deg\n10,10,100,"),
        "{plain}"
    );
    assert_eq!(plain.lines().count(), 5);
    let cased = csv(&with_cases(guitar.clone(), &["cable=900p,input=1M", "as-is"]));
    assert!(
        cased.starts_with("case,volume,tone,frequency_hz,level_db,phase_deg\n\"cable 900 pF, input 1 MΩ\",10,10,100,"),
        "{cased}"
    );
    assert_eq!(cased.lines().count(), 9);
    // As it is, a case is the plain response.
    let as_is: Vec<&str> = cased.lines().filter_map(|line| line.strip_prefix("as-is,")).collect();
    assert_eq!(as_is, plain.lines().skip(1).collect::<Vec<_>>());
    let json = report::json(&asked(&guitar)).unwrap();
    assert!(!json.contains("\"case\"") && json.contains("\"level_db\""), "{json}");
}
