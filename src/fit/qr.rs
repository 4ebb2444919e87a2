//! Householder QR in double-double arithmetic (Golub & Van Loan, Matrix Computations, algorithm 5.2.1).

use super::double_double::Dd;
use super::error::FitError;

/// A column is taken as dependent on those before it when less than this part of its length is left: the entries themselves carry
/// rounding errors of 1e-16, so anything below a few hundred times that is noise.
const DEPENDENT: f64 = 1e-13;

/// What least squares needs of the factorisation of a tall matrix.
pub(super) struct Qr {
    /// Least-squares solution.
    pub solution: Vec<Dd>,
    /// Inverse of the triangular factor: `(AᵀA)⁻¹ = R⁻¹ R⁻ᵀ`. Row `i` holds the columns `i..`, earlier ones are zero.
    pub inverse_r: Vec<Vec<Dd>>,
    /// Sum of squared residuals.
    pub sum_of_squares: Dd,
}

fn dot(a: &[Dd], b: &[Dd]) -> Dd {
    a.iter().zip(b).fold(Dd::ZERO, |sum, (&x, &y)| sum + x * y)
}

/// Applies `I - 2 v vᵀ / (vᵀ v)` to the lower part of a column.
fn reflect(v: &[Dd], v_squared: Dd, column: &mut [Dd]) {
    let factor = (dot(v, column) + dot(v, column)).over(v_squared);
    for (c, &vi) in column.iter_mut().zip(v) {
        *c = *c - factor * vi;
    }
}

/// Solves `min |A b - y|` for the columns of `A`. Needs at least as many rows as columns (checked by the caller).
pub(super) fn solve(mut columns: Vec<Vec<Dd>>, mut y: Vec<Dd>) -> Result<Qr, FitError> {
    let p = columns.len();
    let mut diagonal: Vec<Dd> = Vec::with_capacity(p);
    for k in 0..p {
        let (_, rest) = columns.split_at_mut(k);
        let Some((column, later)) = rest.split_first_mut() else {
            break;
        };
        let whole = dot(column, column).sqrt();
        let Some(below) = column.get_mut(k..) else {
            return Err(FitError::Singular { column: k });
        };
        let length = dot(below, below).sqrt();
        if length.to_f64() <= DEPENDENT * whole.to_f64() || whole.to_f64() <= 0.0 {
            return Err(FitError::Singular { column: k });
        }
        let mut v = below.to_vec();
        let Some(first) = v.first_mut() else {
            return Err(FitError::Singular { column: k });
        };
        let alpha = if first.to_f64() > 0.0 {
            -length
        } else {
            length
        };
        *first = *first - alpha;
        let v_squared = dot(&v, &v);
        for other in later.iter_mut() {
            if let Some(part) = other.get_mut(k..) {
                reflect(&v, v_squared, part);
            }
        }
        if let Some(part) = y.get_mut(k..) {
            reflect(&v, v_squared, part);
        }
        diagonal.push(alpha);
    }
    let tail = y.get(p..).unwrap_or_default();
    let sum_of_squares = dot(tail, tail);
    let inverse_r = invert(&columns, &diagonal);
    let solution = inverse_r.iter().map(|row| dot(row, &y)).collect();
    Ok(Qr {
        solution,
        inverse_r,
        sum_of_squares,
    })
}

/// Inverse of the upper triangle: `columns[j][i]` for `i < j`, and the diagonal.
fn invert(columns: &[Vec<Dd>], diagonal: &[Dd]) -> Vec<Vec<Dd>> {
    let p = diagonal.len();
    let mut inverse = vec![vec![Dd::ZERO; p]; p];
    for j in 0..p {
        inverse[j][j] = Dd::ONE.over(diagonal[j]);
        for i in (0..j).rev() {
            let mut sum = Dd::ZERO;
            for k in i + 1..=j {
                sum = sum + columns[k][i] * inverse[k][j];
            }
            inverse[i][j] = (-sum).over(diagonal[i]);
        }
    }
    inverse
}
