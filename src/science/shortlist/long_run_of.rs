//! The long run of a fig at a place, worked out: every combination of what is shared and what is its own, as equal parts or nodes.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::num::NonZeroUsize;
use std::sync::Arc;

use gauss_quad::GaussHermite;

use super::long_run::{LongRun, marked};
use super::row::{Entry, SitePicture};
use crate::science::fruiting::{FruitPriors, SeasonDegreeDays, crops_by_regrowth};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::numeric::Gaussian;
use crate::science::numeric::eight_numbers::{Eight, LANES};
use crate::science::numeric::sorted_eights::sort_eights;

/// Nodes over what is shared of the cold and of the summer, and equal parts of what is a kind's own of hardiness and need. Against 13, 7, 41
/// and 21 of them, chances of a comparison move by less than 0.01 (tested).
const COLD_STEPS: usize = 7;
const SUMMER_STEPS: usize = 4;
const HARDINESS_STEPS: usize = 15;
const NEED_STEPS: usize = 9;

/// Levels after which a plant may bear: all but death.
const BEARING: usize = 4;

/// How finely distributions are stood for by equal parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Steps {
    /// Of the shared cold.
    pub cold: usize,
    /// Of the shared summer.
    pub summer: usize,
    /// Of a kind's hardiness.
    pub hardiness: usize,
    /// Of a kind's need of heat.
    pub need: usize,
}

impl Default for Steps {
    fn default() -> Self {
        Self { cold: COLD_STEPS, summer: SUMMER_STEPS, hardiness: HARDINESS_STEPS, need: NEED_STEPS }
    }
}

impl Steps {
    /// Coarser, for a whole catalogue: lower quartiles then move by less than 0.03 (tested).
    pub const WHOLE_CATALOGUE: Self = Self { cold: 5, summer: 5, hardiness: 9, need: 6 };
}

/// Middles of `n` equal parts of a distribution by its quantiles, drawn apart so that they keep its mean and standard deviation.
fn middles(n: usize, quantile: impl Fn(f64) -> f64, mean: f64, sd: f64) -> Vec<f64> {
    let plain: Vec<f64> = (0..n).map(|i| quantile((i as f64 + 0.5) / n as f64)).collect();
    let centre = plain.iter().sum::<f64>() / n as f64;
    let spread = (plain.iter().map(|x| (x - centre).powi(2)).sum::<f64>() / n as f64).sqrt();
    let wider = if spread > 0.0 { sd / spread } else { 1.0 };
    plain.into_iter().map(|x| mean + wider * (x - centre)).collect()
}

/// Nodes and weights for the mean over a standard normal variable (Gauss–Hermite): exact for what varies smoothly with it.
pub(super) fn normal_rule(nodes: usize) -> Vec<(f64, f64)> {
    let rule = GaussHermite::new(NonZeroUsize::new(nodes).unwrap_or(NonZeroUsize::MIN));
    rule.iter().map(|pair| (pair.0 * std::f64::consts::SQRT_2, pair.1 / std::f64::consts::PI.sqrt())).collect()
}

/// What is the same for every kind: nodes with their weights, and middles of equal parts of a standard normal variable.
struct Nodes {
    steps: Steps,
    cold: Vec<(f64, f64)>,
    summer: Vec<(f64, f64)>,
    hardiness: Vec<f64>,
    need: Vec<f64>,
}

impl Nodes {
    fn of(steps: Steps) -> Self {
        let standard = |n| middles(n, |p| Gaussian::new(0.0, 1.0).quantile(p), 0.0, 1.0);
        Self {
            steps,
            cold: normal_rule(steps.cold),
            summer: normal_rule(steps.summer),
            hardiness: standard(steps.hardiness),
            need: standard(steps.need),
        }
    }

    /// Equal parts of what is believed of a kind's hardiness, °C.
    fn hardiness(&self, belief: &HardinessBelief) -> Vec<f64> {
        if let [only] = belief.components() {
            return self.hardiness.iter().map(|z| only.h.mean + z * only.h.sd).collect();
        }
        middles(self.steps.hardiness, |p| belief.quantile(p).degrees(), belief.mean().degrees(), belief.sd().kelvin())
    }
}

/// Ways of bearing with their weights: on shoots from the base, or not.
fn ways_of(fruits_on_regrowth: Option<bool>, priors: &FruitPriors) -> [f64; 2] {
    match fruits_on_regrowth {
        Some(true) => [1.0, 0.0],
        Some(false) => [0.0, 1.0],
        None => [priors.regrowth_share, 1.0 - priors.regrowth_share],
    }
}

