//! One build in depth for people and for spreadsheets.

use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use super::words::{fitted_in_words, hertz, knob, list, spare, works_in};
use crate::error::Result;
use crate::tolerance::depth::{Advice, Compared, Corner, Culprit, Depth, Distribution};
use crate::units::{grouped, with_prefix, with_prefix_rounded};

/// How wide the longest bar of the histogram is.
const LONGEST_BAR: f64 = 40.0;
/// A factor this close to 1 is on the mark.
const ON_THE_MARK: f64 = 1e-9;

impl Depth {
    /// One build in depth as a document.
    #[must_use]
    pub fn document(&self) -> Document {
        let mut blocks = vec![
            Block::Answer(answer(self)),
            Block::heading("How many builds have how much to spare, in dB"),
            Block::Close(vec![
                Block::OnScreen(vec![Block::paragraph("How many builds have how much to spare, in dB:")]),
                Block::Verbatim(histogram(&self.margins)),
                Block::Paragraph(below(&self.margins)),
            ]),
            Block::heading("What varies"),
        ];
        blocks.push(match self.values.is_empty() {
            true => Block::paragraph("Every value is exact: nothing varies."),
            false => Block::captioned("What each value's spread costs, costliest first", ":", values(self)),
        });
        blocks.push(Block::lines(advice(self)));
        blocks.extend([
            Block::heading("The worst corner"),
            Block::Paragraph(worst(self)),
            Block::captioned(
                "Level in dB at frequencies in Hz, on the mark and at that corner",
                ":",
                response(&self.worst),
            ),
            Block::cautions(),
            Block::modelled(),
        ]);
        Document::new(format!("{}: one build in depth", self.guitar), blocks)
    }
}

/// The values that vary as CSV, one row a value.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn tolerance_csv(depth: &Depth) -> Result<String> {
    values(depth).csv()
}

fn answer(depth: &Depth) -> String {
    let fitted = match fitted_in_words(&depth.fitted).as_slice() {
        [] => "nothing fitted".to_owned(),
        fitted => fitted.join("; "),
    };
    let [low, high] = depth.built.interval95.map(|share| 100.0 * share);
    let between = match depth.built.meeting {
        0 => String::new(),
        all if all == depth.built.builds => String::new(),
        _ => format!(
            ": between {low:.1} and {high:.1} with 95 % confidence, from {} drawn",
            grouped(depth.built.builds)
        ),
    };
    let mark = spare(depth.margin_db);
    let mut answer = format!(
        "With parts as they come it works in {}{between}. With every value on its mark it {mark}. Guitar: {}, with {fitted}. Target: {}.",
        works_in(&depth.built),
        depth.guitar,
        depth.target.name.trim_end_matches('.'),
    );
    if let Some(read_as) = depth.target.echo() {
        answer.push_str(&format!(" {read_as}"));
    }
    if !depth.cases.is_empty() {
        let names: Vec<String> = depth.cases.iter().map(|case| format!("\"{}\"", case.name)).collect();
        answer.push_str(&format!(
            " Each figure is the smallest over the {}s {}.",
            depth.case_word(),
            list(&names)
        ));
    }
    answer
}

fn histogram(margins: &Distribution) -> String {
    let most = margins.counts.iter().copied().max().unwrap_or(1).max(1) as f64;
    let mut lines = Vec::with_capacity(margins.counts.len());
    for (index, count) in margins.counts.iter().enumerate() {
        let from = margins.from_db + margins.bar_db * index as f64;
        let bar = (LONGEST_BAR * *count as f64 / most).round() as usize;
        let bar = if *count > 0 { bar.max(1) } else { 0 };
        // Misses and hits never share a sign.
        let (side, mark) = if from + margins.bar_db <= 0.0 {
            ("misses", '-')
        } else {
            ("meets", '#')
        };
        let side = if from < 0.0 && from + margins.bar_db > 0.0 { "both" } else { side };
        let line = format!("  {from:+7.2}  {side:<6}  {:<40} {}", mark.to_string().repeat(bar), grouped(*count));
        lines.push(line);
    }
    lines.join("\n")
}

fn below(margins: &Distribution) -> String {
    let percentiles = margins
        .percentiles
        .iter()
        .map(|(percent, margin)| format!("{percent:.0} % {margin:+.2}"));
    format!("  Below: {}.", percentiles.collect::<Vec<_>>().join(", "))
}

fn values(depth: &Depth) -> Table {
    let columns = [
        ("value", "value"),
        ("nominal", "nominal"),
        ("off by up to\n%", "tolerance"),
        ("works if\nexact %", "share_if_exact"),
        ("misses\nremoved %", "misses_removed"),
    ];
    let row = |value: &Culprit| {
        vec![
            Cell::text(value.value.clone()),
            Cell::Quantity {
                value: value.nominal,
                text: quantity(value.nominal, value.unit),
            },
            share(value.tolerance, 1),
            share(value.share_if_exact, 1),
            value.misses_removed.map_or(Cell::Empty("–"), |removed| share(removed, 0)),
        ]
    };
    Table {
        columns: columns.map(|(title, name)| Column::new(title, name)).to_vec(),
        rows: depth.values.iter().map(row).collect(),
    }
}

