//! Small dense linear systems by Cholesky decomposition (Golub and Van Loan, "Matrix Computations", section 4.2).

/// Lower triangular `L` with `L * L^T = a`, or `None` when `a` is not positive definite. Only the lower half is read.
#[must_use]
pub fn cholesky<const N: usize>(a: &[[f64; N]; N]) -> Option<[[f64; N]; N]> {
    let mut l = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let mut sum = a[i][j];
            for k in 0..j {
                sum -= l[i][k] * l[j][k];
            }
            if i == j {
                if sum <= 0.0 {
                    return None;
                }
                l[i][i] = sum.sqrt();
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
    }
    Some(l)
}

/// Solves `a * x = b` for symmetric positive definite `a`; `None` when it is not.
#[must_use]
pub fn solve<const N: usize>(a: &[[f64; N]; N], b: &[f64; N]) -> Option<[f64; N]> {
    let l = cholesky(a)?;
    let mut x = *b;
    for i in 0..N {
        for k in 0..i {
            x[i] -= l[i][k] * x[k];
        }
        x[i] /= l[i][i];
    }
    for i in (0..N).rev() {
        for k in i + 1..N {
            x[i] -= l[k][i] * x[k];
        }
        x[i] /= l[i][i];
    }
    Some(x)
}

/// The inverse of a lower triangular matrix with a nonzero diagonal.
#[must_use]
pub fn invert_lower<const N: usize>(l: &[[f64; N]; N]) -> [[f64; N]; N] {
    let mut inverse = [[0.0; N]; N];
    for column in 0..N {
        for i in column..N {
            let mut sum = f64::from(u8::from(i == column));
            for k in column..i {
                sum -= l[i][k] * inverse[k][column];
            }
            inverse[i][column] = sum / l[i][i];
        }
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A worked example small enough to check by hand: [[4, 2], [2, 3]] = [[2, 0], [1, sqrt 2]] squared.
    #[test]
    fn by_hand() {
        let a = [[4.0, 2.0], [2.0, 3.0]];
        let l = cholesky(&a).unwrap();
        assert_eq!(l[0], [2.0, 0.0]);
        assert!((l[1][0] - 1.0).abs() < 1e-12 && (l[1][1] - 2.0_f64.sqrt()).abs() < 1e-12);
        let x = solve(&a, &[10.0, 9.0]).unwrap();
        assert!((x[0] - 1.5).abs() < 1e-12 && (x[1] - 2.0).abs() < 1e-12);
        let inverse = invert_lower(&l);
        assert!((inverse[0][0] - 0.5).abs() < 1e-12 && (inverse[1][0] + 0.5 / 2.0_f64.sqrt()).abs() < 1e-12);
        assert!(cholesky(&[[1.0, 2.0], [2.0, 1.0]]).is_none());
    }
}
