//! Tapers against their closed form, w = (bˣ − 1)/(b − 1) with b = (1/m − 1)², tabulated to five digits by a script outside the project,
//! and against two published statements about real carbon tracks.

use knobwright::guitar::taper::Taper;
use knobwright::source::Source;
use knobwright::units::Fraction;
use proptest::prelude::*;

fn percent(value: f64) -> Fraction {
    Fraction::new(value / 100.0).unwrap()
}

fn read(text: &str) -> Result<Taper, knobwright::Error> {
    Taper::read(&Source::inline("taper", text).passage())
}

/// Rotation 0.1 to 0.9, then mid fraction and its row; printed to five decimals.
const ROTATIONS: [f64; 11] = [0.1, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9];
const AUDIO: [(f64, [f64; 11]); 4] = [
    (
        10.0,
        [
            0.00690, 0.01760, 0.02500, 0.03421, 0.05999, 0.10000, 0.16208, 0.25843, 0.32500, 0.40793, 0.63995,
        ],
    ),
    (
        15.0,
        [
            0.01333, 0.03219, 0.04437, 0.05887, 0.09661, 0.15000, 0.22554, 0.33240, 0.40144, 0.48357, 0.69744,
        ],
    ),
    (
        20.0,
        [
            0.02130, 0.04941, 0.06667, 0.08649, 0.13543, 0.20000, 0.28520, 0.39763, 0.46667, 0.54597, 0.74172,
        ],
    ),
    (
        30.0,
        [
            0.04155, 0.09077, 0.11869, 0.14908, 0.21816, 0.30000, 0.39695, 0.51180, 0.57695, 0.64786, 0.80905,
        ],
    ),
];

#[test]
fn audio_tapers_follow_the_exponential_law() {
    for (mid, row) in AUDIO {
        let audio = Taper::Audio(percent(mid));
        let reverse = Taper::ReverseAudio(percent(mid));
        for (rotation, expected) in ROTATIONS.into_iter().zip(row) {
            let found = audio.wiper(rotation);
            assert!(
                (found - expected).abs() <= 5.1e-6,
                "{mid} % at {rotation}: {found}, table {expected}"
            );
            let mirrored = 1.0 - reverse.wiper(1.0 - rotation);
            assert!(
                (mirrored - expected).abs() <= 5.1e-6,
                "reverse {mid} % at {rotation}: {mirrored}, table {expected}"
            );
        }
    }
}

/// A players' forum on a 500 kΩ audio pot: 10 kΩ a tenth of a turn up to the midpoint, then 90 kΩ a tenth.
#[test]
fn two_slopes_are_ten_and_ninety_kilohms_a_tenth() {
    let taper = Taper::TwoSlope(percent(10.0));
    for tenth in 0..=10 {
        let kilohms = if tenth <= 5 {
            10.0 * f64::from(tenth)
        } else {
            50.0 + 90.0 * f64::from(tenth - 5)
        };
        let found = 500.0 * taper.wiper(f64::from(tenth) / 10.0);
        assert!((found - kilohms).abs() < 1e-9, "{tenth}: {found} kΩ");
    }
}

/// Two gathered readings of the trade's "percent": 10 % is 10 % of the total at the midpoint; the unloaded divider is then −20.00 dB,
/// 15 % is −16.48 dB (20·log₁₀ of the fraction).
#[test]
fn the_percentage_is_the_fraction_at_half_rotation() {
    for (mid, level) in [(10.0, -20.00), (15.0, -16.48)] {
        let found = 20.0 * Taper::Audio(percent(mid)).wiper(0.5).log10();
        assert!((found - level).abs() < 5e-3, "{mid} %: {found} dB");
    }
}

#[test]
fn words_read_as_tapers_and_print_as_they_read() {
    for (text, taper) in [
        ("linear", Taper::Linear),
        ("audio 15 %", Taper::Audio(percent(15.0))),
        ("reverse audio 15 %", Taper::ReverseAudio(percent(15.0))),
        ("two-slope 10 %", Taper::TwoSlope(percent(10.0))),
        ("two-slope 99 %", Taper::TwoSlope(percent(99.0))),
        ("audio 1 %", Taper::Audio(percent(1.0))),
        ("audio 49 %", Taper::Audio(percent(49.0))),
        ("audio 12.5 %", Taper::Audio(percent(12.5))),
    ] {
        assert_eq!(read(text).unwrap(), taper, "{text}");
        assert_eq!(taper.to_string(), text);
    }
    assert_eq!(read("  Audio  20% ").unwrap(), Taper::Audio(percent(20.0)));
}

