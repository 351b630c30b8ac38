//! A few figs planted together: the chance that at least one of them bears in a year, and the set for which that chance is largest.
//!
//! Figs of one garden share its winter, its summer and what is not known of the place, so they fail together more often than alone; the
//! chance is worked out for each such year and averaged over years.

use super::long_run::normal_rule;
use super::row::{Entry, SitePicture, share};
use crate::science::exposure::SharedWinter;
use crate::science::fruiting::{FruitPriors, SeasonHeat, crop_chances};
use crate::science::numeric::Gaussian;

/// Years that stand for all: equal parts of winters by the share of colder ones, nodes over what else gardens share and over summers. Against
/// 48, 13 and 11 of them the chance moves by less than 0.003 (tested).
const WINTERS: usize = 24;
const COMMON: usize = 7;
const SUMMERS: usize = 5;

/// Chance that each of several figs bears, in each of the years that stand for all years of a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Years {
    /// Weight of each year; they sum to 1.
    weights: Vec<f64>,
    /// By fig, then by year.
    bears: Vec<Vec<f64>>,
}

/// A set of figs and the chance that at least one bears in a year.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// Places of the figs in the list asked about: those already there first, then by what each adds.
    pub figs: Vec<usize>,
    /// Chance that at least one of them bears in a year, 0..=1.
    pub one_bears: f64,
}

/// How many years stand for all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct YearSteps {
    /// Winters by their lowest air.
    pub winters: usize,
    /// What else gardens share in a winter.
    pub common: usize,
    /// Summers.
    pub summers: usize,
}

impl Default for YearSteps {
    fn default() -> Self {
        Self { winters: WINTERS, common: COMMON, summers: SUMMERS }
    }
}

impl Years {
    /// Works out the years of a place for some figs.
    pub fn of<K>(picture: &SitePicture, entries: &[Entry<'_, K>], priors: &FruitPriors, steps: YearSteps) -> Self {
        let heat = *picture.heat();
        let over_years = Gaussian::new(heat.over_years.mean, heat.over_years.sd.hypot(heat.doubt));
        let (common, summers) = (normal_rule(steps.common), normal_rule(steps.summers));
        let of_winter = 1.0 / steps.winters as f64;
        let one_winter = common.iter().flat_map(|(_, c)| summers.iter().map(move |(_, s)| of_winter * c * s));
        let weights: Vec<f64> = one_winter.cycle().take(steps.winters * steps.common * steps.summers).collect();
        let bears = entries.iter().map(|entry| {
            let crops: Vec<[f64; 5]> = summers
                .iter()
                .map(|(z, _)| {
                    let sum = over_years.mean + over_years.sd * *z;
                    let summer = SeasonHeat { over_years: Gaussian::new(sum, 0.0), doubt: 0.0, ..heat };
                    crop_chances(&entry.fruit, &summer, priors).expected
                })
                .collect();
            let mut years = Vec::with_capacity(steps.winters * steps.common * steps.summers);
            for winter in 0..steps.winters {
                for &(common_z, _) in &common {
                    let met = SharedWinter { colder_share: (winter as f64 + 0.5) / steps.winters as f64, common_z };
                    let levels = picture.levels_in(met, entry.belief);
                    years.extend(crops.iter().map(|crop| share(levels, *crop)));
                }
            }
            years
        });
        let bears = bears.collect();
        Self { weights, bears }
    }

    /// Number of figs.
    pub fn len(&self) -> usize {
        self.bears.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.bears.is_empty()
    }

    /// Weight of each year with the chance that none of these figs bears in it.
    fn none_bears(&self, figs: &[usize]) -> Vec<f64> {
        figs.iter().filter_map(|&fig| self.bears.get(fig)).fold(self.weights.clone(), |mut none, bears| {
            none.iter_mut().zip(bears).for_each(|(p, b)| *p *= 1.0 - b);
            none
        })
    }

    /// Chance that at least one of these figs bears in a year.
    pub fn one_bears(&self, figs: &[usize]) -> f64 {
        1.0 - self.none_bears(figs).iter().sum::<f64>()
    }

    /// The best set of `size` figs among `choices`, with those in `kept` in it: the one that adds most each time, then exchanges as long as one
    /// helps. Ties go to the earlier fig.
    pub fn best(&self, kept: &[usize], choices: &[usize], size: usize) -> Together {
        let mut figs = kept.to_vec();
        while figs.len() < size {
            match self.most_added(&figs, choices) {
                Some((fig, _)) => figs.push(fig),
                None => break,
            }
        }
        let mut chance = self.one_bears(&figs);
        let mut moved = true;
        while moved {
            moved = false;
            for at in kept.len()..figs.len() {
                let others: Vec<usize> = figs.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, fig)| *fig).collect();
                if let Some((fig, reached)) = self.most_added(&others, choices)
                    && reached > chance + GRAIN
                    && let Some(slot) = figs.get_mut(at)
                {
                    *slot = fig;
                    chance = reached;
                    moved = true;
                }
            }
        }
        Together { figs, one_bears: chance }
    }

    /// The fig that raises the chance of a set most, and the chance then.
    fn most_added(&self, figs: &[usize], choices: &[usize]) -> Option<(usize, f64)> {
        let none = self.none_bears(figs);
        let mut best: Option<(usize, f64)> = None;
        for &fig in choices.iter().filter(|fig| !figs.contains(fig)) {
            let bears = self.bears.get(fig)?;
            let left: f64 = none.iter().zip(bears).map(|(p, b)| p * (1.0 - b)).sum();
            let chance = 1.0 - left;
            if best.is_none_or(|(_, reached)| chance > reached + GRAIN) {
                best = Some((fig, chance));
            }
        }
        best
    }
}

/// Chances nearer than this are equal.
const GRAIN: f64 = 1e-9;

impl SitePicture {
    /// Chance of each level for a fig here in one winter that it shares with others.
    fn levels_in(&self, winter: SharedWinter, belief: &crate::science::hardiness::belief::HardinessBelief) -> [f64; 5] {
        let response = self.response().nearest(belief.mean().degrees());
        response.map_or([1.0, 0.0, 0.0, 0.0, 0.0], |response| response.exposure().chance_in(winter, belief, self.scale()))
    }
}
