//! Temperatures and temperature differences: two types, since 4 °F of protection is 2.2 K and not −15.6 °C.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

use super::{OutOfRange, within};

/// K per °F: 5/9 by definition of the Fahrenheit scale.
const KELVIN_PER_FAHRENHEIT: f64 = 5.0 / 9.0;
/// Freezing point of water on the Fahrenheit scale, °F.
const FREEZING_F: f64 = 32.0;

/// A temperature of air, wood or soil, °C.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Celsius(f64);

/// A temperature difference, K (equal to a difference in °C).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct TemperatureDelta(f64);

impl Celsius {
    /// Coldest accepted, °C: a little below the coldest air measured at the surface of the Earth (−89.2 °C, WMO archive).
    pub const MIN: f64 = -95.0;
    /// Warmest accepted, °C: well above the warmest air measured (56.7 °C, WMO archive), so that sun-heated shelters fit.
    pub const MAX: f64 = 80.0;

    /// A temperature in °C, refused when not finite or outside [`Self::MIN`]..=[`Self::MAX`].
    pub fn new(degrees_c: f64) -> Result<Self, OutOfRange> {
        within("temperature", "°C", degrees_c, Self::MIN, Self::MAX).map(Self)
    }

    /// A temperature in °F, refused like [`Self::new`].
    pub fn from_fahrenheit(degrees_f: f64) -> Result<Self, OutOfRange> {
        Self::new((degrees_f - FREEZING_F) * KELVIN_PER_FAHRENHEIT)
    }

    /// A temperature known when the program is written, °C. Fails to compile in a `const` when it is not finite.
    pub const fn literal(degrees_c: f64) -> Self {
        assert!(degrees_c.is_finite());
        Self(degrees_c)
    }

    /// The number of °C.
    pub const fn degrees(self) -> f64 {
        self.0
    }

    /// Whole hundredths of a °C, as temperatures are published.
    pub fn hundredths(self) -> i32 {
        (self.0 * 100.0).round() as i32
    }

    /// The number of °F.
    pub fn fahrenheit(self) -> f64 {
        self.0 / KELVIN_PER_FAHRENHEIT + FREEZING_F
    }

    /// The colder of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }

    /// The warmer of two.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
}

impl TemperatureDelta {
    /// No difference.
    pub const ZERO: Self = Self(0.0);
    /// Largest size accepted, K.
    pub const MAX: f64 = 200.0;

    /// A difference in K, refused when not finite or larger than [`Self::MAX`] either way.
    pub fn new(kelvin: f64) -> Result<Self, OutOfRange> {
        within("temperature difference", "K", kelvin, -Self::MAX, Self::MAX).map(Self)
    }

    /// A difference given in °F: only scaled, never shifted by 32.
    pub fn from_fahrenheit_degrees(degrees_f: f64) -> Result<Self, OutOfRange> {
        Self::new(degrees_f * KELVIN_PER_FAHRENHEIT)
    }

    /// A difference known when the program is written, K.
    pub const fn literal(kelvin: f64) -> Self {
        assert!(kelvin.is_finite());
        Self(kelvin)
    }

    /// The number of K.
    pub const fn kelvin(self) -> f64 {
        self.0
    }

    /// The number of °F: only scaled.
    pub fn fahrenheit_degrees(self) -> f64 {
        self.0 / KELVIN_PER_FAHRENHEIT
    }

    /// √(self² + other²): how independent spreads add.
    #[must_use]
    pub fn hypot(self, other: Self) -> Self {
        Self(self.0.hypot(other.0))
    }

    /// Its size without sign.
    #[must_use]
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

impl Sub for Celsius {
    type Output = TemperatureDelta;
    fn sub(self, other: Self) -> TemperatureDelta {
        TemperatureDelta(self.0 - other.0)
    }
}

impl Add<TemperatureDelta> for Celsius {
    type Output = Self;
    fn add(self, delta: TemperatureDelta) -> Self {
        Self(self.0 + delta.0)
    }
}

impl Sub<TemperatureDelta> for Celsius {
    type Output = Self;
    fn sub(self, delta: TemperatureDelta) -> Self {
        Self(self.0 - delta.0)
    }
}

impl Add for TemperatureDelta {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for TemperatureDelta {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for TemperatureDelta {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for TemperatureDelta {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for TemperatureDelta {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Div<f64> for TemperatureDelta {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}

/// Writes a number with a true minus sign (U+2212) and no "−0".
fn write_signed(f: &mut fmt::Formatter<'_>, value: f64, decimals: usize) -> fmt::Result {
    let text = format!("{:.decimals$}", value.abs());
    let is_zero = text.chars().all(|c| c == '0' || c == '.');
    if value < 0.0 && !is_zero { write!(f, "−{text}") } else { write!(f, "{text}") }
}

/// `−12.3 °C`; the precision of the format string sets the decimals (none: whole degrees).
impl fmt::Display for Celsius {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_signed(f, self.0, f.precision().unwrap_or(0))?;
        f.write_str(" °C")
    }
}

/// `2.2 K`; the precision of the format string sets the decimals (none: one).
impl fmt::Display for TemperatureDelta {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_signed(f, self.0, f.precision().unwrap_or(1))?;
        f.write_str(" K")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_fixed_points_of_both_scales_agree() {
        // Definition of the Fahrenheit scale: ice 32 °F = 0 °C; −40 is the same on both.
        assert_eq!(Celsius::literal(0.0).fahrenheit(), 32.0);
        assert_eq!(Celsius::from_fahrenheit(-40.0).unwrap().degrees(), -40.0);
    }

    #[test]
    fn a_difference_in_fahrenheit_is_scaled_and_never_shifted() {
        let protection = TemperatureDelta::from_fahrenheit_degrees(4.0).unwrap();
        assert!((protection.kelvin() - 2.2222).abs() < 1e-4);
    }

    #[test]
    fn nonsense_is_refused_with_the_value_and_the_range() {
        for bad in [f64::NAN, f64::INFINITY, -274.0, 1e9] {
            assert!(Celsius::new(bad).is_err(), "{bad}");
        }
        assert_eq!(Celsius::new(-300.0).unwrap_err().to_string(), "temperature -300 is outside -95 to 80 °C");
    }

    #[test]
    fn display_uses_a_true_minus_and_no_negative_zero() {
        assert_eq!(format!("{:.1}", Celsius::literal(-9.44)), "−9.4 °C");
        assert_eq!(Celsius::literal(-0.04).to_string(), "0 °C");
    }

    proptest! {
        #[test]
        fn celsius_survives_a_round_trip_through_fahrenheit(c in -95.0..80.0f64) {
            let there = Celsius::new(c).unwrap();
            let back = Celsius::from_fahrenheit(there.fahrenheit().clamp(-139.0, 176.0)).unwrap();
            prop_assert!((there - back).abs().kelvin() < 1e-9);
        }
    }
}
