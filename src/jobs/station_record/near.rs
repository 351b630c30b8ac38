//! A place known by the record of a station near it instead of by an estimate: the question, the answer, and what it changed.

use jiff::Timestamp;

use crate::input::errors::FieldErrors;
use crate::jobs::places::words::{RECORDS_WITHIN_KM, capitalised};
use crate::jobs::shortlist::answer::Answer;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::question_form::MOST_ROWS;
use crate::jobs::station_record::answer::{self, Carried, OwnRecord};
use crate::jobs::station_record::read::{self, Reading};
use crate::jobs::station_record::{asked, periods};
use crate::model::snapshot::Snapshot;
use crate::places::{ArchiveStation, Gazetteer, Spot, StationList};
use crate::records::StationId;
use crate::science::climate::site_climate::Question as Beside;
use crate::science::climate::site_estimate::Estimated;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::units::Celsius;

type Pairs = Vec<(String, String)>;

/// Parameter that names the station.
pub const STATION: &str = "station";
/// Parameters that say how cold it gets, and give way to the record.
const PLACE: [&str; 11] = [
    "place",
    "elevation_m",
    "elevation_ft",
    "coldest_c",
    "coldest_f",
    "coldest_winters",
    "zone",
    "yearly_minimum_c",
    "yearly_minimum_f",
    "yearly_spread_k",
    "yearly_spread_f",
];
/// Stations about a place among which one is looked for.
const STATIONS_LOOKED_AT: usize = 60;

/// A question about a place with a station near it.
#[derive(Debug, Clone)]
pub struct NearQuestion {
    /// The question as it stands without the record.
    pub question: Question,
    /// Its place.
    pub spot: Spot,
    /// The station.
    pub station: ArchiveStation,
    /// Its identifier.
    pub id: StationId,
    /// What was asked, without the station.
    pub pairs: Pairs,
}

impl NearQuestion {
    /// Reads the pairs of a question with its station, one of the archive's own list where it is at hand.
    ///
    /// # Errors
    /// By field, where the question cannot be read, names no town or point, or the station is not one near it.
    pub fn parse(pairs: &[(String, String)], list: Option<&StationList>) -> Result<Self, FieldErrors> {
        let typed = pairs.iter().find(|(name, _)| name == STATION).map_or("", |(_, id)| id.as_str());
        let rest: Pairs = pairs.iter().filter(|(name, _)| name != STATION).cloned().collect();
        let question = Question::parse(&rest, false)?;
        let mut errors = FieldErrors::default();
        let Some(spot) = question.said.as_ref().and_then(|said| said.spot.clone()) else {
            errors.add("place", "", "a station is looked for near a town or point: say the town");
            return Err(errors);
        };
        let id = errors.keep(STATION, typed, typed.parse::<StationId>());
        let near = Gazetteer::embedded().ok().zip(id.as_ref()).and_then(|(towns, id)| {
            let at = spot.at();
            let stations = list.map_or_else(
                || towns.long_records(at, RECORDS_WITHIN_KM, STATIONS_LOOKED_AT),
                |list| list.near(at, RECORDS_WITHIN_KM, STATIONS_LOOKED_AT),
            );
            stations.into_iter().find(|station| station.id == id.to_string())
        });
        match (near, id) {
            (Some(station), Some(id)) => Ok(Self { question, spot, station, id, pairs: rest }),
            (_, id) => {
                if id.is_some() {
                    errors.add(STATION, typed, format!("no station with a long record within {RECORDS_WITHIN_KM} km of the place"));
                }
                Err(errors)
            }
        }
    }

    /// Height of the station above the garden, m, where both are known.
    pub fn higher_m(&self) -> Option<f64> {
        Some(self.station.elevation_m? - self.spot.elevation_m.or(self.spot.town.elevation_m)?)
    }

    /// Name of the station, as people write names.
    pub fn name(&self) -> String {
        capitalised(&self.station.name)
    }

    /// The answers kept beside the record: the planting, and where the station stands.
    pub fn answers(&self) -> Pairs {
        let mut kept: Pairs = self.pairs.iter().filter(|(name, _)| !PLACE.contains(&name.as_str())).cloned().collect();
        kept.push(("latitude".to_owned(), format!("{:.2}", self.station.at.0)));
        kept
    }

    /// Answers with the station's record, and without it for comparison. Takes a core for a moment.
    ///
    /// # Errors
    /// By field, where the record holds too few winters.
    pub fn answer<'a>(&self, snapshot: &'a Snapshot, bytes: &[u8], now: Timestamp) -> Result<NearAnswer<'a>, FieldErrors> {
        let answers = self.answers();
        let options = read::options(&answers, now)?;
        let reading = read::from_bytes(bytes, &options).map_err(|why| asked::refused(&why, &answers))?;
        let beside = Beside { periods: periods::two(&reading.climate).map(Vec::from).unwrap_or_default(), ..Beside::default() };
        let reading = asked::answered(reading, &beside).map_err(|why| asked::refused(&why, &answers))?;
        let carried = Carried::over(self.station.km, self.higher_m().unwrap_or(0.0));
        let all_rows = |pairs: &Pairs| {
            let others = pairs.iter().filter(|(name, _)| name != "limit").cloned();
            others.chain([("limit".to_owned(), MOST_ROWS.to_string())]).collect::<Pairs>()
        };
        let question = answer::question(&reading.climate, &all_rows(&answers), false)?;
        let own = answer::recommend_carried(snapshot, &question, &reading, carried);
        let before = snapshot.recommend(&Question::parse(&all_rows(&self.pairs), false)?);
        let extremes = &reading.climate.yearly_minimum;
        let of_winters = extremes.sd_c.unwrap_or(0.0) / (extremes.winters_used.max(1) as f64).sqrt();
        let known = Known {
            mean: Estimated { value: Celsius::literal(extremes.mean_c + carried.milder_k), error: of_winters.hypot(carried.error_k) },
            winter: reading.climate.winter_minimum().map(|winter| carried.winter(winter)),
        };
        Ok(NearAnswer { own, before, reading, known, carried })
    }
}

/// What a record says of the garden's coldest nights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Mean of the coldest night of a winter.
    pub mean: Estimated<Celsius>,
    /// Over winters.
    pub winter: Option<WinterMinimum>,
}

/// An answer with a station's record beside the one without it.
#[derive(Debug)]
pub struct NearAnswer<'a> {
    /// With the record, every cultivar.
    pub own: OwnRecord<'a>,
    /// Without it, every cultivar.
    pub before: Answer<'a>,
    /// The record.
    pub reading: Reading,
    /// The garden's coldest nights by it.
    pub known: Known,
    /// What lies between station and garden.
    pub carried: Carried,
}

impl NearAnswer<'_> {
    /// Mean width of the 90 % ranges of years in ten with ripe figs over the catalogue, without the record and with it.
    pub fn widths(&self) -> (f64, f64) {
        (mean_width(&self.before), mean_width(&self.own.answer))
    }
}

/// Mean width of the 90 % ranges of years in ten with ripe figs.
fn mean_width(answer: &Answer<'_>) -> f64 {
    let widths = answer.rows.iter().map(|row| 10.0 * (row.ripe_range.high - row.ripe_range.low));
    widths.sum::<f64>() / answer.rows.len().max(1) as f64
}
