//! Selective reporting: who lost nothing often reports nothing, which makes figs look tenderer than they are.
//!
//! If unharmed plants are reported ρ times as often as harmed ones, the odds of "unharmed" among reports are ρ times those among plants. In
//! a logistic model of harmed against unharmed that is a step of −log ρ in the predictor of every report outside a complete list, so
//! complete lists (every plant of a garden's winter, losses and all) identify ρ together with its standard error. Where there are enough,
//! unharmed plants outside them count 1/ρ each (inverse-rate weights remove the bias: Statistical Methods in Medical Research 2024,
//! 10.1177/09622802241282091, abstract read); where there are too few nothing is corrected, and what would follow from given ρ is shown.
//!
//! The step itself comes out too small: effects of a binary outcome shrink under Laplace's method where a garden's winter has few reports, and
//! a report that does not say what happened is unharmed in one of five cases in lists and outside them alike. ρ is therefore the share at
//! which the step is *nought* once unharmed plants count 1/ρ and every report counts by its chance of being genuine, found in a few rounds. For
//! the same reasons the step falls less than log ρ does, and an error of the step is a larger one of log ρ by as much.

use super::calibration::Calibration;
use super::evidence::Evidence;
use super::fit::{Effect, FitError, HardinessSpec, fit, fit_without, refit, refit_from};
use super::level::DamageLevel;
use super::observation::{CultivarPrior, WinterObservation};
use super::ordinal::{self, Free, Group, Observation, Problem, Role, Spec};
use super::posterior::Fitted;
use crate::science::numeric::Gaussian;

/// Reports in complete lists, and outside them, below which ρ is not estimated. Source: DESIGN.
pub const LEAST_REPORTS: usize = 200;
/// Standard error of log ρ above which it is not used: a factor of e either way. Source: DESIGN.
const LARGEST_ERROR: f64 = 1.0;
/// Rounds in which ρ is sought, and the step, as a share of its standard error, at which they end.
const MOST_ROUNDS: usize = 6;
const SETTLED: f64 = 0.05;
/// Least share of log ρ that its step is taken to fall by, and the move of log ρ from which the two are compared.
const LEAST_FALL: f64 = 0.25;
const TELLING: f64 = 0.02;
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

/// A fit, and what complete lists did to it.
#[derive(Debug)]
pub struct FittedWithLists {
    /// The fit, of the reports [`Weighed`] by ρ.
    pub fitted: Fitted,
    /// ρ, where complete lists tell it.
    pub reported: Option<ReportedShare>,
}

/// Fits the model, unharmed plants outside complete lists counting for those that were not reported where ρ is told; from an earlier fit where
/// one is given.
pub fn fit_with_lists(spec: &HardinessSpec<'_>, reports: &dyn Evidence, earlier: Option<&Fitted>) -> Result<FittedWithLists, FitError> {
    let first = earlier.map_or_else(|| fit(spec, reports), |earlier| refit(spec, reports, earlier))?;
    let reported = reported_share(spec, reports, &first);
    let fitted = if let Some(reported) = reported {
        let weighed = Weighed { reports, share: reported.value() };
        let (records, unstated) = (first.records(), first.unstated());
        // The packed reports of the first fit go before those of the second come.
        let first = first.into_engine();
        let fitted = refit_from(spec, &weighed, &first, records, unstated)?.with_doubts(spec, &weighed);
        // Where ρ is one standard error lower.
        let lower = Weighed { reports, share: (reported.log.mean - reported.log.sd).exp() };
        match fit_without(spec, &lower, &fitted) {
            Ok(moved) => fitted.with_doubt(&moved, 1.0),
            Err(_) => fitted,
        }
    } else {
        first.with_doubts(spec, reports)
    };
    // Doubts that were not worked out to their end would be missing.
    if spec.effort.is_stopped() { Err(FitError::Stopped) } else { Ok(FittedWithLists { fitted, reported }) }
}

/// ρ as complete lists tell it, given a fit of the same reports; `None` where there are too few of them, or they do not tell it well enough.
pub fn reported_share(spec: &HardinessSpec<'_>, reports: &dyn Evidence, fitted: &Fitted) -> Option<ReportedShare> {
    let (mut in_lists, mut outside) = (0, 0);
    for o in reports.observations() {
        *(if o.complete_list { &mut in_lists } else { &mut outside }) += 1;
    }
    if in_lists < LEAST_REPORTS || outside < LEAST_REPORTS {
        return None;
    }
    let effort = ordinal::FitOptions { tolerance: 1e-6, ..spec.effort };
    let mut earlier: Option<ordinal::Fitted> = None;
    // The step and its standard error where unharmed plants count for so many.
    let mut step_at = |log: f64| {
        let mut problem = harmed_or_not(spec, &Weighed { reports, share: log.exp() }, fitted.unstated().mean)?;
        problem.believe_as(fitted.problem()?);
        let free = Free::new(&problem);
        let found = match &earlier {
            Some(earlier) => ordinal::refit_one_step(&problem, &free, effort, earlier),
            None => ordinal::fit(&problem, &free, effort),
        };
        if spec.effort.is_stopped() {
            return None;
        }
        let step = found.coefficient(0).filter(|_| found.convergence.converged || earlier.is_some())?;
        earlier.get_or_insert(found);
        Some(step)
    };
    let (mut log, mut error) = (0.0_f64, 0.0);
    // The last place with its step, and how far the step falls as log ρ does: less than as far.
    let (mut before, mut fall): (Option<(f64, f64)>, f64) = (None, 1.0);
    for _ in 0..MOST_ROUNDS {
        let (step, of_step) = step_at(log)?;
        if let Some((there, other)) = before.filter(|(there, _)| (there - log).abs() > TELLING) {
            fall = ((other - step) / (there - log)).clamp(LEAST_FALL, 1.0);
        }
        before = Some((log, step));
        error = of_step;
        log = (log - step / fall).clamp(-MOST_WEIGHT.ln(), MOST_WEIGHT.ln());
        if step.abs() < SETTLED * error {
            break;
        }
    }
    // What an error of the step is in log ρ is told by the step one error away, on the side of all plants reported alike if they are not.
    let away = if log < -error { error } else { -error };
    let (step, _) = step_at(log + away)?;
    let fall = (step / away).clamp(LEAST_FALL, 1.0);
    let log = Gaussian::new(log, error / fall);
    (log.sd <= LARGEST_ERROR).then_some(ReportedShare { log, in_lists })
}

