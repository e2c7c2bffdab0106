//! Finished guitars against their prediction: measured by the second solver of the tests, with one value off, with all values within
//! tolerance, at any level.

mod support;

use knobwright::circuit::Setting;
use knobwright::guitar::Guitar;
use knobwright::identify::sweep::{NEPER_DB, Row, Sweep};
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::tolerance::{Draws, Law, Tolerances, spreads, with_factors};
use knobwright::verify::{Cause, Request, Verified, verify};
use support::*;

fn guitar() -> Guitar {
    let text = "name = \"Dipper, neck\"\n[pickup]\ninductance = \"2.4 H\"\nresistance = \"6 k\"\ncapacitance = \"110 p\"
[volume]\nresistance = \"250 k\"\ntaper = \"audio 15 %\"\nbleed = \"120k || 1n\"\n[tone]\nresistance = \"250 k\"\ntaper = \"audio 15 %\"\nnetwork = \"22n\"
[cable]\ncapacitance = \"500 p\"\n";
    Guitar::read(&Source::inline("dipper.toml", text)).unwrap()
}

/// A sweep of a guitar at a gain, with a repeatable wobble of so many dB.
fn measured(guitar: &Guitar, at: Setting, gain_db: f64, wobble_db: f64) -> (Setting, Sweep) {
    let row = |index: usize| {
        let frequency = 80.0 * 100_f64.powf(index as f64 / 109.0);
        let wobble = wobble_db * (f64::from(index as u32 * 7919 % 101) / 50.0 - 1.0);
        Row {
            frequency,
            nepers: (decibels(twin::transfer(guitar, at, frequency)) + gain_db + wobble) / NEPER_DB,
            phase: None,
        }
    };
    let sweep = Sweep {
        name: "measured.csv".to_owned(),
        rows: (0..110).map(row).collect(),
        notes: Vec::new(),
    };
    (at, sweep)
}

fn request(measured: Vec<(Setting, Sweep)>) -> Request {
    Request {
        guitar: guitar(),
        present: guitar(),
        measured,
        tolerances: Tolerances::default(),
        target: None,
        slope: false,
        seed: 0,
    }
}

fn cause<'v>(found: &'v Verified, name: &str) -> &'v Cause {
    found.causes.iter().find(|cause| cause.value == name).unwrap()
}

#[test]
fn a_guitar_as_predicted_has_nothing_left_at_any_level() {
    for gain in [-60.0, 0.0, 17.3] {
        let found = verify(&request(vec![measured(&guitar(), setting(0.5, 1.0), gain, 0.0)])).unwrap();
        assert!(
            found.rms_db < 1e-6 && found.tolerance_explains && !found.one_cause_explains,
            "{found:?}"
        );
        assert_close(found.offset_db, gain, 1e-6, "the level taken off");
        assert_eq!(found.sweeps[0].ordinary_share, 1.0);
        assert!(found.sweeps[0].parts.is_empty() && found.further_share == 1.0);
    }
}

#[test]
fn a_pot_of_219_k_is_found_out() {
    let mut built = guitar();
    built.volume.pot.resistance = ohms(219e3);
    let sweeps = vec![
        measured(&built, Setting::FULL, -20.0, 0.05),
        measured(&built, setting(0.5, 1.0), -20.0, 0.05),
    ];
    let found = verify(&request(sweeps)).unwrap();
    assert_eq!(found.causes[0].value, "volume pot", "{:#?}", &found.causes[..3]);
    assert_relatively_close(found.causes[0].found, 219e3, 0.02, "volume pot");
    assert!(found.one_cause_explains && found.causes[0].within_tolerance && found.causes[0].rms_db < 0.06);
    assert!(found.tolerance_explains);
}

#[test]
fn a_cable_180_pf_longer_is_found_out() {
    let mut built = guitar();
    built.cable.capacitance = farads(680e-12);
    let sweeps = vec![
        measured(&built, Setting::FULL, 3.0, 0.05),
        measured(&built, setting(0.5, 1.0), 3.0, 0.05),
    ];
    let found = verify(&request(sweeps)).unwrap();
    let cable = cause(&found, "cable");
    assert!(cable.as_likely && found.one_cause_explains, "{:#?}", &found.causes[..3]);
    assert_close(cable.found, 680e-12, 5e-12, "cable");
    assert!(!cable.within_tolerance && cable.rms_db < 0.06);
    assert!(!found.tolerance_explains && found.further_share < 0.05, "{}", found.further_share);
    // Where they part: the resonance comes earlier, so more just below it and less above.
    let parts = &found.sweeps[0].parts;
    assert!(
        parts.iter().any(|part| part.difference_db < -1.0 && part.to_hz > 5000.0),
        "{parts:?}"
    );
}

