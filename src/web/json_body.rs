//! A request's body that says it is JSON; anything else is refused before it is read (OWASP ASVS 5.0, 3.5.2: no form can send it).

use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::web::errors::Failure;

/// The text of a JSON document.
pub struct JsonText(pub String);

impl<S: Send + Sync> FromRequest<S> for JsonText {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let kind = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
        if !kind.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case("application/json") {
            return Err(Failure::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, "This address reads application/json.").into_response());
        }
        String::from_request(request, state).await.map(Self).map_err(IntoResponse::into_response)
    }
}
