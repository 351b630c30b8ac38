//! How many years in ten a fig bears in the long run, as far as it is known: a distribution, kept apart by what all figs of a place share, so
//! that two of them can be compared without their common doubt.
//!
//! Shared: how cold and how warm the place is, what setting, cover, age and store do, what roots in a pot stand. Own: how hardy the kind is,
//! what its crop needs, whether it bears on shoots from the base. Given what is shared, kinds are taken as independent.

use std::num::NonZeroUsize;
use std::sync::Arc;

use gauss_quad::GaussHermite;

use super::row::{Entry, SitePicture, share};
use crate::science::fruiting::{FruitPriors, FruitTraits, LearnedNeeds, SeasonDegreeDays, crop_chances};
use crate::science::numeric::Gaussian;

/// Nodes over what is shared of the cold and of the summer, and equal parts of what is a kind's own of hardiness and need. Against 13, 7, 41
/// and 21 of them, chances of a comparison move by less than 0.01 (tested).
const COLD_STEPS: usize = 7;
const SUMMER_STEPS: usize = 4;
const HARDINESS_STEPS: usize = 15;
const NEED_STEPS: usize = 9;

/// Shares this near are told as the same: half a year in ten. DESIGN: nobody would notice less.
pub const SAME: f64 = 0.05;

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

/// Shares that are put in order at once, where one among many is looked for.
const FEW: usize = 16;

/// A share of years with the weight that it has.
type Weighted = (f64, f64);

/// Shares of years with ripe figs that one fig may have at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct LongRun {
    /// By what is shared: its weight, and the shares possible then, ascending, their weights summing to 1.
    shared: Vec<(f64, Vec<Weighted>)>,
}

/// Which of two bears in more years, as chances that sum to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// The first does, by half a year in ten or more.
    pub first: f64,
    /// The second does.
    pub second: f64,
    /// Neither: within half a year in ten.
    pub same: f64,
    /// The first bears in more years by however little, ties halved.
    pub first_ahead: f64,
}

/// How much of an ascending list lies behind a bound that only moves on.
#[derive(Default)]
struct Passed {
    count: usize,
    weight: f64,
}

impl Passed {
    fn pass(&mut self, list: &[Weighted], behind: impl Fn(f64) -> bool) -> f64 {
        while let Some((_, w)) = list.get(self.count).filter(|(y, _)| behind(*y)) {
            self.weight += w;
            self.count += 1;
        }
        self.weight
    }
}

impl LongRun {
    /// The share below which it lies with chance `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        let mut all: Vec<Weighted> = self.shared.iter().flat_map(|(w, list)| list.iter().map(move |(x, own)| (*x, w * own))).collect();
        let (mut rest, mut before) = (all.as_mut_slice(), 0.0);
        // The half in which the sum of weights comes to `p` is looked through, and of it the half again.
        while rest.len() > FEW {
            let (low, _, _) = rest.select_nth_unstable_by(rest.len() / 2, |a, b| a.0.total_cmp(&b.0));
            let (half, sum) = (low.len(), before + low.iter().map(|(_, w)| w).sum::<f64>());
            let (low, high) = rest.split_at_mut(half);
            if sum >= p {
                rest = low;
            } else {
                (rest, before) = (high, sum);
            }
        }
        rest.sort_by(|a, b| a.0.total_cmp(&b.0));
        let reached = rest.iter().find(|(_, w)| {
            before += w;
            before >= p
        });
        reached.or(rest.last()).map_or(0.0, |(x, _)| *x)
    }

    /// Chance that the share is at least `x`.
    pub fn at_least(&self, x: f64) -> f64 {
        self.shared.iter().map(|(w, list)| w * list.iter().filter(|(s, _)| *s >= x).map(|(_, own)| own).sum::<f64>()).sum()
    }

    /// This fig beside another at the same place.
    pub fn beside(&self, other: &Self) -> Comparison {
        let mut sum = Comparison { first: 0.0, second: 0.0, same: 0.0, first_ahead: 0.0 };
        for ((weight, ours), (_, theirs)) in self.shared.iter().zip(&other.shared) {
            // Both lists ascend, so each bound moves on only.
            let (mut near_from, mut below, mut upto, mut near_to) =
                (Passed::default(), Passed::default(), Passed::default(), Passed::default());
            for (x, w) in ours {
                let weight = weight * w;
                let less = near_from.pass(theirs, |y| y <= x - SAME);
                let not_more = near_to.pass(theirs, |y| y < x + SAME);
                sum.first += weight * less;
                sum.same += weight * (not_more - less);
                sum.second += weight * (1.0 - not_more);
                sum.first_ahead += weight * 0.5 * (below.pass(theirs, |y| y < *x) + upto.pass(theirs, |y| y <= *x));
            }
        }
        sum
    }
}

