//! Safe dates as JSON.

use jiff::civil::Date;
use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::season::acts::{ActRow, CHANCES};
use crate::jobs::season::dates::days;
use crate::jobs::season::safe::Safe;
use crate::jobs::shortlist::json::tidy;
use crate::jobs::spring::question::SpringQuestion;
use crate::jobs::spring::safe_dates::{SafeDatesAnswer, SafeDatesQuestion};

/// Dates for everything that waits for one.
#[derive(Debug, Serialize, ToSchema)]
pub struct SafeDatesJson {
    /// Day of the question.
    #[schema(value_type = String, format = Date)]
    pub today: Date,
    /// north, south.
    pub half: &'static str,
    /// Warmer than the open on a clear still night by so much, K.
    pub spot_k: f64,
    /// Each act.
    pub acts: Vec<ActJson>,
}

/// Something to do.
#[derive(Debug, Serialize, ToSchema)]
pub struct ActJson {
    /// move_out_asleep, plant_out_asleep, uncover, cut, move_out_in_leaf, plant_out_in_leaf.
    pub act: &'static str,
    /// In words.
    pub name: &'static str,
    /// Air at the plant that hurts it then, °C.
    pub hurt_at_c: f64,
    /// Where that comes from.
    pub source: &'static str,
    /// What else has to be so.
    pub and: &'static str,
    /// A date for each chance.
    pub dates: Vec<ActDateJson>,
    /// Chance of a harmful night after the day asked about; null without `on`.
    pub chance_after: Option<f64>,
}

/// A date by a chance.
#[derive(Debug, Serialize, ToSchema)]
pub struct ActDateJson {
    /// Chance of a harmful night afterwards.
    pub chance: f64,
    /// Safe by that chance from this day on: today where it is.
    #[schema(value_type = String, format = Date)]
    pub from: Date,
    /// Where it is safe today: until then; null through the winter too, or where it is not yet.
    #[schema(value_type = Option<String>, format = Date)]
    pub until: Option<Date>,
}

impl SafeDatesJson {
    /// Of an answer.
    pub fn of(question: &SafeDatesQuestion, answer: &SafeDatesAnswer) -> Self {
        let season = &question.season;
        Self {
            today: season.today,
            half: season.hemisphere.word(),
            spot_k: tidy(answer.spot.kelvin()),
            acts: answer.rows.iter().map(|row| act(season, row)).collect(),
        }
    }
}

fn act(season: &SpringQuestion, row: &ActRow) -> ActJson {
    let today = days(season.turn(), season.today);
    let stage = row.act.stage();
    let date = |(chance, safe): (f64, Safe)| ActDateJson {
        chance,
        from: season.date(safe.from(today)),
        until: match safe {
            Safe::Now(until) => until.map(|day| season.date(day)),
            Safe::From(_) => None,
        },
    };
    ActJson {
        act: row.act.word,
        name: row.act.words,
        hurt_at_c: stage.threshold.degrees(),
        source: stage.source,
        and: row.act.and,
        dates: CHANCES.into_iter().zip(row.dates).map(date).collect(),
        chance_after: row.chance_after.map(tidy),
    }
}
