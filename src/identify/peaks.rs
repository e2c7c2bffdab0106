//! Inductance and capacitance from the resonance at two or more known added capacitors.
//!
//! 1/f² = 4π²L·(C₀ + C): a straight line over the added C with the slope 4π²L and −C₀ where it meets the axis. Two peaks fix it,
//!
//! C₀ = (f₂²C₂ − f₁²C₁)/(f₁² − f₂²), L = (1/f₂² − 1/f₁²)/(4π²(C₂ − C₁)),
//!
//! more are a line of least squares, each weighted by f⁴ so that all frequencies are equally wrong in percent; with two it is the same.
//! The peak of |Z| of R–L ∥ C lies at f₀·√(√(1 + 2r) − r) ≈ f₀(1 − r²/4), r = R²C/L. Losses in the core make L fall with frequency; the line
//! then meets the axis too far right, even beyond zero: a negative capacitance is never told.
//!
//! The peak of the *response* lies lower: V/E = 1/(k + a₁s + a₂s²), a₁ = R·C + L/R_q, a₂ = L·C, k = 1 + R/R_q with R_q across the pickup,
//! has its largest magnitude at ω² = k/a₂ − a₁²/(2a₂²) (where the derivative of |V/E|⁻² by ω² is 0). Such readings are put right first, by
//! the L and C that they give, again and again until nothing moves.

use serde::Serialize;

use super::fit::student95;
use super::measured::Shunt;
use crate::error::{Error, ErrorKind, Result};
use crate::units::{with_prefix, with_prefix_rounded};

/// Rounds in which peaks of the response are put right, and the least ratio of squares that is believed.
const ROUNDS: usize = 100;
const LEAST_RATIO: f64 = 0.05;
/// With more peaks than this the corners of the readings are not gone through.
const MOST_CORNERS: usize = 10;

/// A resonance with a known capacitor added.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// The capacitor in F.
    pub added: f64,
    /// The peak in Hz.
    pub frequency: f64,
    /// By how much the reading may be off, from its last digit, in Hz.
    pub reach: f64,
}

/// What the peaks are peaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PeakOf {
    /// The pickup's impedance.
    #[default]
    Impedance,
    /// Its response, as a coil over it and an amplifier behind it show it.
    Response,
}

/// What one per cent more in one reading does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// The reading: `the 4.14 kHz`, `the 470 pF`.
    pub reading: String,
    /// L in H then.
    pub inductance: f64,
    /// C₀ in F then, which may be negative.
    pub capacitance: f64,
}

/// A pickup from its peaks; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FromPeaks {
    /// The peaks, by rising capacitor, as they were read.
    pub peaks: Vec<Peak>,
    /// What they are peaks of.
    pub peak_of: PeakOf,
    /// DC resistance in Ω.
    pub resistance: f64,
    /// L in H.
    pub inductance: f64,
    /// C in F, the jig's taken off, never below 0.
    pub capacitance: f64,
    /// C in F as the line gives it, which may be negative.
    pub line_capacitance: f64,
    /// L in H as the line gives it.
    pub line_inductance: f64,
    /// Whether the line's capacitance was below 0: C is 0 then, and L what fits best with that.
    pub clamped: bool,
    /// Smallest and largest L in H with each frequency anywhere in its last digit; none when clamped.
    pub reading_inductance: Option<[f64; 2]>,
    /// The same for C in F, held to 0.
    pub reading_capacitance: Option<[f64; 2]>,
    /// The 95 % interval of L in H by how far the peaks are from the line; with three peaks or more.
    pub interval95_inductance: Option<[f64; 2]>,
    /// The same for C in F, held to 0.
    pub interval95_capacitance: Option<[f64; 2]>,
    /// How far the line misses each peak, as a share of its frequency.
    pub misses: Vec<f64>,
    /// What one per cent in each reading does.
    pub sensitivity: Vec<Sensitivity>,
    /// By how much the resistance lowers the lowest peak, as a share: r²/4.
    pub resistance_bias: f64,
}

/// Line of 1/f² over C.
#[derive(Debug, Clone, Copy)]
struct Line {
    inductance: f64,
    capacitance: f64,
}

