//! The page of a kit.

use super::sorted::sorted;
use super::{Origin, answered, asked, origin_section, paragraph, section, shell};
use crate::kit::{Kit, LeftOut, Served};
use crate::report::kit::{answer, bag_table, dropped, growth_table, left_for_time, left_out, left_out_in_words, served_table, tried};
use crate::report::words::CAUTIONS;

/// A kit as one page.
#[must_use]
pub fn kit_page(kit: &Kit, origin: &Origin) -> String {
    let targets: Vec<String> = kit
        .targets
        .iter()
        .map(|target| asked(&target.name, target.echo().as_deref(), &target.in_words()))
        .collect();
    let late = left_for_time(kit).map(|left| paragraph(&left)).unwrap_or_default();
    let mut sections = vec![format!(
        "<section>\n{}{late}\n<h2>What was asked</h2>\n{}\n{}\n</section>",
        answered(&answer(kit)),
        targets.join("\n"),
        paragraph(&tried(kit))
    )];
    if !kit.bag.is_empty() {
        let drop = dropped(kit).map(|drop| paragraph(&drop)).unwrap_or_default();
        sections.push(section(
            "The bag",
            &format!("{}\n{drop}", sorted(&bag_table(kit), "What the bag holds")),
        ));
    }
    let growth = sorted(
        &growth_table(kit),
        "Kits of other sizes; ~ is not proved to be the best of its size",
    );
    sections.push(section("What other sizes would serve", &growth));
    let missed = left_out(kit);
    if !missed.is_empty() {
        sections.push(section("Left out", &left_out_body(kit, &missed)));
    }
    let served: Vec<&Served> = kit.guitars.iter().filter(|served| served.meets_target).collect();
    if !served.is_empty() {
        sections.push(section(
            "Served",
            &sorted(&served_table(kit, &served, usize::MAX), "The guitars that are served"),
        ));
    }
    sections.push(section("Before you solder", &paragraph(CAUTIONS)));
    sections.push(origin_section(origin));
    shell::page("Which few values serve most guitars?", &sections, None)
}

fn left_out_body(kit: &Kit, missed: &[&Served]) -> String {
    let (unfit, fit): (Vec<&Served>, Vec<&Served>) = missed
        .iter()
        .copied()
        .partition(|served| matches!(served.left_out, Some(LeftOut::DoesNotFit(_))));
    let mut body = vec![paragraph(&left_out_in_words(kit, missed))];
    if !fit.is_empty() {
        body.push(sorted(&served_table(kit, &fit, usize::MAX), "The guitars that are left out"));
    }
    body.extend(unfit.iter().filter_map(|served| match &served.left_out {
        Some(LeftOut::DoesNotFit(why)) => Some(paragraph(&format!("{}: {why}", served.name))),
        _ => None,
    }));
    body.join("\n")
}
