//! What is not known of an answer, apart: how far each doubt alone would move the years with ripe figs and the winters that kill the top.

use super::row::{Entry, SitePicture};
use crate::science::exposure::DoubtSource;
use crate::science::fruiting::{FruitPriors, FruitTraits, crop_chances};
use crate::science::numeric::Z_90;
use crate::units::Interval;

/// One doubt, all others held at their middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoubtShare {
    /// Where it comes from.
    pub source: DoubtSource,
    /// Share of years with ripe figs at its ends.
    pub ripe_share: Interval<f64>,
    /// Chance of a winter that kills to the ground or worse at its ends.
    pub loses_top: Interval<f64>,
    /// Its part of all doubt about ripe figs: squared widths, summing to 1 over an answer; 0 where nothing moves.
    pub part: f64,
}

fn total(levels: [f64; 5], crop: [f64; 5]) -> f64 {
    levels.iter().zip(crop).map(|(p, c)| p * c).sum::<f64>().clamp(0.0, 1.0)
}

impl SitePicture {
    /// Every doubt about a cultivar here, the largest first.
    pub fn doubt_shares<K>(&self, entry: &Entry<'_, K>, priors: &FruitPriors) -> Vec<DoubtShare> {
        let h = entry.belief.mean().degrees();
        let crop = crop_chances(&entry.fruit, self.degree_days(), priors);
        let response = self.response();
        let of_levels = |source, ends: [[f64; 5]; 2]| {
            let ripe = ends.map(|levels| total(levels, crop.expected));
            let lost = ends.map(|levels| levels[3] + levels[4]);
            DoubtShare {
                source,
                ripe_share: Interval::between(ripe[0], ripe[1]),
                loses_top: Interval::between(lost[0], lost[1]),
                part: 0.0,
            }
        };
        let mut found: Vec<DoubtShare> = response
            .doubts(entry.belief)
            .into_iter()
            .filter(|(source, _)| *source != DoubtSource::Roots)
            .map(|(source, sd)| of_levels(source, [-1.0, 1.0].map(|sign| response.luck_at(h + sign * Z_90 * sd.kelvin()))))
            .collect();
        if let Some(ends) = response.roots_ends(h) {
            found.push(of_levels(DoubtSource::Roots, ends));
        }
        let middle = response.luck_at(h);
        let lost = middle[3] + middle[4];
        let of_crop = |source, low: [f64; 5], high: [f64; 5]| DoubtShare {
            source,
            ripe_share: Interval::between(total(middle, low), total(middle, high)),
            loses_top: Interval { low: lost, high: lost },
            part: 0.0,
        };
        // The bounds of a crop hold both the season's heat and regrowth; where regrowth is known only the heat is left.
        let known = |bears| crop_chances(&FruitTraits { fruits_on_regrowth: Some(bears), ..entry.fruit }, self.degree_days(), priors);
        if entry.fruit.fruits_on_regrowth.is_none() {
            let (no, yes) = (known(false), known(true));
            found.push(of_crop(DoubtSource::Regrowth, no.expected, yes.expected));
            found.push(of_crop(DoubtSource::Summer, yes.low, yes.high));
        } else {
            found.push(of_crop(DoubtSource::Summer, crop.low, crop.high));
        }
        let width = |d: &DoubtShare| (d.ripe_share.high - d.ripe_share.low).powi(2);
        let sum: f64 = found.iter().map(width).sum();
        for doubt in &mut found {
            doubt.part = if sum > 0.0 { width(doubt) / sum } else { 0.0 };
        }
        found.sort_by(|a, b| b.part.total_cmp(&a.part).then(a.source.cmp(&b.source)));
        found
    }
}
