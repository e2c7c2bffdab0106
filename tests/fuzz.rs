//! Every reader on texts that are nearly right: no panic, no wait, no NaN, and every message at its place with nothing in it that steers
//! a terminal. The texts are the shipped files and those of `tests/bad-input`, changed word by word; each is made from its number alone.
//!
//! `KNOBWRIGHT_FUZZ=100000 cargo test --test fuzz` reads so many, and `KNOBWRIGHT_FUZZ_FROM` says with which number to begin. The promises
//! are this project's own, no outside source.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

use knobwright::circuit::Setting;
use knobwright::curve::Curve;
use knobwright::error::Error;
use knobwright::guitar::taper::Taper;
use knobwright::guitar::whole::Whole;
use knobwright::guitar::{Guitar, catalogue, read_cases};
use knobwright::identify::sweep::{Columns, Reading, Sweep};
use knobwright::kernel::evaluate::powers;
use knobwright::kernel::measure::worst_point;
use knobwright::kernel::placed;
use knobwright::kernel::plan::Plan;
use knobwright::kernel::response::response;
use knobwright::parts::network::Network;
use knobwright::parts::stock::Stock;
use knobwright::source::{Source, is_printable};
use knobwright::target::Target;
use knobwright::units::{read_decibels, read_farads, read_fraction, read_henries, read_hertz, read_metres, read_ohms};
use knobwright::{inputs, values};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{RngCore, SeedableRng};

/// Inputs of a run among the other tests.
const INPUTS: u64 = 6_000;
/// No input may take longer.
const LONGEST: Duration = Duration::from_secs(1);
/// Longest picture of an error, in bytes.
const LONGEST_PICTURE: usize = 20_000;

/// A language that people write, what reads it, and texts to begin with.
struct Language {
    name: &'static str,
    read: fn(&Source) -> Result<(), Vec<Error>>,
    texts: Vec<String>,
}

#[test]
fn nearly_right_texts_are_read_or_refused_at_their_place() {
    let number = |name: &str, otherwise| std::env::var(name).map_or(otherwise, |text| text.parse().expect("a number"));
    let first: u64 = number("KNOBWRIGHT_FUZZ_FROM", 0);
    let languages = languages();
    let mut read = vec![[0_u64; 2]; languages.len()];
    for index in first..first + number("KNOBWRIGHT_FUZZ", INPUTS) {
        let which = (index % languages.len() as u64) as usize;
        let language = &languages[which];
        let text = changed(&languages, which, index);
        let refused = check(language, &text, index);
        read[which][usize::from(refused)] += 1;
    }
    for (language, [taken, refused]) in languages.iter().zip(&read) {
        println!("{}: {taken} read, {refused} refused", language.name);
        // Neither is worth much alone: what is never read tries the first line of a reader only.
        assert!(*taken > 0 && *refused > 0, "{}: {taken} read, {refused} refused", language.name);
    }
}

/// Reads a text; whether it was refused.
fn check(language: &Language, text: &str, index: u64) -> bool {
    let told = || format!("{} number {index}:\n{text}\n", language.name);
    let mut shortest = Duration::MAX;
    let mut answer = Ok(());
    // A busy machine stretches a moment now and then; it does not do so three times.
    for _ in 0..3 {
        let start = Instant::now();
        let source = Source::inline("fuzz", text);
        answer = catch_unwind(AssertUnwindSafe(|| (language.read)(&source))).unwrap_or_else(|_| panic!("{}", told()));
        shortest = shortest.min(start.elapsed());
        if shortest < LONGEST {
            break;
        }
    }
    assert!(shortest < LONGEST, "{shortest:?} for {}", told());
    let errors = answer.err().unwrap_or_default();
    for error in errors.iter().take(20) {
        assert!(error.place().is_some(), "no place: {error}\n{}", told());
        let picture = error.picture();
        assert!(picture.len() < LONGEST_PICTURE, "{} bytes of picture: {}", picture.len(), told());
        assert!(
            picture.chars().all(|letter| is_printable(letter) || letter == '\n'),
            "{picture:?}\n{}",
            told()
        );
        assert!(error.to_string().chars().all(is_printable), "{error:?}\n{}", told());
    }
    !errors.is_empty()
}

