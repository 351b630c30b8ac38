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
    /// Air temperature at which the heater stops, °C.
    pub thermostat_c: Option<f64>,
    /// Heat mats under trays.
    pub mats: Option<MatsInput>,
    /// Leans on a building whose wall is not among the parts.
    #[serde(default)]
    pub attached: bool,
    /// A second shelter behind a shared wall.
    pub neighbour: Option<NeighbourInput>,
    /// One outside temperature, °C.
    pub outside_c: Option<f64>,
    /// For how many hours, h; with `outside_c`.
    pub hours: Option<f64>,
    /// Or a night's course.
    pub night: Option<NightInput>,
    /// Temperature to hold, °C.
    pub hold_c: Option<f64>,
    /// Coldest night to be ready for, °C: the site's own return level.
    pub design_low_c: Option<f64>,
    /// Price of heat, in any currency.
    pub price_per_kwh: Option<f64>,
    /// Own pairs of readings of the shelter as described.
    #[serde(default)]
    pub readings: Vec<ReadingInput>,
    /// What might be done to it.
    #[serde(default)]
    pub changes: Vec<ChangeInput>,
    /// A season's days.
    pub season: Option<SeasonInput>,
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
pub struct NightInput {
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
}

/// A second shelter that shares a wall with the first.
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
    /// Its own surfaces to the outside.
    pub parts: Vec<PartInput>,
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
    /// W.
    pub heater_w: Option<f64>,
    /// °C.
    pub thermostat_c: Option<f64>,
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
