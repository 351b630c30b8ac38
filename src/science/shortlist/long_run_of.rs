//! The long run of a fig at a place, worked out: every combination of what is shared and what is its own, as equal parts or nodes.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::num::NonZeroUsize;
use std::sync::Arc;

use gauss_quad::GaussHermite;
use rayon::prelude::*;

use super::long_run::LongRun;
use super::row::{Entry, SitePicture};
use crate::science::fruiting::{FruitPriors, SeasonDegreeDays, crops_by_regrowth};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::numeric::Gaussian;
use crate::science::numeric::eight_numbers::{Eight, LANES, Line};

/// Nodes over what is shared of the cold and of the summer, and equal parts of what is a kind's own of hardiness and need. Against 13, 7, 41
/// and 21 of them, chances of a comparison move by less than 0.01 (tested).
const COLD_STEPS: usize = 7;
const SUMMER_STEPS: usize = 4;
const HARDINESS_STEPS: usize = 15;
const NEED_STEPS: usize = 9;

/// Weight below which a state of cold and summer is left out, 0..1: the corners, which come to less than a thousandth together. DESIGN.
const NEGLIGIBLE: f64 = 1e-3;

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

/// A node over the cold and one over the summer, by their places.
struct Shared {
    cold: usize,
    summer: usize,
    weight: f64,
}

/// What is the same for every kind: nodes, and middles of equal parts of a standard normal variable.
struct Nodes {
    steps: Steps,
    cold: Vec<f64>,
    summer: Vec<f64>,
    /// Both together, by the cold; weights sum to 1.
    shared: Vec<Shared>,
    hardiness: Vec<f64>,
    need: Vec<f64>,
}

