//! How long to wait: the date by which nine in ten of the plants that lived had shown growth, and what silence until today means.
//!
//! Nobody is told to dig before that date, nor before midsummer: a plant that has shown nothing by midsummer is what the word "dead" means
//! in the reports. Chance of being alive given nothing yet: p·S/(p·S + 1 − p), p the chance before looking, S the share of living plants that
//! would still be silent.

use super::curve::DegreeDayCurve;
use super::shown::Shown;
use super::year::YearSoFar;
use crate::units::Interval;

/// Midsummer, days from the turn of the year: 30 June, or 30 December. Before it nobody digs: the reports call a plant dead that has shown
/// nothing by then, and the working rule of the evidence on spring dates is the same (DESIGN).
pub const MIDSUMMER: f64 = 180.0;
/// Days between looks, DESIGN: basal buds move about ten warm days after cold passes (GA2022, extension).
pub const LOOK_EVERY: f64 = 14.0;

/// How long to wait, days from the turn of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wait {
    /// Heat since the turn of the year by which nine in ten had shown growth.
    pub degree_days: f64,
    /// 90 % interval of that heat.
    pub degree_days_range: Interval<f64>,
    /// Day on which this place reaches that heat; `None` where its average year does not.
    pub nine_in_ten: Option<f64>,
    /// The day for each end of the heat's interval.
    pub range: Interval<Option<f64>>,
    /// First day on which digging up can be thought of: the late end of the interval, never before midsummer nor before the heat is there.
    pub not_dead_before: f64,
    /// Share of living plants that have shown growth by today.
    pub shown_by_today: Option<f64>,
    /// When to look again.
    pub look_again: Option<f64>,
}

/// The wait for a plant that has shown nothing yet.
pub fn wait_until(shown: &Shown, curve: &DegreeDayCurve, so_far: &YearSoFar) -> Wait {
    let (degree_days, degree_days_range) = shown.degree_days_by_which(0.9);
    // A year ahead of the average reaches every sum earlier.
    let ahead = so_far.degree_days.zip(so_far.today).map_or(0.0, |(measured, today)| measured - curve.until(today));
    let day_of = |sum: f64| curve.day_reaching((sum - ahead).max(0.0)).filter(|&day| day < curve.hard_frost());
    let range = Interval { low: day_of(degree_days_range.low), high: day_of(degree_days_range.high) };
    // Where the year never brings the heat, the whole season has to pass.
    let last = range.high.unwrap_or(curve.hard_frost());
    let not_dead_before = last.max(MIDSUMMER);
    let degree_days_now = so_far.today.map(|today| so_far.degree_days.unwrap_or_else(|| curve.until(today)));
    let look_again = so_far.today.map(|today| if today >= not_dead_before { today } else { (today + LOOK_EVERY).min(not_dead_before) });
    Wait {
        degree_days,
        degree_days_range,
        nine_in_ten: day_of(degree_days),
        range,
        not_dead_before,
        shown_by_today: degree_days_now.map(|h| shown.by(h)),
        look_again,
    }
}

