//! A finished guitar against its prediction: where measurement and prediction part, how much of it tolerance explains, which single
//! value would explain it, and whether the target is met as measured.
//!
//! Levels are measured against any reference: one offset for all sweeps of a session, the mean difference over 100–400 Hz (over
//! everything where that was not swept), is taken off. Guitars drawn within tolerance are levelled the same way. The noise is what jumps
//! from point to point; its share is taken off a root mean square before it is judged. A target is judged by differences from the
//! prediction smoothed to third octaves, so that neither noise nor a coarse sweep decides.
//!
//! A single cause is sought by fitting one value at a time, or by building the guitar wrong in one way, with the offset free and all other
//! values off within their tolerances (`weights.rs`). Causes are ranked by n·ln(1 + d/n) + ln|C| + p: d the distance of what is left, C its
//! covariance, n = 20 independent readings of a smooth curve, which keeps a model that is not all there from deciding, p the price of the
//! cause. A value is off by a factor q either within its tolerance, ln q a normal deviate with σ the tolerance over √3, or because it is a
//! wrong part, which may be any within two decades: p is −2·ln of that mixture's density over the greatest of the normal one. So a factor of
//! ten costs some 14, not a thousand. (All our own rules.) An alarm is raised where hardly any guitar drawn within tolerance, measured with
//! the same noise, is further from what tolerance and noise do; how large a difference is does not tell, since tapers alone move it by dB.

mod causes;
mod faults;
mod judge;
mod session;
mod weights;

use serde::Serialize;

use self::causes::causes;
use self::judge::judge;
use self::session::{Session, TILT, quantile, root_mean_square};
use self::weights::Weights;
use crate::circuit::Setting;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::identify::sweep::Sweep;
use crate::target::Target;
use crate::tolerance::{Spread, Tolerances, spreads};

/// A cause explains something when it leaves less than this share …
const EXPLAINS: f64 = 0.6;
/// … or when it is likelier by this, in −2·ln, than that nothing is wrong but what tolerances do: some 1 to 150.
const CLEARLY: f64 = 10.0;
/// The share of guitars built within tolerance that raise no alarm.
const ALARM: f64 = 0.98;
/// A tilt is most of a difference when it leaves less than this share.
const TILTED: f64 = 0.5;
/// What a model leaves of a good guitar, in dB.
const MODEL: f64 = 0.5;
/// What cannot be told from nothing, in dB.
const FLOOR: f64 = 0.1;

/// What is to be verified.
#[derive(Debug, Clone)]
pub struct Request {
    /// The guitar as it should be now.
    pub guitar: Guitar,
    /// The guitar before.
    pub present: Guitar,
    /// Every sweep and where the knobs stood.
    pub measured: Vec<(Setting, Sweep)>,
    /// What the user said about tolerances.
    pub tolerances: Tolerances,
    /// What was wanted.
    pub target: Option<Target>,
    /// Whether the exciter coil had no integrator, so that levels rise by 6 dB an octave: taken off.
    pub slope: bool,
    /// Seed of the guitars drawn.
    pub seed: u64,
}

/// One point of a sweep.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// In Hz.
    pub frequency_hz: f64,
    /// As measured, levelled, in dB.
    pub measured_db: f64,
    /// As predicted, in dB.
    pub predicted_db: f64,
    /// Measured less predicted.
    pub difference_db: f64,
    /// Between which differences 95 % of the guitars drawn lie.
    pub ordinary_db: [f64; 2],
}

/// A stretch where measurement and prediction part by more than tolerance does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stretch {
    /// In Hz.
    pub from_hz: f64,
    /// In Hz.
    pub to_hz: f64,
    /// The largest difference there, in dB.
    pub difference_db: f64,
}

/// One sweep against the prediction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Swept {
    /// The file.
    pub name: String,
    /// Where the knobs stand.
    #[serde(flatten)]
    pub at: Setting,
    /// Root mean square difference in dB.
    pub rms_db: f64,
    /// Share of the points that 95 % of the guitars drawn cover.
    pub ordinary_share: f64,
    /// Where it parts.
    pub parts: Vec<Stretch>,
    /// Its points.
    pub points: Vec<Compared>,
    /// What there is to say about the file.
    pub notes: Vec<String>,
}

/// One value that may be off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// `volume pot`, `cable` …
    pub value: String,
    /// What was built wrong, where it is no value: `missing`, `shorted`, `in series instead of parallel` …
    pub built: Option<String>,
    /// As it should be; 0 where something was built wrong.
    pub nominal: f64,
    /// As the measurement has it; 0 where something was built wrong.
    pub found: f64,
    /// `Ω`, `F`, `H`; empty for a knob's position, 0 to 10 as on the knob.
    pub unit: &'static str,
    /// Its tolerance as a share of one.
    pub tolerance: f64,
    /// Whether it would be within it.
    pub within_tolerance: bool,
    /// What would be left, root mean square in dB.
    pub rms_db: f64,
    /// Whether it is as likely as the first.
    pub as_likely: bool,
}

