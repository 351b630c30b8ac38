//! Forecasts of single reports from a fit: every uncertainty integrated in closed form.
//!
//! With η_k = β(h − E) + r − κ_k normal to first order, P(y ≥ k) = E F(η_k) by the probit mixture; its variance is the joint one of effects
//! and outer parameters, plus σ_r² for a reporter not known and β²(σ_E² + σ_e²) for the exposure and a winter not
//! known. With a share ε of reports that say anything at all, each level gets ε/5 besides.

use super::location::Location;
use super::observation::WinterObservation;
use super::ordinal::Place;
use super::posterior::Fitted;
use super::specification::Effect;
use crate::science::numeric::expected_logistic;

impl Fitted {
    /// Chance of each level for a report by an unknown reporter; `None` where nothing is known of the cultivar.
    pub fn forecast(&self, o: &WinterObservation) -> Option<[f64; 5]> {
        self.location(o.cultivar as usize).map(|location| self.chances(o, location))
    }

    /// The same as if nobody had reported the cultivar: its class alone.
    pub fn forecast_by_class(&self, o: &WinterObservation) -> Option<[f64; 5]> {
        self.class_location(o.cultivar as usize).map(|location| self.chances(o, location))
    }

    fn chances(&self, o: &WinterObservation, location: Location) -> [f64; 5] {
        let engine = self.engine();
        let beta = self.beta().mean;
        let entry = self.entry(o);
        let exposure = entry.exposure();
        let Location { mut parts, logits, fixed_c, besides_k2 } = location;
        let outside = beta * (fixed_c - exposure.mean);
        let mut mean = logits + outside;
        for effect in Effect::of(o.conditions) {
            let place = self.places().effects.get(&effect).and_then(|e| engine.effect_place(usize::from(*e)));
            let sign = effect.sign();
            match place {
                Some(Place::Border(k)) => {
                    mean += sign * engine.mode.border[k];
                    parts.border.push((k, sign));
                }
                Some(Place::Outer(n)) => {
                    mean += sign * engine.natural.coefficients[n - engine.layout.coefficients];
                    parts.natural.push((n, sign));
                }
                // Not in the fit: its starting value stands, when there is one in use.
                None => mean += sign * beta * effect.prior(self.priors()).mean,
            }
        }
        if let Some(share) = self.hardening_share() {
            mean += beta * share.mean * entry.softer_k(self.places().hardening);
        }
        let besides = self.sigma_r().powi(2) + beta * beta * (exposure.variance() + self.event_state().mean.powi(2) + besides_k2);
        let mut at_least = [1.0; 6];
        at_least[5] = 0.0;
        for k in 0..4 {
            let place = if k == 3 { k + usize::from(entry.top()) } else { k };
            let threshold = engine.natural.thresholds[place];
            let mut of = parts.clone();
            of.natural.push((place, -1.0));
            let shift = if k == 3 { beta * entry.top_shift() } else { 0.0 };
            if let Some(slope) = engine.layout.slope {
                of.natural.push((slope, outside - shift));
            }
            let variance = engine.variance(&of).max(0.0) + besides;
            at_least[k + 1] = expected_logistic(mean - threshold - shift, variance).min(at_least[k]);
        }
        let any = self.contamination();
        std::array::from_fn(|k| (1.0 - any) * (at_least[k] - at_least[k + 1]).max(0.0) + any / 5.0)
    }
}
