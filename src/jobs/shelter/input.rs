//! What a shelter is described by, as JSON: temperatures in °C, unknown fields refused.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::science::cold_night::stage::NightKind;
use crate::science::shelter::cautions::HeatSource;

/// A shelter and a night.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShelterInput {
    /// Surfaces through which heat leaves: walls, roof, ends.
    pub parts: Vec<PartInput>,
    /// Length of the floor's edge, m.
    pub perimeter_m: Option<f64>,
    /// Loss at that edge, W/mK.
    pub perimeter_w_mk: Option<f64>,
    /// Or the kind of edge, by its key.
    pub perimeter_edge: Option<String>,
    /// Air inside, m³.
    pub volume_m3: Option<f64>,
    /// Leaks, 1/h.
    pub air_changes_per_hour: Option<f64>,
    /// Floor, m².
    pub floor_m2: Option<f64>,
    /// Heat from the soil, W/m² of floor.
    pub ground_w_m2: Option<f64>,
    /// Water in drums, litres.
    pub water_litres: Option<f64>,
    /// Its temperature at dusk, °C.
    pub water_start_c: Option<f64>,
    /// Wet potting medium inside, litres; counts when the power fails.
    pub pots_litres: Option<f64>,
    /// Most the heater gives, W.
    pub heater_w: Option<f64>,
    /// What makes the heat.
    #[schema(value_type = Option<String>, example = "electric")]
    pub heater_kind: Option<HeatSource>,
    /// The town or coordinates: where they are not given, the night, the night to be ready for and the winter are those of the place.
    #[serde(default)]
    pub place: Option<String>,
    /// Air temperature at which the heater stops, °C.
    pub thermostat_c: Option<f64>,
    /// Heat mats under trays.
    pub mats: Option<MatsInput>,
    /// Leans on a building whose wall is not among the parts.
    #[serde(default)]
    pub attached: bool,
    /// What stands behind a shared wall: a second shelter, or a room that keeps its temperature. Also read as `beside`.
    #[serde(alias = "beside")]
    pub neighbour: Option<NeighbourInput>,
    /// One outside temperature, °C.
    pub outside_c: Option<f64>,
    /// For how many hours, h; with `outside_c`.
    pub hours: Option<f64>,
    /// Or a night's course.
    pub night: Option<ShelterNightInput>,
    /// Temperature to hold, °C.
    pub hold_c: Option<f64>,
    /// Coldest night to be ready for, °C: the site's own return level.
    pub design_low_c: Option<f64>,
    /// Price of heat, in any currency.
    pub price_per_kwh: Option<f64>,
    /// Own pairs of readings of the shelter as described.
    #[serde(default)]
    pub readings: Vec<ReadingInput>,
    /// What it was from which date on, each state starting from the one before; the last stands now. Absent: it is as described.
    #[serde(default)]
    pub states: Vec<StateInput>,
    /// Whether readings of all states correct what stands now; absent or false: those of the last state alone.
    pub pool_states: Option<bool>,
    /// What might be done to it.
    #[serde(default)]
    pub changes: Vec<ChangeInput>,
    /// Sets of changes to compare, by their names.
    #[serde(default)]
    pub sets: Vec<Vec<String>>,
    /// A day's sun and warmth.
    pub day: Option<DayInput>,
    /// Relative humidity inside, %; absent: 92, a closed shelter with moist pots.
    pub humidity_percent: Option<f64>,
    /// A season's days.
    pub season: Option<SeasonInput>,
}

/// What the shelter was from a date on: what is absent stays as it was before.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ShelterStateInput)]
pub struct StateInput {
    /// Its name.
    pub name: String,
    /// First night in this state.
    #[schema(value_type = Option<String>, format = Date)]
    pub since: Option<jiff::civil::Date>,
    /// Its surfaces, in place of those before.
    pub parts: Option<Vec<PartInput>>,
    /// Layers added.
    #[serde(default)]
    pub layers: Vec<LayerInput>,
    /// Leaks, 1/h.
    pub air_changes_per_hour: Option<f64>,
    /// Edge, W/mK.
    pub perimeter_w_mk: Option<f64>,
    /// Or the kind of edge, by its key.
    pub perimeter_edge: Option<String>,
    /// Water, litres.
    pub water_litres: Option<f64>,
    /// Heat from the soil, W/m².
    pub ground_w_m2: Option<f64>,
    /// Heater, W.
    pub heater_w: Option<f64>,
    /// Thermostat, °C.
    pub thermostat_c: Option<f64>,
    /// Mats.
    pub mats: Option<MatsInput>,
    /// Readings in this state.
    #[serde(default)]
    pub readings: Vec<ReadingInput>,
}

/// A day.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ShelterDayInput)]
pub struct DayInput {
    /// Warmest outside, °C.
    pub maximum_c: f64,
    /// Outside at sunrise, °C; absent: the night's minimum.
    pub minimum_c: Option<f64>,
    /// Sun on level ground at noon, W/m²; absent: 500, a clear February noon in the middle latitudes.
    pub sun_w_m2: Option<f64>,
    /// Sunrise to sunset, h; absent: 10.
    pub hours: Option<f64>,
    /// Open above this, °C; absent: 10, so that dormant plants stay asleep.
    pub vent_above_c: Option<f64>,
    /// Height between a low and a high opening, m; absent: 1.5.
    pub vent_rise_m: Option<f64>,
}

