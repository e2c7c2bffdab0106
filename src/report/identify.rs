//! Pickups and potentiometers found by measuring, for people and for spreadsheets.

use super::document::{Block, Document};
use super::table::{Cell, Column, Table};
use super::words::{hertz, list};
use crate::error::Result;
use crate::identify::file::pickup_table;
use crate::identify::peaks::{FromPeaks, PeakOf};
use crate::identify::pots::Pot;
use crate::identify::{Coil, Identified, Model, Rival, Value};
use crate::picture::Picture;
use crate::units::{with_prefix, with_prefix_rounded};

/// The title of a pickup's documents.
const TITLE: &str = "A pickup from measurements";
const MODELS: [&str; 3] = ["plain L-R-C", "one loss cell", "two loss cells"];

impl Identified {
    /// The pickup table and how well it is known, as a document; every model on request, and the picture of the fit where there is one.
    #[must_use]
    pub fn document(&self, all: bool, picture: Option<&Picture>) -> Document {
        let Some(best) = self.best() else {
            return Document::new(TITLE, Vec::new());
        };
        let mut blocks: Vec<Block> = self
            .complaints
            .iter()
            .map(|complaint| Block::Paragraph(format!("{complaint}.")))
            .collect();
        blocks.extend([
            Block::table("The pickup's values", values(best)),
            Block::Paragraph(left_over(best)),
            Block::Paragraph(choice(self)),
        ]);
        blocks
            .extend(picture.map(|picture| Block::figure(picture, "Picture of the fit", "What was measured, and the model fitted to it.")));
        let mut notes: Vec<String> = self.rival.iter().map(other).collect();
        notes.extend(best.notes.iter().cloned());
        for sweep in &self.sweeps {
            notes.extend(sweep.notes.iter().map(|note| format!("{}: {note}", sweep.name)));
        }
        if !notes.is_empty() {
            blocks.push(Block::Close(vec![Block::paragraph("Mind:"), Block::Points(notes)]));
        }
        if all {
            blocks.push(Block::heading("Every model"));
            blocks.extend(self.models.iter().map(of_model));
        }
        if self.complaints.is_empty() {
            blocks.extend(pasted(&best.coil));
        }
        Document::new(TITLE, blocks)
    }
}

fn of_model(model: &Model) -> Block {
    let name = MODELS.get(model.cells).copied().unwrap_or("more cells");
    let criterion = model
        .criterion
        .map_or_else(String::new, |criterion| format!(", criterion {criterion:+.1}"));
    Block::Close(vec![
        Block::captioned(format!("{name}{criterion}"), ":", values(model)),
        Block::Paragraph(left_over(model)),
    ])
}

/// The table to paste, below everything that must be read first.
fn pasted(coil: &Coil) -> [Block; 3] {
    [
        Block::heading("For the guitar file"),
        Block::paragraph("Paste this over the [pickup] table of your guitar file:"),
        Block::Verbatim(pickup_table(coil)),
    ]
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

impl FromPeaks {
    /// The pickup table found from peaks and what it rests on, as a document.
    #[must_use]
    pub fn document(&self) -> Document {
        let mut blocks = vec![Block::Verbatim(format!(
            "inductance   {}\ncapacitance  {}",
            with_prefix_rounded(self.line_inductance, "H", 6),
            with_prefix_rounded(self.line_capacitance, "F", 5)
        ))];
        if self.clamped {
            blocks.push(Block::Paragraph(clamped(self)));
        }
        let both = |inductance: Option<[f64; 2]>, capacitance: Option<[f64; 2]>, says: &str| {
            let [inductance, capacitance] = [pair(inductance?, "H"), pair(capacitance?, "F")];
            Some(Block::Paragraph(format!(
                "{says}: inductance {inductance}, capacitance {capacitance}."
            )))
        };
        blocks.extend(both(
            self.reading_inductance,
            self.reading_capacitance,
            "As far as the last digits of the frequencies tell",
        ));
        blocks.extend(both(
            self.interval95_inductance,
            self.interval95_capacitance,
            "By how far the peaks lie from one line (95 % interval)",
        ));
        blocks.extend([Block::table("The peaks", peaks_table(self)), Block::Paragraph(caveat(self))]);
        blocks.extend(pasted(&coil_of_peaks(self)));
        Document::new(TITLE, blocks)
    }
}

fn clamped(found: &FromPeaks) -> String {
    format!(
        "WARNING: the peaks ask for a capacitance of {}, which cannot be. Eddy losses do that: the inductance falls with frequency, and this \
         method takes the fall for capacitance. The capacitance is set to 0, and the inductance ({}) is the one at the loaded resonance. \
         Sweep the impedance instead (--impedance), which finds the losses too.",
        with_prefix_rounded(found.line_capacitance, "F", 3),
        with_prefix_rounded(found.inductance, "H", 4)
    )
}

fn pair([low, high]: [f64; 2], unit: &str) -> String {
    format!("{} to {}", with_prefix_rounded(low, unit, 4), with_prefix_rounded(high, unit, 4))
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
    let resistance = match found.peak_of {
        PeakOf::Impedance => format!(
            "The winding's resistance moves the lowest peak by {:.3} % only. Peaks of the response lie lower: --peak-of response.",
            100.0 * found.resistance_bias
        ),
        PeakOf::Response => {
            "They are taken as peaks of the response: what the winding's resistance and the load do to them is taken off.".to_owned()
        }
    };
    format!(
        "The capacitance is the weak side of this method.{most} Losses (covers, steel poles) bias it downwards and the inductance upwards; an \
         impedance sweep tells them apart. {resistance}"
    )
}

/// The peaks as CSV.
///
/// # Errors
/// None in practice: every row has the header's length.
pub fn peaks_csv(found: &FromPeaks) -> Result<String> {
    peaks_table(found).csv()
}

impl Pot {
    /// The potentiometer and its taper for a guitar file, as a document.
    #[must_use]
    pub fn document(&self) -> Document {
        let law = self.laws.first().filter(|_| self.law_will_do);
        let taper = law.map_or("{ table = \"pot.csv\" }".to_owned(), |law| format!("\"{}\"", law.taper));
        let resistance = with_prefix_rounded(self.resistance, "Ω", 4);
        let nearest = self.laws.iter().take(3);
        let nearest = nearest.map(|law| format!("{} misses by {:.1} dB at {}", law.taper, law.worst_db, law.worst_at));
        let verdict = match law {
            Some(law) => format!(
                "Paste this under [volume] or [tone]. The law {} is within 1 dB of every reading.",
                law.taper
            ),
            None => {
                "Paste this under [volume] or [tone], and save the table below as pot.csv beside the guitar file (or run this again with \
                     --format csv --output pot.csv). No law is within 1 dB of every reading."
                    .to_owned()
            }
        };
        let mut blocks = vec![
            Block::Verbatim(format!("resistance = \"{resistance}\"\ntaper = {taper}")),
            Block::Paragraph(verdict),
            Block::Paragraph(format!(
                "Nearest: {}. At half rotation: {:.1} % of the track.",
                list(&nearest.collect::<Vec<_>>()),
                100.0 * self.mid
            )),
        ];
        if self.residual.is_some_and(|residual| residual > 0.01 * self.resistance) {
            let text = "More than 1 % of the track is left at 0: a worn or dirty end, or the wrong lug. The taper takes it for 0.";
            blocks.push(Block::paragraph(text));
        }
        if law.is_none() {
            blocks.push(Block::Verbatim(pot_csv(self).unwrap_or_default()));
        }
        Document::new("A potentiometer from its readings", blocks)
    }
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
