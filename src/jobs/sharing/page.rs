//! `/a` makes a short address of an answer, `/a/{code}` shows that answer as it is today and says what differs from the day it was made.

use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

use crate::address::{self, BENCH, COMPARE, SHORTLIST};
use crate::jobs::sharing::question::{NotShared, SharedQuestion, parts};
use crate::jobs::{bench, compare, shortlist, spring};
use crate::records::{KeyFigure, ShortAddress, ShortCode};
use crate::web::client::Client;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::{Frame, Held};
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// What the button sends.
#[derive(Debug, Deserialize)]
pub struct Making {
    #[serde(default)]
    question: String,
}

/// `POST /a`: keeps a question with what is answered today, and goes to its short address. The same question with the same answer has the same one.
pub async fn make(State(state): State<AppState>, Form(making): Form<Making>) -> Result<Redirect, Failure> {
    let (snapshot, now) = (state.snapshot(), state.clock.now());
    let question = SharedQuestion::read(&making.question, &snapshot, today(&state)).map_err(|why| match why {
        NotShared::Fields(errors) => Failure::fields(errors),
        other => Failure::new(StatusCode::UNPROCESSABLE_ENTITY, other.to_string()),
    })?;
    let asker = Client::current().map(|client| client.to_string()).unwrap_or_default();
    state.limits.writes.take(&format!("{}{asker}", address::SHORT)).map_err(|wait| {
        Failure::too_many(format!("Too many short addresses from yours at once; please wait {} s.", wait.wait_s), wait.wait_s)
    })?;
    let address = question.address.clone();
    let (model, figures) = (snapshot.model.version.clone(), figures(&state, question).await?);
    let codes = ShortCode::candidates(&address, &figures);
    let kept = ShortAddress { question: address, model, figures, made: now };
    let code = state.store.keep_short_address(&codes, &kept).await?.ok_or_else(|| Failure::internal("no short address is free"))?;
    Ok(Redirect::to(&address::short(code)))
}

/// What is answered today.
async fn figures(state: &AppState, question: SharedQuestion) -> Result<Vec<KeyFigure>, Failure> {
    let snapshot = state.snapshot();
    let register = state.registers.newest(&state.store).await?;
    run_queued(move || question.figures(&snapshot, &register)).await
}

fn today(state: &AppState) -> jiff::civil::Date {
    jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date()
}

/// `GET /a/{code}`: the answer as of today, on the page that answers such a question.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor, Path(code): Path<String>) -> Result<Response, Failure> {
    let absent = || Failure::not_found("There is no answer at this short address; it may be mistyped.");
    let code = ShortCode::read(&code).ok_or_else(absent)?;
    let kept = state.store.short_address(&code).await?.ok_or_else(absent)?;
    let (page, pairs) = parts(&kept.question).ok_or_else(absent)?;
    let sentence = match SharedQuestion::read(&kept.question, &state.snapshot(), today(&state)) {
        Ok(question) => beside_today(&kept, Some(&figures(&state, question).await?)),
        Err(_) => beside_today(&kept, None),
    };
    let frame = frame.holding(Held { address: address::short(&code), question: kept.question, sentence });
    let (state, pairs) = (State(state), Query(pairs));
    Ok(if page == SHORTLIST {
        shortlist::page::show(frame, state, Ok(visitor), pairs).await.into_response()
    } else if page == COMPARE {
        compare::page::show(frame, state, pairs).await.into_response()
    } else if page == BENCH {
        bench::page::show(frame, state, Ok(visitor), pairs).await.into_response()
    } else {
        spring::page::show(frame, state, visitor, pairs).await.into_response()
    })
}

/// The answer that was kept beside today's, in a sentence.
fn beside_today(kept: &ShortAddress, today: Option<&[KeyFigure]>) -> String {
    let made = format!("It was made on {} by model {}", kept.made.strftime("%-d %B %Y"), kept.model);
    let Some(today) = today else {
        let said = kept.figures.iter().map(|figure| format!("{}: {}", figure.of, figure.value)).collect::<Vec<_>>().join("; ");
        return format!("{made}, and can no longer be asked as it was; it answered then: {said}.");
    };
    let differences = kept.differences(today);
    if differences.is_empty() {
        format!("{made}; below is today’s answer, and what it comes to is the same.")
    } else {
        format!("{made}; below is today’s answer, which differs in {}.", differences.join("; in "))
    }
}
