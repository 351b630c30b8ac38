//! Where and how a fig stands: setting, ground or pot, protection, age, season. What the grower says about the place.

mod culture;
mod place;
mod settings;

pub use culture::{Culture, PotVolume, YearsEstablished};
pub use place::{Protection, Setting, Store};
pub use settings::{Settings, SettingsError};

use crate::science::climate::kind::ClimateKind;
use crate::science::climate::season::Season;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::numeric::Gaussian;
use crate::units::TemperatureDelta;

/// Everything about a place and a planting that the ranking needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Coldest temperature of one winter in the open, as air temperature.
    pub winter: WinterMinimum,
    /// What is not known of the mean of `winter` besides what it holds itself, a standard error, K: how surely the place is known.
    pub place_error_k: f64,
    /// Whether `winter` already counts how hardened the plants were on each night (from a daily record), so that no deficit is added.
    pub hardening_counted: bool,
    /// What is not known of that counting (λ, nights near the lowest), a standard error of the mean of `winter`, K; 0 where it is not counted.
    pub hardening_doubt_k: f64,
    /// The same for plants of each hardiness class, 1 to 5, where the record tells them apart: the hardier a plant, the more a night that
    /// finds it unready costs it.
    pub winter_by_class: Option<[WinterMinimum; 5]>,
    /// Kind of climate.
    pub climate: ClimateKind,
    /// Where in the garden: one setting, or several that hold together.
    pub setting: Settings,
    /// What the own thermometer shows there, in place of the setting.
    pub own_spot: Option<OwnSpot>,
    /// Ground or pot.
    pub culture: Culture,
    /// Years since planting.
    pub years: YearsEstablished,
    /// Years of its standing wood, at most as many; `None`: not known.
    pub wood_years: Option<YearsEstablished>,
    /// Winter protection.
    pub protection: Protection,
    /// Where a pot is carried in to; `None`: some shed or garage.
    pub store: Option<Store>,
    /// The growing season.
    pub season: Season,
}

/// What a grower's own thermometer shows against the air that the winters are of, K: it stands in place of a setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnSpot {
    /// On clear still nights.
    pub clear: Gaussian,
    /// On windy nights.
    pub windy: Gaussian,
}

/// A combination that makes no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SiteError {
    /// Only pots can be carried in.
    #[error("a plant in the ground cannot be carried in for winter; choose a pot, or another protection")]
    CarriedFromTheGround,
    /// Wood older than the plant.
    #[error("its wood cannot have stood for {wood} years when it was planted {years} years ago; which of the two is it?")]
    WoodOlderThanPlant {
        /// Years of standing wood.
        wood: u8,
        /// Years since planting.
        years: u8,
    },
    /// A store that nothing is carried into.
    #[error("a kind of store goes with a pot that is carried in for the winter; say that it is, or leave the store out")]
    StoreUnused,
}

impl Site {
    /// Coldest temperature of one winter with what is not known of the place counted in, where that has a form: for pictures and tables.
    pub fn one_winter(&self) -> WinterMinimum {
        match self.winter {
            WinterMinimum::Normal { mean, spread } => {
                WinterMinimum::Normal { mean, spread: spread.hypot(TemperatureDelta::literal(self.place_error_k)) }
            }
            other => other,
        }
    }

    /// Gives the site back when its parts can go together.
    pub fn checked(self) -> Result<Self, SiteError> {
        if self.protection == Protection::CarriedIn && matches!(self.culture, Culture::Ground) {
            return Err(SiteError::CarriedFromTheGround);
        }
        if let Some(wood) = self.wood_years.filter(|wood| *wood > self.years) {
            return Err(SiteError::WoodOlderThanPlant { wood: wood.years(), years: self.years.years() });
        }
        if self.store.is_some() && self.protection != Protection::CarriedIn {
            return Err(SiteError::StoreUnused);
        }
        Ok(self)
    }
}
