//! Nonlinear least squares: the descent, weights of what is read, rank, covariance and the criterion that compares models.
//!
//! - Descent: Levenberg–Marquardt (the `levenberg-marquardt` crate, a port of MINPACK), from several starts.
//! - Weights: readings come in blocks (levels, phases). Each block's standard deviation is estimated from its residuals and the fit is
//!   repeated with its reciprocal as the weight.
//! - Outliers: iteratively reweighted with Huber's weights, k = 1.345, scale 1.4826 times the median of the sizes (P. J. Huber, *Robust
//!   Statistics*, 1981; constants from memory). The covariance then has Huber's correction, Σψ²/(n − p) over (mean of ψ′)².
//! - Rank: singular values of the Jacobian; those below 10⁻⁷ of the largest are directions along which nothing changes.
//! - Criterion: corrected Akaike, Σ n·ln(RSS/n) over the blocks + 2k + 2k(k + 1)/(n − k − 1), k counting each block's deviation too
//!   (N. Sugiura, Commun. Stat. A7, 1978; C. M. Hurvich, C.-L. Tsai, Biometrika 76, 1989; both from memory).

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned};

/// Step of the central differences; parameters are logarithms, so that one step fits all.
const STEP: f64 = 1e-5;
/// Singular values below this share of the largest count as zero.
const RANK: f64 = 1e-7;
/// A parameter has a part in a direction along which nothing changes from this component on.
const PART: f64 = 0.05;
/// No block's deviation is taken smaller than this, in nepers and rad: what rounding leaves of exact data.
const LEAST_DEVIATION: f64 = 1e-9;
/// Huber's constant: 95 % efficient where there is no outlier.
const HUBER: f64 = 1.345;
/// How often weights are estimated anew.
const ROUNDS: usize = 3;
const ROBUST_ROUNDS: usize = 12;

/// Prediction less reading at given parameters.
pub type Residuals<'p> = Box<dyn Fn(&[f64]) -> Vec<f64> + 'p>;

/// A function of parameters that is to become small.
pub struct Problem<'p> {
    /// Prediction less reading: block after block.
    pub residuals: Residuals<'p>,
    /// How many residuals each block has.
    pub blocks: Vec<usize>,
    /// Between which values each parameter is looked for.
    pub bounds: Vec<[f64; 2]>,
    /// Whether outliers count less.
    pub robust: bool,
}

/// The best that was found.
#[derive(Debug, Clone)]
pub struct Fit {
    /// The parameters.
    pub values: Vec<f64>,
    /// Prediction less reading, unweighted.
    pub residuals: Vec<f64>,
    /// Root mean square of each block.
    pub rms: Vec<f64>,
    /// Residuals less parameters.
    pub freedom: usize,
    /// The corrected Akaike criterion; `None` with too few readings for it.
    pub criterion: Option<f64>,
    /// Directions in the space of parameters along which nothing changes.
    pub free: Vec<Vec<f64>>,
    /// Parameters that ended at a bound.
    pub bounded: Vec<usize>,
    covariance: DMatrix<f64>,
}

impl Fit {
    /// The standard error of a quantity by its gradient; `None` where the readings leave it open.
    #[must_use]
    pub fn error(&self, gradient: &[f64]) -> Option<f64> {
        let open = |direction: &Vec<f64>| direction.iter().zip(gradient).map(|(one, other)| one * other).sum::<f64>().abs() > PART;
        let at_bound = |index: &usize| gradient.get(*index).is_some_and(|slope| slope.abs() > PART);
        if self.free.iter().any(open) || self.bounded.iter().any(at_bound) {
            return None;
        }
        let gradient = DVector::from_column_slice(gradient);
        let variance = (&self.covariance * &gradient).dot(&gradient);
        (variance >= 0.0 && variance.is_finite()).then(|| variance.sqrt())
    }

    /// The correlation of two parameters.
    #[must_use]
    pub fn correlation(&self, one: usize, other: usize) -> Option<f64> {
        let variance = |index: usize| self.covariance.get((index, index)).copied();
        let both = self.covariance.get((one, other)).copied()?;
        let correlation = both / (variance(one)? * variance(other)?).sqrt();
        correlation.is_finite().then_some(correlation)
    }

