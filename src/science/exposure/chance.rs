//! Chances for one belief, exactly: hardiness, doubt and luck in closed form, the air by quadrature only where a pot's roots share it.

use std::num::NonZeroUsize;
use std::sync::LazyLock;

use gauss_quad::{GaussHermite, GaussLegendre};

use super::Exposure;
use super::roots::RootView;
use super::tissue::Tissue;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::{PROBIT_MIXTURE, expected_logistic};
use crate::units::Celsius;

/// Nodes over a normal lowest temperature and over the band of a zone: against 40 and 20 nodes they leave less than 1e-4 (tested).
const NORMAL_NODES: usize = 16;
const BAND_NODES: usize = 4;
/// Nodes over the quantiles of an extreme-value distribution.
const QUANTILE_NODES: usize = 64;

static NORMAL_RULE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let rule = GaussHermite::new(NonZeroUsize::new(NORMAL_NODES).unwrap_or(NonZeroUsize::MIN));
    rule.iter().map(|pair| (pair.0 * std::f64::consts::SQRT_2, pair.1 / std::f64::consts::PI.sqrt())).collect()
});

fn unit_rule(nodes: usize) -> Vec<(f64, f64)> {
    let rule = GaussLegendre::new(NonZeroUsize::new(nodes).unwrap_or(NonZeroUsize::MIN));
    rule.iter().map(|pair| (0.5 + 0.5 * pair.0, 0.5 * pair.1)).collect()
}

static BAND_RULE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| unit_rule(BAND_NODES));
static QUANTILE_RULE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| unit_rule(QUANTILE_NODES));

/// Lowest temperatures that stand for a distribution, °C, with their weights.
pub(super) fn air_nodes(lowest: &WinterMinimum) -> Vec<(f64, f64)> {
    match *lowest {
        WinterMinimum::Normal { mean, spread } => NORMAL_RULE.iter().map(|(z, w)| (mean.degrees() + z * spread.kelvin(), *w)).collect(),
        WinterMinimum::Band { mean, spread } => {
            let width = (mean.high - mean.low).kelvin();
            let at = |u: f64| mean.low.degrees() + u * width;
            BAND_RULE.iter().flat_map(|(u, v)| NORMAL_RULE.iter().map(move |(z, w)| (at(*u) + z * spread.kelvin(), v * w))).collect()
        }
        WinterMinimum::Gev { .. } => QUANTILE_RULE.iter().map(|(u, w)| (lowest.quantile(*u).degrees(), *w)).collect(),
    }
}

/// Chances of at least tips, wood, to the ground, dead → chances of the five levels.
pub(super) fn levels_of([tips, wood, ground, dead]: [f64; 4]) -> [f64; 5] {
    let tips = tips.clamp(0.0, 1.0);
    let wood = wood.clamp(0.0, tips);
    let ground = ground.clamp(0.0, wood);
    let dead = dead.clamp(0.0, ground);
    [1.0 - tips, tips - wood, wood - ground, ground - dead, dead]
}

/// Lowest outside air, its weight, and the chances there that young roots are lost and that roots kill the plant.
pub(super) type RootNode = (f64, f64, (f64, f64));

/// Chance that each part of a plant is lost of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// Tips, buds and shoots, by the air.
    pub tips: f64,
    /// Trunk and branches to the ground, by the air.
    pub trunk: f64,
    /// Roots: in a pot by its own temperature, in the ground with the crown.
    pub roots: f64,
}

/// Either of two independent causes.
pub(super) fn either(a: f64, b: f64) -> f64 {
    1.0 - (1.0 - a) * (1.0 - b)
}

/// The four levels above unharmed, in order.
pub(super) const HARMED: [DamageLevel; 4] = [DamageLevel::Tips, DamageLevel::Wood, DamageLevel::ToGround, DamageLevel::Dead];

impl Exposure {
    /// T50 of a level minus that of ground-kill, K, for a plant of this age.
    pub fn offset_k(&self, level: DamageLevel, scale: &DamageScale) -> f64 {
        match (level, self.young_gap_dead_k) {
            (DamageLevel::Dead, Some(gap)) => -gap,
            _ => scale.offset_k(level).unwrap_or(0.0),
        }
    }

