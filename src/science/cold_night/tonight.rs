//! The night's air: its lowest temperature with a spread, its course, and the hours below a threshold.

use super::stage::NightKind;
use crate::science::climate::night_curve::{START_HOUR, night_curve, straight_night};
use crate::science::numeric::Gaussian;
use crate::science::priors::UsualNight;
use crate::units::{Celsius, OutOfRange, within};

/// Hours of frost given beside an evening temperature may differ from those that follow from it by so much, h. DESIGN: hourly forecasts count whole hours.
const FROST_AGREES_H: f64 = 1.0;

/// What is known of a night before its course is filled in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Lowest, °C, with its spread, K.
    pub minimum_c: Gaussian,
    /// Two hours after sunset, °C.
    pub evening_c: Option<f64>,
    /// Hours below 0 °C as forecast: fixes the evening where it is not given.
    pub hours_below_0: Option<f64>,
    /// Sunset to sunrise, h.
    pub night_hours: Option<f64>,
    /// Kind of night.
    pub kind: NightKind,
}

/// A night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tonight {
    /// Lowest, °C, with its spread, K.
    pub minimum_c: Gaussian,
    /// Two hours after sunset, °C.
    pub evening_c: f64,
    /// Sunset to sunrise, h.
    pub hours: f64,
    /// Kind of night.
    pub kind: NightKind,
}

impl Tonight {
    /// Fills in the course. Without an evening temperature it follows from the hours below zero (by the night's own curve), else from the
    /// common drop of a clear night. Refuses a night outside 4..=20 h, an evening colder than the minimum, more hours of frost than night.
    pub fn from_forecast(forecast: &Forecast, usual: &UsualNight) -> Result<Self, OutOfRange> {
        let minimum = forecast.minimum_c.mean;
        Celsius::new(minimum)?;
        within("spread of the minimum", "K", forecast.minimum_c.sd, 0.0, 15.0)?;
        let hours = within("hours of the night", "h", forecast.night_hours.unwrap_or(usual.hours), 4.0, 20.0)?;
        // A night that does not freeze has no hours of frost; one that does has no more than its own.
        let most = if minimum < 0.0 { hours } else { 0.0 };
        let frost = forecast.hours_below_0.map(|frost| within("hours below 0 °C of this night", "h", frost, 0.0, most)).transpose()?;
        let evening_c = match (forecast.evening_c, frost) {
            (Some(evening), _) => within("temperature two hours after sunset", "°C", evening, minimum, Celsius::MAX)?,
            (None, Some(frost)) if minimum < 0.0 => evening_from_frost(minimum, frost, hours, forecast.kind),
            (None, _) => minimum + usual.evening_drop_k,
        };
        let night = Self { minimum_c: forecast.minimum_c, evening_c, hours, kind: forecast.kind };
        if let (Some(_), Some(frost)) = (forecast.evening_c, frost) {
            // Both given: they must tell of the same night.
            let by_evening = night.hours_below(0.0);
            let (least, most) = ((by_evening - FROST_AGREES_H).max(0.0), by_evening + FROST_AGREES_H);
            within("hours below 0 °C beside this evening temperature (give one of the two)", "h", frost, least, most)?;
        }
        Ok(night)
    }

    /// Air temperature at an hour after sunset, °C.
    pub fn at(&self, hour: f64) -> f64 {
        let curve = if self.kind == NightKind::ClearStill { night_curve } else { straight_night };
        curve(Celsius::literal(self.evening_c), Celsius::literal(self.minimum_c.mean), self.hours, hour).degrees()
    }

    /// Hours of the night below a threshold, h: exactly, by inverting the curve.
    pub fn hours_below(&self, threshold_c: f64) -> f64 {
        if self.minimum_c.mean >= threshold_c {
            return 0.0;
        }
        if self.evening_c < threshold_c {
            return self.hours;
        }
        let share = (self.evening_c - threshold_c) / (self.evening_c - self.minimum_c.mean);
        let along = if self.kind == NightKind::ClearStill { share * share } else { share };
        (self.hours - START_HOUR) * (1.0 - along)
    }
}

/// Evening that gives so many hours below zero, °C: the curve inverted. A night that freezes throughout gets an evening just below zero.
fn evening_from_frost(minimum: f64, frost_hours: f64, hours: f64, kind: NightKind) -> f64 {
    let along = 1.0 - frost_hours / (hours - START_HOUR);
    if along <= 0.0 {
        return (minimum / 2.0).max(-1.0).max(minimum);
    }
    let share = if kind == NightKind::ClearStill { along.sqrt() } else { along };
    // At share s of the fall the air passes zero: T2 + (Tmin − T2)·s = 0. Capped where the frost is so short that the form breaks down.
    (-minimum * share / (1.0 - share).max(0.05)).clamp(minimum, 25.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn hours_below_agrees_with_counting_along_the_curve(low in -20.0..0.0f64, drop in 0.5..20.0f64, hours in 6.0..16.0f64, t in -20.0..5.0f64, clear in any::<bool>()) {
            let kind = if clear { NightKind::ClearStill } else { NightKind::Windy };
            let night = Tonight { minimum_c: Gaussian::new(low, 1.0), evening_c: low + drop, hours, kind };
            let counted = (0..20_000).filter(|i| night.at(hours * (f64::from(*i) + 0.5) / 20_000.0) < t).count() as f64 * hours / 20_000.0;
            prop_assert!((counted - night.hours_below(t)).abs() < 0.01, "{counted} {}", night.hours_below(t));
        }
    }

    #[test]
    fn hours_of_frost_given_come_back_out_of_the_curve() {
        for kind in [NightKind::ClearStill, NightKind::Windy] {
            let evening = evening_from_frost(-6.0, 9.0, 14.0, kind);
            let night = Tonight { minimum_c: Gaussian::new(-6.0, 1.0), evening_c: evening, hours: 14.0, kind };
            assert!((night.hours_below(0.0) - 9.0).abs() < 1e-9);
        }
    }
}