fn alone<T>(result: Result<T, Error>) -> Result<T, Vec<Error>> {
    result.map_err(|error| vec![error])
}

fn read_guitar(source: &Source) -> Result<(), Vec<Error>> {
    let guitar = alone(Guitar::read(source))?;
    sounds(&guitar);
    let summary = guitar.summary().replace(&guitar.name, "");
    assert!(!summary.contains("NaN") && !summary.contains("inf"), "{summary}");
    Ok(())
}

/// A guitar of several pickups, as each of its knobs sees it in each position.
fn read_whole(source: &Source) -> Result<(), Vec<Error>> {
    let whole = alone(Whole::read(source))?;
    for view in &whole.views {
        sounds(&view.guitar);
        view.positions().for_each(|position| sounds(&view.guitar.in_case(position)));
    }
    Ok(())
}

/// The response of a guitar is a number wherever there is one.
fn sounds(guitar: &Guitar) {
    let settings = [[1.0, 1.0], [0.5, 0.0], [1e-6, 0.3]].map(|[volume, tone]| Setting { volume, tone });
    for point in response(guitar, &settings, &[20.0, 440.0, 5000.0, 20e3]) {
        let finite = [point.level_db, point.phase_deg].iter().flatten().all(|figure| figure.is_finite());
        assert!(finite, "{point:?}");
    }
}

fn read_target(source: &Source) -> Result<(), Vec<Error>> {
    held(&alone(Target::read(source))?);
    Ok(())
}

fn read_phrase(source: &Source) -> Result<(), Vec<Error>> {
    held(&alone(inputs::target_of(source))?);
    Ok(())
}

/// A target can be said, written and measured.
fn held(target: &Target) {
    let words = target.in_words().join("; ");
    assert!(!words.contains("NaN") && words.chars().all(is_printable), "{words}");
    assert!(!target.to_toml().contains("= nan"), "{}", target.to_toml());
    let guitar = inputs::guitar(None).expect("shipped");
    if target.points() > 2_000 {
        return;
    }
    let whole = inputs::Inputs::default().whole(Some("bustard".as_ref())).expect("shipped");
    for view in whole.views {
        let mut guitar = view.guitar;
        let placed = placed::placed(target.clone(), &mut guitar);
        if placed::check(&placed, &guitar).is_ok() {
            measured(&placed, &guitar);
        }
    }
    measured(target, &guitar);
}

fn measured(target: &Target, guitar: &Guitar) {
    // What is silent at a position is refused by name.
    let Ok(plan) = Plan::new(guitar, guitar, target, &[]) else {
        return;
    };
    let mut found = Vec::new();
    powers(&plan, &[], &mut found);
    if let Some(worst) = worst_point(&plan, &found) {
        assert!(worst.difference.is_finite(), "{worst:?}");
    }
}

fn read_stock(source: &Source) -> Result<(), Vec<Error>> {
    let stock = alone(Stock::read(source))?;
    for row in &stock.rows {
        assert!(
            row.value.is_finite() && row.value > 0.0 && row.price.is_none_or(f64::is_finite),
            "{row:?}"
        );
        assert!(row.note.chars().all(is_printable), "{row:?}");
    }
    Ok(())
}

fn read_catalogue(source: &Source) -> Result<(), Vec<Error>> {
    catalogue::read(source)?.iter().for_each(|listed| sounds(&listed.guitar));
    Ok(())
}

