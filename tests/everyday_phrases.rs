//! Wishes as people say them, each against the phrase it must equal. The sentences are written by the project from common speech
//! (common practice, no source), before the reader was taught any of them.

use knobwright::shipped;
use knobwright::source::Source;
use knobwright::target::{Clause, Place, Target};

const EVERYDAY: &str = include_str!("phrases/everyday.txt");
const SPOKEN: &str = include_str!("phrases/spoken.txt");
const KEPT_AWAY: &str = include_str!("phrases/kept-away.txt");
const TRAPS: &str = include_str!("phrases/traps.txt");

fn read(phrase: &str) -> Result<Target, String> {
    Target::from_phrase(&Source::inline("--target", phrase).passage()).map_err(|error| error.picture())
}

fn clauses(phrase: &str) -> Vec<Clause> {
    anywhere(read(phrase).unwrap_or_else(|picture| panic!("{phrase}: {picture}")))
}

/// What is wished for, wherever it is: the sentences say "neck pickup" and what they mean does not.
fn anywhere(target: Target) -> Vec<Clause> {
    let everywhere = |clause| Clause {
        place: Place::default(),
        ..clause
    };
    target.clauses.into_iter().map(everywhere).collect()
}

/// The sentences that a message offers.
fn examples(picture: &str) -> Vec<&str> {
    let leads = ["for example: ", "or: "];
    picture
        .lines()
        .filter_map(|line| {
            leads
                .iter()
                .find_map(|lead| line.split_once(&format!("help: {lead}")).map(|(_, sentence)| sentence))
        })
        .collect()
}

/// The sentences of a file that are not read as they are meant, and how many it holds.
fn misread(file: &str) -> (Vec<String>, usize) {
    let lines = file.lines().filter(|line| !line.starts_with('#'));
    let mut wrong = Vec::new();
    for line in lines.clone() {
        let (sentence, meant) = line.rsplit_once(" | ").unwrap();
        match (read(sentence), meant.strip_prefix("refused")) {
            (Ok(target), None) if anywhere(target.clone()) == clauses(meant) => {}
            (Err(picture), Some(named)) if picture.contains(named.trim_start_matches(", ")) => {}
            (Ok(target), _) => wrong.push(format!("{sentence}: {meant}, but read as {:?}", target.read_as)),
            (Err(picture), _) => wrong.push(format!("{sentence}: {meant}, but {picture}")),
        }
    }
    (wrong, lines.count())
}

