//! What one plant feels on its way through a spell: the air of the spot it is in each night, its hardening, and the heat of its pot.
//!
//! By day a plant that comes out does so at noon, one that goes in does so before dusk. Ways share their beginnings, and each beginning is
//! followed once.

use std::collections::HashMap;

use super::acclimation::after_a_day;
use super::lowest::as_one_night;
use super::spots::{Course, HalfDayAir, NightAir};
use crate::science::cold_night::forecast::TAILS;
use crate::science::cold_night::pot::{Medium, Pot, PotTemperature};
use crate::science::cold_night::priors::NightPriors;
use crate::science::cold_night::risk::{PlantTonight, Risk, at_dusk, risk_of};
use crate::science::hardiness::chances::Levels;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::Gaussian;

/// The spot of each night, as an index into the courses.
pub type Spots = Vec<u8>;

/// One night as felt.
#[derive(Debug, Clone, Copy, PartialEq)]
struct FeltNight {
    minimum_c: f64,
    forecast_sd_k: f64,
    own_sd_k: f64,
    /// How much tenderer than on the first night, K; negative: harder.
    softened_k: f64,
}

/// A plant part-way through a spell.
#[derive(Debug, Clone, PartialEq)]
struct State {
    nights: Vec<FeltNight>,
    /// Share of the way to tender.
    share: f64,
    medium: Option<Medium>,
    coldest: Option<PotTemperature>,
}

/// Follows one plant along any way through the spell.
pub struct Follower<'a> {
    plant: &'a PlantTonight,
    courses: &'a [&'a Course],
    scale: &'a DamageScale,
    priors: &'a NightPriors,
    first_share: f64,
    known: HashMap<Spots, State>,
}

/// What a way does.
#[derive(Debug, Clone, PartialEq)]
pub struct Felt {
    /// The chances, as one night of the same effect.
    pub risk: Risk,
    /// Mean of the pot at the last sunrise, °C.
    pub pot_at_end_c: Option<f64>,
}

impl<'a> Follower<'a> {
    /// A plant and the spots' courses; all courses have as many nights.
    pub fn new(plant: &'a PlantTonight, courses: &'a [&'a Course], scale: &'a DamageScale, priors: &'a NightPriors) -> Self {
        Self { plant, courses, scale, priors, first_share: priors.stage(plant.stage).share, known: HashMap::new() }
    }

    /// Along a way: one spot per night of the spell.
    pub fn felt(&mut self, way: &[u8]) -> Felt {
        let state = self.state(way);
        Felt { risk: self.risk(&state), pot_at_end_c: state.medium.map(Medium::temperature_c) }
    }

    /// After the last night of a beginning of a way.
    fn state(&mut self, way: &[u8]) -> State {
        if let Some(known) = self.known.get(way) {
            return known.clone();
        }
        let state = match way.split_last() {
            None => self.start(),
            Some((spot, before)) => {
                let mut state = if before.is_empty() { self.start_in(*spot) } else { self.state(before) };
                if let Some(came_from) = before.last() {
                    self.pass_day(&mut state, before.len() - 1, *came_from, *spot);
                }
                self.pass_night(&mut state, before.len(), *spot);
                state
            }
        };
        self.known.insert(way.to_vec(), state.clone());
        state
    }

    fn start(&self) -> State {
        State { nights: Vec::new(), share: self.first_share, medium: None, coldest: None }
    }

    fn start_in(&self, spot: u8) -> State {
        let mut state = self.start();
        if let (Some(litres), Some(air)) = (self.plant.pot_litres, self.night(spot, 0)) {
            let medium = self.plant.pot_start_c.map_or_else(|| at_dusk(air.evening_c), Medium::at);
            state.medium = Some(medium);
            state.coldest = Some(Pot::new(litres, self.plant.stands, air.windy).spread(medium.temperature_c(), air.evening_c));
        }
        state
    }

    fn night(&self, spot: u8, n: usize) -> Option<&'a NightAir> {
        self.courses.get(usize::from(spot))?.nights.get(n)
    }

    fn half_day(&self, spot: u8, n: usize, half: usize) -> Option<&'a HalfDayAir> {
        self.courses.get(usize::from(spot))?.days.get(n)?.get(half)
    }

    fn pass_night(&self, state: &mut State, n: usize, spot: u8) {
        let Some(air) = self.night(spot, n) else { return };
        let tender_gap = (self.priors.tender.mean - self.plant.belief.mean().degrees()).max(0.0);
        state.nights.push(FeltNight {
            minimum_c: air.minimum_c,
            forecast_sd_k: air.forecast_sd_k,
            own_sd_k: air.own_sd_k,
            softened_k: (state.share - self.first_share) * tender_gap,
        });
        self.pass_air(state, &air.steps, air.step_s, air.windy);
    }

    fn pass_day(&self, state: &mut State, n: usize, from: u8, to: u8) {
        let roofed = |spot: u8| spot > 0;
        // Out at noon; in before dusk.
        let afternoon = if roofed(to) { from } else { to };
        let halves = [self.half_day(from, n, 0), self.half_day(afternoon, n, 1)];
        let (mut sum, mut count) = (0.0, 0.0);
        if let Some(night) = self.night(from, n) {
            // Twelve hours weigh as twelve hours, whatever the steps.
            let hours = night.step_s * night.steps.len() as f64;
            sum += hours * night.steps.iter().sum::<f64>() / night.steps.len().max(1) as f64;
            count += hours;
        }
        for air in halves.into_iter().flatten() {
            self.pass_air(state, &air.steps, air.step_s, false);
            sum += air.step_s * air.steps.iter().sum::<f64>();
            count += air.step_s * air.steps.len() as f64;
        }
        if count > 0.0 {
            state.share = after_a_day(self.plant.stage, state.share, sum / count);
        }
    }

    /// The pot through some air.
    fn pass_air(&self, state: &mut State, steps: &[f64], step_s: f64, windy: bool) {
        let (Some(litres), Some(mut medium)) = (self.plant.pot_litres, state.medium) else { return };
        let pot = Pot::new(litres, self.plant.stands, windy);
        for &air_c in steps {
            medium = medium.after(&pot, air_c, step_s);
            let now = pot.spread(medium.temperature_c(), air_c);
            state.coldest = Some(state.coldest.map_or(now, |c| PotTemperature {
                wall_c: c.wall_c.min(now.wall_c),
                mean_c: c.mean_c.min(now.mean_c),
                centre_c: c.centre_c.min(now.centre_c),
            }));
        }
        state.medium = Some(medium);
    }

    /// The one place that asks for chances: tops by the lowest of the nights, roots by the pot, over a forecast's ordinary and its bad misses.
    fn risk(&self, state: &State) -> Risk {
        let mut mixed = [0.0; 5];
        let mut loss_share = 0.0;
        for (weight, stretch) in TAILS {
            let felt = |n: &FeltNight| Gaussian::new(n.minimum_c - n.softened_k, (n.forecast_sd_k * stretch).hypot(n.own_sd_k));
            let nights: Vec<Gaussian> = state.nights.iter().map(felt).collect();
            let risk = risk_of(self.plant, as_one_night(&nights), state.coldest, self.scale, self.priors);
            for (sum, chance) in mixed.iter_mut().zip(risk.chance.to_array()) {
                *sum += weight * chance;
            }
            loss_share += weight * risk.loss_share;
        }
        Risk { chance: Levels::from_array(mixed), loss_share, pot: state.coldest }
    }
}
