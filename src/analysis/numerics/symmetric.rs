//! Small dense symmetric positive matrices, row by row in one slice, without allocation in the solver.

/// Replaces the lower triangle of `a` (n x n) by its Cholesky factor. `false` when a pivot falls to `tolerance`
/// times its diagonal element or below: the matrix is singular to working precision.
pub fn cholesky(a: &mut [f64], n: usize, tolerance: f64) -> bool {
    for j in 0..n {
        let diagonal = a[j * n + j];
        let mut pivot = diagonal;
        for k in 0..j {
            pivot -= a[j * n + k] * a[j * n + k];
        }
        // Written so that NaN fails too.
        if !(pivot > tolerance * diagonal && pivot.is_finite()) {
            return false;
        }
        let root = pivot.sqrt();
        a[j * n + j] = root;
        for i in j + 1..n {
            let mut sum = a[i * n + j];
            for k in 0..j {
                sum -= a[i * n + k] * a[j * n + k];
            }
            a[i * n + j] = sum / root;
        }
    }
    true
}

/// Solves `L L' x = b` in place, `l` from [`cholesky`].
pub fn solve_cholesky(l: &[f64], n: usize, b: &mut [f64]) {
    for i in 0..n {
        let mut sum = b[i];
        for k in 0..i {
            sum -= l[i * n + k] * b[k];
        }
        b[i] = sum / l[i * n + i];
    }
    for i in (0..n).rev() {
        let mut sum = b[i];
        for k in i + 1..n {
            sum -= l[k * n + i] * b[k];
        }
        b[i] = sum / l[i * n + i];
    }
}

/// Logarithm of the determinant from the factor.
pub fn log_determinant(l: &[f64], n: usize) -> f64 {
    (0..n).map(|i| 2.0 * l[i * n + i].ln()).sum()
}

/// The inverse of a symmetric positive matrix, scaled to unit diagonal first so that units do not matter; `None`
/// when singular (a scaled pivot of 1e-12 or less).
pub fn inverse(a: &[f64], n: usize) -> Option<Vec<f64>> {
    let scales: Vec<f64> = (0..n).map(|i| a[i * n + i].sqrt()).collect();
    if scales.iter().any(|scale| !(*scale > 0.0 && scale.is_finite())) {
        return None;
    }
    let mut factor: Vec<f64> = (0..n * n).map(|k| a[k] / (scales[k / n] * scales[k % n])).collect();
    if !cholesky(&mut factor, n, 1e-12) {
        return None;
    }
    let mut out = vec![0.0; n * n];
    let mut column = vec![0.0; n];
    for j in 0..n {
        column.fill(0.0);
        column[j] = 1.0;
        solve_cholesky(&factor, n, &mut column);
        for i in 0..n {
            out[i * n + j] = column[i] / (scales[i] * scales[j]);
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_times_matrix_is_one() {
        let a = [4.0, 2.0, 0.6, 2.0, 5.0, 1.0, 0.6, 1.0, 3.0e6];
        let b = inverse(&a, 3).unwrap();
        for i in 0..3 {
            for j in 0..3 {
                let sum: f64 = (0..3).map(|k| a[i * 3 + k] * b[k * 3 + j]).sum();
                assert!((sum - f64::from(u8::from(i == j))).abs() < 1e-9, "{i} {j} {sum}");
            }
        }
    }

    #[test]
    fn a_singular_matrix_has_no_inverse() {
        assert!(inverse(&[1.0, 1.0, 1.0, 1.0], 2).is_none());
        assert!(inverse(&[1.0, 0.0, 0.0, f64::NAN], 2).is_none());
    }

    #[test]
    fn determinant_of_a_known_matrix() {
        let mut a = [4.0, 2.0, 2.0, 5.0];
        assert!(cholesky(&mut a, 2, 0.0));
        assert!((log_determinant(&a, 2) - 16f64.ln()).abs() < 1e-14);
    }
}
