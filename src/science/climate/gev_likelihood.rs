//! The negative log likelihood of a GEV with its first and second derivatives, in the parameters that fits and profiles run over.
//!
//! One value x with s = (x − μ)/σ adds ln σ + (1 + ξ)·T + exp(−T), T = ln(1 + ξs)/ξ (Coles 2001, eq. 3.7). T and its derivatives in ξ are
//! taken from their power series in ξs where that is small, since the closed forms lose all their digits there.

use nalgebra::{SMatrix, SVector};

use crate::science::numeric::newton::Jet;

/// Shapes at and below −1 have an unbounded likelihood.
pub(super) const LEAST_SHAPE: f64 = -1.0;
/// |ξs| below which the power series is used: twelve terms of it are exact to rounding there.
const SERIES_BELOW: f64 = 0.05;
/// The same for |ξ·y| of a quantile.
const QUANTILE_SERIES_BELOW: f64 = 0.1;
/// Terms of either series.
const TERMS: i32 = 13;

/// Beta density of the shape on −½ to ½, as a weight on the likelihood ("generalised maximum likelihood").
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapePrior {
    /// Exponent plus one of (½ − ξ).
    p: f64,
    /// Exponent plus one of (½ + ξ).
    q: f64,
}

impl ShapePrior {
    /// The prior of Martins & Stedinger (2000), Water Resources Research 36, 737–744: in their sign κ = −ξ a beta density with p = 6 and q = 9,
    /// mean of ξ 0.10, standard deviation 0.122. It was made for floods; on yearly minima of three long station records (blocks of 20 and 30
    /// winters, held against the winters left out) it predicts better than plain maximum likelihood at each: 50-winter levels are passed in
    /// 1.9 to 3.1 % of winters instead of 6.3 to 6.7 (COMPUTED, 2 % is right).
    pub const MARTINS_STEDINGER: Self = Self { p: 6.0, q: 9.0 };

    /// −ln of the density, without its constant, and the first two derivatives; `None` outside −½ to ½.
    fn penalty(self, shape: f64) -> Option<[f64; 3]> {
        let (high, low) = (0.5 - shape, 0.5 + shape);
        let (p, q) = (self.p - 1.0, self.q - 1.0);
        (high > 0.0 && low > 0.0).then(|| [-p * high.ln() - q * low.ln(), p / high - q / low, p / (high * high) + q / (low * low)])
    }
}

/// What one value adds, less ln σ, with its derivatives in s and ξ.
struct Term {
    value: f64,
    s: f64,
    shape: f64,
    ss: f64,
    s_shape: f64,
    shape_shape: f64,
}

impl Term {
    /// `None` outside the support.
    fn of(shape: f64, s: f64) -> Option<Self> {
        let u = shape * s;
        if u <= -1.0 {
            return None;
        }
        // T = s·L(u), L(u) = ln(1 + u)/u, and its derivatives in ξ.
        let (t, t_shape, t_shape_shape) = if u.abs() < SERIES_BELOW {
            let (mut l, mut l1, mut l2) = (0.0, 0.0, 0.0);
            for k in (0..TERMS).rev() {
                let term = if k % 2 == 0 { 1.0 } else { -1.0 } / f64::from(k + 1);
                l = l * u + term;
                if k >= 1 {
                    l1 = l1 * u + f64::from(k) * term;
                }
                if k >= 2 {
                    l2 = l2 * u + f64::from(k * (k - 1)) * term;
                }
            }
            (s * l, s * s * l1, s * s * s * l2)
        } else {
            let t = u.ln_1p() / shape;
            let inverse = s / (1.0 + u);
            let t_shape = (inverse - t) / shape;
            (t, t_shape, -(inverse * inverse + 2.0 * t_shape) / shape)
        };
        let (w, e) = (1.0 / (1.0 + u), (-t).exp());
        // Of (1 + ξ)·T + exp(−T) in T.
        let slope = 1.0 + shape - e;
        Some(Self {
            value: (1.0 + shape) * t + e,
            s: slope * w,
            shape: slope * t_shape + t,
            ss: e * w * w - slope * shape * w * w,
            s_shape: e * w * t_shape - slope * s * w * w + w,
            shape_shape: e * t_shape * t_shape + slope * t_shape_shape + 2.0 * t_shape,
        })
    }
}

