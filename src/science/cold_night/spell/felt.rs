//! What one plant feels on its way through a spell: the air of the spot it is in each night, its hardening, and the heat of its pot.
//!
//! By day a plant that comes out does so at noon, one that goes in does so before dusk. Ways share their beginnings, and each beginning is
//! followed once.

use std::collections::HashMap;

use super::acclimation::after_a_day;
use super::lowest::{Lowest, POINTS_OF_NORMAL};
use super::spots::{Course, HalfDayAir, NightAir};
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::forecast::TAILS;
use crate::science::cold_night::pot::{Medium, Pot, PotTemperature, at_dusk};
use crate::science::cold_night::risk::{PlantTonight, Risk, Rules};
use crate::science::exposure::{
    self, Air, Circumstances, Exposure, Gains, Hardening, NightNode, Parts, PotInAir, Stand, expose, nights_counted,
};
use crate::science::numeric::Gaussian;
use crate::units::{Celsius, TemperatureDelta};

/// The spot of each night, as an index into the courses.
pub type Spots = Vec<u8>;

/// One night as felt.
#[derive(Debug, Clone, Copy, PartialEq)]
struct FeltNight {
    minimum_c: f64,
    forecast_sd_k: f64,
    own_sd_k: f64,
    /// Share of the way to tender at dusk.
    share: f64,
}

/// A pot part-way through a spell whose forecast misses by so much.
#[derive(Debug, Clone, Copy, PartialEq)]
struct FollowedPot {
    medium: Medium,
    coldest: PotTemperature,
    /// Lowest air of its nights, °C.
    air_c: f64,
}

/// A plant part-way through a spell.
#[derive(Debug, Clone, PartialEq)]
struct State {
    nights: Vec<FeltNight>,
    /// Share of the way to tender.
    share: f64,
    /// The pot for each miss of the forecast; none in the ground.
    pots: Vec<FollowedPot>,
}

