//! The plan, JSON-shaped.

use jiff::civil::Date;
use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::shortlist::json::LevelsJson;
use crate::science::hardiness::chances::Levels;

/// One plant's line of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanRow {
    /// Its id.
    pub plant: String,
    /// Its cultivar, as the catalogue names it.
    pub cultivar: String,
    /// Carried to this place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Covered with this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cover: Option<String>,
    /// Left where it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stay: Option<bool>,
    /// Carried out of where it stands, to make room.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub out: Option<bool>,
    /// First night it is there or so covered; nights count from 1, those that are over too.
    pub first_night: Option<usize>,
    /// Last night it needs to be.
    pub last_night: Option<usize>,
    /// In a place: the day on which it may come out, about noon. On the day after the last night it is the end of what is known: look again then.
    #[schema(value_type = Option<String>, format = Date)]
    pub until: Option<Date>,
    /// Where it stands now.
    pub at: String,
    /// Minutes it takes to carry it in or cover it.
    pub minutes: f64,
    /// Minutes to carry it out once it may come out; 0 where it is in no place.
    pub minutes_out: f64,
    /// Expected loss if left, in units of the values.
    pub loss_if_left: f64,
    /// Expected loss as planned.
    pub loss_planned: f64,
    /// Chance of each level if left.
    #[schema(value_type = LevelsJson<f64>)]
    pub chance_if_left: Levels<f64>,
    /// Chance of each level as planned.
    #[schema(value_type = LevelsJson<f64>)]
    pub chance_planned: Levels<f64>,
    /// Chance that each part is lost of itself if left; of a fig.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub parts_if_left: Option<PartsAnswer>,
    /// The pot's coldest temperatures if left.
    pub pot_if_left: Option<PotAnswer>,
}

/// Parts of a plant, each by itself.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PartsAnswer {
    /// Tips, buds and shoots.
    pub tips: f64,
    /// Trunk and branches, to the ground.
    pub trunk: f64,
    /// Roots: in a pot by the pot's temperature, in the ground with the crown.
    pub roots: f64,
}

/// A pot's night.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PotAnswer {
    /// Against the wall, °C.
    pub wall_c: f64,
    /// Mean of the root zone, °C.
    pub mean_c: f64,
    /// In the middle, °C.
    pub centre_c: f64,
}

/// A plant that stays out with a risk.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LeftOut {
    /// Its id.
    pub plant: String,
    /// Expected loss.
    pub loss: f64,
    /// Chance of each level.
    #[schema(value_type = LevelsJson<f64>)]
    pub chance: Levels<f64>,
    /// Why it stays.
    pub why: String,
}

/// What to do with less time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct IfOnly {
    /// Minutes.
    pub minutes: f64,
    /// Plants in order.
    pub order: Vec<String>,
    /// Expected loss then.
    pub loss_after: f64,
    /// Minutes it takes.
    pub minutes_used: f64,
}

/// A place tonight.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlaceAnswer {
    /// Its id.
    pub id: String,
    /// Lowest inside on the coldest planned night, °C.
    pub minimum_c: f64,
    /// Its spread, K.
    pub sd_k: f64,
    /// Room, m².
    pub room_m2: Option<f64>,
    /// Room the plan takes on the fullest night, m².
    pub used_m2: f64,
    /// Lowest inside on each night, °C.
    pub minima_c: Vec<f64>,
    /// Readings it rests on.
    pub readings: usize,
    /// 90 % range of the lowest on each night, °C.
    pub ranges_c: Vec<[f64; 2]>,
    /// What must be held there for the other plants that the plan puts in, °C: the warmest temperature that hurts one of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub must_hold_c: Option<f64>,
    /// Of a described shelter: its heat.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heat: Option<HeatAnswer>,
}

/// Heat of a described shelter through the spell.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HeatAnswer {
    /// Whether the plan heats it: with a price, only where that loses less in all than leaving it cold.
    pub heated: bool,
    /// Heat of each night, kWh; of the nights that are over too.
    pub energy_kwh: Vec<f64>,
    /// Hours of each night with the heater at its limit.
    pub hours_at_full: Vec<f64>,
    /// What the heat of the planned nights costs, in the currency of the price; absent without a price.
    pub cost: Option<f64>,
    /// Lowest inside without heat on each night, °C.
    pub without_heat_c: Vec<f64>,
    /// The planned night on which a power failure would cost most; absent where nothing stands there or it is not heated.
    pub power_fails: Option<PowerFails>,
}