/// How s and ξ of one value depend on the parameters.
struct Chain<const N: usize> {
    s: f64,
    slope: SVector<f64, N>,
    bend: SMatrix<f64, N, N>,
}

/// The sum over a sample, with ln σ at place `log_scale` of the parameters and ξ, unless it is fixed, at place `at_shape`.
fn total<const N: usize>(
    shape: f64,
    (ln_scale, log_scale, at_shape): (f64, usize, Option<usize>),
    prior: Option<ShapePrior>,
    chains: impl Iterator<Item = Chain<N>>,
) -> Option<Jet<N>> {
    if shape <= LEAST_SHAPE {
        return None;
    }
    let mut jet = Jet::zero();
    for Chain { s, slope, bend } in chains {
        let term = Term::of(shape, s)?;
        jet.value += ln_scale + term.value;
        jet.gradient += slope * term.s;
        jet.gradient[log_scale] += 1.0;
        jet.hessian += slope * slope.transpose() * term.ss + bend * term.s;
        if let Some(k) = at_shape {
            jet.gradient[k] += term.shape;
            for i in 0..N {
                jet.hessian[(i, k)] += term.s_shape * slope[i];
                jet.hessian[(k, i)] += term.s_shape * slope[i];
            }
            jet.hessian[(k, k)] += term.shape_shape;
        }
    }
    if let Some(prior) = prior {
        let [value, slope, bend] = prior.penalty(shape)?;
        jet.value += value;
        if let Some(k) = at_shape {
            jet.gradient[k] += slope;
            jet.hessian[(k, k)] += bend;
        }
    }
    Some(jet)
}

/// In location, ln σ and shape.
pub(super) fn stationary(sample: &[f64], &[location, ln_scale, shape]: &[f64; 3], prior: Option<ShapePrior>) -> Option<Jet<3>> {
    let per = (-ln_scale).exp();
    let chains = sample.iter().map(|x| {
        let s = (x - location) * per;
        Chain { s, slope: SVector::from([-per, -s, 0.0]), bend: SMatrix::from([[0.0, per, 0.0], [per, s, 0.0], [0.0, 0.0, 0.0]]) }
    });
    total(shape, (ln_scale, 1, Some(2)), prior, chains)
}

/// In location and ln σ, at a fixed shape.
pub(super) fn at_shape(sample: &[f64], shape: f64, &[location, ln_scale]: &[f64; 2], prior: Option<ShapePrior>) -> Option<Jet<2>> {
    let per = (-ln_scale).exp();
    let chains = sample.iter().map(|x| {
        let s = (x - location) * per;
        Chain { s, slope: SVector::from([-per, -s]), bend: SMatrix::from([[0.0, per], [per, s]]) }
    });
    total(shape, (ln_scale, 1, None), prior, chains)
}

/// In ln σ and shape, where the value stayed below with probability `p` is fixed at `level`.
pub(super) fn at_level(sample: &[f64], (level, p): (f64, f64), &[ln_scale, shape]: &[f64; 2], prior: Option<ShapePrior>) -> Option<Jet<2>> {
    let per = (-ln_scale).exp();
    let [r, r1, r2] = reduced(shape, p);
    let chains = sample.iter().map(|x| {
        let d = (x - level) * per;
        Chain { s: d + r, slope: SVector::from([-d, r1]), bend: SMatrix::from([[d, 0.0], [0.0, r2]]) }
    });
    total(shape, (ln_scale, 0, Some(1)), prior, chains)
}

/// In the location at time 0, its change per unit of time, ln σ and shape; points are (time, value).
pub(super) fn moving(points: &[(f64, f64)], &[location, rate, ln_scale, shape]: &[f64; 4], prior: Option<ShapePrior>) -> Option<Jet<4>> {
    let per = (-ln_scale).exp();
    let chains = points.iter().map(|(t, x)| {
        let s = (x - location - rate * t) * per;
        let mut bend = SMatrix::<f64, 4, 4>::zeros();
        (bend[(0, 2)], bend[(2, 0)], bend[(1, 2)], bend[(2, 1)], bend[(2, 2)]) = (per, per, t * per, t * per, s);
        Chain { s, slope: SVector::from([-per, -t * per, -s, 0.0]), bend }
    });
    total(shape, (ln_scale, 2, Some(3)), prior, chains)
}

