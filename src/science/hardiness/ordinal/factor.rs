//! Cholesky factor of the dense border, and its inverse, in rows that the compiler turns into vector instructions of whatever the processor has
//! (chosen at run time by `pulp`): at some hundred effects and few records the border is most of a fit, and the general solver, which is built
//! for every processor alike, took half of the time of a thousand reports.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use nalgebra::{DMatrix, DVector};

use crate::science::numeric::vectorised;

/// Rows taken together, so that what is added up is loaded and stored once for all of them.
const TOGETHER: usize = 4;
/// Numbers summed side by side.
const LANES: usize = 8;

/// L of S = LL'.
pub(super) struct Factor {
    d: usize,
    /// Row after row, noughts above the diagonal.
    l: Vec<f64>,
}

impl Factor {
    /// Of a symmetric matrix, whose lower triangle is read, with `ridge` added to its diagonal; `None` where it is not positive definite.
    pub fn new(matrix: &DMatrix<f64>, ridge: f64) -> Option<Self> {
        let d = matrix.nrows();
        let mut l = vec![0.0; d * d];
        // The matrix is symmetric, so its columns are its rows.
        for (row, (to, from)) in l.chunks_exact_mut(d.max(1)).zip(matrix.as_slice().chunks_exact(d.max(1))).enumerate() {
            to[..=row].copy_from_slice(&from[..=row]);
            to[row] += ridge;
        }
        let definite = vectorised(
            #[inline(always)]
            || decompose(&mut l, d),
        );
        definite.then_some(Self { d, l })
    }

    /// S⁻¹y.
    pub fn solve(&self, y: &DVector<f64>) -> DVector<f64> {
        let mut x = y.clone();
        let values = x.as_mut_slice();
        vectorised(
            #[inline(always)]
            || {
                for i in 0..self.d {
                    let row = &self.l[i * self.d..(i + 1) * self.d];
                    values[i] = (values[i] - dot(&row[..i], &values[..i])) / row[i];
                }
                for i in (0..self.d).rev() {
                    let row = &self.l[i * self.d..(i + 1) * self.d];
                    let x = values[i] / row[i];
                    values[i] = x;
                    for (to, from) in values[..i].iter_mut().zip(&row[..i]) {
                        *to -= x * from;
                    }
                }
            },
        );
        x
    }

    /// log|S|.
    pub fn log_determinant(&self) -> f64 {
        2.0 * (0..self.d).map(|i| self.l[i * self.d + i].ln()).sum::<f64>()
    }

    /// S⁻¹ = W'W with W = L⁻¹.
    pub fn inverse(&self) -> DMatrix<f64> {
        let d = self.d;
        let (mut w, mut inverse) = (vec![0.0; d * d], vec![0.0; d * d]);
        vectorised(
            #[inline(always)]
            || {
                self.invert_triangle(&mut w);
                square(&w, d, &mut inverse);
            },
        );
        let mut inverse = DMatrix::from_vec(d, d, inverse);
        // What was filled row by row is, column by column, the upper triangle.
        inverse.fill_lower_triangle_with_upper_triangle();
        inverse
    }

    /// Row i of L⁻¹ is (e_i − Σ_{k<i} l_ik · row k) / l_ii.
    #[inline(always)]
    fn invert_triangle(&self, w: &mut [f64]) {
        let d = self.d;
        for i in 0..d {
            let (done, row) = w.split_at_mut(i * d);
            let row = &mut row[..d];
            let line = &self.l[i * d..(i + 1) * d];
            row[i] = 1.0;
            let mut k = 0;
            while k + TOGETHER <= i {
                let factors = [-line[k], -line[k + 1], -line[k + 2], -line[k + 3]];
                add(&mut row[..k + TOGETHER], factors, |j| &done[(k + j) * d..(k + j) * d + k + TOGETHER]);
                k += TOGETHER;
            }
            for k in k..i {
                let factor = line[k];
                for (to, from) in row[..=k].iter_mut().zip(&done[k * d..=k * d + k]) {
                    *to -= factor * from;
                }
            }
            let scale = 1.0 / line[i];
            row[..=i].iter_mut().for_each(|x| *x *= scale);
        }
    }
}

/// L from the rows of S, some rows together, so that each row above them is loaded once for all; false where the matrix is not positive definite.
#[inline(always)]
fn decompose(l: &mut [f64], d: usize) -> bool {
    let mut first = 0;
    while first < d {
        let together = if first + TOGETHER <= d { TOGETHER } else { 1 };
        let (above, rows) = l.split_at_mut(first * d);
        if together == TOGETHER {
            let (a, rest) = rows.split_at_mut(d);
            let (b, rest) = rest.split_at_mut(d);
            let (c, rest) = rest.split_at_mut(d);
            let e = &mut rest[..d];
            for j in 0..first {
                let other = &above[j * d..=j * d + j];
                let sums = dots([&a[..j], &b[..j], &c[..j], &e[..j]], &other[..j]);
                let inverse = 1.0 / other[j];
                a[j] = (a[j] - sums[0]) * inverse;
                b[j] = (b[j] - sums[1]) * inverse;
                c[j] = (c[j] - sums[2]) * inverse;
                e[j] = (e[j] - sums[3]) * inverse;
            }
        }
        for i in first..first + together {
            let (above, row) = l.split_at_mut(i * d);
            let row = &mut row[..d];
            for j in if together == 1 { 0 } else { first }..i {
                let other = &above[j * d..=j * d + j];
                row[j] = (row[j] - dot(&row[..j], &other[..j])) / other[j];
            }
            let rest = row[i] - dot(&row[..i], &row[..i]);
            if !(rest > 0.0 && rest.is_finite()) {
                return false;
            }
            row[i] = rest.sqrt();
        }
        first += together;
    }
    true
}

