//! The marks of a strip: what was reported of a cultivar, by the cold that it met. Worked out where a strip is drawn or written, and nowhere else.

use std::sync::Arc;

use crate::model::snapshot::Snapshot;
use crate::model::trained::Point;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::shortlist::SitePicture;
use crate::units::Celsius;

/// Reports of one kind and outcome, by the cold they met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reported {
    /// Outside temperature here that is worth the cold they met.
    pub outside: Celsius,
    /// What happened; the greatest damage it may have been.
    pub level: DamageLevel,
    /// How many.
    pub reports: usize,
}

/// Reports nearer than this share a mark, K. DESIGN: about the width of a mark on a phone.
const MARK_STEP_K: f64 = 0.5;
/// Marks of all strips of a page together; where there are more, wider steps share them. DESIGN: some 70 bytes each, so that a page stays within 100 kB.
const MARKS_OF_PAGE: usize = 110;
/// Fewest and most marks that a strip may have, whatever the number of strips. DESIGN.
const MARKS_OF_STRIP: (usize, usize) = (8, 50);
/// Factor by which the step that shares a mark grows at least, each time there are too many marks. DESIGN.
const WIDER: f64 = 1.2;
/// The part of the needed factor, were marks spread evenly, by which it grows where that is more. DESIGN: cold is spread unevenly, so that the whole
/// would often leave too few.
const NEARLY: f64 = 0.7;
/// Widest step, K: wider than any two reports are apart.
const WIDEST_MARK_K: f64 = 64.0;

/// Most marks of a strip on a page of so many.
pub(super) fn most_marks(strips: usize) -> usize {
    (MARKS_OF_PAGE / strips.max(1)).clamp(MARKS_OF_STRIP.0, MARKS_OF_STRIP.1)
}

/// Reports of one cultivar, to be shown at a site.
#[derive(Debug, Clone)]
pub struct Strip<'a> {
    points: &'a [Point],
    belief: &'a HardinessBelief,
    picture: Arc<SitePicture>,
    most: usize,
}

impl Strip<'_> {
    /// Winter reports, as the outside temperature here that would have met a plant grown like this.
    pub fn marks(&self) -> Vec<Reported> {
        let (points, most) = (self.points, self.most);
        let (mut width, mut counted) = (MARK_STEP_K, counted_in_steps(points, MARK_STEP_K));
        while counted.len() > most && width < WIDEST_MARK_K {
            width *= WIDER.max(NEARLY * counted.len() as f64 / most as f64);
            counted = counted_in_steps(points, width);
        }
        let outside = |step: i64| self.picture.outside_worth(width * step as f64, self.belief);
        let mark = |((step, level), reports)| Reported { outside: outside(step), level, reports };
        counted.into_iter().map(mark).collect()
    }
}

impl Snapshot {
    /// What was reported of a cultivar, to be shown at a site in so many marks at most.
    pub(super) fn strip<'a>(&'a self, place: usize, picture: &Arc<SitePicture>, belief: &'a HardinessBelief, most: usize) -> Strip<'a> {
        let points = self.learned.as_ref().and_then(|learned| learned.points.get(place)).map_or(&[][..], Vec::as_slice);
        Strip { points, belief, picture: Arc::clone(picture), most }
    }
}

/// Reports by steps of the cold that they met, so wide, K, and by the greatest damage that they may be of; in that order.
fn counted_in_steps(points: &[Point], width: f64) -> Vec<((i64, DamageLevel), usize)> {
    let step = |point: &Point| (point.exposure.mean / width).round() as i64;
    let (first, last) = points.iter().map(step).fold((i64::MAX, i64::MIN), |(first, last), at| (first.min(at), last.max(at)));
    if first > last {
        return Vec::new();
    }
    let mut counts = vec![[0; DamageLevel::ALL.len()]; (last - first) as usize + 1];
    for point in points {
        counts[(step(point) - first) as usize][point.damage.high().index()] += point.reports;
    }
    let of_step = |(at, counts): (i64, [usize; DamageLevel::ALL.len()])| {
        DamageLevel::ALL.iter().zip(counts).filter(|(_, reports)| *reports > 0).map(move |(level, reports)| ((at, *level), reports))
    };
    (first..).zip(counts).flat_map(of_step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::learn_hardiness::tests::demonstration;
    use crate::science::hardiness::observation::DamageRange;
    use crate::science::numeric::Gaussian;

    #[test]
    fn reports_of_a_fig_share_a_few_marks_however_many_they_are() {
        let mut snapshot = demonstration();
        let points: Vec<Point> = (0..4_000)
            .map(|n| Point {
                exposure: Gaussian::new(-28.0 + f64::from(n) * 0.006, 1.0),
                damage: DamageRange::exactly(DamageLevel::ALL[n as usize % DamageLevel::ALL.len()]),
                reports: 3,
            })
            .collect();
        snapshot.learned.as_mut().unwrap().points.iter_mut().for_each(|of| of.clone_from(&points));
        let pairs = [("zone", "7a"), ("climate", "inland")].map(|(name, value)| (name.to_owned(), value.to_owned()));
        let mut question = Question::parse(&pairs, true).unwrap();
        for (rows, most) in [(None, MARKS_OF_STRIP.0), (Some(1), MARKS_OF_STRIP.1)] {
            question.limit = rows;
            for row in &snapshot.recommend(&question).rows {
                let marks = row.strip.marks();
                assert!((most / 2..=most).contains(&marks.len()), "{} marks", marks.len());
                assert_eq!(marks.iter().map(|mark| mark.reports).sum::<usize>(), 12_000, "each counts");
            }
        }
    }
}
