//! The site's winters as a soft ridge over the temperature axis, with the marks that run down through every row.

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::units::Celsius;
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::frame::Frame;

/// Points along the ridge.
const POINTS: usize = 120;
/// Height of the ridge's own drawing, units of its view box.
const HEIGHT: f64 = 100.0;

/// A vertical mark of the site.
#[derive(Debug, Clone)]
pub struct Mark {
    /// Place, % of the width.
    pub x: String,
    /// What it marks.
    pub words: &'static str,
    /// The same in less room.
    pub brief: &'static str,
    /// On which side of the line its words stand, as the anchor of their text.
    pub anchor: &'static str,
    /// How far from the line, px.
    pub shift: i32,
    /// Its temperature in both scales.
    pub temperature: String,
    /// Its temperature in the reader's scale.
    pub short: String,
}

/// One line of the table behind the picture.
#[derive(Debug, Clone)]
pub struct Line {
    /// How often.
    pub often: &'static str,
    /// How cold.
    pub temperature: String,
}

/// The picture.
#[derive(Debug, Clone)]
pub struct Winters {
    /// Outline of the ridge in a 1000 × 100 box.
    pub ridge: String,
    /// Its marks: every other winter, one in ten.
    pub marks: [Mark; 2],
    /// Marks of the axis.
    pub ticks_c: Vec<Tick>,
    /// Marks of the second line.
    pub ticks_f: Vec<Tick>,
    /// The numbers in a table.
    pub table: Vec<Line>,
    /// The picture in words.
    pub description: String,
}

impl Winters {
    /// Draws the winters of a site.
    pub fn new(winter: &WinterMinimum, axis: TemperatureAxis, frame: &Frame) -> Self {
        let (low, high) = (axis.low().degrees(), axis.high().degrees());
        let step = (high - low) / POINTS as f64;
        let share: Vec<f64> = (0..=POINTS)
            .map(|i| {
                let t = low + step * i as f64;
                (winter.cdf(Celsius::literal(t + 0.5 * step)) - winter.cdf(Celsius::literal(t - 0.5 * step))).max(0.0)
            })
            .collect();
        let tallest = share.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        let mut ridge = format!("M0 {HEIGHT}");
        for (i, s) in share.iter().enumerate() {
            use std::fmt::Write as _;
            let _ = write!(ridge, "L{:.1} {:.1}", 1000.0 * i as f64 / POINTS as f64, HEIGHT - 92.0 * s / tallest);
        }
        ridge.push_str("L1000 100Z");
        // The colder mark speaks to the left and the warmer to the right, unless an edge is near.
        let mark = |p: f64, words, brief, room: std::ops::Range<f64>| {
            let t = winter.quantile(p);
            let leftward = !room.contains(&axis.place(t));
            let (anchor, shift) = if leftward { ("end", -6) } else { ("start", 6) };
            Mark { x: axis.x(t), words, brief, anchor, shift, temperature: frame.temperature(t), short: frame.short(t) }
        };
        let marks = [mark(0.5, "every other winter", "every other:", 0.0..60.0), mark(0.1, "one winter in ten", "1 in 10:", 0.0..30.0)];
        let table = [
            (0.9, "9 winters in ten"),
            (0.5, "every other winter"),
            (0.2, "1 winter in five"),
            (0.1, "1 winter in ten"),
            (0.05, "1 winter in twenty"),
        ]
        .map(|(p, often)| Line { often, temperature: frame.temperature(winter.quantile(p)) })
        .to_vec();
        let [other, tenth] = &marks;
        let description = format!(
            "The coldest night falls to {} or below in every other winter and to {} or below in one winter in ten.",
            other.temperature, tenth.temperature
        );
        Self { ridge, ticks_c: axis.ticks_c(), ticks_f: axis.ticks_f(), table, description, marks }
    }
}
