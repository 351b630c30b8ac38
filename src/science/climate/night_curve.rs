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

#[cfg(test)]
mod tests {
    use super::*;

    // From the published form by hand: 6 °C two hours after sunset, −2 °C at sunrise of a night of 14 h. After a quarter of the 12 h between, half
    // of the fall is done on a clear night (√¼) and a quarter of it on a windy one.
    #[test]
    fn a_clear_night_falls_early_and_a_windy_one_evenly() {
        let (evening, minimum) = (Celsius::literal(6.0), Celsius::literal(-2.0));
        let near = |t: Celsius, c: f64| assert!((t.degrees() - c).abs() < 1e-12, "{t:?} against {c}");
        near(night_curve(evening, minimum, 14.0, 5.0), 2.0);
        near(straight_night(evening, minimum, 14.0, 5.0), 4.0);
        for night in [night_curve, straight_night] {
            near(night(evening, minimum, 14.0, 0.5), 6.0);
            near(night(evening, minimum, 14.0, 2.0), 6.0);
            near(night(evening, minimum, 14.0, 14.0), -2.0);
            near(night(evening, minimum, 14.0, 20.0), -2.0);
            near(night(evening, minimum, 2.0, 1.0), -2.0);
        }
    }
}
