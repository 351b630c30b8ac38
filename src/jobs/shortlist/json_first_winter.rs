//! The steps of a first winter as JSON: days of any year, of the half of the Earth that the place lies on.

use jiff::ToSpan;
use jiff::civil::{Date, date};
use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::season::dates::turn_before;
use crate::jobs::season::first_winter::{Effect, Step};
use crate::jobs::season::words::{Calendar, told};
use crate::jobs::shortlist::answer::Answer;
use crate::jobs::shortlist::tidy::tidy;
use crate::science::climate::winters::Hemisphere;

/// What the first winter of the three asks for, by the tenderest of them.
#[derive(Debug, Serialize, ToSchema)]
pub struct FirstWinterJson {
    /// north or south, by the town; `north_assumed` where no town says it.
    pub dates_of: &'static str,
    /// In the order of the year, from autumn.
    pub steps: Vec<StepJson>,
}

/// One thing to do. Days are MM-DD; what a step has none of is null.
#[derive(Debug, Default, Serialize, ToSchema)]
pub struct StepJson {
    /// nothing, `put_on`, `cover_nights`, `carry_in`, `out_again`, uncover, `no_cover`, `do_not_dig`.
    pub kind: &'static str,
    /// Cover that is put on for the winter.
    pub protection: Option<&'static str>,
    /// To be done by this day; of nights, one year in ten brings the first by then.
    pub by: Option<String>,
    /// From this day on.
    pub from: Option<String>,
    /// The same for a plant in leaf.
    pub from_in_leaf: Option<String>,
    /// Not before this day.
    pub until: Option<String>,
    /// Before nights below this, °C.
    pub below_c: Option<f64>,
    /// Chance that a young plant dies in its first winter: without it, with it.
    pub dead: Option<[f64; 2]>,
    /// Chance that it is killed to the ground or dies: without it, with it.
    pub loses_top: Option<[f64; 2]>,
    /// The step in a sentence; temperatures in °C.
    pub text: String,
}

/// A day of the year as `MM-DD`; days are counted from the turn of the year before a summer's day.
pub(crate) fn month_day(day: f64, hemisphere: Hemisphere) -> String {
    let turn = turn_before(hemisphere, summer(hemisphere));
    turn.checked_add((day.round() as i64).days()).unwrap_or(turn).strftime("%m-%d").to_string()
}

/// A day on which no step of the coming winter is late.
const fn summer(hemisphere: Hemisphere) -> Date {
    match hemisphere {
        Hemisphere::North => date(2001, 8, 1),
        Hemisphere::South => date(2002, 2, 1),
    }
}

impl FirstWinterJson {
    /// Of the three figs of an answer; `None` where there are none.
    pub(crate) fn of(answer: &Answer<'_>) -> Option<Self> {
        let first = answer.first_winter.as_ref()?;
        let known = answer.question.hemisphere();
        let hemisphere = known.unwrap_or(Hemisphere::North);
        let cold = |t: crate::units::Celsius| t.to_string();
        let calendar = Calendar { today: summer(hemisphere), hemisphere, cold: &cold };
        let day = |day: f64| Some(month_day(day, hemisphere));
        let step = |(step, text): (Step, String)| {
            let both = |effect: Effect| {
                let pair = |(without, with): (f64, f64)| [tidy(without), tidy(with)];
                (Some(pair(effect.dead)), Some(pair(effect.loses_top)))
            };
            let of = |kind| StepJson { kind, text: text.clone(), ..StepJson::default() };
            match step {
                Step::Nothing { below, .. } => StepJson { below_c: Some(tidy(below.degrees())), ..of("nothing") },
                Step::PutOn { protection, by, effect } => {
                    let (dead, loses_top) = both(effect);
                    StepJson { protection: Some(protection.word()), by: day(by), dead, loses_top, ..of("put_on") }
                }
                Step::CoverNights { below, from, effect } => {
                    let (dead, loses_top) = effect.map_or((None, None), both);
                    StepJson { below_c: Some(tidy(below.degrees())), by: day(from), dead, loses_top, ..of("cover_nights") }
                }
                Step::CarryIn { below, from, effect } => {
                    let (dead, loses_top) = both(effect);
                    StepJson { below_c: Some(tidy(below.degrees())), by: day(from), dead, loses_top, ..of("carry_in") }
                }
                Step::OutAgain { asleep, in_leaf } => StepJson { from: day(asleep), from_in_leaf: day(in_leaf), ..of("out_again") },
                Step::NoCover => of("no_cover"),
                Step::Uncover(from) => StepJson { from: day(from), ..of("uncover") },
                Step::DoNotDig(until) => StepJson { until: day(until), ..of("do_not_dig") },
            }
        };
        let steps = told(first, &calendar).into_iter().map(|(at, said)| step((at, format!("{}: {}", said.when, said.what)))).collect();
        let dates_of = match known {
            Some(Hemisphere::North) => "north",
            Some(Hemisphere::South) => "south",
            None => "north_assumed",
        };
        Some(Self { dates_of, steps })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    fn first_winter(query: &[(&str, &str)]) -> FirstWinterJson {
        let snapshot = Snapshot::from_seed().unwrap();
        let pairs: Vec<(String, String)> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        let answer = snapshot.recommend(&Question::parse(&pairs, true).unwrap());
        FirstWinterJson::of(&answer).unwrap()
    }

    #[test]
    fn a_southern_town_is_told_southern_days() {
        let month = |step: &StepJson| step.from.as_deref().and_then(|day| day.get(..2)?.parse::<u32>().ok());
        let north = first_winter(&[("zone", "6b"), ("limit", "1")]);
        assert_eq!(north.dates_of, "north_assumed");
        assert!(north.steps.iter().filter_map(month).all(|m| (3..=6).contains(&m)) && north.steps.iter().any(|s| s.from.is_some()));
        let south = first_winter(&[("place", "Ushuaia, Argentina"), ("limit", "1")]);
        assert_eq!(south.dates_of, "south");
        assert!(south.steps.iter().filter_map(month).all(|m| (9..=12).contains(&m)) && south.steps.iter().any(|s| s.from.is_some()));
    }
}
