//! Pickups and potentiometers found by measuring, for people and for spreadsheets.

use super::table::{Cell, Column, Table};
use super::words::{hertz, list, wrapped};
use crate::error::Result;
use crate::identify::file::pickup_table;
use crate::identify::peaks::FromPeaks;
use crate::identify::pots::Pot;
use crate::identify::{Coil, Identified, Model, Rival, Value};
use crate::units::{with_prefix, with_prefix_rounded};

const MODELS: [&str; 3] = ["plain L-R-C", "one loss cell", "two loss cells"];

/// The pickup table and how well it is known, as text of the given width; every model on request.
#[must_use]
pub fn identified_text(found: &Identified, all: bool, width: usize) -> String {
    let Some(best) = found.best() else { return String::new() };
    let complaint = |complaint: &String| wrapped(&format!("{complaint}."), width, 0);
    let mut blocks: Vec<String> = found.complaints.iter().map(complaint).collect();
    blocks.push(values(best).text().trim_end().to_owned());
    blocks.push(wrapped(&left_over(best), width, 0));
    blocks.push(wrapped(&choice(found), width, 0));
    let mut notes: Vec<String> = found.rival.iter().map(other).collect();
    notes.extend(best.notes.iter().cloned());
    for sweep in &found.sweeps {
        notes.extend(sweep.notes.iter().map(|note| format!("{}: {note}", sweep.name)));
    }
    blocks.extend(noted(&notes, width));
    if all {
        for model in &found.models {
            let name = MODELS.get(model.cells).copied().unwrap_or("more cells");
            let criterion = model
                .criterion
                .map_or_else(String::new, |criterion| format!(", criterion {criterion:+.1}"));
            blocks.push(format!(
                "{name}{criterion}:\n{}\n{}",
                values(model).text().trim_end(),
                wrapped(&left_over(model), width, 0)
            ));
        }
    }
    if found.complaints.is_empty() {
        blocks.extend(pasted(&best.coil, width));
    }
    blocks.join("\n\n") + "\n"
}

/// The table to paste, below everything that must be read first.
fn pasted(coil: &Coil, width: usize) -> [String; 2] {
    let text = "Paste this over the [pickup] table of your guitar file:";
    [wrapped(text, width, 0), pickup_table(coil).trim_end().to_owned()]
}

fn other(rival: &Rival) -> String {
    format!(
        "{} with {} gives the same curve; it is left out because pickups have 0.5 to 15 H and 20 to 400 pF. A second sweep with a known \
         capacitor across the pickup would settle it (--response 470p=loaded.csv)",
        with_prefix_rounded(rival.inductance, "H", 3),
        with_prefix_rounded(rival.capacitance, "F", 3)
    )
}

/// The values of the chosen model as CSV, or of all.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn identified_csv(found: &Identified, all: bool) -> Result<String> {
    let chosen = found.models.iter().enumerate().filter(|(index, _)| all || *index == found.chosen);
    let row = |model: &Model, value: &Value| {
        let end = |end: usize| {
            value.interval95.map_or(Cell::Empty(""), |interval| {
                Cell::number(interval.get(end).copied().unwrap_or(0.0), 0)
            })
        };
        vec![
            Cell::number(model.cells as f64, 0),
            Cell::text(value.name.clone()),
            Cell::number(value.value, 0),
            Cell::text(value.unit),
            end(0),
            end(1),
            Cell::text(if value.known {
                "known"
            } else if value.poor {
                "poor"
            } else {
                "fitted"
            }),
        ]
    };
    let names = ["loss_cells", "value", "fitted", "unit", "low95", "high95", "status"];
    Table {
        columns: names.map(|name| Column::new(name, name)).to_vec(),
        rows: chosen
            .flat_map(|(_, model)| model.values.iter().map(move |value| row(model, value)))
            .collect(),
    }
    .csv()
}

fn quantity(value: f64, unit: &str) -> String {
    match unit {
        // −0.00 is 0.00 to a reader.
        "dB/octave" => format!("{:+.2} dB/octave", if value.abs() < 0.005 { 0.0 } else { value }),
        unit => with_prefix_rounded(value, unit, 4),
    }
}

