//! When is it safe: cold nights still to come after a date, from a daily record or from a season's two numbers.
//!
//! With a record the years are counted. Without one, the minimum of day d is normal about the sine year's mean less half a daily range, and
//! cold nights come in clusters: with N nights expected below a threshold, the chance of at least one is 1 − exp(−N/c). Half the daily range
//! is set so that the chance of 0 °C after the median date of last frost is one half; threshold and date then give everything else.
//! Days are counted from the turn of the year (1 January, or 1 July on the southern half) and spring ends at the crest of summer.

use super::season::{CREST_DAY_NORTH, Season, YEAR_DAYS};
use crate::science::numeric::standard_normal_cdf;

/// Nights per cluster, c. COMPUTED: N / −ln(1 − P) within 15 days of the median last frost is 2.0 at Seattle-Tacoma (69 years), 1.4 at
/// Klein-Altendorf (12), 1.1 to 1.7 at Champion (37).
pub(super) const NIGHTS_PER_CLUSTER: f64 = 1.5;
/// Spread of one spring night's minimum about its usual value where the warmest month has 20 °C, K, and its rise per K of that month, with
/// its limits. COMPUTED, standard deviations in April: Seattle-Tacoma 2.4 (warmest month 19.0 °C), Klein-Altendorf 3.2 (19.2 °C), Champion 3.9
/// (23.8 °C).
const NIGHT_SPREAD_AT_20: f64 = 3.1;
const NIGHT_SPREAD_RISE: f64 = 0.22;
const NIGHT_SPREAD_LIMITS: (f64, f64) = (2.6, 4.2);

/// What is still to come after a date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StillToCome {
    /// Chance of at least one night at or below the threshold.
    pub chance: f64,
    /// Expected number of such nights.
    pub nights: f64,
}

/// A place's spring nights.
#[derive(Debug, Clone, PartialEq)]
pub enum SpringNights {
    /// From frost-free days and the warmest month.
    Assumed {
        /// The season.
        season: Season,
        /// Daily mean less usual minimum, K.
        below_mean: f64,
        /// Spread of one night, K.
        spread: f64,
    },
    /// From a daily record: minima of each year, by day from the turn of the year, °C; NaN where missing.
    Recorded(Vec<Vec<f64>>),
}

impl SpringNights {
    /// From a season without a daily record.
    pub fn from_season(season: &Season) -> Self {
        let (least, most) = NIGHT_SPREAD_LIMITS;
        let spread = (NIGHT_SPREAD_AT_20 + NIGHT_SPREAD_RISE * (season.warmest_month().degrees() - 20.0)).clamp(least, most);
        let median = CREST_DAY_NORTH - 0.5 * season.frost_free_days();
        let after_median = |below_mean: f64| Self::Assumed { season: *season, below_mean, spread }.after(median, 0.0).chance;
        // Bisection: the chance rises with the distance of night from mean.
        let (mut low, mut high) = (-20.0, 30.0);
        for _ in 0..40 {
            let mid = f64::midpoint(low, high);
            if after_median(mid) < 0.5 {
                low = mid;
            } else {
                high = mid;
            }
        }
        Self::Assumed { season: *season, below_mean: high, spread }
    }

    /// Nights at or below `threshold_c` after `day`, up to the crest of summer.
    pub fn after(&self, day: f64, threshold_c: f64) -> StillToCome {
        self.between(day, CREST_DAY_NORTH, threshold_c)
    }

    /// Nights at or below `threshold_c` after `from`, up to and with `to`; `from` before the turn of the year is the winter before, `to` after
    /// its end the spring after. A record's nights of those days are its own of the same year.
    pub fn between(&self, from: f64, to: f64, threshold_c: f64) -> StillToCome {
        let mut tally = Tally::new(self, threshold_c);
        for day in (from.floor() as i64 + 1)..=(to.floor() as i64) {
            tally.add(day);
        }
        tally.so_far()
    }

    /// First day from `from` after which the chance of a night at or below `threshold_c` is at most `accepted`.
    pub fn safe_from(&self, from: f64, threshold_c: f64, accepted: f64) -> f64 {
        let mut tally = Tally::new(self, threshold_c);
        let (first, mut day) = (from.floor() as i64, CREST_DAY_NORTH as i64);
        while day > first {
            tally.add(day);
            if tally.so_far().chance > accepted {
                return day as f64;
            }
            day -= 1;
        }
        first as f64
    }

