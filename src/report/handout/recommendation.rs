//! The page of a recommendation.

use super::player::player;
use super::sorted::sorted;
use super::{Origin, answered, asked, figure, origin_section, paragraph, paragraphs, section, shell};
use crate::error::Result;
use crate::picture::{Picture, Quantity, Sweep};
use crate::recommend::Recommendation;
use crate::recommend::sheet::Sheet;
use crate::report::json::json_in_page;
use crate::report::page::{Block, blocks_html};
use crate::report::recommendation::{SOUNDS_THE_SAME, TITLES, answer, built, circumstances, has_alike, reasons, table};
use crate::report::sheet::bench_blocks;
use crate::report::words::CAUTIONS;

/// A recommendation as one page; whatever there is none of is left out.
///
/// # Errors
/// None in practice: every result has a JSON form.
pub fn recommendation_page(
    result: &Recommendation,
    sweep: Option<&Sweep>,
    pictures: &[Picture],
    sheet: Option<&Sheet>,
    origin: &Origin,
) -> Result<String> {
    let mut sections = vec![question(result)];
    sections.extend(sweep.map(|sweep| player(sweep, "Before and after, at any knob position")));
    if !result.builds.is_empty() {
        let mut body = sorted(&table(result, &TITLES), "The best builds; press a title to sort");
        if has_alike(result) {
            body.push_str(&paragraph(SOUNDS_THE_SAME));
        }
        sections.push(section("The best builds", &body));
    }
    let reasons = reasons(result);
    if !reasons.is_empty() {
        sections.push(section("Why, and what else would help", &paragraphs(&reasons)));
    }
    if !pictures.is_empty() {
        let figures: Vec<String> = pictures.iter().map(captioned).collect();
        sections.push(section("Pictures", &figures.join("\n")));
    }
    sections.extend(sheet.map(bench));
    if sheet.is_none() {
        sections.push(section("Before you solder", &paragraph(CAUTIONS)));
    }
    sections.push(origin_section(origin));
    let data = sweep.map(json_in_page).transpose()?;
    let title = format!("{}: which parts?", result.guitar);
    Ok(shell::page(&title, &sections, data.as_deref()))
}

fn question(result: &Recommendation) -> String {
    let mut body = vec![answered(&answer(result))];
    body.extend(built(result).map(|built| paragraph(&built)));
    body.push("<h2>What was asked</h2>".to_owned());
    body.push(paragraph(&format!("Guitar: {}", result.guitar)));
    body.push(asked(
        &result.target.name,
        result.target.echo().as_deref(),
        &result.target.in_words(),
    ));
    body.push(paragraphs(&circumstances(result)));
    format!("<section>\n{}\n</section>", body.join("\n"))
}

fn captioned(picture: &Picture) -> String {
    match picture {
        Picture::Curves(curves) if curves.quantity == Quantity::Deviation => figure(
            picture,
            "Picture of the distance from the target",
            "How far the best build is from what the target compares with. Shaded: what the target allows. Darker: where nine of ten guitars lie that are built with parts as they come.",
        ),
        Picture::Curves(_) => figure(
            picture,
            "Picture of the best build",
            "The best build at every knob position of the target. Shaded: where the target allows the curve to be. Ringed: the worst point.",
        ),
        Picture::Landscape(_) => figure(
            picture,
            "Picture of the margin over two values",
            "How the margin changes with two values: the flatter the ground around the ring, the less their tolerance matters. Dots are standard values.",
        ),
    }
}

/// The build sheet's sections one step down, under a heading of their own.
fn bench(sheet: &Sheet) -> String {
    let lowered = bench_blocks(sheet).into_iter().map(|block| match block {
        Block::Heading(text) => Block::Subheading(text),
        Block::Subheading(text) => Block::Paragraph(text),
        block => block,
    });
    let html = blocks_html(&lowered.collect::<Vec<_>>());
    section("Build sheet", &super::drawing(&html))
}
