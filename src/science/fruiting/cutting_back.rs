//! What a hard cut gives and costs: the arithmetic of dieback, by choice.
//!
//! A cut takes last year's wood and with it the breba, makes growth start later, and leaves shoots of the year. A cut differs from frost in
//! one thing: the plant below it is sound, so a cut to a framework behaves like lost tips, a cut to stubs like lost wood.

use super::crop::{CropChances, FruitTraits, crop_chances};
use super::heat::SeasonHeat;
use super::priors::FruitPriors;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Gaussian;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// How far back.
    pub enum CutDepth: "depth of cut" {
        /// Last year's shoots shortened.
        Tips = "tips" => "shorten last year's shoots",
        /// Back to the old framework.
        Framework = "framework" => "back to the framework",
        /// To stubs at the ground.
        Ground = "ground" => "down to the ground",
    }
}

/// What a cut does to this year's crop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutAnswer {
    /// The cut.
    pub depth: CutDepth,
    /// Chance of ripe figs without the cut, nothing dead.
    pub uncut: f64,
    /// Chance of ripe figs after it.
    pub cut: f64,
    /// Days by which growth starts later.
    pub later_days: Gaussian,
    /// Length of new shoots by autumn, m; `None` where the cut does not force regrowth.
    pub regrowth_m: Option<Gaussian>,
}

/// Answers for every depth.
pub fn cuts(traits: &FruitTraits, heat: &SeasonHeat, priors: &FruitPriors) -> Vec<CutAnswer> {
    let chances: CropChances = crop_chances(traits, heat, priors);
    let [tips, wood, ground] = priors.delay_days;
    CutDepth::ALL
        .iter()
        .map(|&depth| {
            let (level, later_days, regrowth_m) = match depth {
                CutDepth::Tips => (DamageLevel::Tips, tips, None),
                CutDepth::Framework => (DamageLevel::Wood, wood, Some(priors.regrowth_length_m)),
                CutDepth::Ground => (DamageLevel::ToGround, ground, Some(priors.regrowth_length_m)),
            };
            let of = |k: DamageLevel| chances.expected.get(k.index()).copied().unwrap_or(0.0);
            CutAnswer { depth, uncut: of(DamageLevel::Unharmed), cut: of(level), later_days, regrowth_m }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::cultivar::FruitKind;

    #[test]
    fn the_harder_the_cut_the_fewer_the_figs_and_a_san_pedro_kind_gives_none() {
        let priors = fruit_priors().unwrap();
        let heat = SeasonHeat::new(Gaussian::new(2_100.0, 165.0), 0.0, 8.0);
        let of = |kind| cuts(&FruitTraits { kind: Some(kind), ..FruitTraits::default() }, &heat, &priors);
        let common = of(FruitKind::Common);
        assert!(common.windows(2).all(|w| w[0].cut >= w[1].cut) && common[0].cut <= common[0].uncut);
        assert!(of(FruitKind::SanPedro).iter().all(|c| c.cut == 0.0 && c.uncut > 0.0));
    }
}
