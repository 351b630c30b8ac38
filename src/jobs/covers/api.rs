//! `GET /api/v1/covers`: what each cover buys by the kind of night, for programs.

use axum::Json;
use axum::extract::{Query, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::covers::answer::{CoversAnswer, LONG_FROST, answer};
use crate::jobs::shortlist::json::{RangeJson, pair, tidy};
use crate::science::cold_night::covers::CoverGain;
use crate::science::cold_night::stage::NightKind;
use crate::science::numeric::{Gaussian, Z_90};
use crate::units::Interval;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// A gain with its doubt.
#[derive(Debug, Serialize, ToSchema)]
pub struct GainJson {
    /// Mean, K.
    pub gain_k: f64,
    /// Standard deviation, K.
    pub sd_k: f64,
    /// 90 % range, K.
    #[schema(value_type = RangeJson)]
    pub range_k: RangeJson,
}

/// One gain a kind of night.
#[derive(Debug, Serialize, ToSchema)]
pub struct NightGainsJson {
    /// Clear and still.
    pub clear_still: GainJson,
    /// Windy.
    pub windy: GainJson,
    /// Cloudy.
    pub cloudy: GainJson,
}

/// One cover.
#[derive(Debug, Serialize, ToSchema)]
pub struct CoverGainJson {
    /// Its word, as a plan takes it.
    pub kind: &'static str,
    /// In words.
    pub name: &'static str,
    /// Over soil.
    pub over_soil: NightGainsJson,
    /// Over a pot on paving.
    pub over_pot: NightGainsJson,
    /// READ, DESIGN …
    pub provenance: String,
    /// Source or reason.
    pub note: String,
}

/// Every cover.
#[derive(Debug, Serialize, ToSchema)]
pub struct CoversJson {
    /// The covers.
    pub covers: Vec<CoverGainJson>,
    /// Share of a cover's gain that a pot gets.
    pub pot_share: f64,
    /// What reaching the soil all round adds to one sheet over the top, K.
    pub to_ground: NightGainsJson,
    /// A plan counts one cover a plant: gains are never added.
    pub layers_add_up: bool,
    /// Share of the first night's gain that is left on each night of a frost whose nights have `long_frost_lowest_c` and whose days
    /// `long_frost_highest_c`.
    pub long_frost_shares: Vec<f64>,
    /// Lowest of its nights, °C.
    pub long_frost_lowest_c: f64,
    /// Highest of its days, °C.
    pub long_frost_highest_c: f64,
}

impl GainJson {
    /// Of a gain in K.
    pub fn of(gain: Gaussian) -> Self {
        let (low, high) = (gain.mean - Z_90 * gain.sd, gain.mean + Z_90 * gain.sd);
        Self { gain_k: tidy(gain.mean), sd_k: tidy(gain.sd), range_k: pair(Interval { low, high }) }
    }
}

impl NightGainsJson {
    fn of(gain: impl Fn(NightKind) -> Gaussian) -> Self {
        let of = |night| GainJson::of(gain(night));
        Self { clear_still: of(NightKind::ClearStill), windy: of(NightKind::Windy), cloudy: of(NightKind::Cloudy) }
    }
}

impl CoversJson {
    fn of(answer: &CoversAnswer) -> Self {
        let covers = answer.rows.iter().map(|row| {
            let on = |night: NightKind, of: fn(&CoverGain) -> Gaussian| {
                row.gains.iter().find(|(kind, _)| *kind == night).map_or_else(Gaussian::default, |(_, gain)| of(gain))
            };
            CoverGainJson {
                kind: row.kind.word(),
                name: row.kind.label(),
                over_soil: NightGainsJson::of(|night| on(night, |gain| gain.over_soil)),
                over_pot: NightGainsJson::of(|night| on(night, |gain| gain.over_pot)),
                provenance: row.provenance.clone(),
                note: row.note.clone(),
            }
        });
        let to_ground = |night| answer.layers.iter().find(|l| l.night == night).map_or_else(Gaussian::default, |l| l.to_ground);
        Self {
            covers: covers.collect(),
            pot_share: answer.pot_share,
            to_ground: NightGainsJson::of(to_ground),
            layers_add_up: false,
            long_frost_shares: answer.shares.iter().copied().map(tidy).collect(),
            long_frost_lowest_c: LONG_FROST.1,
            long_frost_highest_c: LONG_FROST.2,
        }
    }
}

/// What each cover buys.
#[utoipa::path(
    get,
    operation_id = "list_covers",
    path = "/api/v1/covers",
    responses(
        (status = 200, description = "Every cover, by the kind of night", body = CoversJson),
        (status = 422, description = "application/problem+json: a parameter that there is not")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<CoversJson>, Failure> {
    FieldErrors::refuse_unknown(&pairs, |_| false, IN_THE_DESCRIPTION)?;
    Ok(Json(CoversJson::of(&answer(&state.snapshot()))))
}
