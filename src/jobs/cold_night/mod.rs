//! The cold-night calculation, of one night or of a spell, that the command, the page and the API share: JSON-shaped input, checks, risks, the plan, JSON-shaped answer.

pub(crate) mod answer;
pub(crate) mod api;
pub(crate) mod done;
pub(crate) mod effort;
pub(crate) mod field;
pub mod followed;
pub mod forecast;
pub mod form;
pub mod form_kept;
pub(crate) mod form_night;
pub mod form_nights;
pub mod form_others;
pub mod garden_form;
pub(crate) mod heating;
pub(crate) mod input;
pub(crate) mod page;
pub(crate) mod page_forecast;
pub(crate) mod page_form;
pub(crate) mod page_nights;
pub(crate) mod page_plan;
pub(crate) mod page_plan_lines;
pub(crate) mod page_plan_places;
pub(crate) mod page_plan_views;
pub(crate) mod place;
pub(crate) mod planning;
pub(crate) mod reading;
pub(crate) mod reading_nights;
pub(crate) mod reading_places;
pub(crate) mod reading_tenants;
pub mod sent_form;
pub(crate) mod shelter_place;
pub(crate) mod words;

pub use answer::{
    ColdNightAnswer, CoverAnswer, HeatAnswer, IfOnly, LeftOut, NightAnswer, NightPlan, PlaceAnswer, PlanRow, PotAnswer, PowerFails,
};
pub use effort::weight;
pub use input::{ColdNightInput, CoverInput, LoggedInput, NightInput, PairInput, PlaceInput, PlantInput};

use crate::input::errors::FieldErrors;
use crate::model::snapshot::Snapshot;

/// Most plants in one plan.
pub const MOST_PLANTS: usize = 1_000;
/// Most places, and most kinds of cover.
pub const MOST_PLACES: usize = 12;

/// Plans a night or a spell; every error names its JSON path.
pub fn calculate(input: &ColdNightInput, snapshot: &Snapshot) -> Result<ColdNightAnswer, FieldErrors> {
    let (input, notes) = place::filled(input)?;
    let mut read = reading::read(&input, snapshot)?;
    read.notes.extend(notes);
    Ok(planning::answer(&read, snapshot))
}
