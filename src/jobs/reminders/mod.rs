//! What comes to a member by itself: the dates of their own figs as a calendar and a feed at a secret address, and letters of the season.

pub mod calendar;
pub mod dates;
pub mod entry;
pub mod feed;
pub mod garden_year;
pub mod own_garden;
pub(crate) mod page;
pub mod page_picture;
pub mod season_letters;
pub mod season_words;
pub mod words;
