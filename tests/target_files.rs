//! Target files, shipped targets, what is written back, and the plain words.

mod clauses;

use std::path::Path;

use clauses::*;
use knobwright::shipped;
use knobwright::source::Source;
use knobwright::target::{Against, Band, Clause, Guards, Measure, Over, Target, WantedCurve};
use proptest::prelude::*;

#[test]
fn own_bands_are_names_in_phrases_and_win_over_common_ones() {
    let text = "[bands]\nBite = [2000, 3000]\nhighs = [1000, 5000]\n\n[[clause]]\nsays = \"keep bite within 2 dB at volume 5\"\n\n\
                [[clause]]\nsays = \"darker\"\n\n[[clause]]\nmeasure = \"shape\"\nagainst = \"full\"\nband = \"bite\"\nanchor = \"lows\"\nat_most = 1\n";
    let target = Target::read(&Source::inline("own.toml", text)).unwrap();
    assert_eq!(target.name, "own");
    let bite = [2000.0, 3000.0];
    assert_eq!(target.clauses[0], keep(bite, 2.0, &[0.5], &FULL));
    assert_eq!(target.clauses[1].band, band([1000.0, 5000.0]));
    let explicit = clause(Measure::Shape, Against::Full, bite, [None, Some(1.0)], &FULL, &FULL);
    assert_eq!(target.clauses[3], anchored(explicit, LOWS));
}

#[test]
fn an_explicit_file_reads_as_written() {
    let text = "name = \"Highs held to quarter volume\"\n[[clause]]\nmeasure = \"shape\"\nagainst = \"full\"\nband = [1500, 6000]\n\
                anchor = [100, 400]\nover = \"every\"\nvolume = [10, 7.5, 5, 2.5]\ntone = [10]\nat_least = -2.0\nat_most = 2.0\n";
    let target = Target::read(&Source::inline("x.toml", text)).unwrap();
    assert_eq!(target.name, "Highs held to quarter volume");
    // A band in Hz ends where it is written, whatever the guitar.
    let mut expected = keep(HIGHS, 2.0, &[1.0, 0.75, 0.5, 0.25], &FULL);
    expected.band = knobwright::target::Band::new(1500.0, 6000.0).unwrap();
    assert_eq!(target.clauses, [expected]);
}

#[test]
fn a_travel_is_every_half_mark_between_two_positions() {
    let read = |volume: &str, tone: &str| {
        let clause = "[[clause]]\nmeasure = \"shape\"\nagainst = \"full\"\nband = \"highs\"\nat_least = -2\nat_most = 2\n";
        Target::read(&Source::inline("x.toml", format!("{clause}volume = {volume}\ntone = {tone}\n")))
    };
    let target = read("{ from = 10, to = 2.5 }", "[10]").unwrap();
    assert_eq!(target.clauses, [keep(HIGHS, 2.0, &TO_QUARTER, &FULL)]);
    assert!(target.to_toml().contains("volume = { from = 10.0, to = 2.5 }"));
    // Either end may come first, and need not be a mark.
    let tones = [0.5, 0.45, 0.4, 0.35, 0.33];
    assert_eq!(
        read("[10]", "{ to = 5, from = 3.3 }").unwrap().clauses,
        [keep(HIGHS, 2.0, &FULL, &tones)]
    );
    for (volume, what) in [
        ("{ from = 10 }", "`to` is missing"),
        ("{ from = 10, to = 0 }", "volume zero is silent"),
        ("{ from = 11, to = 5 }", "0 to 10"),
        ("{ from = 10, to = 5, step = 1 }", "step"),
        ("5", "{ from = 10, to = 5 }"),
    ] {
        let error = read(volume, "[10]").unwrap_err().to_string();
        assert!(error.contains(what), "{volume}: {error}");
    }
    let between = |file: &str| read(file, "[10]").unwrap().looked_at_closely().clauses[0].volume.len();
    assert_eq!((between("{ from = 10, to = 5 }"), between("[10, 7.5, 5]")), (51, 3));
}

