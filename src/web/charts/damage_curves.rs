//! Chance of each level of damage along the temperature axis, as stacked areas: with the reports, and before them; a point per report.

use std::fmt::Write;

use crate::model::trained::Point;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::expected_logistic;
use crate::units::Celsius;
use crate::web::charts::axis::{TemperatureAxis, Tick};

/// Points along a curve.
const STEPS: usize = 70;
/// Height of a stack, px.
const STACK: usize = 96;
/// Height of a lane of points, px.
const LANE: usize = 18;
/// Most points drawn; the table counts all of them.
const MOST_POINTS: usize = 400;
/// More than this are drawn as thin strokes that grow dark where they are many. DESIGN: circles would cover each other on a phone.
const SINGLE: usize = 60;
/// Temperatures of the table, °C.
const TABLE_STEP_C: f64 = 3.0;

/// A stack of areas.
pub struct Stack {
    /// What it shows.
    pub words: String,
    /// Top of its words, px.
    pub words_at: usize,
    /// Top of the areas, px.
    pub top: usize,
    /// Class of colour and path of each area, unharmed first; the box of the path is 1000 × 100.
    pub areas: Vec<(&'static str, String)>,
}

/// A report.
pub struct Dot {
    /// Place on the axis.
    pub x: String,
    /// Height, px.
    pub y: usize,
}

/// A lane of reports of one level.
pub struct Lane {
    /// Class of its colour.
    pub class: &'static str,
    /// Top edge, px.
    pub top: usize,
    /// Height, px.
    pub height: usize,
}

/// A line of the table: temperature, chance of each level now, and before.
pub struct Line {
    /// Temperature in words.
    pub at: String,
    /// Chances in per cent now.
    pub now: [String; 5],
    /// Before any report.
    pub before: [String; 5],
}

/// The picture.
pub struct DamageCurves {
    /// With reports, then before.
    pub stacks: Vec<Stack>,
    /// Lanes beneath.
    pub lanes: Vec<Lane>,
    /// Reports.
    pub dots: Vec<Dot>,
    /// Whether they are many, and drawn as strokes.
    pub dense: bool,
    /// Height of an area, px.
    pub stack_height: usize,
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
    /// The numbers.
    pub table: Vec<Line>,
    /// Reports not drawn for want of room.
    pub not_drawn: usize,
}

/// What is believed at one moment.
#[derive(Clone, Copy)]
pub struct Believed<'a> {
    /// Hardiness.
    pub belief: &'a HardinessBelief,
    /// Slope and gaps.
    pub scale: &'a DamageScale,
}

impl Believed<'_> {
    /// P(y ≥ level) at an equivalent midwinter minimum, the doubt about h integrated.
    fn at_least(&self, level: DamageLevel, exposure_c: f64) -> f64 {
        let Some(offset) = self.scale.offset_k(level) else { return 1.0 };
        let beta = self.scale.beta;
        self.belief
            .components()
            .iter()
            .map(|c| c.weight * expected_logistic(beta * (c.h.mean + offset - exposure_c), beta * beta * c.h.variance()))
            .sum()
    }

    fn chances(&self, exposure_c: f64) -> [f64; 5] {
        let mut at_least = DamageLevel::ALL.map(|level| self.at_least(level, exposure_c));
        for k in 1..at_least.len() {
            at_least[k] = at_least[k].min(at_least[k - 1]);
        }
        std::array::from_fn(|k| at_least[k] - at_least.get(k + 1).copied().unwrap_or(0.0))
    }
}

