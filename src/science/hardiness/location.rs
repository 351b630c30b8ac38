//! Where a cultivar's hardiness stands among the parameters of a fit: its own level where it was reported, its class where it was not.

use super::ordinal::{Combination, Place};
use super::posterior::Fitted;
use super::specification::{PriorUse, mixture_of_classes};
use crate::science::cultivar::HardinessClass;
use crate::science::numeric::Gaussian;

/// βh as a sum of fitted logits, plus a temperature that was not fitted, plus what is not known of it besides.
#[derive(Debug, Clone, Default)]
pub(super) struct Location {
    /// Fitted parts, each with factor 1.
    pub parts: Combination,
    /// Their sum, logits.
    pub logits: f64,
    /// Part of h that is no parameter, °C.
    pub fixed_c: f64,
    /// Variance of h besides, K².
    pub besides_k2: f64,
}

impl Location {
    fn add(&mut self, fitted: &Fitted, place: Place) {
        let engine = fitted.engine();
        match place {
            Place::Border(k) => {
                self.logits += engine.mode.border[k];
                self.parts.border.push((k, 1.0));
            }
            Place::Outer(n) => {
                self.logits += engine.natural.coefficients[n - engine.layout.coefficients];
                self.parts.natural.push((n, 1.0));
            }
        }
    }

    fn add_effect(&mut self, fitted: &Fitted, effect: u16) -> Option<()> {
        let place = fitted.engine().effect_place(usize::from(effect))?;
        self.add(fitted, place);
        Some(())
    }
}

impl Fitted {
    /// Of a cultivar; `None` for an unknown one, or where neither reports nor a prior say anything.
    pub(super) fn location(&self, cultivar: usize) -> Option<Location> {
        let places = self.places();
        let Some(level) = places.levels.get(cultivar).copied()? else { return self.class_location(cultivar) };
        let mut location = Location::default();
        location.add(self, Place::Border(self.engine().group_slot(level as usize)));
        let prior = self.prior_of(cultivar)?;
        let besides = match (self.prior_use(), prior.class) {
            (PriorUse::Flat, Some(class)) => places.classes[class.index()],
            (PriorUse::Flat, None) => places.unclassed,
            (PriorUse::Evidence, Some(_)) => places.own[cultivar],
            (PriorUse::Evidence, None) => None,
        };
        if let Some(effect) = besides {
            location.add_effect(self, effect)?;
        }
        Some(location)
    }

    /// Of a cultivar as if nobody had reported it: class mean, spread of cultivars, and the doubt about the class itself.
    pub(super) fn class_location(&self, cultivar: usize) -> Option<Location> {
        let prior = self.prior_of(cultivar)?;
        let (places, priors) = (self.places(), self.priors());
        let mut location = Location { besides_k2: self.sigma_h().powi(2), ..Location::default() };
        match (self.prior_use(), prior.class) {
            (PriorUse::Flat, Some(class)) => location.add_effect(self, places.classes[class.index()]?)?,
            (PriorUse::Flat, None) => location.add_effect(self, places.unclassed?)?,
            (PriorUse::Evidence, Some(class)) => {
                self.add_class(&mut location, class)?;
                if prior.from_memory {
                    location.besides_k2 += priors.class_from_memory.kelvin().powi(2);
                }
            }
            (PriorUse::Evidence, None) => {
                let wide = mixture_of_classes(priors);
                location.fixed_c = wide.mean;
                location.besides_k2 += wide.variance();
            }
        }
        Some(location)
    }

    /// Variance of h of a cultivar as if nobody had reported it, K².
    pub(super) fn variance_by_class(&self, cultivar: usize) -> Option<f64> {
        let location = self.class_location(cultivar)?;
        let beta = self.beta().mean;
        Some(self.engine().variance(&location.parts).max(0.0) / (beta * beta) + location.besides_k2)
    }

    /// h of a cultivar as if nobody had reported it, °C and K; `None` for an unknown one.
    pub fn before_reports(&self, cultivar: usize) -> Option<Gaussian> {
        let location = self.class_location(cultivar)?;
        let variance = self.variance_by_class(cultivar)?;
        Some(Gaussian::new(location.logits / self.beta().mean + location.fixed_c, variance.sqrt()))
    }

    fn add_class(&self, location: &mut Location, class: HardinessClass) -> Option<()> {
        if let Some(effect) = self.places().classes[class.index()] {
            return location.add_effect(self, effect);
        }
        // A class that nobody reported keeps its published mean.
        let mean = self.priors().class_means[class.index()];
        location.fixed_c = mean.mean;
        location.besides_k2 += mean.variance();
        Some(())
    }
}
