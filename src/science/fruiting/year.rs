//! This year's figs: chance and date, given what died and when growth restarted, with the heat already had.
//!
//! A known restart replaces the assumed late start: the crop then needs, from the start of growth of undamaged figs, the heat that passed
//! before the restart plus its own need from leaves to ripe fruit. Heat already had this year moves the sum and shrinks the spread of the rest.

use super::crop::{ByLevel, FruitTraits, View, main_needs, viewed};
use super::curve::DegreeDayCurve;
use super::priors::FruitPriors;
use super::season_degree_days::SeasonDegreeDays;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::{Gaussian, standard_normal_cdf};
use crate::units::Interval;

/// What is known of the year so far. Days from the turn of the year.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct YearSoFar {
    /// Today; `None` asks about a whole year to come.
    pub today: Option<f64>,
    /// Day on which growth was first seen.
    pub restart: Option<f64>,
    /// Whether it grows, though since when is not known.
    pub grows: bool,
    /// Heat since the turn of the year measured by the grower, degree-days base 8 °C.
    pub degree_days: Option<f64>,
    /// Heat gained under a cover before the open air counts ([`super::HeadStart`]), degree-days.
    pub head_start: f64,
}

/// Days on which the first figs ripen in a year in which they do and have not yet; none lies before today.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RipeDays {
    /// One in ten such years has ripe figs by then.
    pub early: f64,
    /// Half of such years.
    pub middle: f64,
    /// Nine in ten.
    pub late: f64,
}

/// One crop of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CropOutlook {
    /// Chance that it ripens.
    pub chance: f64,
    /// When, where it does and the first have not ripened by today; `None` where the chance is below one in a hundred, or hardly any year in
    /// which it ripens has its first figs after today.
    pub days: Option<RipeDays>,
    /// Share of the years in which it ripens that have had its first figs by today.
    pub ripe_by_today: f64,
    /// Heat it needs from the start of growth of undamaged figs, late start included; the spread is doubt.
    pub need: Gaussian,
}

/// The year's figs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearOutlook {
    /// Chance of any ripe figs.
    pub chance: f64,
    /// 90 % range of what is unknown of cultivar and place.
    pub range: Interval<f64>,
    /// The early crop.
    pub breba: CropOutlook,
    /// The main crop.
    pub main: CropOutlook,
    /// Heat of the season from the start of growth to the first night of −1 °C, as far as this year is known.
    pub degree_days: Gaussian,
    /// Day from which the crop is counted: the restart, given or assumed.
    pub restart: f64,
    /// Whether that day was seen.
    pub restart_seen: bool,
}

/// Chances below which no date is given.
const SMALLEST_DATED: f64 = 0.01;

/// The outlook for a plant with damage `level`.
pub fn year_outlook(
    traits: &FruitTraits,
    level: DamageLevel,
    curve: &DegreeDayCurve,
    degree_days: &SeasonDegreeDays,
    so_far: &YearSoFar,
    priors: &FruitPriors,
) -> YearOutlook {
    let degree_days = degree_days_this_year(curve, degree_days, so_far);
    let k = level.index();
    let (start, leafing) = (curve.growth_start(), curve.leafing(priors));
    let mut needs = main_needs(*traits, &degree_days, priors);
    let assumed = leafing + k.checked_sub(1).and_then(|i| priors.delay_days.get(i)).map_or(0.0, |delay| delay.mean);
    // A plant that has not moved yet cannot have started before today, nor one that grows after it.
    let waited =
        so_far.today.filter(|&today| so_far.restart.is_none() && k > 0 && if so_far.grows { today < assumed } else { today > assumed });
    if let Some(day) = so_far.restart.or(waited)
        && let Some(need) = needs.get_mut(k)
    {
        // From leaves to fruit: the need on sound wood less the heat that leads to leaves, longer from the base.
        let from_leaves = traits.main_need(priors).plus(Gaussian::new(-priors.leafing_degree_days.mean, priors.leafing_degree_days.sd));
        let of_shoots = if level == DamageLevel::ToGround { from_leaves.plus(traits.base_need(priors)) } else { from_leaves };
        *need = of_shoots.plus(Gaussian::new(curve.between(start, day), 0.0));
    }
    // What was had under cover is needed no more.
    let gained = Gaussian::new(-so_far.head_start, 0.0);
    if let Some(need) = needs.get_mut(k) {
        *need = need.plus(gained);
    }
    let breba_need = traits.breba_need(priors).plus(gained);
    let at = |view| {
        let by_level: ByLevel = viewed(*traits, &degree_days, &needs, breba_need, priors, view);
        by_level.get(k).copied().unwrap_or_default()
    };
    let [chance, main, breba] = at(View::Expected);
    let range = Interval::between(at(View::Low)[0], at(View::High)[0]).including(chance);
    let main_need = needs.get(k).copied().unwrap_or_default();
    let outlook = |chance: f64, need: Gaussian| {
        let (ripe_by_today, days) = ripe_days(curve, &degree_days, need, so_far.today);
        CropOutlook { chance, days: days.filter(|_| chance >= SMALLEST_DATED), ripe_by_today, need }
    };
    YearOutlook {
        chance,
        range,
        breba: outlook(breba, breba_need),
        main: outlook(main, main_need),
        degree_days: Gaussian::new(degree_days.over_years.mean, degree_days.over_years.sd.hypot(degree_days.doubt)),
        restart: so_far.restart.or(waited).unwrap_or(assumed),
        restart_seen: so_far.restart.is_some(),
    }
}

