//! The course of a radiation night, and its minimum from temperature and dew point after sunset.
//!
//! Curve: T(h) = T₂ + (T_min − T₂) √((h − 2)/(n − 2)), h hours after sunset, n hours from sunset to sunrise, T₂ the temperature two hours after
//! sunset. Minimum: T_min = a T₂ + b T_d + c, fitted in two steps, first on T₂, then the rest on the dew point. Both for clear, calm nights
//! only (wind below 2 m/s, no cloud, fog or rain). Source: Snyder & de Melo-Abreu (2005), Frost protection, FAO Environment and Natural
//! Resources Series 10, chapter 5.

use crate::units::{Celsius, OutOfRange, within};

/// Hours after sunset at which the square-root fall begins.
pub const START_HOUR: f64 = 2.0;

/// Air temperature `hour` hours after sunset of a clear, still night of `night_hours` hours.
///
/// Hours before [`START_HOUR`] give the evening value and hours after sunrise the minimum. A night no longer than [`START_HOUR`] has no curve
/// and gives the minimum.
pub fn night_curve(sunset_plus_2h: Celsius, minimum: Celsius, night_hours: f64, hour: f64) -> Celsius {
    sunset_plus_2h + (minimum - sunset_plus_2h) * share_gone(night_hours, hour).sqrt()
}

/// The same for a windy or clouded night, which cools by advection: a straight line (common practice, no published form).
pub fn straight_night(sunset_plus_2h: Celsius, minimum: Celsius, night_hours: f64, hour: f64) -> Celsius {
    sunset_plus_2h + (minimum - sunset_plus_2h) * share_gone(night_hours, hour)
}

/// Share of the curve's time gone, 0..=1.
fn share_gone(night_hours: f64, hour: f64) -> f64 {
    let span = night_hours - START_HOUR;
    if span > 0.0 { ((hour - START_HOUR) / span).clamp(0.0, 1.0) } else { 1.0 }
}

/// Temperature through one clear, still night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightCurve {
    start: Celsius,
    minimum: Celsius,
    night_h: f64,
}

impl NightCurve {
    /// From the temperature two hours after sunset, the minimum at sunrise, and the hours from sunset to sunrise (3..=24).
    pub fn new(two_hours_after_sunset: Celsius, minimum: Celsius, night_h: f64) -> Result<Self, OutOfRange> {
        within("hours from sunset to sunrise", "h", night_h, START_HOUR + 1.0, 24.0)?;
        Ok(Self { start: two_hours_after_sunset, minimum, night_h })
    }

    /// Hours from sunset to sunrise.
    pub fn night_h(&self) -> f64 {
        self.night_h
    }

    /// Temperature `hour` hours after sunset; before two hours as at two, after sunrise as at sunrise.
    pub fn at(&self, hour: f64) -> Celsius {
        night_curve(self.start, self.minimum, self.night_h, hour)
    }

    /// Hours of the night at or below a temperature, counted from two hours after sunset to sunrise.
    pub fn hours_below(&self, limit: Celsius) -> f64 {
        let (fall, to_limit) = ((self.start - self.minimum).kelvin(), (self.start - limit).kelvin());
        let whole = self.night_h - START_HOUR;
        if to_limit <= 0.0 && self.start <= limit && fall >= 0.0 {
            return whole;
        }
        if fall <= 0.0 || to_limit > fall {
            return 0.0;
        }
        whole * (1.0 - (to_limit / fall).powi(2))
    }
}

/// One clear, calm night of the past.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClearNight {
    /// Two hours after sunset.
    pub temperature: Celsius,
    /// Dew point at the same time.
    pub dew_point: Celsius,
    /// What the minimum came to.
    pub minimum: Celsius,
}

/// T_min = a T₂ + b T_d + c, T in °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinimumForecast {
    /// Weight of the temperature.
    pub a: f64,
    /// Weight of the dew point.
    pub b: f64,
    /// Constant, °C.
    pub c: f64,
    /// Root mean square of what remained, K (n − 3 degrees of freedom).
    pub residual_k: f64,
    /// Nights it rests on.
    pub nights: usize,
}

/// Too little to fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NightFitError {
    /// Fewer nights than numbers to find.
    #[error("{0} nights are too few for a forecast of the minimum; at least 5 are needed")]
    TooFew(usize),
    /// All nights alike.
    #[error("the nights do not differ in temperature or in dew point")]
    NoSpread,
}

impl MinimumForecast {
    /// Fewest nights.
    pub const FEWEST: usize = 5;

    /// Two-step least squares, not one joint regression, as published.
    pub fn fit(nights: &[ClearNight]) -> Result<Self, NightFitError> {
        let n = nights.len();
        if n < Self::FEWEST {
            return Err(NightFitError::TooFew(n));
        }
        let (a, first) = line(nights.iter().map(|x| (x.temperature.degrees(), x.minimum.degrees())))?;
        let rest = |x: &ClearNight| x.minimum.degrees() - a * x.temperature.degrees() - first;
        let (b, second) = line(nights.iter().map(|x| (x.dew_point.degrees(), rest(x))))?;
        let squares: f64 = nights.iter().map(|x| (rest(x) - b * x.dew_point.degrees() - second).powi(2)).sum();
        Ok(Self { a, b, c: first + second, residual_k: (squares / (n as f64 - 3.0)).sqrt(), nights: n })
    }

    /// The minimum to expect.
    pub fn predict(&self, temperature: Celsius, dew_point: Celsius) -> Celsius {
        Celsius::literal((self.a * temperature.degrees() + self.b * dew_point.degrees() + self.c).clamp(Celsius::MIN, Celsius::MAX))
    }
}

/// Slope and intercept by least squares.
fn line(points: impl Iterator<Item = (f64, f64)> + Clone) -> Result<(f64, f64), NightFitError> {
    let n = points.clone().count() as f64;
    let (sx, sy) = points.clone().fold((0.0, 0.0), |(sx, sy), (x, y)| (sx + x, sy + y));
    let (mx, my) = (sx / n, sy / n);
    let (sxx, sxy) = points.fold((0.0, 0.0), |(sxx, sxy), (x, y)| (sxx + (x - mx).powi(2), sxy + (x - mx) * (y - my)));
    if sxx < 1e-9 {
        return Err(NightFitError::NoSpread);
    }
    Ok((sxy / sxx, my - sxy / sxx * mx))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_night_only_cools_and_the_hours_below_agree_with_the_curve(start in -5.0..15.0f64, fall in 0.5..15.0f64, night in 8.0..16.0f64, share in 0.05..0.95f64) {
            let curve = NightCurve::new(Celsius::literal(start), Celsius::literal(start - fall), night).unwrap();
            let limit = Celsius::literal(start - share * fall);
            let below = curve.hours_below(limit);
            prop_assert!((curve.at(night - below) - limit).abs().kelvin() < 1e-9);
            prop_assert!(curve.at(night - 1.0) >= curve.at(night));
            prop_assert_eq!(curve.hours_below(Celsius::literal(start + 1.0)), night - START_HOUR);
        }
    }

    #[test]
    fn nights_all_alike_and_too_few_nights_are_refused() {
        let night = ClearNight { temperature: Celsius::literal(3.0), dew_point: Celsius::literal(-2.0), minimum: Celsius::literal(-3.0) };
        assert_eq!(MinimumForecast::fit(&[night; 3]), Err(NightFitError::TooFew(3)));
        assert_eq!(MinimumForecast::fit(&[night; 8]), Err(NightFitError::NoSpread));
    }
}
