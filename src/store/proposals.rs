//! Tables of proposals for the catalogue, what was decided on each, and the plants that went to another entry with an accepted one.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{id, json, moment, readable, value, word};
use crate::catalogue::change::Change;
use crate::records::{LogEntry, MemberId, Proposal, ProposalId, ProposalState, ProposalStep, SeedDifference, WrittenName};

/// What a decision does besides being kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// Nothing in the catalogue changes.
    Words,
    /// The change stands from now on, and its plants go where it sends them.
    Stand,
    /// The change of a kind that moves nothing says something else from now on.
    Reword,
    /// The change stands no longer, and its plants go back.
    Fall,
}

/// A decision on a proposal.
#[derive(Debug, Clone)]
pub struct Ruling {
    /// The proposal.
    pub proposal: ProposalId,
    /// The version that was looked at.
    pub from_version: i64,
    /// What is decided; its version is the next one.
    pub step: ProposalStep,
    /// What it does.
    pub effect: Effect,
    /// The catalogue that it was judged by.
    pub catalogue: i64,
    /// Its entry in the log of the office, where it has one.
    pub entry: Option<LogEntry>,
}

/// What became of a decision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ruled {
    /// Kept; so many plants went to another entry.
    Done {
        /// Plants that went.
        plants: u64,
    },
    /// Somebody decided or changed it meanwhile: nothing was kept.
    Moved,
    /// The catalogue changed meanwhile: nothing was kept, and it has to be judged anew.
    OtherCatalogue,
    /// Plants that came with it went on with changes that still stand: those have to be undone first.
    LaterStands(Vec<ProposalId>),
}

