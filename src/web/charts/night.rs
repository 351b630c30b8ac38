//! A night as curves over the hours after sunset: outside, and inside a shelter where there is one.

use std::fmt::Write as _;

use crate::units::Celsius;
use crate::web::charts::axis::percent;
use crate::web::frame::Frame;

/// Height of the picture, px.
pub const HEIGHT: f64 = 200.0;
/// Room below the curves for the hours, px.
const FOOT: f64 = 24.0;

/// One curve.
#[derive(Debug, Clone)]
pub struct Curve {
    /// Class of its line.
    pub class: &'static str,
    /// Its path in a 1000 × 1000 box.
    pub path: String,
    /// What it is.
    pub name: String,
}

/// A line across with its temperature.
#[derive(Debug, Clone)]
pub struct Level {
    /// Place from the top, px.
    pub y: String,
    /// Its temperature.
    pub label: String,
    /// Freezing point: drawn as the site's mark.
    pub freezing: bool,
}

/// An hour below the picture.
#[derive(Debug, Clone)]
pub struct Hour {
    /// Place, % of the width.
    pub x: String,
    /// Its words.
    pub label: String,
}

/// The picture.
#[derive(Debug, Clone)]
pub struct NightChart {
    /// Curves.
    pub curves: Vec<Curve>,
    /// Lines across.
    pub levels: Vec<Level>,
    /// Hours.
    pub hours: Vec<Hour>,
    /// Height of the part with the curves, px.
    pub plot: f64,
    /// Header of the table.
    pub heads: Vec<String>,
    /// Rows of the table: the hour, then a temperature per curve.
    pub rows: Vec<(String, Vec<String>)>,
    /// The picture in words.
    pub description: String,
}

/// A curve to draw: class, name, points of hour and °C.
pub type Series<'a> = (&'static str, &'a str, Vec<(f64, f64)>);

impl NightChart {
    /// Draws curves given; every curve has the same hours. `None` where there is nothing to draw.
    pub fn new(given: &[Series<'_>], frame: &Frame) -> Option<Self> {
        let hours = || given.iter().flat_map(|(_, _, p)| p.iter().map(|q| q.0));
        let all = || given.iter().flat_map(|(_, _, p)| p.iter().map(|q| q.1));
        let (first, last) = (hours().fold(f64::INFINITY, f64::min), hours().fold(f64::NEG_INFINITY, f64::max));
        let (low, high) = (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
        if !(last > first && low.is_finite() && high.is_finite()) {
            return None;
        }
        let (low, high) =
            (((low - 1.0) / 5.0).floor() * 5.0, (((high + 1.0) / 5.0).ceil() * 5.0).max(((low - 1.0) / 5.0).floor() * 5.0 + 5.0));
        let plot = HEIGHT - FOOT;
        let x = |h: f64| (h - first) / (last - first);
        let y = |t: f64| (high - t) / (high - low);
        let curves = given
            .iter()
            .map(|(class, name, points)| {
                let mut path = String::new();
                for (i, (h, t)) in points.iter().enumerate() {
                    let _ = write!(path, "{}{:.1} {:.1}", if i == 0 { 'M' } else { 'L' }, 1_000.0 * x(*h), 1_000.0 * y(*t));
                }
                Curve { class, path, name: (*name).to_owned() }
            })
            .collect();
        let steps = ((high - low) / 5.0).round() as usize;
        let levels = (0..=steps)
            .map(|i| low + 5.0 * i as f64)
            .map(|t| Level { y: format!("{:.1}", plot * y(t)), label: frame.short(Celsius::literal(t)), freezing: t.abs() < 1e-9 })
            .collect();
        let every = match last - first {
            span if span > 30.0 => 24.0,
            span if span > 9.0 => 3.0,
            _ => 2.0,
        };
        let hours = (0..24)
            .map(|i| (first / every).ceil() * every + every * f64::from(i))
            .take_while(|h| *h <= last - 0.4)
            .filter(|h| *h >= first + 0.4)
            .map(|h| Hour { x: percent(100.0 * x(h)), label: format!("{h:.0} h") })
            .collect();
        // A spell in steps of three hours: its table would have two hundred rows otherwise.
        let step = if last - first > 30.0 { 3.0 } else { 1.0 };
        let whole = |h: f64| (h / step - (h / step).round()).abs() < 1e-6;
        let rows = given
            .first()
            .map(|(_, _, points)| points.as_slice())
            .unwrap_or_default()
            .iter()
            .enumerate()
            .filter(|(_, (h, _))| whole(*h))
            .map(|(i, (h, _))| {
                let cells = given.iter().filter_map(|(_, _, p)| p.get(i)).map(|(_, t)| frame.temperature(Celsius::literal(*t))).collect();
                (format!("{h:.0}"), cells)
            })
            .collect();
        let said: Vec<String> = given
            .iter()
            .map(|(_, name, points)| {
                let lowest = points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
                let begin = points.first().map_or(lowest, |p| p.1);
                format!(
                    "{name}: from {} down to {}",
                    frame.temperature(Celsius::literal(begin)),
                    frame.temperature(Celsius::literal(lowest))
                )
            })
            .collect();
        Some(Self {
            curves,
            levels,
            hours,
            plot,
            heads: given.iter().map(|(_, name, _)| (*name).to_owned()).collect(),
            rows,
            description: format!("{}.", said.join("; ")),
        })
    }
}
