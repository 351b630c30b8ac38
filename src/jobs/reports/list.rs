//! Published reports by what they say: the question of `/reports` and of the API, and its answer a page at a time.

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::open_data::publication::{Publication, Published};
use crate::places::{Gazetteer, Spot, distance};
use crate::records::words::Cover;
use crate::records::{HeldPoint, Winter};
use crate::units::{Celsius, Interval, TemperatureDelta};

/// Parameters of the question.
pub const PARAMETERS: [&str; 13] = [
    "place",
    "within_km",
    "cultivar",
    "winter",
    "protection",
    "coldest_from_c",
    "coldest_from_f",
    "coldest_to_c",
    "coldest_to_f",
    "latitude",
    "longitude",
    "after",
    "limit",
];
/// Reports on a page where nobody says how many.
const USUAL: i16 = 100;
/// Most reports on a page.
const MOST: i16 = 1000;
/// Distance that “near” a town means when nobody says, km.
const USUAL_KM: f64 = 100.0;
/// Largest distance that is near, km.
const MOST_KM: f64 = 1000.0;
/// How far from a town's mean coldest night a winter counts as the same cold, K: about the error of that mean.
const SAME_COLD_K: f64 = 2.0;
/// Half the side of the square that “near here” means, degrees: some 50 km.
const NEAR_DEG: f64 = 0.5;

/// Which published reports are asked for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReportQuestion {
    cultivar: Option<String>,
    winter: Option<Winter>,
    cover: Option<Cover>,
    from: Option<Celsius>,
    to: Option<Celsius>,
    near: Option<HeldPoint>,
    town: Option<Near>,
    after: Option<String>,
    limit: usize,
}

/// The neighbourhood of a town.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// The town, or the point near it.
    pub spot: Spot,
    /// How far from it, km.
    pub km: f64,
}

impl Near {
    /// Lowest and highest temperature of winters as cold as the usual one there.
    pub fn same_cold(&self) -> Interval<Celsius> {
        let (mean, by) = (self.spot.estimate.mean.value, TemperatureDelta::literal(SAME_COLD_K));
        Interval { low: mean - by, high: mean + by }
    }

    /// Of the reports, those that met such a cold, anywhere.
    pub fn met_same_cold<'a>(&self, publication: &'a Publication) -> Vec<&'a Published> {
        let cold = self.same_cold();
        let met = |report: &&Published| report.winter.coldest_c.is_some_and(|c| cold.contains(Celsius::literal(c)));
        publication.reports.iter().filter(met).collect()
    }
}

/// A page of the answer.
#[derive(Debug)]
pub struct ReportPage<'a> {
    /// Reports that fit, on any page.
    pub fit: Vec<&'a Published>,
    /// Those of this page.
    pub page: Vec<&'a Published>,
    /// Id after which the next page begins.
    pub next: Option<String>,
}

/// The town typed and the distance from it.
fn town(fields: &mut Fields<'_>) -> Option<Near> {
    let km = fields.number("within_km", |x| crate::units::within("distance", "km", x, 1.0, MOST_KM));
    let typed = fields.value("place");
    if km.is_some() && typed.is_none() {
        fields.errors.add("place", "", "say from which town the distance is measured");
    }
    for name in ["latitude", "longitude"] {
        if typed.is_some() && fields.value(name).is_some() {
            fields.errors.add(name, "", "give a town or coordinates, not both");
        }
    }
    let typed = typed?;
    let spot = match Gazetteer::embedded() {
        Ok(towns) => fields.errors.keep("place", typed, towns.spot(typed, None)),
        Err(error) => {
            fields.errors.add("place", typed, error);
            None
        }
    };
    Some(Near { spot: spot?, km: km.unwrap_or(USUAL_KM) })
}

impl ReportQuestion {
    /// Reads the question from raw pairs.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let mut fields = Fields::new(pairs, &PARAMETERS);
        let town = town(&mut fields);
        let question = Self {
            town,
            cultivar: fields.line("cultivar", 80),
            winter: fields.word("winter"),
            cover: fields.word("protection"),
            from: fields.temperature("coldest_from_c", "coldest_from_f"),
            to: fields.temperature("coldest_to_c", "coldest_to_f"),
            near: match (fields.number("latitude", |d| HeldPoint::new(d, 0.0)), fields.number("longitude", |d| HeldPoint::new(0.0, d))) {
                (Some(north), Some(east)) => HeldPoint::new(north.latitude(), east.longitude()).ok(),
                (None, None) => None,
                (Some(_), None) => {
                    fields.errors.add("longitude", "", "a latitude needs its longitude");
                    None
                }
                (None, Some(_)) => {
                    fields.errors.add("latitude", "", "a longitude needs its latitude");
                    None
                }
            },
            after: fields.line("after", 60),
            limit: fields.whole("limit", "a number of reports", 1..=MOST).unwrap_or(USUAL).unsigned_abs().into(),
        };
        fields.errors.into_result()?;
        Ok(question)
    }

    /// Whether it asks for the neighbourhood of a place.
    pub fn is_near(&self) -> bool {
        self.near.is_some() || self.town.is_some()
    }

    /// The town asked for, where one was.
    pub fn town(&self) -> Option<&Near> {
        self.town.as_ref()
    }

    fn fits(&self, report: &Published) -> bool {
        let (winter, plant) = (&report.winter, &report.plant);
        let cultivar = self.cultivar.as_deref().is_none_or(|slug| winter.cultivar.as_ref().is_some_and(|c| c.as_str() == slug));
        let cold = |bound: Option<Celsius>, holds: fn(f64, f64) -> bool| {
            bound.is_none_or(|bound| winter.coldest_c.is_some_and(|c| holds(c, bound.degrees())))
        };
        let near = self.near.is_none_or(|point| match (plant.latitude, plant.longitude) {
            (Some(latitude), Some(longitude)) => {
                let east = (longitude - point.longitude() + 540.0).rem_euclid(360.0) - 180.0;
                (latitude - point.latitude()).abs() <= NEAR_DEG && east.abs() <= NEAR_DEG
            }
            _ => false,
        });
        let about = self.town.as_ref().is_none_or(|near| match (plant.latitude, plant.longitude) {
            (Some(latitude), Some(longitude)) => distance::km(near.spot.at(), (latitude, longitude)) <= near.km,
            _ => false,
        });
        cultivar
            && near
            && about
            && self.winter.is_none_or(|wanted| winter.winter == wanted)
            && self.cover.is_none_or(|wanted| winter.protection == wanted)
            && cold(self.from, |c, bound| c >= bound)
            && cold(self.to, |c, bound| c <= bound)
    }

    /// The answer from what is public now, newest first.
    pub fn answer<'a>(&self, publication: &'a Publication) -> ReportPage<'a> {
        let fit: Vec<&Published> = publication.reports.iter().filter(|report| self.fits(report)).collect();
        let rest = fit.iter().filter(|r| self.after.as_ref().is_none_or(|after| r.winter.report_id < *after));
        let page: Vec<&Published> = rest.clone().take(self.limit).copied().collect();
        let next = (rest.count() > page.len()).then(|| page.last().map(|r| r.winter.report_id.clone())).flatten();
        ReportPage { fit, page, next }
    }
}
