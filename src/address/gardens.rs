//! Addresses of lists of a whole garden, of batches of propagation, of questions to those who follow, and of growers' public pages.

use std::fmt;

use super::{GARDEN, NEW_BATCH, PROPAGATION, Path};

/// Figs added to the garden without a winter.
pub const NEW_PLANTS: Path = Path("/garden/plants/new");
/// A winter of the whole garden.
pub const GARDEN_WINTER: Path = Path("/garden/winter");
/// An autumn's fruit of the whole garden.
pub const GARDEN_FRUIT: Path = Path("/garden/fruit");
/// A member's questions to those who follow them.
pub const SURVEYS: Path = Path("/garden/surveys");
/// A member's public page, where it is put up.
pub const GROWER_PAGE: Path = Path("/garden/page");
/// Answers to questions, for stewards.
pub const REVIEW_ANSWERS: Path = Path("/review/answers");

/// The garden after a list was sent: of what (`figs`, `winter` or `fruit`), and of how many.
pub fn garden_sent(what: &str, many: usize) -> String {
    GARDEN.with([("sent", what.to_owned()), ("many", many.to_string())])
}

/// A list of the whole garden for one winter, at the place in these words where there are several.
pub fn garden_list(list: Path, winter: impl fmt::Display, place: Option<&str>) -> String {
    list.with([("winter", winter.to_string())].into_iter().chain(place.map(|place| ("at", place.to_owned()))))
}

/// A question to those who follow.
pub fn survey(code: impl fmt::Display) -> String {
    Path("/surveys").part(&code)
}

/// Its sheet, to be printed.
pub fn survey_sheet(code: impl fmt::Display) -> String {
    format!("{}/sheet", survey(code))
}

/// Answers to a question of one's own, as a table.
pub fn survey_table(code: impl fmt::Display) -> String {
    format!("{}/answers.csv", SURVEYS.part(&code))
}

/// The same as JSON.
pub fn survey_json(code: impl fmt::Display) -> String {
    format!("{}/answers.json", SURVEYS.part(&code))
}

/// Opens a question of one's own, or closes it.
pub fn survey_opening(code: impl fmt::Display) -> String {
    format!("{}/open", SURVEYS.part(&code))
}

/// Deletes a question of one's own.
pub fn survey_deletion(code: impl fmt::Display) -> String {
    format!("{}/delete", SURVEYS.part(&code))
}

/// The public page of a grower.
pub fn grower(code: impl fmt::Display) -> String {
    Path("/growers").part(&code)
}

/// An answer before a steward.
pub fn review_answer(id: impl fmt::Display) -> String {
    REVIEW_ANSWERS.part(&id)
}

/// A grower's public page before a steward.
pub fn review_grower(code: impl fmt::Display) -> String {
    Path("/review/growers").part(&code)
}

/// A batch of propagation.
pub fn batch(id: impl fmt::Display) -> String {
    PROPAGATION.part(&id)
}

/// A batch that was just kept.
pub fn batch_kept(id: impl fmt::Display) -> String {
    format!("{}?kept=1", batch(id))
}

/// Takes a batch off the list.
pub fn batch_removal(id: impl fmt::Display) -> String {
    format!("{}/remove", batch(id))
}

/// Gives a batch back the state before its last change.
pub fn batch_undo(id: impl fmt::Display) -> String {
    format!("{}/undo", batch(id))
}

/// Form of a new batch of a mother plant.
pub fn new_batch_of(plant: impl fmt::Display) -> String {
    NEW_BATCH.with([("mother", plant.to_string())])
}
