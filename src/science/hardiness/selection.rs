//! Selective reporting: who lost nothing often reports nothing, which makes figs look tenderer than they are.
//!
//! If unharmed plants are reported ρ times as often as harmed ones, the odds of "unharmed" among reports are ρ times those among plants. In
//! a logistic model of harmed against unharmed that is a step of −log ρ in the predictor of every report outside a complete list, so
//! complete lists (every plant of a garden's winter, losses and all) identify ρ together with its standard error. Where there are enough,
//! unharmed plants outside them count 1/ρ each (inverse-rate weights remove the bias: Statistical Methods in Medical Research 2024,
//! 10.1177/09622802241282091, abstract read); where there are too few nothing is corrected, and what would follow from given ρ is shown.

use super::calibration::Calibration;
use super::fit::{Effect, HardinessSpec, fit_without};
use super::level::DamageLevel;
use super::observation::{Reports, WinterObservation};
use super::ordinal::{self, Free, Group, Observation, Problem, Role, Spec};
use super::posterior::Fitted;
use crate::science::numeric::Gaussian;

/// Reports in complete lists, and outside them, below which ρ is not estimated. Source: DESIGN.
pub const LEAST_REPORTS: usize = 200;
/// Standard error of log ρ above which it is not used: a factor of 1.35 either way. Source: DESIGN.
const LARGEST_ERROR: f64 = 0.3;
/// Most that an unharmed plant outside a complete list counts. Source: DESIGN.
const MOST_WEIGHT: f64 = 4.0;
/// ρ for which the consequences are shown. Source: DESIGN; 0.37 is e^−1.
pub const SHOWN: [f64; 2] = [0.6, 0.37];

/// How often unharmed plants are reported, as a share of how often harmed ones are.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ReportedShare {
    /// log ρ with its standard error.
    pub log: Gaussian,
    /// Reports in complete lists that tell it.
    pub in_lists: usize,
}

impl ReportedShare {
    /// ρ, at most 1.
    pub fn value(&self) -> f64 {
        self.log.mean.exp().min(1.0)
    }
}

/// What would follow if unharmed plants were reported so much more seldom.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Sensitivity {
    /// ρ assumed.
    pub share: f64,
    /// Move of T50 of tips, mean over reported cultivars, K.
    pub tips_k: f64,
    /// Move of T50 of ground-kill, K.
    pub ground_k: f64,
}

/// ρ as complete lists tell it; `None` where there are too few of them, or they do not tell it well enough.
pub fn reported_share(spec: &HardinessSpec<'_>, reports: &Reports) -> Option<ReportedShare> {
    let in_lists = reports.observations.iter().filter(|o| o.complete_list).count();
    if in_lists < LEAST_REPORTS || reports.observations.len() - in_lists < LEAST_REPORTS {
        return None;
    }
    let problem = harmed_or_not(spec, reports)?;
    let effort = ordinal::FitOptions { tolerance: 1e-6, ..spec.effort };
    let fitted = ordinal::fit(&problem, &Free::new(&problem), effort);
    let (step, error) = fitted.coefficient(0).filter(|_| fitted.convergence.converged)?;
    (error <= LARGEST_ERROR).then_some(ReportedShare { log: Gaussian::new(-step, error), in_lists })
}

/// Harmed against unharmed, with a step for reports outside complete lists as the first effect.
fn harmed_or_not(spec: &HardinessSpec<'_>, reports: &Reports) -> Option<Problem> {
    let used: std::collections::BTreeSet<Effect> = reports.observations.iter().flat_map(|o| Effect::of(o.conditions)).collect();
    let used: Vec<Effect> = used.into_iter().collect();
    let mut effects = vec![Role::Flat];
    effects.extend(used.iter().map(|effect| {
        let prior = effect.prior(spec.priors);
        Role::Normal { mean: prior.mean, sd: prior.sd, scaled: true }
    }));
    let engine = Spec {
        levels: 2,
        exposure: true,
        effects,
        group: Some(Group { parents: vec![None; reports.cultivars.len()], scaled: true }),
        crossed: Some((reports.reporters as usize).max(1)),
        nested: true,
        further_tops: 0,
    };
    let calibration = Calibration::learn(reports.reporters as usize, &reports.observations);
    let mut builder = Problem::builder(engine).ok()?;
    for o in &reports.observations {
        let harmed = match (o.damage.low(), o.damage.high()) {
            (_, DamageLevel::Unharmed) => 0,
            (DamageLevel::Unharmed, _) => continue,
            _ => 1,
        };
        let exposed = Calibration::apply(calibration.as_ref(), o);
        let outside = (!o.complete_list).then_some((0, 1.0));
        let place = |effect: Effect| used.iter().position(|known| *known == effect).map(|at| (at as u16 + 1, effect.sign()));
        let columns: Vec<(u16, f64)> = outside.into_iter().chain(Effect::of(o.conditions).filter_map(place)).collect();
        let record = Observation {
            low: harmed,
            high: harmed,
            exposure: exposed.mean,
            exposure_sd: exposed.own,
            shared_sd: exposed.shared,
            weight: o.weight,
            group: o.cultivar,
            crossed: o.reporter,
            nested: o.event(),
            effects: &columns,
            ..Observation::default()
        };
        builder.push(&record).ok()?;
    }
    builder.finish().ok()
}

/// Reports in which unharmed plants outside complete lists count for those that were not reported.
#[must_use]
pub fn weighed(reports: &Reports, share: f64) -> Reports {
    let weigh = |o: &WinterObservation| {
        let seldom = !o.complete_list && o.damage.high() == DamageLevel::Unharmed;
        let factor = if seldom { (1.0 / share).clamp(1.0, MOST_WEIGHT) } else { 1.0 };
        WinterObservation { weight: o.weight * factor, ..*o }
    };
    Reports { observations: reports.observations.iter().map(weigh).collect(), ..reports.clone() }
}

/// What would follow from each of [`SHOWN`], by one step from a fit of the reports as they are.
pub fn sensitivity(spec: &HardinessSpec<'_>, reports: &Reports, fitted: &Fitted) -> Vec<Sensitivity> {
    let of = |share: f64| {
        let moved = fit_without(spec, &weighed(reports, share), fitted).ok()?;
        let mean = |level: DamageLevel| {
            let reported = (0..fitted.cultivars()).filter(|c| fitted.reports_of(*c) > 0);
            let moves: Vec<f64> = reported.filter_map(|c| Some(moved.t50(c, level)?.mean - fitted.t50(c, level)?.mean)).collect();
            moves.iter().sum::<f64>() / moves.len().max(1) as f64
        };
        Some(Sensitivity { share, tips_k: mean(DamageLevel::Tips), ground_k: mean(DamageLevel::ToGround) })
    };
    SHOWN.into_iter().filter_map(of).collect()
}
