//! Hardening day by day through a spell.
//!
//! A plant stands at a share s of the way from full hardiness to tender. A day of mean temperature T moves it by the season's own equations
//! ([`HardeningModel`]), written in s: `Δs = [gain·min(0, T − θ)·s + loss·max(0, T − θ)·(1 − s^p)]/range`. Those rates were measured on
//! grapes: a share λ of the computed change (`hardening_share`, as reports have moved it) is taken as real for figs.

use crate::science::cold_night::stage::Stage;
use crate::science::cultivar::HardinessClass;
use crate::science::hardiness::hardening::{HardeningModel, Phase};

/// The phase of dormancy a plant shows: before leaf and after its buds move rates differ.
fn phase(stage: Stage, model: &HardeningModel) -> Option<Phase> {
    match stage {
        Stage::Hard | Stage::LeavesDown | Stage::InLeaf => Some(model.rest),
        Stage::Buds | Stage::Growing => Some(model.after_rest),
        // Never hardened, and will not within days.
        Stage::RootedCutting => None,
    }
}

/// The share of the way to tender after a day, 0..=1. `real`: λ, the share of a computed change that counts (`hardening_share`).
pub fn after_a_day(stage: Stage, share: f64, mean_c: f64, real: f64) -> f64 {
    let model = HardeningModel::fig(HardinessClass::MIDDLING);
    let Some(phase) = phase(stage, &model) else { return share };
    let (cold, warm) = ((mean_c - phase.threshold_c).min(0.0), (mean_c - phase.threshold_c).max(0.0));
    let change = (phase.gain * cold * share + phase.loss * warm * (1.0 - share.powf(model.exponent))) / model.range_k();
    (share + real * change).clamp(0.0, 1.0)
}
