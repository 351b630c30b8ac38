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
    /// Light let in afterwards, as a share of that let in now, %; absent where none is let in now.
    pub light_kept_percent: Option<f64>,
    /// What its material costs.
    pub material_cost: Option<f64>,
    /// The changes made, of a set; empty for one alone.
    pub made: Vec<String>,
}

/// A state of the shelter.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ShelterStateAnswer)]
pub struct StateAnswer {
    /// Its name.
    pub name: String,
    /// First night.
    #[schema(value_type = Option<String>, format = Date)]
    pub since: Option<jiff::civil::Date>,
    /// G as described, W/K.
    pub described_conductance_w_k: f64,
    /// What its own readings say.
    pub from_readings: Option<FromReadings>,
}

/// What readings say that a change gained.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ShelterGainAnswer)]
pub struct GainAnswer {
    /// State before.
    pub from: String,
    /// State after.
    pub to: String,
    /// Readings before and after.
    pub readings: [usize; 2],
    /// Mean of inside less outside after, less the same before, K.
    pub difference_k: f64,
    /// Its 90 % interval by least squares (Student's t over the readings of all states), K.
    pub interval_k: [f64; 2],
    /// The same difference as the descriptions alone give it, with the heat noted, K.
    pub predicted_k: f64,
    /// The same once the readings before have corrected both descriptions, K.
    pub predicted_from_before_k: f64,
    /// Loss after over loss before, from the readings; absent where a reading teaches nothing of the loss.
    pub loss_ratio: Option<f64>,
    /// Its 90 % interval.
    pub loss_ratio_interval: Option<[f64; 2]>,
    /// The same as described.
    pub described_loss_ratio: f64,
    /// Mean outside after less before, K: what the weather did meanwhile.
    pub outside_difference_k: f64,
    /// In words, where something must be said of it.
    pub remark: Option<String>,
}

/// A change in the order by degrees for the money.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ShelterOrderAnswer)]
pub struct OrderAnswer {
    /// The change.
    pub name: String,
    /// Warmer than with those before it, K.
    pub gain_k: f64,
    /// Warmer than now, K.
    pub gain_so_far_k: f64,
    /// What its material costs.
    pub material_cost: Option<f64>,
    /// Spent so far; absent once a change without a price is among them.
    pub cost_so_far: Option<f64>,
    /// What a K of it costs; absent without a price or without a gain.
    pub cost_per_k: Option<f64>,
}

/// The inner face of a part at the coldest moment.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ShelterCoverAnswer)]
pub struct ShelterCoverAnswer {
    /// Part.
    pub name: String,
    /// Temperature of its inner face where the fewest layers lie, °C.
    pub face_c: f64,
    /// Relative humidity inside above which it drips, %.
    pub drips_above_percent: f64,
    /// Drips at the humidity taken.
    pub drips: bool,
    /// What drips freezes to it.
    pub freezes: bool,
}

/// A day under cover.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ShelterDayAnswer)]
pub struct DayAnswer {
    /// Warmest inside with everything shut, °C.
    pub shut_maximum_c: f64,
    /// When, hours after sunrise.
    pub shut_maximum_hour: f64,
    /// Open above this, °C.
    pub vent_above_c: f64,
    /// From and to, hours after sunrise; absent: it needs no opening.
    pub vent_hours: Option<[f64; 2]>,
    /// Air to pass at the warmest hour, m³/h.
    pub vent_air_m3_h: f64,
    /// A low opening, and an equal one high up, that pass it without wind, m² each.
    pub vent_opening_m2: f64,
    /// The trade's rule for side vents, and the same for roof vents, m² each.
    pub vent_rule_m2: [f64; 2],
    /// Share of the light that comes in, %.
    pub light_percent: f64,
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
    /// Its 90 % range, °C; absent for a room that keeps its temperature.
    pub inside_range_c: Option<[f64; 2]>,
    /// Heat through the wall into the first shelter at its coldest moment, W; below zero it is lost there.
    pub wall_heat_w: f64,
    /// Hours with its heater at its limit.
    pub hours_at_full: f64,
    /// Heat to hold its own temperature at the coldest moment, W.
    pub heater_needed_w: Option<f64>,
    /// In the currency of the price.
    pub cost: Option<f64>,
    /// What its readings say.
    pub from_readings: Option<FromReadings>,
    /// Its heated benches.
    pub mats: Option<MatsAnswer>,
    /// Each of its changes alone, then all together: what they do there.
    pub changes: Vec<ChangeAnswer>,
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
    /// Hours until green leaves and shoots are hurt (air at −1.1 °C); absent as above.
    pub hours_to_green: Option<f64>,
    /// The pot looked at, litres.
    pub pot_litres: f64,
    /// Hours until it begins to freeze; absent as above.
    pub hours_to_pot_freezing: Option<f64>,
    /// Hours until its root zone comes to −5 °C, where half lose their young roots; absent as above.
    pub hours_to_roots: Option<f64>,
    /// What to do at once, the one that buys most time first.
    pub stop_gaps: Vec<StopGapAnswer>,
    /// Where the air settles, °C.
    pub settles_c: f64,
}

/// A thing to do at once after the power failed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StopGapAnswer {
    /// What is done.
    pub what: String,
    /// Hours until green leaves and shoots are hurt then; absent: more than two days.
    pub hours_to_green: Option<f64>,
    /// Hours until the pot’s roots are at risk then; absent as above.
    pub hours_to_roots: Option<f64>,
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
    /// Its states, in their order; empty without any.
    pub states: Vec<StateAnswer>,
    /// What readings say that each state gained on the one before, and the last on the first.
    pub gains: Vec<GainAnswer>,
    /// Each change alone, then all together.
    pub changes: Vec<ChangeAnswer>,
    /// The sets of changes asked for.
    pub sets: Vec<ChangeAnswer>,
    /// The changes in the order of degrees for the money.
    pub order: Vec<OrderAnswer>,
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
    /// The day asked for.
    pub day: Option<DayAnswer>,
    /// Share of the light that comes in, %.
    pub light_percent: Option<f64>,
    /// When each part drips.
    pub covers: Vec<ShelterCoverAnswer>,
    /// What to do about damp under a closed cover, each with its source.
    pub damp: Vec<String>,
    /// The night, every half hour.
    pub night: Vec<NightPoint>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// Cautions wherever heat or power is advised.
    pub cautions: Vec<String>,
}
