//! A recommendation for people and for spreadsheets: the answer first, then what was asked and searched, the list, the reasons.

use super::answer::{also_changes, answer, assumed, built};
use super::document::{Block, Document, Shown};
use super::explanation::{explanation, what_to_do};
use super::sheet::bench_blocks;
use super::shopping::{purchases_in_words, shopping_table};
use super::table::{Cell, Column, Table};
use super::words::{CAPACITORS, CAUTIONS, capitalised, hertz, knob, list, place, slot_part, spare};
use crate::error::Result;
use crate::guitar::Slot;
use crate::picture::{Picture, Quantity};
use crate::recommend::sheet::Sheet;
use crate::recommend::{Build, Indifferent, RankBy, Recommendation, SearchSummary, Stops, Worst};
use crate::units::grouped;

/// A shift of the volume above this, in dB, is said in words.
const LOUD_SHIFT: f64 = 6.0;

/// How many lines of what else the answer changes are printed at most.
const MOST_CHANGES: usize = 4;

/// A gain below this, in dB, is nothing.
const WORTH_SAYING: f64 = 0.1;
/// What the mark beside "yes" or "no" means.
const SOUNDS_THE_SAME: &str = "= sounds the same as the first, so take whichever you have: less than 0.5 dB apart, by our own rule, \
                               and resonances too close to tell apart.";

/// The whole answer as text of the given width.
#[must_use]
pub fn recommendation_text(result: &Recommendation, width: usize) -> String {
    result.document(&Shown::default()).text(width)
}

impl Recommendation {
    /// The answer as a document, with what a page shows besides.
    #[must_use]
    pub fn document(&self, shown: &Shown) -> Document {
        let mut first = answer(self);
        first.extend(built(self).map(|built| format!(" {built}")));
        let changes = also_changes(self, MOST_CHANGES).into_iter().map(Block::Paragraph);
        let mut blocks = vec![
            Block::Answer(first),
            Block::Close(changes.collect()),
            Block::heading("What was asked"),
            asked(self),
        ];
        blocks.extend(Block::sliders("Before and after, at any knob position", shown));
        if !self.builds.is_empty() {
            let mut list = vec![Block::table("Press a title to sort", table(self))];
            list.extend(has_alike(self).then(|| Block::paragraph(SOUNDS_THE_SAME)));
            blocks.extend([Block::heading("The best builds"), Block::Close(list)]);
        }
        let reasons = reasons(self);
        if !reasons.is_empty() {
            blocks.extend([Block::heading("Why, and what else would help"), Block::lines(reasons)]);
        }
        if !shown.pictures.is_empty() {
            blocks.push(Block::heading("Pictures"));
            blocks.extend(shown.pictures.iter().map(captioned));
        }
        match &shown.sheet {
            Some(sheet) => blocks.push(Block::OnPage(bench(sheet))),
            None => {
                blocks.extend([Block::heading("Before you solder"), Block::paragraph(CAUTIONS)]);
                blocks.extend(self.answer.fits_capacitor.then(|| Block::paragraph(CAPACITORS)));
            }
        }
        blocks.push(Block::modelled());
        Document::new(format!("{}: which parts?", self.guitar), blocks)
    }
}

fn captioned(picture: &Picture) -> Block {
    match picture {
        Picture::Curves(curves) if curves.quantity == Quantity::Deviation => Block::figure(
            picture,
            "Picture of the distance from the target",
            "How far the best build is from what the target compares with. Shaded: what the target allows. Darker: where nine of ten guitars lie that are built with parts as they come.",
        ),
        Picture::Curves(_) => Block::figure(
            picture,
            "Picture of the best build",
            "The best build at every knob position of the target. Shaded: where the target allows the curve to be. Ringed: the worst point.",
        ),
        Picture::Landscape(_) => Block::figure(
            picture,
            "Picture of the margin over two values",
            "How the margin changes with two values: the flatter the ground around the ring, the less their tolerance matters. Dots are standard values.",
        ),
    }
}

/// The build sheet's sections one step down, under a heading of their own.
fn bench(sheet: &Sheet) -> Vec<Block> {
    let lowered = bench_blocks(sheet).into_iter().map(|block| match block {
        Block::Heading(text) => Block::Subheading(text),
        Block::Subheading(text) => Block::Paragraph(text),
        block => block,
    });
    std::iter::once(Block::heading("Build sheet")).chain(lowered).collect()
}

