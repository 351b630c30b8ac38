//! Tables of the office: the log, settings, invitations, and what administrators do to accounts. What is logged is logged in the transaction
//! that does it.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::engine::{Database, Tx, read, within};
use super::members::MemberRow;
use super::rows::{id, json, moment, readable, value, word};
use super::{MailLink, RoleChange, StoreError, Submission, Submitted, Verdict};
use crate::records::release::Contents;
use crate::records::{Actor, Invitation, LogEntry, Member, MemberId, Notice, Role, Society};

/// Which members are asked for; `None` leaves a question open.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MemberFilter {
    /// With these words in their name or e-mail address.
    pub words: Option<String>,
    /// With this role.
    pub role: Option<Role>,
    /// Suspended ones alone.
    pub suspended: bool,
    /// After this folded name.
    pub after: Option<String>,
}

/// An entry of the log with the names that its members go by now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogLine {
    /// The entry.
    pub entry: LogEntry,
    /// Who did it; `None` for a command and for who has left.
    pub author: Option<String>,
    /// Whom it concerns.
    pub about: Option<String>,
}

/// What became of joining by an invitation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joined {
    /// Joined.
    Yes,
    /// The name is taken.
    NameTaken,
    /// There is no such invitation any more.
    NoInvitation,
}

/// Questions of the office.
#[async_trait]
pub trait OfficeStore {
    /// Keeps an entry of the log.
    async fn log_by_hand(&self, entry: &LogEntry) -> Result<(), StoreError>;
    /// Entries of the log, newest first, before a place in it, at most `most`.
    async fn office_log(&self, before: Option<(Timestamp, Uuid)>, most: i64) -> Result<Vec<LogLine>, StoreError>;
    /// Members that fit, in the order of their folded names, at most `most`.
    async fn members_among(&self, filter: &MemberFilter, most: i64) -> Result<Vec<Member>, StoreError>;
    /// How many members there are.
    async fn member_count(&self) -> Result<i64, StoreError>;
    /// Gives a role, where an administrator is left afterwards.
    async fn give_role_by_hand(&self, member: MemberId, role: Role, entry: &LogEntry) -> Result<RoleChange, StoreError>;
    /// Suspends a member who is not, ends sessions and tokens, and keeps the words; `false` where there is nobody to suspend.
    async fn suspend_by_hand(&self, notice: &Notice, entry: &LogEntry) -> Result<bool, StoreError>;
    /// Ends a suspension and keeps the words; `false` where there is none.
    async fn restore_by_hand(&self, notice: &Notice, entry: &LogEntry) -> Result<bool, StoreError>;
    /// Keeps words to a member.
    async fn tell_by_hand(&self, notice: &Notice, entry: &LogEntry) -> Result<(), StoreError>;
    /// Ends every session and token of a member; says how many sessions there were.
    async fn end_sessions_by_hand(&self, member: MemberId, entry: &LogEntry) -> Result<u64, StoreError>;
    /// Keeps a link by which a member sets a new passphrase, in the place of earlier ones.
    async fn keep_link_by_hand(&self, link: &MailLink, entry: &LogEntry) -> Result<(), StoreError>;
    /// What stands of the society.
    async fn society(&self) -> Result<Society, StoreError>;
    /// Puts something else in its place.
    async fn set_society(&self, society: &Society, entry: &LogEntry) -> Result<(), StoreError>;
    /// Takes reports of members and of others in, with verdicts on them under one deed: all, or nothing where some stand here already; says
    /// how many do.
    async fn import_by_hand(
        &self,
        submissions: &[Submission],
        outsiders: &Contents,
        verdicts: (Uuid, &[Verdict]),
        entry: &LogEntry,
    ) -> Result<usize, StoreError>;
    /// Keeps an invitation under the hash of its code.
    async fn invite(&self, invitation: &Invitation, code_hash: &str, entry: &LogEntry) -> Result<(), StoreError>;
    /// Invitations, newest first.
    async fn invitations(&self) -> Result<Vec<Invitation>, StoreError>;
    /// Ends an invitation; `false` where there is none.
    async fn end_invitation(&self, invitation: Uuid, entry: &LogEntry) -> Result<bool, StoreError>;
    /// Takes a new member in by an invitation, which then holds for one fewer.
    async fn join_invited(&self, member: &Member, passphrase_hash: &str, code_hash: &str, now: Timestamp) -> Result<Joined, StoreError>;
}

/// The setting under which the society stands.
const SOCIETY: &str = "society";

#[derive(sqlx_macros::FromRow)]
struct LogRow {
    id: String,
    at_ms: i64,
    author: Option<String>,
    door: String,
    act: String,
    about: Option<String>,
    detail: String,
    author_handle: Option<String>,
    about_handle: Option<String>,
}

