//! Curves, corridors and the worst point of some builds at some knob positions.

use super::deviation::{Deviation, concerns, grid};
use super::spread::spread;
use super::{Bounds, Corridor, Curve, Curves, Label, Mark, Quantity, Strand, Subject};
use crate::circuit::Setting;
use crate::guitar::Guitar;
use crate::kernel::grid::frequencies;
use crate::kernel::measure::{BoundedPoint, visit_points};
use crate::kernel::plan::Plan;
use crate::kernel::response::response;
use crate::parts::stock::Stock;
use crate::search::exhaustive::Evaluator;
use crate::target::{Clause, Over, Target};
use crate::tolerance::Lot;

/// Points per octave of a curve: with these, straight lines between the points of a resonance of Q = 10 stay within 0.006 dB of the
/// curve (L″ = 16.7·Q² dB per octave squared at the peak, an eighth of L″ times the square of the distance).
pub const FINENESS: u32 = 192;

/// The frequencies every picture shows, in Hz; a target's band or a user's range may widen them.
pub(super) const SHOWN: [f64; 2] = [50.0, 10e3];

/// One curve to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Voice<'g> {
    /// What tells it from the others.
    pub label: Label,
    /// The build, without cases.
    pub guitar: &'g Guitar,
    /// Where the knobs stand.
    pub setting: Setting,
}

/// What the curves are held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked<'a> {
    /// The target.
    pub target: &'a Target,
    /// The guitar its "present" means, in the case shown.
    pub present: &'a Guitar,
    /// The voice whose guitar's worst point is marked.
    pub marked: usize,
    /// How the values of the voices' one guitar lie about their marks, where that is to be shown.
    pub built: Option<(&'a Lot, Option<&'a Stock>)>,
}

/// The levels of some voices over a range in Hz, with what a target allows.
#[must_use]
pub fn levels(voices: &[Voice<'_>], range: [f64; 2], asked: Option<Asked<'_>>, subject: Subject) -> Curves {
    let range = widened(range, asked.map(|asked| asked.target));
    let at = frequencies(range[0], range[1], FINENESS);
    let curve = |voice: &Voice<'_>| {
        let points = response(voice.guitar, &[voice.setting], &at);
        let levels: Option<Vec<[f64; 2]>> = points.iter().map(|point| Some([point.frequency_hz, point.level_db?])).collect();
        let strand = |points| Strand {
            clause: None,
            is_mean: false,
            points,
        };
        Curve {
            of: voice.label.clone(),
            strands: levels.map(strand).into_iter().collect(),
        }
    };
    let corridors = asked.map(|asked| level_corridors(voices, asked)).unwrap_or_default();
    Curves {
        guitar: String::new(),
        target: asked.map(|asked| asked.target.name.clone()),
        case: None,
        subject,
        quantity: Quantity::Level,
        frequency_hz: range,
        curves: voices.iter().map(curve).collect(),
        corridors,
        built: Vec::new(),
        worst: asked.and_then(|asked| worst(voices, asked, Quantity::Level)),
    }
}

/// The differences of some voices from what a target compares with, its corridor straightened out.
#[must_use]
pub fn deviations(voices: &[Voice<'_>], range: [f64; 2], asked: Asked<'_>, subject: Subject) -> Curves {
    let Asked { target, present, .. } = asked;
    let curve = |voice: &Voice<'_>| {
        let strands = target.clauses.iter().enumerate().filter_map(|(index, clause)| {
            if !concerns(clause, voice.setting) {
                return None;
            }
            let at = grid(clause, FINENESS);
            let found = Deviation::of(clause, voice.guitar, present, voice.setting, &at)?;
            Some(Strand {
                clause: Some(index),
                is_mean: clause.over != Over::Every,
                points: at
                    .iter()
                    .zip(repeated(&found.differences().collect::<Vec<_>>(), at.len()))
                    .map(|(f, d)| [*f, d])
                    .collect(),
            })
        });
        Curve {
            of: voice.label.clone(),
            strands: strands.collect(),
        }
    };
    let corridor = |(index, clause): (usize, &Clause)| Corridor {
        curve: None,
        clause: index,
        is_mean: clause.over != Over::Every,
        points: [clause.band.low(), clause.band.high()]
            .map(|frequency_hz| Bounds {
                frequency_hz,
                low_db: clause.at_least,
                high_db: clause.at_most,
            })
            .to_vec(),
    };
    Curves {
        guitar: String::new(),
        target: Some(target.name.clone()),
        case: None,
        subject,
        quantity: Quantity::Deviation,
        frequency_hz: widened(range, Some(target)),
        curves: voices.iter().map(curve).collect(),
        corridors: target.clauses.iter().enumerate().map(corridor).collect(),
        built: match asked.built {
            Some((lot, stock)) => spread(voices, target, present, lot, stock),
            None => Vec::new(),
        },
        worst: worst(voices, asked, Quantity::Deviation),
    }
}