fn read_sweep(source: &Source) -> Result<(), Vec<Error>> {
    let sweep = alone(Sweep::read(source, Reading::Impedance, &Columns::default()))?;
    let finite = |value: f64| value.is_finite();
    let whole = sweep
        .rows
        .iter()
        .all(|row| finite(row.frequency) && finite(row.nepers) && row.phase.is_none_or(finite));
    assert!(whole, "{:?}", sweep.rows);
    Ok(())
}

fn read_curve(source: &Source) -> Result<(), Vec<Error>> {
    let taper = Taper::read_table(source);
    let curve = Curve::read(source, ["frequency_hz", "level_db"]);
    for value in taper.iter().flat_map(|taper| [0.1, 0.5, 1e-7].map(|x| taper.wiper(x))) {
        assert!((0.0..=1.0).contains(&value), "{value}");
    }
    for value in curve
        .iter()
        .flat_map(|curve| [curve.at(440.0), curve.at_logarithmic(440.0)])
        .flatten()
    {
        assert!(value.is_finite(), "{value}");
    }
    match (taper, curve) {
        (Err(one), Err(other)) => Err(vec![one, other]),
        _ => Ok(()),
    }
}

fn read_network(source: &Source) -> Result<(), Vec<Error>> {
    let network = alone(Network::read(&source.passage()))?;
    if let Some(network) = network {
        // What is written back is the same network.
        let written = network.to_string();
        assert!(!written.contains("NaN") && !written.contains("inf"), "{written}");
        let again = Network::read(&Source::inline("again", written.as_str()).passage());
        assert!(again.is_ok(), "{written}: {again:?}");
    }
    Ok(())
}

fn read_quantity(source: &Source) -> Result<(), Vec<Error>> {
    let passage = source.passage();
    let found = [
        read_ohms(&passage).map(|value| value.value()),
        read_farads(&passage).map(|value| value.value()),
        read_henries(&passage).map(|value| value.value()),
        read_hertz(&passage).map(|value| value.value()),
        read_decibels(&passage).map(|value| value.value()),
        read_fraction(&passage).map(|value| value.value()),
        read_metres(&passage),
    ];
    assert!(found.iter().flatten().all(|value| value.is_finite()), "{found:?}");
    let errors: Vec<Error> = found.iter().filter_map(|found| found.as_ref().err()).cloned().collect();
    if errors.len() == found.len() { Err(errors) } else { Ok(()) }
}

fn read_mark(source: &Source) -> Result<(), Vec<Error>> {
    let readings = alone(values::decode(&source.passage()))?;
    let text = serde_json::to_string(&readings).expect("JSON");
    // No JSON can hold what is not finite: it comes out as null, which no value may be.
    assert!(!readings.is_empty() && !text.contains("\"value\":null"), "{text}");
    Ok(())
}

fn read_case(source: &Source) -> Result<(), Vec<Error>> {
    let guitar = inputs::guitar(None).expect("shipped");
    let cases = alone(read_cases(std::slice::from_ref(source), &guitar))?;
    cases.iter().for_each(|case| sounds(&guitar.in_case(case)));
    Ok(())
}

