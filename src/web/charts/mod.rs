//! Pictures as SVG written by templates. Positions are percentages of the width, so that text keeps its size on every screen.

pub mod axis;
pub mod drops;
pub mod ladder;
pub mod night;
pub mod winters;
