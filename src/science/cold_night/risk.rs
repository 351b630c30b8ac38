//! The chance of each damage level for one plant in one night's air.
//!
//! Top: `P(y ≥ k) = E[logistic(β(h' + offset(k) − T))]` over the night's air T and the plant's own h'. Hardening: a plant at share s of the way from
//! full hardiness to tender has `h' = h + s·(h_tender − h)` (h already shifted for age), so that hardy and tender cultivars in full growth are
//! hurt at the same temperature, as the published ones are. Roots in a pot: their own curve against the pot's coldest temperature; the whole
//! plant dies of either. The pot model replaces the table's flat effect of a container.

use super::pot::{Medium, Pot, PotTemperature, Stands, through_the_night};
use super::priors::NightPriors;
use super::stage::Stage;
use super::tonight::Tonight;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::chances::Levels;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::{Gaussian, expected_logistic};

/// Steps of the pot model in a night: a step of ten minutes or so.
const POT_STEPS: usize = 96;

/// A plant as the risk sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantTonight {
    /// Belief about h, shifted for age, without pot.
    pub belief: HardinessBelief,
    /// Stage.
    pub stage: Stage,
    /// Deficit from a model of hardening, K; overrules the stage.
    pub deficit_k: Option<Gaussian>,
    /// Pot volume, litres; `None`: in the ground.
    pub pot_litres: Option<f64>,
    /// How the pot stands.
    pub stands: Stands,
    /// Temperature of the pot at dusk, °C; `None`: by the evening air.
    pub pot_start_c: Option<f64>,
    /// First or second winter.
    pub young: bool,
}

/// Air about a plant in one place on one night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirTonight {
    /// Lowest, °C, with all of its spread.
    pub minimum_c: Gaussian,
    /// Two hours after sunset, °C.
    pub evening_c: f64,
    /// Wind reaches it.
    pub windy: bool,
}

/// What a night does to a plant in one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risk {
    /// Chance of each level.
    pub chance: Levels<f64>,
    /// Expected share of its value lost, 0..=1.
    pub loss_share: f64,
    /// The pot's coldest temperatures, if it stands in one.
    pub pot: Option<PotTemperature>,
}

/// The effective h of each component: hardened as far as the plant has.
fn hardened(plant: &PlantTonight, priors: &NightPriors) -> Vec<(f64, Gaussian)> {
    let stage = priors.stage(plant.stage);
    let of = |h: Gaussian| match plant.deficit_k {
        Some(deficit) => h.plus(deficit),
        None if h.mean < priors.tender.mean => {
            let keep = 1.0 - stage.share;
            Gaussian::new(
                keep * h.mean + stage.share * priors.tender.mean,
                (keep * h.sd).hypot(stage.share * priors.tender.sd).hypot(stage.sd_k),
            )
        }
        // Tenderer than tender: young plants of tender kinds have nothing left to lose.
        None => Gaussian::new(h.mean, h.sd.hypot(stage.sd_k)),
    };
    plant.belief.components().iter().map(|c| (c.weight, of(c.h))).collect()
}

/// The risk of one plant in one place. `night` gives the course of the night; the place's own air is `air`.
pub fn risk(plant: &PlantTonight, air: &AirTonight, night: &Tonight, scale: &DamageScale, priors: &NightPriors) -> Risk {
    let pot = plant.pot_litres.map(|litres| pot_night(plant, litres, air, night));
    risk_of(plant, air.minimum_c, pot, scale, priors)
}

/// The risk of a plant whose top meets a lowest air temperature and whose pot, if it stands in one, comes down to these temperatures.
pub fn risk_of(plant: &PlantTonight, minimum_c: Gaussian, pot: Option<PotTemperature>, scale: &DamageScale, priors: &NightPriors) -> Risk {
    let components = hardened(plant, priors);
    let beta = scale.beta;
    let at_least = |offset_k: f64| -> f64 {
        components
            .iter()
            .map(|(w, h)| {
                let variance = beta * beta * (h.variance() + minimum_c.variance());
                w * expected_logistic(beta * (h.mean + offset_k - minimum_c.mean), variance)
            })
            .sum()
    };
    let tips = at_least(scale.gap_tips_k);
    let wood = at_least(scale.gap_wood_k).min(tips);
    let ground = at_least(0.0).min(wood);
    let dead = at_least(-scale.gap_dead_k).min(ground);

    let (young_roots, roots) = pot.map_or((0.0, 0.0), |p| root_chances(plant, p, minimum_c, priors));
    let either = |a: f64, b: f64| 1.0 - (1.0 - a) * (1.0 - b);
    let (tips, wood, ground, dead) =
        (either(tips, young_roots.max(roots)), either(wood, roots), either(ground, roots), either(dead, roots));
    let chance = Levels::from_array([1.0 - tips, tips - wood, wood - ground, ground - dead, dead]);
    let l = priors.loss;
    let loss_share = l.tips * chance.tips + l.wood * chance.wood + l.to_ground * chance.to_ground + l.dead * chance.dead;
    Risk { chance, loss_share, pot }
}