/// Questions about proposals.
#[async_trait]
pub trait ProposalStore {
    /// Keeps a proposal.
    async fn propose(&self, proposal: &Proposal) -> Result<(), StoreError>;
    /// A proposal by id.
    async fn proposal(&self, id: ProposalId) -> Result<Option<Proposal>, StoreError>;
    /// Proposals in a state, oldest first, at most `most`.
    async fn proposals(&self, state: ProposalState, most: i64) -> Result<Vec<Proposal>, StoreError>;
    /// How many wait for a steward.
    async fn proposals_waiting(&self) -> Result<i64, StoreError>;
    /// Proposals of a member, newest first.
    async fn proposals_of(&self, member: MemberId) -> Result<Vec<Proposal>, StoreError>;
    /// Every proposal about an entry, oldest first.
    async fn proposals_about(&self, slug: &str) -> Result<Vec<Proposal>, StoreError>;
    /// Changes that stand, in the order of their acceptance.
    async fn standing_changes(&self) -> Result<Vec<Proposal>, StoreError>;
    /// Every step of a proposal, the first as it was made.
    async fn proposal_steps(&self, id: ProposalId) -> Result<Vec<ProposalStep>, StoreError>;
    /// Keeps a decision with all that follows from it, or nothing.
    async fn rule(&self, ruling: &Ruling) -> Result<Ruled, StoreError>;
    /// Number of the changes made to the catalogue; equal numbers mean equal catalogues.
    async fn catalogue_version(&self) -> Result<i64, StoreError>;
    /// Names of plants that no entry has, by how often they are written, at most `most`.
    async fn written_names(&self, most: i64) -> Result<Vec<WrittenName>, StoreError>;
    /// Differences of the shipped catalogue that nobody has looked at, at most `most`.
    async fn seed_differences(&self, most: i64) -> Result<Vec<SeedDifference>, StoreError>;
    /// Differences of an entry, all of them.
    async fn seed_differences_of(&self, slug: &str) -> Result<Vec<SeedDifference>, StoreError>;
    /// Notes that differences up to a number were looked at.
    async fn look_at_seed_differences(&self, up_to: i64) -> Result<(), StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct ProposalRow {
    id: String,
    number: Option<i64>,
    version: i64,
    state: String,
    content: String,
    author: Option<String>,
    credited: Option<String>,
    sent_ms: i64,
}

impl ProposalRow {
    fn proposal(self) -> Result<Proposal, StoreError> {
        Ok(Proposal {
            id: ProposalId(id("proposal", &self.id)?),
            number: self.number,
            version: self.version,
            state: word(&self.state)?,
            change: value("proposal", serde_json::from_str(&self.content))?,
            author: self.author.map(|author| id("proposal", &author).map(MemberId)).transpose()?,
            credited: self.credited,
            sent: moment("proposal", self.sent_ms)?,
        })
    }
}

type StepRow = (i64, Option<String>, Option<String>, String, String, String, i64);

fn step((version, by, credited, state, words, content, at): StepRow) -> Result<ProposalStep, StoreError> {
    Ok(ProposalStep {
        version,
        by: by.map(|by| id("proposal", &by).map(MemberId)).transpose()?,
        credited,
        state: word(&state)?,
        words,
        change: value("proposal", serde_json::from_str(&content))?,
        at: moment("proposal", at)?,
    })
}

macro_rules! proposals_where {
    ($condition:literal) => {
        concat!("SELECT id, number, version, state, content, author, credited, sent_ms FROM catalogue_change WHERE ", $condition)
    };
}

const ONE: &str = proposals_where!("id = $1");
const IN_STATE: &str = proposals_where!("state = $1 ORDER BY sent_ms, id LIMIT $2");
const OF_MEMBER: &str = proposals_where!("author = $1 ORDER BY sent_ms DESC, id DESC");
const ABOUT: &str = proposals_where!("(cultivar = $1 OR other = $1) ORDER BY COALESCE(number, 0), sent_ms, id");
const STANDING: &str = proposals_where!("state = $1 ORDER BY number");

fn proposals(rows: Vec<ProposalRow>) -> Vec<Proposal> {
    readable(rows.into_iter().map(ProposalRow::proposal))
}

/// Name of the counter of changes to the catalogue.
pub(super) const CATALOGUE: &str = "catalogue";

impl super::engine::Tx {
    pub(super) async fn add_proposal(&mut self, p: &Proposal) -> Result<(), StoreError> {
        const TEXT: &str =
            "INSERT INTO catalogue_change (id, number, version, state, kind, cultivar, other, content, author, credited, sent_ms)
            VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(p.id.to_string()).bind(p.number).bind(p.version).bind(p.state.word()).bind(p.change.kind().word())
            .bind(p.change.cultivar().map(ToString::to_string)).bind(p.change.other().map(ToString::to_string))
            .bind(json("proposal", &p.change)?).bind(p.author.map(|a| a.to_string())).bind(&p.credited).bind(p.sent.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    pub(super) async fn add_step(&mut self, proposal: ProposalId, step: &ProposalStep) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO catalogue_step (change, version, member, credited, state, words, content, at_ms)
            VALUES ($1, $2, $3, $4, $5, $6, $7, $8)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(proposal.to_string()).bind(step.version).bind(step.by.map(|by| by.to_string())).bind(&step.credited)
            .bind(step.state.word()).bind(&step.words).bind(json("proposal", &step.change)?).bind(step.at.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// The number of the changes made to the catalogue.
    pub(super) async fn catalogue_count(&mut self) -> Result<i64, StoreError> {
        const TEXT: &str = "SELECT value FROM counter WHERE name = $1";
        Ok(within!(*self, c => sqlx::query_scalar(TEXT).bind(CATALOGUE).fetch_optional(c).await)?.unwrap_or(0))
    }

    /// Counts a change of the catalogue, and one of what is public: the release holds both.
    pub(super) async fn count_catalogue_change(&mut self) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO counter (name, value) VALUES ($1, 1) ON CONFLICT (name) DO UPDATE SET value = counter.value + 1";
        within!(*self, c => sqlx::query(TEXT).bind(CATALOGUE).execute(c).await.map(|_| ()))?;
        let change = self.count_change().await?;
        within!(*self, c => sqlx::query("UPDATE report SET change_no = $1 WHERE change_no = -1").bind(change).execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// Gives an entry that people made a row that plants can name; the catalogue itself is made from the changes.
    pub(super) async fn anchor_entry(&mut self, change: &Change) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO cultivar (slug, place, listed, name, sources, note) VALUES ($1, 0, FALSE, $2, '', '')
            ON CONFLICT (slug) DO NOTHING";
        if let Some((slug, name)) = change.new_entry() {
            within!(*self, c => sqlx::query(TEXT).bind(slug.as_str()).bind(name).execute(c).await.map(|_| ()))?;
        }
        Ok(())
    }

    pub(super) async fn next_number(&mut self) -> Result<i64, StoreError> {
        const TEXT: &str = "SELECT COALESCE(MAX(number), 0) + 1 FROM catalogue_change";
        Ok(within!(*self, c => sqlx::query_scalar(TEXT).fetch_one(c).await)?)
    }
}

#[async_trait]
impl ProposalStore for Database {
    async fn propose(&self, p: &Proposal) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.add_proposal(p).await?;
        let first = ProposalStep {
            version: 1,
            by: p.author,
            credited: p.credited.clone(),
            state: p.state,
            words: String::new(),
            change: p.change.clone(),
            at: p.sent,
        };
        tx.add_step(p.id, &first).await?;
        tx.commit().await
    }

    async fn proposal(&self, proposal: ProposalId) -> Result<Option<Proposal>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, ProposalRow>(ONE).bind(proposal.to_string()).fetch_optional(p).await)?;
        row.map(ProposalRow::proposal).transpose()
    }

