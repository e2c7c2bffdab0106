//! What is between the pickup and the instrument, and what a pickup would have read there.

use num_complex::Complex64;

use super::coil::{Coil, Layout, Parameter};
use super::sweep::Sweep;
use crate::circuit::ports::Polynomials;
use crate::circuit::{Port, Setting};
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;

/// A resistance and a capacitance side by side across what is measured; `None` is open.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Shunt {
    /// In Ω.
    pub resistance: Option<f64>,
    /// In F.
    pub capacitance: Option<f64>,
}

impl Shunt {
    fn admittance(&self, s: Complex64) -> Complex64 {
        s * self.capacitance.unwrap_or(0.0) + self.resistance.map_or(0.0, f64::recip)
    }
}

/// How a sweep was taken.
#[derive(Debug, Clone, PartialEq)]
pub enum Way {
    /// |Z| of the pickup alone, beside the jig.
    Impedance(Shunt),
    /// The response of the pickup alone into a load; the resistance is fitted along if it is unknown.
    Response {
        /// The load.
        load: Shunt,
        /// Whether the load's resistance is to be found.
        unknown: bool,
    },
    /// The response through a guitar's own controls, its pickup apart.
    Through(Box<Guitar>, Setting),
    /// |Z| at a guitar's jack with no amplifier, its pickup and cable apart, beside the jig.
    Jack(Box<Guitar>, Setting, Shunt),
}

/// One sweep and how it was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The readings.
    pub sweep: Sweep,
    /// How they were taken.
    pub way: Way,
    /// A capacitor added across the pickup (or the jack), in F.
    pub added: f64,
}

impl Measured {
    /// Whether it is a response, whose gain is unknown.
    #[must_use]
    pub fn is_response(&self) -> bool {
        matches!(self.way, Way::Response { .. } | Way::Through(..))
    }
}

/// What one frequency asks of a pickup whose admittance is y.
#[derive(Debug, Clone, Copy)]
enum Path {
    /// Z = 1/(y + shunt)
    Impedance { shunt: Complex64 },
    /// V/E = gain/(1 + z·(sC + shunt)), z the winding without C.
    Response { shunt: Complex64, gain: Complex64 },
    /// Z = 1/((α + β·y)/(1 + γ·y) + shunt)
    Jack { bilinear: [Complex64; 3], shunt: Complex64 },
}

/// A reading with all that does not depend on the pickup.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    /// Which sweep it is of.
    pub sweep: usize,
    /// In Hz.
    pub frequency: f64,
    /// What was read, in nepers.
    pub nepers: f64,
    /// What was read, in rad.
    pub phase: Option<f64>,
    path: Path,
    unknown_load: bool,
}

/// Most readings of one sweep that are fitted; more are averaged, neighbours with neighbours.
pub(super) const MOST_POINTS: usize = 2000;

/// The points of every sweep.
pub(super) fn points(measured: &[Measured]) -> Result<Vec<Point>> {
    let mut found = Vec::new();
    for (sweep, one) in measured.iter().enumerate() {
        let rows = &one.sweep.rows;
        if rows.is_empty() {
            return Err(Error::new(
                ErrorKind::Missing,
                format!("the sweep `{}` has no rows", one.sweep.name),
            ));
        }
        let controls = controls(&one.way);
        let group = rows.len().div_ceil(MOST_POINTS);
        for rows in rows.chunks(group) {
            let count = rows.len() as f64;
            let frequency = (rows.iter().map(|row| row.frequency.ln()).sum::<f64>() / count).exp();
            let turned: Option<Complex64> = rows
                .iter()
                .map(|row| row.phase.map(|phase| Complex64::from_polar(1.0, phase)))
                .sum();
            let path = path(&one.way, controls.as_ref(), frequency, one.added).ok_or_else(|| silent(one, frequency))?;
            found.push(Point {
                sweep,
                frequency,
                nepers: rows.iter().map(|row| row.nepers).sum::<f64>() / count,
                phase: turned.map(Complex64::arg),
                path,
                unknown_load: matches!(one.way, Way::Response { unknown: true, .. }),
            });
        }
    }
    Ok(found)
}

fn silent(measured: &Measured, frequency: f64) -> Error {
    let message = format!(
        "at these knob positions the guitar says nothing at {frequency:.1} Hz of `{}`",
        measured.sweep.name
    );
    Error::new(ErrorKind::Conflict, message).help("measure with the volume knob up")
}

fn angular(frequency: f64) -> Complex64 {
    Complex64::new(0.0, std::f64::consts::TAU * frequency)
}

