//! Reading published shelters back: every row typed or refused with its line and reason.

use std::collections::HashSet;

use super::read_cells::{RefusedRow, id, point_of, rows, sent_on};
use super::rows::Credited;
use super::shelter_rows::{ShelterChangeRow, ShelterRow, WithdrawnShelterRow};
use crate::catalogue::materials::{find_cover, find_layer};
use crate::records::shelter_report::{LONGEST_WORDS, MeasuredChange, ShelterContent, ShelterReport, ShelterReportId};
use crate::records::{Place, text};
use crate::science::shelter::shape::Shape;
use crate::units::within;

/// Table of the shelters.
pub(super) const SHELTERS: &str = "shelters.csv";
/// Table of what was measured in them.
pub(super) const CHANGES: &str = "shelter-changes.csv";
/// Table of those withdrawn.
pub(super) const WITHDRAWN: &str = "withdrawn-shelters.csv";

/// Shelters and withdrawals from the bytes of their tables.
pub(super) fn shelters(
    [shelters, changes, withdrawn]: [&[u8]; 3],
    refused: &mut Vec<RefusedRow>,
) -> (Vec<ShelterReport>, Vec<WithdrawnShelterRow>) {
    let refuse = |refused: &mut Vec<RefusedRow>, file, line, reason| refused.push(RefusedRow { file, line, reason });
    let mut taken: Vec<ShelterReport> = Vec::new();
    let mut seen = HashSet::new();
    for (line, row) in rows::<ShelterRow>(SHELTERS, shelters, refused) {
        match shelter(&row) {
            Ok(shelter) if seen.insert(shelter.id) => taken.push(shelter),
            Ok(shelter) => refuse(refused, SHELTERS, line, format!("shelter {} stands in two rows", shelter.id)),
            Err(reason) => refuse(refused, SHELTERS, line, reason),
        }
    }
    for (line, row) in rows::<ShelterChangeRow>(CHANGES, changes, refused) {
        let found = taken.iter_mut().find(|s| s.id.to_string() == row.shelter_id);
        match (found, change(&row)) {
            (None, _) => refuse(refused, CHANGES, line, format!("shelter {} is not in {SHELTERS}", row.shelter_id)),
            (_, Err(reason)) => refuse(refused, CHANGES, line, reason),
            (Some(shelter), _) if shelter.content.changes.len() + 1 != row.number => {
                let next = shelter.content.changes.len() + 1;
                refuse(refused, CHANGES, line, format!("number {} comes where {next} is next of this shelter", row.number));
            }
            (Some(shelter), Ok(change)) => {
                shelter.content.changes.push(change);
                if row.currency.is_some() {
                    shelter.content.currency = row.currency;
                }
            }
        }
    }
    let mut gone = Vec::new();
    for (line, row) in rows::<WithdrawnShelterRow>(WITHDRAWN, withdrawn, refused) {
        match id("shelter", &row.shelter_id).and_then(|id| sent_on("withdrawn_on", row.withdrawn_on).map(|_| id)) {
            Ok(id) => gone.push(WithdrawnShelterRow { shelter_id: id.to_string(), withdrawn_on: row.withdrawn_on }),
            Err(reason) => refuse(refused, WITHDRAWN, line, reason),
        }
    }
    (taken, gone)
}

