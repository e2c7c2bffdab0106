//! What a recommendation's text says would help, done as the text says it and measured by the definition, circuit by circuit: nothing is
//! taken from the result but its words.

mod support;

use knobwright::guitar::{Guitar, Hookup, Joint, Slot};
use knobwright::inputs;
use knobwright::parts::network::{Component, Network};
use knobwright::recommend::{Recommendation, Request, recommend};
use knobwright::report::recommendation_text;
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use knobwright::target::Target;
use support::*;

/// Shipped targets and wishes of players, most of them out of reach of what is searched for them.
const TARGETS: [&str; 10] = [
    "highs-and-feel",
    "highs-and-feel-to-quarter",
    "clearer-closed-tone",
    "match-another-guitar",
    "tone-sweep",
    "which cap for less mud?",
    "keep highs within 1 dB at volume 10, 7.5, 5, 2.5",
    "keep highs within 2 dB from full to half volume and keep level within 3 dB of present from full to half volume",
    "cut mud by 3 to 6 dB at tone 0 and keep highs within 1 dB at tone 0",
    "cut highs by 6 to 8 dB at tone 0 and keep mids within 1 dB at tone 0",
];

const INTRODUCTIONS: [&str; 4] = [
    "What would do: ",
    "Any one of these would do: ",
    "What comes closer: ",
    "Any one of these comes closer: ",
];

/// The statements of the text, each with whether it is said to be enough.
fn stated(text: &str) -> Vec<(String, bool)> {
    let mut found = Vec::new();
    for introduction in INTRODUCTIONS {
        let Some((_, rest)) = text.split_once(introduction) else {
            continue;
        };
        let line = rest.lines().next().expect("a line");
        // Nothing in a statement has a full stop before a space.
        let sentence = line.split(". ").next().expect("a sentence").trim_end_matches('.');
        found.extend(
            sentence
                .split("; ")
                .map(|item| (item.to_owned(), introduction.contains("would do"))),
        );
    }
    found
}

fn network(text: &str) -> Network {
    let network = Network::read(&Source::inline("test", text).passage()).unwrap_or_else(|error| panic!("{}", error.picture()));
    network.unwrap_or_else(|| panic!("`{text}` is no network"))
}

/// "clause 2 loosened to between −1.00 and +2.00 dB" done to a target.
fn loosen(target: &mut Target, clause: &str, bounds: &str) {
    let number: usize = clause.parse().expect("a clause's number");
    let clause = &mut target.clauses[number - 1];
    let decibels = |text: &str| -> f64 { text.trim().parse().unwrap_or_else(|_| panic!("`{text}` is no figure")) };
    let bounds = bounds.strip_suffix(" dB").expect("decibels");
    let [low, high] = if let Some(within) = bounds.strip_prefix("within ") {
        [Some(-decibels(within)), Some(decibels(within))]
    } else if let Some(both) = bounds.strip_prefix("between ") {
        let (low, high) = both.split_once(" and ").expect("two bounds");
        [Some(decibels(low)), Some(decibels(high))]
    } else if let Some(low) = bounds.strip_prefix("at least ") {
        [Some(decibels(low)), None]
    } else {
        [None, Some(decibels(bounds.strip_prefix("at most ").expect("a bound")))]
    };
    (clause.at_least, clause.at_most) = (low, high);
}

/// Does one thing that a statement names.
fn apply(thing: &str, build: &mut Guitar, target: &mut Target) {
    let component = |text: &str| match network(text) {
        Network::Fixed(component) => component,
        other => panic!("{other} is no single part"),
    };
    if let Some(wiring) = thing.strip_prefix("the tone control ") {
        let tone = build.tone.as_mut().expect("a tone control");
        match wiring {
            "wired as a shelf" => tone.hookup = Hookup::Shelf,
            "wired the common way, as a rheostat" => tone.hookup = Hookup::Rheostat,
            "joined at the volume control's input lug" => tone.joined_at = Joint::Pickup,
            "joined at the volume control's wiper" => tone.joined_at = Joint::Wiper,
            other => panic!("nobody can do `{other}`"),
        }
    } else if let Some(cable) = thing.strip_prefix("a shorter cable of ") {
        let Component::Capacitor(capacitance) = component(cable) else {
            panic!("{thing}")
        };
        assert!(capacitance < build.cable.capacitance, "{thing}");
        build.cable.capacitance = capacitance;
    } else if let Some(pot) = thing.strip_prefix("a ").and_then(|thing| thing.strip_suffix(" pot")) {
        let (value, control) = pot.rsplit_once(' ').expect("a value and a control");
        let Component::Resistor(resistance) = component(value) else {
            panic!("{thing}")
        };
        match control {
            "volume" => build.volume.pot.resistance = resistance,
            "tone" => build.tone.as_mut().expect("a tone control").pot.resistance = resistance,
            other => panic!("there is no {other} pot"),
        }
    } else if let Some(clause) = thing.strip_prefix("wish ") {
        let (number, bounds) = clause.split_once(" loosened to ").expect("new bounds");
        loosen(target, number, bounds);
    } else {
        fit(thing, build);
    }
}

