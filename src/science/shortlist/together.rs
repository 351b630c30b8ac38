//! A few figs planted together: the chance that at least one of them bears in a year, and the set for which that chance is largest.
//!
//! Figs of one garden share its winter, its summer and what is not known of the place, so they fail together more often than alone; the
//! chance is worked out for each such year and averaged over years.

use super::long_run::normal_middles;
use super::row::{Entry, SitePicture, share};
use crate::science::exposure::SharedWinter;
use crate::science::fruiting::{FruitPriors, SeasonHeat, crop_chances};
use crate::science::numeric::Gaussian;

/// Years that stand for all: winters by the share of colder ones, what else gardens share, summers; middles of equal parts. Against 48, 15 and
/// 9 of them the chance moves by less than 0.005 (tested).
const WINTERS: usize = 24;
const COMMON: usize = 7;
const SUMMERS: usize = 5;

/// Chance that each of several figs bears, in each of the years that stand for all years of a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Years {
    /// By fig, then by year; years have equal weight.
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
        let bears = entries.iter().map(|entry| {
            let crops: Vec<[f64; 5]> = normal_middles(steps.summers)
                .into_iter()
                .map(|z| {
                    let sum = over_years.mean + over_years.sd * z;
                    let summer = SeasonHeat { over_years: Gaussian::new(sum, 0.0), doubt: 0.0, ..heat };
                    crop_chances(&entry.fruit, &summer, priors).expected
                })
                .collect();
            let mut years = Vec::with_capacity(steps.winters * steps.common * steps.summers);
            for winter in 0..steps.winters {
                for common_z in normal_middles(steps.common) {
                    let met = SharedWinter { colder_share: (winter as f64 + 0.5) / steps.winters as f64, common_z };
                    let levels = picture.levels_in(met, entry.belief);
                    years.extend(crops.iter().map(|crop| share(levels, *crop)));
                }
            }
            years
        });
        Self { bears: bears.collect() }
    }

    /// Number of figs.
    pub fn len(&self) -> usize {
        self.bears.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.bears.is_empty()
    }

    /// Chance in each year that none of these figs bears.
    fn none_bears(&self, figs: &[usize]) -> Vec<f64> {
        let count = self.bears.first().map_or(0, Vec::len);
        figs.iter().filter_map(|&fig| self.bears.get(fig)).fold(vec![1.0; count], |mut none, bears| {
            none.iter_mut().zip(bears).for_each(|(p, b)| *p *= 1.0 - b);
            none
        })
    }

    /// Chance that at least one of these figs bears in a year.
    pub fn one_bears(&self, figs: &[usize]) -> f64 {
        let none = self.none_bears(figs);
        if none.is_empty() { 0.0 } else { 1.0 - none.iter().sum::<f64>() / none.len() as f64 }
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
            let chance = 1.0 - left / none.len().max(1) as f64;
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