    /// The part of the plant that decides over a level, and how hard it is now in a plant of hardiness `h`, °C.
    pub(super) fn part(&self, level: DamageLevel, h: f64) -> (&Tissue, f64) {
        match level {
            DamageLevel::Dead => (&self.base, self.base.wood_c(h)),
            DamageLevel::Tips | DamageLevel::Unharmed => (&self.top, self.top.tips_c(h)),
            DamageLevel::Wood | DamageLevel::ToGround => (&self.top, self.top.wood_c(h)),
        }
    }

    /// Spread of what a garden's plants share in a winter as far as it moves a level, K: most of it is how the autumn hardened the wood, and of
    /// that green tissue has nothing left that could differ.
    fn shared_k(&self, level: DamageLevel) -> f64 {
        let share = match level {
            DamageLevel::Tips | DamageLevel::Unharmed => self.top.tips_share(),
            DamageLevel::Wood | DamageLevel::ToGround => self.top.wood_share(),
            DamageLevel::Dead => self.base.wood_share(),
        };
        (1.0 - share) * self.shared_winter_k
    }

    /// Chance of each level, everything averaged over, in the order of [`DamageLevel::ALL`].
    pub fn chance(&self, belief: &HardinessBelief, scale: &DamageScale) -> [f64; 5] {
        levels_of(self.at_least(belief, scale))
    }

    /// Chance that each part is lost of itself, whatever becomes of the others.
    pub fn parts(&self, belief: &HardinessBelief, scale: &DamageScale) -> Parts {
        let [tips, _, trunk, base] = self.at_least_by(belief, scale, None);
        let roots = self
            .roots
            .as_ref()
            .map_or(base, |roots| air_nodes(&self.lowest).into_iter().map(|(t, w)| w * roots.chances(t, RootView::Averaged).1).sum());
        Parts { tips, trunk, roots }
    }

    fn at_least(&self, belief: &HardinessBelief, scale: &DamageScale) -> [f64; 4] {
        let nodes: Option<Vec<RootNode>> = self
            .roots
            .as_ref()
            .map(|roots| air_nodes(&self.lowest).into_iter().map(|(t, w)| (t, w, roots.chances(t, RootView::Averaged))).collect());
        self.at_least_by(belief, scale, nodes.as_deref())
    }

    fn at_least_by(&self, belief: &HardinessBelief, scale: &DamageScale, nodes: Option<&[RootNode]>) -> [f64; 4] {
        HARMED.map(|level| {
            belief
                .components()
                .iter()
                .map(|part| {
                    let (tissue, hard) = self.part(level, part.h.mean);
                    let x = hard + self.offset_k(level, scale);
                    let kept = tissue.kept_of_h(part.h.mean) * part.h.sd;
                    let variance = kept * kept + tissue.variance_k2() + self.shared_k(level).powi(2);
                    part.weight * self.reached(scale.beta, x, tissue, variance, level, nodes)
                })
                .sum()
        })
    }

    /// Chance that a level is reached by tissue that stands `x` °C, with this variance beside the air's.
    fn reached(&self, beta: f64, x: f64, tissue: &Tissue, variance: f64, level: DamageLevel, nodes: Option<&[RootNode]>) -> f64 {
        let Some(nodes) = nodes else {
            let at = |&(p, s): &(f64, f64)| p * self.lowest.expected_probit(s * beta, x, tissue.share, tissue.offset_k, variance);
            return PROBIT_MIXTURE.iter().map(at).sum();
        };
        let at = |&(t, w, (young, dead)): &RootNode| {
            let top = expected_logistic(beta * (x - tissue.share * t - tissue.offset_k), beta * beta * variance);
            w * either(top, if level == DamageLevel::Tips { young } else { dead })
        };
        nodes.iter().map(at).sum()
    }

    /// Outside air at which half of such plants of hardiness `h` have reached a level, °C: what is averaged over aside.
    pub fn outside_t50(&self, level: DamageLevel, h: f64, scale: &DamageScale) -> Celsius {
        let (tissue, hard) = self.part(level, h);
        Celsius::literal((hard + self.offset_k(level, scale) - tissue.offset_k) / tissue.share.max(1e-3))
    }
}
