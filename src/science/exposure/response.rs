//! The response of plants of any hardiness to one exposure, tabulated once: after which every cultivar and level is a look-up.
//!
//! Two sets of tables: with everything averaged over (a chance), and with luck alone, for plants whose doubt is held at one value (an
//! interval, and whatever runs over several winters). Doubt moves a plant along the axis of hardiness, so that one table serves them all.

use std::sync::{Arc, OnceLock};

use super::Exposure;
use super::chance::{HARMED, either, levels_of};
use super::doubt::DoubtSource;
use super::roots::RootView;
use super::tissue::Tissue;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::chances::{LONG_RUN_WINTERS, Levels, Outlook, WinterChances, nodes};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::{Gaussian, SmoothTable, SoftLogistic, Z_90};
use crate::units::{Interval, TemperatureDelta};

/// Grid step of the tables, K: interpolation error below 2e-5, since luck smooths the response over at least 3 K.
const STEP_K: f64 = 0.5;
/// Finer step of the kernel from which pots are tabulated, K, and its reach: beyond 45 K of x − E nothing changes.
const KERNEL_STEP_K: f64 = 0.25;
const KERNEL_REACH_K: f64 = 45.0;
/// Weight of each end when a normal doubt is stood for by its middle and those ends: keeps the variance, 1/(2·1.645²).
const END_WEIGHT: f64 = 0.184_8;
/// Points between the ends of a range of doubt at which levels are looked at: those in the middle rise and fall.
const RANGE_STEPS: usize = 6;

/// What is averaged over in a table.
#[derive(Debug, Clone, Copy)]
struct View {
    doubt: bool,
    roots: RootView,
    log_beta: f64,
}

/// P(at least a level) by how hard the tissue is, °C.
#[derive(Debug, Clone)]
struct Tables {
    /// Where young roots in a pot are lost with the tips.
    tips: Option<SmoothTable>,
    top: SmoothTable,
    base: SmoothTable,
}

/// A response, ready for any number of cultivars.
#[derive(Debug, Clone)]
pub struct Response {
    inner: Arc<Inner>,
}

#[derive(Debug)]
struct Inner {
    exposure: Exposure,
    scale: DamageScale,
    h: Interval<f64>,
    /// How much harder the tissue of each level stands than its plant, offset included, K, where that is the same for plants of every hardiness.
    stands_k: Option<[f64; 4]>,
    all: Tables,
    /// Luck alone, share and tables: one in the ground; with roots of a pot at their tender end, middle and hardy end.
    luck: OnceLock<Vec<(f64, Tables)>>,
    /// Luck alone with the steepness at its ends.
    slopes: OnceLock<[Tables; 2]>,
}

/// The lowest air without what is not known of its mean.
fn luck_of(lowest: WinterMinimum) -> WinterMinimum {
    match lowest {
        WinterMinimum::Band { spread, .. } => WinterMinimum::Normal { mean: lowest.mean(), spread },
        other => other,
    }
}

/// What a band leaves open of the mean, K.
fn band_doubt_k(lowest: &WinterMinimum) -> f64 {
    match lowest {
        // A uniform variable has variance width²/12.
        WinterMinimum::Band { mean, .. } => (mean.high - mean.low).kelvin() / 12f64.sqrt(),
        _ => 0.0,
    }
}

/// Where the tissue that decides over a level stands in a plant of hardiness `h`, the level's offset included, °C.
fn stands_c(exposure: &Exposure, scale: &DamageScale, level: DamageLevel, h: f64) -> f64 {
    exposure.part(level, h).1 + exposure.offset_k(level, scale)
}

impl Inner {
    fn tables(&self, view: View) -> Tables {
        tables(&self.exposure, &self.scale, self.h, view)
    }

    fn luck(&self) -> &[(f64, Tables)] {
        self.luck.get_or_init(|| {
            let at = |z: f64| self.tables(View { doubt: false, roots: RootView::Held(z), log_beta: 0.0 });
            if self.exposure.roots.is_some() {
                vec![(END_WEIGHT, at(Z_90)), (1.0 - 2.0 * END_WEIGHT, at(0.0)), (END_WEIGHT, at(-Z_90))]
            } else {
                vec![(1.0, at(0.0))]
            }
        })
    }