/// The target as measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// The target.
    pub target: Target,
    /// The margin in dB with measured levels where there are any.
    pub margin_db: f64,
    /// By how much noise alone may move that, in dB.
    pub noise_db: f64,
    /// Whether it is not below 0 by more than noise may do.
    pub meets_target: bool,
    /// The margin in dB as predicted.
    pub predicted_margin_db: f64,
    /// Points of the target.
    pub points: usize,
    /// Those of them that were measured.
    pub measured_points: usize,
    /// Clause, from 0, of the smallest margin.
    pub worst_clause: usize,
    /// Where it is in Hz; none for a mean.
    pub worst_hz: Option<f64>,
}

/// A finished guitar against its prediction; its keys are those of the JSON a user gets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verified {
    /// The guitar's name.
    pub guitar: String,
    /// Every sweep.
    pub sweeps: Vec<Swept>,
    /// The level taken off, in dB.
    pub offset_db: f64,
    /// Root mean square difference of all, in dB.
    pub rms_db: f64,
    /// Standard deviation in dB of the measurement's own noise, from how neighbouring points jump.
    pub noise_db: f64,
    /// The dB per octave by which the measurement rises against the prediction, where that is most of the difference.
    pub tilt_db_per_octave: Option<f64>,
    /// The same for half of the guitars drawn within tolerance, and for 95 % of them.
    pub ordinary_rms_db: [f64; 2],
    /// Share of the guitars drawn within tolerance that measure less like guitars within tolerance than this one does.
    pub further_share: f64,
    /// Whether that are some, so that tolerance and noise explain what there is.
    pub tolerance_explains: bool,
    /// Single causes, the likeliest first.
    pub causes: Vec<Cause>,
    /// Whether the first leaves far less than there was, or is far likelier than that nothing is wrong.
    pub one_cause_explains: bool,
    /// The target as measured.
    pub target: Option<Judged>,
}

/// Compares.
///
/// # Errors
/// Without a sweep, where the guitar is silent at the knob positions measured or at those of the target.
pub fn verify(request: &Request) -> Result<Verified> {
    let mut guitar = request.guitar.clone();
    guitar.cases.clear();
    if let Some(target) = &request.target {
        target.check_points(1)?;
    }
    let session = Session::new(&guitar, &request.measured, request.slope)?;
    let spreads = spreads(&guitar, &request.tolerances, None);
    let nominal = session.differences(&guitar).ok_or_else(silent)?;
    let offset = session.offset(&nominal);
    let differences: Vec<f64> = nominal.iter().map(|difference| difference - offset).collect();
    let drawn = session.drawn(&guitar, &spreads, &nominal, request.seed);
    let rms = root_mean_square(&differences);
    let own = session.beyond_noise(rms);
    let mut sizes: Vec<f64> = drawn.iter().map(|one| root_mean_square(one)).collect();
    sizes.sort_by(f64::total_cmp);
    let further_share = further(&session, &guitar, &spreads, &differences, &drawn, request.seed);
    let (causes, evidence) = causes(&session, &guitar, &spreads);
    let target = request
        .target
        .as_ref()
        .map(|target| judge(request, &guitar, target, offset, session.noise))
        .transpose()?;
    let explains = |cause: &Cause| session.beyond_noise(cause.rms_db) < EXPLAINS * own;
    let [slope, rest] = session.tilt(&differences);
    Ok(Verified {
        guitar: guitar.name.clone(),
        sweeps: session.swept(&request.measured, &differences, offset, &drawn),
        offset_db: offset,
        rms_db: rms,
        noise_db: session.noise,
        tilt_db_per_octave: ((slope.abs() - TILT).abs() < TILT / 3.0 && rest < TILTED * root_mean_square(&differences)).then_some(slope),
        ordinary_rms_db: [quantile(&sizes, 0.5), quantile(&sizes, 0.95)],
        further_share,
        tolerance_explains: further_share >= 1.0 - ALARM,
        one_cause_explains: own > FLOOR && (evidence > CLEARLY || causes.first().is_some_and(explains)),
        causes,
        target,
    })
}

/// The share of the guitars drawn, measured with the same noise, that are further from what tolerance and noise do.
fn further(session: &Session, guitar: &Guitar, spreads: &[Spread], differences: &[f64], drawn: &[Vec<f64>], seed: u64) -> f64 {
    let Some(weights) = Weights::of(session, guitar, spreads, None, MODEL) else {
        return 0.0;
    };
    let own = weights.distance(&session.banded(differences));
    let noises = session.noises(drawn.len(), seed);
    let distance = |(drawn, noise): (&Vec<f64>, Vec<f64>)| {
        let measured: Vec<f64> = session
            .banded(drawn)
            .iter()
            .zip(noise)
            .map(|(drawn, noise)| drawn + noise)
            .collect();
        weights.distance(&measured)
    };
    let further = drawn.iter().zip(noises).map(distance).filter(|distance| *distance > own).count();
    further as f64 / drawn.len().max(1) as f64
}

fn silent() -> Error {
    Error::new(
        ErrorKind::Conflict,
        "at these knob positions the guitar makes no sound, so nothing can be compared",
    )
    .help("measure with the volume knob up")
}
