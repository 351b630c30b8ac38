//! Bounded changes of members: roles (one administrator always remains) and tokens (a maximum per member).

use super::StoreError;
use super::engine::{Database, within};
use super::members::{ApiToken, RoleChange};
use crate::records::{LogEntry, MemberId, Role};

impl Database {
    pub(super) async fn give_role(&self, member: MemberId, role: Role, entry: Option<&LogEntry>) -> Result<RoleChange, StoreError> {
        const OTHERS: &str = "SELECT COUNT(*) FROM member WHERE role = $1 AND id <> $2";
        let (id, administrator) = (member.to_string(), Role::Administrator.word());
        let mut tx = self.begin().await?;
        // Two administrators may not take each other's administration away at once.
        tx.hold_key("role", administrator).await?;
        let now: Option<String> = within!(tx, c => sqlx::query_scalar("SELECT role FROM member WHERE id = $1")
            .bind(&id).fetch_optional(c).await)?;
        let Some(now) = now else { return Ok(RoleChange::NoMember) };
        if now == administrator && role != Role::Administrator {
            let others: i64 = within!(tx, c => sqlx::query_scalar(OTHERS).bind(administrator).bind(&id).fetch_one(c).await)?;
            if others == 0 {
                return Ok(RoleChange::LastAdministrator);
            }
        }
        within!(tx, c => sqlx::query("UPDATE member SET role = $1 WHERE id = $2").bind(role.word()).bind(&id).execute(c).await.map(|_| ()))?;
        if let Some(entry) = entry {
            tx.log(entry).await?;
        }
        tx.commit().await?;
        Ok(RoleChange::Given)
    }

    pub(super) async fn add_token(&self, token: &ApiToken, token_hash: &str, most: usize) -> Result<bool, StoreError> {
        const INSERT: &str = "INSERT INTO api_token (id, member, token_hash, name, scope, made_ms) VALUES ($1, $2, $3, $4, $5, $6)";
        let member = token.member.to_string();
        let mut tx = self.begin().await?;
        // Two at once may not both find room for the last.
        tx.hold_key(&member, "token").await?;
        let kept: i64 = within!(tx, c => sqlx::query_scalar("SELECT COUNT(*) FROM api_token WHERE member = $1")
            .bind(&member).fetch_one(c).await)?;
        if usize::try_from(kept).is_ok_and(|kept| kept >= most) {
            return Ok(false);
        }
        within!(tx, c => sqlx::query(INSERT)
            .bind(&token.id).bind(&member).bind(token_hash).bind(&token.name).bind(&token.scope).bind(token.made.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(true)
    }
}