impl SitePicture {
    /// What is believed of the share of years in which each of several figs here bears. Figs of which the same is believed share one.
    pub fn long_runs<K>(&self, entries: &[Entry<'_, K>], priors: &FruitPriors, steps: Steps) -> Vec<Arc<LongRun>> {
        let nodes = Nodes::of(steps);
        let mut known: Vec<(&Entry<'_, K>, Arc<LongRun>)> = Vec::new();
        let mut found = Vec::with_capacity(entries.len());
        for entry in entries {
            let alike = known.iter().find(|(other, _)| other.fruit == entry.fruit && other.belief == entry.belief);
            let run = alike.map_or_else(|| Arc::new(self.long_run_at(entry, priors, &nodes)), |(_, run)| Arc::clone(run));
            known.push((entry, Arc::clone(&run)));
            found.push(run);
        }
        found
    }

    /// What is believed of the share of years in which a fig here bears, as finely as asked.
    pub fn long_run_in<K>(&self, entry: &Entry<'_, K>, priors: &FruitPriors, steps: Steps) -> LongRun {
        self.long_run_at(entry, priors, &Nodes::of(steps))
    }

    fn long_run_at<K>(&self, entry: &Entry<'_, K>, priors: &FruitPriors, nodes: &Nodes) -> LongRun {
        let degree_days = *self.degree_days();
        let summer = |z: f64| {
            let over_years = Gaussian::new(degree_days.over_years.mean + z * degree_days.doubt, degree_days.over_years.sd);
            SeasonDegreeDays { over_years, doubt: 0.0, ..degree_days }
        };
        let summers: Vec<SeasonDegreeDays> = nodes.summer.iter().map(|&(z, _)| summer(z)).collect();
        let ways = ways_of(entry.fruit.fruits_on_regrowth, priors);
        let crops = crops_by_regrowth(&entry.fruit, &summers, &nodes.need, priors);
        let doubt_k = self.response().shared_doubt_k(entry.belief.mean().degrees());
        let own = nodes.hardiness(entry.belief);
        let (mut states, mut levels): (Vec<f64>, Vec<Vec<[f64; 5]>>) = (Vec::new(), Vec::new());
        for &(cold, weight) in &nodes.cold {
            let first = levels.len();
            for h in &own {
                for (roots, (of_roots, found)) in self.response().luck_by_roots(h + cold * doubt_k).enumerate() {
                    if levels.len() == first + roots {
                        levels.push(Vec::with_capacity(own.len()));
                        states.extend(nodes.summer.iter().map(|(_, of_summer)| weight * of_summer * of_roots));
                    }
                    levels[first + roots].push(found);
                }
            }
        }
        let bearing: Vec<(usize, usize)> =
            (0..2).filter(|way| ways[*way] > 0.0).flat_map(|way| (0..nodes.need.len()).map(move |need| (way, need))).collect();
        let length = own.len() * bearing.len();
        let rows = Combinations { levels, crops, summers: summers.len(), bearing }.rows(length);
        LongRun::new(states, rows, length, ways.map(|weight| weight / nodes.need.len() as f64 / own.len() as f64))
    }
}

/// What a fig may meet and be, of which every combination gives a share of years.
struct Combinations {
    /// Chances of the levels of damage, by state of the cold (and of roots), then by the kind's own hardiness.
    levels: Vec<Vec<[f64; 5]>>,
    /// Chances of figs by level of damage: for each summer and, within it, for each need, by way of bearing.
    crops: Vec<[[f64; 5]; 2]>,
    /// Number of summers.
    summers: usize,
    /// Ways of bearing and needs that are combined with each hardiness.
    bearing: Vec<(usize, usize)>,
}

impl Combinations {
    /// So many shares of years for each state of cold and summer, ascending.
    fn rows(&self, length: usize) -> Vec<Eight> {
        let eights = (self.levels.len() * self.summers).div_ceil(LANES);
        let mut rows = vec![[0.0; LANES]; eights * length];
        pulp::Arch::new().dispatch(Filling { of: self, rows: &mut rows, length });
        rows
    }

    /// The levels of damage and the crops of eight states, the first of them given: rows by hardiness, and by way of bearing and need, each for
    /// the levels after which a plant may bear.
    #[inline(always)]
    fn of_eight(&self, first: usize, levels: &mut [[Eight; BEARING]], crops: &mut [[Eight; BEARING]]) {
        let needs = self.crops.len() / self.summers.max(1);
        for lane in 0..LANES {
            let (cold, summer) = ((first + lane) / self.summers, (first + lane) % self.summers);
            let Some(by_own) = self.levels.get(cold) else { break };
            for (row, levels) in levels.iter_mut().zip(by_own) {
                (0..BEARING).for_each(|level| row[level][lane] = levels[level]);
            }
            for (row, (way, need)) in crops.iter_mut().zip(&self.bearing) {
                let crop = &self.crops[summer * needs + need][*way];
                (0..BEARING).for_each(|level| row[level][lane] = crop[level]);
            }
        }
    }
}

/// The work handed to the processor's vector instructions.
struct Filling<'a> {
    of: &'a Combinations,
    rows: &'a mut [Eight],
    length: usize,
}

impl pulp::NullaryFnOnce for Filling<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { of, rows, length } = self;
        let bearing = of.bearing.len().max(1);
        let mut levels = vec![[[0.0; LANES]; BEARING]; length / bearing];
        let mut crops = vec![[[0.0; LANES]; BEARING]; of.bearing.len()];
        for (eight, rows) in rows.chunks_mut(length.max(1)).enumerate() {
            of.of_eight(eight * LANES, &mut levels, &mut crops);
            for (rows, levels) in rows.chunks_mut(bearing).zip(&levels) {
                for ((row, crop), (way, _)) in rows.iter_mut().zip(&crops).zip(&of.bearing) {
                    let mut share = [0.0; LANES];
                    for level in 0..BEARING {
                        for i in 0..LANES {
                            share[i] += levels[level][i] * crop[level][i];
                        }
                    }
                    for i in 0..LANES {
                        row[i] = marked(if share[i] < 1.0 { share[i] } else { 1.0 }, *way);
                    }
                }
            }
            sort_eights(rows);
        }
    }
}
