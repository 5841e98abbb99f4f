//! Linear least squares: scaled columns, Householder QR, and the singular values of R.
//!
//! R has only as many rows as the model has columns. Its singular values show which combinations of parameters the
//! data leave open. Along these, the solution with the least norm is taken.

use nalgebra::{DMatrix, DVector};

/// A singular value below this share of the largest counts as zero.
///
/// Columns are scaled to unit length first, and units play no part. The worst certified problem of the tests,
/// polynomials of degree 5, has 2e-4; rounding gives 1e-15.
const RANK_TOLERANCE: f64 = 1e-8;

/// From this squared share of a parameter in the null space, the data do not fix it.
const FREE_SHARE: f64 = 1e-4;

/// A linear model `y = X b + error`, decomposed.
#[derive(Debug, Clone)]
pub struct LeastSquares {
    /// The solution.
    pub coefficients: DVector<f64>,
    /// `y - X b`, without weights.
    pub residuals: DVector<f64>,
    /// Weighted sum of squared residuals.
    pub sum_of_squares: f64,
    /// Inverse of `X' W X`, without the free directions.
    pub unscaled_covariance: DMatrix<f64>,
    /// Number of combinations of parameters that the data fix.
    pub rank: usize,
    /// Natural logarithm of the determinant of `X' W X` over its fixed directions, with scaled columns.
    pub log_determinant: f64,
    /// For each parameter, whether the data fix it.
    pub fixed: Vec<bool>,
}

impl LeastSquares {
    /// Degrees of freedom of the residuals.
    #[must_use]
    pub fn freedom(&self) -> usize {
        self.residuals.len().saturating_sub(self.rank)
    }
}

/// Solves the problem with these weights (inverse variances up to a factor).
///
/// `columns` has one row for every value of `y`. Weights are at least 0, and no value may be NaN.
#[must_use]
pub fn solve(columns: &DMatrix<f64>, y: &DVector<f64>, weights: &DVector<f64>) -> LeastSquares {
    let (rows, count) = columns.shape();
    let roots = weights.map(f64::sqrt);
    let mut scaled = columns.clone();
    for (mut row, root) in scaled.row_iter_mut().zip(roots.iter()) {
        row *= *root;
    }
    let mut scales = DVector::from_element(count, 1.0);
    for (mut column, scale) in scaled.column_iter_mut().zip(scales.iter_mut()) {
        let norm = column.norm();
        if norm > 0.0 {
            *scale = norm;
            column /= norm;
        }
    }
    let target = y.component_mul(&roots);
    // With fewer rows than columns: rows of zeros change nothing.
    let padded = rows.max(count);
    let mut target = target.resize_vertically(padded, 0.0);
    let qr = scaled.resize_vertically(padded, 0.0).qr();
    qr.q_tr_mul(&mut target);
    let r = qr.r();
    let svd = r.svd(true, true);
    let (u, v_t) = match (svd.u, svd.v_t) {
        (Some(u), Some(v_t)) => (u, v_t),
        _ => (
            DMatrix::identity(count, count),
            DMatrix::identity(count, count),
        ), // both were asked for
    };
    let largest = svd.singular_values.iter().copied().fold(0.0, f64::max);
    let in_range = |s: f64| s > RANK_TOLERANCE * largest;
    let projected = u.tr_mul(&target.rows(0, count));
    let mut coefficients = DVector::zeros(count);
    let mut covariance = DMatrix::zeros(count, count);
    let mut free = vec![0.0; count];
    let (mut rank, mut log_determinant) = (0, 0.0);
    for (k, s) in svd.singular_values.iter().copied().enumerate() {
        let direction = v_t.row(k).transpose();
        if in_range(s) {
            rank += 1;
            log_determinant += 2.0 * libm::log(s);
            coefficients.axpy(projected[k] / s, &direction, 1.0);
            for (j, mut column) in covariance.column_iter_mut().enumerate() {
                for (sum, v) in column.iter_mut().zip(direction.iter()) {
                    *sum += v * direction[j] / (s * s);
                }
            }
        } else {
            for (share, v) in free.iter_mut().zip(direction.iter()) {
                *share += v * v;
            }
        }
    }
    log_determinant += 2.0 * scales.map(libm::log).sum();
    coefficients.component_div_assign(&scales);
    for i in 0..count {
        for j in 0..count {
            covariance[(i, j)] /= scales[i] * scales[j];
        }
    }
    let residuals = y - columns * &coefficients;
    let sum_of_squares = residuals
        .iter()
        .zip(weights.iter())
        .map(|(r, w)| w * r * r)
        .sum();
    LeastSquares {
        coefficients,
        residuals,
        sum_of_squares,
        unscaled_covariance: covariance,
        rank,
        log_determinant,
        fixed: free.iter().map(|share| *share < FREE_SHARE).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two equal columns: only their sum is fixed, a third one is.
    /// Shows (fit): `fit` says what the data do not fix; weights count rows. With: `weights_count_rows`. Source: by
    /// hand.
    #[test]
    fn what_the_data_do_not_fix_is_told() {
        let columns = DMatrix::from_fn(6, 3, |i, j| if j == 2 { i as f64 } else { 1.0 });
        let y = DVector::from_fn(6, |i, _| 4.0 + 0.5 * i as f64);
        let found = solve(&columns, &y, &DVector::from_element(6, 1.0));
        assert_eq!(found.fixed, [false, false, true]);
        assert_eq!(found.rank, 2);
        assert!((found.coefficients[0] + found.coefficients[1] - 4.0).abs() < 1e-12);
        assert!((found.coefficients[2] - 0.5).abs() < 1e-12);
    }

    /// A weight of 4 counts as four equal rows.
    #[test]
    fn weights_count_rows() {
        let columns = DMatrix::from_element(2, 1, 1.0);
        let y = DVector::from_vec(vec![1.0, 6.0]);
        let found = solve(&columns, &y, &DVector::from_vec(vec![4.0, 1.0]));
        assert!((found.coefficients[0] - 2.0).abs() < 1e-14);
        assert!((found.sum_of_squares - 20.0).abs() < 1e-12);
        assert!((found.unscaled_covariance[(0, 0)] - 0.2).abs() < 1e-14);
    }
}