    /// Last day up to which the chance of a night at or below `threshold_c` since `from` stays below `share`; `None` where it does up to the
    /// crest of the next summer.
    pub fn until(&self, from: f64, threshold_c: f64, share: f64) -> Option<f64> {
        let mut tally = Tally::new(self, threshold_c);
        let mut days = (from.floor() as i64)..((CREST_DAY_NORTH + YEAR_DAYS) as i64);
        days.find(|&day| {
            tally.add(day + 1);
            tally.so_far().chance >= share
        })
        .map(|day| day as f64)
    }
}

/// Cold nights of some days, added up day by day.
struct Tally<'a> {
    nights: &'a SpringNights,
    threshold_c: f64,
    expected: f64,
    /// For each year of a record, whether it had such a night.
    years: Vec<bool>,
}

impl<'a> Tally<'a> {
    fn new(nights: &'a SpringNights, threshold_c: f64) -> Self {
        let years = match nights {
            SpringNights::Assumed { .. } => Vec::new(),
            SpringNights::Recorded(years) => vec![false; years.len()],
        };
        Self { nights, threshold_c, expected: 0.0, years }
    }

    fn add(&mut self, day: i64) {
        match self.nights {
            SpringNights::Assumed { season, below_mean, spread } => {
                let usual = season.daily_mean_c(day as f64 - CREST_DAY_NORTH) - below_mean;
                self.expected += standard_normal_cdf((self.threshold_c - usual) / spread);
            }
            SpringNights::Recorded(years) => {
                let day = usize::try_from(day.rem_euclid(YEAR_DAYS as i64)).unwrap_or_default();
                for (had, year) in self.years.iter_mut().zip(years) {
                    if year.get(day).is_some_and(|&t| t <= self.threshold_c) {
                        *had = true;
                        self.expected += 1.0 / years.len() as f64;
                    }
                }
            }
        }
    }

    fn so_far(&self) -> StillToCome {
        let chance = match self.nights {
            SpringNights::Assumed { .. } => -(-self.expected / NIGHTS_PER_CLUSTER).exp_m1(),
            SpringNights::Recorded(_) => self.years.iter().filter(|&&had| had).count() as f64 / (self.years.len() as f64).max(1.0),
        };
        StillToCome { chance, nights: self.expected }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::science::climate::season::Origin;
    use crate::units::Celsius;

    fn nights(days: f64, warm: f64) -> SpringNights {
        SpringNights::from_season(&Season::new(days, Celsius::literal(warm), Origin::Given, Origin::Given).unwrap())
    }

    proptest! {
        #[test]
        fn later_dates_and_lower_thresholds_leave_less_to_come(days in 100.0..280.0f64, warm in 16.0..30.0f64, day in 20.0..180.0f64) {
            let n = nights(days, warm);
            let now = n.after(day, 0.0);
            prop_assert!((0.0..=1.0).contains(&now.chance));
            prop_assert!(n.after(day + 5.0, 0.0).nights <= now.nights + 1e-12);
            prop_assert!(n.after(day, -2.0).chance <= now.chance + 1e-12);
            prop_assert!(n.after(n.safe_from(day, -1.0, 0.1), -1.0).chance <= 0.1);
        }

        #[test]
        fn a_safe_day_is_the_first_whose_rest_is_safe_and_autumn_mirrors_spring(days in 120.0..260.0f64, warm in 17.0..29.0f64, from in -60.0..60.0f64) {
            let n = nights(days, warm);
            let safe = n.safe_from(from, -1.0, 0.1);
            prop_assert!(n.after(safe, -1.0).chance <= 0.1);
            prop_assert!(safe <= from.floor() || n.after(safe - 1.0, -1.0).chance > 0.1);
            let until = n.until(CREST_DAY_NORTH, -1.0, 0.1).unwrap();
            prop_assert!(n.between(CREST_DAY_NORTH, until, -1.0).chance < 0.1);
            prop_assert!(n.between(CREST_DAY_NORTH, until + 1.0, -1.0).chance >= 0.1);
            // The sine year is the same on both sides of its crest.
            let mirrored = 2.0 * CREST_DAY_NORTH - n.safe_from(-163.0, -1.0, 0.1);
            prop_assert!((until - mirrored).abs() <= 2.0, "{until} and {mirrored}");
        }

        #[test]
        fn half_of_years_freeze_after_the_median_date_of_last_frost(days in 120.0..260.0f64, warm in 17.0..29.0f64) {
            let after = nights(days, warm).after(CREST_DAY_NORTH - 0.5 * days, 0.0);
            prop_assert!((after.chance - 0.5).abs() < 1e-6);
        }
    }
}
