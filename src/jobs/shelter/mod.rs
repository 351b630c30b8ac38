//! The shelter calculation that the command, the page and the API share: JSON-shaped input, checks, the science, JSON-shaped answer.

pub(crate) mod answer;
pub(crate) mod answer_parts;
pub(crate) mod api;
pub(crate) mod api_vents;
pub(crate) mod beside;
pub(crate) mod comparisons;
pub(crate) mod daytime;
pub(crate) mod description;
pub(crate) mod description_parts;
pub(crate) mod experiment;
pub(crate) mod field;
pub mod form;
pub mod form_changes;
pub mod form_neighbour;
pub(crate) mod form_parts;
pub(crate) mod input;
pub(crate) mod json_vents;
pub(crate) mod output;
pub(crate) mod page;
pub(crate) mod page_form;
pub(crate) mod page_more;
pub(crate) mod page_result;
pub(crate) mod page_vents;
pub(crate) mod page_words;
pub(crate) mod place;
pub(crate) mod surfaces;
pub(crate) mod vents;
pub(crate) mod words;
pub mod words_cautions;

pub use input::{
    ChangeInput, DayInput, LayerInput, MatsInput, NeighbourInput, PartInput, ReadingInput, SeasonInput, ShelterInput, ShelterNightInput,
    StateInput,
};
pub use output::{
    ChangeAnswer, DayAnswer, FromReadings, GainAnswer, MatsAnswer, NeighbourAnswer, NightPoint, OrderAnswer, PartAnswer, PowerFailure,
    SeasonAnswer, ShelterAnswer, ShelterCoverAnswer, StateAnswer, SunAnswer,
};

use crate::input::errors::FieldErrors;

/// Calculates a shelter; every error names its JSON path.
pub fn calculate(input: &ShelterInput) -> Result<ShelterAnswer, FieldErrors> {
    let (input, notes) = place::filled(input, form::EVENING_DROP_K, form::NIGHT_HOURS)?;
    let described = description::describe(&input)?;
    let mut answer = answer::answer(&input, &described)?;
    answer.notes.extend(notes);
    Ok(answer)
}
