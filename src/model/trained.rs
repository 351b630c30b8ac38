//! Values of hardiness and fruit fitted from reports, held by a snapshot beside the beliefs computed from them.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use arc_swap::ArcSwap;
use serde::{Deserialize, Serialize};

use crate::model::diagnostic_words::diagnostic_words;
use crate::records::MemberId;
use crate::science::fruiting::first_ripe::Pooled;
use crate::science::fruiting::learned::{RipeByCultivar, ShownByLevel};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::fit::Effect;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;
use crate::science::hardiness::posterior::Fitted;
use crate::science::hardiness::scale::DamageScale;
use crate::science::hardiness::scoring::Validation;
use crate::science::hardiness::selection::{ReportedShare, Sensitivity};
use crate::science::numeric::Gaussian;

/// What stands behind the model of a snapshot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ModelVersion {
    /// Name of this state of the model.
    pub version: String,
    /// Winter reports it has learned from.
    pub reports: usize,
    /// When it was fitted; `None` for priors alone.
    pub fitted_at: Option<jiff::Timestamp>,
    /// How many of its reports came after the fit and moved the curves of their figs alone.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub ahead: usize,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "what serde asks of a condition")]
const fn is_nought(n: &usize) -> bool {
    *n == 0
}

/// What a snapshot learned, beside the beliefs it put in place.
#[derive(Debug)]
pub struct TrainedModel {
    /// The fit, where this process made it; `None` where another did and left what it came to.
    pub fitted: Option<Fitted>,
    /// Numbers of the reporters in it.
    pub reporters: Arc<HashMap<MemberId, u32>>,
    /// What it came to.
    pub lesson: FittedEffects,
    /// How well it foretells reports that it has not seen, or an earlier one did.
    pub scored: ArcSwap<Scored>,
    /// Reports of each cultivar on the scale of its own hardiness, in the order of the catalogue; neighbours merged where there are many.
    pub points: Vec<Vec<Point>>,
    /// Beliefs before any report, in the order of the catalogue.
    pub before: Vec<HardinessBelief>,
    /// Slope and gaps before any report.
    pub scale_before: DamageScale,
    /// Reports that could not be used, with the count.
    pub left_out: usize,
}

impl TrainedModel {
    /// The fit, to begin the next one from.
    pub fn fitted(&self) -> Option<&Fitted> {
        self.fitted.as_ref()
    }
}

/// How well a model foretold reports that it had not seen.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Scored {
    /// With each winter left out; `None` where there are not two.
    #[serde(default)]
    pub by_winter: Option<Validation>,
    /// With reporters left out, in groups; `None` where there are too few.
    #[serde(default)]
    pub by_reporter: Option<Validation>,
    /// The model it is of; `None` where none was scored yet.
    #[serde(default)]
    pub of: Option<ModelVersion>,
}

/// The values that all cultivars share, as fitted.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct FittedEffects {
    /// What a reader should know about the fit, in words.
    pub doubts: Vec<String>,
    /// Steepness, 1/K.
    pub beta: Gaussian,
    /// Gaps of tips, wood and death to ground-kill, K.
    pub gaps_k: [f64; 3],
    /// Spread of cultivars within a class, K.
    pub sigma_h: f64,
    /// Spread of reporters, logits.
    pub sigma_r: f64,
    /// Spread of what all plants of a garden share in a winter, K.
    pub event_state: Gaussian,
    /// Gap of death to ground-kill in the first three winters, K.
    pub gap_dead_young: Option<Gaussian>,
    /// Share of the computed hardening that is real, where reports have a daily record.
    pub hardening_share: Option<Gaussian>,
    /// Share of reports that do not say what happened.
    pub contamination: f64,
    /// Error of thermometers beyond what is stated of them, K.
    #[serde(default)]
    pub unstated: Gaussian,
    /// How seldom unharmed plants are reported, where complete lists tell it; they are weighed by it then.
    pub reported: Option<ReportedShare>,
    /// What would follow from given shares, where they do not.
    pub sensitivity: Vec<Sensitivity>,
    /// Effects of conditions, K.
    pub effects: Vec<(Effect, Gaussian)>,
}

impl FittedEffects {
    /// Of a fit.
    pub fn of(fitted: &Fitted) -> Self {
        Self {
            doubts: fitted.diagnostics().iter().map(diagnostic_words).collect(),
            beta: fitted.beta(),
            gaps_k: fitted.gaps_k(),
            sigma_h: fitted.sigma_h(),
            sigma_r: fitted.sigma_r(),
            event_state: fitted.event_state(),
            gap_dead_young: fitted.gap_dead_young(),
            hardening_share: fitted.hardening_share(),
            contamination: fitted.contamination(),
            unstated: fitted.unstated(),
            reported: None,
            sensitivity: Vec::new(),
            effects: fitted.effects().collect(),
        }
    }
}

