//! From ground-kill to the other levels of damage: the steepness and the gaps that all cultivars share.

use super::level::DamageLevel;

/// Steepness of damage with temperature, and where the other levels begin relative to ground-kill.
///
/// P(y ≥ k | h, E) = logistic(β · (h + offset(k) − E)) with `offset` 0 for ground-kill.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct DamageScale {
    /// β, 1/K, > 0.
    pub beta: f64,
    /// T50(tips) − T50(to the ground), K, > 0.
    pub gap_tips_k: f64,
    /// T50(wood) − T50(to the ground), K, > 0.
    pub gap_wood_k: f64,
    /// T50(to the ground) − T50(dead), K, > 0.
    pub gap_dead_k: f64,
}

impl DamageScale {
    /// T50 of a level minus that of ground-kill, K. `Unharmed` has none: every winter leaves at least that.
    pub fn offset_k(&self, level: DamageLevel) -> Option<f64> {
        match level {
            DamageLevel::Unharmed => None,
            DamageLevel::Tips => Some(self.gap_tips_k),
            DamageLevel::Wood => Some(self.gap_wood_k),
            DamageLevel::ToGround => Some(0.0),
            DamageLevel::Dead => Some(-self.gap_dead_k),
        }
    }
}
