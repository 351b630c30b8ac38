//! `GET /api/v1/shortlist`: a pure function of the question and the snapshot, so that an answer once written is kept with the snapshot (`web::kept_answers`).

use axum::Extension;
use axum::extract::{Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::jobs::shortlist::json::ShortlistJson;
use crate::jobs::shortlist::question::Question;
use crate::web::errors::Failure;
use crate::web::kept_answers::Counted;
use crate::web::state::AppState;

/// Ranked shortlist for a place
#[utoipa::path(
    get,
    operation_id = "rank_cultivars",
    path = "/api/v1/shortlist",
    params(
        ("zone" = Option<String>, Query, description = "half-zone 1a to 13b; this or yearly_minimum_c"),
        ("place" = Option<String>, Query, description = "town with its country, or coordinates, in place of a zone"),
        ("elevation_m" = Option<f64>, Query, description = "height of the garden, m, where it differs from the town’s"),
        ("coldest_c" = Option<f64>, Query, description = "coldest night remembered, °C; with coldest_winters, in place of a zone or beside a town"),
        ("coldest_winters" = Option<u32>, Query, description = "in how many winters, 1 to 100"),
        ("yearly_minimum_c" = Option<f64>, Query, description = "mean of the yearly minimum, °C"),
        ("yearly_spread_k" = Option<f64>, Query, description = "its standard deviation between winters, 0.3 to 12 K"),
        ("climate" = Option<String>, Query, description = "coast, inland, continental; inland is assumed"),
        ("setting" = Option<String>, Query, description = "open, wall, courtyard, hollow, slope, town, water, trees; several at once are parted by commas"),
        ("culture" = Option<String>, Query, description = "ground, container"),
        ("container_l" = Option<f64>, Query, description = "volume of the pot, L"),
        ("years" = Option<u32>, Query, description = "whole years since planting, 0 to 200"),
        ("wood_years" = Option<u32>, Query, description = "whole years since the top was last killed back, at most years; not known when left out"),
        ("protection" = Option<String>, Query, description = "none, mulch, wrap, cover_to_ground, filled_cage, unheated_house, carried_in"),
        ("store" = Option<String>, Query, description = "where a pot is carried in to: attached_garage, detached_shed, cellar; some shed or garage when left out"),
        ("last_frost" = Option<String>, Query, description = "median date of the last spring frost, MM-DD"),
        ("first_frost" = Option<String>, Query, description = "median date of the first autumn frost, MM-DD"),
        ("frost_free_days" = Option<f64>, Query, description = "in place of the two dates, 0 to 365"),
        ("warmest_month_c" = Option<f64>, Query, description = "mean of the warmest month, 0 to 42 °C"),
        ("summer" = Option<String>, Query, description = "cool, warm: what is assumed where neither a town nor the warmest month is given; coast and continental cool, inland warm when left out"),
        ("rank_by" = Option<String>, Query, description = "fruit (what one can count on: the lower quartile of years with ripe figs), wood, alive"),
        ("have" = Option<String>, Query, description = "figs that are there already, by any name, parted by commas: three_together is chosen beside them"),
        ("skin" = Option<String>, Query, description = "only figs whose ripe skin is light, brown, dark or mixed, or unknown"),
        ("ripens" = Option<String>, Query, description = "only figs that ripen early, mid or late, or unknown; a kind between two belongs to both"),
        ("early_crop" = Option<String>, Query, description = "only figs with an early crop (yes), without (no), or unknown"),
        ("regrowth" = Option<String>, Query, description = "only figs that bear on shoots from the roots (yes), do not (no), or unknown"),
        ("kind" = Option<String>, Query, description = "only common, san_pedro, smyrna or caprifig, or unknown"),
        ("wish" = Option<String>, Query, description = "three_together besides: early (before surer ones), light_and_dark (one of each skin)"),
        ("limit" = Option<u32>, Query, description = "most rows, 1 to 500; every cultivar when left out")
    ),
    responses(
        (status = 200, description = "The shortlist", body = ShortlistJson<'static>),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let question = Question::parse_for(&pairs, true, &snapshot.catalogue)?;
    let asked = question.kind(None, &snapshot);
    state.asked.count(asked.clone(), state.clock.now());
    let answer = snapshot.recommend(&question);
    let body = serde_json::to_vec(&ShortlistJson::of(&answer, &snapshot)).map_err(Failure::internal)?;
    Ok(([(CONTENT_TYPE, "application/json")], Extension(Counted(asked)), body).into_response())
}