/// A share in percent for people, as it is for programs.
fn share(share: f64, decimals: usize) -> Cell {
    let percent = format!("{:.decimals$}", 100.0 * share);
    let is_zero = percent.trim_start_matches('-').chars().all(|letter| matches!(letter, '0' | '.'));
    Cell::Quantity {
        value: share,
        // −0 is 0 to a reader.
        text: if is_zero { percent.replace('-', "") } else { percent },
    }
}

fn advice(depth: &Depth) -> Vec<String> {
    if depth.advice.is_empty() {
        let words = match depth.built.share {
            _ if !depth.meets_target => {
                "With every value on its mark it misses: no picking of parts makes up for that. Look for another build first."
            }
            share if share >= 0.99 => "Nothing need be measured or picked: parts as they come do.",
            _ => "No single value that is measured or bought tighter raises the yield by as much as half a percent.",
        };
        return vec![words.to_owned()];
    }
    let line = |advice: &Advice| {
        let [low, high] = [advice.low, advice.high].map(|value| quantity_rounded(value, advice.unit));
        let which = match advice.unit {
            "" => format!(
                "Measure the {} and take a pot with {low} to {high} of its track at half way",
                advice.value
            ),
            _ => format!("Measure the {} and take one that reads {low} to {high}", advice.value),
        };
        format!(
            "{which}: it then works in {:.1} of 100 builds instead of {:.1}.",
            100.0 * advice.share,
            100.0 * depth.built.share
        )
    };
    depth.advice.iter().map(line).collect()
}

/// A taper has no unit and is told in percent.
fn quantity(value: f64, unit: &str) -> String {
    match unit {
        "" => format!("{} %", (1e4 * value).round() / 1e2),
        _ => with_prefix(value, unit),
    }
}

fn quantity_rounded(value: f64, unit: &str) -> String {
    match unit {
        "" => format!("{:.0} %", 100.0 * value),
        _ => with_prefix_rounded(value, unit, 3),
    }
}

fn worst(depth: &Depth) -> String {
    let corner = &depth.worst;
    let off =
        |(value, factor): &(String, f64)| ((factor - 1.0).abs() > ON_THE_MARK).then(|| format!("{value} {:+.0} %", 100.0 * (factor - 1.0)));
    let off: Vec<String> = corner.factors.iter().filter_map(off).collect();
    let off = if off.is_empty() {
        "every value on its mark".to_owned()
    } else {
        list(&off)
    };
    let Some(margin) = corner.margin_db else {
        return format!("The worst found inside the tolerances makes no sound, with {off}.");
    };
    let at = match corner.frequency_hz {
        Some(frequency) => hertz(frequency),
        None => "the band's mean".to_owned(),
    };
    let margin = match margin {
        missed if missed < 0.0 => format!("misses by {:.2} dB", -missed),
        spare => format!("has {spare:.2} dB to spare"),
    };
    format!(
        "The worst found inside the tolerances {margin}: wish {}, at volume {}, tone {}, {at}, where it is off by {:+.2} dB, with {off}.",
        corner.clause + 1,
        knob(corner.at.volume),
        knob(corner.at.tone),
        corner.difference_db,
    )
}

/// One row a knob position, one column a frequency; on the mark and at the corner.
fn response(corner: &Corner) -> Table {
    let mut frequencies: Vec<f64> = Vec::new();
    let mut knobs: Vec<(f64, f64)> = Vec::new();
    for point in &corner.response {
        if !frequencies.contains(&point.frequency_hz) {
            frequencies.push(point.frequency_hz);
        }
        if !knobs.contains(&(point.at.volume, point.at.tone)) {
            knobs.push((point.at.volume, point.at.tone));
        }
    }
    let mut columns = vec![Column::new("volume", ""), Column::new("tone", ""), Column::new("", "build")];
    columns.extend(frequencies.iter().map(|frequency| Column::new(&format!("{frequency:.0}"), "")));
    let level = |level: Option<f64>| level.map_or(Cell::Empty("silent"), |level| Cell::difference(level, 1));
    let row = |(volume, tone): (f64, f64), what: &str, figure: fn(&Compared) -> Option<f64>| {
        let mut row = vec![Cell::text(knob(volume)), Cell::text(knob(tone)), Cell::text(what)];
        let own = corner
            .response
            .iter()
            .filter(|point| (point.at.volume, point.at.tone) == (volume, tone));
        row.extend(own.map(|point| level(figure(point))));
        row
    };
    let rows = |at: &(f64, f64)| {
        [
            row(*at, "mark", |point| point.nominal_db),
            row(*at, "worst", |point| point.worst_db),
        ]
    };
    Table {
        columns,
        rows: knobs.iter().flat_map(rows).collect(),
    }
}
