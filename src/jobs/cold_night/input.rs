//! What a cold night is planned from, as JSON: temperatures in °C, differences in K, unknown fields refused.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::jobs::shelter::ShelterInput;
use crate::science::climate::kind::ClimateKind;
use crate::science::cold_night::places::StoreKind;
use crate::science::cold_night::stage::{NightKind, Stage};
use crate::science::site::Setting;

/// A night or a spell of nights, plants, places, covers and minutes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ColdNightInput {
    /// The town or coordinates: says how usual the night is and how far forecasts miss there, and gives the coldest night of one winter in ten
    /// where no night is given.
    #[serde(default)]
    pub place: Option<String>,
    /// The night; or `nights`.
    #[serde(default)]
    pub night: Option<NightInput>,
    /// A spell of one to ten nights, one after the other, with what is known of the day before each; instead of `night`.
    #[serde(default)]
    pub nights: Vec<NightInput>,
    /// The night to plan from, by its date; those before it are over. Absent: the first.
    #[serde(default)]
    #[schema(value_type = Option<String>, format = Date)]
    pub from: Option<jiff::civil::Date>,
    /// Soil at 15 cm at dusk of the first night, °C; absent: settled to the day before.
    #[serde(default)]
    pub soil_c: Option<f64>,
    /// What is out there.
    pub plants: Vec<PlantInput>,
    /// Where it could go.
    #[serde(default)]
    pub places: Vec<PlaceInput>,
    /// What could be put over it.
    #[serde(default)]
    pub covers: Vec<CoverInput>,
    /// Minutes there are before each night; absent: as many as it takes.
    pub minutes_available: Option<f64>,
}

impl ColdNightInput {
    /// The nights, however they were given.
    pub fn all_nights(&self) -> Vec<&NightInput> {
        self.night.iter().chain(&self.nights).collect()
    }

    /// JSON path of one of them.
    pub(crate) fn night_path(&self, index: usize) -> String {
        if self.night.is_some() { "night".to_owned() } else { format!("nights[{index}]") }
    }
}

/// The night.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NightInput {
    /// Forecast minimum, °C.
    pub minimum_c: f64,
    /// Its spread, K; absent: from the lead, else tonight's.
    pub sd_k: Option<f64>,
    /// Hours between the forecast and the night.
    pub lead_hours: Option<f64>,
    /// Hours below 0 °C as forecast.
    pub hours_below_0: Option<f64>,
    /// °C two hours after sunset.
    pub sunset_plus_2h_c: Option<f64>,
    /// Sunset to sunrise, h.
    pub night_hours: Option<f64>,
    /// Kind of night; absent: clear and still, the worst for covers.
    #[schema(value_type = Option<String>, example = "clear_still")]
    pub kind: Option<NightKind>,
    /// Highest of the day before this night, °C; absent: the day that leads to the evening.
    #[serde(default)]
    pub day_maximum_c: Option<f64>,
    /// Minutes there are before this night; absent: `minutes_available` of the whole.
    #[serde(default)]
    pub minutes_available: Option<f64>,
    /// Kind of climate: near the sea the lows of forecasts miss by more; absent: not near it.
    #[serde(default)]
    #[schema(value_type = Option<String>, example = "coast")]
    pub climate: Option<ClimateKind>,
    /// The date on whose evening the night begins. In a spell give it for every night or for none.
    #[schema(value_type = Option<String>, format = Date)]
    pub date: Option<jiff::civil::Date>,
    /// Own nights of this forecast against the own thermometer; in a spell on any night, and used for all.
    #[serde(default)]
    pub own_log: Vec<LoggedInput>,
}

/// One logged night.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LoggedInput {
    /// °C.
    pub forecast_c: f64,
    /// °C.
    pub measured_c: f64,
}

