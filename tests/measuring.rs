//! What people measure at a bench, read as they write it: mains hum in a sweep, pots that are linear, this program's own tables; and the whole
//! way from a coil over a pickup to the part that was soldered wrong, each command as the one before prints it.

mod program;
mod support;

use std::path::Path;

use knobwright::guitar::Guitar;
use knobwright::identify::sweep::{Columns, Reading, Sweep};
use knobwright::source::Source;
use program::*;
use support::*;

/// A response of a plain pickup (3 H, 7 kΩ, 140 pF) across 1 MΩ at some frequencies, with something added to each reading in dB.
fn sweep(frequencies: &[f64], added: impl Fn(f64) -> f64) -> String {
    let mut text = String::from("frequency_hz,level_db\n");
    for frequency in frequencies {
        let s = num_complex::Complex64::new(0.0, std::f64::consts::TAU * frequency);
        let response = 1.0 / (1.0 + (7e3 + 3.0 * s) * (140e-12 * s + 1e-6));
        text.push_str(&format!(
            "{frequency},{}\n",
            20.0 * response.norm().log10() - 20.0 + added(*frequency)
        ));
    }
    text
}

fn read(text: &str) -> Sweep {
    Sweep::read(&Source::inline("sweep.csv", text), Reading::Level, &Columns::default()).unwrap()
}

/// A sweep in steps of 10 Hz up to 400 Hz, then by twelfths of an octave.
fn frequencies() -> Vec<f64> {
    let low = (3..=40).map(|step| 10.0 * f64::from(step));
    low.chain((1..=60).map(|step| 400.0 * 2.0_f64.powf(f64::from(step) / 12.0)))
        .collect()
}

#[test]
fn hum_is_named_and_left_out() {
    let hum = [50.0, 100.0, 150.0, 250.0];
    let found = read(&sweep(&frequencies(), |frequency| if hum.contains(&frequency) { 3.0 } else { 0.0 }));
    let left: Vec<f64> = found.rows.iter().map(|row| row.frequency).collect();
    assert!(
        hum.iter().all(|hum| !left.contains(hum)) && left.len() == frequencies().len() - hum.len(),
        "{left:?}"
    );
    assert!(
        found
            .notes
            .iter()
            .any(|note| note.contains("4 readings") && note.contains("(50, 100, 150, 250 Hz)")),
        "{:?}",
        found.notes
    );
    // At other frequencies a reading that sticks out is no hum, and a clean sweep loses nothing.
    for odd in [70.0, 90.0, 130.0] {
        let found = read(&sweep(&frequencies(), |frequency| if frequency == odd { 3.0 } else { 0.0 }));
        assert_eq!(found.rows.len(), frequencies().len(), "{odd}");
    }
    assert_eq!(read(&sweep(&frequencies(), |_| 0.0)).rows.len(), frequencies().len());
    // A resonance whose top happens to lie at 600 Hz in a coarse sweep is no hum.
    let coarse: Vec<f64> = (-8..=8).map(|step| 600.0 * 2.0_f64.powf(f64::from(step) / 3.0)).collect();
    let mut text = String::from("frequency_hz,level_db\n");
    for frequency in &coarse {
        let x = frequency / 600.0;
        text.push_str(&format!(
            "{frequency},{}\n",
            -10.0 * ((1.0 - x * x).powi(2) + (x / 6.0).powi(2)).log10()
        ));
    }
    assert_eq!(read(&text).rows.len(), coarse.len());
}

/// With hum in its lows a sweep gives the same pickup as without.
#[test]
fn hum_does_not_move_a_pickup() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sweep.csv");
    let of = |text: &str| {
        std::fs::write(&path, text).unwrap();
        let found = json(
            &[
                "identify",
                "--quiet",
                "--response",
                path.to_str().unwrap(),
                "--load",
                "1M",
                "--known",
                "resistance=7k",
            ],
            0,
        );
        let chosen = found["chosen"].as_u64().unwrap() as usize;
        found["models"][chosen]["values"]
            .as_array()
            .unwrap()
            .iter()
            .find(|value| value["name"] == "inductance")
            .unwrap()["value"]
            .as_f64()
            .unwrap()
    };
    let wobble = |frequency: f64| 0.02 * (frequency * 7.3).sin();
    let clean = of(&sweep(&frequencies(), wobble));
    let hummed = of(&sweep(&frequencies(), |frequency| {
        wobble(frequency) + if frequency % 50.0 == 0.0 && frequency <= 250.0 { 6.0 } else { 0.0 }
    }));
    assert_relatively_close(hummed, clean, 2e-3, "the inductance");
    assert_relatively_close(clean, 3.0, 0.02, "the inductance");
}

