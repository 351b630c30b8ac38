//! Making proposals and deciding on them.

use std::sync::Arc;

use jiff::Timestamp;
use uuid::Uuid;

use crate::catalogue::Catalogue;
use crate::catalogue::change::Change;
use crate::input::errors::FieldErrors;
use crate::jobs::proposals::error::ProposalError;
use crate::jobs::proposals::rules::{OF_STEWARDS, as_it_stands, check};
use crate::jobs::proposals::words::sentence;
use crate::records::{Actor, LogEntry, Member, OfficeAct, Proposal, ProposalId, ProposalState, ProposalStep};
use crate::store::{Effect, Ruled, Ruling, Store};

/// How often a decision is judged anew where the catalogue changes meanwhile.
const TRIES: usize = 3;

/// Keeps a proposal of a member.
///
/// # Errors
/// Where the member may not make it, it does not fit the catalogue, or the store does not answer.
pub async fn propose(
    store: &Arc<dyn Store>,
    member: &Member,
    change: Change,
    id: ProposalId,
    now: Timestamp,
) -> Result<Proposal, ProposalError> {
    if OF_STEWARDS.contains(&change.kind()) && !member.may_review() {
        let mut errors = FieldErrors::default();
        errors.add("kind", change.kind().word(), "stewards alone do this; propose a fact or a name, and say in it what you found");
        return Err(errors.into());
    }
    check(&change, &store.catalogue().await?)?;
    let proposal = Proposal {
        id,
        number: None,
        version: 1,
        state: ProposalState::Waiting,
        change,
        author: Some(member.id),
        credited: None,
        sent: now,
    };
    store.propose(&proposal).await?;
    Ok(proposal)
}

/// What a steward looked at and decides.
#[derive(Debug, Clone)]
pub struct Decided<'a> {
    /// Who decides.
    pub steward: &'a Member,
    /// The version looked at.
    pub from_version: i64,
    /// Words for the author; may be empty.
    pub words: String,
    /// When.
    pub at: Timestamp,
    /// Id of its entry in the log of the office; `None` where an author takes their own back.
    pub log: Option<Uuid>,
}

impl Decided<'_> {
    fn ruling(&self, proposal: &Proposal, state: ProposalState, change: Change, effect: Effect, catalogue: &Catalogue) -> Ruling {
        Ruling {
            proposal: proposal.id,
            from_version: self.from_version,
            step: ProposalStep {
                version: self.from_version + 1,
                by: Some(self.steward.id),
                credited: None,
                state,
                words: self.words.clone(),
                change,
                at: self.at,
            },
            effect,
            catalogue: catalogue.version(),
            entry: self.log.map(|id| self.entry(id, proposal, state, catalogue)),
        }
    }

    fn entry(&self, id: Uuid, proposal: &Proposal, state: ProposalState, catalogue: &Catalogue) -> LogEntry {
        LogEntry {
            id,
            at: self.at,
            actor: Actor::Member(self.steward.id),
            act: OfficeAct::Catalogue,
            about: None,
            detail: format!("{}: {}", sentence(&proposal.change, catalogue), state.label()),
        }
    }
}

/// The proposal where it stands as it was looked at.
async fn as_looked_at(store: &Arc<dyn Store>, id: ProposalId, from_version: i64) -> Result<Proposal, ProposalError> {
    let proposal = store.proposal(id).await?.ok_or(ProposalError::Absent)?;
    if proposal.version == from_version { Ok(proposal) } else { Err(ProposalError::Moved(Box::new(proposal))) }
}

async fn moved(store: &Arc<dyn Store>, id: ProposalId) -> ProposalError {
    match store.proposal(id).await {
        Ok(Some(proposal)) => ProposalError::Moved(Box::new(proposal)),
        Ok(None) => ProposalError::Absent,
        Err(error) => error.into(),
    }
}

