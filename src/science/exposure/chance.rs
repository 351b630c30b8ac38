//! Chances for one belief, exactly: hardiness, doubt and luck in closed form, the air by quadrature only where
//! something else depends on it as well: the roots in a pot, what a store keeps out, the lowest of several nights.

use super::Exposure;
use super::nodes;
use super::roots::RootView;
use super::tissue::Tissue;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::{PROBIT_MIXTURE, expected_logistic};
use crate::units::Celsius;

/// Chances of at least tips, wood, to the ground, dead → chances of the five levels.
pub(super) fn levels_of([tips, wood, ground, dead]: [f64; 4]) -> [f64; 5] {
    let tips = tips.clamp(0.0, 1.0);
    let wood = wood.clamp(0.0, tips);
    let ground = ground.clamp(0.0, wood);
    let dead = dead.clamp(0.0, ground);
    [1.0 - tips, tips - wood, wood - ground, ground - dead, dead]
}

/// Lowest outside air, its weight, and the chances there that young roots are lost and that roots kill the plant (none in the ground).
pub(super) type AirNode = (f64, f64, (f64, f64));

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
        let nodes = self.nodes(&self.lowest, RootView::Averaged);
        let roots = nodes.as_ref().filter(|_| self.roots.is_some()).map(|nodes| nodes.iter().map(|(_, w, (_, dead))| w * dead).sum());
        let alone: Option<Vec<AirNode>> = nodes.map(|nodes| nodes.into_iter().map(|(t, w, _)| (t, w, (0.0, 0.0))).collect());
        let [tips, _, trunk, base] = self.at_least_by(belief, scale, alone.as_deref());
        Parts { tips, trunk, roots: roots.unwrap_or(base) }
    }

    fn at_least(&self, belief: &HardinessBelief, scale: &DamageScale) -> [f64; 4] {
        self.at_least_by(belief, scale, self.nodes(&self.lowest, RootView::Averaged).as_deref())
    }

    /// What stands for the air where that of `lowest` has no closed form: `None` where it has one.
    pub(super) fn nodes(&self, lowest: &WinterMinimum, view: RootView) -> Option<Vec<AirNode>> {
        let roots = self.roots.as_ref();
        if let Some(nights) = &self.nights {
            let of = |pot| roots.zip(pot).map_or((0.0, 0.0), |(roots, (t, pot))| roots.chances_at(t, pot, view));
            return Some(nights.iter().map(|n| (n.lowest_c, n.weight, of(n.pot))).collect());
        }
        if roots.is_none() && !self.top.doubt_varies() {
            return None;
        }
        let of = |t| roots.map_or((0.0, 0.0), |roots| roots.chances(t, view));
        Some(nodes::weighed(&nodes::lattice(&self.lowest), lowest).into_iter().map(|(t, w)| (t, w, of(t))).collect())
    }

    fn at_least_by(&self, belief: &HardinessBelief, scale: &DamageScale, nodes: Option<&[AirNode]>) -> [f64; 4] {
        HARMED.map(|level| {
            belief
                .components()
                .iter()
                .map(|part| {
                    let (tissue, hard) = self.part(level, part.h.mean);
                    let x = hard + self.offset_k(level, scale);
                    let kept = tissue.kept_of_h(part.h.mean) * part.h.sd;
                    let own = kept * kept + self.shared_k(level).powi(2);
                    part.weight * self.reached(scale.beta, x, tissue, own, level, nodes)
                })
                .sum()
        })
    }

    /// Chance that a level is reached by tissue that stands `x` °C, with the plant's own variance, K²; the tissue's comes on top.
    fn reached(&self, beta: f64, x: f64, tissue: &Tissue, own_k2: f64, level: DamageLevel, nodes: Option<&[AirNode]>) -> f64 {
        let Some(nodes) = nodes else {
            let variance = own_k2 + tissue.variance_k2();
            let at = |&(p, s): &(f64, f64)| p * self.lowest.expected_probit(s * beta, x, tissue.share, tissue.offset_k, variance);
            return PROBIT_MIXTURE.iter().map(at).sum();
        };
        let at = |&(t, w, (young, dead)): &AirNode| {
            let variance = own_k2 + tissue.luck_k2 + tissue.doubt_at_k2(t);
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