    /// The parameters that the directions of no change move.
    #[must_use]
    pub fn open(&self) -> Vec<usize> {
        let moved = |index: &usize| {
            self.free
                .iter()
                .any(|direction| direction.get(*index).is_some_and(|part| part.abs() > PART))
        };
        (0..self.values.len()).filter(moved).collect()
    }
}

/// The best from several starts; `None` when none leads to finite residuals, or there are no more residuals than parameters.
#[must_use]
pub fn fit(problem: &Problem<'_>, starts: &[Vec<f64>]) -> Option<Fit> {
    let count: usize = problem.blocks.iter().sum();
    if count <= problem.bounds.len() {
        return None;
    }
    let even = vec![1.0; count];
    let tried = starts.iter().filter_map(|start| descend(problem, start, &even));
    let (mut values, _) = tried.min_by(|(_, one), (_, other)| one.total_cmp(other))?;
    let mut weights = even;
    let rounds = if problem.robust { ROBUST_ROUNDS } else { ROUNDS };
    for _ in 0..rounds {
        weights = weigh(problem, &(problem.residuals)(&values));
        values = descend(problem, &values, &weights)?.0;
    }
    finish(problem, values, &weights)
}

/// The standard deviation of each residual's block.
fn deviations(problem: &Problem<'_>, residuals: &[f64]) -> Vec<f64> {
    let mut found = Vec::with_capacity(residuals.len());
    let mut start = 0;
    for block in &problem.blocks {
        let own = &residuals[start..start + block];
        let deviation = if problem.robust {
            median_size(own) * 1.4826
        } else {
            root_mean_square(own)
        };
        found.extend(std::iter::repeat_n(deviation.max(LEAST_DEVIATION), *block));
        start += block;
    }
    found
}

fn weigh(problem: &Problem<'_>, residuals: &[f64]) -> Vec<f64> {
    let deviations = deviations(problem, residuals);
    let weight = |(residual, deviation): (&f64, &f64)| {
        let size = (residual / deviation).abs();
        let held = if problem.robust && size > HUBER {
            (HUBER / size).sqrt()
        } else {
            1.0
        };
        held / deviation
    };
    residuals.iter().zip(&deviations).map(weight).collect()
}

fn root_mean_square(values: &[f64]) -> f64 {
    (values.iter().map(|value| value * value).sum::<f64>() / values.len().max(1) as f64).sqrt()
}

fn median_size(values: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = values.iter().map(|value| value.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.get(sizes.len() / 2).copied().unwrap_or(0.0)
}

/// Parameters and weighted sum of squares at the end of a descent.
fn descend(problem: &Problem<'_>, start: &[f64], weights: &[f64]) -> Option<(Vec<f64>, f64)> {
    let descent = Descent {
        problem,
        weights,
        values: DVector::from_column_slice(start),
    };
    let solver = LevenbergMarquardt::new()
        .with_ftol(1e-12)
        .with_xtol(1e-10)
        .with_gtol(1e-12)
        .with_patience(40);
    let (end, _) = solver.minimize(descent);
    let values = held(end.values.as_slice(), &problem.bounds);
    let sum: f64 = (problem.residuals)(&values)
        .iter()
        .zip(weights)
        .map(|(residual, weight)| (residual * weight).powi(2))
        .sum();
    sum.is_finite().then_some((values, sum))
}

fn held(values: &[f64], bounds: &[[f64; 2]]) -> Vec<f64> {
    let hold = |(value, bounds): (&f64, &[f64; 2])| {
        if value.is_finite() {
            value.clamp(bounds[0], bounds[1])
        } else {
            bounds[0]
        }
    };
    values.iter().zip(bounds).map(hold).collect()
}

struct Descent<'d, 'p> {
    problem: &'d Problem<'p>,
    weights: &'d [f64],
    values: DVector<f64>,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Descent<'_, '_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, values: &DVector<f64>) {
        self.values.copy_from(values);
    }

    fn params(&self) -> DVector<f64> {
        self.values.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let residuals = (self.problem.residuals)(&held(self.values.as_slice(), &self.problem.bounds));
        let weighted: Vec<f64> = residuals
            .iter()
            .zip(self.weights)
            .map(|(residual, weight)| residual * weight)
            .collect();
        weighted
            .iter()
            .all(|residual| residual.is_finite())
            .then(|| DVector::from_vec(weighted))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let found = jacobian(self.problem, self.values.as_slice(), self.weights);
        found.iter().all(|slope| slope.is_finite()).then_some(found)
    }
}

