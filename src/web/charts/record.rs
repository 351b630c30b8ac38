//! Pictures of a daily record along the page's one temperature axis; time, or rarity, runs down the page, so that they read on a phone.

use std::fmt::Write as _;

use crate::science::climate::extremes::Extremes;
use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::winters::Winter;
use crate::science::climate::zone::HalfZone;
use crate::units::Celsius;
use crate::web::charts::axis::{TemperatureAxis, Tick, percent};
use crate::web::frame::Frame;

/// Height that the years share, px; each gets between the two limits.
const YEARS_HEIGHT: f64 = 460.0;
const YEAR_PX: (f64, f64) = (6.0, 18.0);
/// Height of the curve of rarity, px.
const RARITY_HEIGHT: f64 = 280.0;
/// Room above both for words, px.
const HEAD: f64 = 26.0;
/// Room below both for the two lines of the axis, px.
const AXIS_PX: i32 = 40;
/// Narrowest stripe that holds the name of its half-zone, % of the width.
const NAMED_STRIPE: f64 = 4.0;

/// One winter as a row.
#[derive(Debug, Clone)]
pub struct Row {
    /// Height of its line, px.
    pub y: String,
    /// Its coldest night, % of the width.
    pub x: String,
    /// Its equivalent, where there is one.
    pub equivalent: Option<String>,
    /// Its label, on every fifth or tenth.
    pub label: Option<i16>,
}

/// A half-zone behind the years.
#[derive(Debug, Clone)]
pub struct Stripe {
    /// Left edge, % of the width.
    pub x: String,
    /// Width, %.
    pub width: String,
    /// Middle, %.
    pub middle: String,
    /// Its name, where it fits.
    pub name: Option<String>,
    /// Every second one is shaded.
    pub shaded: bool,
}

/// Winters down the years.
#[derive(Debug, Clone)]
pub struct Years {
    /// One row a winter.
    pub rows: Vec<Row>,
    /// Half-zones.
    pub stripes: Vec<Stripe>,
    /// The middle of winters and one in ten, % of the width, where there is a distribution.
    pub marks: Vec<String>,
    /// Top of the field, px.
    pub top: i32,
    /// Bottom of the field, px.
    pub bottom: i32,
    /// Height of the whole picture, px.
    pub height: i32,
    /// Where the labels of the years stand: place and anchor.
    pub label_x: &'static str,
    /// See above.
    pub label_anchor: &'static str,
    /// The middle of winters as the trend moves it, as the ends of a line; `None` where no trend counts.
    pub moving: Option<[String; 4]>,
    /// Marks of the axis.
    pub ticks_c: Vec<Tick>,
    /// Marks of the second line.
    pub ticks_f: Vec<Tick>,
    /// The picture in words.
    pub description: String,
}

fn px(value: f64) -> String {
    format!("{value:.1}")
}

impl Years {
    /// Draws the used winters of a climate.
    pub fn new(climate: &SiteClimate, axis: TemperatureAxis, frame: &Frame) -> Self {
        let used: Vec<&Winter> = climate.winters.iter().filter(|w| w.used && w.minimum_c.is_some()).collect();
        let first = used.first().map_or(0, |w| w.winter);
        let last = used.last().map_or(first, |w| w.winter);
        let step = (YEARS_HEIGHT / (f64::from(last - first) + 1.0)).clamp(YEAR_PX.0, YEAR_PX.1);
        let y = |year: f64| HEAD + step * (year - f64::from(first) + 0.5);
        let every = if step >= 12.0 { 5 } else { 10 };
        let rows: Vec<Row> = used
            .iter()
            .filter_map(|w| {
                Some(Row {
                    y: px(y(f64::from(w.winter))),
                    x: axis.x(w.minimum_c?),
                    equivalent: w.equivalent_minimum_c.map(|t| axis.x(t)),
                    label: (w.winter % every == 0).then_some(w.winter),
                })
            })
            .collect();
        let middle = climate.yearly_minimum.mean_c;
        let (label_x, label_anchor) = if axis.place(Celsius::literal(middle)) > 50.0 { ("0", "start") } else { ("100%", "end") };
        let bottom = (y(f64::from(last)) + step / 2.0).round() as i32;
        let moving = climate.yearly_minimum.trend.as_ref().filter(|trend| trend.counts).and_then(|trend| trend.gev_location).map(|fit| {
            let at =
                |year: i16| axis.x(Celsius::literal((-fit.at(f64::from(year - first)).quantile(0.5)).clamp(Celsius::MIN, Celsius::MAX)));
            [at(first), px(y(f64::from(first))), at(last), px(y(f64::from(last)))]
        });
        let coldest = used.iter().filter_map(|w| Some((w.minimum_c?, w.winter))).min_by(|a, b| a.0.degrees().total_cmp(&b.0.degrees()));
        let description = coldest.map_or_else(String::new, |(t, year)| {
            format!(
                "The coldest night of each of {} winters from {first} to {last}; the coldest of all, in {year}, reached {}.",
                used.len(),
                frame.temperature(t)
            )
        });
        Self {
            rows,
            stripes: stripes(axis),
            marks: climate.winter_minimum().map_or_else(Vec::new, |w| [0.5, 0.1].map(|p| axis.x(w.quantile(p))).into()),
            top: HEAD as i32,
            bottom,
            height: bottom + AXIS_PX,
            label_x,
            label_anchor,
            moving,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            description,
        }
    }