#[test]
fn letters_are_refused_with_the_words_to_use() {
    for code in [
        "A",
        "B",
        "C",
        "a",
        "A250K",
        "B500k",
        "250KA",
        "500 kB",
        "1MC",
        "log",
        "Log 10 %",
        "B taper",
        "A pot",
        "15A",
        "reverse log",
        "antilog",
    ] {
        let error = read(code).unwrap_err();
        let picture = error.picture();
        assert!(error.message().contains("does not say which taper is meant"), "{code}: {picture}");
        assert!(
            picture.contains("in today's guitar trade A is audio, B linear"),
            "{code}: {picture}"
        );
        assert!(picture.contains("`audio 15 %`"), "{code}: {picture}");
    }
}

#[test]
fn what_is_no_taper_is_refused() {
    for text in [
        "",
        " ",
        "audio",
        "reverse audio",
        "two-slope",
        "audio 0 %",
        "audio 0.9 %",
        "audio 50 %",
        "reverse audio 50 %",
        "two-slope 100 %",
        "audio -5 %",
        "audio nan %",
        "audio 1e400 %",
        "audio 15 % 15 %",
        "linear 15 %",
        "lineer",
        "audio fifteen %",
        "🎸",
        "audio 15",
        "%",
    ] {
        assert!(read(text).is_err(), "`{text}` was read");
    }
}

fn tapers() -> impl Strategy<Value = Taper> {
    prop_oneof![
        Just(Taper::Linear),
        (1.0..49.0).prop_map(|mid| Taper::Audio(percent(mid))),
        (1.0..49.0).prop_map(|mid| Taper::ReverseAudio(percent(mid))),
        (1.0..99.0).prop_map(|mid| Taper::TwoSlope(percent(mid))),
        Just(Taper::read_table(&Source::inline("pot.csv", "rotation,fraction\n0,0\n0.1,0\n0.5,0.13\n0.9,1\n1,1\n")).unwrap()),
    ]
}

proptest! {
    #[test]
    fn every_taper_runs_from_exactly_zero_to_exactly_one(taper in tapers(), beyond in 0.0..1e9_f64) {
        for rotation in [0.0, -0.0, -beyond, f64::NEG_INFINITY] {
            prop_assert_eq!(taper.wiper(rotation), 0.0);
        }
        for rotation in [1.0, 1.0 + beyond, f64::INFINITY] {
            prop_assert_eq!(taper.wiper(rotation), 1.0);
        }
        prop_assert!(taper.wiper(f64::NAN).is_finite());
    }

    #[test]
    fn no_taper_falls(taper in tapers(), one in 0.0..=1.0, other in 0.0..=1.0) {
        let (low, high) = if one <= other { (one, other) } else { (other, one) };
        // Rounding may differ in the last place of two neighbouring rotations.
        prop_assert!(taper.wiper(low) <= taper.wiper(high) + 1e-15, "{:?}", taper);
    }

    #[test]
    fn half_rotation_is_the_mid_fraction(mid in 1.0..49.0) {
        prop_assert!((Taper::Audio(percent(mid)).wiper(0.5) - mid / 100.0).abs() < 1e-14);
        prop_assert!((Taper::TwoSlope(percent(mid)).wiper(0.5) - mid / 100.0).abs() < 1e-14);
        prop_assert!((Taper::ReverseAudio(percent(mid)).wiper(0.5) - (1.0 - mid / 100.0)).abs() < 1e-14);
    }

    #[test]
    fn a_fraction_no_reader_allows_still_gives_a_number(mid in proptest::num::f64::NORMAL, rotation in 0.0..=1.0) {
        let mid = Fraction::new(mid).unwrap();
        for taper in [Taper::Audio(mid), Taper::ReverseAudio(mid), Taper::TwoSlope(mid), Taper::Audio(percent(50.0))] {
            prop_assert!((0.0..=1.0).contains(&taper.wiper(rotation)));
        }
    }
}

#[test]
fn a_measured_taper_goes_straight_between_its_points() {
    let source = Source::inline("pot.csv", "rotation,fraction\n0,0\n0.5,0.13\n1,1\n");
    let taper = Taper::read_table(&source).unwrap();
    assert_eq!(taper.wiper(0.25), 0.065);
    assert_eq!(taper.wiper(0.5), 0.13);
    assert_eq!(taper.wiper(0.75), 0.565);
}

#[test]
fn a_table_that_is_no_taper_is_refused_at_its_row() {
    for (rows, message) in [
        ("0,0.1\n1,1\n", "pot.csv:2:1: a taper's table starts at 0,0"),
        ("0,0\n0.9,1\n", "pot.csv:3:1: a taper's table ends at 1,1"),
        (
            "0,0\n0.5,0.6\n0.7,0.5\n1,1\n",
            "pot.csv:4:1: a taper never falls: fraction 0.5 follows 0.6",
        ),
        (
            "0,0\n0.5,0.6\n0.5,0.7\n1,1\n",
            "pot.csv:4:1: rotation must rise from row to row: 0.5 follows 0.5",
        ),
    ] {
        let source = Source::inline("pot.csv", format!("rotation,fraction\n{rows}"));
        assert_eq!(Taper::read_table(&source).unwrap_err().to_string(), message);
    }
}