/// At full volume winding and cable lie side by side: no measurement there can say which is too large.
#[test]
fn what_cannot_be_told_apart_is_said_to_be_as_likely() {
    let mut built = guitar();
    built.cable.capacitance = farads(600e-12);
    let found = verify(&request(vec![measured(&built, Setting::FULL, 0.0, 0.02)])).unwrap();
    let likely: Vec<&str> = found
        .causes
        .iter()
        .filter(|cause| cause.as_likely)
        .map(|cause| cause.value.as_str())
        .collect();
    assert!(likely.contains(&"cable"), "{likely:?}");
    assert!(cause(&found, "pickup capacitance").rms_db < 0.03);
}

/// Guitars drawn within tolerance are mostly called ordinary: 95 % by construction, ±3 binomial deviations of 30 draws.
#[test]
fn guitars_within_tolerance_are_ordinary() {
    let spreads = spreads(&guitar(), &Tolerances::default(), None);
    let draws = Draws {
        law: Law::Uniform,
        seed: 99,
    };
    let columns: Vec<Vec<f64>> = spreads
        .iter()
        .map(|spread| {
            let mut column = vec![0.0; 30];
            draws.fill(spread, 0, &mut column);
            column
        })
        .collect();
    let ordinary = (0..30).filter(|build| {
        let factors: Vec<f64> = columns.iter().map(|column| column[*build]).collect();
        let built = with_factors(&guitar(), &spreads, &factors);
        verify(&request(vec![measured(&built, setting(0.5, 1.0), 0.0, 0.0)]))
            .unwrap()
            .tolerance_explains
    });
    let count = ordinary.count();
    assert!(count >= 25, "{count} of 30");
}

#[test]
fn the_target_is_judged_by_what_was_measured() {
    let phrase = Source::inline("--target", "keep highs within 3 dB at volume 5");
    let target = Target::from_phrase(&phrase.passage()).unwrap();
    let judged = |built: &Guitar, places: &[Setting]| {
        let mut request = request(places.iter().map(|at| measured(built, *at, 5.0, 0.0)).collect());
        request.target = Some(target.clone());
        verify(&request).map(|found| found.target.unwrap())
    };
    let both = [Setting::FULL, setting(0.5, 1.0)];
    let as_built = judged(&guitar(), &both).unwrap();
    // A sweep of 16 points an octave stands for the response to within some hundredths of a dB.
    assert_close(as_built.margin_db, as_built.predicted_margin_db, 0.05, "as predicted");
    assert_eq!(
        (as_built.measured_points, as_built.meets_target),
        (as_built.points, as_built.margin_db >= 0.0)
    );
    // The bleed's resistor came off: its capacitor alone is far too bright.
    let mut broken = guitar();
    broken.volume.bleed = Some(c(10e-9));
    let found = judged(&broken, &both).unwrap();
    assert!(
        !found.meets_target && found.margin_db < found.predicted_margin_db - 1.0,
        "{found:?}"
    );
    // With half volume alone measured, full is predicted.
    let half = judged(&guitar(), &both[1..]).unwrap();
    assert!(half.measured_points < half.points && half.measured_points > 0);
    let elsewhere = judged(&guitar(), &[setting(0.3, 1.0)]).unwrap_err();
    assert!(elsewhere.message().contains("none of the target's knob positions"), "{elsewhere}");
}

#[test]
fn a_silent_position_is_refused() {
    let refused = verify(&request(
        vec![measured(&guitar(), Setting::FULL, 0.0, 0.0)]
            .into_iter()
            .map(|(_, sweep)| (setting(0.0, 1.0), sweep))
            .collect(),
    ));
    assert!(refused.unwrap_err().message().contains("no sound"));
    assert!(verify(&request(Vec::new())).unwrap_err().message().contains("no sweep"));
}
