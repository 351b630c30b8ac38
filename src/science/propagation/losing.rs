//! The chance that every plant of a kind is lost in one winter.
//!
//! Plants of one kind in one garden share the winter, what is not known of the place, and how hardy the kind is, so they are lost together more
//! often than alone. Given all that, each is lost or not by its own luck; the product is averaged over what they share.

use crate::science::exposure::{Exposure, SharedWinter};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::Gaussian;
use crate::units::TemperatureDelta;

/// Nodes: winters by the share of colder ones, what else the garden shares, hardiness of the kind. Against twice as many of each the chance
/// moves by less than 0.005 (tested).
const WINTERS: usize = 24;
const COMMON: usize = 9;
const HARDINESS: usize = 9;

/// How many nodes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Nodes {
    winters: usize,
    common: usize,
    hardiness: usize,
}

/// Middles of equal parts of a probability.
fn middles(n: usize) -> impl Iterator<Item = f64> {
    (0..n).map(move |i| (i as f64 + 0.5) / n as f64)
}

/// Chance that all of some plants of one kind are dead after one winter; each plant counts so many times. 1 where there is none.
pub fn all_lost(plants: &[(&Exposure, u32)], belief: &HardinessBelief, scale: &DamageScale) -> f64 {
    by_nodes(plants, belief, scale, Nodes { winters: WINTERS, common: COMMON, hardiness: HARDINESS })
}

fn by_nodes(plants: &[(&Exposure, u32)], belief: &HardinessBelief, scale: &DamageScale, nodes: Nodes) -> f64 {
    let standard = Gaussian::new(0.0, 1.0);
    let kinds: Vec<HardinessBelief> =
        middles(nodes.hardiness).map(|p| HardinessBelief::normal(belief.quantile(p), TemperatureDelta::literal(0.0))).collect();
    let mut total = 0.0;
    for colder_share in middles(nodes.winters) {
        for common in middles(nodes.common) {
            let winter = SharedWinter { colder_share, common_z: standard.quantile(common) };
            for kind in &kinds {
                let lost = plants.iter().map(|(exposure, count)| {
                    let [.., dead] = exposure.chance_in(winter, kind, scale);
                    dead.powi(i32::try_from(*count).unwrap_or(i32::MAX))
                });
                total += lost.product::<f64>();
            }
        }
    }
    total / (nodes.winters * nodes.common * nodes.hardiness) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::climate::winter_minimum::WinterMinimum;
    use crate::science::cultivar::HardinessClass;
    use crate::science::exposure::{Circumstances, expose};
    use crate::units::Celsius;

    fn there(mean_c: f64) -> Exposure {
        let lowest = WinterMinimum::Normal { mean: Celsius::literal(mean_c), spread: TemperatureDelta::literal(3.0) };
        expose(&Circumstances::plain_night(lowest), &prior_table::priors().unwrap())
    }

    fn belief() -> HardinessBelief {
        prior_table::priors().unwrap().belief(Some(HardinessClass::new(3).unwrap()), false)
    }

    // The only plant: the chance of death of every other page.
    #[test]
    fn one_plant_is_lost_as_often_as_the_exposure_function_says() {
        let (scale, belief) = (prior_table::priors().unwrap().scale(), belief());
        for mean in [-10.0, -16.0, -22.0, -28.0] {
            let outside = there(mean);
            let [.., dead] = outside.chance(&belief, &scale);
            let all = all_lost(&[(&outside, 1)], &belief, &scale);
            assert!((all - dead).abs() < 0.012, "{mean}: {all} for {dead}");
        }
    }

    #[test]
    fn plants_of_a_kind_are_lost_together_more_often_than_by_chance_and_less_often_than_one() {
        let (scale, belief) = (prior_table::priors().unwrap().scale(), belief());
        let outside = there(-22.0);
        let of = |count| all_lost(&[(&outside, count)], &belief, &scale);
        let (one, two, nine) = (of(1), of(2), of(9));
        assert!(one * one < two - 0.01 && two < one - 0.01, "{one} {two}");
        assert!(nine < two && nine > one.powi(4), "{nine}");
        // A second one that is safe leaves nothing of it; no plant at all is lost.
        let safe = there(5.0);
        assert!(all_lost(&[(&outside, 1), (&safe, 1)], &belief, &scale) < 1e-3);
        assert!((all_lost(&[], &belief, &scale) - 1.0).abs() < 1e-12);
    }

    /// Counted by plain simulation: winters, what is shared, hardiness and each plant's own luck drawn by a congruential generator.
    #[test]
    fn two_plants_in_different_places_agree_with_draws() {
        let (scale, belief) = (prior_table::priors().unwrap().scale(), belief());
        let (open, wall) = (there(-22.0), there(-19.0));
        let mut state = 1u64;
        let mut uniform = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((state >> 11) as f64 + 0.5) / (1u64 << 53) as f64
        };
        let (draws, mut lost) = (40_000, 0);
        for _ in 0..draws {
            let winter = SharedWinter { colder_share: uniform(), common_z: Gaussian::new(0.0, 1.0).quantile(uniform()) };
            let kind = HardinessBelief::normal(belief.quantile(uniform()), TemperatureDelta::literal(0.0));
            let mut dies = |plant: &Exposure| uniform() < plant.chance_in(winter, &kind, &scale)[4];
            lost += usize::from(dies(&open) & dies(&wall));
        }
        let (counted, all) = (lost as f64 / f64::from(draws), all_lost(&[(&open, 1), (&wall, 1)], &belief, &scale));
        // Five standard errors of the count, and what the nodes are off by.
        let error = 5.0 * (counted * (1.0 - counted) / f64::from(draws)).sqrt() + 0.005;
        assert!((counted - all).abs() < error, "{counted} {all}");
    }

    #[test]
    fn finer_nodes_change_little() {
        let (scale, belief) = (prior_table::priors().unwrap().scale(), belief());
        let outside = there(-22.0);
        let fine = by_nodes(&[(&outside, 2)], &belief, &scale, Nodes { winters: 48, common: 18, hardiness: 18 });
        assert!((fine - all_lost(&[(&outside, 2)], &belief, &scale)).abs() < 5e-3);
    }
}