    async fn proposals(&self, state: ProposalState, most: i64) -> Result<Vec<Proposal>, StoreError> {
        Ok(proposals(read!(self, p => sqlx::query_as(IN_STATE).bind(state.word()).bind(most).fetch_all(p).await)?))
    }

    async fn proposals_waiting(&self) -> Result<i64, StoreError> {
        const TEXT: &str = "SELECT COUNT(*) FROM catalogue_change WHERE state = $1";
        Ok(read!(self, p => sqlx::query_scalar(TEXT).bind(ProposalState::Waiting.word()).fetch_one(p).await)?)
    }

    async fn proposals_of(&self, member: MemberId) -> Result<Vec<Proposal>, StoreError> {
        Ok(proposals(read!(self, p => sqlx::query_as(OF_MEMBER).bind(member.to_string()).fetch_all(p).await)?))
    }

    async fn proposals_about(&self, slug: &str) -> Result<Vec<Proposal>, StoreError> {
        Ok(proposals(read!(self, p => sqlx::query_as(ABOUT).bind(slug).fetch_all(p).await)?))
    }

    async fn standing_changes(&self) -> Result<Vec<Proposal>, StoreError> {
        Ok(proposals(read!(self, p => sqlx::query_as(STANDING).bind(ProposalState::Accepted.word()).fetch_all(p).await)?))
    }

    async fn proposal_steps(&self, proposal: ProposalId) -> Result<Vec<ProposalStep>, StoreError> {
        const TEXT: &str =
            "SELECT version, member, credited, state, words, content, at_ms FROM catalogue_step WHERE change = $1 ORDER BY version";
        let rows: Vec<StepRow> = read!(self, p => sqlx::query_as(TEXT).bind(proposal.to_string()).fetch_all(p).await)?;
        rows.into_iter().map(step).collect()
    }

