//! One winter of a whole garden in one go: what is the same for all of it asked once, what became of each plant in a row of its own. All rows
//! are kept, or none.

use std::collections::HashMap;

use jiff::Timestamp;

use crate::input::errors::FieldErrors;
use crate::jobs::reports::degree_days;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form;
use crate::jobs::reports::noticed::noticed;
use crate::jobs::reports::submission::{Reports, class_of};
use crate::model::snapshot::Snapshot;
use crate::records::winter::today;
use crate::records::words::Cover;
use crate::records::{Member, Plant, PlantId, Report};
use crate::store::{Submission, Submitted};

/// Fields asked once.
pub const SHARED: [&str; 14] = [
    "winter",
    "looked",
    "looked_day",
    "looked_month",
    "looked_year",
    "cover",
    "store",
    "coldest",
    "coldest_unit",
    "coldest_sure",
    "thermometer",
    "stage",
    "judged_by",
    "heat_site",
];
/// Fields of each row.
pub const ROW: [&str; 6] = ["top", "base", "vitality", "regrew", "cover", "wood_years"];
/// Most plants of one list.
pub const MOST_PLANTS: usize = 200;

/// Name of a field in the row of a plant.
pub fn field(plant: PlantId, name: &str) -> String {
    format!("{plant}_{name}")
}

/// The answers for one plant, as the form of a single report would send them.
fn answers(pairs: &[(String, String)], plant: PlantId) -> Vec<(String, String)> {
    let value = |name: &str| pairs.iter().find(|(key, value)| key == name && !value.trim().is_empty()).map(|(_, value)| value.clone());
    let mut all: Vec<(String, String)> = SHARED.iter().filter_map(|name| Some(((*name).to_owned(), value(name)?))).collect();
    for name in ROW {
        if let Some(own) = value(&field(plant, name)) {
            // What a row says goes before what is said of all.
            all.retain(|(key, _)| key != name);
            all.push((name.to_owned(), own));
        }
    }
    // The store of all is that of the plants that were carried in.
    let carried = all.iter().any(|(key, value)| key == "cover" && value.trim() == Cover::CarriedIn.word());
    all.retain(|(key, _)| key != "store" || carried);
    all.push(("complete_list".to_owned(), "yes".to_owned()));
    all
}

impl Reports {
    /// Takes the winter of every plant in. `key` makes a repeat harmless; errors name fields of the form, those of a row by [`field`].
    ///
    /// # Errors
    /// Every value that cannot be used, in any row; nothing is kept then.
    pub async fn send_garden(
        &self,
        member: &Member,
        plants: &[Plant],
        pairs: &[(String, String)],
        key: &str,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<Vec<Report>, ReportError> {
        let mut errors = FieldErrors::default();
        let mut records = Vec::new();
        for plant in plants {
            match form::read_known(&answers(pairs, plant.id), plant, today(now)) {
                Ok(record) => records.push((plant, record)),
                Err(wrong) => {
                    for error in &wrong {
                        let shared = SHARED.contains(&error.field.as_str()) && !ROW.contains(&error.field.as_str());
                        let named = if shared { error.field.clone() } else { field(plant.id, &error.field) };
                        // What is said of all fails alike in every row: once is enough.
                        if errors.of(&named).is_none() {
                            errors.add(named, &error.value, &error.message);
                        }
                    }
                }
            }
        }
        if plants.is_empty() {
            errors.add("winter", "", "there is no plant in your garden yet; your first report adds one");
        }
        errors.into_result()?;
        let counted = records.iter().map(|(plant, record)| (record.clone(), class_of(plant, snapshot))).collect();
        let heats = degree_days::heats(self.store(), member, pairs, counted).await?;
        let mut all = Vec::new();
        for ((plant, mut record), heat) in records.into_iter().zip(heats) {
            record.heat = heat;
            let others = self.same_winter(plant, record.winter, None).await?;
            let flags = noticed(self.store(), plant, &record, snapshot, &others).await?;
            let report = crate::records::ReportId(self.ids().fresh(now));
            let digest = crate::jobs::reports::submission::digest(&answers(pairs, plant.id));
            let key = format!("{key}:{}", plant.id);
            let plant = plant.clone();
            all.push(Submission {
                member: member.id,
                key,
                digest,
                report,
                plant,
                plant_is_new: false,
                record,
                nursery: None,
                flags,
                at: now,
            });
        }
        self.take_write(member)?;
        let kept = self.store().submit_all(&all).await?;
        let known: HashMap<_, _> = self.store().reports_of(member.id).await?.into_iter().map(|report| (report.id, report)).collect();
        let reports = kept.into_iter().map(|submitted| match submitted {
            Submitted::Fresh(id) | Submitted::Repeat(id) => known.get(&id).cloned().ok_or(ReportError::Absent),
            Submitted::KeyInUse => Err(ReportError::KeyInUse),
        });
        reports.collect()
    }
}
