//! What is noticed of a report beside the rules and the model: its place, and what else is kept.

use std::sync::Arc;

use crate::jobs::reports::expectation::flags;
use crate::jobs::reports::station_cold::{ByStation, by_station};
use crate::model::snapshot::Snapshot;
use crate::places::gazetteer::FARTHEST_TOWN_KM;
use crate::places::{Gazetteer, Town, land};
use crate::records::words::Cover;
use crate::records::{Flag, Flagged, Plant, Report, WinterRecord};
use crate::store::{Store, StoreError};
use crate::units::TemperatureDelta;

/// How many spreads from the mean of the yearly minima a temperature lies that no winter there is known for: one winter in a thousand is
/// colder (quantile of the normal distribution). DESIGN for the share.
const BEYOND: f64 = 3.09;
/// “The same cold”, K to either side: what thermometers of gardens differ by. COMMON_PRACTICE.
const SAME_COLD_K: f64 = 1.0;
/// Fewest reports of others that speak against one. DESIGN.
const LEAST_OTHERS: usize = 3;
/// Most reports of others that are looked at.
const MOST_OTHERS: i64 = 24;
/// Levels of damage by which a report lies outside of what all others saw. DESIGN.
const LEVELS_APART: usize = 2;

/// What the place tells of a report: whether it lies at sea, and whether such a cold was ever met there.
pub(crate) fn of_place(plant: &Plant, record: &WinterRecord) -> Vec<Flagged> {
    let Ok(gazetteer) = Gazetteer::embedded() else { return Vec::new() };
    let mut raised = Vec::new();
    let point = plant.place.point.map(|point| (point.latitude(), point.longitude()));
    if let Some((latitude, longitude)) = point.filter(|point| *point != (0.0, 0.0))
        && let Some(km) = land::at_sea(gazetteer, latitude, longitude)
    {
        raised.push(Flagged { flag: Flag::PlaceAtSea, detail: format!("the nearest town is {km:.0} km away") });
        return raised;
    }
    let town = match (point, plant.place.words.as_deref()) {
        (Some(at), _) => gazetteer.near(at, 1).into_iter().next().filter(|(_, km)| *km <= FARTHEST_TOWN_KM),
        (None, Some(words)) => gazetteer.named(words).map(|town| (town, 0.0)),
        (None, None) => None,
    };
    raised.extend(town.and_then(|(town, km)| beyond(&town, km, record)));
    raised
}

/// The same, a temperature held against the record of a station within reach where one is kept: it knows more than an estimate.
///
/// # Errors
/// When the store does not answer.
pub(crate) async fn of_place_and_stations(
    store: &Arc<dyn Store>,
    plant: &Plant,
    record: &WinterRecord,
) -> Result<Vec<Flagged>, StoreError> {
    let mut raised = of_place(plant, record);
    if raised.iter().any(|flagged| flagged.flag == Flag::PlaceAtSea) {
        return Ok(raised);
    }
    if let Some(told) = by_station(store, plant, record).await? {
        raised.retain(|flagged| flagged.flag != Flag::TemperatureBeyondPlace);
        if let ByStation::Beyond(flagged) = told {
            raised.push(flagged);
        }
    }
    Ok(raised)
}

/// Whether a temperature lies beyond what a thousand winters bring near a town.
fn beyond(town: &Town, km: f64, record: &WinterRecord) -> Option<Flagged> {
    let coldest = record.coldest.as_ref()?.celsius;
    let estimate = town.estimate.away(km);
    let mean = estimate.mean.value;
    let spread = estimate.spread.value.kelvin() + estimate.spread.error;
    let far = BEYOND * spread.hypot(estimate.mean.error);
    let off = coldest.degrees() - mean.degrees();
    // Indoors, and under a house, the coldest that a plant met is not that of the place.
    let outdoors = !matches!(record.cover, Cover::CarriedIn | Cover::UnheatedHouse | Cover::Heated);
    (off < -far || (outdoors && off > far)).then(|| {
        let far = TemperatureDelta::literal(far);
        let detail = format!("near {} the coldest night of a winter is {mean} on average, and within {far} of that", town.name);
        Flagged { flag: Flag::TemperatureBeyondPlace, detail }
    })
}