/// The ranked builds as a shopping list in CSV, one row for each different part of a slot.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn recommendation_csv(result: &Recommendation) -> Result<String> {
    shopping_table(result).csv()
}

/// What was drawn for the yields.
fn drawn(result: &Recommendation) -> Option<String> {
    let found = result.builds.first()?.built?;
    let [low, high] = found.interval95;
    let mut groups: Vec<(f64, Vec<String>)> = Vec::new();
    for drawn in &result.tolerances {
        match groups.iter_mut().find(|(tolerance, _)| *tolerance == drawn.tolerance) {
            Some((_, values)) => values.push(drawn.value.clone()),
            None => groups.push((drawn.tolerance, vec![drawn.value.clone()])),
        }
    }
    let within = groups
        .iter()
        .map(|(tolerance, values)| format!("{} ±{} %", list(values), percent(*tolerance)));
    let within = match result.tolerances.is_empty() {
        true => "every value on its mark".to_owned(),
        false => within.collect::<Vec<_>>().join("; "),
    };
    let ranked = match result.ranked_by {
        RankBy::Yield => {
            " That ranks the list, taken from the builds that meet the wish or come within 0.5 dB of the best, at most 2,000 of them."
        }
        RankBy::Margin => "",
    };
    // Where all or none work, an interval says no more.
    let row = match found.meeting {
        0 => String::new(),
        all if all == found.builds => String::new(),
        _ => format!(
            " Row 1 works in {:.1} to {:.1} of 100, with 95 % confidence.",
            100.0 * low,
            100.0 * high
        ),
    };
    Some(format!(
        "In how many builds it works was counted over {} of each, drawn with {within}.{row}{ranked}",
        grouped(found.builds)
    ))
}

/// A share of one in percent, without needless zeros.
fn percent(share: f64) -> f64 {
    // A third is told as 33.3.
    let places = if share < 0.1 { 1e4 } else { 1e1 };
    (share * 100.0 * places).round() / places
}

fn asked(result: &Recommendation) -> Block {
    let first = format!("Guitar: {}. Target: {}", result.guitar, ended(&result.target.name));
    let mut lines = vec![Block::Paragraph(first)];
    lines.extend(assumed(result).iter().cloned().map(Block::Paragraph));
    lines.extend(result.target.echo().map(Block::Paragraph));
    let sentences = result.target.in_words();
    let sentences = sentences.iter().map(|sentence| format!("{}.", sentence.trim_end_matches('.')));
    lines.push(Block::Steps(sentences.collect()));
    lines.extend(circumstances(result).into_iter().map(Block::Paragraph));
    Block::Close(lines)
}

/// What surrounds the question: cases, what was searched, how the guitar does as it is.
fn circumstances(result: &Recommendation) -> Vec<String> {
    let mut lines = Vec::new();
    if result.target.is_one_sided() {
        lines.push("Every bound of this target has one side only, so the best part tends to be the end of a range.".to_owned());
    }
    lines.extend(cases(result));
    lines.push(searched(result));
    let present = &result.present;
    lines.push(if present.meets_target {
        format!(
            "The guitar as it is already meets the target, with {:.2} dB to spare.",
            present.margin_db
        )
    } else {
        format!(
            "The guitar as it is misses the target by {:.2} dB, at {}.",
            -present.margin_db,
            position(result, &present.worst)
        )
    });
    lines
}

/// A name as a sentence's end: with a full stop, unless it brings a mark of its own.
fn ended(name: &str) -> String {
    if name.ends_with(['.', '!', '?']) {
        name.to_owned()
    } else {
        format!("{name}.")
    }
}

/// The cases with the numbers that the table names them by.
fn cases(result: &Recommendation) -> Option<String> {
    let cases = result.cases.iter().enumerate();
    let names: Vec<String> = cases.map(|(index, case)| format!("({}) {}", index + 1, case.name)).collect();
    (!names.is_empty()).then(|| {
        format!(
            "{}s: {}. Each figure is the smallest over them; only these count.",
            capitalised(result.case_word()),
            names.join("; ")
        )
    })
}

