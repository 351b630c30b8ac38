//! `/account/appeal`: a suspended member's answer to the office.

use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::fields::Fields;
use crate::jobs::accounts::members::MemberError;
use crate::jobs::accounts::page::again;
use crate::jobs::office::forms::Pairs;
use crate::records::{Notice, NoticeKind};
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// `POST /account/appeal`.
pub async fn send(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    if who.member.suspended.is_none() {
        return Err(Failure::new(StatusCode::UNPROCESSABLE_ENTITY, "Your account is not suspended; there is nothing to appeal."));
    }
    let mut fields = Fields::new(&pairs, &["appeal"]);
    let words = fields.lines("appeal", Notice::LONGEST);
    let mut errors = fields.errors;
    if words.is_none() && errors.is_empty() {
        errors.add("appeal", "", "write what the office should know");
    }
    let Some(words) = words.filter(|_| errors.is_empty()) else {
        return again(&state, frame, &who, pairs, "appeal", MemberError::Fields(errors)).await;
    };
    state.limits.letters.take(&format!("appeal {}", who.member.id)).map_err(MemberError::from)?;
    let now = state.clock.now();
    let notice = Notice {
        id: state.ids.fresh(now),
        member: who.member.id,
        author: Some(who.member.id),
        kind: NoticeKind::Appeal,
        about: None,
        words,
        at: now,
        seen: None,
    };
    state.store.give_notice(&notice).await?;
    tracing::info!(member = %who.member.id, "a suspended member appealed");
    Ok(Redirect::to(address::ACCOUNT.as_str()).into_response())
}
