//! Sending, changing and taking back a report.

use std::sync::Arc;

use jiff::Timestamp;
use uuid::Uuid;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::{Limits, TooOften};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::noticed::noticed;
use crate::jobs::reports::{degree_days, form};
use crate::model::snapshot::Snapshot;
use crate::records::winter::today;
use crate::records::{Member, NurseryCode, NurseryId, PlantId, Report, ReportId, text};
use crate::science::cultivar::HardinessClass;
use crate::store::{Amendment, Store, StoreError, Submission, Submitted};
use crate::token;

/// A change to a report, as sent.
#[derive(Debug, Clone, Copy)]
pub struct Change<'a> {
    /// The report.
    pub report: ReportId,
    /// The version it was made from.
    pub from_version: i64,
    /// The whole form again.
    pub pairs: &'a [(String, String)],
    /// Why, in the reporter's words; may be empty.
    pub why: &'a str,
}

/// Longest answer to the stewards, characters.
const LONGEST_WHY: usize = 1000;

/// Number of the form in which what was sent is digested; digests without one are of the first form, which was text of the compiler's making.
const DIGEST_FORM: &str = "2:";

/// Longest key accepted, bytes.
pub const LONGEST_KEY: usize = 200;

/// The report service: every way a report comes in or changes.
#[derive(Debug, Clone)]
pub struct Reports {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
    ids: Ids,
}

impl Reports {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    /// What is kept.
    pub(crate) fn store(&self) -> &Arc<dyn Store> {
        &self.store
    }

    /// Where fresh ids come from.
    pub(crate) fn ids(&self) -> &Ids {
        &self.ids
    }

    /// Counts one change against the member's allowance.
    pub(crate) fn take_write(&self, member: &Member) -> Result<(), TooOften> {
        self.limits.writes.take(&member.id.to_string())
    }