impl LogRow {
    fn line(self) -> Result<LogLine, StoreError> {
        let author = self.author.map(|author| id("log", &author).map(MemberId)).transpose()?;
        // An author who has left is nobody's command: the door tells them apart, and the page says so by its words.
        let actor = match (author, self.door.as_str()) {
            (Some(author), _) => Actor::Member(author),
            (None, "command") => Actor::Command,
            (None, _) => Actor::Member(MemberId(Uuid::nil())),
        };
        let entry = LogEntry {
            id: id("log", &self.id)?,
            at: moment("log", self.at_ms)?,
            actor,
            act: word(&self.act)?,
            about: self.about.map(|about| id("log", &about).map(MemberId)).transpose()?,
            detail: self.detail,
        };
        Ok(LogLine { entry, author: self.author_handle, about: self.about_handle })
    }
}

impl Tx {
    /// Keeps an entry of the log within a transaction.
    pub(super) async fn log(&mut self, entry: &LogEntry) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO office_log (id, at_ms, author, door, act, about, detail) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        let door = if entry.actor == Actor::Command { "command" } else { "page" };
        within!(*self, c => sqlx::query(TEXT)
            .bind(entry.id.to_string()).bind(entry.at.as_millisecond()).bind(entry.actor.member().map(|member| member.to_string()))
            .bind(door).bind(entry.act.word()).bind(entry.about.map(|about| about.to_string())).bind(&entry.detail)
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// Runs statements that take a member's id; says how many rows the first touched.
    async fn end_for(&mut self, statements: &[&'static str], member: MemberId) -> Result<u64, StoreError> {
        let mut first = None;
        for text in statements {
            let touched =
                within!(*self, c => sqlx::query(*text).bind(member.to_string()).execute(c).await.map(|done| done.rows_affected()))?;
            first.get_or_insert(touched);
        }
        Ok(first.unwrap_or(0))
    }
}

const END_ACCESS: [&str; 2] = ["DELETE FROM session WHERE member = $1", "DELETE FROM api_token WHERE member = $1"];

#[async_trait]
impl OfficeStore for Database {
    async fn log_by_hand(&self, entry: &LogEntry) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.log(entry).await?;
        tx.commit().await
    }

    async fn office_log(&self, before: Option<(Timestamp, Uuid)>, most: i64) -> Result<Vec<LogLine>, StoreError> {
        const TEXT: &str = "SELECT l.id, l.at_ms, l.author, l.door, l.act, l.about, l.detail,
            (SELECT handle FROM member WHERE id = l.author) AS author_handle, (SELECT handle FROM member WHERE id = l.about) AS about_handle
            FROM office_log l WHERE (l.at_ms, l.id) < ($1, $2) ORDER BY l.at_ms DESC, l.id DESC LIMIT $3";
        let (at, entry) = before.map_or((i64::MAX, String::new()), |(at, id)| (at.as_millisecond(), id.to_string()));
        let rows = read!(self, p => sqlx::query_as::<_, LogRow>(TEXT).bind(at).bind(entry).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(LogRow::line)))
    }

