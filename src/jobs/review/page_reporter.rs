//! Who sent a report, as a steward sees them.

use std::collections::BTreeMap;

use crate::address;
use crate::records::{MemberId, Report};
use crate::store::{Reporter, Store, StoreError};
use crate::units::counted;
use crate::web::frame::day;

/// A reporter in words.
#[derive(Debug, Clone)]
pub struct ReporterView {
    /// Their name here.
    pub handle: String,
    /// Page about them.
    pub address: String,
    /// Day they joined.
    pub joined: String,
    /// What became of their reports.
    pub counts: String,
    /// How often the model or others' reports were against theirs; empty where never.
    pub against: String,
    /// Day since which they are suspended.
    pub suspended: Option<String>,
}

impl ReporterView {
    /// In words.
    pub fn new(reporter: &Reporter) -> Self {
        let mut counts = vec![format!("{} taken", reporter.counting)];
        counts.extend((reporter.rejected > 0).then(|| format!("{} set aside", reporter.rejected)));
        counts.push(format!("{} waiting", reporter.waiting));
        let times = |count: i64| counted(usize::try_from(count).unwrap_or(0), "time", "times");
        let mut against = Vec::new();
        if reporter.differing > 0 {
            against.push(format!("others in the same cold saw otherwise {}", times(reporter.differing)));
        }
        if reporter.surprising > 0 {
            against.push(format!("the model was surprised {}", times(reporter.surprising)));
        }
        Self {
            handle: reporter.handle.to_string(),
            address: address::review_reporter(reporter.id),
            joined: day(reporter.joined),
            counts: counts.join(", "),
            against: against.join("; "),
            suspended: reporter.suspended.map(day),
        }
    }
}

/// Reporters of some reports, by id, each asked once.
///
/// # Errors
/// When the store does not answer.
pub(super) async fn reporters_of(store: &dyn Store, reports: &[Report]) -> Result<BTreeMap<MemberId, ReporterView>, StoreError> {
    let mut known = BTreeMap::new();
    for id in reports.iter().filter_map(|report| report.reporter) {
        if !known.contains_key(&id)
            && let Some(reporter) = store.reporter(id).await?
        {
            known.insert(id, ReporterView::new(&reporter));
        }
    }
    Ok(known)
}
