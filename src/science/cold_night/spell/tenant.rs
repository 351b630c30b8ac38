//! Another plant than a fig in a plan: all that is known of it are two temperatures, one at which it is hurt and one at which it is dead.
//!
//! It follows the air it stands in, without a pot's heat and without hardening: `P(hurt) = P(lowest ≤ hurt)`, `P(dead) = P(lowest ≤ dead)`
//! over the lowest of its nights, for the ordinary and the bad misses of a forecast.

use super::lowest::chance_at_most;
use super::spots::Course;
use crate::science::cold_night::forecast::TAILS;
use crate::science::cold_night::risk::Risk;
use crate::science::hardiness::chances::Levels;
use crate::science::numeric::Gaussian;

/// Share of its worth that a hurt plant loses. DESIGN: between nothing and all.
const HURT_SHARE: f64 = 0.5;
/// Least spread of a night, K: a thermometer's. DESIGN.
const LEAST_SD_K: f64 = 0.3;

/// The two temperatures, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tenant {
    /// Hurt at and below.
    pub hurt_c: f64,
    /// Dead at and below.
    pub dead_c: f64,
}

/// What a way through the spell does to it; hurt counts as wood lost, dead as dead.
pub fn risk(tenant: Tenant, courses: &[&Course], way: &[u8]) -> Risk {
    let (mut hurt, mut dead) = (0.0, 0.0);
    for (weight, stretch) in TAILS {
        let nights: Vec<Gaussian> = way
            .iter()
            .enumerate()
            .filter_map(|(n, spot)| courses.get(usize::from(*spot))?.nights.get(n))
            .map(|night| night.minimum(stretch))
            .map(|night| Gaussian::new(night.mean, night.sd.max(LEAST_SD_K)))
            .collect();
        hurt += weight * chance_at_most(&nights, tenant.hurt_c);
        dead += weight * chance_at_most(&nights, tenant.dead_c);
    }
    let (hurt, dead) = (hurt.clamp(0.0, 1.0), dead.clamp(0.0, hurt.clamp(0.0, 1.0)));
    let chance = Levels::from_array([1.0 - hurt, 0.0, hurt - dead, 0.0, dead]);
    Risk { chance, loss_share: HURT_SHARE * (hurt - dead) + dead, pot: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::cold_night::spell::spots::NightAir;

    fn course(lows: &[f64], sd: f64) -> Course {
        let night = |low: &f64| NightAir {
            minimum_c: *low,
            evening_c: low + 5.0,
            forecast_sd_k: 0.0,
            own_sd_k: sd,
            windy: false,
            outdoors: true,
            steps: vec![*low],
            step_s: 600.0,
        };
        Course { nights: lows.iter().map(night).collect(), days: Vec::new() }
    }

    const PEPPERS: Tenant = Tenant { hurt_c: -3.0, dead_c: -6.0 };

    #[test]
    fn half_are_hurt_where_the_night_comes_down_to_what_hurts_and_none_far_above() {
        let (open, house) = (course(&[-3.0], 1.0), course(&[4.0], 1.0));
        let at = |way: &[u8]| risk(PEPPERS, &[&open, &house], way);
        let out = at(&[0]);
        assert!((out.chance.unharmed - 0.5).abs() < 1e-9 && out.chance.dead < 0.002);
        assert!((out.loss_share - (0.5 * out.chance.wood + out.chance.dead)).abs() < 1e-12);
        assert!(at(&[1]).loss_share < 1e-6);
    }

    #[test]
    fn the_coldest_night_out_decides_and_a_night_inside_spares() {
        let (open, house) = (course(&[-1.0, -7.0, -1.0], 0.5), course(&[3.0, 3.0, 3.0], 0.5));
        let at = |way: &[u8]| risk(PEPPERS, &[&open, &house], way).loss_share;
        assert!(at(&[0, 0, 0]) > 0.95 && at(&[0, 1, 0]) < 0.01 && at(&[1, 0, 1]) > 0.95);
    }
}
