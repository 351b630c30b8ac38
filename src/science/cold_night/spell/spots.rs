//! Where a plant can spend a night: in the open, in a place, or under a cover; and the air there through the whole spell.
//!
//! Every spot makes of the outside a line: a place `a + b·outside`, a heated place its held temperature (b = 0), a cover `outside + gain` on its
//! nights (b = 1). Stores bend a place's line towards their own temperature. By day a cover gains nothing that is counted.

use super::days::{NIGHT_STEPS, Spell};
use super::stores::Stores;
use crate::science::numeric::Gaussian;

/// What a spot makes of one night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpotNight {
    /// a of `a + b·outside`, °C.
    pub a_c: f64,
    /// b.
    pub b: f64,
    /// Spread of the spot's own, K.
    pub own_sd_k: f64,
    /// Evening above what the line gives then, K.
    pub evening_extra_k: f64,
    /// Wind reaches the pot.
    pub windy: bool,
}

/// A spot.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// One entry per night of the spell.
    pub nights: Vec<SpotNight>,
    /// A roof: its line holds by day as well. A cover or the open has the outside by day.
    pub roofed: bool,
    /// What holds it up.
    pub stores: Option<Stores>,
}

/// One night's air in a spot.
#[derive(Debug, Clone, PartialEq)]
pub struct NightAir {
    /// Lowest, °C.
    pub minimum_c: f64,
    /// Two hours after sunset, °C.
    pub evening_c: f64,
    /// Spread that comes from the forecast, K.
    pub forecast_sd_k: f64,
    /// Spread of the spot's own, K.
    pub own_sd_k: f64,
    /// Wind reaches the pot.
    pub windy: bool,
    /// In the open or under a cover: the spot in the garden counts.
    pub outdoors: bool,
    /// Air at the middle of each step, °C.
    pub steps: Vec<f64>,
    /// Seconds of a step.
    pub step_s: f64,
}

/// Half a day's air in a spot.
#[derive(Debug, Clone, PartialEq)]
pub struct HalfDayAir {
    /// Spread that comes from the forecast, K: that of the night before.
    pub forecast_sd_k: f64,
    /// In the open air: the spot in the garden counts.
    pub outdoors: bool,
    /// Air at the middle of each step, °C.
    pub steps: Vec<f64>,
    /// Seconds of a step.
    pub step_s: f64,
}

/// The air of a spot through a spell.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// One per night.
    pub nights: Vec<NightAir>,
    /// Forenoon and afternoon behind each night but the last.
    pub days: Vec<[HalfDayAir; 2]>,
}

impl Spot {
    /// The open.
    pub fn open(spell: &Spell) -> Self {
        let night = |windy| SpotNight { a_c: 0.0, b: 1.0, own_sd_k: 0.0, evening_extra_k: 0.0, windy };
        let windy = |n: &super::days::SpellNight| n.air.kind == crate::science::cold_night::stage::NightKind::Windy;
        Self { nights: spell.nights().iter().map(|n| night(windy(n))).collect(), roofed: false, stores: None }
    }

    /// A cover with this gain on each night; shares of it as the soil beneath runs down.
    pub fn cover(gains: &[Gaussian], shares: &[f64]) -> Self {
        let night = |(gain, share): (&Gaussian, &f64)| SpotNight {
            a_c: gain.mean * share,
            b: 1.0,
            own_sd_k: gain.sd,
            evening_extra_k: -gain.mean * share,
            windy: false,
        };
        Self { nights: gains.iter().zip(shares).map(night).collect(), roofed: false, stores: None }
    }

    /// The air of this spot through the spell.
    pub fn course(&self, spell: &Spell) -> Course {
        let mut stores = self.stores.map(|s| s.start());
        let mut nights = Vec::with_capacity(spell.len());
        let mut days = Vec::with_capacity(spell.len());
        for (n, (spot, outside)) in self.nights.iter().zip(spell.nights()).enumerate() {
            let line = |c: f64| spot.a_c + spot.b * c;
            let mut low = line(outside.air.minimum_c.mean);
            let mut evening = (line(outside.air.evening_c) + spot.evening_extra_k).max(low);
            let step_s = outside.air.hours * 3_600.0 / NIGHT_STEPS as f64;
            // The place's own night has the shape of the outside's, between its own evening and lowest.
            let (out_low, out_evening) = (outside.air.minimum_c.mean, outside.air.evening_c);
            let stretch = if out_evening > out_low { (evening - low) / (out_evening - out_low) } else { 0.0 };
            let mut steps: Vec<f64> = spell.night_course(n).iter().map(|c| low + (c - out_low) * stretch).collect();
            if let Some(stores) = &mut stores {
                evening = stores.air_c(evening);
                for step in &mut steps {
                    *step = stores.pass(*step, step_s);
                }
                low = stores.air_c(low).min(steps.iter().copied().fold(f64::INFINITY, f64::min));
                evening = evening.max(low);
            }
            nights.push(NightAir {
                minimum_c: low,
                evening_c: evening,
                forecast_sd_k: spot.b * outside.air.minimum_c.sd,
                own_sd_k: spot.own_sd_k,
                windy: spot.windy,
                outdoors: !self.roofed,
                steps,
                step_s,
            });
            let Some(halves) = spell.day_course(n) else { continue };
            let (step_s, sd_k) = (spell.half_day_step_s(n), outside.air.minimum_c.sd);
            days.push(halves.map(|half| {
                let by_day = |c: &f64| if self.roofed { line(*c) + spot.evening_extra_k } else { *c };
                let mut steps: Vec<f64> = half.iter().map(by_day).collect();
                if let Some(stores) = &mut stores {
                    for step in &mut steps {
                        *step = stores.pass(*step, step_s);
                    }
                }
                let forecast_sd_k = if self.roofed { spot.b * sd_k } else { sd_k };
                HalfDayAir { forecast_sd_k, outdoors: !self.roofed, steps, step_s }
            }));
        }
        Course { nights, days }
    }
}

impl NightAir {
    /// Its lowest with all of its spread, where the forecast's part is stretched by `stretch`.
    pub fn minimum(&self, stretch: f64) -> Gaussian {
        Gaussian::new(self.minimum_c, (self.forecast_sd_k * stretch).hypot(self.own_sd_k))
    }
}
