//! A member's plants, places and shelters, and a winter told for all of them at once.

pub(crate) mod page;
pub(crate) mod page_plant_edit;
pub(crate) mod page_setups;
pub(crate) mod page_winter;
pub mod plant_edit;
pub mod setups;
pub mod usual_place;
pub mod winter;
