//! Published reports by what they say: the question of `/reports` and of the API, and its answer a page at a time.

use std::sync::Arc;

use uuid::Uuid;

use crate::catalogue::Catalogue;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::reports::summary::{Summaries, Summary};
use crate::places::{Gazetteer, Spot, distance};
use crate::records::register::Row;
use crate::records::words::Cover;
use crate::records::{HeldPoint, Register, ReportId, Winter};
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
/// Least length of a degree of latitude, km: at the equator (WGS 84: 110.57 km). No two places as many degrees apart are nearer than that.
const KM_PER_DEGREE_AT_LEAST: f64 = 110.5;

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
    after: Option<ReportId>,
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
    pub fn met_same_cold(&self, register: &Register, kept: &Summaries, catalogue: &Catalogue) -> Arc<Summary> {
        let cold = self.same_cold();
        let met = |row: &&Row| row.coldest().is_some_and(|c| cold.contains(c));
        kept.of(register, format!("as cold as {cold:?}"), catalogue, register.rows().filter(met))
    }
}

/// A page of the answer.
#[derive(Debug)]
pub struct ReportPage {
    /// What the reports that fit come to, on any page.
    pub summary: Arc<Summary>,
    /// Those of this page, newest first.
    pub page: Vec<ReportId>,
    /// Id after which the next page begins.
    pub next: Option<ReportId>,
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

/// The `next` of another page.
fn read_id(text: &str) -> Result<ReportId, &'static str> {
    Uuid::parse_str(text).map(ReportId).map_err(|_| "write the “next” of the page before here, as it is")
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
            after: fields.value("after").and_then(|text| fields.errors.keep("after", text, read_id(text))),
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

    fn is_at(&self, row: &Row) -> bool {
        let near = self.near.is_none_or(|point| {
            row.cell().is_some_and(|cell| {
                let east = (cell.longitude() - point.longitude() + 540.0).rem_euclid(360.0) - 180.0;
                (cell.latitude() - point.latitude()).abs() <= NEAR_DEG && east.abs() <= NEAR_DEG
            })
        });
        near && self.town.as_ref().is_none_or(|town| {
            row.cell().is_some_and(|cell| {
                let (at, from) = ((cell.latitude(), cell.longitude()), town.spot.at());
                (at.0 - from.0).abs() * KM_PER_DEGREE_AT_LEAST <= town.km && distance::km(from, at) <= town.km
            })
        })
    }

    /// Rows that fit; the cultivar is a number of the register, looked up once.
    fn fitting(&self, register: &Register) -> impl Fn(&&Row) -> bool {
        let cultivar = self.cultivar.as_deref().map(|slug| register.number_of(slug));
        let bounds = (self.from.map(Celsius::hundredths), self.to.map(Celsius::hundredths));
        move |row: &&Row| {
            let cold = |bound: Option<i32>, holds: fn(i32, i32) -> bool| {
                bound.is_none_or(|bound| row.coldest_hundredths().is_some_and(|c| holds(c, bound)))
            };
            cultivar.is_none_or(|number| number == Some(row.name))
                && self.winter.is_none_or(|wanted| row.winter == wanted)
                && self.cover.is_none_or(|wanted| row.cover == wanted)
                && cold(bounds.0, |c, bound| c >= bound)
                && cold(bounds.1, |c, bound| c <= bound)
                && self.is_at(row)
        }
    }

    /// The answer from what counts now, newest first.
    pub fn answer(&self, register: &Register, kept: &Summaries, catalogue: &Catalogue) -> ReportPage {
        let fits = self.fitting(register);
        // The same on every page.
        let question = format!("{:?}", Self { after: None, limit: 0, ..self.clone() });
        let summary = kept.of(register, question, catalogue, register.rows().filter(&fits));
        let mut rest = register.newest_below(self.after).filter(fits).map(|row| row.id);
        let page: Vec<ReportId> = rest.by_ref().take(self.limit).collect();
        let next = rest.next().and_then(|_| page.last().copied());
        ReportPage { summary, page, next }
    }

    /// Makes what the page of all reports says, so that nobody who asks for it has to wait for that.
    pub fn prepare_all(register: &Register, kept: &Summaries, catalogue: &Catalogue) {
        Self::default().answer(register, kept, catalogue);
        kept.facets(register);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::survivors::tests::register;

    fn asked(pairs: &[(&str, &str)]) -> ReportQuestion {
        ReportQuestion::parse(&pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect::<Vec<_>>()).unwrap()
    }

    fn at(number: u128, coldest: Celsius) -> crate::records::Report {
        let mut told = crate::records::sample::report();
        (told.id, told.plant.id.0) = (ReportId(Uuid::from_u128(number)), Uuid::from_u128(number));
        told.record.coldest.as_mut().unwrap().celsius = coldest;
        told
    }

    // 10 °F is −12.2222… °C and is published as −12.22: whichever of the two is asked for finds it, from either side.
    #[test]
    fn a_bound_in_either_scale_holds_what_met_exactly_that() {
        let register =
            register(&[at(1, Celsius::from_fahrenheit(10.0).unwrap()), at(2, Celsius::literal(-12.3)), at(3, Celsius::literal(-12.1))]);
        let (kept, catalogue) = (Summaries::default(), Catalogue::embedded().unwrap());
        let found = |name: &str, value: &str| asked(&[(name, value)]).answer(&register, &kept, &catalogue).page.len();
        for (from, to, value) in [("coldest_from_f", "coldest_to_f", "10"), ("coldest_from_c", "coldest_to_c", "-12.22")] {
            assert_eq!((found(from, value), found(to, value)), (2, 2), "{value}");
        }
    }

    #[test]
    fn pages_follow_one_another_without_a_gap_or_a_report_twice() {
        let reports: Vec<_> = (1..=7).map(|n| at(n, Celsius::literal(-10.0))).collect();
        let (register, kept, catalogue) = (register(&reports), Summaries::default(), Catalogue::embedded().unwrap());
        let (mut seen, mut next) = (Vec::new(), None);
        for _ in 0..4 {
            let after = next.map(|id: ReportId| id.to_string()).unwrap_or_default();
            let answer = asked(&[("limit", "3"), ("after", &after)]).answer(&register, &kept, &catalogue);
            assert_eq!(answer.summary.reports, 7, "on any page");
            seen.extend(answer.page.iter().map(|id| id.0.as_u128()));
            next = answer.next;
            if next.is_none() {
                break;
            }
        }
        assert_eq!(seen, [7, 6, 5, 4, 3, 2, 1]);
        let parsed = ReportQuestion::parse(&[("after".to_owned(), "page 2".to_owned())]);
        assert!(parsed.is_err(), "what is no id is said to be none");
    }
}
