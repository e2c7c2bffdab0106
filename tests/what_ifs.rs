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

const INTRODUCTIONS: [&str; 2] = ["What would do: ", "What comes closer: "];

/// The statements of the text, each with whether it is said to be enough.
fn stated(text: &str) -> Vec<(String, bool)> {
    let mut found = Vec::new();
    for introduction in INTRODUCTIONS {
        let Some((_, rest)) = text.split_once(introduction) else {
            continue;
        };
        let line = rest.lines().next().expect("a line").replace(". Or: ", "\u{1}");
        // Nothing in a statement has a full stop before a space.
        let sentence = line.split(". ").next().expect("a sentence").trim_end_matches('.');
        let statements = sentence.split('\u{1}').map(str::to_owned);
        found.extend(statements.map(|item| (item, introduction.contains("would do"))));
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

/// "150 kΩ and 1.5 nF in parallel, with 91 kΩ in series" as the network that it says.
fn in_words(text: &str) -> Network {
    let (whole, how) = match (text.strip_suffix(" in series"), text.strip_suffix(" in parallel")) {
        (Some(rest), _) => (rest, "in series"),
        (_, Some(rest)) => (rest, "in parallel"),
        _ => return network(text),
    };
    let (joined, single) = match whole.rsplit_once(", with ") {
        Some((joined, single)) => (vec![in_words(joined)], single),
        None => (Vec::new(), whole),
    };
    let single = single.replace(" and ", ", ");
    let members = joined.into_iter().chain(single.split(", ").map(network)).collect();
    if how == "in series" {
        Network::Series(members)
    } else {
        Network::Parallel(members)
    }
}

fn part(text: &str) -> Component {
    match network(text) {
        Network::Fixed(component) => component,
        other => panic!("{other} is no single part"),
    }
}

/// Does one thing at the bench.
fn do_at_bench(instruction: &str, build: &mut Guitar) {
    if instruction != "leave the guitar as it is" && !rewires(instruction, build) && !fits(instruction, build) {
        panic!("nobody can do `{instruction}`");
    }
}

/// Another pot, cable or wiring, if that is what is to be done.
fn rewires(instruction: &str, build: &mut Guitar) -> bool {
    let pot = |name: &str| {
        instruction
            .strip_prefix(&format!("fit a {name} pot of "))
            .and_then(|rest| rest.split_once(" in place of the "))
    };
    if let Some((then, now)) = instruction
        .strip_prefix("use a cable of ")
        .and_then(|rest| rest.split_once(" instead of "))
    {
        let [Component::Capacitor(then), Component::Capacitor(now)] = [then, now].map(part) else {
            panic!("{instruction}")
        };
        assert_eq!(now, build.cable.capacitance);
        build.cable.capacitance = then;
    } else if let Some((then, now)) = pot("volume") {
        let [Component::Resistor(then), Component::Resistor(now)] = [then, now].map(part) else {
            panic!("{instruction}")
        };
        assert_eq!(now, build.volume.pot.resistance);
        build.volume.pot.resistance = then;
    } else if let Some((then, _)) = pot("tone") {
        let Component::Resistor(then) = part(then) else {
            panic!("{instruction}")
        };
        build.tone.as_mut().expect("a tone control").pot.resistance = then;
    } else {
        let Some(tone) = &mut build.tone else { return false };
        match instruction {
            "wire the tone control as a shelf" => tone.hookup = Hookup::Shelf,
            "wire the tone control the common way, as a rheostat" => tone.hookup = Hookup::Rheostat,
            "join the tone control at the volume pot's input lug" => tone.joined_at = Joint::Pickup,
            "join the tone control at the volume pot's wiper" => tone.joined_at = Joint::Wiper,
            _ => return false,
        }
    }
    true
}

/// Another network in one place, if that is what is to be done.
fn fits(instruction: &str, build: &mut Guitar) -> bool {
    // What begins and ends a sentence about a place; the network stands between. Longer ones first.
    const PLACES: [(&str, &str, Slot); 15] = [
        (
            "change the treble bleed to ",
            ", from the volume pot's input lug to its wiper (the middle lug)",
            Slot::Bleed,
        ),
        (
            "fit a resistor of ",
            " from the volume pot's input lug to its wiper (the middle lug)",
            Slot::Bleed,
        ),
        (
            "fit a treble bleed: ",
            ", from the volume pot's input lug to its wiper (the middle lug)",
            Slot::Bleed,
        ),
        (
            "fit ",
            " as a treble bleed, from the volume pot's input lug to its wiper (the middle lug)",
            Slot::Bleed,
        ),
        ("change what is in series between the pickup and the controls to ", "", Slot::Series),
        ("fit a series capacitor of ", " between the pickup and the controls", Slot::Series),
        ("put ", ", in line between the pickup and the controls", Slot::Series),
        ("fit ", " in series between the pickup and the controls", Slot::Series),
        (
            "change what is across the pickup to ",
            " from the pickup's hot lead to ground",
            Slot::Across,
        ),
        ("fit ", " from the pickup's hot lead to ground", Slot::Across),
        ("fit ", " at the tone pot, from its hot lug to its wiper", Slot::Bypass),
        ("fit ", " from the tone pot to ground", Slot::Tone),
        ("change the tone capacitor from ", "", Slot::Tone),
        ("change what goes from the tone pot to ground from ", "", Slot::Tone),
        ("put ", " in series with the tone capacitor", Slot::Tone),
    ];
    const OUT: [(&str, Slot); 5] = [
        ("take the treble bleed out", Slot::Bleed),
        ("take the tone capacitor out; the knob then does nothing", Slot::Tone),
        ("take out what is between the tone pot's hot lug and its wiper", Slot::Bypass),
        ("take out what is across the pickup", Slot::Across),
        ("take out what is in series between the pickup and the controls", Slot::Series),
    ];
    if let Some((_, slot)) = OUT.iter().find(|(words, _)| *words == instruction) {
        build.fit(*slot, None);
        return true;
    }
    let between = |(begin, end, _): &&(&str, &str, Slot)| instruction.starts_with(begin) && instruction.ends_with(end);
    let Some((begin, end, slot)) = PLACES.iter().find(between).copied() else {
        return false;
    };
    let written = instruction.get(begin.len()..instruction.len() - end.len()).expect("a network");
    let now = build.fitted(slot).cloned();
    let then = match written.split_once(" to ") {
        // "from 22 nF to 10 nF and put 100 kΩ in series with it"
        Some((from, then)) => {
            assert_eq!(Some(in_words(from)), now, "{instruction}");
            match then
                .strip_suffix(" in series with it")
                .and_then(|rest| rest.split_once(" and put "))
            {
                Some((capacitor, resistor)) => Network::Series(vec![network(capacitor), network(resistor)]),
                None => in_words(then),
            }
        }
        None if begin == "put " && slot == Slot::Tone => Network::Series(vec![now.expect("a tone capacitor"), network(written)]),
        None => in_words(written),
    };
    build.fit(slot, Some(then));
    true
}

/// Does what a statement says, and requires what it says of it.
fn rerun(statement: &str, enough: bool, guitar: &Guitar, target: &Target) {
    let spare = statement.strip_suffix(" dB to spare").and_then(|rest| rest.rsplit_once(", with "));
    let missed = statement
        .strip_suffix(" dB")
        .and_then(|rest| rest.rsplit_once(", which misses by "));
    let (said, figure) = match (spare, missed) {
        (Some((said, figure)), _) => (said, Some(figure.parse::<f64>().expect("a margin"))),
        (_, Some((said, figure))) => (said, Some(-figure.parse::<f64>().expect("a margin"))),
        _ => (statement, None),
    };
    let (mut build, mut target) = (guitar.clone(), target.clone());
    let said = match said.strip_prefix("ask wish ") {
        Some(wish) => {
            let (wish, said) = wish.split_once(" only, and ").expect("what to do");
            let (number, bounds) = wish.split_once(" for ").expect("new bounds");
            loosen(&mut target, number, bounds);
            said
        }
        None => said,
    };
    for instruction in said.split("; also ") {
        do_at_bench(instruction, &mut build);
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
    let mut rerun_of: Vec<(&str, usize)> = ["in series", " pot of ", "cable", "the tone control", "ask wish"]
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
                several += usize::from(statement.contains("; also "));
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