/// "tone 1.5 nF" or "no bleed network".
fn fit(thing: &str, build: &mut Guitar) {
    let slot = |word: &str| {
        Slot::ALL
            .into_iter()
            .find(|slot| slot.word() == word)
            .unwrap_or_else(|| panic!("`{thing}` names no slot"))
    };
    match thing.strip_prefix("no ").and_then(|rest| rest.strip_suffix(" network")) {
        Some(word) => build.fit(slot(word), None),
        None => {
            let (word, value) = thing.split_once(' ').expect("a slot and what goes into it");
            build.fit(slot(word), Some(network(value)));
        }
    }
}

/// Whether a thing is what goes into a slot.
fn is_fitting(thing: &str) -> bool {
    thing.starts_with("no ") || Slot::ALL.iter().any(|slot| thing.starts_with(&format!("{slot} ")))
}

/// The change, and what goes with it.
fn things(statement: &str) -> Vec<String> {
    let listed = |list: &str| list.replace(" and ", ", ").split(", ").map(str::to_owned).collect::<Vec<_>>();
    for alone in [" and nothing else", ", with the guitar as it is"] {
        if let Some(change) = statement.strip_suffix(alone) {
            return vec![change.to_owned()];
        }
    }
    if let Some((form, all)) = statement.split_once(": ") {
        assert!(form.contains(" network of the form "), "{statement}");
        return listed(all);
    }
    let (change, others) = statement
        .rsplit_once(", with ")
        .unwrap_or_else(|| panic!("`{statement}` says not what goes with it"));
    [vec![change.to_owned()], listed(others)].concat()
}

/// Does what a statement says, and requires what it says of it.
fn rerun(statement: &str, enough: bool, guitar: &Guitar, target: &Target) {
    let (said, figure) = match statement.strip_suffix(" dB)").and_then(|rest| rest.rsplit_once(" (")) {
        Some((said, figure)) => (said, Some(figure.parse::<f64>().expect("a margin"))),
        None => (statement, None),
    };
    let (mut build, mut target) = (guitar.clone(), target.clone());
    for thing in things(said) {
        apply(&thing, &mut build, &mut target);
    }
    let ranked = naive::rank(guitar, &build, &target, vec![naive::Candidate::new([])]);
    let margin = ranked.first().unwrap_or_else(|| panic!("`{statement}` is silent")).margin_db;
    if let Some(figure) = figure {
        assert_close(margin, figure, close::TWO_DECIMALS, &format!("{}: {statement}", guitar.name));
    }
    assert!(!enough || margin >= -1e-6, "{}, {statement}: misses by {margin} dB", guitar.name);
}

/// A coarse series for as many parts as are searched: the sentences are made alike whatever the values.
fn answered(guitar: &Guitar, target: &Target) -> Recommendation {
    let mut request = Request::new(guitar.clone(), target.clone());
    request.top = 1;
    let with = |keys: &str| {
        let mut request = request.clone();
        let series = Source::inline("test", keys);
        request.rules.add_series(&series.passage(), &[]).expect("series");
        recommend(&request, &())
    };
    with("R=E3,C=E6")
        .or_else(|_| with("C=E6"))
        .unwrap_or_else(|error| panic!("{}", error.picture()))
}

#[test]
fn what_the_text_says_would_help_does_as_said() {
    let mut rerun_of: Vec<(&str, usize)> = ["network", "pot", "cable", "tone control", "loosened"]
        .map(|kind| (kind, 0))
        .to_vec();
    let (mut count, mut several) = (0, 0);
    for guitar in GUITARS {
        let guitar = inputs::guitar(Some(guitar.name)).expect("shipped");
        for target in TARGETS {
            let target = inputs::target(Some(target)).unwrap_or_else(|error| panic!("{}", error.picture()));
            let turns_tone = target.settings().iter().any(|setting| setting.tone != 1.0);
            if turns_tone && guitar.tone.is_none() {
                continue;
            }
            let result = answered(&guitar, &target);
            let text = recommendation_text(&result, 1_000_000);
            let statements = stated(&text);
            assert_eq!(statements.len(), result.explanation.what_if.len(), "{text}");
            for (statement, enough) in &statements {
                rerun(statement, *enough, &guitar, &result.target);
                count += 1;
                several += usize::from(things(statement).iter().filter(|thing| is_fitting(thing)).count() > 1);
                for (kind, reruns) in &mut rerun_of {
                    *reruns += usize::from(statement.contains(*kind));
                }
            }
        }
    }
    println!("{count} statements done again: {rerun_of:?}; {several} name two networks or more");
    assert!(
        count > 100 && several > 10,
        "{count} statements, {several} of them of several networks"
    );
    assert!(rerun_of.iter().all(|(_, reruns)| *reruns > 0), "{rerun_of:?}");
}
