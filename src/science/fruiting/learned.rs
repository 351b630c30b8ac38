//! What reports have taught of first growth and first ripe figs, beside the tables.
//!
//! Growth is fitted by damage level ([`super::shown`]). Heat from first growth to the first ripe fig is compared with what the tables expect
//! of the cultivar from leaves on, and the difference pooled over cultivars ([`super::first_ripe`]), main crop and breba apart; what shoots
//! from the base need more is learned with the main crop.

use serde::{Deserialize, Serialize};

use super::crop::{FruitTraits, LearnedNeeds};
use super::first_ripe::{FirstRipe, Pooled, PoolingError, pool};
use super::priors::FruitPriors;
use super::shown::{Censoring, Shown, ShownError};
use crate::science::cultivar::FruitKind;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Gaussian;

/// Which crop a fig was of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crop {
    /// On last year's tips.
    Breba,
    /// On this year's shoots.
    Main,
}

/// A first ripe fig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RipeSeen {
    /// Cultivar, numbered from 0.
    pub cultivar: usize,
    /// What the winter had killed.
    pub level: DamageLevel,
    /// The crop.
    pub crop: Crop,
    /// Heat from first growth to the first ripe fig, or to the end of a season in which none ripened, degree-days.
    pub degree_days: f64,
    /// Whether one ripened.
    pub ripened: bool,
}

/// Reports that could not be fitted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LearnError {
    /// First growth.
    #[error("first growth: {0}")]
    Shown(#[from] ShownError),
    /// First ripe figs.
    #[error("first ripe figs: {0}")]
    Ripe(#[from] PoolingError),
}

/// First growth by damage level as reports have moved it: unharmed, tips, wood, to the ground.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShownByLevel(pub [Shown; 4]);

impl ShownByLevel {
    /// From the tables and reports of plants that lived.
    pub fn learn(reports: &[(DamageLevel, Censoring)], priors: &FruitPriors) -> Result<Self, LearnError> {
        let [unharmed, tips, wood, ground] = &priors.shown;
        let of = |level: usize, prior| {
            let seen: Vec<Censoring> = reports.iter().filter(|(at, _)| at.index() == level).map(|(_, seen)| *seen).collect();
            Shown::fit(Some(prior), &seen)
        };
        Ok(Self([of(0, unharmed)?, of(1, tips)?, of(2, wood)?, of(3, ground)?]))
    }
}

/// Heat needs as reports have moved them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RipeByCultivar {
    /// Main crop beyond what the tables expect; `None` without reports.
    pub main: Option<Pooled>,
    /// Breba beyond what the tables expect; `None` without reports.
    pub breba: Option<Pooled>,
}

impl RipeByCultivar {
    /// From the tables, the traits of every cultivar, and first ripe figs.
    pub fn learn(reports: &[RipeSeen], traits: &[FruitTraits], priors: &FruitPriors) -> Result<Self, LearnError> {
        let crop = |which: Crop, place: usize, mid: Gaussian| -> Result<Option<Pooled>, LearnError> {
            let seen: Vec<FirstRipe> = reports
                .iter()
                .filter(|report| report.crop == which)
                // What San Pedro and Smyrna figs set without the wasp drops, however long the season.
                .filter(|report| {
                    report.ripened || traits.get(report.cultivar).is_some_and(|t| matches!(t.kind, None | Some(FruitKind::Common)))
                })
                .filter_map(|report| {
                    let expected = expected(traits.get(report.cultivar)?, report, priors);
                    Some(FirstRipe {
                        cultivar: report.cultivar,
                        excess: report.degree_days - expected,
                        from_base: report.level == DamageLevel::ToGround,
                        ripened: report.ripened,
                    })
                })
                .collect();
            if !seen.iter().any(|report| report.ripened) {
                return Ok(None);
            }
            let wider: Vec<f64> = traits.iter().filter_map(|t| priors.wider(t.ripening).get(place).copied()).collect();
            Ok(Some(pool(&seen, &wider, &priors.pooling(mid))?))
        };
        Ok(Self { main: crop(Crop::Main, 0, priors.main_need)?, breba: crop(Crop::Breba, 1, priors.breba_need)? })
    }

