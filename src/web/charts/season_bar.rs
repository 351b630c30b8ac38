//! The frost season on a bar of the year: surely frost, perhaps frost, free.

use crate::science::climate::frost::{Frost, SeasonDay};
use crate::science::climate::winters::Hemisphere;
use crate::web::charts::axis::percent;

/// Days of the year of season days.
const DAYS: f64 = 365.0;

/// A stretch of the bar.
#[derive(Debug, Clone)]
pub struct Stretch {
    /// Left edge, %.
    pub x: String,
    /// Width, %.
    pub width: String,
    /// Class of its colour.
    pub class: &'static str,
}

/// A dated mark.
#[derive(Debug, Clone)]
pub struct DateMark {
    /// Place, %.
    pub x: String,
    /// Its words.
    pub words: String,
    /// On which side they stand.
    pub anchor: &'static str,
    /// Distance, px.
    pub shift: i32,
}

/// A month of the axis.
#[derive(Debug, Clone)]
pub struct MonthTick {
    /// Start, %.
    pub x: String,
    /// Middle, %.
    pub middle: String,
    /// Three letters.
    pub name: &'static str,
    /// One letter.
    pub letter: &'static str,
}

/// The bar.
#[derive(Debug, Clone)]
pub struct SeasonBar {
    /// Stretches from the start of the season year.
    pub stretches: Vec<Stretch>,
    /// Medians.
    pub marks: [DateMark; 2],
    /// Months.
    pub months: Vec<MonthTick>,
    /// The picture in words.
    pub description: String,
}

impl SeasonBar {
    /// Draws the frosts; `None` where no year had both.
    pub fn new(frost: &Frost, hemisphere: Hemisphere) -> Option<Self> {
        let (spring, autumn) = (frost.last_spring?, frost.first_autumn?);
        let place = |day: f64| 100.0 * day / DAYS;
        let edges = [
            (0.0, "frost-sure"),
            (spring.p10.number(), "frost-may"),
            (spring.p90.number(), "frost-free"),
            (autumn.p10.number() - 1.0, "frost-may"),
            (autumn.p90.number() - 1.0, "frost-sure"),
            (DAYS, ""),
        ];
        let stretches = edges
            .windows(2)
            .filter(|pair| pair[1].0 > pair[0].0)
            .map(|pair| Stretch { x: percent(place(pair[0].0)), width: percent(place(pair[1].0 - pair[0].0)), class: pair[0].1 })
            .collect();
        let mark = |day: SeasonDay, before: bool| DateMark {
            x: percent(place(day.number() - if before { 0.0 } else { 1.0 })),
            words: day.words(),
            anchor: if before { "start" } else { "end" },
            shift: if before { 5 } else { -5 },
        };
        let months = months(hemisphere);
        let description = format!(
            "The last frost of spring comes by {} in nine years of ten and the first of autumn not before {}.",
            spring.p90.words(),
            autumn.p10.words()
        );
        Some(Self { stretches, marks: [mark(spring.p50, true), mark(autumn.p50, false)], months, description })
    }
}

/// The months from the turn of the year on: January, or July on the southern half.
pub(super) fn months(hemisphere: Hemisphere) -> Vec<MonthTick> {
    let lengths: [(f64, &str, &str); 12] = match hemisphere {
        Hemisphere::North => NORTH,
        Hemisphere::South => {
            let mut turned = NORTH;
            turned.rotate_left(6);
            turned
        }
    };
    let mut start = 0.0;
    let months = lengths.map(|(length, name, letter)| {
        let middle = start + length / 2.0;
        let tick = MonthTick { x: percent(100.0 * start / DAYS), middle: percent(100.0 * middle / DAYS), name, letter };
        start += length;
        tick
    });
    months.to_vec()
}

/// Months of a 365-day year.
const NORTH: [(f64, &str, &str); 12] = [
    (31.0, "Jan", "J"),
    (28.0, "Feb", "F"),
    (31.0, "Mar", "M"),
    (30.0, "Apr", "A"),
    (31.0, "May", "M"),
    (30.0, "Jun", "J"),
    (31.0, "Jul", "J"),
    (31.0, "Aug", "A"),
    (30.0, "Sep", "S"),
    (31.0, "Oct", "O"),
    (30.0, "Nov", "N"),
    (31.0, "Dec", "D"),
];
