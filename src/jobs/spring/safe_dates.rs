//! When is it safe to uncover, move out, plant out and cut: asked for a place, without a plant to look at.

use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::season::acts::{self, ActRow};
use crate::jobs::season::dates::{days, month_and_day, turn_before};
use crate::jobs::spring::question::{SITE, Seen, SpringQuestion};
use crate::jobs::station_record::read::Reading;
use crate::model::snapshot::Snapshot;
use crate::units::TemperatureDelta;

/// The day that the reader has in mind.
pub const ON: &str = "on";
/// Parameters beside those of the place.
pub const PARAMETERS: [&str; 4] = ["half", "today", ON, SITE];

/// The question.
#[derive(Debug, Clone)]
pub struct SafeDatesQuestion {
    /// Place and calendar: those of a spring question.
    pub season: SpringQuestion,
    /// The day in mind, days from the turn of its year.
    pub on: Option<f64>,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct SafeDatesAnswer {
    /// What may be done from when.
    pub rows: Vec<ActRow>,
    /// Warmer than the open on a clear still night by so much.
    pub spot: TemperatureDelta,
}

impl SafeDatesQuestion {
    /// Reads a question asked on `now`; a record and its name speak for the place where they are given.
    ///
    /// # Errors
    /// Every field that cannot be used.
    pub fn parse(
        pairs: &[(String, String)],
        snapshot: &Snapshot,
        now: Date,
        record: Option<(&str, &Reading)>,
    ) -> Result<Self, FieldErrors> {
        let mut read = Fields::lenient(pairs, &[ON]);
        let day = read.value(ON).and_then(|text| {
            let refused =
                || format!("“{}” is not a day; write month and day, for example 04-20", text.chars().take(40).collect::<String>());
            read.errors.keep(ON, text, month_and_day(text).ok_or_else(refused))
        });
        // The plant of a spring question: whatever it shows, the place and its calendar are the same.
        let asked = pairs.iter().filter(|(name, _)| name != ON && name != "seen").cloned();
        let asked: Vec<_> = asked.chain([("seen".to_owned(), Seen::Nothing.word().to_owned())]).collect();
        let season = FieldErrors::together(read.errors.into_result(), SpringQuestion::parse(&asked, snapshot, now, record))?;
        let on = day.map(|date| days(turn_before(season.hemisphere, date), date));
        Ok(Self { season, on })
    }
}

impl Snapshot {
    /// Dates for everything that waits for one.
    pub fn safe_dates(&self, question: &SafeDatesQuestion) -> SafeDatesAnswer {
        let season = &question.season;
        let year = self.place_year(&season.place, season.record.as_ref());
        // In the open it may be colder by as much as the spot is warmer on a clear still night.
        let spot = TemperatureDelta::literal(self.priors.settings(year.site.setting).clear.mean);
        let today = days(season.turn(), season.today);
        SafeDatesAnswer { rows: acts::rows(&year.nights, today, question.on, spot), spot }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::season::safe::Safe;

    fn ask(query: &str, today: Date) -> Result<SafeDatesQuestion, FieldErrors> {
        let pairs: Vec<(String, String)> =
            query.split('&').filter_map(|p| p.split_once('=')).map(|(k, v)| (k.to_owned(), v.to_owned())).collect();
        SafeDatesQuestion::parse(&pairs, &Snapshot::from_seed().unwrap(), today, None)
    }

    /// Held against the place's own dates of frost: half of years still freeze (0 °C) after the median last frost, so a plant hurt at −1 °C is
    /// safe by the same chance somewhat sooner.
    #[test]
    fn the_even_chance_of_a_plant_in_leaf_lies_just_before_the_usual_last_frost() {
        let snapshot = Snapshot::from_seed().unwrap();
        let question = ask("zone=6b&climate=inland&last_frost=04-20&first_frost=10-20", jiff::civil::date(2027, 1, 10)).unwrap();
        let rows = snapshot.safe_dates(&question).rows;
        let leaf = rows.iter().find(|row| row.act.word == "move_out_in_leaf").unwrap();
        let Safe::From(even) = leaf.dates[0] else { panic!("{leaf:?}") };
        // 20 April is day 109.
        assert!((95.0..=109.0).contains(&even), "{even}");
        let from = leaf.dates.map(|date| date.from(9.0));
        assert!(from.windows(2).all(|w| w[0] < w[1]), "less risk is later: {from:?}");
    }

    #[test]
    fn a_day_in_mind_is_read_as_month_and_day_and_a_wrong_one_named_with_the_place() {
        let today = jiff::civil::date(2026, 11, 28);
        assert_eq!(ask("zone=6b&on=04-11", today).unwrap().on, Some(100.0));
        let errors = ask("zone=99&on=soon", today).unwrap_err();
        assert!(errors.of("on").is_some() && errors.of("zone").is_some(), "{errors}");
    }
}
