//! What a fit says of each cultivar: T50 of every level with its uncertainty, the belief that replaces the prior, the shared scale.
//!
//! `T50(c, k) = h_c − κ_k/β`, with the joint uncertainty of the cultivar and of slope and gaps (delta method on the inverse Hessian plus
//! the outer term).

use std::sync::Arc;

use super::belief::HardinessBelief;
use super::calibration::Calibration;
use super::hyperparameters::{GAP_YOUNG, SLOPE, gaps};
use super::level::DamageLevel;
use super::observation::{CultivarPrior, WinterObservation};
use super::ordinal::{self, Combination, Convergence, Diagnostic, Place, Problem};
use super::scale::DamageScale;
use super::specification::{Effect, Entry, HardinessSpec, Model, Places, PriorUse, mixture_of_classes};
use crate::science::cultivar::HardinessClass;
use crate::science::numeric::{Gaussian, standard_normal_pdf};
use crate::science::priors::Priors;

/// Precision (1/K²) below which the reports of a cultivar without class say nothing that could weigh one class against another.
const NO_MESSAGE: f64 = 1e-9;

/// A fitted hardiness model.
#[derive(Debug, Clone)]
pub struct Fitted {
    pub(super) engine: ordinal::Fitted,
    data: Arc<Data>,
    /// The packed reports, until they are given up.
    problem: Option<Arc<Problem>>,
    counts: Vec<u32>,
    prior_use: PriorUse,
    priors: Priors,
    unstated: Gaussian,
}

/// What is needed to read a report as the fit did.
#[derive(Debug)]
struct Data {
    spec: ordinal::Spec,
    places: Places,
    calibration: Option<Calibration>,
    cultivars: Vec<CultivarPrior>,
}

impl Fitted {
    pub(super) fn new(
        spec: &HardinessSpec<'_>,
        cultivars: &[CultivarPrior],
        model: Model,
        engine: ordinal::Fitted,
        unstated: Gaussian,
    ) -> Self {
        let Model { problem, places, calibration, counts, .. } = model;
        let data = Arc::new(Data { spec: problem.spec().clone(), places, calibration, cultivars: cultivars.to_vec() });
        Self { engine, data, problem: Some(Arc::new(problem)), counts, prior_use: spec.prior_use, priors: spec.priors.clone(), unstated }
    }

    /// The engine's own result.
    pub fn engine(&self) -> &ordinal::Fitted {
        &self.engine
    }

    /// This fit without its packed reports and the levels of each: what it is asked from now on follows without them, and they take most of its
    /// room.
    #[must_use]
    pub fn settled(self) -> Self {
        Self { engine: self.engine.without_levels(), problem: None, ..self }
    }

    /// The engine's own result alone, the packed reports given up.
    pub(super) fn into_engine(self) -> ordinal::Fitted {
        self.engine
    }

    /// The packed reports, unless they were given up.
    pub fn problem(&self) -> Option<&Problem> {
        self.problem.as_deref()
    }

    /// What the engine was asked.
    pub(super) fn engine_spec(&self) -> &ordinal::Spec {
        &self.data.spec
    }

    /// How the fit ended.
    pub fn convergence(&self) -> &Convergence {
        &self.engine.convergence
    }

    /// Place of the steepness among the outer parameters.
    pub const STEEPNESS: usize = SLOPE;

