//! The season's heat as a distribution: from a daily record's yearly sums, or from frost-free days and the warmest month by a sine year.

use super::curve::DegreeDayCurve;
use super::priors::FruitPriors;
use crate::science::climate::season::{Origin, Season, YEAR_DAYS};
use crate::science::climate::site_estimate::{FROST_ERROR_DAYS, WARMEST_MONTH_ERROR_K};
use crate::science::numeric::Gaussian;
use crate::science::site::{Setting, Settings};
use crate::units::Celsius;

/// Heat from the start of growth to the first autumn night of −1 °C, degree-days base 8 °C, cap 36 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonDegreeDays {
    /// Over the years: mean and year-to-year spread.
    pub over_years: Gaussian,
    /// Doubt of that mean: what is not known of the place. 0 where a long record says it.
    pub doubt: f64,
    /// Degree-days per day in the four weeks after undamaged figs leaf: what a late start loses.
    pub spring_rate: f64,
}

/// Days over which a late start is priced.
const LATE_START_DAYS: f64 = 28.0;

impl SeasonDegreeDays {
    /// From plain numbers: yearly sums of a daily record (mean, year-to-year spread, doubt of the mean) and the heat per day in the four
    /// weeks after leafing.
    pub fn new(over_years: Gaussian, doubt: f64, spring_rate: f64) -> Self {
        Self { over_years, doubt, spring_rate }
    }

    /// From the curve of an average year, with year-to-year spread and doubt of its sum.
    pub fn from_curve(curve: &DegreeDayCurve, year_spread: f64, doubt: f64, priors: &FruitPriors) -> Self {
        let leafing = curve.leafing(priors);
        Self {
            over_years: Gaussian::new(curve.season(), year_spread),
            doubt,
            spring_rate: curve.between(leafing, leafing + LATE_START_DAYS) / LATE_START_DAYS,
        }
    }

    /// Under shade that takes a share (0..1, with its spread) of the season's heat: the mean, its year-to-year spread and the spring rate shrink, and
    /// the doubt about the share joins that about the place.
    #[must_use]
    pub fn shaded(self, share: Gaussian) -> Self {
        let left = (1.0 - share.mean).clamp(0.0, 1.0);
        Self {
            over_years: Gaussian::new(left * self.over_years.mean, left * self.over_years.sd),
            doubt: (left * self.doubt).hypot(share.sd * self.over_years.mean),
            spring_rate: left * self.spring_rate,
        }
    }

    /// Where a plant stands in these settings: under evergreen trees their shade takes its share.
    #[must_use]
    pub fn in_settings(self, settings: Settings, evergreen_shade: Gaussian) -> Self {
        if settings.has(Setting::Trees) { self.shaded(evergreen_shade) } else { self }
    }

    /// From a season without a daily record. Assumed and estimated numbers widen the doubt; given ones leave only the error of the sine year.
    pub fn from_season(season: &Season, priors: &FruitPriors) -> Self {
        let curve = DegreeDayCurve::from_season(season, 0.0, priors);
        let warmth = doubt_of(season.warmth_origin, priors.warmth_assumed_spread, WARMEST_MONTH_ERROR_K);
        // Two dates, each with its own error.
        let length = doubt_of(season.length_origin, priors.length_assumed_spread, FROST_ERROR_DAYS * std::f64::consts::SQRT_2);
        let moved = |days: f64, kelvin: f64| {
            let days = (season.frost_free_days() + days).clamp(0.0, YEAR_DAYS);
            let (low, high) = Season::WARMEST_MONTH_C;
            let warmest = Celsius::literal((season.warmest_month().degrees() + kelvin).clamp(low, high));
            Season::new(days, warmest, season.length_origin, season.warmth_origin)
                .map_or(0.0, |other| DegreeDayCurve::from_season(&other, 0.0, priors).season() - curve.season())
        };
        let warmth_doubt = if warmth > 0.0 { moved(0.0, -warmth) } else { 0.0 };
        let length_doubt = if length > 0.0 { moved(-length, 0.0) } else { 0.0 };
        let doubt = priors.degree_days_place_spread.hypot(warmth_doubt).hypot(length_doubt);
        Self::from_curve(&curve, priors.degree_days_year_spread, doubt, priors)
    }
}

fn doubt_of(origin: Origin, assumed: f64, estimated: f64) -> f64 {
    match origin {
        Origin::Assumed => assumed,
        Origin::Estimated => estimated,
        Origin::Given | Origin::Recorded => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn shade_takes_its_share_of_heat_and_adds_its_doubt(mean in 200.0..4_000.0f64, sd in 0.0..400.0f64, doubt in 0.0..400.0f64, share in 0.0..0.6f64, by in 0.0..0.2f64) {
            let open = SeasonDegreeDays::new(Gaussian::new(mean, sd), doubt, 4.0);
            let under = open.shaded(Gaussian::new(share, by));
            prop_assert!((under.over_years.mean - (1.0 - share) * mean).abs() < 1e-9 && under.spring_rate <= 4.0);
            prop_assert!(under.doubt + 1e-9 >= by * mean && under.doubt + 1e-9 >= (1.0 - share) * doubt);
            prop_assert_eq!(open.shaded(Gaussian::default()), open);
        }
    }
}
