//! A plant on a cold night, and what the night does to it: asked of [`exposure`](crate::science::exposure) like every other door.

use super::pot::{PotTemperature, Stands};
use super::priors::NightPriors;
use super::stage::Stage;
use crate::science::exposure::AgeEffects;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::chances::Levels;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::Gaussian;
use crate::science::priors::{NightGain, Priors};

/// What decides over every plant alike.
#[derive(Debug, Clone, Copy)]
pub struct Rules<'a> {
    /// Steepness and gaps.
    pub scale: &'a DamageScale,
    /// Starting values, with what reports have moved.
    pub priors: &'a Priors,
    /// Values of a night.
    pub night: &'a NightPriors,
}

/// A plant as the risk sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantTonight {
    /// Belief about h of the kind, established and in the ground.
    pub belief: HardinessBelief,
    /// What its age does.
    pub age: AgeEffects,
    /// Stage.
    pub stage: Stage,
    /// Deficit from a model of hardening, K (negative: harder than usual on the coldest nights); overrules the stage.
    pub deficit_k: Option<Gaussian>,
    /// Pot volume, litres; `None`: in the ground.
    pub pot_litres: Option<f64>,
    /// How the pot stands.
    pub stands: Stands,
    /// What its spot in the garden gains over the air of the night, in the open; `None`: the air is that at the plant.
    pub spot: Option<NightGain>,
    /// Temperature of the pot at dusk, °C; `None`: by the evening air.
    pub pot_start_c: Option<f64>,
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

impl Risk {
    /// Of chances by level, in their order.
    pub fn of(chance: [f64; 5], pot: Option<PotTemperature>, priors: &NightPriors) -> Self {
        let chance = Levels::from_array(chance);
        let l = priors.loss;
        let loss_share = l.tips * chance.tips + l.wood * chance.wood + l.to_ground * chance.to_ground + l.dead * chance.dead;
        Self { chance, loss_share, pot }
    }
}
