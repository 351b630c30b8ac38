//! What is published of the changes that people made to the catalogue.

use std::sync::Arc;

use crate::records::release::ChangeRow;
use crate::records::{MemberId, Proposal, ProposalState, ProposalStep};
use crate::store::{Store, StoreError};

/// Most changes that were undone and are listed.
const UNDONE: i64 = 100_000;

/// Every change that stands, in the order of acceptance, then those that stood once, by id, each with the last decision on it.
pub async fn changes(store: &Arc<dyn Store>) -> Result<Vec<(Proposal, ProposalStep)>, StoreError> {
    let mut undone = store.proposals(ProposalState::Undone, UNDONE).await?;
    undone.sort_by_key(|proposal| proposal.id);
    let mut all = Vec::new();
    for proposal in store.standing_changes().await?.into_iter().chain(undone) {
        if let Some(decided) = store.proposal_steps(proposal.id).await?.pop() {
            all.push((proposal, decided));
        }
    }
    Ok(all)
}

/// The rows of these changes; `credited` gives how a member wishes to be named.
///
/// # Errors
/// A change that cannot be written as JSON: a defect.
pub fn rows(
    changes: &[(Proposal, ProposalStep)],
    credited: impl Fn(MemberId) -> Option<String>,
) -> Result<Vec<ChangeRow>, serde_json::Error> {
    let name = |member: Option<MemberId>, of_package: &Option<String>| {
        member.and_then(&credited).or_else(|| of_package.clone()).unwrap_or_else(|| "a former member".to_owned())
    };
    let mut standing = 0..;
    let row = |(proposal, decided): &(Proposal, ProposalStep)| {
        let number = proposal.number.and_then(|_| standing.next()).map(|before: i64| before + 1);
        ChangeRow::new(proposal, decided, number, &name(proposal.author, &proposal.credited), &name(decided.by, &decided.credited))
    };
    changes.iter().map(row).collect()
}
