//! One plant on nights of any cold: what its pot goes through is followed once for all of them, as a picture along the axis asks.

use super::circumstances::Circumstances;
use super::roots::Roots;
use super::{Exposure, exposed};
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::priors::Priors;

/// Coldest and mildest of the lowest air for which a pot is followed, °C. DESIGN: beyond, by every limit of the priors, roots are dead or unharmed.
const COLDEST_C: f64 = -45.0;
const MILDEST_C: f64 = 15.0;
/// Step between them, K: chances differ by less than 2e-3 from those of a pot that is followed for the night itself (tested).
const STEP_K: f64 = 0.25;

/// A plant whose lowest air is asked about again and again.
#[derive(Debug, Clone)]
pub struct AnyNight<'a> {
    circumstances: Circumstances,
    priors: &'a Priors,
    roots: Option<Roots>,
}

impl<'a> AnyNight<'a> {
    /// For circumstances, their own lowest air aside.
    pub fn new(circumstances: Circumstances, priors: &'a Priors) -> Self {
        let steps = ((MILDEST_C - COLDEST_C) / STEP_K) as usize;
        let outside_c: Vec<f64> = (0..=steps).map(|i| COLDEST_C + STEP_K * i as f64).collect();
        Self { roots: Roots::over(&outside_c, &circumstances, priors), circumstances, priors }
    }

    /// What it meets where the lowest air is distributed like this.
    pub fn meeting(&self, lowest: WinterMinimum) -> Exposure {
        let mut circumstances = self.circumstances.clone();
        circumstances.air.lowest = lowest;
        let roots = self.roots.as_ref().map(|roots| roots.in_air_of(&circumstances));
        exposed(&circumstances, self.priors, roots)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::cultivar::HardinessClass;
    use crate::science::exposure::{Course, PotInAir, Stand, StoreAir, expose};
    use crate::units::{Celsius, TemperatureDelta};

    #[test]
    fn a_plant_asked_about_many_nights_meets_on_each_what_it_meets_alone() {
        let priors = prior_table::priors().unwrap();
        let (belief, scale) = (priors.belief(HardinessClass::new(3).ok(), false), priors.scale());
        let pot = PotInAir::on_ground(15.0);
        let store = StoreAir::of_store(None, &priors);
        for stand in [Stand::Ground, Stand::Pot(pot), Stand::Store(store, Some(pot)), Stand::Store(store, None)] {
            let at = |c: f64| {
                let lowest = WinterMinimum::Normal { mean: Celsius::literal(c), spread: TemperatureDelta::literal(1.2) };
                let mut night = Circumstances::plain_night(lowest);
                night.air.course = Course::daily([5.0, 5.0, 5.0, 4.0, 3.0, 2.0, 0.0], [12.0; 7], &priors.usual_night);
                night.air.windy_share = 0.3;
                Circumstances { stand, ..night }
            };
            let any = AnyNight::new(at(0.0), &priors);
            for c in (-25..=0).map(f64::from) {
                let night = at(c);
                let alone = expose(&night, &priors).chance(&belief, &scale);
                let among = any.meeting(night.air.lowest).chance(&belief, &scale);
                let apart = alone.iter().zip(among).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                assert!(apart < 2e-3, "{stand:?} {c}: {alone:?} {among:?}");
            }
        }
    }
}
