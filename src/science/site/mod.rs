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

/// Everything about a place and a planting that the ranking needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Coldest temperature of one winter in the open, as air temperature.
    pub winter: WinterMinimum,
    /// Whether `winter` already counts how hardened the plants were on each night (from a daily record), so that no deficit is added.
    pub hardening_counted: bool,
    /// The same for plants of each hardiness class, 1 to 5, where the record tells them apart: the hardier a plant, the more a night that
    /// finds it unready costs it.
    pub winter_by_class: Option<[WinterMinimum; 5]>,
    /// Kind of climate.
    pub climate: ClimateKind,
    /// Where in the garden: one setting, or several that hold together.
    pub setting: Settings,
    /// Ground or pot.
    pub culture: Culture,
    /// Years since planting.
    pub years: YearsEstablished,
    /// Winter protection.
    pub protection: Protection,
    /// Where it is carried, where it is and that is said.
    pub store: Option<Store>,
    /// The growing season.
    pub season: Season,
}

/// A combination that makes no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SiteError {
    /// Only pots can be carried in.
    #[error("a plant in the ground cannot be carried in for winter; choose a pot, or another protection")]
    CarriedFromTheGround,
}

impl Site {
    /// Gives the site back when its parts can go together.
    pub fn checked(self) -> Result<Self, SiteError> {
        if self.protection == Protection::CarriedIn && matches!(self.culture, Culture::Ground) {
            return Err(SiteError::CarriedFromTheGround);
        }
        Ok(self)
    }
}
