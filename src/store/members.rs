//! Tables of accounts, sessions, tokens and roles; erasure. Tokens are stored as hashes only.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::erased::{Erased, Leaving};
use super::erasure::Erasure;
use super::rows::{id, moment, readable, word};
use crate::records::words::Credit;
use crate::records::{Handle, Member, MemberId, Role};

/// A session as its member sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    /// Hash of the token.
    pub token_hash: String,
    /// Whose it is.
    pub member: MemberId,
    /// When it began.
    pub started: Timestamp,
    /// When it was last used.
    pub seen: Timestamp,
    /// When its whole life ends.
    pub ends: Timestamp,
    /// Kind of device, as its browser says.
    pub device: String,
}

/// A token for programs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApiToken {
    /// Id, to end it by.
    pub id: String,
    /// Whose it is.
    pub member: MemberId,
    /// Name its member gave it.
    pub name: String,
    /// What it may do.
    pub scope: String,
    /// When it was made.
    pub made: Timestamp,
}

/// What became of a role to be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RoleChange {
    /// Given.
    Given,
    /// There is no such member.
    NoMember,
    /// They are the only administrator: nothing was changed.
    LastAdministrator,
}

/// Questions about members.
#[async_trait]
pub trait MemberStore {
    /// Takes a new member in; `false` where the handle, or one that it passes for, is another's or was that of a member who has left.
    async fn join(&self, member: &Member, passphrase_hash: &str) -> Result<bool, StoreError>;
    /// A member by id.
    async fn member(&self, member: MemberId) -> Result<Option<Member>, StoreError>;
    /// A member by folded handle, with the hash of the passphrase.
    async fn sign_in_facts(&self, folded_handle: &str) -> Result<Option<(Member, String)>, StoreError>;
    /// Every member, in the order they joined.
    async fn members(&self) -> Result<Vec<Member>, StoreError>;
    /// Changes the passphrase, ends every session but the one given, and knows none of the member's devices any more.
    async fn set_passphrase(&self, member: MemberId, hash: &str, keep: Option<&str>) -> Result<(), StoreError>;
    /// Gives a role, where an administrator is left afterwards.
    async fn change_role(&self, member: MemberId, role: Role) -> Result<RoleChange, StoreError>;
    /// Sets how the member is named beside published records.
    async fn set_credit(&self, member: MemberId, credit: Credit) -> Result<(), StoreError>;
    /// Opens a session.
    async fn open_session(&self, session: &Session) -> Result<(), StoreError>;
    /// The session of a token with its member; the caller judges whether it still lives.
    async fn session(&self, token_hash: &str) -> Result<Option<(Session, Member)>, StoreError>;
    /// Notes that a session was used.
    async fn touch_session(&self, token_hash: &str, seen: Timestamp) -> Result<(), StoreError>;
    /// Ends one session of a member.
    async fn end_session(&self, member: MemberId, token_hash: &str) -> Result<(), StoreError>;
    /// Sessions of a member, newest first.
    async fn sessions_of(&self, member: MemberId) -> Result<Vec<Session>, StoreError>;
    /// Removes sessions whose life is over.
    async fn drop_sessions_over(&self, now: Timestamp) -> Result<(), StoreError>;
    /// Notes that a member signed in on a device, by the hash of what it holds.
    async fn know_device(&self, member: MemberId, secret_hash: &str, now: Timestamp) -> Result<(), StoreError>;
    /// Since when each device is known that a member signed in on.
    async fn devices_of(&self, member: MemberId) -> Result<Vec<Timestamp>, StoreError>;
    /// Whether a member has signed in on a device before.
    async fn knows_device(&self, member: MemberId, secret_hash: &str) -> Result<bool, StoreError>;
    /// Makes a token for programs where its member has fewer than `most`; `false` where not.
    async fn make_token(&self, token: &ApiToken, token_hash: &str, most: usize) -> Result<bool, StoreError>;
    /// Tokens of a member.
    async fn tokens_of(&self, member: MemberId) -> Result<Vec<ApiToken>, StoreError>;
    /// The token with this hash, with its member.
    async fn token(&self, token_hash: &str) -> Result<Option<(ApiToken, Member)>, StoreError>;
    /// Ends a token of a member.
    async fn end_token(&self, member: MemberId, token: &str) -> Result<(), StoreError>;
    /// Whether anybody is an administrator.
    async fn has_administrator(&self) -> Result<bool, StoreError>;
    /// Keeps the code that makes the first administrator, in place of any earlier one.
    async fn offer_first_code(&self, code_hash: &str, now: Timestamp) -> Result<(), StoreError>;
    /// Redeems that code: makes the member administrator, once. `false` where the code is another or an administrator stands already.
    async fn redeem_first_code(&self, code_hash: &str, member: MemberId) -> Result<bool, StoreError>;
    /// Forgets a member: account, sessions, tokens, drafts, exact places and words; the records as they chose. Says whether they are gone
    /// from the files as well. `seed` is random and makes the new ids of records that stay.
    async fn forget_member(&self, member: MemberId, leaving: Leaving, seed: Uuid, now: Timestamp) -> Result<Erasure, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
pub(super) struct MemberRow {
    pub(super) id: String,
    pub(super) handle: String,
    pub(super) email: Option<String>,
    pub(super) role: String,
    pub(super) credit: String,
    pub(super) joined_ms: i64,
    pub(super) suspended_ms: Option<i64>,
}

impl MemberRow {
    pub(super) fn member(self) -> Result<Member, StoreError> {
        Ok(Member {
            id: MemberId(id("member", &self.id)?),
            handle: Handle::stored(self.handle),
            email: self.email,
            role: word(&self.role)?,
            credit: word(&self.credit)?,
            joined: moment("member", self.joined_ms)?,
            suspended: self.suspended_ms.map(|ms| moment("member", ms)).transpose()?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct SignInRow {
    #[sqlx(flatten)]
    member: MemberRow,
    passphrase: String,
}

#[derive(sqlx_macros::FromRow)]
struct SessionRow {
    token_hash: String,
    session_member: String,
    started_ms: i64,
    seen_ms: i64,
    ends_ms: i64,
    device: String,
}

impl SessionRow {
    fn session(self) -> Result<Session, StoreError> {
        Ok(Session {
            token_hash: self.token_hash,
            member: MemberId(id("session", &self.session_member)?),
            started: moment("session", self.started_ms)?,
            seen: moment("session", self.seen_ms)?,
            ends: moment("session", self.ends_ms)?,
            device: self.device,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct SessionMemberRow {
    #[sqlx(flatten)]
    session: SessionRow,
    #[sqlx(flatten)]
    member: MemberRow,
}

#[derive(sqlx_macros::FromRow)]
struct TokenRow {
    token_id: String,
    token_member: String,
    name: String,
    scope: String,
    made_ms: i64,
}

impl TokenRow {
    fn token(self) -> Result<ApiToken, StoreError> {
        Ok(ApiToken {
            id: self.token_id,
            member: MemberId(id("token", &self.token_member)?),
            name: self.name,
            scope: self.scope,
            made: moment("token", self.made_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct TokenMemberRow {
    #[sqlx(flatten)]
    token: TokenRow,
    #[sqlx(flatten)]
    member: MemberRow,
}

macro_rules! member_columns {
    ($before:literal, $after:literal) => {
        concat!($before, " m.id, m.handle, m.email, m.role, m.credit, m.joined_ms, m.suspended_ms ", $after)
    };
}

const MEMBER: &str = member_columns!("SELECT", "FROM member m WHERE m.id = $1");
const MEMBERS: &str = member_columns!("SELECT", "FROM member m ORDER BY m.joined_ms, m.id");
const BY_HANDLE: &str = member_columns!("SELECT m.passphrase,", "FROM member m WHERE m.handle_folded = $1");
const SESSION: &str = member_columns!(
    "SELECT s.token_hash, s.member AS session_member, s.started_ms, s.seen_ms, s.ends_ms, s.device,",
    "FROM session s JOIN member m ON m.id = s.member WHERE s.token_hash = $1"
);
const TOKEN: &str = member_columns!(
    "SELECT t.id AS token_id, t.member AS token_member, t.name, t.scope, t.made_ms,",
    "FROM api_token t JOIN member m ON m.id = t.member WHERE t.token_hash = $1"
);

/// Runs one writing statement in a transaction of its own and gives the number of rows it touched.
macro_rules! write_one {
    ($database:expr, $text:expr, $($value:expr),* $(,)?) => {{
        let mut tx = $database.begin().await?;
        let touched = within!(tx, c => sqlx::query($text)$(.bind($value))*.execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        touched
    }};
}

impl Tx {
    /// Takes a new member in within a transaction; `false` where the name is not free.
    pub(super) async fn take_in(&mut self, member: &Member, passphrase_hash: &str) -> Result<bool, StoreError> {
        const TEXT: &str = "INSERT INTO member (id, handle, handle_folded, passphrase, email, role, credit, joined_ms)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (handle_folded) DO NOTHING";
        let id = member.id.to_string();
        let touched = within!(*self, c => sqlx::query(TEXT)
            .bind(&id).bind(member.handle.as_str()).bind(member.handle.folded()).bind(passphrase_hash).bind(member.email.as_deref())
            .bind(member.role.word()).bind(member.credit.word()).bind(member.joined.as_millisecond())
            .execute(c).await.map(|done| done.rows_affected()))?;
        Ok(touched == 1 && self.take_name(&member.handle, &id).await?)
    }
}

#[async_trait]
impl MemberStore for Database {
    async fn join(&self, member: &Member, passphrase_hash: &str) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let joined = tx.take_in(member, passphrase_hash).await?;
        if joined {
            tx.commit().await?;
        }
        Ok(joined)
    }

    async fn member(&self, member: MemberId) -> Result<Option<Member>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, MemberRow>(MEMBER).bind(member.to_string()).fetch_optional(p).await)?;
        row.map(MemberRow::member).transpose()
    }

    async fn sign_in_facts(&self, folded_handle: &str) -> Result<Option<(Member, String)>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, SignInRow>(BY_HANDLE).bind(folded_handle).fetch_optional(p).await)?;
        row.map(|row| Ok((row.member.member()?, row.passphrase))).transpose()
    }

    async fn members(&self) -> Result<Vec<Member>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, MemberRow>(MEMBERS).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(MemberRow::member)))
    }

    async fn set_passphrase(&self, member: MemberId, hash: &str, keep: Option<&str>) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE member SET passphrase = $1 WHERE id = $2")
            .bind(hash).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query("DELETE FROM session WHERE member = $1 AND token_hash <> $2")
            .bind(member.to_string()).bind(keep.unwrap_or_default()).execute(c).await.map(|_| ()))?;
        // Whoever knew the passphrase before may hold a device that is known, too.
        within!(tx, c => sqlx::query("DELETE FROM known_device WHERE member = $1").bind(member.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn change_role(&self, member: MemberId, role: Role) -> Result<RoleChange, StoreError> {
        self.give_role(member, role, None).await
    }

    async fn set_credit(&self, member: MemberId, credit: Credit) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE member SET credit = $1 WHERE id = $2")
            .bind(credit.word()).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        // What is published names them otherwise from now on.
        tx.count_change().await?;
        tx.commit().await
    }

    async fn open_session(&self, session: &Session) -> Result<(), StoreError> {
        write_one!(
            self,
            "INSERT INTO session (token_hash, member, started_ms, seen_ms, ends_ms, device) VALUES ($1, $2, $3, $4, $5, $6)",
            session.token_hash.as_str(),
            session.member.to_string(),
            session.started.as_millisecond(),
            session.seen.as_millisecond(),
            session.ends.as_millisecond(),
            session.device.as_str(),
        );
        Ok(())
    }

    async fn session(&self, token_hash: &str) -> Result<Option<(Session, Member)>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, SessionMemberRow>(SESSION).bind(token_hash).fetch_optional(p).await)?;
        row.map(|row| Ok((row.session.session()?, row.member.member()?))).transpose()
    }

    async fn touch_session(&self, token_hash: &str, seen: Timestamp) -> Result<(), StoreError> {
        write_one!(self, "UPDATE session SET seen_ms = $1 WHERE token_hash = $2", seen.as_millisecond(), token_hash);
        Ok(())
    }

    async fn end_session(&self, member: MemberId, token_hash: &str) -> Result<(), StoreError> {
        write_one!(self, "DELETE FROM session WHERE member = $1 AND token_hash = $2", member.to_string(), token_hash);
        Ok(())
    }

    async fn sessions_of(&self, member: MemberId) -> Result<Vec<Session>, StoreError> {
        const TEXT: &str = "SELECT token_hash, member AS session_member, started_ms, seen_ms, ends_ms, device
            FROM session WHERE member = $1 ORDER BY seen_ms DESC, token_hash";
        let rows = read!(self, p => sqlx::query_as::<_, SessionRow>(TEXT).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(SessionRow::session)))
    }

    async fn drop_sessions_over(&self, now: Timestamp) -> Result<(), StoreError> {
        write_one!(self, "DELETE FROM session WHERE ends_ms <= $1", now.as_millisecond());
        Ok(())
    }

    async fn know_device(&self, member: MemberId, secret_hash: &str, now: Timestamp) -> Result<(), StoreError> {
        write_one!(
            self,
            "INSERT INTO known_device (secret_hash, member, made_ms) VALUES ($1, $2, $3) ON CONFLICT (secret_hash) DO NOTHING",
            secret_hash,
            member.to_string(),
            now.as_millisecond(),
        );
        Ok(())
    }

    async fn devices_of(&self, member: MemberId) -> Result<Vec<Timestamp>, StoreError> {
        const TEXT: &str = "SELECT made_ms FROM known_device WHERE member = $1 ORDER BY made_ms";
        let times: Vec<i64> = read!(self, p => sqlx::query_scalar(TEXT).bind(member.to_string()).fetch_all(p).await)?;
        times.into_iter().map(|time| moment("known_device", time)).collect()
    }

    async fn knows_device(&self, member: MemberId, secret_hash: &str) -> Result<bool, StoreError> {
        const TEXT: &str = "SELECT EXISTS (SELECT 1 FROM known_device WHERE secret_hash = $1 AND member = $2)";
        Ok(read!(self, p => sqlx::query_scalar(TEXT).bind(secret_hash).bind(member.to_string()).fetch_one(p).await)?)
    }

    async fn make_token(&self, token: &ApiToken, token_hash: &str, most: usize) -> Result<bool, StoreError> {
        self.add_token(token, token_hash, most).await
    }

    async fn tokens_of(&self, member: MemberId) -> Result<Vec<ApiToken>, StoreError> {
        const TEXT: &str =
            "SELECT id AS token_id, member AS token_member, name, scope, made_ms FROM api_token WHERE member = $1 ORDER BY id";
        let rows = read!(self, p => sqlx::query_as::<_, TokenRow>(TEXT).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(TokenRow::token)))
    }

    async fn token(&self, token_hash: &str) -> Result<Option<(ApiToken, Member)>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, TokenMemberRow>(TOKEN).bind(token_hash).fetch_optional(p).await)?;
        row.map(|row| Ok((row.token.token()?, row.member.member()?))).transpose()
    }

