//! Models linear in their parameters.

use ndarray::Array2;

use super::covariance::NoUncertainty;
use super::double_double::Dd;
use super::error::{FitError, check_finite, check_length, check_weights};
use super::qr;

/// Result of a linear least-squares fit.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearFit {
    /// One parameter for each column of the design.
    pub parameters: Vec<f64>,
    /// Covariance of the parameters, `residual_sd²` times the inverse normal matrix; `NaN` where there are no degrees of freedom.
    pub covariance: Array2<f64>,
    /// `sqrt(sum of weighted squared residuals / dof)`; `None` where there are no degrees of freedom.
    pub residual_sd: Option<f64>,
    /// Sum of (weighted) squared residuals.
    pub sum_of_squares: f64,
    /// Points less parameters.
    pub dof: usize,
    /// Coefficient of determination: about the weighted mean if the design holds a constant column, else about zero. `None` where `y`
    /// does not vary.
    pub r_squared: Option<f64>,
    /// Inverse of the (weighted) normal matrix: the covariance if the weights are `1/u²` with known `u`.
    pub covariance_as_weighted: Array2<f64>,
}

impl LinearFit {
    /// Standard uncertainty of parameter `i`, or the reason why there is none.
    pub fn u(&self, i: usize) -> Result<f64, NoUncertainty> {
        match self.covariance.get((i, i)) {
            None => Err(NoUncertainty::NoSuchParameter),
            Some(&v) if v > 0.0 && v.is_finite() => Ok(v.sqrt()),
            Some(&0.0) => Err(NoUncertainty::NoScatter),
            Some(_) => Err(NoUncertainty::NoDegreesOfFreedom),
        }
    }
}

/// Fits `y = design · parameters` by (weighted) least squares.
///
/// `design` has one row a point and one column a parameter; `weights` multiply the squared residuals (proportional to `1/u²`). Columns
/// are scaled by powers of two and factorised by Householder QR in double-double arithmetic, so that the result is good to all digits the
/// given numbers carry, whatever the condition of the design.
pub fn linear_least_squares(
    design: &Array2<f64>,
    y: &[f64],
    weights: Option<&[f64]>,
) -> Result<LinearFit, FitError> {
    let (n, p) = design.dim();
    check_length("y", n, y.len())?;
    check_weights(weights, n)?;
    if let Some((index, _)) = design.iter().enumerate().find(|(_, v)| !v.is_finite()) {
        return Err(FitError::NotFinite {
            what: "design",
            index: index / p.max(1),
        });
    }
    let columns: Vec<Vec<Dd>> = design
        .columns()
        .into_iter()
        .map(|c| c.iter().map(|&v| Dd::from(v)).collect())
        .collect();
    let centred = design.columns().into_iter().any(|c| is_constant(c.iter()));
    solve(columns, y, weights, centred)
}

/// Fits `y = b0 + b1 x + ... + bd x^d`. As [`linear_least_squares`], but the powers are taken in double-double arithmetic too, which
/// matters from degree six or so on.
pub fn polynomial_fit(
    x: &[f64],
    y: &[f64],
    degree: usize,
    weights: Option<&[f64]>,
) -> Result<LinearFit, FitError> {
    check_length("y", x.len(), y.len())?;
    check_finite("x", x)?;
    check_weights(weights, x.len())?;
    if x.len() <= degree {
        return Err(FitError::TooFewPoints {
            needed: degree.saturating_add(1),
            found: x.len(),
        });
    }
    let mut columns = vec![vec![Dd::ONE; x.len()]];
    for k in 1..=degree {
        let next = columns[k - 1]
            .iter()
            .zip(x)
            .map(|(&power, &v)| power * Dd::from(v))
            .collect();
        columns.push(next);
    }
    solve(columns, y, weights, true)
}

/// True if all values are one and the same, and not zero.
fn is_constant<'a>(mut values: impl Iterator<Item = &'a f64>) -> bool {
    values
        .next()
        .is_some_and(|&first| first != 0.0 && values.all(|&v| v == first))
}

/// Power of two next to the largest magnitude, so that scaling by it is exact.
fn power_of_two(column: &[Dd]) -> f64 {
    let largest = column.iter().map(|v| v.to_f64().abs()).fold(0.0, f64::max);
    let scale = largest.log2().round().exp2();
    if scale.is_normal() { scale } else { 1.0 }
}

