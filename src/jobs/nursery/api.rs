//! `/api/v1/nursery/stock` and `/sales`: the stock of the token's nursery, by programs.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::json;
use crate::jobs::nursery::json::{SaleJson, SoldJson, StockJson, StockLineJson};
use crate::jobs::nursery::page::nurseries;
use crate::jobs::reports::api::pairs_of;
use crate::jobs::shortlist::named::identified;
use crate::model::snapshot::Snapshot;
use crate::records::StockLine;
use crate::web::errors::Failure;
use crate::web::json_body::JsonText;
use crate::web::state::AppState;
use crate::web::visitor::TokenHolder;

fn line_json(line: &StockLine, snapshot: &Snapshot) -> StockLineJson {
    let known = identified(&snapshot.catalogue, &line.item.name).ok().and_then(|place| snapshot.catalogue.cultivars().get(place));
    StockLineJson::new(line, known.map(|fig| fig.slug.to_string()))
}

/// The stock of the token's nursery
#[utoipa::path(
    get,
    operation_id = "list_stock",
    path = "/api/v1/nursery/stock",
    responses(
        (status = 200, description = "Every line, also those that are sold out", body = StockJson),
        (status = 401, description = "no member's token"),
        (status = 404, description = "the member belongs to no nursery")
    ),
    security(("token" = []))
)]
pub async fn list(TokenHolder(member): TokenHolder, State(state): State<AppState>) -> Result<Json<StockJson>, Failure> {
    let nursery = nurseries(&state).needed(&member).await?;
    let snapshot = state.snapshot();
    let lines = state.store.stock(nursery.id).await?;
    Ok(Json(StockJson { nursery: nursery.name, lines: lines.iter().map(|line| line_json(line, &snapshot)).collect() }))
}

/// A line of stock from a program: the fields of the form as a flat JSON object
#[derive(serde::Deserialize, utoipa::ToSchema)]
#[expect(dead_code, reason = "described here, read by the form's reader")]
pub struct StockToAdd {
    /// A name of the catalogue, or any other.
    name: String,
    /// `rooted_cutting` or `pot`.
    form: Option<String>,
    /// Volume of the pot, L.
    pot_l: Option<f64>,
    /// The same in US gallons; one of the two.
    pot_gal: Option<f64>,
    /// Years of standing wood.
    wood_years: Option<u8>,
    /// How many; one where it is left out.
    count: Option<i64>,
    /// Price of one.
    price: Option<f64>,
    /// Its currency.
    currency: Option<String>,
    /// A note.
    note: Option<String>,
}

/// Adds a line of stock
#[utoipa::path(
    post,
    operation_id = "add_stock",
    path = "/api/v1/nursery/stock",
    request_body = StockToAdd,
    responses(
        (status = 201, description = "kept", body = StockJson),
        (status = 401, description = "no member's token"),
        (status = 404, description = "the member belongs to no nursery"),
        (status = 415, description = "not JSON"),
        (status = 422, description = "a field cannot be used, or the kind stands there already"),
        (status = 429, description = "too many in a short time")
    ),
    security(("token" = []))
)]
pub async fn add(TokenHolder(member): TokenHolder, State(state): State<AppState>, JsonText(body): JsonText) -> Result<Response, Failure> {
    let pairs = pairs_of(&body)?;
    nurseries(&state).add(&member, &pairs, state.clock.now()).await?;
    Ok((StatusCode::CREATED, list(TokenHolder(member), State(state)).await?).into_response())
}

/// Counts a sale
///
/// The line in the version that the seller saw: where somebody changed it since, nothing is counted and the answer is 409 with what is left.
#[utoipa::path(
    post,
    operation_id = "sell_stock",
    path = "/api/v1/nursery/sales",
    request_body = SaleJson,
    responses(
        (status = 200, description = "counted", body = SoldJson),
        (status = 401, description = "no member's token"),
        (status = 404, description = "no such line, or the member belongs to no nursery"),
        (status = 409, description = "the line has changed since, or too few are left"),
        (status = 415, description = "not JSON"),
        (status = 422, description = "a field cannot be used"),
        (status = 429, description = "too many in a short time")
    ),
    security(("token" = []))
)]
pub async fn sell(
    TokenHolder(member): TokenHolder,
    State(state): State<AppState>,
    JsonText(body): JsonText,
) -> Result<Json<SoldJson>, Failure> {
    let sale: SaleJson = json::read(&body)?;
    let rooms = nurseries(&state);
    let deed = rooms.sell(&member, &sale.line, sale.version, sale.count, state.clock.now()).await?;
    let nursery = rooms.needed(&member).await?;
    let snapshot = state.snapshot();
    let line = rooms.line(&nursery, &sale.line).await.ok();
    Ok(Json(SoldJson { deed: deed.to_string(), line: line.map(|line| line_json(&line, &snapshot)) }))
}
