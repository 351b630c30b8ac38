//! Vents as JSON.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::shelter::vents::{VentsAnswer, VentsQuestion};
use crate::jobs::shortlist::json::{RangeJson, pair, tidy};
use crate::units::Interval;

/// Openings for a sunny day.
#[derive(Debug, Serialize, ToSchema)]
pub struct VentsJson {
    /// Floor, m².
    pub floor_m2: f64,
    /// Sun on level ground, W/m².
    pub sun_w_m2: f64,
    /// Outside, °C.
    pub outside_c: f64,
    /// Wanted: warmer than outside by no more than this, K.
    pub rise_k: f64,
    /// Everything shut and without shade: K above outside.
    pub shut_without_shade_k: f64,
    /// Everything shut, shade as asked: K above outside.
    pub shut_k: f64,
    /// Air that has to pass, m³/h.
    pub air_m3_h: f64,
    /// The same as changes of the air an hour.
    pub air_changes_per_hour: f64,
    /// A low opening and an equal high one, m² each.
    pub each: OpeningJson,
    /// K above outside with the openings given; null without them.
    pub with_given_openings_k: Option<f64>,
    /// By shade.
    pub by_shade: Vec<ByShadeJson>,
    /// The trade’s rule, least and most, m² each.
    pub rule_m2: [f64; 2],
}

/// An opening.
#[derive(Debug, Serialize, ToSchema)]
pub struct OpeningJson {
    /// m².
    pub m2: f64,
    /// Range of what is not known of sun and openings, m².
    #[schema(value_type = RangeJson)]
    pub range_m2: RangeJson,
}

/// Openings under a shade.
#[derive(Debug, Serialize, ToSchema)]
pub struct ByShadeJson {
    /// Light that the cloth stops, per cent.
    pub shade_percent: f64,
    /// In still air.
    pub still: OpeningJson,
    /// In a light wind of 1 m/s.
    pub light_wind: OpeningJson,
}

fn opening((m2, range): (f64, Interval<f64>)) -> OpeningJson {
    OpeningJson { m2: tidy(m2), range_m2: pair(range) }
}

impl VentsJson {
    /// Of an answer.
    pub fn of(question: &VentsQuestion, answer: &VentsAnswer) -> Self {
        Self {
            floor_m2: tidy(answer.floor_m2),
            sun_w_m2: question.sun_w_m2,
            outside_c: tidy(question.outside.degrees()),
            rise_k: tidy(question.rise_k),
            shut_without_shade_k: tidy(answer.shut_bare_k),
            shut_k: tidy(answer.shut_k),
            air_m3_h: tidy(answer.air.0),
            air_changes_per_hour: tidy(answer.air.1),
            each: opening(answer.each_m2),
            with_given_openings_k: answer.with_own_k.map(tidy),
            by_shade: answer
                .table
                .iter()
                .map(|row| ByShadeJson { shade_percent: row.shade_percent, still: opening(row.still), light_wind: opening(row.light) })
                .collect(),
            rule_m2: answer.rule_m2.map(tidy),
        }
    }
}