/// Slopes of the weighted residuals by central differences, one-sided where a bound stops them.
fn jacobian(problem: &Problem<'_>, values: &[f64], weights: &[f64]) -> DMatrix<f64> {
    let mut found = DMatrix::zeros(weights.len(), values.len());
    for (column, bounds) in problem.bounds.iter().enumerate() {
        let at = |step: f64| {
            let mut moved = held(values, &problem.bounds);
            moved[column] = (moved[column] + step).clamp(bounds[0], bounds[1]);
            let place = moved[column];
            ((problem.residuals)(&moved), place)
        };
        let ((above, high), (below, low)) = (at(STEP), at(-STEP));
        let width = high - low;
        for (row, (above, below)) in above.iter().zip(&below).enumerate() {
            found[(row, column)] = (above - below) / width * weights[row];
        }
    }
    found
}

fn finish(problem: &Problem<'_>, values: Vec<f64>, weights: &[f64]) -> Option<Fit> {
    let residuals = (problem.residuals)(&values);
    let slopes = jacobian(problem, &values, weights);
    if !slopes.iter().chain(&residuals).all(|value| value.is_finite()) {
        return None;
    }
    let freedom = residuals.len() - values.len();
    let deviations = deviations(problem, &residuals);
    let influence = |(residual, deviation): (&f64, &f64)| {
        let size = residual / deviation;
        if problem.robust { size.clamp(-HUBER, HUBER) } else { size }
    };
    let influences: Vec<f64> = residuals.iter().zip(&deviations).map(influence).collect();
    // Of the share of readings that count in full.
    let inside = influences.iter().filter(|size| !problem.robust || size.abs() < HUBER).count() as f64 / residuals.len() as f64;
    let variance = influences.iter().map(|size| size * size).sum::<f64>() / freedom as f64 / inside.powi(2).max(1e-6);
    // The slopes with each block's weight alone: an outlier's residual is cut off, its slope is not.
    let mut plain = slopes;
    for (row, (weight, deviation)) in weights.iter().zip(&deviations).enumerate() {
        plain.row_mut(row).scale_mut(1.0 / (weight * deviation));
    }
    let at_bound = |(value, bounds): (&f64, &[f64; 2])| (value - bounds[0]).min(bounds[1] - value) < 1e-6;
    let bounded: Vec<usize> = (0..values.len())
        .filter(|index| at_bound((&values[*index], &problem.bounds[*index])))
        .collect();
    let (covariance, free) = invert(&plain, variance, &bounded)?;
    let mut start = 0;
    let mut rms = Vec::new();
    let mut likelihood = 0.0;
    for block in &problem.blocks {
        rms.push(root_mean_square(&residuals[start..start + block]));
        let held: Vec<f64> = (start..start + block).map(|index| influences[index] * deviations[index]).collect();
        likelihood += 2.0 * *block as f64 * root_mean_square(&held).max(LEAST_DEVIATION).ln();
        start += block;
    }
    let (n, k) = (residuals.len() as f64, (values.len() + problem.blocks.len()) as f64);
    let criterion = (n > k + 1.0).then(|| likelihood + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0));
    Some(Fit {
        values,
        residuals,
        rms,
        freedom,
        criterion,
        free,
        bounded,
        covariance,
    })
}

