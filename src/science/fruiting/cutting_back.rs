//! What a hard cut gives and costs: the arithmetic of dieback, by choice.
//!
//! A cut takes last year's wood and with it the breba, makes growth start later, and leaves shoots of the year. Each depth counts as the frost
//! that takes as much: shortened shoots as lost tips, a framework as lost wood, stubs at the ground as a top killed to the ground. Source for
//! the deepest: a fig cut to short spurs each winter in Brazil needs 1,955 to 2,200 degree-days from the cut to the first ripe fig
//! (SOUZA2009, base 8 °C, cap 36 °C); counting it one level milder would ask for less heat than that.

use super::crop::{CropChances, FruitTraits, crop_chances};
use super::priors::FruitPriors;
use super::season_degree_days::SeasonDegreeDays;
use super::shoots::ShootLength;
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
    /// Length of new shoots by autumn; `None` where the cut does not force regrowth.
    pub regrowth: Option<ShootLength>,
}

/// Answers for every depth, of a plant whose new shoots by autumn will be so long.
pub fn cuts(traits: &FruitTraits, degree_days: &SeasonDegreeDays, shoots: ShootLength, priors: &FruitPriors) -> Vec<CutAnswer> {
    let chances: CropChances = crop_chances(traits, degree_days, priors);
    let [tips, wood, ground] = priors.delay_days;
    CutDepth::ALL
        .iter()
        .map(|&depth| {
            let (level, later_days, regrowth) = match depth {
                CutDepth::Tips => (DamageLevel::Tips, tips, None),
                CutDepth::Framework => (DamageLevel::Wood, wood, Some(shoots)),
                CutDepth::Ground => (DamageLevel::ToGround, ground, Some(shoots)),
            };
            let of = |k: DamageLevel| chances.expected.get(k.index()).copied().unwrap_or(0.0);
            CutAnswer { depth, uncut: of(DamageLevel::Unharmed), cut: of(level), later_days, regrowth }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::cultivar::FruitKind;
    use crate::science::fruiting::shoots::shoot_length;

    /// SOUZA2009 (Roxo de Valinhos, Brazil): 1,955 and 2,200 degree-days, base 8 °C, cap 36 °C, from the cut of every shoot to the first harvest.
    #[test]
    fn a_cut_to_the_ground_needs_the_heat_measured_on_figs_that_are_cut_to_spurs() {
        let priors = fruit_priors().unwrap();
        let degree_days = SeasonDegreeDays::new(Gaussian::new(2_600.0, 165.0), 0.0, 8.0);
        let need =
            crop_chances(&FruitTraits { kind: Some(FruitKind::Common), ..FruitTraits::default() }, &degree_days, &priors).regrowth_need;
        assert!((need.mean - 1_955.0).min(2_200.0 - need.mean) > -need.sd, "{need:?}");
    }

    #[test]
    fn the_harder_the_cut_the_fewer_the_figs_and_a_san_pedro_kind_gives_none() {
        let priors = fruit_priors().unwrap();
        let degree_days = SeasonDegreeDays::new(Gaussian::new(2_100.0, 165.0), 0.0, 8.0);
        let shoots = shoot_length(&priors.shoots.belief(), degree_days.over_years, None, &priors.shoots);
        let of = |kind| cuts(&FruitTraits { kind: Some(kind), ..FruitTraits::default() }, &degree_days, shoots, &priors);
        let common = of(FruitKind::Common);
        assert!(common.windows(2).all(|w| w[0].cut >= w[1].cut) && common[0].cut <= common[0].uncut);
        let levels = [DamageLevel::Tips, DamageLevel::Wood, DamageLevel::ToGround].map(DamageLevel::index);
        let traits = FruitTraits { kind: Some(FruitKind::Common), ..FruitTraits::default() };
        let chances = crop_chances(&traits, &degree_days, &priors).expected;
        assert_eq!(common.iter().map(|c| c.cut).collect::<Vec<_>>(), levels.map(|k| chances[k]));
        assert!(of(FruitKind::SanPedro).iter().all(|c| c.cut == 0.0 && c.uncut > 0.0));
    }
}