    async fn rule(&self, r: &Ruling) -> Result<Ruled, StoreError> {
        const KEEP: &str = "UPDATE catalogue_change SET version = $1, state = $2, kind = $3, cultivar = $4, other = $5, content = $6
            WHERE id = $7 AND version = $8";
        let mut tx = self.begin().await?;
        // One decision at a time, so that what it was judged by still stands.
        tx.hold_key("catalogue", "change").await?;
        if r.effect != Effect::Words && tx.catalogue_count().await? != r.catalogue {
            return Ok(Ruled::OtherCatalogue);
        }
        let change = &r.step.change;
        let touched = within!(tx, c => sqlx::query(KEEP)
            .bind(r.step.version).bind(r.step.state.word()).bind(change.kind().word())
            .bind(change.cultivar().map(ToString::to_string)).bind(change.other().map(ToString::to_string))
            .bind(json("proposal", change)?).bind(r.proposal.to_string()).bind(r.from_version)
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(Ruled::Moved);
        }
        tx.add_step(r.proposal, &r.step).await?;
        let plants = match r.effect {
            Effect::Words | Effect::Reword => 0,
            Effect::Stand => tx.let_stand(r.proposal, change).await?,
            Effect::Fall => match tx.let_fall(r.proposal, change).await? {
                Ok(plants) => plants,
                Err(later) => return Ok(Ruled::LaterStands(later)),
            },
        };
        if r.effect != Effect::Words {
            tx.count_catalogue_change().await?;
        }
        if let Some(entry) = &r.entry {
            tx.log(entry).await?;
        }
        tx.commit().await?;
        Ok(Ruled::Done { plants })
    }

    async fn catalogue_version(&self) -> Result<i64, StoreError> {
        const TEXT: &str = "SELECT value FROM counter WHERE name = $1";
        Ok(read!(self, p => sqlx::query_scalar(TEXT).bind(CATALOGUE).fetch_optional(p).await)?.unwrap_or(0))
    }

    async fn written_names(&self, most: i64) -> Result<Vec<WrittenName>, StoreError> {
        const TEXT: &str = "SELECT p.name_written, COUNT(DISTINCT p.id), COUNT(r.id) FROM plant p
            LEFT JOIN report r ON r.plant = p.id AND r.state <> $1
            WHERE p.cultivar IS NULL GROUP BY p.name_written ORDER BY COUNT(r.id) DESC, COUNT(DISTINCT p.id) DESC, p.name_written LIMIT $2";
        let withdrawn = crate::records::ReviewState::Withdrawn.word();
        let rows: Vec<(String, i64, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(withdrawn).bind(most).fetch_all(p).await)?;
        Ok(rows.into_iter().map(|(written, plants, reports)| WrittenName { written, plants, reports }).collect())
    }

    async fn seed_differences(&self, most: i64) -> Result<Vec<SeedDifference>, StoreError> {
        const TEXT: &str = "SELECT number, edition, cultivar, trait, was, stands, looked_at FROM seed_difference
            WHERE NOT looked_at ORDER BY number LIMIT $1";
        let rows: Vec<DifferenceRow> = read!(self, p => sqlx::query_as(TEXT).bind(most).fetch_all(p).await)?;
        Ok(rows.into_iter().map(difference).collect())
    }

    async fn seed_differences_of(&self, slug: &str) -> Result<Vec<SeedDifference>, StoreError> {
        const TEXT: &str = "SELECT number, edition, cultivar, trait, was, stands, looked_at FROM seed_difference
            WHERE cultivar = $1 ORDER BY number";
        let rows: Vec<DifferenceRow> = read!(self, p => sqlx::query_as(TEXT).bind(slug).fetch_all(p).await)?;
        Ok(rows.into_iter().map(difference).collect())
    }

    async fn look_at_seed_differences(&self, up_to: i64) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE seed_difference SET looked_at = TRUE WHERE number <= $1")
            .bind(up_to).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }
}

type DifferenceRow = (i64, String, String, String, String, String, bool);

fn difference((number, edition, cultivar, trait_name, before, after, looked_at): DifferenceRow) -> SeedDifference {
    SeedDifference { number, edition, cultivar, trait_name, before, after, looked_at }
}