/// Lets a change stand, as the steward leaves it; gives how many plants went to another entry. One that stands already says something else
/// from then on, where its kind moves no plants.
///
/// # Errors
/// Where it does not fit the catalogue, its state does not take it, or another steward was first.
pub async fn accept(store: &Arc<dyn Store>, id: ProposalId, change: Change, decided: &Decided<'_>) -> Result<u64, ProposalError> {
    for _ in 0..TRIES {
        let proposal = as_looked_at(store, id, decided.from_version).await?;
        let catalogue = store.catalogue().await?;
        let stands = proposal.state == ProposalState::Accepted;
        let effect = match proposal.state {
            ProposalState::Accepted if matches!(change, Change::Fact { .. }) && change.cultivar() == proposal.change.cultivar() => {
                Effect::Reword
            }
            ProposalState::Accepted | ProposalState::Withdrawn => return Err(ProposalError::State(proposal.state)),
            ProposalState::Waiting | ProposalState::Declined | ProposalState::Undone => Effect::Stand,
        };
        check(&change, &catalogue)?;
        let change = as_it_stands(change.clone(), &catalogue, stands)?;
        let ruling = decided.ruling(&proposal, ProposalState::Accepted, change, effect, &catalogue);
        match store.rule(&ruling).await? {
            Ruled::Done { plants } => {
                tracing::info!(proposal = %id, steward = %decided.steward.id, plants, "a change of the catalogue stands");
                return Ok(plants);
            }
            Ruled::Moved => return Err(moved(store, id).await),
            Ruled::OtherCatalogue | Ruled::LaterStands(_) => {}
        }
    }
    Err(ProposalError::Busy)
}

/// Declines a proposal; the author reads the words.
///
/// # Errors
/// Where the words are missing, its state does not take it, or another steward was first.
pub async fn decline(store: &Arc<dyn Store>, id: ProposalId, decided: &Decided<'_>) -> Result<(), ProposalError> {
    let proposal = as_looked_at(store, id, decided.from_version).await?;
    if proposal.state != ProposalState::Waiting {
        return Err(ProposalError::State(proposal.state));
    }
    if decided.words.is_empty() {
        let mut errors = FieldErrors::default();
        errors.add("words", "", "say why: the author reads it");
        return Err(errors.into());
    }
    let ruling = decided.ruling(&proposal, ProposalState::Declined, proposal.change.clone(), Effect::Words, &store.catalogue().await?);
    if matches!(store.rule(&ruling).await?, Ruled::Done { .. }) { Ok(()) } else { Err(moved(store, id).await) }
}

/// Takes a change out of the catalogue again; gives how many plants went back.
///
/// # Errors
/// Where later changes rest on it, it does not stand, or another steward was first.
pub async fn undo(store: &Arc<dyn Store>, id: ProposalId, decided: &Decided<'_>) -> Result<u64, ProposalError> {
    for _ in 0..TRIES {
        let proposal = as_looked_at(store, id, decided.from_version).await?;
        if proposal.state != ProposalState::Accepted {
            return Err(ProposalError::State(proposal.state));
        }
        let catalogue = store.catalogue().await?;
        let standing = store.standing_changes().await?;
        let rests = |later: &&Proposal| {
            let names = |slug| later.change.cultivar() == Some(slug) || later.change.other() == Some(slug);
            later.number > proposal.number && proposal.change.new_entry().is_some_and(|(slug, _)| names(slug))
        };
        let later: Vec<String> = standing.iter().filter(rests).map(|later| sentence(&later.change, &catalogue)).collect();
        if !later.is_empty() {
            return Err(ProposalError::LaterStands(later));
        }
        let ruling = decided.ruling(&proposal, ProposalState::Undone, proposal.change.clone(), Effect::Fall, &catalogue);
        match store.rule(&ruling).await? {
            Ruled::Done { plants } => {
                tracing::info!(proposal = %id, steward = %decided.steward.id, plants, "a change of the catalogue was undone");
                return Ok(plants);
            }
            Ruled::Moved => return Err(moved(store, id).await),
            Ruled::LaterStands(ids) => {
                let of = |id: &ProposalId| standing.iter().find(|p| p.id == *id).map(|p| sentence(&p.change, &catalogue));
                return Err(ProposalError::LaterStands(ids.iter().filter_map(of).collect()));
            }
            Ruled::OtherCatalogue => {}
        }
    }
    Err(ProposalError::Busy)
}

/// Takes a proposal back that nobody has decided on.
///
/// # Errors
/// Where it is not the member's, or was decided on.
pub async fn withdraw(store: &Arc<dyn Store>, id: ProposalId, member: &Member, now: Timestamp) -> Result<(), ProposalError> {
    let proposal = store.proposal(id).await?.filter(|p| p.author == Some(member.id)).ok_or(ProposalError::Absent)?;
    if proposal.state != ProposalState::Waiting {
        return Err(ProposalError::State(proposal.state));
    }
    let decided = Decided { steward: member, from_version: proposal.version, words: String::new(), at: now, log: None };
    let ruling = decided.ruling(&proposal, ProposalState::Withdrawn, proposal.change.clone(), Effect::Words, &store.catalogue().await?);
    if matches!(store.rule(&ruling).await?, Ruled::Done { .. }) { Ok(()) } else { Err(moved(store, id).await) }
}
