//! A report's coldest temperature held against the record of a weather station within reach, where somebody has fetched one: nothing is fetched
//! for a report.

use std::sync::Arc;

use crate::jobs::places::words::{RECORDS_WITHIN_KM, capitalised};
use crate::jobs::station_record::answer::Carried;
use crate::jobs::station_record::archive::kept_record;
use crate::jobs::station_record::read::{from_bytes, latest_date};
use crate::places::{ArchiveStation, Gazetteer};
use crate::records::words::Cover;
use crate::records::{Flag, Flagged, Plant, StationId, WinterRecord};
use crate::science::climate::record::ReadOptions;
use crate::science::climate::winters::{Hemisphere, MISSING_ALLOWED, Winter, winters};
use crate::store::{Store, StoreError};
use crate::units::Celsius;

/// Stations about a place among which one with a fetched record is looked for, the nearest first.
const LOOKED_AT: usize = 12;
/// How many spreads from a station's night a garden's is flagged: one in a thousand lies farther (quantile of the normal distribution). DESIGN
/// for the share.
const BEYOND: f64 = 3.09;
/// Spread of what a garden and a station near it differ by on one night, beside what distance and height explain, K: hollows, walls and
/// thermometers. COMMON_PRACTICE.
const ONE_NIGHT_K: f64 = 2.5;
/// Winters of a record from which its coldest speaks for the place. DESIGN.
const FEWEST_WINTERS: usize = 10;

/// What the record of a station says of a temperature.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum ByStation {
    /// It had a night like it in that winter.
    Fits,
    /// It had none.
    Beyond(Flagged),
}

/// Judges by the nearest station whose record is kept; `None` where there is none, or it does not know that winter and its coldest does not
/// speak against the report.
///
/// # Errors
/// When the store does not answer.
pub(crate) async fn by_station(store: &Arc<dyn Store>, plant: &Plant, record: &WinterRecord) -> Result<Option<ByStation>, StoreError> {
    let (Some(point), Some(_), Ok(towns)) = (plant.place.point, &record.coldest, Gazetteer::embedded()) else { return Ok(None) };
    let at = (point.latitude(), point.longitude());
    for station in towns.long_records(at, RECORDS_WITHIN_KM, LOOKED_AT) {
        let Ok(id) = station.id.parse::<StationId>() else { continue };
        let Some(document) = kept_record(store, &id).await? else { continue };
        let height_m = towns.near(at, 1).first().and_then(|(town, _)| town.elevation_m);
        let higher_m = station.elevation_m.zip(height_m).map_or(0.0, |(station, garden)| station - garden);
        let carried = Carried::over(station.km, higher_m);
        let record = record.clone();
        // Reading takes some hundredth of a second.
        let judging = tokio::task::spawn_blocking(move || {
            let mut options = ReadOptions::on(latest_date(document.fetched));
            options.station = Some(id.to_string());
            options.latitude_deg = Some(station.at.0);
            let reading = from_bytes(&document.bytes, &options).ok()?;
            let hemisphere = reading.climate.hemisphere;
            judged(&winters(&reading.record, hemisphere), hemisphere, &station, carried, &record)
        });
        return Ok(judging.await.unwrap_or_else(|error| {
            tracing::error!(%error, "the record of a station could not be looked at");
            None
        }));
    }
    Ok(None)
}