    fn slopes(&self) -> &[Tables; 2] {
        self.slopes.get_or_init(|| {
            [-Z_90, Z_90]
                .map(|z| self.tables(View { doubt: false, roots: RootView::Held(0.0), log_beta: z * self.exposure.log_beta_doubt }))
        })
    }

    fn levels(&self, tables: &Tables, h: f64) -> [f64; 5] {
        levels_of(self.at_least(tables, [h; 4]))
    }

    /// Chance of at least each level above unharmed, for hardiness given per level.
    fn at_least(&self, tables: &Tables, h: [f64; 4]) -> [f64; 4] {
        let mut out = [0.0; 4];
        for ((slot, level), h) in out.iter_mut().zip(HARMED).zip(h) {
            let x = match &self.stands_k {
                Some(stands_k) => h + stands_k[level.index() - 1],
                None => stands_c(&self.exposure, &self.scale, level, h),
            };
            let table = match level {
                DamageLevel::Dead => &tables.base,
                DamageLevel::Tips => tables.tips.as_ref().unwrap_or(&tables.top),
                _ => &tables.top,
            };
            *slot = table.at(x);
        }
        out
    }
}

fn tables(exposure: &Exposure, scale: &DamageScale, h: Interval<f64>, view: View) -> Tables {
    let beta = scale.beta * view.log_beta.exp();
    let lowest = if view.doubt { exposure.lowest } else { luck_of(exposure.lowest) };
    let variance = |tissue: &Tissue| {
        let doubt = if view.doubt { tissue.doubts.variance_k2() } else { 0.0 };
        tissue.luck_k2 + doubt + exposure.shared_winter_k.powi(2)
    };
    let ends = |level: DamageLevel| {
        let at = |h: f64| stands_c(exposure, scale, level, h);
        Interval::between(at(h.low), at(h.high))
    };
    let top_ends = ends(DamageLevel::ToGround).including(ends(DamageLevel::Tips).high).including(ends(DamageLevel::Wood).high);
    let base_ends = ends(DamageLevel::Dead);
    let Some(nodes) = exposure.nodes(&lowest, view.roots) else {
        let fill = |ends: Interval<f64>, tissue: &Tissue| {
            SmoothTable::fill_at_once(ends.low, ends.high, STEP_K, |at| {
                lowest.expected_logistics(beta, (tissue.share, tissue.offset_k), variance(tissue), at);
            })
        };
        return Tables { tips: None, top: fill(top_ends, &exposure.top), base: fill(base_ends, &exposure.base) };
    };
    let fill = |ends: Interval<f64>, tissue: &Tissue, killed: fn((f64, f64)) -> f64| {
        let fixed = variance(tissue);
        // Where doubt is the same at every temperature one kernel serves them all.
        let kernel = (!view.doubt || !tissue.doubt_varies()).then(|| {
            SmoothTable::fill_at_once(-KERNEL_REACH_K, KERNEL_REACH_K, KERNEL_STEP_K, |u| SoftLogistic::new(beta, fixed).replace(u))
        });
        SmoothTable::fill_at_once(ends.low, ends.high, STEP_K, |sums| {
            let at = sums.to_vec();
            sums.fill(0.0);
            for &(t, w, roots) in &nodes {
                let mut reached: Vec<f64> = at.iter().map(|x| x - tissue.share * t - tissue.offset_k).collect();
                if let Some(kernel) = &kernel {
                    for u in &mut reached {
                        *u = kernel.at(*u);
                    }
                } else {
                    let beside = tissue.doubt_at_k2(t) - tissue.doubts.variance_k2();
                    SoftLogistic::new(beta, fixed + beside).replace(&mut reached);
                }
                sums.iter_mut().zip(reached).for_each(|(sum, reached)| *sum += w * either(reached, killed(roots)));
            }
        })
    };
    let top = &exposure.top;
    Tables {
        tips: exposure.roots.is_some().then(|| fill(ends(DamageLevel::Tips), top, |(young, _)| young)),
        top: fill(top_ends, top, |(_, dead)| dead),
        base: fill(base_ends, &exposure.base, |(_, dead)| dead),
    }
}