/// Finds L and C; `jig` is the resistance in Ω and the capacitance in F that were there all the time and are not the pickup's.
///
/// # Errors
/// With fewer than two peaks at different capacitors, or where the frequency does not fall as capacitance is added.
pub fn from_peaks(peaks: &[Peak], of: PeakOf, resistance: f64, jig: Shunt) -> Result<FromPeaks> {
    let mut read = peaks.to_vec();
    read.sort_by(|one, other| one.added.total_cmp(&other.added));
    check(&read)?;
    let peaks = match of {
        PeakOf::Impedance => read.clone(),
        PeakOf::Response => put_right(&read, resistance, jig.resistance)?,
    };
    let jig = jig.capacitance.unwrap_or(0.0);
    let line = line(&peaks).ok_or_else(contradiction)?;
    let raw = line.capacitance - jig;
    let clamped = raw < 0.0;
    let inductance = if clamped { with_capacitance(&peaks, jig) } else { line.inductance };
    let capacitance = raw.max(0.0);
    let predicted = |peak: &Peak| 1.0 / (std::f64::consts::TAU * (inductance * (capacitance + jig + peak.added)).sqrt());
    let misses: Vec<f64> = peaks.iter().map(|peak| peak.frequency / predicted(peak) - 1.0).collect();
    if !inductance.is_finite() || !misses.iter().all(|miss| miss.is_finite()) {
        return Err(contradiction());
    }
    // Where the line contradicts physics its scatter says nothing about the pickup.
    let (reading_inductance, reading_capacitance) = corners(&peaks, jig).filter(|_| !clamped).unzip();
    let (interval95_inductance, interval95_capacitance) = intervals(&peaks, line, jig).filter(|_| !clamped).unzip();
    let r = resistance * resistance * (capacitance + jig + peaks.last().map_or(0.0, |peak| peak.added)) / inductance;
    Ok(FromPeaks {
        resistance,
        inductance,
        capacitance,
        line_capacitance: raw,
        line_inductance: line.inductance,
        clamped,
        reading_inductance,
        reading_capacitance,
        interval95_inductance,
        interval95_capacitance,
        misses,
        sensitivity: sensitivity(&peaks, &read, jig),
        resistance_bias: r * r / 4.0,
        peaks: read,
        peak_of: of,
    })
}

/// Peaks of the response as those of L and C alone.
fn put_right(read: &[Peak], resistance: f64, load: Option<f64>) -> Result<Vec<Peak>> {
    let mut peaks = read.to_vec();
    for _ in 0..ROUNDS {
        let line = line(&peaks).ok_or_else(contradiction)?;
        let mut moved = 0.0_f64;
        for (peak, read) in peaks.iter_mut().zip(read) {
            let a2 = line.inductance * (line.capacitance + read.added);
            let a1 = resistance * (line.capacitance + read.added) + load.map_or(0.0, |load| line.inductance / load);
            let k = 1.0 + load.map_or(0.0, |load| resistance / load);
            // The square of the peak over that of L and C alone.
            let ratio = k - a1 * a1 / (2.0 * a2);
            if !(ratio.is_finite() && ratio > LEAST_RATIO) {
                let message = "so much damping leaves no peak of the response where one was read";
                return Err(Error::new(ErrorKind::Conflict, message)
                    .help("is the resistance right? or are they peaks of the impedance: --peak-of impedance"));
            }
            let right = read.frequency / ratio.sqrt();
            moved = moved.max((right / peak.frequency - 1.0).abs());
            (peak.frequency, peak.reach) = (right, read.reach / ratio.sqrt());
        }
        if moved < 1e-12 {
            break;
        }
    }
    Ok(peaks)
}

fn check(peaks: &[Peak]) -> Result<()> {
    let (Some(first), Some(last)) = (peaks.first(), peaks.last()) else {
        return Err(Error::new(ErrorKind::Missing, "no peak was given").help("give at least two: --peak 470p=4.14k --peak 2n2=2.09k"));
    };
    if first.added == last.added {
        let message = "one capacitor alone cannot tell inductance and capacitance apart";
        return Err(Error::new(ErrorKind::Missing, message).help("add a peak with another capacitor: --peak 470p=4.14k --peak 2n2=2.09k"));
    }
    for pair in peaks.windows(2) {
        if let [one, next] = pair
            && next.added > one.added
            && next.frequency >= one.frequency
        {
            let message = format!(
                "more capacitance must lower the peak, but {} with {} is not below {} with {}",
                with_prefix_rounded(next.frequency, "Hz", 6),
                with_prefix(next.added, "F"),
                with_prefix_rounded(one.frequency, "Hz", 6),
                with_prefix(one.added, "F")
            );
            return Err(Error::new(ErrorKind::Conflict, message).help("are two readings exchanged?"));
        }
    }
    Ok(())
}

fn contradiction() -> Error {
    Error::new(ErrorKind::Conflict, "no inductance and capacitance have peaks there").help("measure the peaks again, or fit a sweep")
}

