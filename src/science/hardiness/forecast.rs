//! Forecasts of single reports from a fit: every uncertainty integrated in closed form.
//!
//! With η_k = β(h − E) + r − κ_k normal to first order, P(y ≥ k) = E F(η_k) by the probit mixture; its variance is the joint one of effects
//! and outer parameters, plus σ_r² for a reporter not known and β²σ_E² for the exposure.

use super::fit::PriorUse;
use super::observation::WinterObservation;
use super::ordinal::{Combination, Place};
use super::posterior::Fitted;
use crate::science::numeric::expected_logistic;

impl Fitted {
    /// Chance of each level for a report by an unknown reporter; `None` for an unknown cultivar, or one without class mean under flat priors.
    pub fn forecast(&self, o: &WinterObservation) -> Option<[f64; 5]> {
        let (mean, mut combination) = self.report_predictor(o)?;
        let slot = self.engine().group_slot(o.cultivar as usize);
        let level = self.engine().mode.border[slot];
        combination.border.push((slot, 1.0));
        Some(self.chances(o, mean + level, &combination, 0.0))
    }

    /// The same for a cultivar of this class that nobody has reported.
    pub fn forecast_by_class(&self, o: &WinterObservation) -> Option<[f64; 5]> {
        let (mut mean, mut combination) = self.report_predictor(o)?;
        let beta = self.beta().mean;
        let prior = self.class_level(o.cultivar as usize)?;
        if let Some(slot) = prior.parent {
            mean += self.engine().mode.border[slot];
            combination.border.push((slot, 1.0));
        }
        if let Some(own) = prior.own {
            // The cultivar's own deviation is not known without reports: its prior instead of what was learned.
            mean -= self.engine().mode.border[own];
            combination.border.retain(|(slot, _)| *slot != own);
        }
        if let Some(fixed) = prior.fixed {
            mean += beta * fixed;
        }
        Some(self.chances(o, mean, &combination, (beta * prior.spread).powi(2)))
    }

    /// −βE plus effects, without the cultivar's level.
    fn report_predictor(&self, o: &WinterObservation) -> Option<(f64, Combination)> {
        let engine = self.engine();
        if o.cultivar as usize >= self.cultivars() {
            return None;
        }
        let entry = self.entry(o);
        let record = entry.observation(o);
        if self.prior_use() == PriorUse::Flat && !self.has_class_mean(o.cultivar as usize) {
            return None;
        }
        let beta = self.beta().mean;
        let mut mean = -beta * record.exposure;
        let mut combination = Combination::default();
        for &(effect, x) in record.effects {
            match engine.effect_place(usize::from(effect))? {
                Place::Border(k) => {
                    mean += x * engine.mode.border[k];
                    combination.border.push((k, x));
                }
                Place::Outer(n) => {
                    mean += x * engine.natural.coefficients[n - engine.layout.coefficients];
                    combination.natural.push((n, x));
                }
            }
        }
        if let Some(slope) = engine.layout.slope {
            combination.natural.push((slope, -beta * record.exposure));
        }
        Some((mean, combination))
    }

    fn chances(&self, o: &WinterObservation, mean: f64, combination: &Combination, extra: f64) -> [f64; 5] {
        let engine = self.engine();
        let beta = self.beta().mean;
        let entry = self.entry(o);
        let record = entry.observation(o);
        let besides = extra + self.sigma_r().powi(2) + (beta * record.exposure_sd).powi(2);
        let mut at_least = [1.0; 6];
        at_least[5] = 0.0;
        for (k, threshold) in engine.natural.thresholds.iter().enumerate() {
            let mut of = combination.clone();
            of.natural.push((k, -1.0));
            let shift = if k == 3 { beta * record.top_shift } else { 0.0 };
            if let Some(slope) = engine.layout.slope.filter(|_| shift != 0.0) {
                of.natural.push((slope, -shift));
            }
            let variance = engine.variance(&of).max(0.0) + besides;
            at_least[k + 1] = expected_logistic(mean - threshold - shift, variance).min(at_least[k]);
        }
        std::array::from_fn(|k| (at_least[k] - at_least[k + 1]).max(0.0))
    }
}

/// What stands for a cultivar of which only the class is known.
pub(super) struct ClassLevel {
    /// Border slot of the class mean.
    pub parent: Option<usize>,
    /// Border slot of the cultivar's own deviation, to be left out.
    pub own: Option<usize>,
    /// A mean that is not a parameter, °C.
    pub fixed: Option<f64>,
    /// Spread around it, K.
    pub spread: f64,
}