impl Response {
    /// Tabulates for hardiness within `h` (°C).
    pub fn new(exposure: Exposure, scale: &DamageScale, h: Interval<f64>) -> Self {
        // Doubt moves plants along the axis: the tables reach as far as it may.
        let reach = 4.0 * exposure.base.doubts.variance_k2().max(exposure.top.doubts.variance_k2()).sqrt() + 6.0;
        let h = Interval { low: h.low - reach, high: h.high + reach };
        let all = tables(&exposure, scale, h, View { doubt: true, roots: RootView::Averaged, log_beta: 0.0 });
        let moves = exposure.top.moves_with_h() && exposure.base.moves_with_h();
        let stands_k = moves.then(|| HARMED.map(|level| stands_c(&exposure, scale, level, 0.0)));
        Self { inner: Arc::new(Inner { exposure, scale: *scale, h, stands_k, all, luck: OnceLock::new(), slopes: OnceLock::new() }) }
    }

    /// What it is the response to.
    pub fn exposure(&self) -> &Exposure {
        &self.inner.exposure
    }

    /// P(y = k) in one winter for a plant of hardiness `h` (°C), doubt of the place averaged over; sums to 1.
    #[inline]
    pub fn levels(&self, h: f64) -> [f64; 5] {
        self.inner.levels(&self.inner.all, h)
    }

    /// The same with luck alone, for each state of the roots of a pot with its share: doubt is in `h`.
    fn luck_levels(&self, h: f64) -> impl Iterator<Item = (f64, [f64; 5])> + '_ {
        self.inner.luck().iter().map(move |(w, tables)| (*w, self.inner.levels(tables, h)))
    }

    /// Standard deviation of what is not known and moves a level, the cultivar apart, K.
    fn doubt_k(&self, level: DamageLevel) -> f64 {
        let exposure = &self.inner.exposure;
        let (tissue, _) = exposure.part(level, 0.0);
        let gap = match level {
            DamageLevel::Tips => exposure.gap_doubts_k[0],
            DamageLevel::Wood => exposure.gap_doubts_k[1],
            DamageLevel::Dead => exposure.gap_doubts_k[2],
            DamageLevel::Unharmed | DamageLevel::ToGround => 0.0,
        };
        let band = tissue.share * band_doubt_k(&exposure.lowest);
        (tissue.doubts.variance_k2() + gap * gap + band * band).sqrt()
    }

    /// What is not known of the tops here, by source, K; the cultivar apart.
    pub fn doubts(&self) -> Vec<(DoubtSource, f64)> {
        let exposure = &self.inner.exposure;
        let doubts = exposure.top.doubts.with(DoubtSource::Place, exposure.top.share * band_doubt_k(&exposure.lowest));
        let mut found: Vec<(DoubtSource, f64)> = doubts.sources().collect();
        if let Some(roots) = &exposure.roots {
            found.push((DoubtSource::Roots, roots.doubt_sd_k(exposure.lowest.mean().degrees())));
        }
        found
    }
}

/// Responses of plants at some hardinesses, interpolated between them and held beyond the ends; one where hardiness does not matter.
#[derive(Debug, Clone)]
pub struct ResponseFamily {
    /// From hardy to tender, at least one.
    members: Vec<(f64, Response)>,
}

fn blend(a: [f64; 5], b: [f64; 5], share: f64) -> [f64; 5] {
    std::array::from_fn(|k| a[k] + share * (b[k] - a[k]))
}

impl ResponseFamily {
    /// One response for all.
    pub fn one(response: Response) -> Self {
        Self { members: vec![(0.0, response)] }
    }

