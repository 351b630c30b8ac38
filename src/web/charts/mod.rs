//! Pictures as SVG written by templates. Positions are percentages of the width, so that text keeps its size on every screen.

pub mod axis;
pub mod cold_nights;
pub mod course;
pub mod damage_curves;
pub mod drops;
pub mod fig_year;
pub mod heat_year;
pub mod ladder;
pub mod level_bar;
pub mod map;
pub mod night;
pub mod outcomes;
pub mod own_winter;
pub mod record;
pub mod reliability;
pub mod season_bar;
pub mod winters;
