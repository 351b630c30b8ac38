//! Entries of a member's calendar and feed, from their dates and what was sent to them.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use crate::address;
use crate::jobs::reminders::dates::{DateKind, DueDate, id_of};
use crate::jobs::reminders::own_garden::OwnGarden;
use crate::jobs::reminders::words;
use crate::model::snapshot::Snapshot;
use crate::records::{FirstScale, MemberId, Warning, WarningKind};

/// How long a feed keeps an entry: as long as a calendar does. DESIGN.
const IN_FEED: SignedDuration = SignedDuration::from_hours(45 * 24);

/// One entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The same each time.
    pub id: Uuid,
    /// The day, or the first one.
    pub from: Date,
    /// The last day, where there are several.
    pub until: Option<Date>,
    /// Its line.
    pub title: String,
    /// Its words, in lines.
    pub words: String,
    /// Path of the page that says more.
    pub path: String,
    /// When it began to be of use.
    pub since: Timestamp,
    /// Whether it is to be told, and not only to stand in a calendar.
    pub told: bool,
}

/// The day of a moment, UTC.
pub fn day_of(moment: Timestamp) -> Date {
    TimeZone::UTC.to_datetime(moment).date()
}

/// Midnight (UTC) at the beginning of a day.
pub(super) fn midnight(day: Date) -> Timestamp {
    TimeZone::UTC.to_timestamp(day.at(0, 0, 0, 0)).unwrap_or(Timestamp::UNIX_EPOCH)
}

impl Entry {
    fn of(due: &DueDate, scale: FirstScale) -> Self {
        Self {
            id: due.id,
            from: due.from,
            until: due.until,
            title: words::title(due),
            words: words::words(due, scale),
            path: due.path.clone(),
            since: midnight(due.from),
            told: matches!(due.kind, DateKind::ReportWinter | DateKind::ReportFruit),
        }
    }

    /// A warning stands on the day of its night, the question of the morning after on the day it is asked.
    fn of_warning(warning: &Warning) -> Self {
        let from = if warning.kind == WarningKind::Morning { day_of(warning.made) } else { warning.night };
        Self {
            id: warning.id,
            from,
            until: None,
            title: warning.subject.clone(),
            words: warning.words.clone(),
            path: warning.path.clone(),
            since: warning.made,
            told: true,
        }
    }

    /// Whether a feed tells it now.
    pub fn in_feed(&self, now: Timestamp) -> bool {
        self.told && self.since <= now && now.duration_since(self.since) <= IN_FEED
    }
}

/// How long warnings stand in a calendar and a feed.
pub const WARNED: SignedDuration = IN_FEED;

/// The entries of a garden, its warnings among them; where nothing is due, one on the day the address was made that says why, since a calendar may not be empty
/// (RFC 5545 §3.6).
pub fn entries(
    snapshot: &Snapshot,
    member: (MemberId, FirstScale),
    (garden, warnings): (&OwnGarden, &[Warning]),
    made: Timestamp,
    now: Timestamp,
) -> Vec<Entry> {
    let (member, scale) = member;
    let (dates, without_town) = snapshot.due_dates(member, garden, day_of(now));
    let mut entries: Vec<Entry> = dates.iter().map(|due| Entry::of(due, scale)).chain(warnings.iter().map(Entry::of_warning)).collect();
    if entries.is_empty() {
        let (title, words) = words::nothing_due(&without_town);
        let entry = Entry {
            id: id_of(&format!("{member} nothing due")),
            from: day_of(made),
            until: None,
            title,
            words,
            path: address::GARDEN.to_string(),
            since: made,
            told: false,
        };
        entries.push(entry);
    }
    entries
}

/// Who a calendar or a feed is from, and where its links lead.
#[derive(Debug, Clone)]
pub struct Head<'a> {
    /// Scheme and host of this service.
    pub origin: &'a str,
    /// Path that it is read at.
    pub own: &'a str,
    /// Whose feed it is.
    pub member: MemberId,
    /// When the address was made.
    pub made: Timestamp,
    /// Whether the data are simulated.
    pub simulated: bool,
}

impl Head<'_> {
    /// Its name.
    pub const fn name(&self) -> &'static str {
        if self.simulated { "Figs (simulated data)" } else { "Figs" }
    }

    /// Words with what is to be said of simulated data.
    pub fn said(&self, words: &str) -> String {
        if self.simulated { format!("{words}\nSimulated: an invented garden.") } else { words.to_owned() }
    }
}
