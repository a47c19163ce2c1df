//! Small dense linear algebra: what least squares needs, no more.

/// Solves `a · x = b` for a symmetric positive definite `a` (row by row, `n` by `n`) by Cholesky's
/// method. `None` where `a` is not positive definite to working precision.
pub(super) fn solve(a: &[f64], b: &[f64]) -> Option<Vec<f64>> {
    let n = b.len();
    let lower = cholesky(a, n)?;
    Some(back_substitute(&lower, b))
}

/// The inverse of a symmetric positive definite matrix.
pub(super) fn inverse(a: &[f64], n: usize) -> Option<Vec<f64>> {
    let lower = cholesky(a, n)?;
    let mut out = vec![0.0; n * n];
    for column in 0..n {
        let mut unit = vec![0.0; n];
        unit[column] = 1.0;
        for (row, value) in back_substitute(&lower, &unit).into_iter().enumerate() {
            out[row * n + column] = value;
        }
    }
    Some(out)
}

/// The lower factor, found on the matrix scaled to a unit diagonal so that unknowns of very
/// different size do not spoil the test for rank; the scale is folded back in.
fn cholesky(a: &[f64], n: usize) -> Option<Vec<f64>> {
    let scale: Vec<f64> = (0..n).map(|i| a[i * n + i].sqrt()).collect();
    if scale.iter().any(|s| !(s.is_finite() && *s > 0.0)) {
        return None;
    }
    let mut lower = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..=i {
            let mut sum = a[i * n + j] / (scale[i] * scale[j]);
            for k in 0..j {
                sum -= lower[i * n + k] * lower[j * n + k];
            }
            if i == j {
                if !(sum.is_finite() && sum > 1e-14) {
                    return None;
                }
                lower[i * n + i] = sum.sqrt();
            } else {
                lower[i * n + j] = sum / lower[j * n + j];
            }
        }
    }
    for i in 0..n {
        for j in 0..=i {
            lower[i * n + j] *= scale[i];
        }
    }
    Some(lower)
}

fn back_substitute(lower: &[f64], b: &[f64]) -> Vec<f64> {
    let n = b.len();
    let mut x = b.to_vec();
    for i in 0..n {
        for k in 0..i {
            x[i] -= lower[i * n + k] * x[k];
        }
        x[i] /= lower[i * n + i];
    }
    for i in (0..n).rev() {
        for k in i + 1..n {
            x[i] -= lower[k * n + i] * x[k];
        }
        x[i] /= lower[i * n + i];
    }
    x
}

/// Eigenvalues and eigenvectors (as columns) of a symmetric 9 by 9 matrix, smallest first, by
/// Jacobi's rotations.
pub(super) fn eigen9(matrix: &[[f64; 9]; 9]) -> ([f64; 9], [[f64; 9]; 9]) {
    let mut a = *matrix;
    let mut v = [[0.0; 9]; 9];
    for (i, row) in v.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for _ in 0..60 {
        let off: f64 = (0..9).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| a[i][j] * a[i][j]).sum();
        if !(off.is_finite() && off > 1e-300) {
            break;
        }
        for p in 0..9 {
            for q in p + 1..9 {
                if a[p][q] == 0.0 {
                    continue;
                }
                let theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
                let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
                let t = if theta == 0.0 { 1.0 } else { t };
                let c = 1.0 / (t * t + 1.0).sqrt();
                let s = t * c;
                for row in &mut a {
                    let (x, y) = (row[p], row[q]);
                    row[p] = c * x - s * y;
                    row[q] = s * x + c * y;
                }
                let (upper, lower) = a.split_at_mut(q);
                for (x, y) in upper[p].iter_mut().zip(&mut lower[0]) {
                    (*x, *y) = (c * *x - s * *y, s * *x + c * *y);
                }
                for row in &mut v {
                    let (x, y) = (row[p], row[q]);
                    row[p] = c * x - s * y;
                    row[q] = s * x + c * y;
                }
            }
        }
    }
    let mut order: [usize; 9] = std::array::from_fn(|i| i);
    order.sort_by(|i, j| a[*i][*i].total_cmp(&a[*j][*j]));
    let values = order.map(|i| a[i][i]);
    let vectors = std::array::from_fn(|row| order.map(|i| v[row][i]));
    (values, vectors)
}

/// Normal equations that grow row by row: `Σ w·jᵀj` and `Σ w·jᵀr`.
pub(super) struct Normal {
    pub(super) n: usize,
    pub(super) matrix: Vec<f64>,
    pub(super) right: Vec<f64>,
}

impl Normal {
    pub(super) fn new(n: usize) -> Self {
        Self { n, matrix: vec![0.0; n * n], right: vec![0.0; n] }
    }

    /// Adds one equation: `row · step = residual`, with a weight.
    pub(super) fn add(&mut self, row: &[f64], residual: f64, weight: f64) {
        for (i, a) in row.iter().enumerate() {
            if *a == 0.0 {
                continue;
            }
            let scaled = weight * a;
            self.right[i] += scaled * residual;
            for (cell, b) in self.matrix[i * self.n..(i + 1) * self.n].iter_mut().zip(row) {
                *cell += scaled * b;
            }
        }
    }

    pub(super) fn solve(&self) -> Option<Vec<f64>> {
        solve(&self.matrix, &self.right)
    }

    pub(super) fn inverse(&self) -> Option<Vec<f64>> {
        inverse(&self.matrix, self.n)
    }
}

/// The middle value; 0 for none.
pub(super) fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_with_a_known_answer_is_solved() {
        // 4x + 2y = 10, 2x + 3y = 9 has x = 1.5, y = 2.
        let x = solve(&[4.0, 2.0, 2.0, 3.0], &[10.0, 9.0]).unwrap();
        assert!((x[0] - 1.5).abs() < 1e-12 && (x[1] - 2.0).abs() < 1e-12, "{x:?}");
        assert_eq!(solve(&[1.0, 1.0, 1.0, 1.0], &[1.0, 1.0]), None);
        assert_eq!(solve(&[f64::NAN, 0.0, 0.0, 1.0], &[1.0, 1.0]), None);
    }

    #[test]
    fn eigenvectors_give_the_matrix_back() {
        let matrix: [[f64; 9]; 9] = std::array::from_fn(|i| {
            std::array::from_fn(|j| 1.0 / (i + j + 1) as f64 + if i == j { i as f64 } else { 0.0 })
        });
        let (values, vectors) = eigen9(&matrix);
        for i in 0..9 {
            for j in 0..9 {
                let back: f64 = (0..9).map(|k| vectors[i][k] * values[k] * vectors[j][k]).sum();
                assert!((back - matrix[i][j]).abs() < 1e-12, "{i} {j}: {back}");
            }
        }
        assert!(values.windows(2).all(|pair| pair[0] <= pair[1]));
    }
}
