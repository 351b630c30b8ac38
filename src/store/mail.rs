//! Tables of e-mail addresses, their confirmation and the links sent. Tokens are stored as hashes only.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::members::MemberRow;
use super::rows::moment;
use crate::records::{Member, MemberId};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a link in a letter is for.
    pub enum LinkPurpose: "purpose of a link" {
        /// To show that the address is the member's own.
        Confirm = "confirm" => "confirm the address",
        /// To set a new passphrase.
        Reset = "reset" => "set a new passphrase",
    }
}

/// A member's address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MailAddress {
    /// As the member typed it.
    pub address: String,
    /// When a link sent to it was used.
    pub confirmed: Option<Timestamp>,
}

/// A link that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MailLink {
    /// Hash of its secret.
    pub secret_hash: String,
    /// Whose it is.
    pub member: MemberId,
    /// What for.
    pub purpose: LinkPurpose,
    /// Where it went.
    pub email: String,
    /// When it stops working.
    pub ends: Timestamp,
}

/// Questions about mail.
#[async_trait]
pub trait MailStore {
    /// A member's address.
    async fn mail_address(&self, member: MemberId) -> Result<Option<MailAddress>, StoreError>;
    /// Puts another address, or none, in its place: not confirmed, and links to the old one end.
    async fn set_mail_address(&self, member: MemberId, address: Option<&str>) -> Result<(), StoreError>;
    /// Members who confirmed this address, however its letters are written.
    async fn members_at(&self, address: &str) -> Result<Vec<Member>, StoreError>;
    /// Notes a link; earlier ones of the member for the same purpose end.
    async fn keep_link(&self, link: &MailLink) -> Result<(), StoreError>;
    /// Whose link this is, if it still works; it goes on working.
    async fn link(&self, secret_hash: &str, purpose: LinkPurpose, now: Timestamp) -> Result<Option<MemberId>, StoreError>;
    /// Uses a link to confirm an address, once: `false` where it does not work or the address has changed.
    async fn confirm_address(&self, secret_hash: &str, now: Timestamp) -> Result<bool, StoreError>;
    /// Uses a link to set a passphrase, once; ends every session and token of its member, and knows none of their devices any more.
    async fn reset_passphrase(&self, secret_hash: &str, passphrase_hash: &str, now: Timestamp) -> Result<Option<MemberId>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct LinkRow {
    member: String,
    email: String,
}

const TAKE: &str = "DELETE FROM mail_link WHERE secret_hash = $1 AND purpose = $2 AND ends_ms > $3 RETURNING member, email";

impl Tx {
    /// Notes a link within a transaction, in the place of earlier ones for the same purpose.
    pub(super) async fn put_link(&mut self, link: &MailLink) -> Result<(), StoreError> {
        within!(*self, c => sqlx::query("DELETE FROM mail_link WHERE member = $1 AND purpose = $2")
            .bind(link.member.to_string()).bind(link.purpose.word()).execute(c).await.map(|_| ()))?;
        within!(*self, c => sqlx::query("INSERT INTO mail_link (secret_hash, member, purpose, email, ends_ms) VALUES ($1, $2, $3, $4, $5)")
            .bind(&link.secret_hash).bind(link.member.to_string()).bind(link.purpose.word()).bind(&link.email)
            .bind(link.ends.as_millisecond()).execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

#[async_trait]
impl MailStore for Database {
    async fn mail_address(&self, member: MemberId) -> Result<Option<MailAddress>, StoreError> {
        const TEXT: &str = "SELECT email, email_confirmed_ms FROM member WHERE id = $1";
        let row: Option<(Option<String>, Option<i64>)> =
            read!(self, p => sqlx::query_as(TEXT).bind(member.to_string()).fetch_optional(p).await)?;
        let Some((Some(address), confirmed)) = row else { return Ok(None) };
        Ok(Some(MailAddress { address, confirmed: confirmed.map(|ms| moment("member", ms)).transpose()? }))
    }

    async fn set_mail_address(&self, member: MemberId, address: Option<&str>) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE member SET email = $1, email_confirmed_ms = NULL WHERE id = $2")
            .bind(address).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query("DELETE FROM mail_link WHERE member = $1")
            .bind(member.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn members_at(&self, address: &str) -> Result<Vec<Member>, StoreError> {
        const TEXT: &str = "SELECT id, handle, email, role, credit, joined_ms, suspended_ms FROM member
            WHERE LOWER(email) = LOWER($1) AND email_confirmed_ms IS NOT NULL ORDER BY joined_ms, id";
        let rows = read!(self, p => sqlx::query_as::<_, MemberRow>(TEXT).bind(address).fetch_all(p).await)?;
        rows.into_iter().map(MemberRow::member).collect()
    }

    async fn keep_link(&self, link: &MailLink) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.put_link(link).await?;
        tx.commit().await
    }

    async fn link(&self, secret_hash: &str, purpose: LinkPurpose, now: Timestamp) -> Result<Option<MemberId>, StoreError> {
        const TEXT: &str = "SELECT member FROM mail_link WHERE secret_hash = $1 AND purpose = $2 AND ends_ms > $3";
        let row: Option<String> = read!(self, p => sqlx::query_scalar(TEXT)
            .bind(secret_hash).bind(purpose.word()).bind(now.as_millisecond()).fetch_optional(p).await)?;
        row.map(|id| super::rows::id("mail_link", &id).map(MemberId)).transpose()
    }

    async fn confirm_address(&self, secret_hash: &str, now: Timestamp) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let taken = within!(tx, c => sqlx::query_as::<_, LinkRow>(TAKE)
            .bind(secret_hash).bind(LinkPurpose::Confirm.word()).bind(now.as_millisecond()).fetch_optional(c).await)?;
        let Some(link) = taken else { return Ok(false) };
        let touched = within!(tx, c => sqlx::query("UPDATE member SET email_confirmed_ms = $1 WHERE id = $2 AND email = $3")
            .bind(now.as_millisecond()).bind(&link.member).bind(&link.email).execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }

    async fn reset_passphrase(&self, secret_hash: &str, passphrase_hash: &str, now: Timestamp) -> Result<Option<MemberId>, StoreError> {
        let mut tx = self.begin().await?;
        let taken = within!(tx, c => sqlx::query_as::<_, LinkRow>(TAKE)
            .bind(secret_hash).bind(LinkPurpose::Reset.word()).bind(now.as_millisecond()).fetch_optional(c).await)?;
        let Some(link) = taken else { return Ok(None) };
        within!(tx, c => sqlx::query("UPDATE member SET passphrase = $1 WHERE id = $2")
            .bind(passphrase_hash).bind(&link.member).execute(c).await.map(|_| ()))?;
        for text in [
            "DELETE FROM session WHERE member = $1",
            "DELETE FROM api_token WHERE member = $1",
            "DELETE FROM known_device WHERE member = $1",
        ] {
            within!(tx, c => sqlx::query(text).bind(&link.member).execute(c).await.map(|_| ()))?;
        }
        tx.commit().await?;
        Ok(Some(MemberId(super::rows::id("mail_link", &link.member)?)))
    }
}