fn values(model: &Model) -> Table {
    let row = |value: &Value| {
        let interval = match (value.known, value.interval95) {
            (true, _) => "given".to_owned(),
            (false, None) => "not determined".to_owned(),
            (false, Some([low, high])) => format!("{} to {}", quantity(low, value.unit), quantity(high, value.unit)),
        };
        vec![
            Cell::text(value.name.clone()),
            Cell::text(quantity(value.value, value.unit)),
            Cell::text(interval),
            Cell::text(if value.poor { "poorly determined" } else { "" }),
        ]
    };
    Table {
        columns: [
            ("value", "value"),
            ("fitted", "fitted"),
            ("95 % interval", "interval95"),
            ("", "status"),
        ]
        .map(|(title, name)| Column::new(title, name))
        .to_vec(),
        rows: model.values.iter().map(row).collect(),
    }
}

fn left_over(model: &Model) -> String {
    let phase = model
        .rms_deg
        .map_or_else(String::new, |degrees| format!("; the phase by {degrees:.2} degrees on average"));
    format!(
        "The fit misses the levels by {:.3} dB ({:.2} %) on average, at most by {:+.2} dB at {}{phase}.",
        model.rms_db,
        100.0 * model.rms_share,
        model.worst_db,
        hertz(model.worst_hz)
    )
}

fn choice(found: &Identified) -> String {
    let Some(best) = found.best() else { return String::new() };
    let name = |model: &Model| MODELS.get(model.cells).copied().unwrap_or("more cells");
    let figure = |model: &Model| format!("{} {:.3} dB", name(model), model.rms_db);
    let others: Vec<String> = found.models.iter().map(figure).collect();
    match found.models.as_slice() {
        [_] => format!("Model: {}; loss cells would bring nothing that these data could tell.", name(best)),
        _ => format!(
            "Model: {}, the simplest that fits as well as any (corrected Akaike criterion). Missed on average: {}.",
            name(best),
            list(&others)
        ),
    }
}

fn noted(notes: &[String], width: usize) -> Option<String> {
    let lines: Vec<String> = notes.iter().map(|note| wrapped(&format!("- {note}"), width, 2)).collect();
    (!lines.is_empty()).then(|| format!("Mind:\n{}", lines.join("\n")))
}

/// The pickup of a set of peaks.
#[must_use]
pub fn coil_of_peaks(found: &FromPeaks) -> Coil {
    Coil {
        resistance: found.resistance,
        inductance: found.inductance,
        capacitance: found.capacitance,
        cells: Vec::new(),
    }
}

/// The pickup table found from peaks and what it rests on.
#[must_use]
pub fn peaks_text(found: &FromPeaks, width: usize) -> String {
    let mut blocks = vec![format!(
        "inductance   {}\ncapacitance  {}",
        with_prefix_rounded(found.line_inductance, "H", 6),
        with_prefix_rounded(found.line_capacitance, "F", 5)
    )];
    if found.clamped {
        blocks.push(wrapped(
            &format!(
                "WARNING: the peaks ask for a capacitance of {}, which cannot be. Eddy losses do that: the inductance falls with frequency, \
                 and this method takes the fall for capacitance. The capacitance is set to 0, and the inductance ({}) is the one at the \
                 loaded resonance. Sweep the impedance instead (--impedance), which finds the losses too.",
                with_prefix_rounded(found.line_capacitance, "F", 3),
                with_prefix_rounded(found.inductance, "H", 4)
            ),
            width,
            0,
        ));
    }
    let pair =
        |[low, high]: [f64; 2], unit: &str| format!("{} to {}", with_prefix_rounded(low, unit, 4), with_prefix_rounded(high, unit, 4));
    if let (Some(inductance), Some(capacitance)) = (found.reading_inductance, found.reading_capacitance) {
        let text = format!(
            "As far as the last digits of the frequencies tell: inductance {}, capacitance {}.",
            pair(inductance, "H"),
            pair(capacitance, "F")
        );
        blocks.push(wrapped(&text, width, 0));
    }
    if let (Some(inductance), Some(capacitance)) = (found.interval95_inductance, found.interval95_capacitance) {
        let text = format!(
            "By how far the peaks lie from one line (95 % interval): inductance {}, capacitance {}.",
            pair(inductance, "H"),
            pair(capacitance, "F")
        );
        blocks.push(wrapped(&text, width, 0));
    }
    blocks.push(peaks_table(found).text().trim_end().to_owned());
    blocks.push(wrapped(&caveat(found), width, 0));
    blocks.extend(pasted(&coil_of_peaks(found), width));
    blocks.join("\n\n") + "\n"
}