/// Whether what a report says lies far outside what others saw of the same fig, grown and covered alike, at the same cold.
fn differs(plant: &Plant, record: &WinterRecord, others: &[Report]) -> Option<Flagged> {
    let own = record.damage()?;
    let alike = |other: &&Report| {
        other.record.cover == record.cover && other.plant.culture.code() == plant.culture.code() && other.plant.id != plant.id
    };
    let seen: Vec<_> = others.iter().filter(alike).filter_map(|other| other.record.damage()).collect();
    let (mildest, worst) = (seen.iter().map(|d| d.low()).min()?, seen.iter().map(|d| d.high()).max()?);
    let more = own.low().index() >= worst.index() + LEVELS_APART;
    let less = own.high().index() + LEVELS_APART <= mildest.index();
    (seen.len() >= LEAST_OTHERS && (more || less)).then(|| {
        let range = if mildest == worst { mildest.label().to_owned() } else { format!("{} to {}", mildest.label(), worst.label()) };
        Flagged { flag: Flag::DiffersFromOthers, detail: format!("{} others: {range}", seen.len()) }
    })
}

/// Every flag of a report: the rules, the model, its place, and what else is kept. `others` are reports of the same plant and winter.
///
/// # Errors
/// When the store does not answer.
pub(crate) async fn noticed(
    store: &Arc<dyn Store>,
    plant: &Plant,
    record: &WinterRecord,
    snapshot: &Snapshot,
    others: &[Report],
) -> Result<Vec<Flagged>, StoreError> {
    let mut raised = flags(plant, record, snapshot, others);
    raised.extend(of_place_and_stations(store, plant, record).await?);
    let equal = store.equal_plants(plant, record.winter).await?;
    raised.extend(equal.iter().map(|report| Flagged { flag: Flag::PlantTwiceSuspect, detail: format!("report {report}") }));
    if let (Some(cultivar), Some(coldest)) = (&plant.cultivar, &record.coldest) {
        let at = coldest.celsius.degrees();
        let same = store.others_in_cold(cultivar.as_str(), plant.owner, (at - SAME_COLD_K, at + SAME_COLD_K), MOST_OTHERS).await?;
        raised.extend(differs(plant, record, &same));
    }
    raised.sort();
    Ok(raised)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::sample;
    use crate::records::words::{TopKilled, TypedUnit};
    use crate::records::{HeldPoint, MemberId};
    use crate::units::Celsius;
    use uuid::Uuid;

    fn at(latitude: f64, longitude: f64, coldest_c: f64) -> Vec<Flag> {
        let (mut plant, mut record) = (sample::report().plant, sample::record());
        plant.place.point = HeldPoint::new(latitude, longitude).ok();
        if let Some(coldest) = &mut record.coldest {
            (coldest.celsius, coldest.unit) = (Celsius::literal(coldest_c), TypedUnit::Celsius);
        }
        of_place(&plant, &record).into_iter().map(|flagged| flagged.flag).collect()
    }

    // Seattle: yearly minimum near −6 °C and −18 °C the lowest of its airport's record (GHCN-Daily USW00024233, 1950). Duluth: near −32 °C.
    #[test]
    fn a_cold_that_a_place_does_not_see_is_noticed_and_its_coldest_winters_are_not() {
        assert_eq!(at(47.6, -122.3, -9.0), []);
        assert_eq!(at(47.6, -122.3, -14.0), []);
        assert_eq!(at(47.6, -122.3, -29.0), [Flag::TemperatureBeyondPlace]);
        assert_eq!(at(46.8, -92.1, -29.0), []);
        assert_eq!(at(46.8, -92.1, 2.0), [Flag::TemperatureBeyondPlace]);
        assert_eq!(at(35.0, -45.0, -9.0), [Flag::PlaceAtSea]);
    }

    #[test]
    fn a_report_far_outside_what_three_others_saw_differs_and_one_beside_them_does_not() {
        let (plant, mut record) = (sample::report().plant, sample::record());
        record.top = TopKilled::ToGround;
        let other = |nth: u128, top| {
            let mut other = sample::report();
            other.reporter = Some(MemberId(Uuid::from_u128(nth)));
            other.plant.id = crate::records::PlantId(Uuid::from_u128(100 + nth));
            other.record.top = top;
            other
        };
        let others: Vec<_> = (0..3).map(|nth| other(nth, TopKilled::None)).collect();
        assert!(differs(&plant, &record, &others).is_some());
        assert_eq!(differs(&plant, &record, &others[..2]), None, "two are too few");
        let mixed: Vec<_> =
            [TopKilled::None, TopKilled::None, TopKilled::ToGround].into_iter().zip(0..).map(|(top, n)| other(n, top)).collect();
        assert_eq!(differs(&plant, &record, &mixed), None, "one of them saw the same");
    }
}
