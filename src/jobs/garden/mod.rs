//! A member's plants, places and shelters; plants added by a list, and a winter or an autumn's fruit told for all of them at once.

pub mod became;
pub mod fruit;
pub mod lists;
pub mod new_plants;
pub(crate) mod page;
pub(crate) mod page_fruit;
pub(crate) mod page_new_plants;
pub(crate) mod page_plant_edit;
pub(crate) mod page_setups;
pub(crate) mod page_winter;
pub mod plant_edit;
pub mod setups;
pub(crate) mod table_view;
pub mod usual_place;
pub mod winter;
pub mod winters_told;