/// The season's heat once part of the year has been measured: its sum moves by what the year is ahead, its spread shrinks to the rest.
fn degree_days_this_year(curve: &DegreeDayCurve, degree_days: &SeasonDegreeDays, so_far: &YearSoFar) -> SeasonDegreeDays {
    let (Some(today), Some(measured)) = (so_far.today, so_far.degree_days) else { return *degree_days };
    let ahead = measured - curve.until(today);
    let share_left = (curve.between(today.max(curve.growth_start()), curve.hard_frost()) / curve.season().max(1.0)).clamp(0.0, 1.0);
    SeasonDegreeDays {
        over_years: Gaussian::new((degree_days.over_years.mean + ahead).max(0.0), degree_days.over_years.sd * share_left.sqrt()),
        doubt: degree_days.doubt * share_left,
        ..*degree_days
    }
}

/// Days by which the crop is ripe, among years in which it ripens after today and before the first night of −1 °C; before them the share of
/// ripening years that have had it by today.
fn ripe_days(curve: &DegreeDayCurve, degree_days: &SeasonDegreeDays, need: Gaussian, today: Option<f64>) -> (f64, Option<RipeDays>) {
    let (start, end) = (curve.growth_start(), curve.hard_frost());
    let season = curve.season().max(1.0);
    // Warm years run ahead of the curve in proportion.
    let lead = degree_days.over_years.mean / season;
    let reached = |day: f64| {
        let share = curve.between(start, day) / season;
        let spread = need.sd.hypot(degree_days.over_years.sd.hypot(degree_days.doubt) * share);
        standard_normal_cdf((lead * curve.between(start, day) - need.mean) / spread.max(1.0))
    };
    let by_frost = reached(end);
    let today = today.unwrap_or(start);
    if by_frost <= 0.0 || today >= end {
        return (if today >= end { 1.0 } else { 0.0 }, None);
    }
    let first = today.max(start);
    let by_today = if today > start { reached(today) } else { 0.0 };
    let share = (by_today / by_frost).clamp(0.0, 1.0);
    let day_of = |q: f64| {
        let (mut low, mut high) = (first, end);
        for _ in 0..24 {
            let mid = f64::midpoint(low, high);
            if reached(mid) < by_today + q * (by_frost - by_today) {
                low = mid;
            } else {
                high = mid;
            }
        }
        high
    };
    let left = 1.0 - share >= SMALLEST_DATED;
    (share, left.then(|| RipeDays { early: day_of(0.1), middle: day_of(0.5), late: day_of(0.9) }))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::climate::season::{Origin, Season};
    use crate::units::Celsius;

    fn outlook(days: f64, warm: f64, so_far: &YearSoFar) -> YearOutlook {
        let priors = fruit_priors().unwrap();
        let season = Season::new(days, Celsius::literal(warm), Origin::Given, Origin::Given).unwrap();
        let (curve, degree_days) = (DegreeDayCurve::from_season(&season, 0.0, &priors), SeasonDegreeDays::from_season(&season, &priors));
        year_outlook(&FruitTraits::default(), DamageLevel::Unharmed, &curve, &degree_days, so_far, &priors)
    }

    proptest! {
        #[test]
        fn no_first_ripe_date_lies_before_today_nor_out_of_order(days in 100.0..320.0f64, warm in 15.0..32.0f64, today in -160.0..365.0f64) {
            let seen = outlook(days, warm, &YearSoFar { today: Some(today), grows: true, ..YearSoFar::default() });
            for crop in [seen.breba, seen.main] {
                prop_assert!((0.0..=1.0).contains(&crop.ripe_by_today));
                if let Some(d) = crop.days {
                    prop_assert!(d.early >= today && d.early <= d.middle && d.middle <= d.late, "{d:?}");
                }
            }
        }

        /// A law: what is already had is needed no more, so a year ahead of the usual ripens no later and no less surely.
        #[test]
        fn a_year_ahead_of_average_ripens_sooner(days in 140.0..300.0f64, warm in 18.0..30.0f64, today in 120.0..200.0f64, ahead in 20.0..150.0f64) {
            let priors = fruit_priors().unwrap();
            let season = Season::new(days, Celsius::literal(warm), Origin::Given, Origin::Given).unwrap();
            let usual = DegreeDayCurve::from_season(&season, 0.0, &priors).until(today);
            let of = |more: f64| outlook(days, warm, &YearSoFar { today: Some(today), degree_days: Some(usual + more), grows: true, ..YearSoFar::default() });
            let (plain, early) = (of(0.0), of(ahead));
            prop_assert!(early.degree_days.mean > plain.degree_days.mean);
            // The chance itself turns on the spread too where it is small; the heat and the dates do not.
            if let (Some(a), Some(b)) = (early.main.days, plain.main.days) && plain.main.ripe_by_today < 0.01 && early.main.ripe_by_today < 0.01 {
                prop_assert!(a.middle <= b.middle + 0.5, "{} and {}", a.middle, b.middle);
            }
        }
    }

    /// By the definition of the sum: heat had so far plus what an average year still brings; so a year 150 degree-days ahead today ends 150 ahead.
    #[test]
    fn a_year_ahead_of_the_average_ends_as_far_ahead_and_a_year_behind_as_far_behind() {
        let priors = fruit_priors().unwrap();
        let season = Season::new(220.0, Celsius::literal(24.0), Origin::Given, Origin::Given).unwrap();
        let (curve, degree_days) = (DegreeDayCurve::from_season(&season, 0.0, &priors), SeasonDegreeDays::from_season(&season, &priors));
        let today = 180.0;
        for ahead in [150.0, 0.0, -80.0] {
            let so_far = YearSoFar { today: Some(today), degree_days: Some(curve.until(today) + ahead), ..YearSoFar::default() };
            let found = degree_days_this_year(&curve, &degree_days, &so_far);
            assert!((found.over_years.mean - degree_days.over_years.mean - ahead).abs() < 1e-9);
            assert!(found.over_years.sd < degree_days.over_years.sd);
        }
    }
}
