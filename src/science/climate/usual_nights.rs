//! Nights of a usual year where no daily record is at hand: how many of them have which lowest.
//!
//! The lowest of day d lies about a cosine through the year, μ(d), with one spread s and heavier tails than a normal one, M. The cosine has the mean
//! minimum of the coldest month at its trough and that of the warmest at its crest. Cold nights come in clusters of c; with N nights of a year
//! expected at or below the usual coldest night of a winter C, half of all winters go below it where `1 − exp(−N/c) = ½`, so that s follows from
//! `Σ M((C − μ(d))/s) = c·ln 2`. M is that of the misses of forecasts: with it the nights at or below 0, −5, −10 and −20 °C of four stations come
//! within 27 % of their counts, where a normal one is up to 59 % off (COMPUTED, the test below; 0.9 nights a year at −10 °C in Seattle aside).

use super::season::{CREST_DAY_NORTH, YEAR_DAYS};
use super::spring_nights::NIGHTS_PER_CLUSTER;
use super::usual_winter::HALF_SUMMER_DAY_K;
use crate::science::cold_night::alarms::miss_at_most;
use crate::units::Celsius;

/// Least and most spread of a night about its usual value, K. COMPUTED: 3.2 K in March and November at Seattle-Tacoma, 6.5 K in December to February
/// at Fort Collins are the ends of what daily records have; DESIGN: a K beyond each.
const SPREAD_LIMITS_K: (f64, f64) = (2.2, 8.0);
/// Halvings of the search for the spread: to below 10⁻⁹ K.
const HALVINGS: usize = 40;
/// Coldest and warmest lowest that is counted, °C.
const COUNTED_C: std::ops::RangeInclusive<i32> = -60..=12;
/// Fewer nights than this of a year at one lowest are left out.
const WORTH_COUNTING: f64 = 1e-4;

/// The nights of a usual year.
#[derive(Debug, Clone, PartialEq)]
pub struct UsualNights {
    means_c: Vec<f64>,
    spread_k: f64,
}

impl UsualNights {
    /// From the mean minimum of the coldest month, the mean of the warmest month and the usual coldest night of a winter.
    pub fn new(coldest_month_minimum: Celsius, warmest_month: Celsius, usual_coldest: Celsius) -> Self {
        let (low, high) = (coldest_month_minimum.degrees(), warmest_month.degrees() - HALF_SUMMER_DAY_K);
        let (middle, swing) = (f64::midpoint(low, high), (high - low).max(0.0) / 2.0);
        let angle = |day: f64| std::f64::consts::TAU * (day - CREST_DAY_NORTH) / YEAR_DAYS;
        let means_c: Vec<f64> = (0..YEAR_DAYS as usize).map(|day| middle + swing * angle(day as f64).cos()).collect();
        let below = |spread: f64| means_c.iter().map(|mean| miss_at_most(usual_coldest.degrees() - mean, spread)).sum::<f64>();
        let wanted = NIGHTS_PER_CLUSTER * std::f64::consts::LN_2;
        let (mut least, mut most) = SPREAD_LIMITS_K;
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(least, most);
            if below(middle) < wanted { least = middle } else { most = middle }
        }
        Self { means_c, spread_k: f64::midpoint(least, most) }
    }

    /// Spread of a night about its usual value, K.
    pub fn spread_k(&self) -> f64 {
        self.spread_k
    }

    /// The usual lowest on a day, counted from the turn of the year, °C.
    pub fn usual_c(&self, day: f64) -> f64 {
        let day = day.rem_euclid(YEAR_DAYS) as usize;
        self.means_c.get(day).copied().unwrap_or_default()
    }

    /// How many nights have which lowest, to a whole °C, on those days of the year (0: its turn, as in [`CREST_DAY_NORTH`]) that are asked for.
    pub fn on(&self, days: impl Fn(usize) -> bool) -> Vec<(f64, f64)> {
        let means: Vec<f64> = self.means_c.iter().enumerate().filter(|(day, _)| days(*day)).map(|(_, mean)| *mean).collect();
        let up_to = |c: f64| means.iter().map(|mean| miss_at_most(c - mean, self.spread_k)).sum::<f64>();
        let nights = COUNTED_C.map(|c| (f64::from(c), up_to(f64::from(c) + 0.5) - up_to(f64::from(c) - 0.5)));
        nights.filter(|(_, nights)| *nights >= WORTH_COUNTING).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Daily records of `cases/climate`, counted with the csv module of Python 3.11: mean minimum of the coldest month, mean of the warmest, mean
    // coldest night of a winter, °C; nights a year at or below some temperatures.
    #[test]
    fn a_usual_year_has_about_as_many_cold_nights_as_four_records() {
        for (name, [coldest_month, warmest, coldest], counts) in [
            ("Champion 1982–2018", [-10.8, 23.6, -27.3], [(0.0, 175.3), (-10.0, 51.6), (-20.0, 8.1)]),
            ("Seattle-Tacoma 1948–2017", [1.8, 18.5, -7.6], [(0.0, 32.6), (-5.0, 4.3), (-10.0, 0.9)]),
            ("Klein-Altendorf 1998–2010", [-0.5, 18.7, -12.9], [(0.0, 67.4), (-5.0, 17.0), (-10.0, 3.0)]),
            ("Fort Collins 1900–1999", [-10.4, 21.3, -27.5], [(0.0, 170.1), (-10.0, 46.6), (-20.0, 7.9)]),
        ] {
            let [coldest_month, warmest, coldest] = [coldest_month, warmest, coldest].map(Celsius::literal);
            let nights = UsualNights::new(coldest_month, warmest, coldest).on(|_| true);
            for (c, counted) in counts {
                let up_to: f64 = nights.iter().filter(|(lowest, _)| *lowest <= c).map(|(_, n)| n).sum();
                assert!((up_to - counted).abs() < (0.28 * counted).max(0.6), "{name} {c}: {up_to} against {counted}");
            }
        }
    }

    #[test]
    fn half_of_all_winters_go_below_the_usual_coldest_night_and_days_add_up() {
        let year = UsualNights::new(Celsius::literal(-4.0), Celsius::literal(20.0), Celsius::literal(-13.0));
        let below: f64 = year.means_c.iter().map(|mean| miss_at_most(-13.0 - mean, year.spread_k())).sum();
        assert!((below - 1.5 * 2.0_f64.ln()).abs() < 1e-6, "{below}");
        let count = |days: &dyn Fn(usize) -> bool| year.on(days).iter().map(|(_, n)| n).sum::<f64>();
        assert!((count(&|day| day < 100) + count(&|day| day >= 100) - count(&|_| true)).abs() < 0.01);
        assert!(count(&|day| (150..240).contains(&day)) < count(&|day| !(60..330).contains(&day)), "warmer in summer than counted");
    }
}