/// (quantile − location)/scale at probability `p`, expm1(ξy)/ξ with y = −ln(−ln p), and its first two derivatives in ξ.
fn reduced(shape: f64, p: f64) -> [f64; 3] {
    let y = -(-p.ln()).ln();
    let v = shape * y;
    if v.abs() < QUANTILE_SERIES_BELOW {
        let mut factorial = 1.0;
        let (mut e, mut e1, mut e2, mut power) = (0.0, 0.0, 0.0, 1.0);
        // Σ vᵏ/(k + 1)! and its derivatives in v, each term from the power of v two below.
        let mut powers = [0.0; 2];
        for k in 0..TERMS {
            factorial *= f64::from(k + 1);
            e += power / factorial;
            e1 += f64::from(k) * powers[1] / factorial;
            e2 += f64::from(k * (k - 1)) * powers[0] / factorial;
            powers = [powers[1], power];
            power *= v;
        }
        [y * e, y * y * e1, y * y * y * e2]
    } else {
        let grown = v.exp();
        [v.exp_m1() / shape, y * y * (grown * (v - 1.0) + 1.0) / (v * v), y.powi(3) * (grown * (v * v - 2.0 * v + 2.0) - 2.0) / v.powi(3)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SAMPLE: [f64; 8] = [3.1, 4.4, 5.0, 5.9, 6.6, 8.2, 9.9, 13.0];
    const PRIOR: Option<ShapePrior> = Some(ShapePrior::MARTINS_STEDINGER);

    /// Central differences of value and gradient against gradient and second derivatives.
    fn holds<const N: usize>(f: impl Fn(&[f64; N]) -> Option<Jet<N>>, at: [f64; N]) -> Result<(), TestCaseError> {
        let Some(jet) = f(&at) else { return Ok(()) };
        let step = 1e-5;
        for i in 0..N {
            let moved = |by: f64| {
                let mut p = at;
                p[i] += by;
                f(&p)
            };
            let (Some(up), Some(down)) = (moved(step), moved(-step)) else { return Ok(()) };
            let near = |a: f64, b: f64| (a - b).abs() < 1e-4 * (1.0 + a.abs().max(b.abs()));
            prop_assert!(near(jet.gradient[i], (up.value - down.value) / (2.0 * step)), "{i}: {jet:?}");
            for j in 0..N {
                prop_assert!(near(jet.hessian[(i, j)], (up.gradient[j] - down.gradient[j]) / (2.0 * step)), "{i} {j}: {jet:?}");
            }
        }
        Ok(())
    }

    proptest! {
        #[test]
        fn every_derivative_is_that_of_the_value(location in 4.0..8.0f64, ln_scale in 0.8..1.6f64, shape in prop_oneof![-0.2..0.4f64, -0.01..0.01f64, Just(0.0)], rate in -0.5..0.5f64) {
            holds(|p| stationary(&SAMPLE, p, PRIOR), [location, ln_scale, shape])?;
            holds(|p| at_shape(&SAMPLE, shape, p, PRIOR), [location, ln_scale])?;
            holds(|p| at_level(&SAMPLE, (location + 8.0, 0.9), p, None), [ln_scale, shape])?;
            let points: Vec<(f64, f64)> = SAMPLE.iter().enumerate().map(|(i, x)| (i as f64 / 4.0, *x)).collect();
            holds(|p| moving(&points, p, None), [location, rate, ln_scale, shape])?;
        }

        #[test]
        fn the_value_is_the_likelihood_of_the_distribution(location in 4.0..8.0f64, scale in 2.0..5.0f64, shape in prop_oneof![-0.4..-0.01f64, 0.01..0.4f64]) {
            let direct: f64 = SAMPLE
                .map(|x| {
                    let inside = 1.0 + shape * (x - location) / scale;
                    if inside <= 0.0 { f64::INFINITY } else { scale.ln() + (1.0 + 1.0 / shape) * inside.ln() + inside.powf(-1.0 / shape) }
                })
                .iter()
                .sum();
            match stationary(&SAMPLE, &[location, scale.ln(), shape], None) {
                Some(jet) => prop_assert!((jet.value - direct).abs() < 1e-6 * direct.abs()),
                None => prop_assert!(direct.is_infinite()),
            }
            let level = location + scale * ((-0.98_f64.ln()).powf(-shape) - 1.0) / shape;
            if let Some(jet) = at_level(&SAMPLE, (level, 0.98), &[scale.ln(), shape], None) {
                prop_assert!((jet.value - direct).abs() < 1e-6 * direct.abs());
            }
        }
    }
}
