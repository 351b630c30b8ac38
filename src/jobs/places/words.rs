//! What is known of a place, in sentences.

use crate::places::{ArchiveStation, EstimateStation, Gazetteer, Spot, Town};

/// Stations of the archive are offered within this distance, km: farther ones say less of a garden than the estimate does.
pub const RECORDS_WITHIN_KM: f64 = 80.0;
/// Most of them shown.
pub const RECORDS_SHOWN: usize = 4;
/// Distance between what the table says of the nearest station and what the list of stations gives up to which they are the same station, km.
const SAME_STATION_KM: f64 = 1.5;
/// A station or town beyond this is far, km.
const FAR_KM: f64 = 60.0;
/// A difference in height from which the sentence warns, m.
const MUCH_HIGHER_M: f64 = 250.0;

/// The nearest station behind a town's estimate, where the list of stations holds it.
pub fn station(towns: &Gazetteer, town: &Town) -> Option<EstimateStation> {
    towns.nearest_station(town.at).filter(|s| (s.km - town.nearest_station_km).abs() <= SAME_STATION_KM)
}

/// What the estimate rests on.
pub fn grounds(towns: &Gazetteer, town: &Town) -> String {
    if town.is_invented() {
        return "This town is invented for the demonstration, and so are its winters.".to_owned();
    }
    let near = format!("the nearest weather station is {:.0} km away", town.nearest_station_km);
    match station(towns, town) {
        Some(s) => format!("Estimated from weather stations around; {near} ({}; {}).", capitalised(&s.name), s.source.label()),
        None => format!("Estimated from weather stations around; {near}."),
    }
}

/// What to keep in mind when reading the estimate.
pub fn doubts(spot: &Spot) -> Vec<String> {
    let town = &spot.town;
    let mut found = Vec::new();
    if let Some(above) = spot.above_town_m() {
        if above.abs() >= 1.0 {
            found.push(format!(
                "Your garden lies {:.0} m {} the town; {} a kilometre is reckoned with, and cold air that lies in valleys can turn it round.",
                above.abs(),
                if above > 0.0 { "above" } else { "below" },
                crate::units::both_scales(1000.0 * crate::science::climate::site_estimate::MINIMUM_LAPSE_K_PER_M)
            ));
        }
        if above.abs() >= MUCH_HIGHER_M {
            found.push(
                "So far from the town’s height the estimate says little: a town at your height, or your own thermometer, says more."
                    .to_owned(),
            );
        }
    } else if spot.elevation_m.is_some() {
        found.push("The height of the town is not known, so your garden’s height could not be reckoned with.".to_owned());
    }
    if let Some((_, km)) = spot.point.filter(|(_, km)| *km >= 1.0) {
        found.push(format!("These coordinates are {km:.0} km from {}, whose estimate is used.", town.label()));
    }
    if town.lowered {
        found.push(
            "The three winters measured near here, 2019 to 2022, were mild ones; 1.2 °C (2.2 °F) has been taken off for that, and the doubt widened."
                .to_owned(),
        );
    }
    if town.nearest_station_km >= FAR_KM {
        found.push(format!("No weather station was used within {:.0} km.", town.nearest_station_km));
    }
    if matches!(town.country_code.as_str(), "JP" | "KR") {
        found.push("Estimates for Japan and Korea may be too cold.".to_owned());
    }
    found.push("No long record stands in the estimate itself to show whether winters here have been warming.".to_owned());
    found
}

/// Others of the same name.
pub fn namesakes(spot: &Spot) -> Option<String> {
    match spot.namesakes {
        0 => None,
        1 => Some("There is one more town of that name; say its region or country if you meant the other.".to_owned()),
        n => Some(format!("There are {n} more towns of that name; say the region or country if you meant another.")),
    }
}

/// The years of a station's daily minima by the archive's inventory.
pub fn years(station: &ArchiveStation) -> String {
    let last = station.years.1;
    station.first_year().map_or_else(|| format!("to {last}, first year not known"), |first| format!("{first} to {last}"))
}

/// A name that the archive writes in capitals.
pub fn capitalised(name: &str) -> String {
    name.split(' ')
        .map(|word| {
            let mut letters = word.chars();
            letters.next().map_or_else(String::new, |first| first.to_string() + &letters.as_str().to_lowercase())
        })
        .collect::<Vec<_>>()
        .join(" ")
}

/// A day of the year as “about 22 April”.
pub fn day(day_of_year: f64) -> String {
    // 2023 is any year without a leap day.
    jiff::civil::Date::new(2023, 1, 1)
        .ok()
        .and_then(|first| first.checked_add(jiff::Span::new().days(day_of_year.round().clamp(1.0, 365.0) as i64 - 1)).ok())
        .map_or_else(String::new, |date| date.strftime("%-d %B").to_string())
}
