//! This year's figs: chance and date, given what died and when growth restarted, with the heat already had.
//!
//! A known restart replaces the assumed late start: the crop then needs, from the start of growth of undamaged figs, the heat that passed
//! before the restart plus its own need from leaves to ripe fruit. Heat already had this year moves the sum and shrinks the spread of the rest.

use super::crop::{ByLevel, FruitTraits, View, main_needs, viewed};
use super::curve::HeatCurve;
use super::heat::SeasonHeat;
use super::priors::FruitPriors;
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
    pub heat: Option<f64>,
    /// Heat gained under a cover before the open air counts ([`super::HeadStart`]), degree-days.
    pub head_start: f64,
}

/// Days on which the first figs ripen in a year in which they do.
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
    /// When, where it does; `None` where the chance is below one in a hundred.
    pub days: Option<RipeDays>,
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
    pub heat: Gaussian,
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
    curve: &HeatCurve,
    heat: &SeasonHeat,
    so_far: &YearSoFar,
    priors: &FruitPriors,
) -> YearOutlook {
    let heat = heat_this_year(curve, heat, so_far);
    let k = level.index();
    let (start, leafing) = (curve.growth_start(), curve.leafing(priors));
    let mut needs = main_needs(*traits, &heat, priors);
    let assumed = leafing + k.checked_sub(1).and_then(|i| priors.delay_days.get(i)).map_or(0.0, |delay| delay.mean);
    // A plant that has not moved yet cannot have started before today, nor one that grows after it.
    let waited =
        so_far.today.filter(|&today| so_far.restart.is_none() && k > 0 && if so_far.grows { today < assumed } else { today > assumed });
    if let Some(day) = so_far.restart.or(waited)
        && let Some(need) = needs.get_mut(k)
    {
        // From leaves to fruit: the need on sound wood less the heat that leads to leaves, longer from the base.
        let from_leaves = traits.main_need(priors).plus(Gaussian::new(-priors.leafing_heat.mean, priors.leafing_heat.sd));
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
        let by_level: ByLevel = viewed(*traits, &heat, &needs, breba_need, priors, view);
        by_level.get(k).copied().unwrap_or_default()
    };
    let [chance, main, breba] = at(View::Expected);
    let range = Interval::between(at(View::Low)[0], at(View::High)[0]).including(chance);
    let main_need = needs.get(k).copied().unwrap_or_default();
    let outlook = |chance: f64, need: Gaussian| CropOutlook {
        chance,
        days: (chance >= SMALLEST_DATED).then(|| ripe_days(curve, &heat, need)).flatten(),
        need,
    };
    YearOutlook {
        chance,
        range,
        breba: outlook(breba, breba_need),
        main: outlook(main, main_need),
        heat: Gaussian::new(heat.over_years.mean, heat.over_years.sd.hypot(heat.doubt)),
        restart: so_far.restart.or(waited).unwrap_or(assumed),
        restart_seen: so_far.restart.is_some(),
    }
}

/// The season's heat once part of the year has been measured: its sum moves by what the year is ahead, its spread shrinks to the rest.
fn heat_this_year(curve: &HeatCurve, heat: &SeasonHeat, so_far: &YearSoFar) -> SeasonHeat {
    let (Some(today), Some(measured)) = (so_far.today, so_far.heat) else { return *heat };
    let ahead = measured - curve.until(today);
    let share_left = (curve.between(today.max(curve.growth_start()), curve.hard_frost()) / curve.season().max(1.0)).clamp(0.0, 1.0);
    SeasonHeat {
        over_years: Gaussian::new((heat.over_years.mean + ahead).max(0.0), heat.over_years.sd * share_left.sqrt()),
        doubt: heat.doubt * share_left,
        ..*heat
    }
}

/// Days by which the crop is ripe, among years in which it ripens before the first night of −1 °C.
fn ripe_days(curve: &HeatCurve, heat: &SeasonHeat, need: Gaussian) -> Option<RipeDays> {
    let (start, end) = (curve.growth_start(), curve.hard_frost());
    let season = curve.season().max(1.0);
    // Warm years run ahead of the curve in proportion.
    let lead = heat.over_years.mean / season;
    let reached = |day: f64| {
        let share = curve.between(start, day) / season;
        let spread = need.sd.hypot(heat.over_years.sd.hypot(heat.doubt) * share);
        standard_normal_cdf((lead * curve.between(start, day) - need.mean) / spread.max(1.0))
    };
    let by_frost = reached(end);
    let day_of = |q: f64| {
        let (mut low, mut high) = (start, end);
        for _ in 0..24 {
            let mid = f64::midpoint(low, high);
            if reached(mid) < q * by_frost {
                low = mid;
            } else {
                high = mid;
            }
        }
        high
    };
    (by_frost > 0.0).then(|| RipeDays { early: day_of(0.1), middle: day_of(0.5), late: day_of(0.9) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::climate::season::{Origin, Season};
    use crate::units::Celsius;

    /// By the definition of the sum: heat had so far plus what an average year still brings; so a year 150 degree-days ahead today ends 150 ahead.
    #[test]
    fn a_year_ahead_of_the_average_ends_as_far_ahead_and_a_year_behind_as_far_behind() {
        let priors = fruit_priors().unwrap();
        let season = Season::new(220.0, Celsius::literal(24.0), Origin::Given, Origin::Given).unwrap();
        let (curve, heat) = (HeatCurve::from_season(&season, 0.0, &priors), SeasonHeat::from_season(&season, &priors));
        let today = 180.0;
        for ahead in [150.0, 0.0, -80.0] {
            let so_far = YearSoFar { today: Some(today), heat: Some(curve.until(today) + ahead), ..YearSoFar::default() };
            let found = heat_this_year(&curve, &heat, &so_far);
            assert!((found.over_years.mean - heat.over_years.mean - ahead).abs() < 1e-9);
            assert!(found.over_years.sd < heat.over_years.sd);
        }
    }
}