/// One surface.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartInput {
    /// Its name.
    pub name: Option<String>,
    /// m².
    pub area_m2: f64,
    /// U-value, W/m²K.
    pub u_w_m2k: Option<f64>,
    /// Or the cover, by its key.
    pub cover: Option<String>,
    /// Layers on it.
    #[serde(default)]
    pub layers: Vec<LayerInput>,
}

/// A layer.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LayerInput {
    /// Part it lies on, for changes; absent: all of them.
    pub part: Option<String>,
    /// Its kind, by key.
    pub kind: Option<String>,
    /// Thickness of a board, mm.
    pub thickness_mm: Option<f64>,
    /// Or what it adds, m²K/W.
    pub r_m2k_w: Option<f64>,
    /// Share of the surface it covers, 0..=1; absent: all.
    pub fraction: Option<f64>,
}

/// A night's course.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ShelterNightInput)]
pub struct ShelterNightInput {
    /// °C two hours after sunset.
    pub sunset_plus_2h_c: f64,
    /// Lowest, °C.
    pub minimum_c: f64,
    /// Sunset to sunrise, h.
    pub hours: f64,
    /// Kind; absent: clear and still.
    #[schema(value_type = Option<String>, example = "clear_still")]
    pub kind: Option<NightKind>,
}

/// Heated benches.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MatsInput {
    /// m².
    pub area_m2: f64,
    /// W/m².
    pub power_w_m2: f64,
    /// Medium held at, °C.
    pub thermostat_c: Option<f64>,
}

/// A pair of readings.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingInput {
    /// °C outside.
    pub outside_c: f64,
    /// °C inside at the same moment.
    pub inside_c: f64,
    /// Heat the heater gave then, W; absent: the heater's limit.
    pub heater_w: Option<f64>,
    /// °C in the neighbour at the same moment; absent: as its balance gives it.
    pub beside_c: Option<f64>,
    /// The night it is of.
    #[schema(value_type = Option<String>, format = Date)]
    pub date: Option<jiff::civil::Date>,
    /// State it belongs to, by name; absent: the one that stood on its date.
    pub state: Option<String>,
}

/// Something that might be done.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeInput {
    /// Its name.
    pub name: String,
    /// Layers added.
    #[serde(default)]
    pub layers: Vec<LayerInput>,
    /// Leaks afterwards, 1/h.
    pub air_changes_per_hour: Option<f64>,
    /// Edge afterwards, W/mK.
    pub perimeter_w_mk: Option<f64>,
    /// Or the kind of edge, by its key.
    pub perimeter_edge: Option<String>,
    /// Water afterwards, litres.
    pub water_litres: Option<f64>,
    /// Heat from the soil afterwards, W/m².
    pub ground_w_m2: Option<f64>,
    /// Heater afterwards, W.
    pub heater_w: Option<f64>,
    /// Thermostat afterwards, °C.
    pub thermostat_c: Option<f64>,
    /// Mats afterwards.
    pub mats: Option<MatsInput>,
    /// What its material costs, in any currency.
    pub cost: Option<f64>,
    /// Or what a square metre of its layers costs.
    pub cost_per_m2: Option<f64>,
}

/// What shares a wall with the first shelter.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NeighbourInput {
    /// Its name.
    pub name: Option<String>,
    /// The wall between them, m²; it is among the parts of neither.
    pub shared_area_m2: f64,
    /// U-value of that wall, W/m²K.
    pub shared_u_w_m2k: Option<f64>,
    /// Or its cover, by key.
    pub shared_cover: Option<String>,
    /// A room that keeps this temperature, °C, such as a house; it needs no parts.
    pub holds_c: Option<f64>,
    /// Its own surfaces to the outside.
    #[serde(default)]
    pub parts: Vec<PartInput>,
    /// Length of its floor's edge to the outside, m.
    pub perimeter_m: Option<f64>,
    /// Loss at that edge, W/mK.
    pub perimeter_w_mk: Option<f64>,
    /// Or the kind of edge, by its key.
    pub perimeter_edge: Option<String>,
    /// m³.
    pub volume_m3: Option<f64>,
    /// 1/h.
    pub air_changes_per_hour: Option<f64>,
    /// m².
    pub floor_m2: Option<f64>,
    /// W/m².
    pub ground_w_m2: Option<f64>,
    /// Litres.
    pub water_litres: Option<f64>,
    /// Its water at dusk, °C.
    pub water_start_c: Option<f64>,
    /// W.
    pub heater_w: Option<f64>,
    /// What makes its heat.
    #[schema(value_type = Option<String>, example = "electric")]
    pub heater_kind: Option<HeatSource>,
    /// °C.
    pub thermostat_c: Option<f64>,
    /// Temperature to hold there, °C.
    pub hold_c: Option<f64>,
    /// Its heat mats.
    pub mats: Option<MatsInput>,
    /// Pairs of readings of it; `beside_c` is then the first shelter.
    #[serde(default)]
    pub readings: Vec<ReadingInput>,
    /// What might be done to it.
    #[serde(default)]
    pub changes: Vec<ChangeInput>,
}

/// A season's days.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SeasonInput {
    /// Daily minima, °C.
    pub daily_minima_c: Vec<f64>,
    /// Daily maxima, °C; as many, or none.
    #[serde(default)]
    pub daily_maxima_c: Vec<f64>,
}
