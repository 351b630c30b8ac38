//! The heat to the dates of a report, and how hard its plant was when the cold came, counted from a daily record that its member keeps under a name.

use std::sync::Arc;

use jiff::civil::Date;
use tokio::sync::Semaphore;

use crate::input::errors::FieldErrors;
use crate::jobs::reports::error::ReportError;
use crate::jobs::station_record::read::Reading;
use crate::jobs::station_record::saved::reading;
use crate::records::words::Fruit;
use crate::records::{FirstGrowth, HeatMet, KeptRecord, Member, NamedSite, SiteId, WinterRecord};
use crate::science::climate::equivalent::harder_on_coldest_night;
use crate::science::cultivar::HardinessClass;
use crate::science::fruiting::recorded::{degree_days_between, degree_days_to_frost};
use crate::store::Store;

/// Field of the form that names the record, by its id.
pub const FIELD: &str = "heat_site";
/// Records read at once: each takes a core and some memory for up to a second.
static READINGS: Semaphore = Semaphore::const_new(2);

/// Heat to the dates of a record, and how hard a plant of its class was on the coldest night of the winter; `None` where no site is named, or
/// there is neither a date to count to nor a coldest temperature.
///
/// # Errors
/// When the site is not the member's, or its record does not hold the days.
pub async fn heat(
    store: &Arc<dyn Store>,
    member: &Member,
    pairs: &[(String, String)],
    record: &WinterRecord,
    class: HardinessClass,
) -> Result<Option<HeatMet>, ReportError> {
    Ok(heats(store, member, pairs, vec![(record.clone(), class)]).await?.pop().flatten())
}

/// The same for several plants of one garden, in their order: the daily record is read once.
///
/// # Errors
/// As for one.
pub async fn heats(
    store: &Arc<dyn Store>,
    member: &Member,
    pairs: &[(String, String)],
    records: Vec<(WinterRecord, HardinessClass)>,
) -> Result<Vec<Option<HeatMet>>, ReportError> {
    let typed = pairs.iter().find(|(name, _)| name == FIELD).map_or("", |(_, text)| text.trim());
    if typed.is_empty() || !records.iter().any(|(record, _)| has_something_to_count(record)) {
        return Ok(vec![None; records.len()]);
    }
    let kept = match uuid::Uuid::parse_str(typed) {
        Ok(id) => store.site(SiteId(id), member.id).await?,
        Err(_) => None,
    };
    let Some((site, kept)) = kept else {
        return Err(wrong(typed, "you keep no such record; choose one of yours, or leave this blank".to_owned()));
    };
    let Ok(_turn) = READINGS.acquire().await else { return Ok(vec![None; records.len()]) };
    let counted = tokio::task::spawn_blocking(move || count_all(&site, &kept, &records)).await;
    match counted {
        Ok(Ok(heats)) => Ok(heats),
        Ok(Err(why)) => Err(wrong(typed, why)),
        Err(error) => Err(wrong(typed, format!("the record could not be read: {error}"))),
    }
}

fn wrong(typed: &str, why: String) -> ReportError {
    let mut errors = FieldErrors::default();
    errors.add(FIELD, typed, why);
    ReportError::Fields(errors)
}

fn tenth(sum: f64) -> f64 {
    (sum * 10.0).round() / 10.0
}

fn has_something_to_count(record: &WinterRecord) -> bool {
    record.first_growth.is_some() || record.first_ripe.is_some() || record.coldest.is_some()
}

fn count_all(site: &NamedSite, kept: &KeptRecord, records: &[(WinterRecord, HardinessClass)]) -> Result<Vec<Option<HeatMet>>, String> {
    let reading = reading(site, kept)?;
    let one = |(record, class): &(WinterRecord, HardinessClass)| {
        if !has_something_to_count(record) {
            return Ok(None);
        }
        let heat = count(site, &reading, record, *class)?;
        Ok(Some(heat).filter(|heat| *heat != HeatMet { site: heat.site, ..HeatMet::default() }))
    };
    records.iter().map(one).collect()
}

fn count(site: &NamedSite, reading: &Reading, record: &WinterRecord, class: HardinessClass) -> Result<HeatMet, String> {
    if reading.climate.hemisphere != record.winter.hemisphere() {
        return Err(format!("“{}” is a record of the {}, and the winter is not", site.name.as_str(), reading.climate.hemisphere.label()));
    }
    let from = record.winter.heat_from();
    let to = |date: Option<Date>| {
        date.map(|date| {
            degree_days_between(&reading.record, from, date).map(tenth).ok_or_else(|| {
                let file = &reading.record.file;
                format!(
                    "“{}” does not hold the days from {from} to {date}: it runs from {} to {}, or misses too many. Choose another, or leave this blank",
                    site.name.as_str(),
                    file.first,
                    file.last
                )
            })
        })
        .transpose()
    };
    let growth = record.first_growth.map(|growth| match growth {
        FirstGrowth::On(date) | FirstGrowth::NotBy(date) => date,
    });
    let unripe = matches!(record.fruit, Some(Fruit::Unripe));
    // A record that ends before the frost still counts the growth.
    let to_frost = unripe.then(|| degree_days_to_frost(&reading.record, from)).flatten().map(tenth);
    // A record that does not hold that winter still counts the dates.
    let harder_k = record
        .coldest
        .as_ref()
        .and_then(|_| harder_on_coldest_night(&reading.record, reading.climate.hemisphere, record.winter.year(), class))
        .map(|harder| tenth(harder.kelvin()));
    Ok(HeatMet { site: Some(site.id), to_growth: to(growth)?, to_ripe: to(record.first_ripe)?, to_frost, harder_k })
}
