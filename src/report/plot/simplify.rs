//! Fewer points for the same line: D. H. Douglas, T. K. Peucker, "Algorithms for the reduction of the number of points required to
//! represent a digitized line or its caricature", Cartographica 10(2), 1973.

/// The points without those that lie within `tolerance` of the line through those kept.
pub(super) fn simplified(points: &[[f64; 2]], tolerance: f64) -> Vec<[f64; 2]> {
    let mut kept = vec![false; points.len()];
    let mut spans = vec![(0, points.len().saturating_sub(1))];
    while let Some((first, last)) = spans.pop() {
        for end in [first, last] {
            if let Some(keep) = kept.get_mut(end) {
                *keep = true;
            }
        }
        let (Some(from), Some(to)) = (points.get(first), points.get(last)) else {
            continue;
        };
        let inner = points.iter().enumerate().take(last).skip(first + 1);
        let farthest = inner
            .map(|(index, point)| (index, distance(*point, *from, *to)))
            .max_by(|(_, one), (_, other)| one.total_cmp(other));
        if let Some((index, _)) = farthest.filter(|(_, distance)| *distance > tolerance) {
            spans.extend([(first, index), (index, last)]);
        }
    }
    let pairs = points.iter().zip(kept);
    pairs.filter(|(_, kept)| *kept).map(|(point, _)| *point).collect()
}

/// From a point to the line through two others.
fn distance(point: [f64; 2], from: [f64; 2], to: [f64; 2]) -> f64 {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let [px, py] = [point[0] - from[0], point[1] - from[1]];
    let length = dx.hypot(dy);
    if length == 0.0 {
        px.hypot(py)
    } else {
        (dx * py - dy * px).abs() / length
    }
}

#[cfg(test)]
mod tests {
    use super::simplified;

    #[test]
    fn a_straight_line_has_two_points_and_a_corner_stays() {
        let line: Vec<[f64; 2]> = (0..100).map(|step| [f64::from(step), 2.0 * f64::from(step)]).collect();
        assert_eq!(simplified(&line, 0.01), [[0.0, 0.0], [99.0, 198.0]]);
        let corner = [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [2.0, 1.0], [2.0, 2.0]];
        assert_eq!(simplified(&corner, 0.01), [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0]]);
    }

    #[test]
    fn a_circle_stays_round() {
        let circle: Vec<[f64; 2]> = (0..=720)
            .map(|half| (f64::from(half) / 2.0).to_radians())
            .map(|a| [100.0 * a.cos(), 100.0 * a.sin()])
            .collect();
        let few = simplified(&circle, 0.03);
        // Halved again and again, the circle is close enough to its chords at 256 pieces (1 − cos(180°/256) = 0.75·10⁻⁴ of the radius).
        assert!(few.len() <= 257, "{}", few.len());
        for pair in few.windows(2) {
            let middle = [(pair[0][0] + pair[1][0]) / 2.0, (pair[0][1] + pair[1][1]) / 2.0];
            assert!((middle[0].hypot(middle[1]) - 100.0).abs() < 0.04);
        }
    }
}
