//! A comparison for people and for spreadsheets: who sounds like whom first, then the builds, the target, each knob position, each pair.

use super::document::{Block, Document, Shown};
use super::table::{Cell, Column, Table};
use super::words::{fitted_in_words, knob, list};
use crate::compare::{Apart, AtPosition, Compared, Comparison, PRESENT, Pair};
use crate::error::Result;
use crate::guitar::Slot;
use crate::units::knob;

/// Names are cut after so many letters where a table has one or two columns of them.
const NAME: usize = 20;
const NAME_IN_PAIRS: usize = 14;
/// Changes told of each build, at most; of more builds than so many only the largest of each.
const MOST_CHANGES: usize = 4;
const MANY_BUILDS: usize = 6;
/// More pairs than this are told only where they sound the same.
const MOST_PAIRS: usize = 15;

impl Comparison {
    /// The builds side by side as a document, with what a page shows besides.
    #[must_use]
    pub fn document(&self, shown: &Shown) -> Document {
        let mut blocks = vec![Block::Answer(answer(self)), Block::heading("What was compared"), asked(self)];
        blocks.extend(Block::sliders("Any two of them, at any knob position", shown));
        if self.target.is_some() {
            blocks.push(Block::heading("Against the target"));
            blocks.push(Block::table("How each build does against the target", target_table(self)));
        }
        blocks.extend(else_changed(self));
        blocks.push(Block::heading("At each knob position"));
        blocks.extend(position_tables(self));
        if let Some(pairs) = pair_table(self) {
            blocks.extend([Block::heading("How far apart"), pairs]);
        }
        blocks.push(Block::paragraph(LEGEND));
        blocks.extend((!shown.pictures.is_empty()).then(|| Block::heading("Picture")));
        let caption = "The builds side by side at one knob position.";
        let figures = shown.pictures.iter();
        blocks.extend(figures.map(|picture| Block::figure(picture, "Picture of the builds", caption)));
        blocks.extend([Block::cautions(), Block::modelled()]);
        Document::new(format!("{}: builds compared", self.guitar), blocks)
    }
}

const LEGEND: &str = "Level: mean of 80 Hz to 8 kHz. Peak: the resonance, its height above the mean of 100–400 Hz, and its Q. -3 dB: where the top end \
is that far down. Highs: 1500–6000 Hz against full. Bump: highest level of 80–1500 Hz above that of 80–120 Hz. Two builds sound the same \
when they are less than 0.5 dB apart, by our own rule, and their peaks too close to tell apart: along the whole travel of every knob, or at the positions asked for.";

/// One row a build, case and knob position.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn comparison_csv(result: &Comparison) -> Result<String> {
    let names = [
        "build",
        "bleed_network",
        "tone_network",
        "bypass_network",
        "series_network",
        "across_network",
        "changed",
        "margin_db",
        "meets_target",
        "case",
        "volume",
        "tone",
        "level_db",
        "resonance_hz",
        "resonance_height_db",
        "resonance_q",
        "upper_minus_3_db_hz",
        "highs_kept_db",
        "bump_db",
        "sounds_like_first",
        "furthest_level_from_first_db",
        "furthest_shape_from_first_db",
    ];
    let rows = result
        .builds
        .iter()
        .flat_map(|build| build.positions.iter().map(move |position| csv_row(result, build, position)));
    Table {
        columns: names.map(|name| Column::new(name, name)).to_vec(),
        rows: rows.collect(),
    }
    .csv()
}

fn csv_row(result: &Comparison, build: &Compared, at: &AtPosition) -> Vec<Cell> {
    let first = result.builds.first().map(|first| first.name.as_str());
    let pair = result
        .pairs
        .iter()
        .find(|pair| Some(pair.first.as_str()) == first && pair.second == build.name);
    let itself = Some(build.name.as_str()) == first;
    let networks = Slot::ALL.map(|slot| Cell::text(build.slots.get(&slot).map_or("none", String::as_str)));
    let against = build.against_target.as_ref();
    let number = |value: Option<f64>| value.map_or(Cell::Empty(""), |value| Cell::number(value, 2));
    let apart = |apart: Option<&Apart>| {
        if itself {
            number(Some(0.0))
        } else {
            number(apart.map(|apart| apart.difference_db))
        }
    };
    let same = if itself { Some(true) } else { pair.map(|pair| pair.sounds_same) };
    let truth = |truth: Option<bool>| truth.map_or(Cell::Empty(""), |truth| Cell::text(truth.to_string()));
    let mut row = vec![Cell::text(&build.name)];
    row.extend(networks);
    row.push(Cell::text(build.changed.in_words().join(", ")));
    row.extend([
        number(against.map(|against| against.margin_db)),
        truth(against.map(|against| against.meets_target)),
    ]);
    row.push(at.case.as_ref().map_or(Cell::Empty(""), Cell::text));
    row.extend([at.at.volume, at.at.tone].map(|rotation| number(Some(knob::number(rotation)))));
    row.extend([
        number(at.level_db),
        number(at.resonance.map(|peak| peak.frequency_hz)),
        number(at.resonance.map(|peak| peak.height_db)),
        number(at.resonance.and_then(|peak| peak.q)),
        number(at.upper_minus_3_db_hz),
        number(at.highs_kept_db),
        number(at.bump_db),
        truth(same),
        apart(pair.and_then(|pair| pair.level.as_ref())),
        apart(pair.and_then(|pair| pair.shape.as_ref())),
    ]);
    row
}