/// The covariance, and the directions along which nothing changes, of the parameters that are at no bound.
fn invert(slopes: &DMatrix<f64>, variance: f64, bounded: &[usize]) -> Option<(DMatrix<f64>, Vec<Vec<f64>>)> {
    let size = slopes.ncols();
    let mut covariance = DMatrix::zeros(size, size);
    let mut free = Vec::new();
    let columns: Vec<usize> = (0..size).filter(|column| !bounded.contains(column)).collect();
    if columns.is_empty() {
        return Some((covariance, free));
    }
    let decomposed = slopes.select_columns(&columns).try_svd(false, true, 1e-14, 10_000)?;
    let directions = decomposed.v_t?;
    let largest = decomposed.singular_values.max();
    for (index, singular) in decomposed.singular_values.iter().enumerate() {
        let mut direction = DVector::zeros(size);
        for (column, part) in columns.iter().zip(directions.row(index).iter()) {
            direction[*column] = *part;
        }
        if *singular > RANK * largest {
            covariance += &direction * direction.transpose() * (variance / (singular * singular));
        } else {
            free.push(direction.iter().copied().collect());
        }
    }
    Some((covariance, free))
}

/// The factor of a two-sided 95 % interval: Student's t.
#[must_use]
pub fn student95(freedom: usize) -> f64 {
    const TABLE: [f64; 10] = [12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228];
    const Z: f64 = 1.959_964;
    match freedom.checked_sub(1) {
        None => f64::MAX,
        Some(index) => TABLE.get(index).copied().unwrap_or_else(|| {
            // M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.7.5, first two terms.
            let n = freedom as f64;
            Z + (Z.powi(3) + Z) / (4.0 * n) + (5.0 * Z.powi(5) + 16.0 * Z.powi(3) + 3.0 * Z) / (96.0 * n * n)
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Student's t, 97.5 %, from the tables of any statistics handbook: 15: 2.131, 20: 2.086, 30: 2.042, 120: 1.980.
    #[test]
    fn student_agrees_with_the_tables() {
        for (freedom, printed) in [(1, 12.706), (10, 2.228), (15, 2.131), (20, 2.086), (30, 2.042), (120, 1.980)] {
            assert!((student95(freedom) - printed).abs() < 6e-4, "{freedom}: {}", student95(freedom));
        }
    }

    // A straight line has closed forms: slope, intercept and their standard errors.
    #[test]
    fn a_straight_line_has_the_errors_of_the_handbook() {
        let data = [(0.0, 1.1), (1.0, 2.9), (2.0, 5.2), (3.0, 6.8), (4.0, 9.1)];
        let problem = Problem {
            residuals: Box::new(move |values| data.iter().map(|(x, y)| values[0] + values[1] * x - y).collect()),
            blocks: vec![5],
            bounds: vec![[-100.0, 100.0]; 2],
            robust: false,
        };
        let found = fit(&problem, &[vec![0.0, 0.0]]).unwrap();
        let squares: f64 = found.residuals.iter().map(|residual| residual * residual).sum();
        assert!((found.values[1] - 1.99).abs() < 1e-9 && (found.values[0] - 1.04).abs() < 1e-9);
        // √(RSS/(n − 2)/Σ(x − x̄)²), Σ(x − x̄)² = 10; the intercept's 1/n + x̄²/10 = 0.6.
        let slope = (squares / 3.0 / 10.0).sqrt();
        assert!((found.error(&[0.0, 1.0]).unwrap() / slope - 1.0).abs() < 1e-6);
        assert!((found.error(&[1.0, 0.0]).unwrap() / (squares / 3.0 * 0.6).sqrt() - 1.0).abs() < 1e-6);
        assert!(found.free.is_empty() && found.freedom == 3);
    }

    #[test]
    fn parameters_that_only_act_together_are_found_out() {
        let problem = Problem {
            residuals: Box::new(|values| (0..8).map(|x| (values[0] + values[1]) * f64::from(x) + values[2] - 1.0).collect()),
            blocks: vec![8],
            bounds: vec![[-100.0, 100.0]; 3],
            robust: false,
        };
        let found = fit(&problem, &[vec![1.0, 2.0, 0.5]]).unwrap();
        assert_eq!(found.open(), [0, 1]);
        assert_eq!(
            (found.error(&[1.0, 0.0, 0.0]), found.error(&[1.0, 1.0, 0.0]).is_some()),
            (None, true)
        );
    }
}
