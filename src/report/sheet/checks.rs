//! What to measure when it is done.

use crate::recommend::sheet::{CheckResistance, LevelRow, Levels, Sheet};
use crate::report::document::Block;
use crate::report::words::knob;
use crate::units::with_prefix_rounded;

/// How levels can be measured on a guitar by somebody without a laboratory.
const HOW: [&str; 4] = [
    "Lay a small coil (some tens of turns of thin wire) flat over the pickup. Feed it from a signal generator or an audio interface's line output \
     through a resistor of about 1 kΩ, so that its current hardly changes with frequency. Never feed it from an amplifier's loudspeaker \
     output or from the mains.",
    "Read the guitar's output with an audio interface: its instrument (high-impedance) input, through the usual cable. A multimeter on AC volts is no \
     use here: many are true up to a few hundred hertz only, and these are millivolts.",
    "Leave coil, generator and input gain untouched while you turn the knobs: only differences count.",
    "Such a coil induces more the higher the frequency; the column \"both full, with the coil\" has that in it. Covers and steel poles bend it a little.",
];

/// How the sweeps are held against the figures.
const COMPARE: &str = "Or sweep the guitar at these knob positions and let the program hold the sweeps against the figures: it names a part that is wrong. \
                       One file a position, all at one gain, each a CSV of frequency_hz and level_db; --slope because the coil has no \
                       integrator.";

pub(super) fn blocks(sheet: &Sheet) -> Vec<Block> {
    let mut blocks = vec![Block::heading("Check it")];
    let connected = sheet
        .several
        .as_ref()
        .map(|several| several.connected.as_str())
        .filter(|connected| !connected.is_empty());
    blocks.extend(connected.map(|connected| {
        Block::Paragraph(format!(
            "The resistances hold with the selector where this is connected: {connected}; every other knob full up."
        ))
    }));
    blocks.extend(resistances(&sheet.resistances));
    blocks.push(Block::subheading("With a coil over the pickup"));
    blocks.push(Block::Points(HOW.map(str::to_owned).to_vec()));
    if let Some((cable, input)) = sheet.load {
        blocks.push(Block::Paragraph(format!(
            "The figures hold for a cable of {} and an input of {}; others move the highs.",
            with_prefix_rounded(cable, "F", 3),
            with_prefix_rounded(input, "Ω", 3)
        )));
    }
    for levels in &sheet.levels {
        blocks.extend(levels.case.as_ref().map(|case| {
            let word = if sheet.several.is_some() { "Position" } else { "Case" };
            Block::Paragraph(format!("{word} \"{case}\":"))
        }));
        blocks.push(table(sheet, levels));
    }
    if let Some(command) = &sheet.verify {
        blocks.push(Block::Paragraph(COMPARE.to_owned()));
        blocks.push(Block::Verbatim(command.clone()));
    }
    blocks.push(Block::Paragraph(
        "All figures are in dB and computed for the values as marked. True pots stray by up to 20 %, pickups and cables by less, so look at \
         what rises and falls, and by roughly how much, not at tenths. If turning a knob does nothing where the table has several dB, or \
         the sound goes altogether, look for a wrong lug or a short."
            .to_owned(),
    ));
    blocks
}

fn position((volume, tone): (f64, f64)) -> String {
    match (volume == 1.0, tone == 1.0) {
        (true, true) => "both full".to_owned(),
        (false, true) => format!("volume {}", knob(volume)),
        (true, false) => format!("tone {}", knob(tone)),
        (false, false) => format!("volume {}, tone {}", knob(volume), knob(tone)),
    }
}

fn resistances(readings: &[CheckResistance]) -> Vec<Block> {
    let row = |reading: &CheckResistance| {
        vec![
            capitalised_position(reading),
            reading
                .ohms
                .map_or_else(|| "open".to_owned(), |ohms| with_prefix_rounded(ohms, "Ω", 3)),
        ]
    };
    vec![
        Block::subheading("With an ohmmeter at the jack"),
        Block::Paragraph(
            "Put a bare plug in the jack, nothing behind it, and measure from tip to sleeve, the other knob full up. This finds shorts, open \
             joints and wrong lugs; it does not see a capacitor's value, and it strays as the pots do."
                .to_owned(),
        ),
        Block::rows(
            "Resistance at the jack",
            &["Knobs", "Reads about"].map(str::to_owned),
            readings.iter().map(row).collect(),
        ),
    ]
}

fn capitalised_position(reading: &CheckResistance) -> String {
    crate::report::words::capitalised(&position((reading.position.volume, reading.position.tone)))
}

fn table(sheet: &Sheet, levels: &Levels) -> Block {
    let mut titles: Vec<String> = ["Hz", "both full, against 400 Hz", "both full, with the coil"]
        .map(str::to_owned)
        .to_vec();
    let turned = sheet.positions.iter().skip(1);
    titles.extend(turned.map(|setting| format!("{}, against full", position((setting.volume, setting.tone)))));
    let row = |row: &LevelRow| {
        let mut cells = vec![format!("{}", row.frequency_hz), decibels(row.relative_db), decibels(row.coil_db)];
        cells.extend(row.changes_db.iter().map(|change| decibels(*change)));
        cells
    };
    Block::rows("Level in dB at each frequency", &titles, levels.rows.iter().map(row).collect())
}

/// With its sign and a proper minus; zero has none.
fn decibels(level: Option<f64>) -> String {
    match level {
        None => "silent".to_owned(),
        Some(level) if level.abs() < 0.05 => "0.0".to_owned(),
        Some(level) => format!("{level:+.1}").replace('-', "−"),
    }
}
