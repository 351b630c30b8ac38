//! Forecasts of weather services as they came, kept for everybody by place.

use jiff::Timestamp;

use super::place::HeldPoint;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Who makes a forecast.
    pub enum ForecastSource: "source of forecasts" {
        /// The National Weather Service of the United States.
        NationalWeatherService = "nws" => "National Weather Service (United States)",
        /// The Norwegian Meteorological Institute, for the world.
        MetNorway = "met_norway" => "MET Norway",
    }
}

/// What is known of one source at one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ForecastDocument {
    /// The source.
    pub source: ForecastSource,
    /// The place, held to 0.01°.
    pub place: HeldPoint,
    /// Path of the source at which the forecast of this place lies, where another document names it.
    pub link: Option<String>,
    /// When the source last answered.
    pub fetched: Timestamp,
    /// The source is not asked before.
    pub ask_after: Timestamp,
    /// `Last-Modified` as it came, to be sent back.
    pub modified: Option<String>,
    /// Questions that failed since the last good answer.
    pub failures: i64,
    /// Why the last one failed, in words.
    pub trouble: Option<String>,
    /// The document; `None` where the source has none for the place, or none came yet.
    pub bytes: Option<Vec<u8>>,
}
