//! What a member's daily record says to the spring question: its seasons, this year's heat so far, the winter's lowest.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::jobs::spring::dates::days;
use crate::jobs::station_record::read::Reading;
use crate::science::climate::season::Season;
use crate::science::fruiting::FruitPriors;
use crate::science::fruiting::recorded::{RecordedSeasons, degree_days_between};
use crate::units::Celsius;

/// What a daily record says of this place and this year.
#[derive(Debug, Clone, PartialEq)]
pub struct SpringRecord {
    /// What its member calls it.
    pub name: String,
    /// Length and warmth of its season.
    pub season: Option<Season>,
    /// Its seasons; `None` with fewer years than that takes.
    pub seasons: Option<RecordedSeasons>,
    /// Heat of this year as far as the record reaches: degree-days from the turn of the year, to the start of a day.
    pub heat: Option<(f64, Date)>,
    /// Lowest temperature of the winter before this season, and its day, where the record holds the cold months.
    pub lowest: Option<(Celsius, Date)>,
}

/// Fewest days of this year from which a record's heat is taken.
const FEWEST_DAYS: f64 = 14.0;
/// Days from the turn of the year between which a winter's lowest temperature falls: November to March.
const COLD_DAYS: (i32, i32) = (-61, 89);

impl SpringRecord {
    /// Asked on `today` about the season that turns on `turn`, before or after it.
    pub(crate) fn of(name: &str, reading: &Reading, turn: Date, today: Date, priors: &FruitPriors) -> Self {
        let (record, half) = (&reading.record, reading.climate.hemisphere);
        let end = record.file.last.tomorrow().map_or(today, |after| after.min(today));
        let heat = (days(turn, end) >= FEWEST_DAYS).then(|| degree_days_between(record, turn, end)).flatten().map(|sum| (sum, end));
        let cold = |day: i32| turn.checked_add(day.days()).ok();
        let lowest = cold(COLD_DAYS.0).zip(cold(COLD_DAYS.1.min(days(turn, today) as i32))).and_then(|(from, to)| {
            let all = to > from && record.covers(from, to);
            let minima = record.span(from, to).iter().enumerate().filter_map(|(i, day)| Some((day.minimum?, i)));
            let (lowest, at) = minima.min_by(|a, b| a.0.degrees().total_cmp(&b.0.degrees())).filter(|_| all)?;
            Some((lowest, from.checked_add(i32::try_from(at).ok()?.days()).ok()?))
        });
        Self { name: name.to_owned(), season: reading.climate.season(), seasons: RecordedSeasons::of(record, half, priors), heat, lowest }
    }
}
