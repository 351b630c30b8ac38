//! The mean of a logistic function of a normal variable, in closed form by a five-term probit mixture.
//!
//! F(t) = 1/(1+e^(−t)) is replaced by Σ pₘ Φ(sₘ t), with largest error 7.1e-7 over the whole line, so that
//! E F(N(m, v)) = Σ pₘ Φ(sₘ m / √(1 + sₘ² v)) with the same bound for every v. Method: Monahan & Stefanski (1989), Stefanski (1991);
//! coefficients: own minimax fit, checked against adaptive quadrature in `tests/shortlist.rs`.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use super::eight_normal::{normal_cdf, normal_cdf_and_pdf};
use super::eight_numbers::{Eight, LANES, OfEight, replace};
use super::quintic_table::QuinticTable;

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
    SoftLogistic::new(1.0, variance).at(mean)
}

/// E[F(slope·X)] as a function of the mean of a normal X whose variance is always the same.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoftLogistic {
    /// What each probit term takes the mean by.
    slopes: [f64; PROBIT_MIXTURE.len()],
}

impl SoftLogistic {
    /// For a slope (> 0) and a variance (≥ 0) of X.
    pub fn new(slope: f64, variance: f64) -> Self {
        Self {
            slopes: PROBIT_MIXTURE.map(|(_, s)| {
                let steep = s * slope;
                steep / (1.0 + steep * steep * variance).sqrt()
            }),
        }
    }

    /// What each probit term takes the mean by, with its weight.
    pub(crate) fn terms(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        PROBIT_MIXTURE.iter().zip(self.slopes).map(|(&(weight, _), slope)| (weight, slope))
    }

    /// At one mean.
    #[inline]
    pub fn at(&self, mean: f64) -> f64 {
        self.terms().map(|(weight, slope)| weight * normal_cdf(slope * mean)).sum()
    }

    /// Puts the values at many means in the place of these.
    pub fn replace(&self, means: &mut [f64]) {
        replace(means, self);
    }
}

/// Largest size of φ·He₅, the sixth derivative of Φ: near ±0.617 (by hand).
const SIXTH_DERIVATIVE: f64 = 2.31;
/// Error of a table of a softened logistic function: a seventh of that of the probit terms themselves.
const TABLE_ERROR: f64 = 1e-7;

/// Where Φ is 0 or 1 to the last digit: Φ(−8.5) is 9.5e-18.
const CERTAIN: f64 = 8.5;

/// A point of a table, with its slope and curvature, takes about as long as so many values. DESIGN.
const OF_JET: usize = 2;

/// A weighted sum of such functions, each of its argument and a shift.
#[derive(Debug, Clone, Default)]
pub struct SoftMixture {
    /// Weight, shift and function of each part.
    pub parts: Vec<(f64, f64, SoftLogistic)>,
}

impl SoftMixture {
    /// At one argument.
    pub fn at(&self, x: f64) -> f64 {
        self.parts.iter().map(|(weight, shift, soft)| weight * soft.at(x + shift)).sum()
    }

    /// Puts the values at many arguments in the place of these: where they are open, worked out, or read from a table where that takes clearly
    /// less; the table is in error by less than 1e-7 for weights that sum to 1.
    pub fn replace(&self, arguments: &mut [f64]) {
        let (none, all) = self.open();
        let whole: f64 = self.parts.iter().map(|(weight, ..)| weight).sum();
        let mut open: Vec<f64> = arguments.iter().copied().filter(|x| (none..=all).contains(x)).collect();
        if !open.is_empty() {
            self.replace_open(&mut open);
        }
        let mut open = open.into_iter();
        for x in arguments {
            *x = if (none..=all).contains(&*x) {
                open.next().unwrap_or(f64::NAN)
            } else if *x < none {
                0.0
            } else if *x > all {
                whole
            } else {
                f64::NAN
            };
        }
    }

