//! From a day's minimum and maximum to 24 hourly temperatures.
//!
//! Day length from the solar declination series of Spencer (1971) as given by Almorox et al. (2005), Energy Convers. Manag. 46, 1505–1512, with
//! the sun's upper edge and refraction (−0.8333°). Curve of Linvill (1990), HortScience 25, 14–16: by day a sine from sunrise to four hours
//! past the length of the day, by night a logarithmic fall from the temperature at sunset to the next minimum. Hours 0–23 in solar time.

use std::f64::consts::{PI, TAU};

/// Altitude of the sun's centre at sunrise, degrees.
const SUNRISE_ALTITUDE_DEG: f64 = -0.8333;
/// Hours by which the sine of the day outlasts the day (Linvill 1990).
const SINE_TAIL_H: f64 = 4.0;

/// Sunrise and sunset in hours of solar time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Daylight {
    /// Sunrise, h.
    pub sunrise_h: f64,
    /// Sunset, h.
    pub sunset_h: f64,
}

impl Daylight {
    /// At a latitude (degrees, north positive) on a day of the year (1..=366). Polar day and night give 24 and 0 hours.
    pub fn of(latitude_deg: f64, day_of_year: i16) -> Self {
        let gamma = TAU / 365.0 * (f64::from(day_of_year) - 1.0);
        let declination = 0.006_918 - 0.399_912 * gamma.cos() + 0.070_257 * gamma.sin() - 0.006_758 * (2.0 * gamma).cos()
            + 0.000_907 * (2.0 * gamma).sin()
            - 0.002_697 * (3.0 * gamma).cos()
            + 0.001_48 * (3.0 * gamma).sin();
        let latitude = latitude_deg.to_radians();
        let cosine = (SUNRISE_ALTITUDE_DEG.to_radians().sin() - latitude.sin() * declination.sin()) / (latitude.cos() * declination.cos());
        let half = cosine.clamp(-1.0, 1.0).acos() / PI * 12.0;
        Self { sunrise_h: 12.0 - half, sunset_h: 12.0 + half }
    }

    /// Hours of daylight.
    pub fn length_h(self) -> f64 {
        self.sunset_h - self.sunrise_h
    }
}

/// One day's temperatures and light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayCurve {
    /// Minimum, °C.
    pub minimum_c: f64,
    /// Maximum, °C.
    pub maximum_c: f64,
    /// Sunrise and sunset.
    pub light: Daylight,
}

impl DayCurve {
    /// Temperature by day at `hour` after midnight, °C.
    fn by_day(&self, hour: f64) -> f64 {
        let Daylight { sunrise_h, .. } = self.light;
        self.minimum_c + (self.maximum_c - self.minimum_c) * (PI * (hour - sunrise_h) / (self.light.length_h() + SINE_TAIL_H)).sin()
    }

    /// Temperature at sunset, °C.
    fn at_sunset(&self) -> f64 {
        self.by_day(self.light.sunset_h)
    }

    /// Hourly temperatures of the day, given the day before and the day after, °C. At the ends of a record the day stands in for itself.
    pub fn hours(&self, before: Option<&Self>, after: Option<&Self>) -> [f64; 24] {
        let (before, after) = (before.unwrap_or(self), after.unwrap_or(self));
        let morning = Night::new(before.at_sunset(), self.minimum_c, 24.0 - before.light.sunset_h + self.light.sunrise_h);
        let evening = Night::new(self.at_sunset(), after.minimum_c, 24.0 - self.light.sunset_h + after.light.sunrise_h);
        std::array::from_fn(|hour| {
            let hour = hour as f64;
            if hour < self.light.sunrise_h {
                morning.at(hour + 24.0 - before.light.sunset_h)
            } else if hour <= self.light.sunset_h {
                self.by_day(hour)
            } else {
                evening.at(hour - self.light.sunset_h)
            }
        })
    }
}

/// The logarithmic fall of one night.
struct Night {
    sunset_c: f64,
    minimum_c: f64,
    /// Logarithm of its hours and one; `None` where it has none.
    length: Option<f64>,
}

impl Night {
    fn new(sunset_c: f64, minimum_c: f64, hours: f64) -> Self {
        Self { sunset_c, minimum_c, length: (hours > 0.0).then(|| hours.ln_1p()) }
    }

    fn at(&self, since_sunset_h: f64) -> f64 {
        let Some(length) = self.length else { return self.sunset_c };
        self.sunset_c - (self.sunset_c - self.minimum_c) * since_sunset_h.max(0.0).ln_1p() / length
    }
}
