//! Addresses of lists of a whole garden, of questions to those who follow, and of growers' public pages.

use std::fmt;

use super::{GARDEN, Path};

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
