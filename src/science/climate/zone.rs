//! Hardiness zones: 5 °F half-zone bands of the mean yearly minimum, 1a to 13b.
//!
//! Source: USDA Plant Hardiness Zones; 10 °F zones from 1 (−60 to −50 °F) to 13 (60 to 70 °F), each in two 5 °F halves, `a` the colder
//! (Daly et al. 2012, J. Appl. Meteorol. Climatol. 51, 242–264). Edges are exact in °F, so comparison happens in °F.

use std::fmt;
use std::str::FromStr;

use crate::units::{Celsius, Interval};

/// Lower edge of zone 1a, °F.
const LOWEST_EDGE_F: f64 = -60.0;
/// Width of a half-zone, °F.
const HALF_ZONE_WIDTH_F: f64 = 5.0;
/// Number of half-zones, 1a to 13b.
const COUNT: u8 = 26;

/// A half-zone from 1a to 13b, ordered from cold to warm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HalfZone(u8);

/// Text that is not a half-zone.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{read}” is not a hardiness half-zone; 1a to 13b are accepted, for example 7a")]
pub struct NotAHalfZone {
    /// The text as read.
    pub read: String,
}

impl HalfZone {
    /// Every half-zone from cold to warm.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> {
        (0..COUNT).map(Self)
    }

    /// The half-zone whose band holds a mean yearly minimum: lower edge included, upper edge not. `None` outside 1a to 13b.
    pub fn of_mean_f(mean_f: f64) -> Option<Self> {
        let index = ((mean_f - LOWEST_EDGE_F) / HALF_ZONE_WIDTH_F).floor();
        (0.0..f64::from(COUNT)).contains(&index).then_some(Self(index as u8))
    }

    /// As [`Self::of_mean_f`] for a mean in °C.
    pub fn of_mean(mean: Celsius) -> Option<Self> {
        Self::of_mean_f(mean.fahrenheit())
    }

    /// The band in °F: exact.
    pub fn band_f(self) -> Interval<f64> {
        let low = LOWEST_EDGE_F + HALF_ZONE_WIDTH_F * f64::from(self.0);
        Interval { low, high: low + HALF_ZONE_WIDTH_F }
    }

    /// The band in °C.
    pub fn band(self) -> Interval<Celsius> {
        let f = self.band_f();
        let c = |f: f64| Celsius::literal((f - 32.0) * 5.0 / 9.0);
        Interval { low: c(f.low), high: c(f.high) }
    }

    /// The next colder half-zone.
    pub fn colder(self) -> Option<Self> {
        self.0.checked_sub(1).map(Self)
    }

    /// The next warmer half-zone.
    pub fn warmer(self) -> Option<Self> {
        (self.0 + 1 < COUNT).then(|| Self(self.0 + 1))
    }
}

impl fmt::Display for HalfZone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.0 / 2 + 1, if self.0.is_multiple_of(2) { 'a' } else { 'b' })
    }
}

impl FromStr for HalfZone {
    type Err = NotAHalfZone;

    fn from_str(text: &str) -> Result<Self, NotAHalfZone> {
        let wanted = text.trim().to_ascii_lowercase();
        Self::all().find(|zone| zone.to_string() == wanted).ok_or_else(|| NotAHalfZone { read: text.chars().take(20).collect() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_bands_round_trip() {
        assert_eq!(HalfZone::all().count(), 26);
        for zone in HalfZone::all() {
            assert_eq!(zone.to_string().parse::<HalfZone>().unwrap(), zone);
            assert_eq!(HalfZone::of_mean_f(zone.band_f().low), Some(zone));
            assert_eq!(HalfZone::of_mean_f(zone.band_f().high), zone.warmer());
        }
    }

    #[test]
    fn other_text_is_refused_by_name() {
        for bad in ["", "0a", "14a", "7", "7c", "7 a", "seven", "７a"] {
            assert!(bad.parse::<HalfZone>().is_err(), "{bad}");
        }
        assert!(" 7A ".parse::<HalfZone>().is_ok());
    }
}
