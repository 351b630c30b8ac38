//! One cultivar at one site.

use std::borrow::Borrow;

use crate::science::exposure::{Exposure, Response, ResponseFamily, response_of};
use crate::science::fruiting::{CropChances, FruitPriors, FruitTraits, SeasonDegreeDays, crop_chances};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::chances::{Levels, Outlook, WinterChances};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::TAILS_90;
use crate::science::priors::Priors;
use crate::science::site::Site;
use crate::units::{Celsius, Interval};

/// A cultivar as the ranking sees it: an established plant in the ground.
#[derive(Debug, Clone)]
pub struct Entry<'a, K> {
    /// Who it is; settles ties.
    pub key: K,
    /// Belief about its hardiness, from priors or from reports.
    pub belief: &'a HardinessBelief,
    /// What is known of its fruit.
    pub fruit: FruitTraits,
    /// Whether its hardiness is a guess: neither a source nor reports say it.
    pub guessed: bool,
}

/// A site made ready for any number of cultivars.
#[derive(Debug, Clone)]
pub struct SitePicture {
    scale: DamageScale,
    curves: ResponseFamily,
    degree_days: SeasonDegreeDays,
}

/// Outside air temperature, in the open at the site, at which half of plants so grown have reached a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// For tips, wood, to the ground, dead.
    pub t50: [Celsius; 4],
    /// 90 % interval of the ground-kill threshold: the doubt about the cultivar.
    pub to_ground_interval: Interval<Celsius>,
}

/// One cultivar's answer.
#[derive(Debug, Clone)]
pub struct Row<K> {
    /// Who it is.
    pub key: K,
    /// What one winter does, and ten.
    pub winter: Outlook,
    /// Chance of ripe figs by damage.
    pub crop: CropChances,
    /// Share of years with ripe figs, 0..=1.
    pub ripe_share: f64,
    /// What of that one can count on.
    pub sure: Sure,
    /// Whether its hardiness is a guess.
    pub guessed: bool,
}

/// What one can count on, of the share of years with ripe figs.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sure {
    /// The share that it has or passes with a chance of three in four, 0..=1.
    pub lower_quartile: f64,
    /// Chance that it bears in at least five years of ten.
    pub five_in_ten: f64,
    /// Chance that it bears in the most years of all that were ranked with it.
    pub best: f64,
}

impl Thresholds {
    /// For a kind, in what a plant of its hardiness meets.
    pub fn of<E: Borrow<Exposure>>(exposure: impl Fn(f64) -> Option<E>, belief: &HardinessBelief, scale: &DamageScale) -> Self {
        let at = |level, h| exposure(h).map_or(Celsius::literal(h), |e| e.borrow().outside_t50(level, h, scale));
        let (h, doubt) = (belief.mean().degrees(), belief.interval_90());
        Self {
            t50: [DamageLevel::Tips, DamageLevel::Wood, DamageLevel::ToGround, DamageLevel::Dead].map(|level| at(level, h)),
            to_ground_interval: Interval {
                low: at(DamageLevel::ToGround, doubt.low.degrees()),
                high: at(DamageLevel::ToGround, doubt.high.degrees()),
            },
        }
    }
}

impl<K> Row<K> {
    /// Chance of a winter with nothing worse than tips lost.
    pub fn keeps_wood(&self) -> f64 {
        self.winter.chance.unharmed + self.winter.chance.tips
    }

    /// Chance of living through one winter.
    pub fn stays_alive(&self) -> f64 {
        1.0 - self.winter.chance.dead
    }

    /// Chance of a winter that kills to the ground or worse.
    pub fn loses_top(&self) -> f64 {
        self.winter.chance.to_ground + self.winter.chance.dead
    }
}

/// Weight of each end of a 90 % range when a normal belief is stood for by its middle and those ends: keeps the variance, 1/(2·1.645²).
const END_WEIGHT: f64 = 0.184_8;

/// Σ chance of a level × chance of ripe figs after it.
#[inline]
pub(super) fn share(levels: [f64; 5], crop: [f64; 5]) -> f64 {
    levels.iter().zip(crop).map(|(p, c)| p * c).sum::<f64>().clamp(0.0, 1.0)
}