/// Who sounds like whom, and who does best.
fn answer(result: &Comparison) -> String {
    let same: Vec<&Pair> = result.pairs.iter().filter(|pair| pair.sounds_same).collect();
    let mut sentences = Vec::new();
    match (result.builds.len(), same.as_slice()) {
        (1, _) => {}
        (2, []) => sentences.push("The two builds sound different.".to_owned()),
        (_, []) => sentences.push(format!("All {} builds sound different from each other.", result.builds.len())),
        (_, same) if same.len() == result.pairs.len() => {
            sentences.push("Nobody could tell these builds apart at these knob positions.".to_owned())
        }
        (_, same) => {
            let pairs: Vec<String> = same
                .iter()
                .take(8)
                .map(|pair| format!("{} like {}", pair.second, pair.first))
                .collect();
            let more = if same.len() > 8 { "; more in the table" } else { "" };
            sentences.push(format!("Sound the same: {}{more}.", list(&pairs)));
        }
    }
    let judged = result
        .builds
        .iter()
        .filter_map(|build| Some((build, build.against_target.as_ref()?)));
    let best = judged.reduce(|best, next| if next.1.margin_db > best.1.margin_db { next } else { best });
    if let Some((build, against)) = best {
        sentences.push(if against.meets_target {
            format!(
                "{} does best: it meets the target with {:.2} dB to spare.",
                build.name, against.margin_db
            )
        } else {
            format!(
                "None meets the target; {} comes closest and misses it by {:.2} dB.",
                build.name, -against.margin_db
            )
        });
    }
    sentences.join(" ")
}

fn asked(result: &Comparison) -> Block {
    let mut lines = vec![Block::Paragraph(format!("Guitar: {}.", result.guitar))];
    if let Some(target) = &result.target {
        lines.push(Block::Paragraph(format!("Target: {}", target.name)));
        lines.extend(target.echo().map(Block::Paragraph));
        lines.push(Block::Steps(target.in_words()));
    }
    lines.extend(builds_in_words(result).into_iter().map(Block::Paragraph));
    Block::Close(lines)
}

/// What is fitted in each build.
fn builds_in_words(result: &Comparison) -> Vec<String> {
    let in_words = |build: &Compared| {
        let changed = build.changed.in_words().into_iter();
        let slots: Vec<String> = changed.chain(fitted_in_words(&build.slots)).collect();
        let fitted = if slots.is_empty() {
            "nothing fitted".to_owned()
        } else {
            slots.join("; ")
        };
        format!("{}: {fitted}", build.name)
    };
    result.builds.iter().map(in_words).collect()
}

/// What each build changes against the present guitar, in the words of the bench; nothing where there is only the present guitar.
fn else_changed(result: &Comparison) -> Vec<Block> {
    let others: Vec<&Compared> = result.builds.iter().filter(|build| build.name != PRESENT).collect();
    if others.is_empty() {
        return Vec::new();
    }
    let (heading, nothing) = match result.target {
        Some(_) => ("What else each changes", "nothing else changes"),
        None => ("What each changes", "nothing changes"),
    };
    let most = if others.len() > MANY_BUILDS { 1 } else { MOST_CHANGES };
    let line = |build: &&Compared| {
        let told: Vec<&str> = build.also_changes.iter().take(most).map(|told| told.says.as_str()).collect();
        let changes = match build.largest_change_db {
            _ if !told.is_empty() => told.join(" "),
            largest if largest < 0.05 => format!("{nothing}."),
            largest => format!("{nothing} by more than {largest:.1} dB."),
        };
        format!("{}: {changes}", build.name)
    };
    vec![Block::heading(heading), Block::Points(others.iter().map(line).collect())]
}

