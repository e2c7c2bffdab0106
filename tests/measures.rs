//! Every measure against every reference, over each frequency, their mean power and their average in dB, against differences worked here by hand: from levels that
//! ladder arithmetic gave and that were printed with four decimals (made for this project), and from levels of the independent solver
//! (tests/support/twin.rs) put together as the definitions read.

mod support;

use knobwright::circuit::Setting;
use knobwright::curve::Curve;
use knobwright::guitar::taper::Taper;
use knobwright::guitar::{Guitar, Slot};
use knobwright::kernel::measure::{BoundedPoint, root_mean_square, visit_points, worst_point};
use knobwright::kernel::plan::{Plan, Silent};
use knobwright::parts::network::Network;
use knobwright::recommend::{Request, recommend};
use knobwright::search::exhaustive::Evaluator;
use knobwright::target::{Against, Band, Clause, Measure, Over, Target, WantedCurve};
use support::*;

const FREQUENCIES: [f64; 7] = [100.0, 400.0, 1000.0, 2000.0, 3000.0, 4000.0, 6000.0];
const VOLUMES: [f64; 3] = [1.0, 0.5, 0.25];

/// Ladder arithmetic in double precision: levels in dB of the worked guitar at the wiper, tone at full; rows by volume as above.
const NOTHING: [[f64; 7]; 3] = [
    [-0.4906, -0.4313, -0.0156, 1.4112, 2.7479, 0.7320, -7.3887],
    [-17.1899, -17.2080, -17.2265, -17.3040, -17.4835, -17.8379, -19.3749],
    [-27.5871, -27.6011, -27.5967, -27.5895, -27.6190, -27.7468, -28.5895],
];
/// With 120 kΩ and 1 nF side by side across the volume control.
const SIDE_BY_SIDE: [[f64; 7]; 3] = [
    [-0.4906, -0.4313, -0.0156, 1.4112, 2.7479, 0.7320, -7.3887],
    [-10.5921, -10.4449, -9.6460, -7.8923, -7.3734, -8.7091, -13.1199],
    [-19.1805, -18.9696, -17.8442, -15.3965, -15.2278, -17.3368, -21.6543],
];
/// With 110 kΩ and 1.5 nF in a row.
const IN_A_ROW: [[f64; 7]; 3] = [
    [-0.4906, -0.4313, -0.0156, 1.4112, 2.7479, 0.7320, -7.3887],
    [-16.8787, -14.3039, -11.4912, -10.8871, -11.5059, -12.6381, -15.6948],
    [-27.1890, -23.9523, -20.2904, -19.5605, -20.4502, -21.7173, -24.3847],
];

/// The worked guitar with each of the three, and its printed levels.
fn worked() -> [(Guitar, [[f64; 7]; 3]); 3] {
    let with = |bleed: Option<Network>| {
        let mut guitar = worked_guitar();
        guitar.volume.bleed = bleed;
        guitar
    };
    [
        (with(None), NOTHING),
        (with(Some(parallel([r(120e3), c(1e-9)]))), SIDE_BY_SIDE),
        (with(Some(series([r(110e3), c(1.5e-9)]))), IN_A_ROW),
    ]
}

/// 1 dB at 100 Hz and 3 dB at 1 kHz, −3 dB at 10 kHz.
fn wanted() -> Against {
    Against::Curve(WantedCurve {
        name: "wanted".to_owned(),
        curve: Curve::new(vec![[100.0, 1.0], [1e3, 3.0], [10e3, -3.0]]).unwrap(),
    })
}

/// The same at the printed frequencies, by common logarithms from a table (log₁₀ 2 = 0.301030, log₁₀ 3 = 0.477121):
/// 1 + 2·log₁₀(f/100) up to 1 kHz, 3 − 6·log₁₀(f/1000) above.
const WANTED: [f64; 7] = [1.0, 2.204120, 3.0, 1.193820, 0.137274, -0.612360, -1.668907];

/// A band so narrow that its grid is its two ends and both have the level of `frequency`.
fn narrow(frequency: f64) -> Band {
    Band::new(frequency, frequency * (1.0 + 1e-9)).unwrap()
}

fn clause(measure: Measure, against: Against, over: Over, band: Band, anchor: Band) -> Clause {
    Clause {
        measure,
        against,
        band,
        anchor: (measure == Measure::Shape).then_some(anchor),
        over,
        volume: vec![1.0],
        tone: vec![1.0],
        at_least: Some(-3.0),
        at_most: Some(3.0),
        bands: Vec::new(),
        place: knobwright::target::Place::default(),
    }
}