/// The guitar between pickup and instrument, seen from where these are; `None` where there is nothing between.
fn controls(way: &Way) -> Option<Polynomials> {
    match way {
        Way::Through(guitar, setting) => Some(Polynomials::new(guitar, *setting, &[Port::Pickup])),
        Way::Jack(guitar, setting, _) => Some(Polynomials::new(guitar, *setting, &[Port::Jack, Port::Pickup])),
        Way::Impedance(_) | Way::Response { .. } => None,
    }
}

fn path(way: &Way, controls: Option<&Polynomials>, frequency: f64, added: f64) -> Option<Path> {
    let s = angular(frequency);
    let added = s * added;
    match way {
        Way::Impedance(jig) => Some(Path::Impedance {
            shunt: jig.admittance(s) + added,
        }),
        Way::Response { load, .. } => Some(Path::Response {
            shunt: load.admittance(s) + added,
            gain: Complex64::ONE,
        }),
        // With y at the pickup's port V/E = n₁·y/(d₀ + d₁·y), and y is 1/z.
        Way::Through(..) => {
            let reduction = controls?.reduce(frequency);
            let (&[_, n1], &[d0, d1]) = reduction.terms() else {
                return None;
            };
            let gain = n1 / d1;
            (gain.is_finite() && gain != Complex64::ZERO).then(|| Path::Response {
                shunt: d0 / d1 + added,
                gain,
            })
        }
        // The admittance seen at the jack is D over D with the jack shorted.
        Way::Jack(_, _, jig) => {
            let reduction = controls?.reduce(frequency);
            let (_, &[open, shorted, with_pickup, both]) = reduction.terms() else {
                return None;
            };
            let bilinear = [open / shorted, with_pickup / shorted, both / shorted];
            bilinear.iter().all(|value| value.is_finite()).then(|| Path::Jack {
                bilinear,
                shunt: jig.admittance(s) + added,
            })
        }
    }
}

impl Point {
    /// The capacitance beside the pickup that is known, in F.
    pub(super) fn known_capacitance(&self) -> f64 {
        let (Path::Impedance { shunt } | Path::Response { shunt, .. } | Path::Jack { shunt, .. }) = self.path;
        (shunt.im / (std::f64::consts::TAU * self.frequency)).max(0.0)
    }

    /// The resistance that loads a response here, in Ω; `None` of an impedance, without a load or where its resistance is unknown.
    pub(super) fn response_load(&self) -> Option<f64> {
        let Path::Response { shunt, .. } = self.path else { return None };
        (!self.unknown_load && shunt.re > 0.0).then(|| shunt.re.recip())
    }

    /// Z in Ω or V/E, without gain and slope.
    pub(super) fn predict(&self, coil: &Coil, load: Option<f64>, cable: Option<f64>) -> Complex64 {
        let s = angular(self.frequency);
        match self.path {
            Path::Impedance { shunt } => (coil.admittance(s) + shunt).inv(),
            Path::Response { shunt, gain } => {
                let load = if self.unknown_load { load.map_or(0.0, f64::recip) } else { 0.0 };
                gain / (1.0 + coil.winding(s) * (s * coil.capacitance + shunt + load))
            }
            Path::Jack {
                bilinear: [alpha, beta, gamma],
                shunt,
            } => {
                let y = coil.admittance(s);
                ((alpha + beta * y) / (1.0 + gamma * y) + shunt + s * cable.unwrap_or(0.0)).inv()
            }
        }
    }
}

/// Prediction less reading at each point: every level, then every phase there is.
pub(super) fn residuals(points: &[Point], layout: &Layout, cable: Option<f64>, values: &[f64]) -> Vec<f64> {
    let coil = layout.coil(values);
    let of = |parameter| layout.get(values, parameter);
    let load = of(Parameter::Load).map(f64::exp);
    let cable = of(Parameter::Cable).map(f64::exp).or(cable);
    let slope = of(Parameter::Slope).unwrap_or(0.0);
    let mut levels = Vec::with_capacity(points.len());
    let mut phases = Vec::new();
    for point in points {
        let predicted = point.predict(&coil, load, cable);
        let gain = of(Parameter::Gain(point.sweep)).unwrap_or(0.0);
        let tilt = slope * (point.frequency / REFERENCE).ln();
        levels.push(predicted.norm().ln() + gain + tilt - point.nepers);
        if let Some(phase) = point.phase {
            let lead = of(Parameter::Phase(point.sweep)).unwrap_or(0.0);
            let off = Complex64::from_polar(1.0, predicted.arg() + lead - phase);
            phases.push(off.arg());
        }
    }
    levels.extend(phases);
    levels
}

/// Where a slope turns, in Hz.
const REFERENCE: f64 = 1000.0;
