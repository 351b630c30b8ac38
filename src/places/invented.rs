//! The towns of the demonstration: invented, in open sea, and marked as such wherever they show.

use super::folding::fold;
use super::town::{FIRST_INVENTED, INVENTED_MARK, Town, TownId};
use crate::science::climate::site_estimate::{
    Doubt, EstimateFrom, Estimated, FROST_ERROR_DAYS, FrostDays, SPREAD_ERROR_K, SiteEstimate, WARMEST_MONTH_ERROR_K,
};
use crate::units::{Celsius, TemperatureDelta};

/// Names, latitude and longitude, degrees: about the gardens of the demonstration, where charts show the Dogger Bank.
pub const INVENTED: [(&str, f64, f64); 3] = [("Fennmere", 55.88, 3.01), ("Ottermarsh", 55.88, 3.07), ("Kelderwick", 55.88, 3.12)];
/// Mean of the coldest night of a winter, °C, its spread between winters, K, and the error of the mean, K: those that the invented gardens are
/// drawn with.
const WINTERS: (f64, f64, f64) = (-14.0, 3.2, 1.5);
/// Mean of the warmest month and of the minima of the coldest, °C; median days of the last and first frost.
const SUMMER_C: f64 = 21.5;
const COLDEST_MONTH_C: f64 = -4.5;
const FROSTS: (f64, f64) = (110.0, 295.0);

/// The invented town of an index.
fn town(index: usize) -> Option<Town> {
    let &(name, latitude, longitude) = INVENTED.get(index)?;
    let (mean, spread, error) = WINTERS;
    let day = |value| Estimated { value, error: FROST_ERROR_DAYS };
    Some(Town {
        id: TownId(FIRST_INVENTED + index as u32),
        name: name.to_owned(),
        country_code: "XX".to_owned(),
        country: INVENTED_MARK.to_owned(),
        region: None,
        at: (latitude, longitude),
        elevation_m: Some(0.0),
        population: None,
        estimate: SiteEstimate {
            mean: Estimated { value: Celsius::literal(mean), error },
            doubt: Doubt::Normal,
            spread: Estimated { value: TemperatureDelta::literal(spread), error: SPREAD_ERROR_K },
            warmest_month: Some(Estimated { value: Celsius::literal(SUMMER_C), error: WARMEST_MONTH_ERROR_K }),
            frost: Some(FrostDays { last: day(FROSTS.0), first: day(FROSTS.1) }),
            from: EstimateFrom::Town,
        },
        coldest_month_minimum: Celsius::literal(COLDEST_MONTH_C),
        nearest_station_km: 0.0,
        lowered: false,
        slot: u32::MAX - index as u32,
    })
}

/// The invented town of a number.
pub fn of_id(id: TownId) -> Option<Town> {
    town(id.0.checked_sub(FIRST_INVENTED)? as usize)
}

/// The invented town that words name, with or without the mark behind it.
pub fn named(words: &str) -> Option<Town> {
    let words = fold(&words.replace([',', '(', ')'], " "));
    let name = words.trim().strip_suffix(INVENTED_MARK).unwrap_or(&words).trim();
    INVENTED.iter().position(|(invented, ..)| fold(invented) == name).and_then(town)
}
