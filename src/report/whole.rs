//! The answers for a guitar with several volume or tone knobs on one screen.

use super::answer::{also_changes, answer, assumed, built};
use super::first_screen::CAUTION;
use super::words::{capitalised, fitted_in_words, list, wrapped};
use crate::recommend::whole::{SameParts, Together, WholeAnswer};

/// Lines of what else each answer changes, at most.
const MOST_CHANGES: usize = 2;
/// A cost that nobody hears.
const NOTHING_DB: f64 = 0.05;

/// What to solder at each knob, what the same parts at all of them would cost, and what the knobs do to each other.
#[must_use]
pub fn whole_screen(result: &WholeAnswer, width: usize) -> String {
    let mut blocks: Vec<String> = Vec::new();
    for control in &result.controls {
        let found = &control.recommendation;
        let mut headline = format!("{}: {}", capitalised(&control.knobs), answer(found));
        headline.extend(built(found).map(|built| format!(" {built}")));
        let lines = std::iter::once(headline).chain(also_changes(found, MOST_CHANGES));
        blocks.push(lines.map(|line| wrapped(&line, width, 2)).collect::<Vec<_>>().join("\n"));
    }
    if let Some(first) = result.controls.first().map(|control| &control.recommendation) {
        let understood = assumed(first).iter().cloned().chain(first.target.echo());
        blocks.push(understood.map(|line| wrapped(&line, width, 2)).collect::<Vec<_>>().join("\n"));
    }
    blocks.extend(result.same_parts.as_ref().map(|same| wrapped(&same_parts(same), width, 2)));
    let beside = if result.turns_a_volume() {
        together(&result.together)
    } else {
        Vec::new()
    };
    blocks.push(beside.iter().map(|line| wrapped(line, width, 2)).collect::<Vec<_>>().join("\n"));
    let example = result.controls.first().map_or("", |control| control.knobs.as_str());
    let go_on = format!(
        "One of them with every row, its wiring and its pictures: --knobs \"{example}\", with --explain, --sheet build.html or --page \
         answer.html."
    );
    blocks.push([wrapped(&go_on, width, 2), wrapped(CAUTION, width, 2)].join("\n"));
    blocks.retain(|block| !block.is_empty());
    blocks.join("\n\n") + "\n"
}

fn same_parts(same: &SameParts) -> String {
    let parts = list(&fitted_in_words(&same.slots));
    if same.costs_db < NOTHING_DB {
        return format!("The same parts do at all of them: {parts}.");
    }
    let worst = same.margins_db.iter().min_by(|one, other| one.1.total_cmp(other.1));
    let at = worst.map_or(String::new(), |(knobs, margin)| {
        format!(", and at the {knobs} {}", super::words::spare(*margin))
    });
    format!("The same parts at all of them, {parts}, would cost {:.1} dB{at}.", same.costs_db)
}

/// What the volume knobs do to each other, a line for each position and one for each knob in it.
fn together(found: &[Together]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut last = None;
    for one in found {
        if last != Some(&one.position) {
            last = Some(&one.position);
            let all = found.iter().filter(|other| other.position == one.position);
            let silent = all.clone().filter(|other| other.silent_at_zero).count();
            let says = match silent {
                0 => "any one volume knob at 0 leaves the rest sounding",
                count if count == all.count() => "any one volume knob at 0 silences the guitar",
                _ => "one of the volume knobs at 0 silences the guitar",
            };
            lines.push(format!("In the position \"{}\" {says}.", one.position));
        }
        lines.extend(against_alone(one));
        lines.push(format!(
            "With the {} volume at 5 there the highs {} and the mids and bass {}.",
            one.knobs,
            falls(one.highs_at_5_db),
            falls(one.rest_at_5_db),
        ));
    }
    lines
}

/// "lose 1.4 dB", with what nobody hears left out.
fn falls(by_db: f64) -> String {
    match by_db {
        by_db if by_db.abs() < NOTHING_DB => "stay as they are".to_owned(),
        by_db if by_db < 0.0 => format!("gain {:.1} dB", -by_db),
        by_db => format!("lose {by_db:.1} dB"),
    }
}

/// How much louder a position is than one of its pickups alone.
fn against_alone(one: &Together) -> Option<String> {
    let by = |difference_db: f64| {
        let word = if difference_db < 0.0 { "quieter" } else { "louder" };
        format!("{:.1} dB {word}", difference_db.abs())
    };
    let (highs, rest) = (one.highs_against_alone_db, one.rest_against_alone_db);
    (highs.abs().max(rest.abs()) >= NOTHING_DB).then(|| {
        format!(
            "With all of them full up the highs are {} than of the {} alone, and the mids and bass {}.",
            by(highs),
            one.knobs,
            by(rest)
        )
    })
}
