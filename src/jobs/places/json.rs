//! Towns as JSON: the same for the command and the API. Temperatures °C, differences K, dates day of the year.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::places::words;
use crate::places::{ATTRIBUTION, ArchiveStation, Gazetteer, Spot, Town};
use crate::science::climate::site_estimate::{Estimated, SiteEstimate};

/// Towns that fit the words, the likeliest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlacesJson {
    /// The towns.
    pub places: Vec<PlaceJson>,
    /// Whose data this is.
    pub attribution: Vec<String>,
}

/// A town.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlaceJson {
    /// Its number in GeoNames.
    pub id: u32,
    /// Name.
    pub name: String,
    /// Words that mean this town and no other.
    pub words: String,
    /// Two letters of its country.
    pub country: String,
    /// Name of the country.
    pub country_name: String,
    /// First-level region; null where none is named.
    pub region: Option<String>,
    /// Degrees north, to 0.01°.
    pub latitude: f64,
    /// Degrees east, to 0.01°.
    pub longitude: f64,
    /// Elevation, m; null where not known.
    pub elevation_m: Option<f64>,
    /// People, to about 4 %; null where not known.
    pub population: Option<f64>,
    /// The coldest night of a winter.
    pub yearly_minimum: EstimateJson,
    /// Mean of the warmest month.
    pub warmest_month: Option<FigureJson>,
    /// Usual date of the last frost of spring, day of the year; null where frosts are no yearly event or not known.
    pub last_frost_day: Option<FigureJson>,
    /// Usual date of the first frost of autumn, day of the year.
    pub first_frost_day: Option<FigureJson>,
    /// Kind of climate.
    pub climate: &'static str,
    /// Half-zone of the mean.
    pub half_zone: Option<String>,
    /// Distance of the nearest station behind the estimate, km.
    pub nearest_station_km: f64,
    /// That station, where its name is known.
    pub nearest_station: Option<String>,
    /// What to keep in mind.
    pub doubts: Vec<String>,
    /// Stations of the public archive with twenty years of daily minima or more, the nearest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub long_records: Vec<LongRecordJson>,
}

/// Distribution of the coldest night of a winter, with the error of its mean.
#[derive(Debug, Serialize, ToSchema)]
pub struct EstimateJson {
    /// Mean, °C.
    pub mean_c: f64,
    /// Standard deviation between winters, K.
    pub sd_c: f64,
    /// Standard error of the mean, K.
    pub err_c: f64,
    /// Standard deviation of one winter's coldest night, the error of the mean included, K.
    pub one_winter_sd_c: f64,
    /// Share of that variance that comes from not knowing the place, 0..=1.
    pub share_not_known: f64,
}

/// A figure with its standard error.
#[derive(Debug, Serialize, ToSchema)]
pub struct FigureJson {
    /// The figure.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

/// A station whose daily record could take the place of the estimate.
#[derive(Debug, Serialize, ToSchema)]
pub struct LongRecordJson {
    /// Identifier in GHCN-Daily.
    pub id: String,
    /// Name.
    pub name: String,
    /// Distance, km.
    pub km: f64,
    /// Height above the place (below, negative), m.
    pub higher_by_m: Option<f64>,
    /// First year of daily minima, where the archive knows it.
    pub first_year: Option<u16>,
    /// Last year of daily minima.
    pub last_year: u16,
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0 + 0.0
}

fn figure(of: Estimated<f64>) -> FigureJson {
    FigureJson { value: tenth(of.value), error: tenth(of.error) }
}

impl EstimateJson {
    fn of(estimate: &SiteEstimate) -> Self {
        Self {
            mean_c: tenth(estimate.mean.value.degrees()),
            sd_c: tenth(estimate.spread.value.kelvin()),
            err_c: tenth(estimate.mean.error),
            one_winter_sd_c: tenth(estimate.winter().sd().kelvin()),
            share_not_known: (estimate.share_not_known() * 100.0).round() / 100.0,
        }
    }
}

impl PlaceJson {
    /// A town in a list.
    pub fn of_town(towns: &Gazetteer, town: &Town) -> Self {
        let spot = Spot { point: None, elevation_m: None, estimate: town.estimate, namesakes: 0, town: town.clone() };
        Self::with_records(towns, &spot, Vec::new())
    }

    /// One place with everything that is known of it.
    pub fn of_spot(towns: &Gazetteer, spot: &Spot) -> Self {
        Self::with_records(towns, spot, towns.long_records(spot.at(), words::RECORDS_WITHIN_KM, words::RECORDS_SHOWN))
    }

    fn with_records(towns: &Gazetteer, spot: &Spot, records: Vec<ArchiveStation>) -> Self {
        let Spot { town, estimate, .. } = spot;
        let hundredth = |x: f64| (x * 100.0).round() / 100.0;
        Self {
            id: town.id.0,
            name: town.name.clone(),
            words: towns.words_for(town),
            country: town.country_code.clone(),
            country_name: town.country.clone(),
            region: town.region.clone(),
            latitude: hundredth(spot.at().0),
            longitude: hundredth(spot.at().1),
            elevation_m: spot.elevation_m.or(town.elevation_m),
            population: town.population.map(f64::round),
            yearly_minimum: EstimateJson::of(estimate),
            warmest_month: estimate.warmest_month.map(|w| figure(Estimated { value: w.value.degrees(), error: w.error })),
            last_frost_day: estimate.frost.map(|f| figure(f.last)),
            first_frost_day: estimate.frost.map(|f| figure(f.first)),
            climate: town.climate_kind().word(),
            half_zone: crate::science::climate::zone::HalfZone::of_mean(estimate.mean.value).map(|z| z.to_string()),
            nearest_station_km: town.nearest_station_km,
            nearest_station: words::station(towns, town).map(|s| s.name),
            doubts: words::doubts(spot),
            long_records: records
                .into_iter()
                .map(|r| LongRecordJson {
                    higher_by_m: r.elevation_m.zip(spot.elevation_m.or(town.elevation_m)).map(|(there, here)| there - here),
                    km: tenth(r.km),
                    first_year: r.first_year(),
                    last_year: r.years.1,
                    id: r.id,
                    name: r.name,
                })
                .collect(),
        }
    }
}

impl PlacesJson {
    /// Of towns found.
    pub fn of(towns: &Gazetteer, found: &[Town]) -> Self {
        Self { places: found.iter().map(|town| PlaceJson::of_town(towns, town)).collect(), attribution: attribution() }
    }
}

/// Whose data the towns are, a line each.
pub fn attribution() -> Vec<String> {
    ATTRIBUTION.iter().map(|a| format!("{}: {}", a.what, a.whose)).collect()
}