fn shelter(row: &ShelterRow) -> Result<ShelterReport, String> {
    if !row.review.counts() {
        return Err(format!("review “{}”: only what was taken is in a package", row.review));
    }
    if row.version < 1 {
        return Err(format!("version {} is not a version", row.version));
    }
    for (column, key) in [("walls", &row.walls), ("roof", &row.roof)] {
        find_cover(key).ok_or_else(|| format!("{column}: there is no cover “{key}”"))?;
    }
    let layers: Vec<String> = row.layers.split_whitespace().map(str::to_owned).collect();
    if let Some(key) = layers.iter().find(|key| find_layer(key).is_none()) {
        return Err(format!("layers: there is no layer “{key}”"));
    }
    Shape::new(row.shape, row.length_m, row.width_m, row.wall_m.unwrap_or(0.0), row.top_m).map_err(|error| error.to_string())?;
    let number = |what: &'static str, unit: &'static str, value: f64, most: f64| {
        within(what, unit, value, 0.0, most).map_err(|error| error.to_string())
    };
    let (point, publish) = point_of(row.latitude, row.longitude, row.coordinate_precision)?;
    let recorded_by = text::line(&row.recorded_by, 60).map_err(|error| format!("recorded_by: {error}"))?.ok_or("recorded_by is empty")?;
    let reporter = match &row.reporter {
        Some(code) => text::line(code, 60).map_err(|error| format!("reporter: {error}"))?,
        None => None,
    };
    let words = match &row.words {
        Some(words) => text::line(words, LONGEST_WORDS).map_err(|error| format!("words: {error}"))?,
        None => None,
    };
    let sent = sent_on("sent_on", row.sent_on)?;
    Ok(ShelterReport {
        id: ShelterReportId(id("shelter", &row.shelter_id)?),
        setup: None,
        reporter: None,
        place: Place { words: None, point, publish },
        content: ShelterContent {
            shape: row.shape,
            length_m: row.length_m,
            width_m: row.width_m,
            wall_m: row.wall_m,
            top_m: row.top_m,
            walls: row.walls.clone(),
            roof: row.roof.clone(),
            layers,
            air_changes_per_hour: number("air_changes_per_hour", "1/h", row.air_changes_per_hour, 200.0)?,
            heater_w: row.heater_w.map(|w| number("heater_w", "W", w, 500_000.0)).transpose()?,
            shares_wall: row.shares_wall,
            described_w_k: number("described_w_k", "W/K", row.described_w_k, 1e6)?,
            changes: Vec::new(),
            currency: None,
            words,
        },
        version: row.version,
        state: row.review,
        sent,
        changed: sent,
        credited: Some(Credited { recorded_by, reporter }),
    })
}

/// Widest difference that is a gain of a shelter, K.
const WIDEST_K: f64 = 100.0;

fn change(row: &ShelterChangeRow) -> Result<MeasuredChange, String> {
    let changes = row
        .changes
        .split_whitespace()
        .map(|word| word.parse().map_err(|error| format!("changes: {error}")))
        .collect::<Result<Vec<_>, String>>()?;
    if changes.is_empty() {
        return Err("changes is empty".to_owned());
    }
    let kelvins = |what: &'static str, value: f64| within(what, "K", value, -WIDEST_K, WIDEST_K).map_err(|error| error.to_string());
    let ratio = |what: &'static str, value: f64| within(what, "", value, 0.0, 100.0).map_err(|error| error.to_string());
    let interval_k = [kelvins("interval_low_k", row.interval_low_k)?, kelvins("interval_high_k", row.interval_high_k)?];
    if interval_k[0] > interval_k[1] {
        return Err(format!("interval_low_k {} lies above interval_high_k {}", interval_k[0], interval_k[1]));
    }
    if let Some(currency) = row.currency.as_ref().filter(|c| c.len() != 3 || !c.bytes().all(|b| b.is_ascii_uppercase())) {
        return Err(format!("currency “{currency}” is not three capital letters (ISO 4217)"));
    }
    let loss_ratio = match (row.loss_ratio, row.loss_ratio_low, row.loss_ratio_high) {
        (None, None, None) => None,
        (Some(middle), Some(low), Some(high)) => {
            Some([ratio("loss_ratio", middle)?, ratio("loss_ratio_low", low)?, ratio("loss_ratio_high", high)?])
        }
        _ => return Err("loss_ratio, loss_ratio_low and loss_ratio_high go together".to_owned()),
    };
    Ok(MeasuredChange {
        changes,
        since: row.since,
        nights: [row.nights_before, row.nights_after],
        difference_k: kelvins("difference_k", row.difference_k)?,
        interval_k,
        predicted_k: kelvins("predicted_k", row.predicted_k)?,
        loss_ratio,
        described_loss_ratio: ratio("described_loss_ratio", row.described_loss_ratio)?,
        cost: row.material_cost.map(|cost| within("material_cost", "", cost, 0.0, 1e9).map_err(|error| error.to_string())).transpose()?,
    })
}
