//! Differences of temperature in the reader's scale alone, with their 90 % range and a small picture of it.

use crate::science::numeric::{Gaussian, Z_90};
use crate::units::{FAHRENHEIT_DEGREES_PER_KELVIN, TemperatureDelta};
use crate::web::frame::{Frame, Scale};

/// Coldest and warmest end of the axis of a gain, K.
const AXIS_K: (f64, f64) = (-6.0, 12.0);

/// A gain as a table shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct GainCell {
    /// Mean with its sign and unit: `+2.7 °F`.
    pub mean: String,
    /// 90 % range: `−1.2 to +6.6`.
    pub range: String,
    /// Places along the picture, per cent of its width: nought, low end, high end, mean.
    pub zero: f64,
    /// See above.
    pub low: f64,
    /// See above.
    pub high: f64,
    /// See above.
    pub at: f64,
}

impl GainCell {
    /// Of a gain in K.
    pub fn new(frame: &Frame, gain: Gaussian) -> Self {
        let place = |k: f64| (100.0 * ((k - AXIS_K.0) / (AXIS_K.1 - AXIS_K.0)).clamp(0.0, 1.0) * 10.0).round() / 10.0;
        let (low, high) = (gain.mean - Z_90 * gain.sd, gain.mean + Z_90 * gain.sd);
        Self {
            mean: signed(frame, gain.mean),
            range: range(frame, gain),
            zero: place(0.0),
            low: place(low),
            high: place(high),
            at: place(gain.mean),
        }
    }
}

/// A difference in K as a number of the reader's degrees.
fn in_scale(frame: &Frame, k: f64) -> f64 {
    match frame.scale() {
        Scale::Celsius => k,
        Scale::Fahrenheit => TemperatureDelta::literal(k).fahrenheit_degrees(),
    }
}

fn unit(frame: &Frame) -> &'static str {
    match frame.scale() {
        Scale::Celsius => "°C",
        Scale::Fahrenheit => "°F",
    }
}

fn bare(frame: &Frame, k: f64) -> String {
    let rounded = (in_scale(frame, k) * 10.0).round() / 10.0 + 0.0;
    if rounded == 0.0 { "0.0".to_owned() } else { format!("{rounded:+.1}").replace('-', "−") }
}

/// `+1.5 °C` or `+2.7 °F`.
pub fn signed(frame: &Frame, k: f64) -> String {
    format!("{}\u{a0}{}", bare(frame, k), unit(frame))
}

/// A size without sign: `1.5 °C` or `2.7 °F`.
pub fn plain(frame: &Frame, k: f64) -> String {
    format!("{:.1}\u{a0}{}", in_scale(frame, k.abs()), unit(frame))
}

/// Heat lost for each degree of the reader's scale, W: `120` and `W/K`, or `67` and `W for each °F`.
pub fn heat_loss(frame: &Frame, w_per_k: f64) -> (String, &'static str) {
    match frame.scale() {
        Scale::Celsius => (format!("{w_per_k:.0}"), "W/K"),
        Scale::Fahrenheit => (format!("{:.0}", w_per_k / FAHRENHEIT_DEGREES_PER_KELVIN), "W for each °F"),
    }
}

/// The 90 % range of a gain: `−0.6 to +3.6`.
pub fn range(frame: &Frame, gain: Gaussian) -> String {
    format!("{} to {}", bare(frame, gain.mean - Z_90 * gain.sd), bare(frame, gain.mean + Z_90 * gain.sd))
}

/// A note of the table of starting values as a page quotes it: its differences are in degrees Celsius, and no K stands before a reader.
pub fn as_written(note: &str) -> String {
    let pieces: Vec<&str> = note.split(" K").collect();
    let mut said = String::with_capacity(note.len());
    for (at, piece) in pieces.iter().enumerate() {
        if at > 0 {
            // “ K” of “ Knight” is no unit.
            said.push_str(if piece.starts_with(|c: char| c.is_alphanumeric()) { " K" } else { " °C" });
        }
        said.push_str(piece);
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_of_fahrenheit_sees_scaled_degrees_and_no_kelvin() {
        let (c, f) = (Frame::sample(Scale::Celsius), Frame::sample(Scale::Fahrenheit));
        assert_eq!([signed(&c, 1.5), signed(&f, 1.5)], ["+1.5\u{a0}°C", "+2.7\u{a0}°F"]);
        assert_eq!([signed(&c, -0.01), plain(&f, -1.0)], ["0.0\u{a0}°C", "1.8\u{a0}°F"]);
        // By hand: 1 ± 1.6449·2 K.
        assert_eq!(range(&c, Gaussian::new(1.0, 2.0)), "−2.3 to +4.3");
        assert_eq!(as_written("+0.5 to +1.8 K, by Knight (1 K)"), "+0.5 to +1.8 °C, by Knight (1 °C)");
        let cell = GainCell::new(&f, Gaussian::new(40.0, 1.0));
        assert_eq!((cell.at, cell.high), (100.0, 100.0), "the picture ends with its axis");
    }
}