/// The power fails at dusk of one night and comes back by day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PowerFails {
    /// Number of the night, from 1.
    pub night: usize,
    /// Its date.
    #[schema(value_type = Option<String>, format = Date)]
    pub date: Option<Date>,
    /// Lowest inside then, °C.
    pub minimum_c: f64,
    /// Plants that stand there.
    pub plants: usize,
    /// What they would lose, in units of the values.
    pub loss: f64,
    /// What they lose as planned.
    pub loss_planned: f64,
}

/// Covers of one kind.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CoverAnswer {
    /// Kind.
    pub kind: String,
    /// How many there are.
    pub count: u32,
    /// How many the plan uses on the night it uses most (ground in m² where an area was given).
    pub used: f64,
    /// Degrees it buys over soil on each night, K; of the nights that are over too.
    pub gains_k: Vec<f64>,
    /// The same over a pot, K.
    pub gains_over_pot_k: Vec<f64>,
    /// Why all of them lie unused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why_unused: Option<String>,
}

/// One night of the spell, with the day before it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NightPlan {
    /// Its number, from 1; those that are over count.
    pub number: usize,
    /// The date on whose evening it begins.
    #[schema(value_type = Option<String>, format = Date)]
    pub date: Option<Date>,
    /// It is over: nothing is planned for it.
    pub over: bool,
    /// Highest of the day before it, °C.
    pub day_maximum_c: f64,
    /// Lowest, °C.
    pub minimum_c: f64,
    /// Spread, K.
    pub sd_k: f64,
    /// Hours below 0 °C.
    pub hours_below_0: f64,
    /// Soil at 15 cm at dusk, °C.
    pub soil_c: f64,
    /// Minutes of carrying in and covering before it.
    pub minutes: f64,
    /// Minutes to carry out what may come out about noon of that day; where its room is not needed it can wait.
    pub minutes_out: f64,
    /// Plants carried in before it.
    pub carry_in: Vec<String>,
    /// Plants that may come out about noon of that day.
    pub come_out: Vec<String>,
    /// Plants covered before it.
    pub cover: Vec<String>,
    /// Plants whose cover may come off on that day.
    pub uncover: Vec<String>,
}

/// The first planned night.
#[derive(Debug, Clone, PartialEq, Default, Serialize, ToSchema)]
pub struct NightAnswer {
    /// Lowest, °C: forecast plus own offset.
    pub minimum_c: f64,
    /// Spread, K.
    pub sd_k: f64,
    /// Own offset in it, K.
    pub own_offset_k: Option<f64>,
    /// Two hours after sunset, °C.
    pub sunset_plus_2h_c: f64,
    /// h.
    pub night_hours: f64,
    /// Hours below 0, −2, −5 and −10 °C.
    pub hours_below_0: f64,
    /// Hours below −2 °C.
    pub hours_below_minus_2: f64,
    /// Hours below −5 °C.
    pub hours_below_minus_5: f64,
    /// Hours below −10 °C.
    pub hours_below_minus_10: f64,
    /// (hours after sunset, °C), every quarter of an hour from the second hour on.
    pub curve: Vec<[f64; 2]>,
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq, Default, Serialize, ToSchema)]
pub struct ColdNightAnswer {
    /// One line per plant, in the order given.
    pub plan: Vec<PlanRow>,
    /// What to do: night by night, most loss avoided per minute first.
    pub order: Vec<String>,
    /// Expected loss if nothing is done.
    pub loss_before: f64,
    /// Expected loss as planned, with what heat costs where it has a price.
    pub loss_after: f64,
    /// What heat costs in it; absent where no heated shelter has a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heating_cost: Option<f64>,
    /// Proved that no plan loses less.
    pub optimal: bool,
    /// (loss_after − least possible)/loss_after at most.
    pub gap: f64,
    /// Minutes the plan takes on all days.
    pub minutes_used: f64,
    /// Plants that stay out with a risk worth naming, greatest loss first.
    pub left_out: Vec<LeftOut>,
    /// With only thirty minutes before the first planned night, where the plan takes longer then.
    pub if_only: Option<IfOnly>,
    /// The first planned night.
    pub night: NightAnswer,
    /// Every night of the spell, in order; one night is a spell of one.
    pub nights: Vec<NightPlan>,
    /// Outside air through nights and days, every hour from the first dusk: (h, °C).
    pub course: Vec<[f64; 2]>,
    /// The covers.
    pub covers: Vec<CoverAnswer>,
    /// The places.
    pub places: Vec<PlaceAnswer>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}