impl DamageCurves {
    /// Draws what is believed now over what was believed before, with the reports between.
    pub fn new(
        now: Believed<'_>,
        before: Believed<'_>,
        points: &[Point],
        axis: TemperatureAxis,
        words: &dyn Fn(Celsius) -> String,
    ) -> Self {
        let reports: usize = points.iter().map(|point| point.reports).sum();
        let lanes_top = 20 + STACK + 4;
        let lanes: Vec<Lane> = DamageLevel::ALL
            .iter()
            .enumerate()
            .map(|(nth, level)| Lane { class: level.word(), top: lanes_top + nth * LANE, height: LANE })
            .collect();
        let mut taken = [0usize; 5];
        let dots = points
            .iter()
            .take(MOST_POINTS)
            .map(|p| {
                // A range of levels lies between its lanes.
                let (low, high) = (p.damage.low().index(), p.damage.high().index());
                let middle = lanes_top + (low + high) * LANE / 2 + LANE / 2;
                taken[low] += 1;
                Dot { x: axis.x(clamped(p.exposure.mean)), y: middle + 3 - 3 * (taken[low] % 3) }
            })
            .collect();
        let second = lanes_top + lanes.len() * LANE + 12;
        let axis_top = second + 20 + STACK;
        let told = match reports {
            1 => "With 1 report".to_owned(),
            n => format!("With {n} reports"),
        };
        let stack = |words: String, words_at: usize, of: Believed<'_>| Stack { words, words_at, top: words_at + 6, areas: areas(of, axis) };
        let t50 = |of: Believed<'_>| words(of.belief.mean());
        Self {
            stacks: vec![stack(told, 14, now), stack("Before any report".to_owned(), second + 14, before)],
            lanes,
            dots,
            dense: reports > SINGLE,
            stack_height: STACK,
            axis_top,
            height: axis_top + 42,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            description: format!(
                "Chance of each level of damage by the coldest night. Half are killed to the ground at {} now, {} before any report.",
                t50(now),
                t50(before)
            ),
            table: table(now, before, axis, words),
            not_drawn: points.iter().skip(MOST_POINTS).map(|point| point.reports).sum(),
        }
    }
}

fn clamped(c: f64) -> Celsius {
    Celsius::literal(c.clamp(Celsius::MIN, Celsius::MAX))
}

fn percent_words(p: f64) -> String {
    if p < 0.005 { "0".to_owned() } else { format!("{:.0}", 100.0 * p) }
}

/// Areas from unharmed (top) to dead (bottom), each drawn over the ones before, so that only upper edges matter.
fn areas(of: Believed<'_>, axis: TemperatureAxis) -> Vec<(&'static str, String)> {
    let (low, high) = (axis.low().degrees(), axis.high().degrees());
    DamageLevel::ALL
        .iter()
        .map(|&level| {
            let mut path = String::from("M0 100");
            for i in 0..=STEPS {
                let share = i as f64 / STEPS as f64;
                let y = 100.0 * (1.0 - of.at_least(level, low + share * (high - low)));
                // Writing to a string cannot fail.
                let _ = write!(path, "L{:.0} {:.1}", 1000.0 * share, if y.is_finite() { y } else { 100.0 });
            }
            path.push_str("L1000 100Z");
            (level.word(), path)
        })
        .collect()
}

fn table(now: Believed<'_>, before: Believed<'_>, axis: TemperatureAxis, words: &dyn Fn(Celsius) -> String) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut at = (axis.low().degrees() / TABLE_STEP_C).ceil() * TABLE_STEP_C;
    while at <= axis.high().degrees() {
        lines.push(Line {
            at: words(Celsius::literal(at)),
            now: now.chances(at).map(percent_words),
            before: before.chances(at).map(percent_words),
        });
        at += TABLE_STEP_C;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::hardiness::observation::DamageRange;
    use crate::science::numeric::Gaussian;
    use crate::units::TemperatureDelta;

    #[test]
    fn chances_sum_to_one_and_a_report_lies_at_its_temperature() {
        let scale = DamageScale { beta: 0.8, gap_tips_k: 6.0, gap_wood_k: 3.0, gap_dead_k: 11.0 };
        let narrow = HardinessBelief::normal(Celsius::literal(-15.0), TemperatureDelta::literal(0.5));
        let wide = HardinessBelief::normal(Celsius::literal(-14.0), TemperatureDelta::literal(3.0));
        let (now, before) = (Believed { belief: &narrow, scale: &scale }, Believed { belief: &wide, scale: &scale });
        assert!((now.chances(-17.0).iter().sum::<f64>() - 1.0).abs() < 1e-12);
        // At its own T50 half are killed to the ground or worse.
        assert!((now.at_least(DamageLevel::ToGround, -15.0) - 0.5).abs() < 1e-6);
        let axis = TemperatureAxis::between(Celsius::literal(-30.0), Celsius::literal(0.0));
        let point = Point { exposure: Gaussian::new(-15.0, 0.5), damage: DamageRange::exactly(DamageLevel::Wood), reports: 1 };
        let picture = DamageCurves::new(now, before, &[point], axis, &|t| t.to_string());
        assert_eq!(picture.dots[0].x, "50.00%");
        assert!(picture.stacks.iter().flat_map(|s| &s.areas).all(|(_, path)| !path.contains("NaN")));
        assert!(picture.description.contains("−15 °C now, −14 °C before any report"), "{}", picture.description);
    }
}
