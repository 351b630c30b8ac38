//! One winter of a whole garden in one go: what is the same for all of it asked once, what became of each plant in a row of its own. All rows
//! that say something are kept, or none.

use std::collections::HashMap;

use jiff::Timestamp;

use crate::input::errors::FieldErrors;
use crate::jobs::garden::became::Became;
use crate::jobs::garden::lists::{MOST_PLANTS, field, said, value};
use crate::jobs::garden::winters_told::{WintersTold, place_words};
use crate::jobs::reports::degree_days;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form;
use crate::jobs::reports::noticed::noticed;
use crate::jobs::reports::submission::{Reports, class_of, digest};
use crate::model::snapshot::Snapshot;
use crate::records::winter::today;
use crate::records::words::Cover;
use crate::records::{Member, Plant, PlantId, Report, Winter, WinterRecord};
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
/// Fields of a report in each row.
const ROW_ANSWERS: [&str; 6] = ["top", "base", "vitality", "regrew", "cover", "wood_years"];
/// In a row: what became of the plant, in one answer for two.
pub const BECAME: &str = "became";
/// Fields of each row.
pub const ROW: [&str; 7] = [BECAME, "top", "base", "vitality", "regrew", "cover", "wood_years"];
/// Says of the rows that say nothing that their plants came through unharmed.
pub const REST: &str = "rest";

/// What came of a list.
#[derive(Debug)]
pub enum Told {
    /// The reports, as they stand now.
    Reports(Vec<Report>),
    /// Nothing was kept: the winters of these plants have been told in another way meanwhile.
    Already(Vec<PlantId>),
}

/// Whether a row says what became of its plant.
fn says_damage(pairs: &[(String, String)], plant: PlantId) -> bool {
    [BECAME, "top", "base", "vitality", "regrew"].iter().any(|name| said(pairs, plant, name).is_some())
}

/// Whether a row says anything.
fn says_something(pairs: &[(String, String)], plant: PlantId) -> bool {
    ROW.iter().any(|name| said(pairs, plant, name).is_some())
}

/// The answers for one plant, as the form of a single report would send them.
fn answers(pairs: &[(String, String)], plant: PlantId) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> =
        SHARED.iter().filter_map(|name| Some(((*name).to_owned(), value(pairs, name)?.to_owned()))).collect();
    let unharmed = !says_damage(pairs, plant) && value(pairs, REST).is_some();
    let became = said(pairs, plant, BECAME).and_then(|word| word.parse().ok()).or(unharmed.then_some(Became::Unharmed));
    if let Some((top, vitality)) = became.map(Became::answers) {
        all.extend([("top", top.word()), ("vitality", vitality.word())].map(|(name, word)| (name.to_owned(), word.to_owned())));
    }
    for name in ROW_ANSWERS {
        if let Some(own) = said(pairs, plant, name) {
            // What a row says goes before what is said of all.
            all.retain(|(key, _)| key != name);
            all.push((name.to_owned(), own.to_owned()));
        }
    }
    // The store of all is that of the plants that were carried in.
    let carried = all.iter().any(|(key, value)| key == "cover" && value.trim() == Cover::CarriedIn.word());
    all.retain(|(key, _)| key != "store" || carried);
    all.push(("complete_list".to_owned(), "yes".to_owned()));
    all
}

/// Where an error of one row's answers stands in the list: at the question that is asked once, or in the row.
fn placed(pairs: &[(String, String)], plant: PlantId, name: &str) -> String {
    match name {
        "top" | "vitality" if said(pairs, plant, name).is_none() => field(plant, BECAME),
        "cover" if said(pairs, plant, name).is_none() => name.to_owned(),
        _ if ROW.contains(&name) => field(plant, name),
        _ if SHARED.contains(&name) => name.to_owned(),
        _ => field(plant, name),
    }
}