#[test]
fn readings_within_a_percent_of_a_straight_line_are_linear() {
    let of = |points: &str| json(&["identify", "--quiet", "--pot-points", points], 0);
    // Low down a reading that is off by half a percent of the track is dB away from the law.
    let linear = of("0=0,0.5=22k,1=54k,2=96k,5=252k,8=403k,10=500k");
    assert_eq!(
        (&linear["laws"][0]["taper"], &linear["law_will_do"]),
        (&"linear".into(), &true.into()),
        "{linear}"
    );
    let audio = of("0=0,2=8k,5=75k,8=270k,10=500k");
    assert!(audio["laws"][0]["taper"].as_str().unwrap().starts_with("audio 1"), "{audio}");
}

/// A response that this program wrote is a wanted curve, a sweep to identify and a sweep to verify; one of several knob positions is refused
/// with what to type.
#[test]
fn its_own_tables_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (half, both, target) = (at("half.csv"), at("both.csv"), at("wanted.toml"));
    let response = |volumes: &str, path: &str| {
        ends(
            &[
                "response",
                "--quiet",
                "--guitar",
                "wren-bridge",
                "--volume",
                volumes,
                "--format",
                "csv",
                "--output",
                path,
            ],
            0,
        )
    };
    response("5", &half);
    response("10,5", &both);
    let wanted = |curve: &str| {
        let text = format!(
            "[[clause]]\nmeasure = \"shape\"\nagainst = {{ curve = \"{curve}\" }}\nband = [200, 5000]\nanchor = [200, 400]\nvolume = [5]\nat_least = -0.1\nat_most = 0.1\n"
        );
        std::fs::write(&target, text).unwrap();
    };
    wanted("half.csv");
    let kept = json(
        &[
            "recommend",
            "--quiet",
            "--guitar",
            "wren-bridge",
            "--builds",
            "0",
            "--target",
            &target,
        ],
        0,
    );
    assert_eq!(kept["answer"]["kind"], "already", "{}", kept["answer"]);
    wanted("both.csv");
    let told = refused(&["recommend", "--guitar", "wren-bridge", "--target", &target]);
    assert!(
        told.contains("several values of `volume`") && told.contains("response --volume 5"),
        "{told}"
    );
    let verified = json(
        &["verify", "--quiet", "--guitar", "wren-bridge", "--measured", &half, "--volume", "5"],
        0,
    );
    assert_eq!(verified["tolerance_explains"], true);
    let told = refused(&["verify", "--guitar", "wren-bridge", "--measured", &both, "--volume", "5"]);
    assert!(told.contains("several values of `volume`"), "{told}");
}

/// What a coil without integrator over a guitar shows: V/E by the tests' own solver, rising by 6 dB an octave, at some gain, with noise.
fn by_coil(guitar: &Guitar, at: knobwright::circuit::Setting, path: &Path, seed: u32) {
    let mut text = String::from("frequency_hz,level_db\n");
    for index in 0..90_u32 {
        let frequency = 70.0 * 150_f64.powf(f64::from(index) / 89.0);
        let noise = 0.03 * (f64::from((index + seed).wrapping_mul(7919) % 101) / 50.0 - 1.0);
        let level = decibels(twin::transfer(guitar, at, frequency)) + 20.0 * (frequency / 400.0).log10() - 37.0 + noise;
        text.push_str(&format!("{frequency},{level}\n"));
    }
    std::fs::write(path, text).unwrap();
}

/// The words of a command in a text, from the program's name to the line's end, as a shell would split them.
fn command_in(text: &str, start: &str) -> Vec<String> {
    let line = text
        .lines()
        .find(|line| line.trim().starts_with(start))
        .unwrap_or_else(|| panic!("no {start} in\n{text}"));
    let (mut words, mut word, mut quoted) = (Vec::new(), String::new(), false);
    for letter in line.trim().chars().chain([' ']) {
        match letter {
            '\'' => quoted = !quoted,
            ' ' if !quoted => words.extend(Some(std::mem::take(&mut word)).filter(|word| !word.is_empty())),
            letter => word.push(letter),
        }
    }
    words.into_iter().skip(1).collect()
}

