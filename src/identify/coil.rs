//! A pickup as plain numbers, and as a vector of parameters without bounds.

use num_complex::Complex64;

use crate::guitar::{LossCell, Pickup};
use crate::units::{Farads, Henries, Ohms};

/// Most loss cells that are tried.
pub const MOST_CELLS: usize = 2;

/// A pickup in SI numbers: R + s·L₀ + Σ (s·Lᵢ ∥ Rᵢ), and C across it.
#[derive(Debug, Clone, PartialEq)]
pub struct Coil {
    /// R in Ω.
    pub resistance: f64,
    /// Low-frequency total of all inductances in H.
    pub inductance: f64,
    /// C in F.
    pub capacitance: f64,
    /// Lᵢ in H and Rᵢ in Ω.
    pub cells: Vec<[f64; 2]>,
}

impl Coil {
    /// The winding's impedance in Ω, without C.
    #[must_use]
    pub fn winding(&self, s: Complex64) -> Complex64 {
        let cells: f64 = self.cells.iter().map(|cell| cell[0]).sum();
        let mut impedance = s * (self.inductance - cells).max(0.0) + self.resistance;
        for [inductance, resistance] in &self.cells {
            let reactance = s * *inductance;
            impedance += reactance * resistance / (reactance + resistance);
        }
        impedance
    }

    /// The admittance in S of the whole pickup between its ends.
    #[must_use]
    pub fn admittance(&self, s: Complex64) -> Complex64 {
        self.winding(s).inv() + s * self.capacitance
    }

    /// The pickup as a guitar has it; `None` when a value is not finite.
    #[must_use]
    pub fn pickup(&self) -> Option<Pickup> {
        let cell = |cell: &[f64; 2]| {
            Some(LossCell {
                inductance: Henries::new(cell[0])?,
                resistance: Ohms::new(cell[1])?,
            })
        };
        Some(Pickup {
            inductance: Henries::new(self.inductance)?,
            resistance: Ohms::new(self.resistance)?,
            capacitance: Farads::new(self.capacitance)?,
            loss: self.cells.iter().map(cell).collect::<Option<_>>()?,
            tolerance: None,
        })
    }
}

/// Values that are known and not fitted, in SI units.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Known {
    /// R in Ω, as a multimeter reads it.
    pub resistance: Option<f64>,
    /// Low-frequency L in H.
    pub inductance: Option<f64>,
    /// C in F.
    pub capacitance: Option<f64>,
    /// The cable's capacitance in F.
    pub cable: Option<f64>,
}

/// What a parameter of a fit stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parameter {
    /// ln R
    Resistance,
    /// ln L
    Inductance,
    /// ln C
    Capacitance,
    /// ln of a cell's inductance over the lossless one.
    Share(usize),
    /// ln Rᵢ
    LossResistance(usize),
    /// ln of the resistance that loads a response.
    Load,
    /// ln of the cable's capacitance.
    Cable,
    /// Nepers by which a response lies above the truth.
    Gain(usize),
    /// Rad by which a response's phase leads the truth.
    Phase(usize),
    /// Nepers an e-fold of frequency by which responses tilt.
    Slope,
}

impl Parameter {
    /// What a user calls it.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::Resistance => "resistance".to_owned(),
            Self::Inductance => "inductance".to_owned(),
            Self::Capacitance => "capacitance".to_owned(),
            Self::Share(cell) => format!("loss inductance {}", cell + 1),
            Self::LossResistance(cell) => format!("loss resistance {}", cell + 1),
            Self::Load => "load resistance".to_owned(),
            Self::Cable => "cable".to_owned(),
            Self::Gain(_) => "gain".to_owned(),
            Self::Phase(_) => "phase offset".to_owned(),
            Self::Slope => "slope".to_owned(),
        }
    }

    /// Between which values it is looked for.
    #[must_use]
    pub fn bounds(self) -> [f64; 2] {
        let logarithms = |low: f64, high: f64| [low.ln(), high.ln()];
        match self {
            Self::Resistance => logarithms(1.0, 1e5),
            Self::Inductance => logarithms(1e-3, 50.0),
            Self::Capacitance | Self::Cable => logarithms(1e-14, 20e-9),
            Self::Share(_) => [-9.0, 9.0],
            Self::LossResistance(_) => logarithms(10.0, 1e8),
            Self::Load => logarithms(1e3, 1e9),
            Self::Gain(_) => [-100.0, 100.0],
            Self::Phase(_) => [-100.0, 100.0],
            Self::Slope => [-4.0, 4.0],
        }
    }
}

/// The order of the parameters, and what is held.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// The parameters in order.
    pub parameters: Vec<Parameter>,
    /// Loss cells.
    pub cells: usize,
    known: Known,
}

impl Layout {
    /// For so many loss cells; what is known is no parameter.
    #[must_use]
    pub fn new(cells: usize, known: Known, further: &[Parameter]) -> Self {
        let mut parameters = Vec::new();
        for (parameter, held) in [
            (Parameter::Resistance, known.resistance),
            (Parameter::Inductance, known.inductance),
            (Parameter::Capacitance, known.capacitance),
        ] {
            if held.is_none() {
                parameters.push(parameter);
            }
        }
        for cell in 0..cells {
            parameters.extend([Parameter::Share(cell), Parameter::LossResistance(cell)]);
        }
        parameters.extend_from_slice(further);
        Self { parameters, cells, known }
    }

    /// A parameter's value; `None` when it is not among those fitted.
    #[must_use]
    pub fn get(&self, values: &[f64], wanted: Parameter) -> Option<f64> {
        let place = self.parameters.iter().position(|parameter| *parameter == wanted)?;
        values.get(place).copied()
    }

    /// The pickup at given values of the parameters.
    #[must_use]
    pub fn coil(&self, values: &[f64]) -> Coil {
        let of = |held: Option<f64>, parameter| held.or_else(|| self.get(values, parameter).map(f64::exp)).unwrap_or(1.0);
        let inductance = of(self.known.inductance, Parameter::Inductance);
        let shares: Vec<f64> = (0..self.cells)
            .map(|cell| self.get(values, Parameter::Share(cell)).unwrap_or(0.0).exp())
            .collect();
        let whole = 1.0 + shares.iter().sum::<f64>();
        let cell = |(cell, share): (usize, &f64)| {
            let resistance = self.get(values, Parameter::LossResistance(cell)).unwrap_or(0.0).exp();
            [inductance * share / whole, resistance]
        };
        Coil {
            resistance: of(self.known.resistance, Parameter::Resistance),
            inductance,
            capacitance: of(self.known.capacitance, Parameter::Capacitance),
            cells: shares.iter().enumerate().map(cell).collect(),
        }
    }
}
