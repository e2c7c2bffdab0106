//! What can be measured on the finished guitar: resistance at the jack, and level against level.

use crate::circuit::{Setting, resistance_at_the_jack};
use crate::guitar::Guitar;
use crate::kernel::response::response;

/// Frequencies at which levels are told, in Hz: the lows, the reference, the mids, the usual place of a resonance, the highs above it.
const FREQUENCIES: [f64; 5] = [100.0, 400.0, 1000.0, 3000.0, 6000.0];
/// The frequency whose level at full is the reference, in Hz: well below any resonance, well above the hum.
const REFERENCE: f64 = 400.0;

/// What an ohmmeter reads at the jack at one position of the knobs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheckResistance {
    /// Where the knobs stand.
    pub position: Setting,
    /// In Ω, between tip and sleeve with nothing plugged in behind; none where no direct current flows.
    pub ohms: Option<f64>,
}

/// Levels in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// The case's name; none for the guitar as it is.
    pub case: Option<String>,
    /// One row a frequency.
    pub rows: Vec<LevelRow>,
}

/// Levels at one frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelRow {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// 20·log₁₀|V/E| with both knobs at full, in dB; none where silent.
    pub full_db: Option<f64>,
    /// The same against 400 Hz with both knobs at full, in dB.
    pub relative_db: Option<f64>,
    /// The same as read through a coil fed with a constant current, whose field induces in proportion to frequency:
    /// 20·log₁₀(f/400 Hz) more, in dB.
    pub coil_db: Option<f64>,
    /// The change from both knobs at full at this frequency, at every position but the first, in dB; none where silent.
    pub changes_db: Vec<Option<f64>>,
}

/// Both knobs at full, then each turned down by itself.
pub(super) fn positions(guitar: &Guitar) -> Vec<Setting> {
    let volume = |volume| Setting { volume, tone: 1.0 };
    let tone = |tone| Setting { volume: 1.0, tone };
    let mut positions = vec![Setting::FULL, volume(0.5), volume(0.25)];
    if guitar.tone.is_some() {
        positions.extend([tone(0.5), tone(0.0)]);
    }
    positions
}

pub(super) fn levels(guitar: &Guitar, positions: &[Setting]) -> Vec<Levels> {
    let cases = guitar.in_cases();
    let names = guitar.cases.iter().map(|case| Some(case.name.clone()));
    cases
        .iter()
        .zip(names.chain(std::iter::repeat(None)))
        .map(|(circumstance, case)| Levels {
            case,
            rows: rows(circumstance, positions),
        })
        .collect()
}

fn rows(guitar: &Guitar, positions: &[Setting]) -> Vec<LevelRow> {
    let level = |setting: Setting, frequency: f64| {
        let points = response(guitar, &[setting], &[frequency]);
        points.first().and_then(|point| point.level_db)
    };
    let reference = level(Setting::FULL, REFERENCE);
    let row = |frequency_hz: f64| {
        let full_db = level(Setting::FULL, frequency_hz);
        let relative_db = full_db.zip(reference).map(|(own, reference)| own - reference);
        let change = |setting: &Setting| level(*setting, frequency_hz).zip(full_db).map(|(own, full)| own - full);
        LevelRow {
            frequency_hz,
            full_db,
            relative_db,
            coil_db: relative_db.map(|level| level + 20.0 * (frequency_hz / REFERENCE).log10()),
            changes_db: positions.iter().skip(1).map(change).collect(),
        }
    };
    FREQUENCIES.into_iter().map(row).collect()
}

pub(super) fn resistances(guitar: &Guitar, positions: &[Setting]) -> Vec<CheckResistance> {
    let closed = Setting { volume: 0.0, tone: 1.0 };
    let (tone_full, tone_turned): (Vec<Setting>, Vec<Setting>) = positions.iter().partition(|position| position.tone == 1.0);
    let at = |position: Setting| CheckResistance {
        position,
        ohms: resistance_at_the_jack(guitar, position),
    };
    tone_full.into_iter().chain([closed]).chain(tone_turned).map(at).collect()
}
