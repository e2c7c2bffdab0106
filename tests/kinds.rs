//! A kind of pickup stands for a guitar: the answer is that of the sample, what was assumed is said, and so is how far it matters, held
//! against the same parts on guitars wound otherwise.

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
    let target = wish(phrase).at_own_end(own_end(&present));
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