    /// Height of the field, px.
    pub fn field(&self) -> i32 {
        self.bottom - self.top
    }
}

/// Half-zones that show on the axis.
fn stripes(axis: TemperatureAxis) -> Vec<Stripe> {
    HalfZone::all()
        .enumerate()
        .filter_map(|(i, zone)| {
            let band = zone.band();
            let (low, high) = (axis.place(band.low), axis.place(band.high));
            (high > low).then(|| Stripe {
                x: percent(low),
                width: percent(high - low),
                middle: percent(f64::midpoint(low, high)),
                name: (high - low >= NAMED_STRIPE).then(|| zone.to_string()),
                shaded: i % 2 == 0,
            })
        })
        .collect()
}

/// A return period on the curve.
#[derive(Debug, Clone)]
pub struct Rarity {
    /// Height of its line, px.
    pub y: String,
    /// Its words.
    pub words: String,
    /// Its words where there is little room.
    pub brief: String,
    /// Place of its level, %.
    pub x: String,
}

/// How cold it gets once in so many years, with the interval.
#[derive(Debug, Clone)]
pub struct Rarities {
    /// The periods.
    pub lines: Vec<Rarity>,
    /// The curve, in a box 1000 wide and as high as the field.
    pub curve: String,
    /// The interval, in the same box; `None` where the data do not bound it.
    pub band: Option<String>,
    /// The winters themselves: place and height.
    pub winters: Vec<[String; 2]>,
    /// Top and bottom of the field, px, its height, and that of the picture.
    pub top: i32,
    /// See above.
    pub bottom: i32,
    /// See above.
    pub field: i32,
    /// See above.
    pub height: i32,
    /// Marks of the axis.
    pub ticks_c: Vec<Tick>,
    /// Marks of the second line.
    pub ticks_f: Vec<Tick>,
    /// The picture in words.
    pub description: String,
}

impl Rarities {
    /// Draws the levels of a distribution with the winters behind it; `None` where there is no distribution.
    pub fn new(extremes: &Extremes, minima: &[Celsius], axis: TemperatureAxis, frame: &Frame) -> Option<Self> {
        let levels = &extremes.return_levels;
        let (first, last) = (levels.first()?, levels.last()?);
        // Rare is far down: the logarithm of the period gives the height.
        let scale = (RARITY_HEIGHT - 24.0) / (f64::from(last.years) / f64::from(first.years)).ln();
        let y = |years: f64| 12.0 + scale * (years / f64::from(first.years)).ln();
        let x = |t: f64| 10.0 * axis.place(Celsius::literal(t.clamp(Celsius::MIN, Celsius::MAX)));
        let lines = levels
            .iter()
            .map(|level| Rarity {
                y: px(HEAD + y(f64::from(level.years))),
                words: if level.years == 2 { "every other winter".to_owned() } else { format!("once in {} winters", level.years) },
                brief: format!("1 in {}", level.years),
                x: percent(x(level.level_c) / 10.0),
            })
            .collect();
        let path = |points: &[(f64, f64)]| {
            points.iter().enumerate().fold(String::new(), |mut d, (i, (x, y))| {
                let _ = write!(d, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
                d
            })
        };
        let curve = path(&levels.iter().map(|l| (x(l.level_c), y(f64::from(l.years)))).collect::<Vec<_>>());
        let cold: Option<Vec<(f64, f64)>> = levels.iter().map(|l| Some((x(l.low_c?), y(f64::from(l.years))))).collect();
        let warm: Option<Vec<(f64, f64)>> = levels.iter().rev().map(|l| Some((x(l.high_c?), y(f64::from(l.years))))).collect();
        let band = cold.zip(warm).map(|(mut cold, warm)| {
            cold.extend(warm);
            path(&cold) + "Z"
        });
        let mut sorted: Vec<Celsius> = minima.to_vec();
        sorted.sort_by(|a, b| a.degrees().total_cmp(&b.degrees()));
        // Plotting position of the r-th coldest of n: once in (n + 1)/r winters (Weibull).
        let winters = sorted
            .iter()
            .enumerate()
            .map(|(i, t)| ((minima.len() as f64 + 1.0) / (i as f64 + 1.0), *t))
            .filter(|(years, _)| (f64::from(first.years)..=f64::from(last.years)).contains(years))
            .map(|(years, t)| [axis.x(t), px(HEAD + y(years))])
            .collect();
        let tenth = levels.iter().find(|l| l.years == 10).unwrap_or(first);
        let interval = match (tenth.low_c, tenth.high_c) {
            (Some(low), Some(high)) => {
                let t = |c: f64| frame.temperature(Celsius::literal(c));
                format!(" (95 % interval {} to {})", t(low), t(high))
            }
            _ => String::new(),
        };
        let description = format!(
            "Once in {} winters the coldest night falls below {}{interval}; rarer is further down and colder.",
            tenth.years,
            frame.temperature(Celsius::literal(tenth.level_c))
        );
        Some(Self {
            lines,
            curve,
            band,
            winters,
            top: HEAD as i32,
            bottom: (HEAD + RARITY_HEIGHT) as i32,
            field: RARITY_HEIGHT as i32,
            height: (HEAD + RARITY_HEIGHT) as i32 + AXIS_PX,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            description,
        })
    }
}
