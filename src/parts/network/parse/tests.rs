use proptest::prelude::*;

use super::*;
use crate::source::Source;
use crate::units::{Farads, Henries, Ohms};

fn read(text: &str) -> Result<Option<Network>> {
    Network::read(&Source::inline("network", text).passage())
}

fn network(text: &str) -> Network {
    read(text).unwrap().unwrap()
}

fn resistor(value: f64) -> Network {
    Network::Fixed(Component::Resistor(Ohms::new(value).unwrap()))
}

fn capacitor(value: f64) -> Network {
    Network::Fixed(Component::Capacitor(Farads::new(value).unwrap()))
}

fn free(name: &str) -> Network {
    let kind = if name.starts_with('R') { Kind::Resistor } else { Kind::Capacitor };
    Network::Free(FreePart {
        kind,
        name: name.to_owned(),
    })
}

fn refused(text: &str, column: usize, words: &[&str]) {
    let error = read(text).unwrap_err();
    let place = error.place().unwrap();
    let picture = error.picture();
    assert_eq!(place.source.line_column(place.span.start), (1, column), "`{text}`\n{picture}");
    for word in words {
        assert!(picture.contains(word), "`{text}`: expected `{word}` in\n{picture}");
    }
}

#[test]
fn parallel_binds_tighter_than_series() {
    use Network::{Parallel, Series};
    assert_eq!(network("150k || 1n"), Parallel(vec![resistor(150e3), capacitor(1e-9)]));
    assert_eq!(network("130k+1n"), Series(vec![resistor(130e3), capacitor(1e-9)]));
    let expected = Series(vec![resistor(1e4), Parallel(vec![resistor(120e3), capacitor(1e-9)])]);
    assert_eq!(network("10 k + 120 k || 1 n"), expected);
    assert_eq!(network("(10 k) + ((120 k || 1 n))"), expected);
    assert_eq!(
        network("(10k + 120k) || 1n"),
        Parallel(vec![Series(vec![resistor(1e4), resistor(120e3)]), capacitor(1e-9)])
    );
}

#[test]
fn like_inside_like_is_laid_flat() {
    assert_eq!(network("1k + (2k + 3k)"), network("1k + 2k + 3k"));
    assert_eq!(network("(1k || 2k) || 3k"), network("1k || 2k || 3k"));
}

#[test]
fn free_fixed_and_mixed() {
    assert_eq!(network("R"), free("R"));
    assert_eq!(
        network("R1 + (R2 || C)"),
        Network::Series(vec![free("R1"), Network::Parallel(vec![free("R2"), free("C")])])
    );
    assert_eq!(network("120k || C"), Network::Parallel(vec![resistor(120e3), free("C")]));
    assert_eq!(network("R47"), free("R47"));
    assert_eq!(
        network("p33 + n47 + µ22 + 4k7 + 0.47R + 470R"),
        network("0.33p + 470p + 220n + 4700 Ω + 0.47 Ω + 470 ohm")
    );
    assert_eq!(network("2 H"), Network::Fixed(Component::Inductor(Henries::new(2.0).unwrap())));
    assert_eq!(read("none").unwrap(), None);
    assert_eq!(read(" None ").unwrap(), None);
}

#[test]
fn broken_networks_say_where_and_what_was_expected() {
    refused("", 1, &["expected a network, found nothing", "none"]);
    refused("120k ||", 8, &["expected a part after `||`", "the network ends here"]);
    refused("|| 1n", 1, &["expected a part before `||`"]);
    refused("120k + + 1n", 8, &["expected a part before `+`"]);
    refused("(120k || 1n", 1, &["never closed"]);
    refused("120k || 1n)", 11, &["never opened"]);
    refused("()", 2, &["expected a part before `)`"]);
    refused("120k (1n)", 6, &["expected `||` or `+` before `(`"]);
    refused("120k 1n", 6, &["expected `||` or `+` before `1n`"]);
    refused("R C", 3, &["expected `||` or `+` before `C`"]);
    refused("120k | 1n", 6, &["`|` is no operator", "in parallel is written `||`"]);
    refused("120k // 1n", 6, &["`//` is no operator"]);
    refused("120k ||| 1n", 6, &["`|||` is no operator"]);
    refused("r || 1n", 1, &["capital", "write `R`"]);
    refused("120k || c2", 9, &["write `C2`"]);
    refused("120k + L", 8, &["never a free part", "2 H"]);
    refused("R + R", 5, &["`R` is there twice", "first used in column 1", "R1, R2"]);
    refused("120k + none", 8, &["`none` stands alone"]);
    refused("120k || 0.022", 9, &["write `22n` or `0.022u`"]);
    refused(
        "120k || 223",
        9,
        &["22 nF if it stands on a capacitor: write `22n`; 223 Ω: write `223R`"],
    );
    refused(
        "473 + 1n",
        1,
        &["47 nF if it stands on a capacitor: write `47n`; 473 Ω: write `473R`"],
    );
    refused("102", 1, &["1 nF if it stands on a capacitor: write `1n`; 102 Ω: write `102R`"]);
    refused(
        "470",
        1,
        &["470 Ω: write `470R`; 470 kΩ: write `470k`", "write `470p`", "write `47p`"],
    );
    refused("120k || 4700", 9, &["4.7 kΩ: write `4k7`", "4.7 nF: write `4n7`"]);
    refused("47", 1, &["47 Ω: write `47R`; 47 kΩ: write `47k`; 47 pF: write `47p`"]);
    refused(
        "120k || 223K",
        9,
        &["22 nF ±10 % if it stands on a capacitor: write `22n`; 223 kΩ: write `223 kΩ`"],
    );
    refused(
        "473M",
        1,
        &["reads in two ways", "47 nF ±20 %", "write `47n`; 473 MΩ: write `473 MΩ`"],
    );
    refused("473H", 1, &["47 nF ±3 %", "473 H: write `473 H`"]);
    refused(
        "223J",
        1,
        &["code on a capacitor", "22 nF ±5 % if it stands on a capacitor: write `22n`"],
    );
    refused("120k || wire", 9, &["a free part `R` or `C`"]);
    refused("120q", 4, &["`q` is no prefix or unit of a part"]);
}