/// The weighted line through 1/f².
fn line(peaks: &[Peak]) -> Option<Line> {
    let (mut weight, mut x, mut y) = (0.0, 0.0, 0.0);
    let inverse = |peak: &Peak| peak.frequency.powi(-2);
    for peak in peaks {
        let own = peak.frequency.powi(4);
        weight += own;
        x += own * peak.added;
        y += own * inverse(peak);
    }
    let (x, y) = (x / weight, y / weight);
    let (mut square, mut product) = (0.0, 0.0);
    for peak in peaks {
        let own = peak.frequency.powi(4) * (peak.added - x);
        square += own * (peak.added - x);
        product += own * (inverse(peak) - y);
    }
    let slope = product / square;
    let line = Line {
        inductance: slope / std::f64::consts::TAU.powi(2),
        capacitance: y / slope - x,
    };
    (slope > 0.0 && line.inductance.is_finite() && line.capacitance.is_finite()).then_some(line)
}

/// L that fits best with the capacitance held: the mean of ln f, which every peak tells equally well.
fn with_capacitance(peaks: &[Peak], capacitance: f64) -> f64 {
    let logarithm = |peak: &Peak| -((std::f64::consts::TAU * peak.frequency).powi(2) * (capacitance + peak.added)).ln();
    (peaks.iter().map(logarithm).sum::<f64>() / peaks.len() as f64).exp()
}

type Interval = [f64; 2];

/// Extremes of L and C with each frequency at either end of its last digit.
fn corners(peaks: &[Peak], jig: f64) -> Option<(Interval, Interval)> {
    if peaks.len() > MOST_CORNERS {
        return None;
    }
    let (mut inductance, mut capacitance) = ([f64::INFINITY, 0.0_f64], [f64::INFINITY, f64::NEG_INFINITY]);
    for corner in 0..1_usize << peaks.len() {
        let moved: Vec<Peak> = peaks
            .iter()
            .enumerate()
            .map(|(index, peak)| Peak {
                frequency: peak.frequency + if corner >> index & 1 == 1 { peak.reach } else { -peak.reach },
                ..*peak
            })
            .collect();
        let line = line(&moved)?;
        inductance = [inductance[0].min(line.inductance), inductance[1].max(line.inductance)];
        capacitance = [
            capacitance[0].min(line.capacitance - jig),
            capacitance[1].max(line.capacitance - jig),
        ];
    }
    Some((inductance, capacitance.map(|value| value.max(0.0))))
}

/// 95 % intervals of L and C by the scatter about the line.
fn intervals(peaks: &[Peak], line: Line, jig: f64) -> Option<(Interval, Interval)> {
    let freedom = peaks.len().checked_sub(2).filter(|freedom| *freedom > 0)?;
    // In u = ln L and C₀: ln f = −½(ln L + ln(C₀ + C)) − ln 2π.
    let slopes = |peak: &Peak| [-0.5, -0.5 / (line.capacitance + peak.added)];
    let (mut squares, mut normal) = (0.0, [[0.0; 2]; 2]);
    for peak in peaks {
        let total = line.capacitance + peak.added;
        let miss = peak.frequency.ln() + 0.5 * (line.inductance * total).ln() + std::f64::consts::TAU.ln();
        squares += miss * miss;
        let own = slopes(peak);
        for (row, one) in normal.iter_mut().zip(own) {
            for (cell, other) in row.iter_mut().zip(own) {
                *cell += one * other;
            }
        }
    }
    let determinant = normal[0][0] * normal[1][1] - normal[0][1] * normal[1][0];
    let variance = squares / freedom as f64;
    let reach = |own: f64| student95(freedom) * (variance * own / determinant).sqrt();
    let (inductance, capacitance) = (reach(normal[1][1]), reach(normal[0][0]));
    if !(inductance.is_finite() && capacitance.is_finite() && inductance < 10.0) {
        return None;
    }
    let own = line.capacitance - jig;
    Some((
        [line.inductance * (-inductance).exp(), line.inductance * inductance.exp()],
        [(own - capacitance).max(0.0), (own + capacitance).max(0.0)],
    ))
}

/// The readings are called as they were read.
fn sensitivity(peaks: &[Peak], read: &[Peak], jig: f64) -> Vec<Sensitivity> {
    let mut found = Vec::new();
    let mut tell = |reading: String, index: usize, change: fn(&mut Peak)| {
        let mut moved = peaks.to_vec();
        if let Some(peak) = moved.get_mut(index) {
            change(peak);
        }
        if let Some(line) = line(&moved) {
            found.push(Sensitivity {
                reading,
                inductance: line.inductance,
                capacitance: line.capacitance - jig,
            });
        }
    };
    for (index, peak) in read.iter().enumerate() {
        tell(format!("the {}", with_prefix_rounded(peak.frequency, "Hz", 6)), index, |peak| {
            peak.frequency *= 1.01
        });
        if peak.added > 0.0 {
            tell(format!("the {}", with_prefix(peak.added, "F")), index, |peak| peak.added *= 1.01);
        }
    }
    found
}
