//! Daily minima of a usual year where no daily record is at hand, from the means of a place's coldest and warmest month.
//!
//! A cosine through the year, with the nights about it scattered as nights are; in no order of weather, so that sums over a winter can be taken
//! of it and runs of cold nights cannot.

use crate::units::Celsius;

/// Days of the year.
const DAYS: usize = 365;
/// From the mean of the warmest month to the mean of its minima, K: half of a summer day's range. COMMON_PRACTICE.
pub(super) const HALF_SUMMER_DAY_K: f64 = 5.5;
/// Spread of daily minima about the mean of their month, K. COMPUTED: 3.7 and 6.5 K in December to February at Seattle-Tacoma (1948–2017) and
/// Fort Collins (1900–1999), 3.2 and 5.4 K in March and November; between them.
const SCATTER_K: f64 = 4.7;
/// Standard normal quantiles of 5, 15, … 95 %, in an order in which no two neighbours are alike.
const SCATTER: [f64; 10] = [0.126, -1.645, 0.674, -0.385, 1.645, -1.036, 0.385, -0.126, 1.036, -0.674];

/// Daily minima of a usual year, °C, beginning in its coldest days.
pub fn usual_minima(coldest_month_minimum: Celsius, warmest_month: Celsius) -> Vec<f64> {
    let (low, high) = (coldest_month_minimum.degrees(), warmest_month.degrees() - HALF_SUMMER_DAY_K);
    let (middle, swing) = (f64::midpoint(low, high), (high - low).max(0.0) / 2.0);
    let turn = std::f64::consts::TAU / DAYS as f64;
    (0..DAYS).map(|day| middle - swing * (turn * day as f64).cos() + SCATTER_K * SCATTER[day % SCATTER.len()]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_usual_year_has_the_means_it_was_made_from() {
        let minima = usual_minima(Celsius::literal(-5.0), Celsius::literal(20.0));
        let mean = |days: &[f64]| days.iter().sum::<f64>() / days.len() as f64;
        assert!((mean(&minima) - f64::midpoint(-5.0, 14.5)).abs() < 0.1);
        assert!((mean(&minima[..20]) + 5.0).abs() < 0.5 && (mean(&minima[170..200]) - 14.5).abs() < 0.5);
    }
}
