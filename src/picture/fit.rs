//! A sweep beside what a model makes of it.

use super::curves::SHOWN;
use super::{Curve, Curves, Label, Picture, Quantity, Strand, Subject};
use crate::identify::Identified;

/// Every sweep and its fit, two curves each.
#[must_use]
pub fn of_identified(found: &Identified) -> Picture {
    let curve = |name: String, points: Vec<[f64; 2]>| Curve {
        of: Label::Build(name),
        strands: vec![Strand {
            clause: None,
            is_mean: false,
            points,
        }],
    };
    let mut curves = Vec::with_capacity(2 * found.fits.len());
    for fit in &found.fits {
        let column = |column: fn(&[f64; 3]) -> f64| fit.points.iter().map(|point| [point[0], column(point)]).collect();
        curves.push(curve(format!("{}, read", fit.sweep), column(|[_, read, _]| *read)));
        curves.push(curve(format!("{}, fitted", fit.sweep), column(|[_, _, fitted]| *fitted)));
    }
    let at = || found.fits.iter().flat_map(|fit| fit.points.iter().map(|point| point[0]));
    Picture::Curves(Curves {
        guitar: "Pickup".to_owned(),
        target: None,
        case: None,
        subject: Subject::Fit,
        quantity: Quantity::Reading,
        frequency_hz: [at().fold(SHOWN[0], f64::min), at().fold(SHOWN[1], f64::max)],
        curves,
        corridors: Vec::new(),
        built: Vec::new(),
        worst: None,
    })
}