fn target(clauses: impl Into<Vec<Clause>>) -> Target {
    Target::new("worked", clauses.into())
}

/// Every bounded point of a target on a build, in order; and the worst of them and the root mean square.
fn points(build: &Guitar, present: &Guitar, target: &Target) -> (Vec<BoundedPoint>, BoundedPoint, f64) {
    let plan = Plan::new(build, present, target, &[]).unwrap();
    let mut evaluator = Evaluator::new(&plan);
    let powers = evaluator.powers(&[], &[]);
    let mut points = Vec::new();
    assert!(visit_points(&plan, powers, |point| points.push(point)));
    assert_eq!(points.len(), plan.bounded_points());
    (
        points,
        worst_point(&plan, powers).unwrap(),
        root_mean_square(&plan, powers).unwrap(),
    )
}

#[test]
fn every_difference_follows_from_the_printed_levels() {
    let mut checked = 0;
    for (build, own) in worked() {
        for (present, now) in worked() {
            for (f, frequency) in FREQUENCIES.iter().enumerate() {
                // Index 1 is 400 Hz and index 2 is 1 kHz, the anchors.
                for anchor in [1, 2] {
                    for over in [Over::Every, Over::Mean, Over::Average] {
                        for measure in [Measure::Level, Measure::Shape] {
                            let levelled = |levels: &[f64; 7]| match measure {
                                Measure::Level => levels[f],
                                Measure::Shape => levels[f] - levels[anchor],
                            };
                            for (which, against) in [Against::Full, Against::Present, Against::Flat, wanted()].into_iter().enumerate() {
                                let mut clause = clause(measure, against, over, narrow(*frequency), narrow(FREQUENCIES[anchor]));
                                clause.volume = VOLUMES.to_vec();
                                let (points, ..) = points(&build, &present, &target([clause]));
                                let each = if over == Over::Every { 2 } else { 1 };
                                assert_eq!(points.len(), 3 * each);
                                for (number, point) in points.iter().enumerate() {
                                    let v = number / each;
                                    assert_eq!((point.setting.volume, point.setting.tone), (VOLUMES[v], 1.0));
                                    assert_eq!(point.frequency.is_some(), over == Over::Every);
                                    let reference = [levelled(&own[0]), levelled(&now[v]), 0.0, levelled(&WANTED)][which];
                                    // Up to four printed levels meet in one difference.
                                    let allowed = 4.0 * close::FOUR_DECIMALS;
                                    assert_close(point.difference, levelled(&own[v]) - reference, allowed, "difference");
                                    let margin = (3.0 - point.difference).min(point.difference + 3.0);
                                    assert_close(point.margin, margin, close::CLOSED_FORM, "margin");
                                    checked += 1;
                                }
                            }
                        }
                    }
                }
            }
        }
    }
    // Builds, presents, frequencies, anchors, (two ends or one mean) × volumes, measures, references.
    assert_eq!(checked, 3 * 3 * 7 * 2 * 12 * 2 * 4);
}

/// 10·log₁₀ of the mean of 10^(L/10).
fn mean_level(levels: &[f64]) -> f64 {
    let sum: f64 = levels.iter().map(|level| 10_f64.powf(level / 10.0)).sum();
    10.0 * (sum / levels.len() as f64).log10()
}

