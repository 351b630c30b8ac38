//! The climate of a site as JSON, the same for the command and the API: what the science gives, with the room's words where the keys hold sentences.

use serde_json::Value;

use crate::jobs::station_record::words::{diagnostic_words, not_used_words, why_words, winter_rule_words};
use crate::science::climate::extremes::Extremes;
use crate::science::climate::site_climate::SiteClimate;

/// The JSON of `winterfig climate --json` and of `POST /api/v1/climate`.
///
/// # Errors
/// When a value cannot be written as JSON.
pub fn climate_json(climate: &SiteClimate) -> Result<Value, serde_json::Error> {
    let mut json = serde_json::to_value(climate)?;
    json["doubts"] = climate.diagnostics.iter().map(diagnostic_words).collect();
    json["winter_rule"] = winter_rule_words(climate.winter_rule).into();
    if let Some(winters) = json["winters"].as_array_mut() {
        for (written, winter) in winters.iter_mut().zip(&climate.winters) {
            written["reason"] = winter.reason.map(not_used_words).into();
        }
    }
    say_why(&mut json["yearly_minimum"], Some(&climate.yearly_minimum));
    say_why(&mut json["equivalent_minimum"], climate.equivalent_minimum.as_ref());
    let written = json.get_mut("periods").and_then(|all| all.get_mut("periods")).and_then(Value::as_array_mut);
    if let (Some(periods), Some(written)) = (&climate.periods, written) {
        for (written, period) in written.iter_mut().zip(&periods.periods) {
            say_why(&mut written["yearly_minimum"], Some(&period.yearly_minimum));
        }
    }
    Ok(json)
}

fn say_why(written: &mut Value, extremes: Option<&Extremes>) {
    if let Some(extremes) = extremes {
        written["why"] = why_words(&extremes.why).into();
    }
}
