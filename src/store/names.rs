//! Names in use: hashes of every form that could be mistaken for a name (UTS 39 skeletons), including those of members who left.

use sha2::{Digest, Sha256};

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use crate::records::Handle;

/// Hash of a form, hexadecimal.
fn hash(form: &str) -> String {
    Sha256::digest(form).iter().fold(String::with_capacity(64), |text, byte| text + &format!("{byte:02x}"))
}

const TAKE: &str = "INSERT INTO taken_name (form_hash, member) VALUES ($1, $2) ON CONFLICT (form_hash) DO NOTHING";

impl Tx {
    /// Takes every form of a name for a member; `false` where one is taken by another member or by one who has left.
    pub(super) async fn take_name(&mut self, handle: &Handle, member: &str) -> Result<bool, StoreError> {
        for form in handle.forms() {
            let touched = within!(*self, c => sqlx::query(TAKE)
                .bind(hash(&form)).bind(member).execute(c).await.map(|done| done.rows_affected()))?;
            if touched != 1 {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

impl Database {
    /// Takes the names of members who joined before names were kept by their forms. Of two that pass for each other both stay.
    pub(super) async fn take_names_of_members(&self) -> Result<(), StoreError> {
        const WITHOUT: &str = "SELECT id, handle FROM member
            WHERE NOT EXISTS (SELECT 1 FROM taken_name WHERE taken_name.member = member.id) ORDER BY joined_ms, id";
        let without: Vec<(String, String)> = read!(self, p => sqlx::query_as(WITHOUT).fetch_all(p).await)?;
        if without.is_empty() {
            return Ok(());
        }
        let mut tx = self.begin().await?;
        for (member, handle) in without {
            for form in Handle::stored(handle).forms() {
                within!(tx, c => sqlx::query(TAKE).bind(hash(&form)).bind(&member).execute(c).await.map(|_| ()))?;
            }
        }
        tx.commit().await
    }
}
