//! One report on the curve of its cultivar: what the model expects of that plant along the temperature axis, others of its kind at the cold they
//! met, and the plant itself.

use std::fmt::Write;

use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::charts::axis::{Beyond, TemperatureAxis, Tick};

/// Points along a curve.
const STEPS: usize = 70;
/// Height of the areas, px.
const STACK: usize = 110;
/// Height of a lane, px: a line of words over the marks.
const LANE: usize = 36;
/// Height of the line of words, px.
const WORDS: usize = 15;
/// Top of the areas, px: the words of the plant stand above.
const TOP: usize = 22;
/// How much of the axis there is at least on either side of the plant.
const ROOM: TemperatureDelta = TemperatureDelta::literal(7.5);

/// The middle of the range in which figs in the open are harmed, °C. DESIGN.
const HARM: Celsius = Celsius::literal(-12.5);

/// A lane of reports of one level.
pub struct Lane {
    /// Words of the level.
    pub words: &'static str,
    /// Class of its colour.
    pub class: &'static str,
    /// Top edge, px.
    pub top: usize,
    /// Line of its words, px.
    pub words_at: usize,
}

/// The picture.
pub struct OwnWinter {
    /// Class of colour and path of each area, unharmed first; the box of the path is 1000 × 100.
    pub areas: Vec<(&'static str, String)>,
    /// Top and height of the areas, px.
    pub stack: (usize, usize),
    /// Lanes beneath.
    pub lanes: Vec<Lane>,
    /// Height of a lane, px.
    pub lane_height: usize,
    /// Other reports: place, height, and where their temperature lies beyond the axis.
    pub others: Vec<(String, usize, Option<Beyond>)>,
    /// The plant: place, and height where something is known of what happened.
    pub own: (String, Option<usize>),
    /// Where its own temperature lies beyond the axis.
    pub own_beyond: Option<Beyond>,
    /// Side on which its words stand, so that they stay inside.
    pub anchor: &'static str,
    /// Where the axis lies, px.
    pub axis_top: usize,
    /// Height of the whole, px.
    pub height: usize,
    /// Marks.
    pub ticks_c: Vec<Tick>,
    /// Marks.
    pub ticks_f: Vec<Tick>,
    /// In words.
    pub description: String,
}

/// A report on the picture: coldest met, and the greatest damage that its answers leave possible.
pub type Reported = (Celsius, DamageLevel);

/// Height of the marks of a lane, px: a report that leaves several levels possible stands in that of the worst.
fn middle(worst: DamageLevel) -> usize {
    TOP + STACK + 6 + worst.index() * LANE + WORDS + (LANE - WORDS) / 2
}

impl OwnWinter {
    /// `others`: those drawn, and how many there are; `chances` gives the chance of each level at a coldest night; `words` writes a temperature.
    pub fn new(
        met: Celsius,
        damage: Option<(DamageLevel, DamageLevel)>,
        (others, count): (&[Reported], usize),
        chances: &dyn Fn(Celsius) -> [f64; 5],
        words: &dyn Fn(Celsius) -> String,
    ) -> Self {
        // A temperature that no picture makes room for stands beyond the range in which figs are harmed.
        let about = if TemperatureAxis::makes_room_for(met) { met } else { HARM };
        let low = others.iter().map(|(c, ..)| *c).fold(about - ROOM, Celsius::min);
        let high = others.iter().map(|(c, ..)| *c).fold(about + ROOM, Celsius::max);
        let axis = TemperatureAxis::of_reports(low, high);
        let lanes_top = TOP + STACK + 6;
        let lane = |(nth, level): (usize, &DamageLevel)| {
            let (words, class) = (level.label(), level.word());
            let top = lanes_top + nth * LANE;
            Lane { words, class, top, words_at: top + WORDS - 2 }
        };
        let mut taken = [0usize; 5];
        let placed = others.iter().map(|(c, most)| {
            // Neighbours step up and down so that equal temperatures stay countable.
            taken[most.index()] += 1;
            (axis.x(*c), middle(*most) + 5 - 5 * (taken[most.index()] % 3), axis.beyond(*c))
        });
        let axis_top = lanes_top + DamageLevel::ALL.len() * LANE + 4;
        Self {
            areas: areas(chances, axis),
            stack: (TOP, STACK),
            others: placed.collect(),
            own: (axis.x(met), damage.map(|(_, most)| middle(most))),
            own_beyond: axis.beyond(met),
            anchor: match axis.place(met) {
                place if place < 25.0 => "start",
                place if place > 75.0 => "end",
                _ => "middle",
            },
            lanes: DamageLevel::ALL.iter().enumerate().map(lane).collect(),
            lane_height: LANE,
            axis_top,
            height: axis_top + 42,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            description: format!(
                "What the model expects of this plant at each coldest night; it met {}. {} other reports of its kind lie in the lanes of what happened.",
                words(met),
                count
            ),
        }
    }
}

/// Areas from unharmed (top) to dead (bottom), each drawn over the ones before, so that only upper edges matter.
fn areas(chances: &dyn Fn(Celsius) -> [f64; 5], axis: TemperatureAxis) -> Vec<(&'static str, String)> {
    let mut paths = DamageLevel::ALL.map(|level| (level.word(), String::from("M0 100")));
    let (low, width) = (axis.low(), axis.high() - axis.low());
    for i in 0..=STEPS {
        let share = i as f64 / STEPS as f64;
        let mut left = 1.0;
        for ((_, path), chance) in paths.iter_mut().zip(chances(low + width * share)) {
            // Writing to a string cannot fail.
            let _ = write!(path, "L{:.0} {:.1}", 1000.0 * share, 100.0 * (1.0 - left));
            left -= chance;
        }
    }
    paths.into_iter().map(|(class, path)| (class, path + "L1000 100Z")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use DamageLevel::{Tips, ToGround, Wood};

    #[test]
    fn a_plant_whose_temperature_is_hardly_possible_stands_at_the_edge_of_where_figs_are_harmed() {
        let at = Celsius::literal;
        let picture = OwnWinter::new(at(40.0), Some((Tips, Tips)), (&[], 0), &|_| [1.0, 0.0, 0.0, 0.0, 0.0], &|c| c.to_string());
        assert_eq!((picture.own.0.as_str(), picture.own_beyond), ("100.00%", Some(Beyond::Warmer)));
        assert!(picture.ticks_c.iter().any(|tick| tick.label == "−10 °C"));
    }

    #[test]
    fn the_plant_lies_at_its_cold_in_the_lane_of_what_happened() {
        let at = Celsius::literal;
        let chances = |c: Celsius| if c < at(-10.0) { [0.0, 0.0, 0.0, 1.0, 0.0] } else { [1.0, 0.0, 0.0, 0.0, 0.0] };
        let picture = OwnWinter::new(at(-10.0), Some((Wood, ToGround)), (&[(at(-12.0), Tips)], 1), &chances, &|c| c.to_string());
        // From −17.5 and −2.5 °C to whole steps: −20 to 0 °C.
        assert_eq!(picture.own.0, "50.00%");
        assert_eq!(picture.others[0].0, "40.00%");
        let lanes: Vec<usize> = picture.lanes.iter().map(|lane| lane.top).collect();
        assert!((lanes[1]..lanes[2]).contains(&picture.others[0].1));
        assert!(picture.own.1.is_some_and(|y| (lanes[3]..lanes[4]).contains(&y)), "in the lane of the worst that is possible");
        // No mark of the five lanes reaches the words of its lane: radius 3.5 and 5 up or down.
        assert!(picture.lanes.iter().all(|lane| lane.words_at + 9 <= lane.top + WORDS + (LANE - WORDS) / 2 + 1));
        // Killed to the ground is certain on the cold side: its area reaches the top there and none of it on the warm side.
        let (class, ground) = &picture.areas[3];
        assert!(*class == "to_ground" && ground.starts_with("M0 100L0 0.0") && ground.ends_with("L1000 100.0L1000 100Z"), "{ground}");
    }
}