    async fn end_token(&self, member: MemberId, token: &str) -> Result<(), StoreError> {
        write_one!(self, "DELETE FROM api_token WHERE member = $1 AND id = $2", member.to_string(), token);
        Ok(())
    }

    async fn has_administrator(&self) -> Result<bool, StoreError> {
        const TEXT: &str = "SELECT EXISTS (SELECT 1 FROM member WHERE role = $1)";
        Ok(read!(self, p => sqlx::query_scalar(TEXT).bind(Role::Administrator.word()).fetch_one(p).await)?)
    }

    async fn offer_first_code(&self, code_hash: &str, now: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.run("DELETE FROM first_code").await?;
        within!(tx, c => sqlx::query("INSERT INTO first_code (code_hash, made_ms) VALUES ($1, $2)")
            .bind(code_hash).bind(now.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn redeem_first_code(&self, code_hash: &str, member: MemberId) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let taken = within!(tx, c => sqlx::query("DELETE FROM first_code WHERE code_hash = $1 AND NOT EXISTS (SELECT 1 FROM member WHERE role = $2)")
            .bind(code_hash).bind(Role::Administrator.word()).execute(c).await.map(|done| done.rows_affected()))?;
        let made = taken == 1
            && within!(tx, c => sqlx::query("UPDATE member SET role = $1 WHERE id = $2")
                .bind(Role::Administrator.word()).bind(member.to_string()).execute(c).await.map(|done| done.rows_affected()))?
                == 1;
        if made {
            tx.commit().await?;
        }
        Ok(made)
    }

    async fn forget_member(&self, member: MemberId, leaving: Leaving, seed: Uuid, now: Timestamp) -> Result<Erasure, StoreError> {
        self.erase(Erased { member, leaving, seed, at: now }).await
    }
}
