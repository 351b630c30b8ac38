//! Everything that decides what a plant meets: what a person says of it, in quantities.

use super::air::{Air, Course};
use super::store_air::StoreAir;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::pot::Stands;
use crate::science::numeric::Gaussian;
use crate::science::priors::{NightGain, Priors};

/// What a plant stands in and through.
#[derive(Debug, Clone)]
pub struct Circumstances {
    /// The outside air.
    pub air: Air,
    /// What the spot in the garden gains on still and windy nights; `None` where the air is that at the plant already.
    pub setting: Option<NightGain>,
    /// What a cover gains.
    pub gains: Gains,
    /// Ground, pot or store.
    pub stand: Stand,
    /// What its age does.
    pub age: AgeEffects,
    /// How far it has hardened.
    pub hardening: Hardening,
    /// Roots in leaf or growth have not hardened, or have lost it.
    pub roots_growing: bool,
    /// Nights near the lowest, where they are counted apart from the air; `None`: as usual.
    pub nights: Option<f64>,
}

/// Gains of a cover over its own kinds of night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gains {
    /// At the wood, K.
    pub top: Gaussian,
    /// Further at crown and roots, K.
    pub base: Gaussian,
    /// At a pot on paving, K.
    pub pot: Gaussian,
    /// Part of the variance of `top` that differs from night to night, K².
    pub luck_k2: f64,
}

impl Circumstances {
    /// An established plant, asleep and uncovered, in the ground, in air of this lowest temperature at the plant.
    pub fn plain_night(lowest: WinterMinimum) -> Self {
        Self {
            air: Air { lowest, doubt_k: 0.0, windy_share: 0.0, course: Course::followed(Vec::new()) },
            setting: None,
            gains: Gains::NONE,
            stand: Stand::Ground,
            age: AgeEffects::ESTABLISHED,
            hardening: Hardening::Reference,
            roots_growing: false,
            nights: None,
        }
    }
}

impl Gains {
    const NOTHING: Gaussian = Gaussian::new(0.0, 0.0);
    /// No cover.
    pub const NONE: Self = Self { top: Self::NOTHING, base: Self::NOTHING, pot: Self::NOTHING, luck_k2: 0.0 };
}

/// A pot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotInAir {
    /// Volume, L, > 0.
    pub litres: f64,
    /// How it stands.
    pub stands: Stands,
}

impl PotInAir {
    /// On the ground or on paving, by itself.
    pub const fn on_ground(litres: f64) -> Self {
        Self { litres, stands: Stands::OnGround }
    }
}

/// Where a plant stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stand {
    /// In the ground.
    Ground,
    /// In a pot in the outside air.
    Pot(PotInAir),
    /// In a store; in a pot, or with its roots in soil (`None`).
    Store(StoreAir, Option<PotInAir>),
}

/// How far a plant has hardened when the cold comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hardening {
    /// As plants are on the coldest nights at the reference station; or counted in the air already.
    Reference,
    /// Short of that by so many K (negative: harder), `doubt_k` of the spread being the same every winter.
    Short {
        /// Shortfall, K.
        deficit: Gaussian,
        /// Part of its spread that is doubt, K.
        doubt_k: f64,
    },
    /// By what it looks like: a share of the way to a plant with no hardening, and a spread.
    Stage {
        /// 0: fully hardened; 1: no hardening at all.
        share: f64,
        /// Spread, K.
        sd_k: f64,
        /// h of a plant with no hardening, °C.
        tender: Gaussian,
    },
}

/// Age as a person says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Age {
    /// Whole years since planting, 0 the first winter; `None`: not known, taken as established.
    pub years: Option<u8>,
    /// Whole years of the standing wood; `None`: not known, at most as old as the plant.
    pub wood_years: Option<u8>,
}

/// Winters in which a plant is young at the base and the root: those begun within so many years of planting.
pub const YOUNG_WINTERS: u8 = 3;

/// What age does to each part, K on every T50.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgeEffects {
    /// To the top: by the age of its wood.
    pub top: Gaussian,
    /// To the base: by that of its roots.
    pub base: Gaussian,
    /// In its first three winters.
    pub young: bool,
    /// In its very first winter: the whole top is as tender as its shoots while it is green.
    pub first_winter: bool,
}

impl AgeEffects {
    /// An established plant on old wood.
    pub const ESTABLISHED: Self = Self { top: Gaussian::new(0.0, 0.0), base: Gaussian::new(0.0, 0.0), young: false, first_winter: false };
}

impl Age {
    /// Effects by the table of priors. Wood older than the plant is taken as old as the plant.
    pub fn effects(self, priors: &Priors) -> AgeEffects {
        let of = |years: u8| {
            let [first_two, third, fourth_fifth, later] = priors.age;
            match years {
                0 | 1 => first_two,
                2 => third,
                3 | 4 => fourth_fifth,
                _ => later,
            }
        };
        let years = self.years.unwrap_or(crate::science::site::YearsEstablished::ESTABLISHED.years());
        let top = match self.wood_years {
            Some(wood) => of(wood.min(years)),
            // A plant in its first or second winter has no older wood to be unsure of.
            None if years < 2 => of(years),
            None => of(years).plus(priors.wood_years_unknown),
        };
        AgeEffects { top, base: of(years), young: years < YOUNG_WINTERS, first_winter: years == 0 }
    }
}
