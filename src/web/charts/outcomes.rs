//! What happened at which cold: one lane per damage level on the one temperature axis; a point for each report, or bars that count where there are many.

use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, TemperatureDelta, counted};
use crate::web::charts::axis::{Beyond, TemperatureAxis, Tick, percent};

/// Height of a lane, px: a line of words over the marks.
const LANE: usize = 46;
/// Height of the line of words, px.
const WORDS: usize = 18;
/// Tallest bar, px.
const BAR: usize = 24;
/// More reports than this are drawn as bars that count them: single marks would cover each other on a phone. DESIGN.
const SINGLE: usize = 60;
/// Bars over the whole width: some eight pixels each on a phone.
const BARS: usize = 40;

/// A bar of reports at about the same temperature.
pub struct Bar {
    /// Left end, % of the width.
    pub x: String,
    /// Length, % of the width.
    pub width: String,
    /// Top edge, px.
    pub y: usize,
    /// Height, px.
    pub height: usize,
}

/// A report of its own.
pub struct Point {
    /// Place, % of the width.
    pub x: String,
    /// Height, px.
    pub y: usize,
    /// Where its temperature lies beyond the axis.
    pub beyond: Option<Beyond>,
}

/// A lane of reports.
pub struct Lane {
    /// Words of the level.
    pub words: &'static str,
    /// Class of its colour.
    pub class: &'static str,
    /// Top edge, px.
    pub top: usize,
    /// Base line of the words, px.
    pub words_at: usize,
    /// How many reports it holds, in words.
    pub count: String,
    /// Single reports; empty where there are many, but for those beyond the axis.
    pub points: Vec<Point>,
    /// Many reports; empty where there are few.
    pub bars: Vec<Bar>,
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
    /// Most reports that a bar stands for; `None` where each is a mark of its own.
    pub tallest: Option<usize>,
    /// Reports that lie beyond the picture, in words.
    pub beyond: Option<String>,
    /// In words, for those who do not see it.
    pub description: String,
    /// What is counted.
    pub noun: Noun,
    /// Counts by level, in order, for the table.
    pub counts: Vec<(&'static str, usize, String)>,
}

/// What is counted, in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Noun {
    /// One of them.
    pub one: &'static str,
    /// Several.
    pub many: &'static str,
    /// The same at the beginning of a sentence.
    pub title: &'static str,
}

/// Reports of winters.
pub const REPORTS: Noun = Noun { one: "report", many: "reports", title: "Reports" };
/// Answers to a question.
pub const ANSWERS: Noun = Noun { one: "answer", many: "answers", title: "Answers" };

impl Outcomes {
    /// From (coldest, highest possible level, how many reports or answers, by their noun); `words` writes a temperature.
    pub fn new(points: &[(Celsius, DamageLevel, usize)], noun: Noun, words: &dyn Fn(Celsius) -> String) -> Option<Self> {
        let low = points.iter().map(|(c, ..)| *c).reduce(Celsius::min)?;
        let high = points.iter().map(|(c, ..)| *c).reduce(Celsius::max)?;
        // Room at both ends, so that no point lies on the edge or under the words of its lane.
        let room = TemperatureDelta::literal(2.5);
        let axis = TemperatureAxis::of_reports(low - room, high + room);
        let single = points.iter().map(|(.., reports)| reports).sum::<usize>() <= SINGLE;
        let mut binned = [[0usize; BARS]; DamageLevel::ALL.len()];
        for (c, level, reports) in points.iter().filter(|(c, ..)| axis.beyond(*c).is_none()) {
            let bin = (axis.place(*c) / 100.0 * BARS as f64) as usize;
            if let Some(count) = binned.get_mut(level.index()).and_then(|lane| lane.get_mut(bin.min(BARS - 1))) {
                *count += reports;
            }
        }
        let most = binned.iter().flatten().copied().max().unwrap_or(1).max(1);
        let (mut lanes, mut counts) = (Vec::new(), Vec::new());
        for ((nth, &kind), bins) in DamageLevel::ALL.iter().enumerate().zip(&binned) {
            let (name, class) = (kind.label(), kind.word());
            let top = nth * LANE + 4;
            let mut own: Vec<(Celsius, usize)> = points.iter().filter(|(_, level, _)| *level == kind).map(|(c, _, n)| (*c, *n)).collect();
            own.sort_by(|a, b| a.0.degrees().total_cmp(&b.0.degrees()));
            let reports: usize = own.iter().map(|(_, n)| n).sum();
            // Neighbours step up and down so that equal temperatures stay countable.
            let middle = top + WORDS + BAR / 2;
            let place = |(i, c): (usize, Celsius)| Point { x: axis.x(c), y: middle + 6 - (i % 3) * 6, beyond: axis.beyond(c) };
            let each = own.iter().flat_map(|&(c, n)| std::iter::repeat_n(c, if single { n } else { 1 }));
            let mut placed: Vec<Point> = each.enumerate().map(place).collect();
            if !single {
                // Bars count what lies within; an arrow at each end is enough for the rest.
                placed.retain(|point| point.beyond.is_some());
                placed.dedup_by_key(|point| point.beyond);
            }
            let bar = |(i, &count): (usize, &usize)| {
                let height = (BAR * count).div_ceil(most);
                let width = 100.0 / BARS as f64;
                Bar { x: percent(width * i as f64), width: percent(width), y: top + WORDS + BAR - height, height }
            };
            let bars = if single { Vec::new() } else { bins.iter().enumerate().filter(|(_, n)| **n > 0).map(bar).collect() };
            let range = match (own.first(), own.last()) {
                (Some((first, _)), Some((last, _))) => format!("{} to {}", words(*first), words(*last)),
                _ => "none".to_owned(),
            };
            counts.push((name, reports, range));
            let count = counted(reports, noun.one, noun.many);
            lanes.push(Lane { words: name, class, top, words_at: top + WORDS - 4, count, points: placed, bars });
        }
        let axis_top = DamageLevel::ALL.len() * LANE + 8;
        let told: Vec<String> = counts.iter().filter(|(_, n, _)| *n > 0).map(|(name, n, range)| format!("{name}: {n} ({range})")).collect();
        Some(Self {
            lanes,
            tallest: (!single).then_some(most),
            beyond: beyond(points, axis, noun, words),
            noun,
            axis_top,
            height: axis_top + 42,
            ticks_c: axis.ticks_c(),
            ticks_f: axis.ticks_f(),
            description: format!("{} by the coldest temperature met: {}.", noun.title, told.join("; ")),
            counts,
        })
    }
}

