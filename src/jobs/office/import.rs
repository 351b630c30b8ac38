//! A table of winters with one reporter a row: reports of members become theirs, those of others are credited to them by name. All rows are
//! taken, or none.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use jiff::Timestamp;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::ids::Ids;
use crate::jobs::reports::expectation::flags;
use crate::jobs::reports::form::{self, PLANT_FIELDS};
use crate::jobs::reports::noticed::of_place_and_stations;
use crate::jobs::reports::submission::table_digest;
use crate::jobs::reports::table_import::{BadTable, MOST_ROWS, RefusedRow, open_table};
use crate::model::snapshot::Snapshot;
use crate::records::release::{Contents, Credited, Incoming};
use crate::records::winter::today;
use crate::records::{
    Actor, Decision, Handle, LogEntry, Member, MemberId, OfficeAct, Plant, PlantId, Reason, Report, ReportId, ReviewState, WinterRecord,
    text,
};
use crate::store::{Store, StoreError, Submission, Verdict};

/// The column that names who reports.
pub const REPORTER: &str = "reporter";
/// Most characters of a reporter's name.
const LONGEST_NAME: usize = 60;

/// Why nothing was taken.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The table.
    #[error(transparent)]
    Table(#[from] BadTable),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Reports that stand here already.
    #[error("{0} of its rows stand here already; nothing was taken")]
    Here(usize),
}

/// A row as it was read.
#[derive(Debug)]
struct Row {
    reporter: String,
    plant: form::PlantSent,
    plant_key: String,
    record: WinterRecord,
    key: String,
}

/// What a table holds.
#[derive(Debug)]
pub struct ReporterTable {
    rows: Vec<Row>,
    /// Each reporter as written, with the member they are, where they are one.
    pub reporters: BTreeMap<String, Option<Member>>,
    /// How many rows each has.
    pub counts: BTreeMap<String, usize>,
}

/// What is to be kept of a table.
#[derive(Debug)]
pub struct Taken {
    /// Reports of members.
    pub submissions: Vec<Submission>,
    /// Reports of others.
    pub outsiders: Contents,
    /// What the steward who brings them says of them, where they say it at once.
    pub verdicts: Vec<Verdict>,
}

fn read_rows(bytes: &[u8], snapshot: &Snapshot, now: Timestamp) -> Result<Vec<Row>, BadTable> {
    let (mut reader, header, lines) = open_table(bytes, Some(REPORTER))?;
    let (mut rows, mut refused, mut seen) = (Vec::new(), Vec::new(), BTreeSet::new());
    for (place, row) in reader.records().enumerate() {
        if place >= MOST_ROWS {
            return Err(BadTable::TooLarge);
        }
        let row = row.map_err(|error| BadTable::NotATable(error.to_string()))?;
        let cells: Vec<(String, String)> = header.iter().zip(&row).map(|(name, cell)| (name.to_owned(), cell.to_owned())).collect();
        let (who, pairs): (Vec<_>, Vec<_>) = cells.into_iter().partition(|(name, _)| name == REPORTER);
        let typed = who.first().map(|(_, who)| who.clone()).unwrap_or_default();
        let mut why = Vec::new();
        let reporter = match text::line(&typed, LONGEST_NAME) {
            Ok(Some(name)) => name,
            Ok(None) => {
                why.push("reporter: name who saw it".to_owned());
                String::new()
            }
            Err(error) => {
                why.push(format!("reporter “{}”: {error}", typed.chars().take(40).collect::<String>()));
                String::new()
            }
        };
        match form::read_new(&pairs, &snapshot.catalogue, today(now)) {
            Ok((plant, record)) if why.is_empty() => {
                let of_plant: Vec<_> = pairs.iter().filter(|(name, _)| PLANT_FIELDS.contains(&name.as_str())).cloned().collect();
                let key = format!("table:{}", table_digest(&pairs));
                if seen.insert((reporter.clone(), key.clone())) {
                    rows.push(Row { reporter, plant, plant_key: table_digest(&of_plant), record, key });
                    continue;
                }
                why.push("an earlier row is the same".to_owned());
            }
            Ok(_) => {}
            Err(errors) => why.extend(errors.iter().map(|error| format!("{} “{}”: {}", error.field, error.value, error.message))),
        }
        refused.push(RefusedRow { line: lines.line(row.position()), why });
    }
    if !refused.is_empty() {
        return Err(BadTable::Rows(refused));
    }
    if rows.is_empty() {
        return Err(BadTable::NotATable("the table has a header and no rows".to_owned()));
    }
    Ok(rows)
}

