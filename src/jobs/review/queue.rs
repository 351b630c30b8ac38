//! What a steward asks of the queue: filters, order and page, read from an address and written back to one.

use jiff::Timestamp;
use uuid::Uuid;

use crate::address;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::records::{Flag, MemberId, Report, ReportId, Winter};
use crate::store::{GroupPlace, QueueFilter, QueueGroup};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Which come first.
    pub enum QueueOrder: "order" {
        /// The oldest.
        Oldest = "oldest" => "oldest first",
        /// The newest.
        Newest = "newest" => "newest first",
    }
}

vocabulary! {
    /// How the queue is shown.
    pub enum Grouping: "grouping" {
        /// One report a row.
        Reports = "reports" => "each report",
        /// One garden's winter a row.
        Garden = "garden" => "garden and winter",
        /// One reporter a row.
        Reporter = "reporter" => "reporter",
        /// One flag a row.
        Flag = "flag" => "what was noticed",
    }
}

/// Fields of the form.
pub const FIELDS: [&str; 7] = ["by", "sort", "q", "winter", "flag", "reporter", "after"];
/// What a page may be told beside: a deed that was done, reports that were left out of it, and a correction.
pub const TOLD: [&str; 3] = ["done", "left", "told"];
/// Most characters of the words searched for.
const LONGEST_WORDS: usize = 80;

/// A question to the queue.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct QueueQuery {
    /// How it is shown.
    pub by: Option<Grouping>,
    /// Which come first.
    pub order: Option<QueueOrder>,
    /// Words in the plant's name or the reporter's.
    pub words: Option<String>,
    /// Of this winter.
    pub winter: Option<Winter>,
    /// With this flag.
    pub flag: Option<Flag>,
    /// Of this member.
    pub reporter: Option<MemberId>,
    /// After this place: words of [`cursor`] or of a group.
    pub after: Option<String>,
}

/// A place in the queue: when the report was sent, ms, and its id.
pub fn cursor(report: &Report) -> String {
    format!("{}_{}", report.sent.as_millisecond(), report.id)
}

fn place(cursor: &str) -> Option<(Timestamp, ReportId)> {
    let (sent, id) = cursor.split_once('_')?;
    Some((Timestamp::from_millisecond(sent.parse().ok()?).ok()?, ReportId(Uuid::parse_str(id).ok()?)))
}

impl QueueQuery {
    /// From the pairs of an address.
    ///
    /// # Errors
    /// What cannot be used, by field; unknown fields too.
    pub fn read(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let known: Vec<&str> = FIELDS.into_iter().chain(TOLD).collect();
        let mut fields = Fields::new(pairs, &known);
        let reporter = fields.value("reporter");
        let query = Self {
            by: fields.word("by"),
            order: fields.word("sort"),
            words: fields.line("q", LONGEST_WORDS),
            winter: fields.word("winter"),
            flag: fields.word("flag"),
            reporter: reporter.and_then(|id| {
                fields.errors.keep("reporter", id, Uuid::parse_str(id).map(MemberId).map_err(|_| "there is no such member"))
            }),
            after: fields.value("after").map(str::to_owned),
        };
        if query.grouping() == Grouping::Reports && query.after.as_deref().is_some_and(|after| place(after).is_none()) {
            fields.errors.add("after", query.after.as_deref().unwrap_or_default(), "this is no place in the queue; begin at its start");
        }
        fields.errors.into_result()?;
        Ok(query)
    }

    /// The pairs of its address, without the page.
    pub fn pairs(&self) -> Vec<(&'static str, String)> {
        [
            ("by", self.by.map(|by| by.word().to_owned())),
            ("sort", self.order.map(|order| order.word().to_owned())),
            ("q", self.words.clone()),
            ("winter", self.winter.map(|winter| winter.to_string())),
            ("flag", self.flag.map(|flag| flag.word().to_owned())),
            ("reporter", self.reporter.map(|reporter| reporter.to_string())),
        ]
        .into_iter()
        .filter_map(|(name, value)| Some((name, value?)))
        .collect()
    }

    /// Its address with some pairs more.
    pub fn address(&self, more: &[(&'static str, String)]) -> String {
        address::REVIEW.with(self.pairs().into_iter().chain(more.iter().cloned()))
    }

    /// How it is shown.
    pub fn grouping(&self) -> Grouping {
        self.by.unwrap_or(Grouping::Reports)
    }

    /// Whether anything narrows it.
    pub fn narrows(&self) -> bool {
        self.words.is_some() || self.winter.is_some() || self.flag.is_some() || self.reporter.is_some()
    }

    /// The same as the store asks it.
    pub fn filter(&self, steward: MemberId) -> QueueFilter {
        QueueFilter {
            steward,
            reporter: self.reporter,
            winter: self.winter,
            flag: self.flag,
            words: self.words.clone(),
            newest_first: self.order == Some(QueueOrder::Newest),
            after: self.after.as_deref().and_then(place),
        }
    }

    /// The same after a report, as the store asks it.
    pub fn filter_after(&self, steward: MemberId, report: &Report) -> QueueFilter {
        QueueFilter { after: Some((report.sent, report.id)), ..self.filter(steward) }
    }
}

/// The place after a group, as an address says it.
pub fn group_cursor(group: &QueueGroup, newest_first: bool) -> String {
    let at = if newest_first { group.newest } else { group.oldest };
    format!("{}_{}_{}", at.as_millisecond(), group.reporter, group.winter.map(|winter| winter.to_string()).unwrap_or_default())
}

/// A place among groups.
///
/// # Errors
/// Where the words are no place.
pub fn group_place(after: &str) -> Result<GroupPlace, FieldErrors> {
    let place = || {
        let (at, rest) = after.split_once('_')?;
        let (reporter, winter) = rest.split_once('_')?;
        let at = Timestamp::from_millisecond(at.parse().ok()?).ok()?;
        let winter = if winter.is_empty() { None } else { Some(winter.parse().ok()?) };
        Some((at, MemberId(Uuid::parse_str(reporter).ok()?), winter))
    };
    let mut errors = FieldErrors::default();
    errors.keep("after", after, place().ok_or("this is no place in the queue; begin at its start")).ok_or(errors)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    #[test]
    fn a_question_reads_back_from_its_own_address_and_what_is_no_question_is_named() {
        let asked = pairs(&[
            ("by", "garden"),
            ("sort", "newest"),
            ("q", "celeste"),
            ("winter", "2025/26"),
            ("flag", "NAME_UNKNOWN"),
            ("reporter", "01890000-0000-7000-8000-000000000000"),
        ]);
        let query = QueueQuery::read(&asked).unwrap();
        let again: Vec<_> = query.pairs().into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
        assert_eq!(QueueQuery::read(&again).unwrap(), query);
        assert_eq!(again, asked);
        for (field, value) in
            [("sort", "colour"), ("flag", "RED"), ("reporter", "ada"), ("after", "x"), ("winter", "cold"), ("colour", "blue")]
        {
            assert!(QueueQuery::read(&pairs(&[(field, value)])).unwrap_err().of(field).is_some(), "{field}");
        }
    }
}
