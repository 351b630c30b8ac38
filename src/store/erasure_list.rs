//! Erasures in the table and in the list outside the data, each completed from the other: what the list knows and the table does not was
//! undone by an older copy that was put back, and is done again.

use std::collections::HashSet;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::erased::{Erased, ErasedList, Leaving};
use super::rows::{id, moment, readable};
use crate::records::MemberId;

#[derive(sqlx_macros::FromRow)]
struct ErasedRow {
    member: String,
    leaving: String,
    seed: String,
    at_ms: i64,
}

impl ErasedRow {
    fn erased(self) -> Result<Erased, StoreError> {
        Ok(Erased {
            member: MemberId(id("erased member", &self.member)?),
            leaving: Leaving::of_word(&self.leaving),
            seed: id("erased member", &self.seed)?,
            at: moment("erased member", self.at_ms)?,
        })
    }
}

impl Tx {
    /// Keeps that a member was forgotten.
    pub(super) async fn keep_erasure(&mut self, erased: Erased) -> Result<(), StoreError> {
        const KEEP: &str =
            "INSERT INTO erased_member (member, leaving, seed, at_ms) VALUES ($1, $2, $3, $4) ON CONFLICT (member) DO NOTHING";
        let Erased { member, leaving, seed, at } = erased;
        within!(*self, c => sqlx::query(KEEP)
            .bind(member.to_string()).bind(leaving.word()).bind(seed.to_string()).bind(at.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

impl Database {
    /// Everybody whom the table knows to be forgotten.
    async fn erased_in_table(&self) -> Result<Vec<Erased>, StoreError> {
        const ALL: &str = "SELECT member, leaving, seed, at_ms FROM erased_member ORDER BY at_ms, member";
        let rows: Vec<ErasedRow> = read!(self, p => sqlx::query_as(ALL).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(ErasedRow::erased)))
    }

    /// Forgets again whoever is on the list and is back; says how many.
    pub(super) async fn forget_again(&self) -> Result<usize, StoreError> {
        const THERE: &str = "SELECT EXISTS (SELECT 1 FROM member WHERE id = $1)";
        let Some(list) = &self.erased else { return Ok(0) };
        let in_table: HashSet<MemberId> = self.erased_in_table().await?.into_iter().map(|erased| erased.member).collect();
        let mut back = 0;
        for erased in list.all().await? {
            if read!(self, p => sqlx::query_scalar::<_, bool>(THERE).bind(erased.member.to_string()).fetch_one(p).await)? {
                self.forget(erased).await?;
                back += 1;
            } else if !in_table.contains(&erased.member) {
                let mut tx = self.begin().await?;
                tx.keep_erasure(erased).await?;
                tx.commit().await?;
            }
        }
        Ok(back)
    }

    /// Adds to the list what the list beside a copy knows.
    pub(super) async fn take_list_of(&self, copy: &ErasedList) -> Result<(), StoreError> {
        let Some(list) = &self.erased else { return Ok(()) };
        let listed: HashSet<MemberId> = list.all().await?.into_iter().map(|erased| erased.member).collect();
        for erased in copy.all().await? {
            if !listed.contains(&erased.member) {
                list.add(erased).await?;
            }
        }
        Ok(())
    }

    /// Adds to the list what the table knows and the list does not: erasures that other processes made, or all after the list was lost.
    pub(super) async fn complete_erased_list(&self) -> Result<(), StoreError> {
        let Some(list) = &self.erased else { return Ok(()) };
        let listed: HashSet<MemberId> = list.all().await?.into_iter().map(|erased| erased.member).collect();
        for erased in self.erased_in_table().await? {
            if !listed.contains(&erased.member) {
                list.add(erased).await?;
            }
        }
        Ok(())
    }
}