/// How many reports lie beyond the axis, and from where to where.
fn beyond(
    points: &[(Celsius, DamageLevel, usize)],
    axis: TemperatureAxis,
    noun: Noun,
    words: &dyn Fn(Celsius) -> String,
) -> Option<String> {
    let mut outside: Vec<(Celsius, usize)> = points.iter().map(|(c, _, n)| (*c, *n)).filter(|(c, _)| axis.beyond(*c).is_some()).collect();
    outside.sort_by(|a, b| a.0.degrees().total_cmp(&b.0.degrees()));
    let reports: usize = outside.iter().map(|(_, n)| n).sum();
    let ((first, _), (last, _)) = (outside.first()?, outside.last()?);
    let range = if first == last { words(*first) } else { format!("{} to {}", words(*first), words(*last)) };
    let (subject, verb) = (counted(reports, noun.one, noun.many), if reports == 1 { "lies" } else { "lie" });
    Some(format!("{subject} {verb} beyond the picture, at {range}: an arrow at its edge."))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(reports: usize) -> Outcomes {
        let point = |i: usize| (Celsius::literal(-20.0 + (i % 15) as f64), DamageLevel::ALL[i % DamageLevel::ALL.len()], 1);
        Outcomes::new(&(0..reports).map(point).collect::<Vec<_>>(), REPORTS, &|t| t.to_string()).unwrap()
    }

    #[test]
    fn one_impossible_temperature_is_an_arrow_at_the_edge_and_moves_no_other_report() {
        for reports in [SINGLE - 1, 700] {
            let point = |i: usize| (Celsius::literal(-20.0 + (i % 15) as f64), DamageLevel::ALL[i % DamageLevel::ALL.len()], 1);
            let usual: Vec<_> = (0..reports).map(point).collect();
            let with = |t: f64| [usual.clone(), vec![(Celsius::literal(t), DamageLevel::Dead, 1)]].concat();
            let draw = |points: &[_]| Outcomes::new(points, REPORTS, &|t| t.to_string()).unwrap();
            let (fourteen, forty) = (draw(&with(14.0)), draw(&with(40.0)));
            let ends = |o: &Outcomes| o.ticks_c.iter().map(|t| t.label.clone()).collect::<Vec<_>>();
            assert_eq!(ends(&fourteen), ends(&forty));
            assert!(fourteen.beyond.is_none() && forty.beyond.as_deref().unwrap().starts_with("1 report lies beyond"));
            let arrows: Vec<_> = forty.lanes.iter().flat_map(|lane| &lane.points).filter_map(|p| p.beyond).collect();
            assert_eq!(arrows, [Beyond::Warmer]);
        }
    }

    #[test]
    fn few_reports_are_marks_and_many_are_bars_and_neither_lies_under_the_words_of_its_lane() {
        let few = drawn(SINGLE);
        assert!(few.tallest.is_none() && few.lanes.iter().map(|lane| lane.points.len()).sum::<usize>() == SINGLE);
        let many = drawn(700);
        assert!(many.tallest.is_some() && many.lanes.iter().all(|lane| lane.points.is_empty()));
        for lane in few.lanes.iter().chain(&many.lanes) {
            assert!(lane.points.iter().all(|point| point.y >= lane.words_at + 8), "{}", lane.words);
            assert!(lane.bars.iter().all(|bar| bar.y > lane.words_at && bar.y + bar.height <= lane.top + LANE && bar.height > 0));
        }
    }
}
