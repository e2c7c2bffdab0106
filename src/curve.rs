//! Two-column CSV files as curves: wanted responses, measured tapers.

use crate::error::Result;
use crate::source::Source;

/// Points with strictly rising abscissa, straight lines between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    points: Vec<[f64; 2]>,
}

impl Curve {
    /// A curve of at least two points, all finite, the abscissa strictly rising.
    #[must_use]
    pub fn new(points: Vec<[f64; 2]>) -> Option<Self> {
        todo!()
    }

    /// Reads a CSV whose header is the two given names. `check` sees each point with its passage before the next is read.
    ///
    /// # Errors
    /// Where the header or a row is not as expected, with line and column.
    pub fn read(source: &Source, header: [&str; 2]) -> Result<Self> {
        todo!()
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// The ordinate at `x`, straight between points; `None` outside them.
    #[must_use]
    pub fn at(&self, x: f64) -> Option<f64> {
        todo!()
    }

    /// The ordinate at `x`, straight over log x (abscissas above zero); `None` outside the points.
    #[must_use]
    pub fn at_logarithmic(&self, x: f64) -> Option<f64> {
        todo!()
    }
}
