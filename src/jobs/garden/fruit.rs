//! The fruit of an autumn told for a whole garden in one go: each row is added to the report that the plant has for the winter before. All rows
//! that say something are kept, or none.

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::input::errors::FieldErrors;
use crate::jobs::garden::lists::{MOST_PLANTS, field, said, value};
use crate::jobs::garden::winters_told::WintersTold;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form_again::pairs_of;
use crate::jobs::reports::noticed::noticed;
use crate::jobs::reports::submission::{Reports, class_of};
use crate::jobs::reports::{degree_days, form};
use crate::model::snapshot::Snapshot;
use crate::records::winter::today;
use crate::records::words::{Fruit, Vitality};
use crate::records::{HeatMet, Member, Plant, Report, SiteId, Winter, WinterRecord};
use crate::store::Amendment;

/// Fields of each row.
pub const ROW: [&str; 3] = ["fruit", "first_ripe", "shoot_length"];
/// What the plants bore whose rows say nothing.
pub const REST: &str = "rest";

/// Whether the fruit after a winter is still to be told in its report: the plant lives, and nothing final is said of its fruit.
pub fn asks(report: &Report) -> bool {
    report.record.vitality != Vitality::Dead && matches!(report.record.fruit, None | Some(Fruit::NotLooked))
}

/// Plants of which the fruit after a winter is still to be told.
pub fn asked<'p>(plants: &'p [Plant], told: &WintersTold<'_>, winter: Winter) -> Vec<&'p Plant> {
    plants.iter().filter(|plant| told.report(plant.id, winter).is_some_and(asks)).collect()
}

/// The form of a report with what its row says of the fruit; `None` where the row says nothing.
fn answers(pairs: &[(String, String)], report: &Report) -> Option<Vec<(String, String)>> {
    let plant = report.plant.id;
    let rest = value(pairs, REST).filter(|_| ROW.iter().all(|name| said(pairs, plant, name).is_none()));
    let own = ROW.iter().filter_map(|name| Some((*name, said(pairs, plant, name)?)));
    let own: Vec<_> = own.chain(rest.map(|word| (ROW[0], word))).collect();
    if own.is_empty() {
        return None;
    }
    let mut all = pairs_of(report);
    for (name, text) in own {
        all.retain(|(key, _)| key != name && !(name == "first_ripe" && key.starts_with("first_ripe_")));
        all.push((name.to_owned(), text.to_owned()));
    }
    Some(all)
}

/// The records as the rows make them, beside the reports that they belong to.
fn read<'r>(
    plants: &[Plant],
    told: &WintersTold<'r>,
    winter: Winter,
    pairs: &[(String, String)],
    now: Timestamp,
) -> Result<Vec<(&'r Report, WinterRecord)>, FieldErrors> {
    let mut errors = FieldErrors::default();
    let mut records = Vec::new();
    let mut rows_said = 0;
    for plant in plants {
        let Some(report) = told.report(plant.id, winter) else {
            errors.add(field(plant.id, ROW[0]), "", format!("its winter {winter} is not told yet; tell that first"));
            continue;
        };
        let Some(answers) = answers(pairs, report) else { continue };
        rows_said += 1;
        match form::read_known(&answers, &report.plant, today(now)) {
            // The heat is counted anew where there is something to count.
            Ok(record) => records.push((report, WinterRecord { heat: report.record.heat, ..record })),
            Err(wrong) => {
                for error in &wrong {
                    let name = ROW.iter().find(|name| error.field.starts_with(**name)).unwrap_or(&ROW[0]);
                    errors.add(field(plant.id, name), &error.value, &error.message);
                }
            }
        }
    }
    if plants.len() > 2 * MOST_PLANTS {
        errors.add("winter", "", format!("a list holds at most {} plants", 2 * MOST_PLANTS));
    } else if rows_said == 0 && errors.is_empty() {
        errors.add(REST, "", "say what at least one plant bore, or what all the rest did");
    }
    errors.into_result().map(|()| records)
}

impl Reports {
    /// Adds what the plants bore in the autumn after a winter to their reports, which wait for a steward again. A list sent twice changes
    /// nothing the second time. How many rows stand in the reports now.
    ///
    /// # Errors
    /// Every value that cannot be used, in any row; nothing is kept then.
    pub async fn send_fruit(
        &self,
        member: &Member,
        plants: &[Plant],
        pairs: &[(String, String)],
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<usize, ReportError> {
        let mut errors = FieldErrors::default();
        let typed = value(pairs, "winter").unwrap_or_default();
        let Some(winter) = errors.keep("winter", typed, typed.parse::<Winter>()) else { return Err(errors.into()) };
        let reports = self.store().reports_of(member.id).await?;
        let records = read(plants, &WintersTold::of(&reports), winter, pairs, now)?;
        let rows = records.len();
        let mut changed: Vec<_> = records.into_iter().filter(|(report, record)| report.record != *record).collect();
        if changed.is_empty() {
            return Ok(rows);
        }
        self.count_heat(member, &mut changed, snapshot).await?;
        let mut amendments = Vec::new();
        for (report, record) in changed {
            let others = self.same_winter(&report.plant, record.winter, Some(report.id)).await?;
            let flags = noticed(self.store(), &report.plant, &record, snapshot, &others).await?;
            let (report, from_version) = (report.id, report.version);
            amendments.push(Amendment { report, member: member.id, from_version, record, flags, why: String::new(), at: now });
        }
        self.take_write(member)?;
        if self.store().amend_all(&amendments).await? {
            return Ok(rows);
        }
        let moved = amendments.first().and_then(|first| reports.iter().find(|report| report.id == first.report));
        Err(moved.map_or(ReportError::Absent, |report| ReportError::Moved(Box::new(report.clone()))))
    }

    /// Counts the heat to the dates from the daily records that the reports name, each read once. What a record does not hold, or one that
    /// is gone, leaves the heat as it was counted before.
    async fn count_heat(&self, member: &Member, changed: &mut [(&Report, WinterRecord)], snapshot: &Snapshot) -> Result<(), ReportError> {
        let mut by_site: BTreeMap<SiteId, Vec<usize>> = BTreeMap::new();
        for (at, (report, _)) in changed.iter().enumerate() {
            if let Some(HeatMet { site: Some(site), .. }) = report.record.heat {
                by_site.entry(site).or_default().push(at);
            }
        }
        for (site, places) in by_site {
            let of = |at: &usize| changed.get(*at).map(|(report, record)| (record.clone(), class_of(&report.plant, snapshot)));
            let records = places.iter().filter_map(of).collect();
            let named = [(degree_days::FIELD.to_owned(), site.to_string())];
            match degree_days::heats(self.store(), member, &named, records).await {
                Ok(heats) => {
                    for (at, heat) in places.into_iter().zip(heats) {
                        if let Some((_, record)) = changed.get_mut(at) {
                            record.heat = heat;
                        }
                    }
                }
                Err(ReportError::Fields(_)) => {}
                Err(other) => return Err(other),
            }
        }
        Ok(())
    }
}
