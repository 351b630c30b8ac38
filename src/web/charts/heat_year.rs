//! Cumulative degree-days over the months of a year, with key dates, and the share of living plants that have started to grow.

use std::fmt::Write as _;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::science::fruiting::DegreeDayCurve;
use crate::science::fruiting::shown::Shown;
use crate::web::charts::axis::{Tick, percent};

/// Days over which the picture runs.
const DAYS: f64 = 365.0;
/// Points along the slope.
const POINTS: usize = 73;

/// A day that matters.
#[derive(Debug, Clone)]
pub struct DayMark {
    /// Place, % of the width.
    pub x: String,
    /// Its words, with the date.
    pub words: String,
    /// The same in less room.
    pub brief: String,
    /// Anchor of the text.
    pub anchor: &'static str,
    /// How far from the line, px.
    pub shift: i32,
}

/// A line of the table behind the picture.
#[derive(Debug, Clone)]
pub struct Line {
    /// Day.
    pub day: String,
    /// Usual heat by then.
    pub heat: String,
    /// Share of living plants that have shown growth by then; empty where it is not drawn.
    pub moved: String,
}

/// The picture.
#[derive(Debug, Clone)]
pub struct HeatYear {
    /// Outline of the slope in a 1000 × 100 box.
    pub slope: String,
    /// Share of living plants that have moved, in the same box.
    pub moved: Option<String>,
    /// Height of what the crop needs, in the same box.
    pub need: Option<String>,
    /// Marked days.
    pub marks: Vec<DayMark>,
    /// Months.
    pub months: Vec<Tick>,
    /// Bar of the first figs: from, to, % of the width.
    pub figs: Option<[String; 2]>,
    /// The numbers.
    pub table: Vec<Line>,
    /// The picture in words.
    pub description: String,
}

/// What is drawn beside the curve.
#[derive(Debug, Default)]
pub struct Drawn<'a> {
    /// Law of first growth, while nothing has moved.
    pub shown: Option<&'a Shown>,
    /// Heat since the turn of the year that the crop needs.
    pub need: Option<f64>,
    /// First figs, early and late.
    pub figs: Option<[f64; 2]>,
    /// Days that matter: day, words, words in little room.
    pub days: Vec<(f64, String, String)>,
}

fn x(day: f64) -> String {
    percent((100.0 * day / DAYS).clamp(0.0, 100.0))
}

impl HeatYear {
    /// Draws a year that turns on `turn`.
    pub fn new(curve: &DegreeDayCurve, turn: Date, drawn: &Drawn<'_>) -> Self {
        let total = curve.until(DAYS).max(1.0);
        let path = |of: &dyn Fn(f64) -> f64| {
            let mut path = String::new();
            for i in 0..POINTS {
                let share = i as f64 / (POINTS - 1) as f64;
                let _ = write!(path, "{}{:.1} {:.1}", if i == 0 { "M" } else { "L" }, 1000.0 * share, 98.0 - 94.0 * of(share * DAYS));
            }
            path
        };
        let months: Vec<Tick> = (0..12)
            .filter_map(|i: i32| {
                let first = turn.checked_add(i.months()).ok()?;
                let day = turn.until(first).ok()?.get_days();
                Some(Tick { x: x(f64::from(day) + 15.0), label: first.strftime("%b").to_string(), wide_only: i % 2 == 1 })
            })
            .collect();
        let marks = drawn
            .days
            .iter()
            .map(|(day, words, brief)| {
                let leftward = *day > 0.5 * DAYS;
                let (anchor, shift) = if leftward { ("end", -5) } else { ("start", 5) };
                DayMark { x: x(*day), words: words.clone(), brief: brief.clone(), anchor, shift }
            })
            .collect();
        let moved_by = |day: f64| drawn.shown.map(|shown| shown.by(curve.until(day)));
        let table = (0..12)
            .filter_map(|i: i32| turn.checked_add(i.months()).ok())
            .map(|first| {
                let day = first.checked_add(14.days()).unwrap_or(first);
                let number = turn.until(day).map_or(0.0, |span| f64::from(span.get_days()));
                Line {
                    day: day.strftime("%-d %B").to_string(),
                    heat: format!("{:.0}", curve.until(number)),
                    moved: moved_by(number).map_or_else(String::new, |share| format!("{:.0} %", 100.0 * share)),
                }
            })
            .collect();
        let spoken: Vec<String> = drawn.days.iter().map(|(_, words, _)| words.clone()).collect();
        let description = format!(
            "Heat adds up from {} to about {total:.0} degree-days above 8 °C a year later. Marked: {}.",
            turn.strftime("%-d %B"),
            spoken.join("; ")
        );
        let slope = format!("{}L1000 100L0 100Z", path(&|day| curve.until(day) / total));
        Self {
            slope,
            moved: drawn.shown.map(|_| path(&|day| moved_by(day).unwrap_or(0.0))),
            need: drawn.need.filter(|&need| need < total).map(|need| format!("{:.1}", 98.0 - 94.0 * need / total)),
            marks,
            months,
            figs: drawn.figs.map(|ends| ends.map(x)),
            table,
            description: if spoken.is_empty() { description.replace(" Marked: .", "") } else { description },
        }
    }
}
