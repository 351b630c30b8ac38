//! What stewards ask of the reports that wait: the queue by pages, groups of it, and who sent them. Reports of the steward who asks and of
//! suspended members are in none of it. Pages go by key, so that the thousandth costs what the first does.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read};
use super::garden::plant_columns;
use super::reports::{ReportRow, reports, reports_where};
use super::rows::{id, moment, readable, value};
use crate::records::{Flag, Flagged, Handle, MemberId, Plant, Report, ReportId, ReviewState, Winter};
use crate::science::site::Culture;

/// Which of the waiting reports are asked for; `None` leaves a question open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QueueFilter {
    /// Who asks.
    pub steward: MemberId,
    /// Of this member.
    pub reporter: Option<MemberId>,
    /// Of this winter.
    pub winter: Option<Winter>,
    /// With this flag.
    pub flag: Option<Flag>,
    /// With these words in the plant's name or the reporter's.
    pub words: Option<String>,
    /// Newest first.
    pub newest_first: bool,
    /// After this one in that order: when it was sent, and its id.
    pub after: Option<(Timestamp, ReportId)>,
}

/// A group of waiting reports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QueueGroup {
    /// Who sent them.
    pub reporter: MemberId,
    /// Their winter, where reports are grouped by winter too.
    pub winter: Option<Winter>,
    /// How many.
    pub reports: i64,
    /// When the oldest was sent.
    pub oldest: Timestamp,
    /// When the newest was sent.
    pub newest: Timestamp,
}

/// A place among groups: when the report that orders them was sent, who sent them, and their winter.
pub type GroupPlace = (Timestamp, MemberId, Option<Winter>);

/// What is known of who sends reports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reporter {
    /// Who.
    pub id: MemberId,
    /// Their name here.
    pub handle: Handle,
    /// When they joined.
    pub joined: Timestamp,
    /// Since when they are suspended.
    pub suspended: Option<Timestamp>,
    /// Reports that wait.
    pub waiting: i64,
    /// Reports that count.
    pub counting: i64,
    /// Reports that were set aside.
    pub rejected: i64,
    /// Reports that surprised the model of their day.
    pub surprising: i64,
    /// Reports that several others' contradict.
    pub differing: i64,
}

/// Questions of stewards.
#[async_trait]
pub trait DeskStore {
    /// Waiting reports that fit, at most `most`.
    async fn queue(&self, filter: &QueueFilter, most: i64) -> Result<Vec<Report>, StoreError>;
    /// How many wait for this steward.
    async fn queue_count(&self, steward: MemberId) -> Result<i64, StoreError>;
    /// Groups of waiting reports that fit by member, and by winter where `by_winter`, those with the oldest report first, or with the newest:
    /// those after `after`, at most `most`. The place in the filter is left aside.
    async fn queue_groups(
        &self,
        filter: &QueueFilter,
        by_winter: bool,
        after: Option<GroupPlace>,
        most: i64,
    ) -> Result<Vec<QueueGroup>, StoreError>;
    /// Flags of the oldest waiting reports that fit, at most `most`: how many of them have each, in the order of flags.
    async fn queue_flags(&self, filter: &QueueFilter, most: i64) -> Result<Vec<(Flag, i64)>, StoreError>;
    /// What is known of a reporter.
    async fn reporter(&self, member: MemberId) -> Result<Option<Reporter>, StoreError>;
    /// Reports of the same winter of other plants that are the same by name or cultivar, place, year planted and pot or ground; at most three.
    async fn equal_plants(&self, plant: &Plant, winter: Winter) -> Result<Vec<ReportId>, StoreError>;
    /// Accepted reports of others of a cultivar whose coldest temperature lies within two bounds, °C, at most `most`.
    async fn others_in_cold(
        &self,
        cultivar: &str,
        but: Option<MemberId>,
        within_c: (f64, f64),
        most: i64,
    ) -> Result<Vec<Report>, StoreError>;
    /// Ids and versions of a member's reports that count, in the order of ids, at most `most`.
    async fn counting_of(&self, member: MemberId, most: i64) -> Result<Vec<Report>, StoreError>;
}

