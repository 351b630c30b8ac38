//! What a mother plant gives: sticks from a cut, the seasons it then rests, and the figs that it costs.

use super::priors::PropagationPriors;
use crate::science::fruiting::cutting_back::{CutAnswer, CutDepth};
use crate::science::numeric::{Gaussian, Z_90};
use crate::units::Interval;

/// A mother plant as somebody looks at it in winter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotherPlant {
    /// Last year's shoots.
    pub shoots: u32,
    /// Their length, m; its natural logarithm is normal with this mean and spread.
    pub ln_length: Gaussian,
    /// Figs of a usual year, where known.
    pub figs: Option<f64>,
}

/// What a cut brings and costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotherCut {
    /// How far back.
    pub depth: CutDepth,
    /// Sticks: the middle of what is expected.
    pub sticks: u32,
    /// 90 % range.
    pub sticks_90: (u32, u32),
    /// Seasons in which it is not cut again.
    pub rest_seasons: f64,
    /// Chance of ripe figs in the season after the cut, and without it.
    pub chance: (f64, f64),
    /// Figs given up in that season, where its usual number is known.
    pub figs_forgone: Option<f64>,
}

/// Sticks of each depth, in the order of [`CutDepth::ALL`], beside what the cut does to the crop.
pub fn mother_cuts(plant: &MotherPlant, crops: &[CutAnswer], priors: &PropagationPriors) -> Vec<MotherCut> {
    crops
        .iter()
        .zip(priors.cut_share.into_iter().zip(priors.rest_seasons))
        .map(|(crop, (taken, rest_seasons))| {
            // Whole sticks of each shoot: a rest shorter than a stick is none.
            let of = |z: f64| {
                let length = (plant.ln_length.mean + z * plant.ln_length.sd).exp();
                let sound = (priors.sound_share.mean + z * priors.sound_share.sd).clamp(0.0, 1.0);
                let of_shoot = (length * taken.min(sound) / priors.stick_m).floor().max(0.0);
                (f64::from(plant.shoots) * of_shoot) as u32
            };
            let range = Interval::between(-Z_90, Z_90);
            MotherCut {
                depth: crop.depth,
                sticks: of(0.0),
                sticks_90: (of(range.low), of(range.high)),
                rest_seasons,
                chance: (crop.cut, crop.uncut),
                // In a year without ripe figs there is nothing to give up.
                figs_forgone: plant.figs.map(|figs| if crop.uncut > 0.0 { figs * (1.0 - (crop.cut / crop.uncut).min(1.0)) } else { 0.0 }),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::propagation_priors;

    fn crops() -> Vec<CutAnswer> {
        let of = |depth, cut| CutAnswer { depth, uncut: 0.8, cut, later_days: Gaussian::new(0.0, 0.0), regrowth: None };
        vec![of(CutDepth::Tips, 0.7), of(CutDepth::Framework, 0.4), of(CutDepth::Ground, 0.2)]
    }

    // By hand: of 1.5 m a third and a little (0.35) is 0.525 m, two sticks of 20 cm; the sound 0.7 of it is 1.05 m, five.
    #[test]
    fn sticks_are_whole_and_a_deeper_cut_gives_more_for_fewer_figs() {
        let priors = propagation_priors().unwrap();
        let plant = MotherPlant { shoots: 8, ln_length: Gaussian::new(1.5f64.ln(), 0.2), figs: Some(100.0) };
        let cuts = mother_cuts(&plant, &crops(), &priors);
        assert_eq!(cuts.iter().map(|cut| cut.sticks).collect::<Vec<_>>(), [16, 40, 40]);
        let forgone: Vec<f64> = cuts.iter().filter_map(|cut| cut.figs_forgone).map(f64::round).collect();
        assert_eq!(forgone, [13.0, 50.0, 75.0]);
        assert!(cuts.iter().all(|cut| cut.sticks_90.0 <= cut.sticks && cut.sticks <= cut.sticks_90.1));
        assert!(cuts.windows(2).all(|w| w[0].rest_seasons < w[1].rest_seasons));
    }

    #[test]
    fn shoots_shorter_than_a_stick_give_none() {
        let plant = MotherPlant { shoots: 30, ln_length: Gaussian::new(0.15f64.ln(), 0.1), figs: None };
        let cuts = mother_cuts(&plant, &crops(), &propagation_priors().unwrap());
        assert!(cuts.iter().all(|cut| cut.sticks == 0 && cut.figs_forgone.is_none()));
    }
}