#[test]
fn values_nobody_could_fit_are_refused() {
    refused("120k || 0", 9, &["above zero"]);
    refused("-4k7", 1, &["above zero"]);
    refused("2 G", 1, &["expected 0.01R to 1G"]);
    refused("1 F", 1, &["expected p01 to 10000u"]);
    refused("2 kH", 1, &["expected 1nH to 1000H"]);
    read("1G + 0.01R || 10000u || p01 + 1000H").unwrap();
}

#[test]
fn hostile_text_is_refused_before_it_can_harm() {
    read(&"(".repeat(100_000)).unwrap_err();
    refused(
        &format!("{}1k{}", "(".repeat(33), ")".repeat(33)),
        33,
        &["more than 32 parentheses"],
    );
    network(&format!("{}1k{}", "(".repeat(32), ")".repeat(32)));
    refused(&vec!["1k"; 17].join("+"), 49, &["at most 16 parts"]);
}

fn any_network() -> impl Strategy<Value = Network> {
    let part = prop_oneof![
        (0.01..1e9f64).prop_map(resistor),
        (-14.0..-2.0f64).prop_map(|decade| capacitor(10f64.powf(decade).clamp(1e-14, 1e-2))),
        (1e-9..1e3f64).prop_map(|value| Network::Fixed(Component::Inductor(Henries::new(value).unwrap()))),
        Just(free("R")),
        Just(free("C")),
    ];
    part.prop_recursive(4, 12, 3, |inner| {
        let members = prop::collection::vec(inner, 2..4);
        prop_oneof![members.clone().prop_map(series), members.prop_map(parallel)]
    })
}

/// Gives every free part a name of its own.
fn numbered(network: &Network, next: &mut usize) -> Network {
    let mut all = |members: &[Network]| members.iter().map(|member| numbered(member, next)).collect();
    match network {
        Network::Free(part) => {
            *next += 1;
            free(&format!("{}{next}", part.kind.letter()))
        }
        Network::Series(members) => Network::Series(all(members)),
        Network::Parallel(members) => Network::Parallel(all(members)),
        fixed @ Network::Fixed(_) => fixed.clone(),
    }
}

proptest! {
    #[test]
    fn the_written_form_reads_back_to_the_same_network(drawn in any_network()) {
        let drawn = numbered(&drawn, &mut 0);
        prop_assume!(drawn.part_count() <= MOST_PARTS);
        prop_assert_eq!(network(&drawn.to_string()), drawn);
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in "[RCLrc0-9knpu().+| /µ-]{0,40}|\\PC{0,20}") {
        let _ = read(&text);
    }
}

#[test]
fn usual_values_stay_what_they_are() {
    for (text, ohms) in [
        ("150k", 150e3),
        ("150K", 150e3),
        ("470K", 470e3),
        ("223k", 223e3),
        ("223 K", 223e3),
        ("470R", 470.0),
        ("4k7", 4700.0),
        ("1M", 1e6),
    ] {
        assert_eq!(network(text), resistor(ohms), "{text}");
    }
}

/// Whatever is written reads back: values whose three figures and letter would pass for a code are written with their unit.
#[test]
fn no_written_value_is_taken_for_a_code() {
    for component in [
        resistor(123e6),
        resistor(223e3),
        resistor(999e6),
        capacitor(123e-9),
        capacitor(473e-12),
    ] {
        assert_eq!(network(&component.to_string()), component);
    }
    let coil = Network::Fixed(Component::Inductor(Henries::new(473.0).unwrap()));
    assert_eq!(network(&coil.to_string()), coil);
}