macro_rules! queue_text {
    ($reporter:literal, $beyond:literal, $order:literal) => {
        reports_where!(
            "r.state = $1 AND (r.reporter IS NULL OR r.reporter <> $2)
             AND NOT EXISTS (SELECT 1 FROM member s WHERE s.id = r.reporter AND s.suspended_ms IS NOT NULL)
             AND ",
            $reporter,
            " AND (CAST($4 AS TEXT) IS NULL OR r.winter = $4) AND (CAST($5 AS TEXT) IS NULL OR r.flags LIKE $5)
             AND (CAST($6 AS TEXT) IS NULL OR LOWER(p.name_written) LIKE $6 ESCAPE '!'
                  OR EXISTS (SELECT 1 FROM member n WHERE n.id = r.reporter AND LOWER(n.handle) LIKE $6 ESCAPE '!'))
             AND (r.sent_ms, r.id) ",
            $beyond,
            " ($7, $8) ORDER BY ",
            $order,
            " LIMIT $9"
        )
    };
}

/// Waiting reports that fit a question to the queue, without its place.
macro_rules! fitting {
    () => {
        "r.state = $1 AND (r.reporter IS NULL OR r.reporter <> $2)
         AND NOT EXISTS (SELECT 1 FROM member s WHERE s.id = r.reporter AND s.suspended_ms IS NOT NULL)
         AND (CAST($3 AS TEXT) IS NULL OR r.reporter = $3) AND (CAST($4 AS TEXT) IS NULL OR r.winter = $4)
         AND (CAST($5 AS TEXT) IS NULL OR r.flags LIKE $5)
         AND (CAST($6 AS TEXT) IS NULL OR EXISTS (SELECT 1 FROM plant p WHERE p.id = r.plant AND LOWER(p.name_written) LIKE $6 ESCAPE '!')
              OR EXISTS (SELECT 1 FROM member n WHERE n.id = r.reporter AND LOWER(n.handle) LIKE $6 ESCAPE '!'))"
    };
}

/// Groups of them: what beside the reporter they share, which of its reports orders a group, and in which direction.
macro_rules! groups_text {
    ($winter:literal, $by:literal, $beyond:literal, $direction:literal) => {
        concat!(
            "SELECT reporter, winter, reports, oldest, newest FROM (SELECT r.reporter AS reporter, ",
            $winter,
            " AS winter, COUNT(*) AS reports, MIN(r.sent_ms) AS oldest, MAX(r.sent_ms) AS newest FROM report r WHERE r.reporter IS NOT NULL AND ",
            fitting!(),
            " GROUP BY 1, 2) g WHERE (",
            $by,
            ", reporter, winter) ",
            $beyond,
            " ($7, $8, $9) ORDER BY ",
            $by,
            $direction,
            ", reporter",
            $direction,
            ", winter",
            $direction,
            " LIMIT $10"
        )
    };
}

pub(super) const OLDEST: &str = queue_text!("(CAST($3 AS TEXT) IS NULL)", ">", "r.sent_ms, r.id");
pub(super) const NEWEST: &str = queue_text!("(CAST($3 AS TEXT) IS NULL)", "<", "r.sent_ms DESC, r.id DESC");
pub(super) const OLDEST_OF: &str = queue_text!("r.reporter = $3", ">", "r.sent_ms, r.id");
pub(super) const NEWEST_OF: &str = queue_text!("r.reporter = $3", "<", "r.sent_ms DESC, r.id DESC");
pub(super) const OTHERS: &str = reports_where!(
    "p.cultivar = $1 AND r.state IN ($2, $3) AND (r.reporter IS NULL OR CAST($4 AS TEXT) IS NULL OR r.reporter <> $4)
     AND r.coldest_c BETWEEN CAST($5 AS DOUBLE PRECISION) AND CAST($6 AS DOUBLE PRECISION) LIMIT $7"
);
pub(super) const COUNTING: &str = reports_where!("r.reporter = $1 AND r.state IN ($2, $3) ORDER BY r.id LIMIT $4");

/// Text of a question for a part of a text, with what has a meaning there written as itself.
pub(super) fn containing(words: &str) -> String {
    let plain = words.to_lowercase().replace('!', "!!").replace('%', "!%").replace('_', "!_");
    format!("%{plain}%")
}

/// Text of a question for a flag among flags as they are kept.
fn flagged(flag: Flag) -> String {
    format!("%\"{}\"%", flag.word())
}

