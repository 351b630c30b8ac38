//! Plants that meet the same winter: chances given what they share of it, so that several kinds in one garden can be looked at together.

use super::Exposure;
use super::chance::{HARMED, either, levels_of};
use super::roots::RootView;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::expected_logistic;

/// One winter in standard units, so that plants whose lowest air has different distributions meet the same one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharedWinter {
    /// Share of winters whose lowest air is colder, 0..1.
    pub colder_share: f64,
    /// Everything else that plants of one garden share (setting, cover, shared winter, doubts of the place), standard deviations from its mean.
    pub common_z: f64,
}

impl Exposure {
    /// Chance of each level in that winter, in the order of [`DamageLevel::ALL`]: what is left to chance is the plant's own luck and what is
    /// not known of its cultivar.
    pub fn chance_in(&self, winter: SharedWinter, belief: &HardinessBelief, scale: &DamageScale) -> [f64; 5] {
        let lowest = self.lowest.quantile(winter.colder_share).degrees();
        let roots = self.roots.as_ref().map(|roots| roots.chances(lowest, RootView::Averaged));
        levels_of(HARMED.map(|level| {
            let killed = match (roots, level) {
                (None, _) => 0.0,
                (Some((young, _)), DamageLevel::Tips) => young,
                (Some((_, dead)), _) => dead,
            };
            either(self.reached_in(winter, lowest, belief, level, scale), killed)
        }))
    }

    fn reached_in(&self, winter: SharedWinter, lowest_c: f64, belief: &HardinessBelief, level: DamageLevel, scale: &DamageScale) -> f64 {
        let beta = scale.beta;
        belief
            .components()
            .iter()
            .map(|part| {
                let (tissue, hard) = self.part(level, part.h.mean);
                let common = (tissue.luck_k2 + tissue.doubt_at_k2(lowest_c) + self.shared_winter_k.powi(2)).sqrt();
                let felt = tissue.share * lowest_c + tissue.offset_k + winter.common_z * common;
                let own = tissue.kept_of_h(part.h.mean) * part.h.sd;
                part.weight * expected_logistic(beta * (hard + self.offset_k(level, scale) - felt), beta * beta * own * own)
            })
            .sum()
    }
}
