//! How many sticks of a batch root: a beta-binomial, so that batches may differ by more than chance.
//!
//! Of n sticks X root. The share p of a batch is Beta(m(1 − ρ)/ρ, (1 − m)(1 − ρ)/ρ): m is the share over many batches, ρ the correlation between
//! sticks of one batch, and X given p is binomial. What is believed of m and ρ stands on a grid: m by a beta prior of its method, ρ by a
//! lognormal one, both weighed by the likelihood of a grower's own batches. The next batch is then a weighted sum of beta-binomials.

use statrs::function::beta::ln_beta;

use super::method::Method;
use super::priors::PropagationPriors;
use crate::science::numeric::{Gaussian, Z_90};
use crate::units::Interval;

/// Points of the share and of the correlation. Against 240 and 45 of them the number of sticks for 20 at 90 % stays the same, and its chance moves by
/// less than 0.002 (tested).
const SHARES: usize = 80;
const CORRELATIONS: usize = 15;
/// Largest correlation counted: above it a batch is all or nothing.
const MOST_CORRELATED: f64 = 0.9;
/// Largest number of sticks looked at.
pub const MOST_STICKS: u32 = 5_000;

/// Sticks of a batch that were counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// How it was propagated.
    pub method: Method,
    /// Whether it stood on bottom heat.
    pub bottom_heat: bool,
    /// Sticks.
    pub stuck: u32,
    /// Of these, rooted; at most `stuck`.
    pub rooted: u32,
}

/// A point of the belief.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Point {
    share: f64,
    correlation: f64,
    weight: f64,
}

/// What is believed of the share that roots.
#[derive(Debug, Clone, PartialEq)]
pub struct RootingBelief {
    points: Vec<Point>,
    /// Batches of the same method and heat that it rests on, and those that counted in part.
    pub batches: usize,
    /// Sticks of those batches.
    pub sticks: u32,
    /// Batches of the same method with the other heat.
    pub other_batches: usize,
}

/// How many to stick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sticks {
    /// Fewest that are sure enough.
    pub number: u32,
    /// Chance that at least as many as wanted root then.
    pub chance: f64,
    /// Fewest were the share over many batches known to lie at the upper or the lower end of its 90 % range; the upper is `None` beyond
    /// [`MOST_STICKS`].
    pub range: (u32, Option<u32>),
}

/// Beta(a, b) with a mean within 0..1 and a standard deviation; the sd is cut to what a beta can have.
fn beta_of(mean: f64, sd: f64) -> (f64, f64) {
    let mean = mean.clamp(0.01, 0.99);
    let size = (mean * (1.0 - mean) / sd.max(1e-3).powi(2) - 1.0).max(0.5);
    (mean * size, (1.0 - mean) * size)
}

/// a, b of the share of one batch.
fn batch_beta(share: f64, correlation: f64) -> (f64, f64) {
    let size = (1.0 - correlation) / correlation;
    (share * size, (1.0 - share) * size)
}

/// ln P(X = k) but for the binomial coefficient, which is the same at every point.
fn ln_likelihood(share: f64, correlation: f64, stuck: u32, rooted: u32) -> f64 {
    let (a, b) = batch_beta(share, correlation);
    ln_beta(a + f64::from(rooted), b + f64::from(stuck - rooted)) - ln_beta(a, b)
}

/// P(X ≥ wanted) of a beta-binomial of n sticks, by the recurrence of its terms from X = 0.
pub fn at_least(n: u32, (a, b): (f64, f64), wanted: u32) -> f64 {
    if wanted == 0 {
        return 1.0;
    }
    if wanted > n {
        return 0.0;
    }
    let size = f64::from(n);
    let mut term = (ln_beta(a, b + size) - ln_beta(a, b)).exp();
    let mut below = 0.0;
    // Terms so small that they vanish are begun again on logarithms.
    for k in 0..wanted {
        below += term;
        let x = f64::from(k);
        let next = (size - x) / (x + 1.0) * (a + x) / (b + size - x - 1.0);
        term = if term > 1e-280 { term * next } else { ln_term(n, (a, b), k + 1).exp() };
    }
    (1.0 - below).clamp(0.0, 1.0)
}