    fn replace_open(&self, arguments: &mut [f64]) {
        let (low, high) = arguments.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &x| (low.min(x), high.max(x)));
        let steps = self.steps(low, high);
        if (steps as usize).saturating_mul(OF_JET) < arguments.len() {
            let table = self.over(low, high, steps);
            for x in arguments.iter_mut() {
                *x = table.at(*x);
            }
        } else {
            replace(arguments, self);
        }
    }

    /// Arguments below which every part is nought, and above which every part is its weight, to the last digit.
    fn open(&self) -> (f64, f64) {
        self.parts.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(none, all), (_, shift, soft)| {
            let reach = CERTAIN / soft.slopes.iter().copied().fold(f64::INFINITY, f64::min);
            (none.min(-shift - reach), all.max(reach - shift))
        })
    }

    /// Steps of a table between two arguments: its points lie as close as the sixth derivative asks.
    fn steps(&self, low: f64, high: f64) -> f64 {
        let sixth = |(weight, _, soft): &(f64, f64, SoftLogistic)| weight * soft.terms().map(|(w, slope)| w * slope.powi(6)).sum::<f64>();
        let sixth = SIXTH_DERIVATIVE * self.parts.iter().map(sixth).sum::<f64>();
        let widest = (TABLE_ERROR * 46_080.0 / sixth).powf(1.0 / 6.0);
        ((high - low) / widest).ceil().max(1.0)
    }

    fn over(&self, low: f64, high: f64, steps: f64) -> QuinticTable {
        let step = ((high - low) / steps).max(f64::MIN_POSITIVE);
        let at: Vec<f64> = (0..=steps as usize).map(|i| low + step * i as f64).collect();
        let mut jets = vec![[0.0; 3]; at.len()];
        pulp::Arch::new().dispatch(Jets { of: self, at: &at, jets: &mut jets });
        QuinticTable::new(low, step, &jets)
    }
}

/// Work for the vector instructions of the processor: value, slope and curvature at many arguments.
struct Jets<'a> {
    of: &'a SoftMixture,
    at: &'a [f64],
    jets: &'a mut [[f64; 3]],
}

impl pulp::NullaryFnOnce for Jets<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        for (jets, given) in self.jets.chunks_mut(LANES).zip(self.at.chunks(LANES)) {
            let (mut at, mut value, mut slope, mut curvature) = ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
            at[..given.len()].copy_from_slice(given);
            for (part, shift, soft) in &self.of.parts {
                for (&(term, _), steep) in PROBIT_MIXTURE.iter().zip(soft.slopes) {
                    let weight = part * term;
                    for i in 0..LANES {
                        let z = steep * (at[i] + shift);
                        let (cdf, pdf) = normal_cdf_and_pdf(z);
                        value[i] += weight * cdf;
                        slope[i] += weight * steep * pdf;
                        curvature[i] -= weight * steep * steep * z * pdf;
                    }
                }
            }
            for (i, jet) in jets.iter_mut().enumerate() {
                *jet = [value[i], slope[i], curvature[i]];
            }
        }
    }
}

impl OfEight for SoftLogistic {
    #[inline(always)]
    fn of_eight(&self, means: &Eight) -> Eight {
        let mut sum = [0.0; LANES];
        for (&(weight, _), slope) in PROBIT_MIXTURE.iter().zip(self.slopes) {
            for i in 0..LANES {
                sum[i] += weight * normal_cdf(slope * means[i]);
            }
        }
        sum
    }
}

impl OfEight for SoftMixture {
    #[inline(always)]
    fn of_eight(&self, arguments: &Eight) -> Eight {
        let mut sum = [0.0; LANES];
        for (weight, shift, soft) in &self.parts {
            let values = soft.of_eight(&arguments.map(|x| x + shift));
            for i in 0..LANES {
                sum[i] += weight * values[i];
            }
        }
        sum
    }
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

    #[test]
    fn many_means_at_once_are_the_same_as_one_by_one() {
        for count in [0, 1, 7, 8, 21] {
            let means: Vec<f64> = (0..count).map(|i| -9.0 + 0.9 * f64::from(i)).collect();
            let (slope, variance) = (0.77, 5.0);
            let mut all = means.clone();
            SoftLogistic::new(slope, variance).replace(&mut all);
            for (mean, got) in means.iter().zip(all) {
                assert!((got - expected_logistic(slope * mean, slope * slope * variance)).abs() < 1e-12, "{mean}");
            }
        }
    }

    #[test]
    fn many_arguments_of_a_mixture_are_in_error_by_less_than_a_table_may_be_however_steep_it_is() {
        for (slope, variance) in [(0.77, 0.0), (0.77, 1.7), (2.0, 0.1), (0.3, 40.0), (30.0, 0.0)] {
            let parts = vec![(0.4, -3.0, SoftLogistic::new(slope, variance)), (0.6, 2.0, SoftLogistic::new(slope, variance + 1.0))];
            let mixture = SoftMixture { parts };
            for count in [1, 9, 60, 4_801] {
                let at: Vec<f64> = (0..count).map(|i| -31.0 + 48.0 * f64::from(i) / 4_800.0).collect();
                let mut values = at.clone();
                mixture.replace(&mut values);
                for (x, value) in at.iter().zip(values) {
                    assert!((value - mixture.at(*x)).abs() < TABLE_ERROR, "{slope} {variance} {x}");
                }
            }
        }
    }
}
