//! The page of a comparison.

use super::player::player;
use super::sorted::sorted;
use super::{Origin, answered, asked, escaped, figure, origin_section, paragraph, section, shell};
use crate::compare::Comparison;
use crate::error::Result;
use crate::picture::{Picture, Sweep};
use crate::report::comparison::{LEGEND, answer, builds_in_words, pair_table, position_tables, target_table};
use crate::report::json::json_in_page;
use crate::report::words::CAUTIONS;

/// A comparison as one page; whatever there is none of is left out.
///
/// # Errors
/// None in practice: every result has a JSON form.
pub fn comparison_page(result: &Comparison, sweep: Option<&Sweep>, pictures: &[Picture], origin: &Origin) -> Result<String> {
    let whole = usize::MAX;
    let mut sections = vec![question(result)];
    sections.extend(sweep.map(|sweep| player(sweep, "Any two of them, at any knob position")));
    if result.target.is_some() {
        let table = sorted(&target_table(result, whole), "How each build does against the target");
        sections.push(section("Against the target", &table));
    }
    let tables: Vec<String> = position_tables(result, whole)
        .iter()
        .map(|(heading, table)| sorted(table, heading))
        .collect();
    sections.push(section(
        "At each knob position",
        &format!("{}\n{}", tables.join("\n"), paragraph(LEGEND)),
    ));
    if let Some((heading, table)) = pair_table(result, whole) {
        let body = table.map_or_else(|| paragraph(&heading), |table| sorted(&table, &heading));
        sections.push(section("How far apart", &body));
    }
    if !pictures.is_empty() {
        let caption = "The builds side by side at one knob position.";
        let figures: Vec<String> = pictures
            .iter()
            .map(|picture| figure(picture, "Picture of the builds", caption))
            .collect();
        sections.push(section("Picture", &figures.join("\n")));
    }
    sections.push(section("Before you solder", &paragraph(CAUTIONS)));
    sections.push(origin_section(origin));
    let data = sweep.map(json_in_page).transpose()?;
    Ok(shell::page(
        &format!("{}: builds compared", result.guitar),
        &sections,
        data.as_deref(),
    ))
}

fn question(result: &Comparison) -> String {
    let builds: String = builds_in_words(result)
        .iter()
        .map(|build| format!("<li>{}</li>\n", escaped(build)))
        .collect();
    let target = result
        .target
        .as_ref()
        .map(|target| asked(&target.name, target.echo().as_deref(), &target.in_words()))
        .unwrap_or_default();
    format!(
        "<section>\n{}\n<h2>What was compared</h2>\n{}\n<ul>\n{builds}</ul>\n{target}\n</section>",
        answered(&answer(result)),
        paragraph(&format!("Guitar: {}", result.guitar))
    )
}
