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

/// A room behind a shared wall that keeps a temperature of its own whatever the shelter does: the house a garage stands against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// Conductance of the shared wall, W/K.
    pub wall_w_k: f64,
    /// Its temperature, °C.
    pub temperature_c: f64,
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
    /// A room of fixed temperature behind a shared wall.
    pub room: Option<Room>,
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
        let (wall, room_c) = self.room.map_or((0.0, 0.0), |r| (r.wall_w_k, r.temperature_c));
        Air {
            loss_w_k: self.conductance_w_k + tie + wall,
            drive_w: self.conductance_w_k * outside_c + tie * store.temperature_c() + wall * room_c + self.ground_w + mats_w,
            heater: self.heater,
        }
    }

    /// Steady temperature of its air while the air behind a shared wall of `wall_w_k` has `other_c`, °C: its own heater and mats answer, water does not.
    pub fn beside_c(&self, outside_c: f64, wall_w_k: f64, other_c: f64) -> f64 {
        let tied = Self { room: Some(Room { wall_w_k, temperature_c: other_c }), ..*self };
        tied.steady(outside_c).inside_c
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::shelter::store::WaterStore;
    use proptest::prelude::*;

    /// A straight fall from 6 °C at two hours after sunset to −10 °C at sunrise fourteen hours after sunset: 100 W/K held at 5 °C needs its 1000 W
    /// limit once the outside is below −5 °C, which a straight line reaches 2 + 12·11/16 = 10.25 h after sunset, so 3.75 h at full output.
    #[test]
    fn hours_at_full_output_are_those_in_which_the_heater_is_not_enough() {
        let house = House { conductance_w_k: 100.0, heater: Heater { limit_w: 1_000.0, thermostat_c: Some(5.0) }, ..House::default() };
        let falling = Outside::Falling { evening_c: 6.0, minimum_c: -10.0, hours: 14.0, clear_still: false };
        let night = through_the_night(&house, &falling);
        assert!((night.hours_at_full - 3.75).abs() <= 2.0 * STEP_HOURS, "{}", night.hours_at_full);
        // The part of the night in which it idles or holds is the rest: no more than the whole, and none at all on a mild night.
        let mild = Outside::Falling { evening_c: 6.0, minimum_c: 2.0, hours: 14.0, clear_still: false };
        assert_eq!(through_the_night(&house, &mild).hours_at_full, 0.0);
        // Without a thermostat it is on all night.
        let always = House { heater: Heater { limit_w: 1_000.0, thermostat_c: None }, ..house };
        assert!((through_the_night(&always, &falling).hours_at_full - 14.0).abs() < 1e-9);
    }

    proptest! {
        /// First law: over a night, what heaters, mats and soil give is what leaves to the outside and what the water takes up, for both houses
        /// together, whatever passes through the wall between them.
        #[test]
        fn energy_is_conserved_with_water_and_a_neighbour(
            g in 20.0..300.0f64, g2 in 20.0..300.0f64, wall in 0.0..200.0f64, litres in 0.0..800.0f64, start in 0.0..25.0f64,
            ground in -100.0..400.0f64, limit in 0.0..3_000.0f64, set in prop::option::of(0.0..12.0f64), minimum in -25.0..5.0f64, drop in 0.0..12.0f64,
        ) {
            let a = House {
                conductance_w_k: g, ground_w: ground, water_litres: litres, water_start_c: Some(start),
                heater: Heater { limit_w: limit, thermostat_c: set }, ..House::default()
            };
            let b = House { conductance_w_k: g2, ground_w: 50.0, ..House::default() };
            let outside = Outside::Falling { evening_c: minimum + drop, minimum_c: minimum, hours: 14.0, clear_still: true };
            let (x, y) = through_the_night_together(&a, &b, wall, &outside);
            let seconds = STEP_HOURS * 3_600.0;
            let of = |house: &House, night: &HouseNight| -> (f64, f64) {
                night.steps.iter().fold((0.0, 0.0), |(gain, loss), s| {
                    (gain + (s.heater_w + house.ground_w) * seconds, loss + house.conductance_w_k * (s.inside_c - s.outside_c) * seconds)
                })
            };
            let (gain_a, loss_a) = of(&a, &x);
            let (gain_b, loss_b) = of(&b, &y);
            let mut store = WaterStore::new(litres, start);
            let full = store.heat_j();
            for step in &x.steps {
                prop_assert!((store.temperature_c() - step.water_c).abs() < 1e-9);
                store.give(store.conductance_w_k() * (step.water_c - step.inside_c), seconds);
            }
            let given_up = full - store.heat_j();
            let scale = 1e5 + gain_a.abs() + loss_a.abs() + given_up.abs() + loss_b.abs();
            prop_assert!((gain_a + gain_b + given_up - loss_a - loss_b).abs() < 1e-7 * scale, "{} {}", gain_a + gain_b + given_up, loss_a + loss_b);
        }

        /// A neighbour so well held that nothing moves it is a room of that temperature.
        #[test]
        fn a_room_of_fixed_temperature_is_the_limit_of_a_neighbour_with_all_the_heat_it_needs(
            g in 20.0..300.0f64, wall in 1.0..200.0f64, limit in 0.0..2_000.0f64, room_c in 5.0..22.0f64, outside_c in -20.0..4.0f64,
        ) {
            let house = House { conductance_w_k: g, heater: Heater { limit_w: limit, thermostat_c: Some(6.0) }, ..House::default() };
            let held = House { conductance_w_k: 1.0, heater: Heater { limit_w: 1e7, thermostat_c: Some(room_c) }, ..House::default() };
            let outside = Outside::Steady { outside_c, hours: 10.0 };
            let (beside, other) = through_the_night_together(&house, &held, wall, &outside);
            // The room may be warmed by the shelter above its thermostat where the heater holds 6 °C against a cooler room; then it is no fixed room.
            prop_assume!((other.inside_minimum_c - room_c).abs() < 1e-6);
            let tied = through_the_night(&House { room: Some(Room { wall_w_k: wall, temperature_c: room_c }), ..house }, &outside);
            prop_assert!((tied.inside_minimum_c - beside.inside_minimum_c).abs() < 1e-6);
        }
    }
}
