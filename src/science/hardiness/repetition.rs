//! How far estimates would move if other gardeners had reported: doubt that the likelihood does not hold.
//!
//! Standard errors from the curvature are right where the model is. Reports have heavier tails, weights stand for plants that nobody reported,
//! and a report that may say nothing is taken to be known as one that does or does not. What the reports themselves say of it: leaving out one
//! group of reporters after the other (delete-a-group jackknife, Kott 2001, Journal of Official Statistics 17, 521–526: variance
//! (G − 1)/G · Σ (estimate without g − mean)²), against what the model expects of such a repetition. A belief of variance V under a prior of
//! variance P varies by V·(1 − V/P). Where the jackknife's variance is φ > 1 times that, over all cultivars together since one alone is told
//! badly, the share 1 − 1/φ of it is added.

use super::evidence::{Evidence, Part};
use super::fit::{HardinessSpec, fit_without};
use super::level::DamageLevel;
use super::observation::WinterObservation;
use super::posterior::Fitted;
use crate::science::numeric::Gaussian;

/// Groups of reporters.
const GROUPS: u32 = 10;
/// Reporters and reports below which groups are too few to tell anything.
const LEAST: (usize, usize) = (40, 1_000);
/// Reports of a cultivar below which its own doubt hides the rest.
const LEAST_OF_CULTIVAR: u32 = 10;
/// Largest φ believed.
const MOST: f64 = 4.0;

impl Fitted {
    /// This fit with what the disagreement of its reporters adds to its doubts.
    #[must_use]
    pub(super) fn with_doubt_about_the_likelihood(self, spec: &HardinessSpec<'_>, reports: &dyn Evidence) -> Self {
        let reporters: std::collections::BTreeSet<u32> = reports.observations().map(|o| o.reporter).collect();
        if reporters.len() < LEAST.0 || reports.count() < LEAST.1 {
            return self;
        }
        let without = |group: u32| fit_without(spec, &Part(reports, |o: &WinterObservation| o.reporter % GROUPS != group), &self).ok();
        let repeated: Vec<Self> = (0..GROUPS).filter_map(without).collect();
        let Some(phi) = self.overdispersion(&repeated) else { return self };
        let groups = repeated.len() as f64;
        let times = ((1.0 - 1.0 / phi) * (groups - 1.0) / groups).sqrt();
        repeated.iter().fold(self, |fitted, moved| fitted.with_doubt(moved, times))
    }

    /// φ, where it is above 1.
    fn overdispersion(&self, repeated: &[Self]) -> Option<f64> {
        let groups = repeated.len() as f64;
        let (mut found, mut expected) = (0.0, 0.0);
        for cultivar in (0..self.cultivars()).filter(|c| self.reports_of(*c) >= LEAST_OF_CULTIVAR) {
            let Some(prior) = self.variance_by_class(cultivar) else { continue };
            for level in [DamageLevel::Tips, DamageLevel::ToGround] {
                let Some(own) = self.t50(cultivar, level).map(Gaussian::variance) else { continue };
                let places: Vec<f64> = repeated.iter().filter_map(|fitted| fitted.t50(cultivar, level)).map(|t| t.mean).collect();
                if places.len() < repeated.len() {
                    continue;
                }
                let mean = places.iter().sum::<f64>() / groups;
                found += (groups - 1.0) / groups * places.iter().map(|t| (t - mean).powi(2)).sum::<f64>();
                expected += own * (1.0 - own / (prior + own)).max(0.0);
            }
        }
        (expected > 0.0 && found > expected).then(|| (found / expected).min(MOST))
    }
}