/// One plant, or one of several alike: a fig by its cultivar, or another plant by what hurts and kills it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlantInput {
    /// Its id; unique.
    pub id: String,
    /// Cultivar: slug, name or synonym; "unknown" where nobody knows. Absent where it is another plant than a fig.
    #[serde(default)]
    pub cultivar: String,
    /// Another plant than a fig: what it is, such as "peppers".
    #[serde(default)]
    pub other: Option<String>,
    /// Another plant: hurt at and below, °C.
    #[serde(default)]
    pub hurt_c: Option<f64>,
    /// Another plant: dead at and below, °C.
    #[serde(default)]
    pub dead_c: Option<f64>,
    /// Pot volume, litres; null: in the ground.
    #[serde(default)]
    pub container_l: Option<f64>,
    /// Whole years since planting.
    #[serde(default)]
    pub years: Option<u32>,
    /// Whole years that its standing wood has grown since the top was last killed back; absent: not known, at most as old as the plant.
    #[serde(default)]
    pub wood_years: Option<u32>,
    /// The spot it stands in, where the night's temperatures are not those of that spot: its offset counts on every night in the open.
    #[serde(default)]
    #[schema(value_type = Option<String>, example = "wall")]
    pub setting: Option<Setting>,
    /// What it looks like; absent: leafless and hard.
    #[serde(default)]
    #[schema(value_type = Option<String>, example = "hard")]
    pub stage: Option<Stage>,
    /// What it is worth to its grower, in any unit; absent: 1.
    #[serde(default)]
    pub value: Option<f64>,
    /// Room it needs, m²; absent: from the pot.
    #[serde(default)]
    pub footprint_m2: Option<f64>,
    /// Minutes to carry it; absent: from the pot.
    #[serde(default)]
    pub minutes_to_move: Option<f64>,
    /// Where it stands: "open", or the id of a place.
    #[serde(default)]
    pub at: Option<String>,
    /// First night that it stood there, where `from` is not the first of the spell; absent: the first.
    #[serde(default)]
    #[schema(value_type = Option<String>, format = Date)]
    pub at_since: Option<jiff::civil::Date>,
    /// How far short of the hardiness usual on the coldest nights of a winter, K (negative: harder); overrules the stage.
    #[serde(default)]
    pub deficit_k: Option<f64>,
    /// Spread of that, K.
    #[serde(default)]
    pub deficit_sd_k: Option<f64>,
    /// Temperature of the pot at dusk of the first night, °C; below 0: frozen through. Absent: by the evening's air.
    #[serde(default)]
    pub pot_start_c: Option<f64>,
}

/// A place: a line, a lowest temperature, or readings.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlaceInput {
    /// Its id; unique, not "open".
    pub id: String,
    /// Room, m²; absent: enough.
    pub room_m2: Option<f64>,
    /// a of inside = a + b·outside, °C.
    pub inside_a_c: Option<f64>,
    /// b.
    pub inside_b: Option<f64>,
    /// Spread of one night about it, K.
    pub sd_k: Option<f64>,
    /// Lowest inside tonight, °C: a heated place.
    pub minimum_c: Option<f64>,
    /// Lowest inside on each night of the spell, °C, as foretold by something that knows the place better.
    #[serde(default)]
    pub minima_c: Vec<f64>,
    /// What the place loses, W/K; needed beside water or soil.
    #[serde(default)]
    pub loss_w_k: Option<f64>,
    /// Water in drums that the readings or the line do not already hold, litres.
    #[serde(default)]
    pub water_litres: Option<f64>,
    /// That water at first dusk, °C; absent: as the place.
    #[serde(default)]
    pub water_c: Option<f64>,
    /// Bare soil of its floor that the readings or the line do not already hold, m².
    #[serde(default)]
    pub soil_m2: Option<f64>,
    /// Own pairs of readings.
    #[serde(default)]
    pub readings: Vec<PairInput>,
    /// A shelter as `/api/v1/shelter` takes it, without its night: what it holds is foretold for each night, with its range, its heat and what
    /// is left of it where the power fails. Its floor is the room where none is given.
    #[serde(default)]
    #[schema(value_type = Option<ShelterInput>)]
    pub shelter: Option<Box<ShelterInput>>,
    /// Kind of place, where there is no line.
    #[schema(value_type = Option<String>)]
    pub kind: Option<StoreKind>,
}

/// A pair of readings of a place.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PairInput {
    /// °C outside.
    pub outside_c: f64,
    /// °C inside.
    pub inside_c: f64,
}

/// Covers of one kind.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverInput {
    /// Kind: one of the shipped ones, or any name with `gain_k`.
    pub kind: String,
    /// How many.
    pub count: u32,
    /// Gain, K; absent: the shipped one for this kind of night.
    pub gain_k: Option<f64>,
    /// Its spread, K.
    pub gain_sd_k: Option<f64>,
    /// Minutes to put one on; absent: 4.
    pub minutes: Option<f64>,
    /// Ground one covers, m², for plants that stand together; absent: one plant each.
    pub area_m2: Option<f64>,
}