impl Nodes {
    fn of(steps: Steps) -> Self {
        let standard = |n| middles(n, |p| Gaussian::new(0.0, 1.0).quantile(p), 0.0, 1.0);
        let (cold, summer) = (normal_rule(steps.cold), normal_rule(steps.summer));
        let both = |(at, (_, of_cold)): (usize, &(f64, f64))| {
            let of = move |(summer, (_, of_summer)): (usize, &(f64, f64))| Shared { cold: at, summer, weight: of_cold * of_summer };
            summer.iter().enumerate().map(of).filter(|shared| shared.weight >= NEGLIGIBLE).collect::<Vec<_>>()
        };
        let mut shared: Vec<Shared> = cold.iter().enumerate().flat_map(both).collect();
        let all: f64 = shared.iter().map(|shared| shared.weight).sum();
        for shared in &mut shared {
            shared.weight /= all;
        }
        Self {
            steps,
            cold: cold.iter().map(|(z, _)| *z).collect(),
            summer: summer.iter().map(|(z, _)| *z).collect(),
            shared,
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
    pub fn long_runs<K: Sync>(&self, entries: &[Entry<'_, K>], priors: &FruitPriors, steps: Steps) -> Vec<Arc<LongRun>> {
        let nodes = Nodes::of(steps);
        let mut unlike: Vec<&Entry<'_, K>> = Vec::new();
        let mut which = Vec::with_capacity(entries.len());
        for entry in entries {
            let alike = unlike.iter().position(|other| other.fruit == entry.fruit && other.belief == entry.belief);
            which.push(alike.unwrap_or(unlike.len()));
            if alike.is_none() {
                unlike.push(entry);
            }
        }
        let runs: Vec<_> = unlike.par_iter().map(|entry| Arc::new(self.long_run_at(entry, priors, &nodes))).collect();
        which.into_iter().map(|nth| Arc::clone(&runs[nth])).collect()
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
        let summers: Vec<SeasonDegreeDays> = nodes.summer.iter().map(|&z| summer(z)).collect();
        let ways = ways_of(entry.fruit.fruits_on_regrowth, priors);
        let crops = crops_by_regrowth(&entry.fruit, &summers, &nodes.need, priors);
        let doubt_k = self.response().shared_doubt_k(entry.belief.mean().degrees());
        let own = nodes.hardiness(entry.belief);
        let (mut states, mut met): (Vec<f64>, Vec<(usize, usize)>) = (Vec::new(), Vec::new());
        let mut levels: Vec<Vec<[f64; 5]>> = Vec::new();
        for (nth, cold) in nodes.cold.iter().enumerate() {
            let first = levels.len();
            for h in &own {
                for (roots, (of_roots, found)) in self.response().luck_by_roots(h + cold * doubt_k).enumerate() {
                    if levels.len() == first + roots {
                        for shared in nodes.shared.iter().filter(|shared| shared.cold == nth) {
                            states.push(shared.weight * of_roots);
                            met.push((levels.len(), shared.summer));
                        }
                        levels.push(Vec::with_capacity(own.len()));
                    }
                    levels[first + roots].push(found);
                }
            }
        }
        let ways = (0..2).filter(|way| ways[*way] > 0.0).map(|way| (way, ways[way])).collect();
        Combinations { met, levels, crops, summers: summers.len(), ways, own: own.len() }.long_run(states)
    }
}

/// What a fig may meet and be, of which every combination gives a share of years.
struct Combinations {
    /// States of what is shared: which of the levels, and which summer.
    met: Vec<(usize, usize)>,
    /// Chances of the levels of damage, by state of the cold (and of roots), then by the kind's own hardiness.
    levels: Vec<Vec<[f64; 5]>>,
    /// Chances of figs by level of damage: for each summer and, within it, for each need, by way of bearing.
    crops: Vec<[[f64; 5]; 2]>,
    /// Number of summers.
    summers: usize,
    /// Ways of bearing with their weights.
    ways: Vec<(usize, f64)>,
    /// Number of hardinesses.
    own: usize,
}

/// Whether a combination of a hardiness and a need, by their places, stands for two others where many figs are held against each other: one in three
/// of them, each hardiness with as many needs and each need with as many hardinesses. Chances to be the best of a catalogue then move by less than
/// 0.01 (tested); which third it is was chosen for that.
#[inline(always)]
fn stands_for_others(own: usize, need: usize) -> bool {
    (own + need) % 3 == 1
}

impl Combinations {
    /// Needs that are combined with each hardiness.
    fn needs(&self) -> usize {
        self.crops.len() / self.summers.max(1)
    }

    /// The shares of each state, one way of bearing after the other and within it by hardiness, then by need.
    fn long_run(&self, states: Vec<f64>) -> LongRun {
        let needs = self.needs();
        let of_way = self.own * needs;
        let standing: Vec<usize> = (0..of_way).filter(|nth| stands_for_others(nth / needs, nth % needs)).collect();
        let (mut weights, mut few) = (Vec::new(), Vec::new());
        for (nth, (_, weight)) in self.ways.iter().enumerate() {
            let first = nth * of_way;
            weights.push((first..first + of_way, weight / of_way as f64));
            few.extend(standing.iter().map(|row| (first + row, weight / standing.len() as f64)));
        }
        let mut rows = vec![Line::default(); states.len().div_ceil(LANES) * self.ways.len() * of_way];
        pulp::Arch::new().dispatch(Filling { of: self, rows: &mut rows });
        LongRun::new(states, rows, weights, few)
    }

    /// The levels of damage of eight states, the first of them given: rows by hardiness, for the levels after which a plant may bear.
    #[inline(always)]
    fn levels_of_eight(&self, first: usize, rows: &mut [[Eight; BEARING]]) {
        for (lane, (cold, _)) in self.met.iter().skip(first).take(LANES).enumerate() {
            for (row, levels) in rows.iter_mut().zip(&self.levels[*cold]) {
                (0..BEARING).for_each(|level| row[level][lane] = levels[level]);
            }
        }
    }

    /// The crops of eight states with one way of bearing: rows by need.
    #[inline(always)]
    fn crops_of_eight(&self, first: usize, way: usize, rows: &mut [[Eight; BEARING]]) {
        let needs = self.needs();
        for (lane, (_, summer)) in self.met.iter().skip(first).take(LANES).enumerate() {
            for (row, crops) in rows.iter_mut().zip(&self.crops[summer * needs..]) {
                (0..BEARING).for_each(|level| row[level][lane] = crops[way][level]);
            }
        }
    }
}

/// The work handed to the processor's vector instructions.
struct Filling<'a> {
    of: &'a Combinations,
    rows: &'a mut [Line],
}

impl pulp::NullaryFnOnce for Filling<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { of, rows } = self;
        let needs = of.needs().max(1);
        let mut levels = vec![[[0.0; LANES]; BEARING]; of.own];
        let mut crops = vec![[[0.0; LANES]; BEARING]; needs];
        for (eight, rows) in rows.chunks_mut((of.ways.len() * of.own * needs).max(1)).enumerate() {
            of.levels_of_eight(eight * LANES, &mut levels);
            for (rows, (way, _)) in rows.chunks_mut(of.own * needs).zip(&of.ways) {
                of.crops_of_eight(eight * LANES, *way, &mut crops);
                for (rows, levels) in rows.chunks_mut(needs).zip(&levels) {
                    for (Line(row), crop) in rows.iter_mut().zip(&crops) {
                        let mut share = [0.0; LANES];
                        for level in 0..BEARING {
                            for i in 0..LANES {
                                share[i] += levels[level][i] * crop[level][i];
                            }
                        }
                        for i in 0..LANES {
                            row[i] = if share[i] < 1.0 { share[i] } else { 1.0 };
                        }
                    }
                }
            }
        }
    }
}
