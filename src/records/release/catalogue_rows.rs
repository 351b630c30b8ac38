//! The tables of the catalogue in a package: what is known of each fig with its source, the sources, and what people changed.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::columns::{Column, Kind, column, words};
use super::read_cells::{RefusedRow, id, rows, sent_on};
use crate::catalogue::change::Change;
use crate::catalogue::found::Standing;
use crate::catalogue::{Catalogue, Grade};
use crate::records::{Proposal, ProposalId, ProposalState, ProposalStep, text};

/// Most characters of a text of a change that comes in: what the longest field of its form takes, and more.
const LONGEST_TEXT: usize = 2000;
/// Most characters of a name that something is credited to.
const LONGEST_NAME: usize = 60;

/// A row of `cultivar-facts.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct FactRow {
    cultivar: String,
    number: usize,
    #[serde(rename = "trait")]
    trait_name: String,
    value: String,
    standing: Standing,
    reason: String,
    remark: String,
    provenance: String,
    sources: String,
    source: String,
    year: String,
    address: String,
    grade: Option<Grade>,
}

/// Columns of `cultivar-facts.csv`.
pub(super) fn facts() -> Vec<Column> {
    use Kind::{Integer, Text};
    vec![
        column("cultivar", Text, true, "", "Key into cultivars.csv"),
        column("number", Integer, true, "", "Number of the fact among those of its fig, from 1"),
        column("trait", Text, true, "dwc:measurementType", "What it is about"),
        column("value", Text, true, "dwc:measurementValue", "What it says"),
        words::<Standing>("standing", true, "", "Whether it counts, where sources differ"),
        column("reason", Text, false, "", "Why it counts, or does not"),
        column("remark", Text, false, "dwc:measurementRemarks", "Circumstances, or words of the source"),
        column("provenance", Text, false, "", "How it came to be known: READ, DERIVED, COMMON_PRACTICE, MEMORY or UNKNOWN"),
        column("sources", Text, false, "", "Keys into sources.csv, parted by spaces"),
        column("source", Text, false, "dcterms:source", "Title of the work, where it has no key"),
        column("year", Text, false, "", "Its year in words, where it has no key"),
        column("address", Text, false, "", "Where it stood, where it has no key"),
        words::<Grade>("grade", false, "", "How strong it is as evidence, where it has no key"),
    ]
}

/// A row of `sources.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct SourceRow {
    source: String,
    title: String,
    author: Option<String>,
    year: Option<u16>,
    address: Option<String>,
    grade: Grade,
}

/// Columns of `sources.csv`.
pub(super) fn sources() -> Vec<Column> {
    use Kind::{Text, Year};
    vec![
        column("source", Text, true, "", "Key"),
        column("title", Text, true, "dcterms:title", "Title, or what it is"),
        column("author", Text, false, "dcterms:creator", "Author or agency, where shown"),
        column("year", Year, false, "dcterms:date", "Year, where shown"),
        column("address", Text, false, "dcterms:identifier", "Where it stood; withheld for private growers and sellers"),
        words::<Grade>("grade", true, "", "How strong it is as evidence"),
    ]
}

/// A row of `catalogue-changes.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChangeRow {
    /// Id.
    pub change_id: String,
    /// Place in the order of acceptance; empty where it stands no longer.
    pub number: Option<i64>,
    /// State.
    pub state: ProposalState,
    /// Kind.
    pub kind: String,
    /// The entry that it is about.
    pub cultivar: Option<String>,
    /// The other entry that it is about.
    pub other: Option<String>,
    /// What it says, JSON.
    pub says: String,
    /// Day it was proposed.
    pub proposed_on: Date,
    /// Who proposed it, as they wish to be named.
    pub proposed_by: String,
    /// Day of the last decision.
    pub decided_on: Date,
    /// Who decided, as they wish to be named.
    pub decided_by: String,
}

/// Columns of `catalogue-changes.csv`.
pub(super) fn changes() -> Vec<Column> {
    use Kind::{Integer, Text};
    vec![
        column("change_id", Text, true, "", "Id of the change"),
        column("number", Integer, false, "", "Place in the order of acceptance; empty where it was undone"),
        words::<ProposalState>("state", true, "", "State"),
        words::<crate::catalogue::change::ChangeKind>("kind", true, "", "Kind"),
        column("cultivar", Text, false, "", "The entry that it is about"),
        column("other", Text, false, "", "The other entry that it is about"),
        column("says", Text, true, "", "What it says, as JSON"),
        column("proposed_on", Kind::Date, true, "dcterms:created", "Day it was proposed"),
        column("proposed_by", Text, true, "dcterms:creator", "Who proposed it, as they wish to be named"),
        column("decided_on", Kind::Date, true, "dcterms:modified", "Day of the last decision"),
        column("decided_by", Text, true, "", "Who decided, as they wish to be named"),
    ]
}

/// A value as a cell: numbers stay numbers.
fn value_cell(value: &str) -> String {
    if value.parse::<f64>().is_ok() { value.to_owned() } else { text::exported(value) }
}