fn searched(result: &Recommendation) -> String {
    if result.search.iter().any(|space| !space.exact) {
        return searched_together(result);
    }
    let mut spaces: Vec<String> = Vec::new();
    let mut beside: Vec<String> = Vec::new();
    for space in &result.search {
        if space.slots.values().any(|network| network != "none") && !spaces.contains(&space_in_words(space)) {
            spaces.push(space_in_words(space));
        }
        let changed = space.changed.in_words().join(" and ");
        if !changed.is_empty() && !beside.contains(&changed) {
            beside.push(changed);
        }
    }
    let beside = match beside.as_slice() {
        [] => String::new(),
        beside => format!(
            " Tried with the guitar's own pots, cable and wiring, and with {}.",
            beside.join("; with ")
        ),
    };
    let candidates: u64 = result.search.iter().map(|space| space.candidates).sum();
    if spaces.is_empty() {
        return format!("Searched: no parts.{beside}");
    }
    format!(
        "Searched: {}; {} {} in all, nothing fitted among them.{}{beside}",
        spaces.join("; "),
        grouped(candidates),
        if candidates == 1 { "combination" } else { "combinations" },
        without_pairs(result)
    )
}

/// What was searched where the combinations of all places were too many to try them all.
fn searched_together(result: &Recommendation) -> String {
    let mut places: Vec<String> = Vec::new();
    for slot in result.searched_slots() {
        let mut networks: Vec<&str> = Vec::new();
        for network in result.search.iter().filter_map(|space| space.slots.get(&slot)) {
            if !networks.contains(&network.as_str()) {
                networks.push(network);
            }
        }
        places.push(format!("{slot} {}", networks.join(" or ")));
    }
    let candidates: u64 = result.search.iter().map(|space| space.candidates).sum();
    format!(
        "Searched together: {}; {} combinations. What is wished for with the knobs full up was found first, by itself, and only the best of \
         that was combined with the rest: a better combination is possible, though not likely.",
        places.join("; "),
        grouped(candidates)
    )
}

/// Which networks were searched with single parts only, where others had pairs.
fn without_pairs(result: &Recommendation) -> String {
    let has_pairs = |space: &&SearchSummary| space.values.values().any(|origin| origin.ends_with("pairs"));
    if !result.search.iter().any(|space| has_pairs(&space)) {
        return String::new();
    }
    let single = result.search.iter().filter(|space| !space.values.is_empty() && !has_pairs(space));
    let names: Vec<String> = single.map(space_in_words).collect();
    match names.as_slice() {
        [] => " Two parts could stand for one.".to_owned(),
        [_] | [_, _] => format!(" Two parts could stand for one, but not in {} (too many).", list(&names)),
        names => format!(
            " Two parts could stand for one, but not in the {} largest searches (too many).",
            names.len()
        ),
    }
}

fn space_in_words(space: &SearchSummary) -> String {
    let slots: Vec<String> = space.slots.iter().map(|(slot, network)| format!("{slot} {network}")).collect();
    slots.join(" with ")
}

/// Where the knobs stand and at which frequency; knobs that the target never moves are passed over.
fn position(result: &Recommendation, worst: &Worst) -> String {
    let (volume_moves, tone_moves) = moved_knobs(result);
    let mut words = Vec::new();
    if volume_moves {
        words.push(format!("volume {}", knob(worst.at.volume)));
    }
    if tone_moves {
        words.push(format!("tone {}", knob(worst.at.tone)));
    }
    if !volume_moves && !tone_moves {
        words.push("both knobs full".to_owned());
    }
    words.push(match worst.frequency_hz {
        Some(frequency) => hertz(frequency),
        None => band_mean(result, worst.clause),
    });
    words.extend(worst.case.iter().map(|case| format!("{} \"{case}\"", result.case_word())));
    words.join(", ")
}

fn band_mean(result: &Recommendation, clause: usize) -> String {
    match result.target.clauses.get(clause) {
        Some(clause) => format!("the mean of {:.0}–{:.0} Hz", clause.band.low(), clause.band.high()),
        None => "the band's mean".to_owned(),
    }
}

fn moved_knobs(result: &Recommendation) -> (bool, bool) {
    let moves = |rotations: &[f64]| rotations.iter().any(|rotation| *rotation != 1.0);
    let clauses = &result.target.clauses;
    (
        clauses.iter().any(|clause| moves(&clause.volume)),
        clauses.iter().any(|clause| moves(&clause.tone)),
    )
}

