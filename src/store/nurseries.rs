//! Tables of nurseries: who belongs to which, and what came back of the plants they sold. All members of a nursery may do the same; who has
//! been in it longest may take others out. With its last member it goes, and its stock with it.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::members::MemberRow;
use super::rows::{id, moment, readable, value};
use crate::catalogue::Slug;
use crate::records::{Member, MemberId, Nursery, NurseryCode, NurseryId, ReviewState, WinterRecord};

/// What became of joining a nursery.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NurseryJoined {
    /// Joined.
    Yes,
    /// No nursery has this invitation, or it has ended.
    NoInvitation,
    /// The member belongs to one already.
    HasOne,
    /// It has as many members as one may.
    Full,
}

/// A report that counts of a plant that a nursery sold. Who sent it is told by a number within this answer alone.
#[derive(Debug, Clone, PartialEq)]
pub struct ReturnedReport {
    /// The fig; `None` where the catalogue does not know the name.
    pub cultivar: Option<Slug>,
    /// What the winter did.
    pub record: WinterRecord,
    /// Tells reporters apart; `None` for those who have left.
    pub reporter: Option<MemberId>,
}

/// Questions about nurseries.
#[async_trait]
pub trait NurseryStore {
    /// Starts a nursery with its first member; `false` where they belong to one already.
    async fn start_nursery(&self, nursery: &Nursery, member: MemberId) -> Result<bool, StoreError>;
    /// The nursery that a member belongs to.
    async fn nursery_of(&self, member: MemberId) -> Result<Option<Nursery>, StoreError>;
    /// The nursery of a public code.
    async fn nursery_by_code(&self, code: &NurseryCode) -> Result<Option<Nursery>, StoreError>;
    /// Its members with the moment each joined, longest first.
    async fn nursery_members(&self, nursery: NurseryId) -> Result<Vec<(Member, Timestamp)>, StoreError>;
    /// Keeps its name, place and sizes of labels.
    async fn set_nursery(&self, nursery: &Nursery) -> Result<(), StoreError>;
    /// Puts an invitation in the place of the one before; `None` ends it.
    async fn set_nursery_invitation(&self, nursery: NurseryId, invitation: Option<(&str, Timestamp)>) -> Result<(), StoreError>;
    /// Takes a member in by an invitation.
    async fn join_nursery(&self, member: MemberId, invitation_hash: &str, now: Timestamp) -> Result<NurseryJoined, StoreError>;
    /// Takes a member out; where it was the last, the nursery goes with its stock. `false` where they do not belong to it.
    async fn leave_nursery(&self, nursery: NurseryId, member: MemberId) -> Result<bool, StoreError>;
    /// Reports that count of plants that came from a nursery, at most `most`.
    async fn returned_reports(&self, nursery: NurseryId, most: i64) -> Result<Vec<ReturnedReport>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct NurseryRow {
    id: String,
    code: String,
    name: String,
    place: String,
    label: String,
    invitation_ends_ms: Option<i64>,
    made_ms: i64,
}

impl NurseryRow {
    fn nursery(self) -> Result<Nursery, StoreError> {
        Ok(Nursery {
            id: NurseryId(id("nursery", &self.id)?),
            code: NurseryCode::stored(self.code),
            name: self.name,
            place: self.place,
            label: self.label,
            invitation_ends: self.invitation_ends_ms.map(|ends| moment("nursery", ends)).transpose()?,
            made: moment("nursery", self.made_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct MembershipRow {
    #[sqlx(flatten)]
    member: MemberRow,
    in_ms: i64,
}

const OF_MEMBER: &str = "SELECT n.id, n.code, n.name, n.place, n.label, n.invitation_ends_ms, n.made_ms
    FROM nursery n JOIN nursery_member m ON m.nursery = n.id WHERE m.member = $1";
const OF_CODE: &str = "SELECT id, code, name, place, label, invitation_ends_ms, made_ms FROM nursery WHERE code = $1";
const MEMBERS: &str = "SELECT m.id, m.handle, m.email, m.role, m.credit, m.joined_ms, m.suspended_ms, n.joined_ms AS in_ms
    FROM nursery_member n JOIN member m ON m.id = n.member WHERE n.nursery = $1 ORDER BY n.joined_ms, n.member";
const BELONG: &str = "INSERT INTO nursery_member (member, nursery, joined_ms) VALUES ($1, $2, $3) ON CONFLICT (member) DO NOTHING";
/// Locks the row, so that the last two who leave at once do not each take the other for staying.
const HOLD: &str = "UPDATE nursery SET made_ms = made_ms WHERE id = $1";
/// Takes a nursery out that has nobody left.
const CLOSE: &str = "DELETE FROM nursery WHERE id = $1 AND NOT EXISTS (SELECT 1 FROM nursery_member WHERE nursery = $1)";

impl Tx {
    async fn belong(&mut self, member: MemberId, nursery: NurseryId, at: Timestamp) -> Result<bool, StoreError> {
        let touched = within!(*self, c => sqlx::query(BELONG)
            .bind(member.to_string()).bind(nursery.to_string()).bind(at.as_millisecond())
            .execute(c).await.map(|done| done.rows_affected()))?;
        Ok(touched == 1)
    }

    /// Notes that a plant came from a nursery, where it still stands; of a plant that has one already nothing changes.
    pub(super) async fn plant_came_from(&mut self, plant: &str, nursery: NurseryId) -> Result<(), StoreError> {
        const TEXT: &str = "UPDATE plant SET nursery = (SELECT id FROM nursery WHERE id = $1) WHERE id = $2 AND nursery IS NULL";
        Ok(within!(*self, c => sqlx::query(TEXT).bind(nursery.to_string()).bind(plant).execute(c).await.map(|_| ()))?)
    }
}

#[async_trait]
impl NurseryStore for Database {
    async fn start_nursery(&self, n: &Nursery, member: MemberId) -> Result<bool, StoreError> {
        const ADD: &str = "INSERT INTO nursery (id, code, name, place, label, made_ms) VALUES ($1, $2, $3, $4, $5, $6)";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(ADD)
            .bind(n.id.to_string()).bind(n.code.as_str()).bind(&n.name).bind(&n.place).bind(&n.label).bind(n.made.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        if !tx.belong(member, n.id, n.made).await? {
            return Ok(false);
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn nursery_of(&self, member: MemberId) -> Result<Option<Nursery>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, NurseryRow>(OF_MEMBER).bind(member.to_string()).fetch_optional(p).await)?;
        row.map(NurseryRow::nursery).transpose()
    }

    async fn nursery_by_code(&self, code: &NurseryCode) -> Result<Option<Nursery>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, NurseryRow>(OF_CODE).bind(code.as_str()).fetch_optional(p).await)?;
        row.map(NurseryRow::nursery).transpose()
    }

    async fn nursery_members(&self, nursery: NurseryId) -> Result<Vec<(Member, Timestamp)>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, MembershipRow>(MEMBERS).bind(nursery.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|row| Ok((row.member.member()?, moment("nursery", row.in_ms)?)))))
    }

    async fn set_nursery(&self, n: &Nursery) -> Result<(), StoreError> {
        const TEXT: &str = "UPDATE nursery SET name = $1, place = $2, label = $3 WHERE id = $4";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT)
            .bind(&n.name).bind(&n.place).bind(&n.label).bind(n.id.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn set_nursery_invitation(&self, nursery: NurseryId, invitation: Option<(&str, Timestamp)>) -> Result<(), StoreError> {
        const TEXT: &str = "UPDATE nursery SET invitation_hash = $1, invitation_ends_ms = $2 WHERE id = $3";
        let (hash, ends) = invitation.map_or((None, None), |(hash, ends)| (Some(hash.to_owned()), Some(ends.as_millisecond())));
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT).bind(&hash).bind(ends).bind(nursery.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn join_nursery(&self, member: MemberId, invitation_hash: &str, now: Timestamp) -> Result<NurseryJoined, StoreError> {
        const FIND: &str = "SELECT id FROM nursery WHERE invitation_hash = $1 AND invitation_ends_ms > $2";
        const MEMBERS_AND_LAST: &str = "SELECT COUNT(*), MAX(joined_ms) FROM nursery_member WHERE nursery = $1";
        let mut tx = self.begin().await?;
        let found: Option<String> = within!(tx, c => sqlx::query_scalar(FIND)
            .bind(invitation_hash).bind(now.as_millisecond()).fetch_optional(c).await)?;
        let Some(nursery) = found else { return Ok(NurseryJoined::NoInvitation) };
        let held = within!(tx, c => sqlx::query(HOLD).bind(&nursery).execute(c).await.map(|done| done.rows_affected()))?;
        if held == 0 {
            return Ok(NurseryJoined::NoInvitation);
        }
        let (members, last): (i64, Option<i64>) = within!(tx, c => sqlx::query_as(MEMBERS_AND_LAST).bind(&nursery).fetch_one(c).await)?;
        if members >= Nursery::MOST_MEMBERS {
            return Ok(NurseryJoined::Full);
        }
        // No two within one millisecond, so that it is known who has been there longer.
        let after_all = last.map_or(now, |ms| now.max(Timestamp::from_millisecond(ms + 1).unwrap_or(now)));
        if !tx.belong(member, NurseryId(id("nursery", &nursery)?), after_all).await? {
            return Ok(NurseryJoined::HasOne);
        }
        tx.commit().await?;
        Ok(NurseryJoined::Yes)
    }

    async fn leave_nursery(&self, nursery: NurseryId, member: MemberId) -> Result<bool, StoreError> {
        const LEAVE: &str = "DELETE FROM nursery_member WHERE nursery = $1 AND member = $2";
        let nursery = nursery.to_string();
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(HOLD).bind(&nursery).execute(c).await.map(|_| ()))?;
        let touched = within!(tx, c => sqlx::query(LEAVE)
            .bind(&nursery).bind(member.to_string()).execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        within!(tx, c => sqlx::query(CLOSE).bind(&nursery).execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(true)
    }

    async fn returned_reports(&self, nursery: NurseryId, most: i64) -> Result<Vec<ReturnedReport>, StoreError> {
        const TEXT: &str = "SELECT p.cultivar, r.content, r.reporter FROM plant p JOIN report r ON r.plant = p.id
            WHERE p.nursery = $1 AND r.state IN ($2, $3) ORDER BY r.id LIMIT $4";
        let (taken, in_doubt) = (ReviewState::Accepted.word(), ReviewState::AcceptedWithDoubt.word());
        let rows: Vec<(Option<String>, String, Option<String>)> = read!(self, p => sqlx::query_as(TEXT)
            .bind(nursery.to_string()).bind(taken).bind(in_doubt).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(cultivar, content, reporter)| {
            Ok(ReturnedReport {
                cultivar: cultivar.map(|slug| value("cultivar", Slug::new(&slug))).transpose()?,
                record: value("record", serde_json::from_str(&content))?,
                reporter: reporter.map(|member| id("report", &member).map(MemberId)).transpose()?,
            })
        })))
    }
}
