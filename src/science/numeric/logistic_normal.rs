//! The mean of a logistic function of a normal variable, in closed form by a five-term probit mixture.
//!
//! F(t) = 1/(1+e^(−t)) is replaced by Σ pₘ Φ(sₘ t), with largest error 7.1e-7 over the whole line, so that
//! E F(N(m, v)) = Σ pₘ Φ(sₘ m / √(1 + sₘ² v)) with the same bound for every v. Method: Monahan & Stefanski (1989), Stefanski (1991);
//! coefficients: own minimax fit, checked against adaptive quadrature in `tests/shortlist.rs`.

use super::gaussian::standard_normal_cdf;

/// `(weight, slope)` of each probit term; the weights sum to 1.
#[expect(clippy::unreadable_literal, reason = "digits as the fit printed them")]
pub const PROBIT_MIXTURE: [(f64, f64); 5] = [
    (0.022700034908763007, 0.2908293021912405),
    (0.2036723638462752, 0.4093936227445353),
    (0.42737097015087816, 0.5733393933960762),
    (0.2998498740837372, 0.7996510314052214),
    (0.04640675701034642, 1.1175374421138657),
];

/// E[F(X)] for X normal with this mean and variance (≥ 0) and F the standard logistic function.
pub fn expected_logistic(mean: f64, variance: f64) -> f64 {
    PROBIT_MIXTURE.iter().map(|&(p, s)| p * standard_normal_cdf(s * mean / (1.0 + s * s * variance).sqrt())).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_spread_it_is_the_logistic_function() {
        for t in [-30.0, -4.0f64, -1.0, 0.0, 0.3, 2.5, 9.0] {
            let logistic = 1.0 / (1.0 + (-t).exp());
            assert!((expected_logistic(t, 0.0) - logistic).abs() < 1e-6, "{t}");
        }
    }
}
