//! `/shelters`: what others measured, by kind of change; and one published shelter.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::jobs::measured_shelters::page_view::{ShelterView, between, kelvins, words_of};
use crate::jobs::measured_shelters::sending::withdraw;
use crate::jobs::measured_shelters::summary::{ByKind, by_kind};
use crate::jobs::open_data::publication::credited_to;
use crate::records::release::{Credited, PublishedShelter};
use crate::records::{Decision, Member, PublishedPlace, Reason, ShelterReport, ShelterReportId};
use crate::web::cells::upper_first;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

#[derive(Template, WebTemplate)]
#[template(path = "measured_shelters/shelters.html")]
struct ListPage {
    frame: Frame,
    kinds: Vec<KindLine>,
    shelters: Vec<ShelterView>,
    member: bool,
}

/// A kind of change.
struct KindLine {
    what: String,
    shelters: usize,
    middle: String,
    range: String,
    predicted: String,
    predicted_range: String,
    within: String,
}

impl KindLine {
    fn new(kind: &ByKind, frame: &Frame) -> Self {
        let (m, p) = (kind.measured_k, kind.predicted_k);
        Self {
            what: upper_first(&words_of(&kind.changes)),
            shelters: kind.shelters,
            middle: kelvins(m.middle, frame),
            range: between(m.low, m.high, frame),
            predicted: kelvins(p.middle, frame),
            predicted_range: between(p.low, p.high, frame),
            within: format!("{} of {}", kind.model_within, kind.shelters),
        }
    }
}

#[derive(Template, WebTemplate)]
#[template(path = "measured_shelters/shelter.html")]
struct OnePage {
    frame: Frame,
    view: ShelterView,
    own: bool,
    just_sent: bool,
    setup: Option<String>,
    decisions: Vec<(String, &'static str, String)>,
}

/// `GET /shelters`.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor) -> Result<Response, Failure> {
    let shelters = state.publications.shelters(&state.store).await?;
    Ok(ListPage {
        kinds: by_kind(&shelters).iter().map(|kind| KindLine::new(kind, &frame)).collect(),
        shelters: shelters.iter().rev().map(|shelter| ShelterView::new(shelter, &frame)).collect(),
        member: visitor.member().is_some(),
        frame,
    }
    .into_response())
}

/// The id in an address.
pub(super) fn id(text: &str) -> Result<ShelterReportId, Failure> {
    Uuid::parse_str(text).map(ShelterReportId).map_err(|_| absent())
}

pub(super) fn absent() -> Failure {
    Failure::not_found("There is no such shelter.")
}

/// What everybody would see of a shelter once it is taken; the place as finely as the newest release shows it.
pub(super) async fn as_published(state: &AppState, shelter: &ShelterReport) -> Result<PublishedShelter, Failure> {
    let register = state.registers.newest(&state.store).await?;
    let member = match shelter.reporter {
        Some(member) => state.store.member(member).await?,
        None => None,
    };
    let nobody = || Credited { recorded_by: "a former member".to_owned(), reporter: None };
    let credited = shelter.credited.clone().unwrap_or_else(|| member.as_ref().map_or_else(nobody, credited_to));
    let place = if shelter.place.is_withheld() { PublishedPlace::Withheld } else { register.fine().shown(&shelter.place) };
    Ok(PublishedShelter::new(shelter, &credited, place))
}

/// Decisions in words: what, why, and the steward's words.
pub(super) fn decided(decisions: &[Decision]) -> Vec<(String, &'static str, String)> {
    let reason = |d: &Decision| if d.reason == Reason::Plausible { "" } else { d.reason.label() };
    decisions
        .iter()
        .map(|d| (format!("version {}: {}", d.version, d.state.label()), reason(d), d.words.clone().unwrap_or_default()))
        .collect()
}

/// `GET /shelters/{id}`: its member and stewards see it from the start, others once it is taken.
pub async fn one(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Path(text): Path<String>,
    Query(query): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let shelter = state.store.shelter_report(id(&text)?).await?.ok_or_else(absent)?;
    let own = visitor.member().is_some_and(|member| shelter.reporter == Some(member.id));
    let whole = own || visitor.member().is_some_and(Member::may_review);
    if !whole && !shelter.state.counts() {
        return Err(absent());
    }
    let decisions = if whole { state.store.shelter_decisions(shelter.id).await? } else { Vec::new() };
    Ok(OnePage {
        view: ShelterView::new(&as_published(&state, &shelter).await?, &frame),
        own,
        just_sent: own && query.iter().any(|(k, _)| k == "sent"),
        setup: shelter.setup.filter(|_| own).map(|setup| setup.to_string()),
        decisions: decided(&decisions),
        frame,
    }
    .into_response())
}

/// `POST /shelters/{id}/withdraw`.
pub async fn take_back(State(state): State<AppState>, who: SignedIn, Path(text): Path<String>) -> Result<Redirect, Failure> {
    let shelter = id(&text)?;
    if withdraw(&state.store, &who.member, shelter, state.clock.now()).await? {
        Ok(Redirect::to(&address::published_shelter(shelter)))
    } else {
        Err(absent())
    }
}
