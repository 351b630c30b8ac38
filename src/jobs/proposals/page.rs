//! `/catalogue/proposals`: what waits for a steward, what a member proposed, and what changed lately.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Redirect;
use uuid::Uuid;

use crate::address;
use crate::catalogue::Catalogue;
use crate::input::fields::Fields;
use crate::jobs::proposals::error::ProposalError;
use crate::jobs::proposals::history::NoHistory;
use crate::jobs::proposals::words::sentence;
use crate::records::{Proposal, ProposalId, ProposalState, SeedDifference};
use crate::store::StoreError;
use crate::web::errors::Failure;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::{Steward, Visitor};

/// Most proposals and differences on the page at once.
const LISTED: i64 = 200;
/// Most names looked at for the number of those that wait.
pub(crate) const NAMES: i64 = 2000;

#[derive(Template, WebTemplate)]
#[template(path = "proposals/proposals.html")]
struct ProposalsPage {
    frame: Frame,
    signed_in: bool,
    steward: bool,
    waiting: i64,
    queue: Vec<ProposalLine>,
    own: Vec<ProposalLine>,
    names: usize,
    differences: Vec<SeedDifference>,
    newest_difference: i64,
    standing: Vec<ProposalLine>,
    /// Changes that stood and do not fit the shipped records any more, with the reason.
    misfits: Vec<(ProposalLine, String)>,
}

/// A proposal in one line.
pub(crate) struct ProposalLine {
    pub(crate) id: String,
    pub(crate) says: String,
    pub(crate) sent: String,
    pub(crate) state: &'static str,
}

pub(crate) fn line(proposal: &Proposal, catalogue: &Catalogue) -> ProposalLine {
    ProposalLine {
        id: proposal.id.to_string(),
        says: sentence(&proposal.change, catalogue),
        sent: day(proposal.sent),
        state: proposal.state.label(),
    }
}

/// `GET /catalogue/proposals`.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor) -> Result<impl axum::response::IntoResponse, Failure> {
    let snapshot = state.snapshot();
    let catalogue = &snapshot.catalogue;
    let member = visitor.member();
    let steward = member.is_some_and(crate::records::Member::may_review);
    let lines = |all: &[Proposal]| all.iter().map(|proposal| line(proposal, catalogue)).collect::<Vec<_>>();
    let mut page = ProposalsPage {
        signed_in: member.is_some(),
        steward,
        waiting: 0,
        queue: Vec::new(),
        own: match member {
            Some(member) => lines(&state.store.proposals_of(member.id).await?),
            None => Vec::new(),
        },
        names: 0,
        differences: Vec::new(),
        misfits: Vec::new(),
        newest_difference: 0,
        standing: lines(&state.store.standing_changes().await?).into_iter().rev().collect(),
        frame,
    };
    if steward {
        page.waiting = state.store.proposals_waiting().await?;
        page.queue = lines(&state.store.proposals(ProposalState::Waiting, LISTED).await?);
        page.names = crate::jobs::proposals::unknown_names::queue(&state.store.written_names(NAMES).await?, catalogue).len();
        page.differences = state.store.seed_differences(LISTED).await?;
        for (id, why) in catalogue.left_out() {
            let Ok(id) = Uuid::parse_str(id) else { continue };
            if let Some(proposal) = state.store.proposal(ProposalId(id)).await?.filter(|p| p.state == ProposalState::Accepted) {
                page.misfits.push((line(&proposal, catalogue), why.clone()));
            }
        }
        page.newest_difference = page.differences.last().map_or(0, |difference| difference.number);
    }
    Ok(page)
}

/// `POST /catalogue/proposals/seed`: a steward has looked at the differences of the shipped catalogue.
pub async fn looked(
    State(state): State<AppState>,
    Steward(_): Steward,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Redirect, Failure> {
    let mut fields = Fields::new(&pairs, &["number"]);
    let number = fields.value("number").and_then(|typed| typed.parse::<i64>().ok());
    if number.is_none() {
        fields.errors.add("number", "", "say up to which difference was looked at");
    }
    fields.errors.into_result()?;
    state.store.look_at_seed_differences(number.unwrap_or_default()).await?;
    Ok(Redirect::to(address::PROPOSALS.as_str()))
}

/// A proposal's id out of a path.
pub(crate) fn id(text: &str) -> Result<ProposalId, Failure> {
    Uuid::parse_str(text).map(ProposalId).map_err(|_| absent())
}

pub(crate) fn absent() -> Failure {
    Failure::not_found("There is no such proposal.")
}

/// Puts the catalogue of the moment in the place of the one in use, so that a decision is everywhere at once; other processes find it at their
/// next look.
pub(crate) async fn refresh(state: &AppState) -> Result<(), Failure> {
    let catalogue = state.store.catalogue().await?;
    let next = state.snapshot().over(catalogue).map_err(Failure::internal)?;
    state.publish(next);
    Ok(())
}

impl From<ProposalError> for Failure {
    fn from(error: ProposalError) -> Self {
        match error {
            ProposalError::Fields(errors) => errors.into(),
            ProposalError::Absent => absent(),
            ProposalError::TooOften(wait) => {
                Self::too_many(format!("Too many changes in a short time; please wait {} s.", wait.wait_s), wait.wait_s)
            }
            ProposalError::Store(error) => error.into(),
            other => Self::new(StatusCode::CONFLICT, format!("Nothing was changed: {other}.")),
        }
    }
}

impl From<NoHistory> for Failure {
    fn from(error: NoHistory) -> Self {
        match error {
            NoHistory::Store(error) => StoreError::into(error),
            NoHistory::Catalogue(error) => Self::internal(error),
        }
    }
}
