//! Tables of how often each kind of question was asked, and of trials that nurseries offer.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{id, moment, readable, value};
use crate::catalogue::Slug;
use crate::records::NurseryId;

/// A kind of question: nothing in it tells who asked or where they live.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AskedKey {
    /// Half-zone of the place.
    pub zone: String,
    /// Word of the spot in the garden.
    pub setting: String,
    /// `ground` or `container`.
    pub culture: String,
    /// Name in addresses of the fig asked about; empty where a question names none.
    pub cultivar: String,
}

/// How often a kind of question was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AskedCount {
    /// The kind.
    pub key: AskedKey,
    /// How often.
    pub times: i64,
}

/// A fig that a nursery offers as a trial.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrialOffer {
    /// The nursery.
    pub nursery: NurseryId,
    /// Its name.
    pub name: String,
    /// Its public word.
    pub code: String,
    /// The fig.
    pub cultivar: Slug,
    /// Since when.
    pub made: Timestamp,
}

/// Questions about trials.
#[async_trait]
pub trait TrialStore {
    /// Adds to the counts of a week, numbered from 1970-01-01 in weeks of seven days.
    async fn add_asked(&self, week: i64, counts: &[AskedCount]) -> Result<(), StoreError>;
    /// Counts from a week on, over all weeks, most often asked first, at most `most`.
    async fn asked_since(&self, week: i64, most: i64) -> Result<Vec<AskedCount>, StoreError>;
    /// Offers a fig as a trial; `false` where the nursery offers it already.
    async fn offer_trial(&self, nursery: NurseryId, cultivar: &Slug, at: Timestamp) -> Result<bool, StoreError>;
    /// Ends an offer; `false` where there is none.
    async fn end_trial_offer(&self, nursery: NurseryId, cultivar: &Slug) -> Result<bool, StoreError>;
    /// What nurseries offer, newest first, at most `most`.
    async fn trial_offers(&self, most: i64) -> Result<Vec<TrialOffer>, StoreError>;
}

#[async_trait]
impl TrialStore for Database {
    async fn add_asked(&self, week: i64, counts: &[AskedCount]) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO asked (week, zone, setting, culture, cultivar, times) VALUES ($1, $2, $3, $4, $5, $6)
            ON CONFLICT (week, zone, setting, culture, cultivar) DO UPDATE SET times = asked.times + excluded.times";
        let mut tx = self.begin().await?;
        // In one order, so that two processes at once wait for each other and never both.
        let mut ordered: Vec<&AskedCount> = counts.iter().collect();
        ordered.sort_by(|a, b| a.key.cmp(&b.key));
        for AskedCount { key, times } in ordered {
            within!(tx, c => sqlx::query(TEXT)
                .bind(week).bind(&key.zone).bind(&key.setting).bind(&key.culture).bind(&key.cultivar).bind(*times)
                .execute(c).await.map(|_| ()))?;
        }
        tx.commit().await
    }

    async fn asked_since(&self, week: i64, most: i64) -> Result<Vec<AskedCount>, StoreError> {
        const TEXT: &str = "SELECT zone, setting, culture, cultivar, CAST(SUM(times) AS BIGINT) AS times FROM asked WHERE week >= $1
            GROUP BY zone, setting, culture, cultivar ORDER BY 5 DESC, zone, setting, culture, cultivar LIMIT $2";
        let rows: Vec<(String, String, String, String, i64)> =
            read!(self, p => sqlx::query_as(TEXT).bind(week).bind(most).fetch_all(p).await)?;
        let counted = |(zone, setting, culture, cultivar, times)| AskedCount { key: AskedKey { zone, setting, culture, cultivar }, times };
        Ok(rows.into_iter().map(counted).collect())
    }

    async fn offer_trial(&self, nursery: NurseryId, cultivar: &Slug, at: Timestamp) -> Result<bool, StoreError> {
        const TEXT: &str =
            "INSERT INTO trial_offer (nursery, cultivar, made_ms) VALUES ($1, $2, $3) ON CONFLICT (nursery, cultivar) DO NOTHING";
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query(TEXT)
            .bind(nursery.to_string()).bind(cultivar.as_str()).bind(at.as_millisecond()).execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }

    async fn end_trial_offer(&self, nursery: NurseryId, cultivar: &Slug) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query("DELETE FROM trial_offer WHERE nursery = $1 AND cultivar = $2")
            .bind(nursery.to_string()).bind(cultivar.as_str()).execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }

    async fn trial_offers(&self, most: i64) -> Result<Vec<TrialOffer>, StoreError> {
        const TEXT: &str = "SELECT o.nursery, n.name, n.code, o.cultivar, o.made_ms FROM trial_offer o JOIN nursery n ON n.id = o.nursery
            ORDER BY o.made_ms DESC, n.code, o.cultivar LIMIT $1";
        let rows: Vec<(String, String, String, String, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(most).fetch_all(p).await)?;
        let offer = |(nursery, name, code, cultivar, made): (String, String, String, String, i64)| {
            Ok(TrialOffer {
                nursery: NurseryId(id("nursery", &nursery)?),
                name,
                code,
                cultivar: value("cultivar", Slug::new(&cultivar))?,
                made: moment("trial_offer", made)?,
            })
        };
        Ok(readable(rows.into_iter().map(offer)))
    }
}
