//! How far below their mean the coldest of n normal winters lies.

use crate::science::numeric::{standard_normal_cdf, standard_normal_pdf};

/// Half-width of the integral, standard deviations: beyond, even the largest of a hundred draws has no weight in double precision.
const HALF_WIDTH: f64 = 9.0;
/// Steps of the trapezoidal rule, which converges beyond double precision for a smooth integrand that vanishes at both ends.
const STEPS: usize = 720;

/// The coldest of n winters in units of their spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdestOf {
    /// Expected distance below the mean, spreads.
    pub below_mean: f64,
    /// Standard deviation of the coldest itself, spreads.
    pub sd: f64,
}

impl ColdestOf {
    /// By numerical integration of the density n φ(z) Φ(z)^(n−1) of the largest of `winters` standard normal draws (at least one).
    pub fn normal_winters(winters: u32) -> Self {
        let n = f64::from(winters.max(1));
        let step = 2.0 * HALF_WIDTH / STEPS as f64;
        let (mut first, mut second) = (0.0, 0.0);
        for i in 0..=STEPS {
            let z = -HALF_WIDTH + step * i as f64;
            let weight = step * n * standard_normal_pdf(z) * standard_normal_cdf(z).powf(n - 1.0);
            first += weight * z;
            second += weight * z * z;
        }
        Self { below_mean: first, sd: (second - first * first).max(0.0).sqrt() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Expected values: Harter 1961, Biometrika 48, 151–165, table 1. Variances: Sarhan and Greenberg 1962, Contributions to Order Statistics,
    // table 10C.2 (2 to 20). Both restated from memory and confirmed by the closed forms for two and three draws, 1/√π and 3/(2√π).
    #[test]
    fn moments_of_the_largest_of_n_agree_with_published_tables() {
        for (n, mean, variance) in
            [(2, 0.564_19, 0.681_69), (3, 0.846_28, 0.559_47), (5, 1.162_96, 0.447_53), (10, 1.538_75, 0.344_34), (20, 1.867_48, 0.275_70)]
        {
            let coldest = ColdestOf::normal_winters(n);
            assert!((coldest.below_mean - mean).abs() < 1e-5, "{n}: {}", coldest.below_mean);
            assert!((coldest.sd.powi(2) - variance).abs() < 2e-5, "{n}: {}", coldest.sd.powi(2));
        }
        let one = ColdestOf::normal_winters(1);
        assert!(one.below_mean.abs() < 1e-9 && (one.sd - 1.0).abs() < 1e-9);
        assert!((ColdestOf::normal_winters(2).below_mean - 1.0 / std::f64::consts::PI.sqrt()).abs() < 1e-9);
        assert!((ColdestOf::normal_winters(3).below_mean - 1.5 / std::f64::consts::PI.sqrt()).abs() < 1e-9);
    }
}
