//! Numbers of a shelter in words.

use crate::units::heat::TRANSMITTANCE_PER_IMPERIAL;
use crate::web::frame::Frame;

pub(super) fn watts(w: f64) -> String {
    // Two figures are as many as the range allows.
    let step = 10f64.powf((w.abs().max(1.0).log10().floor() - 1.0).max(0.0));
    format!("{:.0} W", (w / step).round() * step)
}

/// A U-value without its unit, in the reader's units: W/m²K, or Btu/h·ft²·°F.
pub(super) fn transmittance(u_w_m2k: f64, frame: &Frame) -> String {
    if frame.fahrenheit_first() { format!("{:.2}", u_w_m2k / TRANSMITTANCE_PER_IMPERIAL) } else { format!("{u_w_m2k:.1}") }
}

/// A difference in the reader's scale alone.
pub(super) fn short_difference(kelvin: f64, frame: &Frame) -> String {
    if frame.fahrenheit_first() { format!("{:.1} °F", kelvin * 1.8) } else { format!("{kelvin:.1} K") }
}