#[test]
fn a_curve_is_read_beside_its_target() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("wanted.csv"), "frequency_hz,level_db\n50,0\n8000,-6\n").unwrap();
    let path = folder.path().join("match.toml");
    let text = "[[clause]]\nmeasure = \"level\"\nagainst = { curve = \"wanted.csv\" }\nband = \"mids\"\nat_least = -1\n";
    std::fs::write(&path, text).unwrap();
    let target = Target::read(&Source::file(&path).unwrap()).unwrap();
    let curve = knobwright::curve::Curve::new(vec![[50.0, 0.0], [8000.0, -6.0]]).unwrap();
    let name = "wanted.csv".to_owned();
    let against = Against::Curve(WantedCurve { name, curve });
    assert_eq!(
        target.clauses,
        [clause(Measure::Level, against, MIDS, [Some(-1.0), None], &FULL, &FULL)]
    );
    std::fs::write(&path, target.to_toml()).unwrap();
    assert_eq!(Target::read(&Source::file(&path).unwrap()).unwrap(), target);
}

#[test]
fn every_shipped_target_reads_and_reads_back() {
    assert!(shipped::TARGETS.len() >= 7);
    for file in shipped::TARGETS {
        let target = Target::read(&Source::inline(file.name, file.text)).unwrap_or_else(|error| panic!("{}", error.picture()));
        let again = Target::read(&Source::inline("again", target.to_toml())).unwrap_or_else(|error| panic!("{}", error.picture()));
        assert_eq!(target, again, "{}", file.name);
        assert!(!target.is_one_sided(), "{}: the end of a range would win", file.name);
        assert!(file.text.starts_with("# "), "{}: says what it is for", file.name);
    }
}

#[test]
fn every_file_of_the_folder_is_shipped() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("targets");
    let stems = |folder: &Path, ending: &str| -> Vec<String> {
        let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let mut stems: Vec<String> = entries
            .filter(|path| path.extension().is_some_and(|found| found == ending))
            .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
            .collect();
        stems.sort();
        stems
    };
    let names = |files: &[shipped::ShippedFile]| -> Vec<String> {
        let mut names: Vec<String> = files.iter().map(|file| file.name.to_owned()).collect();
        names.sort();
        names
    };
    assert_eq!(stems(&folder, "toml"), names(shipped::TARGETS));
    assert_eq!(stems(&folder.join("curves"), "csv"), names(shipped::CURVES));
}

#[test]
fn one_sided_targets_are_told_apart() {
    let target = |phrase: &str| Target::from_phrase(&Source::inline("--target", phrase).passage()).unwrap();
    assert!(target("no bump at tone 0").is_one_sided());
    assert!(!target("no bump at tone 0 and keep highs").is_one_sided());
}

#[test]
fn clauses_in_plain_words() {
    let phrases = [
        "keep highs within 2 dB from full to quarter volume",
        "keep level within 6 dB of present from full to half volume",
        "cut highs by 3 to 6 dB at tone 5",
        "no bump at tone 0",
        "less mud at tone 0 at half volume",
        "more presence by 2 dB at tone 10, 7.5, 5",
        "keep mids within 1 dB at volume 3",
    ];
    let mut sentences: Vec<String> = Vec::new();
    for phrase in phrases {
        let target = Target::from_phrase(&Source::inline("--target", phrase).passage()).unwrap();
        sentences.push(format!("> {phrase}"));
        sentences.extend(target.in_words());
    }
    for file in shipped::TARGETS {
        sentences.push(format!("> {}", file.name));
        sentences.extend(Target::read(&Source::inline(file.name, file.text)).unwrap().in_words());
    }
    insta::assert_snapshot!(sentences.join("\n"));
}

fn any_band() -> impl Strategy<Value = Band> {
    (1.0..25e3_f64, 1.001..2.0_f64).prop_map(|(low, factor)| band([low, low * factor]))
}