/// Lower triangle of W'W, row after row.
#[inline(always)]
fn square(w: &[f64], d: usize, to: &mut [f64]) {
    let mut i = 0;
    while i + TOGETHER <= d {
        for a in 0..i + TOGETHER {
            let factors = [w[i * d + a], w[(i + 1) * d + a], w[(i + 2) * d + a], w[(i + 3) * d + a]];
            add(&mut to[a * d..=a * d + a], factors, |j| &w[(i + j) * d..=(i + j) * d + a]);
        }
        i += TOGETHER;
    }
    for i in i..d {
        for a in 0..=i {
            let factor = w[i * d + a];
            for (to, from) in to[a * d..=a * d + a].iter_mut().zip(&w[i * d..=i * d + a]) {
                *to += factor * from;
            }
        }
    }
}

/// Adds multiples of as many rows as are taken together, all of the same length.
#[inline(always)]
fn add<'r>(to: &mut [f64], factors: [f64; TOGETHER], row: impl Fn(usize) -> &'r [f64]) {
    let n = to.len();
    let (a, b, c, e) = (&row(0)[..n], &row(1)[..n], &row(2)[..n], &row(3)[..n]);
    for i in 0..n {
        to[i] += (factors[0] * a[i] + factors[1] * b[i]) + (factors[2] * c[i] + factors[3] * e[i]);
    }
}

/// Inner products of as many rows as are taken together with another.
#[inline(always)]
fn dots(rows: [&[f64]; TOGETHER], with: &[f64]) -> [f64; TOGETHER] {
    let (chunks, rest) = with.as_chunks::<LANES>();
    let [(a, x), (b, y), (c, z), (e, w)] =
        [rows[0].as_chunks::<LANES>(), rows[1].as_chunks::<LANES>(), rows[2].as_chunks::<LANES>(), rows[3].as_chunks::<LANES>()];
    let mut sums = [[0.0; LANES]; TOGETHER];
    for ((((with, a), b), c), e) in chunks.iter().zip(a).zip(b).zip(c).zip(e) {
        for i in 0..LANES {
            sums[0][i] += a[i] * with[i];
            sums[1][i] += b[i] * with[i];
            sums[2][i] += c[i] * with[i];
            sums[3][i] += e[i] * with[i];
        }
    }
    let mut all = [0.0; TOGETHER];
    for (all, (sums, more)) in all.iter_mut().zip(sums.iter().zip([x, y, z, w])) {
        let rest: f64 = more.iter().zip(rest).map(|(a, b)| a * b).sum();
        *all = folded(sums) + rest;
    }
    all
}

/// Sums side by side, added up.
#[inline(always)]
fn folded(sums: &[f64; LANES]) -> f64 {
    ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7]))
}

/// Inner product, in sums side by side.
#[inline(always)]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a, rest_of_a) = a.as_chunks::<LANES>();
    let (b, rest_of_b) = b.as_chunks::<LANES>();
    let mut sums = [0.0; LANES];
    for (a, b) in a.iter().zip(b) {
        for i in 0..LANES {
            sums[i] += a[i] * b[i];
        }
    }
    let rest: f64 = rest_of_a.iter().zip(rest_of_b).map(|(a, b)| a * b).sum();
    folded(&sums) + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Cholesky;

    /// Against nalgebra's own factorisation, at sizes around those of whole groups of rows and lanes.
    #[test]
    fn solution_determinant_and_inverse_are_those_of_the_library() {
        for d in [0, 1, 2, 3, 4, 5, 8, 9, 17, 40, 93] {
            let root = DMatrix::from_fn(d, d, |i, j| ((i * 7 + j * 13) % 11) as f64 / 11.0 - 0.4);
            let matrix = &root * root.transpose() + DMatrix::identity(d, d) * 0.3;
            let ours = Factor::new(&matrix, 0.0).unwrap();
            let theirs = Cholesky::new(matrix.clone()).unwrap();
            let y = DVector::from_fn(d, |i, _| (i as f64).sin());
            let scale = 1.0 + theirs.inverse().amax();
            assert!((ours.solve(&y) - theirs.solve(&y)).amax() < 1e-12 * scale * (1.0 + d as f64), "{d}");
            assert!((ours.inverse() - theirs.inverse()).amax() < 1e-12 * scale, "{d}");
            assert!((ours.log_determinant() - theirs.determinant().ln()).abs() < 1e-10, "{d}");
        }
    }

    // Determinant 1 − 4 < 0; 1.5 more on the diagonal makes it 6.25 − 4.
    #[test]
    fn a_matrix_that_is_not_positive_definite_has_none_until_it_is_propped_up() {
        let matrix = DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0]);
        assert!(Factor::new(&matrix, 0.0).is_none());
        assert!((Factor::new(&matrix, 1.5).unwrap().log_determinant() - 2.25f64.ln()).abs() < 1e-14);
        assert!(Factor::new(&DMatrix::from_element(1, 1, f64::NAN), 0.0).is_none());
    }
}