fn judged(
    winters: &[Winter],
    hemisphere: Hemisphere,
    station: &ArchiveStation,
    carried: Carried,
    record: &WinterRecord,
) -> Option<ByStation> {
    let coldest = record.coldest.as_ref()?.celsius.degrees();
    let (first, last) = record.winter.days();
    let middle = first.checked_add(jiff::Span::new().days(first.until(last).ok()?.get_days() / 2)).ok()?;
    let far = BEYOND * carried.error_k.hypot(ONE_NIGHT_K);
    // A winter is known once its cold months are, which is when reports of it are sent; its year has not ended then.
    let known = |winter: &&Winter| winter.cold_days_missing <= MISSING_ALLOWED;
    let used = || winters.iter().filter(known).filter_map(|winter| Some((winter.winter, winter.minimum_c?)));
    let where_at = format!("at the station {}, {:.0} km away", capitalised(&station.name), station.km);
    let beyond = |detail| Some(ByStation::Beyond(Flagged { flag: Flag::TemperatureBeyondPlace, detail }));
    let off = |night: Celsius| coldest - (night.degrees() + carried.milder_k);
    if let Some((_, night)) = used().find(|(label, _)| *label == hemisphere.winter_label(middle)) {
        // Indoors, and under a house, the coldest that a plant met is not that of the place.
        let outdoors = !matches!(record.cover, Cover::CarriedIn | Cover::UnheatedHouse | Cover::Heated);
        if off(night) < -far || (outdoors && off(night) > far) {
            return beyond(format!("the coldest night of that winter was {night:.1} {where_at}"));
        }
        return Some(ByStation::Fits);
    }
    let lowest = used().map(|(_, night)| night).min_by(|a, b| a.degrees().total_cmp(&b.degrees()))?;
    let count = used().count();
    if count >= FEWEST_WINTERS && off(lowest) < -far {
        return beyond(format!("the coldest night of {count} winters was {lowest:.1} {where_at}"));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::sample;
    use crate::records::words::TypedUnit;

    fn winter(label: i16, minimum: f64) -> Winter {
        Winter {
            winter: label,
            minimum_c: Some(Celsius::literal(minimum)),
            date: None,
            days_missing: 0,
            cold_days_missing: 0,
            used: true,
            reason: None,
            equivalent_minimum_c: None,
            equivalent_date: None,
            deficit_k: None,
        }
    }

    fn said(winters: &[Winter], coldest: f64, cover: Cover) -> Option<ByStation> {
        let station = ArchiveStation {
            id: "XX000000001".to_owned(),
            name: "INVENTED FIELD".to_owned(),
            at: (47.0, 11.0),
            km: 10.0,
            elevation_m: None,
            years: (1980, 2026),
        };
        let mut record = sample::record();
        record.cover = cover;
        if let Some(typed) = &mut record.coldest {
            (typed.celsius, typed.unit) = (Celsius::literal(coldest), TypedUnit::Celsius);
        }
        judged(winters, Hemisphere::North, &station, Carried::over(10.0, 0.0), &record)
    }

    #[test]
    fn the_winter_itself_decides_where_the_station_knows_it_and_the_coldest_of_all_where_it_does_not() {
        let label = sample::record().winter.days().1.year();
        let known = [winter(label - 1, -20.0), winter(label, -6.0)];
        assert_eq!(said(&known, -9.0, Cover::None), Some(ByStation::Fits));
        let Some(ByStation::Beyond(flagged)) = said(&known, -25.0, Cover::None) else { panic!("nothing was noticed") };
        assert_eq!(flagged.detail, "the coldest night of that winter was −6.0 °C at the station Invented Field, 10 km away");
        assert!(matches!(said(&known, 7.0, Cover::None), Some(ByStation::Beyond(_))), "too mild for the open");
        assert_eq!(said(&known, 7.0, Cover::CarriedIn), Some(ByStation::Fits), "a cellar is milder than the place");
        let others: Vec<Winter> = (0..12).map(|n| winter(label - 20 + n, -8.0 - f64::from(n))).collect();
        assert!(
            matches!(said(&others, -31.0, Cover::None), Some(ByStation::Beyond(f)) if f.detail.starts_with("the coldest night of 12 winters was −19.0 °C"))
        );
        assert_eq!(said(&others, -21.0, Cover::None), None);
        assert_eq!(said(&others[..9], -31.0, Cover::None), None, "nine winters do not speak for a place");
    }
}