fn solve(
    mut columns: Vec<Vec<Dd>>,
    y: &[f64],
    weights: Option<&[f64]>,
    centred: bool,
) -> Result<LinearFit, FitError> {
    let (n, p) = (y.len(), columns.len());
    check_finite("y", y)?;
    if p == 0 {
        return Err(FitError::NoParameters);
    }
    if n < p {
        return Err(FitError::TooFewPoints {
            needed: p,
            found: n,
        });
    }
    let mut scales = Vec::with_capacity(p);
    for (index, column) in columns.iter_mut().enumerate() {
        let scale = power_of_two(column);
        let shrink = Dd::from(1.0 / scale);
        for v in column.iter_mut() {
            *v = *v * shrink;
        }
        if column.iter().any(|v| !v.to_f64().is_finite()) {
            return Err(FitError::NotFinite {
                what: "design column",
                index,
            });
        }
        scales.push(scale);
    }
    let mut target: Vec<Dd> = y.iter().map(|&v| Dd::from(v)).collect();
    if let Some(weights) = weights {
        let roots: Vec<Dd> = weights.iter().map(|&w| Dd::from(w).sqrt()).collect();
        for column in columns.iter_mut().chain(std::iter::once(&mut target)) {
            column
                .iter_mut()
                .zip(&roots)
                .for_each(|(v, &r)| *v = *v * r);
        }
    }
    let qr = qr::solve(columns, target)?;
    let parameters: Vec<f64> = qr
        .solution
        .iter()
        .zip(&scales)
        .map(|(b, s)| b.to_f64() / s)
        .collect();
    check_finite("the solution", &parameters)?;
    let inverse = Array2::from_shape_fn((p, p), |(i, j)| {
        let sum = (i.max(j)..p).fold(Dd::ZERO, |sum, k| {
            sum + qr.inverse_r[i][k] * qr.inverse_r[j][k]
        });
        sum.to_f64() / scales[i] / scales[j]
    });
    let sum_of_squares = qr.sum_of_squares.to_f64();
    let dof = n - p;
    let variance = if dof == 0 {
        f64::NAN
    } else {
        sum_of_squares / dof as f64
    };
    Ok(LinearFit {
        parameters,
        covariance: &inverse * variance,
        residual_sd: (dof > 0).then(|| variance.sqrt()),
        sum_of_squares,
        dof,
        r_squared: r_squared(y, weights, centred, sum_of_squares),
        covariance_as_weighted: inverse,
    })
}

/// `1 - residual / total` sum of squares, the total about the mean or about zero.
fn r_squared(
    y: &[f64],
    weights: Option<&[f64]>,
    centred: bool,
    sum_of_squares: f64,
) -> Option<f64> {
    let weight = |i: usize| weights.and_then(|w| w.get(i)).copied().unwrap_or(1.0);
    let total_weight: f64 = (0..y.len()).map(weight).sum();
    let mean = if centred {
        y.iter()
            .enumerate()
            .map(|(i, v)| weight(i) * v)
            .sum::<f64>()
            / total_weight
    } else {
        0.0
    };
    let total: f64 = y
        .iter()
        .enumerate()
        .map(|(i, v)| weight(i) * (v - mean).powi(2))
        .sum();
    (total > 0.0 && total.is_finite()).then(|| 1.0 - sum_of_squares / total)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_repeated_column_is_named() {
        let design = ndarray::array![
            [1.0, 0.1, 0.3],
            [1.0, 0.2, 0.6],
            [1.0, 0.3, 0.9],
            [1.0, 0.7, 2.1]
        ];
        let error = linear_least_squares(&design, &[1.0, 2.0, 3.0, 4.0], None).unwrap_err();
        assert_eq!(error, FitError::Singular { column: 2 });
    }

    #[test]
    fn without_degrees_of_freedom_there_is_no_uncertainty() {
        let fit = polynomial_fit(&[1.0, 2.0], &[3.0, 5.0], 1, None).unwrap();
        assert!((fit.parameters[0] - 1.0).abs() < 1e-14);
        assert!((fit.parameters[1] - 2.0).abs() < 1e-14);
        assert_eq!(fit.u(1), Err(NoUncertainty::NoDegreesOfFreedom));
        assert_eq!(fit.residual_sd, None);
    }

    #[test]
    fn a_weight_counts_like_a_repeated_point() {
        let x = [1.0, 2.0, 3.0, 4.0];
        let y = [1.1, 1.9, 3.2, 3.8];
        let weighted = polynomial_fit(&x, &y, 1, Some(&[1.0, 3.0, 1.0, 1.0])).unwrap();
        let repeated = polynomial_fit(
            &[1.0, 2.0, 2.0, 2.0, 3.0, 4.0],
            &[1.1, 1.9, 1.9, 1.9, 3.2, 3.8],
            1,
            None,
        )
        .unwrap();
        for (a, b) in weighted.parameters.iter().zip(&repeated.parameters) {
            assert!((a - b).abs() < 1e-14);
        }
        assert!((weighted.sum_of_squares - repeated.sum_of_squares).abs() < 1e-14);
        assert!((weighted.r_squared.unwrap() - repeated.r_squared.unwrap()).abs() < 1e-14);
    }

    #[test]
    fn broken_input_is_refused() {
        let design = ndarray::array![[1.0, f64::NAN], [1.0, 2.0]];
        assert!(linear_least_squares(&design, &[1.0, 2.0], None).is_err());
        assert!(linear_least_squares(&Array2::zeros((3, 0)), &[1.0, 2.0, 3.0], None).is_err());
        assert!(linear_least_squares(&Array2::zeros((3, 1)), &[1.0, 2.0, 3.0], None).is_err());
        assert!(polynomial_fit(&[1.0, 2.0], &[1.0, 2.0], 1, Some(&[1.0, 0.0])).is_err());
        assert!(polynomial_fit(&[1e200, 2e200], &[1.0, 2.0], 1, None).is_ok());
        assert!(polynomial_fit(&[1e200, 2e200, 3e200], &[1.0, 2.0, 4.0], 2, None).is_err());
    }
}