/// The records of the rows that say something.
fn read<'p>(plants: &'p [Plant], pairs: &[(String, String)], now: Timestamp) -> Result<Vec<(&'p Plant, WinterRecord)>, FieldErrors> {
    let mut errors = FieldErrors::default();
    let mut records = Vec::new();
    let rest = value(pairs, REST).is_some();
    for plant in plants.iter().filter(|plant| rest || says_something(pairs, plant.id)) {
        if let Some(typed) = said(pairs, plant.id, BECAME) {
            errors.keep(&field(plant.id, BECAME), typed, typed.parse::<Became>());
        }
        let Err(wrong) = form::read_known(&answers(pairs, plant.id), plant, today(now)).map(|record| records.push((plant, record))) else {
            continue;
        };
        for error in &wrong {
            let place = placed(pairs, plant.id, &error.field);
            // What is said of all fails alike in every row: once is enough.
            if errors.of(&place).is_some() {
                continue;
            }
            let asks_both = place == field(plant.id, BECAME);
            let message = if asks_both { "say what became of it; “Not looked” is an answer too" } else { &error.message };
            errors.add(place, &error.value, message);
        }
    }
    if plants.is_empty() {
        errors.add("winter", "", "there is no plant in your garden that this winter is still to be told of");
    } else if plants.len() > 2 * MOST_PLANTS {
        errors.add("winter", "", format!("a list holds at most {} plants", 2 * MOST_PLANTS));
    } else if records.is_empty() && errors.is_empty() {
        errors.add(REST, "", "say what became of at least one plant, or that those left blank came through unharmed");
    }
    errors.into_result().map(|()| records)
}

/// Whether with these reports every plant of the member's at their places has its winter told.
fn is_whole_list(plants: &[Plant], told: &WintersTold<'_>, records: &[(&Plant, WinterRecord)], winter: Winter) -> bool {
    let here = |plant: &Plant| records.iter().any(|(listed, _)| place_words(listed) == place_words(plant));
    plants
        .iter()
        .filter(|plant| here(plant))
        .all(|plant| !told.asks(plant, winter) || records.iter().any(|(listed, _)| listed.id == plant.id))
}

impl Reports {
    /// Takes the winter in of every plant whose row says something, and of the others too where [`REST`] is ticked. `key` makes a repeat
    /// harmless; errors name fields of the form, those of a row by [`field`].
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
    ) -> Result<Told, ReportError> {
        let records = read(plants, pairs, now)?;
        let kept = self.store().reports_of(member.id).await?;
        let told = WintersTold::of(&kept);
        let whole = match records.first() {
            Some((_, record)) => is_whole_list(&self.store().plants_of(member.id).await?, &told, &records, record.winter),
            None => false,
        };
        let counted = records.iter().map(|(plant, record)| (record.clone(), class_of(plant, snapshot))).collect();
        let heats = degree_days::heats(self.store(), member, pairs, counted).await?;
        let (mut all, mut already, mut repeats) = (Vec::new(), Vec::new(), 0);
        for ((plant, record), heat) in records.into_iter().zip(heats) {
            let record = WinterRecord { heat, complete_list: whole, ..record };
            let others = self.same_winter(plant, record.winter, None).await?;
            let submission = Submission {
                member: member.id,
                key: format!("{key}:{}", plant.id),
                digest: digest(&answers(pairs, plant.id)),
                report: crate::records::ReportId(self.ids().fresh(now)),
                plant: plant.clone(),
                plant_is_new: false,
                flags: noticed(self.store(), plant, &record, snapshot, &others).await?,
                record,
                nursery: None,
                at: now,
            };
            match self.store().repeated(&submission).await? {
                Some(_) => repeats += 1,
                None if !others.is_empty() => already.push(plant.id),
                None => {}
            }
            all.push(submission);
        }
        if !already.is_empty() {
            return Ok(Told::Already(already));
        }
        // The whole list counts as one change, and its repeat as none.
        if repeats < all.len() {
            self.take_write(member)?;
        }
        let kept = self.store().submit_all(&all).await?;
        let known: HashMap<_, _> = self.store().reports_of(member.id).await?.into_iter().map(|report| (report.id, report)).collect();
        let reports = kept.into_iter().map(|submitted| match submitted {
            Submitted::Fresh(id) | Submitted::Repeat(id) => known.get(&id).cloned().ok_or(ReportError::Absent),
            Submitted::KeyInUse => Err(ReportError::KeyInUse),
        });
        reports.collect::<Result<_, _>>().map(Told::Reports)
    }
}