/// Dusk below which the day cannot have thawed a pot, °C. DESIGN.
const NO_THAW_C: f64 = -3.0;

/// A pot at dusk, by the air: with it above freezing; thawed but ice-cold after a day about freezing; frozen through in a lasting frost.
pub fn at_dusk(evening_c: f64) -> Medium {
    Medium::at(if evening_c > NO_THAW_C { evening_c.max(0.0) } else { evening_c })
}

/// The pot's coldest temperatures: the night's own course, moved and scaled to the place's evening and minimum.
fn pot_night(plant: &PlantTonight, litres: f64, air: &AirTonight, night: &Tonight) -> PotTemperature {
    let pot = Pot::new(litres, plant.stands, air.windy);
    let evening = air.evening_c.max(air.minimum_c.mean);
    let course = Tonight { minimum_c: air.minimum_c, evening_c: evening, ..*night };
    let start = plant.pot_start_c.map_or_else(|| at_dusk(evening), Medium::at);
    through_the_night(&pot, start, night.hours, POT_STEPS, |hour| course.at(hour)).coldest
}

/// (young roots lost, plant killed by its roots).
fn root_chances(plant: &PlantTonight, pot: PotTemperature, minimum_c: Gaussian, priors: &NightPriors) -> (f64, f64) {
    let beta = priors.root_beta;
    let killed = |at_c: f64, t50: Gaussian| {
        let doubt = priors.pot_doubt * (at_c - minimum_c.mean).abs();
        let variance = minimum_c.variance() + doubt * doubt + t50.variance();
        expected_logistic(beta * (t50.mean - at_c), beta * beta * variance)
    };
    let t50 = match (plant.stage.roots_active(), plant.young) {
        (true, _) => priors.root_death_growing,
        (false, true) => priors.root_death_young,
        (false, false) => priors.root_death,
    };
    let young_t50 = if priors.root_young.mean > t50.mean { priors.root_young } else { t50 };
    (killed(pot.wall_c, young_t50), killed(pot.mean_c, t50))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::{night_prior_table, prior_table};

    /// By the definition of the temperatures: half of plants have lost young roots at one, half are dead at the other. In growth the roots harden
    /// no more, and the young ones go with the rest.
    #[test]
    fn half_lose_young_roots_at_their_half_point_and_half_die_at_that_of_the_plant() {
        let priors = NightPriors::from_rows(&night_prior_table::rows().unwrap()).unwrap();
        let dormant = PlantTonight {
            belief: prior_table::priors().unwrap().belief(None, false),
            stage: Stage::Hard,
            deficit_k: None,
            pot_litres: Some(15.0),
            stands: Stands::OnGround,
            pot_start_c: None,
            young: false,
        };
        let at = |plant: &PlantTonight, c: f64| {
            root_chances(plant, PotTemperature { wall_c: c, mean_c: c, centre_c: c }, Gaussian::new(c, 0.0), &priors)
        };
        let half = |chance: f64| (chance - 0.5).abs() < 1e-9;
        let (lost, killed) = at(&dormant, priors.root_young.mean);
        assert!(half(lost) && killed < 0.2, "{lost} {killed}");
        let (lost, killed) = at(&dormant, priors.root_death.mean);
        assert!(half(killed) && lost > 0.8, "{lost} {killed}");
        let growing = PlantTonight { stage: Stage::Growing, ..dormant };
        let (lost, killed) = at(&growing, priors.root_death_growing.mean);
        assert!(half(lost) && half(killed), "{lost} {killed}");
    }
}