fn target_table(result: &Comparison) -> Table {
    let columns = [
        "build",
        "to spare\ndB",
        "meets",
        "rms\ndB",
        "worst\nwish",
        "volume",
        "tone",
        "Hz",
        "differs\ndB",
    ];
    let row = |build: &Compared| {
        let mut row = vec![Cell::text(&build.name)];
        match &build.against_target {
            None => row.extend((1..columns.len()).map(|_| Cell::Empty("silent"))),
            Some(against) => {
                let worst = &against.worst;
                row.extend([
                    Cell::difference(against.margin_db, 2),
                    Cell::text(if against.meets_target { "yes" } else { "no" }),
                    Cell::number(against.rms_db, 2),
                    Cell::number((worst.clause + 1) as f64, 0),
                    Cell::text(knob(worst.at.volume)),
                    Cell::text(knob(worst.at.tone)),
                    worst
                        .frequency_hz
                        .map_or(Cell::Empty("mean"), |frequency| Cell::number(frequency, 0)),
                    Cell::difference(worst.difference_db, 2),
                ]);
            }
        }
        row
    };
    Table {
        columns: named(columns, 1, NAME),
        rows: result.builds.iter().map(row).collect(),
    }
}

/// Columns of which the first few hold names.
fn named<const COUNT: usize>(titles: [&str; COUNT], names: usize, longest: usize) -> Vec<Column> {
    let column = |(index, title): (usize, &&str)| match Column::new(title, title) {
        column if index < names => column.cut_at(longest),
        column => column,
    };
    titles.iter().enumerate().map(column).collect()
}

/// A table of all builds for each case and knob position.
fn position_tables(result: &Comparison) -> Vec<Block> {
    let positions = result.builds.first().map(|build| build.positions.len()).unwrap_or_default();
    (0..positions)
        .filter_map(|index| {
            let rows: Vec<(&Compared, &AtPosition)> = result
                .builds
                .iter()
                .filter_map(|build| Some((build, build.positions.get(index)?)))
                .collect();
            let (_, at) = rows.first()?;
            let case = at.case.as_ref().map(|case| format!(", {case}")).unwrap_or_default();
            let heading = format!("Volume {}, tone {}{case}", knob(at.at.volume), knob(at.at.tone));
            Some(Block::captioned(heading, "", position_table(&rows)))
        })
        .collect()
}

fn position_table(rows: &[(&Compared, &AtPosition)]) -> Table {
    let columns = [
        "build",
        "level\ndB",
        "peak\nHz",
        "peak\ndB",
        "Q",
        "-3 dB\nHz",
        "highs\ndB",
        "bump\ndB",
    ];
    let row = |(build, at): &(&Compared, &AtPosition)| {
        let missing = Cell::Empty(if at.level_db.is_some() { "none" } else { "silent" });
        let number = |value: Option<f64>, decimals| value.map_or(missing.clone(), |value| Cell::number(value, decimals));
        let difference = |value: Option<f64>| value.map_or(missing.clone(), |value| Cell::difference(value, 1));
        vec![
            Cell::text(&build.name),
            difference(at.level_db),
            number(at.resonance.map(|peak| peak.frequency_hz), 0),
            difference(at.resonance.map(|peak| peak.height_db)),
            number(at.resonance.and_then(|peak| peak.q), 1),
            number(at.upper_minus_3_db_hz, 0),
            difference(at.highs_kept_db),
            difference(at.bump_db),
        ]
    };
    Table {
        columns: named(columns, 1, NAME),
        rows: rows.iter().map(row).collect(),
    }
}

/// How far apart every two are; no table where no pair is shown.
fn pair_table(result: &Comparison) -> Option<Block> {
    let all = result.pairs.len() <= MOST_PAIRS;
    let shown: Vec<&Pair> = result.pairs.iter().filter(|pair| all || pair.sounds_same).collect();
    if shown.is_empty() {
        let none = || Block::Paragraph(format!("None of the {} pairs sounds the same.", result.pairs.len()));
        return (!result.pairs.is_empty()).then(none);
    }
    let heading = if all {
        "Furthest apart, the second less the first".to_owned()
    } else {
        format!("Pairs that sound the same, of {}", result.pairs.len())
    };
    let columns = [
        "first",
        "second",
        "level\ndB",
        "shape\ndB",
        "volume",
        "tone",
        "Hz",
        "sound\nthe same",
    ];
    let row = |pair: &&Pair| {
        let level = pair
            .level
            .as_ref()
            .map_or(Cell::Empty("silent"), |apart| Cell::difference(apart.difference_db, 1));
        let shape = pair.shape.as_ref();
        let cell = |of: &dyn Fn(&Apart) -> Cell| shape.map_or(Cell::Empty("silent"), of);
        vec![
            Cell::text(&pair.first),
            Cell::text(&pair.second),
            level,
            cell(&|apart| Cell::difference(apart.difference_db, 1)),
            cell(&|apart| Cell::text(knob(apart.at.volume))),
            cell(&|apart| Cell::text(knob(apart.at.tone))),
            cell(&|apart| apart.frequency_hz.map_or(Cell::Empty(""), |frequency| Cell::number(frequency, 0))),
            Cell::text(if pair.sounds_same { "yes" } else { "no" }),
        ]
    };
    let table = Table {
        columns: named(columns, 2, NAME_IN_PAIRS),
        rows: shown.iter().map(row).collect(),
    };
    Some(Block::captioned(heading, "", table))
}
