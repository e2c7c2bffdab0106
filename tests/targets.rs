//! Phrases against the clauses the guide's table gives them, written out by hand.

mod clauses;

use clauses::*;
use knobwright::shipped;
use knobwright::source::Source;
use knobwright::target::phrase::common_bands;
use knobwright::target::{Against, Band, Clause, Measure, Target};

fn read(phrase: &str) -> Vec<Clause> {
    let source = Source::inline("--target", phrase);
    match Target::from_phrase(&source.passage()) {
        Ok(target) => target.clauses,
        Err(error) => panic!("{}", error.picture()),
    }
}

fn all_read_as(phrases: &[&str], clauses: &[Clause]) {
    for phrase in phrases {
        assert_eq!(read(phrase), clauses, "{phrase}");
    }
}

#[test]
fn the_named_bands_are_those_of_the_guide() {
    let named: Vec<(String, Band)> = common_bands().into_iter().map(|known| (known.name, known.band)).collect();
    let expected = [
        ("lows", LOWS),
        ("mud", MUD),
        ("mids", MIDS),
        ("highs", HIGHS),
        ("presence", PRESENCE),
        ("brightness", BRIGHTNESS),
    ];
    assert_eq!(named, expected.map(|(name, hertz)| (name.to_owned(), band(hertz))));
}

#[test]
fn keep_a_band_between_two_volumes() {
    all_read_as(
        &[
            "keep highs within 2 dB from full to quarter volume",
            "KEEP Highs WITHIN 2DB FROM Full TO Quarter VOLUME",
            "keep highs within 2dB from volume 10 to 2.5",
            "keep highs within 2 decibels from full volume to quarter volume",
            "keep highs within 2.0 dB from volume full to volume quarter",
            "keep highs within 2 dB from quarter to full volume",
            "keep highs within 2 dB from 10 to 1/4 volume",
            "which cap for keep highs within 2 dB from full to quarter volume?",
            "what parts for keep highs within 2 dB from full to quarter volume ?",
            "I want keep highs within 2 dB from full to quarter volume",
            "  keep\thighs within 2 dB\nfrom full to quarter volume  ",
        ],
        &[keep(HIGHS, 2.0, &TO_QUARTER, &FULL)],
    );
    all_read_as(
        &["keep mids within 1.5 dB from 8 to 3 volume"],
        &[keep(
            MIDS,
            1.5,
            &[0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5, 0.45, 0.4, 0.35, 0.3],
            &FULL,
        )],
    );
    all_read_as(
        &[
            "keep lows within 1 dB from three-quarter to half volume",
            "keep lows within 1 dB from half to three quarters volume",
        ],
        &[keep(LOWS, 1.0, &[0.75, 0.7, 0.65, 0.6, 0.55, 0.5], &FULL)],
    );
    all_read_as(
        &["keep highs within 3 dB from full to zero tone"],
        &[keep(HIGHS, 3.0, &FULL, &[&TO_QUARTER[..], &[0.2, 0.15, 0.1, 0.05, 0.0]].concat())],
    );
    all_read_as(
        &["keep highs within 3 dB from half to half volume"],
        &[keep(HIGHS, 3.0, &[0.5], &FULL)],
    );
}

#[test]
fn keep_a_band_at_positions() {
    all_read_as(
        &[
            "keep presence within 3 dB at tone 10, 7.5, 5",
            "keep presence within 3 dB at tone full, three-quarter, half",
            "keep presence within 3 dB at 10, 7.5 and 5 tone",
            "keep presence within 3 dB at tone 10,7.5,5",
            "keep presence within 3 dB at tone full, three quarter, 1/2",
        ],
        &[keep(PRESENCE, 3.0, &FULL, &[1.0, 0.75, 0.5])],
    );
    all_read_as(
        &[
            "keep highs within 3 dB at half volume",
            "keep highs within 3 dB at volume half",
            "keep highs within 3 dB at volume 5",
            "keep highs within 3 dB volume 5",
            "keep highs within 3 dB half volume",
            "keep highs within 3 dB at 5 volume",
        ],
        &[keep(HIGHS, 3.0, &[0.5], &FULL)],
    );
    all_read_as(&["keep highs within 3 dB at volume 5, 10"], &[keep(HIGHS, 3.0, &[0.5, 1.0], &FULL)]);
    all_read_as(
        &[
            "keep highs within 3 dB at tone 5 from full to half volume",
            "keep highs within 3 dB from full to half volume at tone 5",
        ],
        &[keep(HIGHS, 3.0, &TO_HALF, &[0.5])],
    );
}

