//! What stands behind a shared wall: another shelter with its own heater, mats and leaks, or a room that keeps its temperature.

use super::assess::{Assessment, SKY_AND_CORNERS_K, Shelter};
use super::night::{House, HouseNight, Outside, Room, through_the_night, through_the_night_together};
use super::readings::Correction;
use crate::units::Interval;

/// The other side of a shared wall.
#[derive(Debug, Clone, PartialEq)]
pub enum Beside {
    /// Another shelter, with what readings say of it.
    Shelter {
        /// It.
        shelter: Box<Shelter>,
        /// Conductance of the wall, W/K.
        wall_w_k: f64,
        /// What is known of its loss.
        correction: Correction,
    },
    /// A room that keeps its temperature.
    Room(Room),
}

/// A shared wall that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "a shared wall of {wall_m2:.1} m² is more than {whose} can have: its other surfaces are {parts_m2:.1} m², and one flat wall is never more than all the rest of walls and roof together"
)]
pub struct TooMuchWall {
    /// m² of the shared wall.
    pub wall_m2: f64,
    /// Whose surfaces.
    pub whose: &'static str,
    /// m² of its other surfaces.
    pub parts_m2: f64,
}

/// Refuses a shared wall larger than all the other surfaces of either side: seen straight on, the rest of the skin must cover it.
pub fn check_wall(wall_m2: f64, parts_m2: f64, whose: &'static str) -> Result<(), TooMuchWall> {
    // Two per cent for rounding of typed areas.
    if wall_m2 > 1.02 * parts_m2 { Err(TooMuchWall { wall_m2, whose, parts_m2 }) } else { Ok(()) }
}

impl Beside {
    /// Conductance of the wall, W/K.
    pub fn wall_w_k(&self) -> f64 {
        match self {
            Self::Shelter { wall_w_k, .. } => *wall_w_k,
            Self::Room(room) => room.wall_w_k,
        }
    }

    /// Its steady temperature while the shelter has `inside_c`, °C: what a reading without one of its own is taken with.
    pub fn temperature_c(&self, outside_c: f64, inside_c: f64) -> f64 {
        match self {
            Self::Shelter { shelter, wall_w_k, correction } => shelter.house(correction.factor()).beside_c(outside_c, *wall_w_k, inside_c),
            Self::Room(room) => room.temperature_c,
        }
    }

    /// Heat that comes through the wall to air of `inside_c`, W, with the neighbour's temperature as read or as its balance gives it.
    pub fn heat_w(&self, outside_c: f64, inside_c: f64, read_c: Option<f64>) -> f64 {
        self.wall_w_k() * (read_c.unwrap_or_else(|| self.temperature_c(outside_c, inside_c)) - inside_c)
    }
}

/// Both sides of a shared wall through a night.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// The shelter.
    pub mine: Assessment,
    /// The one beside it; `None` without one, or where it is a room.
    pub theirs: Option<Assessment>,
}

fn nights(mine: &House, beside: Option<&Beside>, their_factor: f64, outside: &Outside) -> (HouseNight, Option<HouseNight>) {
    match beside {
        None => (through_the_night(mine, outside), None),
        Some(Beside::Room(room)) => (through_the_night(&House { room: Some(*room), ..*mine }, outside), None),
        Some(Beside::Shelter { shelter, wall_w_k, .. }) => {
            let (a, b) = through_the_night_together(mine, &shelter.house(their_factor), *wall_w_k, outside);
            (a, Some(b))
        }
    }
}

/// Range of a minimum: how far the losses of both move it, and what no loss explains.
fn range(middle: f64, ends: &[[f64; 2]]) -> Interval<f64> {
    let reach = |pick: fn(f64, f64) -> f64, start: f64| {
        ends.iter().map(|[a, b]| (pick(pick(*a, *b), middle) - middle).powi(2)).sum::<f64>().sqrt().hypot(start)
    };
    Interval { low: middle - reach(f64::min, SKY_AND_CORNERS_K), high: middle + reach(f64::max, SKY_AND_CORNERS_K) }
}

/// Assesses a checked shelter and what stands beside it for a night. The doubts about the two losses are independent. Heat needed to hold a
/// temperature counts what comes through the wall while that temperature is held.
pub fn assess_together(
    shelter: &Shelter,
    beside: Option<&Beside>,
    outside: &Outside,
    hold: [Option<f64>; 2],
    correction: &Correction,
) -> Together {
    let (mine, one_night) = (correction.factor(), correction.one_night());
    let (theirs, their_night) = match beside {
        Some(Beside::Shelter { correction, .. }) => (correction.factor(), Some(correction.one_night())),
        _ => (1.0, None),
    };
    let run = |f: f64, g: f64| nights(&shelter.house(f), beside, g, outside);
    let (night, other) = run(mine, theirs);
    let low = run(one_night.low, theirs);
    let high = run(one_night.high, theirs);
    let by_neighbour = their_night.map(|n| (run(mine, n.low), run(mine, n.high)));
    let minima = |pick: fn(&(HouseNight, Option<HouseNight>)) -> Option<f64>| -> Vec<[f64; 2]> {
        let pair = |a, b| Some([pick(a)?, pick(b)?]);
        pair(&low, &high).into_iter().chain(by_neighbour.as_ref().and_then(|(a, b)| pair(a, b))).collect()
    };
    let inside_range_c = range(night.inside_minimum_c, &minima(|n| Some(n.0.inside_minimum_c)));
    let their_range = other.as_ref().map(|n| range(n.inside_minimum_c, &minima(|n| n.1.as_ref().map(|o| o.inside_minimum_c))));
    let out_c = outside.minimum_c();
    let need = |hold_c: f64, f: f64| {
        let mut house = shelter.house(f);
        house.ground_w += beside.map_or(0.0, |b| b.heat_w(out_c, hold_c, None));
        house.heater_needed_w(out_c, hold_c)
    };
    let [hold_mine, hold_theirs] = hold;
    let conductance = |s: &Shelter, f: f64| s.envelope.conductance_w_k() * f;
    let assessed_theirs = match (beside, other, their_range) {
        (Some(Beside::Shelter { shelter: there, wall_w_k, correction }), Some(night), Some(inside_range_c)) => {
            let need = |hold_c: f64, f: f64| {
                let mut house = there.house(f);
                house.ground_w += wall_w_k * (shelter.house(mine).beside_c(out_c, *wall_w_k, hold_c) - hold_c);
                house.heater_needed_w(out_c, hold_c)
            };
            let n = correction.one_night();
            Some(Assessment {
                conductance_w_k: conductance(there, theirs),
                heater_needed_w: hold_theirs.map(|h| (need(h, theirs), Interval::between(need(h, n.low), need(h, n.high)))),
                night,
                inside_range_c,
            })
        }
        _ => None,
    };
    Together {
        mine: Assessment {
            conductance_w_k: conductance(shelter, mine),
            heater_needed_w: hold_mine.map(|h| (need(h, mine), Interval::between(need(h, one_night.low), need(h, one_night.high)))),
            night,
            inside_range_c,
        },
        theirs: assessed_theirs,
    }
}
