//! `/garden/propagation/new` and `/garden/propagation/{id}`: keeping, changing, taking off the list and going back.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::propagation::form::{Mother, answers};
use crate::jobs::propagation::ledger::Changed;
use crate::jobs::propagation::page::{BatchView, Kept, after_removal};
use crate::jobs::propagation::ready_by::{KEPT, OUTDOORS, ROOM};
use crate::records::{KeptBatch, Setup};
use crate::science::propagation::Method;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "propagation/batch.html")]
struct BatchPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    methods: Vec<Choice>,
    mothers: Vec<Choice>,
    places: Vec<Choice>,
    /// The batch as it stands; `None` for a new one.
    batch: Option<BatchView>,
    /// It was just changed, or given back.
    kept: bool,
    /// It was changed meanwhile.
    moved: bool,
}

/// What the lists of a form offer.
struct Offered {
    mothers: Vec<Mother>,
    setups: Vec<Setup>,
}

async fn offered(state: &AppState, who: &SignedIn) -> Result<(Offered, Kept), Failure> {
    let kept = Kept::of(state, &who.member, &state.snapshot()).await?;
    Ok((Offered { mothers: state.ledger.mothers(&who.member).await?, setups: kept.setups.clone() }, kept))
}

fn page(frame: Frame, offered: &Offered, batch: Option<BatchView>, pairs: Pairs, errors: FieldErrors) -> BatchPage {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let mothers = offered.mothers.iter().map(|(id, name, _)| (id.to_string(), name.clone()));
    let mut places = vec![(ROOM.to_owned(), "in a heated room".to_owned()), (OUTDOORS.to_owned(), "outdoors".to_owned())];
    places.extend(offered.setups.iter().map(|setup| {
        let name = setup.name.as_str();
        (format!("{KEPT}{name}"), format!("{name} ({})", setup.kind.label()))
    }));
    // What was kept under a name that is kept no more stays chosen.
    let chosen = typed.text("place").to_owned();
    if !chosen.is_empty() && places.iter().all(|(value, _)| *value != chosen) {
        places.push((chosen.clone(), chosen.strip_prefix(KEPT).unwrap_or(&chosen).to_owned()));
    }
    BatchPage {
        methods: typed.words::<Method>("method", ""),
        mothers: typed.choices("mother", "", mothers),
        places: typed.choices("place", "", places),
        errors: listed,
        typed,
        batch,
        kept: false,
        moved: false,
        frame,
    }
}

async fn own(state: &AppState, who: &SignedIn, id: &str) -> Result<KeptBatch, Failure> {
    let found = state.ledger.batch(&who.member, id).await?;
    found.ok_or_else(|| Failure::not_found("There is no such batch in your ledger."))
}

fn view(kept: &Kept, batch: &KeptBatch, state: &AppState, frame: &Frame) -> BatchView {
    BatchView::new(batch, kept.ready(&batch.record, &state.snapshot()), frame)
}

/// The version that a form was made from; taken out of the fields.
fn version(pairs: Pairs) -> (i64, Pairs) {
    let from = pairs.iter().find(|(name, _)| name == "version").and_then(|(_, value)| value.parse().ok()).unwrap_or(0);
    (from, pairs.into_iter().filter(|(name, _)| name != "version").collect())
}

/// `GET /garden/propagation/new`, with a mother plant where the address names one.
pub async fn new(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let (offered, _) = offered(&state, &who).await?;
    Ok(page(frame, &offered, None, pairs, FieldErrors::default()).into_response())
}

/// `POST /garden/propagation/new`.
pub async fn add(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    match state.ledger.add(&who.member, &pairs, &state.snapshot().catalogue, state.clock.now()).await {
        Ok(id) => Ok(Redirect::to(&address::batch_kept(id)).into_response()),
        Err(MemberError::Fields(errors)) => {
            let (offered, _) = offered(&state, &who).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &offered, None, pairs, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// `GET /garden/propagation/{id}`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Path(id): Path<String>,
    Query(pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    let batch = own(&state, &who, &id).await?;
    let (offered, kept) = offered(&state, &who).await?;
    let view = view(&kept, &batch, &state, &frame);
    let just = pairs.iter().any(|(name, _)| name == "kept");
    Ok(BatchPage { kept: just, ..page(frame, &offered, Some(view), answers(&batch.record), FieldErrors::default()) }.into_response())
}

/// `POST /garden/propagation/{id}`: a change made from an older state is shown beside what stands, and nothing is kept.
pub async fn change(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let batch = own(&state, &who, &id).await?;
    let (from, pairs) = version(pairs);
    let (offered, kept) = offered(&state, &who).await?;
    match state.ledger.change(&who.member, &batch, &pairs, from, &state.snapshot().catalogue, state.clock.now()).await {
        Ok(Changed::Kept) => Ok(Redirect::to(&address::batch_kept(id)).into_response()),
        Ok(Changed::Moved(stands)) => {
            let view = view(&kept, &stands, &state, &frame);
            let page = BatchPage { moved: true, ..page(frame, &offered, Some(view), pairs, FieldErrors::default()) };
            Ok((StatusCode::CONFLICT, page).into_response())
        }
        Err(MemberError::Fields(errors)) => {
            let view = view(&kept, &batch, &state, &frame);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &offered, Some(view), pairs, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /garden/propagation/{id}/remove`.
pub async fn remove(State(state): State<AppState>, who: SignedIn, Path(id): Path<String>) -> Result<Redirect, Failure> {
    let batch = own(&state, &who, &id).await?;
    if !batch.gone {
        state.ledger.remove(&who.member, &batch, state.clock.now()).await?;
    }
    Ok(Redirect::to(&after_removal(&id)))
}

/// `POST /garden/propagation/{id}/undo`.
pub async fn undo(
    State(state): State<AppState>,
    who: SignedIn,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Redirect, Failure> {
    let batch = own(&state, &who, &id).await?;
    let (from, _) = version(pairs);
    // Where it was changed meanwhile its page shows how it stands.
    let back = state.ledger.undo(&who.member, &batch, from).await?;
    Ok(Redirect::to(&if back { address::batch_kept(id) } else { address::batch(id) }))
}