#[test]
fn keep_the_level() {
    all_read_as(
        &[
            "keep level within 6 dB of present from full to half volume",
            "keep level within 6dB of present from volume 5 to 10",
        ],
        &[keep_level(6.0, &TO_HALF)],
    );
}

#[test]
fn keep_highs_alone_is_the_default_target() {
    let default = [keep(HIGHS, 4.0, &TO_HALF, &FULL), keep_level(6.0, &TO_HALF)];
    all_read_as(&["keep highs within 4 dB"], &default[..1]);
    all_read_as(
        &[
            "keep highs",
            "Which cap for keep highs?",
            "keep highs within 4 dB from full to half volume, and the feel of the volume knob",
            "keep highs within 4 dB from full to half volume and keep level within 6 dB of present from full to half volume",
            "keep highs; keep level within 6 dB of present from full to half volume",
            "keep highs and keep level within 6 dB of present from full to half volume",
        ],
        &default,
    );
    let first = shipped::TARGETS.first().unwrap();
    assert_eq!(Target::read(&Source::inline(first.name, first.text)).unwrap().clauses, default);
}

#[test]
fn cut_a_band() {
    all_read_as(
        &["cut highs by 3 to 6 dB at tone 5", "cut highs by 3 dB to 6 dB at half tone"],
        &[cut(HIGHS, -6.0, -3.0, &[0.5])],
    );
    all_read_as(
        &[
            "cut highs by at least 3 dB at tone 0",
            "cut highs by 3 dB at tone zero",
            "cut highs by 3dB at zero tone",
        ],
        &[cut(HIGHS, -9.0, -3.0, &[0.0])],
    );
}

#[test]
fn no_bump_with_and_without_its_options() {
    all_read_as(
        &["no bump at tone 0", "no bump at tone zero"],
        &[no_bump([80.0, 1500.0], 2.0, &[0.0])],
    );
    all_read_as(&["no bump over 3 dB at tone 0"], &[no_bump([80.0, 1500.0], 3.0, &[0.0])]);
    all_read_as(&["no bump in mids at tone 2.5"], &[no_bump(MIDS, 2.0, &[0.25])]);
    all_read_as(
        &["no bump over 1 dB in mids at tone 5, 0", "no bump in mids over 1 dB at tone 5, 0"],
        &[no_bump(MIDS, 1.0, &[0.5, 0.0])],
    );
}

#[test]
fn less_and_more_keep_the_rest() {
    let at_zero = |bounds| {
        [
            change(MUD, LOW_ANCHOR, bounds, &FULL, &[0.0]),
            kept(LOW_ANCHOR, &FULL, &[0.0]),
            kept(KEPT, &FULL, &[0.0]),
        ]
    };
    all_read_as(
        &["less mud at tone 0", "which cap for less mud at tone zero?"],
        &at_zero([-3.0, -1.0]),
    );
    all_read_as(
        &["less mud by 2 dB at tone 0", "less mud at tone 0 by 2 dB"],
        &at_zero([-4.0, -2.0]),
    );
    all_read_as(&["more mud by 2 dB at tone 0"], &at_zero([2.0, 4.0]));
    all_read_as(
        &["less mud"],
        &[
            change(MUD, LOW_ANCHOR, [-3.0, -1.0], &FULL, &FULL),
            kept(LOW_ANCHOR, &FULL, &FULL),
            kept(KEPT, &FULL, &FULL),
        ],
    );
    all_read_as(
        &[
            "less lows by 1.5 dB at tone 5 at half volume",
            "less lows at half volume by 1.5 dB tone 5",
        ],
        &[
            change(LOWS, LOW_ANCHOR, [-3.5, -1.5], &[0.5], &[0.5]),
            kept(LOW_ANCHOR, &[0.5], &[0.5]),
            kept(KEPT, &[0.5], &[0.5]),
        ],
    );
    // The mids do not lie below 600 Hz, and only touch 1500 Hz.
    all_read_as(
        &["more mids"],
        &[
            change(MIDS, ANCHOR, [1.0, 3.0], &FULL, &FULL),
            kept(ANCHOR, &FULL, &FULL),
            kept(KEPT, &FULL, &FULL),
        ],
    );
    // These reach into 1500–4000 Hz, which is then free.
    all_read_as(
        &["less presence"],
        &[change(PRESENCE, ANCHOR, [-3.0, -1.0], &FULL, &FULL), kept(ANCHOR, &FULL, &FULL)],
    );
}

