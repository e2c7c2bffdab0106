//! What tolerance and noise may do to a session's differences, as their covariance: what every value off within its tolerance would move
//! counts little, what no such value could move counts in full.
//!
//! With J the slopes of the means over twentieths of each sweep by every value's factor, C = J·diag(t²/3)·Jᵀ + diag(s₀² + σ²/m) + 1·1ᵀ·10²:
//! t a value's tolerance (a uniform law's variance), s₀ what a model leaves of a real guitar, σ the noise of a reading and m the readings of
//! a mean; the last term is the level, which is free. The distance of differences r is rᵀ·C⁻¹·r (generalised least squares, A. C. Aitken
//! 1936; from memory).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::session::Session;
use crate::circuit::Origin;
use crate::guitar::Guitar;
use crate::tolerance::{Spread, with_factors};

/// How far, in dB, the level of all sweeps may be anywhere.
const LEVEL: f64 = 10.0;

/// A covariance, decomposed.
pub(super) struct Weights {
    factor: Cholesky<f64, Dyn>,
    /// ln |C|.
    pub(super) spread: f64,
}

impl Weights {
    /// Those of a guitar, with one of its values left out; `floor` is s₀ in dB. `None` where a guitar within tolerance is silent.
    pub(super) fn of(session: &Session, guitar: &Guitar, spreads: &[Spread], without: Option<Origin>, floor: f64) -> Option<Self> {
        let readings = session.readings();
        let size = readings.len();
        let level = DMatrix::from_element(size, size, LEVEL * LEVEL);
        let own = readings
            .iter()
            .map(|count| floor * floor + session.noise * session.noise / *count as f64);
        let mut covariance = level + DMatrix::from_diagonal(&DVector::from_iterator(size, own));
        for spread in spreads.iter().filter(|spread| Some(spread.origin) != without) {
            let step = spread.tolerance / 2.0;
            let at = |factor: f64| {
                let off = with_factors(guitar, std::slice::from_ref(spread), &[factor]);
                Some(DVector::from_vec(session.banded(&session.predict(&off, [1.0; 2])?)))
            };
            let slope = (at(1.0 + step)? - at(1.0 - step)?) / (2.0 * step);
            covariance += &slope * slope.transpose() * (spread.tolerance * spread.tolerance / 3.0);
        }
        let factor = Cholesky::new(covariance)?;
        let spread = 2.0 * factor.l_dirty().diagonal().iter().map(|length| length.ln()).sum::<f64>();
        Some(Self { factor, spread })
    }

    /// rᵀ·C⁻¹·r of differences, given as means.
    pub(super) fn distance(&self, banded: &[f64]) -> f64 {
        let differences = DVector::from_column_slice(banded);
        differences.dot(&self.factor.solve(&differences))
    }
}
