//! The ladder: along the temperature axis, the damage that half of plants have reached; the bar beneath is the doubt about ground-kill.

use std::fmt::Write as _;

use crate::science::hardiness::level::DamageLevel;
use crate::science::shortlist::Thresholds;
use crate::units::Celsius;
use crate::web::charts::axis::{Beyond, TemperatureAxis, percent};
use crate::web::charts::winters::Winters;
use crate::web::frame::Frame;

/// A coloured stretch.
#[derive(Debug, Clone)]
pub struct Rung {
    /// Left end, % of the width.
    pub x: String,
    /// Length, % of the width.
    pub width: String,
    /// Middle, % of the width.
    pub middle: String,
    /// Class of its colour.
    pub class: &'static str,
    /// Its words.
    pub words: &'static str,
    /// Whether the words fit on a wide screen, and on a narrow one.
    pub fits_wide: bool,
    /// See above.
    pub fits_narrow: bool,
    /// Whether its words are light on dark.
    pub dark: bool,
}

/// The strip of one cultivar.
#[derive(Debug, Clone)]
pub struct Ladder {
    /// From cold to warm.
    pub rungs: Vec<Rung>,
    /// Boundaries between rungs, % of the width.
    pub parts: Vec<String>,
    /// Ends of the bar of doubt, % of the width.
    pub doubt: [String; 2],
    /// The site's marks, % of the width.
    pub marks: Vec<String>,
    /// Reports beneath the strip, from cold to warm.
    pub reports: Vec<ReportMark>,
    /// The strip in words.
    pub description: String,
}

/// Reports of one outcome at one temperature.
#[derive(Debug, Clone)]
pub struct ReportMark {
    /// Place, % of the width.
    pub x: String,
    /// Class of its colour.
    pub class: &'static str,
    /// Height, px: taller for more reports.
    pub height: usize,
    /// Where the temperature lies beyond the axis.
    pub beyond: Option<Beyond>,
}

/// Height of the mark of one report and of many, px.
const MARK_PX: (usize, usize) = (6, 14);

/// Width of a level's words in points of a 1000-point strip on a wide screen, measured in the text face of the page.
const fn width_of_words(level: DamageLevel) -> f64 {
    match level {
        DamageLevel::Unharmed => 8.3,
        DamageLevel::Tips => 7.5,
        DamageLevel::Wood => 8.5,
        DamageLevel::ToGround => 11.5,
        DamageLevel::Dead => 5.0,
    }
}

/// How much wider words are, relative to the strip, on a phone.
const NARROW: f64 = 2.45;

impl Ladder {
    /// Draws the thresholds of a cultivar.
    pub fn new(thresholds: &Thresholds, axis: TemperatureAxis, winters: &Winters, frame: &Frame) -> Self {
        Self::with_marks(thresholds, axis, winters.marks.iter().map(|m| m.x.clone()).collect(), frame)
    }

    /// Draws the thresholds with the given marks.
    pub fn with_marks(thresholds: &Thresholds, axis: TemperatureAxis, marks: Vec<String>, frame: &Frame) -> Self {
        let [tips, wood, ground, dead] = thresholds.t50;
        let edge = |t: Celsius| axis.place(t);
        // From cold to warm; thresholds are ordered, but mulch can put death beyond the axis.
        let edges = [0.0, edge(dead.min(ground)), edge(ground), edge(wood), edge(tips), 100.0];
        let levels = [DamageLevel::Dead, DamageLevel::ToGround, DamageLevel::Wood, DamageLevel::Tips, DamageLevel::Unharmed];
        let rungs = levels
            .into_iter()
            .zip(edges.windows(2))
            .filter_map(|(level, ends)| match ends {
                &[from, to] if to - from > 0.05 => {
                    let (class, words, needs) = (level.word(), level.label(), width_of_words(level));
                    let width = to - from;
                    Some(Rung {
                        x: percent(from),
                        width: percent(width),
                        middle: percent(from + 0.5 * width),
                        class,
                        words,
                        fits_wide: width >= needs,
                        fits_narrow: width >= needs * NARROW,
                        dark: matches!(level, DamageLevel::ToGround | DamageLevel::Dead),
                    })
                }
                _ => None,
            })
            .collect();
        let parts = [dead, ground, wood, tips].into_iter().map(edge).filter(|x| (0.05..99.95).contains(x)).map(percent).collect();
        let doubt = thresholds.to_ground_interval;
        let description = format!(
            "Half of plants lose their tips at {}, wood at {}, and are killed to the ground at {} (90 % range {}).",
            frame.temperature(tips),
            frame.temperature(wood),
            frame.temperature(ground),
            frame.range(doubt)
        );
        Self { rungs, parts, doubt: [axis.x(doubt.low), axis.x(doubt.high)], marks, reports: Vec::new(), description }
    }

    /// The same strip with reports beneath: the outside temperature, what happened, how many.
    #[must_use]
    pub fn with_reports(mut self, reports: impl IntoIterator<Item = (Celsius, DamageLevel, usize)>, axis: TemperatureAxis) -> Self {
        let mut told = [0; DamageLevel::ALL.len()];
        for (at, level, count) in reports {
            if let Some(sum) = told.get_mut(level.index()) {
                *sum += count;
            }
            let height = (MARK_PX.0 + 2 * count.saturating_sub(1)).min(MARK_PX.1);
            self.reports.push(ReportMark { x: axis.x(at), class: level.word(), height, beyond: axis.beyond(at) });
        }
        let words: Vec<String> =
            DamageLevel::ALL.iter().zip(told).filter(|(_, n)| *n > 0).map(|(level, n)| format!("{} {n}", level.label())).collect();
        if !words.is_empty() {
            let _ = write!(self.description, " Reported winters: {}.", words.join(", "));
        }
        self
    }

    /// Height that the strip needs beneath its bar of doubt, px.
    pub fn room(&self) -> usize {
        if self.reports.is_empty() { 0 } else { MARK_PX.1 + 3 }
    }
}
