//! Whether a tech would sign the answers: every guitar that is shipped, thirty everyday wishes, each answer refitted and judged by the second
//! solver. The rules of the rest are those of the guide; what they allow is a working rule of our own.

mod support;

use knobwright::circuit::Setting;
use knobwright::guitar::Guitar;
use knobwright::inputs;
use knobwright::kernel::features::Features;
use knobwright::shipped::GUITARS;
use knobwright::source::Source;
use knobwright::target::Target;
use support::*;

fn all_guitars() -> Vec<Guitar> {
    GUITARS.iter().map(|file| inputs::guitar(Some(file.name)).unwrap()).collect()
}

#[test]
fn a_guitars_own_end_is_that_of_the_second_solver() {
    for guitar in all_guitars() {
        let features = Features::of(&guitar, Setting::FULL).unwrap();
        match (features.upper_minus_3_db_hz, rest::own_end(&guitar)) {
            (Some(got), Some(expected)) => assert_relatively_close(got, expected, 1e-9, &guitar.name),
            (got, expected) => assert_eq!(got, expected, "{}", guitar.name),
        }
    }
}

#[test]
fn a_guitar_keeps_its_own_rest() {
    let target = Target::from_phrase(&Source::inline("--target", "less mud").passage()).unwrap();
    for guitar in all_guitars() {
        let guards = rest::guards(&guitar, &guitar, &target);
        for guard in guards {
            assert!(guard.margin_db() >= 0.0, "{}: {guard:?}", guitar.name);
        }
    }
}
