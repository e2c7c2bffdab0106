//! A kind of pickup stands for a guitar: the answer is that of the sample, what was assumed is said, and so is how far it matters, held
//! against the same parts on guitars wound otherwise.

mod program;
mod support;

use knobwright::guitar::kind::KINDS;
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::kernel::features::own_end;
use knobwright::kernel::measure::worst_point;
use knobwright::kernel::plan::Plan;
use knobwright::recommend::{AnswerKind, Request, recommend};
use knobwright::report::first_screen;
use knobwright::search::exhaustive::Evaluator;
use knobwright::source::Source;
use knobwright::units::Henries;
use num_complex::Complex64;
use program::{run, text, with};
use serde_json::Value;
use support::{rest, wish};

/// The pickup wound to another inductance, its loss cells in step.
fn wound(guitar: &Guitar, inductance: f64) -> Guitar {
    let mut guitar = guitar.clone();
    let factor = inductance / guitar.pickup.inductance.value();
    for cell in &mut guitar.pickup.loss {
        cell.inductance = Henries::new(cell.inductance.value() * factor).unwrap();
    }
    guitar.pickup.inductance = Henries::new(inductance).unwrap();
    guitar
}

/// The margin of a build against a wish as a guitar of this inductance has it, and its smallest guard by the second solver, in dB.
fn does(present: &Guitar, build: &Guitar, phrase: &str, inductance: f64) -> (f64, f64) {
    let [present, build] = [present, build].map(|guitar| wound(guitar, inductance));
    let target = wish(phrase).at_own_ends(own_end(&present), &[]);
    let plan = Plan::new(&build, &present, &target, &[]).unwrap();
    let margin = worst_point(&plan, Evaluator::new(&plan).powers(&[], &[])).unwrap().margin;
    let guards = rest::guards(&present, &build, &target);
    (margin, guards.iter().map(rest::Guard::margin_db).fold(f64::INFINITY, f64::min))
}

#[test]
fn a_kind_is_answered_like_its_sample_and_says_how_far_that_holds() {
    let mut narrower = 0;
    for kind in &KINDS {
        for phrase in ["treble bleed", "which cap for less mud?", "darker"] {
            let guitar = inputs::guitar(Some(kind.name)).unwrap();
            let mut request = Request::new(guitar.clone(), wish(phrase));
            request.explain = false;
            let slots = Slot::ALL.map(Slot::word);
            request
                .rules
                .add_series(&Source::inline("series", "R=E12,C=E6").passage(), &slots)
                .ok();
            let sample = recommend(&request, &());
            let sample = sample.or_else(|_| {
                request.rules = knobwright::parts::choice::Rules::default();
                recommend(&request, &())
            });
            let sample = sample.unwrap();
            assert_eq!(sample.assumed, None);
            request.kind = Some(kind);
            let found = recommend(&request, &()).unwrap();
            assert_eq!((&found.answer, &found.builds), (&sample.answer, &sample.builds), "{}", kind.name);
            let assumed = found.assumed.as_ref().unwrap();
            let screen = first_screen(&found, 80);
            assert!(screen.contains("Assumed: a ") && screen.lines().count() <= 25, "{screen}");
            if found.answer.kind != AnswerKind::Fit {
                continue;
            }
            let build = &found.answer.build.as_ref().unwrap().guitar;
            let [low, high] = assumed.holds_h.unwrap();
            let own = guitar.pickup.inductance.value();
            assert!((low..=high).contains(&own) && kind.inductance[0] <= low && high <= kind.inductance[1]);
            for inductance in [low, 0.5 * (low + high), high] {
                let (margin, rest) = does(&guitar, build, phrase, inductance);
                assert!(
                    margin >= -0.5 && rest >= 0.0,
                    "{}, {phrase} at {inductance} H: {margin}, {rest}",
                    kind.name
                );
            }
            // Beyond an end that is not the kind's own it no longer does, at the next step.
            for beyond in [low - 0.25, high + 0.25]
                .into_iter()
                .filter(|next| (kind.inductance[0]..=kind.inductance[1]).contains(next))
            {
                narrower += 1;
                let (margin, rest) = does(&guitar, build, phrase, beyond);
                let step = if kind.inductance[1] - kind.inductance[0] > 3.0 { 0.0 } else { 0.6 };
                assert!(
                    margin < -0.5 + step || rest < step,
                    "{}, {phrase} at {beyond} H: {margin}, {rest}",
                    kind.name
                );
            }
        }
    }
    println!("{narrower} ranges end before their kind's");
}

