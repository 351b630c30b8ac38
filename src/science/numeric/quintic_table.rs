//! A smooth function between even points at which its value and its first two derivatives are known: a quintic on each piece (Hermite).
//!
//! Error ≤ h⁶/46,080 · max|f⁽⁶⁾| for a distance h of the points; arguments beyond the ends read the end piece on.

/// Value, slope and curvature at a point.
pub type Jet = [f64; 3];

/// The pieces, each by its coefficients from the constant, over 0..1.
#[derive(Debug, Clone)]
pub struct QuinticTable {
    start: f64,
    per_step: f64,
    pieces: Vec<[f64; 6]>,
}

impl QuinticTable {
    /// From what is known at `start + i · step`, at two points at least; `step` > 0.
    pub fn new(start: f64, step: f64, jets: &[Jet]) -> Self {
        let piece = |ends: &[Jet; 2]| {
            let [[f0, d0, s0], [f1, d1, s1]] = ends.map(|[f, d, s]| [f, step * d, step * step * s]);
            // What a parabola from the first end misses at the second, in value, slope and curvature.
            let (a, b, c) = (f1 - f0 - d0 - 0.5 * s0, d1 - d0 - s0, s1 - s0);
            [f0, d0, 0.5 * s0, 10.0 * a - 4.0 * b + 0.5 * c, -15.0 * a + 7.0 * b - c, 6.0 * a - 3.0 * b + 0.5 * c]
        };
        Self { start, per_step: 1.0 / step, pieces: jets.array_windows().map(piece).collect() }
    }

    /// The function at `x`.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        let place = (x - self.start) * self.per_step;
        let i = (place as usize).min(self.pieces.len() - 1);
        let t = place - i as f64;
        match self.pieces.get(i) {
            Some([a, b, c, d, e, f]) => a + t * (b + t * (c + t * (d + t * (e + t * f)))),
            None => f64::NAN,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quintic_is_read_back_exactly_and_a_smooth_wave_within_its_bound() {
        let quintic = |x: f64| [x.powi(5) - 2.0 * x.powi(3) + 1.0, 5.0 * x.powi(4) - 6.0 * x * x, 20.0 * x.powi(3) - 12.0 * x];
        let wave = |x: f64| [x.sin(), x.cos(), -x.sin()];
        let jets = |f: &dyn Fn(f64) -> Jet| (0..=10).map(|i| f(-2.0 + 0.4 * f64::from(i))).collect::<Vec<_>>();
        let tables = [QuinticTable::new(-2.0, 0.4, &jets(&quintic)), QuinticTable::new(-2.0, 0.4, &jets(&wave))];
        for i in 0..=400 {
            let x = -2.0 + 0.01 * f64::from(i);
            assert!((tables[0].at(x) - quintic(x)[0]).abs() < 1e-11, "{x}");
            assert!((tables[1].at(x) - x.sin()).abs() < 0.4f64.powi(6) / 46_080.0 + 1e-15, "{x}");
        }
    }
}
