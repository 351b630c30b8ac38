//! The answer of a shelter as JSON: the keys are the contract; temperatures °C, differences K, heat W.

use serde::Serialize;
use utoipa::ToSchema;

/// One line of the conductance.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PartAnswer {
    /// Part, "edge of the floor" or "leaks".
    pub name: String,
    /// U with layers, W/m²K.
    pub u_w_m2k: Option<f64>,
    /// m².
    pub area_m2: Option<f64>,
    /// W/K, as described.
    pub conductance_w_k: f64,
    /// Share of the whole loss, 0..=1.
    pub share: f64,
}

/// What readings say.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FromReadings {
    /// G learned, W/K.
    pub conductance_w_k: f64,
    /// 90 % interval, W/K.
    pub interval: [f64; 2],
    /// How many readings.
    pub readings: usize,
    /// G as described, W/K.
    pub described_conductance_w_k: f64,
    /// Said when readings and description part, or readings scatter.
    pub remark: Option<String>,
}

/// One change.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ChangeAnswer {
    /// Its name.
    pub name: String,
    /// W/K.
    pub conductance_w_k: f64,
    /// °C.
    pub inside_minimum_c: f64,
    /// °C.
    pub inside_range_c: [f64; 2],
    /// Inside less outside, K.
    pub difference_k: f64,
    /// Warmer than as it is, K.
    pub gain_k: f64,
    /// W.
    pub heater_needed_w: Option<f64>,
    /// kWh.
    pub energy_kwh: f64,
}

/// The other shelter.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NeighbourAnswer {
    /// Its name.
    pub name: String,
    /// Its own conductance to the outside, W/K.
    pub conductance_w_k: f64,
    /// The shared wall, W/K.
    pub shared_wall_w_k: f64,
    /// Its lowest inside, °C.
    pub inside_minimum_c: f64,
    /// The same if the shared wall let nothing through, °C.
    pub inside_minimum_alone_c: f64,
    /// The first shelter's lowest if the wall let nothing through, °C.
    pub first_inside_minimum_alone_c: f64,
    /// Heat used there, kWh.
    pub energy_kwh: f64,
}

/// Heated benches.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MatsAnswer {
    /// Medium at the coldest moment, °C.
    pub medium_c: f64,
    /// Its range, °C.
    pub medium_range_c: [f64; 2],
    /// Draw at the coldest moment, W.
    pub power_w: f64,
}

/// After the power fails on the coldest hour.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PowerFailure {
    /// Starting inside, °C.
    pub from_inside_c: f64,
    /// Hours until 0 °C inside; absent: more than two days.
    pub hours_to_freezing: Option<f64>,
    /// The same over the range of the conductance; absent as above.
    pub range_hours: [Option<f64>; 2],
    /// Where the air settles, °C.
    pub settles_c: f64,
}

/// A season.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeasonAnswer {
    /// Days counted.
    pub days: usize,
    /// Temperature held, °C.
    pub hold_c: f64,
    /// kWh.
    pub energy_kwh: f64,
    /// kWh over the range of the conductance.
    pub energy_range_kwh: [f64; 2],
    /// In the currency of the price.
    pub cost: Option<f64>,
    /// Days on which the heater is not enough.
    pub days_short: usize,
    /// Largest need, W.
    pub largest_need_w: f64,
}

/// The sun.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SunAnswer {
    /// Above outside with everything shut on a clear February noon, K.
    pub february_shut_k: f64,
    /// The same in midsummer, K.
    pub midsummer_shut_k: f64,
    /// Air changes an hour that keep midsummer to 5 K above outside.
    pub midsummer_air_changes_per_hour: Option<f64>,
    /// In words.
    pub warning: String,
}

/// A moment of the night.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NightPoint {
    /// Hours after sunset.
    pub hour: f64,
    /// °C.
    pub outside_c: f64,
    /// °C.
    pub inside_c: f64,
    /// W.
    pub heater_w: f64,
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShelterAnswer {
    /// G in use: as described, or as corrected by readings, W/K.
    pub conductance_w_k: f64,
    /// By line, as described.
    pub by_part: Vec<PartAnswer>,
    /// Lowest inside, °C.
    pub inside_minimum_c: f64,
    /// Its 90 % range, °C.
    pub inside_range_c: [f64; 2],
    /// Inside less outside at that moment, K.
    pub difference_k: f64,
    /// Heat to hold `hold_c` (or the thermostat) at the coldest moment, W.
    pub heater_needed_w: Option<f64>,
    /// Its range, W.
    pub heater_needed_range_w: Option<[f64; 2]>,
    /// With a quarter to spare, W.
    pub heater_suggested_w: Option<f64>,
    /// The need on the design low, W.
    pub heater_for_design_low_w: Option<f64>,
    /// Hours with the heater at its limit.
    pub hours_at_full: f64,
    /// Heater and mats, kWh.
    pub energy_kwh: f64,
    /// In the currency of the price.
    pub cost: Option<f64>,
    /// What readings say.
    pub from_readings: Option<FromReadings>,
    /// Each change alone, then all together.
    pub changes: Vec<ChangeAnswer>,
    /// The other shelter.
    pub neighbour: Option<NeighbourAnswer>,
    /// Heated benches.
    pub mats: Option<MatsAnswer>,
    /// After the power fails.
    pub power_failure: Option<PowerFailure>,
    /// A season.
    pub season: Option<SeasonAnswer>,
    /// The sun.
    pub sun: Option<SunAnswer>,
    /// The night, every half hour.
    pub night: Vec<NightPoint>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// Cautions wherever heat or power is advised.
    pub cautions: Vec<String>,
}
