//! Decisions of a steward: on one report or on several at once, each after its form, and taken back together.

use std::sync::Arc;

use jiff::Timestamp;
use uuid::Uuid;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::review::decision::ReviewError;
use crate::records::review::{Judged, NotDecided};
use crate::records::{Actor, Decision, LogEntry, Member, MemberId, OfficeAct, Reason, Report, ReportId, ReviewState};
use crate::store::{Deed, Outcome, Store, Undone, Verdict};

/// Fields of a decision on one report, and of one on several.
pub const FIELDS: [&str; 5] = ["version", "stood", "state", "reason", "words"];
/// Most reports that are decided on in one go: more than a garden has.
pub const MOST: usize = 500;

/// What a steward says of reports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// What becomes of them.
    pub state: ReviewState,
    /// Why.
    pub reason: Reason,
    /// Words for the reporters.
    pub words: Option<String>,
}

impl Said {
    /// From the fields of a form. A report that is simply taken needs no reason.
    pub fn read(fields: &mut Fields<'_>) -> Option<Self> {
        let state: Option<ReviewState> = fields.needed_word("state", "choose what becomes of the report");
        let reason: Option<Reason> = match (fields.value("reason"), state) {
            (None, Some(ReviewState::Accepted)) => Some(Reason::Plausible),
            _ => fields.needed_word("reason", "choose a reason"),
        };
        let words = fields.lines("words", 1000);
        Some(Self { state: state?, reason: reason?, words }).filter(|_| fields.errors.is_empty())
    }
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    /// Its id, to take it back by.
    pub deed: Uuid,
    /// Reports decided on.
    pub kept: usize,
    /// Reports left out: changed, taken back or decided on meanwhile, the steward's own, or of a suspended member.
    pub left: usize,
}

/// What the log says of a steward's act; the store adds how many.
fn entry(ids: &Ids, steward: &Member, act: OfficeAct, about: Option<MemberId>, now: Timestamp) -> LogEntry {
    LogEntry { id: ids.fresh(now), at: now, actor: Actor::Member(steward.id), act, about, detail: String::new() }
}

/// Decides on one report.
///
/// # Errors
/// Values that cannot be used, the rules of review, and a report that has moved on or was decided on since the steward looked.
pub async fn decide_one(
    store: &Arc<dyn Store>,
    ids: &Ids,
    steward: &Member,
    report: &Report,
    pairs: &[(String, String)],
    now: Timestamp,
) -> Result<Done, ReviewError> {
    let mut fields = Fields::new(pairs, &FIELDS);
    let said = Said::read(&mut fields);
    let version: Option<i64> = fields.value("version").and_then(|typed| typed.parse().ok());
    let stood: Option<ReviewState> = fields.word("stood");
    let (Some(said), true) = (said, fields.errors.is_empty()) else { return Err(ReviewError::Fields(fields.errors)) };
    if version.is_some_and(|version| version != report.version) {
        return Err(ReviewError::Moved);
    }
    let decision = Decision::new(report, steward, said.state, said.reason, said.words, now)?;
    if stood.is_some_and(|stood| stood != report.state) {
        return Err(ReviewError::Decided);
    }
    let deed = ids.fresh(now);
    let entry = entry(ids, steward, OfficeAct::Judged, report.reporter, now);
    match store.judge(deed, &[Verdict { report: report.id, stood, decision }], &entry).await?.first() {
        Some(Outcome::Kept) => {}
        Some(Outcome::Decided) => return Err(ReviewError::Decided),
        _ => return Err(ReviewError::Moved),
    }
    tracing::info!(report = %report.id, steward = %steward.id, state = said.state.word(), "a report was judged");
    Ok(Done { deed, kept: 1, left: 0 })
}

/// Reports of a form of several: `report=ID:VERSION`, each once.
fn ticked(pairs: &[(String, String)]) -> Result<Vec<(ReportId, i64)>, FieldErrors> {
    let mut errors = FieldErrors::default();
    let mut all: Vec<(ReportId, i64)> = Vec::new();
    for (_, value) in pairs.iter().filter(|(name, _)| name == "report") {
        let one = value.split_once(':').and_then(|(id, version)| Some((ReportId(Uuid::parse_str(id).ok()?), version.parse().ok()?)));
        if let Some(one) = errors.keep("report", value, one.ok_or("this is no report of the list"))
            && !all.iter().any(|(id, _)| *id == one.0)
        {
            all.push(one);
        }
    }
    if all.is_empty() && errors.is_empty() {
        errors.add("report", "", "tick the reports that it is about");
    }
    if all.len() > MOST {
        errors.add("report", "", format!("{} reports are too many for one go; at most {MOST}", all.len()));
    }
    errors.into_result()?;
    Ok(all)
}

