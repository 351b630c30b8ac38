//! The history of an entry: what the shipped catalogue says, what editions of it changed, and what people proposed and stewards decided.

use std::collections::HashMap;
use std::sync::Arc;

use jiff::Timestamp;

use crate::catalogue::change::Change;
use crate::catalogue::seed::FactRecord;
use crate::catalogue::{Catalogue, CatalogueError, CatalogueRecords};
use crate::jobs::open_data::publication::credited_to;
use crate::records::{MemberId, Proposal, ProposalId, ProposalState, SeedDifference};
use crate::store::{Store, StoreError};

/// One step of a change.
#[derive(Debug, Clone)]
pub struct Step {
    /// When.
    pub at: Timestamp,
    /// Whom it is credited to.
    pub by: String,
    /// State from then on.
    pub state: ProposalState,
    /// Words for the author.
    pub words: String,
    /// What it said from then on.
    pub change: Change,
    /// Whether that differs from the step before.
    pub reworded: bool,
}

/// One change of an entry.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Id.
    pub id: ProposalId,
    /// Its place in the order of acceptance, where it stands.
    pub number: Option<i64>,
    /// State now.
    pub state: ProposalState,
    /// What it says now.
    pub change: Change,
    /// Its steps, the first as it was made.
    pub steps: Vec<Step>,
}

/// Everything about an entry.
#[derive(Debug, Clone)]
pub struct History {
    /// Facts of the shipped catalogue.
    pub shipped: Vec<FactRecord>,
    /// Whether the shipped catalogue has the entry.
    pub is_shipped: bool,
    /// What editions of it changed.
    pub differences: Vec<SeedDifference>,
    /// Changes by people that stand or stood, in the order of their acceptance.
    pub entries: Vec<Entry>,
}

/// Why there is no history.
#[derive(Debug, thiserror::Error)]
pub enum NoHistory {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The shipped catalogue does not read.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
}

/// Whether everybody may read of a proposal: it stands, or stood.
pub const fn is_public(state: ProposalState) -> bool {
    matches!(state, ProposalState::Accepted | ProposalState::Undone)
}

/// Names of members, as they are credited.
#[derive(Debug, Default)]
pub struct Credits(HashMap<MemberId, String>);

impl Credits {
    /// Whom a step or proposal is credited to.
    pub async fn name(
        &mut self,
        store: &Arc<dyn Store>,
        member: Option<MemberId>,
        credited: Option<&String>,
    ) -> Result<String, StoreError> {
        let Some(id) = member else { return Ok(credited.cloned().unwrap_or_else(|| "a former member".to_owned())) };
        if let Some(known) = self.0.get(&id) {
            return Ok(known.clone());
        }
        let name = store.member(id).await?.map_or_else(|| "a former member".to_owned(), |member| credited_to(&member).recorded_by);
        self.0.insert(id, name.clone());
        Ok(name)
    }
}

/// A proposal with its steps.
pub async fn entry(store: &Arc<dyn Store>, proposal: Proposal, credits: &mut Credits) -> Result<Entry, StoreError> {
    let mut steps: Vec<Step> = Vec::new();
    for kept in store.proposal_steps(proposal.id).await? {
        steps.push(Step {
            at: kept.at,
            by: credits.name(store, kept.by, kept.credited.as_ref()).await?,
            state: kept.state,
            words: kept.words,
            reworded: steps.last().is_some_and(|before| before.change != kept.change),
            change: kept.change,
        });
    }
    Ok(Entry { id: proposal.id, number: proposal.number, state: proposal.state, change: proposal.change, steps })
}

/// The history of an entry, by its slug.
pub async fn history(store: &Arc<dyn Store>, slug: &str, catalogue: &Catalogue) -> Result<History, NoHistory> {
    let shipped = if catalogue.has_invented() { CatalogueRecords::with_invented()? } else { CatalogueRecords::embedded()? };
    let mut credits = Credits::default();
    let mut entries = Vec::new();
    for proposal in store.proposals_about(slug).await?.into_iter().filter(|proposal| is_public(proposal.state)) {
        entries.push(entry(store, proposal, &mut credits).await?);
    }
    Ok(History {
        is_shipped: shipped.cultivars.iter().any(|record| record.slug == slug),
        shipped: shipped.facts.into_iter().filter(|fact| fact.cultivar == slug).collect(),
        differences: store.seed_differences_of(slug).await?,
        entries,
    })
}
