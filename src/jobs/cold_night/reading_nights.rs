//! The nights of the input: forecast, own offset and spread of each, and which of them are over.

use crate::input::json::Checked;
use crate::jobs::cold_night::input::{ColdNightInput, NightInput};
use crate::model::snapshot::Snapshot;
use crate::science::climate::kind::ClimateKind;
use crate::science::cold_night::forecast::{COAST, Logged, own_offset, sd_by_lead_k};
use crate::science::cold_night::spell::days::{ForecastDay, Spell, SpellError};
use crate::science::cold_night::stage::NightKind;
use crate::science::cold_night::tonight::Forecast;
use crate::science::numeric::Gaussian;

/// Hours between the forecast and the first planned night where none are given, and between one night and the next.
const FIRST_LEAD_H: f64 = 12.0;
const NIGHT_TO_NIGHT_H: f64 = 24.0;
/// Spread of the lowest of a night that is over, K: it was read, not forecast. DESIGN.
const PAST_SD_K: f64 = 0.5;

/// The nights as read.
pub(crate) struct ReadNights {
    pub spell: Spell,
    /// First night that is planned.
    pub from: usize,
    /// Own offset of the first planned night, with its spread.
    pub offset: Option<Gaussian>,
}

/// Reads the nights; `None` where anything was noted.
pub(crate) fn nights(checked: &mut Checked, input: &ColdNightInput, snapshot: &Snapshot) -> Option<ReadNights> {
    if input.night.is_some() && !input.nights.is_empty() {
        checked.wrong("night", "", "give one night as night, or several as nights, not both");
        return None;
    }
    let given = input.all_nights();
    let from = first_planned(checked, input, &given)?;
    let log = own_log(checked, input, &given);
    let mut rows = Vec::with_capacity(given.len());
    let mut offset = None;
    for (index, night) in given.iter().enumerate() {
        let lead = FIRST_LEAD_H + NIGHT_TO_NIGHT_H * index.saturating_sub(from) as f64;
        let (row, row_offset) = row(checked, &input.night_path(index), night, (index >= from).then_some(lead), &log, snapshot);
        if index == from {
            offset = row_offset;
        }
        rows.push(row);
    }
    if !checked.is_clean() {
        return None;
    }
    match Spell::from_forecast(&rows, &snapshot.night_priors.usual) {
        Ok(spell) => Some(ReadNights { spell, from, offset }),
        Err(error) => {
            let key = match &error {
                SpellError::OutOfOrder { .. } | SpellError::Missing { .. } | SpellError::Undated { .. } => ".date",
                SpellError::DayBelowNight { .. } => ".day_maximum_c",
                _ => "",
            };
            let path = error.index().map_or_else(|| "nights".to_owned(), |index| format!("{}{key}", input.night_path(index)));
            checked.wrong(&path, "", error);
            None
        }
    }
}

fn first_planned(checked: &mut Checked, input: &ColdNightInput, given: &[&NightInput]) -> Option<usize> {
    if given.is_empty() {
        checked.wrong("night", "", "there is no night; give night, or nights");
        return None;
    }
    let Some(from) = input.from else { return Some(0) };
    let found = given.iter().position(|n| n.date == Some(from));
    if found.is_none() {
        checked.wrong("from", from, "none of the nights has this date");
    }
    found
}

fn own_log(checked: &mut Checked, input: &ColdNightInput, given: &[&NightInput]) -> Vec<Logged> {
    let mut log = Vec::new();
    for (index, night) in given.iter().enumerate() {
        let path = input.night_path(index);
        for (i, l) in night.own_log.iter().enumerate() {
            log.push(Logged {
                forecast_c: checked.number(&format!("{path}.own_log[{i}].forecast_c"), "temperature", "°C", l.forecast_c, -60.0, 40.0),
                measured_c: checked.number(&format!("{path}.own_log[{i}].measured_c"), "temperature", "°C", l.measured_c, -60.0, 40.0),
            });
        }
    }
    log
}

/// One night; `lead_h`: hours to it where it is to come, `None` where it is over.
fn row(
    checked: &mut Checked,
    path: &str,
    night: &NightInput,
    lead_h: Option<f64>,
    log: &[Logged],
    snapshot: &Snapshot,
) -> (ForecastDay, Option<Gaussian>) {
    let at = |key: &str| format!("{path}.{key}");
    let minimum = checked.number(&at("minimum_c"), "temperature", "°C", night.minimum_c, -60.0, 40.0);
    let given_lead = checked.maybe(&at("lead_hours"), "lead of the forecast", "h", night.lead_hours, 0.0, 240.0);
    let given_sd = checked.maybe(&at("sd_k"), "spread of the minimum", "K", night.sd_k, 0.0, 15.0);
    let coast = if night.climate == Some(ClimateKind::Coast) { COAST } else { 1.0 };
    let by_lead = match (given_lead, lead_h) {
        (Some(lead), _) => sd_by_lead_k(lead, false) * coast,
        (None, Some(lead)) => sd_by_lead_k(lead, false).max(snapshot.night_priors.forecast_sd_k) * coast,
        (None, None) => PAST_SD_K,
    };
    let sd = given_sd.unwrap_or(by_lead);
    // What was read at the own place needs no offset.
    let offset = (!log.is_empty() && lead_h.is_some()).then(|| own_offset(log, sd));
    let minimum_c = offset.map_or(Gaussian::new(minimum, sd), |o| Gaussian::new(minimum + o.mean, o.sd));
    let forecast = Forecast {
        minimum_c,
        // The evening is measured at the grower's own place or follows the curve; the offset moves the minimum only.
        evening_c: night.sunset_plus_2h_c,
        hours_below_0: night.hours_below_0,
        night_hours: night.night_hours,
        kind: night.kind.unwrap_or(NightKind::ClearStill),
    };
    (ForecastDay { date: night.date, day_maximum_c: night.day_maximum_c, night: forecast }, offset)
}