#[async_trait]
impl DeskStore for Database {
    async fn queue(&self, f: &QueueFilter, most: i64) -> Result<Vec<Report>, StoreError> {
        let text = match (f.reporter.is_some(), f.newest_first) {
            (false, false) => OLDEST,
            (false, true) => NEWEST,
            (true, false) => OLDEST_OF,
            (true, true) => NEWEST_OF,
        };
        let (sent, id) = match (f.after, f.newest_first) {
            (Some((sent, id)), _) => (sent.as_millisecond(), id.to_string()),
            (None, false) => (i64::MIN, String::new()),
            (None, true) => (i64::MAX, String::new()),
        };
        let rows = read!(self, p => sqlx::query_as::<_, ReportRow>(text)
            .bind(ReviewState::Waiting.word()).bind(f.steward.to_string()).bind(f.reporter.map(|r| r.to_string()))
            .bind(f.winter.map(|w| w.to_string())).bind(f.flag.map(flagged)).bind(f.words.as_deref().map(containing))
            .bind(sent).bind(id).bind(most)
            .fetch_all(p).await)?;
        Ok(reports(rows))
    }

    async fn queue_count(&self, steward: MemberId) -> Result<i64, StoreError> {
        const TEXT: &str = "SELECT COUNT(*) FROM report r WHERE r.state = $1 AND (r.reporter IS NULL OR r.reporter <> $2)
            AND NOT EXISTS (SELECT 1 FROM member s WHERE s.id = r.reporter AND s.suspended_ms IS NOT NULL)";
        Ok(read!(self, p => sqlx::query_scalar(TEXT)
            .bind(ReviewState::Waiting.word()).bind(steward.to_string()).fetch_one(p).await)?)
    }

