//! A town with its first climate estimate.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::block::Row;
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::site_climate::{COAST_RANGE_K, CONTINENTAL_RANGE_K};
use crate::science::climate::site_estimate::{
    Doubt, EstimateFrom, Estimated, FROST_ERROR_DAYS, FROST_ERROR_DAYS_SOUTH, FrostDays, SPREAD_ERROR_K, SiteEstimate,
    WARMEST_MONTH_ERROR_K,
};
use crate::units::{Celsius, TemperatureDelta};

/// From the mean of the daily minima of the coldest month to its mean, K: half of a winter day's range. COMMON_PRACTICE.
const HALF_WINTER_DAY_K: f64 = 4.0;

/// What stands behind an invented name, in brackets.
pub const INVENTED_MARK: &str = "invented";
/// Numbers of invented towns begin here: GeoNames' own have three bytes.
pub const FIRST_INVENTED: u32 = 0xFF00_0000;

/// How the words of an invented town are written.
pub fn marked_invented(name: &str) -> String {
    format!("{name} ({INVENTED_MARK})")
}

/// Number of a town in GeoNames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct TownId(pub u32);

impl fmt::Display for TownId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A town.
#[derive(Debug, Clone, PartialEq)]
pub struct Town {
    /// Its number.
    pub id: TownId,
    /// Name.
    pub name: String,
    /// Two letters of its country.
    pub country_code: String,
    /// Name of the country in English.
    pub country: String,
    /// First-level region, where named.
    pub region: Option<String>,
    /// Latitude and longitude, degrees, to 0.01°.
    pub at: (f64, f64),
    /// Elevation, m, where known.
    pub elevation_m: Option<f64>,
    /// People, to about 4 %, where known.
    pub population: Option<f64>,
    /// First estimate of its climate.
    pub estimate: SiteEstimate,
    /// Mean of the daily minima of the coldest month.
    pub coldest_month_minimum: Celsius,
    /// Distance of the nearest station behind the estimate, km.
    pub nearest_station_km: f64,
    /// Whether the estimate was lowered since the three winters behind it, 2019 to 2022, were mild in Europe.
    pub lowered: bool,
    /// Its slot in the file.
    pub(super) slot: u32,
}

impl Town {
    /// From its row, name and region.
    pub(super) fn of(row: &Row, name: &str, (id, slot): (TownId, u32), (region, country): (&str, &super::regions::Country)) -> Self {
        let tenths = |x: i16| f64::from(x) / 10.0;
        let at = (f64::from(row.latitude) / 100.0, f64::from(row.longitude) / 100.0);
        let date =
            |day: i16| Estimated { value: f64::from(day), error: if at.0 < 0.0 { FROST_ERROR_DAYS_SOUTH } else { FROST_ERROR_DAYS } };
        Self {
            id,
            name: name.to_owned(),
            country_code: country.code.clone(),
            country: country.name.clone(),
            region: (!region.is_empty()).then(|| region.to_owned()),
            at,
            elevation_m: row.elevation.map(f64::from),
            population: row.population(),
            estimate: SiteEstimate {
                mean: Estimated { value: Celsius::literal(tenths(row.mean)), error: tenths(row.error) },
                doubt: Doubt::Normal,
                spread: Estimated { value: TemperatureDelta::literal(tenths(row.spread)), error: SPREAD_ERROR_K },
                warmest_month: Some(Estimated { value: Celsius::literal(tenths(row.warmest_month)), error: WARMEST_MONTH_ERROR_K }),
                frost: (row.last_frost > 0 && row.first_frost > 0)
                    .then(|| FrostDays { last: date(row.last_frost), first: date(row.first_frost) }),
                from: EstimateFrom::Town,
            },
            coldest_month_minimum: Celsius::literal(tenths(row.coldest_month)),
            nearest_station_km: f64::from(row.station_km),
            lowered: row.lowered != 0,
            slot,
        }
    }

    /// Whether the town is one of the demonstration.
    pub fn is_invented(&self) -> bool {
        self.id.0 >= FIRST_INVENTED
    }

    /// Name, region where it says more, and country: “Asheville, North Carolina, United States”.
    pub fn label(&self) -> String {
        if self.is_invented() {
            return marked_invented(&self.name);
        }
        let region = self.region.as_deref().filter(|r| super::folding::fold(r) != super::folding::fold(&self.name));
        [Some(self.name.as_str()), region, Some(self.country.as_str())].into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    /// Kind of climate by the range of the monthly means, as for a daily record.
    pub fn climate_kind(&self) -> ClimateKind {
        let coldest = self.coldest_month_minimum.degrees() + HALF_WINTER_DAY_K;
        let warmest = self.estimate.warmest_month.map_or(coldest, |w| w.value.degrees());
        match warmest - coldest {
            range if range < COAST_RANGE_K => ClimateKind::Coast,
            range if range > CONTINENTAL_RANGE_K => ClimateKind::Continental,
            _ => ClimateKind::Inland,
        }
    }
}
