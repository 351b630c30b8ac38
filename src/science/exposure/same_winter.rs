//! Plants that meet the same winter: chances given what they share of it, so that several kinds in one garden can be looked at together.

use super::Exposure;
use super::chance::{HARMED, either, levels_of};
use super::roots::RootView;
use super::tissue::Tissue;
use crate::science::hardiness::belief::{Component, HardinessBelief};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::{SoftLogistic, SoftMixture};

/// One winter in standard units, so that plants whose lowest air has different distributions meet the same one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharedWinter {
    /// Share of winters whose lowest air is colder, 0..1.
    pub colder_share: f64,
    /// Everything else that plants of one garden share (setting, cover, shared winter, doubts of the place), standard deviations from its mean.
    pub common_z: f64,
}

/// Chances that the roots of a pot lose their young ones and that they kill the plant.
type RootsLost = (f64, f64);

/// What plants of one exposure meet in several winters, made ready for any number of kinds.
#[derive(Debug, Clone)]
pub struct WintersMet {
    /// What the tops and the base feel, on the scale of equivalent minima, by winter, °C.
    top_c: Vec<f64>,
    base_c: Vec<f64>,
    /// What becomes of the roots of a pot, by winter; none in the ground.
    roots: Option<Vec<RootsLost>>,
}

impl Exposure {
    /// What is met in some winters.
    pub fn meeting(&self, winters: impl IntoIterator<Item = SharedWinter>) -> WintersMet {
        let mut met = WintersMet { top_c: Vec::new(), base_c: Vec::new(), roots: self.roots.as_ref().map(|_| Vec::new()) };
        // Winters of one share follow each other: the air and what it does to a pot are the same in them.
        let mut air: Option<(f64, f64, Option<RootsLost>)> = None;
        for SharedWinter { colder_share, common_z } in winters {
            let (lowest_c, roots) = match air {
                Some((share, lowest_c, roots)) if share == colder_share => (lowest_c, roots),
                _ => {
                    let lowest_c = self.lowest.quantile(colder_share).degrees();
                    (lowest_c, self.roots.as_ref().map(|roots| roots.chances(lowest_c, RootView::Averaged)))
                }
            };
            air = Some((colder_share, lowest_c, roots));
            met.top_c.push(self.felt_c(&self.top, lowest_c, common_z));
            met.base_c.push(self.felt_c(&self.base, lowest_c, common_z));
            met.roots.iter_mut().zip(roots).for_each(|(all, roots)| all.push(roots));
        }
        met
    }

    fn felt_c(&self, tissue: &Tissue, lowest_c: f64, common_z: f64) -> f64 {
        let common = (tissue.luck_k2 + tissue.doubt_at_k2(lowest_c) + self.shared_winter_k.powi(2)).sqrt();
        tissue.share * lowest_c + tissue.offset_k + common_z * common
    }

    /// Chance of each level in that winter, in the order of [`DamageLevel::ALL`]: what is left to chance is the plant's own luck and what is
    /// not known of its cultivar.
    pub fn chance_in(&self, winter: SharedWinter, belief: &HardinessBelief, scale: &DamageScale) -> [f64; 5] {
        self.chances_in(&self.meeting([winter]), belief, scale).first().copied().unwrap_or([1.0, 0.0, 0.0, 0.0, 0.0])
    }

    /// The same in each of several winters.
    pub fn chances_in(&self, met: &WintersMet, belief: &HardinessBelief, scale: &DamageScale) -> Vec<[f64; 5]> {
        let mut at_least = vec![[0.0; 4]; met.top_c.len()];
        let [tops @ .., base] = HARMED;
        self.add_reached(&met.top_c, &tops, belief, scale, &mut at_least);
        self.add_reached(&met.base_c, &[base], belief, scale, &mut at_least);
        if let Some(roots) = &met.roots {
            for ([tips, wood, ground, dead], &(young, killed)) in at_least.iter_mut().zip(roots) {
                *tips = either(*tips, young);
                *wood = either(*wood, killed);
                *ground = either(*ground, killed);
                *dead = either(*dead, killed);
            }
        }
        at_least.into_iter().map(levels_of).collect()
    }

    /// Adds the chances that levels of one tissue are reached, by what the tissue feels in each winter.
    fn add_reached(
        &self,
        felt_c: &[f64],
        levels: &[DamageLevel],
        belief: &HardinessBelief,
        scale: &DamageScale,
        at_least: &mut [[f64; 4]],
    ) {
        let stands = |part: &Component| -> Vec<f64> {
            levels.iter().map(|&level| self.part(level, part.h.mean).1 + self.offset_k(level, scale)).collect()
        };
        let soft = |part: &Component| {
            let kept = levels.first().map_or(1.0, |&level| self.part(level, part.h.mean).0.kept_of_h(part.h.mean));
            SoftLogistic::new(scale.beta, (kept * part.h.sd).powi(2))
        };
        let parts: Vec<(f64, Vec<f64>, SoftLogistic)> =
            belief.components().iter().map(|part| (part.weight, stands(part), soft(part))).collect();
        // Parts whose levels stand at the same distances are one function of the cold; in growth they draw together.
        let from_first = |stands: &[f64]| stands.iter().map(|c| c - stands[0]).collect::<Vec<_>>();
        let alike = |a: &[f64], b: &[f64]| from_first(a).iter().zip(from_first(b)).all(|(a, b)| (a - b).abs() < 1e-12);
        for parts in parts.chunk_by(|(_, a, _), (_, b, _)| alike(a, b)) {
            let Some((_, stands, _)) = parts.first() else { continue };
            let shifted = |(weight, hard, soft): &(f64, Vec<f64>, SoftLogistic)| (*weight, hard[0] - stands[0], *soft);
            let chances = SoftMixture { parts: parts.iter().map(shifted).collect() };
            let mut reached: Vec<f64> = stands.iter().flat_map(|hard_c| felt_c.iter().map(move |felt_c| hard_c - felt_c)).collect();
            chances.replace(&mut reached);
            for (level, reached) in levels.iter().zip(reached.chunks(felt_c.len().max(1))) {
                for (at_least, reached) in at_least.iter_mut().zip(reached) {
                    at_least[level.index() - 1] += reached;
                }
            }
        }
    }
}