/// ln P(X = k).
fn ln_term(n: u32, (a, b): (f64, f64), k: u32) -> f64 {
    let (size, x) = (f64::from(n), f64::from(k));
    let ln_choose = -(size + 1.0).ln() - ln_beta(size - x + 1.0, x + 1.0);
    ln_choose + ln_beta(a + x, b + size - x) - ln_beta(a, b)
}

impl RootingBelief {
    /// What is believed of a method before any batch.
    pub fn prior(method: Method, priors: &PropagationPriors) -> Self {
        Self::on_grid(priors.rooted(method), priors.batch_correlation, SHARES, CORRELATIONS)
    }

    fn on_grid(rooted: Gaussian, correlation: Gaussian, shares: usize, correlations: usize) -> Self {
        let (a, b) = beta_of(rooted.mean, rooted.sd);
        let (median, standard) = (correlation.mean, Gaussian::new(0.0, 1.0));
        let mut points = Vec::with_capacity(shares * correlations);
        for j in 0..correlations {
            let z = standard.quantile((j as f64 + 0.5) / correlations as f64);
            let correlation = (median * (z * correlation.sd).exp()).clamp(1e-4, MOST_CORRELATED);
            for i in 0..shares {
                let share = (i as f64 + 0.5) / shares as f64;
                let weight = ((a - 1.0) * share.ln() + (b - 1.0) * (1.0 - share).ln()).exp();
                points.push(Point { share, correlation, weight });
            }
        }
        let mut belief = Self { points, batches: 0, sticks: 0, other_batches: 0 };
        belief.scale();
        belief
    }

    fn scale(&mut self) {
        let total: f64 = self.points.iter().map(|point| point.weight).sum();
        self.points.iter_mut().for_each(|point| point.weight /= total);
    }

    /// What is believed of a method with or without bottom heat after a grower's batches. A batch of the other heat counts by
    /// [`PropagationPriors::other_heat_weight`]; other methods do not count.
    pub fn learned(method: Method, bottom_heat: bool, batches: &[Batch], priors: &PropagationPriors) -> Self {
        Self::prior(method, priors).after(method, bottom_heat, batches, priors.other_heat_weight)
    }

    fn after(mut self, method: Method, bottom_heat: bool, batches: &[Batch], other: f64) -> Self {
        let counted: Vec<(&Batch, f64)> = batches
            .iter()
            .filter(|batch| batch.method == method && batch.stuck > 0 && batch.rooted <= batch.stuck)
            .map(|batch| (batch, if batch.bottom_heat == bottom_heat { 1.0 } else { other }))
            .collect();
        let ln: Vec<f64> = self
            .points
            .iter()
            .map(|p| counted.iter().map(|(batch, w)| w * ln_likelihood(p.share, p.correlation, batch.stuck, batch.rooted)).sum())
            .collect();
        let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for (point, ln) in self.points.iter_mut().zip(ln) {
            point.weight *= (ln - most).exp();
        }
        let own = counted.iter().filter(|(batch, _)| batch.bottom_heat == bottom_heat);
        self.batches = own.clone().count();
        self.sticks = own.map(|(batch, _)| batch.stuck).sum();
        self.other_batches = counted.len() - self.batches;
        self.scale();
        self
    }

    /// Share that roots over many batches.
    pub fn share(&self) -> f64 {
        self.points.iter().map(|point| point.weight * point.share).sum()
    }

    /// Correlation between sticks of one batch.
    pub fn correlation(&self) -> f64 {
        self.points.iter().map(|point| point.weight * point.correlation).sum()
    }

    /// The share below which a part `p` of the belief lies.
    fn share_quantile(&self, p: f64) -> f64 {
        let mut by_share: Vec<(f64, f64)> = self.points.iter().map(|point| (point.share, point.weight)).collect();
        by_share.sort_by(|x, y| x.0.total_cmp(&y.0));
        let mut below = 0.0;
        let found = by_share.iter().find(|(_, weight)| {
            below += weight;
            below >= p
        });
        found.map_or(0.5, |(share, _)| *share)
    }

