//! Spots as JSON.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::covers::json::GainJson;
use crate::jobs::spots::answer::{Known, SpotsAnswer};
use crate::science::priors::NightGain;

/// One spot against the open.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpotJson {
    /// Its word: a setting, or for walls the side that it faces.
    pub spot: String,
    /// In words.
    pub name: String,
    /// On a clear still night.
    pub clear_still: GainJson,
    /// On a windy night.
    pub windy: GainJson,
    /// READ, MEMORY, DESIGN … ; empty for several together.
    pub provenance: String,
    /// Source or reason.
    pub note: String,
}

/// Nights of readings and what they leave open.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReadingsJson {
    /// Nights of one kind.
    pub nights: usize,
    /// Half the width of the 90 % interval of the mean offset, K.
    pub half_width_k: f64,
}

/// Every spot.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpotsJson {
    /// By setting.
    pub spots: Vec<SpotJson>,
    /// Walls by the side that they face; other answers take a wall that faces the sun.
    pub walls: Vec<SpotJson>,
    /// What was asked together, as a shortlist takes it; null without `setting`.
    pub together: Option<SpotJson>,
    /// How sure nights of one's own readings make it.
    pub readings: Vec<ReadingsJson>,
}

fn spot(word: String, name: String, gain: NightGain, known: &Known) -> SpotJson {
    SpotJson {
        spot: word,
        name,
        clear_still: GainJson::of(gain.clear),
        windy: GainJson::of(gain.windy),
        provenance: known.provenance.clone(),
        note: known.note.clone(),
    }
}

impl SpotsJson {
    /// Of an answer.
    pub fn of(answer: &SpotsAnswer) -> Self {
        let named = |word: &str, label: &str, gain, known: &Known| spot(word.to_owned(), label.to_owned(), gain, known);
        Self {
            spots: answer.spots.iter().map(|row| named(row.setting.word(), row.setting.label(), row.gain, &row.known)).collect(),
            walls: answer.walls.iter().map(|row| named(row.faces.word(), row.faces.label(), row.gain, &row.known)).collect(),
            together: answer.own.map(|(settings, gain)| spot(settings.to_string(), settings.label(), gain, &Known::default())),
            readings: answer.readings.iter().map(|&(nights, half_width_k)| ReadingsJson { nights, half_width_k }).collect(),
        }
    }
}
