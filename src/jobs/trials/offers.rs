//! Trials that nurseries offer: a fig from them, with the report of it that comes back.

use std::sync::Arc;

use jiff::Timestamp;

use crate::catalogue::Catalogue;
use crate::jobs::accounts::limits::Limits;
use crate::jobs::accounts::members::MemberError;
use crate::records::{Member, Nursery};
use crate::science::hardiness::level::DamageLevel;
use crate::store::{Store, StoreError, TrialOffer};

/// Offers shown at most.
const MOST_OFFERS: i64 = 200;
/// Reports that came back and are looked at.
const MOST_RETURNED: i64 = 5_000;

/// What came back of a fig that was offered, all reporters together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Returned {
    /// Reports of it that count.
    pub reports: usize,
    /// Of these, with the top killed to the ground, or dead.
    pub lost_top: usize,
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

    /// What came back of each fig of a nursery: by its name in addresses.
    pub async fn returned(&self, nursery: &Nursery, slug: &str) -> Result<Returned, StoreError> {
        let all = self.store.returned_reports(nursery.id, MOST_RETURNED).await?;
        let of = all.iter().filter(|report| report.cultivar.as_ref().is_some_and(|own| own.as_str() == slug));
        Ok(of.fold(Returned::default(), |sum, report| Returned {
            reports: sum.reports + 1,
            lost_top: sum.lost_top + usize::from(report.record.damage().is_some_and(|damage| damage.low() >= DamageLevel::ToGround)),
        }))
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