    /// A response at each of several hardinesses; `None` when there is none.
    pub fn several(mut members: Vec<(f64, Response)>) -> Option<Self> {
        members.sort_by(|a, b| a.0.total_cmp(&b.0));
        (!members.is_empty()).then_some(Self { members })
    }

    /// The two members about a hardiness and the share of the second.
    fn about(&self, h: f64) -> Option<(&Response, &Response, f64)> {
        if let [(_, only)] = self.members.as_slice() {
            return Some((only, only, 0.0));
        }
        let above = self.members.partition_point(|(at, _)| *at < h).clamp(1, self.members.len() - 1);
        match self.members.get(above - 1..=above) {
            Some([(low, colder), (high, warmer)]) => Some((colder, warmer, ((h - low) / (high - low)).clamp(0.0, 1.0))),
            _ => None,
        }
    }

    /// The member nearest a hardiness.
    pub fn nearest(&self, h: f64) -> Option<&Response> {
        self.about(h).map(|(a, b, share)| if share < 0.5 { a } else { b })
    }

    /// P(y = k) in one winter for a plant of hardiness `h` (°C), by level; sums to 1.
    #[inline]
    pub fn levels(&self, h: f64) -> [f64; 5] {
        match self.about(h) {
            Some((only, _, 0.0)) => only.levels(h),
            Some((a, b, share)) => blend(a.levels(h), b.levels(h), share),
            None => [1.0, 0.0, 0.0, 0.0, 0.0],
        }
    }

    /// Chance of each level for a belief, everything averaged over.
    pub fn chance(&self, belief: &HardinessBelief) -> Levels<f64> {
        let mut sum = [0.0; 5];
        for (weight, h) in nodes(belief) {
            for (total, p) in sum.iter_mut().zip(self.levels(h)) {
                *total += weight * p;
            }
        }
        Levels::from_array(sum.map(|p| p.clamp(0.0, 1.0)))
    }

    /// Points of doubt for a belief, with luck alone in the levels: weight and levels. Doubt of place, age, cover and cultivar together.
    pub fn doubted(&self, belief: &HardinessBelief) -> Vec<(f64, [f64; 5])> {
        let Some(middle) = self.nearest(belief.mean().degrees()) else { return Vec::new() };
        let wide = belief.shifted(Gaussian::new(0.0, middle.doubt_k(DamageLevel::ToGround)));
        nodes(&wide)
            .flat_map(|(weight, h)| self.nearest(h).into_iter().flat_map(move |r| r.luck_levels(h).map(move |(w, l)| (weight * w, l))))
            .collect()
    }

    /// The chances of one winter and of ten for a belief.
    pub fn outlook(&self, belief: &HardinessBelief) -> Outlook {
        let alive = self.doubted_deaths(belief).into_iter().map(|(w, dead)| w * (1.0 - dead).powi(LONG_RUN_WINTERS)).sum::<f64>();
        Outlook { chance: self.chance(belief), alive_long_run: alive.clamp(0.0, 1.0) }
    }

    /// Chances of death in one winter, each doubt held: weight and chance.
    fn doubted_deaths(&self, belief: &HardinessBelief) -> Vec<(f64, f64)> {
        let Some(middle) = self.nearest(belief.mean().degrees()) else { return Vec::new() };
        let wide = belief.shifted(Gaussian::new(0.0, middle.doubt_k(DamageLevel::Dead)));
        nodes(&wide)
            .flat_map(|(weight, h)| {
                self.nearest(h).into_iter().flat_map(move |r| {
                    let inner = &r.inner;
                    inner.luck().iter().map(move |(w, t)| (weight * w, inner.levels(t, h)[4]))
                })
            })
            .collect()
    }

    /// The chances of one winter with the 90 % interval of what is not known; the interval always holds the chance.
    pub fn chances(&self, belief: &HardinessBelief) -> WinterChances {
        let Outlook { chance, alive_long_run } = self.outlook(belief);
        WinterChances { interval: self.interval(belief, &chance), chance, alive_long_run }
    }