/// Follows one plant along any way through the spell.
pub struct Follower<'a> {
    plant: &'a PlantTonight,
    courses: &'a [&'a Course],
    rules: Rules<'a>,
    first_share: f64,
    /// Misses of the forecast for which a pot is followed, in standard deviations: the points of each tail in turn, and 0.
    misses: Vec<f64>,
    known: HashMap<Spots, State>,
    lowest: Lowest,
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
    pub fn new(plant: &'a PlantTonight, courses: &'a [&'a Course], rules: Rules<'a>) -> Self {
        let misses = if plant.pot_litres.is_some() { misses(courses) } else { Vec::new() };
        Self {
            plant,
            courses,
            rules,
            first_share: rules.night.stage(plant.stage).share,
            misses,
            known: HashMap::new(),
            lowest: Lowest::default(),
        }
    }

    /// Along a way: one spot per night of the spell.
    pub fn felt(&mut self, way: &[u8]) -> Felt {
        let state = self.state(way);
        Felt { risk: self.risk(&state), pot_at_end_c: Self::as_forecast(&state).map(|pot| pot.medium.temperature_c()) }
    }

    /// Chance that each part is lost of itself along a way.
    pub fn parts(&mut self, way: &[u8]) -> Parts {
        let state = self.state(way);
        let mut sum = Parts { tips: 0.0, trunk: 0.0, roots: 0.0 };
        for (tail, (weight, _)) in TAILS.into_iter().enumerate() {
            let of = self.exposure(&state, tail).parts(&self.plant.belief, self.rules.scale);
            sum.tips += weight * of.tips;
            sum.trunk += weight * of.trunk;
            sum.roots += weight * of.roots;
        }
        sum
    }

    /// What the spot in the garden gains on a kind of night, K; nothing under a roof.
    fn spot(&self, windy: bool, outdoors: bool) -> Gaussian {
        let gain = self.plant.spot.filter(|_| outdoors);
        gain.map_or(Gaussian::default(), |gain| if windy { gain.windy } else { gain.clear })
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
        State { nights: Vec::new(), share: self.first_share, pots: Vec::new() }
    }

    fn start_in(&self, spot: u8) -> State {
        let mut state = self.start();
        if let (Some(litres), Some(air)) = (self.plant.pot_litres, self.night(spot, 0)) {
            let pot = Pot::new(litres, self.plant.stands, air.windy);
            let gain_k = self.spot(air.windy, air.outdoors).mean;
            let begin = |miss: &f64| {
                let evening = air.evening_c + gain_k + miss * air.forecast_sd_k;
                let medium = self.plant.pot_start_c.map_or_else(|| at_dusk(evening), Medium::at);
                FollowedPot { medium, coldest: pot.spread(medium.temperature_c(), evening), air_c: f64::INFINITY }
            };
            state.pots = self.misses.iter().map(begin).collect();
        }
        state
    }

    /// The pot if the forecast comes true.
    fn as_forecast(state: &State) -> Option<&FollowedPot> {
        state.pots.last()
    }

    fn night(&self, spot: u8, n: usize) -> Option<&'a NightAir> {
        self.courses.get(usize::from(spot))?.nights.get(n)
    }

    fn half_day(&self, spot: u8, n: usize, half: usize) -> Option<&'a HalfDayAir> {
        self.courses.get(usize::from(spot))?.days.get(n)?.get(half)
    }

    fn pass_night(&self, state: &mut State, n: usize, spot: u8) {
        let Some(air) = self.night(spot, n) else { return };
        let gain = self.spot(air.windy, air.outdoors);
        state.nights.push(FeltNight {
            minimum_c: air.minimum_c + gain.mean,
            forecast_sd_k: air.forecast_sd_k,
            own_sd_k: air.own_sd_k.hypot(gain.sd),
            share: state.share,
        });
        self.pass_air(state, (&air.steps, air.step_s, air.forecast_sd_k), gain.mean, air.windy);
        for (miss, followed) in self.misses.iter().zip(&mut state.pots) {
            followed.air_c = followed.air_c.min(air.minimum_c + gain.mean + miss * air.forecast_sd_k);
        }
    }

    fn pass_day(&self, state: &mut State, n: usize, from: u8, to: u8) {
        let roofed = |spot: u8| spot > 0;
        // Out at noon; in before dusk.
        let afternoon = if roofed(to) { from } else { to };
        let halves = [self.half_day(from, n, 0), self.half_day(afternoon, n, 1)];
        let (mut sum, mut count) = (0.0, 0.0);
        // A spot gains by day what it gained in the night before, as in a year.
        let by_day_k = self.night(from, n).map_or(0.0, |night| self.spot(night.windy, true).mean);
        if let Some(night) = self.night(from, n) {
            // Twelve hours weigh as twelve hours, whatever the steps.
            let hours = night.step_s * night.steps.len() as f64;
            sum += hours * night.steps.iter().sum::<f64>() / night.steps.len().max(1) as f64;
            count += hours;
        }
        for air in halves.into_iter().flatten() {
            let gain_k = if air.outdoors { by_day_k } else { 0.0 };
            self.pass_air(state, (&air.steps, air.step_s, air.forecast_sd_k), gain_k, false);
            sum += air.step_s * air.steps.iter().sum::<f64>();
            count += air.step_s * air.steps.len() as f64;
        }
        // A deficit that was worked out is that of the coldest night, its week counted.
        if count > 0.0 && self.plant.deficit_k.is_none() {
            state.share = after_a_day(self.plant.stage, state.share, sum / count, self.rules.priors.hardening_share.mean);
        }
    }

    /// The pots through some air, each with its own miss of the forecast.
    fn pass_air(&self, state: &mut State, (steps, step_s, sd_k): (&[f64], f64, f64), gain_k: f64, windy: bool) {
        let Some(litres) = self.plant.pot_litres else { return };
        let pot = Pot::new(litres, self.plant.stands, windy);
        for (miss, followed) in self.misses.iter().zip(&mut state.pots) {
            for step in steps {
                let air_c = step + gain_k + miss * sd_k;
                followed.medium = followed.medium.after(&pot, air_c, step_s);
                followed.coldest = followed.coldest.lower(pot.spread(followed.medium.temperature_c(), air_c));
            }
        }
    }

    /// The one place that asks for chances, over a forecast's ordinary and its bad misses.
    fn risk(&mut self, state: &State) -> Risk {
        let mut mixed = [0.0; 5];
        for (tail, (weight, _)) in TAILS.into_iter().enumerate() {
            let chance = self.exposure(state, tail).chance(&self.plant.belief, self.rules.scale);
            mixed.iter_mut().zip(chance).for_each(|(sum, p)| *sum += weight * p);
        }
        Risk::of(mixed, Self::as_forecast(state).map(|pot| pot.coldest), self.rules.night)
    }

    /// What the plant meets: the lowest of its nights, its hardening on the night that sets it, the number of nights near it, and its pot as
    /// followed. What is not known of a place or a cover is the same on every night.
    fn exposure(&mut self, state: &State, tail: usize) -> Exposure {
        let tender = self.rules.priors.tender;
        let gap = (tender.mean - self.plant.belief.mean().degrees() - self.plant.age.top.mean).max(0.0);
        let first_share = self.first_share;
        let softened = |n: &FeltNight| (n.share - first_share) * gap;
        let felt = |stretch: f64| -> Vec<Gaussian> {
            state.nights.iter().map(|n| Gaussian::new(n.minimum_c - softened(n), n.forecast_sd_k * stretch)).collect()
        };
        let sets = state.nights.iter().min_by(|a, b| (a.minimum_c - softened(a)).total_cmp(&(b.minimum_c - softened(b))));
        let (softened, share, own_sd_k) = sets.map_or((0.0, first_share, 0.0), |n| (softened(n), n.share, n.own_sd_k));
        let nodes = self.nodes(state, &felt(TAILS[tail].1), tail, softened);
        let mean = nodes.iter().map(|node| node.weight * node.lowest_c).sum::<f64>();
        let variance = nodes.iter().map(|node| node.weight * (node.lowest_c - mean).powi(2)).sum::<f64>();
        let means: Vec<f64> = felt(1.0).iter().map(|n| n.mean).collect();
        let stage = self.rules.night.stage(self.plant.stage);
        let pot = self.plant.pot_litres.map(|litres| PotInAir { litres, stands: self.plant.stands });
        let circumstances = Circumstances {
            air: Air {
                lowest: WinterMinimum::Normal {
                    mean: Celsius::literal(mean.clamp(Celsius::MIN, Celsius::MAX)),
                    spread: TemperatureDelta::literal(variance.sqrt()),
                },
                doubt_k: own_sd_k,
                windy_share: 0.0,
                course: exposure::Course::Nights(nodes.into()),
            },
            setting: None,
            gains: Gains::NONE,
            stand: pot.map_or(Stand::Ground, Stand::Pot),
            age: self.plant.age,
            hardening: match self.plant.deficit_k {
                Some(deficit) => Hardening::Short { deficit: deficit.plus(Gaussian::new(softened, 0.0)), doubt_k: deficit.sd },
                None => Hardening::Stage { share, sd_k: stage.sd_k, tender },
            },
            roots_growing: self.plant.stage.roots_active(),
            nights: (state.nights.len() > 1).then(|| nights_counted(&means, self.rules.priors)),
        };
        expose(&circumstances, self.rules.priors)
    }

    /// What stands for the lowest of the nights, and the pot that misses by as much: each falls with every night that turns colder.
    fn nodes(&mut self, state: &State, felt: &[Gaussian], tail: usize, softened: f64) -> Vec<NightNode> {
        let points = POINTS_OF_NORMAL.len();
        let node = |(point, (lowest_c, (_, weight))): (usize, (f64, &(f64, f64)))| NightNode {
            lowest_c: (lowest_c + softened).clamp(Celsius::MIN, Celsius::MAX),
            weight: *weight,
            pot: state.pots.get(tail * points + point).or(state.pots.last()).map(|pot| (pot.air_c, pot.coldest)),
        };
        self.lowest.of(felt).into_iter().zip(POINTS_OF_NORMAL.iter()).enumerate().map(node).collect()
    }
}

/// Misses of the forecast for which a pot is followed, in standard deviations: the points of each tail in turn, and last none; that alone
/// where nothing is left open.
fn misses(courses: &[&Course]) -> Vec<f64> {
    if courses.iter().flat_map(|c| &c.nights).all(|n| n.forecast_sd_k == 0.0) {
        return vec![0.0];
    }
    TAILS.iter().flat_map(|(_, stretch)| POINTS_OF_NORMAL.iter().map(move |(z, _)| stretch * z)).chain([0.0]).collect()
}
