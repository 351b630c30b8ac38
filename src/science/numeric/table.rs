//! A smooth function kept on an even grid and read back by four-point (cubic Lagrange) interpolation.
//!
//! Error ≤ 3/128 · h⁴ · max|f⁗| inside the grid; arguments beyond the ends read the end value.

/// A cubic between each two points, through them and their neighbours.
#[derive(Debug, Clone)]
pub struct SmoothTable {
    /// The first argument that is not beyond an end.
    low: f64,
    per_step: f64,
    /// Coefficients over 0..1, from the constant; at least one piece.
    pieces: Vec<[f64; 4]>,
}

impl SmoothTable {
    /// Fills the table from `low` to at least `high` with one more point beyond each end. `step` > 0.
    pub fn fill(low: f64, high: f64, step: f64, f: impl Fn(f64) -> f64) -> Self {
        Self::fill_at_once(low, high, step, |values| values.iter_mut().for_each(|x| *x = f(*x)))
    }

    /// The same by a function that puts all values in the place of their arguments.
    pub fn fill_at_once(low: f64, high: f64, step: f64, f: impl FnOnce(&mut [f64])) -> Self {
        let start = low - step;
        let points = ((high - low) / step).ceil().max(1.0) as usize + 3;
        let mut values: Vec<f64> = (0..points).map(|i| start + step * i as f64).collect();
        f(&mut values);
        let piece = |[a, b, c, d]: &[f64; 4]| {
            [*b, (-2.0 * a - 3.0 * b + 6.0 * c - d) / 6.0, (a - 2.0 * b + c) / 2.0, (3.0 * (b - c) - a + d) / 6.0]
        };
        Self { low, per_step: 1.0 / step, pieces: values.array_windows().map(piece).collect() }
    }

    /// The function at `x`.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        let place = ((x - self.low) * self.per_step).clamp(0.0, self.pieces.len() as f64);
        let i = (place as usize).min(self.pieces.len() - 1);
        let t = place - i as f64;
        self.pieces.get(i).map_or(f64::NAN, |[a, b, c, d]| a + t * (b + t * (c + t * d)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cubic_is_read_back_exactly_and_a_smooth_step_within_its_bound() {
        let cubic = |x: f64| 0.3 * x * x * x - x * x + 2.0;
        let table = SmoothTable::fill(-3.0, 4.0, 0.25, cubic);
        let step = SmoothTable::fill(-20.0, 20.0, 0.25, |x| 1.0 / (1.0 + (-x).exp()));
        for i in 0..=700 {
            let x = -3.0 + 0.01 * f64::from(i);
            assert!((table.at(x) - cubic(x)).abs() < 1e-9, "{x}");
            assert!((step.at(x) - 1.0 / (1.0 + (-x).exp())).abs() < 2e-5, "{x}");
        }
        assert!((step.at(-100.0) - step.at(-20.0)).abs() < 1e-9);
    }
}
