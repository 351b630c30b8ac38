//! Published reports by what they say: the question of `/reports` and of the API, and its answer a page at a time.

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::open_data::publication::{Publication, Published};
use crate::records::words::Cover;
use crate::records::{HeldPoint, Winter};
use crate::units::Celsius;

/// Parameters of the question.
pub const PARAMETERS: [&str; 11] = [
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
    after: Option<String>,
    limit: usize,
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

impl ReportQuestion {
    /// Reads the question from raw pairs.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let mut fields = Fields::new(pairs, &PARAMETERS);
        let question = Self {
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
        self.near.is_some()
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
        cultivar
            && near
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