    async fn queue_groups(
        &self,
        f: &QueueFilter,
        by_winter: bool,
        after: Option<GroupPlace>,
        most: i64,
    ) -> Result<Vec<QueueGroup>, StoreError> {
        const OLDEST: [&str; 2] = [groups_text!("CAST('' AS TEXT)", "oldest", ">", ""), groups_text!("r.winter", "oldest", ">", "")];
        const NEWEST: [&str; 2] =
            [groups_text!("CAST('' AS TEXT)", "newest", "<", " DESC"), groups_text!("r.winter", "newest", "<", " DESC")];
        let text = if f.newest_first { NEWEST } else { OLDEST }[usize::from(by_winter)];
        let (at, reporter, winter) = match after {
            Some((at, reporter, winter)) => {
                (at.as_millisecond(), reporter.to_string(), winter.map(|winter| winter.to_string()).unwrap_or_default())
            }
            None => (if f.newest_first { i64::MAX } else { i64::MIN }, String::new(), String::new()),
        };
        let rows: Vec<(String, String, i64, i64, i64)> = read!(self, p => sqlx::query_as(text)
            .bind(ReviewState::Waiting.word()).bind(f.steward.to_string()).bind(f.reporter.map(|r| r.to_string()))
            .bind(f.winter.map(|w| w.to_string())).bind(f.flag.map(flagged)).bind(f.words.as_deref().map(containing))
            .bind(at).bind(reporter).bind(winter).bind(most)
            .fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(reporter, winter, reports, oldest, newest)| {
            Ok(QueueGroup {
                reporter: MemberId(id("report", &reporter)?),
                winter: if winter.is_empty() { None } else { Some(value("winter", winter.parse())?) },
                reports,
                oldest: moment("report", oldest)?,
                newest: moment("report", newest)?,
            })
        })))
    }

    async fn queue_flags(&self, f: &QueueFilter, most: i64) -> Result<Vec<(Flag, i64)>, StoreError> {
        const TEXT: &str = concat!("SELECT r.flags FROM report r WHERE ", fitting!(), " ORDER BY r.sent_ms, r.id LIMIT $7");
        let rows: Vec<String> = read!(self, p => sqlx::query_scalar(TEXT)
            .bind(ReviewState::Waiting.word()).bind(f.steward.to_string()).bind(f.reporter.map(|r| r.to_string()))
            .bind(f.winter.map(|w| w.to_string())).bind(f.flag.map(flagged)).bind(f.words.as_deref().map(containing)).bind(most)
            .fetch_all(p).await)?;
        let mut counts: Vec<(Flag, i64)> = Flag::ALL.iter().map(|&flag| (flag, 0)).collect();
        for flags in readable(rows.iter().map(|text| value::<Vec<Flagged>, _>("flags", serde_json::from_str(text)))) {
            for (flag, count) in &mut counts {
                *count += i64::from(flags.iter().any(|flagged| flagged.flag == *flag));
            }
        }
        counts.retain(|(_, count)| *count > 0);
        Ok(counts)
    }

    async fn reporter(&self, member: MemberId) -> Result<Option<Reporter>, StoreError> {
        const WHO: &str = "SELECT handle, joined_ms, suspended_ms FROM member WHERE id = $1";
        const COUNTS: &str = "SELECT COUNT(*) FILTER (WHERE state = $2), COUNT(*) FILTER (WHERE state IN ($3, $4)),
            COUNT(*) FILTER (WHERE state = $5), COUNT(*) FILTER (WHERE state <> $8 AND flags LIKE $6),
            COUNT(*) FILTER (WHERE state <> $8 AND flags LIKE $7) FROM report WHERE reporter = $1";
        let who: Option<(String, i64, Option<i64>)> =
            read!(self, p => sqlx::query_as(WHO).bind(member.to_string()).fetch_optional(p).await)?;
        let Some((handle, joined, suspended)) = who else { return Ok(None) };
        let (waiting, counting, rejected, surprising, differing): (i64, i64, i64, i64, i64) = read!(self, p => sqlx::query_as(COUNTS)
            .bind(member.to_string()).bind(ReviewState::Waiting.word())
            .bind(ReviewState::Accepted.word()).bind(ReviewState::AcceptedWithDoubt.word()).bind(ReviewState::Rejected.word())
            .bind(flagged(Flag::Surprising)).bind(flagged(Flag::DiffersFromOthers)).bind(ReviewState::Withdrawn.word())
            .fetch_one(p).await)?;
        Ok(Some(Reporter {
            id: member,
            handle: Handle::stored(handle),
            joined: moment("member", joined)?,
            suspended: suspended.map(|ms| moment("member", ms)).transpose()?,
            waiting,
            counting,
            rejected,
            surprising,
            differing,
        }))
    }

    async fn equal_plants(&self, plant: &Plant, winter: Winter) -> Result<Vec<ReportId>, StoreError> {
        const TEXT: &str = "SELECT r.id FROM plant p JOIN report r ON r.plant = p.id
            WHERE p.owner = $1 AND p.id <> $2 AND r.winter = $3 AND r.state <> $4
            AND (LOWER(p.name_written) = LOWER($5) OR p.cultivar = $6) AND p.culture = $7
            AND p.planted IS NOT DISTINCT FROM $8 AND p.latitude_h IS NOT DISTINCT FROM $9 AND p.longitude_h IS NOT DISTINCT FROM $10
            AND (p.latitude_h IS NOT NULL OR p.place_words IS NOT DISTINCT FROM $11) ORDER BY r.id LIMIT 3";
        let Some(owner) = plant.owner else { return Ok(Vec::new()) };
        let point = plant.place.point.map(crate::records::HeldPoint::hundredths);
        let rows: Vec<String> = read!(self, p => sqlx::query_scalar(TEXT)
            .bind(owner.to_string()).bind(plant.id.to_string()).bind(winter.to_string()).bind(ReviewState::Withdrawn.word())
            .bind(&plant.name_written).bind(plant.cultivar.as_ref().map(crate::catalogue::Slug::as_str)).bind(Culture::code(plant.culture))
            .bind(plant.planted.map(i64::from)).bind(point.map(|p| p.0)).bind(point.map(|p| p.1)).bind(&plant.place.words)
            .fetch_all(p).await)?;
        rows.iter().map(|report| id("report", report).map(ReportId)).collect()
    }

    async fn others_in_cold(
        &self,
        cultivar: &str,
        but: Option<MemberId>,
        within_c: (f64, f64),
        most: i64,
    ) -> Result<Vec<Report>, StoreError> {
        Ok(reports(read!(self, p => sqlx::query_as::<_, ReportRow>(OTHERS)
            .bind(cultivar).bind(ReviewState::Accepted.word()).bind(ReviewState::AcceptedWithDoubt.word())
            .bind(but.map(|member| member.to_string())).bind(within_c.0).bind(within_c.1).bind(most)
            .fetch_all(p).await)?))
    }

    async fn counting_of(&self, member: MemberId, most: i64) -> Result<Vec<Report>, StoreError> {
        Ok(reports(read!(self, p => sqlx::query_as::<_, ReportRow>(COUNTING)
            .bind(member.to_string()).bind(ReviewState::Accepted.word()).bind(ReviewState::AcceptedWithDoubt.word()).bind(most)
            .fetch_all(p).await)?))
    }
}
