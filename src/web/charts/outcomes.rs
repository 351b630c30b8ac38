//! What happened at which cold: one lane per damage level, a point per report, on the one temperature axis.

use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::charts::axis::{TemperatureAxis, Tick, percent};

/// Height of a lane, px.
const LANE: usize = 34;

/// A lane of points.
pub struct Lane {
    /// Words of the level.
    pub words: &'static str,
    /// Class of its colour.
    pub class: &'static str,
    /// Top edge, px.
    pub top: usize,
    /// Middle, px.
    pub middle: usize,
    /// Points: place on the axis and height, px.
    pub points: Vec<(String, usize)>,
}

/// The picture.
pub struct Outcomes {
    /// Lanes, from unharmed to dead.
    pub lanes: Vec<Lane>,
    /// Where the axis lies, px.
    pub axis_top: usize,
    /// Height of the whole, px.
    pub height: usize,
    /// Marks.
    pub ticks_c: Vec<Tick>,
    /// Marks.
    pub ticks_f: Vec<Tick>,
    /// In words, for those who do not see it.
    pub description: String,
    /// Counts by level, in order, for the table.
    pub counts: Vec<(&'static str, usize, String)>,
}

impl Outcomes {
    /// From (coldest, highest possible level) of each report; `words` writes a temperature.
    pub fn new(points: &[(Celsius, DamageLevel)], words: &dyn Fn(Celsius) -> String) -> Option<Self> {
        let low = points.iter().map(|(c, _)| *c).reduce(Celsius::min)?;
        let high = points.iter().map(|(c, _)| *c).reduce(Celsius::max)?;
        // Room at both ends, so that no point lies on the edge or under the words of its lane.
        let room = TemperatureDelta::literal(2.5);
        let axis = TemperatureAxis::between(low - room, high + room);
        let (mut lanes, mut counts) = (Vec::new(), Vec::new());
        for (nth, &kind) in DamageLevel::ALL.iter().enumerate() {
            let (name, class) = (kind.label(), kind.word());
            let middle = nth * LANE + LANE / 2 + 4;
            let mut own: Vec<Celsius> = points.iter().filter(|(_, level)| *level == kind).map(|(c, _)| *c).collect();
            own.sort_by(|a, b| a.degrees().total_cmp(&b.degrees()));
            // Neighbours step up and down so that equal temperatures stay countable.
            let placed = own.iter().enumerate().map(|(i, c)| (percent(axis.place(*c)), middle + 6 - (i % 3) * 6)).collect();
            let range = match (own.first(), own.last()) {
                (Some(first), Some(last)) => format!("{} to {}", words(*first), words(*last)),
                _ => "none".to_owned(),
            };
            counts.push((name, own.len(), range));
            lanes.push(Lane { words: name, class, top: nth * LANE + 4, middle, points: placed });
        }
        let axis_top = DamageLevel::ALL.len() * LANE + 8;
        let told: Vec<String> = counts.iter().filter(|(_, n, _)| *n > 0).map(|(name, n, range)| format!("{name}: {n} ({range})")).collect();
        Some(Self {
            lanes,
            axis_top,
            height: axis_top + 42,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            description: format!("Reports by the coldest temperature met: {}.", told.join("; ")),
            counts,
        })
    }
}
