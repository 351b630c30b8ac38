//! `GET /api/v1/store` and `GET /api/v1/frozen-pot`: the questions of `/store` and `/frozen-pot` for programs.

use axum::Json;
use axum::extract::{Query, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::pots::frozen::{self, FrozenAnswer, FrozenQuestion};
use crate::jobs::pots::store::{self, StoreAnswer, StoreQuestion};
use crate::jobs::shortlist::json::{LevelsJson, RangeJson, levels, pair, tidy};
use crate::jobs::shortlist::question_form;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Whether a store will do for a pot over the winters of a place.
#[derive(Debug, Serialize, ToSchema)]
pub struct StoreJson {
    /// Word of its kind.
    kind: String,
    /// Nights read in it.
    readings: usize,
    /// a of `inside = a + b·outside`, °C.
    inside_a_c: f64,
    /// b.
    inside_b: f64,
    /// The pot taken, L.
    container_l: f64,
    /// Whether the plant is in its first three winters.
    young: bool,
    /// Coldest nights, from the usual one to that of one winter in fifty.
    nights: Vec<StoreNightJson>,
    /// Limits of roots.
    limits: Vec<LimitJson>,
    /// Chance of each level of damage in a winter, for a leafless fig of unknown kind in that pot.
    #[schema(value_type = LevelsJson<f64>)]
    chance: LevelsJson<f64>,
    /// 90 % ranges.
    #[schema(value_type = LevelsJson<RangeJson>)]
    chance_interval: LevelsJson<RangeJson>,
    /// Chance of death of the same pot in the open.
    dies_in_the_open: f64,
    /// On a mild winter's coldest night it stays so warm inside that buds may not wait.
    may_wake: bool,
}

/// One coldest night.
#[derive(Debug, Serialize, ToSchema)]
pub struct StoreNightJson {
    /// Winters in ten whose coldest night is colder.
    winters_in_ten: f64,
    /// Outside, °C.
    outside_c: f64,
    /// Inside, °C.
    inside_c: f64,
    /// Its standard deviation, K.
    inside_sd_k: f64,
}

/// A limit of roots against the store's winters.
#[derive(Debug, Serialize, ToSchema)]
pub struct LimitJson {
    /// What happens there, in words.
    what: &'static str,
    /// Temperature of the root zone at which half of plants have it, °C.
    roots_c: f64,
    /// Outside temperature at which the air inside comes to that, °C.
    outside_c: f64,
    /// Winters in a hundred whose coldest night is colder than that.
    winters_in_hundred: f64,
}

/// What a pot that froze solid has lost.
#[derive(Debug, Serialize, ToSchema)]
pub struct FrozenJson {
    /// Chance that the plant lives.
    lives: f64,
    /// Its 90 % range.
    lives_interval: RangeJson,
    /// Chance of each level of damage.
    #[schema(value_type = LevelsJson<f64>)]
    chance: LevelsJson<f64>,
    /// 90 % ranges.
    #[schema(value_type = LevelsJson<RangeJson>)]
    chance_interval: LevelsJson<RangeJson>,
    /// The pot taken, L.
    container_l: f64,
    /// The root zone at its coldest: against the wall, °C.
    wall_c: f64,
    /// Its mean, °C.
    mean_c: f64,
    /// In the middle, °C.
    centre_c: f64,
    /// Root temperature at which half of such plants die, °C.
    half_die_at_c: f64,
    /// Its standard deviation, K.
    half_die_sd_k: f64,
    /// Hours after which a frozen pot of this size has come within a tenth of the way to the air.
    settles_hours: f64,
}

/// Will this garage, shed or cellar do for a pot?
#[utoipa::path(
    get,
    operation_id = "answer_store",
    path = "/api/v1/store",
    params(
        ("kind" = Option<String>, Query, description = "attached, detached, cellar, unheated_house; this or readings"),
        ("outside_1_c" = Option<f64>, Query, description = "outside on one night, °C; with inside_1_c. A second night: outside_2_c, inside_2_c"),
        ("inside_1_c" = Option<f64>, Query, description = "inside on that night, °C"),
        ("outside_2_c" = Option<f64>, Query, description = "outside on a second night, °C"),
        ("inside_2_c" = Option<f64>, Query, description = "inside on that night, °C"),
        ("zone" = Option<String>, Query, description = "half-zone 1a to 13b; this or yearly_minimum_c; the place as for the shortlist"),
        ("container_l" = Option<f64>, Query, description = "the pot, L"),
        ("years" = Option<u32>, Query, description = "whole years since planting")
    ),
    responses(
        (status = 200, description = "The answer", body = StoreJson),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn store(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<StoreJson>, Failure> {
    let known = |name: &str| store::PARAMETERS.contains(&name) || question_form::PARAMETERS.contains(&name);
    let unknown = FieldErrors::refuse_unknown(&pairs, known, IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, StoreQuestion::parse(&pairs))?;
    let answer = state.snapshot().store_answer(&question).map_err(Failure::internal)?;
    Ok(Json(StoreJson::of(&question, &answer)))
}

/// The pot froze solid: is the plant dead?
#[utoipa::path(
    get,
    operation_id = "answer_frozen_pot",
    path = "/api/v1/frozen-pot",
    params(
        ("lowest_c" = f64, Query, description = "lowest temperature, °C, below 0"),
        ("measured" = Option<String>, Query, description = "air (assumed) or pot: where that was read"),
        ("hours" = Option<f64>, Query, description = "hours near that lowest, frozen through; 12 are assumed"),
        ("container_l" = Option<f64>, Query, description = "the pot, L"),
        ("years" = Option<u32>, Query, description = "whole years since planting"),
        ("stage" = Option<String>, Query, description = "hard (assumed), leaves_down, in_leaf, buds, growing, rooted_cutting")
    ),
    responses(
        (status = 200, description = "The answer", body = FrozenJson),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn frozen(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<FrozenJson>, Failure> {
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| frozen::PARAMETERS.contains(&name), IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, FrozenQuestion::parse(&pairs))?;
    Ok(Json(FrozenJson::of(&state.snapshot().frozen_answer(&question))))
}

impl StoreJson {
    fn of(question: &StoreQuestion, answer: &StoreAnswer) -> Self {
        let night = |(winters, outside, inside): &(f64, crate::units::Celsius, crate::science::numeric::Gaussian)| StoreNightJson {
            winters_in_ten: tidy(*winters),
            outside_c: tidy(outside.degrees()),
            inside_c: tidy(inside.mean),
            inside_sd_k: tidy(inside.sd),
        };
        let limit = |l: &store::Limit| LimitJson {
            what: l.what,
            roots_c: tidy(l.roots_c),
            outside_c: tidy(l.outside_c.degrees()),
            winters_in_hundred: tidy(l.winters_in_hundred),
        };
        Self {
            kind: question.kind.word().to_owned(),
            readings: answer.line.readings,
            inside_a_c: tidy(answer.line.a_c),
            inside_b: tidy(answer.line.b),
            container_l: tidy(answer.litres),
            young: answer.young,
            nights: answer.nights.iter().map(night).collect(),
            limits: answer.limits.iter().map(limit).collect(),
            chance: levels(answer.winter.chance, tidy),
            chance_interval: levels(answer.winter.interval, pair),
            dies_in_the_open: tidy(answer.dies_in_the_open),
            may_wake: answer.wakes,
        }
    }
}

impl FrozenJson {
    fn of(answer: &FrozenAnswer) -> Self {
        let dead = answer.chances.interval.dead;
        Self {
            lives: tidy(1.0 - answer.chances.chance.dead),
            lives_interval: pair(crate::units::Interval { low: 1.0 - dead.high, high: 1.0 - dead.low }),
            chance: levels(answer.chances.chance, tidy),
            chance_interval: levels(answer.chances.interval, pair),
            container_l: tidy(answer.litres),
            wall_c: tidy(answer.pot.wall_c),
            mean_c: tidy(answer.pot.mean_c),
            centre_c: tidy(answer.pot.centre_c),
            half_die_at_c: tidy(answer.limit.mean),
            half_die_sd_k: tidy(answer.limit.sd),
            settles_hours: tidy(answer.settles_h),
        }
    }
}