/// A guitar nobody knows: its pickup swept by a coil, bare and with a known capacitor; identified into a file; an answer and its sheet; built
/// with a bleed capacitor ten times too large; verified by the command that the sheet prints, which names that part.
#[test]
fn from_a_coil_over_the_pickup_to_the_wrong_part() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let truth = {
        let mut guitar = bare(3.4, 7.2e3, 130e-12, 250e3, 520e-12, 1e6);
        guitar.volume.pot.taper = knobwright::guitar::taper::Taper::Audio(fraction(0.15));
        guitar
    };
    // The pickup alone, across an interface of 1 MΩ and 40 pF.
    for (name, added) in [("alone.csv", 0.0), ("loaded.csv", 1e-9)] {
        let mut text = String::from("frequency_hz,level_db\n");
        for index in 0..120_u32 {
            let frequency = 100.0 * 150_f64.powf(f64::from(index) / 119.0);
            let s = num_complex::Complex64::new(0.0, std::f64::consts::TAU * frequency);
            let shunt = s * (130e-12 + 40e-12 + added) + 1e-6;
            let level = 20.0 * (1.0 / (1.0 + (7.2e3 + 3.4 * s) * shunt)).norm().log10() + 20.0 * (frequency / 400.0).log10();
            let noise = 0.03 * (f64::from(index.wrapping_mul(7919) % 101) / 50.0 - 1.0);
            text.push_str(&format!("{frequency},{}\n", level - 40.0 + noise));
        }
        std::fs::write(at(name), text).unwrap();
    }
    let base = "name = \"Unknown\"\n[pickup]\ninductance = \"2 H\"\nresistance = \"5 k\"\ncapacitance = \"100 p\"\n[volume]\nresistance = \"250 k\"\n\
                taper = \"audio 15 %\"\n[cable]\ncapacitance = \"520 p\"\n[input]\nresistance = \"1 M\"\n";
    std::fs::write(at("bench.toml"), base).unwrap();
    let run_in = |arguments: &[String]| {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_knobwright"))
            .args(arguments)
            .current_dir(folder.path())
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(
            matches!(output.status.code(), Some(0 | 1)),
            "{arguments:?}\n{text}\n{}",
            String::from_utf8_lossy(&output.stderr)
        );
        text
    };
    let words = |line: &str| line.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
    run_in(&words(
        "identify --quiet --slope --response alone.csv --response 1n=loaded.csv --load 1M,40p --known resistance=7.2k --guitar bench.toml --output mine.toml",
    ));
    let mine = Guitar::read(&Source::inline("mine.toml", std::fs::read_to_string(at("mine.toml")).unwrap())).unwrap();
    assert_relatively_close(mine.pickup.inductance.value(), 3.4, 0.02, "L");
    assert_relatively_close(mine.pickup.capacitance.value(), 130e-12, 0.1, "C");
    run_in(&words(
        "recommend --quiet --guitar mine.toml --sheet build.md keep highs at volume 5",
    ));
    let sheet = std::fs::read_to_string(at("build.md")).unwrap();
    let verify = command_in(&sheet, "knobwright verify");
    // Built as the sheet says, but the bleed's capacitor is ten times too large.
    let fitted = verify.iter().find_map(|word| word.strip_prefix("bleed=")).expect("a bleed goes in");
    let network = sheets_network(fitted);
    let fault = |factor: f64| {
        let mut built = truth.clone();
        built.volume.bleed = Some(scaled(&network, factor));
        let positions = ["full.csv", "volume-5.csv", "volume-2.5.csv"].into_iter().zip([1.0, 0.5, 0.25]);
        for (index, (name, volume)) in positions.enumerate() {
            by_coil(&built, setting(volume, 1.0), &at(name), index as u32);
        }
        run_in(&verify)
    };
    let good = fault(1.0);
    assert!(good.starts_with("The guitar measures as predicted"), "{good}");
    assert!(good.contains("The target is met as measured"), "{good}");
    let told = fault(10.0);
    assert!(told.replace('\n', " ").contains("one fault explains it: bleed.C"), "{told}");
}

fn sheets_network(text: &str) -> knobwright::parts::network::Network {
    knobwright::parts::network::Network::read(&Source::inline("bleed", text).passage())
        .unwrap()
        .unwrap()
}

/// A network with every capacitor so many times as large.
fn scaled(network: &knobwright::parts::network::Network, factor: f64) -> knobwright::parts::network::Network {
    use knobwright::parts::network::{Component, Network};
    match network {
        Network::Series(members) => Network::Series(members.iter().map(|member| scaled(member, factor)).collect()),
        Network::Parallel(members) => Network::Parallel(members.iter().map(|member| scaled(member, factor)).collect()),
        Network::Fixed(Component::Capacitor(value)) => c(value.value() * factor),
        other => other.clone(),
    }
}
