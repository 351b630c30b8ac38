//! Values of hardiness and fruit fitted from reports, held by a snapshot beside the beliefs computed from them.

use serde::{Deserialize, Serialize};

use crate::model::diagnostic_words::diagnostic_words;
use crate::science::fruiting::first_ripe::Pooled;
use crate::science::fruiting::learned::{RipeByCultivar, ShownByLevel};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::fit::Effect;
use crate::science::hardiness::observation::DamageRange;
use crate::science::hardiness::posterior::Fitted;
use crate::science::hardiness::scale::DamageScale;
use crate::science::hardiness::scoring::Validation;
use crate::science::hardiness::selection::{ReportedShare, Sensitivity};
use crate::science::numeric::Gaussian;

/// What a snapshot learned, beside the beliefs it put in place.
#[derive(Debug)]
pub struct TrainedModel {
    /// The fit, where this process made it; `None` where another did and left what it came to.
    pub fitted: Option<Fitted>,
    /// What it came to.
    pub lesson: FittedEffects,
    /// Scores with each winter left out.
    pub by_winter: Option<Validation>,
    /// Scores with reporters left out.
    pub by_reporter: Option<Validation>,
    /// Reports of each cultivar on the scale of its own hardiness, in the order of the catalogue.
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

/// One report on the common axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Cold met, turned into that of an established, bare plant in the ground, °C, with its doubt, K.
    pub exposure: Gaussian,
    /// What happened.
    pub damage: DamageRange,
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
