//! Trials that nurseries offer: a fig from them, with the report of it that comes back.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use jiff::Timestamp;

use crate::catalogue::{Catalogue, Slug};
use crate::jobs::accounts::limits::Limits;
use crate::jobs::accounts::members::MemberError;
use crate::records::{Member, MemberId, Nursery};
use crate::science::hardiness::level::DamageLevel;
use crate::store::{ReturnedReport, Store, StoreError, TrialOffer};

/// Offers shown at most.
const MOST_OFFERS: i64 = 200;
/// Reports that came back and are looked at.
const MOST_RETURNED: i64 = 5_000;

/// What came back of a fig that was offered, all reporters together.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Returned {
    /// Reports of it that count.
    pub reports: usize,
    /// Who sent them.
    reporters: BTreeSet<MemberId>,
    lost_top: usize,
}

impl Returned {
    fn add(&mut self, report: &ReturnedReport) {
        self.reports += 1;
        self.reporters.extend(report.reporter);
        self.lost_top += usize::from(report.record.damage().is_some_and(|damage| damage.low() >= DamageLevel::ToGround));
    }

    /// Of these, with the top killed to the ground, or dead; `None` where too few people stand behind them.
    pub fn lost_top(&self) -> Option<usize> {
        (self.reporters.len() >= Nursery::FEWEST_REPORTERS).then_some(self.lost_top)
    }
}

/// Trials that nurseries offer.
#[derive(Debug, Clone)]
pub struct Offers {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
}

impl Offers {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>) -> Self {
        Self { store, limits }
    }

    /// The nursery of a member, where they belong to one.
    pub async fn nursery(&self, member: Option<&Member>) -> Result<Option<Nursery>, StoreError> {
        match member {
            Some(member) => self.store.nursery_of(member.id).await,
            None => Ok(None),
        }
    }

    /// Every offer.
    pub async fn all(&self) -> Result<Vec<TrialOffer>, StoreError> {
        self.store.trial_offers(MOST_OFFERS).await
    }

    /// What came back of each fig of a nursery.
    pub async fn returned(&self, nursery: &Nursery) -> Result<BTreeMap<Slug, Returned>, StoreError> {
        let mut figs: BTreeMap<Slug, Returned> = BTreeMap::new();
        for report in self.store.returned_reports(nursery.id, MOST_RETURNED).await? {
            if let Some(slug) = &report.cultivar {
                figs.entry(slug.clone()).or_default().add(&report);
            }
        }
        Ok(figs)
    }

    /// Offers a fig of the catalogue, or ends the offer; `false` where the member belongs to no nursery or there is no such fig.
    ///
    /// # Errors
    /// Too often.
    pub async fn set(
        &self,
        member: &Member,
        slug: &str,
        offered: bool,
        catalogue: &Catalogue,
        now: Timestamp,
    ) -> Result<bool, MemberError> {
        let (Some(nursery), Some(cultivar)) = (self.store.nursery_of(member.id).await?, catalogue.get(slug)) else { return Ok(false) };
        self.limits.writes.take(&member.id.to_string())?;
        if offered {
            self.store.offer_trial(nursery.id, &cultivar.slug, now).await?;
        } else {
            self.store.end_trial_offer(nursery.id, &cultivar.slug).await?;
        }
        Ok(true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::trials::words::returned;
    use crate::records::sample::record;
    use crate::records::words::TopKilled;
    use uuid::Uuid;

    #[test]
    fn what_a_winter_did_is_told_once_enough_people_stand_behind_it() {
        let of = |people: u128, reports: u128| {
            let mut sum = Returned::default();
            for n in 0..reports {
                let mut record = record();
                record.top = TopKilled::ToGround;
                sum.add(&ReturnedReport { cultivar: None, record, reporter: Some(MemberId(Uuid::from_u128(n % people))) });
            }
            returned(&sum)
        };
        assert_eq!(of(5, 6), "6 reports of it came back; its top was killed in 6");
        assert_eq!(of(4, 9), "9 reports of it came back, from too few people to say what their winters did");
        assert_eq!(of(1, 0), "no report of it has come back yet");
    }
}
