//! How a night cools: the air's temperature hour by hour from two numbers.
//!
//! Clear and still: `T(h) = T2 + (Tmin − T2)·√((h − 2)/(N − 2))`, h hours after sunset, N hours of night, T2 the temperature two hours after
//! sunset (Snyder & de Melo-Abreu 2005, FAO Environment and Natural Resources Series 10, vol. 1; square-root trend). Windy or clouded nights
//! cool by advection: a straight line between the same ends (common practice, no published form).

use crate::units::Celsius;

/// Hours after sunset at which the curve starts, h: the form is not valid before.
pub const START_HOUR: f64 = 2.0;

/// Air temperature `hour` hours after sunset of a clear, still night of `night_hours` hours.
///
/// Hours before [`START_HOUR`] give the evening value and hours after sunrise the minimum. A night no longer than [`START_HOUR`] has no curve
/// and gives the minimum.
pub fn night_curve(sunset_plus_2h: Celsius, minimum: Celsius, night_hours: f64, hour: f64) -> Celsius {
    sunset_plus_2h + (minimum - sunset_plus_2h) * fraction(night_hours, hour).sqrt()
}

/// The same for a windy or clouded night: a straight line.
pub fn straight_night(sunset_plus_2h: Celsius, minimum: Celsius, night_hours: f64, hour: f64) -> Celsius {
    sunset_plus_2h + (minimum - sunset_plus_2h) * fraction(night_hours, hour)
}

/// Share of the curve's time gone, 0..=1.
fn fraction(night_hours: f64, hour: f64) -> f64 {
    let span = night_hours - START_HOUR;
    if span > 0.0 { ((hour - START_HOUR) / span).clamp(0.0, 1.0) } else { 1.0 }
}
