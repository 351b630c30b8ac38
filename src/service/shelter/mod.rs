//! The shelter calculation that the command, the page and the API share: JSON-shaped input, checks, the science, JSON-shaped answer.

mod answer;
mod description;
pub mod form;
mod input;
mod output;

pub use input::{ChangeInput, LayerInput, MatsInput, NeighbourInput, NightInput, PartInput, ReadingInput, SeasonInput, ShelterInput};
pub use output::{
    ChangeAnswer, FromReadings, MatsAnswer, NeighbourAnswer, NightPoint, PartAnswer, PowerFailure, SeasonAnswer, ShelterAnswer, SunAnswer,
};

use super::field_errors::FieldErrors;

/// Calculates a shelter; every error names its JSON path.
pub fn calculate(input: &ShelterInput) -> Result<ShelterAnswer, FieldErrors> {
    let described = description::describe(input)?;
    answer::answer(input, &described)
}
