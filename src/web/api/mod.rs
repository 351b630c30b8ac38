//! JSON for programs, under `/api/v1`.

use axum::Router;

use super::state::AppState;

/// Every address of the API.
pub fn routes() -> Router<AppState> {
    Router::new()
}