    /// What a reader should know about the fit; empty when there is nothing.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        &self.engine.convergence.diagnostics
    }

    /// Number of reports.
    pub fn records(&self) -> usize {
        self.counts.iter().map(|c| *c as usize).sum()
    }

    /// Counts one report of a cultivar more.
    pub(super) fn count(&mut self, cultivar: usize) {
        if let Some(count) = self.counts.get_mut(cultivar) {
            *count += 1;
        }
    }

    /// Number of cultivars.
    pub fn cultivars(&self) -> usize {
        self.counts.len()
    }

    /// Number of reports about a cultivar.
    pub fn reports_of(&self, cultivar: usize) -> u32 {
        self.counts.get(cultivar).copied().unwrap_or(0)
    }

    /// Log marginal likelihood by Laplace's method, with the prior of the outer parameters up to a constant.
    pub fn log_marginal(&self) -> f64 {
        self.engine.log_marginal
    }

    /// Steepness β, 1/K, with its standard deviation.
    pub fn beta(&self) -> Gaussian {
        let value = self.engine.psi[SLOPE].exp();
        Gaussian::new(value, value * self.engine.psi_variance(SLOPE).sqrt())
    }

    /// Gaps between T50 of ground-kill and of tips, wood and (downward) death, K.
    pub fn gaps_k(&self) -> [f64; 3] {
        gaps(&self.engine.psi)
    }

    /// Spread of cultivars within a class, K.
    pub fn sigma_h(&self) -> f64 {
        self.engine.natural.log_sd_group.exp()
    }

    /// Spread of reporters, logits.
    pub fn sigma_r(&self) -> f64 {
        self.engine.natural.log_sd_crossed.exp()
    }

    /// Spread of what all plants of a garden share in a winter, K, with its standard deviation; none where the fit has no such state.
    pub fn event_state(&self) -> Gaussian {
        let Some(place) = self.engine.layout.sd_nested else { return Gaussian::default() };
        let value = self.engine.natural.log_sd_nested.exp();
        // The spreads end ψ as they end the flat parameters.
        let last = self.engine.psi.len() - (self.engine.layout.len - place);
        Gaussian::new(value, value * self.engine.psi_variance(last).sqrt())
    }

    /// Gap between T50 of ground-kill and of death of plants in their first three winters, K, with its standard deviation; `None` where
    /// the fit has one gap for all.
    pub fn gap_dead_young(&self) -> Option<Gaussian> {
        (self.data.places.young_death).then(|| {
            let value = self.engine.psi[GAP_YOUNG].exp();
            Gaussian::new(value, value * self.engine.psi_variance(GAP_YOUNG).sqrt())
        })
    }

    /// Share of the computed hardening that is real, where reports have a daily record to learn it from.
    pub fn hardening_share(&self) -> Option<Gaussian> {
        self.in_kelvin(self.data.places.hardening?)
    }

    /// Share of reports that do not say what happened; 0 where the fit does not allow for it.
    pub fn contamination(&self) -> f64 {
        self.engine.contamination.unwrap_or(0.0)
    }

    /// This fit with a doubt that its likelihood does not hold: `moved` is the same fit where something assumed is another, and `times` its
    /// move is one standard error.
    #[must_use]
    pub(super) fn with_doubt(mut self, moved: &Self, times: f64) -> Self {
        self.engine.doubt(&moved.engine, times);
        self
    }

    /// Error of thermometers beyond what is stated of them, K, with its standard error; none where the fit does not allow for it.
    pub fn unstated(&self) -> Gaussian {
        self.unstated
    }

    /// Slope and gaps for predictions.
    pub fn scale(&self) -> DamageScale {
        let [gap_tips_k, gap_wood_k, gap_dead_k] = self.gaps_k();
        DamageScale { beta: self.beta().mean, gap_tips_k, gap_wood_k, gap_dead_k }
    }

    /// T50 of a level, °C and K; `None` for an unknown cultivar and for `Unharmed`, which has none.
    pub fn t50(&self, cultivar: usize, level: DamageLevel) -> Option<Gaussian> {
        let threshold = level.index().checked_sub(1)?;
        let location = self.location(cultivar)?;
        let engine = &self.engine;
        let beta = engine.psi[SLOPE].exp();
        let fitted = (location.logits - engine.natural.thresholds[threshold]) / beta;
        let per_kelvin = |parts: Vec<(usize, f64)>| parts.into_iter().map(|(place, x)| (place, x / beta)).collect::<Vec<_>>();
        let mut of = Combination { border: per_kelvin(location.parts.border), natural: per_kelvin(location.parts.natural) };
        of.natural.push((threshold, -1.0 / beta));
        if let Some(slope) = engine.layout.slope {
            of.natural.push((slope, -fitted));
        }
        let variance = engine.variance(&of).max(0.0) + location.besides_k2;
        Some(Gaussian::new(fitted + location.fixed_c, variance.sqrt()))
    }

    /// Mean of h over a class, °C, with its uncertainty; `None` where the class is not in the fit.
    pub fn class_mean(&self, class: HardinessClass) -> Option<Gaussian> {
        let effect = self.data.places.classes[class.index()]?;
        self.in_kelvin(effect)
    }

    /// Effects of conditions learned, K.
    pub fn effects(&self) -> impl Iterator<Item = (Effect, Gaussian)> + '_ {
        self.data.places.effects.iter().filter_map(|(effect, place)| Some((*effect, self.in_kelvin(*place)?)))
    }

    /// The cold of a report turned into that of an established, bare plant in the ground: exposure less what its conditions do, °C and K.
    pub fn on_own_scale(&self, o: &WinterObservation) -> Gaussian {
        let entry = self.entry(o);
        let exposure = entry.exposure();
        let softer = self.hardening_share().map_or(0.0, |share| share.mean * entry.softer_k(self.data.places.hardening));
        let moved: f64 =
            Effect::of(o.conditions).filter_map(|e| Some(e.sign() * self.in_kelvin(*self.data.places.effects.get(&e)?)?.mean)).sum();
        Gaussian::new(exposure.mean - moved - softer, exposure.sd)
    }

    fn in_kelvin(&self, effect: u16) -> Option<Gaussian> {
        let engine = &self.engine;
        let beta = engine.psi[SLOPE].exp();
        let (logits, _) = engine.coefficient(usize::from(effect))?;
        let value = logits / beta;
        let mut combination = Combination::default();
        match engine.effect_place(usize::from(effect))? {
            Place::Border(k) => combination.border.push((k, 1.0 / beta)),
            Place::Outer(n) => combination.natural.push((n, 1.0 / beta)),
        }
        combination.natural.push((engine.layout.slope?, -value));
        Some(Gaussian::new(value, engine.variance(&combination).max(0.0).sqrt()))
    }

    /// Belief about h of a cultivar, in place of the prior. Without reports it is that of its class.
    pub fn belief(&self, cultivar: usize) -> Option<HardinessBelief> {
        let prior = self.data.cultivars.get(cultivar)?;
        let h = self.t50(cultivar, DamageLevel::ToGround)?;
        if prior.class.is_none() && self.prior_use == PriorUse::Evidence {
            let reported = self.data.places.levels[cultivar].is_some();
            self.mixed_back(reported.then_some(h))
        } else {
            HardinessBelief::mixture([(1.0, h)])
        }
    }

    /// A cultivar without class was fitted under one wide normal. What its reports said is divided out of that and weighed against the
    /// mixture over classes, which is what is really believed before them.
    fn mixed_back(&self, h: Option<Gaussian>) -> Option<HardinessBelief> {
        let wide = mixture_of_classes(&self.priors).plus(Gaussian::new(0.0, self.sigma_h()));
        let class = |index: usize| {
            let fitted = HardinessClass::all().nth(index).and_then(|c| self.class_mean(c));
            fitted.unwrap_or(self.priors.class_means[index]).plus(Gaussian::new(0.0, self.sigma_h()))
        };
        let weights = self.priors.class_weights;
        let message = h.map(|h| (h, 1.0 / h.variance() - 1.0 / wide.variance())).filter(|(_, precision)| *precision > NO_MESSAGE);
        let Some((h, precision)) = message else {
            return HardinessBelief::mixture((0..HardinessClass::COUNT).map(|i| (weights[i], class(i))));
        };
        let message = Gaussian::new((h.mean / h.variance() - wide.mean / wide.variance()) / precision, (1.0 / precision).sqrt());
        let mixture = HardinessBelief::mixture((0..HardinessClass::COUNT).map(|i| {
            let part = class(i);
            let spread = part.sd.hypot(message.sd);
            let weight = weights[i] * standard_normal_pdf((message.mean - part.mean) / spread) / spread;
            let joint = 1.0 / (precision + 1.0 / part.variance());
            (weight, Gaussian::new((message.mean * precision + part.mean / part.variance()) * joint, joint.sqrt()))
        }));
        mixture.map(HardinessBelief::joined)
    }

    pub(super) fn entry(&self, o: &WinterObservation) -> Entry {
        self.data.places.entry(&self.data.cultivars, o, self.data.calibration.as_ref(), &self.priors, self.prior_use)
    }

    /// Whether priors took part.
    pub fn prior_use(&self) -> PriorUse {
        self.prior_use
    }

    pub(super) fn places(&self) -> &Places {
        &self.data.places
    }

    pub(super) fn priors(&self) -> &Priors {
        &self.priors
    }

    pub(super) fn prior_of(&self, cultivar: usize) -> Option<CultivarPrior> {
        self.data.cultivars.get(cultivar).copied()
    }
}