/// Rows of facts: what counts, then what stands beside it, fig by fig.
pub(super) fn fact_rows(catalogue: &Catalogue) -> Vec<FactRow> {
    let counts = catalogue.facts().iter().map(|fact| FactRow {
        cultivar: fact.cultivar.clone(),
        number: 0,
        trait_name: fact.trait_name.clone(),
        value: value_cell(&fact.value),
        standing: Standing::Counts,
        reason: String::new(),
        remark: text::exported(&fact.remark),
        provenance: fact.provenance.clone(),
        sources: fact.sources.clone(),
        source: String::new(),
        year: String::new(),
        address: String::new(),
        grade: None,
    });
    let beside = catalogue.found().iter().map(|fact| FactRow {
        cultivar: fact.cultivar.clone(),
        number: 0,
        trait_name: fact.trait_name.clone(),
        value: value_cell(&fact.value),
        standing: fact.standing,
        reason: text::exported(&fact.reason),
        remark: text::exported(&fact.note),
        provenance: String::new(),
        sources: String::new(),
        source: text::exported(&fact.title),
        year: text::exported(&fact.year),
        address: text::exported(&fact.address),
        grade: Some(fact.grade),
    });
    let mut all: Vec<FactRow> = counts.chain(beside).collect();
    let place = |slug: &str| catalogue.place(slug).unwrap_or(usize::MAX);
    all.sort_by_key(|row| place(&row.cultivar));
    for of_one in all.chunk_by_mut(|a, b| a.cultivar == b.cultivar) {
        of_one.iter_mut().zip(1..).for_each(|(row, number)| row.number = number);
    }
    all
}

/// Rows of sources, in the order of the catalogue.
pub(super) fn source_rows(catalogue: &Catalogue) -> Vec<SourceRow> {
    let row = |source: &crate::catalogue::Source| SourceRow {
        source: source.key.to_string(),
        title: text::exported(&source.title),
        author: source.author.as_deref().map(text::exported),
        year: source.year,
        address: source.address.as_deref().map(text::exported),
        grade: source.grade,
    };
    catalogue.sources().iter().map(row).collect()
}

impl ChangeRow {
    /// What is published of a change; `number`: its place among those that stand, `proposed_by` and `decided_by` as they wish to be named.
    ///
    /// # Errors
    /// A change that cannot be written as JSON: a defect.
    pub fn new(
        change: &Proposal,
        decided: &ProposalStep,
        number: Option<i64>,
        proposed_by: &str,
        decided_by: &str,
    ) -> Result<Self, serde_json::Error> {
        Ok(Self {
            change_id: change.id.to_string(),
            number,
            state: change.state,
            kind: change.change.kind().word().to_owned(),
            cultivar: change.change.cultivar().map(ToString::to_string),
            other: change.change.other().map(ToString::to_string),
            // Semicolons part the cells for spreadsheets of half the world; JSON has another way to write one.
            says: serde_json::to_string(&change.change)?.replace(';', "\\u003b"),
            proposed_on: super::rows::day(change.sent),
            proposed_by: text::exported(proposed_by),
            decided_on: super::rows::day(decided.at),
            decided_by: text::exported(decided_by),
        })
    }
}

/// A change that comes in from a package: the proposal, and the decision on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IncomingChange {
    /// The proposal, as it stands.
    pub proposal: Proposal,
    /// The last decision.
    pub decided: ProposalStep,
}

/// Reads the changes of a package, in the order of their acceptance.
pub(super) fn read_changes(bytes: &[u8], refused: &mut Vec<RefusedRow>) -> Vec<IncomingChange> {
    let mut all = Vec::new();
    for (line, row) in rows::<ChangeRow>("catalogue-changes.csv", bytes, refused) {
        match incoming(&row) {
            Ok(change) => all.push(change),
            Err(reason) => refused.push(RefusedRow { file: "catalogue-changes.csv", line, reason }),
        }
    }
    all.sort_by_key(|change| (change.proposal.number.is_none(), change.proposal.number));
    all
}

/// Every text of a change is one that a form would take: of bounded length and without hidden characters.
fn check_texts(said: &Value) -> Result<(), String> {
    match said {
        Value::String(said) => text::lines(said, LONGEST_TEXT).map(|_| ()).map_err(|error| format!("says: {error}")),
        Value::Array(all) => all.iter().try_for_each(check_texts),
        Value::Object(all) => all.values().try_for_each(check_texts),
        Value::Null | Value::Bool(_) | Value::Number(_) => Ok(()),
    }
}

fn incoming(row: &ChangeRow) -> Result<IncomingChange, String> {
    let change: Change = serde_json::from_str(&row.says).map_err(|error| format!("says: {error}"))?;
    if !matches!(row.state, ProposalState::Accepted | ProposalState::Undone) {
        return Err(format!("state “{}” is neither accepted nor undone", row.state));
    }
    if (row.state == ProposalState::Accepted) != row.number.is_some() {
        return Err("number goes with the state accepted, and with no other".to_owned());
    }
    let said: Value = serde_json::from_str(&row.says).map_err(|error| format!("says: {error}"))?;
    check_texts(&said)?;
    if change.new_entry().is_some_and(|(_, name)| name.trim().is_empty()) {
        return Err("says: the name is empty".to_owned());
    }
    let named = |column: &str, name: &str| {
        text::line(name, LONGEST_NAME).map_err(|error| format!("{column}: {error}"))?.ok_or_else(|| format!("{column} is empty"))
    };
    let proposal = Proposal {
        id: ProposalId(id("change", &row.change_id)?),
        number: row.number,
        version: 2,
        state: row.state,
        change: change.clone(),
        author: None,
        credited: Some(named("proposed_by", &row.proposed_by)?),
        sent: sent_on("proposed_on", row.proposed_on)?,
    };
    let decided = ProposalStep {
        version: 2,
        by: None,
        credited: Some(named("decided_by", &row.decided_by)?),
        state: row.state,
        words: String::new(),
        change,
        at: sent_on("decided_on", row.decided_on)?,
    };
    Ok(IncomingChange { proposal, decided })
}
