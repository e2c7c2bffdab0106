//! A finished guitar against its prediction, for people and for spreadsheets.

use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use super::words::{hertz, knob, list};
use crate::error::Result;
use crate::units::{knob, with_prefix_rounded};
use crate::verify::{Cause, Judged, Swept, Verified};

/// Causes that are listed.
const LISTED: usize = 4;

impl Verified {
    /// A finished guitar against its prediction, as a document.
    #[must_use]
    pub fn document(&self) -> Document {
        let mut blocks = vec![Block::Answer(answer(self))];
        blocks.extend(self.target.as_ref().map(|judged| Block::Paragraph(judgement(judged))));
        blocks.push(Block::heading("Sweep by sweep"));
        blocks.extend(self.sweeps.iter().map(|sweep| Block::lines(of_sweep(sweep))));
        blocks.extend([
            Block::heading("What it could be"),
            Block::Paragraph(causes(self)),
            Block::table("What each cause alone would leave", causes_table(self, LISTED)),
            Block::Paragraph(format!(
                "A level of {:+.2} dB was taken off the measurement, which has no reference of its own.",
                self.offset_db
            )),
            Block::cautions(),
            Block::modelled(),
        ]);
        Document::new(format!("{}: measured against predicted", self.guitar), blocks)
    }
}

fn of_sweep(sweep: &Swept) -> Vec<String> {
    let mut lines = vec![format!(
        "{}, volume {}, tone {}: off by {:.2} dB on average; {:.0} % of its points are where tolerance puts 95 % of guitars.",
        sweep.name,
        knob(sweep.at.volume),
        knob(sweep.at.tone),
        sweep.rms_db,
        100.0 * sweep.ordinary_share
    )];
    lines.extend(sweep.parts.iter().map(|part| {
        format!(
            "  {} to {}: up to {:+.1} dB",
            hertz(part.from_hz),
            hertz(part.to_hz),
            part.difference_db
        )
    }));
    lines.extend(sweep.notes.iter().map(|note| format!("  {note}")));
    lines
}

/// The headline follows what is left over: a fault that explains nearly all is the answer, not an aside.
fn answer(found: &Verified) -> String {
    let first = found.causes.first().filter(|_| found.one_cause_explains);
    let verdict = match (found.tolerance_explains, found.tilt_db_per_octave, first) {
        (true, ..) => "The guitar measures as predicted, within what the tolerances of its parts do.".to_owned(),
        (false, Some(tilt), _) => format!(
            "The measurement tilts by {tilt:+.1} dB an octave against the prediction, as that of a coil without integrator does: run this \
             again with --slope before looking for a fault."
        ),
        (false, None, Some(first)) => format!(
            "The guitar does not measure as predicted, and one fault explains it: {}, which leaves {:.2} dB of {:.2} dB.",
            said(first),
            first.rms_db,
            found.rms_db
        ),
        (false, None, None) if found.rms_db > found.ordinary_rms_db[1] => {
            "The guitar does not measure as predicted: it is further off than the tolerances of its parts explain.".to_owned()
        }
        (false, None, None) => {
            "The guitar does not measure as predicted: not further off than the tolerances of its parts may bring it, but \
                                otherwise than they do."
                .to_owned()
        }
    };
    let noise = if found.noise_db < 0.05 {
        String::new()
    } else {
        format!(", {:.2} dB of it noise", found.noise_db)
    };
    format!(
        "{verdict} {}: off by {:.2} dB on average{noise}; half of the guitars built within tolerance are off by {:.2} dB or less, 95 % by \
         {:.2} dB or less.",
        found.guitar, found.rms_db, found.ordinary_rms_db[0], found.ordinary_rms_db[1]
    )
}

