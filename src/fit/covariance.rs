//! Covariance of fitted parameters, and why it may be missing.

use std::fmt;

use nalgebra::DMatrix;
use ndarray::Array2;

/// Why a parameter has no standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoUncertainty {
    /// As many parameters as points: nothing is left to judge the scatter by.
    NoDegreesOfFreedom,
    /// The curve goes through every point exactly: there is no scatter to judge by.
    NoScatter,
    /// The data do not determine the parameter: some change of it, with others, leaves the curve as it is.
    Undetermined,
    /// The parameter lies on one of its bounds.
    AtBound,
    /// The fit did not converge.
    NotConverged,
    /// There is no parameter of that index.
    NoSuchParameter,
}

impl fmt::Display for NoUncertainty {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoDegreesOfFreedom => "no degrees of freedom: as many parameters as points",
            Self::NoScatter => "the curve goes through every point: no scatter to judge by",
            Self::Undetermined => "the data do not determine the parameter",
            Self::AtBound => "the parameter lies on its bound",
            Self::NotConverged => "the fit did not converge",
            Self::NoSuchParameter => "there is no such parameter",
        })
    }
}

impl std::error::Error for NoUncertainty {}

/// A direction of the column-scaled Jacobian counts as undetermined when its singular value is below this part of the largest. The
/// derivatives are good to ten digits or so where they are taken by differences, and rounding grows with the number of rows.
const RANK: f64 = 1e-10;
/// Smallest share of a parameter in an undetermined direction that makes it undetermined too.
const SHARE: f64 = 1e-6;

/// `(JᵀJ)⁻¹` of a tall matrix by SVD of its column-scaled form.
///
/// Gives the inverse and, for each column, whether it is determined; rows and columns of undetermined ones are `NaN`.
/// `None` if an entry is not finite or the SVD fails.
pub(super) fn inverse_normal(jacobian: &DMatrix<f64>) -> Option<(Array2<f64>, Vec<bool>)> {
    let p = jacobian.ncols();
    if jacobian.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let norms: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
    let mut scaled = jacobian.clone();
    for (mut column, &norm) in scaled.column_iter_mut().zip(&norms) {
        if norm > 0.0 {
            column /= norm;
        }
    }
    // The triangle of a QR has the same singular values and right vectors, and is small.
    let triangle = scaled.qr().r();
    let svd = triangle.try_svd(false, true, f64::EPSILON, 10_000)?;
    let v_t = svd.v_t?;
    let largest = svd.singular_values.max();
    let mut determined: Vec<bool> = norms.iter().map(|&n| n > 0.0).collect();
    let mut inverse = Array2::<f64>::zeros((p, p));
    for (k, &s) in svd.singular_values.iter().enumerate() {
        let row = v_t.row(k);
        if s > RANK * largest {
            for i in 0..p {
                for j in 0..p {
                    inverse[(i, j)] += row[i] * row[j] / (s * s);
                }
            }
        } else {
            for (flag, share) in determined.iter_mut().zip(row.iter()) {
                *flag &= share.abs() < SHARE;
            }
        }
    }
    let unscaled = Array2::from_shape_fn((p, p), |(i, j)| {
        if determined[i] && determined[j] {
            inverse[(i, j)] / norms[i] / norms[j]
        } else {
            f64::NAN
        }
    });
    Some((unscaled, determined))
}