    /// 90 % range of that share.
    pub fn share_90(&self) -> Interval<f64> {
        let tail = Gaussian::new(0.0, 1.0).cdf(-Z_90);
        Interval::between(self.share_quantile(tail), self.share_quantile(1.0 - tail))
    }

    /// Chance that at least `wanted` of `n` sticks of the next batch root.
    pub fn chance(&self, n: u32, wanted: u32) -> f64 {
        // Weights sum to 1 but for rounding.
        self.points.iter().map(|p| p.weight * at_least(n, batch_beta(p.share, p.correlation), wanted)).sum::<f64>().min(1.0)
    }

    /// Fewest sticks of one batch of which at least `wanted` root with a chance of `confidence`; `None` where [`MOST_STICKS`] are not enough.
    pub fn sticks_for(&self, wanted: u32, confidence: f64) -> Option<Sticks> {
        // Points that weigh nothing are left out of a search that asks for them many times.
        let heavy: Vec<Point> = self.points.iter().copied().filter(|point| point.weight > 1e-7).collect();
        let chance = |n: u32| heavy.iter().map(|p| p.weight * at_least(n, batch_beta(p.share, p.correlation), wanted)).sum::<f64>();
        let number = fewest(wanted, |n| chance(n) >= confidence)?;
        let (range, correlation) = (self.share_90(), self.correlation());
        let known = |share: f64| fewest(wanted, |n| at_least(n, batch_beta(share, correlation), wanted) >= confidence);
        Some(Sticks {
            number,
            chance: self.chance(number, wanted),
            range: (known(range.high).unwrap_or(number).min(number), known(range.low)),
        })
    }
}