/// One figure stands for all.
fn repeated(figures: &[f64], count: usize) -> Vec<f64> {
    match figures {
        [only] => vec![*only; count],
        several => several.to_vec(),
    }
}

fn level_corridors(voices: &[Voice<'_>], Asked { target, present, .. }: Asked<'_>) -> Vec<Corridor> {
    let mut corridors = Vec::new();
    for (curve, voice) in voices.iter().enumerate() {
        for (index, clause) in target.clauses.iter().enumerate() {
            let at = grid(clause, FINENESS);
            let found = concerns(clause, voice.setting).then(|| Deviation::of(clause, voice.guitar, present, voice.setting, &at));
            let Some(Deviation { build, reference }) = found.flatten() else {
                continue;
            };
            let anchor = build.anchor;
            let points = at
                .iter()
                .zip(repeated(&reference.levels, at.len()))
                .map(|(frequency, reference)| Bounds {
                    frequency_hz: *frequency,
                    low_db: clause.at_least.map(|least| anchor + reference + least),
                    high_db: clause.at_most.map(|most| anchor + reference + most),
                });
            corridors.push(Corridor {
                curve: Some(curve),
                clause: index,
                is_mean: clause.over != Over::Every,
                points: points.collect(),
            });
        }
    }
    corridors
}

/// The point with the smallest margin among the voices of the marked voice's guitar.
fn worst(voices: &[Voice<'_>], asked: Asked<'_>, quantity: Quantity) -> Option<Mark> {
    let Asked {
        target, present, marked, ..
    } = asked;
    let guitar = voices.get(marked)?.guitar;
    let plan = Plan::new(guitar, present, target, &[]).ok()?;
    let mut evaluator = Evaluator::new(&plan);
    let mut worst: Option<(usize, BoundedPoint)> = None;
    visit_points(&plan, evaluator.powers(&[], &[]), |point| {
        let shown = |voice: &Voice<'_>| std::ptr::eq(voice.guitar, guitar) && voice.setting == point.setting;
        let curve = voices.iter().position(shown);
        if let Some(curve) = curve.filter(|_| worst.is_none_or(|(_, worst)| point.margin < worst.margin)) {
            worst = Some((curve, point));
        }
    });
    let (curve, point) = worst.filter(|(_, point)| point.margin.is_finite())?;
    let clause = target.clauses.get(point.clause)?;
    let at_hz = point.frequency.unwrap_or_else(|| (clause.band.low() * clause.band.high()).sqrt());
    let found = Deviation::of(clause, guitar, present, point.setting, &[at_hz])?;
    let at_db = match quantity {
        Quantity::Deviation => point.difference,
        Quantity::Level | Quantity::Reading => found.build.anchor + found.build.levels.first()?,
    };
    Some(Mark {
        curve,
        clause: point.clause,
        at_hz,
        at_db,
        frequency_hz: point.frequency,
        difference_db: point.difference,
        margin_db: point.margin,
    })
}

fn widened([low, high]: [f64; 2], target: Option<&Target>) -> [f64; 2] {
    let bands = target.iter().flat_map(|target| &target.clauses).map(|clause| clause.band);
    bands.fold([low, high], |[low, high], band| [low.min(band.low()), high.max(band.high())])
}
