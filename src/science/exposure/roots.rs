//! Roots in a pot: the pot's coldest temperature for every lowest air, and the chance that it kills young roots or the plant.
//!
//! The pot model of a cold night is run through the course of the air (the week of a usual cold spell) once for each of the lowest temperatures
//! that stand for their distribution ([`super::nodes`]), and read straight between them; or it was followed already, night by night. Nothing
//! measured is known of fig roots: their limits are starting values with wide spreads.

use std::sync::Arc;

use super::air::Course;
use super::circumstances::{Circumstances, PotInAir, Stand};
use super::nodes;
use super::tissue::Tissue;
use crate::science::cold_night::pot::PotTemperature;
use crate::science::numeric::{Gaussian, expected_logistic};
use crate::science::priors::{Priors, RootPriors};

/// A pot's coldest temperatures, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotAir {
    /// Air at the pot.
    pub air_c: f64,
    /// Against the wall.
    pub wall_c: f64,
    /// Mean of the root zone.
    pub mean_c: f64,
    /// In the middle.
    pub centre_c: f64,
}

/// Roots in a pot.
#[derive(Debug, Clone)]
pub struct Roots {
    /// Air at the pot from the outside, its luck and doubts.
    air: Tissue,
    /// Pots in calm and in windy air with the share of each.
    runs: Vec<(f64, Runs)>,
    /// Root temperature at which half die, °C.
    pub death: Gaussian,
    /// Root temperature at which half lose young roots, °C.
    pub young: Gaussian,
    beta: f64,
    pot_doubt: f64,
}

/// Coldest temperatures of a pot by the lowest air at it, from cold to warm; at least one.
#[derive(Debug, Clone)]
struct Runs(Arc<[(f64, PotTemperature)]>);

/// Whether doubt is averaged over or held at so many standard deviations (positive: tenderer roots, colder pot).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum RootView {
    Averaged,
    Held(f64),
}