impl SitePicture {
    /// Works out everything about a site that cultivars share. `beliefs` bound the range of hardiness looked at.
    pub fn new<'a>(
        site: &Site,
        priors: &Priors,
        scale: &DamageScale,
        degree_days: SeasonDegreeDays,
        beliefs: impl IntoIterator<Item = &'a HardinessBelief>,
    ) -> Self {
        let degree_days = degree_days.in_settings(site.setting, priors.evergreen_shade);
        // Quadrature nodes reach 5.5 standard deviations; beyond 4 their weight is below 1e-7 and the end value serves.
        let mut h = Interval { low: f64::INFINITY, high: f64::NEG_INFINITY };
        for part in beliefs.into_iter().flat_map(HardinessBelief::components) {
            h = h.including(part.h.mean - 4.0 * part.h.sd).including(part.h.mean + 4.0 * part.h.sd);
        }
        if h.low > h.high {
            h = Interval { low: -30.0, high: 0.0 };
        }
        Self { scale: *scale, curves: response_of(site, priors, scale, h), degree_days }
    }

    /// The heat of this site's seasons.
    pub fn degree_days(&self) -> &SeasonDegreeDays {
        &self.degree_days
    }

    /// Steepness and gaps in use.
    pub fn scale(&self) -> &DamageScale {
        &self.scale
    }

    /// The response of plants here to their hardiness.
    pub fn response(&self) -> &ResponseFamily {
        &self.curves
    }

    /// One winter's chances for a cultivar here.
    pub fn winter(&self, belief: &HardinessBelief) -> WinterChances {
        self.curves.chances(belief)
    }

    /// The 90 % interval of each of them alone, where they are known.
    pub fn interval(&self, belief: &HardinessBelief, chance: &Levels<f64>) -> Levels<Interval<f64>> {
        self.curves.interval(belief, chance)
    }

    /// The same without the interval.
    pub fn outlook(&self, belief: &HardinessBelief) -> Outlook {
        self.curves.outlook(belief)
    }

    /// Chance of each level in one winter alone.
    pub fn chance(&self, belief: &HardinessBelief) -> Levels<f64> {
        self.curves.chance(belief)
    }

    /// Share of years with ripe figs, without the rest of the answer.
    pub fn ripe_share(&self, belief: &HardinessBelief, fruit: &FruitTraits, priors: &FruitPriors) -> f64 {
        share(self.chance(belief).to_array(), crop_chances(fruit, &self.degree_days, priors).expected)
    }

    /// Where damage begins here, as outside air temperature.
    pub fn thresholds(&self, belief: &HardinessBelief) -> Thresholds {
        Thresholds::of(|h| self.curves.nearest(h).map(Response::exposure), belief, &self.scale)
    }

    /// Outside temperature here at which a plant so grown meets what an established bare plant in the ground meets at `equivalent_c`, °C.
    pub fn outside_worth(&self, equivalent_c: f64, belief: &HardinessBelief) -> Celsius {
        let response = self.curves.nearest(belief.mean().degrees());
        response.map_or(Celsius::literal(equivalent_c.clamp(Celsius::MIN, Celsius::MAX)), |response| {
            response.exposure().outside_t50(DamageLevel::ToGround, equivalent_c, &self.scale)
        })
    }

    /// 90 % range of the share of years with ripe figs: everything that is not known (place, setting, cover, age, hardening, the cultivar's
    /// hardiness, its heat need and the season's, whether it bears on shoots from the base), the temperature side, the heat side and regrowth
    /// taken as independent; one winter's luck is inside the share, not in the range.
    pub fn ripe_range(&self, belief: &HardinessBelief, fruit: &FruitTraits, priors: &FruitPriors) -> Interval<f64> {
        let regrowth: &[(f64, bool)] = match fruit.fruits_on_regrowth {
            Some(known) => &[(1.0, known)],
            None => &[(priors.regrowth_share, true), (1.0 - priors.regrowth_share, false)],
        };
        let held = self.curves.doubted(belief);
        let mut shares = Vec::with_capacity(6 * held.len());
        for &(regrows, bears) in regrowth {
            let crop = crop_chances(&FruitTraits { fruits_on_regrowth: Some(bears), ..*fruit }, &self.degree_days, priors);
            for &(weight, levels) in &held {
                for (view, crop) in [(END_WEIGHT, crop.low), (1.0 - 2.0 * END_WEIGHT, crop.expected), (END_WEIGHT, crop.high)] {
                    shares.push((share(levels, crop), regrows * weight * view));
                }
            }
        }
        shares.sort_by(|a, b| a.0.total_cmp(&b.0));
        let below = |p: f64| {
            let mut sum = 0.0;
            shares
                .iter()
                .find(|(_, w)| {
                    sum += w;
                    sum >= p
                })
                .or(shares.last())
                .map_or(0.0, |(x, _)| *x)
        };
        Interval { low: below(TAILS_90.0), high: below(TAILS_90.1) }
    }

    /// The chances of one cultivar, without what one can count on.
    pub fn chances_alone<K: Clone>(&self, entry: &Entry<'_, K>, priors: &FruitPriors) -> Row<K> {
        let winter = self.outlook(entry.belief);
        let crop = crop_chances(&entry.fruit, &self.degree_days, priors);
        let ripe_share = share(winter.chance.to_array(), crop.expected);
        Row { key: entry.key.clone(), ripe_share, winter, crop, sure: Sure::default(), guessed: entry.guessed }
    }
}