/// Whether a build other than the first listed sounds like it.
fn is_alike(result: &Recommendation, build: &Build) -> bool {
    build.sounds_like_first && result.first().is_some_and(|first| first.rank != build.rank)
}

fn has_alike(result: &Recommendation) -> bool {
    result.builds.iter().any(|build| is_alike(result, build))
}

/// The ranked list.
fn table(result: &Recommendation) -> Table {
    let (volume_moves, tone_moves) = moved_knobs(result);
    let slots = result.searched_slots();
    let tells_changes = result.tells_changes();
    let listed = result.listed();
    let mut columns = vec![Column::new("#", "rank")];
    let named = |title: &str| Column::new(title, title);
    columns.extend(tells_changes.then(|| named("changed")));
    columns.extend(slots.iter().map(|slot| named(slot.word())));
    columns.extend(["dB to\nspare", "meets"].map(named));
    let rated = result.builds.iter().any(|build| build.built.is_some());
    columns.extend(rated.then(|| named("works in\n% of builds").short("works\nin %")));
    columns.extend((!result.cases.is_empty()).then(|| named(&format!("worst\n{}", result.case_word()))));
    columns.extend(volume_moves.then(|| named("worst\nvolume").short("worst\nvol.")));
    columns.extend(tone_moves.then(|| named("worst\ntone")));
    columns.extend([
        named("worst\nHz"),
        named("differs\ndB").short("off by\ndB"),
        named("volume\nmoves dB").short("vol.\nmoves\ndB"),
        named("parts"),
    ]);
    let row = |build: &Build| {
        let is_answer = result.is_answer(build);
        let mut row = vec![if is_answer {
            Cell::text("*")
        } else {
            Cell::number(build.rank as f64, 0)
        }];
        row.extend(tells_changes.then(|| changed(build)));
        row.extend(
            slots
                .iter()
                .map(|slot| Cell::text(build.slots.get(slot).map_or("as now", String::as_str))),
        );
        row.push(Cell::difference(build.margin_db, 2));
        let meets = if build.meets_target { "yes" } else { "no" };
        row.push(Cell::text(if is_alike(result, build) {
            format!("{meets:<3} =")
        } else {
            meets.to_owned()
        }));
        row.extend(build.built.map(|built| Cell::number(100.0 * built.share, 0)));
        let worst_case = build.worst.case.as_ref();
        let number = worst_case.and_then(|worst| result.cases.iter().position(|case| case.name == *worst));
        row.extend(number.map(|index| Cell::number((index + 1) as f64, 0)));
        row.extend(volume_moves.then(|| Cell::text(knob(build.worst.at.volume))));
        row.extend(tone_moves.then(|| Cell::text(knob(build.worst.at.tone))));
        row.push(
            build
                .worst
                .frequency_hz
                .map_or(Cell::Empty("mean"), |frequency| Cell::number(frequency, 0)),
        );
        row.push(Cell::difference(build.worst.difference_db, 2));
        row.push(Cell::difference(build.volume_shift_db, 1));
        row.push(Cell::number(build.part_count as f64, 0));
        row
    };
    Table {
        columns,
        rows: listed.into_iter().map(row).collect(),
    }
}

/// Pots, cable and wiring that a build has otherwise than now, for a table.
pub(super) fn changed(build: &Build) -> Cell {
    let words = build.changed.in_words();
    if words.is_empty() {
        return Cell::text("as now");
    }
    Cell::text(words.join(", "))
}