    /// What a cultivar needs now; `None` where no report speaks of any.
    pub fn needs(&self, cultivar: usize, traits: &FruitTraits, priors: &FruitPriors) -> Option<LearnedNeeds> {
        let moved = |pooled: &Option<Pooled>, table: Gaussian| {
            let excess = pooled.as_ref().and_then(|pooled| pooled.cultivars.get(cultivar));
            // Reports tell the heat from leaves on; what leads to leaves stays as unsure as it was.
            excess.map_or(table, |excess| Gaussian::new(table.mean + excess.mean, excess.sd.hypot(priors.leafing_degree_days.sd)))
        };
        (self.main.is_some() || self.breba.is_some()).then(|| LearnedNeeds {
            main: moved(&self.main, priors.main_need(traits.ripening)),
            breba: moved(&self.breba, priors.breba_need(traits.ripening)),
            base: self
                .main
                .as_ref()
                .map_or(priors.regrowth_need, |main| Gaussian::new(priors.regrowth_need.mean + main.base.mean, main.base.sd)),
        })
    }
}

/// Heat from first growth, which is leaves, to the first ripe fig, as the tables have it.
fn expected(traits: &FruitTraits, report: &RipeSeen, priors: &FruitPriors) -> f64 {
    let need = match report.crop {
        Crop::Breba => priors.breba_need(traits.ripening),
        Crop::Main => priors.main_need(traits.ripening),
    };
    let base = if report.level == DamageLevel::ToGround { priors.regrowth_need.mean } else { 0.0 };
    need.mean - priors.leafing_degree_days.mean + base
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::fruit_priors;

    #[test]
    fn late_figs_of_one_cultivar_raise_its_need_most_and_that_of_others_a_little() {
        let priors = fruit_priors().unwrap();
        let traits = [FruitTraits::default(); 3];
        let usual = priors.main_need(None).mean - priors.leafing_degree_days.mean;
        let seen = |cultivar, level, degree_days| RipeSeen { cultivar, level, crop: Crop::Main, degree_days, ripened: true };
        let late: Vec<RipeSeen> = (0..12)
            .flat_map(|_| {
                [
                    seen(0, DamageLevel::Tips, usual + 300.0),
                    // From the base as the tables have it.
                    seen(1, DamageLevel::ToGround, usual + priors.regrowth_need.mean),
                ]
            })
            .collect();
        let learned = RipeByCultivar::learn(&late, &traits, &priors).unwrap();
        let need = |c: usize| learned.needs(c, &traits[c], &priors).unwrap();
        let table = priors.main_need(None);
        assert!(need(0).main.mean > table.mean + 200.0, "{:?}", need(0));
        assert!((need(1).main.mean - table.mean).abs() < 60.0, "{:?}", need(1));
        assert!(need(2).main.mean > table.mean && need(2).main.mean < need(0).main.mean);
        assert!(need(0).main.sd < need(2).main.sd && need(2).main.sd < table.sd * 1.1);
        // Nobody spoke of the early crop.
        assert_eq!(need(0).breba, priors.breba_need(None));
        assert!(RipeByCultivar::learn(&[], &traits, &priors).unwrap().needs(0, &traits[0], &priors).is_none());
    }

    #[test]
    fn growth_is_learned_by_level_and_levels_without_reports_keep_the_tables() {
        let priors = fruit_priors().unwrap();
        let late: Vec<_> = (0..20).map(|i| (DamageLevel::ToGround, Censoring::At(500.0 + 20.0 * f64::from(i)))).collect();
        let learned = ShownByLevel::learn(&late, &priors).unwrap();
        let table = ShownByLevel::learn(&[], &priors).unwrap();
        assert_eq!(learned.0[0], table.0[0]);
        assert!(learned.0[3].degree_days_by_which(0.5).0 > table.0[3].degree_days_by_which(0.5).0 + 50.0);
        assert_eq!(learned.0[3].reports, 20);
    }
}