#[test]
fn kinds_are_listed_and_a_slip_is_put_right() {
    let list = inputs::list_shipped().unwrap();
    for kind in &KINDS {
        assert!(list.contains(&format!("\n  {}: usually ", kind.name)), "{list}");
        assert_eq!(inputs::guitar(Some(kind.name)).unwrap(), inputs::guitar(Some(kind.sample)).unwrap());
    }
    assert!(list.contains("plover-bridge: a moderate humbucker"), "{list}");
    let refused = inputs::guitar(Some("humbuker")).unwrap_err().picture();
    assert!(refused.contains("did you mean `humbucker`?"), "{refused}");
}

/// Every command that takes a guitar says what a kind stands for; the rest of its answer is that of the sample.
#[test]
fn every_command_says_what_was_assumed() {
    let folder = tempfile::tempdir().unwrap();
    let sweep = folder.path().join("sweep.csv");
    let sweep = sweep.to_str().unwrap();
    assert!(
        run(&["response", "--guitar", "plover-bridge", "--format", "csv", "--output", sweep])
            .status
            .success()
    );
    // A coil of 4.4 H and 8 kΩ with 450 pF and 250 kΩ across it.
    let mut impedance = "frequency_hz,magnitude_ohm,phase_deg\n".to_owned();
    for step in 0..60 {
        let frequency = 80.0 * 2.0_f64.powf(f64::from(step) / 8.0);
        let s = Complex64::new(0.0, std::f64::consts::TAU * frequency);
        let seen = (1.0 / (8e3 + s * 4.4) + s * 450e-12 + 1.0 / 250e3).inv();
        impedance += &format!("{frequency},{},{}\n", seen.norm(), seen.arg().to_degrees());
    }
    std::fs::write(folder.path().join("jack.csv"), impedance).unwrap();
    let jack = folder.path().join("jack.csv");
    let jack = format!("--jack={}", jack.display());
    let commands: [(&str, &[&str]); 6] = [
        ("--guitar", &["response", "--frequencies", "1k"]),
        ("--guitar", &["tolerance", "--build", "bleed=150k || 1n", "--builds", "100"]),
        ("--guitar", &["compare", "--build", "one: bleed=1n", "--build", "none: bleed=none"]),
        ("--guitar", &["verify", "--measured", sweep]),
        ("--guitar", &["identify", &jack, "--known", "cable=330p"]),
        ("--guitars", &["kit", "--values", "R=E6,C=E3", "--choose", "R=2,C=1"]),
    ];
    for (option, command) in commands {
        for name in ["plover-bridge", "humbucker"] {
            let output = run(&with(command, &[option, name]));
            let told = text(&output.stderr);
            let count = usize::from(name == "humbucker");
            assert_eq!(
                told.matches("Assumed: a humbucker as the sample plover-bridge").count(),
                count,
                "{command:?}: {told}"
            );
            let quiet = run(&with(command, &[option, name, "--quiet"]));
            assert!(!text(&quiet.stderr).contains("Assumed"), "{command:?}");
        }
        let json =
            |name: &str| -> Value { serde_json::from_slice(&run(&with(command, &[option, name, "--format", "json"])).stdout).unwrap() };
        let (sample, mut kind) = (json("plover-bridge"), json("humbucker"));
        // A response is a list of points; there standard error alone says it.
        if let Some(object) = kind.as_object_mut() {
            let assumed = object.remove("assumed").unwrap_or_else(|| panic!("{command:?}"));
            let assumed = assumed.as_array().map_or(&assumed, |list| &list[0]);
            assert_eq!(
                (&assumed["kind"], &assumed["sample"]),
                (&"humbucker".into(), &"plover-bridge".into())
            );
            assert_eq!(
                (&assumed["inductance_h"], &assumed["usual_h"]),
                (&4.4.into(), &[3.8, 5.5].as_slice().into())
            );
            assert!(
                assumed["says"][0].as_str().unwrap().starts_with("Assumed: a humbucker"),
                "{assumed}"
            );
        }
        assert_eq!(kind, sample, "{command:?}");
        assert!(sample.get("assumed").is_none(), "{command:?}");
    }
    let beside = run(&[
        "compare",
        "--guitar",
        "wren-bridge",
        "--build",
        "other: guitar=hot humbucker",
        "--build",
        "own: bleed=none",
    ]);
    assert!(
        text(&beside.stderr).contains("Assumed: a hot humbucker"),
        "{}",
        text(&beside.stderr)
    );
}