/// −1 dB is what "without losing" allows.
#[test]
fn without_losing_a_band_holds_its_level() {
    let held = |volume: &[f64]| average(clause(Measure::Level, Against::Present, LOWS, [Some(-1.0), None], volume, &FULL));
    let mut at_half = read("brighter at half volume");
    at_half.push(held(&[0.5]));
    all_read_as(&["brighter without losing bass at half volume"], &at_half);
    let mut at_full = read("brighter");
    at_full.push(held(&FULL));
    all_read_as(&["brighter without losing lows", "brighter without losing any bass"], &at_full);
}

#[test]
fn what_is_left_out_is_the_default_of_the_form() {
    all_read_as(
        &["keep highs at half volume", "keep highs at 50 %", "keep highs at 50%"],
        &[keep(HIGHS, 4.0, &[0.5], &FULL)],
    );
    all_read_as(
        &["keep highs within 2 dB from 10 to 3", "keep highs within 2 dB down to 3"],
        &[keep(HIGHS, 2.0, &TO_QUARTER[..15], &FULL)],
    );
    all_read_as(&["keep highs within 2 dB to 1/4"], &[keep(HIGHS, 2.0, &TO_QUARTER, &FULL)]);
    all_read_as(
        &[
            "keep highs within 2 dB from full to quarter",
            "keep highs within 2 dB from full to quarter volume please",
            "keep highs within 2 dB from full to quarter volume.",
            "keep highs within 2 dB from full to quarter volume!",
        ],
        &[keep(HIGHS, 2.0, &TO_QUARTER, &FULL)],
    );
    all_read_as(&["keep highs within 2 dB"], &[keep(HIGHS, 2.0, &TO_HALF, &FULL)]);
    all_read_as(&["keep highs within 2 dB at 5"], &[keep(HIGHS, 2.0, &[0.5], &FULL)]);
    all_read_as(&["keep mids"], &[keep(MIDS, 4.0, &TO_HALF, &FULL)]);
    all_read_as(
        &["keep level", "keep level within 6 dB from full to half volume"],
        &[keep_level(6.0, &TO_HALF)],
    );
    all_read_as(
        &["cut highs at tone 0", "cut highs 6-12 dB at tone 0"],
        &[cut(HIGHS, -12.0, -6.0, &[0.0])],
    );
    all_read_as(&["no bump"], &[no_bump([80.0, 1500.0], 2.0, &[0.0])]);
    all_read_as(&["cut lows by 3 dB"], &read("less lows by 3 dB"));
}

#[test]
fn darker_and_brighter_are_less_and_more_highs() {
    assert_eq!(read("darker at half volume"), read("less highs at half volume"));
    assert_eq!(read("brighter by 2 dB"), read("more highs by 2 dB"));
    all_read_as(
        &["darker", "I want darker"],
        &[change(BRIGHTNESS, ANCHOR, [-3.0, -1.0], &FULL, &FULL), kept(ANCHOR, &FULL, &FULL)],
    );
    all_read_as(
        &["brighter", "more highs"],
        &[change(BRIGHTNESS, ANCHOR, [1.0, 3.0], &FULL, &FULL), kept(ANCHOR, &FULL, &FULL)],
    );
}
