//! The shelter calculation that the command, the page and the API share: JSON-shaped input, checks, the science, JSON-shaped answer.

pub(crate) mod answer;
pub(crate) mod api;
pub(crate) mod description;
pub mod form;
pub(crate) mod input;
pub(crate) mod output;
pub(crate) mod page;
pub(crate) mod page_result;

pub use input::{ChangeInput, LayerInput, MatsInput, NeighbourInput, NightInput, PartInput, ReadingInput, SeasonInput, ShelterInput};
pub use output::{
    ChangeAnswer, FromReadings, MatsAnswer, NeighbourAnswer, NightPoint, PartAnswer, PowerFailure, SeasonAnswer, ShelterAnswer, SunAnswer,
};

use crate::input::errors::FieldErrors;

/// Calculates a shelter; every error names its JSON path.
pub fn calculate(input: &ShelterInput) -> Result<ShelterAnswer, FieldErrors> {
    let described = description::describe(input)?;
    answer::answer(input, &described)
}
