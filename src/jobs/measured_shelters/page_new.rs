//! `/shelters/new`: a member sees what would be published of a kept shelter, says where and what it cost, and sends it.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::measured_shelters::page_view::ShelterView;
use crate::jobs::measured_shelters::sending::{NotMeasured, content};
use crate::jobs::open_data::publication::credited_to;
use crate::records::place::Publish;
use crate::records::release::PublishedShelter;
use crate::records::{Member, Place, PublishedPlace, ReviewState, Setup, SetupKind, ShelterContent, ShelterReport, ShelterReportId};
use crate::web::cells::{Cell, upper_first};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "measured_shelters/new.html")]
struct NewShelterReportPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    setup: String,
    name: String,
    /// What would be published, or why nothing can be.
    view: Option<ShelterView>,
    refused: Option<String>,
    publish: Vec<Choice>,
    costs: Vec<Cell>,
    /// It is published already, and would be replaced.
    again: bool,
}

/// The kept shelter that an address or form names.
async fn kept(state: &AppState, member: &Member, pairs: &[(String, String)]) -> Result<Setup, Failure> {
    let asked = pairs.iter().find(|(k, _)| k == "setup").map_or("", |(_, id)| id.as_str());
    let all = state.setups.of(member, SetupKind::Shelter).await.map_err(Failure::unavailable)?;
    let found = all.into_iter().find(|setup| setup.id.to_string() == asked);
    found.ok_or_else(|| Failure::not_found("There is no such shelter in your garden."))
}

async fn worked_out(setup: &Setup) -> Result<Result<ShelterContent, NotMeasured>, Failure> {
    let setup = setup.clone();
    run_queued(move || content(&setup)).await
}

async fn page(
    state: &AppState,
    frame: Frame,
    member: &Member,
    setup: &Setup,
    content: Result<ShelterContent, NotMeasured>,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
) -> Result<NewShelterReportPage, Failure> {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let earlier = state.store.shelter_reports_of(member.id).await?;
    let offered = Publish::OFFERED.iter().map(|p| (p.word().to_owned(), p.label().to_owned()));
    let (view, costs, refused) = match content {
        Ok(content) => {
            let costs = (1..)
                .zip(&content.changes)
                .map(|(n, c)| {
                    let what: Vec<&str> = c.changes.iter().map(|change| change.label()).collect();
                    Cell::line(&typed, format!("cost_{n}"), upper_first(&what.join(", and ")), "decimal")
                })
                .collect();
            (Some(preview(content, setup, member, state, &frame)), costs, None)
        }
        Err(error) => (None, Vec::new(), Some(error.to_string())),
    };
    Ok(NewShelterReportPage {
        again: earlier.iter().any(|s| s.setup == Some(setup.id) && s.state != ReviewState::Withdrawn),
        publish: typed.choices("publish", "grid", offered),
        setup: setup.id.to_string(),
        name: setup.name.as_str().to_owned(),
        errors: listed,
        view,
        refused,
        costs,
        typed,
        frame,
    })
}

/// What everybody would see, the place aside.
fn preview(content: ShelterContent, setup: &Setup, member: &Member, state: &AppState, frame: &Frame) -> ShelterView {
    let now = state.clock.now();
    let shelter = ShelterReport {
        id: ShelterReportId(setup.id.0),
        setup: None,
        reporter: Some(member.id),
        place: Place { words: None, point: None, publish: Publish::Nowhere },
        content,
        version: 1,
        state: ReviewState::Waiting,
        sent: now,
        changed: now,
        credited: None,
    };
    ShelterView::new(&PublishedShelter::new(&shelter, &credited_to(member), PublishedPlace::Withheld), frame)
}

/// `GET /shelters/new?setup=…`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let setup = kept(&state, &who.member, &pairs).await?;
    let content = worked_out(&setup).await?;
    Ok(page(&state, frame, &who.member, &setup, content, pairs, FieldErrors::default()).await?.into_response())
}

/// `POST /shelters/new`.
pub async fn send(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let setup = kept(&state, &who.member, &pairs).await?;
    let content = worked_out(&setup).await?;
    let said = match content {
        Ok(content) => content,
        Err(error) => {
            let page = page(&state, frame, &who.member, &setup, Err(error), pairs, FieldErrors::default()).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    match state.shared_shelters.send(&who.member, &setup, said.clone(), &pairs, state.clock.now()).await {
        Ok(shelter) => Ok(Redirect::to(&address::sent_shelter(shelter.id)).into_response()),
        Err(MemberError::Fields(errors)) => {
            let page = page(&state, frame, &who.member, &setup, Ok(said), pairs, errors).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(other) => Err(other.into()),
    }
}