/// Decides on every ticked report that still waits as it was shown; says how many others were left.
///
/// # Errors
/// Values that cannot be used; nothing is decided then.
pub async fn decide_many(
    store: &Arc<dyn Store>,
    ids: &Ids,
    steward: &Member,
    pairs: &[(String, String)],
    now: Timestamp,
) -> Result<Done, ReviewError> {
    let one_each: Vec<(String, String)> = pairs.iter().filter(|(name, _)| name != "report").cloned().collect();
    let mut fields = Fields::new(&one_each, &["state", "reason", "words"]);
    let said = Said::read(&mut fields);
    let wrong = fields.errors;
    let reports = FieldErrors::together(wrong.into_result(), ticked(pairs)).map_err(ReviewError::Fields)?;
    let Some(said) = said else { return Err(ReviewError::Fields(FieldErrors::default())) };
    let mut verdicts = Vec::with_capacity(reports.len());
    let mut senders = Vec::new();
    let mut left = 0;
    for (id, version) in reports {
        let Some(report) = store.report(id).await?.filter(|report| report.version == version) else {
            left += 1;
            continue;
        };
        match Decision::new(&report, steward, said.state, said.reason, said.words.clone(), now) {
            Ok(decision) => {
                senders.push(report.reporter);
                verdicts.push(Verdict { report: id, stood: Some(ReviewState::Waiting), decision });
            }
            Err(NotDecided::Own | NotDecided::Withdrawn) => left += 1,
            Err(rule) => return Err(rule.into()),
        }
    }
    let deed = ids.fresh(now);
    // Those of one garden's winter are of one member, whom the log names.
    senders.dedup();
    let about = if let [only] = senders.as_slice() { *only } else { None };
    let outcomes = store.judge(deed, &verdicts, &entry(ids, steward, OfficeAct::Judged, about, now)).await?;
    let kept = outcomes.iter().filter(|outcome| **outcome == Outcome::Kept).count();
    tracing::info!(steward = %steward.id, reports = kept, state = said.state.word(), "reports were judged together");
    Ok(Done { deed, kept, left: left + outcomes.len() - kept })
}

/// Sets every counting report of a member aside, on a steward's word; they leave the model at its next fit.
///
/// # Errors
/// Where words are missing, or it is the steward's own reports.
pub async fn set_aside_all_of(
    store: &Arc<dyn Store>,
    ids: &Ids,
    steward: &Member,
    member: MemberId,
    words: Option<String>,
    now: Timestamp,
) -> Result<Done, ReviewError> {
    let mut verdicts = Vec::new();
    for report in store.counting_of(member, i64::MAX).await? {
        let judged = Judged { version: report.version, reporter: report.reporter, state: report.state };
        let decision = Decision::on(judged, steward, ReviewState::Rejected, Reason::Other, words.clone(), now)?;
        verdicts.push(Verdict { report: report.id, stood: Some(report.state), decision });
    }
    let deed = ids.fresh(now);
    let outcomes = store.judge(deed, &verdicts, &entry(ids, steward, OfficeAct::SetAsideAll, Some(member), now)).await?;
    let kept = outcomes.iter().filter(|outcome| **outcome == Outcome::Kept).count();
    tracing::warn!(member = %member, steward = %steward.id, reports = kept, "every counting report of a member was set aside");
    Ok(Done { deed, kept, left: outcomes.len() - kept })
}

/// Takes a deed back: the steward's own, or anybody's for an administrator.
///
/// # Errors
/// Where there is none, or it is another's.
pub async fn undo(store: &Arc<dyn Store>, ids: &Ids, steward: &Member, deed: Uuid, now: Timestamp) -> Result<(Deed, Undone), ReviewError> {
    let kept = store.deed(deed).await?.ok_or(ReviewError::Absent)?;
    if kept.steward != Some(steward.id) && !steward.may_administer() {
        return Err(ReviewError::Absent);
    }
    let undone = store.undo(deed, now, &entry(ids, steward, OfficeAct::TakenBack, None, now)).await?;
    tracing::info!(%deed, steward = %steward.id, reports = undone.back, "decisions were taken back");
    Ok((kept, undone))
}
