//! The coming nights of a member's place as forecast, where a forecast is kept: nobody is asked for this page.

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};

use crate::input::errors::FieldErrors;
use crate::jobs::cold_night::forecast::{ComingNight, PlaceForecast};
use crate::jobs::warnings::form;
use crate::jobs::warnings::tonight::{AtRisk, Garden, SAFE_C, at_risk, evening_of, near_the_sea};
use crate::model::snapshot::Snapshot;
use crate::records::{ForecastSource, HeldPoint, WarningChoice};
use crate::science::cold_night::alarms::miss_at_most;
use crate::science::cold_night::forecast::{COAST, sd_by_lead_k};

/// Nights of a week.
const WEEK: usize = 7;

/// A night as forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightAhead {
    /// Evening on which it begins.
    pub evening: Date,
    /// Lowest, °C.
    pub minimum_c: f64,
    /// Spread of that, K.
    pub sd_k: f64,
}

impl NightAhead {
    /// Chance that its lowest is at or below this.
    pub fn chance_of(&self, c: f64) -> f64 {
        miss_at_most(c - self.minimum_c, self.sd_k)
    }
}

/// The coming nights of a place, at least one.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekAhead {
    /// Whose forecast.
    pub source: ForecastSource,
    /// When it came.
    pub fetched: Timestamp,
    /// Its nights.
    pub nights: Vec<NightAhead>,
    whole: Vec<ComingNight>,
}

impl WeekAhead {
    /// Of a forecast that came at a moment; `None` where it holds no night.
    pub fn of(forecast: PlaceForecast, fetched: Timestamp, at: HeldPoint) -> Option<Self> {
        let factor = if near_the_sea(at) { COAST } else { 1.0 };
        let night = |night: &ComingNight| NightAhead {
            evening: evening_of(night),
            minimum_c: night.minimum.degrees(),
            sd_k: sd_by_lead_k(night.lead_h, false) * factor,
        };
        let whole: Vec<ComingNight> = forecast.nights.into_iter().take(WEEK).collect();
        let nights: Vec<NightAhead> = whole.iter().map(night).collect();
        (!nights.is_empty()).then_some(Self { source: forecast.source, fetched, nights, whole })
    }

    /// The night most likely to come at or below a temperature, and how likely.
    pub fn likeliest(&self, c: f64) -> Option<(NightAhead, f64)> {
        self.nights.iter().map(|night| (*night, night.chance_of(c))).max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The coldest of the nights.
    pub fn coldest(&self) -> Option<NightAhead> {
        self.nights.iter().copied().min_by(|a, b| a.minimum_c.total_cmp(&b.minimum_c))
    }

    /// What the coldest night does to a garden, and the plan; `None` where none comes near frost.
    ///
    /// # Errors
    /// Where the plants cannot be planned for as they are kept, by field of the plan's form.
    pub fn at_risk(
        &self,
        garden: &Garden,
        choice: Option<&WarningChoice>,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<Option<AtRisk>, FieldErrors> {
        let coldest = self.coldest().and_then(|coldest| self.nights.iter().position(|night| *night == coldest));
        let Some(nights) = coldest.and_then(|at| self.whole.get(at..)) else { return Ok(None) };
        if nights.first().is_none_or(|night| night.minimum.degrees() > SAFE_C) {
            return Ok(None);
        }
        let usual = form::usual();
        at_risk(garden, nights, choice.unwrap_or(&usual), snapshot, now)
    }

    /// How old it is, in words.
    pub fn age(&self, now: Timestamp) -> String {
        match now.duration_since(self.fetched) {
            age if age < SignedDuration::from_hours(1) => "less than an hour old".to_owned(),
            age if age < SignedDuration::from_hours(2) => "an hour old".to_owned(),
            age => format!("{} hours old", age.as_hours()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::warnings::first_freeze::tests::nights;

    #[test]
    fn the_coldest_night_is_the_likeliest_one_but_where_a_later_one_is_less_sure() {
        let nights = nights("2026-12-02T06:00", &[4.0, -5.0, 2.0, 2.0, -4.8, 3.0]);
        let forecast = PlaceForecast { source: ForecastSource::MetNorway, nights, stale: None };
        let fetched: Timestamp = "2026-12-01T14:00:00Z".parse().unwrap();
        let week = WeekAhead::of(forecast, fetched, HeldPoint::new(47.07, 15.44).unwrap()).unwrap();
        assert_eq!(week.coldest().unwrap().evening.to_string(), "2026-12-02");
        let (night, chance) = week.likeliest(-4.0).unwrap();
        assert!(night.evening.to_string() == "2026-12-02" && chance > 0.6);
        let (night, chance) = week.likeliest(-8.0).unwrap();
        assert!(night.evening.to_string() == "2026-12-05" && chance < 0.3, "a forecast of five days ahead may miss by more");
        assert_eq!(week.age("2026-12-01T17:10:00Z".parse().unwrap()), "3 hours old");
    }
}