fn judgement(judged: &Judged) -> String {
    let place = judged.worst_hz.map_or_else(|| "the mean of its band".to_owned(), hertz);
    let verdict = if judged.margin_db >= 0.0 {
        format!("The target is met as measured, with {:.2} dB to spare", judged.margin_db)
    } else if judged.meets_target {
        format!(
            "The target is met as far as the noise lets one tell: it misses by {:.2} dB, and noise alone may do {:.2} dB",
            -judged.margin_db, judged.noise_db
        )
    } else {
        format!("The target is MISSED as measured, by {:.2} dB", -judged.margin_db)
    };
    format!(
        "{verdict}: wish {} at {place}; the prediction had {:+.2} dB. {} of the {} points it asks for were measured, the others are predicted.",
        judged.worst_clause + 1,
        judged.predicted_margin_db,
        judged.measured_points,
        judged.points
    )
}

fn quantity(value: f64, unit: &str) -> String {
    if unit.is_empty() {
        format!("knob at {value:.1}")
    } else {
        with_prefix_rounded(value, unit, 3)
    }
}

fn said(cause: &Cause) -> String {
    if let Some(built) = &cause.built {
        return format!("{} {built}", cause.value);
    }
    let off = cause.found - cause.nominal;
    let by = match cause.unit {
        "" => String::new(),
        unit => format!(
            ", {} {}",
            with_prefix_rounded(off.abs(), unit, 2),
            if off < 0.0 { "less" } else { "more" }
        ),
    };
    format!(
        "{} {} instead of {}{by}",
        cause.value,
        quantity(cause.found, cause.unit),
        quantity(cause.nominal, cause.unit)
    )
}

fn causes(found: &Verified) -> String {
    let likely: Vec<String> = found.causes.iter().filter(|cause| cause.as_likely).take(LISTED).map(said).collect();
    match (found.one_cause_explains, likely.as_slice()) {
        (_, []) => "No single cause was tried.".to_owned(),
        (false, _) => "No single value and no single fault explains what is left.".to_owned(),
        (true, [only]) => format!("Likeliest single cause: {only}. Measure that first."),
        (true, [first, rest @ ..]) => format!(
            "Likeliest single cause: {first}. This measurement cannot tell it from {}. Measure the first before changing anything.",
            list(rest)
        ),
    }
}

fn causes_table(found: &Verified, most: usize) -> Table {
    let figure = |cause: &Cause, value: f64| match cause.built {
        Some(_) => Cell::Empty("–"),
        None => Cell::Quantity {
            value,
            text: quantity(value, cause.unit),
        },
    };
    let row = |cause: &Cause| {
        let name = cause.built.as_ref().map_or_else(|| cause.value.clone(), |_| said(cause));
        vec![
            Cell::text(name),
            figure(cause, cause.nominal),
            figure(cause, cause.found),
            Cell::text(if cause.within_tolerance { "yes" } else { "no" }),
            Cell::number(cause.rms_db, 2),
        ]
    };
    let columns = [
        ("if only this\nwere off", "value"),
        ("should be", "nominal"),
        ("would be", "found"),
        ("within\ntolerance", "within_tolerance"),
        ("left over\ndB", "rms_db"),
    ];
    Table {
        columns: columns.map(|(title, name)| Column::new(title, name)).to_vec(),
        rows: found.causes.iter().take(most).map(row).collect(),
    }
}

/// Every point of every sweep as CSV.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn verified_csv(found: &Verified) -> Result<String> {
    let names = [
        "sweep",
        "volume",
        "tone",
        "frequency_hz",
        "measured_db",
        "predicted_db",
        "difference_db",
        "ordinary_low_db",
        "ordinary_high_db",
    ];
    let mut rows = Vec::new();
    for sweep in &found.sweeps {
        for point in &sweep.points {
            let [low, high] = point.ordinary_db;
            let figures = [
                knob::number(sweep.at.volume),
                knob::number(sweep.at.tone),
                point.frequency_hz,
                point.measured_db,
                point.predicted_db,
                point.difference_db,
                low,
                high,
            ];
            let figures = figures.map(|figure| Cell::number(figure, 2));
            rows.push(std::iter::once(Cell::text(sweep.name.clone())).chain(figures).collect());
        }
    }
    Table {
        columns: names.map(|name| Column::new(name, name)).to_vec(),
        rows,
    }
    .csv()
}
