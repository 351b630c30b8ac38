//! The course of a radiation night.
//!
//! Curve: T(h) = T₂ + (T_min − T₂) √((h − 2)/(n − 2)), h hours after sunset, n hours from sunset to sunrise, T₂ the temperature two hours after
//! sunset. For clear, calm nights only (wind below 2 m/s, no cloud, fog or rain). Source: Snyder & de Melo-Abreu (2005), Frost protection, FAO Environment and Natural
//! Resources Series 10, chapter 5.

use crate::units::Celsius;

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
