//! Plants that go to another entry of the catalogue with an accepted change, and back when it is undone.

use super::StoreError;
use super::engine::{Tx, within};
use super::rows::id;
use crate::catalogue::change::{Change, Moves};
use crate::catalogue::names::fold;
use crate::records::{ProposalId, ProposalState};

/// Statements for plants of an entry ($2), and for those whose name is in none ($2 is empty then). `$1`: the change, `$3`: where they go.
struct Texts {
    written: &'static str,
    keep_all: &'static str,
    go_all: &'static str,
    keep_named: &'static str,
    go_named: &'static str,
}

macro_rules! texts {
    ($from:literal) => {
        Texts {
            written: concat!("SELECT DISTINCT name_written FROM plant WHERE ", $from),
            keep_all: concat!(
                "INSERT INTO catalogue_move (change, plant, was, stands) SELECT $2, id, cultivar, $3 FROM plant WHERE ",
                $from
            ),
            go_all: concat!("UPDATE plant SET cultivar = $2 WHERE ", $from),
            keep_named: concat!(
                "INSERT INTO catalogue_move (change, plant, was, stands) SELECT $2, id, cultivar, $3 FROM plant WHERE ",
                $from,
                " AND name_written = $4"
            ),
            go_named: concat!("UPDATE plant SET cultivar = $2 WHERE ", $from, " AND name_written = $3"),
        }
    };
}

const OF_ENTRY: Texts = texts!("cultivar = $1");
const OF_NONE: Texts = texts!("cultivar IS NULL AND CAST($1 AS TEXT) = ''");

impl Tx {
    /// Gives an accepted change its number and sends its plants where they belong; gives how many went.
    pub(super) async fn let_stand(&mut self, proposal: ProposalId, change: &Change) -> Result<u64, StoreError> {
        let number = self.next_number().await?;
        within!(*self, c => sqlx::query("UPDATE catalogue_change SET number = $1 WHERE id = $2")
            .bind(number).bind(proposal.to_string()).execute(c).await.map(|_| ()))?;
        self.anchor_entry(change).await?;
        match change.moves() {
            Some(moves) => self.send_plants(proposal, &moves).await,
            None => Ok(0),
        }
    }

    async fn send_plants(&mut self, proposal: ProposalId, moves: &Moves) -> Result<u64, StoreError> {
        let texts = if moves.from.is_some() { OF_ENTRY } else { OF_NONE };
        let from = moves.from.as_ref().map_or("", |slug| slug.as_str());
        let Some(names) = &moves.names else {
            within!(*self, c => sqlx::query(texts.keep_all)
                .bind(from).bind(proposal.to_string()).bind(moves.to.as_str()).execute(c).await.map(|_| ()))?;
            return Ok(within!(*self, c => sqlx::query(texts.go_all)
                .bind(from).bind(moves.to.as_str()).execute(c).await.map(|done| done.rows_affected()))?);
        };
        let written: Vec<String> = within!(*self, c => sqlx::query_scalar(texts.written).bind(from).fetch_all(c).await)?;
        let mut gone = 0;
        for name in written.iter().filter(|name| names.contains(&fold(name))) {
            within!(*self, c => sqlx::query(texts.keep_named)
                .bind(from).bind(proposal.to_string()).bind(moves.to.as_str()).bind(name).execute(c).await.map(|_| ()))?;
            gone += within!(*self, c => sqlx::query(texts.go_named)
                .bind(from).bind(moves.to.as_str()).bind(name).execute(c).await.map(|done| done.rows_affected()))?;
        }
        Ok(gone)
    }

    /// Sends the plants of a change that stands no longer back, those too that came to an entry of its own since. Where some of them went on with
    /// later changes that stand, nothing is done and those are named.
    pub(super) async fn let_fall(&mut self, proposal: ProposalId, change: &Change) -> Result<Result<u64, Vec<ProposalId>>, StoreError> {
        const LATER: &str = "SELECT DISTINCT later.change FROM catalogue_move m
            JOIN catalogue_move later ON later.plant = m.plant AND later.change <> m.change
            JOIN catalogue_change c ON c.id = later.change
            WHERE m.change = $1 AND c.state = $2 AND c.number > (SELECT number FROM catalogue_change WHERE id = $1)";
        const BACK: &str = "UPDATE plant SET cultivar = (SELECT m.was FROM catalogue_move m WHERE m.change = $1 AND m.plant = plant.id)
            WHERE EXISTS (SELECT 1 FROM catalogue_move m WHERE m.change = $1 AND m.plant = plant.id AND m.stands = plant.cultivar)";
        const REST: &str = "UPDATE plant SET cultivar = $1 WHERE cultivar = $2";
        let own = proposal.to_string();
        let later: Vec<String> = within!(*self, c => sqlx::query_scalar(LATER)
            .bind(&own).bind(ProposalState::Accepted.word()).fetch_all(c).await)?;
        if !later.is_empty() {
            let ids = later.iter().map(|later| id("proposal", later).map(ProposalId)).collect::<Result<_, _>>()?;
            return Ok(Err(ids));
        }
        let mut back = within!(*self, c => sqlx::query(BACK).bind(&own).execute(c).await.map(|done| done.rows_affected()))?;
        if let Some((slug, _)) = change.new_entry() {
            let from = match change {
                Change::Split { cultivar, .. } => Some(cultivar.as_str()),
                _ => None,
            };
            back +=
                within!(*self, c => sqlx::query(REST).bind(from).bind(slug.as_str()).execute(c).await.map(|done| done.rows_affected()))?;
        }
        within!(*self, c => sqlx::query("DELETE FROM catalogue_move WHERE change = $1").bind(&own).execute(c).await.map(|_| ()))?;
        within!(*self, c => sqlx::query("UPDATE catalogue_change SET number = NULL WHERE id = $1").bind(&own).execute(c).await.map(|_| ()))?;
        Ok(Ok(back))
    }

    /// Sends a plant to the entry that its own was merged into, where another process took it in before it knew of that.
    pub(super) async fn follow_merge(&mut self, plant: &str) -> Result<(), StoreError> {
        const TEXT: &str = "UPDATE plant SET cultivar = (SELECT m.other FROM catalogue_change m
                WHERE m.cultivar = plant.cultivar AND m.kind = 'merge' AND m.state = $2)
            WHERE id = $1 AND EXISTS (SELECT 1 FROM catalogue_change m
                WHERE m.cultivar = plant.cultivar AND m.kind = 'merge' AND m.state = $2)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(plant).bind(ProposalState::Accepted.word()).execute(c).await.map(|_| ()))?;
        Ok(())
    }
}