/// Harmed against unharmed, with a step for reports outside complete lists as the first effect.
fn harmed_or_not(spec: &HardinessSpec<'_>, reports: &dyn Evidence, unstated_k: f64) -> Option<Problem> {
    if spec.effort.is_stopped() {
        return None;
    }
    let used: std::collections::BTreeSet<Effect> = reports.observations().flat_map(|o| Effect::of(o.conditions)).collect();
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
        group: Some(Group { parents: vec![None; reports.cultivars().len()], own: Vec::new(), scaled: true }),
        crossed: Some((reports.reporters() as usize).max(1)),
        nested: true,
        further_tops: 0,
    };
    let count = reports.count();
    let calibration = Calibration::learn((reports.reporters() as usize, count), reports.observations(), unstated_k);
    let mut builder = Problem::builder(engine).ok()?;
    builder.expecting(count, 1);
    for o in reports.observations() {
        if spec.effort.is_stopped() {
            return None;
        }
        // A report that may be either says nothing here, but keeps its place.
        let (low, high) = match (o.damage.low(), o.damage.high()) {
            (_, DamageLevel::Unharmed) => (0, 0),
            (DamageLevel::Unharmed, _) => (0, 1),
            _ => (1, 1),
        };
        let exposed = Calibration::apply(calibration.as_ref(), &o);
        let outside = (!o.complete_list).then_some((0, 1.0));
        let place = |effect: Effect| used.iter().position(|known| *known == effect).map(|at| (at as u16 + 1, effect.sign()));
        let columns: Vec<(u16, f64)> = outside.into_iter().chain(Effect::of(o.conditions).filter_map(place)).collect();
        let record = Observation {
            low,
            high,
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

/// How much a report counts where unharmed plants outside complete lists count for those that were not reported; 1 where it is not told how
/// many those are.
pub fn weight_of(o: &WinterObservation, reported: Option<&ReportedShare>) -> f64 {
    reported.map_or(1.0, |reported| factor(o, reported.value()))
}

fn factor(o: &WinterObservation, share: f64) -> f64 {
    let seldom = !o.complete_list && o.damage.high() == DamageLevel::Unharmed;
    if seldom { (1.0 / share).clamp(1.0, MOST_WEIGHT) } else { 1.0 }
}

/// Reports in which unharmed plants outside complete lists count for those that were not reported.
#[derive(Debug, Clone, Copy)]
pub struct Weighed<'a> {
    reports: &'a dyn Evidence,
    share: f64,
}

impl<'a> Weighed<'a> {
    /// Reports as they are fitted where ρ is told; where it is not, as they are.
    pub fn by(reports: &'a dyn Evidence, reported: Option<&ReportedShare>) -> Self {
        Self { reports, share: reported.map_or(1.0, ReportedShare::value) }
    }
}

impl Evidence for Weighed<'_> {
    fn cultivars(&self) -> &[CultivarPrior] {
        self.reports.cultivars()
    }

    fn reporters(&self) -> u32 {
        self.reports.reporters()
    }

    fn observations(&self) -> Box<dyn Iterator<Item = WinterObservation> + '_> {
        let weigh = |o: WinterObservation| WinterObservation { weight: o.weight * factor(&o, self.share), ..o };
        Box::new(self.reports.observations().map(weigh))
    }

    fn count(&self) -> usize {
        self.reports.count()
    }
}

/// What would follow from each of [`SHOWN`], by one step from a fit of the reports as they are.
pub fn sensitivity(spec: &HardinessSpec<'_>, reports: &dyn Evidence, fitted: &Fitted) -> Vec<Sensitivity> {
    let of = |share: f64| {
        let moved = fit_without(spec, &Weighed { reports, share }, fitted).ok()?;
        let mean = |level: DamageLevel| {
            let reported = (0..fitted.cultivars()).filter(|c| fitted.reports_of(*c) > 0);
            let moves: Vec<f64> = reported.filter_map(|c| Some(moved.t50(c, level)?.mean - fitted.t50(c, level)?.mean)).collect();
            moves.iter().sum::<f64>() / moves.len().max(1) as f64
        };
        Some(Sensitivity { share, tips_k: mean(DamageLevel::Tips), ground_k: mean(DamageLevel::ToGround) })
    };
    SHOWN.into_iter().filter_map(of).collect()
}
