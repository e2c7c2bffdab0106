//! Iso-lines and the areas above them on a grid of values: each cell is crossed along straight lines between its corners.

use std::collections::HashMap;

/// A grid of values, every row as long as `across`.
pub(super) struct Grid {
    /// Pixels of the columns.
    pub across: Vec<f64>,
    /// Pixels of the rows.
    pub up: Vec<f64>,
    /// A value for each row and column.
    pub values: Vec<Vec<f64>>,
}

/// An edge between two neighbouring grid points: row, column, and whether it leads to the next row.
type Edge = (usize, usize, bool);

impl Grid {
    fn value(&self, row: usize, column: usize) -> f64 {
        self.values.get(row).and_then(|row| row.get(column)).copied().unwrap_or(f64::MIN)
    }

    fn point(&self, row: usize, column: usize) -> [f64; 2] {
        let of = |places: &[f64], index: usize| places.get(index).copied().unwrap_or_default();
        [of(&self.across, column), of(&self.up, row)]
    }

    fn cells(&self) -> impl Iterator<Item = (usize, usize)> {
        let (rows, columns) = (self.up.len().saturating_sub(1), self.across.len().saturating_sub(1));
        (0..rows).flat_map(move |row| (0..columns).map(move |column| (row, column)))
    }

    /// The corners of a cell in turn.
    fn corners(row: usize, column: usize) -> [(usize, usize); 4] {
        [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)]
    }

    fn crossing(&self, from: (usize, usize), to: (usize, usize), level: f64) -> [f64; 2] {
        let (low, high) = (self.value(from.0, from.1), self.value(to.0, to.1));
        let share = ((level - low) / (high - low)).clamp(0.0, 1.0);
        let (start, end) = (self.point(from.0, from.1), self.point(to.0, to.1));
        [start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])]
    }

    /// What lies at or above a level, as closed rings: whole cells joined row by row, the others cut.
    pub(super) fn above(&self, level: f64) -> Vec<Vec<[f64; 2]>> {
        let mut rings: Vec<Vec<[f64; 2]>> = Vec::new();
        // The row, first and next column of the whole cells last joined.
        let mut run: Option<(usize, usize, usize)> = None;
        for (row, column) in self.cells() {
            let corners = Self::corners(row, column);
            let inside = corners.map(|(row, column)| self.value(row, column) >= level);
            if inside.iter().all(|inside| *inside) {
                run = match run {
                    Some((same, first, next)) if same == row && next == column => Some((row, first, column + 1)),
                    other => {
                        rings.extend(other.map(|run| self.joined(run)));
                        Some((row, column, column + 1))
                    }
                };
            } else if inside.iter().any(|inside| *inside) {
                rings.push(self.cut(corners, level));
            }
        }
        rings.extend(run.map(|run| self.joined(run)));
        rings
    }

    fn joined(&self, (row, first, next): (usize, usize, usize)) -> Vec<[f64; 2]> {
        [(row, first), (row, next), (row + 1, next), (row + 1, first)]
            .map(|(row, column)| self.point(row, column))
            .to_vec()
    }

    fn cut(&self, corners: [(usize, usize); 4], level: f64) -> Vec<[f64; 2]> {
        let mut ring = Vec::with_capacity(6);
        for (from, to) in corners.into_iter().zip(corners.into_iter().cycle().skip(1)) {
            let (start, end) = (self.value(from.0, from.1) >= level, self.value(to.0, to.1) >= level);
            if start {
                ring.push(self.point(from.0, from.1));
            }
            if start != end {
                ring.push(self.crossing(from, to, level));
            }
        }
        ring
    }

    /// The lines at a level, each as long as it goes.
    pub(super) fn lines(&self, level: f64) -> Vec<Vec<[f64; 2]>> {
        let mut places: HashMap<Edge, [f64; 2]> = HashMap::new();
        let mut links: HashMap<Edge, Vec<Edge>> = HashMap::new();
        let mut order: Vec<Edge> = Vec::new();
        for (row, column) in self.cells() {
            let corners = Self::corners(row, column);
            let mut crossed = Vec::with_capacity(4);
            for (from, to) in corners.into_iter().zip(corners.into_iter().cycle().skip(1)) {
                if (self.value(from.0, from.1) >= level) != (self.value(to.0, to.1) >= level) {
                    let edge = (from.0.min(to.0), from.1.min(to.1), from.0 != to.0);
                    places.insert(edge, self.crossing(from, to, level));
                    crossed.push(edge);
                }
            }
            for pair in crossed.chunks_exact(2) {
                if let [one, other] = pair {
                    links.entry(*one).or_default().push(*other);
                    links.entry(*other).or_default().push(*one);
                    order.extend([*one, *other]);
                }
            }
        }
        // Open lines first, from their ends; what is left are rings.
        order.sort_by_key(|edge| (links.get(edge).map_or(0, Vec::len), *edge));
        let mut lines = Vec::new();
        for start in order {
            let mut line = Vec::new();
            let mut edge = start;
            while let Some(next) = links.get_mut(&edge).and_then(Vec::pop) {
                if line.is_empty() {
                    line.extend(places.get(&edge));
                }
                line.extend(places.get(&next));
                if let Some(back) = links.get_mut(&next) {
                    back.retain(|other| *other != edge);
                }
                edge = next;
            }
            if line.len() > 1 {
                lines.push(line);
            }
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::Grid;

    /// Minus the distance from the middle: iso-lines are circles.
    fn cone() -> Grid {
        let places: Vec<f64> = (0..=80).map(|index| f64::from(index) - 40.0).collect();
        let row = |y: &f64| places.iter().map(|x| -x.hypot(*y)).collect();
        Grid {
            values: places.iter().map(row).collect(),
            across: places.clone(),
            up: places.clone(),
        }
    }

    #[test]
    fn the_iso_line_of_a_cone_is_one_closed_circle() {
        let lines = cone().lines(-20.3);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].first(), lines[0].last());
        assert!(lines[0].iter().all(|point| (point[0].hypot(point[1]) - 20.3).abs() < 0.02));
    }

    #[test]
    fn the_area_above_is_that_of_the_disc() {
        let rings = cone().above(-20.3);
        let area = |ring: &Vec<[f64; 2]>| {
            let turned = ring.iter().zip(ring.iter().cycle().skip(1));
            (turned.map(|(one, other)| one[0] * other[1] - other[0] * one[1]).sum::<f64>() / 2.0).abs()
        };
        let total: f64 = rings.iter().map(area).sum();
        let disc = std::f64::consts::PI * 20.3 * 20.3;
        assert!((total / disc - 1.0).abs() < 0.005, "{total} {disc}");
    }

    #[test]
    fn a_line_that_leaves_the_grid_is_open() {
        let lines = cone().lines(-45.0);
        assert_eq!(lines.len(), 4, "four corners are cut off");
        assert!(lines.iter().all(|line| line.first() != line.last()));
    }
}
