//! The table of short addresses. Written once each and never changed.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{json, moment, value};
use crate::records::{ShortAddress, ShortCode};

/// Questions about short addresses.
#[async_trait]
pub trait ShortAddressStore {
    /// Keeps an answer under the first of these codes that is free or holds the same question and answer already, and says which; `None` where
    /// others hold them all.
    async fn keep_short_address(&self, codes: &[ShortCode], address: &ShortAddress) -> Result<Option<ShortCode>, StoreError>;
    /// What a code holds.
    async fn short_address(&self, code: &ShortCode) -> Result<Option<ShortAddress>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct Row {
    question: String,
    model: String,
    figures: String,
    made_ms: i64,
}

#[async_trait]
impl ShortAddressStore for Database {
    async fn keep_short_address(&self, codes: &[ShortCode], address: &ShortAddress) -> Result<Option<ShortCode>, StoreError> {
        const SAVE: &str = "INSERT INTO short_address (code, question, model, figures, made_ms) VALUES ($1, $2, $3, $4, $5)
            ON CONFLICT (code) DO NOTHING";
        const HELD: &str = "SELECT COUNT(*) FROM short_address WHERE code = $1 AND question = $2 AND figures = $3";
        let figures = json("figures", &address.figures)?;
        let mut tx = self.begin().await?;
        for code in codes {
            within!(tx, c => sqlx::query(SAVE)
                .bind(code.as_str()).bind(&address.question).bind(&address.model).bind(&figures).bind(address.made.as_millisecond())
                .execute(c).await.map(|_| ()))?;
            let held: i64 = within!(tx, c => sqlx::query_scalar(HELD)
                .bind(code.as_str()).bind(&address.question).bind(&figures).fetch_one(c).await)?;
            if held == 1 {
                tx.commit().await?;
                return Ok(Some(code.clone()));
            }
        }
        Ok(None)
    }

    async fn short_address(&self, code: &ShortCode) -> Result<Option<ShortAddress>, StoreError> {
        const TEXT: &str = "SELECT question, model, figures, made_ms FROM short_address WHERE code = $1";
        let row = read!(self, p => sqlx::query_as::<_, Row>(TEXT).bind(code.as_str()).fetch_optional(p).await)?;
        let Some(row) = row else { return Ok(None) };
        let figures = value("figures", serde_json::from_str(&row.figures))?;
        Ok(Some(ShortAddress { question: row.question, model: row.model, figures, made: moment("short_address", row.made_ms)? }))
    }
}