/// Fewest sticks, from `wanted` to [`MOST_STICKS`], for which something holds that goes on to hold with more.
fn fewest(wanted: u32, holds: impl Fn(u32) -> bool) -> Option<u32> {
    let (mut low, mut high) = (wanted.max(1), wanted.max(1));
    while !holds(high) {
        if high >= MOST_STICKS {
            return None;
        }
        low = high + 1;
        high = (high * 2).min(MOST_STICKS);
    }
    while low < high {
        let middle = low.midpoint(high);
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::propagation_priors;

    fn batch(stuck: u32, rooted: u32) -> Batch {
        Batch { method: Method::HardwoodSoil, bottom_heat: false, stuck, rooted }
    }

    /// scipy 1.17.1, `scipy.stats.betabinom.sf(k - 1, n, a, b)`; tolerance 1e-9.
    #[test]
    fn the_chance_of_enough_rooted_is_scipys_beta_binomial() {
        for (n, a, b, wanted, expected) in SCIPY {
            let got = at_least(n, (a, b), wanted);
            assert!((got - expected).abs() < 1e-9, "{n} {a} {b} {wanted}: {got} for {expected}");
        }
    }

    const SCIPY: [(u32, f64, f64, u32, f64); 6] = [
        (28, 6.0, 2.0, 20, 0.665_150_821_173_853),
        (40, 1.5, 4.0, 5, 0.775_085_552_627_688),
        (1, 0.3, 0.7, 1, 0.3),
        (500, 22.0, 9.0, 330, 0.737_677_112_637_830),
        (60, 0.08, 0.02, 30, 0.801_181_617_242_998),
        (4000, 30.0, 900.0, 100, 0.880_184_273_933_292),
    ];

    /// Counted again by `tests/choice/rooting.py` with scipy 1.17.1: the same grid of shares and correlations, weights by
    /// `scipy.stats.beta` and `betabinom`, the fewest sticks by trying every number.
    #[test]
    fn the_number_to_stick_for_twenty_is_that_of_a_count_in_scipy() {
        let priors = propagation_priors().unwrap();
        let own = [batch(30, 24), batch(25, 12), batch(40, 33), batch(20, 17)];
        for (batches, number, chance, share) in [(&own[..0], NONE.0, NONE.1, NONE.2), (&own[..], FOUR.0, FOUR.1, FOUR.2)] {
            let belief = RootingBelief::learned(Method::HardwoodSoil, false, batches, &priors);
            let sticks = belief.sticks_for(20, 0.9).unwrap();
            assert_eq!(sticks.number, number);
            assert!((sticks.chance - chance).abs() < 1e-6 && (belief.share() - share).abs() < 1e-6, "{sticks:?} {}", belief.share());
        }
    }

    const NONE: (u32, f64, f64) = (47, 0.901_113_631, 0.750_111_189);
    const FOUR: (u32, f64, f64) = (40, 0.904_412_161, 0.733_195_302);

    #[test]
    fn a_finer_grid_gives_the_same_number() {
        let priors = propagation_priors().unwrap();
        let own = [batch(30, 24), batch(25, 12), batch(40, 33), batch(20, 17)];
        let coarse = RootingBelief::learned(Method::HardwoodSoil, false, &own, &priors);
        let fine = RootingBelief::on_grid(priors.rooted(Method::HardwoodSoil), priors.batch_correlation, 240, 45);
        let fine = fine.after(Method::HardwoodSoil, false, &own, 0.25);
        let number = coarse.sticks_for(20, 0.9).unwrap().number;
        assert_eq!(fine.sticks_for(20, 0.9).unwrap().number, number);
        assert!((fine.chance(number, 20) - coarse.chance(number, 20)).abs() < 2e-3);
    }

    #[test]
    fn good_batches_ask_for_fewer_sticks_and_batches_of_other_methods_for_no_other_number() {
        let priors = propagation_priors().unwrap();
        let of = |batches: &[Batch]| RootingBelief::learned(Method::HardwoodSoil, false, batches, &priors);
        let number = |belief: RootingBelief| belief.sticks_for(20, 0.9).unwrap().number;
        let none = number(of(&[]));
        assert!(number(of(&[batch(40, 38), batch(40, 37)])) < none);
        assert!(number(of(&[batch(40, 8), batch(40, 12)])) > none);
        let other = Batch { method: Method::Layering, ..batch(40, 1) };
        assert_eq!(of(&[other]), of(&[]));
        // A batch on heat says less of one without.
        let heated = Batch { bottom_heat: true, ..batch(40, 8) };
        let (own, warm) = (of(&[batch(40, 8)]).share(), of(&[heated]).share());
        assert!(own < warm && warm < of(&[]).share());
        assert_eq!((of(&[heated]).batches, of(&[heated]).other_batches, of(&[batch(40, 8)]).sticks), (0, 1, 40));
    }

    // Two batches with the mean share of the prior each say that it is so; two that lie far apart say that batches differ.
    #[test]
    fn batches_that_differ_say_that_sticks_of_a_batch_go_together() {
        let priors = propagation_priors().unwrap();
        let of = |batches: &[Batch]| RootingBelief::learned(Method::HardwoodSoil, false, batches, &priors);
        let (alike, apart) = (of(&[batch(40, 30), batch(40, 30)]), of(&[batch(40, 40), batch(40, 12)]));
        assert!(alike.correlation() < apart.correlation());
        assert!(alike.sticks_for(20, 0.9).unwrap().number < apart.sticks_for(20, 0.9).unwrap().number);
    }

    #[test]
    fn more_sticks_and_fewer_wanted_are_never_less_sure() {
        let priors = propagation_priors().unwrap();
        let belief = RootingBelief::prior(Method::Softwood, &priors);
        for n in [1, 5, 20, 60, 200] {
            for wanted in [0, 1, 5, 20] {
                let here = belief.chance(n, wanted);
                assert!((0.0..=1.0).contains(&here));
                assert!(belief.chance(n + 1, wanted) >= here - 1e-12 && belief.chance(n, wanted + 1) <= here + 1e-12);
            }
        }
        let sticks = belief.sticks_for(20, 0.9).unwrap();
        assert!(sticks.range.0 <= sticks.number && sticks.range.1.unwrap() >= sticks.range.0);
        assert!(belief.chance(sticks.number - 1, 20) < 0.9);
        assert_eq!(belief.sticks_for(MOST_STICKS, 0.999), None);
    }
}
