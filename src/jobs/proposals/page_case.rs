//! `/catalogue/proposals/{id}`: one proposal with its steps, and a steward's decision.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::catalogue::change::Change;
use crate::input::errors::{FieldError, FieldErrors};
use crate::input::fields::Fields;
use crate::jobs::proposals::desk::{Decided, accept, decline, undo, withdraw};
use crate::jobs::proposals::error::ProposalError;
use crate::jobs::proposals::form;
use crate::jobs::proposals::history::{Credits, Entry, entry, is_public};
use crate::jobs::proposals::page::{absent, id, refresh};
use crate::jobs::proposals::page_new::ChangeForm;
use crate::jobs::proposals::rules::contradicted;
use crate::jobs::proposals::words::{details, sentence};
use crate::records::winter::today;
use crate::records::{Member, Proposal, ProposalState};
use crate::web::errors::Failure;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Steward, Visitor};

/// Longest words for the author, characters.
const LONGEST_WORDS: usize = 1000;

#[derive(Template, WebTemplate)]
#[template(path = "proposals/case.html")]
struct CasePage {
    frame: Frame,
    id: String,
    version: i64,
    says: String,
    state: &'static str,
    now: Now,
    details: Vec<(&'static str, String)>,
    steps: Vec<StepView>,
    /// What the catalogue has instead.
    contradicted: Option<String>,
    /// Why it is left out although it was let stand.
    misfit: Option<String>,
    /// The entry that it is about, where it stands.
    entry: Option<(String, String)>,
    reader: Reader,
    form: ChangeForm,
    errors: Vec<FieldError>,
}

/// What can be done with a proposal now.
struct Now {
    waits: bool,
    stands: bool,
    may_stand: bool,
}

/// Who reads.
struct Reader {
    own: bool,
    steward: bool,
    /// Whether they come from the form.
    sent: bool,
}

/// A step as pages show it.
pub(crate) struct StepView {
    pub(crate) at: String,
    pub(crate) by: String,
    pub(crate) what: &'static str,
    pub(crate) words: String,
    /// What it said from then on, where that is not what it said before.
    pub(crate) reworded: Vec<(&'static str, String)>,
}

pub(crate) fn steps(entry: &Entry) -> Vec<StepView> {
    let view = |(nth, step): (usize, &crate::jobs::proposals::history::Step)| StepView {
        at: day(step.at),
        by: step.by.clone(),
        what: match step.state {
            _ if nth == 0 => "proposed it",
            ProposalState::Accepted => "let it stand",
            ProposalState::Declined => "did not take it",
            ProposalState::Withdrawn => "took it back",
            ProposalState::Undone => "undid it",
            ProposalState::Waiting => "changed it",
        },
        words: step.words.clone(),
        reworded: if step.reworded { details(&step.change) } else { Vec::new() },
    };
    entry.steps.iter().enumerate().map(view).collect()
}

async fn page(
    state: &AppState,
    frame: Frame,
    member: Option<&Member>,
    proposal: Proposal,
    typed: Option<Vec<(String, String)>>,
    errors: FieldErrors,
) -> Result<CasePage, Failure> {
    let snapshot = state.snapshot();
    let catalogue = &snapshot.catalogue;
    let own = member.is_some_and(|member| proposal.author == Some(member.id));
    let steward = member.is_some_and(Member::may_review);
    // To others a proposal that never stood is as absent as a missing one.
    if !own && !steward && !is_public(proposal.state) {
        return Err(absent());
    }
    let told = entry(&state.store, proposal.clone(), &mut Credits::default()).await?;
    let about = proposal.change.new_entry().map(|(slug, _)| slug).or(proposal.change.other()).or(proposal.change.cultivar());
    let about = about.and_then(|slug| catalogue.get(slug.as_str())).map(|fig| (fig.slug.to_string(), fig.name.clone()));
    let listed = errors.iter().cloned().collect();
    Ok(CasePage {
        id: proposal.id.to_string(),
        version: proposal.version,
        says: sentence(&proposal.change, catalogue),
        state: proposal.state.label(),
        now: Now {
            waits: proposal.state == ProposalState::Waiting,
            stands: proposal.state == ProposalState::Accepted,
            may_stand: matches!(proposal.state, ProposalState::Waiting | ProposalState::Declined | ProposalState::Undone)
                || (proposal.state == ProposalState::Accepted && matches!(proposal.change, Change::Fact { .. })),
        },
        details: details(&proposal.change),
        steps: steps(&told),
        misfit: catalogue.left_out().iter().find(|(id, _)| *id == proposal.id.to_string()).map(|(_, why)| why.clone()),
        contradicted: contradicted(&proposal.change, catalogue),
        entry: about,
        reader: Reader { own, steward, sent: false },
        form: ChangeForm::new(typed.unwrap_or_else(|| form::pairs(&proposal.change)), errors, catalogue, steward),
        errors: listed,
        frame,
    })
}

/// `GET /catalogue/proposals/{id}`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Path(text): Path<String>,
    Query(query): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let proposal = state.store.proposal(id(&text)?).await?.ok_or_else(absent)?;
    let mut page = page(&state, frame, visitor.member(), proposal, None, FieldErrors::default()).await?;
    page.reader.sent = query.iter().any(|(name, _)| name == "sent");
    Ok(page.into_response())
}

/// What a steward does with a proposal.
enum Decision {
    Stand,
    Decline,
    Undo,
}

/// `POST /catalogue/proposals/{id}`, for stewards.
pub async fn decide(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let id = id(&text)?;
    let (status, errors) = match ruled(&state, &steward, id, &pairs).await {
        Ok(()) => return Ok(Redirect::to(&address::proposal(id)).into_response()),
        Err(ProposalError::Fields(errors)) => (StatusCode::UNPROCESSABLE_ENTITY, errors),
        Err(error @ (ProposalError::Moved(_) | ProposalError::State(_) | ProposalError::LaterStands(_) | ProposalError::Busy)) => {
            let mut errors = FieldErrors::default();
            errors.add("then", "", format!("not decided: {error}"));
            (StatusCode::CONFLICT, errors)
        }
        Err(other) => return Err(other.into()),
    };
    let proposal = state.store.proposal(id).await?.ok_or_else(absent)?;
    // What was typed stays in the form; what stands is shown above it.
    Ok((status, page(&state, frame, Some(&steward), proposal, Some(pairs), errors).await?).into_response())
}

async fn ruled(
    state: &AppState,
    steward: &Member,
    id: crate::records::ProposalId,
    pairs: &[(String, String)],
) -> Result<(), ProposalError> {
    let now = state.clock.now();
    let mut fields = Fields::lenient(pairs, &["then", "version", "words"]);
    let then = match fields.value("then") {
        Some("stand") => Some(Decision::Stand),
        Some("decline") => Some(Decision::Decline),
        Some("undo") => Some(Decision::Undo),
        other => {
            fields.errors.add("then", other.unwrap_or_default(), "choose what becomes of it: stand, decline or undo");
            None
        }
    };
    let version: Option<i64> = fields.value("version").and_then(|typed| typed.parse().ok());
    if version.is_none() {
        fields.errors.add("version", "", "say which version was looked at");
    }
    let words = fields.line("words", LONGEST_WORDS).unwrap_or_default();
    let (Some(then), Some(from_version), true) = (then, version, fields.errors.is_empty()) else {
        return Err(fields.errors.into());
    };
    let decided = Decided { steward, from_version, words, at: now, log: Some(state.ids.fresh(now)) };
    match then {
        Decision::Stand => {
            let change = form::read(pairs, &state.snapshot().catalogue, today(now).year())?;
            accept(&state.store, id, change, &decided).await?;
        }
        Decision::Decline => decline(&state.store, id, &decided).await?,
        Decision::Undo => {
            undo(&state.store, id, &decided).await?;
        }
    }
    if let Err(error) = refresh(state).await {
        tracing::warn!(?error, "the catalogue of the moment is taken up at the next look");
    }
    Ok(())
}

/// `POST /catalogue/proposals/{id}/withdraw`, for its author.
pub async fn take_back(
    State(state): State<AppState>,
    SignedIn { member, .. }: SignedIn,
    Path(text): Path<String>,
) -> Result<Redirect, Failure> {
    let id = id(&text)?;
    withdraw(&state.store, id, &member, state.clock.now()).await?;
    Ok(Redirect::to(&address::proposal(id)))
}
