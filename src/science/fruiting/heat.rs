//! The season's heat as a distribution: from a daily record's yearly sums, or from frost-free days and the warmest month by a sine year.

use super::priors::FruitPriors;
use crate::science::climate::degree_days::fig_degree_days;
use crate::science::climate::season::{Origin, Season, YEAR_DAYS};
use crate::science::numeric::Gaussian;
use crate::units::Celsius;

/// Heat from the start of growth to the first autumn night of −1 °C, degree-days base 8 °C, cap 36 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonHeat {
    /// Over the years: mean and year-to-year spread.
    pub over_years: Gaussian,
    /// Doubt of that mean: what is not known of the place. 0 where a long record says it.
    pub doubt: f64,
    /// Degree-days per day in the four weeks after undamaged figs leaf: what a late start loses.
    pub spring_rate: f64,
}

/// Days over which a late start is priced.
const LATE_START_DAYS: usize = 28;

impl SeasonHeat {
    /// From plain numbers: yearly sums of a daily record (mean, year-to-year spread, doubt of the mean) and the heat per day in the four
    /// weeks after leafing.
    pub fn new(over_years: Gaussian, doubt: f64, spring_rate: f64) -> Self {
        Self { over_years, doubt, spring_rate }
    }

    /// From a season without a daily record. Assumed numbers widen the doubt; given ones leave only the error of the sine year.
    pub fn from_season(season: &Season, priors: &FruitPriors) -> Self {
        let year = sine_year(season, priors);
        let warmth = doubt_of(season.warmth_origin, priors.warmth_assumed_spread);
        let length = doubt_of(season.length_origin, priors.length_assumed_spread);
        let moved = |days: f64, kelvin: f64| {
            let days = (season.frost_free_days() + days).clamp(0.0, YEAR_DAYS);
            let (low, high) = Season::WARMEST_MONTH_C;
            let warmest = Celsius::literal((season.warmest_month().degrees() + kelvin).clamp(low, high));
            Season::new(days, warmest, season.length_origin, season.warmth_origin)
                .map_or(0.0, |other| sine_year(&other, priors).total - year.total)
        };
        let warmth_doubt = if warmth > 0.0 { moved(0.0, -warmth) } else { 0.0 };
        let length_doubt = if length > 0.0 { moved(-length, 0.0) } else { 0.0 };
        Self {
            over_years: Gaussian::new(year.total, priors.heat_year_spread),
            doubt: priors.heat_place_spread.hypot(warmth_doubt).hypot(length_doubt),
            spring_rate: year.spring_rate,
        }
    }
}

fn doubt_of(origin: Origin, spread: f64) -> f64 {
    if origin == Origin::Assumed { spread } else { 0.0 }
}

struct SineYear {
    total: f64,
    spring_rate: f64,
}

/// Adds up the sine year from the first day whose mean reaches the start of growth to the first night of −1 °C.
fn sine_year(season: &Season, priors: &FruitPriors) -> SineYear {
    let half_range = 0.5 * priors.daily_range;
    let half_year = (0.5 * YEAR_DAYS) as i32;
    let end = (0.5 * season.frost_free_days() + priors.hard_frost_after).min(f64::from(half_year));
    let mut sums: Vec<f64> = Vec::with_capacity(366);
    let mut total = 0.0;
    for day in -half_year..=half_year {
        let day = f64::from(day);
        if day >= end {
            break;
        }
        let mean = season.daily_mean_c(day);
        // Warm-winter places never fall below the start of growth; their season begins after midwinter.
        if sums.is_empty() && mean < priors.growth_start_mean_c.mean {
            continue;
        }
        total += fig_degree_days(mean - half_range, mean + half_range);
        sums.push(total);
    }
    let leafing = sums.partition_point(|&sum| sum < priors.leafing_heat.mean);
    let at = |i: usize| sums.get(i.min(sums.len().saturating_sub(1))).copied().unwrap_or(0.0);
    SineYear { total, spring_rate: (at(leafing + LATE_START_DAYS) - at(leafing)) / LATE_START_DAYS as f64 }
}
