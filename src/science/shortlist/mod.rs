//! Site × cultivars → ranked rows: one winter's chances, years in ten with ripe figs, thresholds, and what would change the answer.
//!
//! The ranking asks only for a belief about each cultivar's hardiness, an exposure of the site and the season's heat: priors or a fitted
//! posterior, a zone or a daily record come in by the same door.

mod best;
mod change;
mod doubt;
mod long_run;
mod long_run_of;
mod order;
mod row;
mod sure;
mod together;

pub use best::chance_best;
pub use change::{Change, Improvement};
pub use doubt::DoubtShare;
pub use long_run::{Comparison, LongRun, SAME};
pub use long_run_of::Steps;
pub use order::{RankBy, ranked};
pub use row::{Entry, Row, SitePicture, Sure, Thresholds};
pub use together::{Together, YearSteps, Years};
