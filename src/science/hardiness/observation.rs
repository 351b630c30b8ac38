//! Winter reports as the fit takes them: what happened to one plant in one winter, and the cold it met.

use super::level::DamageLevel;
use crate::science::cultivar::HardinessClass;
use crate::science::site::{Protection, YearsEstablished};
use crate::units::{Celsius, TemperatureDelta};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Which way an exposure errs.
    pub enum ExposureError: "exposure error" {
        /// A thermometer at the plant: the reading scatters around the truth.
        Reading = "reading" => "read at the plant",
        /// A value assigned from a station, forecast or zone: the truth scatters around it.
        Assigned = "assigned" => "assigned from elsewhere",
    }
}

/// A range of damage levels: one level, or "2 or 3", or all five where the reporter is not sure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DamageRange {
    low: DamageLevel,
    high: DamageLevel,
}

impl DamageRange {
    /// One level.
    pub const fn exactly(level: DamageLevel) -> Self {
        Self { low: level, high: level }
    }

    /// From the lesser to the greater of two levels, in either order.
    pub fn between(a: DamageLevel, b: DamageLevel) -> Self {
        Self { low: a.min(b), high: a.max(b) }
    }

    /// Least damage it may have been.
    pub const fn low(self) -> DamageLevel {
        self.low
    }

    /// Greatest damage it may have been.
    pub const fn high(self) -> DamageLevel {
        self.high
    }

    /// Whether it tells anything at all.
    pub fn is_informative(self) -> bool {
        self.low != DamageLevel::Unharmed || self.high != DamageLevel::Dead
    }
}

/// Winters in which a plant counts as young for its death, the first included.
const YOUNG_WINTERS: u8 = 3;

/// What changes the harm done by a given cold, besides the cultivar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Conditions {
    /// Years since planting, where known; unknown counts as established. The base goes by it.
    pub years: Option<YearsEstablished>,
    /// Years of the standing wood, where known; unknown counts as old as the plant. The top goes by it.
    pub wood_years: Option<YearsEstablished>,
    /// Whether the plant stood in a pot in the open.
    pub container: bool,
    /// Winter protection. A plant carried in met the cold of the store, which its exposure must already be.
    pub protection: Protection,
}

impl Conditions {
    /// Whether the plant was in one of its first three winters, when the base dies sooner after the top.
    pub fn young(&self) -> bool {
        self.years.is_some_and(|years| years.years() < YOUNG_WINTERS)
    }

    /// Years of the wood at the top, where known or no older than the plant; never more than the plant's.
    pub fn top_years(&self) -> Option<YearsEstablished> {
        match (self.wood_years, self.years) {
            (Some(wood), Some(years)) => Some(wood.min(years)),
            (wood, years) => wood.or(years),
        }
    }
}

impl Default for Conditions {
    /// Established, in the ground, unprotected.
    fn default() -> Self {
        Self { years: None, wood_years: None, container: false, protection: Protection::None }
    }
}

/// One report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WinterObservation {
    /// Place of the cultivar in [`Reports::cultivars`].
    pub cultivar: u32,
    /// Reporter, counted from 0.
    pub reporter: u32,
    /// Garden of the reporter; any number that tells one of them from another.
    pub garden: u16,
    /// The winter, by the year in which it ends.
    pub winter: i16,
    /// Expected equivalent midwinter minimum, before what `conditions` do.
    pub exposure: Celsius,
    /// Standard deviation of what is its own in the exposure's error: place in the garden, hardening.
    pub exposure_sd: TemperatureDelta,
    /// Standard deviation of what all plants of the garden share of it that winter: the thermometer.
    pub shared_sd: TemperatureDelta,
    /// Which way it errs.
    pub exposure_error: ExposureError,
    /// What happened.
    pub damage: DamageRange,
    /// What else matters.
    pub conditions: Conditions,
    /// By how much the plant was harder (+) or less hard (−) on that night than at the reference, K, as the acclimation model counts it from
    /// the reporter's daily record; `None` without one.
    pub hardening: Option<TemperatureDelta>,
    /// Whether the reporter gave every plant of the garden for this winter.
    pub complete_list: bool,
    /// How much it counts: 1 in full.
    pub weight: f64,
}

impl WinterObservation {
    /// A report of an established, bare plant in the ground that counts in full, its temperature known exactly.
    pub fn new(cultivar: u32, reporter: u32, winter: i16, exposure: Celsius, damage: DamageRange) -> Self {
        Self {
            cultivar,
            reporter,
            garden: 0,
            winter,
            exposure,
            exposure_sd: TemperatureDelta::literal(0.0),
            shared_sd: TemperatureDelta::literal(0.0),
            exposure_error: ExposureError::Reading,
            damage,
            conditions: Conditions::default(),
            hardening: None,
            complete_list: false,
            weight: 1.0,
        }
    }

    /// What tells the garden and the winter from others of the reporter.
    pub fn event(&self) -> u32 {
        u32::from(self.garden) << 16 | u32::from(self.winter.cast_unsigned())
    }
}

/// What is known of a cultivar before any report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CultivarPrior {
    /// Its hardiness class, if it has one.
    pub class: Option<HardinessClass>,
    /// Whether the class rests on memory alone.
    pub from_memory: bool,
}

/// Reports with the cultivars they may be about.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reports {
    /// Every cultivar to be estimated; those without reports fall back on their class.
    pub cultivars: Vec<CultivarPrior>,
    /// Number of reporters.
    pub reporters: u32,
    /// The reports, in any order.
    pub observations: Vec<WinterObservation>,
}