/// Reads a table and finds which of its reporters are members; nothing is kept.
///
/// # Errors
/// Every row that cannot be used, with its line.
pub async fn read(store: &Arc<dyn Store>, bytes: &[u8], snapshot: &Snapshot, now: Timestamp) -> Result<ReporterTable, ImportError> {
    let rows = read_rows(bytes, snapshot, now)?;
    let (mut reporters, mut counts) = (BTreeMap::new(), BTreeMap::new());
    for row in &rows {
        *counts.entry(row.reporter.clone()).or_insert(0) += 1;
        if !reporters.contains_key(&row.reporter) {
            let folded = Handle::stored(row.reporter.clone()).folded();
            let member = store.sign_in_facts(&folded).await?.map(|(member, _)| member);
            reporters.insert(row.reporter.clone(), member);
        }
    }
    Ok(ReporterTable { rows, reporters, counts })
}

/// An id made of words: the same words, the same id, in another table too.
fn id_of(words: &str) -> Uuid {
    let mut bytes = [0_u8; 16];
    bytes.iter_mut().zip(Sha256::digest(words)).for_each(|(byte, hashed)| *byte = hashed);
    Uuid::from_bytes(bytes)
}

impl ReporterTable {
    /// What is to be kept of it; `accepting`: with the word of the steward who brings it on every report but their own.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn taken(
        self,
        store: &Arc<dyn Store>,
        ids: &Ids,
        snapshot: &Snapshot,
        steward: &Member,
        accepting: bool,
        now: Timestamp,
    ) -> Result<Taken, StoreError> {
        let mut taken = Taken { submissions: Vec::new(), outsiders: Contents::default(), verdicts: Vec::new() };
        let mut known: BTreeSet<PlantId> = BTreeSet::new();
        for row in self.rows {
            let member = self.reporters.get(&row.reporter).cloned().flatten();
            let owner = member.as_ref().map(|member| member.id);
            let whose = owner.map_or_else(|| format!("outsider {}", row.reporter), |owner| owner.to_string());
            // A member's plants out of tables have one id whoever brings the table.
            let plant_id = PlantId(id_of(&format!("plant {whose} {}", row.plant_key)));
            let plant = row.plant.planted_by(owner.unwrap_or(MemberId(Uuid::nil())), plant_id);
            let plant = Plant { owner, ..plant };
            let mut raised = flags(&plant, &row.record, snapshot, &[]);
            raised.extend(of_place_and_stations(store, &plant, &row.record).await?);
            raised.sort();
            let report = if let Some(member) = member {
                let plant_is_new = known.insert(plant_id) && store.plant(plant_id).await?.is_none();
                let report = ReportId(ids.fresh(now));
                let (key, flags, record) = (row.key, raised, row.record);
                let digest = key.clone();
                let member = member.id;
                taken.submissions.push(Submission {
                    member,
                    digest,
                    key,
                    report,
                    plant,
                    plant_is_new,
                    record,
                    nursery: None,
                    flags,
                    at: now,
                });
                report
            } else {
                let id = ReportId(id_of(&format!("report {whose} {}", row.key)));
                let code = crate::token::hash(format!("reporter {whose}")).chars().take(12).collect();
                let credited = Credited { recorded_by: row.reporter, reporter: Some(code) };
                let report = Report {
                    id,
                    plant,
                    reporter: None,
                    record: row.record,
                    version: 1,
                    state: ReviewState::Waiting,
                    flags: raised,
                    sent: now,
                    changed: now,
                    credited: Some(credited.clone()),
                };
                taken.outsiders.reports.push(Incoming { report, credited });
                id
            };
            if accepting && owner != Some(steward.id) {
                let decision = Decision {
                    version: 1,
                    steward: Some(steward.id),
                    state: ReviewState::Accepted,
                    reason: Reason::Plausible,
                    words: None,
                    at: now,
                    deed: None,
                    undone: None,
                };
                taken.verdicts.push(Verdict { report, stood: Some(ReviewState::Waiting), decision });
            }
        }
        Ok(taken)
    }
}

impl Taken {
    /// How many reports it holds.
    pub fn len(&self) -> usize {
        self.submissions.len() + self.outsiders.reports.len()
    }

    /// Whether it holds none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Keeps all of it, or nothing where a row stands here already. The deed is what takes the verdicts back.
    ///
    /// # Errors
    /// Rows that stand here already; the store.
    pub async fn keep(&self, store: &Arc<dyn Store>, ids: &Ids, steward: &Member, now: Timestamp) -> Result<Uuid, ImportError> {
        let deed = ids.fresh(now);
        let entry = LogEntry {
            id: ids.fresh(now),
            at: now,
            actor: Actor::Member(steward.id),
            act: OfficeAct::Imported,
            about: None,
            detail: format!("{} reports, {} taken at once", self.len(), self.verdicts.len()),
        };
        match store.import_by_hand(&self.submissions, &self.outsiders, (deed, &self.verdicts), &entry).await? {
            0 => Ok(deed),
            here => Err(ImportError::Here(here)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_words_make_the_same_id_and_others_another() {
        assert_eq!(id_of("plant ada x"), id_of("plant ada x"));
        assert_ne!(id_of("plant ada x"), id_of("plant ada y"));
    }
}