/// What else there is to say about the answer, line by line.
fn reasons(result: &Recommendation) -> Vec<String> {
    let mut lines = Vec::new();
    let Some(best) = result.builds.first() else {
        return lines;
    };
    let first = "row 1";
    if let Some(stops) = &result.stops {
        lines.extend(what_stops(result, stops));
    }
    lines.extend(explanation(result));
    lines.extend(drawn(result));
    lines.extend(what_finer_values_buy(result));
    lines.extend(purchases_in_words(result));
    let is_left = |item: &&Indifferent| {
        let build = result.answer.build.as_ref();
        build.is_none_or(|build| !build.slots.contains_key(&item.slot))
    };
    let left = result.indifferent.iter().filter(is_left);
    lines.extend(left.map(|item| what_does_not_matter(result, best, item)));
    if let Some(suggestion) = &result.suggestion {
        let met = if suggestion.margin_db >= 0.0 {
            "meets the target"
        } else {
            "comes closer"
        };
        lines.push(format!(
            "What does matter here is a part {}: {}. That alone {met}, with {:+.2} dB to spare.",
            place(suggestion.slot),
            what_to_do(&suggestion.does),
            suggestion.margin_db
        ));
    }
    if !best.at_range_end.is_empty() {
        lines.push(format!(
            "{} sits at the end of the range of {}: a wider --range may do better, or the target may lack its other bound.",
            capitalised(first),
            list(&best.at_range_end)
        ));
    }
    if best.volume_shift_db.abs() > LOUD_SHIFT {
        let louder = if best.volume_shift_db > 0.0 { "louder" } else { "quieter" };
        lines.push(format!(
            "Mind the volume knob: with {first} the guitar is up to {:.1} dB {louder} than now at the same knob position.",
            best.volume_shift_db.abs()
        ));
    }
    lines
}

/// What the best could gain if every value inside the ranges could be bought; none where nothing free was searched.
fn what_finer_values_buy(result: &Recommendation) -> Option<String> {
    let ideals = result.search.iter().filter_map(|space| space.ideal.as_ref());
    // The ideal keeps to what lies between the values in stock; a purchase may lie outside.
    let bought = result.purchases.iter().map(|purchase| purchase.margin_db);
    let ideal = ideals.map(|ideal| ideal.margin_db).chain(bought).reduce(f64::max)?;
    let best = result.builds.iter().map(|build| build.margin_db).reduce(f64::max)?;
    let ideal = ideal.max(best);
    let mut origins: Vec<String> = result.search.iter().flat_map(|space| space.values.values().cloned()).collect();
    origins.sort();
    origins.dedup();
    let values = match origins.as_slice() {
        [first, ..] if first.starts_with("stock") => "the parts in stock".to_owned(),
        origins => format!("{} values", list(origins)),
    };
    let gain = if best < 0.0 && ideal >= 0.0 {
        "none of these builds meets the target, finer parts could".to_owned()
    } else if ideal - best < WORTH_SAYING {
        "finer parts buy nothing".to_owned()
    } else {
        format!("finer parts could buy {:.1} dB", ideal - best)
    };
    let any = if ideal >= 0.0 {
        format!("have {ideal:.2} dB")
    } else {
        format!("miss by {:.2} dB", -ideal)
    };
    Some(format!(
        "With {values} the best {}; with any value at all it would {any}, as far as was found: {gain}.",
        spare(best)
    ))
}

pub(super) fn what_stops(result: &Recommendation, stops: &Stops) -> Vec<String> {
    let side = if stops.above { "above" } else { "below" };
    let mut lines = vec![format!(
        "What stops {}: wish {}, at {}: {:+.2} dB, {side} its bound of {:+.2} dB.",
        "row 1",
        stops.worst.clause + 1,
        position(result, &stops.worst),
        stops.worst.difference_db,
        stops.bound_db
    )];
    if stops.clause_alone_db.len() > 1 {
        let alone = stops.clause_alone_db.iter().enumerate().map(|(index, margin)| match margin {
            Some(margin) if *margin >= 0.0 => format!("wish {} could be met with {margin:.2} dB to spare", index + 1),
            Some(margin) => format!("wish {} would be missed by {:.2} dB", index + 1, -margin),
            None => format!("wish {} has no candidate that sounds", index + 1),
        });
        lines.push(format!(
            "Each wish alone, all others left out: {}.",
            list(&alone.collect::<Vec<_>>())
        ));
    }
    lines
}

fn what_does_not_matter(result: &Recommendation, best: &Build, item: &Indifferent) -> String {
    let (volume_moves, tone_moves) = moved_knobs(result);
    let knobs = match (item.slot, volume_moves, tone_moves) {
        (Slot::Tone | Slot::Bypass, _, false) => "With the tone knob full up, ",
        (Slot::Bleed, false, _) => "With the volume knob full up, ",
        _ => "At the knob positions of this target, ",
    };
    let searched = best.slots.contains_key(&item.slot);
    let advice = match searched {
        true => ", so leave it as it is",
        false => "",
    };
    format!(
        "{knobs}{} changes nothing anyone could hear: {:.2} dB over its whole range{advice}.",
        slot_part(item.slot),
        item.span_db
    )
}
