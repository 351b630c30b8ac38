//! Tables of fitted models, so that other processes use them without fitting, and of the lease of the process that fits.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{moment, value};

/// A model as kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptModel {
    /// State of the accepted reports it was fitted to, as [`super::ReportStore::reports_version`] counted before they were read.
    pub reports_version: i64,
    /// Digest of everything else that went in: models of other catalogues or priors are not for this process.
    pub inputs: String,
    /// Its public name.
    pub version: String,
    /// Reports it has learned from.
    pub reports: usize,
    /// When it was fitted.
    pub fitted: Timestamp,
    /// Its scores, JSON.
    pub scores: String,
    /// What the same answers can be made from, JSON.
    pub state: String,
}

/// Questions about models.
#[async_trait]
pub trait ModelStore {
    /// Keeps a model; one of the same reports and inputs is replaced. Models of earlier reports keep their figures and lose their state and scores.
    async fn record_model(&self, model: &KeptModel) -> Result<(), StoreError>;
    /// The newest model made from these inputs that can still be used.
    async fn latest_model(&self, inputs: &str) -> Result<Option<KeptModel>, StoreError>;
    /// State of the reports behind [`Self::latest_model`], without its weight.
    async fn latest_model_version(&self, inputs: &str) -> Result<Option<i64>, StoreError>;
    /// Takes or prolongs the lease of this name for `holder` until a moment, unless another holds it beyond `now`; `true` where taken.
    ///
    /// With `until` = `now` a holder gives it back: the row goes. The clocks of the processes may differ by less than the length of a lease;
    /// so one that ends more than twice that length from now was made by a clock that was wrong, and does not hold.
    async fn try_to_lead(&self, name: &str, holder: Uuid, now: Timestamp, until: Timestamp) -> Result<bool, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct ModelRow {
    reports_version: i64,
    inputs: String,
    version: String,
    reports: i64,
    fitted_ms: i64,
    scores: String,
    state: String,
}

const RECORD: &str = "INSERT INTO model (reports_version, inputs, version, reports, fitted_ms, scores, state)
    VALUES ($1, $2, $3, $4, $5, $6, $7)
    ON CONFLICT (inputs, reports_version) DO UPDATE SET version = excluded.version, reports = excluded.reports,
        fitted_ms = excluded.fitted_ms, scores = excluded.scores, state = excluded.state";

/// A late one does not take the state of a newer one away.
const LIGHTEN: &str = "UPDATE model SET state = NULL, scores = '{}' WHERE inputs = $1 AND state IS NOT NULL
    AND reports_version < (SELECT MAX(newest.reports_version) FROM model newest WHERE newest.inputs = $1)";

const LATEST: &str = "SELECT reports_version, inputs, version, reports, fitted_ms, scores, state FROM model
    WHERE inputs = $1 AND state IS NOT NULL ORDER BY reports_version DESC LIMIT 1";

const LATEST_VERSION: &str = "SELECT MAX(reports_version) FROM model WHERE inputs = $1 AND state IS NOT NULL";

/// One statement, so that of two at once one waits for the other's row and then sees it.
const LEAD: &str = "INSERT INTO lease (name, holder, until_ms) VALUES ($1, $2, $3)
    ON CONFLICT (name) DO UPDATE SET holder = excluded.holder, until_ms = excluded.until_ms
    WHERE lease.holder = excluded.holder OR lease.until_ms <= $4 OR lease.until_ms > $5";

const GIVE_BACK: &str = "DELETE FROM lease WHERE name = $1 AND holder = $2";

#[async_trait]
impl ModelStore for Database {
    async fn record_model(&self, model: &KeptModel) -> Result<(), StoreError> {
        let reports = value("number of reports", i64::try_from(model.reports))?;
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(RECORD)
            .bind(model.reports_version).bind(&model.inputs).bind(&model.version).bind(reports)
            .bind(model.fitted.as_millisecond()).bind(&model.scores).bind(&model.state)
            .execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query(LIGHTEN).bind(&model.inputs).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn latest_model(&self, inputs: &str) -> Result<Option<KeptModel>, StoreError> {
        let row: Option<ModelRow> = read!(self, p => sqlx::query_as(LATEST).bind(inputs).fetch_optional(p).await)?;
        row.map(|row| {
            Ok(KeptModel {
                reports_version: row.reports_version,
                inputs: row.inputs,
                version: row.version,
                reports: value("number of reports", usize::try_from(row.reports))?,
                fitted: moment("model", row.fitted_ms)?,
                scores: row.scores,
                state: row.state,
            })
        })
        .transpose()
    }

    async fn latest_model_version(&self, inputs: &str) -> Result<Option<i64>, StoreError> {
        Ok(read!(self, p => sqlx::query_scalar(LATEST_VERSION).bind(inputs).fetch_one(p).await)?)
    }

    async fn try_to_lead(&self, name: &str, holder: Uuid, now: Timestamp, until: Timestamp) -> Result<bool, StoreError> {
        let (now, until) = (now.as_millisecond(), until.as_millisecond());
        let mut tx = self.begin().await?;
        let touched = if until <= now {
            within!(tx, c => sqlx::query(GIVE_BACK).bind(name).bind(holder.to_string()).execute(c).await.map(|done| done.rows_affected()))?
        } else {
            let farthest = until.saturating_add(until - now);
            within!(tx, c => sqlx::query(LEAD)
                .bind(name).bind(holder.to_string()).bind(until).bind(now).bind(farthest)
                .execute(c).await.map(|done| done.rows_affected()))?
        };
        tx.commit().await?;
        Ok(touched == 1)
    }
}
