//! Readings that mains hum has spoiled: those near a multiple of 50 or 60 Hz that stick out from all that is beside them.

use super::sweep::{NEPER_DB, Row, scatter};

/// The frequencies of the mains, in Hz.
const MAINS: [f64; 2] = [50.0, 60.0];
/// Up to here their multiples are heard, in Hz.
const HIGHEST: f64 = 1000.0;
/// How near to a multiple a reading is, in Hz, or as a share of its frequency.
const NEAR: [f64; 2] = [1.0, 0.002];
/// How far a reading sticks out, in dB, in standard deviations of the readings' own scatter, and in widths of what its neighbours leave open.
const LEAST_DB: f64 = 0.3;
const DEVIATIONS: f64 = 5.0;
const WIDTHS: f64 = 3.0;
/// More spoiled readings than this share are no hum.
const MOST: f64 = 0.25;
/// How many are named.
const NAMED: usize = 6;

/// Takes spoiled readings out of rows that rise in frequency, and says which.
pub(super) fn left_out(rows: &mut Vec<Row>) -> Option<String> {
    let levels: Vec<f64> = rows.iter().map(|row| row.nepers).collect();
    let noise = scatter([levels.as_slice()]);
    let clean: Vec<&Row> = rows.iter().filter(|row| !is_near(row.frequency)).collect();
    let spoiled: Vec<f64> = rows
        .iter()
        .filter(|row| is_near(row.frequency) && sticks_out(row, &clean, noise))
        .map(|row| row.frequency)
        .collect();
    if spoiled.is_empty() || spoiled.len() as f64 > MOST * rows.len() as f64 {
        return None;
    }
    rows.retain(|row| !spoiled.contains(&row.frequency));
    let (count, verb) = match spoiled.len() {
        1 => ("a reading".to_owned(), "sticks"),
        count => (format!("{count} readings"), "stick"),
    };
    let named: Vec<String> = spoiled.iter().take(NAMED).map(|frequency| format!("{frequency:.0}")).collect();
    let more = if spoiled.len() > NAMED { " …" } else { "" };
    Some(format!(
        "{count} at multiples of the mains frequency {verb} out ({}{more} Hz): taken for hum and left out",
        named.join(", ")
    ))
}

fn is_near(frequency: f64) -> bool {
    let near = |mains: f64| {
        let multiple = (frequency / mains).round() * mains;
        multiple > 0.0 && (frequency - multiple).abs() <= NEAR[0].max(NEAR[1] * frequency)
    };
    frequency <= HIGHEST && MAINS.into_iter().any(near)
}

/// Whether a reading is off from where the clean ones beside it lead, from below, from above and between: at a resonance these three differ.
fn sticks_out(row: &Row, clean: &[&Row], noise: f64) -> bool {
    let above = clean.partition_point(|other| other.frequency < row.frequency);
    let beside = above.checked_sub(2).and_then(|start| clean.get(start..above + 2));
    let Some([one, two, three, four]) = beside else { return false };
    let at = |from: &Row, to: &Row| {
        let width = (to.frequency / from.frequency).ln();
        let share = (row.frequency / from.frequency).ln() / width;
        from.nepers + share * (to.nepers - from.nepers)
    };
    let led = [at(one, two), at(two, three), at(three, four)];
    let (low, high) = led.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| {
        (low.min(*one), high.max(*one))
    });
    let off = (low - row.nepers).max(row.nepers - high);
    off.is_finite() && off * NEPER_DB > LEAST_DB && off > DEVIATIONS * noise && off > WIDTHS * (high - low)
}
