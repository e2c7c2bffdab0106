//! Two-column CSV files as curves: wanted responses, measured tapers.

use std::ops::Range;

use crate::error::{Error, ErrorKind, Result};
use crate::rows::{self, SETTINGS, several_responses};
use crate::source::{Passage, Source};

/// Points with strictly rising abscissa, straight lines between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    points: Vec<[f64; 2]>,
}

impl Curve {
    /// A curve of at least two points, all finite, the abscissa strictly rising.
    #[must_use]
    pub fn new(points: Vec<[f64; 2]>) -> Option<Self> {
        let finite = points.iter().flatten().all(|value| value.is_finite());
        let rising = points.is_sorted_by(|a, b| a[0] < b[0]);
        (points.len() >= 2 && finite && rising).then_some(Self { points })
    }

    /// Reads a CSV whose header holds the two given names; other columns are passed over.
    ///
    /// # Errors
    /// Where the header or a row is not as expected, with line and column.
    pub fn read(source: &Source, header: [&str; 2]) -> Result<Self> {
        Self::read_placed(source, header).map(|(curve, _)| curve)
    }

    /// As [`Curve::read`], with the place of each point's row, for readers that ask more of the points.
    pub(crate) fn read_placed(source: &Source, header: [&str; 2]) -> Result<(Self, Vec<Range<usize>>)> {
        let (rows, columns, names) = rows::read_two(source, header)?;
        let mut points: Vec<[f64; 2]> = Vec::with_capacity(rows.len());
        for row in &rows {
            for (column, name) in names.iter().enumerate().filter(|(_, name)| SETTINGS.contains(&name.as_str())) {
                if rows
                    .first()
                    .is_some_and(|first| first.cell(column).text() != row.cell(column).text())
                {
                    return Err(several_responses(&row.cell(column), name));
                }
            }
            let point = [number(&row.cell(columns[0]))?, number(&row.cell(columns[1]))?];
            if let Some(before) = points.last().filter(|before| point[0] <= before[0]) {
                let message = format!("{} must rise from row to row: {} follows {}", header[0], point[0], before[0]);
                return Err(Error::at(&row.cell(columns[0]), ErrorKind::Range, message).label(format!("must be above {}", before[0])));
            }
            points.push(point);
        }
        if points.len() < 2 {
            let last = rows
                .last()
                .map_or_else(|| source.passage_at(0..0), |row| source.passage_at(row.span()));
            let message = format!("a curve needs at least 2 points, this one has {}", points.len());
            return Err(Error::at(&last, ErrorKind::Missing, message).label("expected more rows below"));
        }
        Ok((Self { points }, rows.iter().map(rows::Row::span).collect()))
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// The ordinate at `x`, straight between points; `None` outside them.
    #[must_use]
    pub fn at(&self, x: f64) -> Option<f64> {
        self.between(x, |abscissa| abscissa)
    }

    /// The ordinate at `x`, straight over log x (abscissas above zero); `None` outside the points.
    #[must_use]
    pub fn at_logarithmic(&self, x: f64) -> Option<f64> {
        if self.points.first()?[0] > 0.0 {
            self.between(x, f64::ln)
        } else {
            None
        }
    }

    fn between(&self, x: f64, scale: impl Fn(f64) -> f64) -> Option<f64> {
        let after = self.points.partition_point(|point| point[0] < x);
        let high = self.points.get(after)?;
        if high[0] == x {
            return Some(high[1]);
        }
        let low = self.points.get(after.checked_sub(1)?)?;
        let share = (scale(x) - scale(low[0])) / (scale(high[0]) - scale(low[0]));
        let value = low[1] * (1.0 - share) + high[1] * share;
        // The abscissas can be so near or so far that the share is no number; the step is then as good as the line.
        Some(if value.is_finite() { value } else { high[1] })
    }
}

fn number(cell: &Passage<'_>) -> Result<f64> {
    let written = cell.text();
    match written.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(Error::at(cell, ErrorKind::Range, format!("`{written}` is not a finite number")).label("expected a number")),
        Err(_) if written.is_empty() => {
            Err(Error::at(cell, ErrorKind::Missing, "a cell is empty where a number is expected").label("expected a number"))
        }
        Err(_) => {
            Err(Error::at(cell, ErrorKind::Syntax, format!("`{written}` is not a number")).label("expected a number alone, without unit"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Curve> {
        Curve::read(&Source::inline("wanted.csv", text), ["frequency_hz", "level_db"])
    }

    fn refused(text: &str) -> String {
        read(text).unwrap_err().to_string()
    }

    #[test]
    fn a_curve_is_straight_between_points() {
        let curve = read("# wanted\nfrequency_hz,level_db\n100,0\n\n1000,-10\n2000, 2e0\n").unwrap();
        assert_eq!(curve.points(), [[100.0, 0.0], [1000.0, -10.0], [2000.0, 2.0]]);
        assert_eq!(curve.at(100.0), Some(0.0));
        assert_eq!(curve.at(2000.0), Some(2.0));
        assert_eq!(curve.at(1500.0), Some(-4.0));
        assert_eq!(curve.at(99.9), None);
        assert_eq!(curve.at(2000.1), None);
        assert_eq!(curve.at(f64::NAN), None);
    }

    #[test]
    fn over_log_x_a_decade_has_its_middle_at_root_ten() {
        let curve = Curve::new(vec![[100.0, 0.0], [1000.0, -10.0]]).unwrap();
        let middle = curve.at_logarithmic(100.0 * 10f64.sqrt()).unwrap();
        assert!((middle + 5.0).abs() < 1e-12, "{middle}");
        assert_eq!(Curve::new(vec![[0.0, 0.0], [1.0, 1.0]]).unwrap().at_logarithmic(0.5), None);
    }

    #[test]
    fn points_that_make_no_curve_are_refused() {
        assert_eq!(Curve::new(vec![[0.0, 0.0]]), None);
        assert_eq!(Curve::new(vec![[0.0, 0.0], [0.0, 1.0]]), None);
        assert_eq!(Curve::new(vec![[0.0, 0.0], [1.0, f64::NAN]]), None);
        assert_eq!(Curve::new(vec![[0.0, 0.0], [f64::INFINITY, 1.0]]), None);
    }

    #[test]
    fn a_bad_cell_is_named_with_line_and_column() {
        let head = "frequency_hz,level_db\n100,0\n";
        assert_eq!(refused(&format!("{head}200,x1\n")), "wanted.csv:3:5: `x1` is not a number");
        assert_eq!(
            refused(&format!("{head}\n#\n 200 , nan\n")),
            "wanted.csv:5:8: `nan` is not a finite number"
        );
        assert_eq!(
            refused(&format!("{head}1e400,1\n")),
            "wanted.csv:3:1: `1e400` is not a finite number"
        );
        assert_eq!(
            refused(&format!("{head}200,\n")),
            "wanted.csv:3:5: a cell is empty where a number is expected"
        );
        assert_eq!(
            refused(&format!("{head}100,1\n")),
            "wanted.csv:3:1: frequency_hz must rise from row to row: 100 follows 100"
        );
        assert_eq!(refused(head), "wanted.csv:2:1: a curve needs at least 2 points, this one has 1");
    }

    #[test]
    fn a_hundred_thousand_points_are_read_and_one_more_is_refused() {
        let mut text = String::from("frequency_hz,level_db\n");
        for index in 0..crate::limits::MOST_ROWS {
            text.push_str(&format!("{index},0\n"));
        }
        assert_eq!(read(&text).unwrap().points().len(), 100_000);
        text.push_str("200000,0\n");
        assert_eq!(refused(&text), "wanted.csv:100002:1: more than 100000 rows");
    }

    proptest::proptest! {
        #[test]
        fn a_curve_stays_between_its_neighbours(low in -1e3..1e3, high in -1e3..1e3, share in 0.0..=1.0) {
            let curve = Curve::new(vec![[1.0, low], [4.0, high]]).unwrap();
            let (x, slack) = (1.0 + 3.0 * share, 1e-9);
            for value in [curve.at(x).unwrap(), curve.at_logarithmic(x).unwrap()] {
                proptest::prop_assert!(value >= low.min(high) - slack && value <= low.max(high) + slack);
            }
        }
    }
}