fn peaks_table(found: &FromPeaks) -> Table {
    let row = |(peak, miss): (&crate::identify::peaks::Peak, &f64)| {
        vec![
            Cell::Quantity {
                value: peak.added,
                text: with_prefix(peak.added, "F"),
            },
            Cell::Quantity {
                value: peak.frequency,
                text: with_prefix_rounded(peak.frequency, "Hz", 7),
            },
            Cell::difference(100.0 * miss, 2),
        ]
    };
    Table {
        columns: [("added", "added_farads"), ("peak", "peak_hz"), ("off the line\n%", "off_percent")]
            .map(|(title, name)| Column::new(title, name))
            .to_vec(),
        rows: found.peaks.iter().zip(&found.misses).map(row).collect(),
    }
}

fn caveat(found: &FromPeaks) -> String {
    let shift = |capacitance: f64| (capacitance - found.line_capacitance).abs();
    let most = found
        .sensitivity
        .iter()
        .max_by(|one, other| shift(one.capacitance).total_cmp(&shift(other.capacitance)));
    let most = most.map_or_else(String::new, |most| {
        format!(
            " One per cent more in {} alone would make it {} and {}.",
            most.reading,
            with_prefix_rounded(most.inductance, "H", 4),
            with_prefix_rounded(most.capacitance, "F", 4)
        )
    });
    format!(
        "The capacitance is the weak side of this method.{most} Losses (covers, steel poles) bias it downwards and the inductance upwards; an \
         impedance sweep tells them apart. The winding's resistance moves the lowest peak by {:.3} % only.",
        100.0 * found.resistance_bias
    )
}

/// The peaks as CSV.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn peaks_csv(found: &FromPeaks) -> Result<String> {
    peaks_table(found).csv()
}

/// The potentiometer and its taper for a guitar file.
#[must_use]
pub fn pot_text(pot: &Pot, width: usize) -> String {
    let resistance = with_prefix_rounded(pot.resistance, "Ω", 4);
    let law = pot.laws.first().filter(|_| pot.law_will_do);
    let taper = law.map_or("{ table = \"pot.csv\" }".to_owned(), |law| format!("\"{}\"", law.taper));
    let mut blocks = vec![format!("resistance = \"{resistance}\"\ntaper = {taper}")];
    let nearest: Vec<String> = pot
        .laws
        .iter()
        .take(3)
        .map(|law| format!("{} misses by {:.1} dB at {}", law.taper, law.worst_db, law.worst_at))
        .collect();
    let verdict = match law {
        Some(law) => format!(
            "Paste this under [volume] or [tone]. The law {} is within 1 dB of every reading.",
            law.taper
        ),
        None => "Paste this under [volume] or [tone], and save the table below as pot.csv beside the guitar file (or run this again with \
                 --format csv --output pot.csv). No law is within 1 dB of every reading."
            .to_owned(),
    };
    blocks.push(wrapped(&verdict, width, 0));
    blocks.push(wrapped(
        &format!(
            "Nearest: {}. At half rotation: {:.1} % of the track.",
            list(&nearest),
            100.0 * pot.mid
        ),
        width,
        0,
    ));
    if pot.residual.is_some_and(|residual| residual > 0.01 * pot.resistance) {
        let text = "More than 1 % of the track is left at 0: a worn or dirty end, or the wrong lug. The taper takes it for 0.";
        blocks.push(wrapped(text, width, 0));
    }
    if law.is_none() {
        blocks.push(pot_csv(pot).unwrap_or_default().trim_end().to_owned());
    }
    blocks.join("\n\n") + "\n"
}

/// The taper as the table that a guitar file can name.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn pot_csv(pot: &Pot) -> Result<String> {
    Table {
        columns: ["rotation", "fraction"].map(|name| Column::new(name, name)).to_vec(),
        rows: pot
            .table
            .iter()
            .map(|point| point.iter().map(|value| Cell::number(*value, 4)).collect())
            .collect(),
    }
    .csv()
}