/// Chance that a plant is alive that has shown nothing while `shown` of living plants have.
pub fn alive_though_silent(alive_before: f64, shown: f64) -> f64 {
    if alive_before >= 1.0 {
        return 1.0;
    }
    let (alive, silent) = (alive_before.clamp(0.0, 1.0), 1.0 - shown.clamp(0.0, 1.0));
    let both = alive * silent;
    if both <= 0.0 { 0.0 } else { both / (both + 1.0 - alive) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::climate::season::{Origin, Season};
    use crate::science::hardiness::level::DamageLevel;
    use crate::units::Celsius;

    proptest! {
        #[test]
        fn nobody_is_told_to_dig_before_nine_in_ten_have_shown_nor_before_midsummer(
            days in 80.0..320.0f64, warm in 12.0..34.0f64, today in 60.0..260.0f64, level in 0..4usize
        ) {
            let priors = fruit_priors().unwrap();
            let season = Season::new(days, Celsius::literal(warm), Origin::Given, Origin::Given).unwrap();
            let curve = DegreeDayCurve::from_season(&season, 0.0, &priors);
            let shown = Shown::prior(&priors.shown(DamageLevel::ALL[level]).unwrap());
            let wait = wait_until(&shown, &curve, &YearSoFar { today: Some(today), ..YearSoFar::default() });
            prop_assert!(wait.not_dead_before >= MIDSUMMER);
            prop_assert!(wait.nine_in_ten.unwrap_or(curve.hard_frost()) <= wait.not_dead_before);
            prop_assert!(wait.look_again.unwrap() <= wait.not_dead_before.max(today));
        }

        #[test]
        fn silence_never_makes_life_likelier(alive in 0.01..0.99f64, shown in 0.0..0.9f64) {
            prop_assert!((alive_though_silent(alive, 0.0) - alive).abs() < 1e-12);
            prop_assert!(alive_though_silent(alive, shown + 0.1) < alive_though_silent(alive, shown));
        }
    }

    /// By the definition of the sum: a year 120 degree-days ahead of the average today reaches a sum on the day on which the average year reaches
    /// that sum less 120, which is earlier; a year behind later.
    #[test]
    fn a_year_ahead_of_the_average_is_waited_for_less_long_and_a_year_behind_longer() {
        let priors = fruit_priors().unwrap();
        let season = Season::new(220.0, Celsius::literal(24.0), Origin::Given, Origin::Given).unwrap();
        let curve = DegreeDayCurve::from_season(&season, 0.0, &priors);
        let shown = Shown::prior(&priors.shown(DamageLevel::ALL[2]).unwrap());
        let today = 140.0;
        let wait = |ahead: f64| {
            wait_until(
                &shown,
                &curve,
                &YearSoFar { today: Some(today), degree_days: Some(curve.until(today) + ahead), ..YearSoFar::default() },
            )
        };
        let (behind, usual, ahead) = (wait(-60.0), wait(0.0), wait(120.0));
        let day = |wait: &Wait| wait.nine_in_ten.unwrap();
        assert!(day(&ahead) < day(&usual) && day(&usual) < day(&behind), "{} {} {}", day(&ahead), day(&usual), day(&behind));
        assert_eq!(ahead.nine_in_ten, curve.day_reaching(usual.degree_days - 120.0));
    }

    #[test]
    fn living_wood_is_alive_however_long_it_is_silent() {
        assert_eq!(alive_though_silent(1.0, 1.0), 1.0);
        assert_eq!(alive_though_silent(0.5, 1.0), 0.0);
    }

    #[test]
    fn worse_damage_means_a_longer_wait() {
        let priors = fruit_priors().unwrap();
        let degree_days: Vec<f64> =
            DamageLevel::ALL[..4].iter().map(|&k| Shown::prior(&priors.shown(k).unwrap()).degree_days_by_which(0.9).0).collect();
        assert!(degree_days.windows(2).all(|w| w[0] < w[1]), "{degree_days:?}");
    }

    /// Looks are a fortnight apart, the last on the day from which one may dig, and after it any day will do.
    #[test]
    fn the_next_look_is_in_a_fortnight_or_on_the_day_of_digging_whichever_is_first() {
        let priors = fruit_priors().unwrap();
        let season = Season::new(220.0, Celsius::literal(24.0), Origin::Given, Origin::Given).unwrap();
        let curve = DegreeDayCurve::from_season(&season, 0.0, &priors);
        let shown = Shown::prior(&priors.shown(DamageLevel::ALL[2]).unwrap());
        let on = |today: f64| wait_until(&shown, &curve, &YearSoFar { today: Some(today), ..YearSoFar::default() });
        assert_eq!(on(100.0).look_again, Some(114.0));
        let digging = on(100.0).not_dead_before;
        assert_eq!(on(digging - 5.0).look_again, Some(digging));
        assert_eq!(on(digging + 5.0).look_again, Some(digging + 5.0));
    }
}
