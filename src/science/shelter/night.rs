//! A shelter through a night, in steps: the air in balance at every step, the water drums falling and freezing as they give their heat.

use super::balance::{Air, Balanced, Heater, balance_two};
use super::mats::Mats;
use super::store::WaterStore;
use crate::science::climate::night_curve::{night_curve, straight_night};
use crate::units::{Celsius, OutOfRange, within};

/// Length of a step, h. Water drums change over many hours, so five minutes are far finer than needed.
const STEP_HOURS: f64 = 1.0 / 12.0;
/// Within this share of its limit a heater counts as running at full output.
const FULL_SHARE: f64 = 0.999;

/// Outside air through the night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outside {
    /// One temperature for so many hours.
    Steady {
        /// °C.
        outside_c: f64,
        /// h.
        hours: f64,
    },
    /// From two hours after sunset to the minimum at sunrise.
    Falling {
        /// °C two hours after sunset.
        evening_c: f64,
        /// Lowest, °C.
        minimum_c: f64,
        /// Sunset to sunrise, h.
        hours: f64,
        /// Clear and still (square root) or windy and clouded (straight line).
        clear_still: bool,
    },
}

impl Outside {
    /// Refuses lengths outside 1..=24 h (a falling night needs more than 3 h) and a minimum above the evening.
    pub fn checked(self) -> Result<Self, OutOfRange> {
        match self {
            Self::Steady { outside_c, hours } => {
                Celsius::new(outside_c)?;
                within("hours of the night", "h", hours, 1.0, 24.0)?;
            }
            Self::Falling { evening_c, minimum_c, hours, .. } => {
                Celsius::new(evening_c)?;
                within("minimum (no warmer than two hours after sunset)", "°C", minimum_c, Celsius::MIN, evening_c)?;
                within("hours of the night", "h", hours, 3.0, 24.0)?;
            }
        }
        Ok(self)
    }

    /// Length, h.
    pub fn hours(&self) -> f64 {
        match *self {
            Self::Steady { hours, .. } | Self::Falling { hours, .. } => hours,
        }
    }

    /// Lowest temperature, °C.
    pub fn minimum_c(&self) -> f64 {
        match *self {
            Self::Steady { outside_c, .. } => outside_c,
            Self::Falling { minimum_c, .. } => minimum_c,
        }
    }

    /// Temperature at an hour after sunset, °C.
    pub fn at(&self, hour: f64) -> f64 {
        match *self {
            Self::Steady { outside_c, .. } => outside_c,
            Self::Falling { evening_c, minimum_c, hours, clear_still } => {
                let curve = if clear_still { night_curve } else { straight_night };
                curve(Celsius::literal(evening_c), Celsius::literal(minimum_c), hours, hour).degrees()
            }
        }
    }
}

/// A shelter ready to be stepped.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct House {
    /// G, W/K; must be above zero.
    pub conductance_w_k: f64,
    /// Heat from the soil, W; negative where the soil is colder than the air.
    pub ground_w: f64,
    /// Water that stores heat, litres.
    pub water_litres: f64,
    /// Its temperature at dusk, °C; `None`: that of the air inside at dusk.
    pub water_start_c: Option<f64>,
    /// The heater.
    pub heater: Heater,
    /// Heated benches.
    pub mats: Option<Mats>,
}

impl House {
    /// The same shelter with its conductance multiplied: how a range is drawn.
    #[must_use]
    pub fn scaled(mut self, factor: f64) -> Self {
        self.conductance_w_k *= factor;
        self
    }

    fn air(&self, outside_c: f64, store: &WaterStore, mats_w: f64) -> Air {
        let tie = store.conductance_w_k();
        Air {
            loss_w_k: self.conductance_w_k + tie,
            drive_w: self.conductance_w_k * outside_c + tie * store.temperature_c() + self.ground_w + mats_w,
            heater: self.heater,
        }
    }

    /// The balance without water at one outside temperature.
    pub fn steady(&self, outside_c: f64) -> Balanced {
        let none = WaterStore::new(0.0, 0.0);
        // A mat's draw depends on the air and the air on the draw; the map contracts, a few rounds settle it far below any meaning.
        let mut at = self.air(outside_c, &none, 0.0).balance();
        for _ in 0..60 {
            at = self.air(outside_c, &none, self.mats_w(at.inside_c)).balance();
        }
        at
    }

    /// Heat a heater must give to hold `hold_c` at one outside temperature, W: mats count, water does not (it runs out).
    pub fn heater_needed_w(&self, outside_c: f64, hold_c: f64) -> f64 {
        self.air(outside_c, &WaterStore::new(0.0, 0.0), self.mats_w(hold_c)).needed_w(hold_c)
    }

    fn mats_w(&self, air_c: f64) -> f64 {
        self.mats.map_or(0.0, |m| m.power_w(air_c))
    }

    fn store_at_dusk(&self, outside_c: f64) -> WaterStore {
        WaterStore::new(self.water_litres, self.water_start_c.unwrap_or_else(|| self.steady(outside_c).inside_c))
    }
}