/// Equal parts by which a list is stood for where many are held against each other.
const PARTS: f64 = 16.0;

/// An ascending list in at most so many parts: each a run of shares by its mean, with their weight.
fn thinned(list: &[Weighted]) -> impl Iterator<Item = Weighted> + '_ {
    let mut before = 0.0;
    let part = move |point: &Weighted| {
        let part = (before * PARTS).floor();
        before += point.1;
        (part, *point)
    };
    let mut parts: Vec<(f64, Weighted)> = Vec::new();
    for (part, (x, w)) in list.iter().map(part) {
        match parts.last_mut() {
            // Equal shares stay one point, so that a tie is a tie.
            Some((last, (mean, weight))) if *last == part => {
                *weight += w;
                *mean += (x - *mean) * w / *weight;
            }
            _ => parts.push((part, (x, w))),
        }
    }
    parts.into_iter().map(|(_, point)| point)
}

/// For each of several figs at one place the chance that none of the others bears in more years; ties are split. Sums to 1.
pub fn chance_best(figs: &[&LongRun]) -> Vec<f64> {
    let mut best = vec![0.0; figs.len()];
    let nodes = figs.first().map_or(0, |fig| fig.shared.len());
    for node in 0..nodes {
        let mut points: Vec<(f64, usize, f64)> = Vec::new();
        let mut weight = 0.0;
        for (i, fig) in figs.iter().enumerate() {
            if let Some((shared, list)) = fig.shared.get(node) {
                weight = *shared;
                points.extend(thinned(list).map(|(x, w)| (x, i, w)));
            }
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        // Highest of independent variables: each step of one, times the chance that all others lie below; half of a tie counts as below.
        // The product over all is kept as a sum of logarithms, with a count of those that are still 0.
        let mut below = vec![0.0; figs.len()];
        let mut won = vec![0.0; figs.len()];
        let mut all = Product { logs: 0.0, zeros: figs.len() };
        for tie in points.chunk_by(|a, b| b.0 - a.0 < TIE) {
            let mut mass: Vec<(usize, f64)> = Vec::new();
            for &(_, i, w) in tie {
                match mass.iter_mut().find(|(j, _)| *j == i) {
                    Some((_, m)) => *m += w,
                    None => mass.push((i, w)),
                }
            }
            let tied = || mass.iter().map(|(i, m)| (*i, *m, below.get(*i).copied().unwrap_or_default()));
            let middle = tied().fold(all, |all, (_, m, b)| all.without(b).with(b + 0.5 * m));
            for (i, m, b) in tied() {
                if let Some(slot) = won.get_mut(i) {
                    *slot += m * middle.without(b + 0.5 * m).value();
                }
            }
            for (i, m) in mass {
                if let Some(b) = below.get_mut(i) {
                    all = all.without(*b);
                    *b += m;
                    all = all.with(*b);
                }
            }
        }
        let total: f64 = won.iter().sum();
        for (slot, won) in best.iter_mut().zip(won) {
            *slot += weight * if total > 0.0 { won / total } else { 0.0 };
        }
    }
    best
}

/// Shares of years nearer than this are a tie.
const TIE: f64 = 1e-9;

/// A product of chances from which a factor can be taken out again.
#[derive(Clone, Copy)]
struct Product {
    /// Sum of the logarithms of the factors above 0.
    logs: f64,
    /// How many factors are 0.
    zeros: usize,
}

impl Product {
    fn with(self, p: f64) -> Self {
        if p > 0.0 { Self { logs: self.logs + p.ln(), ..self } } else { Self { zeros: self.zeros + 1, ..self } }
    }

    fn without(self, p: f64) -> Self {
        if p > 0.0 { Self { logs: self.logs - p.ln(), ..self } } else { Self { zeros: self.zeros.saturating_sub(1), ..self } }
    }

    fn value(self) -> f64 {
        if self.zeros == 0 { self.logs.exp() } else { 0.0 }
    }
}

/// A fig's traits with what is not known of its crop held: needs `z` standard deviations from their means, and whether it bears from the base.
fn crop_held(traits: &FruitTraits, priors: &FruitPriors, z: f64, bears: bool) -> FruitTraits {
    let held = |need: Gaussian| Gaussian::new(need.mean + z * need.sd, 0.0);
    FruitTraits {
        fruits_on_regrowth: Some(bears),
        learned: Some(LearnedNeeds {
            main: held(traits.main_need(priors)),
            breba: held(traits.breba_need(priors)),
            base: held(traits.base_need(priors)),
        }),
        ..*traits
    }
}

impl SitePicture {
    /// What is believed of the share of years in which each of several figs here bears. Figs of which the same is believed share one.
    pub fn long_runs<K>(&self, entries: &[Entry<'_, K>], priors: &FruitPriors, steps: Steps) -> Vec<Arc<LongRun>> {
        let mut known: Vec<(&Entry<'_, K>, Arc<LongRun>)> = Vec::new();
        let mut found = Vec::with_capacity(entries.len());
        for entry in entries {
            let alike = known.iter().find(|(other, _)| other.fruit == entry.fruit && other.belief == entry.belief);
            let run = alike.map_or_else(|| Arc::new(self.long_run_in(entry, priors, steps)), |(_, run)| Arc::clone(run));
            known.push((entry, Arc::clone(&run)));
            found.push(run);
        }
        found
    }

    /// What is believed of the share of years in which a fig here bears, as finely as asked.
    pub fn long_run_in<K>(&self, entry: &Entry<'_, K>, priors: &FruitPriors, steps: Steps) -> LongRun {
        let degree_days = *self.degree_days();
        let doubt_k = self.response().shared_doubt_k(entry.belief.mean().degrees());
        let regrowth: &[(f64, bool)] = match entry.fruit.fruits_on_regrowth {
            Some(true) => &[(1.0, true)],
            Some(false) => &[(1.0, false)],
            None => &[(priors.regrowth_share, true), (1.0 - priors.regrowth_share, false)],
        };
        let needs = middles(steps.need, |p| Gaussian::new(0.0, 1.0).quantile(p), 0.0, 1.0);
        // Crops by summer, then by what is the kind's own.
        let crops: Vec<(f64, Vec<Weighted5>)> = normal_rule(steps.summer)
            .into_iter()
            .map(|(summer, weight)| {
                let over_years = Gaussian::new(degree_days.over_years.mean + summer * degree_days.doubt, degree_days.over_years.sd);
                let degree_days = SeasonDegreeDays { over_years, doubt: 0.0, ..degree_days };
                let held = |z: &f64, (weight, bears): (f64, bool)| {
                    (weight / steps.need as f64, crop_chances(&crop_held(&entry.fruit, priors, *z, bears), &degree_days, priors).expected)
                };
                (weight, regrowth.iter().flat_map(|&r| needs.iter().map(move |z| held(z, r))).collect())
            })
            .collect();
        let belief = entry.belief;
        let own = middles(steps.hardiness, |p| belief.quantile(p).degrees(), belief.mean().degrees(), belief.sd().kelvin());
        let mut shared = Vec::new();
        for (cold, weight) in normal_rule(steps.cold) {
            let levels: Vec<Vec<Weighted5>> = own.iter().map(|h| self.response().luck_by_roots(h + cold * doubt_k)).collect();
            for state in 0..levels.first().map_or(0, Vec::len) {
                let of_roots = levels.first().and_then(|l| l.get(state)).map_or(0.0, |(w, _)| *w);
                for (of_summer, crops) in &crops {
                    let mut list: Vec<Weighted> = Vec::with_capacity(levels.len() * crops.len());
                    for (_, levels) in levels.iter().filter_map(|l| l.get(state)) {
                        list.extend(crops.iter().map(|(w, crop)| (share(*levels, *crop), w / steps.hardiness as f64)));
                    }
                    list.sort_by(|a, b| a.0.total_cmp(&b.0));
                    shared.push((weight * of_summer * of_roots, list));
                }
            }
        }
        LongRun { shared }
    }
}

/// Levels with a weight.
type Weighted5 = (f64, [f64; 5]);