impl Runs {
    fn at(&self, air_c: f64) -> PotTemperature {
        let next = self.0.partition_point(|(lowest, _)| *lowest < air_c).clamp(1, self.0.len().max(2) - 1);
        match self.0.get(next - 1..=next) {
            Some([(low, a), (high, b)]) => {
                let t = if high > low { ((air_c - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
                let between = |x: f64, y: f64| x + t * (y - x);
                PotTemperature {
                    wall_c: between(a.wall_c, b.wall_c),
                    mean_c: between(a.mean_c, b.mean_c),
                    centre_c: between(a.centre_c, b.centre_c),
                }
            }
            _ => self.0.first().map_or(PotTemperature { wall_c: air_c, mean_c: air_c, centre_c: air_c }, |(_, pot)| *pot),
        }
    }
}

/// Root temperatures at which half die and half lose young roots, °C.
fn limits(priors: &RootPriors, growing: bool, young: bool) -> (Gaussian, Gaussian) {
    let death = match (growing, young) {
        (true, _) => priors.death_growing,
        (false, true) => priors.death_young,
        (false, false) => priors.death,
    };
    // Young roots are never hardier than the plant.
    (death, if priors.young_roots.mean > death.mean { priors.young_roots } else { death })
}

impl Roots {
    pub(super) fn of(circumstances: &Circumstances, priors: &Priors) -> Option<Self> {
        Self::over(&nodes::lattice(&circumstances.air.lowest), circumstances, priors)
    }

    /// Followed for these lowest temperatures outside, °C, ascending, whatever the distribution of the lowest.
    pub(super) fn over(outside_c: &[f64], circumstances: &Circumstances, priors: &Priors) -> Option<Self> {
        let (pot, outdoors) = match circumstances.stand {
            Stand::Ground => return None,
            Stand::Pot(pot) => (pot, true),
            Stand::Store(_, pot) => (pot?, false),
        };
        let air = Tissue::pot(circumstances);
        let PotInAir { litres, stands } = pot;
        let lowest: Vec<f64> = outside_c.iter().map(|t| air.share * t + air.offset_k).collect();
        let runs = match &circumstances.air.course {
            Course::Followed(coldest) => vec![(1.0, Runs(Arc::clone(coldest)))],
            Course::Nights(nodes) => {
                let mut coldest: Vec<_> = nodes.iter().filter_map(|node| Some((node.lowest_c, node.pot?.1))).collect();
                coldest.sort_by(|a, b| a.0.total_cmp(&b.0));
                vec![(1.0, Runs(coldest.into()))]
            }
            Course::Week(kinds) => [(1.0 - circumstances.air.windy_share, &kinds[0]), (circumstances.air.windy_share, &kinds[1])]
                .into_iter()
                .filter(|(share, _)| *share > 0.0)
                .map(|(share, course)| {
                    let coldest = course.through((litres, stands), &lowest, air.share, outdoors);
                    (share, Runs(lowest.iter().copied().zip(coldest).collect()))
                })
                .collect(),
        };
        let (death, young) = limits(&priors.roots, circumstances.roots_growing, circumstances.age.young);
        Some(Self { air, runs, death, young, beta: priors.roots.beta, pot_doubt: priors.roots.pot_doubt })
    }

    /// The same pot where the lowest air is distributed otherwise; it stays as it was followed.
    pub(super) fn in_air_of(&self, circumstances: &Circumstances) -> Self {
        Self { air: Tissue::pot(circumstances), ..self.clone() }
    }

    /// The pot's coldest temperatures at a lowest outside air, °C; in the air that prevails.
    pub fn coldest(&self, outside_c: f64) -> PotAir {
        let air_c = self.air.share * outside_c + self.air.offset_k;
        let main = self.runs.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        let pot = main.map_or(PotTemperature { wall_c: air_c, mean_c: air_c, centre_c: air_c }, |(_, runs)| runs.at(air_c));
        PotAir { air_c, wall_c: pot.wall_c, mean_c: pot.mean_c, centre_c: pot.centre_c }
    }

    /// (young roots lost, plant killed by its roots) at a lowest outside air, °C.
    pub(super) fn chances(&self, outside_c: f64, view: RootView) -> (f64, f64) {
        let air_c = self.air.share * outside_c + self.air.offset_k;
        let (mut young, mut dead) = (0.0, 0.0);
        for (share, runs) in &self.runs {
            let (y, d) = self.chances_at(outside_c, runs.at(air_c), view);
            young += share * y;
            dead += share * d;
        }
        (young, dead)
    }

    /// The same of a pot that becomes this cold.
    pub(super) fn chances_at(&self, outside_c: f64, pot: PotTemperature, view: RootView) -> (f64, f64) {
        let air_c = self.air.share * outside_c + self.air.offset_k;
        let killed = |at_c: f64, t50: Gaussian| {
            let doubt = self.air.doubt_at_k2(outside_c) + (self.pot_doubt * (at_c - air_c)).powi(2) + t50.variance();
            let (mean, variance) = match view {
                RootView::Averaged => (t50.mean, doubt + self.air.luck_k2),
                RootView::Held(z) => (t50.mean + z * doubt.sqrt(), self.air.luck_k2),
            };
            expected_logistic(self.beta * (mean - at_c), self.beta * self.beta * variance)
        };
        let dead = killed(pot.mean_c, self.death);
        (killed(pot.wall_c, self.young).max(dead), dead)
    }

    /// What is not known of the pot's air, by source; limits of the roots and the pot's own temperature come on top.
    pub fn doubt_sd_k(&self, outside_c: f64) -> f64 {
        let pot = self.coldest(outside_c);
        (self.air.doubt_at_k2(outside_c) + self.death.variance() + (self.pot_doubt * (pot.mean_c - pot.air_c)).powi(2)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::climate::winter_minimum::WinterMinimum;
    use crate::units::Celsius;

    /// By the definition of the temperatures: half of plants have lost young roots at one, half are dead at the other. In growth the roots harden
    /// no more, and the young ones go with the rest.
    #[test]
    fn half_lose_young_roots_at_their_half_point_and_half_die_at_that_of_the_plant() {
        let priors = prior_table::priors().unwrap();
        let at = |growing: bool, c: f64| {
            let mut night = Circumstances::plain_night(WinterMinimum::exactly(Celsius::literal(c)));
            night.stand = Stand::Pot(PotInAir::on_ground(15.0));
            night.air.course = Course::followed(vec![(c, PotTemperature { wall_c: c, mean_c: c, centre_c: c })]);
            night.roots_growing = growing;
            Roots::of(&night, &priors).unwrap().chances(c, RootView::Averaged)
        };
        let half = |chance: f64| (chance - 0.5).abs() < 1e-9;
        let (lost, killed) = at(false, priors.roots.young_roots.mean);
        assert!(half(lost) && killed < 0.2, "{lost} {killed}");
        let (lost, killed) = at(false, priors.roots.death.mean);
        assert!(half(killed) && lost > 0.8, "{lost} {killed}");
        let (lost, killed) = at(true, priors.roots.death_growing.mean);
        assert!(half(lost) && half(killed), "{lost} {killed}");
    }

    /// Growers' rule: young roots go before the plant, and never outlive it.
    #[test]
    fn young_roots_die_at_a_milder_temperature_than_the_plant_or_with_it() {
        let roots = prior_table::priors().unwrap().roots;
        assert!(roots.young_roots.mean > roots.death.mean && roots.death_growing.mean > roots.young_roots.mean, "or this shows nothing");
        assert_eq!(limits(&roots, false, false), (roots.death, roots.young_roots));
        assert_eq!(limits(&roots, false, true), (roots.death_young, roots.young_roots));
        assert_eq!(limits(&roots, true, false), (roots.death_growing, roots.death_growing));
    }
}