/// One step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Hours after sunset.
    pub hour: f64,
    /// °C outside.
    pub outside_c: f64,
    /// °C inside.
    pub inside_c: f64,
    /// Heater, W.
    pub heater_w: f64,
    /// Water, °C.
    pub water_c: f64,
}

/// What a night came to.
#[derive(Debug, Clone, PartialEq)]
pub struct HouseNight {
    /// The steps, from sunset to sunrise.
    pub steps: Vec<Step>,
    /// Lowest inside, °C.
    pub inside_minimum_c: f64,
    /// Inside less outside at that moment, K.
    pub difference_k: f64,
    /// Hours with the heater at its limit.
    pub hours_at_full: f64,
    /// Heater and mats, kWh.
    pub energy_kwh: f64,
    /// Lowest temperature of the water, °C.
    pub water_minimum_c: f64,
}

/// Steps one shelter through a night.
pub fn through_the_night(house: &House, outside: &Outside) -> HouseNight {
    let (night, _) = step_two(house, None, 0.0, outside);
    night
}

/// Steps two shelters that share a wall of `wall_w_k` through a night.
pub fn through_the_night_together(a: &House, b: &House, wall_w_k: f64, outside: &Outside) -> (HouseNight, HouseNight) {
    let (first, second) = step_two(a, Some(b), wall_w_k, outside);
    (first, second.unwrap_or_else(|| through_the_night(b, outside)))
}

struct Tally {
    house: House,
    store: WaterStore,
    inside_c: f64,
    mats_kwh: f64,
    steps: Vec<Step>,
}

impl Tally {
    fn new(house: House, outside_c: f64) -> Self {
        Self { house, store: house.store_at_dusk(outside_c), inside_c: house.steady(outside_c).inside_c, mats_kwh: 0.0, steps: Vec::new() }
    }

    /// The air of this step; a mat follows the air of the step before.
    fn air(&self, outside_c: f64) -> Air {
        self.house.air(outside_c, &self.store, self.house.mats_w(self.inside_c))
    }

    fn record(&mut self, hour: f64, outside_c: f64, at: Balanced) {
        self.mats_kwh += self.house.mats_w(self.inside_c) * STEP_HOURS / 1_000.0;
        self.inside_c = at.inside_c;
        self.steps.push(Step { hour, outside_c, inside_c: at.inside_c, heater_w: at.heater_w, water_c: self.store.temperature_c() });
        let given_w = self.store.conductance_w_k() * (self.store.temperature_c() - at.inside_c);
        self.store.give(given_w, STEP_HOURS * 3_600.0);
    }

    fn finish(self) -> HouseNight {
        let limit = self.house.heater.limit_w;
        let lowest = self.steps.iter().copied().reduce(|low, s| if s.inside_c < low.inside_c { s } else { low });
        let hours = self.steps.len() as f64 * STEP_HOURS;
        let intervals = (self.steps.len().max(2) - 1) as f64;
        // Trapezoid over the steps: both ends count half.
        let ends = [self.steps.first(), self.steps.last()].into_iter().flatten().map(|s| s.heater_w / 2.0).sum::<f64>();
        let mean_w = (self.steps.iter().map(|s| s.heater_w).sum::<f64>() - ends) / intervals;
        let at_full = self.steps.iter().skip(1).filter(|s| limit > 0.0 && s.heater_w >= limit * FULL_SHARE).count() as f64;
        HouseNight {
            inside_minimum_c: lowest.map_or(f64::NAN, |s| s.inside_c),
            difference_k: lowest.map_or(f64::NAN, |s| s.inside_c - s.outside_c),
            hours_at_full: at_full * STEP_HOURS,
            energy_kwh: mean_w * (hours - STEP_HOURS) / 1_000.0 + self.mats_kwh * intervals / (intervals + 1.0),
            water_minimum_c: self.steps.iter().map(|s| s.water_c).fold(f64::INFINITY, f64::min),
            steps: self.steps,
        }
    }
}

fn step_two(a: &House, b: Option<&House>, wall_w_k: f64, outside: &Outside) -> (HouseNight, Option<HouseNight>) {
    let count = (outside.hours() / STEP_HOURS).round() as usize;
    let dusk = outside.at(0.0);
    let mut first = Tally::new(*a, dusk);
    let mut second = b.map(|b| Tally::new(*b, dusk));
    for index in 0..=count {
        let hour = index as f64 * STEP_HOURS;
        let outside_c = outside.at(hour);
        let (one, two) = match &second {
            Some(other) => {
                let (x, y) = balance_two(&first.air(outside_c), &other.air(outside_c), wall_w_k);
                (x, Some(y))
            }
            None => (first.air(outside_c).balance(), None),
        };
        first.record(hour, outside_c, one);
        if let (Some(other), Some(at)) = (&mut second, two) {
            other.record(hour, outside_c, at);
        }
    }
    (first.finish(), second.map(Tally::finish))
}