/// Rotations above zero, each once.
fn any_rotations() -> impl Strategy<Value = Vec<f64>> {
    proptest::collection::btree_set(1_u32..=1000, 1..5)
        .prop_map(|steps| steps.into_iter().rev().map(|step| f64::from(step) / 1000.0).collect())
}

fn any_clause() -> impl Strategy<Value = Clause> {
    let measure = prop_oneof![Just(Measure::Level), Just(Measure::Shape)];
    let against = prop_oneof![Just(Against::Full), Just(Against::Present), Just(Against::Flat)];
    let over = prop_oneof![Just(Over::Every), Just(Over::Mean), Just(Over::Average)];
    let bounds = prop_oneof![
        (-200.0..200.0_f64).prop_map(|low| (Some(low), None)),
        (-200.0..200.0_f64).prop_map(|high| (None, Some(high))),
        (-200.0..0.0_f64, 0.0..200.0_f64).prop_map(|(low, high)| (Some(low), Some(high))),
    ];
    (
        measure,
        against,
        any_band(),
        any_band(),
        over,
        any_rotations(),
        any_rotations(),
        bounds,
    )
        .prop_map(|(measure, against, band, anchor, over, volume, tone, (at_least, at_most))| Clause {
            measure,
            against,
            band,
            anchor: (measure == Measure::Shape).then_some(anchor),
            over,
            volume,
            tone,
            at_least,
            at_most,
            bands: Vec::new(),
            place: knobwright::target::Place::default(),
        })
}

proptest! {
    #[test]
    fn any_target_reads_back_from_its_toml(name in "[^\\s\\p{C}]{1,3}[ \"'\\\\a-zµ]{0,5}[^\\s\\p{C}]{1,3}", clauses in proptest::collection::vec(any_clause(), 1..4), width in 0.0f64..100.0, share in 0.0f64..1.0) {
        let guards = Guards { full: width, volume_highs: 2.0 * width, knobs: share, ..Guards::USUAL };
        let target = Target { guards, ..Target::new(name, clauses) };
        let source = Source::inline("written", target.to_toml());
        let again = Target::read(&source).map_err(|error| TestCaseError::fail(error.picture()))?;
        prop_assert_eq!(again, target);
    }

    #[test]
    fn odd_phrases_are_refused_or_read_back(words in proptest::collection::vec(
        prop_oneof!["keep|highs|within|2|dB|from|full|to|half|volume|at|tone|,|;|and|\\?|cut|by|least|no|bump|less|more|darker|three|quarter|10|-3|0|7,5|level|of|present", "\\PC{0,4}"], 0..12)) {
        let phrase = words.join(" ");
        let source = Source::inline("--target", phrase);
        match Target::from_phrase(&source.passage()) {
            Ok(target) => {
                prop_assert!(!target.clauses.is_empty());
                let again = Target::read(&Source::inline("written", target.to_toml())).map_err(|error| TestCaseError::fail(error.picture()))?;
                prop_assert_eq!(again, target);
            }
            Err(error) => prop_assert!(!error.picture().is_empty()),
        }
    }
}

/// Where a guitar's sound ends below what is asked for, that is said; the limit is that of the band (DEVELOPERS.md, "Where the guitar ends").
#[test]
fn presence_where_there_is_none_gets_a_note() {
    let read = |phrase: &str| Target::from_phrase(&Source::inline("--target", phrase).passage()).unwrap();
    let note = |phrase: &str, end: f64, cases: &[(String, Option<f64>)]| read(phrase).at_own_ends(Some(end), cases).note;
    assert!(note("more presence", 2300.0, &[]).unwrap().contains("2.3 kHz"));
    let long_cable = [("long cable".to_owned(), Some(2400.0)), ("short cable".to_owned(), None)];
    assert!(note("less harsh", 4000.0, &long_cable).unwrap().contains("2.4 kHz"));
    assert_eq!(note("more presence", 2600.0, &[]), None);
    assert_eq!(note("darker", 2300.0, &[]), None);
}
