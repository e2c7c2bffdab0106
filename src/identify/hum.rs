//! Readings that mains hum has spoiled: those near a multiple of 50 or 60 Hz that stick out from all that is beside them.

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

/// Which frequencies of readings that rise in frequency, in Hz and dB with so much scatter, are spoiled; none where too many seem to be.
pub(super) fn spoiled(readings: &[[f64; 2]], scatter: f64) -> Vec<f64> {
    let (near, clean): (Vec<[f64; 2]>, Vec<[f64; 2]>) = readings.iter().partition(|[frequency, _]| is_near(*frequency));
    let mut spoiled: Vec<f64> = near
        .iter()
        .filter(|reading| sticks_out(**reading, &clean, scatter))
        .map(|[frequency, _]| *frequency)
        .collect();
    if spoiled.len() as f64 > MOST * readings.len() as f64 {
        spoiled.clear();
    }
    spoiled
}

/// What there is to say about them.
pub(super) fn note(spoiled: &[f64]) -> String {
    let (count, verb) = match spoiled.len() {
        1 => ("a reading".to_owned(), "sticks"),
        count => (format!("{count} readings"), "stick"),
    };
    let named: Vec<String> = spoiled.iter().take(NAMED).map(|frequency| format!("{frequency:.0}")).collect();
    let more = if spoiled.len() > NAMED { " …" } else { "" };
    format!(
        "{count} at multiples of the mains frequency {verb} out ({}{more} Hz): taken for hum and left out",
        named.join(", ")
    )
}

fn is_near(frequency: f64) -> bool {
    let near = |mains: f64| {
        let multiple = (frequency / mains).round() * mains;
        multiple > 0.0 && (frequency - multiple).abs() <= NEAR[0].max(NEAR[1] * frequency)
    };
    frequency <= HIGHEST && MAINS.into_iter().any(near)
}

/// Whether a reading is off from where the clean ones beside it lead, from below, from above and between: at a resonance these three differ.
fn sticks_out([frequency, level]: [f64; 2], clean: &[[f64; 2]], scatter: f64) -> bool {
    let above = clean.partition_point(|other| other[0] < frequency);
    let beside = above.checked_sub(2).and_then(|start| clean.get(start..above + 2));
    let Some([one, two, three, four]) = beside else { return false };
    let at = |from: &[f64; 2], to: &[f64; 2]| {
        let share = (frequency / from[0]).ln() / (to[0] / from[0]).ln();
        from[1] + share * (to[1] - from[1])
    };
    let led = [at(one, two), at(two, three), at(three, four)];
    let (low, high) = led.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| {
        (low.min(*one), high.max(*one))
    });
    let off = (low - level).max(level - high);
    off.is_finite() && off > LEAST_DB && off > DEVIATIONS * scatter && off > WIDTHS * (high - low)
}