/// Grids of few points: 4000 Hz and a semitone, a whole tone and a minor third above, by the equal-tempered ratio 2^(1/12).
#[test]
fn means_are_of_power_over_the_whole_grid() {
    let semitone = 2_f64.powf(1.0 / 12.0);
    let grid: Vec<f64> = (0..4).map(|k| 4000.0 * semitone.powi(k)).collect();
    let anchor_grid = [500.0, 500.0 * semitone, 500.0 * semitone * semitone];
    let band = Band::new(4000.0, grid[3]).unwrap();
    let anchor = Band::new(500.0, anchor_grid[2]).unwrap();
    let [(present, _), (build, _), _] = worked();
    let at = setting(0.5, 0.25);
    let level = |guitar: &Guitar, knobs: Setting, frequency: f64| decibels(twin::transfer(guitar, knobs, frequency));
    let curve = |frequency: f64| 3.0 - 6.0 * (frequency / 1e3).log10();
    let low_curve = |frequency: f64| 1.0 + 2.0 * (frequency / 100.0).log10();
    for measure in [Measure::Level, Measure::Shape] {
        for (which, against) in [Against::Full, Against::Present, Against::Flat, wanted()].into_iter().enumerate() {
            let x = |level: &dyn Fn(f64) -> f64, anchored: &dyn Fn(f64) -> f64| -> (Vec<f64>, f64) {
                let taken = match measure {
                    Measure::Level => 0.0,
                    Measure::Shape => mean_level(&anchor_grid.map(anchored)),
                };
                let levels: Vec<f64> = grid.iter().map(|f| level(*f)).collect();
                (levels.iter().map(|level| level - taken).collect(), mean_level(&levels) - taken)
            };
            let of = |guitar: &Guitar, knobs: Setting| x(&|f| level(guitar, knobs, f), &|f| level(guitar, knobs, f));
            let own = of(&build, at);
            let reference = match which {
                0 => of(&build, setting(1.0, 1.0)),
                1 => of(&present, at),
                2 => (vec![0.0; 4], 0.0),
                _ => x(&curve, &low_curve),
            };
            for over in [Over::Every, Over::Mean, Over::Average] {
                let mut clause = clause(measure, against.clone(), over, band, anchor);
                (clause.volume, clause.tone) = (vec![at.volume], vec![at.tone]);
                let (points, ..) = points(&build, &present, &target([clause]));
                let expected: Vec<f64> = match over {
                    Over::Every => own.0.iter().zip(&reference.0).map(|(x, reference)| x - reference).collect(),
                    Over::Mean => vec![own.1 - reference.1],
                    // The mean of the differences is the difference of the means.
                    Over::Average => vec![own.0.iter().zip(&reference.0).map(|(x, reference)| x - reference).sum::<f64>() / 4.0],
                };
                assert_eq!(points.len(), expected.len());
                for (point, expected) in points.iter().zip(&expected) {
                    assert_close(point.difference, *expected, 4.0 * close::LEVEL_DB, "difference");
                }
            }
        }
    }
    // The mean of the levels themselves would be another figure: the check above can tell.
    let levels: Vec<f64> = grid.iter().map(|f| level(&build, at, *f)).collect();
    let plain = levels.iter().sum::<f64>() / 4.0;
    assert!((mean_level(&levels) - plain).abs() > 0.01);
}

#[test]
fn a_bound_that_is_left_out_does_not_bind() {
    // At half volume and 3 kHz nothing fitted gives −17.4835 dB.
    let [(guitar, _), ..] = worked();
    for (at_least, at_most, margin) in [
        (Some(-20.0), None, 2.5165),
        (None, Some(-10.0), 7.4835),
        (Some(-20.0), Some(-10.0), 2.5165),
        (Some(-30.0), Some(-17.0), 0.4835),
        (Some(-17.0), None, -0.4835),
        (None, Some(-18.0), -0.5165),
    ] {
        let mut clause = clause(Measure::Level, Against::Flat, Over::Mean, narrow(3000.0), narrow(400.0));
        (clause.volume, clause.at_least, clause.at_most) = (vec![0.5], at_least, at_most);
        let one_sided = at_least.is_none() || at_most.is_none();
        assert_eq!(target([clause.clone()]).is_one_sided(), one_sided);
        let (_, worst, _) = points(&guitar, &guitar, &target([clause]));
        assert_close(worst.margin, margin, close::FOUR_DECIMALS, "margin");
        assert_eq!(worst.frequency, None);
    }
}

#[test]
fn the_margin_is_the_smallest_and_the_root_mean_square_counts_each_point_once() {
    let [(guitar, _), (build, _), _] = worked();
    // Level against the present at half volume: 6.5978 dB at 100 Hz; 9.1288 dB at 4 kHz; then once more at a quarter: 10.4100 dB.
    let mut low = clause(Measure::Level, Against::Present, Over::Mean, narrow(100.0), narrow(400.0));
    low.volume = vec![0.5];
    let mut high = clause(Measure::Level, Against::Present, Over::Mean, narrow(4000.0), narrow(400.0));
    high.volume = vec![0.5, 0.25];
    let (points, worst, rms) = points(&build, &guitar, &target([low, high]));
    let differences: Vec<f64> = points.iter().map(|point| point.difference).collect();
    for (got, expected) in differences.iter().zip([6.5978, 9.1288, 10.4100]) {
        assert_close(*got, expected, 2.0 * close::FOUR_DECIMALS, "difference");
    }
    assert_close(worst.margin, 3.0 - 10.41, 2.0 * close::FOUR_DECIMALS, "margin");
    assert_eq!((worst.clause, worst.setting.volume), (1, 0.25));
    // √((6.5978² + 9.1288² + 10.4100²)/3) = √(235.2341/3)
    assert_close(rms, 8.8550, 2.0 * close::FOUR_DECIMALS, "root mean square");
}