#[test]
fn everyday_sentences_mean_what_they_say() {
    let (wrong, _) = misread(EVERYDAY);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_sentence_is_read_in_a_sense_it_does_not_have() {
    let (wrong, all) = misread(TRAPS);
    assert!(all >= 60 && wrong.is_empty(), "{} of {all}:\n{}", wrong.len(), wrong.join("\n"));
}

/// Where a wish is about, as people say it (common speech, written by the project); on a guitar of one pickup nothing of it matters.
#[test]
fn the_place_of_a_wish_is_read() {
    let positions = |names: &[&str]| Place {
        selector: names.iter().map(|name| (*name).to_owned()).collect(),
        is_spoken: true,
        ..Place::default()
    };
    let pickup = |name: &str| Place {
        pickup: Some(name.to_owned()),
        is_spoken: true,
        ..Place::default()
    };
    let read_so = [
        ("keep highs with both pickups", "keep highs", positions(&["both"])),
        ("keep highs with both pickups on", "keep highs", positions(&["both"])),
        ("with all pickups less mud", "less mud", positions(&["all"])),
        ("less mud in the neck position", "less mud", positions(&["neck"])),
        ("in the split position more lows", "more lows", positions(&["split"])),
        ("less mud in position both", "less mud", positions(&["both"])),
        (
            "brighter in the neck and middle position",
            "brighter",
            positions(&["neck and middle"]),
        ),
        ("my bridge pickup is too bright", "darker", pickup("bridge")),
        ("keep highs at neck volume 5", "keep highs at volume 5", pickup("neck")),
        ("keep highs in any position of the volume knob", "keep highs", Place::default()),
        ("less mud", "less mud", Place::default()),
    ];
    for (sentence, meant, place) in read_so {
        let Ok(target) = read(sentence) else {
            // Where the language has no such words it may refuse, but not misread.
            assert!(place.is_anywhere(), "{sentence}");
            continue;
        };
        assert_eq!(anywhere(target.clone()), clauses(meant), "{sentence}");
        assert!(
            target.clauses.iter().all(|clause| clause.place == place),
            "{sentence}: {:?}",
            target.clauses[0].place
        );
    }
}

#[test]
fn spoken_sentences_mean_what_they_say() {
    for file in [SPOKEN, KEPT_AWAY] {
        let (wrong, all) = misread(file);
        assert!(all >= 60 && wrong.is_empty(), "{} of {all}:\n{}", wrong.len(), wrong.join("\n"));
    }
}

/// What is echoed is a phrase again, of the same meaning, and needs no echo of its own.
#[test]
fn every_echo_reads_as_itself() {
    let mut echoes = 0;
    let lines = [EVERYDAY, SPOKEN, KEPT_AWAY, TRAPS].into_iter().flat_map(str::lines);
    for line in lines.filter(|line| !line.starts_with('#')) {
        let sentence = line.rsplit_once(" | ").unwrap().0;
        let Ok(target) = read(sentence) else { continue };
        if let Some(echo) = &target.read_as {
            let again = read(echo).unwrap_or_else(|picture| panic!("{echo}: {picture}"));
            assert_eq!((again.clauses, again.read_as), (target.clauses, None), "{sentence}: {echo}");
            echoes += 1;
        }
    }
    assert!(echoes > 120, "{echoes}");
}

/// Whoever types what a message offers is not refused again.
#[test]
fn every_sentence_offered_reads() {
    let wide = "vintage tone\nopen it up\nmore punch\nbalanced\nnot harsh\nrock tone\nquiet\nles mud\nbass\nfoo\nkeep foo\ncut foo\nmore foo\ndarker foo";
    let broken = include_str!("bad-input/phrases.txt").lines().chain(wide.lines());
    let mut offered = 0;
    for phrase in broken {
        let picture = read(phrase).expect_err(phrase);
        for sentence in examples(&picture) {
            clauses(sentence);
            offered += 1;
        }
    }
    assert!(offered >= 60, "{offered}");
}

#[test]
fn what_no_part_can_do_is_refused_with_the_reason() {
    for (phrase, why) in [
        ("louder", "only take away"),
        ("I want more gain", "only take away"),
        ("more distortion please", "only take away"),
        ("less hum", "shielding"),
        ("more reverb", "pedal"),
    ] {
        let picture = read(phrase).expect_err(phrase);
        assert!(picture.contains(why), "{picture}");
    }
}

#[test]
fn what_the_shipped_targets_ask_has_a_short_name() {
    for (phrase, name) in [("which treble bleed?", "highs-and-feel"), ("which tone cap?", "tone-sweep")] {
        let file = shipped::TARGETS.iter().find(|file| file.name == name).unwrap();
        assert_eq!(
            clauses(phrase),
            Target::read(&Source::inline(name, file.text)).unwrap().clauses,
            "{phrase}"
        );
    }
}

/// A slip of the finger is told, but never the word of the opposite sense.
#[test]
fn a_suggestion_never_turns_the_sense_round() {
    for (phrase, meant) in [
        ("les mud", "less"),
        ("darkr", "darker"),
        ("brigter", "brighter"),
        ("keep trebel", "treble"),
    ] {
        let picture = read(phrase).expect_err(phrase);
        assert!(picture.contains(&format!("did you mean `{meant}`?")), "{picture}");
    }
    let picture = read("lighter").expect_err("lighter");
    assert!(!picture.contains("did you mean"), "{picture}");
}