    /// The 90 % interval of what is not known of chances; it always holds them.
    pub fn interval(&self, belief: &HardinessBelief, chance: &Levels<f64>) -> Levels<Interval<f64>> {
        let mut interval = chance.to_array().map(|p| Interval { low: p, high: p });
        if let Some(middle) = self.nearest(belief.mean().degrees()) {
            let ends = HARMED.map(|level| {
                let wide = belief.shifted(Gaussian::new(0.0, middle.doubt_k(level)));
                let ends = wide.interval_90();
                (ends.low.degrees(), ends.high.degrees())
            });
            for step in 0..=RANGE_STEPS {
                let along = step as f64 / RANGE_STEPS as f64;
                let h = ends.map(|(low, high)| low + along * (high - low));
                for levels in self.held(h, along) {
                    for (slot, p) in interval.iter_mut().zip(levels) {
                        *slot = slot.including(p);
                    }
                }
            }
        }
        Levels::from_array(interval)
    }

    /// Levels with luck alone for a doubt held `along` its range (0: hardy end, 1: tender end): steepness at its middle and ends, roots along.
    fn held(&self, h: [f64; 4], along: f64) -> Vec<[f64; 5]> {
        let Some(response) = self.nearest(h[2]) else { return Vec::new() };
        let inner = &response.inner;
        let at = |tables: &Tables| levels_of(inner.at_least(tables, h));
        match inner.luck() {
            [(_, only)] => std::iter::once(only).chain(inner.slopes()).map(at).collect(),
            [(_, tender), (_, middle), (_, hardy)] => {
                let (a, b, share) = if along > 0.5 { (middle, tender, 2.0 * along - 1.0) } else { (hardy, middle, 2.0 * along) };
                vec![blend(at(a), at(b), share)]
            }
            _ => Vec::new(),
        }
    }

    /// Levels of a plant of hardiness `h` with luck alone, roots of a pot at their middle.
    pub fn luck_at(&self, h: f64) -> [f64; 5] {
        let Some(response) = self.nearest(h) else { return [1.0, 0.0, 0.0, 0.0, 0.0] };
        let luck = response.inner.luck();
        luck.get(luck.len() / 2).map_or([1.0, 0.0, 0.0, 0.0, 0.0], |(_, tables)| response.inner.levels(tables, h))
    }

    /// Levels of a plant of hardiness `h` (°C) with luck alone, for each state of the roots of a pot with its weight: one state in the ground.
    pub fn luck_by_roots(&self, h: f64) -> impl Iterator<Item = (f64, [f64; 5])> + '_ {
        self.nearest(h).into_iter().flat_map(move |response| response.luck_levels(h))
    }

    /// Standard deviation of what is not known here and moves all cultivars alike, for tops of hardiness near `h` (°C), K.
    pub fn shared_doubt_k(&self, h: f64) -> f64 {
        self.nearest(h).map_or(0.0, |response| response.doubt_k(DamageLevel::ToGround))
    }

    /// Levels with luck alone and roots of a pot at their hardy and tender ends; `None` in the ground.
    pub fn roots_ends(&self, h: f64) -> Option<[[f64; 5]; 2]> {
        let inner = &self.nearest(h)?.inner;
        match inner.luck() {
            [(_, tender), _, (_, hardy)] => Some([inner.levels(hardy, h), inner.levels(tender, h)]),
            _ => None,
        }
    }

    /// What is not known here, by source, K, for a plant of a belief; the cultivar with it.
    pub fn doubts(&self, belief: &HardinessBelief) -> Vec<(DoubtSource, TemperatureDelta)> {
        let mut found = self.nearest(belief.mean().degrees()).map(Response::doubts).unwrap_or_default();
        found.push((DoubtSource::Hardiness, belief.sd().kelvin()));
        found.sort_by(|a, b| b.1.total_cmp(&a.1));
        found.into_iter().map(|(source, sd)| (source, TemperatureDelta::literal(sd))).collect()
    }
}
