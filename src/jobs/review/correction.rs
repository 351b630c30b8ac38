//! A steward's correction of a plant's name or place. What was said before is kept, and the reporter reads what was changed and why.

use std::sync::Arc;

use jiff::Timestamp;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::garden::plant_edit::{answers, changes, state};
use crate::jobs::reports::form::{self, PLANT_FIELDS};
use crate::jobs::reports::noticed::noticed;
use crate::jobs::review::decision::ReviewError;
use crate::model::snapshot::Snapshot;
use crate::records::review::NotDecided;
use crate::records::winter::today;
use crate::records::{Actor, LogEntry, Member, Notice, NoticeKind, OfficeAct, Plant, Report, ReviewState};
use crate::store::{EarlierPlant, PlantChange, Store};

/// Fields of the form: what may be corrected, the state that the correction begins from, and the words.
pub const FIELDS: [&str; 6] = ["name", "place", "latitude", "longitude", "from", "correction_words"];
/// Those of them that are answers of the plant.
const CORRECTED: [&str; 4] = ["name", "place", "latitude", "longitude"];
/// Most characters of the words.
const LONGEST_WORDS: usize = 1000;

/// What the form shows of a plant.
pub fn shown(plant: &Plant) -> Vec<(String, String)> {
    answers(plant).into_iter().filter(|(name, _)| CORRECTED.contains(&name.as_str())).collect()
}

/// Corrects the plant of a report and tells its reporter. Reports of it that counted wait again where the model reads them otherwise now.
///
/// # Errors
/// Values that cannot be used, words that are missing, a correction that changes nothing, the steward's own plant, or one that was changed
/// meanwhile.
pub async fn correct(
    store: &Arc<dyn Store>,
    ids: &Ids,
    steward: &Member,
    report: &Report,
    pairs: &[(String, String)],
    snapshot: &Snapshot,
    now: Timestamp,
) -> Result<(), ReviewError> {
    let stands = &report.plant;
    let Some(owner) = stands.owner.filter(|owner| *owner != steward.id) else { return Err(NotDecided::Own.into()) };
    let mut fields = Fields::new(pairs, &FIELDS);
    let words = fields.lines("correction_words", LONGEST_WORDS);
    if words.is_none() && fields.value("correction_words").is_none() {
        fields.errors.add("correction_words", "", "say why, for the reporter who reads it");
    }
    if fields.value("from").is_some_and(|from| from != state(stands)) {
        return Err(ReviewError::Moved);
    }
    let wrong = fields.errors;
    // Everything else of the plant stays as its owner said it.
    let kept = answers(stands).into_iter().filter(|(name, _)| !CORRECTED.contains(&name.as_str()));
    let whole: Vec<_> =
        kept.chain(pairs.iter().filter(|(name, value)| CORRECTED.contains(&name.as_str()) && !value.trim().is_empty()).cloned()).collect();
    let mut plant_fields = Fields::new(&whole, &PLANT_FIELDS);
    let sent = form::plant(&mut plant_fields, &snapshot.catalogue, today(now));
    FieldErrors::together(wrong.into_result(), plant_fields.errors.into_result()).map_err(ReviewError::Fields)?;
    let (Some(sent), Some(words)) = (sent, words) else { return Err(ReviewError::Absent) };
    let becomes = sent.planted_by(owner, stands.id);
    if state(&becomes) == state(stands) {
        let mut errors = FieldErrors::default();
        errors.add("name", "", "nothing is changed: correct the name or the place");
        return Err(ReviewError::Fields(errors));
    }
    let mut reports = Vec::new();
    for other in store.reports_of_plant(stands.id).await? {
        let mut beside = store.reports_of_plant(stands.id).await?;
        beside.retain(|r| r.record.winter == other.record.winter && r.id != other.id && r.state != ReviewState::Withdrawn);
        reports.push((other.id, noticed(store, &becomes, &other.record, snapshot, &beside).await?));
    }
    let said = answers(stands);
    let earlier = [EarlierPlant { answers: said.clone(), until: now }];
    let changed = changes(&becomes, &earlier);
    let change = PlantChange { stands: stands.clone(), becomes, said, reports, at: now };
    if !store.change_plant(&change).await? {
        return Err(ReviewError::Moved);
    }
    let told = changed.iter().flat_map(|change| &change.fields).map(|(what, was, is)| match (was.is_empty(), is.is_empty()) {
        (true, _) => format!("{what}: “{is}”"),
        (_, true) => format!("{what}: no longer “{was}”"),
        _ => format!("{what}: “{is}” for “{was}”"),
    });
    let words = format!("{}. {words}", told.collect::<Vec<_>>().join("; "));
    let notice = Notice {
        id: ids.fresh(now),
        member: owner,
        author: Some(steward.id),
        kind: NoticeKind::Correction,
        about: Some(report.id.0),
        words,
        at: now,
        seen: None,
    };
    let entry = LogEntry {
        id: ids.fresh(now),
        at: now,
        actor: Actor::Member(steward.id),
        act: OfficeAct::Corrected,
        about: Some(owner),
        detail: format!("report {}", report.id),
    };
    store.tell_by_hand(&notice, &entry).await?;
    tracing::info!(report = %report.id, steward = %steward.id, "a plant was corrected");
    Ok(())
}