/// A volume track with dead travel in its middle and no tone network, so that several knob positions are one circuit.
fn guitar_of_equals() -> Guitar {
    let mut guitar = worked_guitar();
    guitar.volume.pot.taper = Taper::Table(Curve::new(vec![[0.0, 0.0], [0.25, 0.0], [0.5, 0.5], [0.75, 0.5], [1.0, 1.0]]).unwrap());
    guitar.tone.as_mut().unwrap().network = None;
    guitar
}

#[test]
fn of_equal_points_the_first_in_clause_volume_tone_and_frequency_is_the_worst() {
    let guitar = guitar_of_equals();
    let wide = Band::new(1000.0, 2000.0).unwrap();
    // Against itself every difference is 0 and every point has the same margin.
    let mut clause = clause(Measure::Level, Against::Present, Over::Every, wide, narrow(400.0));
    (clause.volume, clause.tone) = (vec![0.7, 0.5, 1.0], vec![0.3, 1.0]);
    let named = |clauses: &[Clause]| {
        let (points, worst, rms) = points(&guitar, &guitar, &target(clauses));
        assert_eq!(rms, 0.0);
        assert!(points.iter().all(|point| point.margin == points[0].margin));
        assert_eq!(points[0], worst);
        (worst.clause, worst.setting.volume, worst.setting.tone, worst.frequency)
    };
    assert_eq!(named(&[clause.clone()]), (0, 0.7, 0.3, Some(1000.0)));
    assert_eq!(named(&[clause.clone(), clause.clone()]), (0, 0.7, 0.3, Some(1000.0)));
    // Against flat: by frequency the worst is one, and three knob positions share it.
    clause.against = Against::Flat;
    (clause.volume, clause.tone) = (vec![1.0, 0.6, 0.5], vec![0.9, 0.1]);
    let twice = [clause.clone(), clause];
    let (points, worst, _) = points(&guitar, &guitar, &target(twice));
    let equals: Vec<_> = points.iter().filter(|point| point.margin == worst.margin).collect();
    assert!(equals.len() >= 8, "{}", equals.len());
    assert_eq!((worst.clause, worst.setting.volume, worst.setting.tone), (0, 0.6, 0.9));
    assert_eq!(*equals[0], worst);
}

#[test]
fn a_knob_position_without_sound_is_refused_whatever_its_rotation() {
    let guitar = guitar_of_equals();
    for volume in [0.0, 0.1, 0.25] {
        for against in [Against::Full, Against::Present, Against::Flat, wanted()] {
            for over in [Over::Every, Over::Mean, Over::Average] {
                let heard = clause(Measure::Level, Against::Flat, Over::Mean, narrow(400.0), narrow(400.0));
                let mut silent = clause(Measure::Shape, against.clone(), over, narrow(3000.0), narrow(400.0));
                (silent.volume, silent.tone) = (vec![1.0, volume], vec![0.5]);
                let target = target([heard, silent]);
                let expected = Silent {
                    clause: 1,
                    setting: setting(volume, 0.5),
                    case_word: "case",
                    case: None,
                };
                assert_eq!(Plan::new(&guitar, &guitar, &target, &[Slot::Bleed]), Err(expected));
                let error = recommend(&Request::new(guitar.clone(), target), &()).unwrap_err();
                let knob = format!("wish 2 of the target asks about volume {} of 10, tone 5 of 10", volume * 10.0);
                assert!(error.message().contains(&knob), "{}", error.message());
            }
        }
    }
    let mut heard = clause(Measure::Level, Against::Flat, Over::Mean, narrow(400.0), narrow(400.0));
    heard.volume = vec![0.26];
    assert!(Plan::new(&guitar, &guitar, &target([heard]), &[]).is_ok());
}