    /// Takes a report in. `key` makes a repeat harmless: the same key and pairs give the same report again.
    pub async fn send(
        &self,
        member: &Member,
        pairs: &[(String, String)],
        key: &str,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<Report, ReportError> {
        if member.suspended.is_some() {
            return Err(ReportError::Suspended);
        }
        let known = match pairs.iter().find(|(name, value)| name == "plant" && !value.trim().is_empty()) {
            None => None,
            Some((_, id)) => Some(self.plant_of(member, id).await?),
        };
        let plant_is_new = known.is_none();
        let (plant, record) = if let Some(plant) = known {
            let record = form::read_known(pairs, &plant, today(now))?;
            (plant, record)
        } else {
            let (plant, record) = form::read_new(pairs, &snapshot.catalogue, today(now))?;
            (plant.planted_by(member.id, PlantId(self.ids.fresh(now))), record)
        };
        let others = if plant_is_new { Vec::new() } else { self.same_winter(&plant, record.winter, None).await? };
        let flags = noticed(&self.store, &plant, &record, snapshot, &others).await?;
        let mut submission = Submission {
            member: member.id,
            key: key.to_owned(),
            digest: digest(pairs),
            report: ReportId(self.ids.fresh(now)),
            plant,
            plant_is_new,
            record,
            nursery: self.nursery_named(pairs).await?,
            flags,
            at: now,
        };
        // A repeat costs nothing and is not counted against the member.
        let id = if let Some(repeat) = self.store.repeated(&submission).await? {
            repeat
        } else {
            self.limits.writes.take(&member.id.to_string())?;
            let class = class_of(&submission.plant, snapshot);
            submission.record.heat = degree_days::heat(&self.store, member, pairs, &submission.record, class).await?;
            self.store.submit(&submission).await?
        };
        match id {
            Submitted::Fresh(id) | Submitted::Repeat(id) => self.store.report(id).await?.ok_or(ReportError::Absent),
            Submitted::KeyInUse => Err(ReportError::KeyInUse),
        }
    }

    /// The nursery whose code a form names. One that is gone, or a code that is none, keeps nobody from reporting.
    async fn nursery_named(&self, pairs: &[(String, String)]) -> Result<Option<NurseryId>, StoreError> {
        let typed = pairs.iter().find(|(name, _)| name == form::NURSERY).map_or("", |(_, code)| code);
        match NurseryCode::typed(typed) {
            Some(code) => Ok(self.store.nursery_by_code(&code).await?.map(|nursery| nursery.id)),
            None => Ok(None),
        }
    }

    /// Changes a report; it waits for review again.
    pub async fn change(&self, member: &Member, change: &Change<'_>, snapshot: &Snapshot, now: Timestamp) -> Result<Report, ReportError> {
        let report = self.own(member, change.report).await?;
        let (read, mut errors) = match form::read_known(change.pairs, &report.plant, today(now)) {
            Ok(record) => (Some(record), FieldErrors::default()),
            Err(errors) => (None, errors),
        };
        let why = errors.keep("why", change.why, text::lines(change.why, LONGEST_WHY)).flatten().unwrap_or_default();
        let (Some(mut record), true) = (read, errors.is_empty()) else { return Err(errors.into()) };
        self.limits.writes.take(&member.id.to_string())?;
        record.heat = degree_days::heat(&self.store, member, change.pairs, &record, class_of(&report.plant, snapshot)).await?;
        let others = self.same_winter(&report.plant, record.winter, Some(report.id)).await?;
        let flags = noticed(&self.store, &report.plant, &record, snapshot, &others).await?;
        let amendment = Amendment { report: report.id, member: member.id, from_version: change.from_version, record, flags, why, at: now };
        let done = self.store.amend(&amendment).await?;
        let newest = self.own(member, report.id).await?;
        if done { Ok(newest) } else { Err(ReportError::Moved(Box::new(newest))) }
    }

    /// Takes a report back.
    pub async fn withdraw(&self, member: &Member, id: ReportId, now: Timestamp) -> Result<(), ReportError> {
        if self.store.withdraw(id, member.id, now).await? { Ok(()) } else { Err(ReportError::Absent) }
    }

    /// A report of the member's own; another's is as absent as a missing one.
    pub async fn own(&self, member: &Member, id: ReportId) -> Result<Report, ReportError> {
        self.store.report(id).await?.filter(|report| report.reporter == Some(member.id)).ok_or(ReportError::Absent)
    }

    async fn plant_of(&self, member: &Member, id: &str) -> Result<crate::records::Plant, ReportError> {
        let plant = match Uuid::parse_str(id.trim()) {
            Ok(id) => self.store.plant(PlantId(id)).await?.filter(|plant| plant.owner == Some(member.id)),
            Err(_) => None,
        };
        plant.ok_or_else(|| {
            let mut errors = FieldErrors::default();
            errors.add("plant", id, "this plant is not in your garden; choose one of yours or describe a new one");
            errors.into()
        })
    }

    pub(crate) async fn same_winter(
        &self,
        plant: &crate::records::Plant,
        winter: crate::records::Winter,
        but: Option<ReportId>,
    ) -> Result<Vec<Report>, StoreError> {
        let mut reports = self.store.reports_of_plant(plant.id).await?;
        reports.retain(|r| r.record.winter == winter && Some(r.id) != but && r.state != crate::records::ReviewState::Withdrawn);
        Ok(reports)
    }
}

/// Hardiness class of a plant's cultivar; the middling one where it has none.
pub(crate) fn class_of(plant: &crate::records::Plant, snapshot: &Snapshot) -> HardinessClass {
    let standing = plant.cultivar.as_ref().and_then(|slug| snapshot.standing(slug.as_str()));
    standing.and_then(|s| s.class).unwrap_or(HardinessClass::MIDDLING)
}

/// The fields that say something, whatever their order.
fn sorted(pairs: &[(String, String)]) -> Vec<&(String, String)> {
    let mut sorted: Vec<_> = pairs.iter().filter(|(_, value)| !value.trim().is_empty()).collect();
    sorted.sort();
    sorted
}

/// Digest of what was sent, whatever the order of its fields: of its JSON, with the number of this form in front.
pub(crate) fn digest(pairs: &[(String, String)]) -> String {
    format!("{DIGEST_FORM}{}", token::hash(serde_json::json!(sorted(pairs)).to_string()))
}

/// The digest that keys of reports and ids of plants out of tables are made of. Its form stays as it was when the first table came in, or
/// the same table again would be taken as new.
pub(crate) fn table_digest(pairs: &[(String, String)]) -> String {
    token::hash(format!("{:?}", sorted(pairs)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs() -> Vec<(String, String)> {
        [("winter", "2025/26"), ("name", "O'Rourke “x” \"y\"\n"), ("note", " "), ("base", "alive")]
            .map(|(k, v)| (k.to_owned(), v.to_owned()))
            .into()
    }

    #[test]
    fn a_digest_is_of_what_was_said_and_not_of_its_order() {
        let mut turned = pairs();
        turned.reverse();
        assert_eq!(digest(&turned), digest(&pairs()));
        turned.pop();
        assert_ne!(digest(&turned), digest(&pairs()));
    }

    // Kept for good beside what was sent; SHA-256 of the texts, computed with coreutils 9.
    #[test]
    fn digests_that_are_kept_do_not_change_from_version_to_version() {
        assert_eq!(digest(&pairs()), "2:3658932b3baa2f1ad94594e189cd21375e15ffe66ac45614c5df1d7ccd255e05");
        assert_eq!(table_digest(&pairs()), "341abaec09cc3634430b816b8009796e2fc162a64387b7d70e61e8715c6b259f");
    }
}