/// Reports of a cultivar that are kept one by one; beyond, those of one damage and half a kelvin are kept as one point that counts them.
/// DESIGN: pictures have room for no more.
pub const MOST_POINTS: usize = 400;
/// Width of a merged point, K: the step in which a shortlist draws its marks.
pub const MERGED_STEP_K: f64 = 0.5;

/// A report on the common axis, or several alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Cold met, turned into that of an established, bare plant in the ground, °C, with its doubt, K.
    pub exposure: Gaussian,
    /// What happened.
    pub damage: DamageRange,
    /// How many reports it stands for.
    pub reports: usize,
}

/// Points of one cultivar as they come, few enough to keep and draw.
#[derive(Debug, Clone, Default)]
pub struct GatheredPoints {
    few: Vec<Point>,
    /// Once they are many: sums of means and spreads, and how many reports, by half kelvin and damage.
    bins: BTreeMap<(i64, DamageLevel, DamageLevel), (f64, f64, usize)>,
}

impl GatheredPoints {
    /// One more.
    pub fn add(&mut self, point: Point) {
        if self.bins.is_empty() && self.few.len() < MOST_POINTS {
            self.few.push(point);
            return;
        }
        for point in std::mem::take(&mut self.few).into_iter().chain([point]) {
            let step = (point.exposure.mean / MERGED_STEP_K).round() as i64;
            let sum = self.bins.entry((step, point.damage.low(), point.damage.high())).or_default();
            let reports = point.reports as f64;
            *sum = (sum.0 + reports * point.exposure.mean, sum.1 + reports * point.exposure.sd, sum.2 + point.reports);
        }
    }

    /// All of them.
    pub fn all(self) -> Vec<Point> {
        let point = |((_, low, high), (mean, sd, reports)): ((i64, DamageLevel, DamageLevel), (f64, f64, usize))| Point {
            exposure: Gaussian::new(mean / reports as f64, sd / reports as f64),
            damage: DamageRange::between(low, high),
            reports,
        };
        if self.bins.is_empty() { self.few } else { self.bins.into_iter().map(point).collect() }
    }
}

/// Points of one cultivar, few enough to keep and draw.
pub fn merged(points: Vec<Point>) -> Vec<Point> {
    let mut gathered = GatheredPoints::default();
    points.into_iter().for_each(|point| gathered.add(point));
    gathered.all()
}

/// What reports have said of spring and fruit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittedFruiting {
    /// First growth by damage.
    pub shown: ShownByLevel,
    /// Heat to the first ripe fig by cultivar.
    pub ripe: RipeByCultivar,
    /// Reports with dates that taught nothing, since no daily record counted their heat.
    pub heat_unknown: usize,
    /// Reports with dates that taught nothing, since damage or life was not plain.
    pub unclear: usize,
}

/// Reports in the model of when figs of a cultivar ripened, or of a season in which they did not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct FirstFigs {
    /// Of the main crop.
    pub main: usize,
    /// Of the breba.
    pub breba: usize,
}

impl FittedFruiting {
    /// The same of all cultivars.
    pub fn ripe_reports(&self) -> FirstFigs {
        let of = |pooled: &Option<Pooled>| pooled.as_ref().map_or(0, |p| p.reports.iter().sum());
        FirstFigs { main: of(&self.ripe.main), breba: of(&self.ripe.breba) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Half-kelvin steps from −30 to −10 °C and two levels: at most 82 points, which count every report in the step that it lies in.
    #[test]
    fn many_reports_are_few_points_that_count_them_all() {
        let level = |n: usize| if n.is_multiple_of(3) { DamageLevel::Tips } else { DamageLevel::Wood };
        let point =
            |n: usize| Point { exposure: Gaussian::new(-30.0 + 0.001 * n as f64, 1.0), damage: DamageRange::exactly(level(n)), reports: 1 };
        let points = merged((0..20_000).map(point).collect());
        assert!(points.len() <= 82, "{}", points.len());
        assert_eq!(points.iter().map(|point| point.reports).sum::<usize>(), 20_000);
        let near = |point: &Point| (point.exposure.mean / MERGED_STEP_K - (point.exposure.mean / MERGED_STEP_K).round()).abs() <= 0.5;
        assert!(points.iter().all(near));
        assert_eq!(merged((0..MOST_POINTS).map(point).collect()).len(), MOST_POINTS, "few are kept one by one");
    }
}