    async fn members_among(&self, f: &MemberFilter, most: i64) -> Result<Vec<Member>, StoreError> {
        const TEXT: &str = "SELECT m.id, m.handle, m.email, m.role, m.credit, m.joined_ms, m.suspended_ms FROM member m
            WHERE m.handle_folded > $1 AND (CAST($2 AS TEXT) IS NULL OR m.role = $2) AND ($3 = 0 OR m.suspended_ms IS NOT NULL)
            AND (CAST($4 AS TEXT) IS NULL OR LOWER(m.handle) LIKE $4 ESCAPE '!' OR LOWER(m.email) LIKE $4 ESCAPE '!')
            ORDER BY m.handle_folded LIMIT $5";
        let rows = read!(self, p => sqlx::query_as::<_, MemberRow>(TEXT)
            .bind(f.after.clone().unwrap_or_default()).bind(f.role.map(Role::word)).bind(i64::from(f.suspended))
            .bind(f.words.as_deref().map(super::desk::containing)).bind(most)
            .fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(MemberRow::member)))
    }

    async fn member_count(&self) -> Result<i64, StoreError> {
        Ok(read!(self, p => sqlx::query_scalar("SELECT COUNT(*) FROM member").fetch_one(p).await)?)
    }

    async fn give_role_by_hand(&self, member: MemberId, role: Role, entry: &LogEntry) -> Result<RoleChange, StoreError> {
        self.give_role(member, role, Some(entry)).await
    }

    async fn suspend_by_hand(&self, notice: &Notice, entry: &LogEntry) -> Result<bool, StoreError> {
        const SUSPEND: &str = "UPDATE member SET suspended_ms = $1 WHERE id = $2 AND suspended_ms IS NULL";
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query(SUSPEND)
            .bind(notice.at.as_millisecond()).bind(notice.member.to_string()).execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        tx.end_for(&END_ACCESS, notice.member).await?;
        tx.add_notice(notice).await?;
        tx.log(entry).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn restore_by_hand(&self, notice: &Notice, entry: &LogEntry) -> Result<bool, StoreError> {
        const RESTORE: &str = "UPDATE member SET suspended_ms = NULL WHERE id = $1 AND suspended_ms IS NOT NULL";
        let mut tx = self.begin().await?;
        if tx.end_for(&[RESTORE], notice.member).await? != 1 {
            return Ok(false);
        }
        tx.add_notice(notice).await?;
        tx.log(entry).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn tell_by_hand(&self, notice: &Notice, entry: &LogEntry) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.add_notice(notice).await?;
        tx.log(entry).await?;
        tx.commit().await
    }

    async fn end_sessions_by_hand(&self, member: MemberId, entry: &LogEntry) -> Result<u64, StoreError> {
        let mut tx = self.begin().await?;
        let ended = tx.end_for(&END_ACCESS, member).await?;
        tx.log(entry).await?;
        tx.commit().await?;
        Ok(ended)
    }

    async fn keep_link_by_hand(&self, link: &MailLink, entry: &LogEntry) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.put_link(link).await?;
        tx.log(entry).await?;
        tx.commit().await
    }

    async fn society(&self) -> Result<Society, StoreError> {
        let kept: Option<String> =
            read!(self, p => sqlx::query_scalar("SELECT value FROM office_setting WHERE name = $1").bind(SOCIETY).fetch_optional(p).await)?;
        kept.map_or(Ok(Society::default()), |kept| value("society", serde_json::from_str(&kept)))
    }

    async fn set_society(&self, society: &Society, entry: &LogEntry) -> Result<(), StoreError> {
        const TEXT: &str =
            "INSERT INTO office_setting (name, value) VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET value = excluded.value";
        let kept = json("society", society)?;
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT).bind(SOCIETY).bind(&kept).execute(c).await.map(|_| ()))?;
        tx.log(entry).await?;
        tx.commit().await
    }

    async fn import_by_hand(
        &self,
        submissions: &[Submission],
        outsiders: &Contents,
        (deed, verdicts): (Uuid, &[Verdict]),
        entry: &LogEntry,
    ) -> Result<usize, StoreError> {
        let mut tx = self.begin().await?;
        let mut here = tx.import_package(outsiders, &mut std::iter::empty(), entry.at).await?.len();
        for submission in submissions {
            here += usize::from(!matches!(tx.submit(submission).await?, Submitted::Fresh(_)));
        }
        if here > 0 {
            return Ok(here);
        }
        for verdict in verdicts {
            tx.judge_one(deed, verdict).await?;
        }
        tx.log(entry).await?;
        tx.commit().await?;
        Ok(0)
    }

    async fn invite(&self, invitation: &Invitation, code_hash: &str, entry: &LogEntry) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO invitation (id, code_hash, note, uses_left, ends_ms, made_ms) VALUES ($1, $2, $3, $4, $5, $6)";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT)
            .bind(invitation.id.to_string()).bind(code_hash).bind(&invitation.note).bind(invitation.uses_left)
            .bind(invitation.ends.as_millisecond()).bind(invitation.made.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        tx.log(entry).await?;
        tx.commit().await
    }

    async fn invitations(&self) -> Result<Vec<Invitation>, StoreError> {
        const TEXT: &str = "SELECT id, note, uses_left, ends_ms, made_ms FROM invitation ORDER BY made_ms DESC, id DESC LIMIT 200";
        let rows: Vec<(String, String, i64, i64, i64)> = read!(self, p => sqlx::query_as(TEXT).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(invitation, note, uses_left, ends, made)| {
            let (ends, made) = (moment("invitation", ends)?, moment("invitation", made)?);
            Ok(Invitation { id: id("invitation", &invitation)?, note, uses_left, ends, made })
        })))
    }

    async fn end_invitation(&self, invitation: Uuid, entry: &LogEntry) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query("DELETE FROM invitation WHERE id = $1")
            .bind(invitation.to_string()).execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        tx.log(entry).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn join_invited(&self, member: &Member, passphrase_hash: &str, code_hash: &str, now: Timestamp) -> Result<Joined, StoreError> {
        const USE: &str = "UPDATE invitation SET uses_left = uses_left - 1 WHERE code_hash = $1 AND uses_left > 0 AND ends_ms > $2";
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query(USE)
            .bind(code_hash).bind(now.as_millisecond()).execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(Joined::NoInvitation);
        }
        if !tx.take_in(member, passphrase_hash).await? {
            return Ok(Joined::NameTaken);
        }
        tx.commit().await?;
        Ok(Joined::Yes)
    }
}
