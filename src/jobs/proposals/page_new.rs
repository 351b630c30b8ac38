//! `/catalogue/proposals/new`: the form of a proposal.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::catalogue::change::{ChangeKind, TraitName};
use crate::catalogue::{Catalogue, Grade};
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::proposals::desk::{Decided, accept, propose};
use crate::jobs::proposals::error::ProposalError;
use crate::jobs::proposals::form;
use crate::jobs::proposals::page::refresh;
use crate::jobs::proposals::rules::kinds_of;
use crate::jobs::proposals::words::accepted_values;
use crate::records::winter::today;
use crate::records::{Member, ProposalId};
use crate::vocabulary::Vocabulary;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "proposals/new.html")]
struct NewPage {
    frame: Frame,
    steward: bool,
    form: ChangeForm,
    kinds: Vec<(&'static str, &'static str)>,
    errors: Vec<FieldError>,
}

/// The fields of a change, as the form shows them.
pub(crate) struct ChangeForm {
    pub(crate) typed: Typed,
    /// The kind chosen; `None`: none yet.
    pub(crate) kind: Option<ChangeKind>,
    pub(crate) traits: Vec<Choice>,
    pub(crate) grades: Vec<Choice>,
    /// Traits with the values that they take.
    pub(crate) values: Vec<(&'static str, String)>,
    pub(crate) names: Vec<String>,
    pub(crate) steward: bool,
}

impl ChangeForm {
    pub(crate) fn new(pairs: Vec<(String, String)>, errors: FieldErrors, catalogue: &Catalogue, steward: bool) -> Self {
        let typed = Typed::new(pairs, errors);
        let values = TraitName::all().iter().map(|&of| (of.label(), accepted_values(of))).filter(|(_, words)| !words.is_empty()).collect();
        Self {
            kind: typed.text("kind").parse().ok(),
            traits: typed.words::<TraitName>("trait", ""),
            grades: typed.words::<Grade>("grade", ""),
            values,
            names: catalogue.cultivars().iter().map(|fig| fig.name.clone()).collect(),
            typed,
            steward,
        }
    }

    /// Whether the kind chosen is one of these words.
    pub(crate) fn is(&self, words: &[&str]) -> bool {
        self.kind.is_some_and(|kind| words.contains(&kind.word()))
    }

    /// What is proposed, in words.
    pub(crate) fn what(&self) -> &'static str {
        self.kind.map_or("", ChangeKind::label)
    }
}

fn page(frame: Frame, member: &Member, catalogue: &Catalogue, pairs: Vec<(String, String)>, errors: FieldErrors) -> NewPage {
    let listed = errors.iter().cloned().collect();
    let steward = member.may_review();
    NewPage {
        kinds: kinds_of(member).into_iter().map(|kind| (kind.word(), kind.label())).collect(),
        form: ChangeForm::new(pairs, errors, catalogue, steward),
        errors: listed,
        steward,
        frame,
    }
}

/// `GET /catalogue/proposals/new`: what is known already stands in the address.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    SignedIn { member, .. }: SignedIn,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Response {
    page(frame, &member, &state.snapshot().catalogue, pairs, FieldErrors::default()).into_response()
}

/// `POST /catalogue/proposals/new`.
pub async fn send(
    frame: Frame,
    State(state): State<AppState>,
    SignedIn { member, .. }: SignedIn,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    match make(&state, &member, &pairs).await {
        Ok(id) => Ok(Redirect::to(&address::proposal_sent(id)).into_response()),
        Err(ProposalError::Fields(errors)) => {
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &member, &state.snapshot().catalogue, pairs, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// Makes a proposal; a steward's stands at once where that was asked for.
async fn make(state: &AppState, member: &Member, pairs: &[(String, String)]) -> Result<ProposalId, ProposalError> {
    let now = state.clock.now();
    let change = form::read(pairs, &state.snapshot().catalogue, today(now).year())?;
    state.limits.writes.take(&member.id.to_string())?;
    let at_once = member.may_review() && pairs.iter().any(|(name, value)| name == "then" && value == "stand");
    if at_once {
        // What it lacks is said before anything is kept.
        let catalogue = state.store.catalogue().await?;
        crate::jobs::proposals::rules::check(&change, &catalogue)?;
        crate::jobs::proposals::rules::as_it_stands(change.clone(), &catalogue, false)?;
    }
    let proposal = propose(&state.store, member, change.clone(), ProposalId(state.ids.fresh(now)), now).await?;
    if at_once {
        let decided =
            Decided { steward: member, from_version: proposal.version, words: String::new(), at: now, log: Some(state.ids.fresh(now)) };
        accept(&state.store, proposal.id, change, &decided).await?;
        if let Err(error) = refresh(state).await {
            tracing::warn!(?error, "the catalogue of the moment is taken up at the next look");
        }
    }
    Ok(proposal.id)
}