fn languages() -> Vec<Language> {
    let language = |name, read, texts| Language { name, read, texts };
    let words = |texts: &[&str]| texts.iter().map(|text| (*text).to_owned()).collect::<Vec<String>>();
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<String>>();
    let bad = |start: &str| files("tests/bad-input", start, ".csv");
    let shipped = std::fs::read_to_string("stock-values/catalogues/sixty-birds.csv").expect("shipped");
    let few: Vec<&str> = shipped.lines().filter(|line| !line.starts_with('#')).take(5).collect();
    let mut phrases = lines(&std::fs::read_to_string("tests/bad-input/phrases.txt").expect("the phrases"));
    phrases.extend(words(&[
        "keep highs within 2 dB from full to quarter volume",
        "which cap for less mud?",
        "cut highs by 6 to 12 dB at tone 0; keep level within 1 dB of present at half volume",
        "no bump over 3 dB in presence at half volume and more mids by 2 dB",
        "darker by 3 dB at volume 5, 7.5",
        "less mud with both pickups on, keep highs in the neck and middle position",
        "in position both brighter; darker on the bridge pickup",
    ]));
    vec![
        language(
            "guitar",
            read_guitar,
            [files("stock-values/guitars", "", ".toml"), files("tests/bad-input", "", ".toml")].concat(),
        ),
        language(
            "target",
            read_target,
            [
                files("targets", "", ".toml"),
                files("tests/bad-input/targets", "", ".toml"),
                words(&[PLACES]),
            ]
            .concat(),
        ),
        language(
            "stock",
            read_stock,
            [files("stock-values/stock", "", ".csv"), bad("stock-")].concat(),
        ),
        language("whole guitar", read_whole, files("stock-values/whole-guitars", "", ".toml")),
        language("catalogue", read_catalogue, words(&[&few.join("\n")])),
        language(
            "sweep",
            read_sweep,
            words(&[
                "frequency_hz,magnitude_ohm,phase_deg\n100,6500,3\n300,9e3,40\n1000,21k,70\n3000,1.2e5,80\n8000,4e4,-60\n",
                "# bridge\n100;6500,5\n200;7000,25\n400;9000\n800;15e3\n1600;3e4\n3200;1e5\n",
                "20 6500 1\n40 6510 2\n80 6530 3\n160 6700 5\n320 7300 9\n",
            ]),
        ),
        language("curve", read_curve, [files("targets/curves", "", ".csv"), bad("pot-")].concat()),
        language("phrase", read_phrase, phrases),
        language(
            "network",
            read_network,
            words(&[
                "120k || 1n",
                "(R1 + 22n) || C",
                "130k + (2n2 || 47k)",
                "none",
                "4k7",
                "R || C",
                "0.022µF + 1M || 100p",
                "R1 + (R2 || C)",
            ]),
        ),
        language(
            "quantity",
            read_quantity,
            words(&[
                "4k7",
                "22 nF",
                "0.022 µF",
                "3.4 H",
                "5 %",
                "1e3 Ω",
                "440 Hz",
                "-2.5 dB",
                "4.5 m",
                "R47",
                "1,000 pF",
                "100pF",
                "2M2",
            ]),
        ),
        language(
            "mark",
            read_mark,
            words(&[
                "223J",
                "473K100",
                "4k7",
                "yellow violet yellow gold",
                "104",
                "B250K",
                "0.022/400",
                "22nF 63V",
                "R47F",
                "01B",
                "brown black red",
            ]),
        ),
        language(
            "case",
            read_case,
            words(&[
                "cable=900p,input=220k",
                "as-is",
                "volume=225k,tone=300k",
                "inductance=3.2 H",
                "input_capacitance=100p",
            ]),
        ),
    ]
}

/// The texts of a folder's files, by the beginning and end of their names.
fn files(folder: &str, start: &str, end: &str) -> Vec<String> {
    let entries = std::fs::read_dir(Path::new(folder)).expect(folder);
    let mut paths: Vec<_> = entries.map(|entry| entry.expect("an entry").path()).collect();
    paths.sort();
    let named = |path: &&std::path::PathBuf| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        name.starts_with(start) && name.ends_with(end)
    };
    paths
        .iter()
        .filter(named)
        .filter_map(|path| std::fs::read_to_string(path).ok())
        .collect()
}

/// Where in a guitar of several pickups.
const PLACES: &str = "[[clause]]\nsays = \"keep highs\"\nselector = [\"both\", \"neck\"]\npickup = \"neck\"\nknob = \"neck volume\"\n\
                      knobs = { \"bridge volume\" = 5, blend = 2.5 }\n";

