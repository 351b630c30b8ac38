//! Taking the changes of the catalogue in that a data package carries, inside the transaction of the import.
//!
//! A change stands at once where nobody here has changed the same entries and it fits; else it comes in as a proposal, credited as the package
//! has it, for a steward to decide. One that stands here already, and one that was undone where it came from, is history alone.

use std::collections::HashSet;

use super::StoreError;
use super::engine::{Tx, within};
use super::rows::value;
use crate::catalogue::CatalogueRecords;
use crate::catalogue::change::Change;
use crate::records::release::IncomingChange;
use crate::records::{Proposal, ProposalState, ProposalStep};

fn entries(change: &Change) -> impl Iterator<Item = String> {
    change.cultivar().into_iter().chain(change.other()).map(ToString::to_string)
}

impl Tx {
    /// Takes changes in, in the order in which they stand where they come from; those of this database come before them.
    pub(super) async fn import_changes(&mut self, changes: &[IncomingChange]) -> Result<(), StoreError> {
        const STANDING: &str = "SELECT id, content FROM catalogue_change WHERE state = $1 ORDER BY number";
        if changes.is_empty() {
            return Ok(());
        }
        self.hold_key("catalogue", "change").await?;
        let ids: HashSet<String> = changes.iter().map(|incoming| incoming.proposal.id.to_string()).collect();
        let known = self.standing("SELECT id FROM catalogue_change WHERE id", ids.iter().cloned().collect()).await?;
        if known.len() == ids.len() {
            return Ok(());
        }
        let stand: Vec<(String, String)> =
            within!(*self, c => sqlx::query_as(STANDING).bind(ProposalState::Accepted.word()).fetch_all(c).await)?;
        let mut records = self.shipped_records().await?;
        let mut of_here = HashSet::new();
        for (id, content) in &stand {
            let change: Change = value("proposal", serde_json::from_str(content))?;
            if !ids.contains(id) {
                of_here.extend(entries(&change));
            }
            records.replay([((), change)]);
        }
        for incoming in changes.iter().filter(|incoming| !known.contains(&incoming.proposal.id.to_string())) {
            self.import_change(incoming, &of_here, &mut records).await?;
        }
        self.count_catalogue_change().await
    }

    async fn import_change(
        &mut self,
        IncomingChange { proposal, decided }: &IncomingChange,
        of_here: &HashSet<String>,
        records: &mut CatalogueRecords,
    ) -> Result<(), StoreError> {
        let change = &proposal.change;
        let is_free = || !entries(change).any(|entry| of_here.contains(&entry));
        let state = match proposal.state {
            ProposalState::Accepted if is_free() && records.replay([((), change.clone())]).is_empty() => ProposalState::Accepted,
            ProposalState::Accepted => ProposalState::Waiting,
            state => state,
        };
        let version = if state == ProposalState::Waiting { 1 } else { 2 };
        // Its number here is given when it stands.
        self.add_proposal(&Proposal { number: None, version, state, ..proposal.clone() }).await?;
        let first = ProposalStep {
            version: 1,
            credited: proposal.credited.clone(),
            state: ProposalState::Waiting,
            words: String::new(),
            at: proposal.sent,
            ..decided.clone()
        };
        self.add_step(proposal.id, &first).await?;
        self.anchor_entry(change).await?;
        if state == ProposalState::Waiting {
            return Ok(());
        }
        self.add_step(proposal.id, decided).await?;
        if state == ProposalState::Accepted {
            self.let_stand(proposal.id, change).await?;
        }
        Ok(())
    }
}
