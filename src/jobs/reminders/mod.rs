//! What comes to a member by itself: the dates of their own figs as a calendar and a feed at a secret address.

pub mod calendar;
pub mod dates;
pub mod entry;
pub mod feed;
pub mod own_garden;
pub(crate) mod page;
pub mod words;