/// What numbers go wrong at.
const NUMBERS: [&str; 24] = [
    "0",
    "-0",
    "1",
    "-1",
    "1e-160",
    "1e308",
    "1e309",
    "-1e309",
    "nan",
    "inf",
    "1e-320",
    "0.1",
    "1.0000000000000002",
    "99999999999999999999",
    "18446744073709551615",
    "4294967296",
    "1,5",
    ".",
    "1e",
    "0x10",
    "1_000",
    "00",
    "5e-7",
    "200",
];
/// What texts go wrong at.
const PIECES: [&str; 34] = [
    "\"",
    "'",
    "\"\"\"",
    "\\",
    "\\u0007",
    "\u{1b}[31m",
    "\u{9b}31m",
    "\u{202e}",
    "\u{200e}",
    "\u{0}",
    "\r",
    "\n",
    "\r\n",
    "\t",
    "\u{feff}",
    "#",
    ",",
    ";",
    "=",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "(",
    ")",
    "||",
    "+",
    "µ",
    "Ω",
    "∞",
    "🎸",
    "e\u{301}",
    "..",
];

/// A text of a language, changed in one to six places.
fn changed(languages: &[Language], which: usize, index: u64) -> String {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(index);
    let texts = &languages[which].texts;
    let mut words = split(pick::<String>(&mut random, texts));
    for _ in 0..below(&mut random, 7) {
        let at = below(&mut random, words.len() + 1);
        match below(&mut random, 11) {
            0 => drop(words.splice(at..(at + 1).min(words.len()), [])),
            1 => words.insert(at, pick(&mut random, &PIECES).to_string()),
            2 => words.insert(at, pick(&mut random, &NUMBERS).to_string()),
            3 => replace_number(&mut words, &mut random),
            4 => {
                let other = split(pick::<String>(&mut random, texts));
                words.insert(at, other.get(below(&mut random, other.len())).cloned().unwrap_or_default());
            }
            5 => words.truncate(at.max(1)),
            6 => {
                let end = (at + below(&mut random, 30)).min(words.len());
                let again = words[at..end].to_vec();
                words.splice(at..at, again);
            }
            7 if words.len() > 1 => {
                let (one, other) = (below(&mut random, words.len()), below(&mut random, words.len()));
                words.swap(one, other);
            }
            8 => {
                let long = pick(&mut random, &["9", "x", "(", "[", " ", "1k||", "\n", "\u{e9}"]).repeat(1 << below(&mut random, 14));
                words.insert(at, long);
            }
            9 => {
                let foreign = &languages[below(&mut random, languages.len())].texts;
                let foreign = pick(&mut random, foreign);
                words.splice(at..at, split(foreign).into_iter().take(20));
            }
            _ => {
                if let Some(word) = words.get_mut(at) {
                    *word = word.to_uppercase();
                }
            }
        }
    }
    words.concat()
}

fn replace_number(words: &mut [String], random: &mut Xoshiro256PlusPlus) {
    let numbers: Vec<usize> = (0..words.len())
        .filter(|at| words[*at].starts_with(|letter: char| letter.is_ascii_digit()))
        .collect();
    if !numbers.is_empty() {
        words[*pick(random, &numbers)] = pick(random, &NUMBERS).to_string();
    }
}

/// Words, numbers, white space and single signs.
fn split(text: &str) -> Vec<String> {
    let class = |letter: char| match letter {
        letter if letter.is_ascii_digit() || letter == '.' => 0,
        letter if letter.is_alphabetic() || letter == '_' => 1,
        ' ' => 2,
        _ => 3,
    };
    let mut words: Vec<String> = Vec::new();
    let mut before = 3;
    for letter in text.chars() {
        match words.last_mut() {
            Some(word) if class(letter) == before && before != 3 => word.push(letter),
            _ => words.push(letter.to_string()),
        }
        before = class(letter);
    }
    words
}

fn below(random: &mut Xoshiro256PlusPlus, end: usize) -> usize {
    (random.next_u64() % end.max(1) as u64) as usize
}

fn pick<'t, T>(random: &mut Xoshiro256PlusPlus, from: &'t [T]) -> &'t T {
    &from[below(random, from.len())]
}
