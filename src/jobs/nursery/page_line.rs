//! `/nursery/stock/{id}`: one line of stock, changed, sold in numbers, or removed.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::nursery::form::line_words;
use crate::jobs::nursery::page::{Pairs, back, belonging, forms, nurseries};
use crate::jobs::nursery::service::NurseryError;
use crate::jobs::nursery::stock::form_of;
use crate::records::StockLine;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "nursery/line.html")]
struct LinePage {
    frame: Frame,
    id: String,
    title: String,
    count: i64,
    version: i64,
    typed: Typed,
    forms: Vec<Choice>,
    names: Vec<String>,
    errors: Vec<FieldError>,
    /// Why nothing was changed, where somebody came between.
    moved: Option<String>,
}

fn page(state: &AppState, frame: Frame, line: &StockLine, pairs: Pairs, errors: FieldErrors, moved: Option<String>) -> LinePage {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    LinePage {
        id: line.id.to_string(),
        title: line_words(line),
        count: line.count,
        version: line.version,
        forms: forms(&typed),
        names: state.snapshot().catalogue.cultivars().iter().map(|c| c.name.clone()).collect(),
        typed,
        errors: listed,
        moved,
        frame,
    }
}

/// `GET /nursery/stock/{id}`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Path(id): Path<String>) -> Result<Response, Failure> {
    let nursery = match belonging(&state, &frame, &who.member).await? {
        Ok(nursery) => nursery,
        Err(start) => return Ok((StatusCode::NOT_FOUND, start).into_response()),
    };
    let line = nurseries(&state).line(&nursery, &id).await?;
    Ok(page(&state, frame, &line, form_of(&line), FieldErrors::default(), None).into_response())
}

/// `POST /nursery/stock/{id}`: what the form says, or that the line goes.
pub async fn change(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let (of_page, answers): (Pairs, Pairs) = pairs.into_iter().partition(|(name, _)| matches!(name.as_str(), "version" | "act"));
    let of = |name: &str| of_page.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value.as_str());
    let (seen, now) = (of("version").parse::<i64>().unwrap_or_default(), state.clock.now());
    let rooms = nurseries(&state);
    let done = if of("act") == "remove" {
        rooms.remove_line(&who.member, &id, seen, now).await.map(|deed| ("removed", deed))
    } else {
        rooms.change_line(&who.member, &id, seen, &answers, now).await.map(|deed| ("changed", deed))
    };
    let (errors, moved, status) = match done {
        Ok((words, deed)) => return Ok(back(words, Some(deed)).into_response()),
        Err(NurseryError::Fields(errors)) => (errors, None, StatusCode::UNPROCESSABLE_ENTITY),
        Err(NurseryError::Moved(words)) => (FieldErrors::default(), Some(words), StatusCode::CONFLICT),
        Err(other) => return Err(other.into()),
    };
    let nursery = rooms.needed(&who.member).await?;
    let line = rooms.line(&nursery, &id).await?;
    Ok((status, page(&state, frame, &line, answers, errors, moved)).into_response())
}
