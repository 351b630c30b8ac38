//! The queue in groups: by garden and winter, by reporter, by what was noticed.

use crate::jobs::review::page_reporter::ReporterView;
use crate::jobs::review::queue::{Grouping, QueueQuery, group_cursor, group_place};
use crate::records::Member;
use crate::store::Store;
use crate::web::errors::Failure;
use crate::web::frame::day;

/// Groups of one page.
const ON_A_PAGE: i64 = 50;
/// Reports whose flags are counted: enough to see what there is much of.
const FLAGS_COUNTED: i64 = 10_000;

/// A group of reports.
pub struct Group {
    /// What they have in common.
    pub name: String,
    /// The list of them.
    pub address: String,
    /// How many.
    pub reports: i64,
    /// When the oldest was sent.
    pub oldest: Option<String>,
    /// Who sent them.
    pub who: Option<ReporterView>,
}

/// The groups of a page, and the address of the next page.
pub(super) async fn groups(store: &dyn Store, steward: &Member, query: &QueueQuery) -> Result<(Vec<Group>, Option<String>), Failure> {
    let by_winter = match query.grouping() {
        Grouping::Flag => return Ok((flags(store, steward, query).await?, None)),
        Grouping::Garden => true,
        _ => false,
    };
    let filter = query.filter(steward.id);
    let after = query.after.as_deref().map(group_place).transpose().map_err(Failure::from)?;
    let mut found = store.queue_groups(&filter, by_winter, after, ON_A_PAGE + 1).await?;
    let more = found.len() > ON_A_PAGE as usize;
    found.truncate(ON_A_PAGE as usize);
    let next = found.last().filter(|_| more).map(|last| query.address(&[("after", group_cursor(last, filter.newest_first))]));
    let mut groups = Vec::with_capacity(found.len());
    for group in found {
        let who = store.reporter(group.reporter).await?.as_ref().map(ReporterView::new);
        let handle = who.as_ref().map_or_else(String::new, |who| who.handle.clone());
        let inside = QueueQuery { reporter: Some(group.reporter), winter: group.winter.or(query.winter), ..within(query) };
        groups.push(Group {
            name: group.winter.map_or_else(|| handle.clone(), |winter| format!("{handle}, winter {winter}")),
            address: inside.address(&[]),
            reports: group.reports,
            oldest: Some(day(group.oldest)),
            who,
        });
    }
    Ok((groups, next))
}

/// The question of the reports within a group: as narrow and in the same order.
fn within(query: &QueueQuery) -> QueueQuery {
    QueueQuery { by: None, after: None, ..query.clone() }
}

async fn flags(store: &dyn Store, steward: &Member, query: &QueueQuery) -> Result<Vec<Group>, Failure> {
    let counted = store.queue_flags(&query.filter(steward.id), FLAGS_COUNTED).await?;
    let group = |(flag, reports): (crate::records::Flag, i64)| Group {
        name: crate::web::cells::upper_first(flag.label()),
        address: QueueQuery { flag: Some(flag), ..within(query) }.address(&[]),
        reports,
        oldest: None,
        who: None,
    };
    // What asks for a look comes before what only tells of an answer left open.
    let (notes, flags): (Vec<_>, Vec<_>) = counted.into_iter().partition(|(flag, _)| flag.is_note());
    Ok(flags.into_iter().chain(notes).map(group).collect())
}
