//! One winter: how hard the plant stood each day, and how cold each night was, days running down the page.

use std::fmt::Write as _;

use crate::science::climate::equivalent::{PlantDay, hardest_night};
use crate::units::{Celsius, TemperatureDelta};
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::frame::Frame;

/// Warm end of the axis, °C: nights are seen to come and go.
const WARM_END: Celsius = Celsius::literal(10.0);
/// Room left of the coldest mark, K.
const COLD_ROOM: TemperatureDelta = TemperatureDelta::literal(3.0);
/// Height of a day, px.
const DAY_PX: f64 = 1.6;
/// Room above the field, px.
const HEAD: f64 = 8.0;
/// A month's line.
#[derive(Debug, Clone)]
pub struct Month {
    /// Height, px.
    pub y: String,
    /// Its name.
    pub name: String,
}

/// The hardest night.
#[derive(Debug, Clone)]
pub struct Hardest {
    /// Height, px.
    pub y: String,
    /// Height of its words, px.
    pub words_y: String,
    /// Place of its minimum, %.
    pub x: String,
    /// Place of its equivalent, %.
    pub equivalent_x: String,
    /// `18 Feb`.
    pub date: String,
    /// Its words.
    pub words: String,
    /// The same in less room.
    pub brief: String,
    /// On which side of the mark its words stand.
    pub anchor: &'static str,
    /// Distance from the mark, px.
    pub shift: i32,
}

/// A frost night of the table.
#[derive(Debug, Clone)]
pub struct FrostNight {
    /// Its date.
    pub date: String,
    /// Its minimum.
    pub minimum: String,
    /// Hardiness at dawn.
    pub hardiness: String,
    /// Its equivalent.
    pub equivalent: String,
}

/// The picture.
#[derive(Debug, Clone)]
pub struct Course {
    /// Label of the winter.
    pub winter: i16,
    /// Hardiness, in a box 1000 wide and as high as the field.
    pub hardiness: String,
    /// Nightly minima, in the same box.
    pub minima: String,
    /// Firsts of months.
    pub months: Vec<Month>,
    /// The night that did most.
    pub hardest: Option<Hardest>,
    /// Height of the field, px, its bottom, and the height of the picture.
    pub field: i32,
    /// See above.
    pub bottom: i32,
    /// See above.
    pub height: i32,
    /// Marks of the axis.
    pub ticks_c: Vec<Tick>,
    /// Marks of the second line.
    pub ticks_f: Vec<Tick>,
    /// The frost nights that did most, worst first.
    pub table: Vec<FrostNight>,
    /// The picture in words.
    pub description: String,
}

/// Frost nights listed.
const NIGHTS_LISTED: usize = 12;

impl Course {
    /// Draws the days of a winter from the start of hardening to the eighth month after it; `None` without days.
    pub fn new(winter: i16, days: &[PlantDay], frame: &Frame) -> Option<Self> {
        // July, August and September (south: January to March) have no frost worth the room.
        let shown = days.get(92..days.len().min(92 + 243)).filter(|shown| !shown.is_empty())?;
        let worst = hardest_night(days);
        let hardiest = shown.iter().map(|day| day.hardiness).chain(worst.map(|(_, equivalent)| equivalent));
        let coldest = hardiest.chain(shown.iter().filter_map(|day| day.minimum)).fold(Celsius::literal(0.0), Celsius::min);
        // An axis of its own: the whole page's would leave the curve a sliver.
        let axis = TemperatureAxis::between(coldest - COLD_ROOM, WARM_END);
        let field = (DAY_PX * shown.len() as f64).round() as i32;
        let x = |t: Celsius| 10.0 * axis.place(t);
        let y = |i: usize| DAY_PX * (i as f64 + 0.5);
        let mut hardiness = String::new();
        let mut minima = String::new();
        let mut pen_down = false;
        for (i, day) in shown.iter().enumerate() {
            let _ = write!(hardiness, "{}{:.1} {:.1}", if i == 0 { 'M' } else { 'L' }, x(day.hardiness), y(i));
            // Nights warmer than the axis leave a gap.
            match day.minimum.filter(|t| *t <= axis.high()) {
                Some(t) => {
                    let _ = write!(minima, "{}{:.1} {:.1}", if pen_down { 'L' } else { 'M' }, x(t), y(i));
                    pen_down = true;
                }
                None => pen_down = false,
            }
        }
        let months = shown
            .iter()
            .enumerate()
            .filter(|(_, day)| day.date.day() == 1)
            .map(|(i, day)| Month { y: format!("{:.1}", HEAD + DAY_PX * i as f64), name: day.date.strftime("%b").to_string() })
            .collect();
        let hardest = worst.and_then(|(night, equivalent)| {
            let at = HEAD + y(shown.iter().position(|day| day.date == night.date)?);
            let minimum = night.minimum?;
            let (anchor, shift) = if axis.place(equivalent) > 45.0 { ("end", 4) } else { ("start", -4) };
            Some(Hardest {
                y: format!("{at:.1}"),
                words_y: format!("{:.1}", at - 9.0),
                x: axis.x(minimum),
                equivalent_x: axis.x(equivalent),
                date: day_words(night.date),
                words: format!("{}: {} counts as {}", day_words(night.date), frame.short(minimum), frame.short(equivalent)),
                brief: format!("{}: as {}", day_words(night.date), frame.short(equivalent)),
                anchor,
                shift,
            })
        });
        let mut frosts: Vec<(&PlantDay, Celsius)> = days.iter().filter_map(|day| Some((day, day.equivalent()?))).collect();
        frosts.sort_by(|a, b| a.1.degrees().total_cmp(&b.1.degrees()));
        let table = frosts
            .into_iter()
            .take(NIGHTS_LISTED)
            .filter_map(|(day, equivalent)| {
                Some(FrostNight {
                    date: day.date.strftime("%-d %B %Y").to_string(),
                    minimum: frame.temperature(day.minimum?),
                    hardiness: frame.temperature(day.hardiness),
                    equivalent: frame.temperature(equivalent),
                })
            })
            .collect();
        let description = worst.map_or_else(String::new, |(night, equivalent)| {
            format!(
                "In the winter of {winter} the hardest night was {}: {} while the plant stood {} short of full hardiness, which counts as {}.",
                night.date.strftime("%-d %B %Y"),
                night.minimum.map_or_else(String::new, |t| frame.temperature(t)),
                frame.difference(night.deficit),
                frame.temperature(equivalent)
            )
        });
        Some(Self {
            winter,
            hardiness,
            minima,
            months,
            hardest,
            field,
            bottom: HEAD as i32 + field,
            height: HEAD as i32 + field + 40,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            table,
            description,
        })
    }
}

/// `18 Feb`.
fn day_words(date: jiff::civil::Date) -> String {
    date.strftime("%-d %b").to_string()
}
